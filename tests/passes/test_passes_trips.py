"""Passes told from turns: planted drives whose passes are known."""

import zlib
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gladebook.geometry.frame import Frame
from gladebook.passes.path import CutRules, Path, lay_out
from gladebook.passes.trips import Passes, find_passes
from tests.passes.tracks import HOME, Floats, arc, joined, make_track, straight, turned
from tests.properties.applications import HOSTILE, hostile

BOOM_M = 4.0
GATE_M = BOOM_M / 3  # lines are thinned to a third of a boom: ends of passes in turns are known to about two of these
RING = [(0.0, 0.0), (60.0, 0.0), (60.0, 90.0), (0.0, 90.0), (0.0, 0.0)]
PLAIN = lay_out(make_track(straight((0, 0), (9, 0))), frame=Frame(*HOME), rules=CutRules())


def path_on(xy_m, *, time_s=1.0, boom_on=1, width_m=BOOM_M, cut=False) -> Path:
    """A path straight from points on the plane, cleaned and cut by nobody."""
    n = len(xy_m)
    return replace(
        PLAIN,
        xy_m=np.asarray(xy_m, dtype=float),
        time_s=np.broadcast_to(np.asarray(time_s, dtype=float), n) * (np.arange(n) if np.ndim(time_s) == 0 else 1.0),
        speed_mps=np.full(n, np.nan),
        boom_on=np.broadcast_to(np.asarray(boom_on, dtype=np.int8), n).copy(),
        width_m=np.broadcast_to(np.asarray(width_m, dtype=float), n).copy(),
        cut=np.broadcast_to(np.asarray(cut, dtype=bool), max(n - 1, 0)).copy(),
        backwards=np.zeros(max(n - 1, 0), dtype=bool),
    )


def rows(count: int, *, step_m: float = 2.0, length_m: float = 80.0, spacing_m: float = BOOM_M, turns=True):
    """Rows back and forth along y with half circles between them: places, and the row of each step (0 in a turn)."""
    drives, row = [], []
    for k in range(count):
        x, up = k * spacing_m, k % 2 == 0
        line = straight((x, 0.0 if up else length_m), (x, length_m if up else 0.0), step_m=step_m)
        drives.append(line)
        row += [k + 1] * (len(line) - 1)
        if turns and k < count - 1:
            middle = (x + spacing_m / 2, length_m if up else 0.0)
            steps = max(int(np.pi * spacing_m / 2 / step_m), 3)
            bend = arc(middle, spacing_m / 2, start_deg=180, stop_deg=0 if up else 360, steps=steps)
            drives.append(bend)
            row += [0] * steps
    return joined(*drives), np.array(row)


def check(passes: Passes, paths: list[Path]) -> None:
    """What holds of every answer: numbers from 1, steps with the boom on, ends and bounds that agree."""
    m = len(passes)
    everything = np.concatenate([np.zeros(0, dtype=np.int64), *passes.number])
    assert set(np.unique(everything)) - {0} == set(range(1, m + 1))
    for k, path in enumerate(paths):
        number = passes.number[k]
        assert number.shape == (max(len(path.xy_m) - 1, 0),)
        driven = (path.boom_on[: len(number)] == 1) & ~path.cut
        assert not number[~driven].any()
    for k in range(m):
        steps = np.flatnonzero(passes.number[passes.path[k]] == k + 1)
        assert (steps[0], steps[-1]) == (passes.first_step[k], passes.last_step[k])
        line = passes.line_m[k]
        np.testing.assert_array_equal(passes.bounds_m[k], np.concatenate([line.min(axis=0), line.max(axis=0)]))
        assert len(line) >= 2
    assert np.isfinite(passes.length_m).all()
    assert (passes.length_m > 0).all()
    assert (passes.width_m > 0).all()
    assert np.isfinite(passes.middle_m).all()


@pytest.mark.parametrize("noise_m", [0.0, 0.3, 1.0])
@pytest.mark.parametrize("hertz", [1.0, 5.0])
@pytest.mark.parametrize("width_m", [2.5, 4.0, 9.0])
def test_rows_with_the_boom_left_on_in_turns_are_one_pass_each(width_m, hertz, noise_m):
    """Fourteen rows and thirteen turns with the boom on are fourteen passes, each within its own row, at any jitter."""
    xy, row = rows(14, step_m=2.0 / hertz, spacing_m=width_m)
    xy = turned(xy, 33.0) + np.random.default_rng(1).normal(0, noise_m, xy.shape)
    path = path_on(xy, time_s=1 / hertz, width_m=width_m)
    passes = find_passes([path])
    check(passes, [path])
    assert len(passes) == 14
    number = passes.number[0]
    straight_on = row > 0
    # A turn is seen up to a boom early or late: at either end of a row of 80 m, two to four metres.
    assert (number[straight_on] == row[straight_on]).mean() > 0.9
    assert ((number == row) | (number == 0) | (row == 0)).mean() > 0.97
    np.testing.assert_allclose(passes.length_m, 80.0, atol=2 * max(width_m, 4.0))


@pytest.mark.parametrize("corner", ["square", "half circle", "bulb"])
def test_any_common_shape_of_turn_splits_passes(corner):
    """A square headland, a half circle and a bulb wider than the rows are all turns."""
    bends = {
        "square": np.array([[0, 80], [0, 84], [4, 84], [4, 80]], dtype=float),
        "half circle": arc((2, 80), 2.0, start_deg=180, stop_deg=0, steps=8),
        "bulb": joined(
            arc((-4, 80), 4.0, start_deg=0, stop_deg=50, steps=4),
            arc((2, 85.5), 4.4, start_deg=215, stop_deg=-35, steps=14),
            arc((8, 80), 4.0, start_deg=130, stop_deg=180, steps=4),
        ),
    }
    path = path_on(joined(straight((0, 0), (0, 80)), bends[corner], straight((4, 80), (4, 0))))
    passes = find_passes([path])
    check(passes, [path])
    assert len(passes) == 2
    assert passes.direction[0] @ (0, 1) > 0.99
    assert passes.direction[1] @ (0, -1) > 0.99


def test_a_lap_is_a_pass_for_each_side_between_sharp_corners():
    """A headland lap round a rectangle is four passes, one a side."""
    lap = joined(*(straight(a, b) for a, b in pairwise(RING)))
    passes = find_passes([path_on(lap)])
    assert len(passes) == 4
    np.testing.assert_allclose(passes.length_m, [60, 90, 60, 90], atol=2 * GATE_M)
    np.testing.assert_allclose(passes.middle_m, [[30, 0], [60, 45], [30, 90], [0, 45]], atol=2 * GATE_M)


@pytest.mark.parametrize(("radius_m", "expected"), [(3.0, 2), (5.0, 2), (9.0, 1), (30.0, 1)])
def test_a_bend_is_a_turn_below_a_radius_of_1_8_booms(radius_m, expected):
    """A quarter bend of 1.8 booms' radius (7.1 m) or more keeps a pass whole; a tighter one splits it."""
    bend = arc((radius_m, 0), radius_m, start_deg=180, stop_deg=90, steps=max(int(radius_m * 1.5), 4))
    end = (radius_m, radius_m)
    drive = joined(straight((0, -60), (0, 0)), bend, straight(end, (radius_m + 60, radius_m)))
    for deg in (0.0, 71.0):
        assert len(find_passes([path_on(turned(drive, deg))])) == expected


@pytest.mark.parametrize("radius_m", [8.0, 15.0])
@pytest.mark.parametrize("deg", [0.0, 40.0])
def test_a_wide_turn_splits_rows_as_well(radius_m, deg):
    """Rows that are joined by half circles far wider than a bend, with the boom on, are a pass each."""
    xy, row = rows(6, spacing_m=2 * radius_m)
    path = path_on(turned(xy, deg))
    passes = find_passes([path])
    check(passes, [path])
    assert len(passes) == 6
    middle = np.array([np.flatnonzero(row == k)[20] for k in range(1, 7)])
    assert passes.number[0][middle].tolist() == [1, 2, 3, 4, 5, 6]


def test_a_round_lap_is_one_pass():
    """A lap that never turns sharply, once round a plot of 40 m, is one pass with no direction to speak of."""
    lap = arc((0, 0), 40.0, start_deg=0, stop_deg=359, steps=150)
    passes = find_passes([path_on(lap)])
    assert len(passes) == 1
    # A polygon of 359 degrees on a circle of 40 m; chords of 1.7 m are shorter by less than 1e-3 of it.
    assert passes.length_m[0] == pytest.approx(np.radians(359) * 40, rel=3e-3)


@pytest.mark.parametrize(("off_m", "expected"), [(2, 1), (20, 1), (39, 1), (42, 2), (60, 2)])
def test_a_pass_goes_on_after_a_short_stretch_with_the_boom_off(off_m, expected):
    """In line, up to ten booms (40 m) with the boom off leave one pass, whose length leaves them out."""
    on = np.ones(161)
    on[50 : 50 + off_m] = 0
    path = path_on(straight((0, 0), (160, 0)), boom_on=on)
    passes = find_passes([path])
    check(passes, [path])
    assert len(passes) == expected
    assert passes.length_m.sum() == pytest.approx(160 - off_m)
    assert not passes.number[0][50 : 50 + off_m].any()


@pytest.mark.parametrize(("aside_m", "deg", "expected"), [(1.5, 0, 1), (2.5, 0, 2), (0.0, 15, 1), (0.0, 30, 2)])
def test_a_pass_goes_on_only_in_line(aside_m, deg, expected):
    """After a stretch with the boom off it is another pass over half a boom aside, or turned by over 20 degrees."""
    second = turned(straight((0, 0), (60, 0)), deg) + np.array([70.0, aside_m])
    drive = np.concatenate([straight((0, 0), (60, 0)), second])
    path = path_on(drive, boom_on=np.arange(len(drive)) != 60)
    assert len(find_passes([path])) == expected


def test_a_cut_in_line_leaves_one_pass():
    """A gap in the recording in mid-row, in line, leaves one pass; nothing across the gap belongs to it."""
    path = path_on(straight((0, 0), (100, 0)), cut=np.arange(100) == 40)
    passes = find_passes([path])
    check(passes, [path])
    assert len(passes) == 1
    assert passes.length_m[0] == pytest.approx(99.0)


def test_a_refill_in_mid_row_leaves_one_pass():
    """A drive to the tank and back with the boom off, going on in line where it stopped, leaves one pass."""
    there = joined(straight((50, 0), (50, 60)), straight((50, 60), (0, 60)), straight((0, 60), (48, 2)))
    drive = joined(straight((0, 0), (50, 0)), there, straight((48, 2), (49, 0)), straight((49, 0), (100, 0)))
    on = np.ones(len(drive))
    on[50 : len(drive) - 52] = 0
    path = path_on(drive, boom_on=on)
    passes = find_passes([path])
    check(passes, [path])
    assert len(passes) == 1
    assert passes.length_m[0] == pytest.approx(101.0, abs=GATE_M)


@pytest.mark.parametrize("same_way", [True, False])
def test_the_next_row_is_another_pass(same_way):
    """With the boom off in between, a row a boom to the side is a pass of its own, driven either way."""
    second = straight((0, 4), (100, 4)) if same_way else straight((100, 4), (0, 4))
    drive = np.concatenate([straight((0, 0), (100, 0)), second])
    on = np.ones(len(drive))
    on[100] = 0
    assert len(find_passes([path_on(drive, boom_on=on)])) == 2


def test_a_row_driven_back_over_itself_is_two_passes():
    """Turning back on the spot with the boom on ends a pass."""
    passes = find_passes([path_on(joined(straight((0, 0), (60, 0)), straight((60, 0), (0, 0))))])
    assert len(passes) == 2
    assert passes.direction[:, 0] == pytest.approx([1, -1], abs=0.01)


def test_standing_in_mid_row_leaves_one_pass():
    """A minute at one place with the boom on and 0.3 m of jitter neither splits a pass nor lengthens it by a boom."""
    rng = np.random.default_rng(3)
    line = straight((0, 0), (100, 0), step_m=2.0)
    xy = np.concatenate([line[:25], np.repeat(line[25:26], 300, axis=0), line[26:]])
    path = path_on(xy + rng.normal(0, 0.3, xy.shape), time_s=0.2)
    passes = find_passes([path])
    check(passes, [path])
    assert len(passes) == 1
    assert passes.length_m[0] == pytest.approx(100.0, abs=2 * BOOM_M)


def test_a_boom_that_was_never_on_has_no_pass():
    """Off, unknown, standing and too short paths have no passes and zeros for their steps."""
    line = straight((0, 0), (50, 0))
    paths = [
        path_on(line, boom_on=0),
        path_on(line, boom_on=-1),
        path_on(line[[0, 0, 0]]),
        path_on(line[:1]),
        path_on(line[:0]),
        path_on(line[:2]),
    ]
    passes = find_passes(paths)
    check(passes, paths)
    assert len(passes) == 0
    assert len(find_passes([])) == 0


def test_passes_are_numbered_as_they_were_driven():
    """Paths given in another order than driven are numbered by time; without times, in the order given."""
    early, late = straight((0, 0), (50, 0)), straight((50, 4), (0, 4))
    morning, noon = np.arange(51.0), 1000 + np.arange(51.0)
    passes = find_passes([path_on(late, time_s=noon), path_on(early, time_s=morning)])
    assert passes.path.tolist() == [1, 0]
    assert passes.number[0].tolist() == [2] * 50
    assert passes.number[1].tolist() == [1] * 50
    untimed = find_passes([path_on(late, time_s=np.full(51, np.nan)), path_on(early, time_s=morning)])
    assert untimed.path.tolist() == [0, 1]


def test_missing_times_change_nothing_within_a_path():
    """What is a pass does not hang on times."""
    xy, _ = rows(6)
    timed, untimed = find_passes([path_on(xy)]), find_passes([path_on(xy, time_s=np.full(len(xy), np.nan))])
    np.testing.assert_array_equal(timed.number[0], untimed.number[0])


def test_figures_of_a_straight_pass():
    """Length, middle, direction and width of a straight pass are those of the segment, exactly."""
    passes = find_passes([path_on(turned(straight((0, 0), (100, 0)), 30.0))])
    c, s = np.cos(np.radians(30)), np.sin(np.radians(30))
    assert passes.length_m == pytest.approx([100.0])
    assert passes.middle_m[0] == pytest.approx([50 * c, 50 * s])
    assert passes.direction[0] == pytest.approx([c, s])
    assert passes.width_m == pytest.approx([BOOM_M])
    assert (passes.first_step[0], passes.last_step[0]) == (0, 99)


def test_the_middle_leaves_gaps_out():
    """Half-way along 60 m, 20 m off and 20 m lies 40 m from the start."""
    on = np.ones(101)
    on[60:80] = 0
    assert find_passes([path_on(straight((0, 0), (100, 0)), boom_on=on)]).middle_m[0] == pytest.approx([40.0, 0.0])


def test_a_swath_to_the_right_moves_the_lines_not_the_passes():
    """A one-sided nozzle's line lies to the right of the way, there and back; numbers and lengths stay."""
    xy, _ = rows(2)
    plain, moved = find_passes([path_on(xy)]), find_passes([path_on(xy)], right_m=1.5)
    np.testing.assert_array_equal(plain.number[0], moved.number[0])
    np.testing.assert_allclose(plain.length_m, moved.length_m)
    assert np.median(moved.line_m[0][:, 0]) == pytest.approx(1.5)
    assert np.median(moved.line_m[1][:, 0]) == pytest.approx(BOOM_M - 1.5)


def test_the_width_of_a_pass_is_the_mean_of_its_steps():
    """With half the boom shut over half of a pass, its width is three quarters."""
    width = np.where(np.arange(101) < 50, 4.0, 2.0)
    assert find_passes([path_on(straight((0, 0), (100, 0)), width_m=width)]).width_m == pytest.approx([3.0])


def test_a_few_long_steps_are_told_as_well():
    """Corners alone, without a point between them, give the same passes."""
    corners = np.array([(x, y) for k, x in enumerate(range(0, 40, 4)) for y in ((0, 80) if k % 2 == 0 else (80, 0))])
    passes = find_passes([path_on(corners.astype(float), time_s=40.0)])
    assert len(passes) == 10
    np.testing.assert_allclose(passes.length_m, 80.0)


@given(deg=st.floats(0, 360), east_m=st.floats(-1e4, 1e4), count=st.integers(2, 9), noise_m=st.sampled_from([0.0, 0.2]))
def test_turning_and_shifting_a_drive_changes_no_pass(deg, east_m, count, noise_m):
    """Rows lie the same way in any direction and place: as many passes, as long."""
    xy, _ = rows(count)
    xy = xy + np.random.default_rng(count).normal(0, noise_m, xy.shape)
    moved = turned(xy, deg) + np.array([east_m, -east_m])
    before, after = find_passes([path_on(xy)]), find_passes([path_on(moved)])
    assert len(before) == len(after) == count
    np.testing.assert_allclose(before.length_m, after.length_m, atol=2 * GATE_M)


def everything_at_once(seed: int) -> Floats:
    """A random walk with stays, repeats and jumps."""
    rng = np.random.default_rng(seed)
    xy = np.cumsum(rng.normal(0, rng.choice([1e-9, 0.1, 1.0, 30.0]), (int(rng.integers(1, 300)), 2)), axis=0)
    xy[rng.random(len(xy)) < 0.02] += rng.normal(0, 1e5, 2)
    return np.repeat(xy, rng.integers(1, 4, len(xy)), axis=0)


@pytest.mark.parametrize("kind", HOSTILE)
def test_no_hostile_track_raises(kind):
    """Walks, jumps, repeats, standing, nanometre steps, times and widths missing: an answer that agrees with itself."""
    for seed in range(40):
        drive = hostile(kind, np.random.default_rng([zlib.crc32(kind.encode()), seed]))
        cut = np.diff(drive.segment) != 0
        path = path_on(drive.xy_m, time_s=drive.time_s, boom_on=drive.boom_on, width_m=drive.width_m, cut=cut)
        check(find_passes([path]), [path])


@pytest.mark.parametrize("seed", range(40))
def test_places_that_are_no_numbers_are_no_pass(seed):
    """Points without a place break a pass and are never part of one."""
    rng = np.random.default_rng(seed)
    xy = everything_at_once(seed)
    xy[rng.random(len(xy)) < 0.1] = np.nan
    path = path_on(xy, boom_on=rng.integers(-1, 2, len(xy)))
    passes = find_passes([path, path])
    check(passes, [path, path])
    for line in passes.line_m:
        assert np.isfinite(line).all()
