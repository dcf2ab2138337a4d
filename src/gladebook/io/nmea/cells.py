"""The cells of many NMEA sentences of one kind, read together; each comes out as `nmeasentence` reads it alone."""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from gladebook.io.digits import numbers_from
from gladebook.io.nmea.sentence import (
    GGA,
    MODES,
    NO_DAY,
    NO_TIME,
    RMC,
    UNKNOWN_QUALITY,
    VOID_QUALITY,
    VTG,
    day_from,
)
from gladebook.units.factors import KNOT_MPS

__all__ = ["Bools", "Cells", "Floats", "Ints", "Read"]

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

_WIDEST = 32
_DOT, _ZERO = ord("."), ord("0")
_MODES = np.full(256, UNKNOWN_QUALITY, dtype=np.int8)
for _letter, _quality in MODES.items():
    _MODES[_letter[0]] = _quality


class Read(NamedTuple):
    """Columns of readings; see `gladebook.io.nmea.sentence.Reading`."""

    time_us: Ints
    lat_deg: Floats
    lon_deg: Floats
    value: Floats
    quality: npt.NDArray[np.int8]
    day: npt.NDArray[np.int32]


class Cells:
    """Sentences of one kind in a chunk of a file.

    Parameters
    ----------
    chunk
        The bytes.
    marks
        Where commas and other marks stand in it.
    first
        Shape (n,), each sentence's ``$`` among the marks.
    commas
        Shape (n,), how many commas follow, which are the next marks.
    """

    def __init__(self, chunk: bytes, *, marks: Ints, first: Ints, commas: Ints) -> None:
        self._chunk = chunk
        self._bytes = np.frombuffer(chunk, dtype=np.uint8)
        self._marks = marks
        self._first = first
        self._commas = commas
        self._spans: dict[int, tuple[Ints, Ints]] = {}

    def __len__(self) -> int:
        return len(self._first)

    def read(self, kind: int, *, bare: Bools) -> tuple[Bools, Bools, Read]:
        """Read sentences of one kind: which of them are plain, which of those say something, and what."""
        if kind == RMC:
            return self._rmc()
        if kind == GGA:
            return self._gga(bare=bare)
        return self._vtg() if kind == VTG else self._zda()

    def _rmc(self) -> tuple[Bools, Bools, Read]:
        time_us, plain = self._time(1)
        status = self._letter(2)
        mode = _MODES[self._letter(12)]
        void = (status == ord("V")) | (mode == VOID_QUALITY)
        plain &= (self._commas >= 9) & ((status == ord("A")) | (status == ord("V")))
        lat, lon, placed = self._place(3)
        speed, figure = self._figure(7)
        day, dated = self._days(((9, 6),), empty=True)
        plain &= void | (placed & figure & dated)
        return plain, plain, _voided(void, Read(time_us, lat, lon, speed * KNOT_MPS, mode, day))

    def _gga(self, *, bare: Bools) -> tuple[Bools, Bools, Read]:
        time_us, plain = self._time(1)
        quality = self._letter(6) - np.uint8(_ZERO)
        void = quality == VOID_QUALITY
        plain &= (self._commas >= np.where(bare, 9, 6)) & (quality < 10)
        lat, lon, placed = self._place(2)
        hdop, figure = self._figure(8)
        plain &= void | (placed & figure)
        return plain, plain, _voided(void, Read(time_us, lat, lon, hdop, quality.astype(np.int8), self._no_days()))

    def _vtg(self) -> tuple[Bools, Bools, Read]:
        speed, plain = self._figure(5)
        told = ~np.isnan(speed)
        plain &= (self._commas >= 8) & (self._letter(6) == ord("N")) & (self._letter(8) == ord("K"))
        plain &= told | (self._span(7)[1] == 0)
        void = self._letter(9) == ord("N")
        says = plain & told & ~void
        unknown = np.full(len(self), np.nan)
        no_time = np.full(len(self), NO_TIME)
        return (
            plain | void,
            says,
            Read(no_time, unknown, unknown, speed * KNOT_MPS, self._no_quality(), self._no_days()),
        )

    def _zda(self) -> tuple[Bools, Bools, Read]:
        time_us, plain = self._time(1)
        day, dated = self._days(((2, 2), (3, 2), (4, 4)), empty=False)
        plain &= dated & (self._commas >= 4)
        unknown = np.full(len(self), np.nan)
        says = plain & (time_us != NO_TIME)
        return plain, says, Read(time_us, unknown, unknown, unknown, self._no_quality(), day)

    def _no_quality(self) -> npt.NDArray[np.int8]:
        return np.full(len(self), UNKNOWN_QUALITY, dtype=np.int8)

    def _no_days(self) -> npt.NDArray[np.int32]:
        return np.full(len(self), NO_DAY, dtype=np.int32)

    def _span(self, number: int) -> tuple[Ints, Ints]:
        """Where a field begins, and how wide it is; a field that is not there has no width."""
        if number not in self._spans:
            there = self._commas >= number
            mark = self._first + np.where(there, number, 0)
            start = self._marks[mark] + 1
            self._spans[number] = start, np.where(there, self._marks[mark + 1] - start, 0)
        return self._spans[number]

    def _letter(self, number: int) -> npt.NDArray[np.uint8]:
        """The one letter of a field, or 0 where it has none or more."""
        start, width = self._span(number)
        one = width == 1
        return np.where(one, self._bytes[np.where(one, start, 0)], np.uint8(0))

    def _alike(self, number: int) -> Iterator[tuple[npt.NDArray[np.int64], npt.NDArray[np.uint8], int]]:
        """Rows whose field is written alike, digits aside: rows, cells of shape (k, w), and where the dot stands."""
        start, width = self._span(number)
        for size in np.flatnonzero(np.bincount(np.minimum(width, _WIDEST + 1))).tolist():
            if not 0 < size <= _WIDEST:
                continue
            rows = np.flatnonzero(width == size)
            # Windows that begin at every byte, so that one look-up copies whole cells.
            windows = np.ndarray((len(self._chunk) - size + 1,), f"V{size}", self._chunk, strides=(1,))
            cells = windows[start[rows]].view(np.uint8).reshape(-1, size)
            dots = cells == _DOT
            dot = np.where(dots.any(axis=1), dots.argmax(axis=1), size)
            figures = ((cells - np.uint8(_ZERO) < 10).sum(axis=1) + (dot < size)) == size
            for place in np.flatnonzero(np.bincount(dot[figures])).tolist():
                some = figures & (dot == place)
                yield (rows, cells, place) if some.all() else (rows[some], cells[some], place)

    def _figure(self, number: int, *, whole: tuple[int, int] = (0, 9)) -> tuple[Floats, Bools]:
        """Figures, not a number where empty, and which of the cells are plain: a dot, and so many digits before it."""
        values = np.full(len(self), np.nan)
        plain = self._span(number)[1] == 0
        for rows, cells, dot in self._alike(number):
            if whole[0] <= dot <= whole[1] and cells.shape[1] > (dot == 0):
                values[rows] = numbers_from(cells)
                plain[rows] = True
        return values, plain

    def _time(self, number: int) -> tuple[Ints, Bools]:
        time_us = np.full(len(self), NO_TIME)
        plain = self._span(number)[1] == 0
        for rows, cells, dot in self._alike(number):
            if dot != 6:
                continue
            hour, minute, second = (numbers_from(cells[:, i : i + 2]).astype(np.int64) for i in (0, 2, 4))
            plain[rows] = (hour < 24) & (minute < 60) & (second <= 60)
            time_us[rows] = ((hour * 60 + minute) * 60 + second) * 1_000_000
            kept = min(cells.shape[1] - 7, 6)
            if kept > 0:
                time_us[rows] += numbers_from(cells[:, 7 : 7 + kept]).astype(np.int64) * 10 ** (6 - kept)
        return time_us, plain

    def _place(self, number: int) -> tuple[Floats, Floats, Bools]:
        """Latitude and longitude in degrees from four fields, and which of them are whole and possible."""
        lat, north = self._angle(number, sides=b"NS", limit_deg=90)
        lon, east = self._angle(number + 2, sides=b"EW", limit_deg=180)
        return lat, lon, north & east

    def _angle(self, number: int, *, sides: bytes, limit_deg: float) -> tuple[Floats, Bools]:
        value, plain = self._figure(number, whole=(1, 5))
        side = self._letter(number + 1)
        whole_deg = np.floor(value / 100)
        minutes = value - 100 * whole_deg
        angle_deg = whole_deg + minutes / 60
        plain &= ((side == sides[0]) | (side == sides[1])) & (minutes <= 60) & (angle_deg <= limit_deg)
        return np.where(side == sides[1], -angle_deg, angle_deg), plain

    def _days(self, fields: tuple[tuple[int, int], ...], *, empty: bool) -> tuple[npt.NDArray[np.int32], Bools]:
        """Days since 1970 from fields that make up ddmmyy or ddmmyyyy, each of a width, and which are plain."""
        written = np.zeros(len(self), dtype=np.int64)
        whole = np.ones(len(self), dtype=bool)
        nothing = np.ones(len(self), dtype=bool)
        for number, size in fields:
            right = np.zeros(len(self), dtype=bool)
            for rows, cells, dot in self._alike(number):
                if cells.shape[1] == size == dot:
                    right[rows] = True
                    written[rows] = written[rows] * 10**size + numbers_from(cells).astype(np.int64)
            nothing &= self._span(number)[1] == 0
            whole &= right
        width = sum(size for _, size in fields)
        begins = np.flatnonzero(np.diff(written, prepend=-1))  # runs of one date, as most of them are
        each = [day_from(b"%0*d" % (width, figure)) for figure in written[begins].tolist()]
        days = np.repeat(np.array(each, dtype=np.int32), np.diff(begins, append=len(written)))
        days[~whole] = NO_DAY
        return days, (days != NO_DAY) | (nothing if empty else np.zeros(len(self), dtype=bool))


def _voided(void: Bools, read: Read) -> Read:
    """Readings without a place where it is void, or at 0, 0."""
    void = void | ((read.lat_deg == 0) & (read.lon_deg == 0))
    read.quality[void] = VOID_QUALITY
    read.day[void] = NO_DAY
    for column in (read.lat_deg, read.lon_deg, read.value):
        column[void] = np.nan
    return read
