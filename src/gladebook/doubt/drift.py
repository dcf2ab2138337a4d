"""How far the receiver drifted, and whether a gap between passes is real or the receiver's.

Between two neighbouring passes the recorded distance is the true one plus how much the receiver's
error changed between the two times. A shift that all share drops out. What is left is told apart by
what belongs together:

    gap = spacing + aim of the pair + wander along it + (drift when the one was driven - when the other was)

- Drift is an Ornstein-Uhlenbeck process in time, s.d. `s`, correlation time `tau`: receivers' errors were
  found closer to that than to white noise (Sensors 20(21):6050, 2020, abstract). Driven to and fro,
  neighbours are seconds apart at one end and minutes at the other; and a pass that drifted widens the gap
  on one side by what it narrows on the other.
- Who drives aims from the last pass, so a pass left out or too far over widens one gap and no other.
  Or the next pass runs where it would have run, and the next gap is as much narrower: a bulge.
- Under trees the error also steps. A step widens what lies before it in one gap and after it in the next; there
  and back it looks like a bulge, and nothing in a track tells the two apart. Each is a rival to every strip.
- The aim is a number for each pair, the wander smooth along it; spacing, a number for the plot.

All of it is normal, so that its likelihood is a formula (Rasmussen and Williams, Gaussian Processes for
Machine Learning, 2006, eq. 2.30). s, tau and the aim are not known: each of a grid of settings weighs by
its likelihood, with the skips that it finds inside, as one pass left out would else be read as drift.
A strip's chance is that of at least half its recorded width being true: the mean over settings and over
what may have happened (nothing, a pass left out, one too far over, a bulge, the rivals), each by its odds.

Real errors are no exact Ornstein-Uhlenbeck process, and neighbouring gaps tell less than the formula says: all
that the gaps say counts half, as logarithm (a power likelihood: Bissiri, Holmes and Walker, "A general framework
for updating belief distributions", 2016; from memory). Without it a differently drawn error was called a skip with
certainty.

Prior odds and the grid are assumptions: common practice, no source; tried on drawn drives (DEVELOPERS.md).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from math import erf, log, sqrt

import numpy as np
import numpy.typing as npt

from gladebook.doubt.gaps import Gaps

__all__ = [
    "TRUST",
    "Drift",
    "Event",
    "Known",
    "chance_above",
    "events_at",
    "judge_gaps",
    "odds_of",
    "setting_of",
    "taken_for_real",
]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_DRIFT_M = (0.1, 0.25, 0.5, 1.0, 1.6, 2.4, 3.4)
_USUAL_M = 2.5  # large drift with a long memory looks much like less with a short one; less is likelier
_FORGETS_S = (60.0, 120.0, 240.0)
_AIM_M = (0.12, 0.3)
_WANDER_M, _ALONG_M, _JITTER_M = 0.18, 15.0, 0.05
_SPACING_SHARE = 0.25  # of the boom: how far the spacing may be from the usual distance
_LEFT_OUT, _TOO_FAR, _BULGE = 0.05, 0.05, 0.02  # odds of each for one pair
_STEP, _STEP_M, _BIN_S = 0.01, 2.5, 3.0
_LEFT_OUT_SPREAD, _TOO_FAR_MEAN, _TOO_FAR_SPREAD = 0.2, 0.7, 0.4
_NEARLY_WHOLE, _ROOM = 0.6, 1.6
_WIDE, _SHORTEST_M = 0.35, 10.0
_MOST_SKIPS = 5
_HALF = 0.5
TRUST = 0.5
_LEAST, _STEADY = 1e-9, 1e-6
_DRAWS, _SEED = 400, 1


@dataclass(frozen=True, eq=False)
class Drift:
    """What a plot's gaps say.

    Attributes
    ----------
    drift_m : the receiver's drift across the passes, s.d., averaged over the settings.
    ratio : that over the spacing.
    spacing_m : the usual distance between neighbours.
    chance : shape (strips,), of at least half of each being real.
    left_out : shape (strips,), whether a whole pass has room there for most of the way.
    bare_m2 : shape (draws,), draws of the ground truly left bare between passes, for its range.
    """

    drift_m: float
    ratio: float
    spacing_m: float
    chance: Floats
    left_out: npt.NDArray[np.bool_]
    bare_m2: Floats


@dataclass(frozen=True, eq=False)
class Event:
    """Something that widens gaps: by how much of it each, how much it is, its odds, as logarithm; truly or not."""

    column: Floats
    mean_m: float
    spread_m: float
    log_odds: float
    true: bool = True


@dataclass(frozen=True, eq=False)
class Known:
    """One setting's view: inverse covariance, what is left of the gaps, covariance of the true ones, their mean."""

    inverse: Floats
    left_m: Floats
    true_cov: Floats
    true_m: Floats


def judge_gaps(gaps: Gaps, strips: Sequence[Ints], *, error_m: float | None = None) -> Drift:
    """Weigh drift against skips.

    Parameters
    ----------
    gaps
        Gaps between neighbouring passes; there must be some.
    strips
        For each strip the gaps that it lies in, all of one pair.
    error_m
        The receiver's drift, s.d., where the user knows it.
    """
    spacing_m = float(np.median(gaps.gap_m))
    # What is no strip may be a skip all the same, and must not pass for drift.
    places = [*strips, *_other_wide(gaps, strips, spacing_m=spacing_m)]
    events = [events_at(gaps, place, spacing_m=spacing_m) for place in places]
    drifts = _DRIFT_M if error_m is None else (max(error_m, _LEAST),)
    weights, chances, drift_m = [], [], []
    settings: list[tuple[Known, dict[int, Event]]] = []
    for (forgets_s, aim_m), s_m in product(product(_FORGETS_S, _AIM_M), drifts):
        start, score = setting_of(gaps, s_m=s_m, forgets_s=forgets_s, aim_m=aim_m, spacing_m=spacing_m)
        active, gained = _greedy(start, events)
        chances.append([_chance(gaps, start, strip, i, events=events, active=active) for i, strip in enumerate(strips)])
        settings.append((start, active))
        weights.append(TRUST * score + gained - (s_m / _USUAL_M) ** 2 / 2)
        drift_m.append(s_m)
    weight = np.exp(np.array(weights) - max(weights))
    weight /= weight.sum()
    drift = float(weight @ np.array(drift_m))
    return Drift(
        drift_m=drift,
        ratio=drift / spacing_m,
        spacing_m=spacing_m,
        chance=weight @ np.array(chances).reshape(len(weight), -1),
        left_out=np.array([_nearly_whole(gaps, strip, spacing_m=spacing_m) for strip in strips], dtype=np.bool_),
        bare_m2=_draw_bare(gaps, settings, events, weight=weight, spacing_m=spacing_m),
    )


def _other_wide(gaps: Gaps, strips: Sequence[Ints], *, spacing_m: float) -> list[Ints]:
    """Stretches of a pair with wide gaps that no strip covers."""
    taken = np.zeros(len(gaps), dtype=bool)
    for strip in strips:
        taken[strip] = True
    wide = np.flatnonzero((gaps.gap_m - spacing_m > _WIDE * gaps.boom_m) & ~taken)
    wide = wide[np.lexsort((gaps.bin[wide], gaps.pair[wide]))]
    fresh = np.flatnonzero((np.diff(gaps.pair[wide]) != 0) | (np.diff(gaps.bin[wide]) != 1)) + 1
    return [run for run in np.split(wide, fresh) if len(run) * gaps.bin_m >= _SHORTEST_M]


def _nearly_whole(gaps: Gaps, strip: Ints, *, spacing_m: float) -> bool:
    """Whether a whole pass has room at a strip, and it lies along most of the pair."""
    share = len(strip) / float((gaps.pair == gaps.pair[strip[0]]).sum())
    return share >= _NEARLY_WHOLE and float(gaps.gap_m[strip].mean()) >= _ROOM * spacing_m


def events_at(gaps: Gaps, strip: Ints, *, spacing_m: float) -> list[Event]:
    """What may have happened at a strip."""
    n, boom_m = len(gaps), gaps.boom_m
    here = np.zeros(n)
    here[strip] = 1.0
    pair = (gaps.pair == gaps.pair[strip[0]]).astype(np.float64)
    share = len(strip) / pair.sum()
    found: list[Event] = []
    if share >= _NEARLY_WHOLE:
        passes = max(round(float(np.median(gaps.gap_m[strip])) / spacing_m) - 1, 1)
        found.append(Event(pair, passes * spacing_m, _LEFT_OUT_SPREAD * spacing_m, log(_LEFT_OUT)))
    # A skip could lie anywhere along the pair: the odds of this place are a share of it.
    rarer = log(2 / share)
    size_m, spread_m = _TOO_FAR_MEAN * boom_m, _TOO_FAR_SPREAD * boom_m
    found.append(Event(here, size_m, spread_m, log(_TOO_FAR) - rarer))
    beside_bin = np.isin(gaps.bin, gaps.bin[strip])
    for next_ in (gaps.low == gaps.high[strip[0]], gaps.high == gaps.low[strip[0]]):
        if (next_ & beside_bin).any():
            bulge = here - (next_ & beside_bin)
            found.append(Event(bulge, size_m, spread_m, log(_BULGE) - rarer))
    return found + _rivals(gaps, strip)


def _rivals(gaps: Gaps, strip: Ints) -> list[Event]:
    """Steps of the receiver's error that would widen the gaps of a strip: where it begins or ends, or both."""
    found: list[Event] = []
    for when in (gaps.high_s[strip], gaps.low_s[strip]):
        half = (float(np.ptp(when)) / max(len(strip) - 1, 1) if len(strip) > 1 else _BIN_S) / 2
        begin, end = float(when.min()) - half, float(when.max()) + half
        columns = [(gaps.high_s > at).astype(np.float64) - (gaps.low_s > at) for at in (begin, end)]
        columns.append(columns[0] - columns[1])
        found += [
            Event(column, 0.0, _STEP_M, log(_STEP), true=False)
            for column in columns
            if float(np.abs(column[strip]).sum()) > 0
        ]
    return found


def setting_of(gaps: Gaps, *, s_m: float, forgets_s: float, aim_m: float, spacing_m: float) -> tuple[Known, float]:
    """One setting without skips, and the logarithm of its likelihood."""
    n = len(gaps)
    same = gaps.pair[:, None] == gaps.pair[None, :]
    along = (gaps.bin[:, None] - gaps.bin[None, :]) * (gaps.bin_m / _ALONG_M)
    true = (_SPACING_SHARE * gaps.boom_m) ** 2 + same * (aim_m**2 + _WANDER_M**2 * np.exp(-(along**2) / 2))
    low, high = gaps.low_s, gaps.high_s

    def alike(a: Floats, b: Floats) -> Floats:
        return np.asarray(np.exp(-np.abs(a[:, None] - b[None, :]) / forgets_s))

    drift = alike(high, high) + alike(low, low) - alike(high, low) - alike(low, high)
    cov = true + s_m**2 * drift + 2 * _JITTER_M**2 * np.eye(n)
    inverse = np.linalg.inv(cov)
    left_m = gaps.gap_m - spacing_m
    score = float(-0.5 * left_m @ inverse @ left_m - np.log(np.diag(np.linalg.cholesky(cov))).sum())
    return Known(inverse, left_m, true, np.zeros(n)), score


def odds_of(known: Known, event: Event) -> tuple[float, Floats, float, float]:
    """The logarithm of an event's odds against nothing, and the numbers that it was worked out by."""
    across = known.inverse @ event.column
    sharp = float(event.column @ across)
    pull = float(across @ known.left_m)
    before = 1 / event.spread_m**2
    after = sharp + before
    mean_m = (pull + event.mean_m * before) / after
    fit = 0.5 * (mean_m**2 * after - event.mean_m**2 * before) - 0.5 * log(after / before)
    return TRUST * fit + event.log_odds, across, after, mean_m


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
) -> float:
    """The chance that at least half of one strip is real, the others as they are."""
    known = taken_for_real(start, [e for i, e in active.items() if i != number])
    weigh = np.zeros(len(gaps))
    weigh[strip] = 1 / len(strip)
    seen = known.true_cov @ weigh
    gain = known.inverse @ seen
    spacing_m = float((gaps.gap_m - start.left_m)[0])
    mean_m = spacing_m + float(known.true_m @ weigh) + float(gain @ known.left_m)
    var = max(float(weigh @ seen) - float(seen @ gain), _LEAST)
    needed_m = gaps.boom_m + _HALF * (float(gaps.gap_m[strip].mean()) - gaps.boom_m)
    odds, chance = [0.0], [chance_above(mean_m - needed_m, var)]
    for event in events[number]:
        one, _, after, size_m = odds_of(known, event)
        reach = event.true * float(weigh @ event.column) - float(gain @ event.column)
        odds.append(one)
        chance.append(chance_above(mean_m + reach * size_m - needed_m, var + reach**2 / after))
    share = np.exp(np.array(odds) - max(odds))
    share /= share.sum()
    return float(share @ np.array(chance))


def _draw_bare(
    gaps: Gaps,
    settings: list[tuple[Known, dict[int, Event]]],
    events: list[list[Event]],
    *,
    weight: Floats,
    spacing_m: float,
) -> Floats:
    """Draw what truly lies bare between passes: each setting as often as it weighs, each skip by its odds."""
    rng = np.random.default_rng(_SEED)
    found: list[Floats] = []
    for (start, active), draws in zip(settings, rng.multinomial(_DRAWS, weight).tolist(), strict=True):
        if not draws:
            continue
        shares = [_shares(start, i, events=events, active=active) for i in range(len(events))]
        happened = np.stack([rng.choice(len(share), size=draws, p=share) for share in shares] or [np.zeros(draws)])
        kinds, many = np.unique(happened, axis=1, return_counts=True)
        for kind, count in zip(kinds.T.astype(int).tolist(), many.tolist(), strict=True):
            chosen = [choices[k - 1] for choices, k in zip(events, kind, strict=False) if k > 0]
            found.append(_bare_draws(gaps, taken_for_real(start, chosen), rng=rng, count=count, spacing_m=spacing_m))
    return np.concatenate(found)


def _shares(start: Known, number: int, *, events: list[list[Event]], active: dict[int, Event]) -> Floats:
    """How likely nothing and each event is at one place, the others as they are."""
    known = taken_for_real(start, [e for i, e in active.items() if i != number])
    odds = np.array([0.0, *(odds_of(known, event)[0] for event in events[number])])
    share = np.exp(odds - odds.max())
    return np.asarray(share / share.sum())


def _bare_draws(gaps: Gaps, view: Known, *, rng: np.random.Generator, count: int, spacing_m: float) -> Floats:
    gain = view.true_cov @ view.inverse
    spread = view.true_cov - gain @ view.true_cov
    lower = np.linalg.cholesky((spread + spread.T) / 2 + _STEADY * np.eye(len(gaps)))
    mean_m = spacing_m + view.true_m + gain @ view.left_m
    true_m = mean_m + rng.normal(size=(count, len(gaps))) @ lower.T
    bare: Floats = np.maximum(true_m - gaps.boom_m, 0.0).sum(axis=1) * gaps.bin_m
    return bare


def chance_above(mean_m: float, var: float) -> float:
    """The chance that a normal number is above nothing."""
    return 0.5 * (1 + erf(mean_m / sqrt(2 * var)))
