"""Gaps, drives and recordings of a few straight passes, made by hand for the tests of doubt."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gladebook.beside.side_by_side import SideBySide, lay_side_by_side
from gladebook.coverage.compute import cover_plots
from gladebook.coverage.result import Coverage
from gladebook.doubt.gaps import Gaps, gaps_between
from gladebook.doubt.jumps import Jumps
from gladebook.geometry.frame import Frame
from gladebook.passes.path import CutRules, Path, lay_out
from gladebook.passes.sprayer import Sprayer
from gladebook.passes.trips import Passes, find_passes
from gladebook.plots.acreage import measure_plots
from gladebook.testing import Points, plot_on, track_on

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

BOOM_M, SPACING_M = 6.0, 5.5
FRAME = Frame(lon_deg=-86.7, lat_deg=32.4)
STEP_M, LONG_M = 2.0, 120.0
POINTS = round(LONG_M / STEP_M) + 1
NO_JUMPS = Jumps(np.zeros(0), np.zeros((0, 2)), 0.0, np.zeros(0), np.zeros(0))


def gaps_of(distance_m: Floats, *, pass_s: float = 40.0, boom_m: float = BOOM_M) -> Gaps:
    """Gaps between passes driven to and fro along x, shape (pairs, bins), bins 6 m long."""
    pairs, bins = distance_m.shape
    pair, at = (each.ravel() for each in np.meshgrid(np.arange(pairs), np.arange(bins), indexing="ij"))

    def when(number: Ints) -> Floats:
        share = (at + 0.5) / bins
        return np.asarray(pass_s * (number + np.where(number % 2 == 0, share, 1 - share)))

    return Gaps(
        pair=pair,
        low=pair,
        high=pair + 1,
        rows=np.ones(len(pair), dtype=np.int64),
        bin=at,
        gap_m=distance_m.ravel(),
        low_s=when(pair),
        high_s=when(pair + 1),
        middle_m=np.zeros((len(pair), 2)),
        across=np.array([0.0, 1.0]),
        bin_m=6.0,
        boom_m=boom_m,
    )


def jumps_at(*when_s: float, step_m: float = 2.0, noise_m: float = 0.1, looked_s: Any = None) -> Jumps:
    """Steps to the north, in a recording that was looked at every second for an hour, or at `looked_s`."""
    looked = np.arange(0.5, 3600.0) if looked_s is None else np.asarray(looked_s, dtype=np.float64)
    return Jumps(
        when_s=np.array(when_s),
        step_m=np.tile([0.0, step_m], (len(when_s), 1)),
        noise_m=noise_m,
        looked_s=looked,
        each_s=np.ones(len(looked)),
    )


def along(y_m: Any, *, west: float = 0.0, east: float = LONG_M) -> Floats:
    """A pass from west to east, with a point every 2 m."""
    x = np.arange(west, east + STEP_M / 2, STEP_M)
    return np.column_stack([x, np.broadcast_to(y_m, x.shape)])


def rows(count: int, *, leave_out: Sequence[int] = ()) -> list[Floats]:
    """So many passes along x from the south on, less those left out, counted from 0."""
    return [along(BOOM_M / 2 + SPACING_M * k) for k in range(count) if k not in leave_out]


def to_and_fro(passes: Sequence[Floats], *, turn_s: float = 15.0, begins_s: Sequence[float] = ()) -> Points:
    """Passes driven every other one backwards, a point a second, the boom off between them.

    Each begins so many seconds after the last one ended; or all run ahead and begin when they are told to.
    """
    clock, xy, time_s, on = 0.0, [], [], []
    for k, line in enumerate(passes):
        clock = begins_s[k] if begins_s else clock
        xy.append(line if k % 2 == 0 or begins_s else line[::-1])
        time_s.append(clock + np.arange(len(line)))
        on.append(np.append(np.ones(len(line) - 1), 0))
        clock = float(time_s[-1][-1]) + turn_s
    return Points(np.concatenate(xy), np.concatenate(time_s), np.concatenate(on).astype(np.int8))


@dataclass(frozen=True, eq=False)
class Laid:
    """A recording laid out, its passes, and those of one plot side by side."""

    path: Path
    passes: Passes
    side: SideBySide

    @property
    def gaps(self) -> Gaps:
        laid = self.side.laid
        assert laid is not None, self.side.why
        inside = self.side.inside
        return gaps_between(laid.places, laid.cuts, laid.beside, inside=inside, passes=self.passes, paths=[self.path])


def lay(points: Points, ground: Any, *, boom_m: float = BOOM_M, rules: CutRules | None = None) -> Laid:
    """Lay a recording of a boom out beside itself in a plot."""
    track = track_on(points, frame=FRAME, width_m=boom_m)
    path = lay_out(track, frame=FRAME, rules=rules or CutRules(gap_s=60.0))
    passes = find_passes([path])
    return Laid(path, passes, lay_side_by_side(ground, passes))


def cover(*points: Points, ground: Any, boom_m: float = BOOM_M, error_m: float | None = None) -> Coverage:
    """The answer for one plot and its recordings; gaps of a minute are joined."""
    plots = measure_plots([plot_on("North Glade", ground, frame=FRAME)]).plots
    tracks = [track_on(each, frame=FRAME, name=f"drive {k}") for k, each in enumerate(points, start=1)]
    return cover_plots(plots, tracks, sprayer=Sprayer(width_m=boom_m), rules=CutRules(gap_s=60.0, error_m=error_m))
