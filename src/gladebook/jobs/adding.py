"""What comes into a property: plots, obstacles, check strips and sprayers, all of one call as one change."""

import sqlite3
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from gladebook.errors import CallError, PropertyError
from gladebook.io.door import read_plots
from gladebook.io.limits import LIMITS, Limits
from gladebook.io.property.change import Pen, changing
from gladebook.io.property.open import connected
from gladebook.io.property.store import (
    add_kept,
    add_mark,
    add_plot,
    change_kept,
    kept_in,
    marks_in,
    plots_in,
    redraw_mark,
    redraw_plot,
)
from gladebook.jobs.ground import listed
from gladebook.jobs.keep import Side, sprayer_content
from gladebook.jobs.named import name_from, same
from gladebook.jobs.property import today
from gladebook.passes.sprayer import Sprayer
from gladebook.plots.acreage import measure_plots
from gladebook.plots.plot import Plot
from gladebook.plots.sureness import PositionError
from gladebook.records.kept import Kept, KeptMark, KeptPlot, MarkKind
from gladebook.units import ACRE_M2

__all__ = ["Added", "Adding", "add_to"]

Progress = Callable[[str, float], None]
_MOST_IN_LOG = 12
Kind = TypeVar("Kind", KeptPlot, KeptMark)


@dataclass(frozen=True)
class Adding:
    """What is to come in.

    Attributes
    ----------
    plots, obstacles, left : files, None for none.
    sprayer : its name, what it is, and the side on which all of its swath lies; None for none.
    name : the name of a file's only plot.
    name_field, crs, layer, repair, limits : as for `gladebook.read_plots`.
    replace : whether what has the same name already is drawn, or said, anew.
    since : the first day of the boundaries; empty for today.
    """

    plots: Path | None = None
    obstacles: Path | None = None
    left: Path | None = None
    sprayer: tuple[str, Sprayer, Side | None] | None = None
    name: str | None = None
    name_field: str | None = None
    crs: str | None = None
    layer: str | None = None
    repair: bool = False
    limits: Limits = LIMITS
    replace: bool = False
    since: str = ""


@dataclass(frozen=True)
class Added:
    """What came in, and what the reader should know of it, as sentences."""

    words: tuple[str, ...]
    notices: tuple[str, ...]


@dataclass
class _Plan:
    """What is new, and what is there already, by kinds."""

    plots: list[Plot] = field(default_factory=list)
    redrawn: list[tuple[KeptPlot, Plot]] = field(default_factory=list)
    marks: list[tuple[MarkKind, Plot]] = field(default_factory=list)
    marks_redrawn: list[tuple[KeptMark, Plot]] = field(default_factory=list)
    sprayer: Kept | None = None
    unchanged: list[str] = field(default_factory=list)


def add_to(path: Path, adding: Adding, *, progress: Progress | None = None) -> Added:
    """Let things into a property: all of them, or none.

    Raises
    ------
    InputError
        Where a file cannot be read, or a name is taken.
    CallError
        Where an option does not go with what is added.
    """
    tell = progress or (lambda _what, _share: None)
    tell("Reading", 0.0)
    plots = _read(adding.plots, adding, of_plots=True)
    marks: dict[MarkKind, list[Plot]] = {
        "obstacle": _read(adding.obstacles, adding, of_plots=False),
        "check strip": _read(adding.left, adding, of_plots=False),
    }
    tell("Reading", 1.0)
    day = adding.since or today()
    with connected(path) as base:
        plan = _plan(base, plots, marks, adding=adding, path=path)
        words = _logged(plan, adding)
        if words:
            with changing(base, words) as pen:
                now = _plan(base, plots, marks, adding=adding, path=path)
                if _logged(now, adding) != words:
                    raise PropertyError(
                        f"{path.name}: another program changed it at the same moment, and nothing was added. Do it "
                        "again."
                    )
                _write(pen, now, adding=adding, day=day, tell=tell)
    notices = [str(note) for plot in (*plots, *marks["obstacle"], *marks["check strip"]) for note in plot.notes]
    return Added(tuple(_told(plan, adding, day=day, path=path)), tuple(dict.fromkeys(notices)))


def _read(path: Path | None, adding: Adding, *, of_plots: bool) -> list[Plot]:
    if path is None:
        return []
    found = read_plots(
        path,
        name_field=adding.name_field if of_plots else None,
        crs=adding.crs,
        layer=adding.layer if of_plots else None,
        repair=adding.repair,
        limits=adding.limits,
    )
    if of_plots and adding.name is not None:
        if len(found) != 1:
            raise CallError(f"--name: {path.name} holds {len(found)} plots, so it cannot name them all. Leave it out.")
        only = found[0]
        found = [Plot(name_from(adding.name, what="--name"), only.shape, only.walked, only.notes)]
    counts = Counter(plot.name.casefold() for plot in found)
    if counts and max(counts.values()) > 1:
        first = {plot.name.casefold(): plot.name for plot in reversed(found)}
        names = [first[name] for name, count in counts.items() if count > 1]
        raise PropertyError(
            f"{path.name}: more than one shape is called {listed(names)}. Give each a name of its own"
            f"{', or say which field holds the names with --name-field' if of_plots else ''}."
        )
    return found


def _plan(
    base: sqlite3.Connection,
    plots: Sequence[Plot],
    marks: Mapping[MarkKind, Sequence[Plot]],
    *,
    adding: Adding,
    path: Path,
) -> _Plan:
    """Sort what comes in from what is there.

    Raises
    ------
    PropertyError
        Where names are taken and are not to be replaced.
    """
    plan = _Plan()
    plan.plots, plan.redrawn = _sorted(plots, plots_in(base), "plot", plan=plan, adding=adding, path=path)
    for kind, found in marks.items():
        new, redrawn = _sorted(found, marks_in(base, kind=kind), kind, plan=plan, adding=adding, path=path)
        plan.marks += [(kind, plot) for plot in new]
        plan.marks_redrawn += redrawn
    if adding.sprayer is not None:
        plan.sprayer = next((one for one in kept_in(base, "sprayers") if same(one.name, adding.sprayer[0])), None)
        if plan.sprayer is not None and not adding.replace:
            _refuse([plan.sprayer.name], "sprayer", adding=adding, path=path)
    return plan


def _sorted(
    found: Sequence[Plot], there: Sequence[Kind], kind: str, *, plan: _Plan, adding: Adding, path: Path
) -> tuple[list[Plot], list[tuple[Kind, Plot]]]:
    """What is new, and what is there already but drawn otherwise; what is there just so is noted in the plan."""
    known = {one.name.casefold(): one for one in there}
    old = [(known[plot.name.casefold()], plot) for plot in found if plot.name.casefold() in known]
    if old and not adding.replace:
        _refuse([one.name for one, _ in old], kind, adding=adding, path=path)
    plan.unchanged += [one.name for one, plot in old if _parts(one.shape) == _parts(plot.shape)]
    redrawn = [(one, plot) for one, plot in old if _parts(one.shape) != _parts(plot.shape)]
    return [plot for plot in found if plot.name.casefold() not in known], redrawn


def _parts(shape: Any) -> list[Any]:
    """Its polygons: one of them alone is kept as a set of one."""
    return list(shape.geoms) if hasattr(shape, "geoms") else [shape]


def _refuse(taken: Sequence[str], kind: str, *, adding: Adding, path: Path) -> None:
    many = len(taken) > 1
    has = f"{len(taken):,} {kind}s" if many else f"{'an' if kind == 'obstacle' else 'a'} {kind}"
    does = f"{'describe' if kind == 'sprayer' else 'draw'} {'them' if many else 'it'} anew"
    other = ", or another name for yours with --name" if kind == "plot" and not many and adding.name is None else ""
    if kind == "plot" and many:
        other = (
            "; where yours are others, name them in their file, or say which field holds the names with --name-field"
        )
    raise PropertyError(
        f"{path.name}: has {has} called {listed(taken)} already, and nothing was added. Say --replace to {does}{other}."
    )


def _logged(plan: _Plan, adding: Adding) -> str:
    """One sentence for the list of changes; empty where there is nothing to do."""
    parts: list[str] = []
    if plan.plots:
        names = listed([plot.name for plot in plan.plots], most=_MOST_IN_LOG)
        parts.append(f"added {_count(len(plan.plots), 'plot')} ({names})")
    if plan.redrawn:
        parts.append(f"drew {listed([old.name for old, _ in plan.redrawn], most=_MOST_IN_LOG)} anew")
    for kind in ("obstacle", "check strip"):
        names_of = [plot.name for what, plot in plan.marks if what == kind]
        if names_of:
            parts.append(f"added {_count(len(names_of), kind)} ({listed(names_of)})")
    if plan.marks_redrawn:
        parts.append(f"drew {listed([mark.name for mark, _ in plan.marks_redrawn])} anew")
    if adding.sprayer is not None:
        verb = "added" if plan.sprayer is None else "described"
        parts.append(f"{verb} the sprayer {adding.sprayer[0]}{'' if plan.sprayer is None else ' anew'}")
    text = ", ".join(parts)
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def _write(pen: Pen, plan: _Plan, *, adding: Adding, day: str, tell: Progress) -> None:
    whole = len(plan.plots) + len(plan.redrawn)
    for number, plot in enumerate(plan.plots, start=1):
        add_plot(pen, plot, day=day)
        tell("Adding", number / whole)
    for old, plot in plan.redrawn:
        redraw_plot(pen, old, shape=plot.shape, day=day)
        if old.walked != plot.walked:
            pen.change("plots", old.uid, walked=int(plot.walked))
    for kind, plot in plan.marks:
        add_mark(pen, name=plot.name, kind=kind, shape=plot.shape)
    for mark, plot in plan.marks_redrawn:
        redraw_mark(pen, mark, shape=plot.shape)
    if adding.sprayer is not None:
        name, sprayer, side = adding.sprayer
        content = sprayer_content(sprayer, one_sided=side)
        if plan.sprayer is None:
            add_kept(pen, "sprayers", name=name, content=content)
        else:
            change_kept(pen, "sprayers", plan.sprayer.uid, content=content)


def _told(plan: _Plan, adding: Adding, *, day: str, path: Path) -> list[str]:
    since = f"since {day}" if adding.since else f"since today, {day}"
    words: list[str] = []
    if plan.plots:
        names = [plot.name for plot in plan.plots]
        words.append(
            f"Added {_count(len(names), 'plot')} to {path.name}, {_acres(plan.plots)} ac as drawn: {listed(names)}. "
            f"{'Its boundary holds' if len(names) == 1 else 'Their boundaries hold'} {since}."
        )
    for old, plot in plan.redrawn:
        before = _acres([Plot(old.name, old.shape)])
        words.append(
            f"{old.name} has a new boundary {since}: {_acres([plot])} ac as drawn, {before} ac before. The old one is "
            "kept for applications of earlier days."
        )
    for kind, what in (("obstacle", "is taken out of every plot"), ("check strip", "counts as left on purpose")):
        names = [plot.name for found, plot in plan.marks if found == kind]
        if names:
            words.append(f"Added {_count(len(names), kind)}: {listed(names)}. From now on that ground {what}.")
    if plan.marks_redrawn:
        words.append(f"Drawn anew: {listed([mark.name for mark, _ in plan.marks_redrawn])}.")
    if plan.unchanged:
        words.append(f"As it was already: {listed(plan.unchanged)}.")
    if adding.sprayer is not None:
        name = adding.sprayer[0]
        words.append(
            f"{'Added' if plan.sprayer is None else 'Described anew'}: the sprayer {name}. Use it with: gladebook "
            f'coverage {path.name} TRACK --sprayer "{name}"'
        )
    return words


def _acres(plots: Sequence[Plot]) -> str:
    return f"{measure_plots(plots, error=PositionError()).total_m2 / ACRE_M2:,.2f}"


def _count(number: int, what: str) -> str:
    return f"{number:,} {what}{'' if number == 1 else 's'}"
