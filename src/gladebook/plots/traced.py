"""Boundaries traced corner by corner on a map."""

import math
from collections.abc import Sequence
from typing import Any, Final

import shapely

from gladebook.errors import BoundaryError

__all__ = ["MOST_CORNERS", "traced_shape"]

MOST_CORNERS: Final = 20_000  # nobody traces more with a finger


def traced_shape(rings: Sequence[Sequence[Sequence[float]]], *, name: str) -> Any:
    """An area from its corners; the first ring is the outline, the others are holes.

    Parameters
    ----------
    rings
        Corners of each ring as longitude and latitude, degrees on WGS 84; closed or not.
    name
        What is traced, for the message.

    Returns
    -------
    shapely Polygon; it may still cross itself, which `check_plot` tells.

    Raises
    ------
    BoundaryError
        Where a ring has fewer than three corners, or there are too many, or one is no place.
    """
    if not rings:
        raise BoundaryError(f"{name}: has no corner. Trace it on the map.")
    if sum(map(len, rings)) > MOST_CORNERS:
        raise BoundaryError(f"{name}: has over {MOST_CORNERS:,} corners. Drop it in as a file instead.")
    kept = []
    for ring in rings:
        corners = [(float(lon), float(lat)) for lon, lat in ring]
        if not all(math.isfinite(value) for corner in corners for value in corner):
            raise BoundaryError(f"{name}: a corner is no place on the map. Trace it again.")
        if len(set(corners)) < 3:
            raise BoundaryError(f"{name}: an area needs three corners or more.")
        kept.append(corners)
    return shapely.Polygon(kept[0], kept[1:])
