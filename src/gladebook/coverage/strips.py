"""Missed strips: connected pieces of missed ground, with their size and place."""

import math
from typing import Any

import numpy as np
import shapely

from gladebook.coverage.result import MissedStrip
from gladebook.geometry.frame import Frame
from gladebook.geometry.validity import robust, to_draw

__all__ = ["find_strips", "strip_size_m"]

_NECK_M = 0.15  # narrower than 0.3 m (1 ft) is no strip: it ties or frays real ones (common practice, no source)
_SMALLEST_M2 = 1.0
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
    core = shapely.buffer(missed, -_NECK_M, join_style="mitre")
    wide = robust(shapely.intersection, shapely.buffer(core, _NECK_M, join_style="mitre"), missed)
    strips: list[MissedStrip] = []
    for part in shapely.get_parts(wide):
        area_m2 = float(shapely.area(part))
        if area_m2 < _SMALLEST_M2:
            continue
        length_m, width_m = strip_size_m(part)
        inside = shapely.get_coordinates(shapely.point_on_surface(part))
        lon, lat = frame.to_lonlat(inside)[0]
        strips.append(
            MissedStrip(
                plot=plot,
                area_m2=area_m2,
                length_m=length_m,
                width_m=width_m,
                lon_deg=float(lon),
                lat_deg=float(lat),
                shape=frame.shape_to_lonlat(to_draw(part)),
            )
        )
    return sorted(strips, key=lambda s: -s.area_m2)


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
