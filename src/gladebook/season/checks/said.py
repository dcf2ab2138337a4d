"""What the label says, and how much that weighs: the user's own label stops, the county's list only cautions."""

from dataclasses import dataclass
from typing import Any, Literal

from gladebook.season.case import Planned
from gladebook.season.finding import Finding

__all__ = ["ENTRY", "LABEL", "Said", "caution", "fine", "no_label", "said", "stop", "unchecked"]

LABEL, ENTRY, COUNTY = "your label", "your entry", "county list"


@dataclass(frozen=True)
class Said:
    """A value of a label.

    Attributes
    ----------
    value : as the label's noun has it.
    word : what a conflict with it is: a stop for the user's own label, else a caution.
    source : whose it is.
    """

    value: Any
    word: Literal["stop", "caution"]
    source: str


def said(planned: Planned, attribute: str) -> Said | None:
    """A value of the user's label; where that is empty, of the county's list; None where both are."""
    for label, word, source in ((planned.label, "stop", LABEL), (planned.county, "caution", COUNTY)):
        value = None if label is None else getattr(label, attribute)
        if value not in (None, "", (), {}):
            return Said(value, word, source)  # type: ignore[arg-type]  # one of the two words
    return None


def stop(about: str, reason: str, *, source: str = LABEL) -> Finding:
    """A stop: only ever for what the label or the user's own entry forbids."""
    return Finding("stop", about, reason, source)


def caution(about: str, reason: str, *, source: str) -> Finding:
    """A caution, with where it comes from."""
    return Finding("caution", about, reason, source)


def fine(about: str, reason: str, *, source: str) -> Finding:
    """Looked at, and nothing against it."""
    return Finding("fine", about, reason, source)


def unchecked(about: str, reason: str) -> Finding:
    """Not checked, and what to enter or look up."""
    return Finding("not checked", about, reason, "")


def no_label(planned: Planned, about: str, what: str) -> Finding:
    """Not checked, as the label's value was not entered."""
    return unchecked(about, f"{planned.product}: {what} was not entered. See your label.")
