"""Boundaries traced corner by corner on a map: from corners to a shape, cut to neighbours, kept off the edge."""

import math
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import shapely

from gladebook.errors import BoundaryError
from gladebook.geometry.frame import Frame, frame_for
from gladebook.geometry.validity import polygon_parts, robust, to_draw
from gladebook.plots.plot import plane_shape
from gladebook.units import FT_M

__all__ = ["MOST_CORNERS", "Rings", "cut_to_neighbours", "kept_off_edge", "shared_m2", "thinned", "traced_shape"]

Rings = Sequence[Sequence[Sequence[float]]]
MOST_CORNERS: Final = 20_000  # nobody traces more with a finger
_ARC_STEPS: Final = (
    16  # a quarter circle in this many steps: with GEOS, places may lie 1 % nearer to the edge than asked
)
_CRUMB_M2: Final = 0.5  # what a cut leaves below this is no ground to plant


def traced_shape(parts: Sequence[Rings], *, name: str) -> Any:
    """An area from its corners.

    Parameters
    ----------
    parts
        The rings of each part, the first its outline, the others holes; a ring is corners as longitude and latitude,
        degrees on WGS 84, closed or not.
    name
        What is traced, for the message.

    Returns
    -------
    shapely Polygon, or MultiPolygon of several parts; it may still cross itself, which `check_plot` tells.

    Raises
    ------
    BoundaryError
        Where a ring has fewer than three corners, or there are too many, or one is no place.
    """
    if not parts or not all(parts):
        raise BoundaryError(f"{name}: has no corner. Trace it on the map.")
    if sum(len(ring) for rings in parts for ring in rings) > MOST_CORNERS:
        raise BoundaryError(f"{name}: has over {MOST_CORNERS:,} corners. Drop it in as a file instead.")
    made = []
    for rings in parts:
        outer, *holes = (_ring(ring, name=name) for ring in rings)
        made.append(shapely.Polygon(outer, holes))
    return made[0] if len(made) == 1 else shapely.MultiPolygon(made)


def _ring(ring: Sequence[Sequence[float]], *, name: str) -> list[tuple[float, float]]:
    corners = [(float(lon), float(lat)) for lon, lat in ring]
    if not all(math.isfinite(lon) and abs(lat) <= 90 for lon, lat in corners):
        raise BoundaryError(f"{name}: a corner is no place on the map. Trace it again.")
    if len(set(corners)) < 3:
        raise BoundaryError(f"{name}: an area needs three corners or more.")
    return corners


def cut_to_neighbours(shape: Any, neighbours: Sequence[Any], *, name: str) -> Any:
    """What is left of a traced area where its neighbours are taken out of it.

    Parameters
    ----------
    shape
        A sound area, degrees on WGS 84.
    neighbours
        Sound areas, degrees; those that do not touch it change nothing.
    name
        What is traced, for the message.

    Returns
    -------
    All parts that are left, degrees.

    Raises
    ------
    BoundaryError
        Where nothing is left.
    """
    frame = frame_for(shape)
    plane = plane_shape(shape, frame=frame)
    others = [plane_shape(one, frame=frame) for one in neighbours]
    taken = robust(shapely.union_all, [one for one in others if shapely.intersects(one, plane)])
    return _left(robust(shapely.difference, plane, taken), frame, name=name, why="its neighbours cover it all")


def kept_off_edge(shape: Any, *, width_m: float, name: str) -> Any:
    """A traced area drawn in from its whole edge, as off a wood line.

    Parameters
    ----------
    shape
        A sound area, degrees on WGS 84.
    width_m
        How far, metres, more than nothing.
    name
        What is traced, for the message.

    Returns
    -------
    All parts that are left, degrees.

    Raises
    ------
    BoundaryError
        Where nothing is left, or the width is none.
    """
    if not 0 < width_m < math.inf:
        raise BoundaryError(f"{name}: say how far to keep off the wood line, more than nothing.")
    frame = frame_for(shape)
    inner = shapely.buffer(plane_shape(shape, frame=frame), -width_m, quad_segs=_ARC_STEPS)
    return _left(inner, frame, name=name, why=f"no ground is {width_m / FT_M:.0f} ft from every edge")


def thinned(shape: Any, *, off_m: float) -> Any:
    """An area with fewer corners, such as a finger can move: no corner that is left out lies farther off than metres.

    Sound areas, degrees on WGS 84; the corners that stay are those of before (Douglas and Peucker, as GEOS has it).
    """
    frame = frame_for(shape)
    return frame.shape_to_lonlat(shapely.simplify(plane_shape(shape, frame=frame), off_m))


def shared_m2(shape: Any, others: Sequence[Any]) -> list[float]:
    """How much ground an area shares with each of others, m2; all sound, degrees on WGS 84."""
    frame = frame_for(shape)
    plane = plane_shape(shape, frame=frame)
    return [float(shapely.area(robust(shapely.intersection, plane, plane_shape(o, frame=frame)))) for o in others]


def _left(plane: Any, frame: Frame, *, name: str, why: str) -> Any:
    """All parts of a shape in metres that are ground, in degrees."""
    parts = polygon_parts(np.array([plane], dtype=object))
    parts = parts[shapely.area(parts) >= _CRUMB_M2]
    if not len(parts):
        raise BoundaryError(f"{name}: nothing would be left of it, as {why}.")
    whole = parts[0] if len(parts) == 1 else shapely.multipolygons(parts)
    return frame.shape_to_lonlat(to_draw(whole))
