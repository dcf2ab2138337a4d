"""Ingredients that kill grasses and leave broadleaf plants."""

from typing import Final

from gladebook.products.ingredient import Cell, Figure, ForageCell, Ingredient
from gladebook.products.table.sources import MISSISSIPPI, NDSU_GRASS, facts, north_west
from gladebook.units import IN_M

__all__ = ["GRASS_KILLERS"]

_BRASSICA: Final = north_west("vegetable brassicas, postemergence")
_CUCURBIT: Final = north_west("cucurbits, postemergence")
_ALFALFA: Final = north_west("alfalfa, summer grasses")
_ORNAMENTAL: Final = north_west("ornamentals")
_GROUP_1: Final = "1, blocks the enzyme acetyl CoA carboxylase"

_CLETHODIM: Final = Ingredient(
    name="clethodim",
    kills={
        "grass": Cell("yes", MISSISSIPPI),
        "broadleaf": Cell("no", MISSISSIPPI, "grasses only"),
        "sedge": Cell("no", MISSISSIPPI, "grasses only"),
        "woody": Cell("no", MISSISSIPPI, "grasses only"),
    },
    lives={
        "annual": Cell("yes", facts("vegetable brassicas, postemergence"), "more for perennials"),
        "perennial": Cell("yes", facts("vegetable brassicas, postemergence"), "at the higher rate"),
    },
    timing=(Cell("post", MISSISSIPPI),),
    group=Cell(_GROUP_1, facts("vegetable brassicas, postemergence")),
    growth_regulator=Cell("no", facts("vegetable brassicas, postemergence"), "group 1"),
    weeds=(("annual bluegrass", Cell("yes", facts("vegetable brassicas, postemergence"))),),
    forages=(
        ForageCell("clover", "tolerated", MISSISSIPPI),
        ForageCell("cowpea", "tolerated", MISSISSIPPI),
        ForageCell("jointvetch", "tolerated", MISSISSIPPI),
        ForageCell("sunflower", "tolerated", MISSISSIPPI),
        ForageCell("chufa", "tolerated", MISSISSIPPI),
        ForageCell("brassica", "tolerated", _BRASSICA),
    ),
    figures=(
        Figure("rate", "brassica", "0.094 to 0.125 lb ai/ac", _BRASSICA),
        Figure("adjuvant", "brassica", "1 % crop oil, no nitrogen solution", _BRASSICA),
        Figure("adjuvant", "cucurbits", "0.25 % surfactant", _CUCURBIT),
        Figure("rainfast", "brassica", "1 h", _BRASSICA),
        Figure("season maximum", "cucurbits", "4 applications or 64 fl oz/ac of a 1 lb ai/gal product", _CUCURBIT),
        Figure("plant-back", "corn", "30 days", _ORNAMENTAL),
        Figure("plant-back", "small grain", "30 days", _ORNAMENTAL),
    ),
)

_SETHOXYDIM: Final = Ingredient(
    name="sethoxydim",
    kills={
        "grass": Cell("yes", facts("alfalfa, summer grasses")),
        "broadleaf": Cell("no", facts("alfalfa, summer grasses"), "grasses only"),
        "sedge": Cell("no", facts("alfalfa, summer grasses"), "grasses only"),
        "woody": Cell("no", facts("alfalfa, summer grasses"), "grasses only"),
    },
    timing=(Cell("post", facts("alfalfa, summer grasses"), "on growing grass; erratic in drought"),),
    weeds=(
        ("annual bluegrass", Cell("no", facts("alfalfa, summer grasses"), "misses it")),
        ("fine fescue", Cell("no", facts("alfalfa, summer grasses"), "misses it")),
    ),
    forages=(ForageCell("alfalfa", "tolerated", _ALFALFA),),
    figures=(
        Figure("rate", "alfalfa", "0.19 to 0.47 lb ai/ac", _ALFALFA),
        Figure("rate", "cucurbits", "0.19 to 0.28 lb ai/ac", _CUCURBIT),
        Figure("adjuvant", "alfalfa", "oil, 2 pt/ac, always", _ALFALFA),
        Figure("season maximum", "alfalfa", "0.94 lb ai/ac", _ALFALFA),
        Figure("rainfast", "alfalfa", "1 h", _ALFALFA),
    ),
)

_QUIZALOFOP: Final = Ingredient(
    name="quizalofop",
    kills={"grass": Cell("yes", NDSU_GRASS)},
    timing=(Cell("post", NDSU_GRASS),),
    forages=(ForageCell("brassica", "tolerated", NDSU_GRASS, note="canola"),),
    figures=(
        Figure("weed height", "rape", "grass 2 to 6 in", NDSU_GRASS, most_m=6 * IN_M),
        Figure("adjuvant", "rape", "1 % oil", NDSU_GRASS),
        Figure("interval", "rape", "1 day or more before a broadleaf spray, or 5 days after it", NDSU_GRASS),
    ),
)

_FENOXAPROP: Final = Ingredient(
    name="fenoxaprop",
    figures=(Figure("re-entry", "", "24 h", north_west("pages read for re-entry")),),
)

GRASS_KILLERS: Final = (_CLETHODIM, _SETHOXYDIM, _QUIZALOFOP, _FENOXAPROP)
