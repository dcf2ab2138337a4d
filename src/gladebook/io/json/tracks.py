"""GeoJSON tracks: lines, each a piece of its own, or points in their order, with the fields that a table has."""

import math
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from pyproj import CRS

from gladebook.errors import TrackError
from gladebook.geometry.validity import flatten
from gladebook.io.json.shapes import BadGeometry, shape_of
from gladebook.io.json.text import Features, load_features, properties_of
from gladebook.io.limits import LIMITS, Limits
from gladebook.io.sections import section_names
from gladebook.io.trackrows import TrackColumns, TrackPoint, TrackRows, parse_state, parse_time, plain_number
from gladebook.passes.track import Track

__all__ = ["read_track"]

_CRS84 = "OGC:CRS84"
_TIMES = ("times", "coordtimes")  # common practice of writers, no source: RFC 7946 has no place for times
_SECTIONS = re.compile(r"section_[0-9]", re.IGNORECASE)


def read_track(path: Path, *, text: str, limits: Limits = LIMITS) -> Track:
    """Read lines and points with their times, boom states, widths and figures.

    A line may carry ``times`` or ``coordTimes`` (one for each corner; a list for each part where it has several, also
    within ``coordinateProperties``), and ``boom_on``, ``width_m`` and ``section_1``, ``section_2`` and so on for all
    of it.

    Raises
    ------
    UnreadableFile, MissingCrs
        As for boundaries.
    TrackError
        Where there is no line or point, the coordinates are not longitude and latitude, or a value cannot be read.
    """
    features = load_features(path, text)
    crs = features.crs
    if crs is None or not crs.to_2d().equals(CRS.from_user_input(_CRS84), ignore_axis_order=True):
        raise TrackError(f"{path.name}: a track is read in longitude and latitude only. Export it in WGS 84.")
    sections = section_names(_field_names(path, features), source=path.name) if _SECTIONS.search(text) else ()
    out = _Drive(path, sections=sections, limits=limits)
    for number, feature in enumerate(features, start=1):
        fields = {str(k).lower(): v for k, v in properties_of(path, feature, number=number).items()}
        out.add(feature.get("geometry"), fields, where=f"feature {number}")
    return out.rows.finish()


def _field_names(path: Path, features: Features) -> list[str]:
    """All properties in small letters; a feature that lacks some of the sections has them unknown."""
    names: set[str] = set()
    for number, feature in enumerate(features, start=1):
        names.update(str(k).lower() for k in properties_of(path, feature, number=number))
    return sorted(names)


class _Drive:
    """Points as they come out of features."""

    def __init__(self, path: Path, *, sections: tuple[str, ...], limits: Limits) -> None:
        self.rows = TrackRows(path.name, sections=len(sections), most=limits.points)
        self._sections = sections
        self._nesting = limits.nesting
        self._segment = 0

    def add(self, geometry: Any, fields: dict[str, Any], *, where: str) -> None:
        source = self.rows.source
        place = _plain_point(geometry)
        if place is not None:
            self._point(place, fields, where=where)
            return
        try:
            shape = shape_of(geometry, nesting=self._nesting) if geometry is not None else None
        except BadGeometry as error:
            raise TrackError(f"{source}: {where} {error}") from None
        if shape is None:
            self.rows.skip("features without a shape")
            return
        parts = flatten(shape)
        kinds = shapely.get_type_id(parts).tolist()
        times = _times(fields, parts[[kind == 1 for kind in kinds]], source=source, where=where)
        for part, kind in zip(parts, kinds, strict=True):
            if kind == 0:
                self._point(shapely.get_coordinates(part)[0].tolist(), fields, where=where)
            elif kind == 1:
                self._segment += 1
                self._line(shapely.get_coordinates(part), fields, times=next(times), where=where)
                self._segment += 1
            else:
                self.rows.skip("areas, which are no track")

    def _states(self, fields: dict[str, Any], *, where: str) -> tuple[int, ...]:
        return tuple(
            parse_state(fields.get(name), source=self.rows.source, where=where, what=f"section_{number}")
            for number, name in enumerate(self._sections, start=1)
        )

    def _number(self, fields: dict[str, Any], what: str, *, where: str) -> float:
        value = fields.get(what)
        if value is None or value == "":
            return math.nan
        try:
            return plain_number(str(value))
        except ValueError:
            shown = f'"{str(value)[:40]}"'
            raise TrackError(
                f"{self.rows.source}: {where} has {what} {shown}, which is no number. Mend or remove it."
            ) from None

    def _point(self, place: list[float], fields: dict[str, Any], *, where: str) -> None:
        point = TrackPoint(
            lon_deg=place[0],
            lat_deg=place[1],
            time=parse_time(fields.get("time"), source=self.rows.source, where=where),
            segment=self._segment,
            boom_on=parse_state(fields.get("boom_on"), source=self.rows.source, where=where),
            width_m=self._number(fields, "width_m", where=where),
            speed_mps=self._number(fields, "speed_mps", where=where),
            hdop=self._number(fields, "hdop", where=where),
            sections=self._states(fields, where=where),
        )
        self.rows.add(point, where=where)

    def _line(self, lonlat: Any, fields: dict[str, Any], *, times: list[Any] | None, where: str) -> None:
        source, count = self.rows.source, len(lonlat)
        boom_on = parse_state(fields.get("boom_on"), source=source, where=where)
        stamps = [parse_time(value, source=source, where=where) for value in times or [None] * count]
        columns = TrackColumns(
            lon_deg=lonlat[:, 0],
            lat_deg=lonlat[:, 1],
            time_s=np.array([time_s for time_s, _ in stamps]),
            segment=np.full(count, self._segment),
            boom_on=np.full(count, boom_on, dtype=np.int8),
            width_m=np.full(count, self._number(fields, "width_m", where=where)),
            sections=np.tile(np.array(self._states(fields, where=where), dtype=np.int8), (count, 1)),
        )
        self.rows.extend(columns, clocks=[kind for _, kind in stamps], where=lambda _: where)


def _plain_point(geometry: Any) -> list[float] | None:
    """A point in its usual form, read without making a shape, which would take most of the time."""
    if not isinstance(geometry, dict) or geometry.get("type") != "Point":
        return None
    place = geometry.get("coordinates")
    if not isinstance(place, list) or [type(v) for v in place] not in ([float] * 2, [float] * 3):
        return None
    return place[:2] if all(abs(v) < 1e300 for v in place[:2]) else None


def _times(fields: dict[str, Any], lines: Any, *, source: str, where: str) -> Iterator[Any]:
    """The times of each line of a feature, one for each corner; None where it has none."""
    sizes = shapely.get_num_coordinates(lines).tolist()
    inside = fields.get("coordinateproperties")
    named = {str(k).lower(): v for k, v in inside.items()} if isinstance(inside, dict) else {}
    found = next((m[key] for m in (fields, named) for key in _TIMES if m.get(key) is not None), None)
    if found is None:
        return iter([None] * len(sizes))
    if isinstance(found, list) and not any(isinstance(v, list) for v in found) and len(found) == sum(sizes):
        ends = np.cumsum(sizes).tolist()
        found = [found[end - size : end] for end, size in zip(ends, sizes, strict=True)]
    whole = isinstance(found, list) and len(found) == len(sizes)
    for times, size in zip(found if whole else [None] * len(sizes), sizes, strict=True):
        if not isinstance(times, list) or len(times) != size:
            raise TrackError(
                f'{source}: {where} has "times", but not one for each of its {size} corners. Add or remove some.'
            )
    return iter(found)
