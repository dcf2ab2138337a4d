"""Treated, driven and overlapped ground where geometry gives the answer."""

import numpy as np
import pytest
import shapely

from gladebook.geometry.frame import Frame
from gladebook.geometry.outline import trace
from gladebook.geometry.scan import sweep_plain
from gladebook.geometry.scene import Scene
from gladebook.passes.path import CutRules, lay_out
from gladebook.passes.sprayer import Sprayer, lay_lanes
from gladebook.passes.swath import paint
from tests.passes.tracks import (
    HOME,
    SHAPE_M2,
    Floats,
    arc,
    box,
    cover,
    in_metres,
    joined,
    make_passes,
    make_plot,
    make_track,
    straight,
    swath,
    turned,
)

FIELD = make_plot(box(-150, -150, 150, 150))
UP, DOWN = straight((0, -50), (0, 50)), straight((3, 50), (3, -50))
EXACT = 1e-5  # relative: scan lines lie 2 mm or more apart; the two planes differ by 1e-9


def along_an_arc(radius_m: float, width_m: float, *, turn_deg: float, steps: int) -> float:
    """Ground between two concentric chains of chords, as boom ends join boom ends (geodesy of polygons)."""
    chord = np.radians(turn_deg / steps)
    return float(steps * radius_m * width_m * np.sin(chord))


@pytest.mark.parametrize("heading_deg", [0.0, 90.0, 180.0, 33.3, -127.0])
@pytest.mark.parametrize("kept_as", ["boom off between", "two pieces", "two tracks"])
def test_two_passes_three_metres_apart(kept_as, heading_deg):
    """Two 4 m x 100 m passes 3 m apart give 800 driven, 700 treated and 100 overlapped, in any heading."""
    up, down = turned(UP, heading_deg), turned(DOWN, heading_deg)
    if kept_as == "two tracks":
        answer = cover(FIELD, [make_track(up), make_track(down)], boom_m=4.0)
    elif kept_as == "two pieces":
        answer = cover(FIELD, make_passes(up, down), boom_m=4.0)
    else:
        on = np.ones(len(up) + len(down))
        on[len(up) - 1] = 0  # off from the end of the first pass to the start of the second
        answer = cover(FIELD, make_track(np.concatenate([up, down]), boom_on=on), boom_m=4.0)
    assert answer.driven_m2 == pytest.approx(800.0, rel=EXACT)
    assert answer.treated_m2 == pytest.approx(700.0, rel=EXACT)
    assert answer.overlap_m2 == pytest.approx(100.0, rel=EXACT)
    assert answer.outside_m2 == 0.0


@pytest.mark.parametrize("home", [(-84.713, 32.281), (-151.2, 64.9), (179.9999, 52.0), (18.5, -33.9)])
def test_two_passes_give_the_same_anywhere_on_earth(home):
    """The same passes far north, south of the equator and across the 180th meridian give the same ground."""
    tracks = [make_track(xy, home=home) for xy in (UP, DOWN)]
    answer = cover(make_plot(box(-150, -150, 150, 150), home=home), tracks, boom_m=4.0)
    assert answer.driven_m2 == pytest.approx(800.0, rel=EXACT)
    assert answer.treated_m2 == pytest.approx(700.0, rel=EXACT)
    assert answer.overlap_m2 == pytest.approx(100.0, rel=EXACT)


def test_the_same_pass_twice_is_overlap_all_along():
    """Driving a pass again treats nothing new: all of it is overlap."""
    answer = cover(FIELD, [make_track(UP), make_track(UP[::-1])], boom_m=4.0)
    assert answer.driven_m2 == pytest.approx(800.0, rel=EXACT)
    assert answer.treated_m2 == pytest.approx(400.0, rel=EXACT)
    assert answer.overlap_m2 == pytest.approx(400.0, rel=EXACT)


def test_a_third_pass_over_the_same_ground_is_no_more_overlap():
    """Overlap is ground, not dose: driven over three times it counts once."""
    answer = cover(FIELD, [make_track(UP), make_track(UP), make_track(UP)], boom_m=4.0)
    assert answer.overlap_m2 == pytest.approx(400.0, rel=EXACT)
    assert answer.driven_m2 == pytest.approx(1200.0, rel=EXACT)


def test_passes_side_by_side_do_not_overlap():
    """Passes one boom apart leave no ground between them and share none."""
    tracks = [make_track(straight((4.0 * k, -50), (4.0 * k, 50))) for k in range(5)]
    answer = cover(make_plot(box(-2, -50, 18, 50)), tracks, boom_m=4.0)
    # 1e-3 m2: 400 m of edges on each other but for micrometres of rounding.
    assert answer.treated_m2 == pytest.approx(2000.0, abs=1e-3)
    assert answer.overlap_m2 == pytest.approx(0.0, abs=1e-3)
    assert answer.missed_m2 == pytest.approx(0.0, abs=1e-3)
    assert answer.strips == ()


@pytest.mark.parametrize("angle_deg", [90.0, 37.0, 143.0, 15.0])
@pytest.mark.parametrize("tracks", [1, 2])
def test_two_passes_that_cross_share_a_rhombus(angle_deg, tracks):
    """Crossing at an angle, two passes overlap by W^2 / sin(angle)."""
    across = turned(UP, angle_deg)
    drive = make_passes(UP, across) if tracks == 1 else [make_track(UP), make_track(across)]
    answer = cover(FIELD, drive, boom_m=4.0)
    rhombus = 16.0 / np.sin(np.radians(angle_deg))
    assert answer.overlap_m2 == pytest.approx(rhombus, rel=EXACT)
    assert answer.treated_m2 == pytest.approx(800.0 - rhombus, rel=EXACT)


def test_a_drive_that_crosses_itself_overlaps_there():
    """One drive with the boom on that loops and crosses itself squarely overlaps by W^2."""
    loop = arc((30, 20), 20.0, start_deg=-90, stop_deg=180, steps=100)
    drive = joined(straight((-50, 0), (30, 0)), loop, straight((10, 20), (10, -40)))
    answer = cover(FIELD, make_track(drive), boom_m=4.0)
    assert answer.overlap_m2 == pytest.approx(16.0, rel=1e-3)
    length = 80 + along_an_arc(20, 1, turn_deg=270, steps=100) + 60
    # 2e-4: the heading where the bend begins is a chord's, a metre to either side.
    assert answer.driven_m2 == pytest.approx(4.0 * length, rel=2e-4)
    assert answer.treated_m2 == pytest.approx(answer.driven_m2 - answer.overlap_m2, rel=EXACT)


def test_driving_a_lap_again_in_one_run_is_overlap():
    """Two laps of one circle without a break overlap over the whole ring."""
    answer = cover(FIELD, make_track(arc((0, 0), 20, start_deg=0, stop_deg=720, steps=240)), boom_m=4.0)
    ring = along_an_arc(20, 4, turn_deg=360, steps=120)
    # 1 m2: at the two ends of the drive the heading is one-sided, which tilts the boom by 1 m / 2R.
    assert answer.treated_m2 == pytest.approx(ring, abs=1.0)
    assert answer.overlap_m2 == pytest.approx(ring, abs=1.0)


# Quarter turn of radius 10 m swept 6 m wide, boom end to boom end (computed: n R W sin(90 deg / n)).
# Rectangles square to each chord would leave 7 % of it open however fine the steps: 87.32 m2.
@pytest.mark.parametrize(("steps", "swept_m2"), [(12, 93.979), (16, 94.096)])
def test_a_quarter_turn_is_swept_end_to_end(steps, swept_m2):
    """A quarter turn of 10 m radius is the ground between its chords, without overlap or holes."""
    assert along_an_arc(10, 6, turn_deg=90, steps=steps) == pytest.approx(swept_m2, abs=1e-3)
    drive = make_track(arc((0, 0), 10, start_deg=0, stop_deg=90, steps=steps))
    answer = cover(FIELD, drive, boom_m=6.0)
    # At either end the boom stands square to a chord of 1 to 1.5 m, off by up to 1.5 / 2R; what it gains on
    # one side it loses on the other, but for the second order: (W/2)^2 x tilt^2 at each end.
    assert answer.treated_m2 == pytest.approx(swept_m2, abs=2 * 9 * 0.075**2)
    assert answer.overlap_m2 == pytest.approx(0.0, abs=1e-3)


def test_a_quarter_turn_converges_to_its_true_area():
    """With finer points a quarter turn's ground nears pi/2 R W, and stays within 0.1 % of it."""
    true_m2 = np.pi / 2 * 60
    short = []
    for steps in (6, 12, 24, 96, 384):
        drive = make_track(arc((0, 0), 10, start_deg=0, stop_deg=90, steps=steps))
        short.append(true_m2 - cover(FIELD, drive, boom_m=6.0).treated_m2)
    # The chords' loss goes with the square of their length: halved, they lose a quarter.
    assert short[1] / short[0] == pytest.approx(0.25, abs=0.06)
    # Moves under half a metre are the receiver's, so chords stay longer than that: (0.7 m / R)^2 / 6.
    assert all(0 < loss < 0.001 * true_m2 for loss in short[2:])


def test_a_full_annulus_converges_to_its_true_area():
    """A lap and a quarter of a circle treats the whole ring, pi (Ro^2 - Ri^2), and a quarter of it twice."""
    ring = np.pi * (13.0**2 - 7.0**2)
    for steps, within in ((60, 0.02), (120, 0.005), (480, 0.001), (1920, 0.001)):
        drive = make_track(arc((0, 0), 10, start_deg=0, stop_deg=450, steps=steps))
        answer = cover(FIELD, drive, boom_m=6.0)
        assert answer.treated_m2 == pytest.approx(ring, rel=within)
        # The two ends are square to chords; each swings ground (W/2)^2 x tilt to one side and as much back.
        assert answer.overlap_m2 == pytest.approx(ring / 4, rel=within + 0.005)


def test_one_lap_of_a_circle_closes_but_for_a_sliver_at_its_seam():
    """A single lap leaves at its seam at most the wedge by which its first and last headings differ."""
    ring = np.pi * (13.0**2 - 7.0**2)
    answer = cover(FIELD, make_track(arc((0, 0), 10, start_deg=0, stop_deg=360, steps=120)), boom_m=6.0)
    # Headings at the ends look 1 to 1.5 m one way: each is off by up to 1.5 / 2R.
    wedge = 3.0**2 * 1.5 / 20
    assert ring * (1 - 0.7**2 / 600) - wedge < answer.treated_m2 < ring
    assert answer.overlap_m2 < wedge


def u_turn(radius_m: float, *, leg_m: float = 30.0, step_m: float = 0.6) -> Floats:
    """Up, half a circle to the left, and down."""
    half = arc((0, 0), radius_m, start_deg=0, stop_deg=180, steps=round(np.pi * radius_m / step_m))
    return joined(straight((radius_m, -leg_m), (radius_m, 0)), half, straight((-radius_m, 0), (-radius_m, -leg_m)))


@pytest.mark.parametrize(("radius_m", "boom_m"), [(4.0, 4.0), (4.0, 6.0), (6.0, 3.66), (10.0, 6.1)])
@pytest.mark.parametrize("heading_deg", [0.0, 51.0])
def test_a_wide_u_turn_sweeps_its_length_times_the_boom(radius_m, boom_m, heading_deg):
    """Turning wider than half the boom, ground is path length times width, without overlap."""
    answer = cover(FIELD, make_track(turned(u_turn(radius_m), heading_deg)), boom_m=boom_m)
    bend = np.pi * radius_m * boom_m
    loss = bend * (0.7 / radius_m) ** 2 / 6  # of chords of up to 0.7 m
    assert answer.treated_m2 == pytest.approx(60 * boom_m + bend - loss / 2, abs=loss)
    assert answer.driven_m2 == pytest.approx(answer.treated_m2, rel=EXACT)
    assert answer.overlap_m2 == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize(("radius_m", "boom_m"), [(1.5, 4.0), (1.0, 6.0), (2.0, 4.0), (3.0, 6.0), (2.5, 6.1)])
@pytest.mark.parametrize("step_m", [0.26, 0.37, 0.6])
def test_a_tight_u_turn_sweeps_half_a_disc(radius_m, boom_m, step_m):
    """Turning within half the boom, ground is both legs and half a disc; only the legs' middle is twice."""
    # The inner tip runs backwards over a smaller half disc, which lies where the legs overlap.
    leg_m, half = 30.0, boom_m / 2
    answer = cover(FIELD, make_track(u_turn(radius_m, step_m=step_m)), boom_m=boom_m)
    disc = np.pi / 2 * (radius_m + half) ** 2
    legs, middle = leg_m * (2 * radius_m + boom_m), leg_m * (boom_m - 2 * radius_m)
    # Chords of up to 0.7 m cut the half disc; where a leg meets the bend the heading is a chord's of 1 to
    # 1.5 m, so the boom starts to swing a metre early: a wedge of (W/2)^2 / 2 x 1.5 / 4R at each of two ends.
    chords, swing = disc * (0.7 / radius_m) ** 2 / 6, half**2 * 1.5 / (4 * radius_m)
    assert answer.treated_m2 == pytest.approx(legs + disc - chords / 2, abs=chords / 2 + swing / 4)
    assert answer.overlap_m2 == pytest.approx(middle, abs=swing)


@pytest.mark.parametrize(("radius_m", "boom_m"), [(1.0, 6.0), (1.5, 6.1), (1.2, 5.0)])
def test_half_a_pivot_sweeps_two_half_discs(radius_m, boom_m):
    """Swinging half round about a point inside the boom drives pi/2 (Ro^2 + Ri^2) besides the legs."""
    answer = cover(FIELD, make_track(u_turn(radius_m, step_m=0.55)), boom_m=boom_m)
    outer, inner = boom_m / 2 + radius_m, boom_m / 2 - radius_m
    pivot = np.pi / 2 * (outer**2 + inner**2)
    chords = pivot * (0.7 / radius_m) ** 2 / 6
    swing = (boom_m / 2) ** 2 * 1.5 / (4 * radius_m)
    assert answer.driven_m2 == pytest.approx(60 * boom_m + pivot, abs=chords + swing)


@pytest.mark.parametrize("boom_m", [4.0, 6.0])
@pytest.mark.parametrize("radius_m", [1.0, 1.5, 2.0, 3.0])
def test_a_ribbon_is_no_smaller_than_what_was_swept_over_any_step_of_it(radius_m, boom_m):
    """Joining the steps of a turn loses none of them: no joined piece of ground has a hole in its sweep."""
    drive = u_turn(radius_m, step_m=0.26)
    path = lay_out(make_track(drive, width_m=boom_m), frame=Frame(*HOME), rules=CutRules())
    lanes = lay_lanes(path, sprayer=Sprayer(width_m=boom_m))
    ribbons = paint(path, lanes=lanes)
    wanted = np.zeros((1, 4, 2), dtype=bool)
    wanted[0, 1:] = True
    none = np.zeros(0, dtype=np.int64)
    group = np.zeros(ribbons.count, dtype=np.int64)
    scene = Scene(parts=(ribbons.edges,), grounds=ribbons.count, veils=0, region=none, regions=0, group=group)
    swept = trace(sweep_plain(scene, spacing_m=0.01, wanted=wanted).stretches, spacing_m=0.01)
    steps = shapely.union_all([swath(drive[i : i + 2], boom_m * 0.98) for i in range(len(drive) - 1)], grid_size=1e-4)
    # Rectangles on the path's own chords, a hundredth narrower, stick out of a true sweep only by slivers.
    assert steps.difference(swept).area < 0.03 * boom_m**2


def test_one_corner_of_a_long_step_turns_at_the_corner():
    """Drawn with three points, a right angle is two straight swaths that meet in a square corner."""
    drive = np.array([[-60.0, 0.0], [0.0, 0.0], [0.0, 60.0]])
    answer = cover(FIELD, make_track(drive, time_s=None), boom_m=4.0)
    treated = in_metres(answer.layers.treated)
    legs = shapely.union(swath(drive[:2], 4.0), swath(drive[1:], 4.0))
    # The boom swings within a metre of the corner: the ground differs only within a boom of it.
    differ = treated.symmetric_difference(legs)
    assert differ.difference(shapely.box(-4, -4, 4, 4)).area < SHAPE_M2
    assert differ.area < 4.0


def test_a_changing_width_holds_to_the_next_point():
    """A width written at a point is swept from there to the next point, exactly."""
    width = np.where(np.arange(len(UP)) < 40, 4.0, 6.0)
    answer = cover(FIELD, make_track(UP, width_m=width))
    assert answer.treated_m2 == pytest.approx(40 * 4 + 60 * 6, rel=EXACT)
    assert answer.driven_m2 == pytest.approx(40 * 4 + 60 * 6, rel=EXACT)
    assert answer.overlap_m2 == pytest.approx(0.0, abs=1e-3)


def test_the_last_points_width_sweeps_nothing():
    """Nothing is driven after the last point, so its width changes no ground."""
    width = np.full(len(UP), 4.0)
    width[-1] = 20.0
    assert cover(FIELD, make_track(UP, width_m=width)).treated_m2 == pytest.approx(400.0, rel=EXACT)
