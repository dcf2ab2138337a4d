"""One sentence of NMEA 0183: what it says of place, time, speed and quality, or why it is left out.

The standard is sold and cannot be quoted here; layouts are as in public descriptions of it, such as
"NMEA Revealed" by the gpsd project. Fields are counted from 1, after the address:

- RMC: 1 time hhmmss.ss, 2 status (A or V), 3 and 4 latitude ddmm.mm and N or S, 5 and 6 longitude dddmm.mm
  and E or W, 7 speed in knots, 9 date ddmmyy, 12 mode (since version 2.3).
- GGA: 1 time, 2 and 3 latitude, 4 and 5 longitude, 6 quality, 8 HDOP.
- VTG: 5 and 6 speed in knots and N, 7 and 8 speed in km/h and K, 9 mode; once 3 knots, without letters.
- ZDA: 1 time, 2 day, 3 month, 4 year.

An address is a talker of two letters and a kind of three; one that begins with P is its maker's own, whatever
its last letters. The checksum is the exclusive or of all bytes between ``$`` and ``*``, in two hexadecimal digits.
"""

import math
import re
from collections.abc import Callable
from datetime import date
from functools import reduce
from operator import xor
from typing import NamedTuple

from gladebook.units.factors import KMH_MPS, KNOT_MPS

__all__ = [
    "DAMAGED",
    "GGA",
    "KINDS",
    "LONGEST",
    "MODES",
    "NOISE",
    "NO_DAY",
    "NO_TIME",
    "ODD_DATE",
    "ODD_FIGURE",
    "OTHER_QUALITY",
    "RMC",
    "UNKNOWN_QUALITY",
    "VOID_QUALITY",
    "VTG",
    "WRONG_CHECKSUM",
    "ZDA",
    "Reading",
    "Sentence",
    "day_from",
    "has_noise",
    "read_sentence",
]

KINDS = (b"RMC", b"GGA", b"VTG", b"ZDA")
RMC, GGA, VTG, ZDA = range(4)
NO_TIME = -1
NO_DAY = -(2**31)
VOID_QUALITY, OTHER_QUALITY, UNKNOWN_QUALITY = 0, 9, -1
MODES = {b"N": 0, b"A": 1, b"D": 2, b"P": 3, b"R": 4, b"F": 5, b"E": 6, b"M": 7, b"S": 8}  # RMC's, as GGA's quality
LONGEST = 400  # bytes before the checksum; the standard allows 82 in all, receivers write some more

WRONG_CHECKSUM = "sentences with a wrong checksum"
DAMAGED = "sentences with a missing or impossible value"
NOISE = "stretches of bytes that are no sentence"
ODD_FIGURE = "speeds and HDOP that are no figures"
ODD_DATE = "dates that are not on the calendar, or not of 1980 to 2079"

_ADDRESS = re.compile(rb"[A-Z][A-Z0-9]{2,11}(?=,|\Z)")
_NO_TEXT = re.compile(rb"[^\t\x20-\x7e]")
_CHECKSUM = re.compile(rb"[0-9A-Fa-f]{2}")
_TIME = re.compile(rb"([0-9]{2})([0-9]{2})([0-9]{2})(?:\.([0-9]*))?")
_ANGLE = re.compile(rb"[0-9]{1,5}(?:\.[0-9]*)?")
_FIGURE = re.compile(rb"[0-9]{1,9}(?:\.[0-9]*)?|\.[0-9]+")
_DATE = re.compile(rb"([0-9]{2})([0-9]{2})([0-9]{2}|[0-9]{4})")
_EPOCH = date(1970, 1, 1).toordinal()
_FIRST_YEAR = 1980  # the first of GPS time; two digits are read as the year from then on


class Reading(NamedTuple):
    """What one sentence says.

    Attributes
    ----------
    kind : one of `RMC`, `GGA`, `VTG`, `ZDA`.
    time_us : microseconds since midnight UTC, or `NO_TIME`.
    lat_deg, lon_deg : the place; not a number where it is void.
    value : speed in m/s of RMC and VTG, HDOP of GGA; not a number where unknown.
    quality : as GGA counts it, 0 void to 8 simulated, `OTHER_QUALITY` or `UNKNOWN_QUALITY`.
    day : days since 1970, or `NO_DAY`.
    """

    kind: int
    time_us: int = NO_TIME
    lat_deg: float = math.nan
    lon_deg: float = math.nan
    value: float = math.nan
    quality: int = UNKNOWN_QUALITY
    day: int = NO_DAY


class Sentence(NamedTuple):
    """What was made of one sentence: its reading, or why there is none.

    Attributes
    ----------
    reading : what it says; None where it says nothing that is used.
    faults : what is left out, of it or with it.
    address : its address, where it is a good sentence of a kind that is not used.
    bare : whether it has no checksum.
    """

    reading: Reading | None = None
    faults: tuple[str, ...] = ()
    address: bytes = b""
    bare: bool = False


class _Damaged(Exception):  # noqa: N818 - never leaves this module
    """A value that is needed is missing or impossible."""


def has_noise(text: bytes) -> bool:
    """Whether some byte is no printable one of ASCII, nor a tab."""
    return _NO_TEXT.search(text) is not None


def day_from(cell: bytes) -> int:
    """Days since 1970 of a date ddmmyy or ddmmyyyy; `NO_DAY` where it is none, or not of 1980 to 2079."""
    form = _DATE.fullmatch(cell)
    if form is None:
        return NO_DAY
    year = int(form[3])
    if len(form[3]) == 2:
        year += 1900 if year >= _FIRST_YEAR % 100 else 2000
    try:
        day = date(year, int(form[2]), int(form[1])).toordinal() - _EPOCH
    except ValueError:
        return NO_DAY
    return day if _FIRST_YEAR <= year < _FIRST_YEAR + 100 else NO_DAY


def read_sentence(text: bytes) -> Sentence:
    """Read the text from a ``$`` up to the next one or to the line's end."""
    body, star, rest = text[1:].partition(b"*")
    if not star:
        body = body.rstrip(b" \t")
    address = _ADDRESS.match(body)
    if address is None or len(body) > LONGEST or has_noise(body):
        return Sentence(faults=(NOISE,))
    if star:
        stated = _CHECKSUM.match(rest)
        if stated is None or int(stated[0], 16) != reduce(xor, body):
            return Sentence(faults=(WRONG_CHECKSUM,))
    faults = [NOISE] if has_noise(rest) else []
    name = address[0]
    if len(name) != 5 or name.startswith(b"P") or name[2:] not in KINDS:
        return Sentence(faults=tuple(faults), address=name)
    kind = KINDS.index(name[2:])
    cells = body.split(b",")[1:]
    try:
        # Without a checksum a cut would not show; so a GGA must go on beyond its HDOP.
        if kind == GGA and not star and len(cells) < 9:
            raise _Damaged
        reading = _READERS[kind](cells, faults)
    except _Damaged:
        return Sentence(faults=(*faults, DAMAGED))
    return Sentence(reading, tuple(faults), bare=not star)


def _rmc(cells: list[bytes], faults: list[str]) -> Reading:
    if len(cells) < 9:
        raise _Damaged
    time_us = _time_us(cells[0])
    quality = MODES.get(cells[11], UNKNOWN_QUALITY) if len(cells) > 11 else UNKNOWN_QUALITY
    if cells[1] == b"V" or (cells[1] == b"A" and quality == VOID_QUALITY):
        return Reading(RMC, time_us, quality=VOID_QUALITY)
    if cells[1] != b"A":
        raise _Damaged
    lat_deg, lon_deg = _place(cells[2:6])
    if lat_deg == 0 and lon_deg == 0:
        return Reading(RMC, time_us, quality=VOID_QUALITY)
    speed_mps = _figure(cells[6], faults) * KNOT_MPS
    return Reading(RMC, time_us, lat_deg, lon_deg, speed_mps, quality, _day(cells[8], faults))


def _gga(cells: list[bytes], faults: list[str]) -> Reading:
    if len(cells) < 6:
        raise _Damaged
    time_us = _time_us(cells[0])
    if cells[5] == b"0" or cells[1] == cells[3] == cells[5] == b"":
        return Reading(GGA, time_us, quality=VOID_QUALITY)
    if len(cells[5]) != 1 or not cells[5].isdigit():
        raise _Damaged
    lat_deg, lon_deg = _place(cells[1:5])
    if lat_deg == 0 and lon_deg == 0:
        return Reading(GGA, time_us, quality=VOID_QUALITY)
    hdop = _figure(cells[7], faults) if len(cells) > 7 else math.nan
    return Reading(GGA, time_us, lat_deg, lon_deg, hdop, int(cells[5]))


def _vtg(cells: list[bytes], faults: list[str]) -> Reading | None:
    if len(cells) > 8 and cells[8] == b"N":
        return None
    if len(cells) == 4 and cells[1] != b"T":
        return _speed(cells[2], faults, unit_mps=KNOT_MPS)
    if len(cells) < 8 or cells[5] != b"N":
        raise _Damaged
    if cells[4] or cells[7] != b"K":
        return _speed(cells[4], faults, unit_mps=KNOT_MPS)
    return _speed(cells[6], faults, unit_mps=KMH_MPS)


def _speed(cell: bytes, faults: list[str], *, unit_mps: float) -> Reading | None:
    speed_mps = _figure(cell, faults) * unit_mps
    return None if math.isnan(speed_mps) else Reading(VTG, value=speed_mps)


def _zda(cells: list[bytes], faults: list[str]) -> Reading | None:
    if len(cells) < 4:
        raise _Damaged
    time_us = _time_us(cells[0])
    # Four digits of the year are asked for: two are what a cut leaves of them.
    whole = b"".join(cells[1:4])
    day = NO_DAY if not whole else _day(whole if len(cells[3]) == 4 else b"?", faults)
    return None if time_us == NO_TIME or day == NO_DAY else Reading(ZDA, time_us, day=day)


_READERS: tuple[Callable[[list[bytes], list[str]], Reading | None], ...] = (_rmc, _gga, _vtg, _zda)


def _time_us(cell: bytes) -> int:
    if not cell:
        return NO_TIME
    form = _TIME.fullmatch(cell)
    if form is None:
        raise _Damaged
    hour, minute, second = int(form[1]), int(form[2]), int(form[3])
    if hour > 23 or minute > 59 or second > 60:  # 60 is a leap second
        raise _Damaged
    return ((hour * 60 + minute) * 60 + second) * 1_000_000 + int(((form[4] or b"") + b"000000")[:6])


def _place(cells: list[bytes]) -> tuple[float, float]:
    """Latitude and longitude in degrees, south and west negative."""
    lat, north, lon, east = cells
    return _angle(lat, north, sides=b"NS", limit_deg=90), _angle(lon, east, sides=b"EW", limit_deg=180)


def _angle(cell: bytes, side: bytes, *, sides: bytes, limit_deg: float) -> float:
    if _ANGLE.fullmatch(cell) is None or len(side) != 1 or side not in sides:
        raise _Damaged
    value = float(cell)
    whole_deg = math.floor(value / 100)
    minutes = value - 100 * whole_deg
    angle_deg = whole_deg + minutes / 60
    # 60 minutes are what some receivers round 59.99999 to.
    if minutes > 60 or angle_deg > limit_deg:
        raise _Damaged
    return -angle_deg if side == sides[1:] else angle_deg


def _figure(cell: bytes, faults: list[str]) -> float:
    if not cell:
        return math.nan
    if _FIGURE.fullmatch(cell) is None:
        faults.append(ODD_FIGURE)
        return math.nan
    return float(cell)


def _day(cell: bytes, faults: list[str]) -> int:
    day = day_from(cell)
    if cell and day == NO_DAY:
        faults.append(ODD_DATE)
    return day
