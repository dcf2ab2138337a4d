"""Handgun and backpack: no speed and no swath, but ground and time.

Mark 340 sq ft (18.5 x 18.5 ft), time how long it takes to spray it as you would, then catch for the same time: ounces
are gallons per acre (Larimer County, Colorado; Penn State Extension). Or spray known ground and measure what it took.
"""

from dataclasses import dataclass

from gladebook.errors import CallError, QuantityError
from gladebook.spraying.calibration.amounts import above_zero
from gladebook.units import ACRE_M2, GAL_M3, Quantity, amount_in

__all__ = ["HandMix", "hand_mix", "spot_mix"]


@dataclass(frozen=True)
class HandMix:
    """Product for hand-held sprayers, in `unit`.

    Attributes
    ----------
    per_gallon : in each gallon of spray.
    per_tank : in a full tank; None where no tank is given.
    unit : ``fl oz`` for a liquid, ``dry oz`` for a dry product.
    tank_m3 : m3; None where not given.
    covers_m2 : ground that a full tank covers, m2; None where not known.
    """

    per_gallon: float
    per_tank: float | None
    unit: str
    tank_m3: float | None
    covers_m2: float | None


def hand_mix(rate: Quantity, *, spray_m: float, tank_m3: float | None = None) -> HandMix:
    """Product per gallon of spray: rate per area / spray volume per area.

    Parameters
    ----------
    rate
        Of product, per area.
    spray_m
        Spray volume per area, m3 per m2.
    tank_m3
        What the tank holds, m3.

    Raises
    ------
    QuantityError
        Where the rate is not one of product per area.
    CallError
        Where one of them is not above zero, or the product alone fills the tank.
    """
    if rate.kind not in ("volume per area", "weight per area") or rate.basis:
        raise QuantityError('--rate: must be of product per area, like "1 qt/ac".')
    above_zero(rate.si, what="--rate")
    above_zero(spray_m, what="gallons per acre")
    if rate.kind == "volume per area" and rate.si >= spray_m:
        raise CallError("--rate: the product alone would be more than the spray. Check rate and gallons per acre.")
    unit = "fl oz" if rate.kind == "volume per area" else "dry oz"
    per_gallon = amount_in(rate.si / spray_m * GAL_M3, unit=unit)
    if tank_m3 is None:
        return HandMix(per_gallon, None, unit, None, None)
    above_zero(tank_m3, what="--tank")
    return HandMix(per_gallon, per_gallon * tank_m3 / GAL_M3, unit, tank_m3, tank_m3 / spray_m)


def spot_mix(share: Quantity, *, tank_m3: float) -> HandMix:
    """Product for a spot spray by percent: share x tank. It has no rate per acre until the sprayed ground is known.

    Raises
    ------
    QuantityError
        Where the share is no percent of volume.
    CallError
        Where one of them is not above zero, or the share a whole tank.
    """
    if share.kind != "percent of volume":
        raise QuantityError('--percent: must be a percent of the volume, like "2 %".')
    if not 0 < share.si < 1:
        raise CallError("--percent: must be above 0 % and below 100 %.")
    above_zero(tank_m3, what="--tank", most=ACRE_M2, most_words="a tank")
    ounces = amount_in(share.si * tank_m3, unit="fl oz")
    return HandMix(ounces * GAL_M3 / tank_m3, ounces, "fl oz", tank_m3, None)
