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
_MOST_DIGITS = 18
_STEPS: tuple[tuple[Any, int], ...] = ((np.uint8, 10), (np.uint16, 100), (np.uint32, 10_000), (np.float64, 10**8))
_SPLIT = 2.0**27 + 1
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
    if digits > _MOST_DIGITS:
        return _floats(cells)
    columns, power = [i for i, c in enumerate(first) if 48 <= c <= 57], float(10 ** len(form[3] or b""))
    if digits > _EXACT_DIGITS:
        value, sure = _long_quotient(_whole(cells, columns[:-9]), _whole(cells, columns[-9:]), power=power)
        value = -value if form[1] else value
        value[~sure] = _floats(cells[~sure])
        return value
    # Correctly rounded, as both parts of the one division are exact (Clinger, PLDI 1990).
    value = _whole(cells, columns) / power
    return -value if form[1] else value


def _floats(cells: Cells) -> Floats:
    if not len(cells):
        return np.empty(0)
    return np.fromiter(map(float, cells.view(f"S{cells.shape[1]}").ravel().tolist()), dtype=float, count=len(cells))


def _long_quotient(high: Floats, low: Floats, *, power: float) -> tuple[Floats, npt.NDArray[np.bool_]]:
    """Figures of more digits than a float holds over a power of ten, and which are surely the nearest floats.

    Parameters
    ----------
    high, low
        The digits but the last nine, and those; whole numbers below 10**9.
    power
        A power of ten up to 10**22.

    Notes
    -----
    The quotient of the nearest float, and what it leaves over the power, add up to the true one but for some 2**-50
    of the second; what the sum drops says how near it came to the middle between two floats. Products and sums are
    split into a float and its exact error (Dekker, Numerische Mathematik 18, 1971, 224-242, from memory).
    """
    whole = high * 1e9
    # Below 2**63 whole numbers are exact as integers.
    whole_error = high.astype(np.int64) * 10**9 - whole.astype(np.int64) + low.astype(np.int64)
    near = whole + whole_error
    near_error = (whole.astype(np.int64) - near.astype(np.int64) + whole_error).astype(np.float64)
    quotient = near / power
    product, product_error = _product(quotient, power)
    rest = ((near - product) - product_error + near_error) / power
    value: Floats = quotient + rest
    dropped = np.abs(rest - (value - quotient))
    half = np.spacing(value) / 2
    # Below a power of two floats lie twice as close.
    edge = (np.frexp(value)[0] == 0.5) & (dropped > 0)
    return value, (dropped < half * (1 - 1e-6)) & ~edge


def _product(a: Floats, b: float) -> tuple[Floats, Floats]:
    """A product, and what it was rounded by."""
    a_high = a * _SPLIT - (a * _SPLIT - a)
    b_high = b * _SPLIT - (b * _SPLIT - b)
    a_low, b_low = a - a_high, b - b_high
    product = a * b
    return product, ((a_high * b_high - product) + a_high * b_low + a_low * b_high) + a_low * b_low


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
    # Neighbours are put together, then neighbouring pairs and so on, each step in the narrowest type that holds it. A
    # product of matrices would be as short, but takes every processor there is and is slower for it (measured).
    part: Any = np.ascontiguousarray(cells.T[columns]) - np.uint8(48)  # the code of "0"
    for kind, scale in _STEPS:
        if len(part) == 1:
            break
        if len(part) % 2:
            part = np.concatenate([np.zeros_like(part[:1]), part])
        part = part[0::2].astype(kind) * kind(scale) + part[1::2]
    total: Floats = part[0].astype(np.float64) if len(part) else np.zeros(len(cells))
    return total


def _texts(cells: Cells) -> list[str]:
    width = cells.shape[1]
    if not width:
        return [""] * len(cells)
    joined: Any = cells.tobytes()
    return [joined[i : i + width].decode("utf-8") for i in range(0, len(joined), width)]
