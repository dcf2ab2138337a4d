"""Synthetic plots and drives with known answers, for users' own checks and for the tests.

Everything is drawn in metres on a plane round a centre, then turned into longitude and latitude,
so that what a drive must give is known in closed form before gladebook sees it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.geometry.frame import Frame
from gladebook.passes.track import Clock, Track
from gladebook.plots.plot import Plot

__all__ = ["Leg", "Points", "drive", "parallel_passes", "plot_on", "rectangle", "track_on"]


@dataclass(frozen=True)
class Leg:
    """A straight stretch of a drive.

    Attributes
    ----------
    x_m, y_m : where it ends, metres.
    boom_on : whether the boom is on along it.
    """

    x_m: float
    y_m: float
    boom_on: bool


@dataclass(frozen=True, eq=False)
class Points:
    """Points of a drive on the plane: places (n, 2) in metres, seconds (n,), and the boom from each on (n,)."""

    xy_m: npt.NDArray[np.float64]
    time_s: npt.NDArray[np.float64]
    boom_on: npt.NDArray[np.int8]


def rectangle(width_m: float, length_m: float, *, at: tuple[float, float] = (0.0, 0.0), turn_deg: float = 0.0) -> Any:
    """A rectangle in metres, its lower left corner at `at`, turned about it, counter-clockwise."""
    box = shapely.box(0.0, 0.0, width_m, length_m)
    angle = np.radians(turn_deg)
    spin = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    return shapely.transform(box, lambda xy: xy @ spin + np.array(at))


def plot_on(name: str, shape_m: Any, *, frame: Frame) -> Plot:
    """A plot from a shape in metres."""
    return Plot(name=name, shape=frame.shape_to_lonlat(shape_m))


def drive(
    start: tuple[float, float],
    legs: Sequence[Leg],
    *,
    speed_mps: float = 2.0,
    interval_s: float = 1.0,
    start_s: float = 0.0,
) -> Points:
    """Drive along legs at a steady speed, with a point every interval and at the end of every leg."""
    places = [np.array(start, dtype=float)]
    times = [start_s]
    states: list[int] = []
    for leg in legs:
        begin, end = places[-1], np.array([leg.x_m, leg.y_m])
        seconds = float(np.hypot(*(end - begin))) / speed_mps
        steps = max(int(np.ceil(seconds / interval_s - 1e-9)), 1)
        for k in range(1, steps + 1):
            share = min(k * interval_s / seconds, 1.0) if seconds > 0 else 1.0
            places.append(begin + share * (end - begin))
            states.append(int(leg.boom_on))
        whole = times[-1]
        times += [whole + min(k * interval_s, seconds) for k in range(1, steps + 1)]
    return Points(xy_m=np.array(places), time_s=np.array(times), boom_on=np.array([*states, 0], dtype=np.int8))


def parallel_passes(
    ground_m: Any, *, width_m: float, spacing_m: float, leave_out: Sequence[int] = ()
) -> tuple[tuple[float, float], list[Leg]]:
    """Passes along y, back and forth, that cover a shape from its left side to its right.

    The boom is on wherever the swath touches the shape. Passes numbered in `leave_out`, from 1,
    are left out: a planted skip.

    Returns
    -------
    The start, and the legs.
    """
    west, _, east, _ = shapely.bounds(ground_m)
    count = int(np.ceil((east - west - width_m) / spacing_m - 1e-9)) + 1
    start: tuple[float, float] | None = None
    legs: list[Leg] = []
    upward = True
    for number in range(1, count + 1):
        x = west + width_m / 2 + (number - 1) * spacing_m
        stretches = _stretches(ground_m, x - width_m / 2, x + width_m / 2)
        if number in leave_out or not stretches:
            continue
        stretches = stretches if upward else [(b, a) for a, b in reversed(stretches)]
        for begin, end in stretches:
            if start is None:
                start = (x, begin)
            else:
                legs.append(Leg(x, begin, boom_on=False))
            legs.append(Leg(x, end, boom_on=True))
        upward = not upward
    return start or (west, 0.0), legs


def track_on(
    points: Points, *, frame: Frame, name: str = "drive", width_m: float = float("nan"), clock: Clock = "utc"
) -> Track:
    """A track from points on the plane."""
    lonlat = frame.to_lonlat(points.xy_m)
    n = len(lonlat)
    return Track(
        name=name,
        lon_deg=lonlat[:, 0],
        lat_deg=lonlat[:, 1],
        time_s=points.time_s,
        segment=np.zeros(n, dtype=np.int64),
        boom_on=points.boom_on,
        width_m=np.full(n, width_m),
        speed_mps=np.full(n, np.nan),
        hdop=np.full(n, np.nan),
        clock=clock,
    )


def _stretches(ground_m: Any, left: float, right: float) -> list[tuple[float, float]]:
    """Where along y the ground lies between two lines of x, from bottom to top."""
    _, south, _, north = shapely.bounds(ground_m)
    under = shapely.intersection(ground_m, shapely.box(left, south - 1, right, north + 1))
    spans = sorted((b[1], b[3]) for b in (shapely.bounds(p) for p in shapely.get_parts(under)) if b[3] > b[1])
    merged: list[tuple[float, float]] = []
    for low, high in spans:
        if merged and low <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(high, merged[-1][1]))
        else:
            merged.append((float(low), float(high)))
    return merged
