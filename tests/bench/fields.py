"""One invented application, drawn in metres for any number of points.

A plot of 24 crooked corners with a hole is driven once round inside its edge, then to and fro, passes
11/12 of a 12 ft boom apart, with the boom on through the turns. In a tenth of the passes it is off over
a quarter of the pass: a planted skip. It is off over the hole too. The driver wanders gently: 25 cm
(s.d.), much the same for 12 m. The receiver's error is an Ornstein-Uhlenbeck process of 15 cm that
forgets itself within a minute: receivers' errors were found closer to that than to white noise
(Sensors 20(21):6050, 2020, abstract); its size is a good receiver's, common practice, no source.

Points lie 0.55 m apart, so that few fall to the rule that moves under half a metre are no moves, and
every engine sees the same points. `smooth` leaves the receiver's error out: the kindest case for
engines whose work grows with how often outlines cross.
"""

from dataclasses import dataclass
from itertools import accumulate
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.geometry.frame import Frame
from gladebook.passes.track import Track

__all__ = ["BOOM_M", "FRAME", "Field", "as_gpx", "as_track", "field_of", "load_field", "make_field", "save_field"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

FRAME = Frame(lon_deg=-86.7, lat_deg=32.4)
BOOM_M = 12 * 0.3048
SPACING_M = BOOM_M * 11 / 12
_SEED = 20
_STEP_M = 0.55
_ERROR_M, _FORGETS_S = 0.15, 60.0
_CORNER_M = 3.0
_ROUND, _BOOM_OFF = 0, -1
_DRAWN_M = 0.1
_WANDER_M, _ALIKE_M = 0.25, 12.0
_BEYOND_M = 2.0
_HEADING_RAD = np.radians(23.0)
_STEP_S = 0.25


@dataclass(frozen=True, eq=False)
class Field:
    """An application on the plane.

    Attributes
    ----------
    xy_m : shape (n, 2), where the middle of the boom went.
    on : shape (n,), the boom, from a point to the next.
    number : shape (n - 1,), the pass of each step, from 1; 0 in a turn and on the way round.
    plot : its outline, metres.
    """

    xy_m: Floats
    on: Bools
    number: Ints
    plot: Any

    def __len__(self) -> int:
        return len(self.xy_m)


@dataclass(frozen=True, eq=False)
class _Line:
    """A drive drawn every 10 cm: places, the pass of each, and the share of the pass done.

    Passes are numbered from 1; 0 is the way round or a turn, -1 a way with the boom off.
    """

    xy_m: Floats
    number: Ints
    share: Floats


def make_field(points: int, *, smooth: bool = False) -> Field:
    """Draw the application with so many points."""
    rng = np.random.default_rng(_SEED)
    shape = _shape(rng)
    plot = _sized(shape, length_m=_STEP_M * (points - 1))
    line = _drawn(_passes(_within(plot)), lap_m=_lap(plot))
    way_m = np.append(0.0, np.cumsum(np.hypot(*np.diff(line.xy_m, axis=0).T)))
    xy = line.xy_m + _wander(rng, way_m)
    along_m = np.append(0.0, np.cumsum(np.hypot(*np.diff(xy, axis=0).T)))
    at_m = np.linspace(0.0, along_m[-1], points)
    place = np.column_stack([np.interp(at_m, along_m, xy[:, 0]), np.interp(at_m, along_m, xy[:, 1])])
    drawn = np.minimum(np.searchsorted(along_m, at_m, side="right"), len(along_m) - 1)
    number, share = line.number[drawn], line.share[drawn]
    on = (number != _BOOM_OFF) & ~_skipped(rng, number, share)
    on &= ~shapely.contains_xy(shapely.Polygon(plot.interiors[0]), *place.T)
    on[-1] = False
    number = np.maximum(number, 0)
    if not smooth:
        place += _error(rng, points)
    c, s = np.cos(_HEADING_RAD), np.sin(_HEADING_RAD)
    spin = np.array([[c, s], [-s, c]])
    return Field(place @ spin, on, number[:-1], shapely.transform(plot, lambda corners: corners @ spin))


def _shape(rng: np.random.Generator) -> Any:
    """A crooked plot about a metre across, with a hole."""
    angle = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    away = rng.uniform(0.78, 1.0, 24)
    ring = np.column_stack([1.2 * away * np.cos(angle), away * np.sin(angle)])
    hole = [0.25, -0.2] + 0.14 * np.column_stack([np.cos(angle[::2]), 0.7 * np.sin(angle[::2])])
    return shapely.Polygon(ring, [hole])


def _sized(shape: Any, *, length_m: float) -> Any:
    """The smallest such plot that takes a drive of this length."""
    least, most = 1.0, 10.0 + 3 * np.sqrt(length_m * SPACING_M)
    for _ in range(40):
        size = (least + most) / 2
        passes, lap_m = _passes(_within(_scaled(shape, size))), _lap(_scaled(shape, size))
        ends = np.maximum(np.abs(np.diff(passes[:, 2])), np.abs(np.diff(passes[:, 1])))
        turns = (len(passes) - 1) * (np.pi * SPACING_M / 2 + 2 * _BEYOND_M) + ends.sum() / 2
        round_m = float(np.hypot(*np.diff(lap_m, axis=0).T).sum())
        long = float((passes[:, 2] - passes[:, 1]).sum() + turns) + round_m >= length_m
        least, most = (least, size) if long else (size, most)
    return _scaled(shape, most)


def _scaled(shape: Any, size: float) -> Any:
    return shapely.transform(shape, lambda corners: corners * size)


def _within(plot: Any) -> Any:
    """What is left inside the way round."""
    return shapely.buffer(shapely.Polygon(plot.exterior), -BOOM_M, join_style="mitre")


def _lap(plot: Any) -> Floats:
    """Once round half a boom inside the edge, corners rounded."""
    inner = shapely.buffer(shapely.Polygon(plot.exterior), -BOOM_M / 2 - _CORNER_M, join_style="mitre")
    ring = shapely.buffer(inner, _CORNER_M, quad_segs=32).exterior
    at_m = np.linspace(0.0, ring.length, max(round(ring.length / _DRAWN_M), 8))
    points: Floats = shapely.get_coordinates(shapely.line_interpolate_point(ring, at_m))
    return points


def _passes(plot: Any) -> Floats:
    """Y, west end and east end of each pass, shape (m, 3)."""
    west, south, east, north = plot.bounds
    y = np.arange(south + SPACING_M / 2, north + SPACING_M / 2, SPACING_M)
    lines = shapely.linestrings(np.stack([np.tile([west - 1, east + 1], (len(y), 1)), np.tile(y, (2, 1)).T], axis=2))
    bounds = shapely.bounds(shapely.intersection(shapely.Polygon(plot.exterior), lines))
    real = np.isfinite(bounds[:, 0]) & (bounds[:, 2] - bounds[:, 0] > BOOM_M)
    passes: Floats = np.column_stack([y, bounds[:, 0], bounds[:, 2]])[real]
    return passes


def _drawn(passes: Floats, *, lap_m: Floats) -> _Line:
    """Round, then to and fro, each turn a half circle two metres beyond the longer of its two passes."""
    first = (passes[0, 1], passes[0, 0])
    parts: list[tuple[Floats, int]] = [(lap_m, _ROUND), (_straight(tuple(lap_m[-1]), first), _BOOM_OFF)]
    for i, (y, west, east) in enumerate(passes):
        eastward = i % 2 == 0
        begin, end = (west, east) if eastward else (east, west)
        parts.append((_straight((begin, y), (end, y)), i + 1))
        if i + 1 == len(passes):
            break
        over, radius = passes[i + 1, 0], (passes[i + 1, 0] - y) / 2
        beyond = max(east, passes[i + 1, 2]) + _BEYOND_M if eastward else min(west, passes[i + 1, 1]) - _BEYOND_M
        angle = np.linspace(-np.pi / 2, np.pi / 2, max(round(np.pi * radius / _DRAWN_M), 8))
        bend = np.column_stack([radius * np.cos(angle) * (1 if eastward else -1), radius * np.sin(angle)])
        parts.append((_straight((end, y), (beyond, y)), 0))
        parts.append((bend + np.array([beyond, (y + over) / 2]), 0))
        parts.append((_straight((beyond, over), (passes[i + 1, 2] if eastward else passes[i + 1, 1], over)), 0))
    # A part's last place is the next one's first.
    return _Line(
        xy_m=np.concatenate([xy[:-1] for xy, _ in parts]),
        number=np.concatenate([np.full(len(xy) - 1, number) for xy, number in parts]),
        share=np.concatenate([np.linspace(0, 1, len(xy))[:-1] for xy, _ in parts]),
    )


def _straight(begin: tuple[float, float], end: tuple[float, float]) -> Floats:
    a, b = np.array(begin), np.array(end)
    count = max(round(float(np.hypot(*(b - a))) / _DRAWN_M), 1)
    return np.asarray(a + np.linspace(0, 1, count + 1)[:, None] * (b - a))


def _wander(rng: np.random.Generator, way_m: Floats) -> Floats:
    """Smooth noise along the way: white noise, a metre apart, seen through a bell."""
    count = 2 ** int(np.ceil(np.log2(way_m[-1] + 2)))  # transforms of other lengths can take a hundred times as long
    pitch = np.fft.rfftfreq(count)
    bell = np.exp(-((np.pi * pitch * _ALIKE_M) ** 2))
    noise = np.fft.irfft(np.fft.rfft(rng.normal(size=(2, count))) * bell, n=count)
    noise *= _WANDER_M / noise.std(axis=1, keepdims=True)
    at_m = np.arange(count, dtype=float)
    return np.column_stack([np.interp(way_m, at_m, axis) for axis in noise])


def _error(rng: np.random.Generator, points: int) -> Floats:
    """The receiver's error at each point, east and north."""
    keep = np.exp(-_STEP_S / _FORGETS_S)
    shocks = rng.normal(0.0, _ERROR_M * np.sqrt(1 - keep**2), (points, 2))
    shocks[0] = rng.normal(0.0, _ERROR_M, 2)
    error: Floats = np.array(list(accumulate(shocks, lambda before, shock: keep * before + shock)))
    return error


def _skipped(rng: np.random.Generator, number: Ints, share: Floats) -> Bools:
    passes = int(number.max())
    begins = np.full(passes + 2, np.inf)  # and one for the way with the boom off, which is told by -1
    chosen = rng.choice(np.arange(1, passes + 1), size=max(round(passes / 10), 1), replace=False)
    begins[chosen] = rng.uniform(0.1, 0.65, len(chosen))
    skipped: Bools = (share >= begins[number]) & (share < begins[number] + 0.25)
    return skipped


def save_field(field: Field, path: Path) -> None:
    """Write a field for another process."""
    np.savez(path, xy=field.xy_m, on=field.on, number=field.number, plot=np.frombuffer(field.plot.wkb, np.uint8))


def load_field(path: Path) -> Field:
    """Read what `save_field` wrote."""
    with np.load(path) as kept:
        return Field(kept["xy"], kept["on"], kept["number"], shapely.from_wkb(kept["plot"].tobytes()))


def field_of(size: int, *, folder: Path, smooth: bool = False) -> Path:
    """The field of so many points, as a file; drawn once."""
    path = folder / f"{'smooth' if smooth else 'field'}{size}.npz"
    if not path.exists():
        save_field(make_field(size, smooth=smooth), path)
    return path


def as_track(field: Field) -> Track:
    """The application as a recording with boom states, four points a second."""
    lonlat = FRAME.to_lonlat(field.xy_m)
    n = len(lonlat)
    return Track(
        name="drive",
        lon_deg=lonlat[:, 0],
        lat_deg=lonlat[:, 1],
        time_s=1_776_000_000 + np.linspace(0.0, _STEP_S * (n - 1), n),
        segment=np.zeros(n, dtype=np.int64),
        boom_on=field.on.astype(np.int8),
        width_m=np.full(n, np.nan),
        speed_mps=np.full(n, np.nan),
        hdop=np.full(n, np.nan),
        clock="utc",
    )


def as_gpx(field: Field) -> str:
    """The application as a phone writes it, some 100 bytes a point; it has no boom states."""
    lonlat = FRAME.to_lonlat(field.xy_m)
    start = np.datetime64("2026-04-12T13:00:00.000")
    times = np.datetime_as_string(start + (1000 * _STEP_S * np.arange(len(lonlat))).astype("timedelta64[ms]"))
    points = [
        f'<trkpt lat="{lat:.8f}" lon="{lon:.8f}"><ele>64.0</ele><time>{time}Z</time></trkpt>'
        for (lon, lat), time in zip(lonlat.tolist(), times.tolist(), strict=True)
    ]
    return "\n".join(
        [
            '<?xml version="1.0" encoding="UTF-8"?>',
            '<gpx version="1.1" creator="bench" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>',
            *points,
            "</trkseg></trk></gpx>\n",
        ]
    )
