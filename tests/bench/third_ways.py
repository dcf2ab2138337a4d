# Part of `tests.bench.third_drives`; never used for tuning.
"""How the third generator's driver lays passes and rounds over a clearing.

- Passes begin along the side that is longest and straightest. Each copies the way of the one before, one spacing
  over, evened out where that opens no gap, with an aim and a wander of its own. It runs as far as there is ground.
- Lapses are planned by how deep in the plot they come, and befall the pass that is there then.
- A vehicle cannot drive among trees: a pass that would is moved back over ground already driven.

All figures are common practice, no source.
"""

from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal

import numpy as np
import numpy.typing as npt
import shapely

from tests.bench.third_lines import (
    STEP_M,
    Driver,
    band_along,
    boom_over,
    evened_out,
    first_line,
    largest,
    next_line,
    normals,
    ramp,
    rough,
    stretches,
    to_drive,
)

__all__ = ["Laid", "Lapse", "lay_passes", "lay_rounds", "plan_lapses"]

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Kind = Literal["left out", "too far", "boom off", "late on", "early off"]

_ROUND_M = 6.0  # without ground for so long the vehicle looks for a way round
_MOVE_M, _TREES_M, _WORTH = 0.4, 10.0, 0.85
_LAPSES: dict[Kind, float] = {"left out": 0.45, "too far": 0.45, "boom off": 0.19, "late on": 0.12, "early off": 0.12}


@dataclass(frozen=True)
class Lapse:
    """What goes wrong: at what depth of the plot, where along the pass, how much, whether it is copied and recorded."""

    kind: Kind
    depth: float
    place: float
    size: float
    over: float
    drifting: bool
    followed: bool
    on_record: bool

    @property
    def between(self) -> bool:
        return self.kind in ("left out", "too far")


@dataclass(frozen=True, eq=False)
class Laid:
    """A pass or a round in the direction driven, with the boom in truth and as recorded; and what befell it."""

    xy: Floats
    on: Bools
    shown: Bools
    lapse: Lapse | None = None
    over_m: float = 0.0
    bare: Any = None  # ground that the lapse left bare lies in it


def plan_lapses(rng: np.random.Generator, *, care: float, refill: float | None) -> list[Lapse]:
    """Each kind at its own rate. After a refill, at a depth of the plot, it is easy to begin at the wrong pass."""
    lapses = []
    for kind, rate in _LAPSES.items():
        for _ in range(rng.poisson(rate / care)):
            depth, place, size, over = rng.uniform(size=4).tolist()
            after_refill, drifting, followed, shown = (rng.random(4) < (0.4, 0.55, 0.6, 0.5)).tolist()
            if kind == "left out" and refill is not None and after_refill:
                depth = refill
            lapses.append(
                Lapse(
                    kind=kind,
                    depth=0.04 + 0.88 * depth,
                    place=place,
                    size=size,
                    over=over,
                    drifting=drifting,
                    followed=followed,
                    on_record=shown,
                )
            )
    return sorted(lapses, key=lambda one: one.depth)


def lay_rounds(
    rng: np.random.Generator, plot: Any, *, count: int, boom_m: float, spacing_m: float, driver: Driver
) -> tuple[list[Laid], Any]:
    """Rounds along the trees from the outside in, corners cut, and the ground within them."""
    whole = shapely.Polygon(plot.exterior)
    rounds: list[Laid] = []
    ground, inside, away_m = plot, whole, boom_m / 2 - rng.uniform(0.1, 0.5)
    for _ in range(count):
        ring = largest(shapely.buffer(inside, -away_m))
        rest = shapely.buffer(ring, -(boom_m / 2 - rng.uniform(0.1, 0.4)))
        if shapely.area(rest) < 0.35 * shapely.area(whole):
            break
        at_m = np.linspace(0.0, ring.exterior.length, max(int(ring.exterior.length / STEP_M), 8), endpoint=False)
        xy = shapely.get_coordinates(shapely.line_interpolate_point(ring.exterior, at_m))
        xy = np.roll(xy, -int(rng.integers(len(xy))), axis=0)[:: rng.choice([-1, 1])]
        again = np.concatenate([xy[-60:], xy, xy[:60]])
        xy = evened_out(again, sd_m=2.2)[60 : 60 + len(xy)]
        wander = driver.wander_m * rough(rng, len(xy), scale=driver.wander_length_m / STEP_M)
        wander *= np.minimum(1.0, np.minimum(np.arange(len(xy)), np.arange(len(xy))[::-1]) / 16)[:, None]
        xy = xy + wander * normals(xy)
        # It goes on a little over where it began.
        xy = np.concatenate([xy, xy[: int(rng.integers(2, 8))]])
        on = np.ones(len(xy), dtype=bool)
        rounds.append(Laid(xy=xy, on=on, shown=on))
        inside, away_m, ground = ring, spacing_m, shapely.intersection(rest, plot)
    return rounds, ground


def lay_passes(
    rng: np.random.Generator,
    plot: Any,
    *,
    ground: Any,
    sizes_m: tuple[float, float],
    driver: Driver,
    lapses: list[Lapse],
    around: tuple[Floats, float, Floats],
) -> list[Laid]:
    """Passes from the longest side to the other.

    `sizes_m` are boom and spacing; `around` is where the driver stands, then something to drive round: how far off
    (0: nothing), and where.
    """
    boom_m, spacing_m = sizes_m
    here, stump_m, stump = around
    base, depth_m = first_line(rng, ground, boom_m=boom_m, driver=driver)
    roomy = shapely.buffer(plot, 2.0)
    for shape in (ground, plot, roomy):
        shapely.prepare(shape)
    laid: list[Laid] = []
    waiting, gone_m, empty = list(lapses), 0.0, 0
    while empty < 3 and len(laid) < 80:
        deep = gone_m / max(depth_m, 1.0)
        room = depth_m - gone_m > 2.2 * spacing_m
        waiting = [one for one in waiting if not (one.between and not room)]
        due = [one for one in waiting if one.depth <= deep and len(laid) >= 2]
        lapse = due[0] if due else None
        aim_m = rng.normal(0.0, driver.aim_m)
        wander = driver.wander_m * rough(rng, len(base), scale=driver.wander_length_m / STEP_M)[:, 0]
        normal, steered = normals(base), aim_m + wander
        reach = to_drive(ground, base + steered[:, None] * normal, boom_m=boom_m, driver=driver)
        over = _over_along(lapse, len(base), reach=reach, sizes_m=sizes_m)
        way = base + (steered + over)[:, None] * normal
        way = _round_stump(way, stump, away_m=stump_m)
        # The first pass is moved inward, a later one back over ground driven before.
        way, aside = _out_of_trees(
            way, normal, ground=(ground, plot), boom_m=boom_m, toward=-1.0 if laid else 1.0, driver=driver
        )
        pieces = to_drive(ground, way, boom_m=boom_m, driver=driver)
        back_m = max(-float(np.median(np.concatenate([aside[a:b] for a, b in pieces]))), 0.0) if pieces else 0.0
        if not pieces or back_m > _WORTH * spacing_m:
            empty += 1
            gone_m += spacing_m
            base = next_line(base, shift_m=spacing_m, ground=ground, driver=driver)
            continue
        empty, bare = 0, None
        if lapse is not None:
            waiting.remove(lapse)
            if lapse.between and reach:
                on = round(0.6 * boom_m / STEP_M)
                whole = slice(max(reach[0][0] - on, 0), reach[-1][1] + on)
                meant = base[whole] if lapse.kind == "left out" else base[over > 0.1 * boom_m]
                bare = band_along(meant, 1.3 * boom_m)
        one = _driven(rng, _rounding_gaps(way, normal, pieces, roomy=roomy), pieces, here=here)
        laid.append(_befallen(one, lapse, over_m=float(over.max()), bare=bare, boom_m=boom_m, driver=driver))
        here = one.xy[-1]
        kept = over if lapse is not None and (lapse.followed or lapse.kind == "left out") else 0.0
        base = next_line(
            base + (steered + kept - back_m)[:, None] * normal,
            shift_m=spacing_m,
            ground=ground,
            driver=driver,
        )
        gone_m += spacing_m + aim_m - back_m + (float(over.max()) if lapse and lapse.kind == "left out" else 0.0)
    return laid


def _over_along(
    lapse: Lapse | None, count: int, *, reach: list[tuple[int, int]], sizes_m: tuple[float, float]
) -> Floats:
    """How far too far over, at each place of a line."""
    boom_m, spacing_m = sizes_m
    if lapse is None or not lapse.between or not reach:
        return np.zeros(count)
    if lapse.kind == "left out":
        return np.full(count, (0.8 + 0.35 * lapse.over) * spacing_m)
    most_m = (0.35 + 0.75 * lapse.over) * boom_m
    at_m: Floats = np.arange(count, dtype=np.float64) * STEP_M - reach[0][0] * STEP_M
    long_m = (reach[-1][1] - reach[0][0]) * STEP_M
    if lapse.drifting:
        # Away little by little, and back once it is seen, or never.
        begin_m, away_m = 0.6 * lapse.place * long_m, (0.3 + 0.4 * lapse.size) * long_m
        back_m = begin_m + away_m + 0.25 * long_m
        return most_m * np.minimum(ramp(at_m, begin_m, away_m), 1 - ramp(at_m, back_m, 2 * most_m))
    swing_m = (1.5 + lapse.size) * most_m
    begin_m, stays_m = (0.7 * lapse.place) * long_m, (0.2 + 0.5 * lapse.size) * long_m
    return most_m * np.minimum(ramp(at_m, begin_m, swing_m), 1 - ramp(at_m, begin_m + swing_m + stays_m, swing_m))


def _out_of_trees(
    way: Floats, normal: Floats, *, ground: tuple[Any, Any], boom_m: float, toward: float, driver: Driver
) -> tuple[Floats, Floats]:
    """The way moved aside where it would run among trees for long, and by how much at each place."""
    over = boom_over(ground[0], way, boom_m=boom_m, driver=driver)
    moves_m = np.arange(0.0, boom_m, _MOVE_M)
    places = way[:, None, :] + toward * moves_m[:, None] * normal[:, None, :]
    inside = shapely.contains_xy(ground[1], places[..., 0], places[..., 1])
    among = over & ~inside[:, 0]
    for begin, end in stretches(among):
        if (end - begin) * STEP_M < _TREES_M:
            among[begin:end] = False
    needed = np.where(among & inside.any(axis=1), moves_m[np.argmax(inside, axis=1)] + 0.3, 0.0)
    wide = np.lib.stride_tricks.sliding_window_view(np.pad(needed, 10), 21).max(axis=1)
    aside = toward * evened_out(wide[:, None], sd_m=2.5)[:, 0]
    return way + aside[:, None] * normal, aside


def _round_stump(way: Floats, stump: Floats, *, away_m: float) -> Floats:
    """Swerve round something in the way, on the side that is nearer."""
    off = way - stump
    at = int(np.argmin(np.hypot(*off.T)))
    nearest = float(np.hypot(*off[at]))
    if away_m <= nearest or at in (0, len(way) - 1):
        return way
    normal = normals(way)
    side = 1.0 if off[at] @ normal[at] >= 0 else -1.0
    along_m = np.abs(np.arange(len(way)) - at) * STEP_M
    swerve = (away_m - nearest) * (1 - ramp(along_m, 0.7 * away_m, 3 * away_m))
    return np.asarray(way + side * swerve[:, None] * normal)


def _rounding_gaps(way: Floats, normal: Floats, pieces: list[tuple[int, int]], *, roomy: Any) -> Floats:
    """Between pieces far apart, a way over ground driven before, if the straight one leads among trees."""
    way = way.copy()
    for (_, begin), (end, _) in pairwise(pieces):
        if (end - begin) * STEP_M < _ROUND_M:
            continue
        part = slice(begin, end)
        bulge = np.sin(np.pi * np.linspace(0, 1, end - begin))[:, None] ** 1.5 * normal[part]
        for aside_m in (0.0, -4.0, 4.0, -8.0, 8.0, -12.0, -16.0, -22.0):
            there = way[part] + aside_m * bulge
            if shapely.contains_xy(roomy, *there.T).mean() > 0.95:
                way[part] = there
                break
    return way


def _driven(rng: np.random.Generator, way: Floats, pieces: list[tuple[int, int]], *, here: Floats) -> Laid:
    """The way as far as it is driven, from the end nearer to where the driver stands, switched a little off time."""
    on = np.zeros(len(way), dtype=bool)
    for begin, end in pieces:
        early, late = np.round(rng.normal(0.5, 0.6, 2) / STEP_M).astype(int).tolist()
        on[max(begin - early, 0) : end + late] = True
    lead = round(rng.uniform(1.0, 3.0) / STEP_M)
    first, last = np.flatnonzero(on)[[0, -1]]
    part = slice(max(first - lead, 0), last + 1 + lead)
    xy, on = way[part], on[part]
    if np.hypot(*(xy[0] - here)) > np.hypot(*(xy[-1] - here)):
        xy, on = xy[::-1], on[::-1]
    return Laid(xy=xy, on=on, shown=on)


def _befallen(one: Laid, lapse: Lapse | None, *, over_m: float, bare: Any, boom_m: float, driver: Driver) -> Laid:
    """The pass with its lapse; a boom that was off is so in truth, and on the record if that knows."""
    if lapse is None or (lapse.between and bare is None):
        return one
    if lapse.between:
        return Laid(xy=one.xy, on=one.on, shown=one.shown, lapse=lapse, over_m=over_m, bare=bare)
    seconds = 4 + 21 * lapse.size if lapse.kind == "boom off" else 2.5 + 6.5 * lapse.size
    switched = np.flatnonzero(one.on)
    count = min(round(seconds * driver.mps / STEP_M), len(switched))
    place = {"late on": 0.0, "early off": 1.0}.get(lapse.kind, lapse.place)
    begin = round(place * (len(switched) - count))
    off = switched[begin : begin + count]
    on = one.on.copy()
    on[off] = False
    band = band_along(one.xy[off[0] : off[-1] + 2], boom_m) if len(off) else shapely.Polygon()
    return Laid(xy=one.xy, on=on, shown=on if lapse.on_record else one.shown, lapse=lapse, bare=band)
