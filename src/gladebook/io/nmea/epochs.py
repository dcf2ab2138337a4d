"""Points of an NMEA log: what several sentences say of one time, made into one point, on the right day.

Sentences of one time of day that follow each other speak of one epoch. Its day is that of its RMC, else of its
ZDA, else that of the last epoch that has one, a day later for each midnight passed: time of day fell by more
than 12 h. Before the first day stated, days are counted back from it. Then epochs of one moment are one, even
where another stands between them; where no day is stated at all, only if the clock was not set back by a minute
in between.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from gladebook.io.nmea.found import Columns
from gladebook.io.nmea.sentence import GGA, NO_DAY, NO_TIME, RMC, VOID_QUALITY, VTG, ZDA

__all__ = ["ESTIMATED", "Epochs", "epochs_of"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.signedinteger[Any]]
Bools = npt.NDArray[np.bool_]

ESTIMATED = (6, 7, 8)
_SECOND_US = 1_000_000
_HALF_DAY_US = 43_200 * _SECOND_US
_DAY_US = 2 * _HALF_DAY_US
_LATE_US = 60 * _SECOND_US  # a sentence comes no later than this after its time (common practice, no source)
_APART_M = 10.0  # farther apart than what one receiver rounds or smooths (common practice, no source)
_AT_ONCE = 100_000  # readings
_DEGREE_M = 111_000.0  # a degree of latitude, near enough to tell metres from tens of metres


@dataclass(frozen=True, eq=False)
class Epochs:
    """Points, in the order in which the file first speaks of them, and what was seen on the way.

    Attributes
    ----------
    lat_deg, lon_deg, time_s, speed_mps, hdop : shape (n,); time since 1970 UTC, or since the midnight before
        the first reading where `dated` is false.
    quality : shape (n,), as GGA counts it; RMC's mode where there is no GGA.
    at : shape (n,), the byte at which the sentence with the point's place begins.
    dated : whether some sentence states a day.
    void : epochs without a place, as the receiver did not know it.
    untimed : bytes at which sentences with a place but no time begin.
    apart : epochs whose sentences lie more than 10 m apart.
    """

    lat_deg: Floats
    lon_deg: Floats
    time_s: Floats
    speed_mps: Floats
    hdop: Floats
    quality: npt.NDArray[np.int8]
    at: Ints
    dated: bool
    void: int
    untimed: Ints
    apart: int


def epochs_of(read: Columns) -> Epochs:
    """Make points of readings, one for each time.

    A point's place and HDOP are those of its first GGA, a measured one before an estimated one, else of its RMC;
    its speed is that of RMC, else of the VTG that follows one of its sentences.
    """
    placed = (read.kind == RMC) | (read.kind == GGA)
    void = placed & (read.quality == VOID_QUALITY)
    placed &= ~void
    timed = read.time_us != NO_TIME
    rows = _numbers(timed)
    epoch = np.full(len(read.at), -1, dtype=np.int32)
    told = (read.time_us, read.kind, read.day)
    epoch[rows], time_us, dated = _moments(*(told if len(rows) == len(timed) else (column[rows] for column in told)))
    vtg = np.flatnonzero(read.kind == VTG)
    before = np.searchsorted(rows, vtg) - 1
    epoch[vtg[before >= 0]] = epoch[rows[before[before >= 0]]]

    def first(rows: Bools) -> Ints:
        """Shape (epochs,): the first of some readings of each epoch, or -1."""
        numbers = _numbers(rows & (epoch >= 0))[::-1]
        found = np.full(len(time_us), -1, dtype=np.int32)
        found[epoch[numbers]] = numbers  # the last one written, which is the first in the file, stays
        return found

    measured = ~np.isin(read.quality, ESTIMATED)
    known = placed & ~np.isnan(read.value)
    gga, rmc = placed & (read.kind == GGA), placed & (read.kind == RMC)
    place = _or_else(first(gga & measured), first(gga), first(rmc & measured), first(rmc))
    point = _numbers(place >= 0)
    place = place[point]
    speed = _or_else(first(known & rmc), first(read.kind == VTG))[point]
    return Epochs(
        lat_deg=read.lat_deg[place],
        lon_deg=read.lon_deg[place],
        time_s=time_us[point] / _SECOND_US,
        speed_mps=_value(read, speed),
        hdop=_value(read, first(known & gga)[point]),
        quality=read.quality[place],
        at=read.at[place],
        dated=dated,
        void=_void_epochs(read, void=void, epoch=epoch, point=point),
        untimed=read.at[placed & ~timed],
        apart=_apart(read, rows=_numbers(placed & timed), epoch=epoch, point=point, place=place),
    )


def _numbers(chosen: Bools) -> Ints:
    """Which are chosen, in half the space that numpy takes; a log of 2**31 sentences is beyond every limit."""
    return np.flatnonzero(chosen).astype(np.int32)


def _or_else(*choices: Ints) -> Ints:
    """The first of several numbers that is there."""
    chosen = choices[0]
    for other in choices[1:]:
        chosen = np.where(chosen >= 0, chosen, other)
    return chosen


def _value(read: Columns, rows: Ints) -> Floats:
    return np.where(rows >= 0, read.value[rows], np.nan)


def _moments(clock_us: Ints, kind: npt.NDArray[np.int8], day: npt.NDArray[np.int32]) -> tuple[Ints, Ints, bool]:
    """The epoch of each timed reading, the time of each epoch, and whether days are stated."""
    if not len(clock_us):
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64), False
    begins = np.ones(len(clock_us), dtype=bool)
    np.not_equal(clock_us[1:], clock_us[:-1], out=begins[1:])
    run = np.cumsum(begins, dtype=np.int32) - np.int32(1)
    of_day_us = clock_us[begins]
    step_us = np.diff(of_day_us, prepend=of_day_us[:1])
    # Up by nearly a day is a sentence that came late, after the first of the next day.
    midnights = np.cumsum((step_us < -_HALF_DAY_US).astype(np.int8) - (step_us > _DAY_US - _LATE_US), dtype=np.int64)
    stated = np.full(len(of_day_us), NO_DAY, dtype=np.int64)
    for which in (ZDA, RMC):
        rows = _numbers((kind == which) & (day != NO_DAY))[::-1]
        stated[run[rows]] = day[rows]
    dated = _numbers(stated != NO_DAY)
    set_back = np.zeros(len(of_day_us), dtype=np.int32)
    if len(dated):
        # Of each run the last one before it, or the first of all, that has a day.
        latest = np.cumsum(stated != NO_DAY, dtype=np.int32) - np.int32(1)
        midnights += (stated - midnights)[dated[np.maximum(latest, 0)]]
    else:
        set_back = np.cumsum((step_us < -_LATE_US) & (step_us >= -_HALF_DAY_US), dtype=np.int32)
    midnights *= _DAY_US
    midnights += of_day_us
    epoch, first = _numbered(midnights, set_back)
    return epoch[run], midnights[first], bool(len(dated))


def _numbered(time_us: Ints, set_back: Ints) -> tuple[Ints, Ints]:
    """Numbers for runs of equal time, in the order in which they first come; and the first run of each."""
    if not set_back.any() and (time_us[1:] > time_us[:-1]).all():
        in_order = np.arange(len(time_us), dtype=np.int32)
        return in_order, in_order
    order = np.lexsort((time_us, set_back))
    new = np.ones(len(order), dtype=bool)
    new[1:] = (np.diff(time_us[order]) != 0) | (np.diff(set_back[order]) != 0)
    group = np.empty(len(order), dtype=np.int32)
    group[order] = np.cumsum(new) - 1
    first = order[new]  # the sort is stable, so the first in the file
    by_file = np.argsort(first)
    rank = np.empty(len(first), dtype=np.int32)
    rank[by_file] = np.arange(len(first))
    return rank[group], first[by_file]


def _void_epochs(read: Columns, *, void: Bools, epoch: Ints, point: Ints) -> int:
    """Epochs without a place; those without a time are counted by the kind of sentence that has more of them."""
    timed = epoch >= 0
    seen = np.zeros(int(epoch.max(initial=-1)) + 1, dtype=bool)
    seen[epoch[void & timed]] = True
    seen[point] = False
    untimed = [int((void & ~timed & (read.kind == kind)).sum()) for kind in (RMC, GGA)]
    return int(seen.sum()) + max(untimed)


def _apart(read: Columns, *, rows: Ints, epoch: Ints, point: Ints, place: Ints) -> int:
    """Points from which some sentence of their epoch lies more than 10 m away."""
    apart: set[int] = set()
    for begin in range(0, len(rows), _AT_ONCE):
        some = rows[begin : begin + _AT_ONCE]
        chosen = place[np.searchsorted(point, epoch[some])]
        differ = (read.lat_deg[some] != read.lat_deg[chosen]) | (read.lon_deg[some] != read.lon_deg[chosen])
        some, chosen = some[differ], chosen[differ]
        north = read.lat_deg[some] - read.lat_deg[chosen]
        east = (read.lon_deg[some] - read.lon_deg[chosen] + 180) % 360 - 180
        east *= np.cos(np.radians(read.lat_deg[chosen]))
        apart.update(epoch[some[np.hypot(north, east) * _DEGREE_M > _APART_M]].tolist())
    return len(apart)
