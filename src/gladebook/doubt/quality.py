"""Whether a recording is good enough to tell a skip from the receiver's error, and why not.

The limits are common practice, no source; those of steps were tried on drawn drives (DEVELOPERS.md).
"""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from gladebook.doubt.jumps import Jumps
from gladebook.geometry.frame import lengths_m
from gladebook.passes.path import Path
from gladebook.passes.trips import Passes

__all__ = ["jumpy_because", "poor_because"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_SLOWEST_S = 3.0
_MOST_GAPS = 0.2
_FEWEST_JUMPS, _MOST_JUMPS_AN_HOUR, _FAR_FOR_BOOM = 2, 10.0, 0.45


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
    return ""


def jumpy_because(jumps: Jumps, *, across: Floats, boom_m: float) -> str:
    """Why nothing can be told from a recording whose error steps often and far for its boom; empty where it can.

    Parameters
    ----------
    jumps
        Steps of the error that passes show.
    across
        The unit vector across the passes.
    boom_m
        The boom.
    """
    many = len(jumps.when_s)
    if many < _FEWEST_JUMPS or jumps.an_hour < _MOST_JUMPS_AN_HOUR:
        return ""
    size_m = float(np.sqrt(np.mean((jumps.step_m @ across) ** 2)))
    if size_m < _FAR_FOR_BOOM * boom_m:
        return ""
    return f"The recording jumps sideways {many} times while the passes were driven."
