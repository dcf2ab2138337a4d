"""Crooked plots, drawn at random.

The outline is a circle with a few random waves, drawn long: gentle, as edges of woods are. Some have a notch in
a side, some a spot inside that is no part of the plot. Shapes and their odds are common practice, no source.
"""

from typing import Any

import numpy as np
import shapely

from gladebook.geometry.validity import robust
from gladebook.units import ACRE_M2

__all__ = ["draw_plot"]

_CORNERS = 28
_NOTCHED, _HOLED = 0.25, 0.15
_WAVES = (2, 3, 4, 5)


def draw_plot(rng: np.random.Generator, *, acres: float, plain: bool = False) -> Any:
    """A plot on the plane with its longer side along x, metres.

    Parameters
    ----------
    rng
        Where the draws come from.
    acres
        Its area.
    plain
        Without notches and holes.
    """
    angle = np.linspace(0.0, 2 * np.pi, _CORNERS, endpoint=False)
    away = np.ones(_CORNERS)
    for wave in _WAVES:
        away += rng.normal(0.0, 0.22 / wave) * np.cos(wave * angle + rng.uniform(0, 2 * np.pi))
    away = np.clip(away, 0.6, 1.5)
    longer = rng.uniform(1.1, 2.4)
    # Each corner has an angle of its own about the middle, so no two edges cross.
    shape = shapely.Polygon(np.column_stack([longer * np.cos(angle), np.sin(angle)]) * away[:, None])
    chance_notch, chance_hole = rng.random(2)
    notch, hole = _notch(rng, shape), _hole(rng, shape)
    if not plain and chance_notch < _NOTCHED:
        shape = max(shapely.get_parts(robust(shapely.difference, shape, notch)), key=shapely.area)
    if not plain and chance_hole < _HOLED:
        shape = robust(shapely.difference, shape, hole)
    west, south, east, north = shapely.bounds(shape)
    size = np.sqrt(acres * ACRE_M2 / float(shapely.area(shape)))
    middle = np.array([(west + east) / 2, (south + north) / 2])
    return shapely.transform(shape, lambda xy: (xy - middle) * size)


def _notch(rng: np.random.Generator, shape: Any) -> Any:
    """A wedge of woods from one of the long sides."""
    west, south, east, north = shapely.bounds(shape)
    at, wide, deep = rng.uniform(0.3, 0.7), rng.uniform(0.15, 0.3), rng.uniform(0.2, 0.45)
    side = 1 if rng.random() < 0.5 else -1
    x, edge = west + at * (east - west), (north if side > 0 else south)
    half = wide * (east - west) / 2
    tip = edge - side * deep * (north - south)
    out = edge + side * (north - south)
    return shapely.Polygon([(x - half, out), (x - half, edge), (x, tip), (x + half, edge), (x + half, out)])


def _hole(rng: np.random.Generator, shape: Any) -> Any:
    west, south, east, north = shapely.bounds(shape)
    share = rng.uniform(0.35, 0.65, 2)
    middle = [west + share[0] * (east - west), south + share[1] * (north - south)]
    angle = np.linspace(0.0, 2 * np.pi, 10, endpoint=False)
    ring = (
        rng.uniform(0.07, 0.12) * rng.uniform(0.8, 1.2, 10)[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    )
    return shapely.Polygon(np.array(middle) + ring * (north - south))
