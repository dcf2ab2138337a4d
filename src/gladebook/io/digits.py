"""Figures and times of many cells at once, all written to one pattern; each comes out as it would alone."""

import math
import re
from typing import Any

import numpy as np
import numpy.typing as npt

from gladebook.io.trackrows import Stamp, parse_time, plain_number

__all__ = ["STAMPS", "number_or_nan", "numbers_from", "times_from"]

Cells = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int8]

STAMPS: tuple[Stamp, ...] = ("none", "utc", "no zone", "seconds")
_NUMBER = re.compile(rb"(-?)([0-9]*)(?:\.([0-9]*))?")
_EXACT_DIGITS = 15  # a whole number below 10**15 and a power of ten up to 10**22 are exact, so their quotient is right
_TIME = re.compile(
    rb"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(?:\.([0-9]{1,9}))?(Z|[+-][0-9]{2}:[0-9]{2})?"
)
_MICROSECONDS = 1_000_000
_EXACT_US = 2**53


def number_or_nan(text: str | None) -> float:
    """An optional figure; what is no figure is unknown."""
    try:
        return plain_number(text) if text else math.nan
    except ValueError:
        return math.nan


def numbers_from(cells: Cells) -> Floats:
    """Figures, as `number_or_nan` reads each: to the last bit.

    Parameters
    ----------
    cells
        Shape (n, w), bytes; rows differ from the first in nothing but the values of digits.
    """
    first = cells[0].tobytes() if len(cells) else b""
    form = _NUMBER.fullmatch(first)
    digits = len(form[2] + (form[3] or b"")) if form is not None else 0
    if form is None or not digits:
        return np.array([number_or_nan(text) for text in _texts(cells)], dtype=float)
    if digits > _EXACT_DIGITS:
        return np.fromiter(map(float, cells.view(f"S{len(first)}").ravel().tolist()), dtype=float, count=len(cells))
    # Correctly rounded, as both parts of the one division are exact (Clinger, PLDI 1990).
    value = _whole(cells, [i for i, c in enumerate(first) if 48 <= c <= 57]) / float(10 ** len(form[3] or b""))
    return -value if form[1] else value


def times_from(cells: Cells, *, source: str) -> tuple[Floats, Codes] | None:
    """Times in seconds and the place of each kind in `STAMPS`, as `gladebook.io.trackrows.parse_time` reads each.

    None where one of them is off the calendar or too far from now to be exact.

    Parameters
    ----------
    cells
        Shape (n, w), bytes; rows differ from the first in nothing but the values of digits.
    source
        The file's name.

    Raises
    ------
    TrackError
        Where a text is no time.
    """
    first = cells[0].tobytes() if len(cells) else b""
    form = _TIME.fullmatch(first)
    if form is None:
        read = [parse_time(text, source=source, where="a point") for text in _texts(cells)]
        kinds = np.array([STAMPS.index(kind) for _, kind in read], dtype=np.int8)
        return np.array([time_s for time_s, _ in read], dtype=float), kinds
    time_us, good = _microseconds(cells, fraction=len(form[1] or b""))
    offset = form[2]
    if offset not in (None, b"Z"):
        hours, minutes = (_whole(cells, [i, i + 1]).astype(np.int64) for i in (len(first) - 5, len(first) - 2))
        good &= (hours < 24) & (minutes < 60)
        shift_us = (hours * 60 + minutes) * 60 * _MICROSECONDS
        time_us += shift_us if offset[:1] == b"-" else -shift_us
    if not (good & (np.abs(time_us) < _EXACT_US)).all():
        return None
    kind: Stamp = "no zone" if offset is None else "utc"
    return time_us / _MICROSECONDS, np.full(len(cells), STAMPS.index(kind), dtype=np.int8)


def _microseconds(cells: Cells, *, fraction: int) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.bool_]]:
    """Microseconds from 1970 on the times' own clock, and whether each is a time of the calendar."""
    year, month, day, hour, minute, second = (
        _whole(cells, list(range(i, i + w))).astype(np.int64)
        for i, w in ((0, 4), (5, 2), (8, 2), (11, 2), (14, 2), (17, 2))
    )
    good = (year >= 1) & (month >= 1) & (month <= 12) & (day >= 1) & (hour < 24) & (minute < 60) & (second < 60)
    month_first = ((year - 1970) * 12 + month - 1).astype("datetime64[M]")
    start = month_first.astype("datetime64[D]").astype(np.int64)
    length = (month_first + 1).astype("datetime64[D]").astype(np.int64) - start
    good &= day <= length
    time_us = (((start + day - 1) * 24 + hour) * 60 + minute) * 60 + second
    time_us *= _MICROSECONDS
    kept = min(fraction, 6)  # what is finer is cut off, as the standard library does
    if kept:
        time_us += _whole(cells, list(range(20, 20 + kept))).astype(np.int64) * 10 ** (6 - kept)
    return time_us, good


def _whole(cells: Cells, columns: list[int]) -> Floats:
    """The whole number that the digits of some columns make, exact up to 15 of them."""
    powers = np.array([float(10**k) for k in reversed(range(len(columns)))])
    # Sums of whole numbers below 2**53 are exact in any order; 48 is the code of "0".
    total: Floats = cells[:, columns].astype(np.float64) @ powers - 48 * powers.sum()
    return total


def _texts(cells: Cells) -> list[str]:
    width = cells.shape[1]
    if not width:
        return [""] * len(cells)
    joined: Any = cells.tobytes()
    return [joined[i : i + width].decode("utf-8") for i in range(0, len(joined), width)]
