"""Options and the answer that all commands of ``gladebook calibrate`` share."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gladebook.cli.show import answer, say
from gladebook.errors import CallError
from gladebook.units import Kind, parse_quantity

if TYPE_CHECKING:
    from gladebook.view.calibrate import Told

__all__ = ["Caught", "Flow", "Metric", "Spacing", "Speed", "Swath", "Text", "all_si", "must", "show", "si"]

Text = str | None
Flow = Annotated[
    Text,
    typer.Option("--flow", metavar="AMOUNT", help='Flow, like "0.3 gal/min"; or "40 fl oz/min" from a timed catch.'),
]
Speed = Annotated[Text, typer.Option("--speed", metavar="AMOUNT", help='Ground speed, like "5 mph".')]
Spacing = Annotated[Text, typer.Option("--spacing", metavar="AMOUNT", help='Between tips, like "20 in".')]
Swath = Annotated[
    Text,
    typer.Option("--swath", metavar="AMOUNT", help='Effective swath, from trip to trip, like "30 ft".'),
]
Caught = Annotated[
    list[str],
    typer.Option("--caught", metavar="AMOUNT", help='What was caught, like "14 fl oz"; once for each catch.'),
]
Metric = Annotated[bool, typer.Option("--metric", help="Tell it in metric units as well.")]


def si(text: str | None, *, kind: Kind, what: str) -> float | None:
    """An amount in SI units; None stays None."""
    return None if text is None else parse_quantity(text, kind=kind, what=what).si


def all_si(texts: list[str], *, kind: Kind, what: str) -> list[float]:
    """Amounts in SI units."""
    return [parse_quantity(text, kind=kind, what=what).si for text in texts]


def must(value: float | None, *, what: str, like: str) -> float:
    """A value that this command cannot do without.

    Raises
    ------
    CallError
        Where it is missing.
    """
    if value is None:
        raise CallError(f'{what}: is needed here; give it like {what} "{like}".')
    return value


def show(told: "Told", *, as_json: bool, out: Path | None, metric: bool, cautions: bool = False) -> None:
    """The answer, and the cautions wherever it leads to an amount of product."""
    from gladebook.io.write import as_json as json_text
    from gladebook.spraying.cautions import CAUTIONS

    document = {**told.document, **({"cautions": list(CAUTIONS)} if cautions else {})}
    words = "\n".join([*told.words, *(told.metric if metric else []), ""])
    if cautions:
        words += "\nCautions:\n" + "".join(f"- {c}\n" for c in CAUTIONS)
    answer(json_text(document) if as_json else words, out=out)
    if cautions and (as_json or out is not None):
        say(CAUTIONS, title="Cautions")
