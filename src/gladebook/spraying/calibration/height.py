"""How high the boom must be: above the target (the top of weeds or canopy), not above the soil.

A fan of angle a is 2 x h x tan(a / 2) wide at height h. "Overlap" is said in two ways in print: here it is how much
wider the fan is than the spacing, as a share of the spacing, so 100 % means that each spot is under two fans.
"""

import math

from gladebook.errors import CallError
from gladebook.spraying.calibration.amounts import above_zero
from gladebook.units import FT_M

__all__ = ["boom_height", "fan_width"]

_MOST_M = 20 * FT_M
_MOST_OVERLAP = 4.0


def fan_width(*, height_m: float, angle_deg: float) -> float:
    """Width of a fan on the target, m: 2 x height x tan(angle / 2).

    Raises
    ------
    CallError
        Where the height is not above zero, or the angle not between 10 and 170 degrees.
    """
    above_zero(height_m, what="--height", most=_MOST_M, most_words="20 ft")
    return 2 * height_m * math.tan(math.radians(_angle(angle_deg)) / 2)


def boom_height(*, spacing_m: float, angle_deg: float, overlap: float = 1.0) -> float:
    """Height above the target, m, at which fans are (1 + overlap) x spacing wide.

    Parameters
    ----------
    spacing_m
        Distance between tips, m.
    angle_deg
        Fan angle, degrees.
    overlap
        How much wider than the spacing, as a share of it; 1 is every spot under two fans.

    Raises
    ------
    CallError
        Where a figure makes no sense.
    """
    above_zero(spacing_m, what="--spacing", most=_MOST_M, most_words="20 ft")
    if not 0 <= overlap <= _MOST_OVERLAP:
        raise CallError("--overlap: must be from 0 % to 400 % of the spacing; 100 % is each spot under two fans.")
    return spacing_m * (1 + overlap) / 2 / math.tan(math.radians(_angle(angle_deg)) / 2)


def _angle(angle_deg: float) -> float:
    if not 10 <= angle_deg <= 170:
        raise CallError("--angle: must be between 10 and 170 degrees; it is stamped on most tips, like 110.")
    return angle_deg
