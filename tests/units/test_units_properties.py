"""What holds of every amount, whatever its number and unit."""

import math
from fractions import Fraction

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from gladebook.errors import QuantityError
from gladebook.units import Kind, amount_in, parse_quantity
from gladebook.units.quantity import _EXAMPLES, _UNITS

KINDS: tuple[Kind, ...] = tuple(_EXAMPLES)
PLAIN = sorted(set(_UNITS) - {"oz"})  # a bare ounce is asked back where a volume may stand too: its own test
VOLUMES = [name for name in PLAIN if _UNITS[name][0] == "volume"]
WEIGHTS = [name for name in PLAIN if _UNITS[name][0] == "weight"]
AREAS = [name for name in PLAIN if _UNITS[name][0] == "area"]
numbers = st.floats(min_value=0, max_value=1e12, allow_nan=False, allow_infinity=False)
counts = st.sampled_from(["", "10 ", "25 ", "50 ", "100 ", "1000 ", "2.5 "])
ratios = st.one_of(
    st.tuples(st.sampled_from(VOLUMES + WEIGHTS), counts, st.sampled_from(AREAS)),
    st.tuples(st.sampled_from(VOLUMES + WEIGHTS), counts, st.sampled_from(VOLUMES)),
).map(lambda t: f"{t[0]}/{t[1]}{t[2]}")
units = st.one_of(st.sampled_from(PLAIN), ratios, st.just("%"))
pieces = st.sampled_from(
    [*"0123456789", ".", ",", "-", "/", " ", "e", "1/2", "ft", "oz", "fl oz", "gal", "ac", "%", "'"]
)


@settings(deadline=None, max_examples=300)
@given(value=numbers, unit=units)
@example(value=12.3456789, unit="ft")
@example(value=1234567.0, unit="gal")
@example(value=1e16, unit="ft")
@example(value=1e-7, unit="ac")
@example(value=2.0, unit="lb/1234567 gal")
def test_an_amount_comes_back_from_its_own_text(value: float, unit: str) -> None:
    """Reading what an amount writes of itself gives the same amount."""
    quantity = parse_quantity(f"{value!r} {unit}", kind=KINDS)
    assert parse_quantity(str(quantity), kind=KINDS) == quantity


@settings(deadline=None, max_examples=300)
@given(value=st.integers(min_value=0, max_value=999_999), unit=units)
def test_a_number_of_six_digits_comes_back_from_its_own_text(value: int, unit: str) -> None:
    """Amounts of up to six digits, as people write them, come back unchanged."""
    for text in (f"{value} {unit}", f"{value / 1000} {unit}"):
        quantity = parse_quantity(text, kind=KINDS)
        assert parse_quantity(str(quantity), kind=KINDS) == quantity


@settings(deadline=None, max_examples=500)
@given(text=st.one_of(st.text(max_size=120), st.lists(pieces, max_size=20).map("".join)))
@example(text="1e308 mi")
@example(text="9" * 79 + "'")
@example(text="1/" + "0" * 70 + "1 ft")
def test_any_text_is_an_amount_or_a_quantity_error(text: str) -> None:
    """Whatever is typed, either a finite amount comes back or a QuantityError, and nothing else."""
    try:
        quantity = parse_quantity(text, kind=KINDS, what="--x")
    except QuantityError as error:
        assert str(error).startswith("--x: ")  # noqa: PT017 - both outcomes are right, each with its rule
        return
    assert math.isfinite(quantity.value)
    assert math.isfinite(quantity.si)
    assert quantity.kind in KINDS


@settings(deadline=None, max_examples=200)
@given(
    whole=st.integers(min_value=0, max_value=999),
    top=st.integers(min_value=0, max_value=99),
    below=st.integers(min_value=1, max_value=99),
    joint=st.sampled_from([" ", "-", "  ", " - "]),
    unit=st.sampled_from(PLAIN),
)
def test_mixed_numbers_are_whole_plus_fraction(whole: int, top: int, below: int, joint: str, unit: str) -> None:
    """A whole number and a fraction, joined by a space or a dash, add up."""
    quantity = parse_quantity(f"{whole}{joint}{top}/{below} {unit}", kind=KINDS)
    assert quantity.value == float(whole + Fraction(top, below))


@settings(deadline=None, max_examples=200)
@given(value=st.floats(min_value=1e-6, max_value=1e9), unit=st.sampled_from(PLAIN))
def test_an_si_amount_goes_back_into_its_unit(value: float, unit: str) -> None:
    """An amount turned into SI and back is the amount, to rounding."""
    quantity = parse_quantity(f"{value!r} {unit}", kind=KINDS)
    assert amount_in(quantity.si, unit=unit) == pytest.approx(value, rel=1e-14)


@settings(deadline=None, max_examples=200)
@given(value=numbers, unit=units, kind=st.sampled_from(KINDS))
def test_no_kind_stands_in_for_another(value: float, unit: str, kind: Kind) -> None:
    """An amount is accepted where its own kind may stand and refused everywhere else."""
    quantity = parse_quantity(f"{value!r} {unit}", kind=KINDS)
    if kind == quantity.kind:
        assert parse_quantity(f"{value!r} {unit}", kind=kind) == quantity
    else:
        with pytest.raises(QuantityError):
            parse_quantity(f"{value!r} {unit}", kind=kind)
