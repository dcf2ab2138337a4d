"""The ground that a line swept as it moved: headings, ends, outlines.

Pieces join the line's end to its next end. Rectangles laid along each step leave a wedge open
on the outside of every bend and cover it twice inside: 7 % of a quarter turn of radius 10 m
swept 6 m wide is left open, however fine the steps; end-to-end pieces converge to its true area.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gladebook.geometry.frame import lengths_m

__all__ = [
    "LOOK_AHEAD",
    "PARALLEL",
    "SMALLEST_PIECE_M2",
    "SMALL_TURN",
    "Edges",
    "Steps",
    "heading_along",
    "join_edges",
    "step_turn_rad",
    "swept_edges",
]

Points = npt.NDArray[np.float64]
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]

LOOK_AHEAD = 2048
SMALLEST_PIECE_M2 = 1e-9
PARALLEL = 1e-12
SMALL_TURN = 0.05  # below, four terms of the arc tangent's series are good to 1e-13


@dataclass(frozen=True, eq=False)
class Edges:
    """Directed edges of closed outlines that run anticlockwise round their owner's ground.

    Attributes
    ----------
    start_m, end_m : shape (e, 2), metres.
    owner : shape (e,), the number of the ground that each belongs to.
    """

    start_m: Points
    end_m: Points
    owner: Ints

    def __len__(self) -> int:
        return len(self.owner)


@dataclass(frozen=True, eq=False)
class Steps:
    """Steps of a moving line, one after the other.

    Attributes
    ----------
    start_m, end_m : shape (n, 2), the line's reference point before and after, metres.
    heading_start, heading_end : shape (n, 2), unit vectors there.
    left_m, right_m : shape (n,), where the line's ends lie to the left of that point, metres.
    behind_m : how far behind that point the line is.
    owner : shape (n,), the ground that each step belongs to, never falling.
    follows : shape (n,), true where a step starts where the one before it ended.
    """

    start_m: Points
    end_m: Points
    heading_start: Points
    heading_end: Points
    left_m: Floats
    right_m: Floats
    behind_m: float
    owner: Ints
    follows: Bools


def heading_along(xy_m: Points, *, run: Ints, reach_m: float = 1.0) -> Points:
    """Headings at the points of unbroken runs.

    The heading is the chord between the first points of the run at least `reach_m` away on
    either side (of the next 2,048), one-sided at its ends. Where the path stands or turns back on
    itself, the last heading holds; a run shorter than the reach has its whole chord.

    Parameters
    ----------
    xy_m
        Shape (n, 2), metres.
    run
        Shape (n,), the run of each point, never falling.
    reach_m
        How far to look, metres.

    Returns
    -------
    Unit vectors, shape (n, 2); not a number in a run that never moved.
    """
    n = len(xy_m)
    if not n:
        return np.empty((0, 2))
    ahead = _first_away(xy_m, run=run, reach_m=reach_m)
    behind = (n - 1) - _first_away(xy_m[::-1], run=run[::-1], reach_m=reach_m)[::-1]
    chord = xy_m.take(ahead, axis=0) - xy_m.take(behind, axis=0)
    length = lengths_m(chord)
    good = length > reach_m / 2
    first = np.flatnonzero(np.concatenate([[True], run[1:] != run[:-1]]))
    last = np.append(first[1:], n) - 1
    number = np.cumsum(np.concatenate([[0], run[1:] != run[:-1]]))
    none = ~np.logical_or.reduceat(good, first)
    if none.any():
        whole = xy_m[last] - xy_m[first]
        # A path shorter than the reach: its whole chord is all there is.
        alone = none[number]
        chord[alone] = whole[number[alone]]
        length[alone] = lengths_m(chord[alone])
        good |= alone & (length > 0)
    heading = chord / np.where(good, length, np.nan)[:, None]
    held = np.maximum.accumulate(np.where(good, np.arange(n), -1))
    early = held < first[number]
    if early.any():
        earliest = np.minimum.reduceat(np.where(good, np.arange(n), n), first)[number[early]]
        held[early] = np.where(earliest < n, earliest, np.flatnonzero(early))
    found: Points = heading if good.all() else heading.take(held, axis=0)
    return found


def _first_away(xy_m: Points, *, run: Ints, reach_m: float) -> Ints:
    """For each point the index of the first later one of its run at least `reach_m` away, or itself."""
    n = len(xy_m)
    x, y = np.ascontiguousarray(xy_m[:, 0]), np.ascontiguousarray(xy_m[:, 1])
    found = np.arange(n)
    open_ = np.arange(n - 1)
    for ahead in range(1, LOOK_AHEAD + 1):
        open_ = open_[run[np.minimum(open_ + ahead, n - 1)] == run[open_]]
        open_ = open_[open_ + ahead < n]
        if not open_.size:
            break
        target = open_ + ahead
        away = (x[target] - x[open_]) ** 2 + (y[target] - y[open_]) ** 2 >= reach_m**2
        found[open_[away]] = target[away]
        open_ = open_[~away]
    return found


def step_turn_rad(heading_start: Points, heading_end: Points) -> Floats:
    """Signed turn over each step, shape (n,), radians, left turns positive."""
    a, b = heading_start, heading_end
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    dot = a[:, 0] * b[:, 0] + a[:, 1] * b[:, 1]
    small = np.abs(cross) < SMALL_TURN * dot
    t = cross / np.where(small, dot, 1.0)
    q = t * t
    turn: Floats = t * (1 - q * (1 / 3 - q * (1 / 5 - q * (1 / 7 - q / 9))))
    large = np.flatnonzero(~small)
    turn[large] = np.arctan2(cross[large], dot[large])
    return turn


def swept_edges(steps: Steps) -> Edges:
    """Outlines of the ground swept by a line square to the heading.

    A step's ground lies between the line before and after. Where the two cross, it is two triangles
    that meet there. Where the heading turned by more than a right angle, the path turned back: the
    step is swept square to its own chord instead. Steps that sweep nothing have no edges.

    Successive steps of one owner share an end of the line, which cancels: only the outline of a
    chain is kept. Every piece runs anticlockwise, so that no piece takes away another's ground and
    an owner's ground is where its outlines wind at least once.
    """
    left0, right0, left1, right1, back = _tips(steps)
    plain = _is_plain(left0, right0, left1, right1) & ~back
    joined = np.zeros(len(plain), dtype=bool)
    joined[1:] = (
        plain[1:]
        & plain[:-1]
        & steps.follows[1:]
        & (steps.owner[1:] == steps.owner[:-1])
        & (steps.left_m[1:] == steps.left_m[:-1])
        & (steps.right_m[1:] == steps.right_m[:-1])
    )
    opens = plain & ~joined
    shuts = plain & ~np.append(joined[1:], False)
    at, first, last = np.flatnonzero(plain), np.flatnonzero(opens), np.flatnonzero(shuts)
    sides = [
        _chosen(right0, right1, at, owner=steps.owner),
        _chosen(left1, left0, at, owner=steps.owner),
        _chosen(left0, right0, first, owner=steps.owner),
        _chosen(right1, left1, last, owner=steps.owner),
    ]
    odd = np.flatnonzero(~plain)
    if odd.size:
        sides += _pieces(left0[odd], right0[odd], left1[odd], right1[odd], owner=steps.owner[odd])
    return join_edges(sides)


def join_edges(parts: list[Edges]) -> Edges:
    """Several lots of edges as one, ordered by owner."""
    owner = np.concatenate([p.owner for p in parts]) if parts else np.zeros(0, dtype=np.int64)
    start = np.concatenate([p.start_m for p in parts]) if parts else np.zeros((0, 2))
    end = np.concatenate([p.end_m for p in parts]) if parts else np.zeros((0, 2))
    if bool((owner[1:] >= owner[:-1]).all()):
        return Edges(start, end, owner)
    order = np.argsort(owner, kind="stable")  # merges the parts, each ordered already
    return _chosen(start, end, order, owner=owner)


def _chosen(start: Points, end: Points, at: Ints, *, owner: Ints) -> Edges:
    """Edges by their places; `take` does it several times as fast as an index."""
    return Edges(start.take(at, axis=0), end.take(at, axis=0), owner.take(at))


def _tips(steps: Steps) -> tuple[Points, Points, Points, Points, Bools]:
    """The line's ends before and after each step, and where the path turned back."""
    h0, h1 = steps.heading_start, steps.heading_end
    back = h0[:, 0] * h1[:, 0] + h0[:, 1] * h1[:, 1] < 0
    if back.any():
        chord = steps.end_m - steps.start_m
        length = lengths_m(chord)
        along = chord / np.where(length > 0, length, 1.0)[:, None]
        h0, h1 = np.where(back[:, None], along, h0), np.where(back[:, None], along, h1)

    def ends(at_m: Points, heading: Points) -> tuple[Points, Points]:
        middle = at_m - steps.behind_m * heading if steps.behind_m else at_m
        left = np.column_stack([-heading[:, 1], heading[:, 0]])
        return middle + steps.left_m[:, None] * left, middle + steps.right_m[:, None] * left

    left0, right0 = ends(steps.start_m, h0)
    left1, right1 = ends(steps.end_m, h1)
    return left0, right0, left1, right1, back


def _is_plain(left0: Points, right0: Points, left1: Points, right1: Points) -> Bools:
    """Whether a step's ground is a simple quadrilateral that the line swept forward.

    It is where both triangles beside each diagonal run anticlockwise, or all but one of the four do.
    """
    turns = [
        _cross(left0, right0, right1),
        _cross(right0, right1, left1),
        _cross(right1, left1, left0),
        _cross(left1, left0, right0),
    ]
    area = turns[0] + turns[2]
    few = sum((t < 0).astype(np.int8) for t in turns) <= 1
    # A quadrilateral crosses itself exactly where two of its four turns are against the other two.
    plain: Bools = few & (area > 2 * SMALLEST_PIECE_M2)
    return plain


def _cross(a: Points, b: Points, c: Points) -> Floats:
    """Twice the signed area of triangles."""
    found: Floats = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    return found


def _pieces(left0: Points, right0: Points, left1: Points, right1: Points, *, owner: Ints) -> list[Edges]:
    """Steps whose line pivoted, went backward or ran along itself, as pieces that run anticlockwise."""
    pivot, crossed = _meeting(left0, right0, left1, right1)
    middle, folded = _meeting(right0, right1, left0, left1)
    folded &= ~crossed
    whole = ~crossed & ~folded
    found = [
        *_round([left0[crossed], pivot[crossed], left1[crossed]], owner[crossed]),
        *_round([right0[crossed], pivot[crossed], right1[crossed]], owner[crossed]),
        *_round([left0[folded], right0[folded], middle[folded]], owner[folded]),
        *_round([middle[folded], right1[folded], left1[folded]], owner[folded]),
    ]
    return found + _round([left0[whole], right0[whole], right1[whole], left1[whole]], owner[whole])


def _round(corners: list[Points], owner: Ints) -> list[Edges]:
    """Edges of polygons, turned to run anticlockwise; those without ground are left out."""
    twice = sum((_cross(corners[0], corners[i], corners[i + 1]) for i in range(1, len(corners) - 1)), np.zeros(1))
    keep = np.abs(twice) > 2 * SMALLEST_PIECE_M2
    flip = (twice < 0)[keep, None]
    c = [corner[keep] for corner in corners]
    edges = []
    for i in range(len(c)):
        a, b = c[i], c[(i + 1) % len(c)]
        edges.append(Edges(np.where(flip, b, a), np.where(flip, a, b), owner[keep]))
    return edges


def _meeting(a0: Points, a1: Points, b0: Points, b1: Points) -> tuple[Points, Bools]:
    """Where segment a0-a1 properly crosses b0-b1: the points, and a mask of those that do."""
    da, db, gap = a1 - a0, b1 - b0, b0 - a0
    cross = da[:, 0] * db[:, 1] - da[:, 1] * db[:, 0]
    safe = np.where(np.abs(cross) > PARALLEL, cross, 1.0)
    s = (gap[:, 0] * db[:, 1] - gap[:, 1] * db[:, 0]) / safe
    t = (gap[:, 0] * da[:, 1] - gap[:, 1] * da[:, 0]) / safe
    inside = (np.abs(cross) > PARALLEL) & (s > 0) & (s < 1) & (t > 0) & (t < 1)
    return a0 + s[:, None] * da, inside
