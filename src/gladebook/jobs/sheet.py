"""All shapes of a property with their acres, as the page draws them: what it needs first, and little else."""

import sqlite3
from collections.abc import Callable, Sequence
from pathlib import Path

from gladebook.io.property.areas import plots_of_kept
from gladebook.io.property.change import mark_of, row_of, steps_of
from gladebook.io.property.open import connected
from gladebook.io.property.store import marks_in, name_in, plots_in
from gladebook.plots.acreage import PlotAcres, measure_plots
from gladebook.plots.plot import Plot
from gladebook.plots.sureness import PositionError
from gladebook.records.kept import KeptMark, KeptPlot
from gladebook.view.sheet import Drawn, Sheet

__all__ = ["measured_alone", "measured_in", "sheet_of", "state_of"]

Progress = Callable[[str, float], None]


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
    acres, total_m2, notices = measured_in(plots, marks, path=path)
    # What another program has drawn crossed is shown mended, and said.
    sound_marks = plots_of_kept(marks, source=path.name, repair=True)
    shapes = [
        _drawn(one, "plot", row, since=one.since, mark=states[one.uid]) for one, row in zip(plots, acres, strict=True)
    ]
    shapes += [
        _drawn(one, one.kind, None if plot is None else measured_alone(plot), since="", mark=states[one.uid])
        for one, plot in zip(marks, sound_marks, strict=True)
    ]
    return Sheet(name, tuple(shapes), total_m2, undo, notices)


def measured_in(
    plots: Sequence[KeptPlot], marks: Sequence[KeptMark], *, path: Path, progress: Progress | None = None
) -> tuple[list[PlotAcres | None], float, tuple[str, ...]]:
    """Acres of each plot, None where it has no area; of all together in m2; and what is to be said."""
    # What another program has drawn crossed is shown mended, and said.
    found = plots_of_kept(plots, source=path.name, repair=True)
    obstacles = plots_of_kept([m for m in marks if m.kind == "obstacle"], source=path.name, repair=True)
    measured = measure_plots(
        [plot for plot in found if plot is not None],
        obstacles=[plot for plot in obstacles if plot is not None],
        error=PositionError(),
        progress=None if progress is None else lambda share: progress("Measuring", share),
    )
    rows = iter(measured.plots)
    notices = tuple(n for n in measured.notices if not n.startswith("No obstacle touches"))
    return [None if plot is None else next(rows) for plot in found], measured.total_m2, notices


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


def measured_alone(plot: Plot, *, obstacles: Sequence[Plot] = ()) -> PlotAcres:
    """Acres of one plot or mark, less obstacles."""
    return measure_plots([plot], obstacles=obstacles, error=PositionError()).plots[0]


def state_of(base: sqlite3.Connection, one: KeptPlot | KeptMark) -> str:
    """The mark of the state that a shape is in."""
    table = "plots" if isinstance(one, KeptPlot) else "marks"
    return mark_of(row_of(base, table, one.uid)) or ""
