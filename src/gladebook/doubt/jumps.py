"""Steps of the receiver's error that a recording shows: a pass that moves aside within one step between points.

Who drives brakes and stops, but moves aside little by little. So within a pass a step is compared with the way just
before and just after it; what it leads aside is the receiver's, where it stands out from the usual by far.
Each is known in size but for its noise; whether it stays or fades is not known (`gladebook.doubt.drift`).
Steps in turns and between passes are not seen; how often they come is told by those that are.

Common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gladebook.geometry.frame import lengths_m
from gladebook.passes.path import Path
from gladebook.passes.trips import Passes

__all__ = ["Jumps", "find_jumps"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

_REACH = 4  # steps before and after
_LEAST_M, _TIMES, _ALONE = 0.9, 4.5, 0.45
_TINY = 1e-9
_TO_SD = 1.4826  # of the median of absolute values, for normal noise
_MOVING_MPS = 0.5  # a stop is held still by receivers, and left with a step
_SLOWEST_S = 3.5
_HOUR_S = 3600.0


@dataclass(frozen=True, eq=False)
class Jumps:
    """Steps of the error.

    Attributes
    ----------
    when_s : shape (k,), when.
    step_m : shape (k, 2), how far and where to, on the plane; along the pass it is nought, as braking looks alike.
    noise_m : how far off that is, s.d.
    looked_s : shape (m,), moments in passes that were looked at, rising, each for `each_s` around it.
    """

    when_s: Floats
    step_m: Floats
    noise_m: float
    looked_s: Floats
    each_s: Floats

    @property
    def hours(self) -> float:
        """How long passes were looked at."""
        return float(self.each_s.sum()) / _HOUR_S

    def unseen_s(self, from_s: Floats, to_s: Floats) -> Floats:
        """How long it was not looked at between moments, in whichever order they are."""
        begin, end = self.looked_s - self.each_s / 2, self.looked_s + self.each_s / 2
        # Where two sprayers drive at once a moment is looked at twice.
        begin = np.maximum(begin, np.append(-np.inf, np.maximum.accumulate(end)[:-1]))
        fresh = end > begin
        edge = np.column_stack([begin[fresh], end[fresh]]).ravel()
        seen = np.append(0.0, np.cumsum(np.diff(edge) * (np.arange(len(edge) - 1) % 2 == 0)))
        if not len(edge):
            return np.abs(to_s - from_s)
        a, b = (t - np.interp(t, edge, seen) for t in (from_s, to_s))
        return np.asarray(np.abs(b - a))

    @property
    def an_hour(self) -> float:
        """How many came an hour, as far as passes show; 0 where none was looked at."""
        return len(self.when_s) / self.hours if self.hours > 0 else 0.0


_NONE = Jumps(np.zeros(0), np.zeros((0, 2)), 0.0, np.zeros(0), np.zeros(0))


def find_jumps(paths: Sequence[Path], *, passes: Passes) -> Jumps:
    """Find the steps of the error within passes.

    Parameters
    ----------
    paths
        What was recorded.
    passes
        The passes on it.
    """
    found = [_one_path(path, number) for path, number in zip(paths, passes.number, strict=True)]
    found = [one for one in found if one.hours > 0]
    if not found:
        return _NONE
    looked_s, each_s = (np.concatenate([getattr(one, name) for one in found]) for name in ("looked_s", "each_s"))
    order = np.argsort(looked_s, kind="stable")
    return Jumps(
        when_s=np.concatenate([one.when_s for one in found]),
        step_m=np.concatenate([one.step_m for one in found]),
        noise_m=max(one.noise_m for one in found),
        looked_s=looked_s[order],
        each_s=each_s[order],
    )


def _one_path(path: Path, number: Ints) -> Jumps:
    seconds = np.diff(path.time_s)
    with np.errstate(invalid="ignore"):
        known = (number > 0) & ~path.cut & (seconds > 0) & (seconds <= _SLOWEST_S)
    speed = np.diff(path.xy_m, axis=0) / np.where(known, seconds, 1.0)[:, None]
    at = _amid(number, known)
    if not len(at):
        return _NONE
    around = np.arange(2, _REACH + 1)
    before = np.median(speed[at[:, None] - around], axis=1)
    after = np.median(speed[at[:, None] + around], axis=1)
    slow = np.minimum(lengths_m(before), lengths_m(after)) < _MOVING_MPS
    at, before, after = at[~slow], before[~slow], after[~slow]
    way = before + after
    side = np.column_stack([-way[:, 1], way[:, 0]]) / np.maximum(lengths_m(way), _TINY)[:, None]

    def aside_m(of: Ints) -> Floats:
        return np.asarray(np.einsum("ij,ij->i", speed[of] - way / 2, side) * seconds[of])

    here_m = aside_m(at)
    beside_m = np.maximum(np.abs(aside_m(at - 1)), np.abs(aside_m(at + 1)))
    noise_m = _TO_SD * float(np.median(np.abs(here_m))) if len(at) else 0.0
    # A swerve takes longer than a step.
    hit = (np.abs(here_m) > max(_LEAST_M, _TIMES * noise_m)) & (beside_m < _ALONE * np.abs(here_m))
    when_s = (path.time_s[at] + path.time_s[at + 1]) / 2
    return Jumps(when_s[hit], here_m[hit, None] * side[hit], noise_m, when_s, seconds[at])


def _amid(number: Ints, known: Bools) -> Ints:
    """Steps with some steps of the same pass before and after."""
    fine = known.copy()
    fine[:_REACH] = fine[len(fine) - _REACH :] = False
    for k in range(1, _REACH + 1):
        same = (number[k:] == number[:-k]) & known[k:] & known[:-k]
        fine[k:] &= same
        fine[:-k] &= same
    return np.flatnonzero(fine)
