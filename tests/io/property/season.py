"""A season of changes, each the same every time it is made, and what a file holds as one mark."""

import hashlib
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from gladebook.io.property import change, open, store  # noqa: A004 - the module's name
from gladebook.passes.track import Track
from gladebook.plots.plot import Plot
from gladebook.records.kept import KeptStrip

__all__ = ["CHANGES", "STARTS", "Change", "crooked", "drive", "mark_of_file", "same_every_time"]

_MOMENT = "2026-04-01T06:00:00.000Z"
_WEST, _SOUTH = -83.441, 31.204


def crooked(number: int, *, size_deg: float = 4e-4, corners: int = 17) -> Any:
    """A crooked plot with a hole, degrees."""
    angle = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    far = size_deg * (1 + 0.2 * np.sin(3 * angle + number))
    middle = np.array([_WEST + 0.003 * (number % 10), _SOUTH + 0.003 * (number // 10)])
    shell = middle + np.column_stack([far * np.cos(angle), far * np.sin(angle)])
    return shapely.multipolygons([shapely.Polygon(shell, [middle + (shell[::-1] - middle) / 5])])


def drive(number: int, *, points: int = 60) -> Track:
    """A recording with all that one may have."""
    k = np.arange(points, dtype=np.float64)
    width_m = np.full(points, 6.1)
    width_m[::7] = np.nan
    return Track(
        name=f"drive {number}.gpx",
        lon_deg=_WEST + 1e-5 * k,
        lat_deg=_SOUTH + 3e-6 * np.sin(k + number),
        time_s=1.7e9 + k,
        segment=(k > points / 2).astype(np.int64),
        boom_on=(k % 9 > 0).astype(np.int8),
        width_m=width_m,
        speed_mps=np.full(points, np.nan),
        hdop=np.full(points, 0.9),
        clock="utc",
        sections=np.stack([(k % 5 > 0), (k % 4 > 0)], axis=1).astype(np.int8),
        void_points=3,
    )


def same_every_time() -> None:
    """Make ids and moments the same in each run of this process, from here on: ids by what the file has seen."""
    vars(change)["uuid4"] = _next_id
    vars(change)["moment"] = vars(open)["moment"] = lambda: _MOMENT


@dataclass(frozen=True)
class _Id:
    hex: str


_seen = [0, 0]


def _next_id() -> _Id:
    _seen[1] += 1
    return _Id(f"{_seen[0]:016x}{_seen[1]:016x}")


def mark_of_file(path: Path) -> str:
    """All rows of all tables and indexes as one mark, "" where there is no file; or what damage SQLite finds."""
    if not path.exists():
        return ""
    found = hashlib.sha256()
    with closing(sqlite3.connect(path, isolation_level=None)) as base:
        for pragma in ("integrity_check", "foreign_key_check"):
            answer = base.execute(f"PRAGMA {pragma}").fetchall()
            if answer not in ([], [("ok",)]):
                return f"{pragma}: {answer}"
        for (name,) in base.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name").fetchall():
            # SQLite's own clock says when the standard's tables were made.
            columns = "table_name, data_type, min_x, max_y, srs_id" if name == "gpkg_contents" else "*"
            rows = base.execute(f"SELECT {columns} FROM {name}").fetchall()  # noqa: S608 - a name of the file itself
            found.update(repr((name, sorted(map(repr, rows)))).encode())
    return found.hexdigest()


@dataclass(frozen=True)
class Change:
    """One change of a file: its name, and what makes it."""

    name: str
    how: Callable[[sqlite3.Connection, Path], Any]

    def make(self, base: sqlite3.Connection, path: Path) -> None:
        _seen[:] = [len(change.steps_of(base)) + 1, 0]
        self.how(base, path)


def _add(base: sqlite3.Connection, path: Path) -> None:
    del path
    number = len(store.plots_in(base)) + 7
    with change.changing(base, f"plot {number} was added") as pen:
        store.add_plot(pen, Plot(f"Glade {number} {len(change.steps_of(base))}", crooked(number)), day="2026-03-01")


def _redraw(base: sqlite3.Connection, path: Path) -> None:
    del path
    plot = store.plots_in(base)[0]
    with change.changing(base, f"{plot.name} was redrawn") as pen:
        store.redraw_plot(pen, plot, shape=crooked(3, corners=9 + len(change.steps_of(base)) % 20), day="2026-05-01")


def _rename(base: sqlite3.Connection, path: Path) -> None:
    del path
    plot = store.plots_in(base)[1]
    with change.changing(base, f"{plot.name} was renamed") as pen:
        store.rename_plot(pen, plot, name=f"{plot.name[:9]} by the pond {len(change.steps_of(base))}")


def _remove(base: sqlite3.Connection, path: Path) -> None:
    del path
    plot = store.plots_in(base)[-1]
    with change.changing(base, f"{plot.name} was removed") as pen:
        store.remove_plot(pen, plot, day="2026-06-01")


def _save(base: sqlite3.Connection, path: Path) -> None:
    del path
    number = len(store.applications_in(base))
    plots = [(plot, {"treated_m2": 100.0}) for plot in store.plots_in(base)[:2]]
    tracks = [drive(number), drive(number + 1, points=90)]
    with change.changing(base, f"application {number} was saved") as pen:
        uid = store.add_application(
            pen, name=f"application {number}", day="2026-04-02", answer={"missed_m2": 3.5}, tracks=tracks, plots=plots
        )
        for k in range(3):
            shape = crooked(k, size_deg=5e-5)
            store.add_strip(pen, KeptStrip("", uid, "Glade", k + 1, "go look", 9.5, shape, {"chance": 0.9}))


def _walk(base: sqlite3.Connection, path: Path) -> None:
    del path
    strip = store.strips_in(base)[-1]
    with change.changing(base, "a strip was seen") as pen:
        store.set_state(pen, strip, state="left" if strip.state == "seen" else "seen")


def _undo(base: sqlite3.Connection, path: Path) -> None:
    change.undo_last(base, path=path)


_KINDS = {
    "add": Change("add", _add),
    "redraw": Change("redraw", _redraw),
    "rename": Change("rename", _rename),
    "remove": Change("remove", _remove),
    "save": Change("save", _save),
    "walk": Change("walk", _walk),
    "undo": Change("undo", _undo),
}
# What a file has seen before the change of that name is looked at.
STARTS: dict[str, tuple[str, ...]] = {
    "add": ("add", "add"),
    "redraw": ("add", "add"),
    "rename": ("add", "add"),
    "remove": ("add", "add"),
    "save": ("add", "add"),
    "walk": ("add", "add", "save"),
    "undo of add": ("add", "add"),
    "undo of redraw": ("add", "add", "redraw"),
    "undo of rename": ("add", "add", "rename"),
    "undo of remove": ("add", "add", "remove"),
    "undo of save": ("add", "add", "save"),
}
CHANGES: dict[str, Change] = {**_KINDS, **{name: _KINDS["undo"] for name in STARTS if name.startswith("undo")}}
