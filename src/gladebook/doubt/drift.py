"""How far the receiver drifted, and whether a gap between passes is real or the receiver's.

Between two neighbouring passes the recorded distance is the true one plus how much the receiver's
error changed between the two times. A shift that all share drops out. What is left is told apart by
what belongs together:

    gap = spacing + aim of the pair + wander along it + (drift when the one was driven - when the other was)

- Drift is a process in time, s.d. `s`, correlation time `tau`. Receivers' errors were found closer to an
  Ornstein-Uhlenbeck process than to white noise (Sensors 20(21):6050, 2020, abstract); receivers that smooth what
  they show, as phones do, err smoothly, and a Matern process (nu = 3/2; Rasmussen and Williams, Gaussian Processes
  for Machine Learning, 2006, eq. 4.17) stands for that. Each is tried with several `tau`; without the second, a
  smooth error was called a skip with certainty. Driven to and fro, neighbours are seconds apart at one end and
  minutes at the other; and a pass that drifted widens the gap on one side by what it narrows on the other.
- The aim is a number for each pair, the wander smooth along it; spacing, a number for the plot.
- Skips and steps of the error are `gladebook.doubt.events`.

All of it is normal, so that its likelihood is a formula (the same book, eq. 2.30). s, tau and the kind of drift are
not known: each of a grid of settings weighs by its likelihood, with the skips that it finds inside, as one pass left
out would else be read as drift. A strip's chance is that of at least half its recorded width being true: the mean
over settings and over what may have happened, each by its odds.

The grid and the aim are assumptions: common practice, no source; tried on drawn drives (DEVELOPERS.md).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from math import erf, log, sqrt

import numpy as np
import numpy.typing as npt
from threadpoolctl import threadpool_limits

from gladebook.doubt.events import Event, by_jumps, events_at, nearly_whole, other_wide, step_odds, usual_m
from gladebook.doubt.gaps import Gaps
from gladebook.doubt.jumps import Jumps

__all__ = ["Drift", "Kind", "Known", "chance_above", "judge_gaps", "odds_of", "setting_of", "taken_for_real"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_DRIFT_M = (0.1, 0.25, 0.5, 1.0, 1.6, 2.4, 3.4)
_USUAL_M = 2.5  # large drift with a long memory looks much like less with a short one; less is likelier
_AIM_M, _WANDER_M, _ALONG_M, _JITTER_M = 0.2, 0.18, 15.0, 0.05
_SPACING_SHARE = 0.25  # of the boom: how far the spacing may be from the usual distance
_MOST_SKIPS = 5
_HALF = 0.5
_LEAST = 1e-9


@dataclass(frozen=True)
class Kind:
    """A kind of drift: how long it stays alike, and whether it is smooth (Matern) or not (Ornstein-Uhlenbeck)."""

    forgets_s: float
    smooth: bool

    def alike(self, one_s: Floats, other_s: Floats) -> Floats:
        """The correlation of drift at times, shape (n,) and (m,), as shape (n, m)."""
        apart = np.abs(one_s[:, None] - other_s[None, :]) / self.forgets_s
        if self.smooth:
            apart *= sqrt(3)
            return np.asarray((1 + apart) * np.exp(-apart))
        return np.asarray(np.exp(-apart))


_KINDS = (
    *(Kind(t, smooth=False) for t in (60.0, 120.0, 240.0)),
    *(Kind(t, smooth=True) for t in (25.0, 50.0, 100.0, 200.0)),
)


@dataclass(frozen=True, eq=False)
class Drift:
    """What a plot's gaps say.

    Attributes
    ----------
    drift_m : the receiver's drift across the passes, s.d., averaged over the settings.
    ratio : that over the spacing.
    spacing_m : the usual distance between neighbours.
    chance : shape (strips,), of at least half of each being real.
    bare_width_m : shape (strips,), how wide the ground truly left bare is, on average.
    left_out : shape (strips,), whether a whole pass has room there for most of the way.
    """

    drift_m: float
    ratio: float
    spacing_m: float
    chance: Floats
    bare_width_m: Floats
    left_out: npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Known:
    """One setting's view: inverse covariance, what is left of the gaps, covariance of the true ones, their mean."""

    inverse: Floats
    left_m: Floats
    true_cov: Floats
    true_m: Floats


def judge_gaps(gaps: Gaps, strips: Sequence[Ints], *, jumps: Jumps, error_m: float | None = None) -> Drift:
    """Weigh drift against skips.

    Parameters
    ----------
    gaps
        Gaps between neighbouring passes; there must be some.
    strips
        For each strip the gaps that it lies in, all of one pair.
    jumps
        Steps of the error that the recording shows.
    error_m
        The receiver's drift, s.d., where the user knows it.
    """
    spacing_m = usual_m(gaps)
    # What is no strip may be a skip all the same, and must not pass for drift.
    places = [*strips, *other_wide(gaps, strips, spacing_m=spacing_m)]
    events = [events_at(gaps, p, spacing_m=spacing_m, step=step_odds(gaps, p, jumps=jumps)) for p in places]
    stepped = by_jumps(gaps, jumps)
    drifts = _DRIFT_M if error_m is None else (max(error_m, _LEAST),)
    weights: list[float] = []
    found: list[list[tuple[float, float]]] = []
    # Matrices of this size are ten times slower with several threads that wait for each other.
    with threadpool_limits(1, user_api="blas"):
        for kind in _KINDS:
            changes = _changes(gaps, kind)
            for s_m in drifts:
                start, score = setting_of(gaps, changes=s_m**2 * changes, stepped=stepped)
                active, gained = _greedy(start, events)
                found.append([_chance(gaps, start, s, i, events=events, active=active) for i, s in enumerate(strips)])
                weights.append(score + gained - (s_m / _USUAL_M) ** 2 / 2)
    weight = np.exp(np.array(weights) - max(weights))
    weight /= weight.sum()
    drift_m = float(weight @ np.array([s_m for _, s_m in product(_KINDS, drifts)]))
    chance, bare_width_m = np.einsum("s,sij->ji", weight, np.array(found).reshape(len(weight), len(strips), 2))
    return Drift(
        drift_m=drift_m,
        ratio=drift_m / spacing_m,
        spacing_m=spacing_m,
        chance=chance,
        bare_width_m=bare_width_m,
        left_out=np.array([nearly_whole(gaps, strip, spacing_m=spacing_m) for strip in strips], dtype=np.bool_),
    )


def _changes(gaps: Gaps, kind: Kind) -> Floats:
    """The covariance of drift's changes from one pass to the other, of a drift with s.d. one."""
    low, high = gaps.low_s, gaps.high_s
    across = kind.alike(high, low)
    return kind.alike(high, high) + kind.alike(low, low) - across - across.T


def setting_of(gaps: Gaps, *, changes: Floats, stepped: tuple[Floats, Floats]) -> tuple[Known, float]:
    """One setting without skips, and the logarithm of its likelihood.

    Parameters
    ----------
    gaps
        The gaps.
    changes
        Shape (n, n), the covariance of what drift changes them by.
    stepped
        What steps of the error change them by, and its covariance.
    """
    same = gaps.pair[:, None] == gaps.pair[None, :]
    along = (gaps.bin[:, None] - gaps.bin[None, :]) * (gaps.bin_m / _ALONG_M)
    rows = gaps.rows
    true = np.asarray((_SPACING_SHARE * gaps.boom_m) ** 2 * np.outer(rows, rows), dtype=np.float64)
    true += same * (np.sqrt(np.outer(rows, rows)) * _AIM_M**2 + _WANDER_M**2 * np.exp(-(along**2) / 2))
    cov = true + changes + 2 * _JITTER_M**2 * np.eye(len(gaps)) + stepped[1]
    inverse = np.asarray(np.linalg.inv(cov), dtype=np.float64)
    left_m = gaps.gap_m - rows * usual_m(gaps) - stepped[0]
    score = float(-0.5 * left_m @ inverse @ left_m - np.log(np.diag(np.linalg.cholesky(cov))).sum())
    return Known(inverse, left_m, true, np.zeros(len(gaps))), score


def odds_of(known: Known, event: Event) -> tuple[float, Floats, float, float]:
    """The logarithm of an event's odds against nothing, and the numbers that it was worked out by."""
    across = known.inverse @ event.column
    sharp = float(event.column @ across)
    pull = float(across @ known.left_m)
    before = 1 / event.spread_m**2
    after = sharp + before
    mean_m = (pull + event.mean_m * before) / after
    fit = 0.5 * (mean_m**2 * after - event.mean_m**2 * before) - 0.5 * log(after / before)
    return fit + event.log_odds, across, after, mean_m


def _greedy(known: Known, events: list[list[Event]]) -> tuple[dict[int, Event], float]:
    """Skips that are likelier than not, the likeliest first, and what they add to the likelihood."""
    active: dict[int, Event] = {}
    gained = 0.0
    for _ in range(_MOST_SKIPS):
        best: tuple[float, int, Event] | None = None
        for i, choices in enumerate(events):
            for event in choices if i not in active else []:
                odds = odds_of(known, event)[0]
                if odds > 0 and (best is None or odds > best[0]):
                    best = odds, i, event
        if best is None:
            break
        gained += best[0]
        active[best[1]] = best[2]
        known = taken_for_real(known, [best[2]])
    return active, gained


def taken_for_real(known: Known, events: list[Event]) -> Known:
    """The same with some skips taken for real, of unknown size."""
    for event in events:
        across = known.inverse @ event.column
        grown = event.spread_m**2 / (1 + event.spread_m**2 * float(event.column @ across))
        known = Known(
            inverse=known.inverse - grown * np.outer(across, across),
            left_m=known.left_m - event.mean_m * event.column,
            true_cov=known.true_cov + event.true * event.spread_m**2 * np.outer(event.column, event.column),
            true_m=known.true_m + event.true * event.mean_m * event.column,
        )
    return known


def _chance(
    gaps: Gaps, start: Known, strip: Ints, number: int, *, events: list[list[Event]], active: dict[int, Event]
) -> tuple[float, float]:
    """The chance that at least half of one strip is real, and its mean width, the others as they are."""
    known = taken_for_real(start, [e for i, e in active.items() if i != number])
    weigh = np.zeros(len(gaps))
    weigh[strip] = 1 / len(strip)
    seen = known.true_cov @ weigh
    gain = known.inverse @ seen
    mean_m = float((usual_m(gaps) * gaps.rows + known.true_m) @ weigh) + float(gain @ known.left_m)
    var = max(float(weigh @ seen) - float(seen @ gain), _LEAST)
    needed_m = gaps.boom_m + _HALF * (float(gaps.gap_m[strip].mean()) - gaps.boom_m)
    odds, chance, width = [0.0], [chance_above(mean_m - needed_m, var)], [mean_m]
    for event in events[number]:
        one, _, after, size_m = odds_of(known, event)
        reach = event.true * float(weigh @ event.column) - float(gain @ event.column)
        odds.append(one)
        chance.append(chance_above(mean_m + reach * size_m - needed_m, var + reach**2 / after))
        width.append(mean_m + reach * size_m)
    share = np.exp(np.array(odds) - max(odds))
    share /= share.sum()
    return float(share @ np.array(chance)), float(share @ np.array(width)) - gaps.boom_m


def chance_above(mean_m: float, var: float) -> float:
    """The chance that a normal number is above nothing."""
    if var <= 0:
        return float(mean_m > 0)
    return 0.5 * (1 + erf(mean_m / sqrt(2 * var)))
