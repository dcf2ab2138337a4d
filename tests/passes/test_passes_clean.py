"""Points that are not the sprayer's way: each rule finds what it says, counts it, and eats nothing else."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gladebook.errors import TrackError
from gladebook.geometry.frame import Frame
from gladebook.passes.clean import Cleaning, cleaning_words, drive_clock, hold_still
from gladebook.passes.path import CutRules, Path, lay_out
from gladebook.passes.track import Track
from tests.passes.tracks import HOME, Floats, arc, make_track, straight, turned

FRAME = Frame(*HOME)
LINE = straight((-50, 0), (50, 0))  # 101 points, 1 m apart
HALF_MPH = 0.22352  # m/s, 1609.344 m / 3600 s / 2 (exact)
PLACE_M = 1e-6  # two planes, one place


def laid(track: Track, **rules: float) -> Path:
    return lay_out(track, frame=FRAME, rules=CutRules(**rules))


def with_hdop(track: Track, hdop: Any) -> Track:
    return replace(track, hdop=np.broadcast_to(np.asarray(hdop, dtype=float), (len(track),)).copy())


def held(xy_m: Floats, time_s: Any, *, cut: Any = ()) -> tuple[Floats, int, int]:
    mask = np.zeros(len(xy_m) - 1, dtype=bool)
    mask[list(cut)] = True
    return hold_still(xy_m, time_s=np.asarray(time_s, dtype=float), cut=mask)


def a_stop(*, seconds: int = 60, spread_m: float = 0.4, seed: int = 1) -> tuple[Floats, int, int]:
    """At 2 m/s to a stop, a slow blob round it, and on; a point each second. First and last point of the blob."""
    there, on = straight((-50, 0), (0, 0), step_m=2.0), straight((0, 0), (50, 0), step_m=2.0)[1:]
    angle = np.cumsum(np.random.default_rng(seed).normal(0.1, 0.1, seconds))
    blob = spread_m * np.column_stack([1 - np.cos(angle), np.sin(angle)])
    return np.concatenate([there, blob, on]), len(there), len(there) + seconds - 1


# ---- repeats


def test_a_repeat_is_left_out_and_counted():
    """Every point written twice, with one time, is left out once, and said once."""
    path = laid(make_track(np.repeat(LINE, 2, axis=0), time_s=1.7e9 + np.repeat(np.arange(101.0), 2)))
    assert len(path.xy_m) == 101
    assert path.cleaning == Cleaning(points=202, repeats=101)
    assert [n for n in path.notes if "same place and time" in n] == [
        "drive: 101 points left out: the same place and time as the point before."
    ]


@pytest.mark.parametrize(("time_s", "left"), [(None, 100), (1.0, 102)])
def test_one_place_at_two_times_is_no_repeat(time_s, left):
    """Two points at one place are a repeat without times, and none with two times."""
    xy = np.concatenate([LINE[:50], LINE[49:51], LINE[50:100]])  # points 49 and 50 twice
    assert len(laid(make_track(xy, time_s=time_s)).xy_m) == left


def test_a_repeat_loses_no_change_of_state_width_or_section():
    """Of repeats the last state recorded holds from there on, whichever of them recorded it."""
    xy, stamps = LINE[[0, 1, 1, 2, 2, 3]], 1.7e9 + np.array([0, 1, 1, 2, 2, 3.0])
    track = make_track(xy, time_s=stamps, boom_on=[0, 0, 1, 1, -1, 0], width_m=[4, 4, 5, 5, np.nan, 4])
    path = laid(replace(track, sections=np.array([[0], [0], [1], [1], [-1], [0]], dtype=np.int8)))
    assert path.boom_on.tolist() == [0, 1, 1, 0]
    assert path.width_m.tolist() == [4, 5, 5, 4]
    assert path.sections is not None
    assert path.sections[:, 0].tolist() == [0, 1, 1, 0]


@pytest.mark.parametrize("time_s", [None, 1.0])
@pytest.mark.parametrize("points", [2, 3, 500])
def test_a_track_at_one_place_keeps_two_points(points, time_s):
    """A track of nothing but one place still has a first and a last point to follow."""
    path = laid(make_track(np.zeros((points, 2)), time_s=time_s))
    assert len(path.xy_m) == (2 if time_s is None else points)
    assert np.ptp(path.xy_m, axis=0).max() == 0.0


def test_a_repeat_across_two_pieces_is_none():
    """Where the recording starts anew at the same place and time, both points stay, and the cut with them."""
    xy, stamps = LINE[[0, 1, 1, 2]], 1.7e9 + np.array([0, 1, 1, 2.0])
    path = laid(make_track(xy, time_s=stamps, segment=[0, 0, 1, 1]))
    assert path.cut.tolist() == [False, True, False]


# ---- dilution of precision


@pytest.mark.parametrize(("hdop", "kept"), [(1.2, True), (10.0, True), (10.1, False), (99.9, False), (np.nan, True)])
def test_a_point_above_the_hdop_limit_is_left_out(hdop, kept):
    """An HDOP above 10 (common practice, no source) is left out; 10, less, or none recorded is not."""
    values = np.ones(101)
    values[40] = hdop
    path = laid(with_hdop(make_track(LINE), values))
    assert len(path.xy_m) == (101 if kept else 100)
    assert path.cleaning.poor_hdop == (0 if kept else 1)
    assert not path.cut.any()


def test_the_hdop_limit_can_be_set():
    """A limit of one's own is used, and said."""
    path = laid(with_hdop(make_track(LINE), np.where(np.arange(101) % 10 == 3, 6.0, 2.0)), hdop_above=5.0)
    assert path.cleaning.poor_hdop == 10
    assert any("10 points left out: an HDOP above 5." in note for note in path.notes)


@pytest.mark.parametrize(("points", "cuts"), [(4, []), (5, [39])])
def test_what_poor_points_leave_open_is_for_the_gap_rule(points, cuts):
    """Four points left out leave five seconds, which are joined; five leave six, which are a gap."""
    values = np.ones(101)
    values[40 : 40 + points] = 20.0
    assert np.flatnonzero(laid(with_hdop(make_track(LINE), values)).cut).tolist() == cuts


def test_a_switch_at_a_poor_point_is_not_lost():
    """A switch at a point too unsure to follow stays, in its time, on the line between the good points."""
    xy, on = LINE.copy(), np.ones(101, dtype=np.int8)
    xy[40:43] += (0.0, 25.0)
    on[41:] = 0
    values = np.ones(101)
    values[40:43] = 30.0
    path = laid(with_hdop(make_track(xy, boom_on=on), values))
    # Good points 39 at x = -11 m and 43 at -7 m; switched at the second of four seconds: x = -9 m.
    switched = int(np.argmax(path.boom_on == 0))
    assert np.abs(path.xy_m[switched] - (-9.0, 0.0)).max() < PLACE_M
    assert path.time_s[switched] == pytest.approx(1.7e9 + 41, abs=1e-6)
    assert len(path.xy_m) == 99


def test_a_track_too_unsure_throughout_is_refused():
    """Where fewer than two points are sure enough, that is said with the limit."""
    with pytest.raises(TrackError, match=r"drive: 100 of 101 points have an HDOP above 10"):
        laid(with_hdop(make_track(LINE), np.where(np.arange(101) == 5, 1.0, 50.0)))


# ---- standing still


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("spread_m", [0.0, 0.2, 0.6])
def test_a_blob_at_a_stop_is_held_at_its_first_point(spread_m, seed):
    """A minute's blob round a stop becomes one place; the way there and the way on stay as they are."""
    xy, first, last = a_stop(spread_m=spread_m, seed=seed)
    still, points, stops = held(xy, np.arange(len(xy)))
    assert stops == 1
    assert 50 <= points <= 62  # the last point of the way there and the first away may lie within the blob
    assert (still[: first - 1] == xy[: first - 1]).all()
    assert (still[last + 2 :] == xy[last + 2 :]).all()
    place = still[(first + last) // 2]
    at = (still == place).all(axis=1)
    assert at.sum() >= points
    assert (xy[int(np.argmax(at))] == place).all()


def test_a_stop_is_counted_said_and_painted_as_nothing():
    """Stops keep their points and states, cover no ground, and are said in one sentence."""
    xy, _, _ = a_stop(spread_m=0.6)
    on = np.arange(len(xy)) % 2
    path = laid(make_track(xy, boom_on=on))
    assert path.boom_on.tolist() == on.tolist()
    assert path.cleaning.standing_stops == 1
    moved_m = np.hypot(*np.diff(path.xy_m, axis=0).T)
    assert (moved_m == 0).sum() == path.cleaning.standing_points - 1
    (note,) = [n for n in path.notes if "stood still" in n]
    assert "stood still 1 time (within 10 ft for 20 s or more)" in note
    assert f"{path.cleaning.standing_points} points were held" in note


@pytest.mark.parametrize(("seconds", "stops"), [(17, 0), (22, 1)])
def test_a_stop_takes_twenty_seconds(seconds, stops):
    """At one place for 17 s is driving on; for over 20 s it is a stop."""
    xy, _, _ = a_stop(seconds=seconds, spread_m=0.0)
    assert held(xy, np.arange(len(xy)))[2] == stops


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 5.0])
def test_a_stop_is_found_at_any_rate(interval_s):
    """From five points a second to one in five, two minutes at one place are one stop."""
    still = np.zeros((round(120 / interval_s), 2))
    xy = np.concatenate([straight((-40, 0), (0, 0), step_m=2 * interval_s), still])
    xy = np.concatenate([xy, straight((0, 0), (40, 0), step_m=2 * interval_s)[1:]])
    moved, points, stops = held(xy, interval_s * np.arange(len(xy)))
    assert stops == 1
    assert points >= len(still)
    assert np.abs(moved - xy).max() <= 0.2  # no more than a tenth of a metre to either side of the stop


@given(
    speed=st.floats(HALF_MPH, 3.0),
    heading=st.floats(0, 360),
    interval_s=st.sampled_from([0.1, 0.2, 1.0, 2.0, 5.0]),
    noise_m=st.sampled_from([0.0, 0.02, 0.05]),
    seed=st.integers(0, 99),
)
def test_slow_spraying_is_never_standing(speed, heading, interval_s, noise_m, seed):
    """From half a mile an hour on, straight, back and forth and round tight bends, nothing is held."""
    step_m = speed * interval_s
    there = straight((0, 0), (12, 0), step_m=step_m)
    bend = arc((12, 1.5), 1.5, start_deg=-90, stop_deg=90, steps=max(round(1.5 * np.pi / step_m), 2))
    back = straight((12, 3), (4, 3), step_m=step_m)
    again = straight((4, 3), (9, 3), step_m=step_m)  # backed up and went on
    xy = turned(np.concatenate([there, bend, back, again]), heading)
    xy = xy + np.random.default_rng(seed).normal(0, noise_m, xy.shape)
    assert held(xy, interval_s * np.arange(len(xy)))[1:] == (0, 0)


def test_creeping_in_a_straight_line_is_no_standing():
    """Even slower, a way that leads on is driven, not stood."""
    for speed in (0.1, 0.05, 0.02):
        xy = straight((0, 0), (15, 0), step_m=speed)
        assert held(xy, np.arange(len(xy)))[2] == 0


def test_two_visits_to_one_place_are_no_standing():
    """Passing the same place again, or coming back to it after a cut, holds nothing."""
    loop = np.concatenate([straight((0, 0), (20, 0), step_m=2.0), straight((20, 0), (0, 0), step_m=2.0)[1:]])
    loops = np.concatenate([loop] * 10)
    assert held(loops, np.arange(len(loops)))[2] == 0
    twice = np.repeat([[0.0, 0.0], [0.1, 0.0]], 12, axis=0)  # 11 s, a cut of an hour, 11 s
    times = np.concatenate([np.arange(12.0), 3600 + np.arange(12.0)])
    assert held(twice, times, cut=[11])[2] == 0


def test_two_stops_at_one_place_are_two():
    """A drive away and back between them makes two stops of it."""
    still = np.zeros((40, 2))
    away = np.concatenate([straight((2, 0), (30, 0), step_m=2.0), straight((30, 0), (2, 0), step_m=2.0)])
    xy = np.concatenate([still, away, still])
    assert held(xy, np.arange(len(xy)))[1:] == (80, 2)


def test_without_times_nothing_stands():
    """Where no time tells how long, nothing is held."""
    xy, _, _ = a_stop()
    assert held(xy, np.full(len(xy), np.nan))[2] == 0
    assert laid(make_track(xy, time_s=None)).cleaning.standing_stops == 0


def test_a_blob_hides_neither_gap_nor_jump():
    """A minute without points during a stop, and a stray fix during another, are cut as without the rule."""
    xy, first, _ = a_stop(seconds=90)
    stamps = 1.7e9 + np.arange(len(xy), dtype=float)
    stamps[first + 45 :] += 60
    xy[first + 70] += (0.0, 80.0)
    path = laid(make_track(xy, time_s=stamps))
    assert np.flatnonzero(path.cut).tolist() == [first + 44, first + 69, first + 70]
    assert (path.cleaning.gaps, path.cleaning.jumps) == (1, 2)


# ---- counts, words, clock


def test_the_cuts_are_counted_as_they_are_said():
    """Jumps, gaps and backward times are counted as the notes tell them; new pieces are no fault."""
    stamps = 1.7e9 + np.arange(101.0)
    stamps[20:] += 60
    stamps[70:] -= 500
    xy = LINE.copy()
    xy[50:] += (0.0, 60.0)
    path = laid(make_track(xy, time_s=stamps, segment=np.arange(101) // 90))
    assert path.cleaning == Cleaning(points=101, jumps=1, backwards=1, gaps=1)
    assert sum("cut at" in note for note in path.notes) == 4


def test_void_points_of_the_reader_are_counted():
    """Points that the reader left out are counted beside those that it kept."""
    assert laid(replace(make_track(LINE), void_points=7)).cleaning == Cleaning(points=101, void=7)


def test_counts_of_several_tracks_add_up():
    """The sum of several tracks' counts is the count of them all."""
    one, two = Cleaning(points=5, void=1, gaps=2), Cleaning(points=7, repeats=3, standing_points=4, standing_stops=1)
    assert sum([one, two], Cleaning()) == Cleaning(
        points=12, void=1, repeats=3, standing_points=4, standing_stops=1, gaps=2
    )


def test_the_words_say_what_was_found_and_nothing_else():
    """One short sentence for each thing found, with its number; none for a clean track."""
    assert cleaning_words(Cleaning(points=1000)) == ()
    words = cleaning_words(Cleaning(1000, 1, 2, 3, 1234, 5, 1, 2, 1))
    assert len(words) == 7
    assert words[0].startswith("1 point left out")
    assert words[3] == "1,234 points held where it stood, at 5 stops."
    assert words[4:] == ("Cut at 1 jump.", "Cut at 2 places where time runs backwards.", "Cut at 1 gap in time.")


def test_the_clock_only_grows():
    """On the clock each drive keeps its own seconds, and a later drive comes later whatever its stamps."""
    clock = drive_clock(np.array([100.0, 101, 103, 5, 6]), cut=np.array([False, False, True, False]))
    assert np.diff(clock)[[0, 1, 3]].tolist() == [1, 2, 1]
    assert np.diff(clock)[2] >= 60


@given(seed=st.integers(0, 10_000))
def test_hostile_columns_are_laid_out_or_refused(seed):
    """Random, repeated, missing and backward values give a path of even columns, or our own refusal."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(2, 60))
    xy = np.round(rng.normal(0, rng.choice([0.01, 2.0, 50.0]), (n, 2)), int(rng.integers(0, 3)))
    xy = xy[np.sort(rng.integers(0, n, n))]
    stamps = 1.7e9 + np.cumsum(rng.choice([0.0, 0.0, 1.0, 30.0, -5.0], n))
    stamps[rng.random(n) < rng.choice([0.0, 0.3, 1.0])] = rng.choice([np.nan, np.inf])
    track = make_track(xy, time_s=stamps, boom_on=rng.integers(-1, 2, n), segment=np.sort(rng.integers(0, 3, n)))
    track = with_hdop(track, rng.choice([np.nan, 1.0, 9.0, 12.0], n))
    if rng.random() < 0.5:
        track = replace(track, sections=rng.integers(-1, 2, (n, 3)).astype(np.int8))
    try:
        path = laid(track)
    except TrackError:
        assert (track.hdop > 10).sum() > n - 2
        return
    m = len(path.xy_m)
    assert m >= 2
    columns = (path.time_s, path.speed_mps, path.boom_on, path.width_m, path.cut, path.backwards)
    assert [len(c) for c in columns] == [m, m, m, m, m - 1, m - 1]
    assert path.sections is None or path.sections.shape == (m, 3)
    assert np.isfinite(path.xy_m).all()
    assert (path.cut | ~path.backwards).all()
    assert path.cleaning.repeats + path.cleaning.poor_hdop < path.cleaning.points == n
