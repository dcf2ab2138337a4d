"""What a property file holds, in and out of it as nouns.

Each function takes a connection from `connected`; those that change take a pen from `changing`, so that what belongs
together is one change, undone together.
"""

import json
import sqlite3
from collections.abc import Mapping, Sequence
from typing import Any, get_args

import numpy as np
import shapely

from gladebook.errors import PropertyError
from gladebook.io.property.blobs import pack, unpack
from gladebook.io.property.change import Pen
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
    "boundaries_of",
    "boundary_on",
    "edits_in",
    "kept_in",
    "marks_in",
    "name_in",
    "plots_in",
    "redraw_plot",
    "remove_plot",
    "rename_plot",
    "set_state",
    "strips_in",
    "tracks_of",
]

KEPT = ("sprayers", "products", "mixes", "records")
_COLUMNS = ("lon_deg", "lat_deg", "time_s", "segment", "boom_on", "width_m", "speed_mps", "hdop")


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
        "SELECT name, geom, since, until FROM plot_history WHERE plot_uid = ? ORDER BY until, id", (plot_uid,)
    ).fetchall()
    found = [KeptBoundary(plot_uid, name, unpack(geom), since, until) for name, geom, since, until in rows]
    now = base.execute("SELECT name, geom, since FROM plots WHERE uid = ?", (plot_uid,)).fetchone()
    return found if now is None else [*found, KeptBoundary(plot_uid, now[0], unpack(now[1]), now[2], None)]


def boundary_on(base: sqlite3.Connection, plot_uid: str, *, day: str) -> KeptBoundary:
    """The boundary that held on a day; of days before the first, the first.

    Raises
    ------
    PropertyError
        Where there is no such plot.
    """
    found = boundaries_of(base, plot_uid)
    if not found:
        raise PropertyError(f"There is no plot with the id {plot_uid}.")
    return next((b for b in found if b.until is None or day[:10] < b.until), found[-1])


def marks_in(base: sqlite3.Connection, *, kind: MarkKind | None = None) -> list[KeptMark]:
    """Obstacles and check strips, or one kind of them."""
    rows = base.execute("SELECT uid, name, kind, geom FROM marks WHERE geom NOTNULL ORDER BY id").fetchall()
    found = [KeptMark(uid, name, what, unpack(geom)) for uid, name, what, geom in rows]
    return [m for m in found if kind is None or m.kind == kind]


def applications_in(base: sqlite3.Connection) -> list[KeptApplication]:
    """Applications, the oldest first."""
    rows = base.execute("SELECT uid, name, day, answer FROM applications ORDER BY day, id").fetchall()
    return [KeptApplication(uid, name, day, json.loads(answer)) for uid, name, day, answer in rows]


def strips_in(base: sqlite3.Connection, *, application_uid: str | None = None) -> list[KeptStrip]:
    """Missed strips, of one application or all, by application and number."""
    rows = base.execute(
        "SELECT s.uid, application_uid, plot, number, state, area_m2, s.geom, verdict FROM strips s "
        "JOIN applications a ON a.uid = application_uid ORDER BY a.day, a.id, number"
    ).fetchall()
    return [
        KeptStrip(uid, of, plot, number, state, area_m2, unpack(geom), json.loads(verdict))
        for uid, of, plot, number, state, area_m2, geom, verdict in rows
        if application_uid in (None, of)
    ]


def tracks_of(base: sqlite3.Connection, application_uid: str) -> list[Track]:
    """The tracks of an application, equal to those that were saved but for their notes."""
    rows = base.execute(
        "SELECT name, clock, points FROM tracks WHERE application_uid = ? ORDER BY id", (application_uid,)
    ).fetchall()
    return [_track(name, clock, json.loads(points)) for name, clock, points in rows]


def kept_in(base: sqlite3.Connection, table: str) -> list[Kept]:
    """Sprayers, products, mixes or records, in the order in which they were added."""
    if table not in KEPT:
        raise ValueError(table)
    rows = base.execute(f"SELECT uid, name, day, content FROM {table} ORDER BY id").fetchall()
    return [Kept(uid, name, day, json.loads(content)) for uid, name, day, content in rows]


def edits_in(base: sqlite3.Connection) -> list[tuple[str, str, str, int]]:
    """What other programs wrote: moment, table, what was done, and how often, by minute, the oldest first."""
    rows: list[tuple[str, str, str, int]] = base.execute(
        "SELECT substr(at, 1, 16), table_name, what, count(DISTINCT uid) FROM gladebook_edits "
        "GROUP BY 1, 2, 3 ORDER BY min(number)"
    ).fetchall()
    return rows


def add_plot(pen: Pen, plot: Plot, *, day: str) -> str:
    """Add a plot whose boundary holds from a day on, and give its id."""
    return pen.add("plots", name=plot.name, since=day, walked=int(plot.walked), geom=pack(_many(plot.shape)))


def redraw_plot(pen: Pen, plot: KeptPlot, *, shape: Any, day: str) -> None:
    """Give a plot another boundary from a day on; the old one is kept."""
    _bury(pen, plot, day=day)
    pen.change("plots", plot.uid, geom=pack(_many(shape)), since=day)


def rename_plot(pen: Pen, plot: KeptPlot, *, name: str) -> None:
    """Give a plot another name."""
    pen.change("plots", plot.uid, name=name)


def remove_plot(pen: Pen, plot: KeptPlot, *, day: str) -> None:
    """Take a plot away from a day on; its boundary and its applications are kept."""
    _bury(pen, plot, day=day)
    pen.remove("plots", plot.uid)


def _bury(pen: Pen, plot: KeptPlot, *, day: str) -> None:
    pen.add(
        "plot_history", plot_uid=plot.uid, name=plot.name, since=plot.since, until=day, geom=pack(_many(plot.shape))
    )


def add_mark(pen: Pen, *, name: str, kind: MarkKind, shape: Any) -> str:
    """Add an obstacle or a check strip, and give its id."""
    return pen.add("marks", name=name, kind=kind, geom=pack(_many(shape)))


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
    uid = pen.add("applications", name=name, day=day, answer=_json(answer))
    for plot, figures in plots:
        pen.add(
            "application_plots",
            application_uid=uid,
            plot_uid=plot.uid,
            name=plot.name,
            since=plot.since,
            figures=_json(figures),
        )
    for track in tracks:
        pen.add(
            "tracks",
            application_uid=uid,
            name=track.name,
            clock=track.clock,
            points=_json(_points(track)),
            geom=pack(_lines(track)),
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
        verdict=_json(strip.verdict),
        geom=pack(_many(strip.shape)),
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
    return pen.add(table, name=name, day=day, content=_json(content))


def _many(shape: Any) -> Any:
    parts = [p for p in shapely.get_parts(shape) if shapely.get_type_id(p) == shapely.GeometryType.POLYGON]
    return shapely.multipolygons(parts)


def _lines(track: Track) -> Any:
    xy = np.column_stack([track.lon_deg, track.lat_deg])
    begins = np.flatnonzero(np.diff(track.segment) != 0) + 1
    runs = [run for run in np.split(xy, begins) if len(run) > 1]
    return shapely.multilinestrings([shapely.linestrings(run) for run in runs])


def _points(track: Track) -> dict[str, Any]:
    found: dict[str, Any] = {name: _listed(getattr(track, name)) for name in _COLUMNS}
    found["sections"] = None if track.sections is None else track.sections.tolist()
    found["void_points"] = track.void_points
    return found


def _listed(values: Any) -> list[Any]:
    """Numbers as JSON has them: what is none is null."""
    return [None if isinstance(v, float) and not np.isfinite(v) else v for v in values.tolist()]


def _track(name: str, clock: Any, points: Mapping[str, Any]) -> Track:
    def numbers(column: str) -> Any:
        return np.array([np.nan if v is None else v for v in points[column]], dtype=np.float64)

    sections = points["sections"]
    return Track(
        name=name,
        lon_deg=numbers("lon_deg"),
        lat_deg=numbers("lat_deg"),
        time_s=numbers("time_s"),
        segment=np.array(points["segment"], dtype=np.int64),
        boom_on=np.array(points["boom_on"], dtype=np.int8),
        width_m=numbers("width_m"),
        speed_mps=numbers("speed_mps"),
        hdop=numbers("hdop"),
        clock=clock,
        sections=None if sections is None else np.array(sections, dtype=np.int8),
        void_points=int(points["void_points"]),
    )


def _json(value: Mapping[str, Any]) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)
