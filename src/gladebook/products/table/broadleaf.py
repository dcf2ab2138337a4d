"""Ingredients for broadleaf weeds, some with sedges or grasses."""

from typing import Final

from gladebook.products.ingredient import Cell, Figure, ForageCell, Ingredient
from gladebook.products.table.sources import (
    IL_BULLETIN,
    IPM_WEST,
    MISSISSIPPI,
    NEBRASKA,
    PENN,
    TEXAS,
    facts,
    north_west,
)
from gladebook.units import IN_M

__all__ = ["BROADLEAF_KILLERS"]

_SEED: Final = north_west("alfalfa seed")
_CLOVER: Final = north_west("clover seed, established clover")
_ALFALFA: Final = north_west("alfalfa, established")
_PASTURE: Final = north_west("grass pasture and hay")
_PEA: Final = north_west("green pea, preplant incorporated")
_LEAF: Final = north_west("leaf vegetables, postemergence")
_AUXIN: Final = "4, synthetic auxin"

_DB: Final = Ingredient(
    name="2,4-DB",
    kills={"broadleaf": Cell("yes", MISSISSIPPI), "grass": Cell("no", facts("alfalfa seed"), "broadleaf only")},
    timing=(Cell("post", MISSISSIPPI),),
    weeds=(
        ("smartweed", Cell("no", facts("alfalfa seed"), "misses it; the next source says otherwise")),
        ("smartweed", Cell("yes", MISSISSIPPI, "the source before says otherwise")),
        ("pigweed", Cell("no", facts("alfalfa seed"), "misses it; the next source says otherwise")),
        ("pigweed", Cell("yes", MISSISSIPPI, "the source before says otherwise")),
        ("knotweed", Cell("no", facts("alfalfa seed"), "misses it")),
        ("chickweed", Cell("no", facts("alfalfa seed"), "misses it")),
    ),
    forages=(
        ForageCell("clover", "tolerated", MISSISSIPPI),
        ForageCell("alfalfa", "tolerated", MISSISSIPPI),
        ForageCell("birdsfoot trefoil", "tolerated", MISSISSIPPI),
        ForageCell("jointvetch", "tolerated", MISSISSIPPI),
        ForageCell("arrowleaf clover", "injured", TEXAS, note="at 2.2 kg/ha, which is 2 lb/ac"),
        ForageCell("crimson clover", "injured", TEXAS, note="at 2.2 kg/ha, which is 2 lb/ac"),
        ForageCell("alfalfa", "tolerated", _SEED, stage="2 to 4 trifoliate leaves"),
    ),
    figures=(
        Figure("rate", "clover", "1 to 3 qt/ac of product, often with surfactant", MISSISSIPPI),
        Figure("rate", "alfalfa", "0.5 to 1.5 lb ae/ac", _SEED),
        Figure("weed height", "alfalfa", "weeds under 3 in", _SEED, most_m=3 * IN_M),
        Figure("re-entry", "alfalfa", "48 h", IPM_WEST),
    ),
)

_D: Final = Ingredient(
    name="2,4-D",
    kills={"broadleaf": Cell("yes", MISSISSIPPI)},
    lives={
        "annual": Cell("yes", facts("grass hay"), "easier the smaller"),
        "perennial": Cell("yes", facts("grass hay"), "as seedlings, or at the bud stage"),
    },
    timing=(Cell("post", MISSISSIPPI),),
    group=Cell(_AUXIN, facts("grass hay")),
    growth_regulator=Cell("yes", NEBRASKA, "water alone does not clean a tank of it"),
    forages=(
        *(
            ForageCell(name, "tolerated", MISSISSIPPI)
            for name in ("corn", "wheat", "oat", "rye", "grain sorghum", "millet")
        ),
        ForageCell("clover", "injured", MISSISSIPPI, note="not on legumes"),
        ForageCell("alfalfa", "injured", MISSISSIPPI, note="not on legumes"),
        ForageCell("cowpea", "injured", MISSISSIPPI, note="not on legumes"),
        ForageCell("soybean", "injured", MISSISSIPPI, note="not on legumes"),
        ForageCell("pea", "injured", MISSISSIPPI, note="not on legumes"),
        ForageCell("vetch", "injured", MISSISSIPPI, note="not on legumes"),
        ForageCell("lablab", "injured", MISSISSIPPI, note="not on legumes"),
        ForageCell("jointvetch", "injured", MISSISSIPPI, note="not on legumes"),
        ForageCell("clover", "injured", _PASTURE, note="nor on new seedings"),
        ForageCell("red clover", "injured", TEXAS),
    ),
    figures=(
        Figure("rate", "small grain", "about 1 qt/ac of product", MISSISSIPPI),
        Figure("rate", "pasture", "0.475 to 2 lb ae/ac", _PASTURE),
        Figure("plant-back", "soybean", "7 days after 0.5 lb ae/ac, 15 to 30 days after up to 1 lb ae/ac", IL_BULLETIN),
        Figure("plant-back", "corn", "7 to 14 days", PENN),
        Figure("plant-back", "grain sorghum", "29 days", PENN),
        Figure("plant-back", "small grain", "29 days", PENN),
        Figure("plant-back", "other", "30 days; 90 for no risk", PENN),
    ),
)

_MCPA: Final = Ingredient(
    name="MCPA",
    kills={"broadleaf": Cell("yes", facts("clover seed, established clover"))},
    timing=(Cell("post", facts("clover seed, established clover")),),
    group=Cell(_AUXIN, facts("alfalfa, other herbicides")),
    growth_regulator=Cell("yes", facts("alfalfa, other herbicides"), "group 4"),
    forages=(
        *(
            ForageCell(name, "tolerated", _CLOVER, stage="2 trifoliate leaves or more")
            for name in ("arrowleaf clover", "crimson clover", "red clover", "white clover")
        ),
        ForageCell("crimson clover", "injured", TEXAS),
        ForageCell("red clover", "injured", TEXAS),
    ),
    figures=(Figure("rate", "clover", "0.23 to 0.46 lb ae/ac", _CLOVER),),
)

_BENTAZON: Final = Ingredient(
    name="bentazon",
    kills={
        "broadleaf": Cell("yes", facts("clover seed, established clover"), "certain ones"),
        "sedge": Cell("yes", facts("clover seed, established clover")),
    },
    timing=(Cell("post", facts("clover seed, established clover"), "soon after weeds come up"),),
    group=Cell("6, blocks photosystem II", facts("clover seed, established clover")),
    forages=tuple(
        ForageCell(name, "tolerated", _CLOVER, note="leaves may burn for about 10 days")
        for name in ("crimson clover", "red clover", "white clover")
    ),
    figures=(
        Figure("single maximum", "clover", "1 lb ai/ac", _CLOVER),
        Figure("season maximum", "clover", "2 lb ai/ac", _CLOVER),
        Figure("adjuvant", "clover", "always", _CLOVER),
        Figure("interval", "clover", "a second one after 5 to 14 days", _CLOVER),
    ),
)

_IMAZETHAPYR: Final = Ingredient(
    name="imazethapyr",
    kills={
        "broadleaf": Cell("yes", facts("alfalfa, established")),
        "grass": Cell("some", facts("alfalfa, established"), "some grasses"),
    },
    timing=(
        Cell("post", facts("alfalfa, established")),
        Cell("incorporated", facts("green pea, preplant incorporated"), "before planting"),
    ),
    group=Cell("2, blocks acetolactate synthase", facts("green pea, preplant incorporated")),
    forages=(
        ForageCell("alfalfa", "tolerated", _ALFALFA, stage="regrowth under 3 in"),
        ForageCell("alfalfa", "tolerated", PENN, stage="seedlings with 2 trifoliate leaves or more"),
        ForageCell("pea", "preplant only", _PEA),
    ),
    figures=(
        Figure("rate", "alfalfa", "0.047 to 0.094 lb ai/ac", _ALFALFA),
        Figure("rate", "pea", "0.0469 lb ai/ac, once a year", _PEA),
        Figure("weed height", "alfalfa", "weeds 1 to 3 in", _ALFALFA, most_m=3 * IN_M),
        Figure("plant-back", "corn", "18 months (sweet corn)", _PEA),
        Figure("plant-back", "oat", "18 months", _PEA),
        Figure("plant-back", "grain sorghum", "18 months", _PEA),
    ),
)

_IMAZAMOX: Final = Ingredient(
    name="imazamox",
    kills={
        "broadleaf": Cell("yes", facts("leaf vegetables, postemergence")),
        "grass": Cell("some", facts("leaf vegetables, postemergence"), "nitrogen fertilizer helps on grass"),
    },
    timing=(Cell("post", facts("leaf vegetables, postemergence")),),
    forages=(ForageCell("chicory", "tolerated", _LEAF, stage="2 to 4 true leaves"),),
    figures=(
        Figure("rate", "chicory", "0.031 lb ae/ac", _LEAF),
        Figure("weed height", "chicory", "weeds under 3 in", _LEAF, most_m=3 * IN_M),
        Figure("rainfast", "chicory", "1 h", _LEAF),
        Figure("plant-back", "other", "up to 26 months", _LEAF),
    ),
)

# Triclopyr is asked for most by people with brush; nothing that was read says what it does to forages.
_TRICLOPYR: Final = Ingredient(name="triclopyr")

BROADLEAF_KILLERS: Final = (_DB, _D, _MCPA, _BENTAZON, _IMAZETHAPYR, _IMAZAMOX, _TRICLOPYR)
