"""A course of known ground: what is caught while it is driven tells gallons per acre.

1/128 of an acre is 43,560 / 128 = 340.3 sq ft, and a gallon has 128 fluid ounces, so the ounces caught in the time that
it takes to cover 1/128 acre are gallons per acre (LSU AgCenter, Ounces Equal Gallons; Ohio State Univ. Ext. Bulletin
817-00). In the same way pints over 1/8 acre are gallons per acre, for wide boomless nozzles.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Final, Literal

from gladebook.errors import CallError
from gladebook.spraying.calibration.amounts import above_zero
from gladebook.units import ACRE_M2, FT_M, GAL_M3

__all__ = ["OUNCE_COURSE_M2", "PINT_COURSE_M2", "Catch", "TimedCourse", "catch_rate", "course_length", "timed_speed"]

OUNCE_COURSE_M2: Final = ACRE_M2 / 128
PINT_COURSE_M2: Final = ACRE_M2 / 8
_MOST_MPS = 15.0


@dataclass(frozen=True)
class Catch:
    """Gallons per acre from a catch.

    Attributes
    ----------
    ground_m2 : that the nozzle covers in the time of the catch, m2.
    caught_m3 : mean of the catches, m3.
    rate_m : volume per area, m3 per m2.
    catches : how many.
    """

    ground_m2: float
    caught_m3: float
    rate_m: float
    catches: int


@dataclass(frozen=True)
class TimedCourse:
    """Speed over a course.

    Attributes
    ----------
    course_m : its length, m.
    times_s : of the runs, s.
    speed_mps : from the mean time, m/s.
    spread : (longest - shortest time) / mean time.
    """

    course_m: float
    times_s: tuple[float, ...]
    speed_mps: float
    spread: float


def course_length(*, width_m: float, share: Literal["1/128", "1/8"] = "1/128") -> float:
    """Length, m, of the course on which a width covers 1/128 or 1/8 of an acre: area / width.

    In feet from inches that is 4083.75 / spacing (43,560 / 128 x 12), and 5445 / swath in feet for 1/8 acre.

    Raises
    ------
    CallError
        Where the width is not above zero or over 200 ft.
    """
    above_zero(width_m, what="--spacing or --swath", most=200 * FT_M, most_words="200 ft")
    return (OUNCE_COURSE_M2 if share == "1/128" else PINT_COURSE_M2) / width_m


def catch_rate(caught_m3: Sequence[float], *, ground_m2: float = OUNCE_COURSE_M2) -> Catch:
    """Volume per area from what was caught in the time that it takes to cover some ground.

    Parameters
    ----------
    caught_m3
        Catches, each of all nozzles that serve the same width, m3. They are averaged.
    ground_m2
        The ground, m2; 1/128 acre if not given.

    Raises
    ------
    CallError
        Where there is no catch, or one is not above zero.
    """
    if not caught_m3:
        raise CallError('--caught: give what you caught, like "14 fl oz".')
    for caught in caught_m3:
        above_zero(caught, what="--caught", most=100 * GAL_M3, most_words="100 gal")
    above_zero(ground_m2, what="ground")
    mean = fmean(caught_m3)
    return Catch(ground_m2, mean, mean / ground_m2, len(caught_m3))


def timed_speed(times_s: Sequence[float], *, course_m: float) -> TimedCourse:
    """Speed from a timed course: length / mean time (88 ft in a minute are 1 mph exactly).

    A course of 200 ft, a tank half full, and at least three runs are advised: North Carolina Coop. Ext., WQWM-152.

    Raises
    ------
    CallError
        Where there is no time, one is not above zero, or the speed is over 33 mph.
    """
    if not times_s:
        raise CallError('--time: give how long a run took, like "34 s".')
    above_zero(course_m, what="--course")
    for time_s in times_s:
        above_zero(time_s, what="--time")
    mean_s = fmean(times_s)
    if course_m / mean_s > _MOST_MPS:
        raise CallError("--time and --course: come to over 33 mph. Check figures and units.")
    return TimedCourse(course_m, tuple(times_s), course_m / mean_s, (max(times_s) - min(times_s)) / mean_s)
