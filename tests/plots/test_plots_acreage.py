"""Acres of plots: what obstacles and setback take, shared ground, ranges, notices; against closed forms."""

import math
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from gladebook.geometry.area import geodesic_area_m2
from gladebook.notes import Note
from gladebook.plots.acreage import Measured, PlotAcres, measure_plots
from gladebook.plots.plot import Plot
from gladebook.plots.sureness import PositionError
from gladebook.units import ACRE_M2, FT_M
from tests.geometry.golden import on_ground

# Ground laid out by GeographicLib is off by parts in a hundred million of a plot's size, and the
# ellipsoidal areas themselves by 1e-3 m2; both are thousands of times below a footprint.
M2 = 2e-3
SURE = PositionError(sd_m=0.0)


def rectangle(west: float, south: float, east: float, north: float) -> list[tuple[float, float]]:
    return [(west, south), (east, south), (east, north), (west, north)]


def plot(name: str, shell: list[tuple[float, float]], *holes: list[tuple[float, float]], **more: Any) -> Plot:
    return Plot(name, on_ground(shell, *holes), **more)


def one(answer: Measured) -> PlotAcres:
    (row,) = answer.plots
    return row


FIELD = plot("Long Field", rectangle(0, 0, 200, 100))
POND = plot("pond", rectangle(20, 30, 60, 50))


def test_a_plain_plot_is_its_whole_boundary() -> None:
    """Without obstacles and setback net is gross, and nothing is taken."""
    row = one(measure_plots([FIELD], error=SURE))
    assert row.name == "Long Field"
    assert row.net_m2 == row.gross_m2 == pytest.approx(20_000, abs=M2)
    assert (row.obstacle_m2, row.setback_m2) == (0.0, 0.0)
    assert row.perimeter_m == pytest.approx(600, abs=1e-3)
    assert (row.low_m2, row.high_m2) == (row.net_m2, row.net_m2)
    assert row.shape.equals(FIELD.shape)


def test_a_firebreak_in_acres() -> None:
    """A strip of 1,000 ft by 20 ft is 0.4591 acre (arithmetic: 20,000 / 43,560)."""
    strip = plot("Firebreak", rectangle(0, 0, 1000 * FT_M, 20 * FT_M))
    assert round(measure_plots([strip]).total_m2 / ACRE_M2, 4) == 0.4591


def test_an_acre_square_in_acres() -> None:
    """A square of 208.71 ft is one acre, to the 0.003 % that the rounded side allows."""
    side = 208.71 * FT_M
    assert measure_plots([plot("Square", rectangle(0, 0, side, side))]).total_m2 / ACRE_M2 == pytest.approx(1, abs=3e-5)


def test_a_pond_is_taken_out() -> None:
    """A pond inside a plot takes its own area."""
    row = one(measure_plots([FIELD], obstacles=[POND], error=SURE))
    assert row.obstacle_m2 == pytest.approx(800, abs=M2)
    assert row.net_m2 == pytest.approx(19_200, abs=M2)
    assert row.gross_m2 == pytest.approx(20_000, abs=M2)
    assert geodesic_area_m2(row.shape) == pytest.approx(row.net_m2, abs=M2)


def test_only_the_part_of_a_pond_inside_is_taken_out() -> None:
    """A pond across the edge takes what lies inside, one beside the plot or touching it takes nothing."""
    across = plot("across", rectangle(190, 40, 230, 60))
    beside = plot("beside", rectangle(300, 0, 400, 50))
    touching = plot("touching", rectangle(200, 0, 220, 50))
    row = one(measure_plots([FIELD], obstacles=[across, beside, touching], error=SURE))
    assert row.obstacle_m2 == pytest.approx(10 * 20, abs=M2)


def test_ponds_on_each_other_are_taken_out_once() -> None:
    """Ground under two obstacles is taken out once."""
    other = plot("other", rectangle(40, 40, 80, 60))
    row = one(measure_plots([FIELD], obstacles=[POND, other, POND], error=SURE))
    assert row.obstacle_m2 == pytest.approx(800 + 800 - 20 * 10, abs=M2)


def test_an_island_in_a_pond_stays() -> None:
    """An island in a pond is ground of the plot."""
    ring = plot("ring", rectangle(20, 20, 60, 60), rectangle(30, 30, 50, 50))
    assert one(measure_plots([FIELD], obstacles=[ring], error=SURE)).obstacle_m2 == pytest.approx(1200, abs=M2)


def test_a_pond_in_two_plots_is_taken_out_of_each() -> None:
    """A pond across a fence takes from each plot what lies in it."""
    left, right = plot("Left", rectangle(0, 0, 40, 100)), plot("Right", rectangle(40, 0, 200, 100))
    answer = measure_plots([left, right], obstacles=[POND], error=SURE)
    assert [row.obstacle_m2 for row in answer.plots] == pytest.approx([400, 400], abs=M2)
    assert answer.total_m2 == pytest.approx(20_000 - 800, abs=M2)


def test_a_plot_that_is_all_pond_has_no_ground() -> None:
    """Where obstacles cover a plot nothing is left, which is said, and the others keep theirs."""
    lake = plot("lake", rectangle(-10, -10, 210, 110))
    far = plot("Far", rectangle(400, 0, 500, 100))
    answer = measure_plots([FIELD, far], obstacles=[lake], error=SURE)
    first, second = answer.plots
    assert first.net_m2 == 0.0
    assert first.obstacle_m2 == pytest.approx(first.gross_m2, abs=M2)
    assert geodesic_area_m2(first.shape) == 0.0
    assert second.net_m2 == pytest.approx(10_000, abs=M2)
    assert answer.total_m2 == pytest.approx(10_000, abs=M2)
    assert any(note.startswith("Long Field") and "no ground" in note for note in answer.notices)


def test_a_hole_of_the_boundary_is_no_obstacle() -> None:
    """A hole drawn in the boundary is not ground of the plot: gross is without it."""
    holed = plot("Holed", rectangle(0, 0, 100, 100), rectangle(40, 40, 60, 60))
    row = one(measure_plots([holed], error=SURE))
    assert row.gross_m2 == row.net_m2 == pytest.approx(9_600, abs=M2)
    assert row.perimeter_m == pytest.approx(400, abs=1e-3)


@pytest.mark.parametrize("setback_m", [0.5, 3.048, 10.0, 49.0])
def test_a_setback_of_a_rectangle_in_closed_form(setback_m: float) -> None:
    """A setback s leaves (w - 2 s)(h - 2 s) of a rectangle."""
    row = one(measure_plots([FIELD], setback_m=setback_m, error=SURE))
    left = (200 - 2 * setback_m) * (100 - 2 * setback_m)
    assert row.net_m2 == pytest.approx(left, abs=M2)
    assert row.setback_m2 == pytest.approx(20_000 - left, abs=M2)
    assert geodesic_area_m2(row.shape) == pytest.approx(row.net_m2, abs=M2)


def test_a_setback_round_a_hole_is_rounded_at_its_corners() -> None:
    """Trap 30: round a square hole the setback adds 4 h s and a circle of radius s, to 0.02 % of the circle."""
    s = 10.0
    holed = plot("Holed", rectangle(0, 0, 100, 100), rectangle(40, 40, 60, 60))
    row = one(measure_plots([holed], setback_m=s, error=SURE))
    circle = math.pi * s * s
    exact = (100 - 2 * s) ** 2 - (20**2 + 4 * 20 * s + circle)
    # a quarter circle in 64 steps is 0.010 % short, in the usual 16 steps 0.16 %
    assert row.net_m2 == pytest.approx(exact, abs=2e-4 * circle + M2)
    assert abs(row.net_m2 - exact) < 0.0016 * circle / 4


def test_a_setback_at_an_inner_corner_is_rounded() -> None:
    """Trap 30: at the inner corner of an L the setback is a quarter circle."""
    s = 8.0
    ell = plot("Ell", [(0, 0), (100, 0), (100, 40), (40, 40), (40, 100), (0, 100)])
    row = one(measure_plots([ell], setback_m=s, error=SURE))
    # two arms of 100 by 40 shrunk to 84 by 24, crossing in 24 by 24; beyond them, the bit of the square of
    # side s at the inner corner that lies more than s from the corner itself
    exact = 84 * 24 * 2 - 24 * 24 + (s * s - math.pi * s * s / 4)
    assert row.net_m2 == pytest.approx(exact, abs=2e-4 * math.pi * s * s + M2)


def test_a_setback_as_wide_as_half_the_plot_leaves_nothing() -> None:
    """A setback of 10 ft and more on a firebreak of 20 ft leaves no ground, which is said."""
    strip = plot("Firebreak", rectangle(0, 0, 1000 * FT_M, 20 * FT_M))
    answer = measure_plots([strip], setback_m=10.5 * FT_M, error=SURE)
    row = one(answer)
    assert row.net_m2 == 0.0
    assert row.setback_m2 == pytest.approx(row.gross_m2, abs=1e-9)
    assert answer.total_m2 == 0.0
    assert any(note.startswith("Firebreak") and "no ground" in note for note in answer.notices)


def test_a_tiny_plot_has_its_ground() -> None:
    """A plot of half a square metre, with nothing taken out of it, is not said to be eaten up by a setback."""
    answer = measure_plots([plot("Tiny", rectangle(0, 0, 0.7, 0.7))], error=SURE)
    assert answer.total_m2 == pytest.approx(0.49, abs=M2)
    assert not any("no ground" in note for note in answer.notices)


def test_a_setback_may_cut_a_plot_in_two() -> None:
    """An hourglass with a neck narrower than two setbacks becomes two pieces."""
    hourglass = plot(
        "Hourglass",
        [
            (0, 0),
            (50, 0),
            (50, 25),
            (70, 25),
            (70, 0),
            (120, 0),
            (120, 60),
            (70, 60),
            (70, 35),
            (50, 35),
            (50, 60),
            (0, 60),
        ],
    )
    row = one(measure_plots([hourglass], setback_m=6.0, error=SURE))
    assert row.shape.geom_type == "MultiPolygon"
    assert len(row.shape.geoms) == 2


def test_a_pond_in_the_setback_is_not_taken_twice() -> None:
    """What lies in the setback is taken as setback; an obstacle takes only what is then left."""
    corner = plot("corner", rectangle(-20, -20, 30, 20))
    row = one(measure_plots([FIELD], obstacles=[corner], setback_m=10.0, error=SURE))
    assert row.setback_m2 == pytest.approx(20_000 - 180 * 80, abs=M2)
    assert row.obstacle_m2 == pytest.approx(20 * 10, abs=M2)
    assert row.net_m2 == pytest.approx(180 * 80 - 200, abs=M2)
    assert geodesic_area_m2(row.shape) == pytest.approx(row.net_m2, abs=M2)


def test_the_setback_is_said_in_feet() -> None:
    """A setback is said in feet, and that it holds along every edge as drawn."""
    answer = measure_plots([FIELD], setback_m=10 * FT_M, error=SURE)
    assert any("setback of 10 ft" in note and "every edge" in note for note in answer.notices)


def test_a_plot_in_two_parts_is_one_plot() -> None:
    """A plot in two parts is measured as one: areas and outer edges add up, the setback holds round both."""
    parts = shapely.MultiPolygon([on_ground(rectangle(0, 0, 100, 50)), on_ground(rectangle(150, 0, 200, 50))])
    row = one(measure_plots([Plot("Twins", parts)], setback_m=5.0, error=SURE))
    assert row.gross_m2 == pytest.approx(7_500, abs=M2)
    assert row.net_m2 == pytest.approx(90 * 40 + 40 * 40, abs=M2)
    assert row.perimeter_m == pytest.approx(500, abs=1e-3)


def test_parts_that_touch_have_no_setback_between_them() -> None:
    """Where two parts of one plot share an edge, that edge is inside the plot and no setback is kept off it."""
    parts = shapely.MultiPolygon([on_ground(rectangle(0, 0, 60, 50)), on_ground(rectangle(60, 0, 100, 50))])
    row = one(measure_plots([Plot("Joined", parts)], setback_m=5.0, error=SURE))
    assert row.gross_m2 == pytest.approx(5_000, abs=M2)
    assert row.net_m2 == pytest.approx(90 * 40, abs=0.05)


def test_shared_ground_of_two_plots_counts_once() -> None:
    """Ground in two plots is named and counts once in the total; each plot keeps its own acres."""
    east = plot("East", rectangle(150, 0, 300, 100))
    answer = measure_plots([FIELD, east], error=SURE)
    assert [row.net_m2 for row in answer.plots] == pytest.approx([20_000, 15_000], abs=M2)
    assert answer.total_m2 == pytest.approx(30_000, abs=M2)
    (note,) = answer.notices
    assert note.startswith("Long Field and East share ")
    assert f"{50 * 100 / ACRE_M2:.3f} ac" in note


def test_shared_ground_of_three_plots_counts_once() -> None:
    """Ground in three plots counts once, not minus once: the total is the ground under all of them."""
    # a chain and a corner that all three share: inclusion and exclusion gives 3 x 10,000 - 3 x 2,500 - ... = union
    plots = [
        plot("One", rectangle(0, 0, 100, 100)),
        plot("Two", rectangle(50, 0, 150, 100)),
        plot("Three", rectangle(25, 50, 125, 150)),
    ]
    # union: 150 x 100 below and 100 x 50 above it
    answer = measure_plots(plots, error=SURE)
    assert answer.total_m2 == pytest.approx(150 * 100 + 100 * 50, abs=2 * M2)
    assert sum("share" in note for note in answer.notices) == 3


def test_the_same_plot_three_times_counts_once() -> None:
    """A plot that is in the file three times counts once in the total."""
    answer = measure_plots([FIELD, FIELD, FIELD], error=SURE)
    assert answer.total_m2 == pytest.approx(20_000, abs=2 * M2)


def test_a_chain_of_plots_counts_each_shared_strip_once() -> None:
    """In a chain where each plot shares a strip with the next, each strip is taken off once."""
    chain = [plot(f"Link {i}", rectangle(90 * i, 0, 90 * i + 100, 50)) for i in range(5)]
    answer = measure_plots(chain, error=SURE)
    assert answer.total_m2 == pytest.approx((4 * 90 + 100) * 50, abs=5 * M2)
    assert sum("share" in note for note in answer.notices) == 4


def test_two_groups_of_plots_are_counted_apart() -> None:
    """Plots far apart that share ground within their groups are counted group by group."""
    near = [plot("A", rectangle(0, 0, 100, 100)), plot("B", rectangle(50, 0, 150, 100))]
    far = [
        Plot("C", on_ground(rectangle(0, 0, 100, 100), lon=-90.0, lat=34.0)),
        Plot("D", on_ground(rectangle(0, 50, 100, 150), lon=-90.0, lat=34.0)),
    ]
    answer = measure_plots([near[0], far[0], near[1], far[1]], error=SURE)
    assert [row.name for row in answer.plots] == ["A", "C", "B", "D"]
    assert answer.total_m2 == pytest.approx(30_000, abs=4 * M2)


def test_plots_that_touch_share_nothing() -> None:
    """Neighbours along a fence share no ground, and nothing is said."""
    left, right = plot("Left", rectangle(0, 0, 100, 100)), plot("Right", rectangle(100, 0, 200, 100))
    answer = measure_plots([left, right], error=SURE)
    assert answer.total_m2 == pytest.approx(20_000, abs=2 * M2)
    assert answer.notices == ()


def test_a_plot_within_another_counts_once() -> None:
    """A plot that lies within another adds nothing to the total; in the other's hole it adds all."""
    inner = plot("Inner", rectangle(40, 40, 60, 60))
    outer = plot("Outer", rectangle(0, 0, 100, 100))
    ring = plot("Ring", rectangle(0, 0, 100, 100), rectangle(40, 40, 60, 60))
    assert measure_plots([inner, outer], error=SURE).total_m2 == pytest.approx(10_000, abs=2 * M2)
    assert measure_plots([inner, ring], error=SURE).total_m2 == pytest.approx(10_000, abs=2 * M2)


def test_shared_ground_is_what_is_left_of_it() -> None:
    """Obstacles and setback come off before shared ground is counted: shared ground under a pond is none."""
    east = plot("East", rectangle(150, 0, 300, 100))
    pond = plot("pond", rectangle(150, 0, 200, 100))
    answer = measure_plots([FIELD, east], obstacles=[pond], error=SURE)
    assert answer.total_m2 == pytest.approx(30_000 - 5_000, abs=2 * M2)
    assert not any("share" in note for note in answer.notices)


def test_the_order_of_the_file_is_kept() -> None:
    """The answer has the plots in the order in which they came, names alike or not."""
    names = ["Zeta", "Alpha", "Mid", "Alpha"]
    plots = [plot(name, rectangle(300 * i, 0, 300 * i + 10 * (i + 1), 10)) for i, name in enumerate(names)]
    answer = measure_plots(plots, error=SURE)
    assert [row.name for row in answer.plots] == names
    assert [row.net_m2 for row in answer.plots] == pytest.approx([100, 200, 300, 400], abs=M2)
    assert any('2 are called "Alpha"' in note for note in answer.notices)


def test_notes_of_plots_and_obstacles_reach_the_reader() -> None:
    """What was noted when files were read stands among the notices, in order."""
    noted = Plot("Noted", FIELD.shape, notes=(Note("repaired", "Noted", "closed to the first corner."),))
    pond = Plot("pond", POND.shape, notes=(Note("repaired", "pond", "mended."),))
    notices = measure_plots([noted], obstacles=[pond], error=SURE).notices
    assert notices[:2] == ("Noted: closed to the first corner.", "pond: mended.")


def test_obstacles_that_miss_every_plot_are_said() -> None:
    """A file of obstacles from another place is not taken silently."""
    far = Plot("far", on_ground(rectangle(0, 0, 50, 50), lon=-100.0, lat=40.0))
    notices = measure_plots([FIELD], obstacles=[far], error=SURE).notices
    assert any("No obstacle touches a plot" in note for note in notices)


def test_progress_goes_from_plot_to_plot() -> None:
    """Progress is told after each plot and ends at one."""
    told: list[float] = []
    measure_plots([FIELD] * 4, error=SURE, progress=told.append)
    assert told == [0.25, 0.5, 0.75, 1.0]


def test_the_range_of_a_rectangle_in_closed_form() -> None:
    """The 95 % range is 1.96 standard deviations either way, from the variance of a rectangle's four corners."""
    # sd^2 / 4 x sum of the four diagonals squared, + 4 sd^4 / 2
    sd_m = 3.0
    variance = sd_m**2 / 4 * 4 * (200**2 + 100**2) + 2 * sd_m**4
    row = one(measure_plots([FIELD], error=PositionError(sd_m=sd_m)))
    half = 1.959964 * math.sqrt(variance)
    assert row.high_m2 - row.net_m2 == pytest.approx(half, rel=1e-6)
    assert row.net_m2 - row.low_m2 == pytest.approx(half, rel=1e-6)


def test_the_range_holds_in_nineteen_of_twenty_surveys() -> None:
    """Of 4,000 simulated surveys of a plot, 95 % fall into its range."""
    # binomial standard error of the share: sqrt(0.95 x 0.05 / 4000) = 0.35 %; 4 of them
    corners = np.array([*rectangle(0, 0, 90, 60), (-10.0, 30.0)], dtype=float)
    row = one(measure_plots([plot("Simulated", [(float(x), float(y)) for x, y in corners])], error=PositionError(3.0)))
    random = np.random.default_rng(7)
    moved = corners + 3.0 * random.standard_normal((4000, 5, 2))
    areas = shapely.area(shapely.polygons(np.concatenate([moved, moved[:, :1]], axis=1)))
    share = ((areas > row.low_m2) & (areas < row.high_m2)).mean()
    assert share == pytest.approx(0.95, abs=4 * 0.0035)


def test_holes_and_ponds_add_their_own_doubt() -> None:
    """The variances of shell, hole and pond add up, as their corners err independently."""
    sd_m = 2.0

    def of_rectangle(w: float, h: float) -> float:
        return sd_m**2 * (w * w + h * h) + 2 * sd_m**4

    holed = plot("Holed", rectangle(0, 0, 100, 100), rectangle(70, 70, 90, 80))
    row = one(measure_plots([holed], obstacles=[POND], error=PositionError(sd_m=sd_m)))
    variance = of_rectangle(100, 100) + of_rectangle(20, 10) + of_rectangle(40, 20)
    assert row.high_m2 - row.net_m2 == pytest.approx(1.959964 * math.sqrt(variance), rel=1e-6)


def test_a_walked_boundary_is_less_sure_than_a_drawn_one() -> None:
    """The same ring of many points is less sure walked than drawn, for walking errors do not average out."""
    corners = [(60 * math.cos(a), 60 * math.sin(a)) for a in np.linspace(0, 2 * math.pi, 200, endpoint=False)]
    drawn, walked = plot("Drawn", corners), plot("Walked", corners, walked=True)
    error = PositionError(sd_m=3.0, walk_m=100.0)
    rows = measure_plots([drawn, walked], error=error).plots
    assert rows[1].high_m2 - rows[1].low_m2 > 3 * (rows[0].high_m2 - rows[0].low_m2)


def test_the_range_never_falls_below_nothing() -> None:
    """A tiny plot with a poor receiver has a range from zero, not from less."""
    row = one(measure_plots([plot("Tiny", rectangle(0, 0, 3, 3))], error=PositionError(sd_m=5.0)))
    assert row.low_m2 == 0.0
    assert row.high_m2 > row.net_m2


def test_an_assumed_error_is_said() -> None:
    """Where no accuracy is given, the assumed one is said with how to set it; where it is given, nothing is said."""
    notices = measure_plots([FIELD]).notices
    assert any("3 m" in note and "--accuracy" in note for note in notices)
    assert not any("along" in note and "walk" in note for note in notices)
    walked = measure_plots([plot("Walked", rectangle(0, 0, 50, 50), walked=True)]).notices
    assert any("100 m of walk" in note for note in walked)
    assert measure_plots([FIELD], error=PositionError(3.0)).notices == ()


@settings(deadline=None, max_examples=40)
@given(
    w=st.floats(20, 400),
    h=st.floats(20, 400),
    pond=st.tuples(st.floats(-50, 400), st.floats(-50, 400), st.floats(1, 200), st.floats(1, 200)),
    setback=st.sampled_from([0.0, 1.0, 7.5]),
    place=st.tuples(st.floats(-179, 179), st.floats(-70, 70)),
)
def test_net_is_gross_less_pond_less_setback(
    w: float, h: float, pond: tuple[float, float, float, float], setback: float, place: tuple[float, float]
) -> None:
    """Net is gross less obstacle less setback, each in closed form for rectangles, anywhere on the earth."""
    lon, lat = place
    field = Plot("Field", on_ground(rectangle(0, 0, w, h), lon=lon, lat=lat))
    x, y, dx, dy = pond
    lake = Plot("lake", on_ground(rectangle(x, y, x + dx, y + dy), lon=lon, lat=lat))
    row = one(measure_plots([field], obstacles=[lake], setback_m=setback))
    assert row.net_m2 == pytest.approx(row.gross_m2 - row.obstacle_m2 - row.setback_m2, abs=M2)
    inside_x = max(0.0, min(w - setback, x + dx) - max(setback, x))
    inside_y = max(0.0, min(h - setback, y + dy) - max(setback, y))
    # a figure laid out over 800 m is true to 4e-8 of itself, its edges to some 0.02 mm
    assert row.gross_m2 == pytest.approx(w * h, rel=1e-7, abs=0.02)
    assert row.obstacle_m2 == pytest.approx(inside_x * inside_y, rel=1e-7, abs=0.02)
    assert row.setback_m2 == pytest.approx(w * h - (w - 2 * setback) * (h - 2 * setback), rel=1e-7, abs=0.02)
    assert 0 <= row.low_m2 <= row.net_m2 <= row.high_m2


@settings(deadline=None, max_examples=40)
@given(
    boxes=st.lists(
        st.tuples(st.integers(0, 30), st.integers(0, 30), st.integers(1, 15), st.integers(1, 15)),
        min_size=1,
        max_size=6,
    )
)
def test_the_total_is_the_ground_under_all_plots(boxes: list[tuple[int, int, int, int]]) -> None:
    """However plots lie on each other, the total is the ground under them, counted by squares of 10 m."""
    squares = {(i, j) for x, y, w, h in boxes for i in range(x, x + w) for j in range(y, y + h)}
    plots = [
        plot(f"Plot {n}", rectangle(10 * x, 10 * y, 10 * (x + w), 10 * (y + h))) for n, (x, y, w, h) in enumerate(boxes)
    ]
    answer = measure_plots(plots, error=SURE)
    # edges laid out as geodesics of up to 450 m bow from each other by less than 0.1 mm over 150 m
    assert answer.total_m2 == pytest.approx(100 * len(squares), rel=1e-6, abs=0.05 * len(boxes))
    assert [row.net_m2 for row in answer.plots] == pytest.approx([100 * w * h for _, _, w, h in boxes], rel=1e-6)
