"""GPX 1.0 and 1.1: tracks as recordings, closed tracks as walked boundaries.

Read as a stream; each point keeps its own values, those in extensions too.
"""

import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from pyproj import CRS, Geod

from gladebook.errors import TrackError, UnreadableFile
from gladebook.io.rows import Row, Rows
from gladebook.io.trackrows import TrackPoint, TrackRows, parse_time, plain_number
from gladebook.io.xml import parse_xml
from gladebook.passes.track import Track

__all__ = ["read_rows", "read_track"]

_WGS84 = Geod(ellps="WGS84")
_CLOSED_M = 15.0  # common practice, no source: what a phone is off in the woods, at both ends
_CLOSED_SHARE = 0.05  # common practice, no source
_COURSES = ("trk", "rte")
_POINTS = ("trkpt", "rtept")


@dataclass
class _Point:
    lat: str
    lon: str
    line: int
    values: dict[str, str] = field(default_factory=dict)


@dataclass
class _Course:
    """One ``trk`` or ``rte``: its name and its segments."""

    kind: str
    name: str = ""
    segments: list[list[_Point]] = field(default_factory=list)


def read_track(path: Path, *, data: bytes) -> Track:
    """Read all track points in the file's order; each ``trkseg`` is a piece of its own.

    Raises
    ------
    UnreadableFile
        Where the file is no readable GPX.
    TrackError
        Where it holds no track points, or one of them cannot be right.
    """
    out = TrackRows(path.name)
    segment = 0
    for course in _courses(path, data):
        if course.kind == "rte":
            out.skip("routes, which are planned and not driven")
            continue
        for points in course.segments:
            for point in points:
                where = f"line {point.line}"
                lon, lat = _position(path, point)
                read = TrackPoint(
                    lon_deg=lon,
                    lat_deg=lat,
                    time=parse_time(point.values.get("time"), source=path.name, where=where),
                    segment=segment,
                    speed_mps=_number(point.values.get("speed")),
                    hdop=_number(point.values.get("hdop")),
                )
                out.add(read, where=where)
            segment += 1
    return out.finish()


def read_rows(path: Path, *, data: bytes) -> Rows:
    """Read closed tracks as walked boundaries, closed routes as drawn ones.

    A track is closed where its end lies within 15 m, or a twentieth of its length, of its start.

    Raises
    ------
    UnreadableFile
        Where the file is no readable GPX.
    """
    rows: list[Row] = []
    notes: list[str] = []
    for course in _courses(path, data):
        points = [p for segment in course.segments for p in segment]
        label = course.name or f"track {len(rows) + 1}"
        fields = {"name": course.name} if course.name else {}
        if not points:
            notes.append(f"{path.name}: {label} is empty and was left out.")
            continue
        lonlat = np.array([_position(path, p) for p in points]).reshape(-1, 2)
        void = (lonlat == 0).all(axis=1)
        if void.any():
            lonlat = lonlat[~void]
            notes.append(
                f"{path.name}: {label}: left out points at 0, 0, which a receiver writes before it knows its place "
                f"({int(void.sum())})."
            )
        if len([s for s in course.segments if s]) > 1:
            notes.append(
                f"{path.name}: {label} was recorded in {len(course.segments)} pieces; they were joined in order."
            )
        fault, open_m = _closure(lonlat)
        if fault:
            rows.append(Row(fields, None, fault=fault))
            continue
        if open_m > 0:
            notes.append(
                f"{path.name}: {label} was closed by a straight line of {open_m:.1f} m from its end to its start."
            )
        if (lonlat[0] != lonlat[-1]).any():
            lonlat = np.vstack([lonlat, lonlat[:1]])
        rows.append(Row(fields, shapely.polygons(lonlat), walked=course.kind == "trk"))
    if not rows:
        raise UnreadableFile(f"{path.name}: holds no track or route. Pick the file with the walk in it.")
    return Rows(source=path.name, rows=tuple(rows), crs=CRS.from_epsg(4326), notes=tuple(notes))


def _closure(lonlat: Any) -> tuple[str, float]:
    if len(lonlat) < 3:
        return "has fewer than three points, which is no walk round a plot. Walk it again.", 0.0
    length_m = float(np.sum(_WGS84.line_lengths(lonlat[:, 0], lonlat[:, 1])))
    _, _, open_m = _WGS84.inv(*lonlat[0], *lonlat[-1])
    if open_m > max(_CLOSED_M, _CLOSED_SHARE * length_m):
        why = (
            f"ends {open_m:.0f} m from where it starts, after {length_m:.0f} m: it is a track, "
            "not a walk round a plot. Walk it to the start, or give it to coverage."
        )
        return why, 0.0
    return "", float(open_m)


def _position(path: Path, point: _Point) -> tuple[float, float]:
    try:
        lat, lon = plain_number(point.lat), plain_number(point.lon)
    except ValueError:
        lat = lon = math.nan
    if not (math.isfinite(lat) and math.isfinite(lon)):
        raise TrackError(
            f'{path.name}: line {point.line} has a point at lat "{point.lat[:20]}", lon "{point.lon[:20]}", '
            "which is no position. Take it out."
        )
    return lon, lat


def _number(text: str | None) -> float:
    """An optional figure; what is no figure is unknown."""
    try:
        return plain_number(text) if text else math.nan
    except ValueError:
        return math.nan


def _courses(path: Path, data: bytes) -> list[_Course]:
    reader = _Reader()
    parse_xml(path, data, handler=reader, root="gpx")
    return reader.courses


class _Reader:
    """What expat calls; it keeps courses, their names, points and the points' own values."""

    def __init__(self) -> None:
        self.courses: list[_Course] = []
        self._path: list[str] = []
        self._point: _Point | None = None
        self._text: list[str] = []

    def start(self, name: str, attributes: dict[str, str], line: int) -> None:
        self._path.append(name)
        self._text.clear()
        if name in _COURSES and len(self._path) == 2:
            self.courses.append(_Course(kind=name, segments=[[]] if name == "rte" else []))
        elif name == "trkseg" and self.courses:
            self.courses[-1].segments.append([])
        elif name in _POINTS and self.courses and self.courses[-1].segments:
            self._point = _Point(lat=attributes.get("lat", ""), lon=attributes.get("lon", ""), line=line)
            self.courses[-1].segments[-1].append(self._point)

    def text(self, data: str) -> None:
        self._text.append(data)

    def end(self, name: str) -> None:
        self._path.pop()
        if name in _POINTS:
            self._point = None
        elif self._point is not None:
            # Speed and the like sit in extensions of many makers; the element's own name decides.
            self._point.values.setdefault(name, "".join(self._text).strip())
        elif name == "name" and len(self._path) == 2 and self._path[1] in _COURSES and self.courses:
            self.courses[-1].name = "".join(self._text).strip()
        self._text.clear()
