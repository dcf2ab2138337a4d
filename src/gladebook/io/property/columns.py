"""Areas, tracks and contents as they stand in the columns of a property file."""

import json
from collections.abc import Mapping
from typing import Any

import numpy as np
import shapely

from gladebook.errors import PropertyError
from gladebook.passes.track import Track

__all__ = ["areas_of", "as_json", "lines_of", "points_of", "read_json", "track_from"]

_COLUMNS = ("lon_deg", "lat_deg", "time_s", "segment", "boom_on", "width_m", "speed_mps", "hdop")
_WHOLE: dict[str, Any] = {"segment": np.int64, "boom_on": np.int8}


def areas_of(shape: Any) -> Any:
    """All areas of a shape, as the tables of areas hold them."""
    parts = [p for p in shapely.get_parts(shape) if shapely.get_type_id(p) == shapely.GeometryType.POLYGON]
    return shapely.multipolygons(parts)


def lines_of(track: Track) -> Any:
    """A track as a map program shows it."""
    xy = np.column_stack([track.lon_deg, track.lat_deg])
    begins = np.flatnonzero(np.diff(track.segment) != 0) + 1
    runs = [run for run in np.split(xy, begins) if len(run) > 1]
    if not runs:
        return shapely.MultiLineString()
    return shapely.multilinestrings([shapely.linestrings(run) for run in runs])


def points_of(track: Track) -> dict[str, Any]:
    """All points of a track, as JSON has them."""
    found: dict[str, Any] = {name: _listed(getattr(track, name)) for name in _COLUMNS}
    found["sections"] = None if track.sections is None else track.sections.tolist()
    found["void_points"] = track.void_points
    return found


def _listed(values: Any) -> list[Any]:
    """Numbers as JSON has them: what is none is null."""
    return [None if isinstance(v, float) and not np.isfinite(v) else v for v in values.tolist()]


def track_from(name: str, clock: Any, points: Mapping[str, Any]) -> Track:
    """A track again, but for its notes.

    Raises
    ------
    PropertyError
        Where points are missing that it should have.
    """
    try:
        sections = points["sections"]
        columns: dict[str, Any] = {
            column: np.array(points[column], dtype=_WHOLE[column])
            if column in _WHOLE
            else np.array([np.nan if v is None else v for v in points[column]], dtype=np.float64)
            for column in _COLUMNS
        }
        return Track(
            name=name,
            clock=clock,
            sections=None if sections is None else np.array(sections, dtype=np.int8),
            void_points=int(points["void_points"]),
            **columns,
        )
    except (KeyError, TypeError, ValueError):
        raise _unreadable() from None


def read_json(text: str) -> Any:
    """Contents of a column of JSON.

    Raises
    ------
    PropertyError
        Where they cannot be read.
    """
    try:
        return json.loads(text)
    except (TypeError, ValueError):
        raise _unreadable() from None


def _unreadable() -> PropertyError:
    return PropertyError("The property holds contents that cannot be read. Ask: gladebook property check")


def as_json(value: Mapping[str, Any]) -> str:
    """Contents for a column of JSON."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False)
