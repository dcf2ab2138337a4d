"""Wind, evening calm, rain, cold and heat."""

import math
from datetime import datetime, time
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from gladebook.season.checks.air import check_air, check_calm, check_delta_t, check_heat, check_rain
from gladebook.units import IN_M, MPH_MPS
from gladebook.weather.reading import Reading
from tests.season.cases import case, label, only, planned

ZONE = ZoneInfo("America/Chicago")
SUN: dict[str, Any] = {
    "sunrise": datetime(2026, 11, 20, 6, 22, tzinfo=ZONE),
    "sunset": datetime(2026, 11, 20, 16, 43, tzinfo=ZONE),
}


def wind(mph: float, **more: object) -> Reading:
    return Reading(wind_mps=mph * MPH_MPS, measured=True, blowing_to="woods", **more)  # type: ignore[arg-type]


# Pesticide Environmental Stewardship, an extension consortium: at least 3, at most 8 mph where a label has no figure
@pytest.mark.parametrize(
    ("mph", "word"), [(2.9, "caution"), (3.0, "fine"), (8.0, "fine"), (8.1, "caution"), (25, "caution")]
)
def test_without_a_label_figure_wind_is_a_caution(mph: float, word: str) -> None:
    """3 to 8 mph are fine; outside is a caution and never a stop, as no label says so."""
    found = [f for f in check_air(case(planned(label()), weather=wind(mph))) if f.about == "wind"]
    assert found[0].word == word
    assert not [f for f in found if f.word == "stop"]


@pytest.mark.parametrize(("mph", "word"), [(10.0, "fine"), (10.1, "stop"), (3.9, "stop"), (4.0, "fine")])
def test_the_labels_own_band_stops(mph: float, word: str) -> None:
    """A label of 4 to 10 mph beats the published 3 to 8."""
    found = check_air(case(planned(label(wind_least="4 mph", wind_most="10 mph")), weather=wind(mph)))
    assert [f.word for f in found if f.about == "wind"] == [word]


def test_a_forecast_is_no_measured_wind() -> None:
    """A wind that nobody measured at the plot is compared, and told as not checked all the same."""
    told = Reading(wind_mps=6 * MPH_MPS)
    words = [f.word for f in check_air(case(planned(label()), weather=told)) if f.about == "wind"]
    assert words == ["not checked", "fine"]
    assert [f.word for f in check_air(case(planned(label())))] == ["not checked"]


def test_gusts_over_the_limit_are_a_caution() -> None:
    """The mean is within, the gusts are not."""
    found = check_air(case(planned(label(wind_most="10 mph")), weather=wind(8, gust_mps=12 * MPH_MPS)))
    assert any(f.word == "caution" and "gusts" in f.reason for f in found)


# Grains Research and Development Corporation, Spray application manual, module 10.8: 1-2 h before sunset to 1 h after
# sunrise
@pytest.mark.parametrize(
    ("clock", "word"),
    [
        ("14:42", "fine"),
        ("14:43", "caution"),
        ("17:30", "caution"),
        ("22:00", "caution"),
        ("07:22", "caution"),
        ("07:23", "fine"),
    ],
)
def test_evening_calm_lasts_until_an_hour_after_sunrise(clock: str, word: str) -> None:
    """From 1 to 2 hours before sunset, here 16:43, until an hour after sunrise at 6:22."""
    found = only(check_calm(case(planned(label()), clock=time.fromisoformat(clock), **SUN)), "evening calm")
    assert found.word == word


def test_calm_without_a_clock_or_the_sun_is_not_checked() -> None:
    """No time of day, or no place: not checked."""
    assert only(check_calm(case(planned(label()), **SUN)), "evening calm").word == "not checked"
    assert only(check_calm(case(planned(label()), clock=time(17))), "evening calm").word == "not checked"


# Pacific Northwest handbook: an hour for sethoxydim, clethodim, imazamox; here as a user's label has it
@pytest.mark.parametrize(("hours", "word"), [(0.9, "stop"), (1.0, "fine"), (math.inf, "fine")])
def test_rain_within_the_rainfast_time_stops(hours: float, word: str) -> None:
    """An hour dry by the label: rain in 54 minutes stops, in an hour not."""
    told = Reading(rain_in_s=hours * 3600)
    assert only(check_rain(case(planned(label(rainfast="1 h")), weather=told)), "rain").word == word


def test_rain_that_nobody_forecast_is_not_checked() -> None:
    """No label figure, or no forecast: not checked."""
    assert only(check_rain(case(planned(label()))), "rain").word == "not checked"
    assert only(check_rain(case(planned(label(rainfast="1 h")))), "rain").word == "not checked"


# Pacific Northwest handbook: soil-applied products need 0.5 in within 3 to 14 days
@pytest.mark.parametrize(
    ("rain_in_s", "inches", "word"),
    [
        (math.inf, None, "caution"),
        (5 * 86_400, 0.5, "fine"),
        (5 * 86_400, 0.4, "caution"),
        (15 * 86_400, 1.0, "caution"),
        (5 * 86_400, None, "not checked"),
        (None, None, "not checked"),
    ],
)
def test_a_pre_emerge_needs_rain(rain_in_s: float | None, inches: float | None, word: str) -> None:
    """Half an inch within a fortnight, or it does not work: a caution."""
    soil = label(product="Soil spray", ingredient="trifluralin", timing="pre-emerge", kills="grass")
    told = Reading(rain_in_s=rain_in_s, rain_m=None if inches is None else inches * IN_M)
    assert only(check_rain(case(planned(soil), weather=told)), "rain to work it in").word == word


def test_a_labels_rain_wins() -> None:
    """A label that asks for 0.25 in within 7 days."""
    soil = label(timing="incorporated", rain_needed="0.25 in", rain_within="7 days")
    told = Reading(rain_in_s=6 * 86_400, rain_m=0.3 * IN_M)
    found = only(check_rain(case(planned(soil), weather=told)), "rain to work it in")
    assert (found.word, found.source) == ("fine", "your label")


def heat(celsius: float, **cells: str):
    return check_heat(case(planned(label(**cells)), weather=Reading(temperature_c=celsius)))


def test_a_labels_temperatures_stop_and_others_caution() -> None:
    """45 to 85 F on the label stop outside; cold alone is a caution."""
    limits = {"temperature_least": "45 F", "temperature_most": "85 F"}
    assert [f.word for f in heat(6.0, **limits) if f.about == "temperature"] == ["stop"]
    assert [f.word for f in heat(30.0, **limits) if f.about == "temperature"] == ["stop"]
    assert heat(20.0, **limits) == []
    assert [f.word for f in heat(8.0, **limits)] == ["caution"]


def test_glyphosate_in_the_cold_has_its_source() -> None:
    """Cornell Univ.: not where the air's mean is under 55 F for 7 days; for the north-east, so a caution."""
    jug = label(product="Burndown", ingredient="glyphosate", kills="grass; broadleaf")
    found = only(check_heat(case(planned(jug), weather=Reading(temperature_c=10.0))), "cold")
    assert (found.word, "Cornell" in found.source) == ("caution", True)
    other = only(check_heat(case(planned(label()), weather=Reading(temperature_c=10.0))), "cold")
    assert other.source == "common practice, no source"


def test_frost_and_heat_are_cautions() -> None:
    """Nights at freezing, and air over 85 F: common practice, no source."""
    frost = check_heat(case(planned(label()), weather=Reading(temperature_c=15.0, night_low_c=-1.0)))
    assert any(f.about == "cold" and f.word == "caution" for f in frost)
    assert any(f.about == "heat" for f in check_heat(case(planned(label()), weather=Reading(temperature_c=32.0))))


def test_delta_t_is_told_only_when_asked_for() -> None:
    """Without asking there is no word of it; with it, 20 C and 50 % is 6.3 C, within 2 to 8."""
    dry = Reading(temperature_c=20.0, humidity=0.5)
    assert check_delta_t(case(planned(label()), weather=dry)) == []
    found = only(check_delta_t(case(planned(label()), weather=dry, delta_t=True)), "Delta-T")
    assert (found.word, found.reason.startswith("6.3 C")) == ("fine", True)
    assert only(check_delta_t(case(planned(label()), delta_t=True)), "Delta-T").word == "not checked"
