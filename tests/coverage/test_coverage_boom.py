"""Boom states and widths: recorded ones hold to the next point, missing ones are assumed and said."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from gladebook.errors import CallError
from gladebook.passes.path import CutRules
from tests.passes.tracks import box, cover, make_plot, make_track, straight, turned

FIELD = make_plot(box(-150, -150, 150, 150))
LINE = straight((-50, 0), (50, 0))
FAST = 2.0  # points 2 m apart, a second apart: 4.5 mph
MILE_AN_HOUR = 0.44704  # m/s, 1609.344 m / 3600 s (exact)
EXACT = 2e-5  # relative: scan lines lie 2 mm or more apart, and a corner costs about their spacing squared


def on_assumed(answer: Any) -> list[str]:
    """What was assumed of when the boom was on; where it sits on the sprayer is another matter."""
    return [said for said in answer.assumptions if "assumed on" in said]


def driven(step_s: Any = 1.0, **columns: Any) -> Any:
    """The line at 2 m a point, with no boom state recorded."""
    xy = straight((-50, 0), (50, 0), step_m=FAST)
    return make_track(xy, time_s=step_s, **{"boom_on": -1, **columns})


def test_a_recorded_state_holds_to_the_next_point():
    """On at point 10 and off at point 30 treats the twenty steps between, no more and no less."""
    on = np.zeros(len(LINE))
    on[10:30] = 1
    answer = cover(FIELD, make_track(LINE, boom_on=on), boom_m=4.0)
    assert answer.treated_m2 == pytest.approx(4.0 * 20, rel=EXACT)
    assert answer.driven_m2 == pytest.approx(4.0 * 20, rel=EXACT)
    assert on_assumed(answer) == []


def test_a_single_point_on_treats_one_step():
    """On at one point only treats the step that starts there."""
    on = np.zeros(len(LINE))
    on[40] = 1
    assert cover(FIELD, make_track(LINE, boom_on=on), boom_m=4.0).treated_m2 == pytest.approx(4.0, rel=EXACT)


def test_the_last_points_state_treats_nothing():
    """Nothing is driven after the last point, so its state changes no ground."""
    for last in (0, 1):
        on = np.ones(len(LINE))
        on[-1] = last
        answer = cover(FIELD, make_track(LINE, boom_on=on), boom_m=4.0)
        assert answer.treated_m2 == pytest.approx(400.0, rel=EXACT)


def test_boom_off_throughout_treats_nothing():
    """With the boom recorded as off, crossing a plot treats nothing, and that is said."""
    answer = cover(FIELD, make_track(LINE, boom_on=0), boom_m=4.0)
    assert answer.driven_m2 == answer.treated_m2 == answer.outside_m2 == answer.unknown_m2 == 0.0
    assert any("nothing was treated" in notice for notice in answer.notices)


def test_a_width_in_the_file_beats_the_one_given():
    """A recorded width is swept, not the boom given, and that is said."""
    answer = cover(FIELD, make_track(LINE, width_m=5.0), boom_m=4.0)
    assert answer.treated_m2 == pytest.approx(500.0, rel=EXACT)
    assert any("instead of --boom" in notice for notice in answer.notices)


def test_the_width_given_fills_in_where_the_file_has_none():
    """Where some points have a width and some none, the boom given is swept for the others."""
    width = np.where(np.arange(len(LINE)) < 25, 6.0, np.nan)
    answer = cover(FIELD, make_track(LINE, width_m=width), boom_m=4.0)
    assert answer.treated_m2 == pytest.approx(25 * 6 + 75 * 4, rel=EXACT)


def test_a_missing_width_is_asked_for():
    """Without any width the boom is asked for, by the track's name."""
    with pytest.raises(CallError, match=r"drive.*--boom"):
        cover(FIELD, make_track(LINE))


def test_recorded_states_make_no_assumption():
    """Where every state is recorded nothing is assumed, inside the plots or outside."""
    answer = cover(make_plot(box(-10, -10, 10, 10)), make_track(LINE), boom_m=4.0)
    assert on_assumed(answer) == []
    assert answer.driven_m2 == pytest.approx(400.0, rel=EXACT)
    assert answer.outside_m2 == pytest.approx(4.0 * 80, rel=EXACT)


@pytest.mark.parametrize("heading_deg", [0.0, 12.0, 200.0])
@pytest.mark.parametrize("step_s", [1.0, None])
def test_an_assumed_boom_is_on_inside_the_plots_and_that_is_said(heading_deg, step_s):
    """Without states the boom is on between the plot's edges exactly, though no point lies on them."""
    plot = make_plot(turned(box(-30.5, -20, 25.25, 20), heading_deg))
    xy = turned(straight((-50, 0), (50, 0), step_m=FAST), heading_deg)
    answer = cover(plot, make_track(xy, boom_on=-1, time_s=step_s), boom_m=4.0)
    assert answer.treated_m2 == pytest.approx(4.0 * 55.75, rel=EXACT)
    assert answer.driven_m2 == pytest.approx(4.0 * 55.75, rel=EXACT)
    # 1e-3 m2: swath ends that lie on the plot's edges.
    assert answer.outside_m2 == pytest.approx(0.0, abs=1e-3)
    assert len(on_assumed(answer)) == 1
    assert "assumed on inside the plots" in on_assumed(answer)[0]
    assert ("above 1 mph" in on_assumed(answer)[0]) == (step_s is not None)


def test_an_assumed_boom_at_an_oblique_edge():
    """Entering at 30 degrees, the boom goes on as its middle crosses: half a wedge out, half one short."""
    angle = np.radians(30.0)
    edge = box(-60, -60, 0, 60)
    drive = turned(straight((-50, 0), (50, 0), step_m=FAST), 60.0)  # crosses x = 0 at 30 degrees to the edge
    answer = cover(make_plot(edge), make_track(drive, boom_on=-1), boom_m=4.0)
    wedge = 2.0**2 / np.tan(angle) / 2
    assert answer.driven_m2 == pytest.approx(4.0 * 50, rel=EXACT)
    # 1e-4 m2: a hundredth of a millimetre along the wedge's edges.
    assert answer.outside_m2 == pytest.approx(wedge, abs=1e-4)
    assert answer.treated_m2 == pytest.approx(200.0 - wedge, rel=EXACT)


def test_one_step_across_two_arms_of_a_plot():
    """A single step over a horseshoe is on over both arms and off over the gap between them."""
    horseshoe = [(-30, -20), (30, -20), (30, 30), (12.5, 30), (12.5, -10), (-7.5, -10), (-7.5, 30), (-30, 30)]
    drive = make_track([(-50.0, 10.0), (50.0, 10.0)], boom_on=-1, time_s=20.0)
    answer = cover(make_plot(horseshoe), drive, boom_m=4.0)
    assert answer.treated_m2 == pytest.approx(4.0 * (22.5 + 17.5), rel=EXACT)
    assert answer.driven_m2 == pytest.approx(4.0 * (22.5 + 17.5), rel=EXACT)
    assert answer.outside_m2 == pytest.approx(0.0, abs=1e-3)


def test_an_assumed_boom_is_off_over_an_obstacle():
    """Over a pond inside a plot an assumed boom is off, edge to edge."""
    pond = make_plot(box(-5.5, -30, 8.25, 15), name="pond")
    answer = cover(FIELD, driven(), boom_m=4.0, obstacles=[pond])
    assert answer.treated_m2 == pytest.approx(4.0 * (100 - 13.75), rel=EXACT)
    assert answer.outside_m2 == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize(("mph", "on"), [(0.9, False), (0.99, False), (1.01, True), (1.5, True), (5.0, True)])
def test_an_assumed_boom_is_on_above_one_mile_an_hour(mph, on):
    """Below 1 mph an assumed boom is off, above it is on: from the points, or as recorded where there are no times."""
    expected = 400.0 if on else 0.0
    speed = mph * MILE_AN_HOUR
    assert cover(FIELD, driven(FAST / speed), boom_m=4.0).treated_m2 == pytest.approx(expected, rel=EXACT)
    recorded = replace(driven(10.0, speed_mps=speed), time_s=np.full(len(driven(10.0)), np.nan))
    assert cover(FIELD, recorded, boom_m=4.0).treated_m2 == pytest.approx(expected, rel=EXACT)


def test_a_column_of_speeds_changes_nothing_where_there_are_times():
    """The same drive gives the same ground whether its file also records speeds or not, even wrong ones."""
    assert cover(FIELD, driven(1.0, speed_mps=0.1), boom_m=4.0).treated_m2 == pytest.approx(400.0, rel=EXACT)


def test_a_slow_stretch_with_an_assumed_boom_is_missed():
    """Creeping for 20 m at half a mile an hour is assumed to be no spraying: 20 m are missing."""
    xy = straight((-50, 0), (50, 0), step_m=FAST)
    step_s = np.where((xy[:-1, 0] >= -10) & (xy[:-1, 0] < 10), FAST / (0.5 * MILE_AN_HOUR), 1.0)
    time_s = 1.7e9 + np.concatenate([[0.0], np.cumsum(step_s)])
    track = make_track(xy, time_s=time_s, boom_on=-1)
    answer = cover(FIELD, track, boom_m=4.0, rules=CutRules(gap_s=60.0))  # nine seconds a step are no gap
    assert answer.treated_m2 == pytest.approx(4.0 * 80, rel=EXACT)
    assert answer.unknown_m2 == 0.0


def test_a_fast_recorder_with_whole_second_stamps_is_not_standing():
    """At 2 m/s (4.5 mph), five points to a stamp, an assumed boom is on all along."""
    xy = straight((-50, 0), (50, 0), step_m=0.4)
    time_s = 1.7e9 + np.floor(np.arange(len(xy)) / 5)
    answer = cover(FIELD, make_track(xy, time_s=time_s, boom_on=-1), boom_m=4.0)
    assert answer.treated_m2 == pytest.approx(400.0, rel=EXACT)


def test_states_recorded_at_some_points_hold_there():
    """Where states are recorded at some points only, those hold and the rest is assumed, and said so."""
    on = np.full(51, -1)
    on[10:20] = 0
    answer = cover(FIELD, driven(boom_on=on), boom_m=4.0)
    assert answer.treated_m2 == pytest.approx(4.0 * 80, rel=EXACT)
    assert any("not all recorded" in said and "assumed" in said for said in answer.assumptions)


def test_each_track_says_its_own_assumption():
    """Of two tracks, only the one without states is said to be assumed, by its name."""
    recorded = make_track(LINE + np.array([0, 20]), name="with states")
    answer = cover(FIELD, [recorded, driven(name="without")], boom_m=4.0)
    assert [said.split(":")[0] for said in on_assumed(answer)] == ["without"]
