"""Nouns of what is kept. Each has an id that stays the same for as long as the property does.

Days and moments are text in ISO 8601, as they were given or read from the clock; moments are in UTC.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, get_args

__all__ = [
    "STATES",
    "Kept",
    "KeptApplication",
    "KeptBoundary",
    "KeptMark",
    "KeptPlot",
    "KeptStrip",
    "MarkKind",
    "State",
    "Step",
]

State = Literal["go look", "can't tell", "boom off", "seen", "touched up", "left"]
STATES: tuple[State, ...] = get_args(State)
MarkKind = Literal["obstacle", "check strip"]


@dataclass(frozen=True)
class KeptPlot:
    """A plot as it is now.

    Attributes
    ----------
    uid : its id.
    name : as people call it; no other plot of the property has it.
    shape : shapely MultiPolygon, longitude and latitude in degrees on WGS 84.
    since : the day from which this boundary holds.
    walked : whether the boundary was walked with a receiver.
    """

    uid: str
    name: str
    shape: Any = field(repr=False)
    since: str
    walked: bool = False


@dataclass(frozen=True)
class KeptBoundary:
    """A boundary that a plot had.

    Attributes
    ----------
    plot_uid : the plot's id.
    name : the plot's name then.
    shape : as `KeptPlot` has it.
    since, until : the days from which it held and from which it did no longer; `until` None while it holds.
    """

    plot_uid: str
    name: str
    shape: Any = field(repr=False)
    since: str
    until: str | None


@dataclass(frozen=True)
class KeptMark:
    """An obstacle, or ground left unsprayed on purpose; attributes as `KeptPlot` has them."""

    uid: str
    name: str
    kind: MarkKind
    shape: Any = field(repr=False)


@dataclass(frozen=True)
class KeptApplication:
    """One application.

    Attributes
    ----------
    uid : its id.
    name : as people call it.
    day : the day of its first point; empty where its tracks have no times.
    answer : what it did, as JSON has it.
    """

    uid: str
    name: str
    day: str
    answer: Mapping[str, Any] = field(repr=False)


@dataclass(frozen=True)
class KeptStrip:
    """A missed strip and what became of it.

    Attributes
    ----------
    uid : its id.
    application_uid : the application that missed it.
    plot : the plot's name then.
    number : as the application's list has it, largest first.
    state : as judged, or what was done since.
    area_m2 : its ground.
    shape : shapely Polygon or MultiPolygon in degrees.
    verdict : chance, place and cause, as JSON has them.
    """

    uid: str
    application_uid: str
    plot: str
    number: int
    state: State
    area_m2: float
    shape: Any = field(repr=False)
    verdict: Mapping[str, Any] = field(repr=False)


@dataclass(frozen=True)
class Kept:
    """Anything else that has a name and contents: a sprayer, a product, a mix, a record.

    Attributes
    ----------
    uid : its id.
    name : as people call it.
    day : the day it belongs to; empty where to none.
    content : as JSON has it.
    """

    uid: str
    name: str
    day: str
    content: Mapping[str, Any] = field(repr=False)


@dataclass(frozen=True)
class Step:
    """One change of a property.

    Attributes
    ----------
    number : from 1.
    at : when, UTC.
    words : what was done, one sentence.
    undone : whether it was taken back since.
    """

    number: int
    at: str
    words: str
    undone: bool
