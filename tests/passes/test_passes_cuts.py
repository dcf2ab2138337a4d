"""Where a track is cut, and that nothing is painted across a cut."""

import numpy as np
import pytest
import shapely

from gladebook.geometry.frame import Frame
from gladebook.passes.path import CutRules, Path, lay_out
from gladebook.passes.track import Track
from tests.passes.tracks import HOME, SHAPE_M2, box, cover, in_metres, make_plot, make_track, straight, swath

FRAME = Frame(*HOME)
FIELD = make_plot(box(-150, -150, 150, 150))
LINE = straight((-50, 0), (50, 0))  # 101 points, 1 m apart


def laid(track: Track, **rules: float) -> Path:
    return lay_out(track, frame=FRAME, rules=CutRules(**rules))


def cuts(track: Track, **rules: float) -> list[int]:
    """Numbers of the points after which the track is cut."""
    found: list[int] = np.flatnonzero(laid(track, **rules).cut).tolist()
    return found


def stamps(*late: tuple[int, float], step_s: float = 1.0) -> np.ndarray:
    """Even stamps, with extra seconds before given points."""
    time_s = 1.7e9 + step_s * np.arange(len(LINE))
    for point, seconds in late:
        time_s[point:] += seconds
    return time_s


def test_a_plain_drive_is_not_cut():
    """Even points at a walking or driving pace are one piece."""
    assert cuts(make_track(LINE)) == []
    assert cuts(make_track(LINE, time_s=0.2)) == []


def test_the_recordings_own_pieces_are_cut():
    """A track is cut where the recording starts a new piece, however close the points are."""
    segment = np.repeat([0, 1, 2], [30, 40, 31])
    path = laid(make_track(LINE, segment=segment))
    assert np.flatnonzero(path.cut).tolist() == [29, 69]
    assert any("starts a new piece, 2 times" in note for note in path.notes)


@pytest.mark.parametrize("step_s", [1.0, 0.2, 3.0])
def test_the_longest_gap_is_five_times_the_usual(step_s):
    """Five times the usual interval is joined, a little more is cut, and the limit is said."""
    at_limit, over = (stamps((40, extra * step_s), step_s=step_s) for extra in (4.0, 4.1))
    assert cuts(make_track(LINE, time_s=at_limit + 1e-9 * np.arange(len(LINE)) - 1.7e9)) == []
    path = laid(make_track(LINE, time_s=over))
    assert np.flatnonzero(path.cut).tolist() == [39]
    assert any(f"over {5 * step_s:g} s counts as a gap (five times the usual" in note for note in path.notes)


def test_a_gap_given_replaces_five_times_the_usual():
    """With a longest gap of one's own, longer ones are cut and shorter ones are not."""
    track = make_track(LINE, time_s=stamps((20, 9.0), (40, 14.0), (60, 2.5)))
    assert cuts(track) == [19, 39]
    assert cuts(track, gap_s=12.0) == [39]
    assert cuts(track, gap_s=3.0) == [19, 39, 59]
    assert cuts(track, gap_s=60.0) == []


def test_a_gap_given_as_a_length_cuts_longer_steps():
    """With a longest step of one's own, longer steps are cut, with times and without."""
    xy = LINE.copy()
    xy[60:] += (3.0, 0.0)
    for time_s in (1.0, None):
        assert cuts(make_track(xy, time_s=time_s)) == []
        assert cuts(make_track(xy, time_s=time_s), gap_m=3.9) == [59]
        assert cuts(make_track(xy, time_s=time_s), gap_m=4.1) == []


@pytest.mark.parametrize(("jump_m", "cut"), [(5.5, False), (9.5, False), (10.5, True), (300.0, True)])
def test_a_jump_is_faster_than_a_sprayer(jump_m, cut):
    """A step is a jump above 10 m/s (22 mph: common practice, no source), and never below that."""
    xy = LINE.copy()
    xy[60:] += (jump_m - 1.0, 0.0)
    assert cuts(make_track(xy)) == ([59] if cut else [])


def test_a_short_step_is_no_jump_at_any_rate():
    """At 10 points a second a stagger of 3 m is the receiver's, not lost reception."""
    xy = straight((-50, 0), (50, 0), step_m=0.2)
    xy[200:] += (0.0, 3.0)
    assert cuts(make_track(xy, time_s=0.1)) == []


def test_whole_second_stamps_of_a_fast_recorder_are_no_jump():
    """Points with one stamp share their second: five at 2 m/s or 8 m/s, or two 7 m apart, are not cut."""
    for speed_mps, step_s in ((2.0, 0.2), (8.0, 0.2), (8.0, 0.9)):
        xy = straight((-100, 0), (100, 0), step_m=speed_mps * step_s)
        time_s = 1.7e9 + np.floor(step_s * np.arange(len(xy)) + 1e-9)
        assert (np.diff(time_s) == 0).any()
        assert cuts(make_track(xy, time_s=time_s)) == []


def test_a_jump_between_whole_second_stamps_is_seen():
    """A fast recorder's 60 m stagger is a jump, within one stamp or between two."""
    xy = straight((-50, 0), (50, 0), step_m=0.4)
    time_s = 1.7e9 + np.floor(np.arange(len(xy)) / 5)
    for point in (102, 105):
        away = xy.copy()
        away[point:] += (0.0, 60.0)
        assert cuts(make_track(away, time_s=time_s)) == [point - 1]


def test_time_running_backwards_cuts():
    """Where time runs backwards the track is cut, and the points stay in the file's order."""
    path = laid(make_track(LINE, time_s=stamps((40, -100.0))))
    assert np.flatnonzero(path.cut).tolist() == [39]
    assert path.backwards.tolist() == path.cut.tolist()
    assert np.abs(path.xy_m - LINE).max() < 1e-6  # a micrometre: two planes, one place
    assert any("backwards, 1 time." in note for note in path.notes)


def test_points_keep_the_files_order_whatever_their_times():
    """Shuffled times change where a track is cut, never the order of its points."""
    rng = np.random.default_rng(7)
    time_s = 1.7e9 + rng.permutation(len(LINE)).astype(float)
    path = laid(make_track(LINE, time_s=time_s))
    assert np.abs(path.xy_m - LINE).max() < 1e-6
    assert (path.time_s == time_s).all()
    assert path.cut[np.diff(time_s) < 0].all()


def test_without_times_a_long_step_among_even_ones_is_a_gap():
    """Without times, a step over five times the usual is cut where steps are even, and that is said."""
    xy = LINE.copy()
    xy[60:] += (29.0, 0.0)
    path = laid(make_track(xy, time_s=None))
    assert np.flatnonzero(path.cut).tolist() == [59]
    assert any("no times" in note and "--gap" in note for note in path.notes)
    assert cuts(make_track(xy, time_s=None), gap_m=40.0) == []


def test_without_times_a_drawn_line_is_joined_and_said():
    """A line drawn with a few uneven points is joined as it comes, with its longest step named."""
    xy = np.array([[0, 0], [60, 0], [60, 5], [0, 5], [0, 10], [100, 10]], dtype=float)
    path = laid(make_track(xy, time_s=None))
    assert not path.cut.any()
    assert any("cannot be told" in note and "100 m" in note for note in path.notes)


def test_a_point_without_a_time_in_a_plain_drive_cuts_nothing():
    """One point whose time is missing, in its place in an even drive, leaves the drive whole."""
    time_s = stamps()
    time_s[50] = np.nan
    assert cuts(make_track(LINE, time_s=time_s)) == []


def test_a_point_without_a_time_does_not_bridge_a_gap():
    """A minute without fixes stays a cut though a single point without a time lies in it."""
    xy = np.concatenate([straight((-50, 0), (-15, 0)), [[0.0, 0.0]], straight((15, 0), (50, 0))])
    time_s = 1.7e9 + np.arange(len(xy))
    time_s[37:] += 60.0
    time_s[36] = np.nan
    assert set(cuts(make_track(xy, time_s=time_s))) & {35, 36}


def test_a_point_without_a_time_does_not_hide_a_jump():
    """A stray fix 120 m away is cut off on both sides though its time is missing."""
    xy, time_s = LINE.copy(), stamps()
    xy[50], time_s[50] = (0.0, 120.0), np.nan
    assert cuts(make_track(xy, time_s=time_s)) == [49, 50]


def drive_with_a_cut(kind: str) -> tuple[Track, list[int]]:
    """A 4 m swath whose points 40 and 41 nothing may join, and the last points of its pieces."""
    xy, time_s, segment, on = LINE.copy(), stamps(), np.zeros(len(LINE), dtype=int), np.ones(len(LINE))
    if kind == "piece":
        segment[41:] = 1
    elif kind == "gap":
        time_s = stamps((41, 30.0))
    elif kind == "jump":
        xy[41:] += (0.0, 60.0)
    elif kind == "backwards":
        time_s = stamps((41, -100.0))
    else:
        on[40] = 0
    if kind in ("piece", "gap", "off", "backwards"):
        xy[41:] += (8.0, 0.0)  # 9 m in one second: no jump
    return make_track(xy, time_s=time_s, segment=segment, boom_on=on, width_m=4.0), [40, 41]


@pytest.mark.parametrize("kind", ["piece", "gap", "jump", "backwards", "off"])
def test_nothing_is_painted_across_a_cut(kind):
    """Treated ground is the two pieces' own swaths: none of it lies beyond them, none is lost."""
    track, (last, first) = drive_with_a_cut(kind)
    xy = laid(track).xy_m
    pieces = shapely.union(swath(xy[: last + 1 : last], 4.0), swath(xy[[first, -1]], 4.0))
    answer = cover(FIELD, track)
    treated = in_metres(answer.layers.treated)
    assert treated.difference(pieces).area < SHAPE_M2
    assert answer.treated_m2 == pytest.approx(pieces.area, rel=1e-6)
    assert answer.driven_m2 == pytest.approx(4.0 * (40 + 59), rel=1e-6)


def test_a_cut_leaves_no_joined_step_in_the_drawn_track():
    """The line to draw has no step across a cut either."""
    track, _ = drive_with_a_cut("jump")
    line = in_metres(cover(FIELD, track).layers.track_on)
    assert shapely.length(line) == pytest.approx(99.0, rel=1e-6)
