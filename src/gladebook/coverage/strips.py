"""Missed strips: connected pieces of missed ground, with their size and place."""

from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.coverage.result import MissedStrip
from gladebook.geometry.frame import Frame
from gladebook.geometry.validity import on_grid, polygon_parts, robust, to_draw

__all__ = ["SMALLEST_M2", "find_strips", "strip_size_m"]

Floats = npt.NDArray[np.float64]

_NECK_M = 0.15  # narrower than 0.3 m (1 ft) is no strip: it ties or frays real ones (common practice, no source)
# Let out by a hair more, no side lies on its piece's own: seven times as fast, and nothing for GEOS to get wrong.
_APART_M = 1e-7
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
    parts = _wide(pieces)
    area_m2 = shapely.area(parts)
    order = np.argsort(-area_m2, kind="stable")
    parts, area_m2 = parts[order][area_m2[order] >= SMALLEST_M2], area_m2[order][area_m2[order] >= SMALLEST_M2]
    if not len(parts):
        return []
    places = frame.to_lonlat(shapely.get_coordinates(shapely.point_on_surface(parts)))
    length_m, width_m = _sizes_m(parts)
    return [
        MissedStrip(plot=plot, area_m2=area, length_m=length, width_m=width, lon_deg=lon, lat_deg=lat, shape=shape)
        for area, length, width, (lon, lat), shape in zip(
            area_m2.tolist(),
            length_m.tolist(),
            width_m.tolist(),
            places.tolist(),
            _drawn(parts, frame=frame),
            strict=True,
        )
    ]


def _wide(pieces: Any) -> Any:
    """Parts of pieces without their necks: what an inward offset leaves, let out again, within the piece."""
    core = shapely.buffer(pieces, -_NECK_M, join_style="mitre")
    kept = ~shapely.is_empty(core)
    core, pieces = core[kept], pieces[kept]
    grown = shapely.buffer(core, _NECK_M + _APART_M, join_style="mitre")
    try:
        found = shapely.intersection(grown, pieces)
    except shapely.errors.GEOSException:
        found = np.full(len(core), None, dtype=object)
    # What was kept at first lies in its piece, and is still there.
    sound = shapely.is_valid(found) & (shapely.area(found) >= shapely.area(core))
    for i in np.flatnonzero(~sound).tolist():
        found[i] = robust(shapely.intersection, grown[i], pieces[i])
    return polygon_parts(found)


def _drawn(parts: Any, *, frame: Frame) -> Any:
    """Parts in degrees, valid there: on the grid of `to_draw`, noded only where that is needed."""
    shapes = frame.shape_to_lonlat(on_grid(parts))
    for i in np.flatnonzero(shapely.is_empty(shapes) | ~shapely.is_valid(shapes)).tolist():
        shapes[i] = frame.shape_to_lonlat(to_draw(parts[i]))
    return shapes


def strip_size_m(part: Any) -> tuple[float, float]:
    """Length and width of the rectangle with a strip's area and edge; it follows bends.

    A strip that fills its own smallest rectangle has that one's length. Else: a rectangle of length
    L and width w has area L w and edge 2 (L + w): L is the larger root. A piece rounder than a
    square is given its square's side for both. Frayed edges are smoothed by 0.1 m first, as they
    would lengthen the strip.
    """
    length_m, width_m = _sizes_m(np.array([part], dtype=object))
    return float(length_m[0]), float(width_m[0])


def _sizes_m(parts: Any) -> tuple[Floats, Floats]:
    """Lengths and widths of strips."""
    area, box = shapely.area(parts), shapely.minimum_rotated_rectangle(parts)
    fills = area > _FILLED * shapely.area(box)
    half_edge = shapely.length(shapely.simplify(parts, _SMOOTH_M)) / 2
    root = half_edge**2 - 4 * area
    length: Floats = np.where(root > 0, (half_edge + np.sqrt(np.maximum(root, 0.0))) / 2, np.sqrt(area))
    if fills.any():
        corners = shapely.get_coordinates(shapely.get_exterior_ring(box[fills])).reshape(-1, 5, 2)
        side = np.diff(corners[:, :3], axis=1)
        length[fills] = np.hypot(side[..., 0], side[..., 1]).max(axis=1)
    return length, area / length
