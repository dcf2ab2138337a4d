"""What was sprayed before, and what was last in the tank, as the user entered it."""

from dataclasses import dataclass
from datetime import date, datetime

from gladebook.products.label import Label
from gladebook.units import Quantity

__all__ = ["InTank", "Sprayed"]


@dataclass(frozen=True)
class Sprayed:
    """One product on one plot on one day.

    Attributes
    ----------
    plot : its name.
    day : when.
    product : as the user calls it.
    rate : of product, per area or by volume; None where not said.
    label : what was known of the product then; None where nothing.
    ended : when the spraying ended, with its zone or none; None where not said.
    """

    plot: str
    day: date
    product: str
    rate: Quantity | None = None
    label: Label | None = None
    ended: datetime | None = None


@dataclass(frozen=True)
class InTank:
    """The product that was last in the tank, and whether the tank was cleaned by its label since.

    Attributes
    ----------
    product : as the user calls it.
    label : what is known of it; None where nothing.
    day : when; None where not said.
    cleaned : on which day, by that product's label; None for not, or not said.
    """

    product: str
    label: Label | None = None
    day: date | None = None
    cleaned: date | None = None
