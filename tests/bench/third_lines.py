# Part of `tests.bench.third_drives`; never used for tuning.
"""The lines that the third generator's driver goes by, and where the boom is over ground along them.

All figures are common practice, no source.
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

__all__ = [
    "STEP_M",
    "Driver",
    "band_along",
    "boom_over",
    "evened_out",
    "first_line",
    "largest",
    "next_line",
    "normals",
    "ramp",
    "rough",
    "stretches",
    "to_drive",
]

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

STEP_M = 0.5
_REACH_M = 90.0  # how far a line is thought on beyond its pass
_SEEN_BOOMS = np.linspace(-0.36, 0.5, 9)  # where along the boom there is ground to drive: most of the overlap is not
_GAP_M = 3.0  # without ground for so long the boom goes off
_MOST_GAP_M = 0.15
_EVEN_M, _AHEAD_M = 10.0, 12.0
_SHORT_M = 30.0


@dataclass(frozen=True)
class Driver:
    """Habits of one driver on one day.

    Attributes
    ----------
    aim_m, wander_m, wander_length_m : steering from pass to pass, and within one.
    copies : how much of the last pass's shape is kept.
    bend : power of the curve that the first pass follows; 1 is straight.
    on_from : share of the boom over ground from which it is switched on.
    least_m : shorter corners are left.
    mps : speed on good ground.
    care : lapses are divided by it.
    """

    aim_m: float
    wander_m: float
    wander_length_m: float
    copies: float
    bend: int
    on_from: float
    least_m: float
    mps: float
    care: float


def rough(rng: np.random.Generator, count: int, *, scale: float, columns: int = 1) -> Floats:
    """Smooth noise of unit s.d., shape (count, columns), from white noise through a critically damped filter.

    Its correlation over k steps is (1 + |k| / a) exp(-|k| / a) with a half the scale, whose integral is the scale, as
    it is of exp(-|k| / scale).
    """
    a = max(scale / 2, 0.2)
    lag = np.arange(math.ceil(9 * a) + 2)
    kernel = (lag + 0.5) * np.exp(-lag / a)
    kernel /= np.sqrt((kernel**2).sum())
    white = rng.normal(size=(count + len(kernel) - 1, columns))
    return np.column_stack([np.convolve(w, kernel, mode="valid") for w in white.T])


def first_line(rng: np.random.Generator, ground: Any, *, boom_m: float, driver: Driver) -> tuple[Floats, float]:
    """A gentle curve along the longest straight side, half a boom inside of all ground, and how deep that is."""
    shape = largest(ground)
    count = 160
    ring = shapely.get_coordinates(
        shapely.line_interpolate_point(shape.exterior, np.arange(count) / count, normalized=True)
    )
    best: tuple[float, Floats] | None = None
    for long in (36, 48, 60):
        for begin in range(0, count, 2):
            side = ring[np.arange(begin, begin + long) % count]
            chord = side[-1] - side[0]
            length = float(np.hypot(*chord))
            off = np.abs((side - side[0]) @ np.array([-chord[1], chord[0]])) / max(length, 1e-9)
            score = length - 3.0 * float(off.max())
            if best is None or score > best[0]:
                best = score, side
    assert best is not None
    side = best[1]
    ahead = (side[-1] - side[0]) / np.hypot(*(side[-1] - side[0]))
    left = np.array([-ahead[1], ahead[0]])
    middle = shapely.get_coordinates(shapely.centroid(shape))[0]
    if (middle - side.mean(axis=0)) @ left < 0:
        ahead, left, side = -ahead, -left, side[::-1]
    corners = shapely.get_coordinates(shapely.segmentize(ground, 2.0)) - side[0]
    along, across = (side - side[0]) @ ahead, (side - side[0]) @ left
    half = float(np.ptp(along)) / 2
    centre = float(along.mean())
    fit = np.polynomial.Polynomial.fit(along, across, driver.bend, domain=(centre - half, centre + half))
    # A driver takes the gentle part of a side's bend only.
    gentle = np.polynomial.Polynomial(fit.coef * np.array([1.0, 0.6, 0.4, 0.3])[: len(fit.coef)], domain=fit.domain)
    u = np.arange(float((corners @ ahead).min()) - _REACH_M, float((corners @ ahead).max()) + _REACH_M, STEP_M)

    def bent(at: Floats) -> Floats:
        inside = np.clip(at, centre - half, centre + half)
        return np.asarray(gentle(inside) + gentle.deriv()(inside) * (at - inside))

    behind = corners @ left - bent(corners @ ahead)
    level = float(behind.min()) + boom_m / 2 - rng.uniform(0.1, 0.5)
    line = side[0] + u[:, None] * ahead + (bent(u) + level)[:, None] * left
    return evened_out(line, sd_m=3.0), float(np.ptp(behind))


def next_line(line: Floats, *, shift_m: float, ground: Any, driver: Driver) -> Floats:
    """The line one spacing over, as far as ground is near it, and thought on straight at both ends."""
    near = np.flatnonzero(shapely.dwithin(ground, shapely.points(line), _AHEAD_M))
    if len(near):
        spare = max(round((_SHORT_M / STEP_M - np.ptp(near)) / 2), 0)
        line = line[max(near[0] - spare, 0) : near[-1] + spare + 1]
    normal = normals(line)
    evened = (1 - driver.copies) * ((evened_out(line, sd_m=_EVEN_M) - line) * normal).sum(axis=1)
    line = line + (shift_m + np.minimum(evened, _MOST_GAP_M))[:, None] * normal
    ahead = (line[-1] - line[0]) / np.hypot(*(line[-1] - line[0]))
    u = (line - line[0]) @ ahead
    # Where a copy of a sharp bend would turn back on itself it is cut short.
    line = line[u >= np.maximum.accumulate(u)]
    straight = round(_AHEAD_M / STEP_M)
    far = np.arange(STEP_M, _REACH_M, STEP_M)[:, None]
    first, last = line[0] - line[min(straight, len(line) - 1)], line[-1] - line[max(-straight, -len(line))]
    whole = np.concatenate(
        [(line[0] + far * first / np.hypot(*first))[::-1], line, line[-1] + far * last / np.hypot(*last)]
    )
    at_m = np.append(0.0, np.cumsum(np.hypot(*np.diff(whole, axis=0).T)))
    even = np.arange(0.0, at_m[-1], STEP_M)
    return evened_out(np.column_stack([np.interp(even, at_m, axis) for axis in whole.T]), sd_m=1.5)


def ramp(at_m: Floats, begin_m: float, long_m: float) -> Floats:
    """From 0 to 1, smoothly, from one place on."""
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * np.clip((at_m - begin_m) / long_m, 0.0, 1.0)))


def boom_over(ground: Any, way: Floats, *, boom_m: float, driver: Driver) -> Bools:
    """Where enough of the boom is over ground."""
    places = way[:, None, :] + (_SEEN_BOOMS[:, None] * boom_m) * normals(way)[:, None, :]
    inside = shapely.contains_xy(ground, places[..., 0], places[..., 1]).mean(axis=1)
    return np.asarray((inside > 0) & (inside >= driver.on_from))


def stretches(mask: Bools) -> list[list[int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(int)))
    found: list[list[int]] = edges.reshape(-1, 2).tolist()
    return found


def to_drive(ground: Any, way: Floats, *, boom_m: float, driver: Driver) -> list[tuple[int, int]]:
    """Begin and end of each piece to drive; short gaps are driven through, short pieces are left."""
    merged: list[tuple[int, int]] = []
    for begin, end in stretches(boom_over(ground, way, boom_m=boom_m, driver=driver)):
        if merged and (begin - merged[-1][1]) * STEP_M < _GAP_M:
            merged[-1] = (merged[-1][0], end)
        else:
            merged.append((begin, end))
    return [(a, b) for a, b in merged if (b - a) * STEP_M >= driver.least_m]


def band_along(line: Floats, wide_m: float) -> Any:
    return (
        shapely.buffer(shapely.LineString(line), wide_m / 2, cap_style="flat") if len(line) > 1 else shapely.Polygon()
    )


def normals(line: Floats) -> Floats:
    """Unit vectors to the left."""
    ahead = np.gradient(line, axis=0)
    side = np.column_stack([-ahead[:, 1], ahead[:, 0]])
    return np.asarray(side / np.maximum(np.hypot(*ahead.T), 1e-9)[:, None])


def evened_out(line: Floats, *, sd_m: float) -> Floats:
    """A line evened out over some metres, straight on beyond its ends."""
    half = min(math.ceil(3 * sd_m / STEP_M), len(line) - 1)
    bell = np.exp(-0.5 * (np.arange(-half, half + 1) * STEP_M / sd_m) ** 2)
    padded = np.pad(line, ((half, half), (0, 0)), mode="reflect", reflect_type="odd")
    return np.column_stack([np.convolve(axis, bell / bell.sum(), mode="valid") for axis in padded.T])


def largest(shape: Any) -> Any:
    return max(shapely.get_parts(shape), key=shapely.area)
