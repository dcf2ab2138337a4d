"""The property file: made, looked at, named anew, checked, backed up, undone."""

import sqlite3
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from gladebook.errors import PropertyError
from gladebook.io.property.change import changing, steps_of, undo_last
from gladebook.io.property.check import faults_in, mend_indexes
from gladebook.io.property.open import connected, copy_into, free_name, new_property
from gladebook.io.property.store import (
    applications_in,
    applications_of,
    boundaries_of,
    edits_in,
    kept_in,
    marks_in,
    name_in,
    plots_in,
    remove_application,
    remove_plot,
    rename_plot,
    strips_in,
)
from gladebook.jobs.ground import listed
from gladebook.jobs.named import Thing, name_from, refuse_taken, thing_called, undo_words
from gladebook.jobs.sheet import measured_alone, measured_in
from gladebook.plots.plot import Plot
from gladebook.records.kept import Kept, KeptApplication, KeptMark, KeptPlot
from gladebook.view.property import Edit, Holding, ShownPlot
from gladebook.view.thing import ShownBoundary, ShownHistory, ShownThing

__all__ = [
    "back_up",
    "check_file",
    "holding_of",
    "make_property",
    "remove_thing",
    "rename_thing",
    "show_thing",
    "today",
    "undo_change",
]

Progress = Callable[[str, float], None]


def today() -> str:
    """The day by this computer's clock and zone, as ISO 8601 has it."""
    return f"{datetime.now().astimezone():%Y-%m-%d}"


def make_property(path: Path, *, name: str | None = None) -> list[str]:
    """Make an empty property file, and say so.

    Raises
    ------
    PropertyError
        Where there is such a file already, or it cannot be written.
    """
    name = name_from(path.stem if name is None else name, what="--name")
    new_property(path, name=name)
    return [
        f"Made {path.name} for {name}. It holds nothing yet.",
        f"Add plots with: gladebook property add {path.name} plots.geojson",
    ]


def holding_of(path: Path, *, progress: Progress | None = None) -> Holding:
    """All that a property holds, its plots measured.

    Raises
    ------
    PropertyError
        Where the file cannot be read.
    """
    with connected(path, write=False) as base:
        plots, marks = plots_in(base), marks_in(base)
        kept = {table: tuple(kept_in(base, table)) for table in ("sprayers", "mixes", "products", "records")}
        applications, strips = tuple(applications_in(base)), tuple(strips_in(base))
        edits = tuple(Edit(*row) for row in edits_in(base))
        steps, name = tuple(steps_of(base)), name_in(base)
    acres, total_m2, notices = measured_in(plots, marks, path=path, progress=progress)
    shown = tuple(
        ShownPlot(one.name, one.since, None if row is None else row.net_m2)
        for one, row in zip(plots, acres, strict=True)
    )
    return Holding(
        file=path.name,
        name=name,
        plots=shown,
        total_m2=total_m2,
        applications=applications,
        strips=strips,
        marks=tuple(marks),
        edits=edits,
        steps=steps,
        notices=notices,
        **kept,
    )


def show_thing(path: Path, name: str, *, kind: str | None = None) -> ShownThing:
    """One thing of a property, with what belongs to it.

    Raises
    ------
    PropertyError
        Where there is none of that name, or several and `kind` does not say which.
    """
    with connected(path, write=False) as base:
        thing = thing_called(base, name, path=path, kind=kind)
        noun = thing.noun
        if isinstance(noun, KeptPlot):
            had = boundaries_of(base, noun.uid)
            shown = tuple(ShownBoundary(_area_m2(b.name, b.shape), b.since, b.until) for b in had)
            told = ShownHistory(noun.name, shown, tuple(applications_of(base, noun.uid)), _entered(base, noun.uid))
            return ShownThing(thing.kind, told)
        if isinstance(noun, KeptApplication):
            return ShownThing(thing.kind, noun, strips=tuple(strips_in(base, application_uid=noun.uid)))
    area_m2 = _area_m2(noun.name, noun.shape) if isinstance(noun, KeptMark) else 0.0
    return ShownThing(thing.kind, noun, area_m2=area_m2)


def _entered(base: sqlite3.Connection, plot_uid: str) -> tuple[str, ...]:
    """What grows on a plot and what was sprayed there, as it was entered, in words."""
    records = sorted(
        (k for k in kept_in(base, "records") if k.content.get("plot_uid") == plot_uid), key=lambda k: k.day
    )
    return tuple(str(line) for k in records for line in k.content.get("words") or ())


def _area_m2(name: str, shape: Any) -> float:
    return measured_alone(Plot(name, shape)).gross_m2 if shape.area > 0 else 0.0


def rename_thing(path: Path, old: str, new: str, *, kind: str | None = None) -> list[str]:
    """Give a plot, or anything else that is kept, another name.

    Raises
    ------
    PropertyError
        Where there is none of that name, or the new one is taken.
    """
    new = name_from(new, what="The new name")
    with connected(path) as base:
        thing = thing_called(base, old, path=path, kind=kind)
        was = thing.noun.name
        if was == new:
            raise PropertyError(f'{path.name}: the {thing.kind} is called "{new}" already.')
        with changing(base, f'Renamed the {thing.kind} "{was}" to "{new}".') as pen:
            again = thing_called(base, was, path=path, kind=thing.kind)
            others = [one for one in _alike(base, again) if one.uid != again.noun.uid]
            article = "an" if thing.kind[0] in "aeiou" else "a"
            refuse_taken(others, new, path=path, what=f"{article} {thing.kind}", instead="Choose another name.")
            if isinstance(again.noun, KeptPlot):
                rename_plot(pen, again.noun, name=new)
            else:
                pen.change(again.table, again.noun.uid, name=new)
    more = " Applications that were kept have the name of their day." if thing.kind == "plot" else ""
    return [f"{was} is now {new}.{more}", undo_words(path)]


def _alike(base: sqlite3.Connection, thing: Thing) -> Sequence[KeptPlot | KeptMark | KeptApplication | Kept]:
    """All things of the same kind."""
    if thing.kind == "plot":
        return plots_in(base)
    if thing.kind == "application":
        return applications_in(base)
    if thing.table == "marks":
        return [mark for mark in marks_in(base) if mark.kind == thing.kind]
    return kept_in(base, thing.table)


def remove_thing(path: Path, name: str, *, kind: str | None = None, day: str = "") -> list[str]:
    """Take a plot, or anything else that is kept, away.

    Parameters
    ----------
    path
        The property file.
    name
        What it is called.
    kind
        What it is, where several things have that name.
    day
        Of a plot: the first day on which it is none any more; empty for today.

    Raises
    ------
    PropertyError
        Where there is none of that name, or several and `kind` does not say which.
    """
    with connected(path) as base:
        thing = thing_called(base, name, path=path, kind=kind)
        was = thing.noun.name
        with changing(base, f'Removed the {thing.kind} "{was}".') as pen:
            noun = thing_called(base, was, path=path, kind=thing.kind).noun
            if isinstance(noun, KeptPlot):
                told = applications_of(base, noun.uid)
                remove_plot(pen, noun, day=day or today())
                return [_plot_gone(was, told, day=day), undo_words(path)]
            if isinstance(noun, KeptApplication):
                remove_application(base, pen, noun.uid)
                words = f"Removed the application {was} with its tracks and missed strips; its plots are kept."
                return [words, undo_words(path)]
            pen.remove(thing.table, noun.uid)
    return [f"Removed the {thing.kind} {was}.", undo_words(path)]


def _plot_gone(name: str, applications: Sequence[str], *, day: str) -> str:
    since = f"from {day} on" if day else f"from today on ({today()})"
    which = ""
    if applications:
        many = len(applications) > 1
        which = f", and so {'are' if many else 'is'} the application{'s' if many else ''} {listed(applications)}"
    return f"Removed the plot {name} {since}; the boundaries that it had are kept{which}."


def check_file(path: Path, *, mend: bool = False) -> tuple[list[str], list[str]]:
    """What is wrong with a property file, and what was done about it.

    Parameters
    ----------
    path
        The file.
    mend
        Build its spatial indexes anew first.

    Raises
    ------
    PropertyError
        Where the file cannot be read.
    """
    done: list[str] = []
    with connected(path, write=mend) as base:
        if mend:
            mend_indexes(base)
            done.append("Built all spatial indexes anew from the shapes.")
        return faults_in(base), done


def back_up(path: Path, out: Path | None = None) -> list[str]:
    """Write all of a property into a new file beside it, or where it is said.

    Raises
    ------
    PropertyError
        Where there is a file of that name already, or it cannot be written.
    """
    target = out or free_name(path, f"backup-{today()}")
    if target.suffix.lower() != ".gpkg":
        raise PropertyError(f"{target.name}: a property file ends in .gpkg. Call it {target.stem or 'backup'}.gpkg.")
    if not target.parent.is_dir():
        raise PropertyError(f"{target}: there is no such folder. Make it first, or name another place.")
    if target.exists():
        raise PropertyError(f"{target.name}: there is such a file already, and no backup is written over it.")
    with connected(path, write=False) as base:
        copy_into(base, target)
        plots, applications = len(plots_in(base)), len(applications_in(base))
    held = f"{plots:,} plot{'' if plots == 1 else 's'}, {applications:,} application{'' if applications == 1 else 's'}"
    return [f"Backed up to {target}: {held}, and all changes."]


def undo_change(path: Path) -> list[str]:
    """Take the last change back, and say which and what would be next.

    Raises
    ------
    PropertyError
        Where there is none, or another program has changed the same since.
    """
    with connected(path) as base:
        step = undo_last(base, path=path)
        before = next((one for one in reversed(steps_of(base)) if not one.undone), None)
    rest = "Nothing is left to undo." if before is None else f"The next undo would take back: {before.words}"
    return [f"Taken back: {step.words}", rest]
