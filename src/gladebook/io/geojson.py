"""GeoJSON: RFC 7946, and the older ``crs`` member of 2008 where a file still has one.

Read with the standard library, so that a broken file can be answered with the feature and the
corner that is wrong.
"""

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from pyproj import CRS
from pyproj.exceptions import CRSError

from gladebook.errors import TrackError, UnreadableFile
from gladebook.geometry.validity import flatten
from gladebook.io.rows import Row, Rows
from gladebook.io.sections import section_names
from gladebook.io.trackrows import TrackPoint, TrackRows, parse_state, parse_time, plain_number
from gladebook.passes.track import Track

__all__ = ["read_rows", "read_track"]

_CRS84 = "OGC:CRS84"


def read_rows(path: Path, *, text: str) -> Rows:
    """Read features with their fields.

    Raises
    ------
    UnreadableFile
        Where the text is no GeoJSON, with the line.
    MissingCrs
        Where the older ``crs`` member says that nobody knows, or points elsewhere.
    """
    document = _load(path, text)
    features = _features(path, document)
    rows: list[Row] = []
    notes: list[str] = []
    for number, feature in enumerate(features, start=1):
        geometry = feature.get("geometry")
        fields = feature.get("properties") or {}
        if not isinstance(fields, dict):
            raise UnreadableFile(
                f'{path.name}: feature {number} has "properties" that are not an object. Export it again.'
            )
        try:
            shape = _shape(geometry) if geometry is not None else None
            rows.append(Row(fields, shape))
        except _BadGeometry as error:
            rows.append(Row(fields, None, fault=str(error)))
    open_rings = _open_rings([feature.get("geometry") for feature in features])
    if open_rings:
        notes.append(
            f"{path.name}: {open_rings} ring{'s' if open_rings > 1 else ''} not closed; closed to the first corner."
        )
    crs, said = _crs(document)
    return Rows(source=path.name, rows=tuple(rows), crs=crs, notes=tuple(notes), crs_said=said)


def read_track(path: Path, *, text: str) -> Track:
    """Read lines (each a piece of its own) or points in their order, with the fields that a table has.

    A line may carry ``times`` (one for each corner), and ``boom_on``, ``width_m`` and ``section_1``, ``section_2``
    and so on for all of it.

    Raises
    ------
    UnreadableFile, MissingCrs
        As for boundaries.
    TrackError
        Where there is no line or point, the coordinates are not longitude and latitude, or a value cannot be read.
    """
    document = _load(path, text)
    crs, _ = _crs(document)
    if crs is None or not crs.to_2d().equals(CRS.from_user_input(_CRS84), ignore_axis_order=True):
        raise TrackError(f"{path.name}: a track is read in longitude and latitude only. Export it in WGS 84.")
    features = _features(path, document)
    sections = _section_names(path, features)
    out = TrackRows(path.name, sections=len(sections))
    segment = 0
    for number, feature in enumerate(features, start=1):
        where = f"feature {number}"
        fields = {str(k).lower(): v for k, v in _properties(path, feature, number=number).items()}
        states = _states(fields, sections, source=path.name, where=where)
        place = _plain_point(feature.get("geometry"))
        if place is not None:
            _add_point(out, place, fields, at=(segment, where), states=states)
            continue
        try:
            shape = _shape(feature.get("geometry")) if feature.get("geometry") is not None else None
        except _BadGeometry as error:
            raise TrackError(f"{path.name}: {where} {error}") from None
        if shape is None:
            out.skip("features without a shape")
            continue
        for part in flatten(shape):
            kind = int(shapely.get_type_id(part))
            if kind == 0:
                _add_point(out, shapely.get_coordinates(part)[0].tolist(), fields, at=(segment, where), states=states)
            elif kind == 1:
                segment += 1
                _add_line(out, part, fields, at=(segment, where), states=states)
                segment += 1
            else:
                out.skip("areas, which are no track")
    return out.finish()


def _properties(path: Path, feature: dict[str, Any], *, number: int) -> dict[str, Any]:
    fields = feature.get("properties") or {}
    if not isinstance(fields, dict):
        raise UnreadableFile(f'{path.name}: feature {number} has "properties" that are not an object. Export it again.')
    return fields


def _section_names(path: Path, features: list[dict[str, Any]]) -> tuple[str, ...]:
    """The properties, in small letters, that hold the sections of any feature; one that lacks some has them unknown."""
    names: set[str] = set()
    for feature in features:
        if isinstance(feature.get("properties"), dict):
            names.update(feature["properties"])
    return section_names(sorted({name.lower() for name in names}), source=path.name)


def _states(fields: dict[str, Any], names: tuple[str, ...], *, source: str, where: str) -> tuple[int, ...]:
    return tuple(
        parse_state(fields.get(name), source=source, where=where, what=f"section_{number}")
        for number, name in enumerate(names, start=1)
    )


def _plain_point(geometry: Any) -> list[float] | None:
    """A point in its usual form, read without making a shape, which would take most of the time."""
    if not isinstance(geometry, dict) or geometry.get("type") != "Point":
        return None
    place = geometry.get("coordinates")
    if not isinstance(place, list) or [type(v) for v in place] not in ([float] * 2, [float] * 3):
        return None
    return place[:2] if all(abs(v) < 1e300 for v in place[:2]) else None


def _add_point(
    out: TrackRows, place: list[float], fields: dict[str, Any], *, at: tuple[int, str], states: tuple[int, ...]
) -> None:
    segment, where = at
    lon, lat = place

    def number(what: str) -> float:
        return _number(fields.get(what), source=out.source, where=where, what=what)

    point = TrackPoint(
        lon_deg=lon,
        lat_deg=lat,
        time=parse_time(fields.get("time"), source=out.source, where=where),
        segment=segment,
        boom_on=parse_state(fields.get("boom_on"), source=out.source, where=where),
        width_m=number("width_m"),
        speed_mps=number("speed_mps"),
        hdop=number("hdop"),
        sections=states,
    )
    out.add(point, where=where)


def _add_line(
    out: TrackRows, part: Any, fields: dict[str, Any], *, at: tuple[int, str], states: tuple[int, ...]
) -> None:
    segment, where = at
    lonlat = shapely.get_coordinates(part)
    times = fields.get("times")
    if times is not None and (not isinstance(times, list) or len(times) != len(lonlat)):
        raise TrackError(
            f'{out.source}: {where} has "times", but not one for each of its {len(lonlat)} corners. Add or remove some.'
        )
    boom_on = parse_state(fields.get("boom_on"), source=out.source, where=where)
    width_m = _number(fields.get("width_m"), source=out.source, where=where, what="width_m")
    for i, (lon, lat) in enumerate(lonlat.tolist()):
        time = parse_time(times[i] if times else None, source=out.source, where=where)
        point = TrackPoint(lon, lat, time, segment=segment, boom_on=boom_on, width_m=width_m, sections=states)
        out.add(point, where=where)


def _number(value: Any, *, source: str, where: str, what: str) -> float:
    if value is None or value == "":
        return math.nan
    try:
        return math.nan if value is None else plain_number(str(value))
    except ValueError:
        shown = str(value)[:40]
        raise TrackError(f'{source}: {where} has {what} "{shown}", which is no number. Mend or remove it.') from None


class _BadGeometry(Exception):  # noqa: N818 - never leaves this module
    """Why a geometry cannot be used."""


def _load(path: Path, text: str) -> dict[str, Any]:
    try:
        # Infinity and NaN are no JSON, but are let in here so that the corner which has them can be named.
        document = json.loads(text)
    except RecursionError:
        raise UnreadableFile(f"{path.name}: is nested too deeply to be GeoJSON. Export it again.") from None
    except json.JSONDecodeError as error:
        raise UnreadableFile(
            f"{path.name}: is not GeoJSON, or is cut short: {error.msg} at line {error.lineno}, column {error.colno}. "
            "Export it again."
        ) from None
    except ValueError:
        raise UnreadableFile(f"{path.name}: holds a number that is too long to be one. Export it again.") from None
    if not isinstance(document, dict) or "type" not in document:
        raise UnreadableFile(f'{path.name}: is JSON, but not GeoJSON: it has no "type". Export it as GeoJSON.')
    return document


def _features(path: Path, document: dict[str, Any]) -> list[dict[str, Any]]:
    kind = document["type"]
    if kind == "FeatureCollection":
        features = document.get("features")
        if not isinstance(features, list):
            raise UnreadableFile(f'{path.name}: is a FeatureCollection without a list of "features". Export it again.')
    elif kind == "Feature":
        features = [document]
    elif isinstance(kind, str) and ("coordinates" in document or kind == "GeometryCollection"):
        features = [{"type": "Feature", "properties": {}, "geometry": document}]
    else:
        raise UnreadableFile(
            f'{path.name}: is JSON of type "{str(kind)[:40]}", which is not GeoJSON. Export it as GeoJSON.'
        )
    for number, feature in enumerate(features, start=1):
        if not isinstance(feature, dict) or feature.get("type") != "Feature":
            raise UnreadableFile(f"{path.name}: entry {number} of the features is not a Feature. Export it again.")
    if not features:
        raise UnreadableFile(f"{path.name}: holds no feature at all. Draw at least one plot, or pick another file.")
    return features


def _crs(document: dict[str, Any]) -> tuple[CRS | None, str]:
    """CRS 84 by RFC 7946, or what the 2008 member names; where that is nothing known, what it says."""
    if "crs" not in document:
        return CRS.from_user_input(_CRS84), ""
    member = document["crs"]
    if member is None:
        return None, "says by crs = null that nobody knows its coordinate system"
    try:
        name = member["properties"]["name"] if member["type"] == "name" else None
        if isinstance(name, str):
            return CRS.from_user_input(name), ""
    except (KeyError, TypeError, CRSError, UnicodeError):
        pass
    return None, f'names by its "crs" member, {json.dumps(member)[:80]}, no coordinate system that is known'


def _shape(geometry: Any) -> Any:
    if not isinstance(geometry, dict) or not isinstance(geometry.get("type"), str):
        raise _BadGeometry("has no usable geometry. Draw it again.")
    kind = geometry["type"]
    if kind == "GeometryCollection":
        members = geometry.get("geometries")
        if not isinstance(members, list):
            raise _BadGeometry('is a GeometryCollection without "geometries". Draw it again.')
        return shapely.GeometryCollection([_shape(m) for m in members])
    corners = geometry.get("coordinates")
    makers: dict[str, Callable[[Any], Any]] = {
        "Point": lambda c: shapely.points(_positions([c])[0]),
        "MultiPoint": lambda c: shapely.multipoints(_positions(c)),
        "LineString": _line,
        "MultiLineString": lambda c: shapely.multilinestrings([_line(part) for part in _listed(c)]),
        "Polygon": _polygon,
        "MultiPolygon": lambda c: shapely.multipolygons([_polygon(part) for part in _listed(c)]),
    }
    if kind not in makers:
        raise _BadGeometry(f'has the geometry "{kind[:40]}", which GeoJSON does not have. Draw it again.')
    if corners == []:
        return None
    return makers[kind](corners)


def _polygon(rings: Any) -> Any:
    closed = [_ring(ring) for ring in _listed(rings)]
    if not closed:
        raise _BadGeometry("has no ring. Draw the line round the plot.")
    return shapely.polygons(closed[0], holes=[shapely.linearrings(r) for r in closed[1:]] or None)


def _ring(corners: Any) -> Any:
    xy = _positions(corners)
    if len(xy) and (xy[0] != xy[-1]).any():
        xy = np.vstack([xy, xy[:1]])
    if len(xy) < 4:
        raise _BadGeometry("has fewer than three different corners. Draw the line round the plot.")
    return xy


def _line(corners: Any) -> Any:
    xy = _positions(corners)
    if len(xy) < 2:
        raise _BadGeometry("has a line of one point. Take it out, or draw it again.")
    return shapely.linestrings(xy)


def _listed(value: Any) -> list[Any]:
    if not isinstance(value, list):
        raise _BadGeometry("has coordinates that are not nested as GeoJSON asks. Draw it again.")
    return value


def _positions(corners: Any) -> Any:
    """Corners as an array, heights dropped; the first bad one is named."""
    try:
        xy = np.array([(c[0], c[1]) for c in _listed(corners)], dtype=float)
        if xy.shape == (len(corners), 2) and np.isfinite(xy).all() and not _has_text(corners):
            return xy
    except (TypeError, ValueError, IndexError, KeyError, OverflowError):
        pass
    for number, corner in enumerate(_listed(corners), start=1):
        good = isinstance(corner, list) and len(corner) >= 2
        if not good or not all(isinstance(v, int | float) and not isinstance(v, bool) for v in corner[:2]):
            raise _BadGeometry(f"corner {number} is not a pair of numbers, longitude then latitude. Mend or remove it.")
        if not all(abs(v) < 1e300 for v in corner[:2]):
            raise _BadGeometry(f"corner {number} has no usable position. Mend or remove it.")
    raise _BadGeometry("has coordinates that are not nested as GeoJSON asks. Draw it again.")


def _has_text(corners: list[Any]) -> bool:
    return any(isinstance(v, str | bool) for c in corners for v in c[:2])


def _open_rings(geometries: list[Any]) -> int:
    """How many rings do not end where they start; a height does not count."""
    count = 0
    for geometry in geometries:
        if not isinstance(geometry, dict):
            continue
        inside = geometry.get("geometries")
        if isinstance(inside, list):
            count += _open_rings(inside)
        corners = geometry.get("coordinates")
        polygons = {"Polygon": [corners], "MultiPolygon": corners}.get(str(geometry.get("type")), [])
        rings = [ring for rings in polygons if isinstance(rings, list) for ring in rings] if polygons else []
        count += sum(isinstance(r, list) and len(r) > 2 and _start(r[0]) != _start(r[-1]) for r in rings)
    return count


def _start(corner: Any) -> Any:
    return corner[:2] if isinstance(corner, list) else corner
