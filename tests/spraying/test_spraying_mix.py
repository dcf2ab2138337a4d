"""The mix by loads, against worked jobs and printed figures."""

import math

import pytest

from gladebook.errors import GladebookError, InputError, MixError
from gladebook.spraying.mix import plan_mix
from gladebook.spraying.recipe import Product
from gladebook.units import ACRE_M2, GAL_M3, Kind, parse_quantity
from tests.spraying.amounts import amounts, job, product, quantity

CLETHODIM = product("clethodim", "32 fl oz/ac")
OIL = product("crop oil", "1 %")
SULFATE = product("ammonium sulfate", "17 lb/100 gal")
ROUNDING = 1e-12


def test_the_worked_job_to_every_printed_digit() -> None:
    """4.3 ac at 15 gal/ac from a 25 gal tank: two full loads and 14.5 gal, each product to the printed digit."""
    # worked job (arithmetic from the stated inputs): volume = area x rate; product by area, by per cent of
    # volume, by pounds per 100 gallons
    mix = job(4.3, CLETHODIM, OIL, SULFATE)
    assert mix.spray_m3 / GAL_M3 == pytest.approx(64.5, rel=ROUNDING)
    assert [load.number for load in mix.loads] == [1, 2, 3]
    assert [load.spray_m3 / GAL_M3 for load in mix.loads] == pytest.approx([25, 25, 14.5], rel=ROUNDING)
    assert [round(load.area_m2 / ACRE_M2, 4) for load in mix.loads] == [1.6667, 1.6667, 0.9667]
    rounded = [{name: round(amount, 3) for name, amount in load.items()} for load in amounts(mix)]
    full = {"clethodim": 53.333, "crop oil": 32.0, "ammonium sulfate": 4.25}
    assert rounded == [full, full, {"clethodim": 30.933, "crop oil": 18.56, "ammonium sulfate": 2.465}]
    assert [(t.name, round(t.amount, 3), t.unit) for t in mix.totals] == [
        ("clethodim", 137.6, "fl oz"),
        ("crop oil", 82.56, "fl oz"),
        ("ammonium sulfate", 10.965, "lb"),
    ]
    assert mix.sump_m3 == 0.0
    assert mix.area_m2 / ACRE_M2 == pytest.approx(4.3, rel=ROUNDING)


def test_water_is_what_the_liquids_leave() -> None:
    """A full load of 25 gal with 53.33 and 32 fl oz of liquids has 24.333 gal of water; dry products take no room."""
    first = job(4.3, CLETHODIM, OIL, SULFATE).loads[0]
    assert first.water_m3 / GAL_M3 == pytest.approx(25 - (160 / 3 + 32) / 128, rel=ROUNDING)
    dry = job(4.3, SULFATE).loads[0]
    assert dry.water_m3 == dry.mixed_m3


@pytest.mark.parametrize(
    ("rate", "tank_gal", "amount", "unit"),
    [
        ("0.25 %", 25, 8.0, "fl oz"),  # worked: surfactant at 0.25 % in 25 gal
        ("0.25 %", 100, 32.0, "fl oz"),  # a quart in 100 gal, as printed
        ("0.25 %", 50, 16.0, "fl oz"),  # a pint in 50 gal, as printed
        ("1 qt/100 gal", 100, 1.0, "qt"),
        ("1 pt/50 gal", 50, 1.0, "pt"),
        ("2 %", 3, 7.68, "fl oz"),  # worked: 2 % of 3 gal
        ("17 lb/100 gal", 25, 4.25, "lb"),
        ("8.5 lb/100 gal", 100, 8.5, "lb"),
    ],
)
def test_by_volume_a_load_takes_its_share_of_the_tank(rate: str, tank_gal: float, amount: float, unit: str) -> None:
    """A product by per cent or per 100 gallons goes by the load's volume, whatever the acres."""
    for gpa in (7.5, 15.0, 40.0):
        mix = job(tank_gal / gpa, product("adjuvant", rate), gpa=gpa, tank_gal=tank_gal)
        (total,) = mix.totals
        assert total.amount == pytest.approx(amount, rel=ROUNDING)
        assert total.unit == unit


@pytest.mark.parametrize(
    ("rate", "gpa", "per_gallon", "unit"),
    [
        ("1 qt/ac", 40, 0.8 / 32, "qt"),  # published backpack example: 40 gal/ac, 1 qt/ac -> 0.8 fl oz a gallon
        ("8 fl oz/ac", 7.5, 8 / 7.5, "fl oz"),  # published: 7.5 gal/ac, 8 oz/ac -> 1.07 oz a gallon
    ],
)
def test_by_area_a_gallon_takes_rate_over_volume(rate: str, gpa: float, per_gallon: float, unit: str) -> None:
    """A product by area puts rate over gallons per acre into each gallon."""
    (total,) = job(1 / gpa, product("product", rate), gpa=gpa, tank_gal=1.0).totals
    assert total.amount == pytest.approx(per_gallon, rel=ROUNDING)
    assert total.unit == unit


def test_a_backpack_of_three_gallons() -> None:
    """8 fl oz/ac at 7.5 gal/ac is 3.2 fl oz in a 3 gal backpack (published worksheet)."""
    full = job(2.0, product("product", "8 fl oz/ac"), gpa=7.5, tank_gal=3.0).loads[0]
    assert full.products[0].amount == pytest.approx(3.2, rel=ROUNDING)


def test_a_growing_plot_of_a_tenth_of_an_acre() -> None:
    """A tenth of an acre at 15 gal/ac is one partial load of 1.5 gal."""
    (load,) = job(0.1, CLETHODIM).loads
    assert load.spray_m3 / GAL_M3 == pytest.approx(1.5, rel=ROUNDING)
    assert load.products[0].amount == pytest.approx(3.2, rel=ROUNDING)


@pytest.mark.parametrize(
    ("acres", "gpa", "tank_gal", "loads"), [(5.0, 15, 25, 3), (1.0, 25, 25, 1), (10, 10, 25, 4), (0.3, 15, 1.5, 3)]
)
def test_exact_multiples_have_no_partial_load(acres: float, gpa: float, tank_gal: float, loads: int) -> None:
    """A job that fills the tank a whole number of times has only full loads, also where tenths do not add up."""
    mix = job(acres, CLETHODIM, gpa=gpa, tank_gal=tank_gal)
    assert [load.spray_m3 / GAL_M3 for load in mix.loads] == pytest.approx([tank_gal] * loads, rel=1e-9)


def test_a_partial_load_is_no_stronger_than_a_full_one() -> None:
    """The last load has its own recipe: as strong as the full ones, not a full load's product in less water."""
    mix = job(4.3, CLETHODIM, OIL, SULFATE)
    strengths = [[a.amount / load.mixed_m3 for a in load.products] for load in mix.loads]
    assert strengths[2] == pytest.approx(strengths[0], rel=ROUNDING)


def test_the_job_where_ground_was_missed_and_covered_twice() -> None:
    """4.0 ac with 0.30 missed and 0.50 twice takes 63.0 gal and 134.4 fl oz, not 60 and 128; twice is 64 fl oz/ac."""
    # worked accounting (arithmetic): swept 4.0 - 0.30 + 0.50 = 4.20 ac
    planned, swept = job(4.0, CLETHODIM), job(4.0 - 0.30 + 0.50, CLETHODIM)
    assert planned.spray_m3 / GAL_M3 == pytest.approx(60, rel=ROUNDING)
    assert swept.spray_m3 / GAL_M3 == pytest.approx(63.0, rel=ROUNDING)
    assert planned.totals[0].amount == pytest.approx(128, rel=ROUNDING)
    assert swept.totals[0].amount == pytest.approx(134.4, rel=ROUNDING)
    (twice,) = planned.overlaps
    assert (twice.name, twice.unit) == ("clethodim", "fl oz/ac")
    assert twice.twice == pytest.approx(64, rel=ROUNDING)


@pytest.mark.parametrize(
    ("rate", "maximum", "over"),
    [
        ("32 fl oz/ac", "64 fl oz/ac", False),  # twice the rate is the maximum: not over it
        ("32 fl oz/ac", "63.9 fl oz/ac", True),
        ("32 fl oz/ac", "32 fl oz/ac", True),
        ("1 pt/ac", "1 qt/ac", False),
        ("1 pt/ac", "31 fl oz/ac", True),
        ("1 %", "38.4 fl oz/ac", False),  # 1 % of 15 gal is 19.2 fl oz an acre
        ("1 %", "38 fl oz/ac", True),
        ("17 lb/100 gal", "5.1 lb/ac", False),  # 2.55 lb an acre
        ("17 lb/100 gal", "5 lb/ac", True),
        ("4 dry oz/ac", "0.5 lb/ac", False),  # 8 oz are half a pound
        ("32 fl oz/ac", "4 %", False),  # 4 % of 15 gal are 76.8 fl oz an acre
    ],
)
def test_ground_covered_twice_is_held_against_the_maximum(rate: str, maximum: str, over: bool) -> None:
    """Twice the rate is compared with the single maximum in one unit, by area or by volume, and said when over."""
    mix = job(4.3, product("product", rate, maximum))
    (twice,) = mix.overlaps
    assert twice.over is over
    assert twice.maximum is not None
    assert (twice.twice > twice.maximum * (1 + 1e-9)) is over
    warned = [note for note in mix.notices if "Do not overlap" in note]
    assert len(warned) == over
    if over:
        assert "product: ground covered twice" in warned[0]
        assert "single maximum" in warned[0]


def test_without_a_maximum_twice_the_rate_is_still_said() -> None:
    """Where no maximum is given, twice the rate is said with the advice to compare it with the label."""
    mix = job(4.3, CLETHODIM)
    assert mix.overlaps[0].over is None
    assert mix.overlaps[0].maximum is None
    assert any("64 fl oz/ac" in note and "label" in note and "--maximum" in note for note in mix.notices)


@pytest.mark.parametrize(
    ("rate", "maximum"),
    [
        ("33 fl oz/ac", "32 fl oz/ac"),
        ("1.1 qt/ac", "1 qt/ac"),
        ("2 pt/ac", "31 fl oz/ac"),
        ("1 %", "19 fl oz/ac"),
        ("17 lb/100 gal", "2.5 lb/ac"),
        ("2 dry oz/ac", "0.1 lb/ac"),
        ("32.001 fl oz/ac", "32 fl oz/ac"),
        ("20 fl oz/ac", "1 %"),
    ],
)
def test_a_rate_over_the_maximum_is_refused(rate: str, maximum: str) -> None:
    """A rate over the maximum that the user gave is refused: the label is the law, and nothing is mixed."""
    with pytest.raises(MixError) as caught:
        job(4.3, CLETHODIM, product("grass killer", rate, maximum))
    message = str(caught.value)
    assert isinstance(caught.value, InputError)
    assert isinstance(caught.value, GladebookError)
    assert message.startswith("grass killer: ")
    assert maximum in message
    assert "label" in message


def test_a_refusal_shows_two_different_figures() -> None:
    """Where a rate is over its maximum by little, the message shows both with the digits that tell them apart."""
    with pytest.raises(MixError) as caught:
        job(4.3, product("grass killer", "32.00001 fl oz/ac", "32 fl oz/ac"))
    assert "32.00001 fl oz/ac" in str(caught.value)


@pytest.mark.parametrize(
    ("rate", "maximum"),
    [("32 fl oz/ac", "32 fl oz/ac"), ("1 qt/ac", "32 fl oz/ac"), ("1 %", "19.2 fl oz/ac"), ("16 dry oz/ac", "1 lb/ac")],
)
def test_a_rate_at_the_maximum_is_mixed(rate: str, maximum: str) -> None:
    """A rate that is exactly the maximum is allowed, whatever the units."""
    assert job(4.3, product("product", rate, maximum)).loads


@pytest.mark.parametrize(
    ("rate", "maximum"), [("32 fl oz/ac", "2 lb/ac"), ("2 dry oz/ac", "16 fl oz/ac"), ("1 %", "5 lb/100 gal")]
)
def test_weights_and_volumes_are_not_compared(rate: str, maximum: str) -> None:
    """A volume has no maximum by weight and the other way round: that is refused, not guessed."""
    with pytest.raises(MixError) as caught:
        job(4.3, product("product", rate, maximum))
    assert "weight or volume" in str(caught.value)


@pytest.mark.parametrize(
    ("text", "kind"),
    [("25 gal", "volume"), ("10 lb", "weight"), ("2 ac", "area"), ("12 ft", "length"), ("10 s", "time")],
)
def test_a_rate_that_is_no_rate_is_refused(text: str, kind: Kind) -> None:
    """A product given as a plain amount, not per area or volume, is refused rather than multiplied by anything."""
    amount = parse_quantity(text, kind=kind)
    with pytest.raises(MixError):
        job(4.3, Product("product", amount))
    with pytest.raises(MixError):
        job(4.3, Product("product", quantity("32 fl oz/ac"), maximum=amount))


def test_the_sump_is_mixed_once() -> None:
    """What the pump cannot draw is mixed once, in the first load, and makes every later fill smaller by it."""
    mix = job(4.3, CLETHODIM, OIL, sump_gal=1.0)
    # 24 gal of 25 can be drawn: 64.5 = 24 + 24 + 16.5
    assert [load.spray_m3 / GAL_M3 for load in mix.loads] == pytest.approx([24, 24, 16.5], rel=ROUNDING)
    assert [load.mixed_m3 / GAL_M3 for load in mix.loads] == pytest.approx([25, 24, 16.5], rel=ROUNDING)
    # by area: 64.5 + 1 gal at 15 gal/ac is enough for 4.3667 ac
    assert mix.totals[0].amount == pytest.approx(32 * 65.5 / 15, rel=ROUNDING)
    assert mix.totals[1].amount == pytest.approx(0.01 * 128 * 65.5, rel=ROUNDING)
    assert mix.sump_m3 / GAL_M3 == pytest.approx(1.0)
    assert mix.spray_m3 / GAL_M3 == pytest.approx(64.5)
    assert any("1 gal stays in the sump" in note and "0.07 ac" in note for note in mix.notices)


def test_several_plots_share_the_loads_in_order() -> None:
    """Plots are sprayed in the order given; a plot may take the end of one load and the start of the next."""
    mix = job([("North Glade", 1.0), ("Creek Bend", 1.5), ("Pine Flat", 0.4)], CLETHODIM)
    stops = [
        [(s.name, round(s.area_m2 / ACRE_M2, 4), round(s.left_m3 / GAL_M3, 4)) for s in load.stops]
        for load in mix.loads
    ]
    # 25 gal: 15 for the first, 10 for 0.6667 ac of the second; 18.5 gal: 12.5 for the rest of it, 6 for the third
    assert stops == [
        [("North Glade", 1.0, 10.0), ("Creek Bend", 0.6667, 0.0)],
        [("Creek Bend", 0.8333, 6.0), ("Pine Flat", 0.4, 0.0)],
    ]


def test_a_plot_without_acres_has_no_stop() -> None:
    """A plot of no acres is passed by, and the others get theirs."""
    mix = job([("Gone", 0.0), ("North Glade", 1.0), ("Gone too", 0.0)], CLETHODIM)
    assert [[s.name for s in load.stops] for load in mix.loads] == [["North Glade"]]


def test_a_rate_per_thousand_square_feet_is_told_per_acre_too() -> None:
    """2 fl oz per 1,000 sq ft are 87.1 fl oz/ac (43.56 times as much), and that is said, for it is easily misread."""
    mix = job(1.0, product("small print", "2 fl oz/1000 sq ft"))
    assert any("87.1 fl oz/ac" in note for note in mix.notices)
    assert mix.totals[0].amount == pytest.approx(2 * 43.56, rel=ROUNDING)


def test_pounds_of_an_ingredient_are_not_poured() -> None:
    """A rate, or a maximum, that counts the ingredient needs the strength: what is in the jug is something else."""
    for rates in (("0.125 lb ai/ac",), ("8 fl oz/ac", "0.25 lb ai/ac")):
        with pytest.raises(MixError, match="--strength"):
            job(1.0, product("clethodim", *rates))


def test_amounts_keep_the_unit_they_were_given_in() -> None:
    """A product in pints comes out in pints, in grams in grams; a per cent comes out in fluid ounces."""
    rates = {"a": "1.5 pt/ac", "b": "1 qt/ac", "c": "200 g/ha", "d": "2 L/ha", "e": "0.5 %", "f": "2 dry oz/100 gal"}
    units = [t.unit for t in job(4.3, *[product(name, rate) for name, rate in rates.items()]).totals]
    assert units == ["pt", "qt", "g", "L", "fl oz", "dry oz"]


def test_a_mix_without_products_is_water() -> None:
    """A job without products is loads of water, as for calibrating."""
    mix = job(4.3)
    assert mix.totals == ()
    assert [load.water_m3 for load in mix.loads] == [load.mixed_m3 for load in mix.loads]
    assert mix.cautions


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"gpa": 0.0}, "Gallons per acre"),
        ({"gpa": -15.0}, "Gallons per acre"),
        ({"tank_gal": 0.0}, "tank"),
        ({"tank_gal": -1.0}, "tank"),
        ({"sump_gal": -0.5}, "sump"),
        ({"sump_gal": 25.0}, "sump"),
        ({"sump_gal": 30.0}, "sump"),
        ({"tank_gal": 0.0001}, "loads"),
    ],
)
def test_a_job_that_makes_no_sense_is_refused(change: dict[str, float], word: str) -> None:
    """A rate, tank or sump that cannot be is refused by name."""
    with pytest.raises(MixError) as caught:
        job(4.3, CLETHODIM, **change)
    assert word in str(caught.value)


@pytest.mark.parametrize("acres", [0.0, -1.0])
def test_no_acres_are_refused(acres: float) -> None:
    """A job without acres, or with less than none, is refused."""
    with pytest.raises(MixError, match="acres"):
        job(acres, CLETHODIM)


def test_acres_below_zero_are_refused_by_name() -> None:
    """A plot of less than no acres is refused by its name, also where the sum is above zero."""
    with pytest.raises(MixError, match="Creek Bend"):
        job([("North Glade", 5.0), ("Creek Bend", -1.0)], CLETHODIM)


def test_no_plots_are_refused() -> None:
    """A job without any plot is refused."""
    with pytest.raises(MixError, match="acres"):
        job([], CLETHODIM)


@pytest.mark.parametrize("bad", [math.nan, math.inf])
@pytest.mark.parametrize("where", ["acres", "gpa", "tank_gal", "sump_gal"])
def test_what_is_no_number_is_refused(where: str, bad: float) -> None:
    """Acres, rate, tank or sump that are not a number, or endless, are refused and never turn into loads."""
    given = {"acres": 4.3, "gpa": 15.0, "tank_gal": 25.0, "sump_gal": 0.0, where: bad}
    with pytest.raises(MixError):
        plan_mix(
            [("Plot 1", given["acres"] * ACRE_M2)],
            rate_m=given["gpa"] * GAL_M3 / ACRE_M2,
            tank_m3=given["tank_gal"] * GAL_M3,
            products=[CLETHODIM],
            sump_m3=given["sump_gal"] * GAL_M3,
        )


@pytest.mark.parametrize("rate", ["0 fl oz/ac", "-5 fl oz/ac", "0 %"])
def test_a_rate_of_nothing_is_refused(rate: str) -> None:
    """A product of nothing, or less, is refused by name."""
    with pytest.raises(MixError, match=r"^oil: "):
        job(4.3, product("oil", rate))
    with pytest.raises(MixError, match=r"^clethodim: "):
        job(4.3, product("clethodim", "32 fl oz/ac", "0 fl oz/ac"))


def test_a_product_given_twice_is_refused() -> None:
    """The same product twice, in any case of letters, is refused: its rates would add up unseen."""
    with pytest.raises(MixError, match="twice"):
        job(4.3, CLETHODIM, product("Clethodim", "16 fl oz/ac"))


@pytest.mark.parametrize("rate", ["100 %", "150 %", "15 gal/ac", "20 gal/ac", "1 gal/gal"])
def test_products_that_leave_no_room_for_water_are_refused(rate: str) -> None:
    """Products that would fill the tank alone are refused."""
    with pytest.raises(MixError, match=r"water"):
        job(4.3, product("oil", rate))


def test_products_that_fill_the_tank_together_are_refused() -> None:
    """Products that fill the tank only together are refused too."""
    with pytest.raises(MixError, match=r"water"):
        job(4.3, product("a", "60 %"), product("b", "6 gal/ac"))
