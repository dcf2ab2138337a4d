"""The gallons check: what left the tank against what the plots should have taken. It needs no GPS."""

import math
from dataclasses import dataclass

from gladebook.errors import CallError

__all__ = ["FLAG_ABOVE", "GallonsCheck", "check_gallons"]

FLAG_ABOVE = 0.10  # the share of the plots beyond which the check is flagged; common practice, no source
_ROUNDING = 1e-9  # exactly a tenth is not over a tenth


@dataclass(frozen=True)
class GallonsCheck:
    """Gallons against acres.

    Attributes
    ----------
    used_m3 : spray that left the tank, m3.
    rate_m : spray volume per area, m3 per m2.
    covered_m2 : the ground that it is enough for at that rate, m2.
    plots_m2 : the plots, m2.
    difference : (covered - plots) / plots; below zero is short.
    flagged : whether the difference is more than a tenth either way.
    """

    used_m3: float
    rate_m: float
    covered_m2: float
    plots_m2: float
    difference: float
    flagged: bool


def check_gallons(*, used_m3: float, rate_m: float, plots_m2: float) -> GallonsCheck:
    """Compare the spray that was used with what the plots should have taken.

    Parameters
    ----------
    used_m3
        Spray that left the tank, m3.
    rate_m
        Spray volume per area, m3 per m2.
    plots_m2
        The plots, m2.

    Raises
    ------
    CallError
        Where the rate or the plots are not above zero, or the use is below it.
    """
    if not all(math.isfinite(v) for v in (used_m3, rate_m, plots_m2)):
        raise CallError("The gallons check needs figures; one of gallons, gallons per acre and acres is none.")
    if rate_m <= 0:
        raise CallError("--per-acre: gallons per acre must be above zero.")
    if plots_m2 <= 0:
        raise CallError("The plots have no acres, so there is nothing to compare the gallons with.")
    if used_m3 < 0:
        raise CallError("--used: gallons used cannot be below zero.")
    covered_m2 = used_m3 / rate_m
    difference = (covered_m2 - plots_m2) / plots_m2
    return GallonsCheck(
        used_m3=used_m3,
        rate_m=rate_m,
        covered_m2=covered_m2,
        plots_m2=plots_m2,
        difference=difference,
        flagged=abs(difference) > FLAG_ABOVE + _ROUNDING,
    )
