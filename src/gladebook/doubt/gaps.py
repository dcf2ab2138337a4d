"""Distances between neighbouring passes, bin by bin along them, with the times when each was driven."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.beside.inside import Inside
from gladebook.beside.neighbours import Beside, Cuts, Places
from gladebook.geometry.frame import turn_points
from gladebook.passes.path import Path
from gladebook.passes.trips import Passes

__all__ = ["Gaps", "gaps_between", "without"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_BIN_M = 6.0  # jitter averages out within it, drift hardly changes
_MOST = 250  # the work grows with its third power
_KNOWN_SHARE = 0.5
_TOGETHER_S = 300.0  # a pass that strays onto its neighbour's line


@dataclass(frozen=True, eq=False)
class Gaps:
    """Distances between the middles of neighbouring passes, averaged over bins along them.

    Attributes
    ----------
    pair : shape (n,), the two neighbours, numbered from 0.
    low, high : shape (n,), their places.
    rows : shape (n,), how many rows it leads across: 2 where the pass between the two stops short.
    bin : shape (n,), the bin, from 0; `bin_m` long, the same for all pairs.
    gap_m : shape (n,), the distance.
    low_s, high_s : shape (n,), when each was driven there.
    middle_m : shape (n, 2), half-way between them, on the plane.
    across : shape (2,), the unit vector from low to high.
    boom_m : the boom.
    """

    pair: Ints
    low: Ints
    high: Ints
    rows: Ints
    bin: Ints
    gap_m: Floats
    low_s: Floats
    high_s: Floats
    middle_m: Floats
    across: Floats
    bin_m: float
    boom_m: float

    def __len__(self) -> int:
        return len(self.pair)


def gaps_between(
    places: Places, cuts: Cuts, beside: Beside, *, inside: Inside, passes: Passes, paths: Sequence[Path]
) -> Gaps:
    """Average what lies between neighbours over bins.

    Parameters
    ----------
    places, cuts, beside, inside
        Passes of one plot side by side.
    passes, paths
        All passes, and the paths that they are numbered on.
    """
    time_s = _times(cuts, inside, passes=passes, paths=paths)[places.row]
    of_place = _by_place(time_s, places)
    both = np.flatnonzero((beside.low >= 0) & (beside.high > beside.low))  # passes that cross have none
    cut, low, high = beside.cut[both], beside.low[both], beside.high[both]
    low_s, high_s = of_place[low, cut], of_place[high, cut]
    timed = np.isfinite(low_s) & np.isfinite(high_s)
    both, cut, low, high = both[timed], cut[timed], low[timed], high[timed]
    many = max(int(np.ceil(_BIN_M / cuts.step_m)), int(np.ceil(len(both) / _MOST)), 1)
    middle = (places.v_m[low, cut] + places.v_m[high, cut]) / 2
    names, pair = np.unique(low * (len(places.offset_m) + 1) + high, return_inverse=True)
    bins = len(cuts.u_m) // many + 1
    cell, place = np.unique(pair * bins + cut // many, return_inverse=True)
    count = np.bincount(place)

    def mean(values: Floats) -> Floats:
        return np.asarray(np.bincount(place, weights=values) / count, dtype=np.float64)

    keep = count >= _KNOWN_SHARE * many
    uv = np.column_stack([mean(cuts.u_m[cut]), mean(middle)])
    found = cell // bins
    return Gaps(
        pair=found[keep],
        low=(names // (len(places.offset_m) + 1))[found][keep],
        high=(names % (len(places.offset_m) + 1))[found][keep],
        rows=np.maximum(np.round(mean(_rows(places, low=low, high=high, cut=cut))), 1).astype(np.int64)[keep],
        bin=(cell % bins)[keep],
        gap_m=(mean(beside.bare_m[both]) + mean((places.width_m[low] + places.width_m[high]) / 2))[keep],
        low_s=mean(low_s[timed])[keep],
        high_s=mean(high_s[timed])[keep],
        middle_m=turn_points(uv, turn_rad=cuts.angle)[keep],
        across=np.array([-np.sin(cuts.angle), np.cos(cuts.angle)]),
        bin_m=many * cuts.step_m,
        boom_m=inside.boom_m,
    )


def without(gaps: Gaps, shapes: Sequence[Any]) -> Gaps:
    """The same gaps but those whose middle lies in one of some polygons."""
    keep = np.ones(len(gaps), dtype=bool)
    for shape in shapes:
        keep &= ~shapely.contains_xy(shape, gaps.middle_m[:, 0], gaps.middle_m[:, 1])
    columns = ("pair", "low", "high", "rows", "bin", "gap_m", "low_s", "high_s", "middle_m")
    return replace(gaps, **{name: getattr(gaps, name)[keep] for name in columns})


def _rows(places: Places, *, low: Ints, high: Ints, cut: Ints) -> Floats:
    """One, and one more for each place between two where no pass runs at that cut; one that crosses lies elsewhere."""
    gone = np.cumsum(np.isnan(places.v_m), axis=0)
    return np.asarray(1.0 + gone[high - 1, cut] - gone[low, cut])


def _times(cuts: Cuts, inside: Inside, *, passes: Passes, paths: Sequence[Path]) -> Floats:
    """When each row of a plot was driven at each cut, shape (rows, cuts); not a number where it was not."""
    rows, width = len(inside.number), len(cuts.u_m)
    row_of = np.full(len(passes) + 1, -1)
    row_of[inside.number + 1] = np.arange(rows)
    total, count = np.zeros(rows * width), np.zeros(rows * width)
    for path, number in zip(paths, passes.number, strict=True):
        step = np.flatnonzero(row_of[number] >= 0)
        row = row_of[number[step]]
        middle = (path.xy_m.take(step, axis=0) + path.xy_m.take(step + 1, axis=0)) / 2
        u = turn_points(middle, turn_rad=-cuts.angle)[:, 0]
        cut = np.floor((u - cuts.u_m[0]) / cuts.step_m + 0.5).astype(np.int64)
        when = (path.time_s[step] + path.time_s[step + 1]) / 2
        use = (cut >= 0) & (cut < width) & np.isfinite(when)
        cell = row[use] * width + cut[use]
        total += np.bincount(cell, weights=when[use], minlength=rows * width)
        count += np.bincount(cell, minlength=rows * width)
    found: Floats = np.where(count > 0, total / np.maximum(count, 1), np.nan).reshape(rows, width)
    return _between(found)


def _between(time_s: Floats) -> Floats:
    """Cuts that a step leads across without its middle in them have a time between their neighbours'."""
    at = np.arange(time_s.shape[1])
    for row in time_s:
        known = np.isfinite(row)
        if known.any():
            first, last = int(np.argmax(known)), len(row) - 1 - int(np.argmax(known[::-1]))
            row[first : last + 1] = np.interp(at[first : last + 1], at[known], row[known])
    return time_s


def _by_place(time_s: Floats, places: Places) -> Floats:
    """The time at each place and cut; not a number where passes of one place both drove, many minutes apart."""
    shape = (len(places.offset_m), time_s.shape[1])
    total, count, first, last = np.zeros(shape), np.zeros(shape), np.full(shape, np.inf), np.full(shape, -np.inf)
    for row, place in enumerate(places.place.tolist()):
        known = np.isfinite(time_s[row])
        total[place] += np.where(known, time_s[row], 0.0)
        count[place] += known
        first[place] = np.where(known, np.minimum(first[place], time_s[row]), first[place])
        last[place] = np.where(known, np.maximum(last[place], time_s[row]), last[place])
    return np.asarray(np.where((count > 0) & (last - first <= _TOGETHER_S), total / np.maximum(count, 1), np.nan))
