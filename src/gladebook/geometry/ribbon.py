"""The ground that a line swept as it moved: headings, ends, pieces.

Pieces join the line's end to its next end. Rectangles laid along each step leave a wedge open
on the outside of every bend and cover it twice inside: 7 % of a quarter turn of radius 10 m
swept 6 m wide is left open, however fine the steps; end-to-end pieces converge to its true area.
"""

from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

__all__ = ["heading_along", "step_turn_rad", "swept_pieces"]

Points = npt.NDArray[np.float64]
_SMALLEST_PIECE_M2 = 1e-9


def heading_along(xy_m: Points, *, reach_m: float = 1.0) -> Points:
    """Headings at the points of one unbroken path.

    The heading is the chord between the first points at least `reach_m` away on either side,
    one-sided at the ends. Where the path stands or turns back on itself, the last heading holds.

    Parameters
    ----------
    xy_m
        Shape (n, 2), metres.
    reach_m
        How far to look, metres.

    Returns
    -------
    Unit vectors, shape (n, 2); not a number where the whole path gives no heading.
    """
    n = len(xy_m)
    ahead = _first_away(xy_m, reach_m=reach_m)
    behind = (n - 1) - _first_away(xy_m[::-1], reach_m=reach_m)[::-1]
    chord = xy_m[ahead] - xy_m[behind]
    length = np.hypot(chord[:, 0], chord[:, 1])
    good = length > reach_m / 2
    if not good.any() and n > 1:
        # A path shorter than the reach: its whole chord is all there is.
        chord[:] = xy_m[-1] - xy_m[0]
        length[:] = np.hypot(*chord[0])
        good = length > 0
    heading = np.full((n, 2), np.nan)
    heading[good] = chord[good] / length[good, None]
    return _hold_last(heading, good)


def _first_away(xy_m: Points, *, reach_m: float) -> npt.NDArray[np.int64]:
    """For each point the index of the first later one at least `reach_m` away, or itself."""
    n = len(xy_m)
    found = np.arange(n)
    open_ = np.arange(n - 1)
    step = 1
    while open_.size:
        target = open_ + step
        away = np.hypot(*(xy_m[target] - xy_m[open_]).T) >= reach_m
        found[open_[away]] = target[away]
        open_ = open_[~away]
        step += 1
        open_ = open_[open_ + step < n]
    return found


def _hold_last(heading: Points, good: npt.NDArray[np.bool_]) -> Points:
    if not good.any():
        return heading
    index = np.where(good, np.arange(len(heading)), -1)
    index = np.maximum.accumulate(index)
    index[index < 0] = int(np.argmax(good))
    held: Points = heading[index]
    return held


def step_turn_rad(heading: Points) -> npt.NDArray[np.float64]:
    """Signed turn over each step, shape (n - 1,), radians, left turns positive."""
    a, b = heading[:-1], heading[1:]
    turn: npt.NDArray[np.float64] = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1))
    return turn


def swept_pieces(
    start_m: Points,
    end_m: Points,
    *,
    heading_start: Points,
    heading_end: Points,
    width_m: npt.NDArray[np.float64],
) -> tuple[Any, npt.NDArray[np.int64]]:
    """Ground swept over each of n steps by a line square to the heading.

    Where the line swung about a point within itself, a step's ground is two triangles that meet
    there. Where the heading turned by more than a right angle, the path turned back: the step is
    swept square to its own chord instead.

    Parameters
    ----------
    start_m, end_m
        Middle of the line before and after, shape (n, 2), metres.
    heading_start, heading_end
        Unit vectors, shape (n, 2).
    width_m
        Length of the line at each step, shape (n,).

    Returns
    -------
    Polygons, and for each the step it belongs to. Steps that sweep nothing have none.
    """
    chord = end_m - start_m
    length = np.hypot(chord[:, 0], chord[:, 1])
    back = (heading_start * heading_end).sum(axis=1) < 0
    along = chord / np.where(length > 0, length, 1.0)[:, None]
    h0 = np.where(back[:, None], along, heading_start)
    h1 = np.where(back[:, None], along, heading_end)
    half = (width_m / 2)[:, None]
    left0, right0 = start_m + half * _left(h0), start_m - half * _left(h0)
    left1, right1 = end_m + half * _left(h1), end_m - half * _left(h1)
    pivot, crossed = _crossing(left0, right0, left1, right1)
    owner = np.arange(len(start_m))
    quads = shapely.polygons(np.stack([left0, right0, right1, left1], axis=1)[~crossed])
    third_a = shapely.polygons(np.stack([left0, pivot, left1], axis=1)[crossed])
    third_b = shapely.polygons(np.stack([right0, pivot, right1], axis=1)[crossed])
    pieces = np.concatenate([quads, third_a, third_b])
    owners = np.concatenate([owner[~crossed], owner[crossed], owner[crossed]])
    broken = ~shapely.is_valid(pieces)
    if broken.any():
        pieces[broken] = shapely.make_valid(pieces[broken])
    keep = shapely.area(pieces) > _SMALLEST_PIECE_M2
    order = np.argsort(owners[keep], kind="stable")
    return pieces[keep][order], owners[keep][order]


def _left(heading: Points) -> Points:
    return np.column_stack([-heading[:, 1], heading[:, 0]])


def _crossing(a0: Points, a1: Points, b0: Points, b1: Points) -> tuple[Points, npt.NDArray[np.bool_]]:
    """Where segment a0-a1 properly crosses b0-b1: the points, and a mask of those that do."""
    da, db, gap = a1 - a0, b1 - b0, b0 - a0
    cross = da[:, 0] * db[:, 1] - da[:, 1] * db[:, 0]
    safe = np.where(np.abs(cross) > 1e-12, cross, 1.0)
    s = (gap[:, 0] * db[:, 1] - gap[:, 1] * db[:, 0]) / safe
    t = (gap[:, 0] * da[:, 1] - gap[:, 1] * da[:, 0]) / safe
    inside = (np.abs(cross) > 1e-12) & (s > 0) & (s < 1) & (t > 0) & (t < 1)
    return a0 + s[:, None] * da, inside
