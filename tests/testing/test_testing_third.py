"""The third generator: what it says of itself is so."""

from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest
import shapely

from gladebook.testing import OPEN_SKY, UNDER_LEAVES, WOODLAND_EDGE, Receiver, Simulated
from gladebook.units import ACRE_M2, FT_M
from tests.bench.third_drives import draw_application, third_error
from tests.oracle import Drive, count_at

EXACT = Receiver("none", shift_m=0.0, drift_m=0.0, jitter_m=0.0)
BOOM_M = 20 * FT_M
Floats = npt.NDArray[np.float64]


def drawn(seed: int, *, setting: Receiver = EXACT, acres: float = 1.0, step_s: float = 1.0) -> Simulated:
    rng = np.random.default_rng([33, seed])
    return draw_application(rng, setting=setting, boom_m=BOOM_M, acres=acres, step_s=step_s)


def test_a_seed_gives_the_same_application_again():
    """Two draws with one seed are equal in every figure; another seed gives another plot."""
    a, b, other = (drawn(seed, setting=UNDER_LEAVES) for seed in (3, 3, 4))
    for name in ("time_s", "true_xy_m", "recorded_xy_m", "boom_on", "recorded_boom", "pass_number"):
        np.testing.assert_array_equal(getattr(a, name), getattr(b, name))
    assert a.plot.equals(b.plot)
    assert not a.plot.equals(other.plot)


def test_another_receiver_or_interval_meets_the_same_driving():
    """The truth does not depend on who records it, or how often."""
    a = drawn(5)
    for b in (drawn(5, setting=UNDER_LEAVES), drawn(5, setting=WOODLAND_EDGE, step_s=3.0)):
        assert a.driven.equals(b.driven)
        assert [p.kind for p in a.planted] == [p.kind for p in b.planted]


@pytest.mark.parametrize("seed", range(5))
def test_ground_driven_is_what_the_boom_went_over(seed: int):
    """Driven ground is the sweep of the true way by the tests' own sweep, and missed ground is the plot without it."""
    a = drawn(seed, step_s=0.1)
    assert a.plot.is_valid
    hole_m2 = sum(shapely.Polygon(ring).area for ring in a.plot.interiors)
    assert a.plot.area + hole_m2 == pytest.approx(ACRE_M2, rel=1e-6)
    assert np.abs(a.error_m).max() == 0.0
    west, south, east, north = a.plot.bounds
    places = np.random.default_rng(seed).uniform((west, south), (east, north), (5_000, 2))
    swept = count_at([Drive(xy_m=a.true_xy_m, on=a.boom_on, width_m=a.boom_m)], places) > 0
    wrong = places[swept != shapely.contains_xy(a.driven, *places.T)]
    # The record is not in step with the way, whose points lie half a metre apart, and switches by up to 0.1 s late.
    assert (shapely.distance(shapely.points(wrong), shapely.boundary(a.driven)) < 0.6).all()
    assert len(wrong) < 40
    bare = shapely.contains_xy(a.plot, *places.T) & ~shapely.contains_xy(a.driven, *places.T)
    np.testing.assert_array_equal(bare, shapely.contains_xy(a.missed, *places.T))
    assert a.missed.area == pytest.approx(a.plot.area - shapely.intersection(a.plot, a.driven).area, abs=1e-3)


def test_recorded_is_true_and_error():
    """Places recorded are the true ones and the error; of a shift alone the error is one step for all."""
    a = drawn(2, setting=UNDER_LEAVES)
    np.testing.assert_allclose(a.recorded_xy_m, a.true_xy_m + a.error_m, atol=1e-12)
    b = drawn(2, setting=replace(EXACT, shift_m=3.0))
    np.testing.assert_allclose(b.error_m, np.tile(b.error_m[0], (len(b.error_m), 1)), atol=1e-9)
    assert np.hypot(*b.error_m[0]) > 0.1


def test_planted_skips_leave_bare_ground():
    """Ground of a skip lies in the plot and nothing drove there; nearly all skips leave some, and they are as many."""
    found, kinds, left_out = [], set(), 0
    for seed in range(60):
        a = drawn(seed)
        for skip in a.planted:
            assert shapely.area(shapely.intersection(skip.shape, a.driven)) < 1e-3
            assert shapely.area(shapely.difference(skip.shape, a.plot)) < 1e-3
            found.append(skip.area_m2)
            kinds.add(skip.kind)
            left_out += skip.kind == "left out"
            if skip.kind in ("left out", "too far"):
                assert skip.extra_m > 0
                assert not skip.on_record
    assert kinds == {"left out", "too far", "boom off", "late on", "early off"}
    # Drawn to be 1 to 1.3 and 0.35 a plot; within three times the root of a count.
    assert abs(len(found) / 60 - 1.15) <= 3 * np.sqrt(1.15 / 60) + 0.15
    assert abs(left_out / 60 - 0.35) <= 3 * np.sqrt(0.35 / 60)
    assert np.mean(np.array(found) > 5.0) > 0.9


def test_the_record_tells_of_the_boom_what_it_was_told():
    """Boom states are all missing, or the true ones but where a boom was off that the record does not know of."""
    silent = hidden = 0
    for seed in range(30):
        a = drawn(seed)
        if (a.recorded_boom == -1).all():
            silent += 1
            assert not any(skip.on_record for skip in a.planted)
            continue
        differs = (a.recorded_boom == 1) != a.boom_on
        assert not a.boom_on[differs].any()
        unknown = {s.number for s in a.planted if s.kind in ("boom off", "late on", "early off") and not s.on_record}
        assert set(a.pass_number[differs]) <= unknown
        for skip in a.planted:
            if skip.kind in ("boom off", "late on", "early off"):
                shapely.prepare(skip.shape)
                inside = shapely.contains_xy(skip.shape, *a.true_xy_m.T) & (a.pass_number == skip.number)
                hidden += not skip.on_record and bool((a.recorded_boom[inside] == 1).any())
                assert not skip.on_record or (a.recorded_boom[inside] == 0).all()
    assert hidden >= 2
    assert 4 <= silent <= 20


def errors(setting: Receiver, *, count: int, seed: int) -> Floats:
    """Errors of many recordings of a drive to and fro across a clearing, shape (count, n, 2)."""
    rng, time_s = np.random.default_rng(seed), np.arange(0.3, 900.0, 5.0)
    there = np.abs((time_s * 2.0) % 160.0 - 80.0)
    place = {"true_xy_m": np.column_stack([there, time_s / 15.0]), "trees_m": np.minimum(there, 80.0 - there)}
    return np.array([third_error(setting, time_s, rng, **place) for _ in range(count)])


@pytest.mark.parametrize(
    "setting",
    [
        replace(EXACT, shift_m=2.5),
        replace(EXACT, drift_m=2.0),
        replace(EXACT, jitter_m=0.3),
        replace(EXACT, jumps_an_hour=20.0, jump_m=3.5),
        WOODLAND_EDGE,
    ],
    ids=["shift", "drift", "jitter", "jumps", "all"],
)
def test_the_error_has_the_sizes_of_its_setting(setting: Receiver):
    """Over many recordings the mean square along each axis is the setting's, for each part and for all of them."""
    squares = (errors(setting, count=600, seed=7) ** 2).mean(axis=1)
    spread = squares.std(axis=0) / np.sqrt(len(squares))
    assert (np.abs(squares.mean(axis=0) - setting.axis_m**2) <= 4 * spread).all()
    assert (spread < 0.07 * setting.axis_m**2).all()  # so that a wrong size would be seen


def test_drift_is_slow_and_jitter_is_fast():
    """Half a minute apart drift is still much alike, ten minutes apart it is not; jitter is not alike after 20 s."""
    for setting, alike_s, unlike_s in ((replace(EXACT, drift_m=2.0), 30, 600), (replace(EXACT, jitter_m=0.3), 0, 20)):
        drawn_m = errors(setting, count=300, seed=8)
        square = (drawn_m**2).mean()

        def alike(apart_s: int, drawn_m: Floats = drawn_m, square: float = square) -> float:
            k = apart_s // 5
            return float((drawn_m[:, k:] * drawn_m[:, :-k]).mean() / square)

        assert not alike_s or alike(alike_s) > 0.5
        assert abs(alike(unlike_s)) < 0.15


def test_silences_come_as_often_as_the_setting_says():
    """Points lacking are the setting's rate times its mean length, and none lack without dropouts."""
    lacking_s, whole_s = 0.0, 0.0
    setting = replace(EXACT, dropouts_an_hour=20.0, dropout_s=12.0)
    for seed in range(12):
        a = drawn(seed, setting=setting)
        gaps_s = np.diff(a.time_s)
        lacking_s += float((gaps_s[gaps_s > 1.5] - 1.0).sum())
        whole_s += float(a.time_s[-1] - a.time_s[0])
    count = 20.0 * whole_s / 3600
    assert abs(lacking_s - 12.0 * count) <= 4 * 12.0 * np.sqrt(1.5 * count)
    np.testing.assert_allclose(np.diff(drawn(1, setting=OPEN_SKY, step_s=3.0).time_s), 3.0, atol=1e-5)
