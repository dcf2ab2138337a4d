"""The compiled painting, as plain Python calls it."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gladebook.geometry.compiled_ribbon import paint_runs
from gladebook.geometry.ribbon import Edges

__all__ = ["RibbonRules", "paint_compiled"]

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True)
class RibbonRules:
    """Figures of the rules: see `gladebook.passes.swath`, which holds their values."""

    still_m: float
    long_step_m: float
    corner_m: float
    reach_m: float
    ribbon_turn_rad: float
    step_turn_rad: float


def paint_compiled(
    xy_m: Floats, *, cut: Bools, on: Bools, sides_m: tuple[Floats, Floats], behind_m: float, rules: RibbonRules
) -> tuple[Edges, Ints]:
    """Outlines of the ribbons of one path, and the path's step in the middle of each.

    Parameters
    ----------
    xy_m
        Shape (n, 2), metres.
    cut
        Shape (n - 1,), true where nothing joins a point to the next.
    on
        Shape (k, n): from a point to the next.
    sides_m
        Left and right edges, shape (k, n) each, metres to the left.
    behind_m
        How far behind the points the line is, metres.
    rules
        When moves are dropped and ribbons end.
    """
    figures = np.array(
        [rules.still_m, rules.long_step_m, rules.corner_m, rules.reach_m, rules.ribbon_turn_rad, rules.step_turn_rad]
    )
    n, lanes = len(xy_m), len(on)
    # Numpy asks for large pages, numba does not: new memory costs a third.
    room = (np.empty((2 * lanes * n + 1024, 2, 2)), np.empty(2 * lanes * n + 1024, dtype=np.int32))
    # A step becomes three where it is long.
    line = (
        np.empty((3 * n + 3, 2)),
        np.empty((3 * n + 3, 2)),
        np.empty(3 * n + 3, dtype=np.int64),
        np.empty((3 * n + 3, 2, 2)),
    )
    ends, owner, step = paint_runs(
        np.ascontiguousarray(xy_m),
        cut,
        np.ascontiguousarray(on),
        np.ascontiguousarray(sides_m[0]),
        np.ascontiguousarray(sides_m[1]),
        behind_m,
        figures,
        room,
        line,
    )
    return Edges(start_m=ends[:, 0], end_m=ends[:, 1], owner=owner), step
