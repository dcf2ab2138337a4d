# Never used for tuning. Run once a method is frozen, and report what comes out, whatever it is.
"""Applications with GPS error, drawn in another way than `gladebook.testing.applications` draws them.

It shares the nouns and the truth's swath with that one, and nothing of how things come about:

- Plots are long bent lanes, crooked quadrilaterals, or two blocks that meet at a corner.
- A vehicle with a least turning radius steers at each moment by how far it is off its guide line. The guide
  is the last pass's way, smoothed over 8 m, one spacing over, and misjudged by an amount that changes along it.
- Turns are what that steering makes of a guide that lies behind. A round, if any, comes last.
- Speeds are gears, with a slow beat; the sprayer waits at some turns.
- Skips befall each pass by chance: the guide is taken 1.8 to 2.15 spacings over; or the pass leaves its guide in a
  wedge, or in a swerve round something; or the boom is off for so many seconds.
- The slow error is a sum of sinusoids of random phase with periods of one to fifteen minutes; the fast one is an
  autoregressive process from point to point; a step stays for a minute or so and goes back.

All figures are common practice, no source; sizes of the error are those of the receiver's setting.
"""

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.testing import Planted, Receiver, Simulated, swept
from gladebook.units import ACRE_M2

__all__ = ["draw_application", "second_error"]

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

_DT_S = 0.2
_GRID_M = 1.0
_OUT_M = 40.0
_RADIUS_M, _RUN_OUT_M = 2.2, 9.0
_EYE_M = 5.0  # a guide this far off is steered at with 45 degrees
_SMOOTH_M = 8
_MISJUDGED_M, _MISJUDGED_LENGTH_M, _AIM_M = 0.15, 40.0, 0.15
_CHANCE = 0.14  # of a skip, at each pass that may have one
_WAITS = 0.03
_SINES = 24


@dataclass
class _Vehicle:
    """Where it is, where it heads, and the way it left."""

    x: float
    y: float
    heading: float
    clock: float = 0.0
    way: list[tuple[float, float, float, int, bool]] = field(default_factory=list)

    def steer(self, guide: Floats, x0: float, *, ahead: bool, side: float, mps: float, number: int) -> None:
        """One moment toward a guide whose y stands at x0, x0 + 1, ..."""
        at = min(max(self.x - x0, 0.0), len(guide) - 1.001)
        low = int(at)
        off = guide[low] + (at - low) * (guide[low + 1] - guide[low]) - self.y
        wanted = math.atan(off / _EYE_M)
        wanted = wanted if ahead else math.pi - wanted
        error = math.remainder(wanted - self.heading, 2 * math.pi)
        turning = abs(error) > 0.5
        if abs(error) > math.pi / 2:
            error = abs(error) * side  # round toward the next pass, the long way too
        speed = mps * (0.6 if turning else 1.0 + 0.06 * math.sin(self.clock / 11))
        most = speed / _RADIUS_M
        self.heading += _DT_S * min(max(1.2 * error, -most), most)
        self.x += _DT_S * speed * math.cos(self.heading)
        self.y += _DT_S * speed * math.sin(self.heading)
        self.clock += _DT_S
        self.way.append((self.x, self.y, self.clock, 0 if turning else number, False))

    def wait(self, seconds: float) -> None:
        self.way.append((self.x, self.y, self.clock, 0, True))
        self.clock += seconds
        self.way.append((self.x, self.y, self.clock, 0, True))


@dataclass(frozen=True)
class _Event:
    """What befell a pass: x from and to, or seconds off; how far over; and whether a record shows it."""

    kind: Any
    number: int
    over_m: float
    wedge: bool
    off_s: float
    place: float
    on_record: bool


def draw_application(
    rng: np.random.Generator, *, setting: Receiver, boom_m: float, acres: float, step_s: float = 1.0
) -> Simulated:
    """As `gladebook.testing.draw_application`, otherwise made."""
    of_driver, of_receiver = rng.spawn(2)
    spacing_m = boom_m * 11 / 12
    plot = _plot(of_driver, acres=acres)
    last_round = of_driver.random() < 0.35
    ground = shapely.buffer(plot, -(boom_m - 0.4)) if last_round else plot
    ground = max(shapely.get_parts(ground), key=shapely.area)
    if shapely.area(ground) < 0.3 * shapely.area(plot):
        last_round, ground = False, plot
    way, events, bare = _passes(of_driver, ground, boom_m=boom_m, spacing_m=spacing_m)
    xy, time_s, number = way[:, :2], way[:, 2], way[:, 3].astype(np.int64)
    on = (number > 0) & _over(ground, xy, boom_m=boom_m)
    shown = on.copy()
    for event in events:
        if not event.off_s:
            continue
        mine = np.flatnonzero((number == event.number) & on)
        begin_s = time_s[mine[0]] + event.place * max(time_s[mine[-1]] - time_s[mine[0]] - event.off_s, 0.0)
        off = mine[(time_s[mine] >= begin_s) & (time_s[mine] < begin_s + event.off_s)]
        on[off] = False
        if event.on_record:
            shown[off] = False
        bare[event.number] = shapely.buffer(shapely.LineString(xy[off]), boom_m / 2, cap_style="flat")
    if last_round:
        ring, at_s = _round(of_driver, plot, boom_m=boom_m, after_s=float(time_s[-1]))
        xy, time_s = np.concatenate([xy, ring]), np.concatenate([time_s, at_s])
        number = np.concatenate([number, np.full(len(ring), -1)])
        on, shown = (np.concatenate([s[:-1], [False], np.ones(len(ring), bool)]) for s in (on, shown))
    turn = of_driver.uniform(0, 2 * np.pi)
    c, s = math.cos(turn), math.sin(turn)
    spin = np.array([[c, s], [-s, c]]) * np.array([[1.0], [of_driver.choice([-1.0, 1.0])]])
    plot, xy = shapely.transform(plot, lambda p: p @ spin), xy @ spin
    driven = swept(xy, on, boom_m=boom_m)
    missed = shapely.difference(plot, driven)
    records = of_driver.random() < 0.6
    planted = tuple(
        Planted(
            kind=e.kind,
            number=e.number,
            shape=shapely.intersection(shapely.transform(bare[e.number], lambda p: p @ spin), missed),
            extra_m=e.over_m,
            on_record=records and e.on_record and e.off_s > 0,
        )
        for e in events
    )
    at_s = np.arange(of_receiver.uniform(0, step_s), time_s[-1], step_s) + time_s[0]
    at_s = at_s[_given(of_receiver, at_s, setting)]
    true = np.column_stack([np.interp(at_s, time_s, axis) for axis in xy.T])
    k = np.clip(np.searchsorted(time_s, at_s, side="right") - 1, 0, len(time_s) - 1)
    return Simulated(
        plot=plot,
        boom_m=boom_m,
        spacing_m=spacing_m,
        receiver=setting,
        time_s=1_776_000_000.0 + at_s,
        true_xy_m=true,
        recorded_xy_m=true + second_error(setting, at_s, of_receiver),
        boom_on=on[k],
        recorded_boom=(shown[k] if records else np.full(len(k), -1)).astype(np.int8),
        pass_number=number[k],
        driven=driven,
        planted=planted,
    )


def second_error(setting: Receiver, time_s: Floats, rng: np.random.Generator) -> Floats:
    """East and north, shape (n, 2), metres: sinusoids over minutes, jitter from point to point, steps that go back."""
    error = np.tile(rng.normal(0.0, setting.shift_m, 2), (len(time_s), 1))
    for axis in range(2):
        period_s = np.exp(rng.uniform(np.log(60.0), np.log(900.0), _SINES))
        weight = np.sqrt(period_s)
        weight *= setting.drift_m * np.sqrt(2.0) / np.sqrt((weight**2).sum())
        phase = rng.uniform(0, 2 * np.pi, _SINES)
        error[:, axis] += np.sin(2 * np.pi * time_s[:, None] / period_s + phase) @ weight
        noise = rng.normal(0.0, setting.jitter_m, len(time_s))
        for i in range(1, len(noise)):
            noise[i] = 0.6 * noise[i - 1] + 0.8 * noise[i]
        error[:, axis] += noise
    length_s = float(time_s[-1] - time_s[0])
    for _ in range(rng.poisson(setting.jumps_an_hour * length_s / 3600)):
        begin_s = rng.uniform(time_s[0], time_s[-1])
        inside = (time_s >= begin_s) & (time_s < begin_s + rng.exponential(70.0))
        angle = rng.uniform(0, 2 * np.pi)
        far = setting.jump_m * np.sqrt(2.0) * rng.uniform(0.5, 1.5)
        error[inside] += far * np.array([np.cos(angle), np.sin(angle)])
    return np.asarray(error)


def _given(rng: np.random.Generator, time_s: Floats, setting: Receiver) -> Bools:
    """Points that are there: each dropout is as long as the setting's mean."""
    there = np.ones(len(time_s), dtype=bool)
    length_s = float(time_s[-1] - time_s[0])
    for _ in range(rng.poisson(setting.dropouts_an_hour * length_s / 3600)):
        begin_s = rng.uniform(time_s[0], time_s[-1])
        there &= (time_s < begin_s) | (time_s > begin_s + setting.dropout_s)
    there[[0, -1]] = True
    return there


def _plot(rng: np.random.Generator, *, acres: float) -> Any:
    kind = rng.choice(["lane", "corners", "blocks"], p=[0.3, 0.4, 0.3])
    if kind == "lane":
        t = np.linspace(-1, 1, 9)
        line = np.column_stack([2.2 * t, rng.uniform(-0.4, 0.4) * (1 - t**2) + rng.uniform(-0.1, 0.1) * np.sin(3 * t)])
        shape = shapely.buffer(shapely.LineString(line), rng.uniform(0.5, 0.8), cap_style="square", quad_segs=3)
    elif kind == "corners":
        corners = np.array([[-1.5, -1.0], [1.5, -1.0], [1.5, 1.0], [-1.5, 1.0]]) + rng.uniform(-0.35, 0.35, (4, 2))
        shape = shapely.Polygon(corners)
    else:
        first = shapely.box(-1.6, -1.0, rng.uniform(0.2, 0.8), rng.uniform(0.1, 0.5))
        second = shapely.box(rng.uniform(-0.6, 0.0), rng.uniform(-0.5, 0.0), 1.6, 1.0)
        shape = shapely.union(first, second)
    shape = shapely.simplify(shapely.buffer(shapely.buffer(shape, -0.12), 0.12, quad_segs=3), 0.005)
    shape = max(shapely.get_parts(shape), key=shapely.area)
    size = math.sqrt(acres * ACRE_M2 / shape.area)
    middle = np.array([(shape.bounds[0] + shape.bounds[2]) / 2, (shape.bounds[1] + shape.bounds[3]) / 2])
    return shapely.transform(shape, lambda p: (p - middle) * size)


def _passes(
    rng: np.random.Generator, ground: Any, *, boom_m: float, spacing_m: float
) -> tuple[Floats, list[_Event], dict[int, Any]]:
    west, south, east, north = ground.bounds
    x = np.arange(west - _OUT_M, east + _OUT_M, _GRID_M)
    guide = np.full(len(x), south + boom_m / 2 - 0.25)
    mps = float(rng.choice([1.5, 1.9, 2.3, 2.7]))
    ends = _ends(ground, float(guide.mean()), boom_m=boom_m) or (west, east)
    vehicle = _Vehicle(x=ends[0] - _RUN_OUT_M, y=float(guide[0]), heading=0.0)
    events: list[_Event] = []
    bare: dict[int, Any] = {}
    number, ahead, before, calm = 1, True, guide - spacing_m, 0
    while True:
        top = north - float(guide.mean()) - boom_m / 2
        event = _event(rng, number, boom_m=boom_m, spacing_m=spacing_m) if calm >= 2 and top > 2.5 * spacing_m else None
        calm = 0 if event else calm + 1
        if event is not None:
            guide = guide + _over_along(rng, event, x, ends=ends, ahead=ahead)
            events.append(event)
        beyond = _ends(ground, float(guide.mean()) + spacing_m, boom_m=boom_m)
        ends = _ends(ground, float(guide.mean()), boom_m=boom_m) or ends
        reach = (min(ends[0], (beyond or ends)[0]) - _RUN_OUT_M, max(ends[1], (beyond or ends)[1]) + _RUN_OUT_M)
        gone = len(vehicle.way)
        gear = mps * (1 + 0.03 * rng.normal())
        while len(vehicle.way) < gone + 20_000 and (vehicle.x < reach[1] if ahead else vehicle.x > reach[0]):
            vehicle.steer(guide, float(x[0]), ahead=ahead, side=-1.0 if ahead else 1.0, mps=gear, number=number)
        way = np.array([w for w in vehicle.way[gone:] if w[3] == number])
        order = np.argsort(way[:, 0], kind="stable")
        went = np.interp(x, way[order, 0], way[order, 1])
        if event is not None and event.over_m:
            inside = (x >= ends[0]) & (x <= ends[1])
            bare[number] = _band(x[inside], before[inside] + boom_m / 2, went[inside] - boom_m / 2)
        if rng.random() < _WAITS:
            vehicle.wait(float(rng.uniform(40, 240)))
        if beyond is None or north - float(went.mean()) - boom_m / 2 < 0.3:
            return np.array(vehicle.way, dtype=float), events, bare
        before, ahead, number = went, not ahead, number + 1
        guide = _next_guide(rng, went, spacing_m=spacing_m)


def _next_guide(rng: np.random.Generator, went: Floats, *, spacing_m: float) -> Floats:
    """The last way smoothed, one spacing over, and misjudged."""
    bell = np.ones(_SMOOTH_M) / _SMOOTH_M
    smooth = np.convolve(np.pad(went, _SMOOTH_M, mode="edge"), bell, mode="same")[_SMOOTH_M:-_SMOOTH_M]
    keep = math.exp(-_GRID_M / _MISJUDGED_LENGTH_M)
    wrong = rng.normal(0.0, _MISJUDGED_M, len(went))
    for i in range(1, len(wrong)):
        wrong[i] = keep * wrong[i - 1] + math.sqrt(1 - keep**2) * wrong[i]
    # A driver straightens out what bends within a few passes.
    straight = np.polyval(np.polyfit(np.arange(len(went)), smooth, 2), np.arange(len(went)))
    return np.asarray(0.75 * smooth + 0.25 * straight + spacing_m + wrong + rng.normal(0.0, _AIM_M))


def _event(rng: np.random.Generator, number: int, *, boom_m: float, spacing_m: float) -> _Event | None:
    happens, kind, over, wedge, off, place, known = rng.uniform(size=7).tolist()
    if happens > _CHANCE:
        return None
    name = "left out" if kind < 0.3 else "too far" if kind < 0.6 else "boom off" if kind < 0.8 else "late on"
    name = "early off" if kind > 0.9 else name
    over_m = {"left out": (0.8 + 0.35 * over) * spacing_m, "too far": (0.35 + 0.75 * over) * boom_m}.get(name, 0.0)
    off_s = {"boom off": 5 + 25 * off, "late on": 3 + 6 * off, "early off": 3 + 6 * off}.get(name, 0.0)
    return _Event(
        kind=name,
        number=number,
        over_m=over_m,
        wedge=wedge < 0.5,
        off_s=off_s,
        place={"late on": 0.0, "early off": 1.0}.get(name, place),
        on_record=known < 0.5,
    )


def _over_along(
    rng: np.random.Generator, event: _Event, x: Floats, *, ends: tuple[float, float], ahead: bool
) -> Floats:
    """How far a guide is over at each x: all along; more and more to the end; or round something."""
    share = np.clip((x - ends[0]) / max(ends[1] - ends[0], 1.0), 0.0, 1.0)
    share = share if ahead else 1 - share
    if event.kind != "too far":
        return np.full(len(x), event.over_m)
    if event.wedge:
        begin = rng.uniform(0.1, 0.5)
        return np.asarray(event.over_m * np.clip((share - begin) / (0.9 - begin), 0.0, 1.0))
    middle, wide = rng.uniform(0.3, 0.7), rng.uniform(0.12, 0.3)
    return np.asarray(event.over_m * np.clip(2.0 - 2.0 * np.abs(share - middle) / wide, 0.0, 1.0))


def _ends(ground: Any, y: float, *, boom_m: float) -> tuple[float, float] | None:
    west, _, east, _ = ground.bounds
    under = shapely.intersection(ground, shapely.box(west - 1, y - boom_m / 2, east + 1, y + boom_m / 2))
    if under.is_empty or under.bounds[2] - under.bounds[0] < 3.0:
        return None
    return under.bounds[0], under.bounds[2]


def _over(ground: Any, xy: Floats, *, boom_m: float) -> Bools:
    ahead = np.gradient(xy, axis=0)
    side = np.column_stack([-ahead[:, 1], ahead[:, 0]]) / np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]
    half = side * (boom_m / 2 - 0.1)
    shapely.prepare(ground)
    over: Bools = shapely.intersects(ground, shapely.linestrings(np.stack([xy - half, xy + half], axis=1)))
    return over


def _band(x: Floats, low: Floats, high: Floats) -> Any:
    ring = np.concatenate([np.column_stack([x, low]), np.column_stack([x, np.maximum(low, high)])[::-1]])
    return shapely.buffer(shapely.Polygon(ring), 0.0)


def _round(rng: np.random.Generator, plot: Any, *, boom_m: float, after_s: float) -> tuple[Floats, Floats]:
    """Once round half a boom inside the edge, with a slow sway."""
    inner = shapely.buffer(shapely.buffer(plot, -boom_m / 2 - 1.8), 2.0)
    ring = max(shapely.get_parts(inner), key=shapely.area).exterior
    at_m = np.arange(0.0, ring.length, 0.5)
    xy = shapely.get_coordinates(shapely.line_interpolate_point(ring, at_m))
    ahead = np.roll(xy, -1, axis=0) - np.roll(xy, 1, axis=0)
    side = np.column_stack([-ahead[:, 1], ahead[:, 0]]) / np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]
    sway = rng.uniform(0.05, 0.25) * np.sin(2 * np.pi * at_m / rng.uniform(25, 60) + rng.uniform(0, 6))
    return np.asarray(xy + sway[:, None] * side), after_s + 20.0 + at_m / rng.uniform(1.4, 2.2)
