"""Swept ground: what a line covers as it moves, against closed forms."""

import math
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from gladebook.geometry import ribbon
from gladebook.geometry.ribbon import Steps, step_turn_rad, swept_edges
from gladebook.units import ACRE_M2, FT_M

Points = npt.NDArray[np.float64]
EXACT = 1e-9


def heading_along(path: Points, *, reach_m: float = 1.0) -> Points:
    """Headings along a path that is one run."""
    return ribbon.heading_along(path, run=np.zeros(len(path), dtype=np.int64), reach_m=reach_m)


def swept_pieces(
    start_m: Points, end_m: Points, *, heading_start: Points, heading_end: Points, width_m: npt.NDArray[np.float64]
) -> tuple[Any, npt.NDArray[np.int64]]:
    """Polygons of steps that do not hang together, and the step of each."""
    steps = Steps(
        start_m=start_m,
        end_m=end_m,
        heading_start=heading_start,
        heading_end=heading_end,
        left_m=width_m / 2,
        right_m=-width_m / 2,
        behind_m=0.0,
        owner=np.arange(len(start_m)),
        follows=np.zeros(len(start_m), dtype=bool),
    )
    edges = swept_edges(steps)
    pieces: list[Any] = []
    owners: list[int] = []
    for owner in np.unique(edges.owner).tolist():
        mine = edges.owner == owner
        lines = shapely.linestrings(np.stack([edges.start_m[mine], edges.end_m[mine]], axis=1))
        faces = shapely.get_parts(shapely.polygonize(lines))
        # The signed area of directed edges: every piece runs anticlockwise.
        a, b = edges.start_m[mine], edges.end_m[mine]
        assert (a[:, 0] * b[:, 1] - b[:, 0] * a[:, 1]).sum() / 2 == pytest.approx(shapely.area(faces).sum(), abs=1e-6)
        pieces += list(faces)
        owners += [owner] * len(faces)
    return np.array(pieces, dtype=object), np.array(owners, dtype=np.int64)


def sweep(path: Points, heading: Points, width: float) -> tuple[Any, npt.NDArray[np.int64]]:
    widths = np.full(len(path) - 1, width)
    return swept_pieces(path[:-1], path[1:], heading_start=heading[:-1], heading_end=heading[1:], width_m=widths)


def one_step(
    start: tuple[float, float], end: tuple[float, float], turn: tuple[float, float], width: float
) -> tuple[Any, npt.NDArray[np.int64]]:
    """One step; the headings are compass-free angles from the x axis, degrees."""
    heading = np.array([[math.cos(math.radians(a)), math.sin(math.radians(a))] for a in turn])
    return sweep(np.array([start, end]), heading, width)


def arc(radius: float, steps: int, degrees: float = 90.0) -> tuple[Points, Points]:
    angle = np.linspace(0, math.radians(degrees), steps + 1)
    path = radius * np.column_stack([np.cos(angle), np.sin(angle)])
    return path, np.column_stack([-np.sin(angle), np.cos(angle)])


def test_a_straight_pass_sweeps_length_times_width() -> None:
    """A straight pass of 1,000 ft with a 20 ft boom sweeps 0.4591 acre, whatever its steps."""
    # 1,000 x 20 ft = 20,000 / 43,560 ac (arithmetic)
    for steps in (1, 7, 100):
        x = np.linspace(0, 1000 * FT_M, steps + 1)
        path = np.column_stack([x, np.zeros(steps + 1)])
        pieces, owners = sweep(path, np.tile([1.0, 0.0], (steps + 1, 1)), 20 * FT_M)
        assert owners.tolist() == list(range(steps))
        assert round(shapely.union_all(pieces).area / ACRE_M2, 4) == 0.4591
        assert shapely.area(pieces).sum() == pytest.approx(20_000 * FT_M**2, rel=EXACT)


def test_two_passes_side_by_side() -> None:
    """Two passes of 4 m x 100 m, 3 m apart, sweep 800 m2, cover 700 and overlap on 100."""
    swept = []
    for y in (0.0, 3.0):
        path = np.column_stack([np.linspace(0, 100, 11), np.full(11, y)])
        swept.append(sweep(path, np.tile([1.0, 0.0], (11, 1)), 4.0)[0])
    both = np.concatenate(swept)
    assert shapely.area(both).sum() == pytest.approx(800, rel=EXACT)
    assert shapely.union_all(both).area == pytest.approx(700, rel=EXACT)
    twice = shapely.intersection(shapely.union_all(swept[0]), shapely.union_all(swept[1]))
    assert twice.area == pytest.approx(100, rel=EXACT)


@pytest.mark.parametrize(("steps", "area"), [(12, 93.98), (48, 94.231)])
def test_a_quarter_turn_with_few_steps(steps: int, area: float) -> None:
    """Trap 26: a quarter turn of radius 10 m, 6 m wide, is 93.98 m2 in 12 steps and 94.231 in 48, no hole."""
    path, heading = arc(10, steps)
    pieces, _ = sweep(path, heading, 6)
    # each piece lies between chords of the circles of 7 and 13 m: sin(t) (13^2 - 7^2) / 2
    exact = steps * math.sin(math.pi / 2 / steps) * (13**2 - 7**2) / 2
    assert exact == pytest.approx(area, abs=0.005 if steps == 12 else 0.0005)
    assert shapely.area(pieces).sum() == pytest.approx(exact, rel=EXACT)
    assert shapely.union_all(pieces).area == pytest.approx(exact, rel=EXACT)


def test_a_quarter_turn_converges_to_its_true_area() -> None:
    """Trap 26: with finer steps a quarter turn comes to its true 94.248 m2, four times nearer for half the step."""
    true = math.pi / 2 * 10 * 6
    assert true == pytest.approx(94.248, abs=5e-4)
    missing = []
    for steps in (12, 24, 48, 96, 192):
        path, heading = arc(10, steps)
        missing.append(true - shapely.union_all(sweep(path, heading, 6)[0]).area)
    ratios = [a / b for a, b in pairwise(missing)]
    assert ratios == pytest.approx([4.0] * 4, rel=0.01)
    assert missing[-1] < 0.002


def test_a_quarter_turn_with_headings_from_the_path() -> None:
    """Trap 26: with headings read off the path itself, the quarter turn is right to 1 % at 0.3 m steps."""
    path, _ = arc(10, 48)
    pieces, _ = sweep(path, heading_along(path), 6)
    # the two end headings look one way and are off by half the reach: a wedge of some 0.05 rad at each end
    assert shapely.union_all(pieces).area == pytest.approx(math.pi / 2 * 60, rel=0.01)


def test_rectangles_would_leave_a_wedge_in_a_turn() -> None:
    """Trap 26: rectangles laid on each chord cover only 87.32 m2 of the same turn: the oracle knows the fault."""
    path, _ = arc(10, 48)
    boxes = []
    for a, b in pairwise(path):
        across = 3 * np.array([-(b - a)[1], (b - a)[0]]) / np.hypot(*(b - a))
        boxes.append(shapely.Polygon([a + across, b + across, b - across, a - across]))
    assert shapely.union_all(boxes).area == pytest.approx(87.32, abs=0.1)


def test_a_whole_circle_is_a_ring() -> None:
    """Driving a circle sweeps the ring between its outer and inner edge and leaves the middle out."""
    path, heading = arc(20, 400, 360)
    whole = shapely.union_all(sweep(path, heading, 6)[0])
    assert whole.area == pytest.approx(math.pi * (23**2 - 17**2), rel=1e-4)
    assert not whole.contains(shapely.Point(0, 0))
    assert whole.contains(shapely.Point(-22.9, 0.1))
    assert not whole.contains(shapely.Point(-23.1, 0.1))


@pytest.mark.parametrize("degrees", [1.0, 20.0, 45.0, 89.0, -60.0])
def test_a_pivot_in_place_sweeps_two_triangles(degrees: float) -> None:
    """A boom that swings about its own middle sweeps two triangles that meet there."""
    pieces, owners = one_step((5, 7), (5, 7), (30, 30 + degrees), 6)
    assert len(pieces) == 2
    assert owners.tolist() == [0, 0]
    each = 3**2 * math.sin(math.radians(abs(degrees))) / 2
    assert shapely.area(pieces).tolist() == pytest.approx([each, each], rel=EXACT)
    assert shapely.intersection(*pieces).area == pytest.approx(0, abs=EXACT)
    assert all(shapely.distance(piece, shapely.Point(5, 7)) < EXACT for piece in pieces)


def test_a_pivot_within_the_boom_is_off_its_middle() -> None:
    """A turn about a point within the boom sweeps two triangles, one on each side of that point."""
    # about a point 1 m left of the middle, by 30 degrees: arms of 2 m and 4 m, chords of their circles
    turn = math.radians(30)
    pivot = np.array([0.0, 1.0])
    end = pivot + np.array([math.sin(turn), -math.cos(turn)])
    pieces, _ = one_step((0, 0), (float(end[0]), float(end[1])), (0, 30), 6)
    assert sorted(shapely.area(pieces).tolist()) == pytest.approx(
        sorted([2**2 * math.sin(turn) / 2, 4**2 * math.sin(turn) / 2]), rel=EXACT
    )
    assert all(shapely.distance(piece, shapely.Point(*pivot)) < EXACT for piece in pieces)


def test_the_inner_end_may_stand_still() -> None:
    """A turn about the very end of the boom sweeps one triangle, its point at that end."""
    turn = math.radians(40)
    pivot = np.array([0.0, 3.0])
    end = pivot + 3 * np.array([math.sin(turn), -math.cos(turn)])
    pieces, _ = one_step((0, 0), (float(end[0]), float(end[1])), (0, 40), 6)
    assert shapely.union_all(pieces).area == pytest.approx(6**2 * math.sin(turn) / 2, rel=1e-6)


@pytest.mark.parametrize("turn", [91.0, 135.0, 180.0, 269.0])
def test_turning_back_sweeps_square_to_the_step(turn: float) -> None:
    """Where the heading turned by more than a right angle the step is a rectangle along its own chord."""
    pieces, owners = one_step((0, 0), (3, 4), (20, 20 + turn), 2)
    assert owners.tolist() == [0]
    assert pieces[0].area == pytest.approx(5 * 2, rel=EXACT)
    along, across = np.array([0.6, 0.8]), np.array([-0.8, 0.6])
    expected = shapely.Polygon([across, -across, 5 * along - across, 5 * along + across])
    assert pieces[0].symmetric_difference(expected).area == pytest.approx(0, abs=EXACT)


def test_standing_still_sweeps_nothing() -> None:
    """A step without length and turn has no piece, and neither has a turn on the spot to the back."""
    for turn in (0.0, 180.0):
        pieces, owners = one_step((1, 1), (1, 1), (45, 45 + turn), 6)
        assert (len(pieces), len(owners)) == (0, 0)


def test_no_width_sweeps_nothing() -> None:
    """A boom without width has no piece."""
    pieces, owners = one_step((0, 0), (5, 0), (0, 0), 0.0)
    assert (len(pieces), len(owners)) == (0, 0)


def test_no_steps_sweep_nothing() -> None:
    """No steps at all have no pieces and no owners."""
    none = np.empty((0, 2))
    pieces, owners = swept_pieces(none, none, heading_start=none, heading_end=none, width_m=np.empty(0))
    assert (len(pieces), len(owners)) == (0, 0)


def test_each_step_has_its_own_width() -> None:
    """Steps of different widths sweep each their own width."""
    path = np.column_stack([np.arange(4.0), np.zeros(4)])
    heading = np.tile([1.0, 0.0], (4, 1))
    pieces, owners = swept_pieces(
        path[:-1], path[1:], heading_start=heading[:-1], heading_end=heading[1:], width_m=np.array([2.0, 0.0, 4.0])
    )
    assert owners.tolist() == [0, 2]
    assert shapely.area(pieces).tolist() == pytest.approx([2.0, 4.0])


@settings(deadline=None, max_examples=150)
@given(
    steps=st.lists(st.tuples(st.floats(0.0, 4.0), st.floats(-85, 85)), min_size=1, max_size=20),
    width=st.floats(0.5, 12.0),
    turn=st.floats(0, 2 * math.pi),
    shift=st.tuples(st.floats(-500, 500), st.floats(-500, 500)),
)
def test_pieces_are_sound_and_turn_with_the_path(
    steps: list[tuple[float, float]], width: float, turn: float, shift: tuple[float, float]
) -> None:
    """Pieces are valid areas in the order of their steps, and the whole turned and shifted sweeps as much."""
    angle = np.cumsum([0.0, *(math.radians(t) for _, t in steps)])
    heading = np.column_stack([np.cos(angle), np.sin(angle)])
    move = np.array([length for length, _ in steps])[:, None] * heading[:-1]
    path = np.vstack([np.zeros(2), np.cumsum(move, axis=0)])
    pieces, owners = sweep(path, heading, width)
    assert (np.diff(owners) >= 0).all()
    assert shapely.is_valid(pieces).all()
    assert (shapely.area(pieces) > 0).all()
    spin = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    turned, _ = sweep(path @ spin + shift, heading @ spin, width)
    # rounding: positions of some 500 m carry 1e-13 m
    assert shapely.area(turned).sum() == pytest.approx(shapely.area(pieces).sum(), rel=1e-6, abs=1e-6)
    back, _ = swept_pieces(
        path[1:], path[:-1], heading_start=heading[1:], heading_end=heading[:-1], width_m=np.full(len(steps), width)
    )
    assert shapely.area(back).sum() == pytest.approx(shapely.area(pieces).sum(), rel=1e-6, abs=1e-6)


@settings(deadline=None, max_examples=100)
@given(radius=st.floats(0.1, 60.0), width=st.floats(1.0, 12.0), degrees=st.floats(5, 180))
def test_any_turn_is_path_length_times_width_or_two_sectors(radius: float, width: float, degrees: float) -> None:
    """A turn sweeps angle x R x W where R is at least half the boom, else the sectors of its two arms."""
    steps = 200
    path, heading = arc(radius, steps, degrees)
    angle, half = math.radians(degrees), width / 2
    true = angle * radius * width if radius >= half else angle * ((half + radius) ** 2 + (half - radius) ** 2) / 2
    area = shapely.area(sweep(path, heading, width)[0]).sum()
    # chords of angle t fall short of their arcs by t^2 / 6: 4e-5 at 180 degrees in 200 steps
    assert area == pytest.approx(true, rel=5e-5)


def test_headings_follow_a_straight_path() -> None:
    """Along a straight path every heading is the path's own direction."""
    path = np.column_stack([np.arange(20.0), 0.75 * np.arange(20.0)])
    assert heading_along(path) == pytest.approx(np.tile([0.8, 0.6], (20, 1)))


def test_headings_on_a_circle_are_its_tangents() -> None:
    """On a circle the chord over equal steps either side is the tangent; at the ends it lags by half a chord."""
    path, tangent = arc(20, 60, 180)  # steps of 1.047 m: longer than the reach
    heading = heading_along(path)
    assert heading[1:-1] == pytest.approx(tangent[1:-1], abs=1e-12)
    half_step = math.radians(180 / 60 / 2)
    assert math.acos(float(heading[0] @ tangent[0])) == pytest.approx(half_step, rel=1e-6)
    assert math.acos(float(heading[-1] @ tangent[-1])) == pytest.approx(half_step, rel=1e-6)


def test_the_reach_looks_past_close_points() -> None:
    """Points closer than the reach do not set the heading: a jitter of 5 cm over a metre stays small."""
    x = np.arange(0, 30, 0.1)
    jitter = 0.05 * np.where(np.arange(len(x)) % 2, 1.0, -1.0)
    heading = heading_along(np.column_stack([x, jitter]))
    off = np.degrees(np.arctan2(heading[:, 1], heading[:, 0]))
    # 0.1 m over a chord of 1 m at an end is 5.7 degrees; from point to point it would be 45
    assert np.abs(off).max() <= 5.8


def test_standing_holds_the_last_heading() -> None:
    """While the sprayer stands, the heading it came with holds; before it starts, the first one does."""
    moving = [(float(i) * 2, 0.0) for i in range(5)]
    standing = [(8.0, 0.0)] * 6
    onward = [(8.0, float(i) * 2) for i in range(1, 5)]
    heading = heading_along(np.array([(0.0, 0.0)] * 3 + moving + standing + onward))
    assert heading[:3] == pytest.approx(np.tile([1.0, 0.0], (3, 1)))
    assert np.isfinite(heading).all()
    assert np.hypot(heading[:, 0], heading[:, 1]) == pytest.approx(np.ones(len(heading)))
    assert heading[-1] == pytest.approx([0.0, 1.0])


def test_turning_back_on_the_spot_holds_the_last_heading() -> None:
    """Where a path goes out and comes back the same way, the turning point keeps the heading out."""
    path = np.array([(0.0, 0.0), (2.0, 0.0), (4.0, 0.0), (2.0, 0.0), (0.0, 0.0)])
    heading = heading_along(path)
    assert heading[:3] == pytest.approx(np.tile([1.0, 0.0], (3, 1)))
    assert heading[3:] == pytest.approx(np.tile([-1.0, 0.0], (2, 1)))


def test_turning_back_beside_the_way_out_holds_the_last_heading() -> None:
    """Where a path comes back 10 cm beside its way out, its turning point does not look sideways over those 10 cm."""
    path = np.array([(0.0, 0.0), (2.0, 0.0), (4.0, 0.0), (2.0, 0.1), (0.0, 0.1)])
    heading = heading_along(path)
    assert heading[2] == pytest.approx(heading[1])
    assert heading[1] == pytest.approx([1.0, 0.0], abs=0.06)
    assert heading[3] == pytest.approx([-1.0, 0.0], abs=0.06)


def test_a_path_shorter_than_the_reach_goes_by_its_whole_chord() -> None:
    """A path of less than the reach has one heading, from its start to its end."""
    path = np.array([(0.0, 0.0), (0.1, 0.05), (0.2, -0.05), (0.3, 0.4)])
    assert heading_along(path) == pytest.approx(np.tile([0.6, 0.8], (4, 1)))


@pytest.mark.parametrize("path", [[(3.0, 4.0)], [(3.0, 4.0)] * 5])
def test_a_path_without_length_has_no_heading(path: list[tuple[float, float]]) -> None:
    """One point, or one point over and over, has no heading: it is not a number."""
    heading = heading_along(np.array(path))
    assert heading.shape == (len(path), 2)
    assert np.isnan(heading).all()


def test_an_empty_path_has_no_headings() -> None:
    """No points have no headings."""
    assert heading_along(np.empty((0, 2))).shape == (0, 2)


@settings(deadline=None, max_examples=100)
@given(
    steps=st.lists(st.tuples(st.integers(-3000, 3000), st.integers(-3000, 3000)), min_size=1, max_size=40),
    reach=st.sampled_from([0.2, 1.0, 3.0]),
)
def test_headings_are_unit_vectors_and_grow_with_the_path(steps: list[tuple[int, int]], reach: float) -> None:
    """All headings are of length one, or none is a number; a path twice as large has the same ones."""
    path = np.vstack([np.zeros(2), np.cumsum(np.array(steps), axis=0)]) / 1000  # to the millimetre
    heading = heading_along(path, reach_m=reach)
    length = np.hypot(heading[:, 0], heading[:, 1])
    if np.isnan(heading).any():
        assert np.isnan(heading).all()
        assert (path[-1] == path[0]).all()
        return
    assert length == pytest.approx(np.ones(len(path)))
    doubled = heading_along(2 * path + 7.0, reach_m=2 * reach)
    if not np.isnan(doubled).any():
        agree = (np.abs(doubled - heading).max(axis=1) < 1e-6).mean()
        assert agree > 0.9 or len(path) < 10


def test_turns_are_signed() -> None:
    """A turn to the left is positive, to the right negative, and the way back is half a turn."""
    heading = np.array([[1.0, 0.0], [0.0, 1.0], [math.sqrt(0.5), math.sqrt(0.5)], [-math.sqrt(0.5), -math.sqrt(0.5)]])
    turns = np.degrees(step_turn_rad(heading[:-1], heading[1:]))
    assert turns[:2] == pytest.approx([90.0, -45.0])
    assert abs(turns[2]) == pytest.approx(180.0)
    assert step_turn_rad(heading[:0], heading[:0]).shape == (0,)
