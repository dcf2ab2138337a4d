"""Several plots, obstacles, shared ground and ground outside, each in closed form."""

import numpy as np
import pytest

from gladebook.coverage.compute import cover_plots
from gladebook.errors import InputError, TrackError
from gladebook.geometry.frame import Frame
from gladebook.passes.sprayer import Sprayer
from gladebook.plots.acreage import measure_plots
from gladebook.plots.plot import Plot
from gladebook.testing import plot_on, rectangle
from gladebook.view.page import map_page
from tests.passes.tracks import SHAPE_M2, box, cover, in_metres, make_plot, make_track, straight, swath

EXACT = 2e-5  # relative: scan lines lie 2 mm or more apart, and a corner costs about their spacing squared
LINE = straight((-50, 0), (50, 0))


def test_outside_is_what_no_plot_holds():
    """A pass that runs 30 m beyond a plot at either end treats inside and counts the rest as outside."""
    answer = cover(make_plot(box(-20, -20, 20, 20)), make_track(LINE), boom_m=4.0)
    assert answer.treated_m2 == pytest.approx(160.0, rel=EXACT)
    assert answer.outside_m2 == pytest.approx(240.0, rel=EXACT)
    assert answer.missed_m2 == pytest.approx(1600.0 - 160.0, rel=EXACT)
    outside = in_metres(answer.layers.outside)
    assert (
        outside.symmetric_difference(swath([(-50, 0), (-20, 0)], 4.0) | swath([(20, 0), (50, 0)], 4.0)).area < SHAPE_M2
    )


def test_outside_is_ground_and_counts_once():
    """Outside is ground, so driving over it twice counts it once; driven counts it each time."""
    answer = cover(make_plot(box(-20, -20, 20, 20)), [make_track(LINE), make_track(LINE)], boom_m=4.0)
    assert answer.outside_m2 == pytest.approx(240.0, rel=EXACT)
    assert answer.driven_m2 == pytest.approx(800.0, rel=EXACT)
    assert answer.overlap_m2 == pytest.approx(160.0, rel=EXACT)


def test_an_obstacle_is_no_part_of_the_plot():
    """A pond under a pass is not treated, not missed: the plot is smaller, and spray on it is outside."""
    pond = make_plot(box(-5, -10, 5, 10), name="pond")
    answer = cover(make_plot(box(-50, -20, 50, 20)), make_track(LINE), boom_m=4.0, obstacles=[pond])
    assert answer.plots[0].plot_m2 == pytest.approx(4000.0 - 200.0, rel=EXACT)
    assert answer.treated_m2 == pytest.approx(400.0 - 40.0, rel=EXACT)
    assert answer.missed_m2 == pytest.approx(3800.0 - 360.0, rel=EXACT)
    assert answer.outside_m2 == pytest.approx(40.0, rel=EXACT)


def test_a_plot_with_a_hole_of_its_own_is_judged_alike():
    """A hole in a plot's boundary is outside the plot, like an obstacle."""
    plot = make_plot(box(-50, -20, 50, 20), holes_m=[box(-5, -10, 5, 10)])
    answer = cover(plot, make_track(LINE), boom_m=4.0)
    assert answer.treated_m2 == pytest.approx(360.0, rel=EXACT)
    assert answer.outside_m2 == pytest.approx(40.0, rel=EXACT)


def test_two_plots_that_touch_share_a_swath_without_a_seam():
    """A pass along the common edge of two plots treats half of itself in each, and nothing is outside."""
    plots = [make_plot(box(-50, 0, 50, 30), name="north"), make_plot(box(-50, -30, 50, 0), name="south")]
    answer = cover(plots, make_track(LINE), boom_m=4.0)
    assert [row.name for row in answer.plots] == ["north", "south"]
    for row in answer.plots:
        assert row.treated_m2 == pytest.approx(200.0, rel=EXACT)
        assert row.overlap_m2 == pytest.approx(0.0, abs=1e-3)
    assert answer.treated_m2 == pytest.approx(400.0, rel=EXACT)
    # 1e-3 m2: the edge between the plots is 100 m long, and rounding is far below 10 micrometres.
    assert answer.outside_m2 == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("boom_on", [1, -1])
def test_a_drive_across_the_common_edge_of_two_plots_is_not_broken_there(boom_on):
    """Crossing from plot to plot with the boom on, recorded or assumed, nothing is missed at the edge."""
    plots = [make_plot(box(-50, -10, 0, 10)), make_plot(box(0, -10, 50, 10))]
    answer = cover(plots, make_track(straight((-50, 0), (50, 0), step_m=3)), boom_m=4.0)
    assert [row.treated_m2 for row in answer.plots] == pytest.approx([200.0, 200.0], rel=EXACT)
    answer = cover(plots, make_track(straight((-49, 0), (49, 0), step_m=3), boom_on=boom_on), boom_m=20.0)
    assert answer.treated_m2 == pytest.approx(1960.0, rel=EXACT)
    assert answer.overlap_m2 == pytest.approx(0.0, abs=1e-3)


def test_shared_ground_counts_once_in_the_totals():
    """Where two plots lie on each other each gets its own row, and the totals count the ground once."""
    plots = [make_plot(box(-50, -10, 10, 10), name="west"), make_plot(box(-10, -10, 50, 10), name="east")]
    answer = cover(plots, make_track(LINE), boom_m=4.0)
    assert [row.plot_m2 for row in answer.plots] == pytest.approx([1200.0, 1200.0], rel=EXACT)
    assert [row.treated_m2 for row in answer.plots] == pytest.approx([240.0, 240.0], rel=EXACT)
    assert answer.treated_m2 == pytest.approx(400.0, rel=EXACT)
    assert answer.missed_m2 == pytest.approx(2000.0 - 400.0, rel=EXACT)
    assert answer.plot_m2 == pytest.approx(2000.0, rel=EXACT)
    assert answer.overlap_m2 == pytest.approx(0.0, abs=1e-3)


def test_plots_apart_add_up_to_the_totals():
    """Every total is the sum of the plots' rows where no ground is shared."""
    plots = [make_plot(box(60 * k, -20, 60 * k + 40, 20), name=f"plot {k}") for k in range(4)]
    gap = np.concatenate([straight((-10, 5), (70, 5)), straight((90, 5), (240, 5))])
    time_s = 1.7e9 + np.arange(len(gap)) + 40.0 * (gap[:, 0] >= 90)
    tracks = [make_track(gap, time_s=time_s), make_track(straight((-10, 3), (240, 3)))]
    answer = cover(plots, tracks, boom_m=4.0)
    for figure in ("treated_m2", "missed_m2", "overlap_m2", "unknown_m2"):
        rows = [getattr(row, figure) for row in answer.plots]
        assert getattr(answer, figure) == pytest.approx(sum(rows), rel=EXACT, abs=1e-3)
        assert sum(rows) > 0
    assert answer.plot_m2 == pytest.approx(4 * 1600.0, rel=EXACT)


def test_a_plot_in_two_parts_is_one_row():
    """A plot of two separate parts is judged as one plot."""
    both = make_plot(box(-50, -10, -10, 10)).shape.union(make_plot(box(10, -10, 50, 10)).shape)
    answer = cover(Plot(name="two parts", shape=both), make_track(LINE), boom_m=4.0)
    assert len(answer.plots) == 1
    assert answer.treated_m2 == pytest.approx(4.0 * 80, rel=EXACT)
    assert answer.outside_m2 == pytest.approx(4.0 * 20, rel=EXACT)


def test_the_answer_keeps_the_plots_order_and_names():
    """Rows come in the order of the plots, also where two share a name."""
    names = ["south", "north", "south"]
    plots = [make_plot(box(0, 30 * k, 20, 30 * k + 20), name=name) for k, name in enumerate(names)]
    assert [row.name for row in cover(plots, make_track(LINE), boom_m=4.0).plots] == names


def test_the_order_of_tracks_changes_no_figure():
    """Tracks in any order give the same ground."""
    plot = make_plot(box(-40, -30, 45, 30))
    rng = np.random.default_rng(3)
    tracks = [make_track(straight((-60, y), (60, y + 7))) for y in rng.uniform(-30, 25, 7)]
    first = cover(plot, tracks, boom_m=5.0)
    for order in ([6, 5, 4, 3, 2, 1, 0], [3, 0, 6, 1, 5, 2, 4]):
        again = cover(plot, [tracks[k] for k in order], boom_m=5.0)
        for figure in ("treated_m2", "missed_m2", "overlap_m2", "outside_m2", "driven_m2"):
            assert getattr(again, figure) == pytest.approx(getattr(first, figure), rel=EXACT)


def test_a_track_elsewhere_is_named():
    """A track hundreds of miles away is refused by name; one a mile away is noticed, as no ground was treated."""
    plot = make_plot(box(-20, -20, 20, 20))
    far = make_track(LINE, home=(-101.0, 40.0), name="elsewhere")
    with pytest.raises(TrackError, match=r"elsewhere: lies [\d,]+ miles from the plots"):
        cover(plot, far, boom_m=4.0)
    near = cover(plot, make_track(LINE + np.array([0.0, 2000.0])), boom_m=4.0)
    assert near.treated_m2 == 0.0
    assert any("1.2 miles" in notice for notice in near.notices)


def test_a_track_beside_the_plots_is_noticed():
    """A track that enters no plot treats nothing, and how far off it passes is said in feet."""
    answer = cover(make_plot(box(-20, 10, 20, 40)), make_track(LINE), boom_m=4.0)
    assert answer.treated_m2 == 0.0
    assert any("enters a plot" in notice and "33 ft" in notice for notice in answer.notices)


def test_a_track_of_one_point_is_refused():
    """One point drives nothing and is refused by name."""
    with pytest.raises(TrackError, match="short: has fewer than two points"):
        cover(make_plot(box(-20, -20, 20, 20)), make_track([(0.0, 0.0)], name="short"), boom_m=4.0)


def test_no_plots_are_refused():
    """Without any plot there is nothing to judge."""
    with pytest.raises(InputError, match="No plot"):
        cover_plots([], [make_track(LINE)], sprayer=Sprayer(width_m=4.0))


def test_no_tracks_miss_everything():
    """Without any track the whole plot is missed, or the call is refused; it is no crash."""
    plot = make_plot(box(-20, -20, 20, 20))
    try:
        answer = cover(plot, [], boom_m=4.0)
    except InputError:
        return
    assert answer.missed_m2 == pytest.approx(1600.0, rel=EXACT)


def test_progress_runs_from_nothing_to_all():
    """Progress told to the caller never falls and ends at one."""
    told: list[float] = []
    plots = measure_plots([make_plot(box(-20, -20, 20, 20))]).plots
    tracks = [make_track(straight((-30, y), (30, y))) for y in range(-18, 20, 4)]
    cover_plots(plots, tracks, sprayer=Sprayer(width_m=4.0), progress=told.append)
    assert told
    assert told == sorted(told)
    assert told[-1] == pytest.approx(1.0)
    assert told[0] >= 0.0


def test_a_plot_without_ground_keeps_its_row():
    """A plot that the setback ate up stays in the answer, with nothing in it, so that none is lost."""
    frame = Frame(-86.0, 32.0)
    plots = [
        plot_on("Thin", rectangle(4, 100), frame=frame),
        plot_on("Wide", rectangle(60, 60, at=(50, 0)), frame=frame),
    ]
    measured = measure_plots(plots, setback_m=3.0)
    answer = cover_plots(measured.plots, [], sprayer=Sprayer(width_m=4.0))
    assert [(row.name, row.plot_m2 > 0) for row in answer.plots] == [("Thin", False), ("Wide", True)]
    assert "Thin" in map_page(measured, title="t", coverage=answer)
