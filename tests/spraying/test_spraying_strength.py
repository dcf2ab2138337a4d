"""Pounds of ingredient and product, each pair as it is printed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gladebook.errors import QuantityError
from gladebook.spraying.strength import ingredient_rate, product_rate
from gladebook.units import Quantity, amount_in, parse_quantity

_PNW = "Pacific Northwest Weed Management Handbook"
# ingredient, strength, product as printed, in its unit, to the print's rounding, source
PRINTED = [
    ("0.125 lb ai/ac", "2 lb ai/gal", 8, "fl oz/ac", 0.05, f"{_PNW}, brassicas: clethodim 6 to 8 fl oz"),
    ("0.094 lb ai/ac", "2 lb ai/gal", 6, "fl oz/ac", 0.05, f"{_PNW}, brassicas: clethodim 6 to 8 fl oz"),
    ("0.19 lb ai/ac", "1.5 lb ai/gal", 1, "pt/ac", 0.05, f"{_PNW}, alfalfa: sethoxydim 1 to 2.5 pt"),
    ("0.47 lb ai/ac", "1.5 lb ai/gal", 2.5, "pt/ac", 0.05, f"{_PNW}, alfalfa: sethoxydim 1 to 2.5 pt"),
    ("0.5 lb ae/ac", "2 lb ae/gal", 1, "qt/ac", 0.01, f"{_PNW}, alfalfa seed: 2,4-DB 1 to 3 qt"),
    ("1.5 lb ae/ac", "2 lb ae/gal", 3, "qt/ac", 0.01, f"{_PNW}, alfalfa seed: 2,4-DB 1 to 3 qt"),
    ("0.047 lb ai/ac", "2 lb ai/gal", 3, "fl oz/ac", 0.05, f"{_PNW}, alfalfa: imazethapyr 3 to 6 oz"),
    ("0.094 lb ai/ac", "2 lb ai/gal", 6, "fl oz/ac", 0.05, f"{_PNW}, alfalfa: imazethapyr 3 to 6 oz"),
    ("0.5 lb ai/ac", "4 lb ai/gal", 1, "pt/ac", 0.01, f"{_PNW}, brassicas: trifluralin 1 to 2 pt"),
    ("1.0 lb ai/ac", "4 lb ai/gal", 2, "pt/ac", 0.01, f"{_PNW}, brassicas: trifluralin 1 to 2 pt"),
    ("0.38 lb ae/ac", "3 lb ae/gal", 1, "pt/ac", 0.05, f"{_PNW}, wheat: glyphosate 1 to 2 pt"),
    ("0.75 lb ae/ac", "3 lb ae/gal", 2, "pt/ac", 0.01, f"{_PNW}, wheat: glyphosate 1 to 2 pt"),
    (
        "0.1275 lb ai/ac",
        "51 % by weight",
        4,
        "dry oz/ac",
        0.001,
        "4 oz x 51 % / 16; printed as 0.6375, a slip",
    ),
]


def rate(text: str) -> Quantity:
    return parse_quantity(text, kind=("volume per area", "weight per area"))


def strength(text: str) -> Quantity:
    return parse_quantity(text, kind=("weight per volume", "percent of weight"))


@pytest.mark.parametrize(("ingredient", "of", "printed", "unit", "within", "source"), PRINTED)
def test_product_from_ingredient_is_as_printed(
    ingredient: str, of: str, printed: float, unit: str, within: float, source: str
) -> None:
    """Pounds of ingredient over the strength is the printed rate of product, and leads back."""
    found = product_rate(rate(ingredient), strength=strength(of))
    assert amount_in(found.si, unit=unit) == pytest.approx(printed, abs=within), source
    assert ingredient_rate(found, strength=strength(of)).si == pytest.approx(rate(ingredient).si, rel=1e-9)


def test_equal_acid_equivalents_are_unequal_ounces() -> None:
    """32 fl oz of 3 lb ae/gal is 0.75 lb ae, which is 21.33 fl oz of 4.5 lb ae/gal (arithmetic)."""
    weight = ingredient_rate(rate("32 fl oz/ac"), strength=strength("3 lb ae/gal"))
    assert weight.value == pytest.approx(0.75)
    assert weight.unit == "lb ae/ac"
    other = product_rate(weight, strength=strength("4.5 lb ae/gal"))
    assert other.value == pytest.approx(21.33, abs=0.005)


def test_a_salt_is_heavier_than_its_acid() -> None:
    """4 lb of the isopropylamine salt hold 3 lb ae (ingredient statements); by formula weights 169.07 / 228.18."""
    salt_kg = strength("4 lb salt/gal").si * 169.07 / 228.18
    assert salt_kg / strength("3 lb ae/gal").si == pytest.approx(1, abs=0.015)


@pytest.mark.parametrize(
    ("amount", "of", "word"),
    [
        ("0.5 lb ae/ac", "4 lb salt/gal", "not the same weight"),
        ("0.5 lb ai/ac", "3 lb ae/gal", "not the same weight"),
        ("0.5 lb ai/ac", "3 lb/gal", "does not say of what"),
        ("8 fl oz/ac", "2 lb ai/gal", "no rate of ingredient"),
        ("0.5 lb ai/ac", "0 lb ai/gal", "no strength"),
        ("0.5 lb ai/ac", "151 % by weight", "no strength"),
    ],
)
def test_weights_of_different_things_are_not_turned_into_each_other(amount: str, of: str, word: str) -> None:
    """Acid equivalent, active ingredient and salt do not stand in for each other."""
    with pytest.raises(QuantityError, match=word):
        product_rate(rate(amount), strength=strength(of))


def test_a_dry_product_has_no_pounds_in_a_gallon() -> None:
    """Dry ounces go with a percent by weight, fluid ounces with pounds in a gallon."""
    with pytest.raises(QuantityError, match="do not go together"):
        ingredient_rate(rate("4 dry oz/ac"), strength=strength("2 lb ai/gal"))
    with pytest.raises(QuantityError, match="do not go together"):
        ingredient_rate(rate("4 fl oz/ac"), strength=strength("51 % by weight"))


@given(amount=st.floats(0.001, 20), pounds=st.floats(0.1, 15), basis=st.sampled_from(["ai", "ae", "salt"]))
def test_there_and_back_is_the_same(amount: float, pounds: float, basis: str) -> None:
    """A rate of ingredient turned into product and back is itself."""
    of = strength(f"{pounds!r} lb {basis}/gal")
    there = product_rate(rate(f"{amount!r} lb {basis}/ac"), strength=of)
    back = ingredient_rate(there, strength=of)
    assert back.basis == basis
    assert back.value == pytest.approx(amount, rel=1e-9)
