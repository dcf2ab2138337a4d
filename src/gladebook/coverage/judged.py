"""Strips of every plot judged, with how sure its answer is, its passes, and what was truly missed.

The drift, steps and points beyond which no range is told are common practice, no source; the first was tried on
drawn drives.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely

from gladebook.beside.pass_count import PassCount
from gladebook.beside.side_by_side import count_beside, lay_side_by_side
from gladebook.coverage.boom import Settled
from gladebook.coverage.redraw import ReceiverError, acres_range
from gladebook.coverage.result import MissedStrip
from gladebook.coverage.strips import SMALLEST_M2, find_strips
from gladebook.coverage.tally import Tally, missed_by_plot
from gladebook.doubt.sure_count import sure_count
from gladebook.doubt.verdict import Doubt, Record, judge_strips
from gladebook.geometry.frame import Frame
from gladebook.plots.acreage import PlotAcres

__all__ = ["Judged", "judge_plots"]

_MOST_OF_SPACING = 0.5  # above it passes change places, and ranges hold too seldom
_MOST_JUMPS = 1  # steps of the error are not drawn again
_MOST_POINTS, _DRAWN_POINTS, _FEWEST, _MOST = 100_000, 4_000_000, 40, 200


@dataclass(frozen=True)
class Judged:
    """Strips with their verdicts, how sure each plot's answer is, and its passes."""

    strips: list[MissedStrip]
    doubts: list[Doubt]
    counts: list[PassCount]


@dataclass(frozen=True, eq=False)
class Swept:
    """What was swept, the plane it lies on, the tracks with their booms, and what they recorded."""

    tally: Tally
    frame: Frame
    settled: tuple[Settled, ...]
    record: Record


def judge_plots(plots: Sequence[tuple[PlotAcres, Any]], *, on: Swept, progress: Callable[[float], None]) -> Judged:
    """Find the strips of each plot, and say which are real.

    Parameters
    ----------
    plots
        The plots, and their polygons on the plane, without what was left on purpose.
    on
        What was swept.
    progress
        Called with the share done, 0 to 1.
    """
    frame, record = on.frame, on.record
    sides = [lay_side_by_side(plane, record.passes) for _, plane in plots]
    counts = [count_beside(plot.name, side) for (plot, _), side in zip(plots, sides, strict=True)]
    strips: list[MissedStrip] = []
    doubts: list[Doubt] = []
    missed = missed_by_plot(on.tally, least_m2=SMALLEST_M2)
    for done, (i, shape) in enumerate(missed.items(), start=1):
        name, plane = plots[i][0].name, plots[i][1]
        found = find_strips(shape, plot=name, frame=frame)
        if found:
            shapes = np.array([strip.shape for strip in found], dtype=object)
            on_plane = list(shapely.transform(shapes, frame.to_plane))
            sizes_m = [(strip.length_m, strip.width_m) for strip in found]
            verdicts, doubt = judge_strips(name, on_plane, sizes_m=sizes_m, side=sides[i], plane=plane, record=record)
            strips += [replace(strip, verdict=verdict) for strip, verdict in zip(found, verdicts, strict=True)]
            doubts.append(_with_ranges(doubt, on.settled, ground=plane))
            counts[i] = sure_count(counts[i], verdicts=verdicts, doubt=doubt)
        progress(done / len(missed))
    return Judged(strips, doubts, counts)


def _with_ranges(doubt: Doubt, settled: Sequence[Settled], *, ground: Any) -> Doubt:
    """The same, with what was truly treated and missed, where drift is all that moves it and little enough."""
    if doubt.silent or doubt.drift_m is None or doubt.spacing_m is None:
        return doubt
    points = sum(len(one.path.xy_m) for one in settled)
    timed = all(np.isfinite(one.path.time_s).all() for one in settled)
    if not timed or points > _MOST_POINTS or doubt.drift_m > _MOST_OF_SPACING * doubt.spacing_m:
        return doubt
    if doubt.jumps > _MOST_JUMPS:
        return doubt
    # Of the shift of a whole recording nothing is known but that it is of the drift's size: common practice, no source.
    error = ReceiverError(doubt.drift_m, shift_m=doubt.drift_m)
    draws = int(np.clip(_DRAWN_POINTS / points, _FEWEST, _MOST))
    # A small job would wait longer for numba than for numpy.
    ranges = acres_range(settled, ground=ground, error=error, draws=draws, wish="numpy")
    return replace(doubt, treated_m2=ranges.treated_m2, missed_m2=ranges.missed_m2)
