"""Amounts as people write them, and what is refused with which words."""

import pytest

from gladebook.errors import CallError, GladebookError, QuantityError
from gladebook.units import FT_M, IN_M, Kind, Quantity, parse_quantity
from gladebook.units.quantity import _UNITS
from gladebook.units.temperature import celsius_from, fahrenheit

RATES: tuple[Kind, ...] = ("volume per area", "weight per area", "percent of volume", "weight per volume")


@pytest.mark.parametrize(
    ("text", "kind", "value", "unit"),
    [
        ("12 ft", "length", 12, "ft"),
        ("12ft", "length", 12, "ft"),
        ("12'", "length", 12, "ft"),
        ("12 '", "length", 12, "ft"),
        ("12′", "length", 12, "ft"),
        ("12 FEET", "length", 12, "ft"),
        ('18"', "length", 18, "in"),
        ("18″", "length", 18, "in"),
        ("  12.50   ft  ", "length", 12.5, "ft"),
        (".5 mi", "length", 0.5, "mi"),
        ("5. yd", "length", 5, "yd"),
        ("3 m", "length", 3, "m"),
        ("1e2 ft", "length", 100, "ft"),
        ("12\u00a0ft", "length", 12, "ft"),  # the hard space that phones and web pages put in
        ("1/2 ft", "length", 0.5, "ft"),
        ("1 1/2 ft", "length", 1.5, "ft"),
        ("1-1/2 ft", "length", 1.5, "ft"),
        ("1 - 1 / 2 ft", "length", 1.5, "ft"),
        ("11 3/4 in", "length", 11.75, "in"),
        ("4.3 acres", "area", 4.3, "ac"),
        ("4.3 A", "area", 4.3, "ac"),
        ("1/10 ac", "area", 0.1, "ac"),
        ("340 sq ft", "area", 340, "sq ft"),
        ("340 ft²", "area", 340, "sq ft"),
        ("25 gallons", "volume", 25, "gal"),
        ("2 pints", "volume", 2, "pt"),
        ("32 fl. oz.", "volume", 32, "fl oz"),
        ("32 FL OZ", "volume", 32, "fl oz"),
        ("500 ml", "volume", 500, "mL"),
        ("2 l", "volume", 2, "L"),
        ("4 oz", "weight", 4, "oz"),
        ("4 ounces", "weight", 4, "oz"),
        ("10 lbs", "weight", 10, "lb"),
        ("4 mph", "speed", 4, "mph"),
        ("4 mi/h", "speed", 4, "mph"),
        ("4 kn", "speed", 4, "kn"),
        ("4 knots", "speed", 4, "kn"),
        ("4 kts", "speed", 4, "kn"),
        ("4 miles per hour", "speed", 4, "mph"),
        ("10 sec", "time", 10, "s"),
        ("1-1/2 pt/A", "volume per area", 1.5, "pt/ac"),
        ("2 pt per acre", "volume per area", 2, "pt/ac"),
        ("2 pints an acre", "volume per area", 2, "pt/ac"),
        ("32 fl oz/ac", "volume per area", 32, "fl oz/ac"),
        ("15 GPA", "volume per area", 15, "gal/ac"),
        ("15 gal/A", "volume per area", 15, "gal/ac"),
        ("15 gallons per acre", "volume per area", 15, "gal/ac"),
        ("2 oz/ac", "weight per area", 2, "oz/ac"),
        ("50 lb / acre", "weight per area", 50, "lb/ac"),
        ("2 lb per 1000 sq ft", "weight per area", 2, "lb/1000 sq ft"),
        ("17 lb per 100 gal", "weight per volume", 17, "lb/100 gal"),
        ("17 lb/100 gal", "weight per volume", 17, "lb/100 gal"),
        ("17lb/100gal", "weight per volume", 17, "lb/100 gal"),
        ("8.5 pounds per 100 gallons", "weight per volume", 8.5, "lb/100 gal"),
        ("0.25 %", "percent of volume", 0.25, "%"),
        ("0.25%", "percent of volume", 0.25, "%"),
        ("1/4 %", "percent of volume", 0.25, "%"),
        ("1 percent", "percent of volume", 1, "%"),
        ("1 % v/v", "percent of volume", 1, "%"),
        ("1 qt/100 gal", "percent of volume", 1, "qt/100 gal"),
    ],
)
def test_amounts_are_read_as_people_write_them(text: str, kind: Kind, value: float, unit: str) -> None:
    """An amount is read in the ways that labels, field books and phones write it."""
    quantity = parse_quantity(text, kind=kind)
    assert (quantity.value, quantity.unit, quantity.kind) == (value, unit, kind)
    assert quantity.si > 0


def test_si_values_of_some_amounts() -> None:
    """The SI value is the number times the unit, computed here by hand."""
    assert parse_quantity("12'", kind="length").si == 12 * FT_M
    assert parse_quantity('18"', kind="length").si == 18 * IN_M
    gal_m3 = 231 * 0.0254**3
    pints = parse_quantity("1-1/2 pt/A", kind="volume per area").si
    assert pints == pytest.approx(1.5 * gal_m3 / 8 / 4046.8564224, rel=1e-14)
    per_100 = parse_quantity("17 lb per 100 gal", kind="weight per volume").si
    assert per_100 == pytest.approx(17 * 0.45359237 / (100 * gal_m3), rel=1e-14)


def test_a_quarter_per_cent_is_a_quart_in_a_hundred_gallons() -> None:
    """0.25 % is 1 qt in 100 gal and 1 pt in 50 gal, as the Pacific Northwest handbook prints it."""
    shares = [parse_quantity(t, kind="percent of volume").si for t in ("0.25 %", "1 qt/100 gal", "1 pt/50 gal")]
    assert shares == pytest.approx([0.0025] * 3, rel=1e-14)


@pytest.mark.parametrize("name", sorted(_UNITS))
def test_every_spelling_names_its_unit(name: str) -> None:
    """Every spelling, in small and in capital letters, is read as the unit it spells."""
    kind, factor, others = _UNITS[name]
    for spelling in (name, *others):
        for written in (spelling, spelling.upper(), spelling.title()):
            assert parse_quantity(f"2 {written}", kind=kind) == Quantity(2.0, name, kind, 2.0 * factor)


def test_an_amount_knows_what_is_poured_or_weighed() -> None:
    """The unit of what goes into the jug is the part before the stroke."""
    for text, unit in {
        "32 fl oz/ac": "fl oz",
        "17 lb/100 gal": "lb",
        "2 dry oz/ac": "dry oz",
        "2 lb ae/ac": "lb ae",
    }.items():
        assert parse_quantity(text, kind=RATES).amount_unit == unit


def refused(text: str, kind: Kind | tuple[Kind, ...], what: str = "--boom") -> str:
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, kind=kind, what=what)
    message = str(caught.value)
    assert isinstance(caught.value, CallError)
    assert isinstance(caught.value, GladebookError)
    assert isinstance(caught.value, ValueError)
    assert message.startswith(f"{what}: ")
    assert message.endswith(".")
    assert "\n" not in message.replace(text, "")
    return message


@pytest.mark.parametrize("text", ["12", "12.5", " 7 ", "1/2", "1-1/2", "1e3", "0"])
def test_a_bare_number_is_asked_back(text: str) -> None:
    """A number without a unit is refused, and the message shows it with an example to copy."""
    message = refused(text, "length")
    assert f'"{text}" has no unit' in message
    assert 'write it like "12 ft"' in message


@pytest.mark.parametrize("text", ["1,500 ft", "1,5 ft", "1.500,5 ft", "12,000", "1 ,5 ft", "1,", "1,5"])
def test_a_comma_is_refused(text: str) -> None:
    """A comma may mean thousands or tenths, a thousandfold apart, so it is refused by name."""
    assert "has a comma" in refused(text, "length")


def test_a_comma_below_the_stroke_is_refused() -> None:
    """A comma in "per 1,000 sq ft" is not read as one or as a thousand."""
    message = refused("2 lb/1,000 sq ft", "weight per area")
    assert '"2 lb/1,000 sq ft"' in message
    assert '"50 lb/ac"' in message


@pytest.mark.parametrize(
    "text",
    ["", " ", "ft", "about 12 ft", "twelve feet", "~12 ft", "<3 ft", "-", "/", "%", "nan ft", "inf ft", "(12) ft"],
)
def test_what_does_not_start_with_a_number_is_refused(text: str) -> None:
    """Text that does not start with a number is refused, and an example is given."""
    message = refused(text, "length")
    assert "does not start with a number" in message
    assert '"12 ft"' in message


@pytest.mark.parametrize(
    "text",
    [
        "12 parsecs",
        "12 f t",
        "1_000 ft",
        "1 000 ft",
        "1.2.3 ft",
        "10-20 ft",
        "10 to 20 ft",
        "12 ft 6 in",
        "12' 6\"",
        "0x10 ft",
        "1/2/3 ft",
        "12 ft;",
        "1½ ft",
        "12 ft ± 1",
        "5 ft/",
        "5 /ft",
    ],
)
def test_an_unknown_unit_is_refused(text: str) -> None:
    """What follows the number must be one unit that is known, whole, or it is refused."""
    message = refused(text, "length")
    assert f'"{text}"' in message
    assert '"12 ft"' in message


@pytest.mark.parametrize("text", ["1/0 ft", "1 1/0 ft", "1e400 ft", "9" * 70 + "e999 ft"])
def test_what_is_no_number_is_refused(text: str) -> None:
    """A fraction over nothing, or a number beyond any, is refused."""
    assert "is not a number that can be used" in refused(text, "length")


@pytest.mark.parametrize("text", ["1e308 mi", "1e308 ac", "1e308 ton"])
def test_an_amount_too_large_for_its_unit_is_refused(text: str) -> None:
    """A number so large that its SI value is infinite is refused: infinity is no amount."""
    with pytest.raises(QuantityError):
        parse_quantity(text, kind=("length", "speed", "area", "weight"))


@pytest.mark.parametrize(
    ("text", "value"),
    [("-1/2 ft", -0.5), ("-1 1/2 ft", -1.5), ("-1-1/2 ft", -1.5), ("+1 1/2 ft", 1.5), ("-12 ft", -12)],
)
def test_a_sign_holds_for_the_whole_number(text: str, value: float) -> None:
    """A minus before a mixed number is meant for all of it: it is read so, or refused, never read as less."""
    try:
        quantity = parse_quantity(text, kind="length")
    except QuantityError:
        return
    assert quantity.value == value


@pytest.mark.parametrize(
    ("text", "kind", "found", "example"),
    [
        ("12 ft", "area", "length", "2.3 ac"),
        ("2 ac", "length", "area", "12 ft"),
        ("25 gal", "volume per area", "volume", "15 gal/ac"),
        ("15 gal/ac", "volume", "volume per area", "25 gal"),
        ("10 lb", "volume", "weight", "25 gal"),
        ("1 %", "volume per area", "percent of volume", "15 gal/ac"),
        ("17 lb/100 gal", "weight per area", "weight per volume", "50 lb/ac"),
        ("4 mph", "time", "speed", "10 s"),
        ("10 min", "speed", "time", "4 mph"),
    ],
)
def test_the_wrong_kind_is_refused(text: str, kind: Kind, found: str, example: str) -> None:
    """An amount of the wrong kind is refused with what it is and what belongs here."""
    message = refused(text, kind)
    assert f'"{text}" is a {found}' in message
    assert f'"{example}"' in message


@pytest.mark.parametrize(
    ("text", "kind"), [("16 oz", "volume"), ("16 oz/ac", "volume per area"), ("4 ounces", "volume")]
)
def test_ounces_by_weight_are_no_fluid_ounces(text: str, kind: Kind) -> None:
    """An ounce is a weight and never stands in for a fluid ounce; the message says how to write the other."""
    message = refused(text, kind)
    assert '"fl oz"' in message
    assert "weight" in message


@pytest.mark.parametrize(("text", "kind"), [("16 fl oz", "weight"), ("16 fl oz/ac", "weight per area")])
def test_fluid_ounces_are_no_weight(text: str, kind: Kind) -> None:
    """A fluid ounce is a volume and never stands in for an ounce by weight."""
    assert "is a volume" in refused(text, kind)


def test_an_ounce_and_a_fluid_ounce_per_acre_are_told_apart_where_both_may_stand() -> None:
    """Where a product may be dry or liquid, each text keeps the kind it was written with."""
    assert parse_quantity("16 dry oz/ac", kind=RATES).kind == "weight per area"
    assert parse_quantity("16 fl oz/ac", kind=RATES).kind == "volume per area"


@pytest.mark.parametrize("text", ["2 oz/ac", "2 oz/A", "2 ounces per acre", "2 oz/1000 sq ft", "2 oz/100 gal"])
def test_a_bare_ounce_is_asked_back_where_it_may_mean_either(text: str) -> None:
    """Where dry and liquid products may stand, "oz" is asked back, with both ways to write it."""
    message = refused(text, RATES)
    assert "may mean fluid ounces or ounces by weight" in message
    assert '"fl oz/' in message
    assert '"dry oz/' in message


@pytest.mark.parametrize(
    ("text", "basis", "unit"),
    [
        ("0.94 lb ai/ac", "ai", "lb ai/ac"),
        ("0.5 lb a.e./A", "ae", "lb ae/ac"),
        ("1.5 lb salt per acre", "salt", "lb salt/ac"),
        ("1 lb/ac", "", "lb/ac"),
    ],
)
def test_a_weight_knows_what_it_counts(text: str, basis: str, unit: str) -> None:
    """Active ingredient, acid equivalent, salt and product are told apart, however they are spelled."""
    found = parse_quantity(text, kind=RATES)
    assert (found.basis, found.unit) == (basis, unit)
    assert parse_quantity(str(found), kind=RATES) == found


def test_only_a_weight_counts_an_ingredient() -> None:
    """A volume of acid equivalent means nothing and is refused."""
    assert "counts ae" in refused("3 fl oz ae/ac", RATES)


@pytest.mark.parametrize(
    ("one", "other"),
    [("16 fl oz/ac", "16 dry oz/ac"), ("1 lb ae/ac", "1 lb salt/ac"), ("1 lb ai/ac", "1 lb/ac"), ("1 %", "1 gal/ac")],
)
def test_what_is_not_of_one_kind_cannot_be_added(one: str, other: str) -> None:
    """A volume and a weight, acid equivalent and salt, an ingredient and its product are never added."""
    with pytest.raises(QuantityError, match="cannot be added"):
        parse_quantity(one, kind=RATES) + parse_quantity(other, kind=RATES)


@pytest.mark.parametrize(
    ("one", "other", "total"),
    [("16 fl oz/ac", "1 pt/ac", 32.0), ("0 fl oz/ac", "1 pt/ac", 16.0), ("0.5 lb ae/ac", "0.25 lb ae/ac", 0.75)],
)
def test_what_is_of_one_kind_adds_up(one: str, other: str, total: float) -> None:
    """A sum stands in the unit of its first amount."""
    found = parse_quantity(one, kind=RATES) + parse_quantity(other, kind=RATES)
    assert found.value == pytest.approx(total, rel=1e-12)
    assert found.unit == parse_quantity(one, kind=RATES).unit


def test_per_thousand_square_feet_is_not_per_acre() -> None:
    """One per 1,000 square feet is 43.56 times one per acre: 43,560 / 1,000."""
    small, acre = (parse_quantity(t, kind=RATES).si for t in ("2 fl oz/1000 sq ft", "2 fl oz/ac"))
    assert small / acre == pytest.approx(43.56, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "celsius"),
    [("32 F", 0.0), ("212 F", None), ("-40 F", -40.0), ("50 °F", 10.0), ("17.5 C", 17.5), ("−4 C", -4.0)],
)
def test_temperatures_keep_their_scale(text: str, celsius: float | None) -> None:
    """32 F is 0 C and -40 is the same on both (definition of the scales); air of 212 F is refused."""
    if celsius is None:
        with pytest.raises(QuantityError, match="no temperature of the air"):
            celsius_from(text)
    else:
        assert celsius_from(text) == pytest.approx(celsius, abs=1e-9)
        assert celsius_from(f"{fahrenheit(celsius):.6f} F") == pytest.approx(celsius, abs=1e-5)


@pytest.mark.parametrize(("text", "word"), [("62", "F or C"), ("warm", "no temperature"), ("62 K", "no temperature")])
def test_a_temperature_without_its_scale_is_asked_back(text: str, word: str) -> None:
    """A number alone may be F or C, so it is asked back."""
    with pytest.raises(QuantityError, match=word):
        celsius_from(text, what="--temperature")


@pytest.mark.parametrize("text", ["5 ft/s/s", "5 ac/gal", "5 ft/ac", "5 lb/0 gal", "5 lb/lb", "5 mph/ac"])
def test_a_rate_that_means_nothing_is_refused(text: str) -> None:
    """Amounts divided by what they cannot be spread over are refused."""
    refused(text, RATES)


def test_every_kind_that_may_stand_here_is_offered() -> None:
    """Where several kinds may stand, the message shows one example of each."""
    message = refused("5", RATES, what="--product")
    for example in ("15 gal/ac", "50 lb/ac", "1 %", "17 lb/100 gal"):
        assert f'"{example}"' in message


def test_long_text_is_cut_in_the_message() -> None:
    """A whole file pasted in place of an amount is refused in one short line."""
    message = refused("9" * 5000, "length")
    assert len(message) < 250
