"""What may have happened at a strip between two passes: skips, and steps of the receiver's error that look like one.

- A pass left out widens one gap and no other, as who drives aims from the last pass; so does one too far over, along
  part of its length, more and more of it or all at once. Or the next pass runs where it would have run, and the next
  gap is as much narrower: a bulge.
- Under trees the error also steps. A step widens what lies before it in one gap and after it in the next; there and
  back it looks like a bulge. Those that a pass shows (`gladebook.doubt.jumps`) are known but for what has faded; those
  in turns and between passes are rivals to every strip, as likely as the others are often.

Odds and sizes are common practice, no source; tried on drawn drives (DEVELOPERS.md).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log

import numpy as np
import numpy.typing as npt

from gladebook.doubt.gaps import Gaps
from gladebook.doubt.jumps import Jumps

__all__ = ["Event", "by_jumps", "events_at", "nearly_whole", "other_wide", "step_odds", "usual_m"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_LEFT_OUT, _TOO_FAR, _BULGE = 0.05, 0.05, 0.02  # odds of each for one pair
_LEFT_OUT_SPREAD, _TOO_FAR_MEAN, _TOO_FAR_SPREAD = 0.2, 0.7, 0.4
_WEDGE = 1.3
_NEARLY_WHOLE, _ROOM = 0.6, 1.6
_WIDE, _SHORTEST_M = 0.35, 10.0
_STEP_M, _BIN_S = 2.5, 3.0
_SLIPS = 0.3  # of the steps in passes that are looked at
_FEW, _FEW_HOURS = 0.2, 0.4  # what a recording without any shows is not none: one in two hours before it is looked at
_STAYS_S = 120.0
_HOUR_S = 3600.0


@dataclass(frozen=True, eq=False)
class Event:
    """Something that widens gaps: by how much of it each, how much it is, its odds, as logarithm; truly or not."""

    column: Floats
    mean_m: float
    spread_m: float
    log_odds: float
    true: bool = True


def usual_m(gaps: Gaps) -> float:
    """The usual distance between neighbours."""
    return float(np.median(gaps.gap_m / gaps.rows))


def step_odds(gaps: Gaps, strip: Ints, *, jumps: Jumps) -> float:
    """The logarithm of the odds of a step of the error, between the passes beside a strip, that nobody saw."""
    low_s, high_s = gaps.low_s[strip], gaps.high_s[strip]
    unseen = float(np.median((1 - _SLIPS) * jumps.unseen_s(low_s, high_s) + _SLIPS * np.abs(high_s - low_s)))
    return log(max(unseen, 1.0) / _HOUR_S * (len(jumps.when_s) + _FEW) / (jumps.hours + _FEW_HOURS))


def other_wide(gaps: Gaps, strips: Sequence[Ints], *, spacing_m: float) -> list[Ints]:
    """Stretches of a pair with wide gaps that no strip covers."""
    taken = np.zeros(len(gaps), dtype=bool)
    for strip in strips:
        taken[strip] = True
    wide = np.flatnonzero((gaps.gap_m - gaps.rows * spacing_m > _WIDE * gaps.boom_m) & ~taken)
    wide = wide[np.lexsort((gaps.bin[wide], gaps.pair[wide]))]
    fresh = np.flatnonzero((np.diff(gaps.pair[wide]) != 0) | (np.diff(gaps.bin[wide]) != 1)) + 1
    return [run for run in np.split(wide, fresh) if len(run) * gaps.bin_m >= _SHORTEST_M]


def nearly_whole(gaps: Gaps, strip: Ints, *, spacing_m: float) -> bool:
    """Whether a whole pass has room at a strip, and it lies along most of the pair."""
    share = len(strip) / float((gaps.pair == gaps.pair[strip[0]]).sum())
    return share >= _NEARLY_WHOLE and float(gaps.gap_m[strip].mean()) >= _ROOM * spacing_m


def events_at(gaps: Gaps, strip: Ints, *, spacing_m: float, step: float) -> list[Event]:
    """What may have happened at a strip."""
    n, boom_m = len(gaps), gaps.boom_m
    here = np.zeros(n)
    here[strip] = 1.0
    pair = (gaps.pair == gaps.pair[strip[0]]).astype(np.float64)
    share = len(strip) / pair.sum()
    found: list[Event] = []
    if share >= _NEARLY_WHOLE and gaps.rows[strip[0]] == 1:
        passes = max(round(float(np.median(gaps.gap_m[strip])) / spacing_m) - 1, 1)
        found.append(Event(pair, passes * spacing_m, _LEFT_OUT_SPREAD * spacing_m, log(_LEFT_OUT)))
    # A skip could lie anywhere along the pair: the odds of this place are a share of it.
    rarer = log(2 / share)
    size_m, spread_m = _TOO_FAR_MEAN * boom_m, _TOO_FAR_SPREAD * boom_m
    found.append(Event(here, size_m, spread_m, log(_TOO_FAR / 2) - rarer))
    rise = np.zeros(n)
    rise[strip] = (gaps.bin[strip] - gaps.bin[strip].min() + 1) / (np.ptp(gaps.bin[strip]) + 1)
    fall = here * (1 + 1 / (np.ptp(gaps.bin[strip]) + 1)) - rise
    found += [Event(wedge, _WEDGE * size_m, spread_m, log(_TOO_FAR / 4) - rarer) for wedge in (rise, fall)]
    beside_bin = np.isin(gaps.bin, gaps.bin[strip])
    for next_ in (gaps.low == gaps.high[strip[0]], gaps.high == gaps.low[strip[0]]):
        if (next_ & beside_bin).any():
            bulge = here - (next_ & beside_bin)
            found.append(Event(bulge, size_m, spread_m, log(_BULGE) - rarer))
    return found + _rivals(gaps, strip, step=step)


def _rivals(gaps: Gaps, strip: Ints, *, step: float) -> list[Event]:
    """Steps of the receiver's error that would widen the gaps of a strip: where it begins or ends, or both."""
    found: list[Event] = []
    for when in (gaps.high_s[strip], gaps.low_s[strip]):
        half = (float(np.ptp(when)) / max(len(strip) - 1, 1) if len(strip) > 1 else _BIN_S) / 2
        begin, end = float(when.min()) - half, float(when.max()) + half
        columns = [(gaps.high_s > at).astype(np.float64) - (gaps.low_s > at) for at in (begin, end)]
        columns.append(columns[0] - columns[1])
        found += [
            Event(column, 0.0, _STEP_M, step, true=False)
            for column in columns
            if float(np.abs(column[strip]).sum()) > 0
        ]
    return found


def by_jumps(gaps: Gaps, jumps: Jumps) -> tuple[Floats, Floats]:
    """What the steps that the recording shows widen each gap by, and its covariance.

    Each stays in part and fades in part, and nobody knows how much of it does which.
    """
    mean, cov = np.zeros(len(gaps)), np.zeros((len(gaps), len(gaps)))
    for when_s, step_m in zip(jumps.when_s.tolist(), jumps.step_m @ gaps.across, strict=True):
        stays = (gaps.high_s > when_s).astype(np.float64) - (gaps.low_s > when_s)
        high, low = (np.exp(-np.maximum(t - when_s, 0.0) / _STAYS_S) * (t > when_s) for t in (gaps.high_s, gaps.low_s))
        fades = high - low
        mean += step_m * (stays + fades) / 2
        cov += jumps.noise_m**2 * np.outer(stays, stays)
        cov += (step_m / 2) ** 2 * np.outer(stays - fades, stays - fades)
    return mean, cov
