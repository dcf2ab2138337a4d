"""From a path with its boom states to the ground of each trip.

Painted ground is kept as ribbons: pieces of a run within which driving over the same ground
counts once. A ribbon ends where the boom goes off, the width changes or the path is cut; where
the heading has turned by more than 100 degrees since it began; at a single step of more than 29
degrees; and into and out of a turn tighter than half the boom. Ground under two ribbons was
driven over again.
"""

from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.geometry.ribbon import heading_along, step_turn_rad, swept_pieces
from gladebook.geometry.validity import robust
from gladebook.passes.path import Path

__all__ = ["gap_swaths", "paint"]

Floats = npt.NDArray[np.float64]

_STILL_M = 0.5  # moves shorter than this are the receiver's, not the sprayer's (common practice, no source)
_LONG_STEP_M = 5.0  # steps longer than this keep their corners to themselves
_CORNER_M = 1.25  # more than headings reach, so that rounding decides nothing
_RIBBON_TURN_RAD = np.radians(100.0)
_STEP_TURN_RAD = np.radians(29.0)
_LOOK_AHEAD = 50
_STRAYS = 3


def paint(path: Path) -> list[Any]:
    """Sweep the boom along a path whose boom states and widths are all known.

    Returns polygons in metres, one for each ribbon.

    Headings look neither across a cut nor across boom-off: a sprayer that turns with its boom
    off at the end of a pass has not yet turned there.
    """
    ribbons: list[Any] = []
    for first, last in _boom_on_runs(path):
        run = _steady(_take(path, np.arange(first, last + 1)))
        heading = heading_along(run.xy_m)
        if not np.isfinite(heading).all():
            continue  # it never moved
        step_m = np.hypot(*np.diff(run.xy_m, axis=0).T)
        pieces, owner = swept_pieces(
            run.xy_m[:-1],
            run.xy_m[1:],
            heading_start=heading[:-1],
            heading_end=heading[1:],
            width_m=run.width_m[:-1],
        )
        number = _ribbon_numbers(run, heading=heading, step_m=step_m)[owner]
        groups = np.split(pieces, np.flatnonzero(np.diff(number)) + 1)
        ribbons += [robust(shapely.union_all, group) for group in groups if len(group)]
    return ribbons


def gap_swaths(path: Path) -> list[Any]:
    """Straight swaths over the cuts that a sprayer with its boom on at both ends could have driven.

    Where a jump leads away, the swath leads to the first of the next 50 points that could have been
    reached in the time. Where time runs backwards nobody can tell, and there is none.
    """
    found: list[Any] = []
    passed = -1
    for i in np.flatnonzero(path.cut).tolist():
        if i < passed or path.boom_on[i] != 1:
            continue  # a stray point's own cuts belong to the way round it
        j = _reachable(path, i)
        if j is None or path.boom_on[j] != 1:
            continue
        passed = j
        a, b = path.xy_m[i], path.xy_m[j]
        length = float(np.hypot(*(b - a)))
        if length > 0:
            side = np.array([-(b - a)[1], (b - a)[0]]) / length * path.width_m[i] / 2
            found.append(shapely.polygons([a + side, a - side, b - side, b + side]))
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


def _boom_on_runs(path: Path) -> list[tuple[int, int]]:
    """First and last point of each stretch of steps with the boom on and no cut."""
    on = np.concatenate([[False], (path.boom_on[:-1] == 1) & ~path.cut, [False]])
    starts = np.flatnonzero(~on[:-1] & on[1:])
    stops = np.flatnonzero(on[:-1] & ~on[1:])
    return list(zip(starts.tolist(), stops.tolist(), strict=True))


def _take(path: Path, index: npt.NDArray[np.int64]) -> Path:
    return replace(
        path,
        xy_m=path.xy_m[index],
        time_s=path.time_s[index],
        speed_mps=path.speed_mps[index],
        boom_on=path.boom_on[index],
        width_m=path.width_m[index],
        cut=np.zeros(max(len(index) - 1, 0), dtype=bool),
        backwards=np.zeros(max(len(index) - 1, 0), dtype=bool),
    )


def _steady(run: Path) -> Path:
    """Drop moves too short to be the sprayer's; keep corners of long steps to themselves."""
    xy = run.xy_m
    n = len(xy)
    same = np.concatenate([[False], run.width_m[1:] == run.width_m[:-1]])
    same[-1] = same[-2]  # nothing is driven after the last point, so its width is no change
    keep = [0]
    here = xy[0]
    for i in range(1, n):
        away = xy[i] - here
        if not same[i] or i == n - 1 or away[0] * away[0] + away[1] * away[1] >= _STILL_M * _STILL_M:
            keep.append(i)
            here = xy[i]
    return _corners(_take(run, np.array(keep)))


def _corners(run: Path) -> Path:
    """Put points a metre inside both ends of long steps, so that a boom turns at a corner, not along the step."""
    step = np.diff(run.xy_m, axis=0)
    length = np.hypot(step[:, 0], step[:, 1])
    long_ = np.flatnonzero(length > _LONG_STEP_M)
    if not long_.size:
        return run
    share = (_CORNER_M / length[long_])[:, None]
    near = run.xy_m[long_] + share * step[long_]
    far = run.xy_m[long_] + (1 - share) * step[long_]
    at = np.repeat(long_ + 1, 2)
    extra = np.stack([near, far], axis=1).reshape(-1, 2)
    source = np.insert(np.arange(len(run.xy_m)), at, np.repeat(long_, 2))
    grown = _take(run, source)
    return replace(grown, xy_m=np.insert(run.xy_m, at, extra, axis=0))


def _ribbon_numbers(run: Path, *, heading: Floats, step_m: Floats) -> npt.NDArray[np.int64]:
    """The ribbon of each step, by the rules at the top of this module."""
    turn = step_turn_rad(heading)
    width_m = run.width_m[:-1]
    tight = step_m < np.abs(turn) * width_m / 2
    sharp = np.abs(turn) > _STEP_TURN_RAD
    fresh = np.ones(len(turn), dtype=bool)
    fresh[1:] = (width_m[1:] != width_m[:-1]) | (tight[1:] != tight[:-1]) | sharp[1:] | sharp[:-1]
    number = np.zeros(len(turn), dtype=np.int64)
    current, turned = -1, 0.0
    for i in range(len(turn)):
        turned += turn[i]
        if fresh[i] or abs(turned) > _RIBBON_TURN_RAD:
            current += 1
            turned = turn[i]
        number[i] = current
    return number
