"""What kind of product is it? By its label; else by what publications say of what is in it."""

from collections.abc import Callable

from gladebook.products.ingredient import Ingredient
from gladebook.products.label import Label
from gladebook.products.table.all import ingredient_called
from gladebook.products.weed import WEEDS, WeedKind

__all__ = ["is_growth_regulator", "is_non_selective", "is_soil_applied", "kills_broadleaf", "kills_only_grass"]

Answer = tuple[bool | None, str]
_UNKNOWN: Answer = (None, "")


def _whose(label: Label) -> str:
    return "your label" if label.whose == "label" else "county list"


def _by_table(label: Label, fact: Callable[[Ingredient], Answer], *, any_of: bool) -> Answer:
    """A fact of a product from those of its ingredients: one is enough, or all are needed."""
    found = [
        fact(i) if i is not None else _UNKNOWN
        for i in map(ingredient_called, (s.ingredient for s in label.ingredients))
    ]
    decisive = [answer for answer in found if answer[0] is any_of]
    if decisive:
        return decisive[0]
    return found[0] if found and all(answer[0] is not None for answer in found) else _UNKNOWN


def is_growth_regulator(label: Label) -> Answer:
    """Whether it is a growth regulator, a trace of which hurts legumes; None where not known."""
    if label.growth_regulator is not None:
        return label.growth_regulator, _whose(label)
    if label.group.split(",")[0].strip().lower().removeprefix("group").strip() == "4":
        return True, f"{_whose(label)}: group 4, synthetic auxin"

    def fact(ingredient: Ingredient) -> Answer:
        cell = ingredient.growth_regulator
        return _UNKNOWN if cell is None else (cell.value == "yes", str(cell.source))

    return _by_table(label, fact, any_of=True)


def kills_only_grass(label: Label) -> Answer:
    """Whether it is grass-selective; None where not known."""
    if label.kills:
        kinds = [_is(part, "grass") for part in label.kills]
        return all(kinds), _whose(label)

    def fact(ingredient: Ingredient) -> Answer:
        grass, broadleaf = ingredient.kills.get("grass"), ingredient.kills.get("broadleaf")
        if grass is None or broadleaf is None:
            return _UNKNOWN
        return grass.value == "yes" and broadleaf.value == "no", str(broadleaf.source)

    return _by_table(label, fact, any_of=False)


def kills_broadleaf(label: Label) -> Answer:
    """Whether it kills broadleaf plants; None where not known."""
    if label.kills:
        return any(_is(part, "broadleaf") for part in label.kills), _whose(label)

    def fact(ingredient: Ingredient) -> Answer:
        cell = ingredient.kills.get("broadleaf")
        return _UNKNOWN if cell is None else (cell.value != "no", str(cell.source))

    return _by_table(label, fact, any_of=True)


def is_soil_applied(label: Label) -> Answer:
    """Whether it works in the soil, and so needs rain or tillage; None where not known."""
    if label.timing:
        return "pre-emerge" in label.timing or "incorporated" in label.timing, _whose(label)

    def fact(ingredient: Ingredient) -> Answer:
        if not ingredient.timing:
            return _UNKNOWN
        soil = [cell for cell in ingredient.timing if cell.value in ("pre-emerge", "incorporated")]
        return bool(soil), str((soil or ingredient.timing)[0].source)

    return _by_table(label, fact, any_of=True)


def is_non_selective(label: Label) -> Answer:
    """Whether it kills whatever is green; None where not known."""
    if label.kills and {"grass", "broadleaf"} <= set(label.kills):
        return True, _whose(label)

    def fact(ingredient: Ingredient) -> Answer:
        cells = [ingredient.kills.get(kind) for kind in ("grass", "broadleaf", "sedge", "woody")]
        known = [cell for cell in cells if cell is not None]
        if len(known) < len(cells):
            return _UNKNOWN
        return all(cell.value == "yes" for cell in known), str(known[0].source)

    return _by_table(label, fact, any_of=True)


def _is(part: str, kind: WeedKind) -> bool:
    """Whether what a label kills is a kind of weed, or one weed of that kind."""
    return part == kind or (part in WEEDS and WEEDS[part].kind == kind)
