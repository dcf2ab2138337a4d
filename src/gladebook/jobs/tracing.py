"""Plots and obstacles traced on the page: put down, drawn anew, taken away, each one change that can be undone.

Whoever changes a shape says which state of it they saw: its mark. Where somebody else has changed it since, nothing is
written, and they are told.
"""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from gladebook.errors import BoundaryError, CallError, Clash, PropertyError
from gladebook.io.property.change import changing, mark_of, row_of, steps_of
from gladebook.io.property.open import connected
from gladebook.io.property.store import (
    add_mark,
    add_plot,
    marks_in,
    name_in,
    plots_in,
    redraw_mark,
    redraw_plot,
    remove_plot,
)
from gladebook.jobs.named import name_from, refuse_taken
from gladebook.jobs.property import today
from gladebook.plots.acreage import measure_plots
from gladebook.plots.plot import Fault, Plot, check_plot
from gladebook.plots.sureness import PositionError
from gladebook.plots.traced import traced_shape
from gladebook.records.kept import KeptMark, KeptPlot

__all__ = ["Drawn", "Sheet", "acres_of", "put_down", "redraw", "sheet_of", "take_away"]

What = Literal["plot", "obstacle"]
Rings = Sequence[Sequence[Sequence[float]]]


@dataclass(frozen=True)
class Drawn:
    """A shape on the map.

    Attributes
    ----------
    uid, name : its id and name.
    kind : "plot", "obstacle" or "check strip".
    shape : shapely, degrees on WGS 84.
    area_m2 : of a plot its ground less obstacles, of all else as drawn, m2.
    since : the day of its boundary; empty for none.
    mark : of the state that it is in.
    """

    uid: str
    name: str
    kind: str
    shape: Any
    area_m2: float
    since: str
    mark: str


@dataclass(frozen=True)
class Sheet:
    """All that is drawn: the property's name, its shapes, all plots together in m2, and what undo would take back."""

    name: str
    shapes: tuple[Drawn, ...]
    total_m2: float
    undo: str | None


def sheet_of(path: Path) -> Sheet:
    """All shapes of a property with their acres.

    Raises
    ------
    PropertyError
        Where the file cannot be read.
    """
    with connected(path, write=False) as base:
        plots, marks, name = plots_in(base), marks_in(base), name_in(base)
        stamps = {plot.uid: _stamp(base, plot) for plot in plots} | {mark.uid: _stamp(base, mark) for mark in marks}
        last = next((step for step in reversed(steps_of(base)) if not step.undone), None)
    obstacles = [Plot(m.name, m.shape) for m in marks if m.kind == "obstacle"]
    measured = measure_plots([Plot(p.name, p.shape) for p in plots], obstacles=obstacles, error=PositionError())
    shapes = [
        Drawn(p.uid, p.name, "plot", p.shape, a.net_m2, p.since, stamps[p.uid])
        for p, a in zip(plots, measured.plots, strict=True)
    ]
    shapes += [Drawn(m.uid, m.name, m.kind, m.shape, _area_m2(m.name, m.shape), "", stamps[m.uid]) for m in marks]
    return Sheet(name, tuple(shapes), measured.total_m2, None if last is None else last.words)


def _area_m2(name: str, shape: Any) -> float:
    return measure_plots([Plot(name, shape)], error=PositionError()).total_m2


def _stamp(base: sqlite3.Connection, one: KeptPlot | KeptMark) -> str:
    table = "plots" if isinstance(one, KeptPlot) else "marks"
    return mark_of(row_of(base, table, one.uid)) or ""


def acres_of(rings: Rings) -> float:
    """Ground of a traced outline, m2, as a plot would have it.

    Raises
    ------
    BoundaryError
        Where it is no area.
    """
    return _area_m2("This outline", _sound("This outline", rings).shape)


def _sound(name: str, rings: Rings) -> Plot:
    found = check_plot(name, traced_shape(rings, name=name))
    if isinstance(found, Fault):
        raise BoundaryError(f"{name}: {found.reason}")
    return found


def put_down(path: Path, name: str, *, kind: What, rings: Rings) -> str:
    """Put a traced plot or obstacle into the property, and say so.

    Raises
    ------
    CallError
        Where it has no name.
    InputError
        Where its name is taken, or its boundary is none.
    """
    name = name_from(name, what="The name")
    plot = _sound(name, rings)
    words = f"Traced the {kind} {name}."
    with connected(path) as base, changing(base, words) as pen:
        there: Sequence[KeptPlot | KeptMark] = plots_in(base) if kind == "plot" else marks_in(base, kind="obstacle")
        article = "an" if kind == "obstacle" else "a"
        refuse_taken(there, name, path=path, what=f"{article} {kind}", instead="Choose another name.")
        if kind == "plot":
            add_plot(pen, plot, day=today())
        else:
            add_mark(pen, name=name, kind="obstacle", shape=plot.shape)
    return words


def redraw(path: Path, uid: str, *, rings: Rings, mark: str) -> str:
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
        if len(getattr(one.shape, "geoms", [one.shape])) > 1:
            raise CallError(f"{one.name}: has several parts, which cannot be drawn on the map yet. Draw it in a file.")
        plot = _sound(one.name, rings)
        words = f"Drew {one.name} anew."
        with changing(base, words) as pen:
            one = _seen(base, uid, mark=mark, path=path)
            if isinstance(one, KeptPlot):
                redraw_plot(pen, one, shape=plot.shape, day=today())
            else:
                redraw_mark(pen, one, shape=plot.shape)
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


def _seen(base: sqlite3.Connection, uid: str, *, mark: str, path: Path) -> KeptPlot | KeptMark:
    """A shape in the state that was seen."""
    there: list[KeptPlot | KeptMark] = [*plots_in(base), *marks_in(base)]
    one = next((s for s in there if s.uid == uid), None)
    if one is None:
        raise PropertyError(f"{path.name}: that shape is not there any more. Look at the map as it is now.")
    if _stamp(base, one) != mark:
        raise Clash(
            f"{one.name}: somebody else changed it in the meantime, and yours was not written. Look at theirs, then do "
            "yours again."
        )
    return one
