"""What is that called? The things of a property by their names, whatever they are."""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, Protocol, TypeVar, get_args

from gladebook.errors import CallError, PropertyError
from gladebook.io.property.store import applications_in, kept_in, marks_in, plots_in
from gladebook.plots.plot import clean_name
from gladebook.records.kept import Kept, KeptApplication, KeptMark, KeptPlot

__all__ = [
    "KINDS",
    "Kind",
    "Thing",
    "called",
    "name_from",
    "one_application",
    "refuse_taken",
    "same",
    "thing_called",
    "undo_words",
]

Kind = Literal["plot", "obstacle", "check strip", "sprayer", "application", "mix", "product", "record"]
KINDS: tuple[Kind, ...] = get_args(Kind)
_KEPT: tuple[tuple[Kind, str], ...] = (
    ("sprayer", "sprayers"),
    ("mix", "mixes"),
    ("product", "products"),
    ("record", "records"),
)
_MOST = 12


class _Named(Protocol):
    @property
    def name(self) -> str: ...


Noun = TypeVar("Noun", bound=_Named)


@dataclass(frozen=True)
class Thing:
    """A thing of a property: what kind it is, its table, and the noun itself."""

    kind: Kind
    table: str
    noun: KeptPlot | KeptMark | KeptApplication | Kept


def name_from(text: str, *, what: str) -> str:
    """A name as it is kept: on one line, without signs that nobody sees.

    Raises
    ------
    CallError
        Where nothing is left of it.
    """
    name = clean_name(text)
    if not name:
        raise CallError(f"{what}: is empty. Give a name.")
    return name


def undo_words(path: Path) -> str:
    """How a change is taken back."""
    return f"To take this back: gladebook property undo {path.name}"


def same(name: str, other: str) -> bool:
    """Whether two names are one to people: capitals do not matter."""
    return name.strip().casefold() == other.strip().casefold()


def called(nouns: Sequence[Noun], name: str) -> list[Noun]:
    """Those of that name: written just so, else with other capitals."""
    return [n for n in nouns if n.name == name] or [n for n in nouns if same(n.name, name)]


def thing_called(base: sqlite3.Connection, name: str, *, path: Path, kind: str | None = None) -> Thing:
    """The one thing of a name.

    Raises
    ------
    PropertyError
        Where there is none, or several and `kind` does not say which.
    """
    things = [*_things(base)]
    nouns = called([t.noun for t in things], name)
    found = [t for t in things if t.noun in nouns and kind in (None, t.kind)]
    if not found:
        plots = [t.noun.name for t in things if t.kind == "plot"]
        shown = ", ".join(plots[:_MOST]) + (f" and {len(plots) - _MOST:,} more" if len(plots) > _MOST else "")
        raise PropertyError(
            f'{path.name}: has no {kind or "plot, or anything else,"} called "{name}". '
            f"{f'Its plots: {shown}. ' if shown else ''}See all with: gladebook property show {path.name}"
        )
    if len(found) > 1:
        kinds = sorted({t.kind for t in found})
        if len(kinds) == 1:
            raise PropertyError(
                f'{path.name}: {len(found)} of its things are called "{name}". Write it with capitals as it is kept.'
            )
        raise PropertyError(
            f'{path.name}: more than one thing is called "{name}": {", ".join(kinds)}. Say which, like --kind '
            f'"{kinds[0]}".'
        )
    return found[0]


def _things(base: sqlite3.Connection) -> list[Thing]:
    found = [Thing("plot", "plots", plot) for plot in plots_in(base)]
    found += [Thing(mark.kind, "marks", mark) for mark in marks_in(base)]
    found += [Thing("application", "applications", one) for one in applications_in(base)]
    for kind, table in _KEPT:
        found += [Thing(kind, table, one) for one in kept_in(base, table)]
    return found


def refuse_taken(there: Sequence[_Named], name: str, *, path: Path, what: str, instead: str) -> None:
    """Refuse a name that another of its kind has.

    Raises
    ------
    PropertyError
        Where it is taken.
    """
    taken = next((one.name for one in there if same(one.name, name)), None)
    if taken is not None:
        raise PropertyError(f'{path.name}: keeps {what} called "{taken}" already. {instead}')


def one_application(base: sqlite3.Connection, name: str | None, *, path: Path) -> KeptApplication:
    """The application of a name, or the only one.

    Raises
    ------
    PropertyError
        Where there is none.
    CallError
        Where there are several and none was named.
    """
    there = applications_in(base)
    if not there:
        raise PropertyError(
            f"{path.name}: keeps no application yet. Keep one with: gladebook coverage {path.name} TRACK --save NAME"
        )
    names = ", ".join(one.name for one in there[-_MOST:])
    if name is None:
        if len(there) > 1:
            raise CallError(f"--application: {path.name} keeps {len(there)} applications ({names}). Say which.")
        return there[0]
    found = called(there, name)
    if not found:
        raise PropertyError(f'{path.name}: keeps no application called "{name}". Its applications: {names}.')
    return found[0]
