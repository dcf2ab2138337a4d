"""All ingredients by name."""

from typing import Final

from gladebook.products.ingredient import Ingredient
from gladebook.products.table.broadleaf import BROADLEAF_KILLERS
from gladebook.products.table.grass import GRASS_KILLERS
from gladebook.products.table.soil import ANY_GREEN, SOIL_APPLIED

__all__ = ["INGREDIENTS", "ingredient_called"]

INGREDIENTS: Final[dict[str, Ingredient]] = {
    i.name: i for i in (*ANY_GREEN, *GRASS_KILLERS, *BROADLEAF_KILLERS, *SOIL_APPLIED)
}
_LOWER: Final = {name.lower(): i for name, i in INGREDIENTS.items()}


def ingredient_called(name: str) -> Ingredient | None:
    """The ingredient of a name, whatever its capitals; None where the table has none."""
    return _LOWER.get(" ".join(name.lower().split()))
