"""Unknown ground: what a gap with the boom on at both ends could have covered and nothing else did."""

from typing import Any

import numpy as np
import pytest

from gladebook.passes.path import CutRules
from tests.passes.tracks import (
    SHAPE_M2,
    Floats,
    box,
    cover,
    in_metres,
    make_plot,
    make_track,
    straight,
    swath,
    turned,
)

FIELD = make_plot(box(-150, -150, 150, 150))
BOOM_M = 4.0
EXACT = 2e-5  # relative: scan lines lie 2 mm or more apart, and a corner costs about their spacing squared
LAST = 35  # the last point before the gap


def line_with_a_gap(*, aside_m: float = 0.0) -> Floats:
    """Thirty-five metres, a gap of thirty, thirty-five metres, the second part set aside."""
    return np.concatenate([straight((-50, 0), (-15, 0)), straight((15, aside_m), (50, aside_m))])


def gapped(xy: Floats, *, gap_s: float = 30.0, **columns: Any) -> Any:
    time_s = 1.7e9 + np.arange(len(xy), dtype=float)
    time_s[LAST + 1 :] += gap_s
    return make_track(xy, time_s=time_s, **columns)


@pytest.mark.parametrize("heading_deg", [0.0, 61.0])
@pytest.mark.parametrize("boom_on", [1, -1])
def test_a_gap_leaves_the_straight_swath_unknown(boom_on, heading_deg):
    """Boom on at both sides of a 30 m gap, recorded or assumed: 4 m x 30 m are unknown, exactly there."""
    answer = cover(FIELD, gapped(turned(line_with_a_gap(), heading_deg), boom_on=boom_on), boom_m=BOOM_M)
    assert answer.unknown_m2 == pytest.approx(120.0, rel=EXACT)
    assert answer.treated_m2 == pytest.approx(280.0, rel=EXACT)
    assert answer.driven_m2 == pytest.approx(280.0, rel=EXACT)
    should = swath(turned([(-15, 0), (15, 0)], heading_deg), BOOM_M)
    assert in_metres(answer.layers.unknown).symmetric_difference(should).area < SHAPE_M2


def test_a_gap_aside_leaves_the_swath_square_to_its_own_line():
    """Where the drive goes on 12 m aside, the unknown swath runs from point to point, as wide as the boom."""
    answer = cover(FIELD, gapped(line_with_a_gap(aside_m=12.0)), boom_m=BOOM_M)
    bridge = swath([(-15, 0), (15, 12)], BOOM_M)
    painted = swath([(-50, 0), (-15, 0)], BOOM_M).union(swath([(15, 12), (50, 12)], BOOM_M))
    assert answer.unknown_m2 == pytest.approx(bridge.difference(painted).area, rel=EXACT)
    assert in_metres(answer.layers.unknown).difference(bridge).area < SHAPE_M2


@pytest.mark.parametrize("off", ["before", "after", "both"])
def test_a_gap_with_the_boom_off_at_either_end_leaves_nothing_unknown(off):
    """With the boom off on one side of a gap, what lies in the gap is missed, not unknown."""
    on = np.ones(72)
    if off in ("before", "both"):
        on[LAST] = 0
    if off in ("after", "both"):
        on[LAST + 1] = 0
    xy = line_with_a_gap()
    answer = cover(make_plot(box(-15, -2, 15, 2)), gapped(xy, boom_on=on), boom_m=BOOM_M)
    assert answer.unknown_m2 == 0.0
    assert answer.missed_m2 == pytest.approx(120.0, rel=EXACT)


def test_another_pass_over_the_gap_is_not_unknown():
    """Ground in a gap that another pass covered is treated; unknown is the rest of the swath."""
    across = make_track(straight((3, -40), (3, 40)))
    answer = cover(FIELD, [gapped(line_with_a_gap()), across], boom_m=BOOM_M)
    assert answer.unknown_m2 == pytest.approx(120.0 - 16.0, rel=EXACT)
    assert answer.treated_m2 == pytest.approx(280.0 + 320.0, rel=EXACT)
    assert answer.overlap_m2 == pytest.approx(0.0, abs=1e-3)


def test_a_gap_driven_again_is_not_unknown_at_all():
    """Ground in a gap that the same pass driven once more covered leaves nothing unknown."""
    answer = cover(FIELD, [gapped(line_with_a_gap()), make_track(straight((-50, 0), (50, 0)))], boom_m=BOOM_M)
    # 1e-3 m2: edges that lie on each other.
    assert answer.unknown_m2 == pytest.approx(0.0, abs=1e-3)
    assert answer.treated_m2 == pytest.approx(400.0, rel=EXACT)


def test_two_gaps_over_the_same_ground_are_unknown_once():
    """Two tracks with the same gap leave its swath unknown once."""
    answer = cover(FIELD, [gapped(line_with_a_gap()), gapped(line_with_a_gap())], boom_m=BOOM_M)
    assert answer.unknown_m2 == pytest.approx(120.0, rel=EXACT)


def test_unknown_ground_ends_at_the_plots_edge():
    """Only the part of a gap's swath inside a plot is unknown."""
    answer = cover(make_plot(box(-150, -150, 0, 150)), gapped(line_with_a_gap()), boom_m=BOOM_M)
    assert answer.unknown_m2 == pytest.approx(60.0, rel=EXACT)
    assert answer.treated_m2 == pytest.approx(140.0, rel=EXACT)


def test_a_gap_joined_by_the_users_own_limit_is_treated():
    """With a longest gap of a minute the same half minute is joined and its swath treated."""
    rules = CutRules(gap_s=60.0)
    answer = cover(FIELD, gapped(line_with_a_gap()), boom_m=BOOM_M, rules=rules)
    assert answer.unknown_m2 == 0.0
    assert answer.treated_m2 == pytest.approx(400.0, rel=EXACT)


def test_no_unknown_ground_where_time_runs_backwards():
    """Across a step back in time nobody can tell what was driven, so no swath is unknown."""
    answer = cover(FIELD, gapped(line_with_a_gap(), gap_s=-100.0), boom_m=BOOM_M)
    assert answer.unknown_m2 == 0.0
    assert answer.treated_m2 == pytest.approx(280.0, rel=EXACT)


def test_a_gap_takes_the_width_that_held_before_it():
    """The unknown swath is as wide as the boom was when the gap began."""
    width = np.where(np.arange(72) <= LAST, 3.0, 5.0)
    answer = cover(FIELD, gapped(line_with_a_gap(), width_m=width))
    assert answer.unknown_m2 == pytest.approx(90.0, rel=EXACT)
    assert answer.treated_m2 == pytest.approx(35 * 3 + 35 * 5, rel=EXACT)


def test_a_gap_while_standing_leaves_nothing_unknown():
    """A gap that ends where it began was a stop: no swath, no ground."""
    xy = np.concatenate([straight((-50, 0), (-15, 0)), straight((-15, 0), (50, 0))])
    answer = cover(FIELD, gapped(xy, gap_s=600.0), boom_m=BOOM_M)
    assert answer.unknown_m2 == 0.0
    assert answer.treated_m2 == pytest.approx(400.0, rel=EXACT)


def test_unknown_ground_is_neither_missed_nor_treated():
    """The parts of a plot with a gap add up: treated, missed and unknown, each once."""
    answer = cover(make_plot(box(-60, -5, 60, 5)), gapped(line_with_a_gap()), boom_m=BOOM_M)
    assert answer.treated_m2 == pytest.approx(280.0, rel=EXACT)
    assert answer.unknown_m2 == pytest.approx(120.0, rel=EXACT)
    assert answer.missed_m2 == pytest.approx(1200.0 - 400.0, rel=EXACT)
