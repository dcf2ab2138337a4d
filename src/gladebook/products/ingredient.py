"""An active ingredient as publications describe it. What none of them was seen to say is empty.

Regions matter: a figure printed for the Pacific Northwest is no recommendation for the South-east.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, get_args

from gladebook.products.weed import WeedKind

__all__ = ["REGIONS", "Cell", "Figure", "ForageCell", "ForageWord", "Ingredient", "Region", "Source", "applies"]

Region = Literal["anywhere", "south-east", "south-central", "north-west", "north-central", "north-east", "west"]
REGIONS: tuple[Region, ...] = tuple(r for r in get_args(Region) if r != "anywhere")
ForageWord = Literal["tolerated", "injured", "preplant only"]


@dataclass(frozen=True)
class Source:
    """A publication.

    Attributes
    ----------
    title : publisher and title.
    region : for which it was written; "anywhere" where what it says holds of the chemical itself.
    read : whether the publication was read, in part, or a reprint or quotation of it.
    """

    title: str
    region: Region
    read: Literal["read", "reprint read"] = "read"

    def __str__(self) -> str:
        return self.title if self.read == "read" else f"{self.title} (reprint read)"


@dataclass(frozen=True)
class Cell:
    """What a source says, in a word or a few, and a remark on it."""

    value: str
    source: Source
    note: str = ""


@dataclass(frozen=True)
class ForageCell:
    """What a source says of a forage.

    Attributes
    ----------
    forage : its name, or the word for its family, such as "clover".
    word : whether it is tolerated, injured, or goes only before planting.
    source : who says so.
    stage : that the stand must have, as printed.
    note : anything else.
    """

    forage: str
    word: ForageWord
    source: Source
    stage: str = ""
    note: str = ""


@dataclass(frozen=True)
class Figure:
    """A figure as printed.

    Attributes
    ----------
    about : "rate", "single maximum", "season maximum", "weed height", "adjuvant", "rainfast", "re-entry", "plant-back",
        "interval", "rain needed" or "stand".
    crop : for which.
    words : as the source has it, in field units.
    source : who says so.
    most_m : the tallest weed, m, where it is a weed height.
    """

    about: str
    crop: str
    words: str
    source: Source
    most_m: float | None = None


@dataclass(frozen=True)
class Ingredient:
    """An active ingredient.

    Attributes
    ----------
    name : common name.
    kills : by kind of weed: "yes", "no" or "some".
    lives : annual or perennial, likewise.
    timing : burndown, post, pre-emerge, incorporated.
    moves : contact or systemic.
    group : mode of action.
    growth_regulator : "yes" or "no".
    weeds : single weeds by name, that it controls ("yes") or misses ("no"); two sources may differ.
    forages : what happens to them.
    figures : as printed.
    """

    name: str
    kills: Mapping[WeedKind, Cell] = field(default_factory=dict)
    lives: Mapping[str, Cell] = field(default_factory=dict)
    timing: tuple[Cell, ...] = ()
    moves: Cell | None = None
    group: Cell | None = None
    growth_regulator: Cell | None = None
    weeds: tuple[tuple[str, Cell], ...] = ()
    forages: tuple[ForageCell, ...] = ()
    figures: tuple[Figure, ...] = ()


def applies(source: Source, *, region: Region | None) -> bool:
    """Whether what a source says counts in a region; nothing regional does where no region is said."""
    return source.region in ("anywhere", region)
