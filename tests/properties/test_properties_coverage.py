"""What holds of the coverage of any application."""

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, Phase, example, given, settings
from hypothesis import strategies as st

from tests.passes.tracks import box, cover, in_metres, make_plot, make_track, straight, turned
from tests.properties.applications import (
    LAYERS,
    Application,
    check_identities,
    check_layers,
    judge,
    random_ring,
    sprayed,
    wandering,
)

SEEDS = st.integers(0, 2**32 - 1)
# The same examples in every run: a verdict must not depend on luck. To hunt, raise the number and drop
# derandomize. A seed has no smaller form, so nothing is shrunk.
FEW = settings(
    max_examples=20,
    deadline=None,
    derandomize=True,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow],
)
FIGURES = ("treated_m2", "missed_m2", "overlap_m2", "unknown_m2", "outside_m2", "driven_m2")


def same(first: Any, second: Any, *, within_m2: float) -> None:
    """Every figure of two answers agrees."""
    for figure in FIGURES:
        assert getattr(second, figure) == pytest.approx(getattr(first, figure), abs=within_m2), figure


# The seeds named have broken an overlay: "side location conflict", on a grid too.
@example(seed=916)
@example(seed=1333)
@example(seed=1597)
@example(seed=1602)
@FEW
@given(seed=SEEDS)
def test_treated_missed_and_unknown_are_the_plot(seed):
    """Treated, missed and unknown add up to the plot; overlap is part of treated; driven is the most."""
    check_identities(judge(sprayed(np.random.default_rng(seed))))


@FEW
@given(seed=SEEDS)
def test_the_shapes_drawn_are_the_ground_told(seed):
    """Each layer has the area told, treated and missed lie inside the plots and outside lies outside."""
    application = sprayed(np.random.default_rng(seed))
    check_layers(judge(application), application.rings_m)


@FEW
@given(seed=SEEDS)
def test_every_shape_given_out_is_a_valid_polygon(seed):
    """Layers and strips are rings that do not cross themselves, so that any map or reader takes them."""
    answer = judge(sprayed(np.random.default_rng(seed)))
    for name in LAYERS:
        shape = getattr(answer.layers, name)
        assert shapely.is_valid(shape), f"{name}: {shapely.is_valid_reason(shape)}"
    for strip in answer.strips:
        assert shapely.is_valid(strip.shape), shapely.is_valid_reason(strip.shape)


# The seeds named have lost a wedge of 2 to 3 m2 out of the middle of a swath, without a word.
@example(seed=1056)
@example(seed=1187)
@FEW
@given(seed=SEEDS)
def test_every_step_with_the_boom_on_lies_on_painted_ground(seed):
    """Where a sprayer drove with its boom on, the ground under its middle is treated or outside."""
    rng = np.random.default_rng(seed)
    ring, drive = random_ring(rng), wandering(rng)
    answer = judge(Application((ring,), (drive,)))
    on = np.flatnonzero(drive.boom_on[:-1] == 1)
    middle = shapely.points((drive.xy_m[on] + drive.xy_m[on + 1]) / 2)
    painted = [in_metres(answer.layers.treated), in_metres(answer.layers.outside)]
    away = np.min([shapely.distance(middle, shape) for shape in painted if not shapely.is_empty(shape)], axis=0)
    # 5 cm: moves under half a metre are left out, which cuts a corner by centimetres at the most.
    assert away.max() < 0.05


@FEW
@given(seed=SEEDS)
def test_a_wandering_drive_keeps_the_identities(seed):
    """A drive that turns at random, within half its boom at times, keeps the identities and its layers."""
    rng = np.random.default_rng(seed)
    application = Application((random_ring(rng),), (wandering(rng),))
    answer = judge(application)
    check_identities(answer)
    check_layers(answer, application.rings_m)


@FEW
@given(seed=SEEDS, turn_deg=st.floats(-180, 180), east_m=st.floats(-500, 500), north_m=st.floats(-500, 500))
def test_shifting_and_turning_everything_changes_nothing(seed, turn_deg, east_m, north_m):
    """The same application turned and half a kilometre away gives the same ground."""
    application = sprayed(np.random.default_rng(seed))
    plain = judge(application)
    moved = judge(application, turn_deg=turn_deg, shift_m=(east_m, north_m))
    # 2e-5 of what was driven and of the plots, for other scan lines; planes half a kilometre apart differ by 1e-8.
    same(plain, moved, within_m2=2e-5 * (plain.plot_m2 + plain.driven_m2))


@FEW
@given(seed=SEEDS, share=st.floats(0.01, 0.99))
def test_splitting_a_straight_drive_at_any_fix_keeps_its_ground(seed, share):
    """A straight drive cut into two pieces that share a point, or into two tracks, covers what it covered."""
    rng = np.random.default_rng(seed)
    drive = turned(straight((-60, rng.uniform(-9, 9)), (60, 3), step_m=rng.uniform(0.7, 3)), rng.uniform(0, 360))
    plot = make_plot(random_ring(rng))
    at = min(max(int(share * len(drive)), 1), len(drive) - 2)
    whole = cover(plot, make_track(drive), boom_m=5.0)
    again = np.concatenate([drive[: at + 1], drive[at:]])
    pieces = make_track(again, segment=np.repeat([0, 1], [at + 1, len(drive) - at]))
    for parts in (pieces, [make_track(drive[: at + 1]), make_track(drive[at:])]):
        same(whole, cover(plot, parts, boom_m=5.0), within_m2=2e-5 * (whole.plot_m2 + whole.driven_m2))


@FEW
@given(seed=SEEDS, shares=st.lists(st.floats(0.001, 0.999), min_size=1, max_size=6))
def test_more_points_on_a_straight_drive_change_nothing(seed, shares):
    """Extra fixes on a straight drive, anywhere along it, leave its ground as it was."""
    rng = np.random.default_rng(seed)
    along = np.arange(0.0, 100.0, rng.uniform(1.2, 3.0))
    more = np.unique(np.concatenate([along, along[-1] * np.array(shares)]))
    plot = make_plot(random_ring(rng))
    deg = rng.uniform(0, 360)
    answers = []
    for places in (along, more):
        xy = turned(np.column_stack([places - 50, 0 * places]), deg)
        answers.append(cover(plot, make_track(xy, time_s=1.7e9 + places), boom_m=4.0))
    same(*answers, within_m2=2e-5 * (answers[0].plot_m2 + answers[0].driven_m2))


@FEW
@given(seed=SEEDS, assumed=st.booleans())
def test_reversing_a_straight_drive_changes_nothing(seed, assumed):
    """A straight drive the other way round, its boom states with it, covers the same ground."""
    rng = np.random.default_rng(seed)
    drive = turned(straight((-60, 3), (60, rng.uniform(-20, 20)), step_m=rng.uniform(1, 3)), rng.uniform(0, 360))
    # States hold to the next point: backwards, each belongs to the step's other end.
    on = np.full(len(drive), -1) if assumed else (rng.random(len(drive)) > 0.2).astype(int)
    back = on if assumed else np.append(on[:-1][::-1], 0)
    plot = make_plot(random_ring(rng))
    there = cover(plot, make_track(drive, boom_on=on), boom_m=4.0)
    home = cover(plot, make_track(drive[::-1], boom_on=back), boom_m=4.0)
    same(there, home, within_m2=2e-5 * (there.plot_m2 + there.driven_m2))


@FEW
@given(seed=SEEDS)
def test_another_trip_never_takes_ground_away(seed):
    """Adding a trip never lowers treated, overlap, outside or driven, and never raises missed or unknown."""
    rng = np.random.default_rng(seed)
    application = sprayed(rng)
    one = replace(application, drives=application.drives[:1])
    both = replace(application, drives=(application.drives[0], replace(wandering(rng), width_m=np.full(150, 3.3))))
    first, second = judge(one), judge(both)
    within = 2e-5 * (second.plot_m2 + second.driven_m2)
    for figure in ("treated_m2", "overlap_m2", "outside_m2", "driven_m2"):
        assert getattr(second, figure) >= getattr(first, figure) - within, figure
    # A new trip without gaps brings no unknown ground of its own.
    for figure in ("missed_m2", "unknown_m2"):
        assert getattr(second, figure) <= getattr(first, figure) + within, figure


@FEW
@given(seed=SEEDS)
def test_the_same_trip_again_adds_only_overlap(seed):
    """Recording the same trip twice doubles driven, makes all it treated overlap and treats nothing new."""
    application = sprayed(np.random.default_rng(seed))
    drive = application.drives[0]
    once = judge(replace(application, drives=(drive,)))
    twice = judge(replace(application, drives=(drive, drive)))
    within = 2e-5 * (twice.plot_m2 + twice.driven_m2)
    # Each end of each ribbon counts in it, under others too, and twice the outlines are swept by other lines.
    assert twice.driven_m2 == pytest.approx(2 * once.driven_m2, rel=1e-4)
    for figure in ("treated_m2", "missed_m2", "unknown_m2", "outside_m2"):
        assert getattr(twice, figure) == pytest.approx(getattr(once, figure), abs=within), figure
    assert twice.overlap_m2 == pytest.approx(once.treated_m2, abs=within)


@FEW
@given(seed=SEEDS)
def test_a_bigger_plot_takes_from_outside(seed):
    """What is treated in a plot and outside it is all ground driven over, wherever the plot's edge lies."""
    rng = np.random.default_rng(seed)
    drive = wandering(rng)
    small, large = (
        judge(Application((ring,), (drive,))) for ring in (random_ring(rng, radius_m=25.0), random_ring(rng))
    )
    within = 2e-5 * (large.plot_m2 + large.driven_m2)
    assert small.treated_m2 + small.outside_m2 == pytest.approx(large.treated_m2 + large.outside_m2, abs=within)
    assert small.driven_m2 == pytest.approx(large.driven_m2, abs=within)


@FEW
@given(seed=SEEDS, parts=st.integers(2, 5))
def test_cutting_a_plot_into_plots_changes_no_total(seed, parts):
    """A plot cut into strips gives the same totals as the whole."""
    rng = np.random.default_rng(seed)
    drive = wandering(rng)
    edges = np.linspace(-35, 35, parts + 1)
    whole = judge(Application((box(-35, -30, 35, 30),), (drive,)))
    rings = tuple(box(west, -30, east, 30) for west, east in pairwise(edges))
    cut = judge(Application(rings, (drive,)))
    # Edges that plots share are drawn twice and differ by nanometres: 1e-6 of the ground is far above it.
    same(whole, cut, within_m2=2e-5 * (whole.plot_m2 + whole.driven_m2))
