"""Steps of the receiver's error that a pass shows, and what drivers do that must not pass for one."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from gladebook.doubt.jumps import Jumps, find_jumps
from gladebook.doubt.quality import jumpy_because
from gladebook.passes.path import CutRules, lay_out
from gladebook.passes.trips import find_passes
from gladebook.testing import Points, drive, parallel_passes, rectangle, track_on
from tests.doubt.drawn_gaps import FRAME, jumps_at

Floats = NDArray[np.float64]

N, MPS, NOISE_M = 120, 2.0, 0.05


def pass_of(*, x_m: Floats | None = None, y_m: Any = 0.0, noise_m: float = NOISE_M, seed: int = 0) -> Points:
    """A pass of two minutes eastward with a point a second and white noise; straight and steady unless told."""
    x = MPS * np.arange(N) if x_m is None else x_m
    xy = np.column_stack([x, np.broadcast_to(y_m, N)]) + np.random.default_rng(seed).normal(0, noise_m, (N, 2))
    return Points(xy_m=xy, time_s=np.arange(N, dtype=np.float64), boom_on=np.ones(N, dtype=np.int8))


def jumps_of(*drives: Points, width_m: float = 4.0) -> Jumps:
    tracks = [track_on(each, frame=FRAME, width_m=width_m) for each in drives]
    paths = [lay_out(track, frame=FRAME, rules=CutRules()) for track in tracks]
    return find_jumps(paths, passes=find_passes(paths))


def stepped(step_m: tuple[float, float], *, at: int = 60, points: Points | None = None) -> Points:
    """A pass whose points from one on are shifted."""
    points = points or pass_of()
    return replace(points, xy_m=points.xy_m + np.where(np.arange(len(points.xy_m))[:, None] >= at, step_m, 0.0))


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("size_m", [1.5, 2.0, 4.0, -3.0])
def test_a_planted_step_is_found_with_its_size_and_time(size_m: float, seed: int):
    """A step aside in a straight pass comes back alone, at its half second, within five times the noise of it."""
    found = jumps_of(stepped((0.0, size_m), points=pass_of(seed=seed)))
    np.testing.assert_allclose(found.when_s, [59.5])
    # Two points of 0.05 m lie on the step's sides; the way before and after adds less.
    assert np.abs(found.step_m[0] - [0.0, size_m]).max() < 5 * np.sqrt(2) * NOISE_M
    assert found.noise_m == pytest.approx(np.sqrt(2) * NOISE_M, rel=0.5)


def test_of_a_step_along_the_pass_nothing_is_known():
    """A step of 3 m ahead and 3 m aside is told as 3 m aside: braking looks like the rest."""
    found = jumps_of(stepped((3.0, 3.0)))
    assert np.abs(found.step_m - [0.0, 3.0]).max() < 5 * np.sqrt(2) * NOISE_M
    assert len(jumps_of(stepped((3.0, 0.0))).when_s) == 0


@pytest.mark.parametrize(("noise_m", "most"), [(0.0, 0), (0.05, 0), (0.1, 0), (0.2, 1), (0.3, 1)])
def test_a_clean_drive_has_no_steps(noise_m: float, most: int):
    """Twenty drives with white noise show none; with 0.2 m or more at most one, as it is one in nine hours of 300."""
    assert sum(len(jumps_of(pass_of(noise_m=noise_m, seed=seed)).when_s) for seed in range(20)) <= most


def moved_by(speed_mps: Floats) -> Floats:
    return np.append(0.0, np.cumsum(speed_mps))


def test_braking_is_no_step():
    """Slowing down to a crawl within seconds, and a second of standing, are none."""
    slow, dead = np.full(N - 1, MPS), np.full(N - 1, MPS)
    slow[55:65] = [1.5, 1.0, 0.5, 0.3, 0.2, 0.3, 0.5, 1.0, 1.5, 2.0]
    dead[60] = 0.0
    for speed in (slow, dead):
        assert len(jumps_of(pass_of(x_m=moved_by(speed))).when_s) == 0


def test_a_stop_that_is_left_with_a_step_aside_is_none():
    """Receivers hold still in a stop and then catch up: 2 m aside on leaving are not looked at."""
    speed = np.full(N - 1, MPS)
    speed[50:80] = 0.0
    left = pass_of(x_m=moved_by(speed), y_m=np.where(np.arange(N) > 80, 2.0, 0.0))
    found = jumps_of(left)
    assert len(found.when_s) == 0
    assert 0 < found.hours * 3600 < N - 30  # all but the stop


@pytest.mark.parametrize("seconds", [2, 3, 4, 6, 8])
def test_a_swerve_is_no_step(seconds: int):
    """Three metres aside over two seconds or more are the driver's."""
    aside = 3.0 * np.clip((np.arange(N) - 60) / seconds, 0.0, 1.0)
    assert len(jumps_of(pass_of(y_m=aside)).when_s) == 0


def test_turns_are_none_and_are_not_looked_at():
    """Ten passes with sharp turns show none, and their turns' moments are not among those looked at."""
    start, legs = parallel_passes(rectangle(40, 80), width_m=4.0, spacing_m=4.0)
    points = drive(start, legs)
    found = jumps_of(points)
    assert len(found.when_s) == 0
    off_s = points.time_s[:-1][points.boom_on[:-1] == 0]
    assert off_s.size
    assert np.abs(found.looked_s[:, None] - (off_s + 0.5)).min() > 0.9


def test_a_step_in_a_turn_is_not_seen():
    """The error that steps between two passes shows in neither."""
    start, legs = parallel_passes(rectangle(40, 80), width_m=4.0, spacing_m=4.0)
    points = drive(start, legs)
    turn = int(np.flatnonzero(points.boom_on == 0)[3])
    assert len(jumps_of(stepped((3.0, 0.0), at=turn + 1, points=points)).when_s) == 0


def test_moments_looked_at_rise_and_are_worth_their_seconds():
    """Each moment stands for the step it is in; all but four steps at either end of a pass are looked at."""
    found = jumps_of(pass_of())
    np.testing.assert_allclose(found.looked_s, np.arange(4, N - 5) + 0.5)
    np.testing.assert_allclose(found.each_s, 1.0)
    assert found.hours == pytest.approx((N - 9) / 3600)
    stepping = jumps_of(stepped((0.0, 3.0)))
    assert stepping.an_hour == pytest.approx(3600 / (N - 9))


def test_two_recordings_are_looked_at_as_one():
    """Steps of two recordings are all there, moments looked at rise over both, and the noisier says the noise."""
    quiet, noisy = stepped((0.0, 2.0)), stepped((0.0, -2.5), points=pass_of(noise_m=0.15, seed=4))
    later = replace(noisy, time_s=noisy.time_s + 1000.0)
    found = jumps_of(later, quiet)
    assert sorted(found.when_s.tolist()) == [59.5, 1059.5]
    assert (np.diff(found.looked_s) > 0).all()
    assert found.noise_m == jumps_of(later).noise_m > jumps_of(quiet).noise_m
    assert found.hours == pytest.approx(jumps_of(later).hours + jumps_of(quiet).hours)


def test_time_that_was_not_looked_at_adds_up():
    """Unseen time between points is what is neither in a pass nor told otherwise, adds up, and has no direction."""
    found = jumps_at(looked_s=np.append(np.arange(10.5, 40.0), np.arange(60.5, 90.0)))
    a, b, c = np.array([0.0, 20.0, 35.0]), np.array([15.0, 50.0, 60.0]), np.array([100.0, 95.0, 90.0])
    np.testing.assert_allclose(found.unseen_s(a, b), [10.0, 10.0, 20.0])
    np.testing.assert_allclose(found.unseen_s(a, b) + found.unseen_s(b, c), found.unseen_s(a, c))
    np.testing.assert_allclose(found.unseen_s(c, a), found.unseen_s(a, c))
    np.testing.assert_allclose(found.unseen_s(a, a), 0.0)


def test_time_that_was_not_looked_at_is_never_more_than_there_was():
    """Between any two moments no more is unseen than passed, but for half the second that each look stands for."""
    found = jumps_of(pass_of())
    rng = np.random.default_rng(3)
    a, b = rng.uniform(0, N, (2, 500))
    assert (found.unseen_s(a, b) <= np.abs(b - a) + 1.0).all()


def test_two_recordings_at_once_are_looked_at_once():
    """Where two sprayers drive at the same time and both are looked at throughout, no time between is unseen."""
    one = pass_of()
    found = jumps_of(one, replace(one, xy_m=one.xy_m + np.array([0.0, 50.0])))
    np.testing.assert_allclose(found.unseen_s(np.array([10.0]), np.array([110.0])), 0.0)


def test_the_moment_of_a_look_is_seen():
    """Two tenths of a second around a moment that was looked at are not unseen, whichever way it is counted."""
    found = jumps_at(looked_s=np.arange(0.5, 100.0))
    np.testing.assert_allclose(found.unseen_s(np.array([59.4]), np.array([59.6])), 0.0, atol=0.2)


def test_without_looks_all_time_is_unseen():
    """A recording without times, one with a point every 4 s, and none at all show no steps and no hours."""
    points = stepped((0.0, 3.0))
    timeless = replace(points, time_s=np.full(N, np.nan))
    sparse = replace(points, time_s=4.0 * points.time_s)
    for found in (jumps_of(timeless), jumps_of(sparse), jumps_of()):
        assert (len(found.when_s), found.step_m.shape, found.hours, found.an_hour) == (0, (0, 2), 0.0, 0.0)
        np.testing.assert_allclose(found.unseen_s(np.array([5.0]), np.array([45.0])), [40.0])
    assert len(jumps_of(timeless, points).when_s) == 1


def test_points_three_seconds_apart_show_steps():
    """At 3 s between points a step of 4 m is found as at one, within 3 s; each look stands for three seconds."""
    points = stepped((0.0, 4.0))
    found = jumps_of(Points(points.xy_m[::3], points.time_s[::3], points.boom_on[::3]))
    assert len(found.when_s) == 1
    assert abs(found.when_s[0] - 59.5) <= 3.0
    assert np.abs(found.step_m[0] - [0.0, 4.0]).max() < 5 * np.sqrt(2) * NOISE_M
    np.testing.assert_allclose(found.each_s, 3.0)


@pytest.mark.parametrize("points", range(2, 12))
def test_a_recording_of_a_few_points_is_no_trouble(points: int):
    """Two to eleven points give no step, and looks only where four steps lie before and after."""
    whole = pass_of()
    found = jumps_of(Points(whole.xy_m[:points], whole.time_s[:points], whole.boom_on[:points]))
    assert len(found.when_s) == 0
    assert len(found.looked_s) == max(points - 9, 0)


def test_a_recording_is_jumpy_where_steps_are_many_and_far():
    """Two steps in 12 minutes are ten an hour; with 0.45 booms across they silence a plot, with less they do not."""
    north = np.array([0.0, 1.0])
    often = jumps_at(100.0, 300.0, step_m=2.7, looked_s=np.arange(0.5, 719.0))
    words = "The recording jumps sideways 2 times while the passes were driven."
    assert jumpy_because(often, across=north, boom_m=6.0) == words
    assert jumpy_because(often, across=north, boom_m=6.01) == ""
    assert jumpy_because(often, across=np.array([1.0, 0.0]), boom_m=6.0) == ""  # the steps lead along the passes
    seldom = jumps_at(100.0, 300.0, step_m=9.0, looked_s=np.arange(0.5, 722.0))
    assert jumpy_because(seldom, across=north, boom_m=6.0) == ""
    once = jumps_at(100.0, step_m=9.0, looked_s=np.arange(0.5, 100.0))
    assert jumpy_because(once, across=north, boom_m=6.0) == ""


def test_steps_of_a_shape_do_not_depend_on_the_heading():
    """Turned by any angle, the same drive shows the same step, turned alike."""
    for deg in (30.0, 90.0, 200.0):
        angle = np.radians(deg)
        spin = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
        points = stepped((0.0, 2.5))
        found = jumps_of(replace(points, xy_m=points.xy_m @ spin))
        np.testing.assert_allclose(found.step_m, jumps_of(points).step_m @ spin, atol=0.01)
