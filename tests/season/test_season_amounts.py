"""Single and season maximum, interval: on published limits, worked by hand."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gladebook.season.checks.amounts import check_interval, check_season, check_single
from tests.season.cases import DAY, case, label, only, planned, sprayed

PNW = "Pacific Northwest Weed Management Handbook, alfalfa"


def sethoxydim(**cells: str):
    """PNW alfalfa: at most 0.94 lb ai a season; 1.5 lb ai/gal."""
    return label(
        product="Other grass spray",
        ingredient="sethoxydim",
        strength="1.5 lb ai/gal",
        season_max="0.94 lb ai/ac",
        **cells,
    )


@pytest.mark.parametrize(
    ("before", "each", "word"),
    [
        (1, "0.47", "fine"),  # 2 x 0.47 = 0.94, exactly the limit
        (2, "0.28", "fine"),  # 3 x 0.28 = 0.84
        (3, "0.28", "stop"),  # 4 x 0.28 = 1.12
        (2, "0.47", "stop"),  # 3 x 0.47 = 1.41
    ],
)
def test_a_season_cap_in_ingredient_counts_all_applications(before: int, each: str, word: str) -> None:
    """Sethoxydim's cap of 0.94 lb ai (PNW alfalfa): two of 0.47 pass exactly, a fourth of 0.28 fails."""
    jug = sethoxydim()
    at = f"{float(each) / 1.5 * 128!r} fl oz/ac"
    history = tuple(sprayed(DAY - timedelta(days=30 * n), of=jug, at=at) for n in range(1, before + 1))
    found = only(check_season(case(planned(jug, at=at), history=history)), "season maximum")
    assert found.word == word, found.reason
    assert found.source == "your label"


@pytest.mark.parametrize(("days", "word"), [(59, "stop"), (60, "fine"), (61, "fine")])
def test_an_interval_is_kept_to_the_day(days: int, word: str) -> None:
    """Flumioxazin's 60 days between applications (PNW alfalfa): 59 days fail, 60 pass."""
    jug = label(
        product="Soil spray", ingredient="flumioxazin", strength="51 % by weight", interval="60 days", kills="broadleaf"
    )
    history = (sprayed(DAY - timedelta(days=days), of=jug, at="4 dry oz/ac"),)
    assert only(check_interval(case(planned(jug, at="4 dry oz/ac"), history=history)), "interval").word == word


@pytest.mark.parametrize(("before", "word"), [(1, "fine"), (2, "stop")])
def test_a_cap_in_dry_product_is_summed_in_it(before: int, word: str) -> None:
    """Flumioxazin's cap of 8 oz of product (PNW alfalfa): two of 4 oz pass exactly, a third fails."""
    jug = label(
        product="Soil spray",
        ingredient="flumioxazin",
        strength="51 % by weight",
        season_max="8 dry oz/ac",
        kills="broadleaf",
    )
    history = tuple(sprayed(DAY - timedelta(days=70 * n), of=jug, at="4 dry oz/ac") for n in range(1, before + 1))
    assert only(check_season(case(planned(jug, at="4 dry oz/ac"), history=history)), "season maximum").word == word


@pytest.mark.parametrize(("before", "word"), [(3, "fine"), (4, "stop")])
def test_applications_are_counted(before: int, word: str) -> None:
    """Clethodim's 4 applications a year (PNW cucurbits): the fourth passes, a fifth fails, whatever the ounces."""
    jug = label(most_applications="4", strength="1 lb ai/gal", season_max="64 fl oz/ac")
    history = tuple(sprayed(DAY - timedelta(days=20 * n), of=jug) for n in range(1, before + 1))
    assert only(check_season(case(planned(jug), history=history)), "applications a season").word == word


def test_sixty_four_ounces_are_the_most_of_a_one_pound_product() -> None:
    """Clethodim's 64 fl oz a year (PNW cucurbits): 4 of 16 pass exactly, 5 of 13 fail."""
    jug = label(strength="1 lb ai/gal", season_max="64 fl oz/ac")
    for each, before, word in (("16 fl oz/ac", 3, "fine"), ("13 fl oz/ac", 4, "stop")):
        history = tuple(sprayed(DAY - timedelta(days=20 * n), of=jug, at=each) for n in range(1, before + 1))
        assert only(check_season(case(planned(jug, at=each), history=history)), "season maximum").word == word


def test_the_same_ingredient_in_another_jug_counts() -> None:
    """16 fl oz of a 1 lb product and 8 fl oz of a 2 lb product are each 0.125 lb ai: together 0.25 (arithmetic)."""
    mine = label(season_max="0.2 lb ai/ac")
    other = label(product="Weak grass spray", strength="1 lb ai/gal")
    history = (sprayed(DAY - timedelta(days=90), of=other, at="16 fl oz/ac"),)
    found = only(check_season(case(planned(mine), history=history)), "season maximum")
    assert found.word == "stop"
    assert "0.25 lb ai/ac" in found.reason
    in_product = label(season_max="12 fl oz/ac")
    found = only(check_season(case(planned(in_product), history=history)), "season maximum")
    assert found.word == "stop"
    assert "16 fl oz/ac" in found.reason


def test_acid_equivalent_and_salt_are_not_summed() -> None:
    """Where one jug counts acid and the other salt the sum is not made, and that is said."""
    acid = label(
        product="Jug A",
        ingredient="glyphosate",
        strength="3 lb ae/gal",
        season_max="6 lb ae/ac",
        kills="grass; broadleaf",
    )
    salt = label(product="Jug B", ingredient="glyphosate", strength="4 lb salt/gal", kills="grass; broadleaf")
    history = (sprayed(DAY - timedelta(days=90), of=salt, at="1 qt/ac"),)
    found = only(check_season(case(planned(acid, at="1 qt/ac"), history=history)), "season maximum")
    assert found.word == "not checked"
    assert "salt" in found.reason


def test_a_limit_in_another_weight_is_not_checked() -> None:
    """A season's most in active ingredient with a strength in acid equivalent cannot be compared."""
    jug = label(strength="2 lb ae/gal", season_max="0.5 lb ai/ac")
    assert only(check_season(case(planned(jug))), "season maximum").word == "not checked"


def test_what_is_missing_is_told_and_what_is_over_stops_all_the_same() -> None:
    """A spray without its rate makes the sum unsure; where the rest is over already, it stops."""
    jug = label(season_max="0.2 lb ai/ac")
    unknown = sprayed(DAY - timedelta(days=5), of=jug, at=None)
    found = only(check_season(case(planned(jug), history=(unknown,))), "season maximum")
    assert found.word == "not checked"
    known = sprayed(DAY - timedelta(days=9), of=jug)
    found = only(check_season(case(planned(jug), history=(unknown, known))), "season maximum")
    assert found.word == "stop"


@pytest.mark.parametrize(("ago", "counts"), [(364, True), (365, False), (0, True), (-1, False)])
def test_a_season_is_the_last_365_days(ago: int, counts: bool) -> None:
    """365 days back hold the whole of the calendar year that is gone, so the stricter of the two counts."""
    jug = label(season_max="0.2 lb ai/ac")
    found = only(
        check_season(case(planned(jug), history=(sprayed(DAY - timedelta(days=ago), of=jug),))), "season maximum"
    )
    assert (found.word == "stop") is counts


@pytest.mark.parametrize(
    ("at", "most", "word"),
    [
        ("8 fl oz/ac", "16 fl oz/ac", "fine"),
        ("9 fl oz/ac", "16 fl oz/ac", "caution"),
        ("17 fl oz/ac", "16 fl oz/ac", "stop"),
        ("8 fl oz/ac", "0.25 lb ai/ac", "fine"),
        ("8 fl oz/ac", "0.125 lb ai/ac", "caution"),
        ("8 fl oz/ac", "0.1 lb ai/ac", "stop"),
        ("1 pt/ac", "16 fl oz/ac", "caution"),
    ],
)
def test_twice_the_rate_is_held_against_the_single_maximum(at: str, most: str, word: str) -> None:
    """Ground covered twice gets twice the rate: within the limit fine, over it a caution; one rate over it a stop."""
    assert only(check_single(case(planned(label(single_max=most), at=at))), "single maximum").word == word


def test_a_rate_by_percent_needs_the_gallons() -> None:
    """1 % at 15 gal/ac is 19.2 fl oz/ac (15 x 128 / 100): over 16, within 20; without gallons it is not checked."""
    from gladebook.units import parse_quantity

    per_acre = parse_quantity("15 gal/ac", kind="volume per area")
    jug = label(single_max="16 fl oz/ac")
    assert only(check_single(case(planned(jug, at="1 %"), per_acre=per_acre)), "single maximum").word == "stop"
    wide = label(single_max="40 fl oz/ac")
    assert only(check_single(case(planned(wide, at="1 %"), per_acre=per_acre)), "single maximum").word == "fine"
    assert only(check_single(case(planned(jug, at="1 %"))), "single maximum").word == "not checked"


@given(rates=st.lists(st.floats(0.5, 20), min_size=1, max_size=6), cap=st.floats(0.05, 2))
def test_a_sum_over_the_cap_always_stops_and_never_else(rates: list[float], cap: float) -> None:
    """It stops exactly where the ounces times 2 lb ai/gal come to more than the cap."""
    jug = label(season_max=f"{cap!r} lb ai/ac")
    history = tuple(
        sprayed(DAY - timedelta(days=20 * n), of=jug, at=f"{r!r} fl oz/ac") for n, r in enumerate(rates[1:], start=1)
    )
    found = only(check_season(case(planned(jug, at=f"{rates[0]!r} fl oz/ac"), history=history)), "season maximum")
    total = sum(rates) / 128 * 2
    if abs(total / cap - 1) > 1e-5:
        assert (found.word == "stop") is (total > cap)


def test_the_county_only_cautions() -> None:
    """A limit of the county's list cautions where the same on the user's label would stop."""
    county = label(whose="county list", single_max="4 fl oz/ac")
    found = only(check_single(case(planned(label(), county=county))), "single maximum")
    assert (found.word, found.source) == ("caution", "county list")
    own = label(single_max="16 fl oz/ac")
    assert only(check_single(case(planned(own, county=county))), "single maximum").source == "your label"


def test_a_day_in_the_future_is_no_last_spray() -> None:
    """A record of a later day does not count back."""
    jug = label(interval="14 days")
    assert check_interval(case(planned(jug), history=(sprayed(date(2027, 1, 1), of=jug),))) == []
