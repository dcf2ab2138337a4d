"""Tracks drawn again: against closed forms, against the engine itself, and on drawn applications.

A few plots cannot prove a rate; ``python -m tests.bench --only redraw`` measures it on hundreds.
"""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from gladebook.coverage.boom import Settled, settle_boom
from gladebook.coverage.compute import cover_plots
from gladebook.coverage.copies import set_stage, sweep_copies
from gladebook.coverage.redraw import (
    ReceiverError,
    Redraws,
    acres_range,
    draw_errors,
    ranges_of,
    redraw,
)
from gladebook.errors import CallError, TrackError
from gladebook.geometry.sweep import Wish, choose_engine
from gladebook.passes.path import CutRules, Path, lay_out
from gladebook.passes.sprayer import Lanes, Sprayer
from gladebook.plots.acreage import measure_plots
from gladebook.testing import OPEN_SKY, PLACE, Simulated, as_plot, as_track, draw_application
from gladebook.testing.driving import Habits

Floats = NDArray[np.float64]

WISHES: tuple[Wish, ...] = ("numpy", "compiled") if choose_engine(0, wish="compiled").compiled else ("numpy",)
BOOM_M = 8.0


def driven(xy_m: Floats, *, boom_m: float = BOOM_M, on: Any = True) -> Settled:
    """A track on the plane with its boom on, or as `on` has it."""
    n = len(xy_m)
    states = np.broadcast_to(np.asarray(on), n).copy()
    half_m = np.full((1, n), boom_m / 2)
    path = Path(
        name="drive",
        xy_m=xy_m,
        time_s=np.arange(n, dtype=np.float64),
        speed_mps=np.full(n, np.nan),
        boom_on=states.astype(np.int8),
        width_m=np.full(n, boom_m),
        cut=np.zeros(n - 1, dtype=bool),
        backwards=np.zeros(n - 1, dtype=bool),
        top_mps=20.0,
    )
    return Settled(path, Lanes(on=states[None], left_m=half_m, right_m=-half_m, behind_m=0.0), (), ())


def along(y_m: float, *, west: float = -40.0, east: float = 240.0, step_m: float = 2.0) -> Floats:
    x = np.arange(west, east + step_m / 2, step_m)
    return np.column_stack([x, np.full(len(x), y_m)])


def recorded(drawn: Simulated) -> Settled:
    path = lay_out(as_track(drawn), frame=PLACE, rules=CutRules())
    return settle_boom(path, sprayer=Sprayer(width_m=drawn.boom_m), ground=drawn.plot)


def application(seed: int, *, drift_m: float = 1.0, acres: float = 1.0, boom_m: float = 6.0) -> Simulated:
    setting = replace(OPEN_SKY, drift_m=drift_m)
    habits = Habits(records=1.0, on_record=True)
    return draw_application(np.random.default_rng(seed), setting=setting, boom_m=boom_m, acres=acres, habits=habits)


def test_drift_has_the_covariance_of_an_ornstein_uhlenbeck_process():
    """At uneven times, stamps shared and long gaps among them, the covariance is shift^2 + s^2 exp(-|dt| / tau)."""
    time_s = np.array([0.0, 1.0, 1.0, 30.0, 100.0, 260.0, 1300.0, 1301.0, 1400.0, 9000.0, 9050.0])
    error = ReceiverError(drift_m=1.5, shift_m=0.5, forgets_s=120.0)
    drawn = draw_errors(time_s, error=error, draws=40_000, rng=np.random.default_rng(3))
    expected = 0.5**2 + 1.5**2 * np.exp(-np.abs(time_s[:, None] - time_s[None, :]) / 120.0)
    for axis in (0, 1):
        # The s.d. of a covariance of 40,000 draws is some 2.5 / sqrt(20,000) = 0.018.
        np.testing.assert_allclose(np.cov(drawn[:, :, axis].T), expected, atol=0.075)
        np.testing.assert_allclose(drawn[:, :, axis].mean(axis=0), 0.0, atol=0.04)
    np.testing.assert_allclose(np.mean(drawn[:, :, 0] * drawn[:, :, 1], axis=0), 0.0, atol=0.06)
    np.testing.assert_array_equal(drawn[:, 1], drawn[:, 2])


def test_drift_summed_in_blocks_is_the_one_summed_step_by_step():
    """Sums over ten correlation times at once give what one step after the other does."""
    time_s = np.cumsum(np.random.default_rng(0).uniform(0.0, 40.0, 900))
    error = ReceiverError(drift_m=2.0, forgets_s=60.0)
    found = draw_errors(time_s, error=error, draws=3, rng=np.random.default_rng(5))
    normal = np.random.default_rng(5).standard_normal((3, 900, 2))
    step = normal[:, 0]
    for i in range(1, 900):
        keep = np.exp(-(time_s[i] - time_s[i - 1]) / 60.0)
        step = keep * step + np.sqrt(1 - keep**2) * normal[:, i]
        np.testing.assert_allclose(found[:, i], 2.0 * step, atol=1e-9)


@pytest.mark.parametrize("wish", WISHES)
def test_a_shifted_pass_misses_the_mean_of_a_half_normal(wish: Wish):
    """One pass as wide as its plot misses, and sprays outside, length x |shift|: on average length x s sqrt(2 / pi)."""
    ground = shapely.box(0, 0, 200, BOOM_M)
    pass_ = driven(along(BOOM_M / 2))
    error = ReceiverError(drift_m=0.0, shift_m=0.8)
    found = redraw([pass_], ground=ground, error=error, draws=1000, wish=wish)
    np.testing.assert_allclose(found.recorded_m2, [1600.0, 0.0, 0.0, 80 * BOOM_M], atol=0.01)
    treated, missed, overlap, outside = found.drawn_m2.mean(axis=0)
    mean_m2 = 200 * 0.8 * np.sqrt(2 / np.pi)
    # The s.d. of |shift| is 0.8 sqrt(1 - 2 / pi) = 0.48 m: 200 m of it is 3 m2 in the mean of 1,000.
    assert missed == pytest.approx(mean_m2, abs=9)
    assert missed + treated == pytest.approx(1600, abs=0.01)
    assert outside == pytest.approx(80 * BOOM_M + missed, abs=0.02)
    assert overlap == pytest.approx(0.0, abs=1e-9)


def test_two_passes_that_drift_apart_miss_the_positive_part_of_a_normal_number():
    """Between two passes that touch, driven long apart, the mean bare ground is length x s sqrt 2 / sqrt(2 pi)."""
    there, back = along(BOOM_M / 2), along(1.5 * BOOM_M)[::-1]
    way = np.concatenate([there, back])
    both = driven(way)
    time_s = both.path.time_s + np.where(np.arange(len(way)) >= len(there), 50_000.0, 0.0)
    cut = both.path.cut.copy()
    cut[len(there) - 1] = True
    both = replace(both, path=replace(both.path, time_s=time_s, cut=cut, top_mps=float("nan")))
    ground = shapely.box(50, 4, 150, 12)
    # A drift that forgets so slowly is one shift for each pass: far from its ends, edges of the plot play no part.
    error = ReceiverError(drift_m=0.5, shift_m=0.0, forgets_s=10_000.0)
    both = replace(both, lanes=replace(both.lanes, on=both.lanes.on & ~np.append(cut, False)))
    found = redraw([both], ground=ground, error=error, draws=1000, wish=WISHES[-1])
    mean_m2 = 100 * 0.5 * np.sqrt(2) / np.sqrt(2 * np.pi)
    # The positive part has an s.d. of 1.46 means: 5 % in the mean of 1,000.
    assert found.drawn_m2[:, 1].mean() == pytest.approx(mean_m2, rel=0.12)
    assert found.drawn_m2[:, 2].mean() == pytest.approx(mean_m2, rel=0.12)


def test_a_receiver_without_error_changes_nothing():
    """With no drift and no shift every redraw is the recording, and the range is one number."""
    drawn = application(3)
    settled = recorded(drawn)
    found = redraw([settled], ground=drawn.plot, error=ReceiverError(0.0), draws=5)
    np.testing.assert_allclose(found.drawn_m2, np.tile(found.recorded_m2, (5, 1)), atol=1e-6)
    told = acres_range([settled], ground=drawn.plot, error=ReceiverError(0.0), draws=5)
    assert told.missed_m2 == pytest.approx((found.recorded_m2[1],) * 2, abs=1e-6)


@pytest.mark.parametrize("wish", WISHES)
def test_a_redraw_is_what_the_command_finds_of_a_recording_with_that_error(wish: Wish):
    """Copies laid apart have the figures that `cover_plots` has of a moved recording, to a thousandth of the plot."""
    drawn = application(8)
    sprayer = Sprayer(width_m=drawn.boom_m, behind_m=1.5, right_m=0.4)
    for moved_m in ((0.0, 0.0), (3.0, -2.0)):
        lonlat = PLACE.to_lonlat(drawn.recorded_xy_m + np.array(moved_m))
        track = replace(as_track(drawn), lon_deg=lonlat[:, 0], lat_deg=lonlat[:, 1])
        told = cover_plots(measure_plots([as_plot(drawn)]).plots, [track], sprayer=sprayer)
        settled = settle_boom(lay_out(track, frame=PLACE, rules=CutRules()), sprayer=sprayer, ground=drawn.plot)
        stage = set_stage([settled], ground=drawn.plot, draws=3, wish=wish)
        found = sweep_copies(stage, [np.zeros((3, stage.points, 2))], copies=3)
        expected = [told.treated_m2, told.missed_m2, told.overlap_m2, told.outside_m2]
        np.testing.assert_allclose(found, np.tile(expected, (3, 1)), atol=1e-3 * drawn.plot.area)


def test_coarse_lines_cost_far_less_than_the_draws_spread(monkeypatch: pytest.MonkeyPatch):
    """Against lines five times as close, the figures of a redraw move by less than a twentieth of their spread."""
    drawn = application(2, drift_m=0.5, acres=0.7, boom_m=9.0)
    settled, error = recorded(drawn), ReceiverError(0.5, 0.5)
    coarse = redraw([settled], ground=drawn.plot, error=error, draws=40)
    monkeypatch.setattr("gladebook.coverage.copies._LINES", 1000)
    monkeypatch.setattr("gladebook.coverage.copies._FINEST_M", 0.01)
    fine = redraw([settled], ground=drawn.plot, error=error, draws=40)
    off = (coarse.drawn_m2 - coarse.recorded_m2) - (fine.drawn_m2 - fine.recorded_m2)
    assert (np.sqrt((off**2).mean(axis=0)) < fine.drawn_m2.std(axis=0) / 20).all()


def test_the_same_job_gets_the_same_ranges_from_both_engines(monkeypatch: pytest.MonkeyPatch):
    """Draws are fixed: a second call and the other engine give the same numbers, also where lots are small."""
    drawn = application(4)
    settled, error = recorded(drawn), ReceiverError(1.0, 1.0)
    first = [redraw([settled], ground=drawn.plot, error=error, draws=12, wish=w).drawn_m2 for w in (*WISHES, "numpy")]
    np.testing.assert_array_equal(first[0], first[-1])
    for other in first[1:]:
        np.testing.assert_allclose(other, first[0], atol=1e-5)
    monkeypatch.setattr("gladebook.coverage.redraw._LOT_POINTS", 1)
    again = redraw([settled], ground=drawn.plot, error=error, draws=12).drawn_m2
    np.testing.assert_allclose(again.mean(axis=0), first[0].mean(axis=0), rtol=0.2)


def test_ranges_follow_their_rule():
    """By hand: recorded 100 missed, redraws 120 to 140: truth is 100 - k 30 - scatter, k from 1 to 2.414."""
    scatter = np.linspace(-10, 10, 41)  # its 2.5 and 97.5 % lie one step within the ends
    drawn = np.column_stack([870 - scatter, 130 + scatter, np.full(41, 60.0), np.full(41, 20.0)])
    told = ranges_of(Redraws(np.array([900.0, 100.0, 50.0, 15.0]), drawn, ground_m2=1000.0))
    assert told.missed_m2 == pytest.approx((100 - 30 * 2.41421356 - 9.5, 100 - 30 + 9.5))
    assert told.treated_m2 == pytest.approx((1000 - 79.5, 1000 - (100 - 30 * 2.41421356 - 9.5)))
    # Overlap may have gained all that missed did less what went outside: 2.414 x (30 - 5) is more than 2.414 x 10.
    assert told.overlap_m2 == pytest.approx((0.0, 40.0))
    assert told.outside_m2 == pytest.approx((15 - 5 * 2.41421356, 10.0))
    assert told.draws == 41


def test_ranges_stay_within_what_is_possible():
    """No range ends below nothing or beyond the plot; ground outside has no ceiling."""
    drawn = np.column_stack([np.full(9, 500.0), np.full(9, 500.0), np.full(9, 990.0), np.full(9, 100.0)])
    told = ranges_of(Redraws(np.array([990.0, 10.0, 995.0, 2000.0]), drawn, ground_m2=1000.0))
    assert told.missed_m2 == (0.0, 0.0)
    assert told.treated_m2 == (1000.0, 1000.0)
    assert told.overlap_m2[1] == 1000.0
    assert told.outside_m2[1] > 1000.0


def test_most_ranges_hold_the_truth_where_the_redraws_themselves_do_not():
    """On twelve drawn plots at least ten ranges of missed ground hold it, and at most four of the plain percentiles."""
    held, plain = 0, 0
    for seed in range(12):
        drawn = application(100 + seed)
        error = ReceiverError(1.0, OPEN_SKY.shift_m)
        found = redraw([recorded(drawn)], ground=drawn.plot, error=error, draws=60)
        low, high = ranges_of(found).missed_m2
        held += low - 1 <= drawn.missed.area <= high + 1
        low, high = np.quantile(found.drawn_m2[:, 1], [0.025, 0.975]).tolist()
        plain += low <= drawn.missed.area <= high
    assert held >= 10
    assert plain <= 4


def test_ground_that_only_a_gap_could_have_covered_is_not_missed():
    """A gap's straight swath stays unknown, in the recording and in redraws."""
    whole = driven(along(BOOM_M / 2))
    cut = whole.path.cut.copy()
    gap = np.flatnonzero((whole.path.xy_m[:-1, 0] >= 80) & (whole.path.xy_m[:-1, 0] < 100))
    cut[gap] = True
    found = redraw(
        [replace(whole, path=replace(whole.path, cut=cut))],
        ground=shapely.box(0, 1, 200, BOOM_M - 1),
        error=ReceiverError(0.0, 0.1),
        draws=20,
    )
    assert found.recorded_m2[:2] == pytest.approx([180 * 6, 0.0], abs=0.01)
    assert found.drawn_m2[:, 1].max() < 2 * 0.5 * 6


def test_tracks_far_from_the_ground_and_none_at_all_leave_it_missed():
    """Where no track comes near, all ground is missed in every redraw."""
    far = driven(along(500.0))
    ground = shapely.box(0, 0, 100, 50)
    for settled in ([far], [], [driven(along(20.0), on=False)]):
        told = acres_range(settled, ground=ground, error=ReceiverError(1.0, 1.0), draws=3)
        assert told.missed_m2 == pytest.approx((5000.0, 5000.0), abs=0.01)
        assert told.treated_m2 == told.overlap_m2 == told.outside_m2 == (0.0, 0.0)


def test_two_tracks_drift_apart_from_each_other():
    """Each track has a shift and a drift of its own: two on one line leave less missed than one, and overlap."""
    ground = shapely.box(0, 0, 200, BOOM_M)
    one = driven(along(BOOM_M / 2))
    error = ReceiverError(0.0, 0.8)
    alone = redraw([one], ground=ground, error=error, draws=400).drawn_m2.mean(axis=0)
    twice = redraw([one, one], ground=ground, error=error, draws=400).drawn_m2.mean(axis=0)
    assert twice[1] < 0.7 * alone[1]
    assert 1000 < twice[2] < 1600


def test_what_cannot_be_drawn_is_refused():
    """No draws, a figure that is none, no ground, and a track without times are each refused in a sentence."""
    pass_ = driven(along(4.0))
    ground = shapely.box(0, 0, 10, 10)
    with pytest.raises(CallError, match="at least once"):
        redraw([pass_], ground=ground, error=ReceiverError(1.0), draws=0)
    for error in (ReceiverError(-1.0), ReceiverError(1.0, float("nan")), ReceiverError(1.0, 0.0, 0.0)):
        with pytest.raises(CallError, match="drift and shift"):
            redraw([pass_], ground=ground, error=error)
    with pytest.raises(CallError, match="no ground"):
        redraw([pass_], ground=shapely.MultiPolygon(), error=ReceiverError(1.0))
    untimed = replace(pass_, path=replace(pass_.path, time_s=np.full(len(pass_.path.xy_m), np.nan)))
    with pytest.raises(TrackError, match="no times"):
        redraw([untimed], ground=ground, error=ReceiverError(1.0))
