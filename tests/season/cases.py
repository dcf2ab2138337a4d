"""Cases before a spray, put together for tests. The label values are invented, not a label's."""

from datetime import date
from typing import Any

from gladebook.products.forage import forages_from
from gladebook.products.label import Label
from gladebook.products.label_text import label_from
from gladebook.products.weed import WEEDS
from gladebook.records.growing import Growing
from gladebook.records.sprayed import Sprayed
from gladebook.season.case import Case, Planned
from gladebook.season.finding import Finding
from gladebook.spraying.mix import RATE_KINDS
from gladebook.units import Quantity, parse_quantity

DAY = date(2026, 11, 20)
GRASS = {
    "product": "Grass spray",
    "ingredient": "clethodim",
    "strength": "2 lb ai/gal",
    "kills": "grass",
    "timing": "post",
}
BROAD = {
    "product": "Broad spray",
    "ingredient": "2,4-DB",
    "strength": "2 lb ae/gal",
    "kills": "broadleaf",
    "group": "4",
}


def label(**cells: str) -> Label:
    """A label of the grass spray, with more cells or other ones."""
    return label_from({**GRASS, **cells}, what="test")


def rate(text: str) -> Quantity:
    """A rate as a label has it."""
    return parse_quantity(text, kind=RATE_KINDS)


def planned(
    label_: Label | None = None, *, at: str | None = "8 fl oz/ac", listed: bool | None = True, **more: Any
) -> Planned:
    """The grass spray at a rate, found on its label for clover and oat."""
    crops = {} if listed is None else dict.fromkeys(("white clover", "oat", "bare ground"), listed)
    name = "Grass spray" if label_ is None else label_.name
    return Planned(name, label_, rate=None if at is None else rate(at), listed=crops, **more)


def case(*products: Planned, forage: str = "white clover", **more: Any) -> Case:
    """White clover with ryegrass of 4 in, on a day in November."""
    growing = Growing(forages=forages_from(forage) if forage else (), **more.pop("growing", {}))
    more = {"day": DAY, "weed": WEEDS["annual ryegrass"], "weed_height_m": 4 * 0.0254, **more}
    return Case(growing=growing, planned=products, **more)


def sprayed(day: date, *, of: Label | None = None, at: str | None = "8 fl oz/ac") -> Sprayed:
    """An earlier spray."""
    return Sprayed("Plot", day, "Grass spray" if of is None else of.name, None if at is None else rate(at), of)


def only(findings: list[Finding], about: str) -> Finding:
    """The one finding about something."""
    found = [f for f in findings if f.about == about]
    assert len(found) == 1, findings
    return found[0]
