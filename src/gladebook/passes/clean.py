"""Points that are not the sprayer's way: left out, or held where it stood, by stated rules, each counted.

- Void: sent before the receiver knew its place; the reader leaves them out (its own sources stand there).
- Repeats: the same place and time as the point before, or the same place where neither has a time; the
  last of them stays, with the last state recorded (common practice, no source).
- Poor HDOP: above a limit, 10 unless set (common practice, no source). What is left is cut by the gap rule;
  a switch at such a point stays, on the straight line between its good neighbours.
- Standing still: within 3 m of where it stopped for at least 20 s (common practice, no source). Its points
  are held at the first of them, so that no gap opens and nothing is painted. Slow spraying is none: moves,
  from 5 s to 5 s, must add up to less than 3 m in 20 s (0.34 mph); and unless it drives off from there, they
  must lead less than half as far.
- Jumps, time running backwards, gaps: cut, by the rules in `path`.
"""

from bisect import bisect_left
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from gladebook.errors import TrackError
from gladebook.geometry.frame import lengths_m
from gladebook.passes.track import Track

__all__ = ["Cleaning", "Kept", "cleaning_words", "drive_clock", "drop_points", "hold_still"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

_STILL_M = 3.0
_STILL_S = 20.0
_SLOW_MPS = _STILL_M / _STILL_S
_MOVE_S = 5.0
_ASTRAY = 0.5
_STOPPED_M = 0.1
_CREPT_M = 2.5
_CREEP_MOVES = (4, 8, 16)
_APART_S = 1000.0  # more than any window or delay that is looked up on the clock
_SLACK_S = 1e-6


@dataclass(frozen=True)
class Cleaning:
    """What was found that is not the sprayer's way, counted; add those of several tracks with ``+``.

    Attributes
    ----------
    points : points of the track, those that the reader left out not among them.
    void : points left out by the reader, as the receiver did not yet know its place.
    repeats : points left out as repeats.
    poor_hdop : points left out for their dilution of precision.
    standing_points, standing_stops : points held where it stood, and how many stops those were.
    jumps, backwards, gaps : cuts at a jump, at time running backwards, at a gap in time.
    """

    points: int = 0
    void: int = 0
    repeats: int = 0
    poor_hdop: int = 0
    standing_points: int = 0
    standing_stops: int = 0
    jumps: int = 0
    backwards: int = 0
    gaps: int = 0

    def __add__(self, other: "Cleaning") -> "Cleaning":
        return Cleaning(**{f.name: getattr(self, f.name) + getattr(other, f.name) for f in fields(self)})


@dataclass(frozen=True, eq=False)
class Kept:
    """The points of a track that stay.

    Attributes
    ----------
    track : the points kept; a point that stands for repeats has the last of their states.
    number : shape (m,), which points of the whole track they are, from 0.
    poor : shape (n,), the points left out for their dilution of precision.
    repeats : how many were left out as repeats.
    """

    track: Track
    number: Ints
    poor: Bools
    repeats: int


def drop_points(track: Track, *, hdop_above: float) -> Kept:
    """Leave out repeats and points whose dilution of precision is above a limit.

    Two points stay whatever they repeat.

    Raises
    ------
    TrackError
        Where fewer than two of several points are sure enough.
    """
    with np.errstate(invalid="ignore"):
        poor = track.hdop > hdop_above
    good = np.flatnonzero(~poor)
    if len(good) < min(2, len(track)):
        raise TrackError(
            f"{track.name}: {int(poor.sum())} of {len(track)} points have an HDOP above {hdop_above:g}, so their "
            "places are too unsure to follow. Check the recording, or allow more with --hdop."
        )
    repeat = _repeats(track, good)
    if not repeat.any() and len(good) == len(track):
        return Kept(track=track, number=good, poor=poor, repeats=0)
    stays = np.concatenate([~repeat, [True]])
    stays[0] |= stays.sum() < min(2, len(good))
    first = np.concatenate([[0], np.flatnonzero(~repeat) + 1])[np.cumsum(np.concatenate([[0], ~repeat]))]
    number = good[stays]

    def last_known(column: npt.NDArray[Any], known: Bools) -> npt.NDArray[Any]:
        """Of each run of repeats the last value recorded; where none is, the last point's own."""
        here = np.arange(len(good))
        latest = np.maximum.accumulate(np.where(known[good], here, -1))
        known_last: npt.NDArray[Any] = column[good[np.where(latest >= first, latest, here)[stays]]]
        return known_last

    sections = track.sections
    return Kept(
        track=replace(
            track,
            lon_deg=track.lon_deg[number],
            lat_deg=track.lat_deg[number],
            time_s=track.time_s[number],
            segment=track.segment[number],
            boom_on=last_known(track.boom_on, track.boom_on != -1),
            width_m=last_known(track.width_m, ~np.isnan(track.width_m)),
            speed_mps=last_known(track.speed_mps, ~np.isnan(track.speed_mps)),
            hdop=track.hdop[number],
            sections=None if sections is None else last_known(sections, (sections != -1).any(axis=1)),
        ),
        number=number,
        poor=poor,
        repeats=len(good) - len(number),
    )


def _repeats(track: Track, good: Ints) -> Bools:
    """Shape (m - 1,): whether the next of the good points repeats this one."""

    def same(column: npt.NDArray[Any]) -> Bools:
        equal: Bools = column[good[1:]] == column[good[:-1]]
        return equal

    no_time = np.isnan(track.time_s)
    neither = no_time[good[1:]] & no_time[good[:-1]]
    return same(track.lon_deg) & same(track.lat_deg) & same(track.segment) & (same(track.time_s) | neither)


def drive_clock(time_s: Floats, *, cut: Bools) -> Floats:
    """Seconds that only grow along a track: each drive's own, and a good quarter of an hour between drives.

    Parameters
    ----------
    time_s
        Shape (n,), growing or equal within each drive.
    cut
        Shape (n - 1,), true between drives.
    """
    if not cut.any():
        return time_s - time_s[:1]
    first = np.concatenate([[0], np.flatnonzero(cut) + 1])
    drive = np.concatenate([[0], np.cumsum(cut)])
    since_s = time_s - time_s[first][drive]
    last = np.append(first[1:], len(time_s)) - 1
    start_s = np.concatenate([[0.0], np.cumsum(since_s[last] + _APART_S)[:-1]])
    clock_s: Floats = since_s + start_s[drive]
    return clock_s


def hold_still(xy_m: Floats, *, time_s: Floats, cut: Bools) -> tuple[Floats, int, int]:
    """Put the points of each stop at one place, that of the first of them.

    Without times nobody can tell, and nothing is held. A stop does not go on across a cut, so that two
    visits to one place are none.

    Parameters
    ----------
    xy_m
        Shape (n, 2), metres.
    time_s
        Shape (n,), growing or equal where nothing is cut.
    cut
        Shape (n - 1,), true where nothing joins a point to the next.

    Returns
    -------
    The places, how many points were held, and at how many stops.
    """
    held, points, stops = xy_m, 0, 0
    for first, last in _stays(xy_m, time_s=time_s, cut=cut):
        held = held.copy() if held is xy_m else held
        held[first : last + 1] = xy_m[first]
        points, stops = points + last + 1 - first, stops + 1
    return held, points, stops


def _stays(xy: Floats, *, time_s: Floats, cut: Bools) -> list[tuple[int, int]]:
    """First and last point of each stop."""
    if len(xy) < 2 or not np.isfinite(time_s).all():
        return []
    clock = drive_clock(time_s, cut=cut)
    drive = np.concatenate([[0], np.cumsum(cut)])
    ends = np.append(np.flatnonzero(cut) + 1, len(xy))[drive]
    ahead = _moves(xy, clock=clock)
    queue = _starts(xy, moves=ahead, ends=ends, clock=clock).tolist()
    if not queue:
        return []
    there, away_m, seconds = _moves(xy[::-1], clock=-clock[::-1])
    slow_before = ((away_m < _SLOW_MPS * seconds) & (drive[::-1][there] == drive[::-1]))[::-1]
    found: list[tuple[int, int]] = []
    k = 0
    while k < len(queue):
        i, end = queue[k], int(ends[queue[k]])
        stop = _leaves(xy, i, stop=end)
        slow = np.flatnonzero(slow_before[i:stop])
        first, last = _stopped(xy, i, i + int(slow[-1]) if slow.size else i, clock=clock)
        drives_off = stop < end and not slow_before[stop]
        if _stood(xy, first, last, moves=ahead, clock=clock, drives_off=drives_off):
            found.append((first, last))
            after = last + 1
        elif clock[stop - 1] - clock[i] >= _STILL_S:
            # Not far enough on, each try would look at the same points again.
            after = max(int(np.searchsorted(clock, clock[i] + _MOVE_S)), i + 1 + (stop - i) // 4)
        else:
            after = i + 1
        k = bisect_left(queue, after, k)
    return found


def _moves(xy: Floats, *, clock: Floats) -> tuple[Ints, Floats, Floats]:
    """The first point at least five seconds later, how far away it is, and how many seconds.

    At the end of a drive that is a point of the next, at the end of the track its last.
    """
    there = np.minimum(np.searchsorted(clock, clock + (_MOVE_S - _SLACK_S)), len(clock) - 1)
    return there, lengths_m(xy.take(there, axis=0) - xy), clock[there] - clock


def _starts(xy: Floats, *, moves: tuple[Ints, Floats, Floats], ends: Ints, clock: Floats) -> Ints:
    """Points from which it hardly moves for twenty seconds, nor creeps away for good."""
    there, away_m, seconds = moves
    speed = away_m / np.maximum(seconds, _SLACK_S)
    start = np.flatnonzero((speed < _SLOW_MPS) & (there < ends))
    at, moved_m, fastest = there[start], away_m[start], speed[start]
    for count in range(2, max(_CREEP_MOVES) + 1):
        moved_m, fastest, at = moved_m + away_m[at], np.maximum(fastest, speed[at]), there[at]
        if count not in _CREEP_MOVES:
            continue
        net_m, over = lengths_m(xy.take(at, axis=0) - xy.take(start, axis=0)), at >= ends[start]
        still = (net_m < _CREPT_M) | (net_m < _ASTRAY * moved_m) | (fastest >= _SLOW_MPS) | over
        if count == round(_STILL_S / _MOVE_S):
            stay_s = clock[at] - clock[start]
            still &= ~over & (stay_s >= _STILL_S - _SLACK_S) & (moved_m < _SLOW_MPS * stay_s) & (net_m <= _STILL_M)
        start, at, moved_m, fastest = start[still], at[still], moved_m[still], fastest[still]
    return start


def _stood(
    xy: Floats, first: int, last: int, *, moves: tuple[Ints, Floats, Floats], clock: Floats, drives_off: bool
) -> bool:
    """Whether the sprayer stood all that time: long enough, hardly moving, and getting nowhere."""
    _, away_m, seconds = moves
    upto = int(np.searchsorted(clock, clock[last] - _MOVE_S + _SLACK_S, side="right"))
    stay_s = clock[last] - clock[first]
    if stay_s < _STILL_S - _SLACK_S or upto <= first:
        return False
    speed_mps = away_m[first:upto].sum() / seconds[first:upto].sum()
    net_m = np.hypot(*(xy[last] - xy[first]))
    nowhere = drives_off or net_m <= max(_ASTRAY * speed_mps * stay_s, 2 * _STOPPED_M)
    return bool(speed_mps < _SLOW_MPS and nowhere)


def _leaves(xy: Floats, i: int, *, stop: int) -> int:
    """The first later point that is not near, or the end of the drive."""
    begin, size = i + 1, 64
    while begin < stop:
        away = xy[begin : min(begin + size, stop)] - xy[i]
        far = away[:, 0] ** 2 + away[:, 1] ** 2 > _STILL_M**2
        if far.any():
            return begin + int(np.argmax(far))
        begin, size = begin + size, 2 * size
    return stop


def _stopped(xy: Floats, i: int, last: int, *, clock: Floats) -> tuple[int, int]:
    """First and last point where it stood, without the last half metre of the way there and the first away."""
    away = lengths_m(xy[i : last + 1] - xy[i : last + 1].mean(axis=0))
    near = np.flatnonzero(away <= max(float(np.median(away)), _STOPPED_M)) + i
    first, final = int(near[0]), int(near[-1])
    return (
        first if clock[first] - clock[i] <= _MOVE_S else i,
        final if clock[last] - clock[final] <= _MOVE_S else last,
    )


def cleaning_words(cleaning: Cleaning) -> tuple[str, ...]:
    """Short sentences for a screen on what was found; none where nothing was."""

    def count(number: int, one: str) -> str:
        return f"{number:,} {one}{'' if number == 1 else 's'}"

    c = cleaning
    held = f"{count(c.standing_points, 'point')} held where it stood, at {count(c.standing_stops, 'stop')}."
    words = (
        (c.void, f"{count(c.void, 'point')} left out: the receiver did not yet know its place."),
        (c.repeats, f"{count(c.repeats, 'point')} left out: the same place and time as the point before."),
        (c.poor_hdop, f"{count(c.poor_hdop, 'point')} left out: HDOP too high, so the place is unsure."),
        (c.standing_stops, held),
        (c.jumps, f"Cut at {count(c.jumps, 'jump')}."),
        (c.backwards, f"Cut at {count(c.backwards, 'place')} where time runs backwards."),
        (c.gaps, f"Cut at {count(c.gaps, 'gap')} in time."),
    )
    return tuple(sentence for number, sentence in words if number)
