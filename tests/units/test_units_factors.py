"""Factors against their sources, exactly where the source is exact, and against pint."""

from fractions import Fraction
from typing import Any

import pint
import pytest

from gladebook.units import ACRE_M2, FT_M, GAL_M3, LB_KG, MI_M, MPH_MPS, amount_in, factors, parse_quantity
from gladebook.units.quantity import _EXAMPLES, _UNITS, Kind

PINT: Any = pint.UnitRegistry()
FOOT = Fraction("0.3048")  # 85 FR 62698, 5 October 2020: the international foot, exactly
SURVEY_FOOT = Fraction(1200, 3937)  # the older definition, 39.37 in = 1 m

# our name -> pint's name; the acre is left out, because pint's is the survey acre (tested below)
PINT_NAMES = {
    "ft": "foot",
    "in": "inch",
    "yd": "yard",
    "mi": "mile",
    "m": "meter",
    "cm": "centimeter",
    "ha": "hectare",
    "sq ft": "foot ** 2",
    "m2": "meter ** 2",
    "gal": "gallon",
    "qt": "quart",
    "pt": "pint",
    "cup": "cup",
    "fl oz": "fluid_ounce",
    "tbsp": "tablespoon",
    "tsp": "teaspoon",
    "L": "liter",
    "mL": "milliliter",
    "lb": "pound",
    "oz": "ounce",
    "dry oz": "ounce",
    "ton": "short_ton",
    "kg": "kilogram",
    "g": "gram",
    "mph": "mile / hour",
    "km/h": "kilometer / hour",
    "kn": "knot",
    "m/s": "meter / second",
    "s": "second",
    "min": "minute",
    "h": "hour",
    "psi": "psi",
    "kPa": "kilopascal",
    "bar": "bar",
}
SI = {
    "length": "meter",
    "area": "meter ** 2",
    "volume": "meter ** 3",
    "weight": "kilogram",
    "speed": "meter / second",
    "time": "second",
    "pressure": "pascal",
}
ROUNDING = 1e-15 * 8  # a few units in the last place: no measured amount comes near it


def si(text: str, kind: Kind) -> float:
    return parse_quantity(text, kind=kind).si


def test_the_foot_is_the_international_one() -> None:
    """A foot is 0.3048 m exactly, and not the survey foot."""
    assert Fraction(FT_M).limit_denominator(10_000) == FOOT
    assert FT_M == 0.3048
    assert factors.SURVEY_FT_M == float(SURVEY_FOOT) == pytest.approx(0.3048006096012192, rel=ROUNDING)
    ratio = factors.SURVEY_FT_M / FT_M
    assert ratio == pytest.approx(1.000002000004, abs=5e-13)  # the digits printed


def test_the_acre_is_43560_international_square_feet() -> None:
    """An acre is 4046.8564224 m2 exactly: 43,560 international square feet."""
    assert float(43560 * FOOT**2) == ACRE_M2 == 4046.8564224
    assert si("1 ac", "area") == ACRE_M2
    assert si("4840 yd", "length") * si("1 yd", "length") == pytest.approx(ACRE_M2, rel=ROUNDING)


def test_the_survey_acre_is_another_acre() -> None:
    """The survey acre is 4 parts in a million larger, 10.36 m2 over a section of 640 acres."""
    survey = float(43560 * SURVEY_FOOT**2)
    # computed from 1200/3937; NIST prints 4046.873 (from memory)
    ours = factors.SURVEY_ACRE_M2
    assert ours == pytest.approx(survey, rel=ROUNDING)
    assert round(survey, 3) == 4046.873
    assert survey / ACRE_M2 - 1 == pytest.approx(4.0000e-6, abs=5e-11)
    assert 640 * (survey - ACRE_M2) == pytest.approx(10.36, abs=0.005)
    assert si("1 ac", "area") != factors.SURVEY_ACRE_M2


def test_pint_counts_in_survey_acres() -> None:
    """Pint's acre is the survey acre, so pint is no oracle for ours: the two differ by 4 ppm."""
    pint_acre = PINT.Quantity(1, "acre").to("meter ** 2").magnitude
    assert pint_acre == pytest.approx(factors.SURVEY_ACRE_M2, rel=1e-12)
    assert (pint_acre - ACRE_M2) / ACRE_M2 == pytest.approx(4.0e-6, rel=1e-4)


def test_hectares_and_square_feet_to_the_printed_digits() -> None:
    """Hectares, acres and square feet turn into each other to every digit of the exact arithmetic."""
    assert ACRE_M2 / si("1 ha", "area") == pytest.approx(0.40468564224, rel=ROUNDING)
    assert si("1 ha", "area") / ACRE_M2 == pytest.approx(2.471053814671653, rel=ROUNDING)
    assert si("1 ha", "area") / factors.SURVEY_ACRE_M2 == pytest.approx(2.471043930466280, rel=ROUNDING)
    assert amount_in(1.0, unit="sq ft") == pytest.approx(10.763910416709722, rel=ROUNDING)
    assert si("43560 sq ft", "area") == pytest.approx(ACRE_M2, rel=ROUNDING)


def test_every_unit_has_a_pint_partner() -> None:
    """No unit escapes the comparison with pint but the acre."""
    assert set(PINT_NAMES) == set(_UNITS) - {"ac"}


@pytest.mark.parametrize("name", sorted(PINT_NAMES))
def test_each_unit_is_what_pint_says(name: str) -> None:
    """One of each unit has the SI size that pint gives it."""
    kind = _UNITS[name][0]
    expected = PINT.Quantity(1, PINT_NAMES[name]).to(SI[kind]).magnitude
    # 1e-12: both sides multiply a handful of exact decimals
    assert si(f"1 {name}", kind) == pytest.approx(expected, rel=1e-12)
    assert amount_in(si(f"7.5 {name}", kind), unit=name) == pytest.approx(7.5, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "kind", "pint_text", "pint_unit"),
    [
        ("15 gal/ac", "volume per area", "15 gallon / (43560 foot ** 2)", "meter"),
        ("32 fl oz/ac", "volume per area", "32 fluid_ounce / (43560 foot ** 2)", "meter"),
        ("1.5 L/ha", "volume per area", "1.5 liter / hectare", "meter"),
        ("50 lb/ac", "weight per area", "50 pound / (43560 foot ** 2)", "kilogram / meter ** 2"),
        ("2 lb/1000 sq ft", "weight per area", "2 pound / (1000 foot ** 2)", "kilogram / meter ** 2"),
        ("1 kg/ha", "weight per area", "1 kilogram / hectare", "kilogram / meter ** 2"),
        ("17 lb/100 gal", "weight per volume", "0.17 pound / gallon", "kilogram / meter ** 3"),
        ("5 g/L", "weight per volume", "5 gram / liter", "kilogram / meter ** 3"),
        ("1 qt/100 gal", "percent of volume", "0.01 quart / gallon", "dimensionless"),
        ("1 pt/50 gal", "percent of volume", "0.02 pint / gallon", "dimensionless"),
        ("0.25 %", "percent of volume", "0.0025", "dimensionless"),
    ],
)
def test_rates_are_what_pint_says(text: str, kind: Kind, pint_text: str, pint_unit: str) -> None:
    """A rate is its amount over its area or volume, with the acre as 43,560 square feet."""
    expected = PINT.Quantity(pint_text).to(pint_unit).magnitude
    assert si(text, kind) == pytest.approx(expected, rel=1e-12)


def test_kitchen_and_tank_measures_stand_in_whole_ratios() -> None:
    """A gallon is 4 qt, 8 pt, 16 cups, 128 fl oz, 256 tbsp, 768 tsp; a pound 16 oz, a ton 2,000 lb."""
    for unit, count in {"qt": 4, "pt": 8, "cup": 16, "fl oz": 128, "tbsp": 256, "tsp": 768}.items():
        assert si(f"{count} {unit}", "volume") == pytest.approx(GAL_M3, rel=ROUNDING)
    assert si("2 tbsp", "volume") == pytest.approx(si("1 fl oz", "volume"), rel=ROUNDING)
    assert si("16 oz", "weight") == LB_KG
    assert si("2000 lb", "weight") == pytest.approx(si("1 ton", "weight"), rel=ROUNDING)


def test_conversions_to_the_digits_that_handbooks_print() -> None:
    """Conversions agree with the figures that extension handbooks print, to the last digit printed."""
    # extension handbook tables of units; each figure is printed to the digits shown
    assert round(GAL_M3 * 1e6, 2) == 3785.41
    assert round(si("1 fl oz", "volume") * 1e6, 3) == 29.574
    assert round(LB_KG * 1000, 3) == 453.592
    assert round(ACRE_M2, 3) == 4046.856
    assert round(MI_M, 3) == 1609.344
    per_ha = {gal: round(si(f"{gal} gal/ac", "volume per area") * 1e7, 1) for gal in (10, 15, 20)}
    assert per_ha == {10: 93.5, 15: 140.3, 20: 187.1}
    assert round(si("1 gal/ac", "volume per area") * 1e7, 3) == 9.354
    assert round(si("1 lb/ac", "weight per area") * 1e4, 4) == 1.1209


def test_a_mile_an_hour_is_88_feet_a_minute() -> None:
    """88 feet a minute is one mile an hour exactly, as calibration courses use it."""
    assert si("88 ft", "length") / si("1 min", "time") == pytest.approx(MPH_MPS, rel=ROUNDING)
    # 200 ft in 34 s is 4.01 mph (arithmetic of a published 200 ft course)
    assert round(amount_in(200 * FT_M / 34, unit="mph"), 2) == 4.01


def test_a_knot_is_a_nautical_mile_an_hour() -> None:
    """22.4 knots are 11.5236 m/s, from the nautical mile of 1852 m (Monaco 1929, as the SI Brochure has it)."""
    assert round(22.4 * factors.KNOT_MPS, 4) == 11.5236
    assert PINT.Quantity(1, "knot").to("meter / second").magnitude == pytest.approx(factors.KNOT_MPS, rel=1e-12)


@pytest.mark.parametrize("kind", sorted(_EXAMPLES))
def test_the_example_in_each_message_can_be_read(kind: Kind) -> None:
    """What a message tells people to write is accepted where it is asked for."""
    assert parse_quantity(_EXAMPLES[kind], kind=kind).kind == kind


def test_published_product_amounts_follow_from_strength_and_rate() -> None:
    """Product per acre is the active ingredient per acre over its strength, as rate tables print it."""
    # (lb ai/ac, lb ai/gal, unit, digits, exact, printed); printed rates of the Pacific Northwest Weed
    # Management Handbook: clethodim 6-8 fl oz, sethoxydim 1-2.5 pt, 2,4-DB 1-3 qt, imazethapyr 3-6 fl oz,
    # trifluralin 1-2 pt, glyphosate (acid equivalent) 1-2 pt
    rows = [
        (0.125, 2, "fl oz", 8.00, 8),
        (0.094, 2, "fl oz", 6.02, 6),
        (0.19, 1.5, "pt", 1.01, 1),
        (0.47, 1.5, "pt", 2.51, 2.5),
        (0.5, 2, "qt", 1.00, 1),
        (1.5, 2, "qt", 3.00, 3),
        (0.047, 2, "fl oz", 3.01, 3),
        (0.094, 2, "fl oz", 6.02, 6),
        (0.5, 4, "pt", 1.00, 1),
        (1.0, 4, "pt", 2.00, 2),
        (0.38, 3, "pt", 1.01, 1),
        (0.75, 3, "pt", 2.00, 2),
    ]
    for ai, strength, unit, exact, printed in rows:
        per_m2 = si(f"{ai} lb/ac", "weight per area") / si(f"{strength} lb/gal", "weight per volume")
        per_acre = amount_in(per_m2 * ACRE_M2, unit=unit)
        assert round(per_acre, 2) == exact
        assert per_acre == pytest.approx(printed, rel=0.015)  # how far the handbook rounds
    # 4 oz of a dry product of 51 % is 0.1275 lb of active ingredient (arithmetic)
    assert amount_in(0.51 * si("4 oz", "weight"), unit="lb") == pytest.approx(0.1275, rel=ROUNDING)
