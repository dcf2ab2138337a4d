"""Delta-T: how much cooler a wet thermometer is than a dry one, which says how fast droplets dry."""

import math

from gladebook.errors import CallError

__all__ = ["delta_t_c", "wet_bulb_c"]


def wet_bulb_c(*, temperature_c: float, humidity: float) -> float:
    """Wet-bulb temperature near sea level, degrees Celsius.

    Journal of Applied Meteorology and Climatology, 2011, 50:2267, equation 1 (from memory; the tests hold it against
    the psychrometric equation). Good to about 1 C from 5 to 99 % and -20 to 50 C.

    Parameters
    ----------
    temperature_c
        Of the air, degrees Celsius.
    humidity
        Relative, 0 to 1.

    Raises
    ------
    CallError
        Where they are outside of what the equation is for.
    """
    if not (-20 <= temperature_c <= 50 and 0.05 <= humidity <= 1):
        raise CallError("Delta-T: is worked out from -4 to 122 F and from 5 to 100 % humidity.")
    t, rh = temperature_c, min(humidity * 100, 99.0)
    return float(
        t * math.atan(0.151977 * math.sqrt(rh + 8.313659))
        + math.atan(t + rh)
        - math.atan(rh - 1.676331)
        + 0.00391838 * rh**1.5 * math.atan(0.023101 * rh)
        - 4.686035
    )


def delta_t_c(*, temperature_c: float, humidity: float) -> float:
    """Dry bulb less wet bulb, degrees Celsius.

    Raises
    ------
    CallError
        As `wet_bulb_c` does.
    """
    return max(temperature_c - wet_bulb_c(temperature_c=temperature_c, humidity=humidity), 0.0)
