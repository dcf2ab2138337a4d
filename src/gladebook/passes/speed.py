"""How fast was it driven? Ground speed from a track, over a few seconds at a time."""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from gladebook.errors import TrackError
from gladebook.geometry.frame import Frame
from gladebook.passes.path import CutRules, lay_out
from gladebook.passes.track import Track
from gladebook.units import MPH_MPS

__all__ = ["TrackSpeed", "driven_speed"]

_OVER_S: Final = 5.0  # from second to second a receiver's own error would add to the speed
_MOVING_MPS: Final = 0.5 * MPH_MPS  # slower is standing about; common practice, no source


@dataclass(frozen=True)
class TrackSpeed:
    """Ground speed.

    Attributes
    ----------
    speed_mps : median over the time, m/s.
    low_mps, high_mps : between which it was for eight tenths of the time.
    seconds : of driving that it was reckoned from.
    boom_on : whether only driving with the boom recorded on was reckoned; False where the track records none.
    """

    speed_mps: float
    low_mps: float
    high_mps: float
    seconds: float
    boom_on: bool


def driven_speed(track: Track) -> TrackSpeed:
    """Median ground speed while driving, with the boom on where the track records that.

    Distances are those between points at least 5 seconds apart, cleaned and cut as for coverage; turns are shortened a
    little by that.

    Raises
    ------
    TrackError
        Where the track has no times, or no driving in it.
    """
    if not np.isfinite(track.time_s).any():
        raise TrackError(
            f"{track.name}: has no times, so no speed can be told. Time a course with --course and --time."
        )
    frame = Frame(lon_deg=float(np.median(track.lon_deg)), lat_deg=float(np.median(track.lat_deg)))
    path = lay_out(track, frame=frame, rules=CutRules())
    recorded = bool((path.boom_on != -1).any())
    off = (path.boom_on[:-1] != 1) if recorded else np.zeros(len(path.cut), dtype=bool)
    run = np.concatenate([[0], np.cumsum(path.cut | off)])
    speed, seconds = [], []
    for number in np.unique(run):
        inside = np.flatnonzero(run == number)
        picked = _apart(path.time_s[inside])
        points, times = path.xy_m[inside][picked], path.time_s[inside][picked]
        took = np.diff(times)
        with np.errstate(divide="ignore", invalid="ignore"):
            speed.append(np.hypot(*np.diff(points, axis=0).T) / took)
        seconds.append(took)
    all_speeds, all_seconds = np.concatenate(speed), np.concatenate(seconds)
    moving = np.isfinite(all_speeds) & (all_speeds > _MOVING_MPS)
    if not moving.any():
        what = "with the boom on " if recorded else ""
        raise TrackError(
            f"{track.name}: nothing in it is driving {what}for 5 seconds or more, so no speed can be told."
        )
    order = np.argsort(all_speeds[moving])
    values, weight = all_speeds[moving][order], np.cumsum(all_seconds[moving][order])
    low, middle, high = (float(values[np.searchsorted(weight, share * weight[-1])]) for share in (0.1, 0.5, 0.9))
    return TrackSpeed(middle, low, high, float(weight[-1]), recorded)


def _apart(time_s: npt.NDArray[np.float64]) -> npt.NDArray[np.int64]:
    """Which points lie at least 5 seconds apart, from the first on."""
    picked, last = [0], 0
    while True:
        following = int(np.searchsorted(time_s, time_s[last] + _OVER_S - 1e-6))
        if following >= len(time_s) or following <= last:
            return np.array(picked)
        picked.append(following)
        last = following
