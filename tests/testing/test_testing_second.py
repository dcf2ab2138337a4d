"""The second generator, and how the bench scores a method: what they say is so."""

from collections.abc import Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import shapely

from gladebook.coverage.strips import strip_size_m
from gladebook.testing import OPEN_SKY, PLACE, UNDER_LEAVES, Habits, Receiver, Simulated, draw_application, swept
from gladebook.units import ACRE_M2, FT_M
from tests.bench.doubt import Score, score_plot
from tests.bench.second_drives import draw_application as draw_second
from tests.bench.second_drives import second_error
from tests.oracle import Drive, count_at

EXACT = Receiver("none", shift_m=0.0, drift_m=0.0, jitter_m=0.0)
BOOM_M = 20 * FT_M


@pytest.mark.parametrize("seed", range(5))
def test_the_second_generator_tells_the_truth(seed: int):
    """Its driven ground is what the boom went over, planted ground is bare, and a seed gives it again."""
    a, b = (draw_second(np.random.default_rng(seed), setting=EXACT, boom_m=BOOM_M, acres=1.0, step_s=0.2) for _ in "ab")
    np.testing.assert_array_equal(a.recorded_xy_m, b.recorded_xy_m)
    assert a.plot.area == pytest.approx(ACRE_M2, rel=1e-6)
    assert np.abs(a.error_m).max() == 0.0
    for skip in a.planted:
        assert shapely.area(shapely.intersection(skip.shape, a.driven)) < 1e-3
        assert shapely.area(shapely.difference(skip.shape, a.plot)) < 1e-3
    west, south, east, north = a.plot.bounds
    places = np.random.default_rng(seed).uniform((west, south), (east, north), (5_000, 2))
    swept = count_at([Drive(xy_m=a.true_xy_m, on=a.boom_on, width_m=a.boom_m)], places) > 0
    wrong = places[swept != shapely.contains_xy(a.driven, *places.T)]
    # The record is as fine as the way itself but not in step with it, and switches by up to 0.2 s late.
    assert (shapely.distance(shapely.points(wrong), shapely.boundary(a.driven)) < 0.6).all()


def test_the_second_error_has_the_sizes_of_its_setting():
    """Drift by sinusoids has the s.d. asked for along each axis, at any time; jitter and steps add theirs."""
    rng, time_s = np.random.default_rng(1), np.arange(0.0, 600.0, 60.0)
    slow = Receiver("drift", shift_m=0.0, drift_m=2.0, jitter_m=0.0)
    errors = np.array([second_error(slow, time_s, rng) for _ in range(1500)])
    spread = errors**2
    error = spread.std(axis=0) / np.sqrt(len(spread))
    assert (np.abs(spread.mean(axis=0) - 4.0) <= 4.5 * error).all()
    fast = replace(slow, drift_m=0.0, jitter_m=0.3)
    jitter = second_error(fast, np.arange(0.0, 20_000.0), rng)
    assert jitter.std() == pytest.approx(0.3, rel=0.05)
    jumpy = replace(slow, drift_m=0.0, jumps_an_hour=30.0, jump_m=3.0)
    steps = np.hypot(*np.diff(second_error(jumpy, np.arange(0.0, 3600.0), rng), axis=0).T)
    assert 20 <= (steps > 1.0).sum() <= 100  # 30 steps, there and back


Told = tuple[Any, str | None]  # a strip on the plane, and its verdict


def lists(told: Sequence[Told], *, simulated: Simulated, silent: str = "", missed_m2: Any = None) -> Any:
    """A method that tells of the strips given, and nothing else."""
    strips = []
    for shape_m, word in told:
        length_m, width_m = strip_size_m(shape_m)
        strip = {"shape": PLACE.shape_to_lonlat(shape_m), "length_m": length_m, "width_m": width_m}
        verdict = {} if word is None else {"verdict": SimpleNamespace(word=word, chance_real=0.8)}
        strips.append(SimpleNamespace(**strip, **verdict))
    count = SimpleNamespace(found=10, needed=11, gaps=(SimpleNamespace(after=3, missing=1),))
    doubts = (SimpleNamespace(silent=silent, missed_m2=missed_m2),)
    assert simulated.planted
    return lambda *_, **__: SimpleNamespace(strips=strips, passes=(count,), doubts=doubts)


def with_a_row_left_out(setting: Receiver = EXACT) -> Simulated:
    habits = Habits(skips=("left out",), records=1.0, plain=True)
    return draw_application(np.random.default_rng([20, 3]), setting=setting, boom_m=BOOM_M, acres=1.2, habits=habits)


@pytest.mark.parametrize("word", ["go look", None])
def test_a_method_that_tells_the_truth_scores_full_marks(word: str | None):
    """Told by verdict or as a plain strip long and wide enough, a true skip counts as real and as found."""
    a, score = with_a_row_left_out(), Score()
    truth, missed_m2 = a.planted[0].shape, a.missed.area
    ends_m2 = (missed_m2 * 0.9, missed_m2 * 1.1)
    score_plot(a, score, cover=lists([(truth, word)], simulated=a, missed_m2=ends_m2))
    assert (score.real, score.left_out, score.large, score.told) == ([True], [True], [True], [True])
    assert (score.count, score.holds, score.silent) == ([True], [True], [False])
    assert score.chances == ([(0.8, True)] if word else [])
    assert score.acres == pytest.approx(1.2, rel=1e-3)


def test_a_blind_method_finds_nothing_and_a_silent_one_says_so():
    """With no strip nothing is found; silence on purpose counts as "can't tell", and so does that verdict."""
    a = with_a_row_left_out()
    truth = a.planted[0].shape
    marks = []
    for told, silent in (([], ""), ([], "Too few passes."), ([(truth, "can't tell")], "")):
        score = Score()
        score_plot(a, score, cover=lists(told, simulated=a, silent=silent, missed_m2=(0.0, 1.0)))
        assert (score.real, score.large, score.left_out, score.holds) == ([], [False], [False], [False])
        marks.append((score.told, score.silent))
    assert marks == [([False], [False]), ([True], [True]), ([True], [False])]


def test_a_method_that_tells_of_driven_ground_is_wrong():
    """A strip on driven ground is false, and finds nothing beside it; a boom off on record is scored apart."""
    a, score = with_a_row_left_out(), Score()
    driven = shapely.intersection(a.plot, shapely.buffer(a.missed, 20)) - shapely.buffer(a.missed, 1)
    driven = max(shapely.get_parts(driven), key=shapely.area)
    score_plot(a, score, cover=lists([(driven, "go look"), (driven, "boom off")], simulated=a))
    assert (score.real, score.large, score.told, score.holds) == ([False], [False], [False], [])


def test_plain_strips_too_small_to_list_are_not_told():
    """A strip with no verdict counts from 30 ft by half a boom up."""
    a = with_a_row_left_out()
    for size_m, told in (((9.0, 4.0), 0), ((9.3, 2.9), 0), ((9.3, 3.2), 1)):
        score = Score()
        score_plot(a, score, cover=lists([(shapely.box(0, 0, *size_m), None)], simulated=a))
        assert len(score.real) == told


def test_strips_are_judged_where_they_truly_lie():
    """With drift and shift, a true skip as the record shows it still counts as real and as found."""
    marks = Score()
    for shift_m in (0.0, 3.0):
        a = with_a_row_left_out(Receiver("shift", shift_m=shift_m, drift_m=0.5, jitter_m=0.1))
        near = np.flatnonzero(np.isin(a.pass_number, (a.planted[0].number - 1, a.planted[0].number)) & a.boom_on)
        shift = a.error_m[near].mean(axis=0)
        shown = shapely.transform(a.planted[0].shape, lambda xy, shift=shift: xy + shift)
        score_plot(a, marks, cover=lists([(shown, "go look")], simulated=a))
    assert (marks.real, marks.large) == ([True, True], [True, True])


def test_jumpy_receivers_open_more_ground_than_open_sky():
    """Ground that was driven shows as missed, more under leaves than under open sky, and none with exact places."""
    false_m2 = []
    for setting in (EXACT, OPEN_SKY, UNDER_LEAVES):
        wrong = 0.0
        for seed in range(4):
            habits = Habits(records=1.0, on_record=True)
            rng = np.random.default_rng(seed)
            a = draw_application(rng, setting=setting, boom_m=12 * FT_M, acres=0.5, habits=habits)
            shown = shapely.difference(a.plot, swept(a.recorded_xy_m, a.recorded_boom == 1, boom_m=a.boom_m))
            wrong += float(shapely.area(shapely.difference(shown, a.missed)))
        false_m2.append(wrong)
    assert false_m2[0] < 20.0 < 2 * false_m2[1] < false_m2[2]
