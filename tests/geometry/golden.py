"""Reference polygons with areas by GeographicLib, and ground laid out in metres without our own code."""

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from geographiclib.geodesic import Geodesic
from shapely.geometry import shape

__all__ = ["Row", "geographiclib_area_m2", "geographiclib_ring", "in_group", "lonlat_at", "named", "on_ground"]

_TABLE = Path(__file__).parents[1] / "reference" / "geodesic_polygons.json"


@dataclass(frozen=True)
class Row:
    """One row of the reference table."""

    name: str
    group: str
    source: str
    shape: Any
    area_m2: float
    perimeter_m: float
    printed: dict[str, float]


def _rows() -> list[Row]:
    return [
        Row(
            name=row["name"],
            group=row["group"],
            source=row["source"],
            shape=shape(row["shape"]),
            area_m2=row["area_m2"],
            perimeter_m=row["perimeter_m"],
            printed={k: v for k, v in row.items() if k.startswith(("printed", "utm", "web"))},
        )
        for row in json.loads(_TABLE.read_text(encoding="utf-8"))["rows"]
    ]


def in_group(group: str) -> list[Row]:
    """All rows of one group: plot, planimeter or continental."""
    return [row for row in _rows() if row.group == group]


def named(name: str) -> Row:
    """The row of that name."""
    return next(row for row in _rows() if row.name == name)


def geographiclib_ring(ring: Any) -> tuple[float, float]:
    """Area without sign, m2, and length, m, of one closed ring, by GeographicLib."""
    polygon = Geodesic.WGS84.Polygon()
    for lon, lat in shapely.get_coordinates(ring)[:-1]:
        polygon.AddPoint(lat, lon)
    _, length, area = polygon.Compute(False, True)
    return abs(float(area)), float(length)


def geographiclib_area_m2(any_shape: Any) -> float:
    """Area of a (multi)polygon, m2, by GeographicLib."""
    total = 0.0
    for part in shapely.get_parts(any_shape):
        total += geographiclib_ring(part.exterior)[0] - sum(geographiclib_ring(hole)[0] for hole in part.interiors)
    return total


def lonlat_at(xy_m: Sequence[tuple[float, float]], *, lon: float, lat: float) -> Any:
    """Longitudes and latitudes of places so many metres east and north of a point, by GeographicLib.

    Directions and distances from the point are true, so a figure of size d is true to (d / R)^2 / 6 of
    itself: below 1e-9 at 400 m.
    """
    places = []
    for x, y in xy_m:
        there = Geodesic.WGS84.Direct(
            lat, lon, math.degrees(math.atan2(x, y)), math.hypot(x, y), Geodesic.LONG_UNROLL + Geodesic.STANDARD
        )
        places.append((there["lon2"], there["lat2"]))
    return np.array(places)


def on_ground(
    shell_m: Sequence[tuple[float, float]],
    *holes_m: Sequence[tuple[float, float]],
    lon: float = -88.5,
    lat: float = 33.0,
) -> Any:
    """A polygon in degrees from corners in metres east and north of a point."""
    return shapely.Polygon(
        lonlat_at(shell_m, lon=lon, lat=lat), [lonlat_at(hole, lon=lon, lat=lat) for hole in holes_m]
    )
