"""Drift against skips: kernels against their book, the model against plain normal densities, and simulated drifts.

A few plots cannot prove a rate; ``python -m tests.bench --only doubt`` measures them on hundreds.
"""

from dataclasses import replace
from math import exp, gamma, log, sqrt
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from gladebook.doubt.drift import Kind, chance_above, judge_gaps, odds_of, setting_of, taken_for_real
from gladebook.doubt.events import Event, by_jumps, events_at, step_odds, usual_m
from gladebook.doubt.gaps import Gaps
from gladebook.doubt.jumps import Jumps
from tests.doubt.drawn_gaps import BOOM_M, NO_JUMPS, SPACING_M, gaps_of, jumps_at

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

KINDS = (
    *(Kind(t, smooth=False) for t in (60.0, 120.0, 240.0)),
    *(Kind(t, smooth=True) for t in (25.0, 50.0, 100.0, 200.0)),
)


def matern(apart: float, *, nu: float) -> float:
    """Rasmussen and Williams 2006, eq. 4.14, with its Bessel function as an integral (DLMF 10.32.9)."""
    x = sqrt(2 * nu) * apart
    t = np.linspace(0.0, 12.0, 200_001)
    bessel = float(np.trapezoid(np.exp(-x * np.cosh(t)) * np.cosh(nu * t), t))
    return float(2 ** (1 - nu) / gamma(nu) * x**nu * bessel)


@pytest.mark.parametrize("forgets_s", [25.0, 60.0, 200.0])
def test_drift_stays_alike_as_the_published_kernels_say(forgets_s: float):
    """Smooth drift is a Matern process of nu = 3/2 (GPML eq. 4.17, and 4.14 in full), other drift exp(-|t| / tau)."""
    one, other = np.array([0.0, 7.0]), np.array([1.0, 30.0, 400.0])
    smooth, rough = (Kind(forgets_s, smooth=s).alike(one, other) for s in (True, False))
    for i, a in enumerate(one.tolist()):
        for j, b in enumerate(other.tolist()):
            r = abs(a - b) / forgets_s
            assert rough[i, j] == pytest.approx(exp(-r), rel=1e-12)
            assert smooth[i, j] == pytest.approx((1 + sqrt(3) * r) * exp(-sqrt(3) * r), rel=1e-12)
            assert smooth[i, j] == pytest.approx(matern(r, nu=1.5), rel=1e-6)
            assert rough[i, j] == pytest.approx(matern(r, nu=0.5), rel=1e-6)  # eq. 4.19


def test_smooth_drift_has_a_slope_and_other_drift_has_none():
    """Over a second of a minute's memory, smooth drift moves some 3 % of its size, other drift some 18 %."""
    moved = [sqrt(2 - 2 * float(Kind(60.0, smooth=s).alike(np.zeros(1), np.ones(1))[0, 0])) for s in (True, False)]
    # To first order sqrt(3) |t| / tau, and sqrt(2 |t| / tau).
    assert moved == pytest.approx([sqrt(3) / 60, sqrt(2 / 60)], rel=0.02)


@given(
    times=st.lists(st.floats(0, 1e4), min_size=1, max_size=30),
    forgets_s=st.floats(1.0, 1e3),
    smooth=st.booleans(),
)
def test_what_stays_alike_is_a_correlation(times: list[float], forgets_s: float, smooth: bool):
    """At any times it is symmetric, one with itself, between nought and one, and has no negative eigenvalue."""
    when = np.array(times)
    found = Kind(forgets_s, smooth=smooth).alike(when, when)
    np.testing.assert_allclose(found, found.T)
    np.testing.assert_allclose(np.diag(found), 1.0)
    assert ((found >= 0) & (found <= 1 + 1e-12)).all()
    assert np.linalg.eigvalsh(found).min() > -1e-10 * len(when)


def changes_of(gaps: Gaps, kind: Kind, *, s_m: float) -> Floats:
    """The covariance of drift's changes: that of e(high) - e(low), written out."""
    low, high = gaps.low_s, gaps.high_s
    across = kind.alike(high, low)
    return np.asarray(s_m**2 * (kind.alike(high, high) + kind.alike(low, low) - across - across.T))


def density(left_m: Floats, cov: Any) -> float:
    """Logarithm of a normal density, without the constant."""
    return float(-0.5 * left_m @ np.linalg.solve(cov, left_m) - 0.5 * np.linalg.slogdet(cov)[1])


@pytest.mark.parametrize("kind", [KINDS[1], KINDS[4]])
def test_a_settings_likelihood_and_a_skips_odds_are_those_of_normal_densities(kind: Kind):
    """What the model updates step by step is what plain densities with the whole covariance give (GPML eq. 2.30)."""
    rng = np.random.default_rng(3)
    gaps = gaps_of(SPACING_M + rng.normal(0, 0.8, (6, 7)))
    stepped = by_jumps(gaps, jumps_at(100.0, 150.0))
    known, score = setting_of(gaps, changes=changes_of(gaps, kind, s_m=1.3), stepped=stepped)
    cov = np.linalg.inv(known.inverse)
    np.testing.assert_allclose(known.left_m, gaps.gap_m - usual_m(gaps) - stepped[0])
    assert score == pytest.approx(density(known.left_m, cov), rel=1e-9)
    events = events_at(gaps, np.arange(15, 20), spacing_m=SPACING_M, step=-4.0)
    assert {event.true for event in events} == {True, False}
    for event in events:
        wider = cov + event.spread_m**2 * np.outer(event.column, event.column)
        shifted = known.left_m - event.mean_m * event.column
        expected = density(shifted, wider) - density(known.left_m, cov) + event.log_odds
        assert odds_of(known, event)[0] == pytest.approx(expected, rel=1e-8)
        taken = taken_for_real(known, [event])
        np.testing.assert_allclose(np.linalg.inv(taken.inverse), wider, rtol=1e-6, atol=1e-7)
        np.testing.assert_allclose(taken.left_m, shifted)
        widens = event.true * event.column
        np.testing.assert_allclose(taken.true_cov - known.true_cov, event.spread_m**2 * np.outer(widens, widens))
        np.testing.assert_allclose(taken.true_m - known.true_m, event.mean_m * widens)


def test_two_skips_taken_for_real_are_both_in_the_density():
    """Taken one after the other, their order does not matter, and the covariance has both."""
    gaps = gaps_of(SPACING_M + np.random.default_rng(5).normal(0, 0.3, (6, 7)))
    known, _ = setting_of(gaps, changes=changes_of(gaps, KINDS[0], s_m=0.5), stepped=by_jumps(gaps, NO_JUMPS))
    one, other = (events_at(gaps, s, spacing_m=SPACING_M, step=-4.0)[0] for s in (np.arange(8, 12), np.arange(22, 27)))
    ahead, back = taken_for_real(known, [one, other]), taken_for_real(known, [other, one])
    np.testing.assert_allclose(ahead.inverse, back.inverse, atol=1e-9)
    wider = np.linalg.inv(known.inverse) + sum(e.spread_m**2 * np.outer(e.column, e.column) for e in (one, other))
    np.testing.assert_allclose(np.linalg.inv(ahead.inverse), wider, rtol=1e-6, atol=1e-7)


@pytest.mark.parametrize("kind", [Kind(60.0, smooth=False), Kind(50.0, smooth=True)])
def test_drift_is_covered_as_its_process_says(kind: Kind):
    """The drift's part of two gaps' covariance is that of simulated drifts, rough and smooth."""
    gaps, s_m, draws = gaps_of(np.full((3, 3), SPACING_M)), 1.5, 40_000
    stepped = by_jumps(gaps, NO_JUMPS)
    with_drift, _ = setting_of(gaps, changes=changes_of(gaps, kind, s_m=s_m), stepped=stepped)
    without, _ = setting_of(gaps, changes=np.zeros((9, 9)), stepped=stepped)
    said = np.linalg.inv(with_drift.inverse) - np.linalg.inv(without.inverse)
    times = np.unique(np.concatenate([gaps.low_s, gaps.high_s]))
    error = _rough(times, kind, draws) if not kind.smooth else _smooth(times, kind, draws)
    change = s_m * (error[:, np.searchsorted(times, gaps.high_s)] - error[:, np.searchsorted(times, gaps.low_s)])
    # A covariance of so many draws is off by some sqrt(2 / draws) of the variances: five times that is allowed.
    assert np.abs(said - np.cov(change.T)).max() < 5 * np.sqrt(2 / draws) * 2 * s_m**2


def _rough(times: Floats, kind: Kind, draws: int) -> Floats:
    """An Ornstein-Uhlenbeck process, step by step."""
    rng = np.random.default_rng(5)
    error = np.empty((draws, len(times)))
    error[:, 0] = rng.normal(0, 1, draws)
    for i in range(1, len(times)):
        keep = np.exp(-(times[i] - times[i - 1]) / kind.forgets_s)
        error[:, i] = keep * error[:, i - 1] + rng.normal(0, np.sqrt(1 - keep**2), draws)
    return error


def _smooth(times: Floats, kind: Kind, draws: int) -> Floats:
    """A Matern process of nu = 3/2 by its spectrum: cosines whose rates have density 4 k^3 / (2 pi (k^2 + w^2)^2).

    Its rates are k / sqrt(3) times Student's t with three degrees of freedom (GPML section 4.2.1, eq. 4.15).
    """
    rng = np.random.default_rng(5)
    terms = 64
    rate = rng.standard_t(3, (draws, terms)) / kind.forgets_s
    phase = rng.uniform(0, 2 * np.pi, (draws, terms))
    return np.asarray(
        np.stack([np.sqrt(2 / terms) * np.cos(rate * t + phase).sum(axis=1) for t in times.tolist()], axis=1)
    )


def brute_chance(gaps: Gaps, strip: Ints, *, jumps: Jumps, error_m: float) -> tuple[float, float]:
    """The chance and the mean bare width of one strip, by normal densities with nothing updated step by step.

    The model as the module states it: spacing give a quarter of a boom for the plot, aim of 0.2 m for a pair, a
    wander of 0.18 m along it that stays alike for 15 m, a jitter of 0.05 m at both passes, drift, and seen steps.
    """
    spacing_m = usual_m(gaps)
    same = gaps.pair[:, None] == gaps.pair[None, :]
    apart_m = gaps.bin_m * (gaps.bin[:, None] - gaps.bin[None, :])
    true = (0.25 * gaps.boom_m) ** 2 + same * (0.2**2 + 0.18**2 * np.exp(-((apart_m / 15.0) ** 2) / 2))
    weigh = np.zeros(len(gaps))
    weigh[strip] = 1 / len(strip)
    needed_m = gaps.boom_m + 0.5 * (float(gaps.gap_m[strip].mean()) - gaps.boom_m)
    step_m, step_cov = by_jumps(gaps, jumps)
    left_m = gaps.gap_m - spacing_m - step_m
    events = events_at(gaps, strip, spacing_m=spacing_m, step=step_odds(gaps, strip, jumps=jumps))
    nothing = Event(np.zeros(len(gaps)), 0.0, 1.0, 0.0)
    weights, found = [], []
    for kind in KINDS:
        cov = true + changes_of(gaps, kind, s_m=error_m) + 2 * 0.05**2 * np.eye(len(gaps)) + step_cov
        scores, of_each = [], []
        for event in (nothing, *events):
            grown = event.spread_m**2 * np.outer(event.column, event.column)
            real = true + event.true * grown
            gain = np.linalg.solve(cov + grown, real @ weigh)
            mean = spacing_m + event.mean_m * float(event.true * event.column @ weigh)
            mean += float(gain @ (left_m - event.mean_m * event.column))
            var = float(weigh @ real @ weigh - gain @ (real @ weigh))
            scores.append(density(left_m - event.mean_m * event.column, cov + grown) + event.log_odds)
            of_each.append((chance_above(mean - needed_m, var), mean - gaps.boom_m))
        share = np.exp(np.array(scores) - max(scores))
        found.append(share / share.sum() @ np.array(of_each))
        weights.append(max(scores))  # with the likeliest skip inside it, or none
    weight = np.exp(np.array(weights) - max(weights))
    chance, width = weight / weight.sum() @ np.array(found)
    return float(chance), float(width)


@pytest.mark.parametrize("jumps", [NO_JUMPS, jumps_at(130.0, step_m=1.2)])
@pytest.mark.parametrize("error_m", [0.3, 1.0])
@pytest.mark.parametrize("wider_m", [0.7, 1.5, 2.2, 5.0])
def test_chances_are_those_of_normal_densities(wider_m: float, error_m: float, jumps: Jumps):
    """A strip's chance and mean width are those of plain normal densities over all drifts and all that may be."""
    distance = SPACING_M + np.random.default_rng(7).normal(0, 0.2, (6, 7))
    distance[2, 1:6] += wider_m
    gaps, strip = gaps_of(distance), np.arange(15, 20)
    found = judge_gaps(gaps, [strip], jumps=jumps, error_m=error_m)
    chance, width_m = brute_chance(gaps, strip, jumps=jumps, error_m=error_m)
    assert found.chance[0] == pytest.approx(chance, abs=1e-6)
    assert found.bare_width_m[0] == pytest.approx(width_m, abs=1e-5)


def test_a_pass_left_out_is_real_on_a_quiet_recording():
    """One gap of two spacings among even ones is as sure as is ever said; the drift found is small."""
    distance = SPACING_M + np.random.default_rng(2).normal(0, 0.1, (9, 10))
    distance[4] += SPACING_M
    found = judge_gaps(gaps_of(distance), [np.arange(40, 50)], jumps=NO_JUMPS)
    assert found.chance[0] > 0.85
    assert found.left_out.tolist() == [True]
    assert found.drift_m < 0.5
    assert found.bare_width_m[0] == pytest.approx(2 * SPACING_M - BOOM_M, abs=0.3)


def test_drift_alone_is_hardly_ever_called_a_skip():
    """Of forty drives without a skip whose receiver drifts by a third of the spacing, at most two show one."""
    rng = np.random.default_rng(4)
    called = 0
    for _ in range(40):
        gaps = gaps_of(np.full((9, 8), SPACING_M))
        times = np.unique(np.concatenate([gaps.low_s, gaps.high_s]))
        error = [rng.normal(0, SPACING_M / 3)]
        for step in np.diff(times):
            keep = np.exp(-step / 120.0)
            error.append(keep * error[-1] + rng.normal(0, SPACING_M / 3 * np.sqrt(1 - keep**2)))
        place = np.searchsorted(times, [gaps.low_s, gaps.high_s])
        swayed = replace(gaps, gap_m=gaps.gap_m + np.array(error)[place[1]] - np.array(error)[place[0]])
        widest = int(np.argmax(np.bincount(swayed.pair, weights=swayed.gap_m)))
        strip = np.flatnonzero((swayed.pair == widest) & (swayed.gap_m > BOOM_M))
        called += len(strip) > 0 and judge_gaps(swayed, [strip], jumps=NO_JUMPS).chance[0] >= 0.8
    assert called <= 2


def test_a_step_that_was_seen_is_not_called_a_skip():
    """A gap widened by a step in the pass beside it is hardly real, and the step is no drift."""
    distance = SPACING_M + np.random.default_rng(2).normal(0, 0.1, (9, 10))
    gaps, jumps = gaps_of(distance), jumps_at(202.0, step_m=6.0)
    stepped = replace(gaps, gap_m=gaps.gap_m + by_jumps(gaps, jumps)[0])
    strip = np.flatnonzero((stepped.pair == 4) & (stepped.gap_m > BOOM_M + 1.0))
    assert len(strip) >= 3
    found = judge_gaps(stepped, [strip], jumps=jumps)
    assert found.chance[0] < 0.1
    assert found.drift_m < 0.3
    # Unseen, the same widening is drift for the most part.
    assert judge_gaps(stepped, [strip], jumps=jumps_at()).drift_m > 2 * found.drift_m


def test_a_step_that_was_seen_gives_back_the_ground_that_it_hides():
    """A pass left out, its gap narrowed by a seen step of 2 m, is real and as wide as it truly is."""
    distance = SPACING_M + np.random.default_rng(2).normal(0, 0.1, (9, 10))
    distance[4] += SPACING_M
    gaps, jumps = gaps_of(distance), jumps_at(202.0, step_m=-2.0)
    narrowed = replace(gaps, gap_m=gaps.gap_m + by_jumps(gaps, jumps)[0])
    bare_m = 2 * SPACING_M - BOOM_M
    recorded_m = float(narrowed.gap_m[40:50].mean()) - BOOM_M
    assert recorded_m < bare_m - 1.0
    found = judge_gaps(narrowed, [np.arange(40, 50)], jumps=jumps)
    assert found.chance[0] > 0.9
    assert found.bare_width_m[0] == pytest.approx(bare_m, abs=0.4)


def test_the_users_word_on_the_receiver_counts():
    """A gap that swells by 2 m and back is real for a receiver good to 5 cm, hardly for one that drifts 1 or 3 m."""
    distance = np.full((9, 10), SPACING_M)
    distance[4] += 2.0 * np.sin(np.linspace(0, np.pi, 10))
    strip = [np.arange(43, 47)]
    found = [judge_gaps(gaps_of(distance), strip, jumps=NO_JUMPS, error_m=e) for e in (0.05, 1.0, 3.0)]
    assert found[0].chance[0] > 0.95
    assert max(found[1].chance[0], found[2].chance[0]) < 0.2
    assert [one.drift_m for one in found] == pytest.approx([0.05, 1.0, 3.0])
    assert [one.ratio * SPACING_M for one in found] == pytest.approx([0.05, 1.0, 3.0])


def test_no_strip_leaves_the_drift_to_be_told():
    """Without strips there is no chance to tell, and the drift is found all the same."""
    found = judge_gaps(gaps_of(np.full((5, 6), SPACING_M)), [], jumps=NO_JUMPS)
    assert (found.chance.shape, found.bare_width_m.shape, found.left_out.shape) == ((0,), (0,), (0,))
    assert found.drift_m < 0.3


def test_chances_are_those_of_the_normal_table():
    """One and two standard deviations above nothing: 0.8413 and 0.9772 (any table of the normal distribution)."""
    assert chance_above(1.0, 1.0) == pytest.approx(0.8413, abs=5e-5)
    assert chance_above(3.0, 2.25) == pytest.approx(0.9772, abs=5e-5)
    assert chance_above(0.0, 4.0) == 0.5
    assert log(chance_above(-3.0, 1.0)) == pytest.approx(log(0.00135), abs=0.01)
