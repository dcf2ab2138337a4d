"""An outline while it is traced: its acres, cut to its neighbours, kept off the wood line. Nothing is written."""

from dataclasses import replace
from pathlib import Path

from gladebook.io.property.areas import plots_of_kept
from gladebook.io.property.open import connected
from gladebook.io.property.store import marks_in, plots_in
from gladebook.jobs.sheet import measured_alone
from gladebook.jobs.tracing import Parts, sound
from gladebook.plots.plot import Plot
from gladebook.plots.traced import cut_to_neighbours, kept_off_edge, shared_m2, thinned
from gladebook.view.sheet import Outline

__all__ = ["cut_outline", "narrow_outline", "outline_of", "thin_outline"]

_WORTH_SAYING_M2 = 1.0


def outline_of(path: Path, parts: Parts, *, uid: str = "") -> Outline:
    """Ground of a traced outline as a plot would have it, and which plots it lies over.

    Parameters
    ----------
    path
        The property file.
    parts
        Its corners.
    uid
        The plot that is drawn anew, which is no neighbour of itself; empty for a new one.

    Raises
    ------
    BoundaryError
        Where it is no area.
    """
    return _outline(path, sound(parts, name="This outline"), uid=uid)


def _outline(path: Path, plot: Plot, *, uid: str) -> Outline:
    neighbours, obstacles = _around(path, uid=uid)
    acres = measured_alone(plot, obstacles=obstacles)
    shared = zip(neighbours, shared_m2(plot.shape, [n.shape for n in neighbours]), strict=True)
    told = tuple((n.name, m2) for n, m2 in shared if m2 >= _WORTH_SAYING_M2)
    return Outline(plot.shape, acres.gross_m2, acres.net_m2, told)


def cut_outline(path: Path, parts: Parts, *, uid: str = "") -> Outline:
    """A traced outline without the ground of its neighbours; arguments and errors as `outline_of` has them."""
    plot = sound(parts, name="This outline")
    neighbours, _ = _around(path, uid=uid)
    shape = cut_to_neighbours(plot.shape, [n.shape for n in neighbours], name=plot.name)
    return _outline(path, replace(plot, shape=shape), uid=uid)


def narrow_outline(path: Path, parts: Parts, *, width_m: float, uid: str = "") -> Outline:
    """A traced outline drawn in from its whole edge by metres; other arguments and errors as `outline_of` has them."""
    plot = sound(parts, name="This outline")
    shape = kept_off_edge(plot.shape, width_m=width_m, name=plot.name)
    return _outline(path, replace(plot, shape=shape), uid=uid)


def thin_outline(path: Path, parts: Parts, *, off_m: float, uid: str = "") -> Outline:
    """A traced outline with fewer corners, none moved by more than metres; the rest as `outline_of` has it."""
    plot = sound(parts, name="This outline")
    return _outline(path, replace(plot, shape=thinned(plot.shape, off_m=off_m)), uid=uid)


def _around(path: Path, *, uid: str) -> tuple[list[Plot], list[Plot]]:
    """The other plots, and the obstacles."""
    with connected(path, write=False) as base:
        others = [plot for plot in plots_in(base) if plot.uid != uid]
        marks = marks_in(base, kind="obstacle")
    found = (plots_of_kept(kept, source=path.name, repair=True) for kept in (others, marks))
    neighbours, obstacles = ([plot for plot in some if plot is not None] for some in found)
    return neighbours, obstacles
