"""Which of many boundaries pass every check as they are, told of all at once.

A plot is checked on a plane of its own (`gladebook.plots.plot.check_plot`), which takes a millisecond.
That plane and a plain grid of degrees differ by less than the corners of most boundaries may move, so
that for them the cheap answer is the true one; what is in any doubt is left to the full check.
"""

from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

__all__ = ["surely_sound"]

Floats = npt.NDArray[np.float64]

_METRES_PER_DEGREE = 111_000.0  # along a meridian 110,574 to 111,694 (from memory)
_EARTH_M = 6.35e6  # its least radius of curvature is 6,335 km (from memory)
_WIDEST_M = 5_000.0
_NEAREST_POLE_DEG = 70.0
_LEAST_M2, _MOST_M2 = 1.0, 5e7  # well inside of what a plot may enclose without a remark
_MOST_CORNERS = 5_000
_FEW_CORNERS = 128  # with more, GEOS's search takes less time than all pairs do (measured)
_AT_ONCE = 16_384  # corners, so that all of them stay in the processor's cache
_SINGLE = 1e-5


def surely_sound(shapes: npt.NDArray[Any]) -> npt.NDArray[np.bool_]:
    """Whether `check_plot` would take each shape as it is, without a note; false where that is not certain.

    Parameters
    ----------
    shapes
        Shape (n,), geometries in degrees on WGS 84, two numbers to a corner.

    Notes
    -----
    An azimuthal plane whose centre is at latitude b turns steps of h metres off an affine map by at most
    tan(b) h^2 / R to the east and half of it to the north (second order of Snyder, USGS Professional Paper 1395,
    1987, equations 24-2 to 24-4, differentiated here). Corners that move by less than half the least clearance
    of a valid polygon leave it valid (the definition of minimum clearance).
    """
    good = np.asarray(shapely.get_type_id(shapes) == 3) & (shapely.get_num_coordinates(shapes) <= _MOST_CORNERS)
    good &= ~shapely.is_empty(shapes) & ~shapely.has_z(shapes)
    chosen = np.flatnonzero(good)
    chosen = chosen[_plain(shapes[chosen])]
    box = shapely.bounds(shapes[chosen])
    middle_deg = (box[:, 1] + box[:, 3]) / 2
    across = np.cos(np.radians(middle_deg))
    half_m = np.hypot((box[:, 2] - box[:, 0]) * across, box[:, 3] - box[:, 1]) / 2 * _METRES_PER_DEGREE
    area_m2 = shapely.area(shapes[chosen]) * across * _METRES_PER_DEGREE**2
    near = (half_m <= _WIDEST_M) & (np.abs(middle_deg) <= _NEAREST_POLE_DEG)
    near &= (np.abs(box) <= [360, 90, 360, 90]).all(axis=1) & (area_m2 >= _LEAST_M2) & (area_m2 <= _MOST_M2)
    chosen, half_m, middle_deg, across = chosen[near], half_m[near], middle_deg[near], across[near]
    valid = shapely.is_valid(shapes[chosen])
    chosen, half_m, middle_deg, across = chosen[valid], half_m[valid], middle_deg[valid], across[valid]
    shift_m = (0.1 + np.tan(np.radians(np.abs(middle_deg)))) * half_m**2 / _EARTH_M * 1.2
    # A degree of longitude is the shorter one, so this is less than the clearance in metres.
    clear_m = _clearance_deg(shapes[chosen]) * across * _METRES_PER_DEGREE
    sure = np.zeros(len(shapes), dtype=bool)
    sure[chosen[clear_m > 4 * shift_m + 1e-3]] = True
    return sure


def _clearance_deg(shapes: npt.NDArray[Any]) -> Floats:
    """The least distance of a corner from a side that does not end there, for valid polygons; never too much."""
    clear_deg = np.zeros(len(shapes))
    corners = shapely.get_num_coordinates(shapes) - 1
    few = (corners <= _FEW_CORNERS) & (shapely.get_num_interior_rings(shapes) == 0)
    clear_deg[~few] = shapely.minimum_clearance(shapes[~few])
    for count in np.unique(corners[few]).tolist():
        alike = np.flatnonzero(few & (corners == count))
        for begin in range(0, len(alike), max(_AT_ONCE // count, 1)):
            rows = alike[begin : begin + max(_AT_ONCE // count, 1)]
            xy = shapely.get_coordinates(shapes[rows]).reshape(len(rows), count + 1, 2)
            clear_deg[rows] = _clearance_of_rings(xy[:, :-1])
    return clear_deg


def _clearance_of_rings(xy: Floats) -> Floats:
    """Shape (n,): that distance in rings of as many corners, less what single precision may be off.

    Parameters
    ----------
    xy
        Shape (n, corners, 2), without the last corner, which is the first one.
    """
    count = xy.shape[1]
    away = xy - xy[:, :1]
    size = np.abs(away).max(axis=(1, 2))
    # Corners first, and all of them twice over, so that a ring turned by some corners is a plain slice.
    unit = np.concatenate([away, away], axis=1).T / size
    x, y = np.ascontiguousarray(unit, dtype=np.float32)
    dx, dy = np.roll(x, -1, axis=0) - x, np.roll(y, -1, axis=0) - y
    # Sides too short for single precision leave no number.
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        per_length = 1 / (dx * dx + dy * dy)
        least = np.full(x[:count].shape, np.inf, dtype=np.float32)
        along, step = np.empty_like(least), np.empty_like(least)
        for turn in range(1, count - 1):
            side = slice(turn, turn + count)
            from_x, from_y = x[:count] - x[side], y[:count] - y[side]
            np.multiply(from_x, dx[side], out=along)
            along += np.multiply(from_y, dy[side], out=step)
            along *= per_length[side]
            np.minimum(np.maximum(along, 0, out=along), 1, out=along)
            from_x -= np.multiply(along, dx[side], out=step)
            from_y -= np.multiply(along, dy[side], out=step)
            from_x *= from_x
            from_x += np.multiply(from_y, from_y, out=step)
            np.minimum(least, from_x, out=least)
    # Not a number counts as no clearance. Each step rounds to 2**-24 of figures up to 2: 1e-5 is ten times their sum.
    clear = np.sqrt(least.min(axis=0).astype(np.float64)) - _SINGLE
    clear_deg: Floats = np.where(clear > 0, clear, 0) * size
    return clear_deg


def _plain(shapes: npt.NDArray[Any]) -> npt.NDArray[np.bool_]:
    """Whether all corners of each shape are numbers, and none follows itself."""
    plain = np.ones(len(shapes), dtype=bool)
    lonlat, of_shape = shapely.get_coordinates(shapes, return_index=True)
    plain[of_shape[~np.isfinite(lonlat).all(axis=1)]] = False
    again = (lonlat[1:] == lonlat[:-1]).all(axis=1) & (of_shape[1:] == of_shape[:-1])
    plain[of_shape[1:][again]] = False
    return plain
