"""GPX 1.0 and 1.1: tracks as recordings, closed tracks as walked boundaries."""

import math
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from pyproj import CRS, Geod

from gladebook.errors import InputError, TrackError, UnreadableFile
from gladebook.io.blocks import Data
from gladebook.io.digits import number_or_nan
from gladebook.io.gpx.points import Course, Point, read_courses, tell_points
from gladebook.io.gpx.scan import scan_track
from gladebook.io.layers import LayerFound, chosen_place, named_once
from gladebook.io.rows import Row, Rows
from gladebook.io.trackrows import VOID, TrackPoint, TrackRows, parse_time, plain_number
from gladebook.notes import Note, left_out
from gladebook.passes.track import Track

__all__ = ["layers_in", "read_rows", "read_slowly", "read_track"]

_WGS84 = Geod(ellps="WGS84")
_CLOSED_M = 15.0  # common practice, no source: what a phone is off in the woods, at both ends
_CLOSED_SHARE = 0.05  # common practice, no source


def read_track(path: Path, *, data: Data, layer: str | None = None) -> Track:
    """Read all track points in the file's order, or those of one ``trk``; each ``trkseg`` is a piece of its own.

    Raises
    ------
    UnreadableFile
        Where the file is no readable GPX, or holds no track of the name `layer`.
    TrackError
        Where it holds no track points, or one of them cannot be right.
    """
    track = scan_track(path, data=data) if layer is None else None
    return track if track is not None else read_slowly(path, data=data, layer=layer)


def layers_in(path: Path, *, data: bytes) -> list[LayerFound]:
    """The tracks of a GPX and how many points each has.

    Raises
    ------
    UnreadableFile
        Where the file is no readable GPX.
    """
    tracks = [course for course in read_courses(path, data) if course.kind == "trk"]
    names = named_once([course.name for course in tracks], otherwise="track")
    return [
        LayerFound(name, "track", sum(map(len, course.segments))) for name, course in zip(names, tracks, strict=True)
    ]


def _only(courses: list[Course], *, layer: str, out: TrackRows) -> list[Course]:
    """The track of a name, by itself."""
    tracks = [course for course in courses if course.kind == "trk"]
    names = named_once([course.name for course in tracks], otherwise="track")
    place = chosen_place(names, wanted=layer, source=out.source, what="track")
    if len(tracks) > 1:
        out.skip("tracks that were not chosen", len(tracks) - 1)
    return [tracks[place]]


def read_slowly(path: Path, *, data: Data, layer: str | None = None) -> Track:
    """Read track points one by one, whatever the file looks like; `read_track` answers the same, sooner.

    Raises
    ------
    UnreadableFile, TrackError
        As `read_track`.
    """
    out = TrackRows(path.name)
    if layer is not None:
        segments = [
            segment for course in _only(read_courses(path, data), layer=layer, out=out) for segment in course.segments
        ]
        for number, points in enumerate(segments):
            for point in points:
                _add(out, path, point, segment=number)
        return out.finish()
    wrong: list[InputError] = []

    def add(point: Point, segment: int) -> None:
        if wrong:
            return
        try:
            _add(out, path, point, segment=segment)
        except InputError as error:
            wrong.append(error)  # which counts for less than that the file is broken farther on

    tell_points(path, data, point=add, route=lambda: out.skip("routes, which are planned and not driven"))
    if wrong:
        raise wrong[0]
    return out.finish()


def _add(out: TrackRows, path: Path, point: Point, *, segment: int) -> None:
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


def read_rows(path: Path, *, data: bytes) -> Rows:
    """Read closed tracks as walked boundaries, closed routes as drawn ones.

    A track is closed where its end lies within 15 m, or a twentieth of its length, of its start.

    Raises
    ------
    UnreadableFile
        Where the file is no readable GPX.
    """
    rows: list[Row] = []
    notes: list[Note] = []
    for course in read_courses(path, data):
        points = [p for segment in course.segments for p in segment]
        label = course.name or f"track {len(rows) + 1}"
        fields = {"name": course.name} if course.name else {}
        if not points:
            notes.append(Note("skipped", path.name, f"{label} is empty and was left out."))
            continue
        lonlat = np.array([_position(path, p) for p in points]).reshape(-1, 2)
        void = (lonlat == 0).all(axis=1)
        if void.any():
            lonlat = lonlat[~void]
            notes.append(left_out(f"{path.name}: {label}", VOID, count=int(void.sum())))
        if len([s for s in course.segments if s]) > 1:
            words = f"{label} was recorded in {len(course.segments)} pieces; they were joined in order."
            notes.append(Note("read", path.name, words))
        fault, open_m = _closure(lonlat)
        if fault:
            rows.append(Row(fields, None, fault=fault))
            continue
        if open_m > 0:
            words = f"{label} was closed by a straight line of {open_m:.1f} m from its end to its start."
            notes.append(Note("repaired", path.name, words))
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
