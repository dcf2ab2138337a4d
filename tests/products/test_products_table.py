"""The table of ingredients: each cell has its source, and says what that source says."""

import pytest

from gladebook.products.facts import (
    is_growth_regulator,
    is_non_selective,
    is_soil_applied,
    kills_broadleaf,
    kills_only_grass,
)
from gladebook.products.ingredient import Ingredient, Source, applies
from gladebook.products.label import Label, Strength
from gladebook.products.table.all import INGREDIENTS, ingredient_called

MISSISSIPPI = "Mississippi Dept. of Wildlife, Fisheries and Parks"
PNW = "Pacific Northwest Weed Management Handbook"


def sources_of(ingredient: Ingredient) -> list[Source]:
    cells = [
        *ingredient.kills.values(), *ingredient.lives.values(), *ingredient.timing,
        *(cell for cell in (ingredient.moves, ingredient.group, ingredient.growth_regulator) if cell is not None),
        *(cell for _, cell in ingredient.weeds),
    ]  # fmt: skip
    return [c.source for c in cells] + [f.source for f in ingredient.forages] + [f.source for f in ingredient.figures]


@pytest.mark.parametrize("name", sorted(INGREDIENTS))
def test_every_cell_has_a_source_with_its_region(name: str) -> None:
    """No cell of the table is without a title, a region and how it was read."""
    for source in sources_of(INGREDIENTS[name]):
        assert source.title
        assert source.region
        assert source.read in ("read", "reprint read")


def test_no_figure_of_a_region_is_said_to_hold_anywhere() -> None:
    """Rates, maxima, heights and waits are those of a region; only what the chemical is holds anywhere."""
    for ingredient in INGREDIENTS.values():
        for figure in ingredient.figures:
            assert figure.source.region != "anywhere", (ingredient.name, figure)
        for cell in ingredient.forages:
            assert cell.source.region != "anywhere", (ingredient.name, cell)


# ingredient, forage, word, publisher: as printed
FORAGES = [
    *[("clethodim", f, "tolerated", MISSISSIPPI) for f in ("clover", "cowpea", "jointvetch", "sunflower", "chufa")],
    ("clethodim", "brassica", "tolerated", PNW),
    ("sethoxydim", "alfalfa", "tolerated", PNW),
    ("imazethapyr", "alfalfa", "tolerated", PNW),
    *[("2,4-DB", f, "tolerated", MISSISSIPPI) for f in ("clover", "alfalfa", "birdsfoot trefoil", "jointvetch")],
    *[("2,4-D", f, "tolerated", MISSISSIPPI) for f in ("corn", "wheat", "oat", "rye", "grain sorghum", "millet")],
    *[("2,4-D", f, "injured", MISSISSIPPI) for f in ("clover", "alfalfa", "cowpea", "soybean")],
    *[("MCPA", f, "tolerated", PNW) for f in ("arrowleaf clover", "crimson clover", "red clover", "white clover")],
    *[("bentazon", f, "tolerated", PNW) for f in ("crimson clover", "red clover", "white clover")],
    ("imazamox", "chicory", "tolerated", PNW),
    ("trifluralin", "alfalfa", "tolerated", PNW),
    ("trifluralin", "brassica", "preplant only", PNW),
    ("pendimethalin", "corn", "tolerated", PNW),
    ("flumioxazin", "alfalfa", "tolerated", PNW),
    ("glyphosate", "clover", "preplant only", MISSISSIPPI),
]


@pytest.mark.parametrize(("name", "forage", "word", "publisher"), FORAGES)
def test_forages_stand_as_they_are_printed(name: str, forage: str, word: str, publisher: str) -> None:
    """The table's word on a forage is that of the publication."""
    assert any(
        cell.forage == forage and cell.word == word and cell.source.title.startswith(publisher)
        for cell in INGREDIENTS[name].forages
    )


# ingredient, about, what the print says, region
FIGURES = [
    ("clethodim", "rate", "0.094 to 0.125 lb ai/ac", "north-west"),
    ("clethodim", "season maximum", "4 applications or 64 fl oz/ac", "north-west"),
    ("clethodim", "plant-back", "30 days", "north-west"),
    ("sethoxydim", "rate", "0.19 to 0.47 lb ai/ac", "north-west"),
    ("sethoxydim", "season maximum", "0.94 lb ai/ac", "north-west"),
    ("sethoxydim", "rainfast", "1 h", "north-west"),
    ("quizalofop", "weed height", "2 to 6 in", "north-central"),
    ("2,4-DB", "rate", "0.5 to 1.5 lb ae/ac", "north-west"),
    ("2,4-DB", "weed height", "under 3 in", "north-west"),
    ("2,4-DB", "re-entry", "48 h", "west"),
    ("imazethapyr", "weed height", "1 to 3 in", "north-west"),
    ("imazethapyr", "plant-back", "18 months", "north-west"),
    ("MCPA", "rate", "0.23 to 0.46 lb ae/ac", "north-west"),
    ("bentazon", "single maximum", "1 lb ai/ac", "north-west"),
    ("bentazon", "season maximum", "2 lb ai/ac", "north-west"),
    ("imazamox", "rate", "0.031 lb ae/ac", "north-west"),
    ("glyphosate", "re-entry", "4 h", "west"),
    ("paraquat", "re-entry", "24 h", "west"),
    ("acetochlor", "re-entry", "12 h", "north-west"),
    ("fenoxaprop", "re-entry", "24 h", "north-west"),
    ("trifluralin", "rate", "0.5 to 1 lb ai/ac", "north-west"),
    ("trifluralin", "rain needed", "0.5 in", "north-west"),
    ("pendimethalin", "rate", "0.74 to 1.98 lb ai/ac", "north-west"),
    ("S-metolachlor", "rate", "1.60 lb/ac", "south-east"),
    ("flumioxazin", "rate", "0.1275 lb ai/ac", "north-west"),
    ("flumioxazin", "interval", "60 days", "north-west"),
    ("2,4-D", "plant-back", "29 days", "north-east"),
    ("2,4-D", "plant-back", "7 days after 0.5 lb ae/ac", "north-central"),
]


@pytest.mark.parametrize(("name", "about", "words", "region"), FIGURES)
def test_figures_stand_as_they_are_printed(name: str, about: str, words: str, region: str) -> None:
    """Each published figure is in the table with its region."""
    figures = [f for f in INGREDIENTS[name].figures if f.about == about]
    assert any(words in f.words and f.source.region == region for f in figures), figures


def test_the_trial_rate_follows_from_its_grams() -> None:
    """1,790 g/ha are 1.60 lb/ac (Weed Technology, 2023): 1.79 kg / 0.45359237 x 0.40468564224."""
    assert pytest.approx(1.60, abs=0.005) == 1.790 / 0.45359237 * 0.40468564224


def test_sources_that_differ_are_both_kept() -> None:
    """On smartweed and pigweed two publications say the opposite of 2,4-DB, and both stand there."""
    for weed in ("smartweed", "pigweed"):
        assert {cell.value for name, cell in INGREDIENTS["2,4-DB"].weeds if name == weed} == {"yes", "no"}


GROUPS = {
    "clethodim": "1",
    "imazethapyr": "2",
    "trifluralin": "3",
    "pendimethalin": "3",
    "2,4-D": "4",
    "MCPA": "4",
    "bentazon": "6",
}


@pytest.mark.parametrize(("name", "group"), GROUPS.items())
def test_groups_stand_as_they_are_printed(name: str, group: str) -> None:
    """Mode-of-action groups are those of the Pacific Northwest handbook's pages; where none was read, none stands."""
    cell = INGREDIENTS[name].group
    assert cell is not None
    assert cell.value.split(",")[0] == group
    assert INGREDIENTS["glyphosate"].group is None


def test_nothing_from_memory_is_shipped() -> None:
    """Triclopyr and contact or systemic were read nowhere, and stand empty."""
    triclopyr = INGREDIENTS["triclopyr"]
    assert not sources_of(triclopyr)
    assert all(i.moves is None for i in INGREDIENTS.values())


def test_a_region_counts_only_where_it_is_said() -> None:
    """Without a region nothing regional counts; what holds anywhere does."""
    south = next(s for s in sources_of(INGREDIENTS["clethodim"]) if s.region == "south-east")
    west = next(s for s in sources_of(INGREDIENTS["clethodim"]) if s.region == "north-west")
    assert applies(south, region="south-east")
    assert not applies(south, region=None)
    assert not applies(west, region="south-east")


def product(ingredient: str, **more: object) -> Label:
    return Label("p", (Strength(ingredient),), **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("label", "facts"),
    [
        (product("clethodim"), (False, True, False, False, False)),
        (product("2,4-D"), (True, None, False, None, True)),
        (product("2,4-DB"), (None, False, False, None, True)),
        (product("2,4-DB", group="4"), (True, False, False, None, True)),
        (product("glyphosate"), (None, False, False, True, True)),
        (product("trifluralin"), (False, False, True, None, True)),
        (product("triclopyr"), (None, None, None, None, None)),
        (
            product("triclopyr", growth_regulator=True, kills=("broadleaf",), timing=("post",)),
            (True, False, False, None, True),
        ),
        (product("something new"), (None, None, None, None, None)),
    ],
)
def test_what_kind_of_product_it_is(label: Label, facts: tuple[bool | None, ...]) -> None:
    """The label's own word first, then the table's; where neither says, it is not known."""
    found = tuple(
        ask(label)[0]
        for ask in (is_growth_regulator, kills_only_grass, is_soil_applied, is_non_selective, kills_broadleaf)
    )
    assert found == facts


def test_names_are_found_whatever_their_capitals() -> None:
    """An ingredient is called by its common name."""
    found = ingredient_called("  s-METOLACHLOR ")
    assert found is not None
    assert found.name == "S-metolachlor"
    assert ingredient_called("nothing") is None
