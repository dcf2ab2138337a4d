"""The sun against an equation of its own, Delta-T against the psychrometric equation."""

import math
from datetime import UTC, date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gladebook.errors import CallError
from gladebook.weather.delta_t import delta_t_c, wet_bulb_c
from gladebook.weather.sun import sun_times


def noaa(day: date, *, lon: float, lat: float) -> tuple[float, float]:
    """Sunrise and sunset, minutes of the UTC day: the short equations of NOAA's solar calculator (from memory)."""
    g = 2 * math.pi / 365 * (day.timetuple().tm_yday - 1)
    equation = 229.18 * (
        0.000075
        + 0.001868 * math.cos(g)
        - 0.032077 * math.sin(g)
        - 0.014615 * math.cos(2 * g)
        - 0.040849 * math.sin(2 * g)
    )
    tilt = (
        0.006918 - 0.399912 * math.cos(g) + 0.070257 * math.sin(g) - 0.006758 * math.cos(2 * g) + 0.000907 * math.sin(2
        * g) - 0.002697 * math.cos(3 * g) + 0.00148 * math.sin(3 * g)
    )  # fmt: skip
    across = math.radians(lat)
    half = math.degrees(
        math.acos(
            math.cos(math.radians(90.833)) / (math.cos(across) * math.cos(tilt)) - math.tan(across) * math.tan(tilt)
        )
    )
    return 720 - 4 * (lon + half) - equation, 720 - 4 * (lon - half) - equation


@given(day=st.dates(date(2024, 1, 1), date(2030, 12, 31)), lat=st.floats(25, 47), lon=st.floats(-100, -70))
def test_the_sun_rises_when_an_equation_of_its_own_says(day: date, lat: float, lon: float) -> None:
    """Over the United States the two agree to 4 minutes, which is what the short equations are good for."""
    found = sun_times(day, lon_deg=lon, lat_deg=lat, zone=UTC)
    assert found.sunrise is not None
    assert found.sunset is not None
    for moment, minutes in zip((found.sunrise, found.sunset), noaa(day, lon=lon, lat=lat), strict=True):
        there = moment.hour * 60 + moment.minute + moment.second / 60
        assert abs((there - minutes + 720) % 1440 - 720) < 4.0


def test_where_the_sun_does_not_set_there_is_no_sunset() -> None:
    """Midsummer at 75 degrees north."""
    assert sun_times(date(2026, 6, 21), lon_deg=20, lat_deg=75, zone=UTC).sunset is None


# temperature C, humidity -> wet bulb, Delta-T: the equation of 2011 worked by hand
WORKED = [(20, 0.50, 13.70, 6.30), (25, 0.50, 18.00, 7.00), (30, 0.30, 18.37, 11.63), (32.2, 0.40, 22.24, 9.96)]


@pytest.mark.parametrize(("dry", "humidity", "wet", "delta"), WORKED)
def test_delta_t_is_as_worked_by_hand(dry: float, humidity: float, wet: float, delta: float) -> None:
    """Wet bulb and Delta-T to a hundredth."""
    assert wet_bulb_c(temperature_c=dry, humidity=humidity) == pytest.approx(wet, abs=0.006)
    assert delta_t_c(temperature_c=dry, humidity=humidity) == pytest.approx(delta, abs=0.006)


def psychrometric(dry: float, humidity: float) -> float:
    """Wet bulb where e = es(wet) - 0.000662 P (dry - wet), P = 1013.25 hPa, es by the Magnus formula (from memory)."""

    def es(t: float) -> float:
        return 6.112 * math.exp(17.62 * t / (243.12 + t))

    low, high = -60.0, dry
    for _ in range(80):
        wet = (low + high) / 2
        if es(wet) - 0.000662 * 1013.25 * (dry - wet) > humidity * es(dry):
            high = wet
        else:
            low = wet
    return (low + high) / 2


@given(dry=st.floats(5, 40), humidity=st.floats(0.2, 0.99))
def test_the_wet_bulb_agrees_with_the_psychrometric_equation(dry: float, humidity: float) -> None:
    """Within 1 C, as the paper says of its own fit."""
    assert wet_bulb_c(temperature_c=dry, humidity=humidity) == pytest.approx(psychrometric(dry, humidity), abs=1.0)


@pytest.mark.parametrize(("dry", "humidity"), [(-30, 0.5), (60, 0.5), (20, 0.0), (20, 1.5), (20, math.nan)])
def test_air_beyond_the_equation_is_refused(dry: float, humidity: float) -> None:
    """Too cold, too hot, too dry, or no humidity."""
    with pytest.raises(CallError, match="Delta-T"):
        delta_t_c(temperature_c=dry, humidity=humidity)
