"""One plot in full: what grows there, its earlier lines, what was done on it."""

import sqlite3
from pathlib import Path

from gladebook.errors import Clash
from gladebook.io.property.open import connected
from gladebook.io.property.store import boundaries_of, plots_in
from gladebook.jobs.growing import growing_of, standing_words
from gladebook.jobs.property import show_thing
from gladebook.jobs.sheet import measured_alone
from gladebook.plots.plot import Plot
from gladebook.products.forage import FORAGES
from gladebook.view.sheet import Earlier, PlotPage

__all__ = ["forage_names", "plot_page"]


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
        tuple(standing_words(growing)),
        earlier,
        getattr(told, "applications", ()),
        getattr(told, "entered", ()),
    )


def _earlier(base: sqlite3.Connection, uid: str) -> tuple[Earlier, ...]:
    """Boundaries that a plot had before today's, the oldest first."""
    found = []
    for one in boundaries_of(base, uid):
        if one.until is not None and one.shape.area > 0:
            acres = measured_alone(Plot(one.name, one.shape))
            found.append(Earlier(one.shape, acres.gross_m2, one.since, one.until))
    return tuple(found)


def forage_names() -> list[str]:
    """Names of all forages that can be said to grow on a plot."""
    return sorted(FORAGES)
