"""How far the receiver's drift moves the acres: the track drawn again many times, each time swept anew.

What was recorded is the true way and an error. A redraw adds a second error of the same kind: along each axis an
Ornstein-Uhlenbeck process (its covariance at two times is s^2 exp(-|dt| / tau); receivers' errors were found closer
to that than to white noise, Sensors 20(21):6050, 2020, abstract) and a shift of the whole track. The two are
independent, so a redraw lies about what was recorded with the error's variance, and about the truth with twice that.

Redraws are therefore no draws of the truth. They miss more ground than was recorded, as the recording shows more
missed than there was; their own 2.5 to 97.5 % hold the truth next to never. The range is that of

    truth = recorded - bias - scatter,   scatter = redraw - mean of redraws,
    bias between 1 and 1 / (sqrt 2 - 1) = 2.41 times (mean of redraws - recorded).

- At factor 1 this is the basic bootstrap (Davison and Hinkley, Bootstrap Methods and their Application, 1997,
  section 5.2; from memory): the second error is taken to do what the first one did. It is right where bias grows as
  the variance does, which more noise extrapolates back to none (Cook and Stefanski, "Simulation-extrapolation
  estimation in parametric measurement error models", Journal of the American Statistical Association 89, 1994; from
  memory).
- Bare ground between two passes is the positive part of gap plus error: a convex function, whose mean is convex in
  the error's s.d. From s.d. 0 to s it rises at most as steeply as from s to s sqrt 2, so the bias is at most 2.41
  times as large. It is that where passes just touch; overlap to spare makes it less, even less than once, but of a
  small figure.
- Overlap between two passes is the negative part, alike; but ground under three passes counts once, so that much
  drift no longer adds to it. All ground driven stays the same, so it cannot have gained more than missed
  ground did less what went outside, and that is allowed for too.

No factor within these bounds is preferred: the range reaches from the one end to the other. Where drift is over half
the distance between passes, passes change places, bare ground no longer grows as the bound has it, and ranges hold
too seldom: none should be told. How often they hold on drawn applications is measured by
``python -m tests.bench --only redraw``.

Where the boom was on is held as it is at each point of the track, whether recorded or assumed; what an assumed boom
does to overlap and outside is no matter of drift, and these ranges know nothing of it. Ground that only a gap in the
track could have covered stays where it is.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.coverage.boom import Settled
from gladebook.coverage.copies import set_stage, sweep_copies
from gladebook.errors import CallError, TrackError
from gladebook.geometry.sweep import Wish

__all__ = ["Ranges", "ReceiverError", "Redraws", "acres_range", "draw_errors", "ranges_of", "redraw"]

Floats = npt.NDArray[np.float64]

_SEED: Final = 1
_DRAWS: Final = 200
_LOT_POINTS = 100_000  # swept as one scene: fewest seconds, and some 100 MB
_STEEPEST = 1 / (sqrt(2) - 1)
_TAIL = 0.025
_ALIKE = 10.0  # correlation times summed at once: e^10 leaves eleven digits
_TREATED, _MISSED, _OVERLAP, _OUTSIDE = range(4)


@dataclass(frozen=True)
class ReceiverError:
    """How a receiver errs; sizes are standard deviations along one axis.

    Attributes
    ----------
    drift_m : of the slow drift.
    shift_m : of the shift of a whole track.
    forgets_s : the drift's correlation time; common practice, no source.
    """

    drift_m: float
    shift_m: float = 0.0
    forgets_s: float = 120.0


@dataclass(frozen=True)
class Ranges:
    """Low and high ends of 95 % ranges of what was truly done, m2, as far as the receiver's error goes.

    Attributes
    ----------
    treated_m2, missed_m2, overlap_m2 : on the ground.
    outside_m2 : driven over beside it.
    draws : how often the track was drawn again.
    """

    treated_m2: tuple[float, float]
    missed_m2: tuple[float, float]
    overlap_m2: tuple[float, float]
    outside_m2: tuple[float, float]
    draws: int


@dataclass(frozen=True, eq=False)
class Redraws:
    """Figures of the recorded track and of redraws, swept along the same lines.

    Attributes
    ----------
    recorded_m2 : shape (4,): treated, missed, overlap, outside.
    drawn_m2 : shape (draws, 4), alike.
    ground_m2 : the ground.
    """

    recorded_m2: Floats
    drawn_m2: Floats
    ground_m2: float


def acres_range(
    settled: Sequence[Settled], *, ground: Any, error: ReceiverError, draws: int = _DRAWS, wish: Wish = "auto"
) -> Ranges:
    """Say between what ends the true figures lie in 95 of 100 cases.

    Parameters
    ----------
    settled
        The tracks, with their booms.
    ground
        A plot's polygons on the same plane, metres, without what was left on purpose.
    error
        How the receiver errs.
    draws
        How often to draw; the same number gives the same answer each time.
    wish
        Which engine to use.

    Returns
    -------
    Ends by the rules at the top of this module, within what is possible. They need not hold the recorded figures:
    where drift is large, most of what is recorded as missed was treated.

    Raises
    ------
    CallError
        Where a figure is none, or the ground is empty.
    TrackError
        Where a track has no times: how drift runs along it cannot be drawn.
    """
    return ranges_of(redraw(settled, ground=ground, error=error, draws=draws, wish=wish))


def ranges_of(redraws: Redraws) -> Ranges:
    """Turn redraws into ranges, by the rules at the top of this module."""
    recorded, mean = redraws.recorded_m2, redraws.drawn_m2.mean(axis=0)
    scatter = np.quantile(redraws.drawn_m2 - mean, [_TAIL, 1 - _TAIL], axis=0)
    rise = mean - recorded
    least, most = np.minimum(rise, _STEEPEST * rise), np.maximum(rise, _STEEPEST * rise)
    most[_OVERLAP] = max(most[_OVERLAP], _STEEPEST * (rise[_MISSED] - rise[_OUTSIDE]))
    ceiling = np.full(4, redraws.ground_m2)
    ceiling[_OUTSIDE] = np.inf
    low = np.clip(recorded - most - scatter[1], 0.0, ceiling).tolist()
    high = np.clip(recorded - least - scatter[0], 0.0, ceiling).tolist()
    treated, missed, overlap, outside = zip(low, high, strict=True)
    return Ranges(treated, missed, overlap, outside, draws=len(redraws.drawn_m2))


def redraw(
    settled: Sequence[Settled], *, ground: Any, error: ReceiverError, draws: int = _DRAWS, wish: Wish = "auto"
) -> Redraws:
    """Draw the error again and again, add it to the recorded places, and sweep each redraw; see `acres_range`."""
    _check(settled, ground=ground, error=error, draws=draws)
    area_m2 = float(shapely.area(ground))
    stage = set_stage(settled, ground=ground, draws=draws, wish=wish)
    rng = np.random.default_rng(_SEED)
    lot = max(_LOT_POINTS // max(stage.points, 1), 1)
    found = [sweep_copies(stage, [np.zeros((1, len(d.path.xy_m), 2)) for d in stage.drives], copies=1)]
    for first in range(0, draws, lot):
        count = min(lot, draws - first)
        errors = [draw_errors(d.path.time_s, error=error, draws=count, rng=rng) for d in stage.drives]
        found.append(sweep_copies(stage, errors, copies=count))
    figures = np.concatenate(found)
    return Redraws(recorded_m2=figures[0], drawn_m2=figures[1:], ground_m2=area_m2)


def draw_errors(time_s: Floats, *, error: ReceiverError, draws: int, rng: np.random.Generator) -> Floats:
    """Draw the error along one track: a shift, and an Ornstein-Uhlenbeck process, exact at any times.

    Parameters
    ----------
    time_s
        Shape (n,), seconds; where time runs backwards, as much has passed as if it ran on.
    error
        How the receiver errs.
    draws
        How many to draw.
    rng
        Where the draws come from.

    Returns
    -------
    Shape (draws, n, 2), metres.
    """
    clock = np.append(0.0, np.cumsum(np.abs(np.diff(time_s)))) / error.forgets_s
    new = np.sqrt(-np.expm1(-2 * np.diff(clock)))
    drift: Floats = rng.standard_normal((draws, len(clock), 2))
    drift[:, 1:] *= new[:, None]
    # x[i] = keep[i] x[i - 1] + new[i] is a running sum, once each term is scaled up by how much of it is forgotten.
    starts = np.flatnonzero(np.append(True, np.diff(np.floor(clock / _ALIKE)) > 0))
    for begin, end in zip(starts.tolist(), [*starts[1:].tolist(), len(clock)], strict=True):
        if begin:
            drift[:, begin] += np.exp(clock[begin - 1] - clock[begin]) * drift[:, begin - 1]
        kept = np.exp(clock[begin] - clock[begin:end])[:, None]
        drift[:, begin:end] = kept * np.cumsum(drift[:, begin:end] / kept, axis=1)
    drift *= error.drift_m
    drift += error.shift_m * rng.standard_normal((draws, 1, 2))
    return drift


def _check(settled: Sequence[Settled], *, ground: Any, error: ReceiverError, draws: int) -> None:
    if draws < 1:
        raise CallError(f"The track must be drawn at least once, not {draws} times.")
    if not (0 <= error.drift_m < np.inf and 0 <= error.shift_m < np.inf and 0 < error.forgets_s < np.inf):
        raise CallError("The receiver's drift and shift must be nothing or more, and its correlation time above zero.")
    if not shapely.area(ground) > 0:
        raise CallError("There is no ground to tell a range for. Check the plot's boundary.")
    for one in settled:
        if not np.isfinite(one.path.time_s).all():
            raise TrackError(f"{one.path.name}: has no times, so how the receiver drifted along it cannot be drawn.")
