"""Which ground? The plots and marks of a file of boundaries, or of a property as it was on a day."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from gladebook.errors import CallError, PropertyError, UnreadableFile
from gladebook.io.door import read_plots
from gladebook.io.kinds import property_at
from gladebook.io.limits import LIMITS, Limits
from gladebook.io.property.areas import plots_of_kept
from gladebook.io.property.open import connected
from gladebook.io.property.store import marks_in, plots_in, plots_on
from gladebook.plots.plot import Plot
from gladebook.plots.sureness import PositionError
from gladebook.records.kept import KeptMark, KeptPlot, MarkKind

__all__ = ["GroundFiles", "Site", "from_property", "listed", "site_of"]

_MOST_NAMED = 6


@dataclass(frozen=True)
class GroundFiles:
    """Where the plots come from, and what is taken out of them.

    Attributes
    ----------
    boundaries : the file of plots, or a property file.
    obstacles : a file of ponds, rocks and trees; None for none. A property's own are taken too.
    left : a file of ground left unsprayed on purpose; None for none. A property's own is taken too.
    setback_m : strip kept off along every edge, metres.
    error : how far off corners are; None for the stated default.
    name_field, crs, layer, repair, limits : as for `gladebook.read_plots`.
    pick : names of the plots to take; () for all.
    day : of a property, the day whose boundaries count; empty for today's, or those of the track's day.
    """

    boundaries: Path
    obstacles: Path | None = None
    left: Path | None = None
    setback_m: float = 0.0
    error: PositionError | None = None
    name_field: str | None = None
    crs: str | None = None
    layer: str | None = None
    repair: bool = False
    limits: Limits = LIMITS
    pick: tuple[str, ...] = ()
    day: str = ""


@dataclass(frozen=True)
class Site:
    """The ground of one question.

    Attributes
    ----------
    plots : its plots.
    obstacles, left : what is taken out of them, and what was left unsprayed on purpose.
    kept : of a property, the same plots as it keeps them, with the day since which each boundary holds.
    notices : which boundaries were taken, where they are not today's, and what was left out.
    """

    plots: tuple[Plot, ...]
    obstacles: tuple[Plot, ...] = ()
    left: tuple[Plot, ...] = ()
    kept: tuple[KeptPlot, ...] = ()
    notices: tuple[str, ...] = ()


def from_property(files: GroundFiles) -> bool:
    """Whether the plots come from a property file; one of its layers by name is read as any other file's."""
    return files.layer is None and property_at(files.boundaries)


def site_of(files: GroundFiles, *, day: str = "") -> Site:
    """Read the ground.

    Parameters
    ----------
    files
        Where it comes from.
    day
        Of a property: the day of the tracks, where they have times and `files` says no other.

    Raises
    ------
    InputError
        Where a file cannot be read, a boundary is bad, or no plot has the name that was asked for.
    CallError
        Where an option does not go with the file.
    """
    obstacles, left = _read_marks(files, files.obstacles), _read_marks(files, files.left)
    if from_property(files):
        site = _of_property(files, day=files.day or day)
        return replace(site, obstacles=(*site.obstacles, *obstacles), left=(*site.left, *left))
    if files.day:
        raise CallError("--day: goes with a property file, which keeps the boundaries of each day. Leave it out.")
    plots = read_plots(
        files.boundaries,
        name_field=files.name_field,
        crs=files.crs,
        layer=files.layer,
        repair=files.repair,
        limits=files.limits,
    )
    chosen = _picked([plot.name for plot in plots], files.pick)
    return Site(
        plots=tuple(plots[i] for i in chosen),
        obstacles=obstacles,
        left=left,
        notices=_picked_words(chosen, plots, of=len(plots)),
    )


def _read_marks(files: GroundFiles, path: Path | None) -> tuple[Plot, ...]:
    return () if path is None else tuple(read_plots(path, crs=files.crs, repair=files.repair, limits=files.limits))


def _of_property(files: GroundFiles, *, day: str) -> Site:
    path = files.boundaries
    if files.name_field is not None:
        raise CallError("--name-field: a property file knows the names of its plots. Leave it out.")
    with connected(path, write=False) as base:
        now = plots_in(base)
        held = plots_on(base, day=day) if day else now
        marks = marks_in(base)
    if not held:
        raise PropertyError(
            f"{path.name}: holds no plots yet. Add some with: gladebook property add {path.name} plots.geojson"
        )
    chosen = _picked([plot.name for plot in held], files.pick)
    kept = [held[i] for i in chosen]
    plots = plots_of_kept(kept, source=path.name, repair=files.repair, limits=files.limits)
    there = [(one, plot) for one, plot in zip(kept, plots, strict=True) if plot is not None]
    if not there:
        raise PropertyError(f"{path.name}: none of its plots has an area now. Undo what emptied them, or draw them.")
    bare = [one.name for one, plot in zip(kept, plots, strict=True) if plot is None]
    notices = [f"{listed(bare)}: no area is left of it, so it was left out. Draw it again."] if bare else []
    notices += _day_words(kept, now=now, day=day) if day else []
    notices += _picked_words(chosen, held, of=len(held))
    obstacles = [mark.name for mark in marks if mark.kind == "obstacle"]
    if obstacles:
        notices.append(f"Taken out of the plots, as {path.name} keeps it: {listed(obstacles)}.")
    return Site(
        plots=tuple(plot for _, plot in there),
        obstacles=_marks_of(files, marks, kind="obstacle"),
        left=_marks_of(files, marks, kind="check strip"),
        kept=tuple(one for one, _ in there),
        notices=tuple(notices),
    )


def _marks_of(files: GroundFiles, marks: Sequence[KeptMark], *, kind: MarkKind) -> tuple[Plot, ...]:
    found = plots_of_kept(
        [mark for mark in marks if mark.kind == kind],
        source=files.boundaries.name,
        repair=files.repair,
        limits=files.limits,
    )
    return tuple(plot for plot in found if plot is not None)


def _day_words(kept: Sequence[KeptPlot], *, now: Sequence[KeptPlot], day: str) -> list[str]:
    """Which boundaries are not today's, and why."""
    today = {plot.uid: plot for plot in now}
    gone = [plot.name for plot in kept if plot.uid not in today]
    first = [plot for plot in kept if plot.since > day]
    older = [plot for plot in kept if plot.uid in today and plot.since != today[plot.uid].since and plot not in first]
    words: list[str] = []
    if older:
        words.append(
            f"{listed([plot.name for plot in older])}: the boundary that held on {day} was used; "
            f"{'it was' if len(older) == 1 else 'they were'} drawn anew since."
        )
    if gone:
        words.append(
            f"{listed(gone)}: removed since, but part of the property on {day}, so taken too. Name the plots that "
            "you mean with --plot."
        )
    if first:
        days = sorted({plot.since for plot in first})
        since = days[0] if len(days) == 1 else f"{days[0]} and later"
        words.append(
            f"{listed([plot.name for plot in first])}: no boundary is kept for {day}, so the first was used, which "
            f"holds since {since}."
        )
    return words


def _picked(names: Sequence[str], wanted: Sequence[str]) -> list[int]:
    """Places of the plots asked for, in the file's order; all where none was named."""
    if not wanted:
        return list(range(len(names)))
    known = {name.casefold() for name in names}
    for name in wanted:
        if name.strip().casefold() not in known:
            raise UnreadableFile(f'There is no plot called "{name}". The plots: {listed(names, most=20)}.')
    asked = {name.strip().casefold() for name in wanted}
    return [i for i, name in enumerate(names) if name.casefold() in asked]


def _picked_words(chosen: Sequence[int], plots: Sequence[Plot] | Sequence[KeptPlot], *, of: int) -> tuple[str, ...]:
    if len(chosen) == of:
        return ()
    names = listed([plots[i].name for i in chosen])
    return (f"Only {names} {'was' if len(chosen) == 1 else 'were'} taken, {len(chosen)} of {of} plots.",)


def listed(names: Sequence[str], *, most: int = _MOST_NAMED) -> str:
    """Names in a row, a long one cut short."""
    more = len(names) - most
    return ", ".join(names[:most]) + (f" and {more:,} more" if more > 0 else "")
