# Part of `tests.bench.third_drives`; never used for tuning.
"""The third generator's clearing, and one ride with times made of passes and rounds.

- A clearing is some felled patches that run into each other, with a ragged edge; some have a straight side, along a
  road or a fence.
- Turns are the shortest ways of a vehicle with a least turning radius (Dubins' arcs and lines, from memory); the
  speed follows the ground, the slope and how sharply it turns, and changes no faster than a vehicle can.
- A refill breaks the work in the middle of a pass; a short stop does not.

All figures are common practice, no source.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.units import ACRE_M2
from tests.bench.third_lines import STEP_M
from tests.bench.third_ways import Laid

__all__ = ["Ride", "draw_clearing", "ride"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Pose = tuple[float, float, float]

_RADIUS_M = 2.4
_SIDEWAYS_MPS2, _BRAKES_MPS2 = 0.7, 0.8
_SLOWEST_MPS = 0.5


@dataclass(frozen=True, eq=False)
class Ride:
    """Where the boom's middle went, with what holds from each point to the next; where it stood a place comes twice."""

    xy: Floats
    time_s: Floats
    on: Bools
    shown: Bools
    number: Ints


def draw_clearing(rng: np.random.Generator, *, acres: float) -> Any:
    """A crooked clearing of exactly these acres, metres."""
    side_m = math.sqrt(acres * ACRE_M2)
    heading, here, patches = rng.uniform(0, 2 * np.pi), np.zeros(2), []
    for _ in range(int(rng.choice([2, 3, 4], p=[0.4, 0.4, 0.2]))):
        wide, long = rng.uniform(0.32, 0.5), rng.uniform(0.4, 0.75)
        turn = heading + rng.normal(0.0, 0.3)
        spin = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
        angle = np.linspace(0, 2 * np.pi, 36, endpoint=False)
        # Between an ellipse and a rectangle.
        bulky = rng.uniform(0.55, 0.9)
        oval = np.column_stack(
            [
                np.sign(np.cos(angle)) * np.abs(np.cos(angle)) ** bulky,
                np.sign(np.sin(angle)) * np.abs(np.sin(angle)) ** bulky,
            ]
        )
        patches.append(shapely.Polygon((oval * np.array([long, wide])) @ spin + here))
        heading += rng.normal(0.0, 0.35)
        step = rng.uniform(0.35, 0.65)
        here = here + step * np.array([math.cos(heading), math.sin(heading)])
    shape = shapely.buffer(shapely.buffer(shapely.union_all(patches), 0.15), -0.15)
    shape = shapely.Polygon(shape.exterior)
    if rng.random() < 0.5:
        shape = _straight_side(rng, shape)
    ring = shapely.get_coordinates(
        shapely.line_interpolate_point(shape.exterior, np.linspace(0, 1, 70)[:-1], normalized=True)
    )
    out = np.roll(ring, -1, axis=0) - np.roll(ring, 1, axis=0)
    out = np.column_stack([out[:, 1], -out[:, 0]]) / np.hypot(*out.T)[:, None]
    ragged = ring + rng.normal(0.0, rng.uniform(0.3, 0.9) / side_m, len(ring))[:, None] * out
    shape = max(shapely.get_parts(shapely.buffer(shapely.Polygon(ragged), 0.0)), key=shapely.area)
    shape = shapely.Polygon(shape.exterior)
    size = math.sqrt(acres * ACRE_M2 / shape.area)
    middle = shapely.get_coordinates(shapely.centroid(shape))[0]
    return shapely.transform(shape, lambda p: (p - middle) * size)


def _straight_side(rng: np.random.Generator, shape: Any) -> Any:
    """Cut off a part of up to an eighth along a line."""
    box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shape))[:4]
    edges = np.hypot(*np.diff(box, axis=0).T)
    first = int(np.argmax(edges[:2])) + int(rng.choice([0, 2]))
    a, b = box[first], box[(first + 1) % 4]
    inward = box.mean(axis=0) - (a + b) / 2
    tilt = rng.uniform(-0.1, 0.1) * inward
    for share in np.linspace(rng.uniform(0.15, 0.35), 0.0, 8):
        low = [a - 2 * inward + (a - b), b - 2 * inward + (b - a)]
        high = [b + share * inward + tilt + (b - a), a + share * inward - tilt + (a - b)]
        cut = shapely.difference(shape, shapely.Polygon([*low, *high]))
        if cut.geom_type == "Polygon" and cut.area > 0.87 * shape.area:
            return cut
    return shape


def ride(
    rng: np.random.Generator,
    work: list[tuple[int, Laid]],
    *,
    mps: float,
    truck: Floats,
    refill: float | None,
    stops: float,
) -> Ride:
    """Drive rounds and passes in their order; a refill breaks the work at a share of it."""
    xy: list[Floats] = []
    states: list[tuple[Bools, Bools, Ints]] = []
    waits: list[tuple[int, float]] = []

    def go(places: Floats, on: Bools | None = None, shown: Bools | None = None, number: int = 0) -> None:
        off = np.zeros(len(places), dtype=bool)
        xy.append(places)
        states.append((off if on is None else on, off if shown is None else shown, np.full(len(places), number)))

    long = np.cumsum([len(one.xy) for _, one in work])
    broken = int(np.searchsorted(long, refill * long[-1])) if refill is not None else -1
    go(_come(rng, work[0][1], truck=truck))
    for k, (number, one) in enumerate(work):
        if k:
            go(_turn(_pose(work[k - 1][1].xy, last=True), _pose(one.xy, last=False)))
        if k != broken or len(one.xy) < 24:
            go(one.xy, one.on, one.shown, number)
            continue
        at = int(rng.integers(10, len(one.xy) - 10))
        again = max(at - round(rng.uniform(-0.7, 2.5) / STEP_M), 2)
        stop, start = _pose(one.xy[:at], last=True), _pose(one.xy[again:], last=False)
        before = np.arange(at) < at - 1
        go(one.xy[:at], one.on[:at] & before, one.shown[:at] & before, number)
        there = math.atan2(truck[1] - stop[1], truck[0] - stop[0])
        go(_turn(stop, (*truck.tolist(), there)))
        waits.append((sum(map(len, xy)), float(rng.uniform(120, 400))))
        go(_turn((*truck.tolist(), there + math.pi), start))
        go(one.xy[again:], one.on[again:], one.shown[again:], number)
    whole = np.concatenate(xy)
    on, shown, numbers = (np.concatenate(list(parts)) for parts in zip(*states, strict=True))
    waits += [(int(rng.integers(2, len(whole) - 2)), float(rng.uniform(4, 30))) for _ in range(rng.poisson(stops))]
    return _timed(rng, Ride(whole, np.empty(0), on, shown, numbers), mps=mps, waits=sorted(waits))


def _come(rng: np.random.Generator, first: Laid, *, truck: Floats) -> Floats:
    """The last metres from the truck to where the work begins: the recording is begun on the way."""
    begin = _pose(first.xy, last=False)
    there = math.atan2(begin[1] - truck[1], begin[0] - truck[0])
    whole = _turn((*truck.tolist(), there), begin)
    return whole[-int(rng.integers(3, 30)) :]


def _timed(rng: np.random.Generator, plain: Ride, *, mps: float, waits: list[tuple[int, float]]) -> Ride:
    """Times by ground, slope and turns, with brakes; at each wait the place comes twice, the boom off between."""
    step = np.diff(plain.xy, axis=0)
    step_m = np.maximum(np.hypot(*step.T), 1e-6)
    heading = np.unwrap(np.arctan2(step[:, 1], step[:, 0]))
    bends = np.abs(np.convolve(np.pad(np.diff(heading), (2, 3), mode="edge"), np.ones(5) / 5, mode="valid")) / STEP_M
    uphill, steep = rng.uniform(0, 2 * np.pi), rng.uniform(0.0, 0.12)
    speed = mps * (1 - steep * np.cos(heading - uphill))
    for _ in range(4):
        wave = rng.normal(0.0, 2 * np.pi / 45.0, 2)
        speed *= 1 + 0.06 * np.sin(plain.xy[:-1] @ wave + rng.uniform(0, 2 * np.pi))
    speed = np.clip(np.minimum(speed, np.sqrt(_SIDEWAYS_MPS2 / np.maximum(bends, 1e-6))), _SLOWEST_MPS, None)
    halts = [min(i, len(speed) - 1) for i, _ in waits]
    speed[[0, -1, *halts]] = _SLOWEST_MPS
    limits, far = speed.tolist(), (2 * _BRAKES_MPS2 * step_m).tolist()
    for k in range(1, len(limits)):
        limits[k] = min(limits[k], math.sqrt(limits[k - 1] ** 2 + far[k - 1]))
    for k in range(len(limits) - 2, -1, -1):
        limits[k] = min(limits[k], math.sqrt(limits[k + 1] ** 2 + far[k]))
    time_s = np.append(0.0, np.cumsum(step_m / np.array(limits)))
    at = np.array([i for i, _ in waits], dtype=np.int64)
    order = np.sort(np.concatenate([np.arange(len(plain.xy)), at]), kind="stable")
    first = np.append(order[1:] == order[:-1], False)
    waited = np.append(0.0, np.cumsum([wait for _, wait in waits]))
    stood = np.searchsorted(at, order, side="right") - first
    return Ride(
        xy=plain.xy[order],
        time_s=time_s[order] + waited[np.maximum(stood, 0)],
        on=plain.on[order] & ~first,
        shown=plain.shown[order] & ~first,
        number=plain.number[order],
    )


def _pose(xy: Floats, *, last: bool) -> Pose:
    """Place and heading at an end of a way."""
    here, step = (xy[-1], xy[-1] - xy[-4]) if last else (xy[0], xy[3] - xy[0])
    return float(here[0]), float(here[1]), math.atan2(step[1], step[0])


def _turn(begin: Pose, end: Pose) -> Floats:
    """The shortest way from one pose to another, its two ends left out."""
    gap = (end[0] - begin[0], end[1] - begin[1])
    there = math.atan2(gap[1], gap[0])
    d = math.hypot(*gap) / _RADIUS_M
    a, b = begin[2] - there, end[2] - there
    words = ((sum(part % (2 * math.pi) if bend else part for bend, part in word), word) for word in _words(d, a, b))
    word = min(words, key=lambda one: one[0])[1]
    x, y, heading = 0.0, 0.0, begin[2]
    places: list[tuple[float, float]] = []
    for bend, part in word:
        length = part % (2 * math.pi) if bend else part
        count = max(math.ceil(length * _RADIUS_M / STEP_M), 1)
        for k in range(1, count + 1):
            s = length * k / count
            if bend:
                dx, dy = (
                    math.sin(heading + bend * s) - math.sin(heading),
                    math.cos(heading) - math.cos(heading + bend * s),
                )
                places.append((x + bend * dx, y + bend * dy))
            else:
                places.append((x + s * math.cos(heading), y + s * math.sin(heading)))
        x, y = places[-1]
        heading += bend * length
    xy = np.array(begin[:2]) + _RADIUS_M * np.array(places)
    return np.asarray(xy[:-1])


def _words(d: float, a: float, b: float) -> Iterator[tuple[tuple[int, float], ...]]:
    """Ways of three parts, in radii: left (1), right (-1) and straight (0), from heading a to b at distance d."""
    sa, ca, sb, cb, cab = math.sin(a), math.cos(a), math.sin(b), math.cos(b), math.cos(a - b)
    same = 2 + d * d - 2 * cab
    if (p2 := same + 2 * d * (sa - sb)) >= 0:
        t = math.atan2(cb - ca, d + sa - sb)
        yield (1, t - a), (0, math.sqrt(p2)), (1, b - t)
    if (p2 := same + 2 * d * (sb - sa)) >= 0:
        t = math.atan2(ca - cb, d - sa + sb)
        yield (-1, a - t), (0, math.sqrt(p2)), (-1, t - b)
    other = d * d - 2 + 2 * cab
    if (p2 := other + 2 * d * (sa + sb)) >= 0:
        p = math.sqrt(p2)
        t = math.atan2(-ca - cb, d + sa + sb) - math.atan2(-2.0, p)
        yield (1, t - a), (0, p), (-1, t - b)
    if (p2 := other - 2 * d * (sa + sb)) >= 0:
        p = math.sqrt(p2)
        t = math.atan2(ca + cb, d - sa - sb) - math.atan2(2.0, p)
        yield (-1, a - t), (0, p), (1, b - t)
    if abs(c := (6 - d * d + 2 * cab + 2 * d * (sa - sb)) / 8) <= 1:
        p = 2 * math.pi - math.acos(c)
        t = a - math.atan2(ca - cb, d - sa + sb) + p / 2
        yield (-1, t), (1, p), (-1, a - b - t + p)
    if abs(c := (6 - d * d + 2 * cab + 2 * d * (sb - sa)) / 8) <= 1:
        p = 2 * math.pi - math.acos(c)
        t = -a - math.atan2(ca - cb, d + sa - sb) + p / 2
        yield (1, t), (-1, p), (1, b - a - t + p)
