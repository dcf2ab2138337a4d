"""What grows on a plot and what is meant to come next, as the user entered it."""

from dataclasses import dataclass
from datetime import date

from gladebook.products.forage import Forage

__all__ = ["Growing"]


@dataclass(frozen=True)
class Growing:
    """A plot's stand and its plans.

    Attributes
    ----------
    forages : what grows there, or is to be planted there; empty where not said.
    planted : when it was planted; None where not said.
    stage : how far it is, in the user's words, like "2 trifoliate leaves".
    next_crop : what is to be planted next; empty for nothing, or not said.
    plant_on, disk_on : when; None where not said.
    hunts : days on which somebody means to hunt there.
    """

    forages: tuple[Forage, ...] = ()
    planted: date | None = None
    stage: str = ""
    next_crop: tuple[Forage, ...] = ()
    plant_on: date | None = None
    disk_on: date | None = None
    hunts: tuple[date, ...] = ()
