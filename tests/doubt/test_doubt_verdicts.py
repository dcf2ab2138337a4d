"""Is the skip real: the model against plain normal densities, its words, and a few drawn drives.

A few plots cannot prove a rate; ``python -m tests.bench --only doubt`` measures them on hundreds.
"""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from gladebook.beside.pass_count import PassCount, PassGap
from gladebook.coverage.compute import cover_plots
from gladebook.coverage.result import Coverage
from gladebook.doubt.drift import TRUST, chance_above, events_at, judge_gaps, odds_of, setting_of, taken_for_real
from gladebook.doubt.gaps import Gaps
from gladebook.doubt.sure_count import sure_count
from gladebook.doubt.verdict import Doubt, Verdict
from gladebook.geometry.frame import Frame
from gladebook.passes.path import CutRules
from gladebook.passes.sprayer import Sprayer
from gladebook.plots.acreage import measure_plots
from gladebook.testing import (
    OPEN_SKY,
    Leg,
    as_plot,
    as_track,
    draw_application,
    drive,
    parallel_passes,
    plot_on,
    rectangle,
    track_on,
    truly_missed,
)
from gladebook.testing.applications import PLACE

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

BOOM_M, SPACING_M = 6.0, 5.5
FRAME = Frame(lon_deg=-86.7, lat_deg=32.4)


def gaps_of(distance_m: Floats, *, pass_s: float = 40.0, boom_m: float = BOOM_M) -> Gaps:
    """Gaps between passes driven to and fro, shape (pairs, bins), bins 6 m long."""
    pairs, bins = distance_m.shape
    pair, at = (each.ravel() for each in np.meshgrid(np.arange(pairs), np.arange(bins), indexing="ij"))

    def when(number: Ints) -> Floats:
        share = (at + 0.5) / bins
        return np.asarray(pass_s * (number + np.where(number % 2 == 0, share, 1 - share)))

    return Gaps(
        pair=pair,
        low=pair,
        high=pair + 1,
        bin=at,
        gap_m=distance_m.ravel(),
        low_s=when(pair),
        high_s=when(pair + 1),
        middle_m=np.zeros((len(pair), 2)),
        bin_m=6.0,
        boom_m=boom_m,
    )


def density(left_m: Floats, cov: Any) -> float:
    """Logarithm of a normal density, without the constant."""
    return float(-0.5 * left_m @ np.linalg.solve(cov, left_m) - 0.5 * np.linalg.slogdet(cov)[1])


def test_a_settings_likelihood_and_a_skips_odds_are_those_of_normal_densities():
    """What the model updates step by step is what plain densities with the whole covariance give (GPML eq. 2.30)."""
    rng = np.random.default_rng(3)
    gaps = gaps_of(SPACING_M + rng.normal(0, 0.8, (6, 7)))
    setting: dict[str, Any] = {"s_m": 1.3, "forgets_s": 120.0, "aim_m": 0.2, "spacing_m": SPACING_M}
    known, score = setting_of(gaps, **setting)
    cov = np.linalg.inv(known.inverse)
    assert score == pytest.approx(density(known.left_m, cov), rel=1e-9)
    for event in events_at(gaps, np.arange(15, 20), spacing_m=SPACING_M):
        wider = cov + event.spread_m**2 * np.outer(event.column, event.column)
        shifted = known.left_m - event.mean_m * event.column
        expected = TRUST * (density(shifted, wider) - density(known.left_m, cov)) + event.log_odds
        assert odds_of(known, event)[0] == pytest.approx(expected, rel=1e-8)
        np.testing.assert_allclose(np.linalg.inv(taken_for_real(known, [event]).inverse), wider, rtol=1e-6, atol=1e-8)


def test_drift_is_covered_as_its_process_says():
    """The drift's part of two gaps' covariance is that of a simulated Ornstein-Uhlenbeck process."""
    gaps = gaps_of(np.full((3, 3), SPACING_M))
    s_m, forgets_s = 1.5, 60.0
    with_drift, _ = setting_of(gaps, s_m=s_m, forgets_s=forgets_s, aim_m=0.2, spacing_m=SPACING_M)
    without, _ = setting_of(gaps, s_m=0.0, forgets_s=forgets_s, aim_m=0.2, spacing_m=SPACING_M)
    said = np.linalg.inv(with_drift.inverse) - np.linalg.inv(without.inverse)
    times = np.unique(np.concatenate([gaps.low_s, gaps.high_s]))
    rng, draws = np.random.default_rng(5), 40_000
    error = np.empty((draws, len(times)))
    error[:, 0] = rng.normal(0, s_m, draws)
    for i in range(1, len(times)):
        keep = np.exp(-(times[i] - times[i - 1]) / forgets_s)
        error[:, i] = keep * error[:, i - 1] + rng.normal(0, s_m * np.sqrt(1 - keep**2), draws)
    change = error[:, np.searchsorted(times, gaps.high_s)] - error[:, np.searchsorted(times, gaps.low_s)]
    # A covariance of so many draws is off by some sqrt(2 / draws) of the variances: five times that is allowed.
    assert np.abs(said - np.cov(change.T)).max() < 5 * np.sqrt(2 / draws) * 2 * s_m**2


def test_a_pass_left_out_is_real_on_a_quiet_recording():
    """One gap of two spacings among even ones is as sure as is ever said; the drift found is small."""
    distance = SPACING_M + np.random.default_rng(2).normal(0, 0.1, (9, 10))
    distance[4] += SPACING_M
    found = judge_gaps(gaps_of(distance), [np.arange(40, 50)])
    assert found.chance[0] > 0.85
    assert found.left_out.tolist() == [True]
    assert found.drift_m < 0.5


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
        called += len(strip) > 0 and judge_gaps(swayed, [strip]).chance[0] >= 0.8
    assert called <= 2


def test_the_users_word_on_the_receiver_counts():
    """A gap that swells by 2 m and back is real for a receiver good to 5 cm, hardly for one that drifts 1 or 3 m."""
    distance = np.full((9, 10), SPACING_M)
    distance[4] += 2.0 * np.sin(np.linspace(0, np.pi, 10))
    strip = [np.arange(43, 47)]
    chance = [judge_gaps(gaps_of(distance), strip, error_m=error_m).chance[0] for error_m in (0.05, 1.0, 3.0)]
    assert chance[0] > 0.95
    assert max(chance[1:]) < 0.2


def test_chances_are_those_of_the_normal_table():
    """One and two standard deviations above nothing: 0.8413 and 0.9772 (any table of the normal distribution)."""
    assert chance_above(1.0, 1.0) == pytest.approx(0.8413, abs=5e-5)
    assert chance_above(3.0, 2.25) == pytest.approx(0.9772, abs=5e-5)
    assert chance_above(0.0, 4.0) == 0.5


def drawn_coverage(*, drift_m: float, seed: int, rules: CutRules | None = None) -> tuple[Any, Coverage]:
    receiver = replace(OPEN_SKY, drift_m=drift_m)
    drawn = draw_application(np.random.default_rng(seed), setting=receiver, boom_m=BOOM_M, acres=1.0)
    plots = measure_plots([as_plot(drawn)]).plots
    return drawn, cover_plots(plots, [as_track(drawn)], sprayer=Sprayer(width_m=BOOM_M), rules=rules)


def test_what_is_said_to_be_real_is_real():
    """Of all strips of twelve drawn plots with a metre of drift that are "go look", at most one in ten is not real."""
    go, real = 0, 0
    for seed in range(300, 312):
        drawn, coverage = drawn_coverage(drift_m=1.0, seed=seed)
        for strip in coverage.strips:
            if strip.verdict.word == "go look":
                go += 1
                real += truly_missed(drawn, PLACE.shape_to_plane(strip.shape)) >= 0.5
                assert strip.verdict.chance_real is not None
                assert 0.8 <= strip.verdict.chance_real <= 0.9
    assert go >= 1
    assert real >= 0.9 * go


def evenly(*, leave_out: tuple[int, ...] = (), interval_s: float = 1.0, error_m: float | None = None) -> Coverage:
    """Straight passes along a plot of 60 by 100 m, recorded without error."""
    ground = rectangle(60.0, 100.0)
    start, legs = parallel_passes(ground, width_m=BOOM_M, spacing_m=SPACING_M, leave_out=leave_out)
    points = drive(start, legs, interval_s=interval_s)
    plots = measure_plots([plot_on("North Glade", ground, frame=FRAME)]).plots
    rules = CutRules(error_m=error_m, gap_s=60.0)
    return cover_plots(plots, [track_on(points, frame=FRAME)], sprayer=Sprayer(width_m=BOOM_M), rules=rules)


def test_a_pass_left_out_is_told_by_passes():
    """Of eleven passes the fifth is left out: go look between the 4th and 5th driven, the whole way, and counted."""
    coverage = evenly(leave_out=(5,))
    verdict = coverage.strips[0].verdict
    assert (verdict.word, verdict.cause, verdict.after) == ("go look", "whole pass missing", 4)
    assert verdict.where == "between your 4th and 5th pass, the whole way"
    count = coverage.passes[0]
    assert (count.found, count.needed) == (10, 11)
    assert [(gap.after, gap.missing) for gap in count.gaps] == [(4, 1)]
    assert "give or take one at the edges" in count.sentences[0]
    doubt = coverage.doubts[0]
    assert doubt.silent == ""
    assert doubt.bare_m2 is not None
    recorded, low, high = doubt.bare_m2
    assert recorded == pytest.approx((2 * SPACING_M - BOOM_M) * 100.0, rel=0.1)
    assert low < recorded < high


def test_points_far_apart_tell_nothing():
    """With four seconds between points no strip is called real, and one sentence says why."""
    coverage = evenly(leave_out=(5,), interval_s=4.0)
    assert {strip.verdict.word for strip in coverage.strips} == {"can't tell"}
    assert coverage.doubts[0].silent == "The recording's points are 4 seconds apart; over 3 is too far."
    assert coverage.passes[0].needed is None


def test_a_receiver_that_is_far_off_tells_nothing():
    """Where the user says that it drifts by more than half the boom, nothing is called real."""
    coverage = evenly(leave_out=(5,), error_m=0.51 * BOOM_M)
    assert {strip.verdict.word for strip in coverage.strips} == {"can't tell"}
    assert "drifts" in coverage.doubts[0].silent


def test_a_boom_that_the_record_shows_off_is_listed_apart():
    """Ground driven over with the boom off on the record is "boom off", whatever the drift."""
    ground = rectangle(60.0, 100.0)
    start, legs = parallel_passes(ground, width_m=BOOM_M, spacing_m=SPACING_M)
    whole = legs[6]  # along the fourth pass: it ends at 100 m or at 0
    near, far = (30.0, 70.0) if whole.y_m > 50 else (70.0, 30.0)
    parts = [Leg(whole.x_m, near, boom_on=True), Leg(whole.x_m, far, boom_on=False), whole]
    off = [*legs[:6], *parts, *legs[7:]]
    plots = measure_plots([plot_on("North Glade", ground, frame=FRAME)]).plots
    coverage = cover_plots(plots, [track_on(drive(start, off), frame=FRAME)], sprayer=Sprayer(width_m=BOOM_M))
    assert coverage.strips[0].verdict.word == "boom off"
    assert coverage.strips[0].verdict.chance_real is None


def test_a_boom_off_for_less_than_its_width_is_told_too():
    """A gap of 3 m with a boom of 6 m on the record is "boom off": its length is measured along the drive."""
    ground = rectangle(60.0, 100.0)
    start, legs = parallel_passes(ground, width_m=BOOM_M, spacing_m=SPACING_M)
    whole = legs[6]
    near, far = (48.5, 51.5) if whole.y_m > 50 else (51.5, 48.5)
    parts = [Leg(whole.x_m, near, boom_on=True), Leg(whole.x_m, far, boom_on=False), whole]
    plots = measure_plots([plot_on("North Glade", ground, frame=FRAME)]).plots
    track = track_on(drive(start, [*legs[:6], *parts, *legs[7:]]), frame=FRAME)
    coverage = cover_plots(plots, [track], sprayer=Sprayer(width_m=BOOM_M))
    assert coverage.strips[0].area_m2 == pytest.approx(15.0, abs=2.0)
    assert coverage.strips[0].verdict.word == "boom off"


COUNT = PassCount("North Glade", 10, 11, (PassGap(4, 1, "north side", (0, 0), (1, 1)),), 5.5, None, ("old.",))
SURE = Doubt("North Glade", 0.5, 5.5)


def test_a_gap_counts_only_where_it_is_sure():
    """One to go and look at counts, one that is hardly real does not, and in between nothing is said."""
    real = sure_count(COUNT, verdicts=[Verdict("go look", 0.9, after=4)], doubt=SURE)
    assert (real.needed, len(real.gaps)) == (11, 1)
    not_real = sure_count(COUNT, verdicts=[Verdict("can't tell", 0.05, after=4)], doubt=SURE)
    assert (not_real.needed, not_real.gaps) == (10, ())
    between = sure_count(COUNT, verdicts=[Verdict("can't tell", 0.5, after=4)], doubt=SURE)
    assert between.needed is None
    assert between.why == "The recording drifts too far to be sure of every gap."
    assert sure_count(COUNT, verdicts=[], doubt=replace(SURE, silent="No.")).needed is None
    assert sure_count(COUNT, verdicts=[], doubt=None) == COUNT
