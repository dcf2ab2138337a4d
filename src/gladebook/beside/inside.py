"""Passes of one plot: clipped to it, with what turns cover and which keep by the edge.

Its limits are common practice, no source.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.passes.trips import Passes

__all__ = ["Inside", "inside_plot"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

_REACHES_IN = 0.45  # of a boom: a pass is in a plot where its line comes this near, so that its swath does
_SHORTEST = 0.5  # of a boom, in the plot
_BY_EDGE, _BY_EDGE_SHARE = 1.0, 0.8  # booms; of the length


@dataclass(frozen=True, eq=False)
class Inside:
    """Passes in one plot, as rows.

    Attributes
    ----------
    number : shape (r,), the pass of each row, counted from 0.
    width_m, length_m : shape (r,), its boom's width, and how long it is in the plot.
    parts, row : the parts of their lines in the plot, and the row of each.
    turns_m : shape (t, 2, 2), steps near the plot with the boom on that belong to no pass.
    by_edge : shape (r,), whether a pass keeps by the plot's edge, as a headland round does.
    boom_m : the middle one of the widths.
    """

    number: Ints
    width_m: Floats
    length_m: Floats
    parts: Any
    row: Ints
    turns_m: Floats
    by_edge: Bools
    boom_m: float


def inside_plot(plane: Any, passes: Passes) -> Inside:
    """Clip passes to a plot, whose edge their swaths may touch."""
    far_m = float(passes.width_m.max(initial=0.0))
    number = _near(passes.bounds_m[:, :2], passes.bounds_m[:, 2:], plane, far_m=far_m)
    a, b = passes.turns_m[:, 0], passes.turns_m[:, 1]
    turns = passes.turns_m[_near(np.minimum(a, b), np.maximum(a, b), plane, far_m=far_m)]
    boom_m = float(np.median(passes.width_m[number])) if number.size else 1.0
    lines = np.array([shapely.linestrings(passes.line_m[k]) for k in number.tolist()], dtype=object)
    clipped = shapely.intersection(lines, shapely.buffer(plane, _REACHES_IN * boom_m))
    parts, row = shapely.get_parts(clipped, return_index=True)
    length_m = np.bincount(row, weights=shapely.length(parts), minlength=len(number)).astype(np.float64)
    stays = length_m >= _SHORTEST * boom_m
    keep = stays[row] & (shapely.length(parts) > 0)
    new_row = (np.cumsum(stays) - 1)[row[keep]]
    number, parts = number[stays], parts[keep]
    rim = shapely.buffer(shapely.boundary(plane), _BY_EDGE * boom_m)
    in_rim_m = np.bincount(new_row, weights=shapely.length(shapely.intersection(parts, rim)), minlength=len(number))
    by_edge = in_rim_m >= _BY_EDGE_SHARE * length_m[stays]
    return Inside(number, passes.width_m[number], length_m[stays], parts, new_row, turns, by_edge, boom_m)


def _near(low_m: Floats, high_m: Floats, plane: Any, *, far_m: float) -> Ints:
    """What comes near a plot, by its least and greatest x and y."""
    if shapely.is_empty(plane):
        return np.zeros(0, dtype=np.int64)
    west, south, east, north = shapely.bounds(plane)
    x = (low_m[:, 0] <= east + far_m) & (high_m[:, 0] >= west - far_m)
    return np.flatnonzero(x & (low_m[:, 1] <= north + far_m) & (high_m[:, 1] >= south - far_m))
