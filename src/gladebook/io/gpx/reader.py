"""GPX 1.0 and 1.1: tracks as recordings, closed tracks as walked boundaries."""

import math
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from pyproj import CRS, Geod

from gladebook.errors import TrackError, UnreadableFile
from gladebook.io.digits import number_or_nan
from gladebook.io.gpx.points import Point, read_courses
from gladebook.io.gpx.scan import scan_track
from gladebook.io.rows import Row, Rows
from gladebook.io.trackrows import TrackPoint, TrackRows, parse_time, plain_number
from gladebook.passes.track import Track

__all__ = ["read_rows", "read_slowly", "read_track"]

_WGS84 = Geod(ellps="WGS84")
_CLOSED_M = 15.0  # common practice, no source: what a phone is off in the woods, at both ends
_CLOSED_SHARE = 0.05  # common practice, no source


def read_track(path: Path, *, data: bytes) -> Track:
    """Read all track points in the file's order; each ``trkseg`` is a piece of its own.

    Raises
    ------
    UnreadableFile
        Where the file is no readable GPX.
    TrackError
        Where it holds no track points, or one of them cannot be right.
    """
    track = scan_track(path, data=data)
    return track if track is not None else read_slowly(path, data=data)


def read_slowly(path: Path, *, data: bytes) -> Track:
    """Read track points one by one, whatever the file looks like; `read_track` answers the same, sooner.

    Raises
    ------
    UnreadableFile, TrackError
        As `read_track`.
    """
    out = TrackRows(path.name)
    segment = 0
    for course in read_courses(path, data):
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
                    speed_mps=number_or_nan(point.values.get("speed")),
                    hdop=number_or_nan(point.values.get("hdop")),
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
    for course in read_courses(path, data):
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


def _position(path: Path, point: Point) -> tuple[float, float]:
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
