"""What the page shows of a property: its shapes with their acres, one plot in full, an outline while it is traced."""

import sqlite3
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from gladebook.errors import Clash
from gladebook.io.door import plots_of_kept
from gladebook.io.property.change import steps_of
from gladebook.io.property.open import connected
from gladebook.io.property.store import boundaries_of, marks_in, name_in, plots_in
from gladebook.jobs.growing import growing_of, growing_words
from gladebook.jobs.property import show_thing
from gladebook.jobs.tracing import Rings, sound, state_of
from gladebook.plots.acreage import PlotAcres, measure_plots
from gladebook.plots.plot import Plot
from gladebook.plots.sureness import PositionError
from gladebook.plots.traced import cut_to_neighbours, kept_off_edge, shared_m2
from gladebook.products.forage import FORAGES
from gladebook.records.growing import Growing
from gladebook.records.kept import KeptMark, KeptPlot
from gladebook.view.sheet import Drawn, Earlier, Outline, PlotPage, Sheet

__all__ = [
    "cut_outline",
    "forage_names",
    "narrow_outline",
    "outline_of",
    "plot_page",
    "sheet_of",
]

_WORTH_SAYING_M2 = 1.0


def sheet_of(path: Path) -> Sheet:
    """All shapes of a property with their acres.

    Raises
    ------
    PropertyError
        Where the file cannot be read.
    """
    with connected(path, write=False) as base:
        plots, marks, name = plots_in(base), marks_in(base), name_in(base)
        every: list[KeptPlot | KeptMark] = [*plots, *marks]
        states = {one.uid: state_of(base, one) for one in every}
        undo = next((step for step in reversed(steps_of(base)) if not step.undone), None)
    # What another program has drawn crossed is shown mended, and said.
    sound_plots = plots_of_kept(plots, source=path.name, repair=True)
    sound_marks = plots_of_kept(marks, source=path.name, repair=True)
    obstacles = [p for p, m in zip(sound_marks, marks, strict=True) if p is not None and m.kind == "obstacle"]
    measured = measure_plots([p for p in sound_plots if p is not None], obstacles=obstacles, error=PositionError())
    rows = iter(measured.plots)
    shapes = [
        _drawn(one, "plot", None if plot is None else next(rows), since=one.since, mark=states[one.uid])
        for one, plot in zip(plots, sound_plots, strict=True)
    ]
    shapes += [
        _drawn(one, one.kind, None if plot is None else _measured(plot), since="", mark=states[one.uid])
        for one, plot in zip(marks, sound_marks, strict=True)
    ]
    notices = tuple(n for n in measured.notices if not n.startswith("No obstacle touches"))
    return Sheet(name, tuple(shapes), measured.total_m2, undo, notices)


def _drawn(one: KeptPlot | KeptMark, kind: str, acres: PlotAcres | None, *, since: str, mark: str) -> Drawn:
    if acres is None:
        return Drawn(one.uid, one.name, kind, one.shape, 0.0, 0.0, 0.0, 0.0, since, mark)
    return Drawn(
        one.uid,
        one.name,
        kind,
        one.shape,
        acres.net_m2,
        acres.low_m2,
        acres.high_m2,
        acres.obstacle_m2,
        since,
        mark,
        isinstance(one, KeptPlot) and one.walked,
    )


def _measured(plot: Plot, obstacles: Sequence[Plot] = ()) -> PlotAcres:
    return measure_plots([plot], obstacles=obstacles, error=PositionError()).plots[0]


def outline_of(path: Path, rings: Rings, *, uid: str = "") -> Outline:
    """Ground of a traced outline as a plot would have it, and which plots it lies over.

    Parameters
    ----------
    path
        The property file.
    rings
        Its corners.
    uid
        The plot that is drawn anew, which is no neighbour of itself; empty for a new one.

    Raises
    ------
    BoundaryError
        Where it is no area.
    """
    return _outline(path, sound(rings, name="This outline"), uid=uid)


def _outline(path: Path, plot: Plot, *, uid: str) -> Outline:
    neighbours, obstacles = _around(path, uid=uid)
    acres = _measured(plot, obstacles)
    shared = zip(neighbours, shared_m2(plot.shape, [n.shape for n in neighbours]), strict=True)
    told = tuple((n.name, m2) for n, m2 in shared if m2 >= _WORTH_SAYING_M2)
    return Outline(plot.shape, acres.gross_m2, acres.net_m2, told)


def cut_outline(path: Path, rings: Rings, *, uid: str = "") -> Outline:
    """A traced outline without the ground of its neighbours; arguments and errors as `outline_of` has them."""
    plot = sound(rings, name="This outline")
    neighbours, _ = _around(path, uid=uid)
    shape, left_out_m2 = cut_to_neighbours(plot.shape, [n.shape for n in neighbours], name=plot.name)
    return replace(_outline(path, replace(plot, shape=shape), uid=uid), left_out_m2=left_out_m2)


def narrow_outline(path: Path, rings: Rings, *, width_m: float, uid: str = "") -> Outline:
    """A traced outline drawn in from its whole edge by metres; other arguments and errors as `outline_of` has them."""
    plot = sound(rings, name="This outline")
    shape, left_out_m2 = kept_off_edge(plot.shape, width_m=width_m, name=plot.name)
    return replace(_outline(path, replace(plot, shape=shape), uid=uid), left_out_m2=left_out_m2)


def _around(path: Path, *, uid: str) -> tuple[list[Plot], list[Plot]]:
    """The other plots, and the obstacles."""
    with connected(path, write=False) as base:
        others = [plot for plot in plots_in(base) if plot.uid != uid]
        marks = marks_in(base, kind="obstacle")
    found = (plots_of_kept(kept, source=path.name, repair=True) for kept in (others, marks))
    neighbours, obstacles = ([plot for plot in some if plot is not None] for some in found)
    return neighbours, obstacles


def plot_page(path: Path, uid: str) -> PlotPage:
    """One plot in full.

    Raises
    ------
    Clash
        Where it is gone.
    PropertyError
        Where what is kept of it cannot be read.
    """
    with connected(path, write=False) as base:
        plot = next((one for one in plots_in(base) if one.uid == uid), None)
        if plot is None:
            raise Clash(f"{path.name}: that plot is not there any more; somebody took it away.")
        earlier = _earlier(base, uid)
    told = show_thing(path, plot.name, kind="plot").noun
    growing = growing_of(path, plot.name)
    return PlotPage(
        plot.name,
        growing,
        () if growing == Growing() else tuple(growing_words(growing)),
        earlier,
        getattr(told, "applications", ()),
        getattr(told, "entered", ()),
    )


def _earlier(base: sqlite3.Connection, uid: str) -> tuple[Earlier, ...]:
    """Boundaries that a plot had before today's, the oldest first."""
    found = []
    for one in boundaries_of(base, uid):
        if one.until is not None and one.shape.area > 0:
            acres = _measured(Plot(one.name, one.shape))
            found.append(Earlier(one.shape, acres.gross_m2, one.since, one.until))
    return tuple(found)


def forage_names() -> list[str]:
    """Names of all forages that can be said to grow on a plot."""
    return sorted(FORAGES)
