"""Synthetic drives and plots, laid out in metres about an invented place.

Metres become degrees by geodesics from the place (PROJ's direct problem), not by the plane under
test: within a kilometre the two planes differ by less than 1e-8 of any area.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from pyproj import Geod

from gladebook.coverage.compute import cover_plots
from gladebook.coverage.result import Coverage
from gladebook.passes.path import CutRules
from gladebook.passes.sprayer import Sprayer
from gladebook.passes.track import Track
from gladebook.plots.acreage import PlotAcres, measure_plots
from gladebook.plots.plot import Plot

Floats = npt.NDArray[np.float64]

HOME = (-84.713, 32.281)
SHAPE_M2 = 0.02  # between two drawings of one shape: a tenth of a millimetre along 200 m of its edges
_WGS84 = Geod(ellps="WGS84")


def to_degrees(xy_m: Any, *, home: tuple[float, float] = HOME) -> Floats:
    """Metres east and north of home, shape (n, 2), as longitude and latitude."""
    xy = np.asarray(xy_m, dtype=float)
    n = len(xy)
    azimuth = np.degrees(np.arctan2(xy[:, 0], xy[:, 1]))
    lon, lat, _ = _WGS84.fwd(np.full(n, home[0]), np.full(n, home[1]), azimuth, np.hypot(xy[:, 0], xy[:, 1]))
    return np.column_stack([lon, lat])


def to_metres(lonlat_deg: Any, *, home: tuple[float, float] = HOME) -> Floats:
    """The way back: metres east and north of home."""
    lonlat = np.asarray(lonlat_deg, dtype=float)
    n = len(lonlat)
    azimuth, _, away_m = _WGS84.inv(np.full(n, home[0]), np.full(n, home[1]), lonlat[:, 0], lonlat[:, 1])
    return np.column_stack([away_m * np.sin(np.radians(azimuth)), away_m * np.cos(np.radians(azimuth))])


def straight(start: tuple[float, float], end: tuple[float, float], *, step_m: float = 1.0) -> Floats:
    """Points along a line, both ends included, about a step apart."""
    a, b = np.array(start, dtype=float), np.array(end, dtype=float)
    count = max(round(float(np.hypot(*(b - a))) / step_m), 1)
    points: Floats = a + np.linspace(0, 1, count + 1)[:, None] * (b - a)
    return points


def arc(centre: tuple[float, float], radius_m: float, *, start_deg: float, stop_deg: float, steps: int) -> Floats:
    """Points on a circle, angles counted from east, anticlockwise."""
    angle = np.radians(np.linspace(start_deg, stop_deg, steps + 1))
    points: Floats = np.array(centre) + radius_m * np.column_stack([np.cos(angle), np.sin(angle)])
    return points


def turned(xy_m: Any, deg: float) -> Floats:
    """Turn points about home, anticlockwise."""
    c, s = np.cos(np.radians(deg)), np.sin(np.radians(deg))
    points: Floats = np.asarray(xy_m, dtype=float) @ np.array([[c, s], [-s, c]])
    return points


def joined(*drives: Floats) -> Floats:
    """Drives one after the other; where one starts at the last one's end, that point comes once."""
    out = [drives[0]]
    for drive in drives[1:]:
        out.append(drive[1:] if np.hypot(*(drive[0] - out[-1][-1])) < 1e-9 else drive)
    return np.concatenate(out)


def make_track(
    xy_m: Any,
    *,
    time_s: Any = 1.0,
    boom_on: Any = 1,
    width_m: Any = np.nan,
    speed_mps: Any = np.nan,
    segment: Any = 0,
    name: str = "drive",
    home: tuple[float, float] = HOME,
) -> Track:
    """Make a track: `time_s` as stamps, as the seconds between points, or None for no times."""
    lonlat = to_degrees(xy_m, home=home)
    n = len(lonlat)
    if time_s is None:
        stamps = np.full(n, np.nan)
    elif np.ndim(time_s) == 0:
        stamps = 1.7e9 + float(time_s) * np.arange(n)
    else:
        stamps = np.asarray(time_s, dtype=float)
    return Track(
        name=name,
        lon_deg=lonlat[:, 0],
        lat_deg=lonlat[:, 1],
        time_s=stamps,
        segment=np.broadcast_to(np.asarray(segment, dtype=np.int64), (n,)).copy(),
        boom_on=np.broadcast_to(np.asarray(boom_on, dtype=np.int8), (n,)).copy(),
        width_m=np.broadcast_to(np.asarray(width_m, dtype=float), (n,)).copy(),
        speed_mps=np.broadcast_to(np.asarray(speed_mps, dtype=float), (n,)).copy(),
        hdop=np.full(n, np.nan),
        clock="utc" if np.isfinite(stamps).any() else "none",
    )


def make_passes(*drives: Floats, width_m: Any = np.nan, boom_on: Any = 1, name: str = "drive") -> Track:
    """One track whose recording starts a new piece, after five minutes, for each drive."""
    number = np.repeat(np.arange(len(drives)), [len(d) for d in drives])
    return make_track(
        np.concatenate(drives),
        time_s=1.7e9 + np.arange(len(number)) + 300.0 * number,
        boom_on=boom_on,
        width_m=width_m,
        segment=number,
        name=name,
    )


def make_plot(corners_m: Any, *, name: str = "plot", holes_m: Any = (), home: tuple[float, float] = HOME) -> Plot:
    """Make a plot from corners in metres."""
    holes = [to_degrees(hole, home=home) for hole in holes_m]
    return Plot(name=name, shape=shapely.Polygon(to_degrees(corners_m, home=home), holes))


def box(west: float, south: float, east: float, north: float) -> Floats:
    """Corners of an upright rectangle."""
    return np.array([[west, south], [east, south], [east, north], [west, north]], dtype=float)


def cover(
    plots: Plot | Sequence[Plot],
    tracks: Track | Sequence[Track],
    *,
    boom_m: float | None = None,
    rules: CutRules | None = None,
    obstacles: Sequence[Plot] = (),
) -> Coverage:
    """Measure the plots and cover them."""
    plots = [plots] if isinstance(plots, Plot) else plots
    tracks = [tracks] if isinstance(tracks, Track) else tracks
    measured: tuple[PlotAcres, ...] = measure_plots(plots, obstacles=obstacles).plots
    return cover_plots(measured, tracks, sprayer=Sprayer(width_m=boom_m), rules=rules)


def in_metres(shape_deg: Any) -> Any:
    """A shape in degrees as metres east and north of home."""
    return shapely.transform(shape_deg, to_metres)


def swath(centre_m: Any, width_m: float) -> Any:
    """Ground under a boom drawn along straight drives: a rectangle for each step, added up."""
    pieces = []
    for a, b in pairwise(np.asarray(centre_m, dtype=float)):
        side = np.array([-(b - a)[1], (b - a)[0]]) / np.hypot(*(b - a)) * width_m / 2
        pieces.append(shapely.Polygon([a + side, a - side, b - side, b + side]))
    return shapely.union_all(pieces)
