"""A row of label values: what is read, what stays empty, what is asked back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gladebook.errors import CallError
from gladebook.products.forage import FORAGES
from gladebook.products.label import plant_back_of
from gladebook.products.label_text import COLUMNS, label_from
from gladebook.units import IN_M, MPH_MPS

ROW = {
    "product": "Grass spray",
    "ingredient": "clethodim",
    "strength": "2 lb ai/gal",
    "rate_least": "6 fl oz/ac",
    "rate_most": "8 fl oz/ac",
    "single_max": "16 fl oz/ac",
    "season_max": "0.5 lb ai/ac",
    "most_applications": "4",
    "interval": "14 days",
    "crops": "white clover; crimson clover",
    "injured": "oat",
    "kills": "grass",
    "timing": "post",
    "weed_height_least": "2 in",
    "weed_height_most": "6 in",
    "rainfast": "1 h",
    "reentry": "24 h",
    "wind_least": "3 mph",
    "wind_most": "10 mph",
    "temperature_least": "45 F",
    "temperature_most": "85 F",
    "plant_back": "clover=30 days; corn = 1 month; other=9 months",
    "growth_regulator": "no",
    "group": "1",
}


def read(**cells: str):
    return label_from({**ROW, **cells}, what="labels.csv, line 2")


def test_a_row_is_read_with_its_units() -> None:
    """Every cell comes in with its unit, and what is empty stays empty."""
    label = read()
    assert str(label.season_max) == "0.5 lb ai/ac"
    assert label.weed_height_most_m == pytest.approx(6 * IN_M)
    assert label.wind_most_mps == pytest.approx(10 * MPH_MPS)
    assert label.temperature_least_c == pytest.approx((45 - 32) / 1.8)
    assert (label.rainfast_s, label.reentry_s) == (3600, 86_400)
    assert [f.name for f in label.crops] == ["white clover", "crimson clover"]
    assert (label.stand, label.adjuvant, label.till_wait, label.rain_needed_m) == ("", "", None, None)
    assert label.whose == "label"


def test_a_plant_back_goes_by_name_then_family_then_others() -> None:
    """Clover covers white clover, corn itself, and all others wait nine months."""
    label = read()
    assert str(plant_back_of(label, FORAGES["white clover"])) == "30 days"
    assert str(plant_back_of(label, FORAGES["corn"])) == "1 month"
    assert str(plant_back_of(label, FORAGES["rape"])) == "9 months"
    assert plant_back_of(read(plant_back="corn=7 days"), FORAGES["rape"]) is None


BAD = [
    ("product", ""),
    ("ingredient", ""),
    ("ingredient", "clethodim; 2,4-DB"),
    ("strength", "2 lb/gal"),
    ("strength", "2 gal"),
    ("strength", "151 % by weight"),
    ("strength", "-2 lb ai/gal"),
    ("whose", "neighbour"),
    ("rate_least", "9 fl oz/ac"),
    ("rate_most", "8 oz/ac"),
    ("rate_most", "-8 fl oz/ac"),
    ("rate_most", "17 fl oz/ac"),
    ("rate_least", "0.1 lb ai/ac"),
    ("single_max", "16 fl oz"),
    ("season_max", "half a pound"),
    ("most_applications", "2.5"),
    ("most_applications", "0"),
    ("interval", "14"),
    ("crops", "kudzu"),
    ("injured", "white clover; kudzu"),
    ("tolerated", "oat"),
    ("kills", "everything"),
    ("timing", "whenever"),
    ("weed_height_least", "7 in"),
    ("weed_height_most", "6 mph"),
    ("weed_height_most", "60 ft"),
    ("rainfast", "1 in"),
    ("rainfast", "-1 h"),
    ("reentry", "2000 h"),
    ("wind_most", "300 mph"),
    ("wind_least", "12 mph"),
    ("temperature_least", "45"),
    ("temperature_most", "40 F"),
    ("plant_back", "corn"),
    ("plant_back", "kudzu=3 days"),
    ("plant_back", "corn=3"),
    ("growth_regulator", "perhaps"),
    ("till_wait", "a week or so"),
    ("notes", "x" * 600),
]


@pytest.mark.parametrize(("column", "text"), BAD)
def test_a_cell_that_cannot_be_is_refused_with_its_row_and_column(column: str, text: str) -> None:
    """Wrong kinds, signs, sizes and contradictions get one sentence that names the row."""
    with pytest.raises(CallError) as caught:
        read(**{column: text})
    assert str(caught.value).startswith("labels.csv, line 2")


@given(column=st.sampled_from(sorted(COLUMNS)), text=st.text(max_size=80))
def test_any_text_in_any_cell_is_read_or_refused(column: str, text: str) -> None:
    """Whatever stands in a cell, a label comes back, or our sentence."""
    try:
        read(**{column: text})
    except CallError as error:
        assert str(error).startswith("labels.csv, line 2")  # noqa: PT017 - both outcomes are right


def test_the_label_needs_only_product_and_ingredient() -> None:
    """All else may stay empty, as it is then not known."""
    label = label_from({"product": "New jug", "ingredient": "glyphosate"}, what="x")
    assert (label.rate_most, label.single_max, label.reentry_s, label.plant_back) == (None, None, None, {})
    assert label.ingredients[0].strength is None
