"""A property of 10,000 plots and 200 applications: open, edit one plot, save an application, undo; beside a peer.

The peer makes the same edit as a script without a property file would: it reads the layer of plots with pyogrio,
changes one, and writes the whole layer to a new file.
"""

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import geopandas
import shapely

from gladebook.io.property.change import changing, undo_last
from gladebook.io.property.check import faults_in
from gladebook.io.property.open import connected, copy_into, new_property
from gladebook.io.property.store import (
    add_application,
    add_plot,
    add_strip,
    applications_in,
    plots_in,
    redraw_plot,
    strips_in,
    tracks_of,
)
from gladebook.plots.plot import Plot
from gladebook.records.kept import KeptPlot, KeptStrip
from tests.bench.turns import take_turns
from tests.io.property.season import crooked, drive

__all__ = ["property_rows"]

_PLOTS, _APPLICATIONS, _STRIPS, _POINTS, _ROUNDS = 10_000, 200, 8, 1_500, 7


def property_rows(*, quick: bool) -> None:
    """Print one row for each kind of work; `quick` takes a tenth of it all."""
    plots, applications = (_PLOTS // 10, _APPLICATIONS // 10) if quick else (_PLOTS, _APPLICATIONS)
    with tempfile.TemporaryDirectory() as folder:
        path, copy, out = (Path(folder) / f"{name}.gpkg" for name in ("home", "copy", "out"))
        new_property(path, name="Hollow Creek")
        _fill(path, plots=plots, applications=applications)
        with connected(path, write=False) as base:
            copy_into(base, copy)
        print(f"property  {plots:>8} plots, {applications} applications, {path.stat().st_size / 1e6:.0f} MB")
        found = take_turns(_works(path, copy, out), rounds=_ROUNDS)
        peer = found["peer: all plots read, one edited, all written"].seconds
        for name, timed in found.items():
            if isinstance(timed.answer, Exception):
                raise timed.answer
            ratio = "" if name.startswith("peer") else f"   the peer takes {peer / timed.seconds:8.1f} times as long"
            print(f"property  {name:<46} {timed.seconds:8.4f} s{ratio}")
        with connected(path) as base:
            assert faults_in(base) == []


def _fill(path: Path, *, plots: int, applications: int) -> None:
    with connected(path) as base:
        with changing(base, "plots were added") as pen:
            for k in range(plots):
                add_plot(pen, Plot(f"Glade {k}", crooked(k)), day="2026-03-01")
        kept = plots_in(base)
        for number in range(applications):
            _save(base, kept[number % plots], number)


def _save(base: Any, plot: KeptPlot, number: int) -> None:
    with changing(base, f"application {number} was saved") as pen:
        uid = add_application(
            pen,
            name=f"application {number}",
            day="2026-04-02",
            answer={"missed_m2": 3.5},
            tracks=[drive(number, points=_POINTS)],
            plots=[(plot, {"treated_m2": 100.0})],
        )
        for k in range(_STRIPS):
            shape = crooked(k, size_deg=5e-5)
            add_strip(pen, KeptStrip("", uid, plot.name, k + 1, "go look", 9.5, shape, {"chance": 0.9}))


def _works(path: Path, copy: Path, out: Path) -> dict[str, Callable[[], Any]]:
    with connected(path, write=False) as base:
        one = plots_in(base)[0]

    def opened() -> int:
        with connected(path, write=False) as base:
            return len(applications_in(base))

    def read() -> int:
        with connected(path, write=False) as base:
            return len(plots_in(base))

    def read_applications() -> int:
        with connected(path, write=False) as base:
            strips = len(strips_in(base))
            return strips + sum(len(tracks_of(base, a.uid)) for a in applications_in(base))

    def edit() -> None:
        with connected(path) as base, changing(base, "redrawn") as pen:
            redraw_plot(pen, one, shape=crooked(3, corners=31), day="2026-05-01")

    def save() -> None:
        with connected(path) as base:
            _save(base, one, -1)

    def undo() -> None:
        with connected(path) as base:
            undo_last(base, path=path)

    def peer() -> None:
        frame = geopandas.read_file(copy, layer="plots", engine="pyogrio")
        frame.loc[0, "geometry"] = shapely.MultiPolygon([crooked(3, corners=31).geoms[0]])
        out.unlink(missing_ok=True)
        frame.to_file(out, driver="GPKG", engine="pyogrio")

    return {
        "opened, its applications listed": opened,
        "all plots read": read,
        "all strips and tracks read": read_applications,
        "one plot redrawn": edit,
        "that undone": undo,
        "an application saved": save,
        "that undone too": undo,
        "peer: all plots read, one edited, all written": peer,
    }
