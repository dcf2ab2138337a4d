"""From a path with its boom states to the outlines of the ground of each trip.

Painted ground is kept as ribbons: pieces of a run within which driving over the same ground
counts once. A ribbon ends where the boom goes off, the width changes or the path is cut; where
the heading has turned by more than 100 degrees since it began; at a single step of more than 29
degrees; and into and out of a turn tighter than half the boom, where that turn comes to more than
29 degrees in all, which jitter does not. Ground under two ribbons was driven over again.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.geometry.frame import lengths_m
from gladebook.geometry.ribbon import Edges, Steps, heading_along, join_edges, step_turn_rad, swept_edges
from gladebook.passes.path import Path
from gladebook.passes.sprayer import Lanes

__all__ = ["Ribbons", "gap_swaths", "paint"]

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]

_STILL_M = 0.5  # moves shorter than this are the receiver's, not the sprayer's (common practice, no source)
_LONG_STEP_M = 5.0  # steps longer than this keep their corners to themselves
_CORNER_M = 1.25  # more than headings reach, so that rounding decides nothing
_RIBBON_TURN_RAD = np.radians(100.0)
_STEP_TURN_RAD = np.radians(29.0)
_REACH_M = 1.0
_LOOK_AHEAD = 50
_STRAYS = 3


@dataclass(frozen=True, eq=False)
class Ribbons:
    """The ground of each ribbon of a path.

    Attributes
    ----------
    edges : their outlines; owners are ribbons, from 0.
    step : shape (count,), the path's step in the middle of each ribbon.
    count : how many ribbons there are.
    """

    edges: Edges
    step: Ints
    count: int


@dataclass(frozen=True, eq=False)
class _Kept:
    """Points of all runs that are the sprayer's: place, run, and the path's point whose lanes hold from there."""

    xy_m: Floats
    run: Ints
    source: Ints


def paint(path: Path, *, lanes: Lanes, compiled: bool = False) -> Ribbons:
    """Sweep the boom along a path whose boom states and widths are all known.

    Headings look neither across a cut nor across boom-off: a sprayer that turns with its boom
    off at the end of a pass has not yet turned there.

    Parameters
    ----------
    path
        Where the receiver went.
    lanes
        Where the boom's sections ran beside it, and when they were on.
    compiled
        Whether to use the compiled engine; the ribbons are the same.
    """
    if compiled:
        return _paint_compiled(path, lanes)
    kept = _corners(_steady(path, lanes))
    if not len(kept.run):
        return Ribbons(edges=join_edges([]), step=np.zeros(0, dtype=np.int64), count=0)
    heading = heading_along(kept.xy_m, run=kept.run, reach_m=_REACH_M)
    # A run that never moved has no heading and paints nothing.
    step = np.flatnonzero((kept.run[1:] == kept.run[:-1]) & np.isfinite(heading[:-1, 0]))
    turn = step_turn_rad(heading.take(step, axis=0), heading.take(step + 1, axis=0))
    moved = kept.xy_m.take(step + 1, axis=0) - kept.xy_m.take(step, axis=0)
    length_m = lengths_m(moved)
    source = kept.source[step]
    ribbon = _ribbon_numbers(kept.run[step], turn=turn, step_m=length_m, lanes=lanes, source=source)
    edges: list[Edges] = []
    for on, left_m, right_m in zip(lanes.on, lanes.left_m, lanes.right_m, strict=True):
        open_ = on[source]
        at = step[open_]
        lane = Steps(
            start_m=kept.xy_m.take(at, axis=0),
            end_m=kept.xy_m.take(at + 1, axis=0),
            heading_start=heading.take(at, axis=0),
            heading_end=heading.take(at + 1, axis=0),
            left_m=left_m[source[open_]],
            right_m=right_m[source[open_]],
            behind_m=lanes.behind_m,
            owner=ribbon[open_],
            follows=np.append(False, np.diff(at) == 1)[: len(at)],
        )
        edges.append(swept_edges(lane))
    count = int(ribbon[-1]) + 1 if len(ribbon) else 0
    first = np.searchsorted(ribbon, np.arange(count))
    last = np.searchsorted(ribbon, np.arange(count), side="right") - 1
    whole = edges[0] if len(edges) == 1 else join_edges(edges)
    return Ribbons(edges=whole, step=source[(first + last) // 2], count=count)


def _paint_compiled(path: Path, lanes: Lanes) -> Ribbons:
    from gladebook.geometry.compiled_paint import RibbonRules, paint_compiled

    rules = RibbonRules(
        still_m=_STILL_M,
        long_step_m=_LONG_STEP_M,
        corner_m=_CORNER_M,
        reach_m=_REACH_M,
        ribbon_turn_rad=float(_RIBBON_TURN_RAD),
        step_turn_rad=float(_STEP_TURN_RAD),
    )
    edges, step = paint_compiled(
        path.xy_m,
        cut=path.cut,
        on=lanes.on,
        sides_m=(lanes.left_m, lanes.right_m),
        behind_m=lanes.behind_m,
        rules=rules,
    )
    return Ribbons(edges=edges, step=step, count=len(step))


def gap_swaths(path: Path, *, lanes: Lanes) -> list[Any]:
    """Straight swaths over the cuts that a sprayer with its boom on at both ends could have driven.

    Where a jump leads away, the swath leads to the first of the next 50 points that could have been
    reached in the time. Where time runs backwards nobody can tell, and there is none.
    """
    found: list[Any] = []
    passed = -1
    on: Bools = np.logical_or.reduce(lanes.on, axis=0)
    for i in np.flatnonzero(path.cut & on[:-1]).tolist():
        if i < passed:
            continue  # a stray point's own cuts belong to the way round it
        j = _reachable(path, i)
        if j is None or not on[j]:
            continue
        passed = j
        a, b = path.xy_m[i], path.xy_m[j]
        length = float(np.hypot(*(b - a)))
        if length > 0:
            along = (b - a) / length
            side = np.array([-along[1], along[0]])
            open_ = lanes.on[:, i]
            left, right = lanes.left_m[open_, i].max() * side, lanes.right_m[open_, i].min() * side
            a, b = a - lanes.behind_m * along, b - lanes.behind_m * along
            found.append(shapely.polygons([a + left, a + right, b + right, b + left]))
    return found


def _reachable(path: Path, i: int) -> int | None:
    """The first point after a cut that the sprayer could have reached; None where nobody can tell."""
    if path.backwards[i]:
        return None
    if not np.isfinite(path.top_mps) or not np.isfinite(path.time_s[i]):
        return _past_stray(path, i)
    for j in range(i + 1, min(i + 1 + _LOOK_AHEAD, len(path.xy_m))):
        seconds = path.time_s[j] - path.time_s[i]
        if seconds < 0:
            return None
        if np.hypot(*(path.xy_m[j] - path.xy_m[i])) <= path.top_mps * max(seconds, 1.0):
            return j
    return None


def _past_stray(path: Path, i: int) -> int:
    """Without times: the next point, or the one past a few strays that lead away and back."""
    away = np.hypot(*(path.xy_m[i + 1] - path.xy_m[i]))
    for k in range(i + 1, min(i + 1 + _STRAYS, len(path.cut))):
        if path.cut[k] and np.hypot(*(path.xy_m[k + 1] - path.xy_m[i])) < away / 2:
            return k + 1
    return i + 1


def _steady(path: Path, lanes: Lanes) -> _Kept:
    """Points of the stretches with the boom on and no cut, without moves too short to be the sprayer's."""
    step_on = lanes.on[:, :-1].any(axis=0) & ~path.cut
    before, after = np.append(False, step_on), np.append(step_on, False)
    index = np.flatnonzero(before | after)
    fresh = (~before & after)[index]
    run = np.cumsum(fresh) - 1
    # A change of lanes is kept in its place; nothing is driven after a run's last point, so its lanes do not count.
    forced = fresh | ~after[index]
    changed = np.zeros(len(path.xy_m), dtype=bool)
    for rows in (lanes.on, lanes.left_m, lanes.right_m):
        changed[1:] |= (rows[:, 1:] != rows[:, :-1]).any(axis=0)
    forced |= changed[index]
    xy = path.xy_m.take(index, axis=0)
    keep = np.flatnonzero(_keep_moves(xy, forced=forced))
    return _Kept(xy_m=xy.take(keep, axis=0), run=run.take(keep), source=index.take(keep))


def _keep_moves(xy_m: Floats, *, forced: Bools) -> Bools:
    """Which points lie half a metre or more from the last one kept, or are kept in any case."""
    keep = np.ones(len(xy_m), dtype=bool)
    short = np.append((xy_m[1:, 0] - xy_m[:-1, 0]) ** 2 + (xy_m[1:, 1] - xy_m[:-1, 1]) ** 2 < _STILL_M**2, False)
    short[:-1] &= ~forced[1:]
    starts = np.flatnonzero(short)
    x, y, held = xy_m[:, 0].tolist(), xy_m[:, 1].tolist(), forced.tolist()
    least = _STILL_M * _STILL_M
    resume = 0
    for i in starts.tolist():
        if i < resume:
            continue
        j = i + 1
        here_x, here_y = x[i], y[i]
        while not held[j] and (x[j] - here_x) ** 2 + (y[j] - here_y) ** 2 < least:
            j += 1
        keep[i + 1 : j] = False
        resume = j
    return keep


def _corners(kept: _Kept) -> _Kept:
    """Put points a metre inside both ends of long steps, so that a boom turns at a corner, not along the step."""
    step = np.diff(kept.xy_m, axis=0)
    length = lengths_m(step)
    long_ = np.flatnonzero((length > _LONG_STEP_M) & (kept.run[1:] == kept.run[:-1]))
    if not long_.size:
        return kept
    share = (_CORNER_M / length[long_])[:, None]
    near = kept.xy_m[long_] + share * step[long_]
    far = kept.xy_m[long_] + (1 - share) * step[long_]
    at = np.repeat(long_ + 1, 2)
    extra = np.stack([near, far], axis=1).reshape(-1, 2)
    old = np.insert(np.arange(len(kept.run)), at, np.repeat(long_, 2))
    return _Kept(xy_m=np.insert(kept.xy_m, at, extra, axis=0), run=kept.run[old], source=kept.source[old])


def _ribbon_numbers(run: Ints, *, turn: Floats, step_m: Floats, lanes: Lanes, source: Ints) -> Ints:
    """The ribbon of each step, by the rules at the top of this module."""
    n = len(turn)
    if not n:
        return np.zeros(0, dtype=np.int64)
    width_m = (lanes.left_m.max(axis=0) - lanes.right_m.min(axis=0))[source]
    fresh = np.ones(n, dtype=bool)
    sharp = np.abs(turn) > _STEP_TURN_RAD
    fresh[1:] = (run[1:] != run[:-1]) | (width_m[1:] != width_m[:-1]) | sharp[1:] | sharp[:-1]
    tight = _tight(run, turn=turn, step_m=step_m, width_m=width_m)
    fresh[1:] |= tight[1:] != tight[:-1]
    turned = np.cumsum(turn)
    first = np.flatnonzero(fresh)
    before = turned[first] - turn[first]
    far = np.maximum(np.maximum.reduceat(turned, first) - before, before - np.minimum.reduceat(turned, first))
    last = np.append(first[1:], n)
    for begin, end in zip(first[far > _RIBBON_TURN_RAD].tolist(), last[far > _RIBBON_TURN_RAD].tolist(), strict=True):
        so_far = 0.0
        for i, angle in enumerate(turn[begin:end].tolist(), start=begin):
            so_far += angle
            if abs(so_far) > _RIBBON_TURN_RAD and i > begin:
                fresh[i] = True
                so_far = angle
    found: Ints = np.cumsum(fresh) - 1
    return found


def _tight(run: Ints, *, turn: Floats, step_m: Floats, width_m: Floats) -> Bools:
    """Steps of stretches that turn within half the boom by more than 29 degrees in all."""
    inside = step_m < np.abs(turn) * width_m / 2
    edge = np.ones(len(turn), dtype=bool)
    edge[1:] = (inside[1:] != inside[:-1]) | (run[1:] != run[:-1])
    first = np.flatnonzero(edge)
    much = np.abs(np.add.reduceat(turn, first)) > _STEP_TURN_RAD
    found: Bools = inside & much[np.cumsum(edge) - 1]
    return found
