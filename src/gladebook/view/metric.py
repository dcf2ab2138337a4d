"""The same figures in metric units, for those who ask: SI amounts over exact powers of ten."""

from collections.abc import Sequence

from gladebook.spraying.recipe import Mix
from gladebook.units import parse_quantity
from gladebook.units.factors import HECTARE_M2, KMH_MPS, L_M3

__all__ = ["metric", "metric_mix_words"]

# kind -> (SI amount of one, unit)
_UNITS = {
    "volume per area": (L_M3 / HECTARE_M2, "L/ha"),
    "weight per area": (1 / HECTARE_M2, "kg/ha"),
    "volume per time": (L_M3 / 60, "L/min"),
    "speed": (KMH_MPS, "km/h"),
    "pressure": (1000.0, "kPa"),
    "small length": (0.01, "cm"),
    "length": (1.0, "m"),
    "area": (HECTARE_M2, "ha"),
    "volume": (L_M3, "L"),
    "weight": (1.0, "kg"),
}
_LIQUID = {"gal", "qt", "pt", "cup", "fl oz", "tbsp", "tsp", "L", "mL"}


def metric(si: float, *, kind: str) -> str:
    """An SI amount with its metric unit, four figures."""
    one, unit = _UNITS[kind]
    return f"{si / one:,.4g} {unit}"


def metric_mix_words(mix: Mix) -> list[str]:
    """A mix in litres, hectares and kilograms."""
    per_area = metric(mix.spray_m3 / mix.area_m2, kind="volume per area")
    told = f"{metric(mix.area_m2, kind='area')} takes {metric(mix.spray_m3, kind='volume')} of spray ({per_area})"
    return [f"In metric: {told}; {_amounts([(t.name, t.amount, t.unit) for t in mix.totals])}."]


def _amounts(totals: Sequence[tuple[str, float, str]]) -> str:
    told: list[str] = []
    for name, amount, unit in totals:
        one = parse_quantity(f"1 {unit}", kind=("volume",) if unit in _LIQUID else ("weight",))
        told.append(f"{name} {metric(amount * one.si, kind=one.kind)}")
    return ", ".join(told)
