"""How a person steers a boom over a plot: rounds, passes aimed one from the other, skips, turns, stops.

All of it is common practice, no source, but for what stands beside it.

- Passes run along x, to and fro, shifted sideways by a shared bend in some plots.
- Each pass is aimed one spacing from the last one's true edge, as the driver sees it: with an error of its
  own, and following a part of the last pass's wander. Its own wander is smooth.
- A pass left out is one aimed two spacings over. One too far over bulges away along part of its length;
  the next follows the bulge, or goes straight on beside it. Both are where the driver believes to be right.
- The boom goes on and off where it reaches and leaves ground, a little early and late. It is off over part of a
  pass, late on or early off, where that is planted; the record shows it, or does not.
"""

from dataclasses import dataclass, field
from typing import Any, Final, Literal, get_args

import numpy as np
import numpy.typing as npt
import shapely

__all__ = ["STEP_M", "Habits", "Pass", "Skip", "SkipKind", "lay_passes", "lay_rounds", "smooth_noise"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

SkipKind = Literal["left out", "too far", "boom off", "late on", "early off"]
STEP_M: Final = 0.5
_BEYOND_M = 30.0
_RAMP_M = 6.0
_LEAST_M = 4.0
_TURN_M = 2.5
_OVERLAP_M = 0.3
_DONE_M = 0.25
_SLIVER_M = 0.1
_EDGE_M = 0.1
_EARLY_M = 1.5
_LEAD_M = 2.0
_NO_GROUND_M = 3.0
_LEAST_LEFT = 0.2
_WHOLE = 0.85
_KINDS: Final = get_args(SkipKind)
_ODDS: Final = (0.3, 0.3, 0.16, 0.12, 0.12)
_SHARES: Final[dict[SkipKind, tuple[float, float]]] = {
    "left out": (1.0, 1.0),
    "too far": (0.3, 1.0),
    "boom off": (0.15, 0.5),
    "late on": (0.08, 0.25),
    "early off": (0.08, 0.25),
}


@dataclass(frozen=True)
class Habits:
    """How the driver drives and what the record shows; shares are those of plots.

    Attributes
    ----------
    aim_m : least and most standard deviation of the aim from pass to pass; each driver has one.
    wander_m, wander_length_m : of the smooth wander within a pass: standard deviation, and how far it stays alike.
    follows : share of the last pass's wander that the next one follows.
    rounds : shares with no, one and two rounds first.
    bent : share whose passes share a bend.
    refills : share in which a refill breaks the work.
    stops : mean number of short stops in passes.
    records : share whose record has boom states.
    speed_mps : least and most mean speed.
    skips : planted, each in a pass of its own as far as there are passes; None: drawn, 1.2 on average.
    on_record : whether a boom that was off is so on the record; None: drawn, one in two.
    plain : plots without notches and holes.
    """

    aim_m: tuple[float, float] = (0.1, 0.3)
    wander_m: float = 0.15
    wander_length_m: float = 15.0
    follows: float = 0.6
    rounds: tuple[float, float, float] = (0.5, 0.35, 0.15)
    bent: float = 0.25
    refills: float = 0.25
    stops: float = 0.3
    records: float = 0.7
    speed_mps: tuple[float, float] = (1.6, 2.6)
    skips: tuple[SkipKind, ...] | None = None
    on_record: bool | None = None
    plain: bool = False


@dataclass(frozen=True)
class Skip:
    """A skip as planned: its kind, the pass it befalls, its share of that pass, its size, and who knows.

    Attributes
    ----------
    kind : what it is.
    number : the pass that it befalls, from 1.
    begin, end : along that pass in the direction of driving, as shares.
    extra_m : how much too far over.
    followed : whether the next pass follows the bulge.
    on_record : whether the record shows it.
    """

    kind: SkipKind
    number: int
    begin: float
    end: float
    extra_m: float
    followed: bool
    on_record: bool


@dataclass(frozen=True, eq=False)
class Pass:
    """A pass before it is bent and turned.

    Attributes
    ----------
    xy_m : shape (n, 2), in the direction of driving.
    boom_on, shown_on : shape (n,), the boom in truth and as a record shows it.
    skip : what was planted in it.
    ground : where a planted skip is to be looked for: what it left bare lies inside.
    """

    xy_m: Floats
    boom_on: Bools
    shown_on: Bools
    skip: Skip | None = None
    ground: Any = field(default=None, repr=False)


def smooth_noise(rng: np.random.Generator, count: int, *, sd_m: float, alike: float, ring: bool = False) -> Floats:
    """White noise seen through a bell whose standard deviation is `alike` steps; on a ring its ends meet."""
    bell = np.exp(-0.5 * (np.arange(-4 * alike, 4 * alike + 1) / alike) ** 2)
    bell *= sd_m / np.sqrt((bell**2).sum())
    half = len(bell) // 2
    white = rng.normal(size=count if ring else count + 2 * half)
    if ring:
        white = np.pad(white, half, mode="wrap")
    return np.asarray(np.convolve(white, bell, mode="valid")[:count])


def draw_skips(rng: np.random.Generator, *, habits: Habits, passes: int, boom_m: float) -> list[Skip]:
    """Plan skips, none in the first two passes or the last two, and none beside each other."""
    kinds = habits.skips
    if kinds is None:
        kinds = tuple(_KINDS[k] for k in rng.choice(len(_KINDS), size=rng.poisson(1.2), p=_ODDS))
    free = set(range(3, passes - 1))
    skips = []
    for kind in kinds:
        number = int(rng.choice(sorted(free))) if free else 0
        size, place, extra, tossed, shown = rng.uniform(size=5).tolist()
        if not number:
            continue
        free -= set(range(number - 2, number + 3))
        least, most = _SHARES[kind]
        share = least + (most - least) * size
        begin = {"late on": 0.0, "early off": 1 - share}.get(kind, place * (1 - share))
        skips.append(
            Skip(
                kind=kind,
                number=number,
                begin=begin,
                end=begin + share,
                extra_m=(0.4 + 0.7 * extra) * boom_m if kind == "too far" else 0.0,
                followed=tossed < 0.5 or share > _WHOLE,
                on_record=shown < 0.5 if habits.on_record is None else habits.on_record,
            )
        )
    return sorted(skips, key=lambda s: s.number)


def lay_passes(rng: np.random.Generator, *, ground: Any, boom_m: float, spacing_m: float, habits: Habits) -> list[Pass]:
    """Aim passes one from the other over ground from its low side (least y) to its high one.

    Parameters
    ----------
    rng
        Where the draws come from.
    ground
        What is to be driven, metres; passes run along x.
    boom_m, spacing_m
        The boom, and how far from each other passes are meant to be.
    habits
        How the driver drives.
    """
    west, south, east, north = shapely.bounds(ground).tolist()
    x = np.arange(west - _BEYOND_M, east + _BEYOND_M, STEP_M)
    likely = int(np.ceil((north - south - boom_m) / spacing_m)) + 1
    planned = {s.number: s for s in draw_skips(rng, habits=habits, passes=likely, boom_m=boom_m)}
    aim_m = rng.uniform(*habits.aim_m)
    shapely.prepare(ground)
    level = south + boom_m / 2 - _OVERLAP_M + rng.normal(0.0, aim_m)
    astray = np.zeros(len(x))  # how far off its level the last pass ran
    below = np.full(len(x), south - boom_m / 2)
    passes: list[Pass] = []
    while level - boom_m / 2 < north - _DONE_M:
        skip = planned.pop(len(passes) + 1, None)
        if skip is not None and skip.kind == "left out":
            level += spacing_m
        ahead = len(passes) % 2 == 0
        wander = smooth_noise(rng, len(x), sd_m=habits.wander_m, alike=habits.wander_length_m / STEP_M)
        early, late = (rng.uniform(0.0, _EARLY_M, 2) / STEP_M).round().astype(int).tolist()
        y = level + astray + wander
        reach = _reach(ground, x, y, boom_m=boom_m)
        if reach is None:
            level += spacing_m + rng.normal(0.0, aim_m)
            continue
        place = slice(reach[0] - early, reach[1] + late + 1)
        along = _along(skip, x, reach=reach, ahead=ahead)
        bulge = along * (skip.extra_m if skip else 0.0)
        driven = _Line(x, y + bulge, place=place, ahead=ahead)
        passes.append(_pass(driven, below, ground=ground, boom_m=boom_m, skip=skip, along=along))
        below = driven.y
        mean = float((astray + wander)[place].mean())
        kept = skip is not None and skip.followed
        astray = habits.follows * (astray + wander - mean) + (bulge if kept else 0.0)
        level += mean + spacing_m + rng.normal(0.0, aim_m)
    return passes


def lay_rounds(
    rng: np.random.Generator, *, plot: Any, boom_m: float, spacing_m: float, habits: Habits
) -> tuple[list[Floats], Any]:
    """Rounds inside the plot's edge, from the outside in, and the ground that they leave to the passes.

    Returns
    -------
    The rounds, each (n, 2), and the ground in metres.
    """
    whole = shapely.Polygon(shapely.get_exterior_ring(plot))
    rounds: list[Floats] = []
    left = plot
    for k in range(int(rng.choice(3, p=habits.rounds))):
        # Shrunk more than grown again: corners as round as the driver can turn.
        inner = shapely.buffer(whole, -(boom_m / 2 - _EDGE_M + k * spacing_m) - _TURN_M)
        ring = max(shapely.get_parts(shapely.buffer(inner, _TURN_M)), key=shapely.area, default=shapely.Polygon())
        rest = shapely.buffer(whole, -(boom_m - _EDGE_M - _OVERLAP_M + k * spacing_m))
        if shapely.area(rest) < _LEAST_LEFT * shapely.area(whole):
            break
        rounds.append(_wandering(rng, ring.exterior, habits=habits))
        left = max(shapely.get_parts(shapely.intersection(rest, plot)), key=shapely.area)
    return rounds, left


@dataclass(frozen=True, eq=False)
class _Line:
    """A pass along x: y at each x, where the boom is meant to be on, and whether it runs toward greater x."""

    x: Floats
    y: Floats
    place: slice
    ahead: bool


def _reach(ground: Any, x: Floats, y: Floats, *, boom_m: float) -> Ints | None:
    """First and last x at which the boom is over ground; None where that is too short to be driven."""
    on = _over(ground, x, y, boom_m=boom_m)
    return np.flatnonzero(on)[[0, -1]] if on.sum() * STEP_M >= _LEAST_M else None


def _over(ground: Any, x: Floats, y: Floats, *, boom_m: float) -> Bools:
    half = boom_m / 2 - _SLIVER_M
    ends = np.stack([np.column_stack([x, y - half]), np.column_stack([x, y + half])], axis=1)
    over: Bools = shapely.intersects(ground, shapely.linestrings(ends))
    return over


def _along(skip: Skip | None, x: Floats, *, reach: Ints, ahead: bool) -> Floats:
    """How fully a skip holds at each x, 0 to 1; a bulge comes and goes in ramps."""
    if skip is None:
        return np.zeros(len(x))
    share = (x - x[reach[0]]) / max(x[reach[1]] - x[reach[0]], STEP_M)
    share = share if ahead else 1 - share
    if skip.kind != "too far":
        return np.asarray((share >= skip.begin) & (share < skip.end), dtype=float)
    inside_m = np.minimum(share - skip.begin, skip.end - share) * (x[reach[1]] - x[reach[0]])
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * np.clip(inside_m / _RAMP_M, 0.0, 1.0)))


def _pass(line: _Line, below: Floats, *, ground: Any, boom_m: float, skip: Skip | None, along: Floats) -> Pass:
    """The pass as driven, `below` being the middle of the pass before it."""
    x, y = line.x, line.y
    on = np.zeros(len(x), dtype=bool)
    over = _over(ground, x, y, boom_m=boom_m)
    # Ends a little early and late; between them off only where there is no ground for a while.
    on[line.place] = True
    for begin, end in _stretches(~over):
        if begin > line.place.start and end < line.place.stop and (end - begin) * STEP_M >= _NO_GROUND_M:
            on[begin:end] = False
    shown, bare = on.copy(), None
    if skip is not None:
        within = along > 0
        if skip.kind in ("late on", "early off"):
            # Off from the very start, or to the very end, however early or late the boom was meant to switch.
            at = np.flatnonzero(within)
            low = line.ahead == (skip.kind == "late on")
            within[slice(0, at[0]) if low else slice(at[-1], None)] = True
        half = boom_m / 2
        if skip.kind in ("left out", "too far"):
            bare = _band(x[within], below[within] + half, y[within] - half)
        else:
            on &= ~within
            shown = on.copy() if skip.on_record else shown
            bare = _band(x[within], y[within] - half, y[within] + half)
    lead = round(_LEAD_M / STEP_M)
    part = slice(max(line.place.start - lead, 0), line.place.stop + lead)
    turn = slice(None, None, 1 if line.ahead else -1)
    xy = np.column_stack([x, y])[part][turn]
    return Pass(xy_m=xy, boom_on=on[part][turn], shown_on=shown[part][turn], skip=skip, ground=bare)


def _stretches(mask: Bools) -> list[tuple[int, int]]:
    """Begin and end of each run of true."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(int)))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


def _band(x: Floats, low: Floats, high: Floats) -> Any:
    if len(x) < 2:
        return shapely.Polygon()
    ring = np.concatenate([np.column_stack([x, low]), np.column_stack([x, np.maximum(high, low)])[::-1]])
    return shapely.buffer(shapely.Polygon(ring), 0.0)


def _wandering(rng: np.random.Generator, ring: Any, *, habits: Habits) -> Floats:
    at_m = np.linspace(0.0, ring.length, max(round(ring.length / STEP_M), 8))
    xy = shapely.get_coordinates(shapely.line_interpolate_point(ring, at_m))
    ahead = np.roll(xy, -1, axis=0) - np.roll(xy, 1, axis=0)
    side = np.column_stack([-ahead[:, 1], ahead[:, 0]]) / np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]
    wander = smooth_noise(rng, len(xy), sd_m=habits.wander_m, alike=habits.wander_length_m / STEP_M, ring=True)
    return np.asarray(xy + side * wander[:, None])
