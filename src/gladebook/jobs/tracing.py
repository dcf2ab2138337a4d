"""Plots and obstacles traced on the page: put down, drawn anew, taken away, each one change that can be undone.

Whoever changes a shape says which state of it they saw: its mark. Where somebody else has changed it since, nothing is
written, and they are told. The same holds for undo and the last change that was seen.
"""

import sqlite3
from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from gladebook.errors import BoundaryError, Clash
from gladebook.io.property.change import changing, undo_last
from gladebook.io.property.open import connected
from gladebook.io.property.store import (
    add_mark,
    add_plot,
    marks_in,
    plots_in,
    redraw_mark,
    redraw_plot,
    remove_plot,
    rename_plot,
)
from gladebook.jobs.named import name_from, refuse_taken
from gladebook.jobs.property import today
from gladebook.jobs.sheet import state_of
from gladebook.plots.plot import Fault, Plot, check_plot
from gladebook.plots.traced import Rings, traced_shape
from gladebook.records.kept import KeptMark, KeptPlot

__all__ = ["Parts", "TracedKind", "call_anew", "put_down", "redraw", "sound", "take_away", "take_back"]

TracedKind = Literal["plot", "obstacle", "check strip"]
Parts = Sequence[Rings]


def sound(parts: Parts, *, name: str) -> Plot:
    """A traced outline as a plot.

    Raises
    ------
    BoundaryError
        Where it is no area, or crosses itself.
    """
    found = check_plot(name, traced_shape(parts, name=name))
    if isinstance(found, Fault):
        raise BoundaryError(f"{name}: {found.reason}")
    return found


def put_down(path: Path, name: str, *, kind: TracedKind, parts: Parts) -> str:
    """Put a traced plot, obstacle or check strip into the property, and say so.

    Raises
    ------
    CallError
        Where it has no name.
    InputError
        Where its name is taken, or its boundary is none.
    """
    name = name_from(name, what="The name")
    plot = sound(parts, name=name)
    words = f"Traced the {kind} {name}."
    with connected(path) as base, changing(base, words) as pen:
        _refuse(base, name, kind=kind, path=path)
        if kind == "plot":
            add_plot(pen, plot, day=today())
        else:
            add_mark(pen, name=name, kind=kind, shape=plot.shape)
    return words


def _refuse(base: sqlite3.Connection, name: str, *, kind: TracedKind, path: Path, but: str = "") -> None:
    there: list[KeptPlot | KeptMark] = [*(plots_in(base) if kind == "plot" else marks_in(base, kind=kind))]
    others = [one for one in there if one.uid != but]
    article = "an" if kind == "obstacle" else "a"
    refuse_taken(others, name, path=path, what=f"{article} {kind}", instead="Choose another name.")


def redraw(path: Path, uid: str, *, parts: Parts, mark: str) -> str:
    """Draw a shape anew; a plot's old boundary is kept for earlier days.

    Raises
    ------
    Clash
        Where somebody else has changed it since `mark` was seen.
    InputError
        Where it is gone, or its new boundary is none.
    """
    with connected(path) as base:
        one = _seen(base, uid, mark=mark, path=path)
        plot = sound(parts, name=one.name)
        words = f"Drew {one.name} anew."
        with changing(base, words) as pen:
            one = _seen(base, uid, mark=mark, path=path)
            if isinstance(one, KeptPlot):
                redraw_plot(pen, one, shape=plot.shape, day=today())
            else:
                redraw_mark(pen, one, shape=plot.shape)
    return words


def call_anew(path: Path, uid: str, *, name: str, mark: str) -> str:
    """Give a shape another name.

    Raises
    ------
    CallError
        Where the new name is empty.
    Clash
        Where somebody else has changed it since `mark` was seen.
    InputError
        Where it is gone, or the name is taken.
    """
    name = name_from(name, what="The new name")
    with connected(path) as base:
        one = _seen(base, uid, mark=mark, path=path)
        if one.name == name:
            return f"It is called {name} already."
        words = f"Renamed {one.name} to {name}."
        with changing(base, words) as pen:
            one = _seen(base, uid, mark=mark, path=path)
            kind: TracedKind = "plot" if isinstance(one, KeptPlot) else one.kind
            _refuse(base, name, kind=kind, path=path, but=uid)
            if isinstance(one, KeptPlot):
                rename_plot(pen, one, name=name)
            else:
                pen.change("marks", one.uid, name=name)
    return words


def take_away(path: Path, uid: str, *, mark: str) -> str:
    """Take a shape away; the boundaries that a plot had are kept.

    Raises
    ------
    Clash
        Where somebody else has changed it since `mark` was seen.
    InputError
        Where it is gone already.
    """
    with connected(path) as base:
        one = _seen(base, uid, mark=mark, path=path)
        words = f"Removed {one.name}."
        with changing(base, words) as pen:
            one = _seen(base, uid, mark=mark, path=path)
            if isinstance(one, KeptPlot):
                remove_plot(pen, one, day=today())
            else:
                pen.remove("marks", one.uid)
    return words


def take_back(path: Path, *, step: int) -> str:
    """Take the last change back, if it is still the one that was seen.

    Raises
    ------
    Clash
        Where somebody else has changed something since.
    PropertyError
        Where there is nothing to take back, or another program has changed the same.
    """
    with connected(path) as base:
        return f"Taken back: {undo_last(base, path=path, seen=step).words}"


def _seen(base: sqlite3.Connection, uid: str, *, mark: str, path: Path) -> KeptPlot | KeptMark:
    """A shape in the state that was seen."""
    there: list[KeptPlot | KeptMark] = [*plots_in(base), *marks_in(base)]
    one = next((s for s in there if s.uid == uid), None)
    if one is None:
        raise Clash(f"{path.name}: that shape is not there any more; somebody took it away. Yours was not written.")
    if state_of(base, one) != mark:
        raise Clash(
            f"{one.name}: somebody else changed it in the meantime, and yours was not written. Look at theirs, then do "
            "yours again."
        )
    return one
