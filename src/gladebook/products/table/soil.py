"""Ingredients that work in the soil, before weeds are up; and those that kill whatever is green."""

from typing import Final

from gladebook.products.ingredient import Cell, Figure, ForageCell, Ingredient
from gladebook.products.table.sources import (
    BEAN_TRIALS,
    CORNELL,
    FL_TRIAL,
    IPM_WEST,
    MISSISSIPPI,
    NDSU_GAP,
    facts,
    north_west,
)
from gladebook.products.weed import WeedKind

__all__ = ["ANY_GREEN", "SOIL_APPLIED"]

_EVERY_KIND: Final[tuple[WeedKind, ...]] = ("grass", "broadleaf", "sedge", "woody")
_ALFALFA: Final = north_west("alfalfa, established")
_BRASSICA: Final = north_west("vegetable brassicas, preplant incorporated")
_BRASSICA_POST: Final = north_west("vegetable brassicas, postemergence")
_PEA: Final = north_west("green pea, preplant incorporated")
_CORN: Final = north_west("field corn")
_GROUP_3: Final = "3, stops microtubules"

_GLYPHOSATE: Final = Ingredient(
    name="glyphosate",
    kills={kind: Cell("yes", MISSISSIPPI, "whatever is green") for kind in _EVERY_KIND},
    lives={life: Cell("yes", MISSISSIPPI, "whatever is green") for life in ("annual", "perennial")},
    timing=(
        Cell("burndown", MISSISSIPPI, "before planting"),
        Cell("post", IPM_WEST, "on leaves; no life in the soil"),
    ),
    forages=tuple(
        ForageCell(name, "preplant only", MISSISSIPPI, note="before planting")
        for name in ("clover", "alfalfa", "small grain", "cowpea", "soybean", "corn", "brassica")
    ),
    figures=(
        Figure("rate", "before planting", "about 1 qt/ac of product", MISSISSIPPI),
        Figure("rate", "wheat", "0.38 to 0.75 lb ae/ac before harvest", north_west("wheat, preharvest")),
        Figure("re-entry", "alfalfa", "4 h", IPM_WEST),
        Figure("stand", "", "keep off where the mean of the air is under 55 F for 7 days", CORNELL),
        Figure("interval", "", "5 days from spraying to tillage; 3 where it is warm", NDSU_GAP),
    ),
)

_PARAQUAT: Final = Ingredient(name="paraquat", figures=(Figure("re-entry", "alfalfa", "24 h", IPM_WEST),))

_TRIFLURALIN: Final = Ingredient(
    name="trifluralin",
    kills={
        "grass": Cell("yes", facts("carrot, preplant incorporated"), "annual grasses"),
        "broadleaf": Cell("some", facts("carrot, preplant incorporated"), "small-seeded ones"),
    },
    lives={"annual": Cell("yes", facts("carrot, preplant incorporated"))},
    timing=(
        Cell("incorporated", facts("vegetable brassicas, preplant incorporated"), "2 to 3 in deep within 24 h"),
        Cell("pre-emerge", facts("alfalfa, established"), "needs rain or tillage within 3 days"),
    ),
    group=Cell(_GROUP_3, facts("vegetable brassicas, preplant incorporated")),
    growth_regulator=Cell("no", facts("vegetable brassicas, preplant incorporated"), "group 3"),
    weeds=(
        ("pigweed", Cell("yes", BEAN_TRIALS, "93 to 99 %")),
        ("ragweed", Cell("no", BEAN_TRIALS, "34 to 43 %")),
        ("foxtail", Cell("yes", BEAN_TRIALS, "95 to 100 %")),
        ("wild mustard", Cell("no", BEAN_TRIALS, "20 to 47 %")),
    ),
    forages=(
        ForageCell("alfalfa", "tolerated", _ALFALFA, stage="established"),
        ForageCell("brassica", "preplant only", _BRASSICA, note="not turnip root or rutabaga"),
    ),
    figures=(
        Figure("rate", "brassica", "0.5 to 1 lb ai/ac, by soil", _BRASSICA),
        Figure("rate", "alfalfa", "2 lb ai/ac", _ALFALFA),
        Figure("season maximum", "alfalfa", "2 lb ai/ac", _ALFALFA),
        Figure("rain needed", "alfalfa", "0.5 in, or tillage, within 3 days", _ALFALFA),
        Figure("plant-back", "other", "next year only crops on which it is itself used before planting", _ALFALFA),
    ),
)

_PENDIMETHALIN: Final = Ingredient(
    name="pendimethalin",
    timing=(Cell("pre-emerge", facts("vegetable brassicas, postemergence"), "does not kill weeds that are up"),),
    group=Cell(_GROUP_3, facts("green pea, preplant incorporated")),
    growth_regulator=Cell("no", facts("green pea, preplant incorporated"), "group 3"),
    weeds=(
        ("pigweed", Cell("yes", BEAN_TRIALS, "91 to 93 %")),
        ("ragweed", Cell("no", BEAN_TRIALS, "13 to 21 %")),
        ("foxtail", Cell("yes", BEAN_TRIALS, "96 to 98 %")),
        ("wild mustard", Cell("no", BEAN_TRIALS, "16 to 24 %")),
    ),
    forages=(
        ForageCell("corn", "tolerated", _CORN, stage="up to 20 to 24 in, or 8 leaves; do not incorporate"),
        ForageCell("brassica", "tolerated", _BRASSICA_POST, note="directed or broadcast, by the label"),
        ForageCell("pea", "preplant only", _PEA, note="no feed from that pea"),
    ),
    figures=(
        Figure("rate", "pea", "0.7 to 1.4 lb ai/ac, up to 60 days ahead", _PEA),
        Figure("rate", "brassica", "0.475 to 1 lb ai/ac", _BRASSICA_POST),
        Figure("rate", "corn", "0.74 to 1.98 lb ai/ac", _CORN),
    ),
)

_METOLACHLOR: Final = Ingredient(
    name="S-metolachlor",
    kills={
        "grass": Cell("yes", FL_TRIAL, "annual grasses"),
        "broadleaf": Cell("some", FL_TRIAL, "small-seeded ones"),
        "sedge": Cell("some", FL_TRIAL, "suppresses nutsedge"),
    },
    timing=(Cell("pre-emerge", FL_TRIAL, "poor on organic soil unless worked in"),),
    weeds=(
        ("pigweed", Cell("yes", BEAN_TRIALS, "92 to 98 %")),
        ("ragweed", Cell("no", BEAN_TRIALS, "27 to 48 %")),
        ("foxtail", Cell("yes", BEAN_TRIALS, "96 to 99 %")),
        ("wild mustard", Cell("no", BEAN_TRIALS, "33 to 59 %")),
    ),
    forages=(ForageCell("corn", "tolerated", FL_TRIAL, note="sweet corn"),),
    figures=(Figure("rate", "corn", "1,790 g/ha, which is 1.60 lb/ac, in the trial", FL_TRIAL),),
)

_FLUMIOXAZIN: Final = Ingredient(
    name="flumioxazin",
    kills={
        "broadleaf": Cell("yes", facts("alfalfa, established")),
        "grass": Cell("some", facts("alfalfa, established"), "fair"),
    },
    timing=(Cell("pre-emerge", facts("alfalfa, established")),),
    forages=(ForageCell("alfalfa", "tolerated", _ALFALFA, stage="established", note="burns leaves"),),
    figures=(
        Figure(
            "rate", "alfalfa", "4 dry oz/ac of a 51 % product: 0.1275 lb ai/ac (printed as 0.6375, a slip)", _ALFALFA
        ),
        Figure("season maximum", "alfalfa", "8 dry oz/ac of a 51 % product", _ALFALFA),
        Figure("interval", "alfalfa", "60 days", _ALFALFA),
    ),
)

_ACETOCHLOR: Final = Ingredient(
    name="acetochlor",
    timing=(Cell("pre-emerge", facts("alfalfa, new seedings"), "does not kill weeds that are up"),),
    figures=(Figure("re-entry", "alfalfa", "12 h", north_west("alfalfa, new seedings")),),
)

ANY_GREEN: Final = (_GLYPHOSATE, _PARAQUAT)
SOIL_APPLIED: Final = (_TRIFLURALIN, _PENDIMETHALIN, _METOLACHLOR, _FLUMIOXAZIN, _ACETOCHLOR)
