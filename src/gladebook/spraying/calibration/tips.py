"""Catches tip by tip: which are alike, which to clean, which to replace.

Within 5 % of the mean is even (Univ. of Idaho, calibration worksheet); over 10 % above a new tip's flow is worn out (a
turf association's agronomy note of 2016; an atomisation conference abstract of 2018 calls it the standard
recommendation). Between the two, and for too little, clean and catch again: common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, stdev
from typing import Final, Literal

from gladebook.errors import CallError
from gladebook.spraying.calibration.amounts import above_zero

__all__ = ["CLEAN_SHARE", "REPLACE_SHARE", "Tip", "Tips", "judge_tips"]

CLEAN_SHARE: Final = 0.05
REPLACE_SHARE: Final = 0.10
_CRUMB = 1e-9  # exactly five per cent is not over it
_MOST_TIPS = 500


@dataclass(frozen=True)
class Tip:
    """One tip.

    Attributes
    ----------
    number : from 1, in the order given.
    caught_m3 : m3.
    off_mean : (caught - mean) / mean.
    off_new : (caught - new) / new; None where the catch of a new tip is not known.
    word : what to do.
    """

    number: int
    caught_m3: float
    off_mean: float
    off_new: float | None
    word: Literal["good", "clean", "replace"]


@dataclass(frozen=True)
class Tips:
    """All tips: each of them, their mean, m3, and their standard deviation over the mean (0 for a single one)."""

    tips: tuple[Tip, ...]
    mean_m3: float
    variation: float


def judge_tips(caught_m3: Sequence[float], *, new_m3: float | None = None) -> Tips:
    """Judge tips by what each gave in the same time.

    Parameters
    ----------
    caught_m3
        One catch a tip, all over the same time, m3.
    new_m3
        What a new tip gives in that time at that pressure, m3; None where not known.

    Raises
    ------
    CallError
        Where there are fewer than two tips and no new one to compare with, or a catch is below zero.
    """
    if len(caught_m3) < (2 if new_m3 is None else 1) or len(caught_m3) > _MOST_TIPS:
        raise CallError('--caught: give one catch for each tip, two at least, like --caught "15 fl oz" twice.')
    for number, caught in enumerate(caught_m3, start=1):
        if caught == 0:
            continue  # a plugged tip gives nothing
        above_zero(caught, what=f"--caught, tip {number}")
    if new_m3 is not None:
        above_zero(new_m3, what="--new")
    mean = above_zero(fmean(caught_m3), what="--caught: the mean")
    tips = tuple(_tip(n, caught, mean=mean, new=new_m3) for n, caught in enumerate(caught_m3, start=1))
    return Tips(tips, mean, stdev(caught_m3) / mean if len(caught_m3) > 1 else 0.0)


def _tip(number: int, caught: float, *, mean: float, new: float | None) -> Tip:
    off_mean = caught / mean - 1
    off_new = None if new is None else caught / new - 1
    word: Literal["good", "clean", "replace"] = "good"
    # Too little is dirt, not wear: such a tip is cleaned and caught again before it is thrown away.
    if max(off_mean, off_mean if off_new is None else off_new) > REPLACE_SHARE + _CRUMB:
        word = "replace"
    elif max(abs(off_mean), abs(off_new or 0.0)) > CLEAN_SHARE + _CRUMB:
        word = "clean"
    return Tip(number, caught, off_mean, off_new, word)
