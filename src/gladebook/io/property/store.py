"""What a property file holds, in and out of it as nouns.

Each function takes a connection from `connected`; those that change take a pen from `changing`, so that what belongs
together is one change, undone together.
"""

import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, get_args

from gladebook.errors import PropertyError
from gladebook.io.property.blobs import pack, unpack
from gladebook.io.property.change import Pen
from gladebook.io.property.columns import areas_of, as_json, lines_of, points_of, read_json, track_from
from gladebook.passes.track import Track
from gladebook.plots.plot import Plot
from gladebook.records.kept import (
    STATES,
    Kept,
    KeptApplication,
    KeptBoundary,
    KeptMark,
    KeptPlot,
    KeptStrip,
    MarkKind,
    State,
)

__all__ = [
    "KEPT",
    "add_application",
    "add_kept",
    "add_mark",
    "add_plot",
    "add_strip",
    "applications_in",
    "applications_of",
    "boundaries_of",
    "boundary_on",
    "change_kept",
    "edits_in",
    "kept_in",
    "marks_in",
    "name_in",
    "plots_in",
    "plots_on",
    "redraw_mark",
    "redraw_plot",
    "remove_application",
    "remove_plot",
    "rename_plot",
    "set_state",
    "strips_in",
    "tracks_of",
]

KEPT = ("sprayers", "products", "mixes", "records")


def name_in(base: sqlite3.Connection) -> str:
    """The property's name."""
    return str(base.execute("SELECT name FROM gladebook_schema").fetchone()[0])


def plots_in(base: sqlite3.Connection) -> list[KeptPlot]:
    """Plots as they are now, in the order in which they were added."""
    rows = base.execute("SELECT uid, name, geom, since, walked FROM plots WHERE geom NOTNULL ORDER BY id").fetchall()
    return [KeptPlot(uid, name, unpack(geom), since, bool(walked)) for uid, name, geom, since, walked in rows]


def boundaries_of(base: sqlite3.Connection, plot_uid: str) -> list[KeptBoundary]:
    """All boundaries that a plot had and has, the oldest first."""
    rows = base.execute(
        "SELECT name, geom, since, until FROM plot_history WHERE plot_uid = ? AND geom NOTNULL ORDER BY id",
        (plot_uid,),
    ).fetchall()
    found = [KeptBoundary(plot_uid, name, unpack(geom), since, until) for name, geom, since, until in rows]
    now = base.execute("SELECT name, geom, since FROM plots WHERE uid = ? AND geom NOTNULL", (plot_uid,)).fetchone()
    return found if now is None else [*found, KeptBoundary(plot_uid, now[0], unpack(now[1]), now[2], None)]


def boundary_on(base: sqlite3.Connection, plot_uid: str, *, day: str) -> KeptBoundary:
    """The boundary that held on a day: the last that had begun by then; of days before the first, the first.

    Raises
    ------
    PropertyError
        Where there is no such plot.
    """
    found = boundaries_of(base, plot_uid)
    if not found:
        raise PropertyError(f"There is no plot with the id {plot_uid}.")
    # A boundary that was replaced on its first day is no older one: the later of two that began together counts.
    latest_first = found[::-1]
    return next((b for b in latest_first if b.since <= day[:10]), min(latest_first, key=lambda b: b.since))


def plots_on(base: sqlite3.Connection, *, day: str) -> list[KeptPlot]:
    """Plots with the boundaries that held on a day, in the order in which they were added, then those removed since.

    Of the boundaries of a plot that had begun by that day the last counts; where none had, the first. A plot that was
    removed since counts where it held on that day, and then stands in for a later one of its name.
    """
    held: dict[str, list[tuple[KeptPlot, str]]] = {}
    for uid, name, geom, since, until in base.execute(
        "SELECT plot_uid, name, geom, since, until FROM plot_history WHERE geom NOTNULL ORDER BY id"
    ):
        held.setdefault(uid, []).append((KeptPlot(uid, name, unpack(geom), since), until))
    found: list[KeptPlot] = []
    for plot in plots_in(base):
        # A boundary that was replaced on its first day is no older one: the later of two that began together counts.
        latest_first = [plot, *(old for old, _ in reversed(held.pop(plot.uid, [])))]
        begun = next((one for one in latest_first if one.since <= day), None)
        found.append(replace(begun or min(latest_first, key=lambda one: one.since), name=plot.name))
    gone = [[old for old, until in rows if old.since <= day < until][-1:] for rows in held.values()]
    removed = [old for rows in gone for old in rows]
    names = {old.name for old in removed}
    return [*(plot for plot in found if plot.since <= day or plot.name not in names), *removed]


def applications_of(base: sqlite3.Connection, plot_uid: str) -> list[str]:
    """Names of the applications that a plot was part of, the oldest first."""
    rows = base.execute(
        "SELECT a.name FROM application_plots p JOIN applications a ON a.uid = p.application_uid "
        "WHERE p.plot_uid = ? ORDER BY a.day, a.id",
        (plot_uid,),
    ).fetchall()
    return [str(name) for (name,) in rows]


def marks_in(base: sqlite3.Connection, *, kind: MarkKind | None = None) -> list[KeptMark]:
    """Obstacles and check strips, or one kind of them."""
    rows = base.execute("SELECT uid, name, kind, geom FROM marks WHERE geom NOTNULL ORDER BY id").fetchall()
    found = [KeptMark(uid, name, what, unpack(geom)) for uid, name, what, geom in rows]
    return [m for m in found if kind is None or m.kind == kind]


def applications_in(base: sqlite3.Connection) -> list[KeptApplication]:
    """Applications, the oldest first."""
    rows = base.execute("SELECT uid, name, day, answer FROM applications ORDER BY day, id").fetchall()
    return [KeptApplication(uid, name, day, read_json(answer)) for uid, name, day, answer in rows]


def strips_in(base: sqlite3.Connection, *, application_uid: str | None = None) -> list[KeptStrip]:
    """Missed strips, of one application or all, by application and number."""
    rows = base.execute(
        "SELECT s.uid, application_uid, plot, number, state, area_m2, s.geom, verdict FROM strips s "
        "JOIN applications a ON a.uid = application_uid WHERE s.geom NOTNULL ORDER BY a.day, a.id, number"
    ).fetchall()
    return [
        KeptStrip(uid, of, plot, number, state, area_m2, unpack(geom), read_json(verdict))
        for uid, of, plot, number, state, area_m2, geom, verdict in rows
        if application_uid in (None, of)
    ]


def tracks_of(base: sqlite3.Connection, application_uid: str) -> list[Track]:
    """The tracks of an application, equal to those that were saved but for their notes."""
    rows = base.execute(
        "SELECT name, clock, points FROM tracks WHERE application_uid = ? ORDER BY id", (application_uid,)
    ).fetchall()
    return [track_from(name, clock, read_json(points)) for name, clock, points in rows]


def kept_in(base: sqlite3.Connection, table: str) -> list[Kept]:
    """Sprayers, products, mixes or records, in the order in which they were added."""
    if table not in KEPT:
        raise ValueError(table)
    rows = base.execute(f"SELECT uid, name, day, content FROM {table} ORDER BY id").fetchall()
    return [Kept(uid, name, day, read_json(content)) for uid, name, day, content in rows]


def edits_in(base: sqlite3.Connection) -> list[tuple[str, str, str, int]]:
    """What other programs wrote: moment, table, what was done, and how often, by minute, the oldest first."""
    rows: list[tuple[str, str, str, int]] = base.execute(
        "SELECT substr(at, 1, 16), table_name, what, count(DISTINCT uid) FROM gladebook_edits "
        "GROUP BY 1, 2, 3 ORDER BY min(number)"
    ).fetchall()
    return rows


def add_plot(pen: Pen, plot: Plot, *, day: str) -> str:
    """Add a plot whose boundary holds from a day on, and give its id."""
    return pen.add("plots", name=plot.name, since=day, walked=int(plot.walked), geom=pack(areas_of(plot.shape)))


def redraw_plot(pen: Pen, plot: KeptPlot, *, shape: Any, day: str) -> None:
    """Give a plot another boundary from a day on; the old one is kept."""
    _bury(pen, plot, day=day)
    pen.change("plots", plot.uid, geom=pack(areas_of(shape)), since=day)


def rename_plot(pen: Pen, plot: KeptPlot, *, name: str) -> None:
    """Give a plot another name."""
    pen.change("plots", plot.uid, name=name)


def remove_plot(pen: Pen, plot: KeptPlot, *, day: str) -> None:
    """Take a plot away from a day on; its boundary and its applications are kept."""
    _bury(pen, plot, day=day)
    pen.remove("plots", plot.uid)


def _bury(pen: Pen, plot: KeptPlot, *, day: str) -> None:
    """Keep the boundary that is there now, which may be newer than the one that the caller has read."""
    now = pen.row("plots", plot.uid)
    if now["geom"] is not None:
        names = {name: now[name] for name in ("name", "since", "geom")}
        pen.add("plot_history", plot_uid=plot.uid, until=day, **names)


def add_mark(pen: Pen, *, name: str, kind: MarkKind, shape: Any) -> str:
    """Add an obstacle or a check strip, and give its id."""
    return pen.add("marks", name=name, kind=kind, geom=pack(areas_of(shape)))


def redraw_mark(pen: Pen, mark: KeptMark, *, shape: Any) -> None:
    """Give an obstacle or a check strip another outline."""
    pen.change("marks", mark.uid, geom=pack(areas_of(shape)))


def remove_application(base: sqlite3.Connection, pen: Pen, application_uid: str) -> None:
    """Take an application away with its tracks, strips and figures; undo brings all of it back."""
    for table in ("strips", "tracks", "application_plots"):
        rows = base.execute(f"SELECT uid FROM {table} WHERE application_uid = ? ORDER BY id", (application_uid,))
        for (uid,) in rows.fetchall():
            pen.remove(table, uid)
    pen.remove("applications", application_uid)


def add_application(
    pen: Pen,
    *,
    name: str,
    day: str,
    answer: Mapping[str, Any],
    tracks: Sequence[Track],
    plots: Sequence[tuple[KeptPlot, Mapping[str, Any]]],
) -> str:
    """Keep an application with its tracks and the boundaries that it was judged by; `add_strip` adds its strips."""
    uid = pen.add("applications", name=name, day=day, answer=as_json(answer))
    for plot, figures in plots:
        pen.add(
            "application_plots",
            application_uid=uid,
            plot_uid=plot.uid,
            name=plot.name,
            since=plot.since,
            figures=as_json(figures),
        )
    for track in tracks:
        pen.add(
            "tracks",
            application_uid=uid,
            name=track.name,
            clock=track.clock,
            points=as_json(points_of(track)),
            geom=pack(lines_of(track)),
        )
    return uid


def add_strip(pen: Pen, strip: KeptStrip) -> str:
    """Keep a missed strip, and give its id; that of the noun is made anew where it is empty."""
    return pen.add(
        "strips",
        uid=strip.uid,
        application_uid=strip.application_uid,
        plot=strip.plot,
        number=strip.number,
        state=strip.state,
        area_m2=strip.area_m2,
        verdict=as_json(strip.verdict),
        geom=pack(areas_of(strip.shape)),
    )


def set_state(pen: Pen, strip: KeptStrip, *, state: State) -> None:
    """Say what became of a strip."""
    if state not in STATES:
        raise PropertyError(f"A strip can be {', '.join(get_args(State))}, not {state}.")
    pen.change("strips", strip.uid, state=state)


def add_kept(pen: Pen, table: str, *, name: str, content: Mapping[str, Any], day: str = "") -> str:
    """Keep a sprayer, a product, a mix or a record."""
    if table not in KEPT:
        raise ValueError(table)
    return pen.add(table, name=name, day=day, content=as_json(content))


def change_kept(pen: Pen, table: str, uid: str, *, content: Mapping[str, Any]) -> None:
    """Give a sprayer, a product, a mix or a record other contents."""
    if table not in KEPT:
        raise ValueError(table)
    pen.change(table, uid, content=as_json(content))
