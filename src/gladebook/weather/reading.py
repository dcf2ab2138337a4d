"""One reading of the weather at the plot, or a forecast for it. Nothing is assumed: what is not said is None."""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

__all__ = ["Reading", "Sky"]

Sky = Literal["clear", "cloudy"]


@dataclass(frozen=True)
class Reading:
    """The weather.

    Attributes
    ----------
    at : when it was measured, or is forecast for; None where not said.
    measured : whether it was measured at the plot; False for a forecast; None where not said.
    wind_mps : mean wind, m/s.
    gust_mps : gusts, m/s.
    blowing_to : what lies downwind, in the user's words, like "woods" or "garden".
    temperature_c : of the air now, degrees Celsius.
    night_low_c : coldest of the nights around, degrees Celsius.
    humidity : relative, 0 to 1.
    sky : clear or cloudy.
    rain_in_s : seconds until rain is forecast; infinity for none in sight.
    rain_m : how much rain is forecast, m.
    """

    at: datetime | None = None
    measured: bool | None = None
    wind_mps: float | None = None
    gust_mps: float | None = None
    blowing_to: str = ""
    temperature_c: float | None = None
    night_low_c: float | None = None
    humidity: float | None = None
    sky: Sky | None = None
    rain_in_s: float | None = None
    rain_m: float | None = None
