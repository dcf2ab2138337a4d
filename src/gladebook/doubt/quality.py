"""Whether a recording is good enough to tell a skip from the receiver's error, and why not."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from gladebook.geometry.frame import lengths_m
from gladebook.passes.path import Path
from gladebook.passes.trips import Passes

__all__ = ["poor_because"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

_SLOWEST_S = 3.0
_MOST_GAPS = 0.2
_JUMP_M, _JUMP_TIMES = 1.2, 5.0
_MOST_JUMPS_AN_HOUR = 15.0
_HOUR_S = 3600.0
_OFTEN_S = 1.5  # with points further apart a step of the error looks like steering
_ENDS, _MOVING_MPS = 5, 0.7


def poor_because(paths: Sequence[Path], *, passes: Passes, rows: Ints) -> str:
    """Why nothing can be told from the recording, one sentence; empty where it can.

    Parameters
    ----------
    paths
        What was recorded.
    passes
        The passes on it.
    rows
        The passes that concern, counted from 0.
    """
    mine = [path for i, path in enumerate(paths) if (passes.path[rows] == i).any()]
    if not mine:
        return "No pass was driven there."
    apart_s = np.concatenate([np.diff(path.time_s) for path in mine])
    if not np.isfinite(apart_s).any():
        return "The recording has no times."
    if float(np.nanmedian(apart_s)) > _SLOWEST_S:
        return f"The recording's points are {np.nanmedian(apart_s):.0f} seconds apart; over 3 is too far."
    steps_m = [lengths_m(np.diff(path.xy_m, axis=0)) for path in mine]
    cut_m = sum(float(m[path.cut].sum()) for m, path in zip(steps_m, mine, strict=True))
    if cut_m > _MOST_GAPS * sum(float(m.sum()) for m in steps_m):
        return "Over a fifth of the way is missing from the recording."
    jumps, hours = 0, 0.0
    for i, path in enumerate(paths):
        one, seconds = _jumps(path, passes.number[i], rows=rows)
        jumps, hours = jumps + one, hours + seconds / _HOUR_S
    if jumps > 2 and jumps > _MOST_JUMPS_AN_HOUR * hours:
        return f"The recording jumps about, {jumps} times in the passes."
    return ""


def _jumps(path: Path, number: Ints, *, rows: Ints) -> tuple[int, float]:
    """Steps within passes that break out of a steady drive, and the seconds that the passes took."""
    inside = np.isin(number - 1, rows) & ~path.cut
    seconds = np.diff(path.time_s)
    known = inside & np.isfinite(seconds) & (seconds > 0)
    took_s = float(seconds[known].sum())
    # Who drives brakes and stops, but moves aside little by little: only the receiver's error steps to the side.
    speed = np.diff(path.xy_m, axis=0) / np.where(known, seconds, 1.0)[:, None]
    both = known[1:] & known[:-1] & _well_inside(number)
    way, change = speed[1:] + speed[:-1], speed[1:] - speed[:-1]
    size = lengths_m(way)
    fast = lengths_m(speed) > _MOVING_MPS  # a stop is held still, and left with a step
    both &= fast[1:] & fast[:-1]
    aside = np.abs(way[:, 0] * change[:, 1] - way[:, 1] * change[:, 0]) / np.where(size > 0, size, 1.0)
    change_m = np.where(both, aside * seconds[1:], 0.0)
    if not both.any() or float(np.median(seconds[1:][both])) > _OFTEN_S:
        return 0, took_s
    usual_m = float(np.median(change_m[both]))
    broken = change_m > max(_JUMP_M, _JUMP_TIMES * usual_m)
    # A step of the error breaks the drive twice: in and out.
    return int((broken[1:] & ~broken[:-1]).sum() + broken[:1].sum()), took_s


def _well_inside(number: Ints) -> Bools:
    """Of each step and the next, whether a pass goes on for some steps before and after: turns bend its ends."""
    change = np.flatnonzero(np.diff(number) != 0)
    place = np.arange(len(number) - 1)
    before = np.searchsorted(change, place, side="right")
    since = place - np.append(-_ENDS, change)[before]
    until = np.append(change, len(number) + _ENDS)[np.searchsorted(change, place)] - place
    found: Bools = (since > _ENDS) & (until > _ENDS)
    return found
