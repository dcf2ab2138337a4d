"""Areas and perimeters on the WGS 84 ellipsoid, with geodesic edges.

The method is Karney's (Algorithms for geodesics, Journal of Geodesy 87, 2013, 43-55,
doi 10.1007/s00190-012-0578-z), as PROJ has it. It errs by about 1e-3 m2 for plots with a
perimeter under 10 km (GeographicLib, Planimeter documentation).
"""

from typing import Any

import numpy as np
import shapely
from pyproj import Geod

__all__ = ["geodesic_area_m2", "geodesic_perimeter_m", "ring_area_m2"]

_WGS84 = Geod(ellps="WGS84")


def ring_area_m2(ring: Any) -> float:
    """Area inside one closed ring of degrees, without regard to its direction."""
    lonlat = shapely.get_coordinates(ring)
    area, _ = _WGS84.polygon_area_perimeter(lonlat[:, 0], lonlat[:, 1])
    return abs(float(area))


def geodesic_area_m2(shape: Any) -> float:
    """Area of a (multi)polygon in degrees, holes taken out whichever way round they run.

    Signed ring areas would add a hole that runs the same way round as its shell
    (pyproj pull request 686); absolute ones cannot.
    """
    total = 0.0
    for polygon in shapely.get_parts(shape):
        if shapely.get_dimensions(polygon) != 2 or polygon.is_empty:
            continue
        total += ring_area_m2(polygon.exterior)
        total -= sum(ring_area_m2(hole) for hole in polygon.interiors)
    return total


def geodesic_perimeter_m(shape: Any) -> float:
    """Length of the outer edges of a (multi)polygon in degrees; holes do not count."""
    total = 0.0
    for polygon in shapely.get_parts(shape):
        if shapely.get_dimensions(polygon) == 2 and not polygon.is_empty:
            lonlat = shapely.get_coordinates(polygon.exterior)
            total += float(np.sum(_WGS84.line_lengths(lonlat[:, 0], lonlat[:, 1])))
    return total
