"""Temperatures: a scale with a zero of its own, so no amount that a factor could turn."""

import math
import re
from typing import Final

from gladebook.errors import QuantityError

__all__ = ["celsius_from", "fahrenheit"]

_TEXT: Final = re.compile(
    r"\s*(?P<number>[-+−]?\d+(?:\.\d+)?)\s*(?:°|deg(?:rees?)?)?\s*(?P<scale>[fc])?(?:ahrenheit|elsius)?\s*$",
    re.IGNORECASE,
)
_COLDEST_C, _HOTTEST_C = -60.0, 60.0  # air outdoors; nobody sprays beyond


def celsius_from(text: str, *, what: str = "this temperature") -> float:
    """Read ``62 F`` or ``17 C``, in degrees Celsius.

    Parameters
    ----------
    text
        A number and its scale.
    what
        What it is, for the message, such as ``--temperature``.

    Raises
    ------
    QuantityError
        Where it is no temperature, has no scale, or no air was ever so cold or hot.
    """
    match = _TEXT.match(text[:40])
    if match is None:
        raise QuantityError(f'{what}: "{text[:40]}" is no temperature; write it like "62 F".')
    if match["scale"] is None:
        raise QuantityError(f'{what}: "{text[:40]}" does not say F or C; write it like "62 F".')
    degrees = float(match["number"].replace("−", "-"))
    celsius = degrees if match["scale"] in "cC" else (degrees - 32) / 1.8
    if not _COLDEST_C <= celsius <= _HOTTEST_C or math.isnan(celsius):
        raise QuantityError(f'{what}: "{text[:40]}" is no temperature of the air; write it like "62 F".')
    return celsius


def fahrenheit(celsius: float) -> float:
    """Degrees Fahrenheit: C x 1.8 + 32, exact by definition (NIST SP 811, app. B.8)."""
    return celsius * 1.8 + 32
