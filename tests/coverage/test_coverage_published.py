"""Figures of coverage against published or independently computed ones; the source stands beside each."""

import numpy as np
import pytest
import shapely

from tests.passes.tracks import SHAPE_M2, arc, box, cover, in_metres, make_plot, make_track, straight, to_metres, turned

FT_M = 0.3048  # exact
MPH_MPS = 0.44704  # exact: 1609.344 m in 3600 s
FIELD = make_plot(box(-150, -150, 150, 150))


# Speed x lag (computed). 5 mph and half a second: 1.12 m, 3.7 ft.
@pytest.mark.parametrize(("mph", "lag_s", "shift_m"), [(3, 0.5, 0.67), (5, 0.5, 1.12), (5, 1.0, 2.24), (8, 1.0, 3.58)])
def test_a_late_boom_leaves_speed_times_lag(mph, lag_s, shift_m):
    """A boom that comes on late leaves a strip as wide as itself and as long as the way driven meanwhile."""
    speed, boom = mph * MPH_MPS, 12 * FT_M
    step_s = 0.25
    x = speed * step_s * np.arange(-40, 121)
    on = (x >= lag_s * speed - 1e-9) & (x <= 40)  # the edge is at x = 0
    track = make_track(np.column_stack([x, 0 * x]), time_s=step_s, boom_on=on, width_m=boom)
    end = float(x[np.flatnonzero(on)[-1] + 1])
    answer = cover(make_plot(box(0, -boom / 2, end, boom / 2)), track)
    # 1e-4 m2: rounding of some hundredth of a millimetre along the strip's edges.
    assert answer.missed_m2 == pytest.approx(boom * speed * lag_s, abs=1e-4)
    assert answer.missed_m2 / boom == pytest.approx(shift_m, abs=0.005)
    assert answer.outside_m2 == pytest.approx(0.0, abs=1e-3)
    strip = answer.strips[0]
    assert [strip.width_m, strip.length_m] == pytest.approx(sorted([boom, speed * lag_s]), rel=2e-3)


# W^2 cot(angle) / 2 for a 12 ft (3.66 m) boom (computed).
@pytest.mark.parametrize(("angle_deg", "wedge_m2"), [(45, 6.70), (30, 11.60), (15, 25.0)])
def test_an_oblique_edge_costs_a_wedge_outside(angle_deg, wedge_m2):
    """On from the first corner in until the last corner out, each crossing wets W^2 cot(angle) / 2 outside."""
    boom, angle = 3.66, np.radians(angle_deg)
    early = boom / 2 / np.tan(angle)  # along the pass: the middle crosses the edge this far after the first tip
    length = 100.0  # between the edges, along the pass
    along = np.sort(np.concatenate([np.arange(-40.0, 141.0, 1.0), [-early, length + early]]))
    on = (along >= -early) & (along < length + early)
    drive = np.column_stack([along - length / 2, 0 * along])
    # Edges at the angle to the pass, through x = -50 and x = 50.
    run = np.array([np.cos(angle), np.sin(angle)]) * 60
    plot = make_plot([(-50 - run[0], -run[1]), (50 - run[0], -run[1]), (50 + run[0], run[1]), (-50 + run[0], run[1])])
    answer = cover(plot, make_track(drive, boom_on=on, width_m=boom))
    assert answer.outside_m2 == pytest.approx(2 * boom**2 / np.tan(angle) / 2, rel=1e-5)
    assert answer.outside_m2 / 2 == pytest.approx(wedge_m2, abs=0.05)
    assert answer.treated_m2 == pytest.approx(boom * length, rel=1e-5)


def test_ground_in_a_wide_turn_is_path_length_times_width():
    """Where the turn is wider than half the boom, swept ground is angle x R x W exactly (Pappus)."""
    for radius_m, boom in ((10.0, 6.0), (20.0, 3.66), (36.0, 36.6)):
        steps = round(np.pi * radius_m / 0.6)
        answer = cover(FIELD, make_track(arc((0, 0), radius_m, start_deg=0, stop_deg=180, steps=steps), width_m=boom))
        # Chords of 0.6 m: (0.6 / R)^2 / 6 short; the ends' tilt of 1.5 m / 2R moves ground to second order only.
        within = (0.6 / radius_m) ** 2 / 6 + boom / radius_m * (1.5 / 2 / radius_m) ** 2
        assert answer.driven_m2 == pytest.approx(np.pi * radius_m * boom, rel=within)


def test_no_wedge_is_left_open_in_a_bend():
    """A quarter turn of 12 ft and of 20 ft leaves no false skip, where rectangles leave (W/2)^2 x angle / 2."""
    # Computed: 2.63 m2 and 7.31 m2 for a quarter turn.
    for boom, wedge_m2 in ((3.66, 2.63), (6.1, 7.31)):
        assert (boom / 2) ** 2 * np.pi / 2 / 2 == pytest.approx(wedge_m2, abs=0.01)
        radius = 8.0
        bend = joined_bend(radius)
        answer = cover(FIELD, make_track(bend, width_m=boom))
        treated = in_metres(answer.layers.treated)
        # Well inside the swath, 5 cm from its edges, nothing is open.
        core = shapely.LineString(bend).buffer(boom / 2 - 0.05, quad_segs=64, cap_style="flat")
        assert core.difference(treated).area < 0.01 * wedge_m2


def joined_bend(radius_m: float):
    """Straight in, a quarter turn to the left, straight out."""
    quarter = arc((0, 0), radius_m, start_deg=0, stop_deg=90, steps=round(np.pi / 2 * radius_m / 0.6))
    into, out = straight((radius_m, -20), (radius_m, -1)), straight((-1, radius_m), (-20, radius_m))
    return np.concatenate([into, quarter, out])


# Steered parallel passes: E[skip] = sd phi(z) - m (1 - Phi(z)), E[overlap] = E[skip] + m with m = W - S,
# sd = s sqrt(2), z = m / sd (computed; 4.62 % of S each for W = S = 3.66, s 0.3; 1.72 % and 10.97 % for S 3.35).
@pytest.mark.parametrize(("spacing_m", "skip", "overlap"), [(3.66, 0.0462, 0.0462), (3.35, 0.0172, 0.1097)])
def test_steering_that_wanders_skips_and_overlaps_as_computed(spacing_m, skip, overlap):
    """Passes set off at random by 0.3 m miss and overlap the computed shares of the spacing, on average."""
    rng = np.random.default_rng(20)
    boom, sd_m, passes, length = 3.66, 0.3, 60, 20.0
    missed = again = 0.0
    for shift in range(4):
        middles = spacing_m * np.arange(passes) + rng.normal(0, sd_m, passes)
        tracks = [make_track(turned([(0, y), (length, y)], 17.0 + shift), width_m=boom, time_s=10.0) for y in middles]
        first, last = middles[0], middles[-1]
        answer = cover(make_plot(turned(box(0, first, length, last), 17.0 + shift)), tracks)
        missed += answer.missed_m2
        again += answer.overlap_m2
    ground = 4 * (passes - 1) * spacing_m * length
    # The mean of 236 gaps: a gap's skip has a standard deviation of about 0.25 m, so 3 of them are 0.05 m.
    bound = 3 * 0.25 / np.sqrt(4 * (passes - 1)) / spacing_m
    assert missed / ground == pytest.approx(skip, abs=bound)
    assert again / ground == pytest.approx(overlap, abs=bound)


def test_a_pass_drawn_by_two_points_is_a_rectangle_like_a_buffer_with_flat_ends():
    """One straight pass equals GEOS's own flat-ended buffer of its line, where that is right."""
    drive = turned([(-60.0, 3.0), (55.0, 3.0)], 23.0)
    treated = in_metres(cover(FIELD, make_track(drive, time_s=30.0, width_m=6.1)).layers.treated)
    assert treated.symmetric_difference(shapely.LineString(drive).buffer(3.05, cap_style="flat")).area < SHAPE_M2


def test_a_place_is_told_where_it_is():
    """A missed block's place in degrees is where geodesics from home put the block."""
    answer = cover(make_plot(box(100, 200, 120, 210)), make_track(straight((0, 0), (50, 0)), width_m=4.0))
    x, y = to_metres([(answer.strips[0].lon_deg, answer.strips[0].lat_deg)])[0]
    assert 100 < x < 120
    assert 200 < y < 210
