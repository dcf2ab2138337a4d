"""Numbers as people read them: field units, few digits, the unit always beside."""

from gladebook.units import ACRE_M2, FT_M, GAL_M3

__all__ = ["acres", "amount", "area", "feet", "gallons", "percent", "place", "rate"]


def acres(area_m2: float) -> str:
    """Acres without the unit: two digits after the point, three below a tenth."""
    value = area_m2 / ACRE_M2
    if abs(value) < 0.0005:
        return "0.00" if value == 0 or abs(value) < 5e-9 else "<0.001" if value > 0 else "0.00"
    return f"{value:,.3f}" if abs(value) < 0.1 else f"{value:,.2f}"


def area(area_m2: float) -> str:
    """Acres with the unit; below a hundredth of an acre, square feet."""
    if abs(area_m2) < 0.01 * ACRE_M2:
        return f"{area_m2 / FT_M**2:,.0f} sq ft"
    return f"{acres(area_m2)} ac"


def feet(length_m: float) -> str:
    """Feet with the unit; below ten feet with one digit after the point."""
    value = length_m / FT_M
    return f"{value:,.1f} ft" if value < 9.95 else f"{value:,.0f} ft"


def gallons(volume_m3: float) -> str:
    """Gallons with the unit, one digit after the point where there is one to show."""
    value = volume_m3 / GAL_M3
    return f"{value:,.0f} gal" if abs(value - round(value)) < 0.005 else f"{value:,.1f} gal"


def rate(rate_m: float) -> str:
    """Gallons per acre with the unit."""
    value = rate_m * ACRE_M2 / GAL_M3
    return f"{value:,.1f}".removesuffix(".0") + " gal/ac"


def amount(value: float, *, unit: str) -> str:
    """An amount to measure out: two digits after the point below a hundred, with the unit."""
    digits = f"{value:,.2f}" if value < 100 else f"{value:,.1f}"
    return f"{digits.rstrip('0').rstrip('.')} {unit}"


def percent(share: float) -> str:
    """A share as a whole percent."""
    return f"{100 * share:.0f} %"


def place(lat_deg: float, lon_deg: float) -> str:
    """Latitude and longitude to about a metre."""
    return f"{lat_deg:.5f}, {lon_deg:.5f}"
