"""Drawn applications: what they claim of themselves is so, by ways that share nothing with how they are drawn."""

from typing import get_args

import numpy as np
import pytest
import shapely

from gladebook.coverage.compute import cover_plots
from gladebook.coverage.result import Coverage
from gladebook.passes.sprayer import Sprayer
from gladebook.plots.acreage import measure_plots
from gladebook.testing import (
    OPEN_SKY,
    PLACE,
    UNDER_LEAVES,
    WOODLAND_EDGE,
    Habits,
    Receiver,
    Simulated,
    as_plot,
    as_track,
    draw_application,
    moved_back,
    truly_missed,
)
from gladebook.testing.driving import SkipKind
from gladebook.units import ACRE_M2, FT_M
from tests.oracle import Drive, count_at

BOOM_M = 20 * FT_M
EXACT = Receiver("none", shift_m=0.0, drift_m=0.0, jitter_m=0.0)
KINDS: tuple[SkipKind, ...] = get_args(SkipKind)
SHOWN = Habits(records=1.0, on_record=True)


def drawn(
    seed: int,
    *,
    setting: Receiver = EXACT,
    boom_m: float = BOOM_M,
    acres: float = 1.0,
    step_s: float = 1.0,
    habits: Habits | None = None,
) -> Simulated:
    rng = np.random.default_rng(seed)
    return draw_application(rng, setting=setting, boom_m=boom_m, acres=acres, step_s=step_s, habits=habits)


def covered(simulated: Simulated) -> Coverage:
    rows = measure_plots([as_plot(simulated)]).plots
    return cover_plots(rows, [as_track(simulated)], sprayer=Sprayer(width_m=simulated.boom_m))


def test_a_seed_gives_the_same_application_again():
    """Two draws with one seed are equal in every figure; another seed gives another plot."""
    a, b, other = (drawn(seed, setting=UNDER_LEAVES) for seed in (3, 3, 4))
    for name in ("time_s", "true_xy_m", "recorded_xy_m", "boom_on", "recorded_boom", "pass_number"):
        np.testing.assert_array_equal(getattr(a, name), getattr(b, name))
    assert a.plot.equals(b.plot)
    assert a.driven.equals(b.driven)
    assert not a.plot.equals(other.plot)


def test_another_receiver_or_interval_meets_the_same_driving():
    """The truth does not depend on who records it, or how often."""
    a = drawn(5)
    for b in (drawn(5, setting=UNDER_LEAVES), drawn(5, setting=WOODLAND_EDGE, step_s=3.0)):
        assert a.driven.equals(b.driven)
        assert [p.kind for p in a.planted] == [p.kind for p in b.planted]


@pytest.mark.parametrize("seed", range(4))
def test_the_plot_has_the_acres_asked_for(seed: int):
    """A plot is one valid polygon with exactly the area asked for, bent or not."""
    plot = drawn(seed, acres=0.8).plot
    assert plot.geom_type == "Polygon"
    assert plot.is_valid
    # The bend is a shear, which keeps areas but for corners 2 m apart.
    assert plot.area == pytest.approx(0.8 * ACRE_M2, rel=1e-4)


@pytest.mark.parametrize("seed", range(6))
def test_ground_driven_is_what_the_boom_went_over(seed: int):
    """Of ten thousand places all are driven or not as the tests' own sweep has them, but next to edges and switches."""
    a = drawn(seed, step_s=0.1)
    west, south, east, north = a.plot.bounds
    rng = np.random.default_rng(seed)
    places = rng.uniform((west, south), (east, north), (10_000, 2))
    swept = count_at([Drive(xy_m=a.true_xy_m, on=a.boom_on, width_m=a.boom_m)], places) > 0
    wrong = shapely.points(places[swept != shapely.contains_xy(a.driven, *places.T)])
    # The record switches up to 0.1 s, a quarter of a metre, late: under the boom there, and along its two ends.
    switched = shapely.MultiPoint(a.true_xy_m[1:][np.diff(a.boom_on.astype(int)) != 0])
    near_edge = shapely.distance(wrong, shapely.boundary(a.driven)) < 0.3
    assert (near_edge | (shapely.distance(wrong, switched) < a.boom_m / 2 + 0.3)).all()
    assert len(wrong) < 20
    assert 0.2 < swept.mean() < 0.98


@pytest.mark.parametrize("kind", KINDS)
def test_planted_skips_are_truly_missing(kind: SkipKind):
    """A planted skip's ground lies in the plot and no part of it was driven; there is some, of a size that fits."""
    found = []
    for seed in range(6):
        a = drawn(seed, habits=Habits(skips=(kind,), plain=True))
        for skip in a.planted:
            assert skip.kind == kind
            assert shapely.area(shapely.intersection(skip.shape, a.driven)) < 1e-3
            assert shapely.area(shapely.difference(skip.shape, a.plot)) < 1e-3
            found.append(skip.area_m2)
    assert len(found) >= 5
    assert np.median(found) > 20.0


def test_a_pass_left_out_is_as_wide_as_the_passes_beside_it_leave_it():
    """Two spacings less a boom stay bare, 10/12 of a boom, on average, within what aims scatter."""
    widths = []
    for seed in range(24):
        a = drawn(seed, habits=Habits(skips=("left out",), plain=True, bent=0.0))
        mine = [s for s in a.planted if s.area_m2 > 100]
        widths += [s.area_m2 / longest_m(s.shape) for s in mine]
    assert len(widths) >= 15
    # Aims scatter by at most 0.3 m; ends cut off slantwise take a little of the mean width.
    assert np.mean(widths) == pytest.approx(10 / 12 * BOOM_M, abs=0.3)


def longest_m(shape: object) -> float:
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shape))
    return float(np.hypot(*np.diff(corners[:3], axis=0).T).max())


def test_passes_lie_a_spacing_apart():
    """Neighbours lie 11/12 of a boom apart on average, scattered as aims are: 0.1 to 0.3 m a driver."""
    habits = Habits(skips=(), plain=True, bent=0.0, rounds=(1.0, 0.0, 0.0), stops=0.0, refills=0.0)
    apart: list[float] = []
    for seed in range(10):
        a = drawn(seed, boom_m=12 * FT_M, habits=habits)
        passes = [a.true_xy_m[(a.pass_number == k) & a.boom_on] for k in range(1, a.pass_number.max() + 1)]
        longest = max(passes, key=len)
        ahead = (longest[-1] - longest[0]) / np.hypot(*(longest[-1] - longest[0]))
        places = [float((xy @ np.array([-ahead[1], ahead[0]])).mean()) for xy in passes if len(xy) > 15]
        apart += np.abs(np.diff(places)).tolist()
    assert len(apart) > 120
    error = np.std(apart) / np.sqrt(len(apart))
    assert abs(np.mean(apart) - 11 / 12 * 12 * FT_M) <= 4 * error
    assert 0.1 < np.std(apart) < 0.35


@pytest.mark.parametrize("setting", [OPEN_SKY, UNDER_LEAVES], ids=lambda s: s.name)
def test_recorded_less_true_is_the_error(setting: Receiver):
    """The root mean square error over many applications is the setting's; with no error places are the true ones."""
    squares = [(drawn(seed, setting=setting, acres=0.3).error_m ** 2).mean() for seed in range(60)]
    assert abs(np.mean(squares) - setting.axis_m**2) <= 4 * np.std(squares) / np.sqrt(len(squares))
    assert np.abs(drawn(1).error_m).max() == 0.0


@pytest.mark.parametrize("seed", [1, 3, 5, 10, 15])
def test_with_no_error_coverage_finds_exactly_the_planted_skips(seed: int):
    """Strips of 30 ft by half a boom are the planted skips of that size, and missed ground is the truth's."""
    a = drawn(seed, step_s=0.2, habits=SHOWN)
    b = covered(a)
    # The record rounds switches to 0.2 s, some 0.4 m of a boom's width, at each of up to twenty ends.
    assert b.missed_m2 == pytest.approx(a.missed.area, abs=6.0)
    strips = [PLACE.shape_to_plane(s.shape) for s in b.strips if s.length_m > 30 * FT_M and s.width_m > BOOM_M / 2]
    ground = shapely.union_all([p.shape for p in a.planted])
    for strip in strips:
        assert truly_missed(a, strip) > 0.9
        assert shapely.area(shapely.intersection(strip, ground)) > 0.8 * shapely.area(strip)
    every = shapely.union_all([PLACE.shape_to_plane(s.shape) for s in b.strips])
    for skip in a.planted:
        if skip.area_m2 > 30:
            assert shapely.area(shapely.intersection(every, skip.shape)) > 0.95 * skip.area_m2


def test_a_shared_shift_alone_makes_no_strip_between_passes_false():
    """Where the whole track is shifted, each listed strip lies exactly the shift from truly missed ground."""
    setting = Receiver("shift", shift_m=4.0, drift_m=0.0, jitter_m=0.0)
    a = drawn(1, setting=setting, habits=Habits(skips=("left out",), plain=True, records=1.0))
    shift = a.error_m[0]
    assert np.hypot(*shift) > 1.0
    there = shapely.transform(a.planted[0].shape, lambda xy: xy + shift)
    assert moved_back(a, there).equals_exact(a.planted[0].shape, 1e-9)
    assert truly_missed(a, there) == pytest.approx(1.0, abs=1e-6)
    assert truly_missed(a, there, near=np.arange(10)) == pytest.approx(1.0, abs=1e-6)
    assert truly_missed(a, shapely.Polygon()) == 0.0


def test_a_strip_that_drift_opened_is_not_real():
    """Ground that was driven, wherever the record shows a hole, is not truly missed; half of it is half."""
    a = drawn(2, habits=Habits(skips=(), plain=True))
    middle = shapely.intersection(a.driven, a.plot).representative_point()
    assert truly_missed(a, middle.buffer(1.0)) < 0.05
    b = drawn(1, habits=Habits(skips=("left out",), plain=True))
    skip = b.planted[0].shape
    strip = shapely.union(skip, shapely.intersection(shapely.buffer(skip, 50), shapely.intersection(b.driven, b.plot)))
    assert truly_missed(b, strip) == pytest.approx(shapely.area(b.missed & strip) / shapely.area(strip), abs=1e-6)
    # Beyond the plot nothing counts as missed, though nobody drove there.
    assert truly_missed(a, shapely.transform(a.plot, lambda xy: xy + 1000.0)) == 0.0


def test_the_record_tells_of_the_boom_what_it_was_told():
    """Boom states are the true ones, or all missing; a skip off the record is on in it, one on the record is off."""
    for known in (True, False):
        a = drawn(7, habits=Habits(skips=("boom off",), on_record=known, records=1.0, plain=True))
        (skip,) = a.planted
        assert skip.on_record is known
        shapely.prepare(skip.shape)
        inside = shapely.contains_xy(skip.shape, *a.true_xy_m.T) & (a.pass_number == skip.number)
        assert inside.sum() > 3
        assert not a.boom_on[inside].any()
        assert (a.recorded_boom[inside] == (0 if known else 1)).all()
        elsewhere = a.pass_number != skip.number
        np.testing.assert_array_equal(a.recorded_boom[elsewhere], a.boom_on[elsewhere])
    silent = drawn(7, habits=Habits(skips=("boom off",), on_record=True, records=0.0, plain=True))
    assert (silent.recorded_boom == -1).all()
    assert not silent.planted[0].on_record


@pytest.mark.parametrize("step_s", [1.0, 3.0])
def test_times_are_even_and_passes_in_order(step_s: float):
    """Points come every step until the end, and passes one after the other, rounds before them."""
    a = drawn(9, step_s=step_s, habits=Habits(rounds=(0.0, 0.0, 1.0), refills=1.0))
    np.testing.assert_allclose(np.diff(a.time_s)[:-1], step_s, atol=1e-5)
    driven = a.pass_number[a.pass_number != 0]
    order = np.where(driven < 0, -driven, driven + 10)
    assert (np.diff(order) >= 0).all()
    assert set(driven[driven < 0]) == {-1, -2}
    still = np.hypot(*np.diff(a.true_xy_m, axis=0).T) < 1e-9
    assert still.sum() * step_s > 100  # the refill: two minutes at least
    assert not a.boom_on[:-1][still].any()
    assert np.hypot(*np.diff(a.true_xy_m, axis=0).T).max() < 3.5 * step_s  # no jumps in the driving


def test_gladebooks_nouns_lie_where_the_simulation_says():
    """Track and plot lead back to the same places within a millimetre."""
    a = drawn(11, setting=OPEN_SKY)
    track = as_track(a)
    back = PLACE.to_plane(np.column_stack([track.lon_deg, track.lat_deg]))
    np.testing.assert_allclose(back, a.recorded_xy_m, atol=1e-3)
    assert shapely.hausdorff_distance(PLACE.shape_to_plane(as_plot(a).shape), a.plot) < 1e-3
    assert np.isnan(track.width_m).all()
