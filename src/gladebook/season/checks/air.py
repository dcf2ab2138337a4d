"""Wind, evening calm, rain, cold and heat."""

import math
from datetime import datetime, timedelta
from typing import Final

from gladebook.products.facts import is_soil_applied
from gladebook.products.table.sources import CORNELL
from gladebook.season.case import Case, Planned
from gladebook.season.checks.said import ENTRY, Said, caution, fine, no_label, said, unchecked
from gladebook.season.finding import Finding
from gladebook.units import IN_M, MPH_MPS
from gladebook.units.temperature import fahrenheit
from gladebook.weather.delta_t import delta_t_c

__all__ = ["check_air", "check_calm", "check_delta_t", "check_heat", "check_rain"]

_WIND_LEAST_MPS, _WIND_MOST_MPS = 3 * MPH_MPS, 8 * MPH_MPS
_WIND: Final = "Pesticide Environmental Stewardship, an extension consortium: 3 to 8 mph where a label has no figure"
_CALM: Final = "Grains Research and Development Corporation, Spray application manual, module 10.8, January 2025"
_PRACTICE: Final = "common practice, no source"
_CORNELL: Final = f"{CORNELL} (printed for the north-east)"
_NORTH_WEST: Final = (
    "Pacific Northwest Weed Management Handbook: 0.5 in within 3 to 14 days (not for here: check your label)"
)
_BEFORE_SUNSET, _AFTER_SUNRISE = timedelta(hours=2), timedelta(hours=1)
_COOL_C, _FROST_C, _HOT_C = (55 - 32) / 1.8, 0.0, (85 - 32) / 1.8


def check_air(case: Case) -> list[Finding]:
    """Wind, as measured at the plot now."""
    weather = case.weather
    if weather is None or weather.wind_mps is None:
        return [unchecked("wind", 'Wind was not given: measure it at the plot now, and say --wind "6 mph".')]
    wind = weather.wind_mps
    told = f"{wind / MPH_MPS:.3g} mph"
    found: list[Finding] = []
    if not weather.measured:
        found.append(
            unchecked(
                "wind", f"{told} is a forecast, or nobody said that it was measured at the plot (--wind-measured)."
            )
        )
    limits = [(p, said(p, "wind_least_mps"), said(p, "wind_most_mps")) for p in case.planned]
    for planned, least, most in limits:
        found += _wind(planned, wind, least=least, most=most, gust=weather.gust_mps)
    if any(least is None and most is None for _, least, most in limits) or not limits:
        if not _WIND_LEAST_MPS * (1 - 1e-9) <= wind <= _WIND_MOST_MPS * (1 + 1e-9):
            found.append(caution("wind", f"{told} is outside of 3 to 8 mph.", source=_WIND))
        else:
            found.append(fine("wind", f"{told} is between 3 and 8 mph.", source=_WIND))
    if wind < _WIND_LEAST_MPS * (1 - 1e-9):
        found.append(
            caution("wind", f"{told}: so little wind turns about, and may be a lid of warm air.", source=_WIND)
        )
    if weather.blowing_to:
        found.append(caution("downwind", f"The wind blows toward {weather.blowing_to}.", source=ENTRY))
    else:
        found.append(
            unchecked("downwind", "What lies downwind was not said (--downwind): a garden, a house, bees, water?")
        )
    return found


def _wind(planned: Planned, wind: float, *, least: Said | None, most: Said | None, gust: float | None) -> list[Finding]:
    for limit, beyond, word in (
        (most, most is not None and wind > most.value * (1 + 1e-9), "up to"),
        (least, least is not None and wind < least.value * (1 - 1e-9), "from"),
    ):
        if limit is not None and beyond:
            told = (
                f"{planned.product}: wind {word} {limit.value / MPH_MPS:.3g} mph, and it is {wind / MPH_MPS:.3g} mph."
            )
            return [Finding(limit.word, "wind", told, limit.source)]
    if most is not None and gust is not None and gust > most.value * (1 + 1e-9):
        told = (
            f"{planned.product}: gusts of {gust / MPH_MPS:.3g} mph go over {most.value / MPH_MPS:.3g} mph. Wait "
            f"for less."
        )
        return [caution("wind", told, source=most.source)]
    shown = most or least
    return [] if shown is None else [fine("wind", f"{planned.product}: within its limits.", source=shown.source)]


def check_calm(case: Case) -> list[Finding]:
    """The calm of evening, night and early morning, when a lid of warm air keeps fine droplets afloat."""
    about = "evening calm"
    if case.clock is None or case.sunset is None or case.sunrise is None:
        return [
            unchecked(about, "The time of the spray, or where the sun stands, was not said (--at 17:30, and a plot).")
        ]
    now = datetime.combine(case.day, case.clock, tzinfo=case.sunset.tzinfo)
    calm = now >= case.sunset - _BEFORE_SUNSET or now <= case.sunrise + _AFTER_SUNRISE
    sun = f"sunrise {case.sunrise:%H:%M}, sunset {case.sunset:%H:%M}"
    if not calm:
        return [fine(about, f"{now:%H:%M} is between the morning and the evening calm ({sun}).", source=_CALM)]
    sky = case.weather.sky if case.weather is not None else None
    more = {"clear": " The sky is clear, which makes it likelier.", "cloudy": " Clouds make it less likely."}.get(
        sky or "", ""
    )
    told = (
        f"{now:%H:%M}: from 1 to 2 hours before sunset until an hour after sunrise most nights have a lid of warm "
        f"air, and "
        f"droplets drift far under it ({sun}).{more}"
    )
    return [caution(about, told, source=_CALM)]


def check_rain(case: Case) -> list[Finding]:
    """Rain too soon washes a spray off; one that works in the soil needs it."""
    found: list[Finding] = []
    weather = case.weather
    rain_in = None if weather is None else weather.rain_in_s
    for planned in case.planned:
        label = planned.label or planned.county
        soil = label is not None and is_soil_applied(label)[0] is True
        if soil:
            found += _needs_rain(planned, rain_in, None if weather is None else weather.rain_m)
        dry = said(planned, "rainfast_s")
        if dry is None:
            if not soil:
                found.append(no_label(planned, "rain", "how long it must stay dry"))
            continue
        if rain_in is None:
            found.append(unchecked("rain", 'When it will rain was not said (--rain-in "6 h", or none).'))
            continue
        hours = dry.value / 3600
        told = f"{planned.product} needs {hours:g} h dry, and rain is {_when(rain_in)}"
        if rain_in < dry.value:
            found.append(Finding(dry.word, "rain", f"{told}.", dry.source))
        else:
            found.append(fine("rain", f"{told}.", source=dry.source))
    return found


def _when(rain_in_s: float) -> str:
    return "not in sight" if math.isinf(rain_in_s) else f"forecast in {rain_in_s / 3600:.3g} h"


def _needs_rain(planned: Planned, rain_in: float | None, rain_m: float | None) -> list[Finding]:
    need, within = said(planned, "rain_needed_m"), said(planned, "rain_within")
    amount = f"{need.value / IN_M:g} in" if need is not None else "0.5 in"
    soon = f"{within.value}" if within is not None else "3 to 14 days"
    source = need.source if need is not None else _NORTH_WEST
    told = (
        f"{planned.product} works in the soil, and needs {amount} of rain within {soon} (or to be worked in, by "
        f"its label)"
    )
    if rain_in is None:
        return [unchecked("rain to work it in", f"{told}; rain was not said (--rain-in, --rain).")]
    days = within.value.count if within is not None and within.value.unit == "days" else 14
    enough = rain_m is not None and rain_m >= (need.value if need is not None else 0.5 * IN_M) * (1 - 1e-9)
    if math.isinf(rain_in) or rain_in > days * 86_400 or (rain_m is not None and not enough):
        return [caution("rain to work it in", f"{told}; that is not in sight.", source=source)]
    if rain_m is None:
        return [unchecked("rain to work it in", f"{told}; how much is forecast was not said (--rain).")]
    return [fine("rain to work it in", f"{told}; it is forecast.", source=source)]


def check_heat(case: Case) -> list[Finding]:
    """Cold slows a spray, heat stresses plants and makes some products rise."""
    weather = case.weather
    if weather is None or weather.temperature_c is None:
        return [unchecked("temperature", 'The temperature was not given (--temperature "62 F").')]
    air = weather.temperature_c
    told = f"{fahrenheit(air):.3g} F"
    found: list[Finding] = []
    for planned in case.planned:
        least, most = said(planned, "temperature_least_c"), said(planned, "temperature_most_c")
        if least is None and most is None:
            found.append(no_label(planned, "temperature", "at which temperatures it may be sprayed"))
        for limit, beyond, word in (
            (least, least is not None and air < least.value - 1e-6, "from"),
            (most, most is not None and air > most.value + 1e-6, "up to"),
        ):
            if limit is not None and beyond:
                words = f"{planned.product}: {word} {fahrenheit(limit.value):.3g} F, and it is {told}."
                found.append(Finding(limit.word, "temperature", words, limit.source))
    if weather.night_low_c is not None and weather.night_low_c <= _FROST_C:
        low = f"{fahrenheit(weather.night_low_c):.3g} F"
        found.append(
            caution("cold", f"Nights of {low}: frost stops growth, and a spray works slowly or not.", source=_PRACTICE)
        )
    if air < _COOL_C:
        words = f"{told}: the cold slows every spray that must be taken in; wait for growing weather."
        source = _PRACTICE
        if any("glyphosate" in _contents(p) for p in case.planned):
            words += " Glyphosate: not where the mean of the air is under 55 F for 7 days."
            source = _CORNELL
        found.append(caution("cold", words, source=source))
    if air > _HOT_C:
        found.append(
            caution(
                "heat",
                f"{told}: over about 85 F plants are stressed, and some products rise as vapour.",
                source=_PRACTICE,
            )
        )
    return found


def _contents(planned: Planned) -> set[str]:
    labels = [label for label in (planned.label, planned.county) if label is not None]
    return {part.ingredient for label in labels for part in label.ingredients} | {planned.product.lower()}


def check_delta_t(case: Case) -> list[Finding]:
    """How dry the air is, where it was asked for: dry bulb less wet bulb. No rule of labels in the United States."""
    if not case.delta_t:
        return []
    weather = case.weather
    if weather is None or weather.temperature_c is None or weather.humidity is None:
        return [unchecked("Delta-T", "It needs the temperature and the humidity (--temperature, --humidity).")]
    value = delta_t_c(temperature_c=weather.temperature_c, humidity=weather.humidity)
    told = (
        f"{value:.1f} C; 2 to 8 is preferred, under 2 or over 10 is for caution; no rule of labels in the United "
        f"States."
    )
    source = "common practice of drier countries (reprint read)"
    word = "fine" if 2 <= value <= 8 else "caution"
    return [Finding(word, "Delta-T", told, source)]  # type: ignore[arg-type]  # one of the two
