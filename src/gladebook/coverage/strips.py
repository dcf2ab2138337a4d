"""Missed strips: connected pieces of missed ground, with their size and place."""

import math
from typing import Any

import numpy as np
import shapely

from gladebook.coverage.result import MissedStrip
from gladebook.geometry.frame import Frame
from gladebook.geometry.validity import robust, to_draw

__all__ = ["SMALLEST_M2", "find_strips", "strip_size_m"]

_NECK_M = 0.15  # narrower than 0.3 m (1 ft) is no strip: it ties or frays real ones (common practice, no source)
SMALLEST_M2 = 1.0
_SMOOTH_M = 0.1
_FILLED = 0.98


def find_strips(missed: Any, *, plot: str, frame: Frame) -> list[MissedStrip]:
    """Find the strips of one plot's missed ground, largest first.

    Ground narrower than 1 ft, and pieces smaller than 1 m2, count as missed but are no strip.

    Parameters
    ----------
    missed
        Missed ground in the plane, metres.
    plot
        The plot's name.
    frame
        The plane.
    """
    if shapely.is_empty(missed):
        return []
    # Piece by piece: one overlay of tens of thousands takes many times as long.
    pieces = shapely.get_parts(missed)
    pieces = pieces[shapely.area(pieces) >= SMALLEST_M2]
    core = shapely.buffer(pieces, -_NECK_M, join_style="mitre")
    kept = ~shapely.is_empty(core)
    grown = shapely.buffer(core[kept], _NECK_M, join_style="mitre")
    wide = [robust(shapely.intersection, *pair) for pair in zip(grown, pieces[kept], strict=True)]
    parts = shapely.get_parts(np.array(wide, dtype=object))
    area_m2 = shapely.area(parts)
    order = np.argsort(-area_m2, kind="stable")
    parts, area_m2 = parts[order][area_m2[order] >= SMALLEST_M2], area_m2[order][area_m2[order] >= SMALLEST_M2]
    if not len(parts):
        return []
    places = frame.to_lonlat(shapely.get_coordinates(shapely.point_on_surface(parts)))
    shapes = frame.shape_to_lonlat(np.array([to_draw(part) for part in parts], dtype=object))
    strips: list[MissedStrip] = []
    for part, area, (lon, lat), shape in zip(parts, area_m2.tolist(), places.tolist(), shapes, strict=True):
        length_m, width_m = strip_size_m(part)
        strips.append(
            MissedStrip(
                plot=plot, area_m2=area, length_m=length_m, width_m=width_m, lon_deg=lon, lat_deg=lat, shape=shape
            )
        )
    return strips


def strip_size_m(part: Any) -> tuple[float, float]:
    """Length and width of the rectangle with a strip's area and edge; it follows bends.

    A strip that fills its own smallest rectangle has that one's length. Else: a rectangle of length
    L and width w has area L w and edge 2 (L + w): L is the larger root. A piece rounder than a
    square is given its square's side for both. Frayed edges are smoothed by 0.1 m first, as they
    would lengthen the strip.
    """
    area = float(shapely.area(part))
    box = shapely.minimum_rotated_rectangle(part)
    if area > _FILLED * float(shapely.area(box)):
        corners = shapely.get_coordinates(box)
        longest = float(np.hypot(*np.diff(corners[:3], axis=0).T).max())
        return longest, area / longest
    smooth = shapely.simplify(part, _SMOOTH_M)
    half_edge = float(shapely.length(smooth)) / 2
    root = half_edge**2 - 4 * area
    length = (half_edge + math.sqrt(root)) / 2 if root > 0 else math.sqrt(area)
    return length, float(np.divide(area, length))
