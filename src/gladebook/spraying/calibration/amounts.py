"""Figures that come into a calibration must be above zero and such as a sprayer can have."""

import math

from gladebook.errors import CallError

__all__ = ["above_zero"]


def above_zero(value: float, *, what: str, most: float = math.inf, most_words: str = "") -> float:
    """The value itself, where it can be.

    Parameters
    ----------
    value
        In SI units.
    what
        What it is, for the message, such as ``--speed``.
    most, most_words
        More than this no sprayer has; and the same in words.

    Raises
    ------
    CallError
        Where it is no number above zero, or above `most`.
    """
    if not (math.isfinite(value) and value > 0):
        raise CallError(f"{what}: must be above zero.")
    if value > most:
        raise CallError(f"{what}: is over {most_words}, which no sprayer for this job has. Check figure and unit.")
    return value
