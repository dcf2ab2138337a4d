"""Passes told from turns.

A pass is one trip across with the boom on: a stretch without a cut that keeps its general direction.

- A turn is where the way ahead and the way behind, each 1.5 boom widths long (4 m at least), differ by more
  than 50 degrees: a bend of less than about 1.8 widths' radius, not one along a plot's edge. A pass reaches as
  far into it as it keeps within 25 degrees of its direction.
- A wider turn splits a pass at its far end where it doubles back, for two reaches and most of it one way.
- So a headland lap is one pass for each side between sharp corners, two where it is long with round ends, and
  a single one where it is round.
- What lies between two turns and is shorter than those 1.5 widths belongs to the turn; nor is a stretch that
  short a pass beside one turn, or a stretch of less than half a width anywhere. With the boom left on in turns,
  rows shorter than two or three widths, as in a plot's tip, cannot be told from them.
- Where the boom goes off, the track is cut, or a turn leads round something, the same pass goes on if the next
  stretch starts at most 10 widths further and 2 widths back, no more than half a width (and twice the
  receiver's noise) off its line, within 20 degrees of its direction, whatever was driven in between.

Common practice, no source. The receiver's noise is told from the track, and the reach grows with it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from gladebook.passes.path import Path
from gladebook.passes.turns import Knots, Stretches, cos_between, split_at_turns, thin

__all__ = ["Passes", "find_passes"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_SHORTEST_WIDTHS, _ON_WIDTHS, _BACK_WIDTHS, _OFF_LINE_WIDTHS = 0.5, 10.0, 2.0, 0.5
_ON_COS, _ON_SHORT_COS = np.cos(np.radians([20.0, 60.0])).tolist()


@dataclass(frozen=True, eq=False)
class Passes:
    """Passes of one application, numbered from 1 in driving order.

    Attributes
    ----------
    number : for each path shape (n - 1,), the pass of each step; 0 in a turn and where the boom is off.
    path : shape (m,), the path of each pass, counted from 0 as given.
    first_step, last_step : shape (m,), steps of that path, counted from 0.
    length_m : shape (m,), driven with the boom on.
    width_m : shape (m,), the boom's, averaged over the pass.
    middle_m : shape (m, 2), half-way along.
    direction : shape (m, 2), unit vector from the first place to the last: the mean direction; not a number
        where they are one place.
    line_m : for each pass shape (k, 2), the line of the swath's middle, thinned to points about a third of a
        width apart, each the mean of those that it stands for; straight across where the boom was off.
    bounds_m : shape (m, 4), least x and y and greatest x and y of that line.
    turns_m : shape (t, 2, 2), steps of such lines with the boom on that belong to no pass: from, to; x, y.
    """

    number: tuple[Ints, ...]
    path: Ints
    first_step: Ints
    last_step: Ints
    length_m: Floats
    width_m: Floats
    middle_m: Floats
    direction: Floats
    line_m: tuple[Floats, ...]
    bounds_m: Floats
    turns_m: Floats

    def __len__(self) -> int:
        return len(self.path)


def find_passes(paths: Sequence[Path], *, right_m: float = 0.0) -> Passes:
    """Tell passes from turns and number them from 1, by the rules at the top of this module.

    Parameters
    ----------
    paths
        Paths whose boom states are known; an unknown state counts as off. Passes are numbered by the
        time they start; where one has no time, in the order given.
    right_m
        How far the middle of the swath lies to the right of the paths, metres.
    """
    found = [_one_path(path, right_m) for path in paths]
    count = [len(f) for f in found]
    before = np.cumsum([0, *count])
    # Never falling within a path, where the file's order says which came first.
    began = [np.maximum.accumulate(p.time_s[f.first_step]) for p, f in zip(paths, found, strict=True)]
    began_s = np.concatenate([np.zeros(0), *began])
    order = np.argsort(began_s, kind="stable") if np.isfinite(began_s).all() else np.arange(len(began_s))
    rank = np.zeros(len(order) + 1, dtype=np.int64)
    rank[order + 1] = np.arange(1, len(order) + 1)
    lines = [line for f in found for line in f.line_m]
    names = ("first_step", "last_step", "length_m", "width_m", "middle_m", "direction", "bounds_m")
    each: dict[str, Any] = {n: np.concatenate([getattr(f, n) for f in [_none(0), *found]])[order] for n in names}
    return Passes(
        number=tuple(rank[np.where(f.number[0] > 0, f.number[0] + b, 0)] for f, b in zip(found, before, strict=False)),
        path=np.repeat(np.arange(len(found)), count)[order],
        line_m=tuple(lines[k] for k in order.tolist()),
        turns_m=np.concatenate([f.turns_m for f in [_none(0), *found]]),
        **each,
    )


def _one_path(path: Path, right_m: float) -> Passes:
    steps = max(len(path.xy_m) - 1, 0)
    placed = np.isfinite(path.xy_m[:, 0]) & np.isfinite(path.xy_m[:, 1])
    on = (path.boom_on[:steps] == 1) & ~path.cut[:steps] & placed[1:] & placed[:-1]
    if not on.any():
        return _none(steps)
    knots = thin(path, on)
    stretches = _go_on(split_at_turns(knots), knots)
    turns = _turns(knots, stretches, right_m=right_m)
    if not stretches.first.size:
        return replace(_none(steps), turns_m=turns)
    return replace(_gather(path, knots=knots, stretches=stretches, right_m=right_m), turns_m=turns)


def _none(steps: int) -> Passes:
    no, none, pairs = np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros((0, 2))
    number = (np.zeros(steps, dtype=np.int64),)
    return Passes(number, no, no, no, none, none, pairs, pairs, (), np.zeros((0, 4)), np.zeros((0, 2, 2)))


def _turns(knots: Knots, stretches: Stretches, *, right_m: float) -> Floats:
    """Steps between knots of one run that no stretch holds."""
    change = np.zeros(len(knots.run), dtype=np.int64)
    np.add.at(change, stretches.first, 1)
    np.subtract.at(change, stretches.last, 1)
    free = np.flatnonzero((np.cumsum(change)[:-1] == 0) & (knots.run[1:] == knots.run[:-1]))
    steps: Floats = np.stack([knots.xy_m[free], knots.xy_m[free + 1]], axis=1)
    way = steps[:, 1] - steps[:, 0]
    size = np.hypot(way[:, 0], way[:, 1])
    right = np.column_stack([way[:, 1], -way[:, 0]]) / np.where(size > 0, size, 1.0)[:, None]
    return steps + right_m * right[:, None]


def _go_on(stretches: Stretches, knots: Knots) -> Stretches:
    """Join stretches where the next goes on in line, then drop passes that are too short."""
    first, last, along = stretches.first, stretches.last, knots.along_m
    if not first.size:
        return stretches
    length_m = along[last] - along[first]
    sight_m = 2 * knots.reach_m
    tail = np.maximum(np.searchsorted(along, along[last] - sight_m), first)
    head = np.minimum(np.searchsorted(along, along[first] + sight_m, side="right") - 1, last)
    out, into = (knots.xy_m[last] - knots.xy_m[tail])[:-1], (knots.xy_m[head] - knots.xy_m[first])[1:]
    mean = out + into
    size = np.hypot(mean[:, 0], mean[:, 1])
    mean = mean / np.where(size > 0, size, 1.0)[:, None]
    gap = knots.xy_m[first[1:]] - knots.xy_m[last[:-1]]
    on_m = (gap * mean).sum(axis=1)
    off_m = np.abs(gap[:, 0] * mean[:, 1] - gap[:, 1] * mean[:, 0])
    width_m = knots.width_m
    # A flicker of the boom is too short to have a direction: the longer stretch's decides.
    short = np.minimum(length_m[1:], length_m[:-1]) < knots.reach_m
    goes_on = (
        (size > 0)
        & (cos_between(out, into) >= np.where(short, _ON_SHORT_COS, _ON_COS))
        & (on_m >= -_BACK_WIDTHS * width_m)
        & (on_m <= _ON_WIDTHS * width_m)
        & (off_m <= _OFF_LINE_WIDTHS * width_m + 2 * knots.noise_m)
    )
    of_pass = np.concatenate([[0], np.cumsum(~goes_on)])
    whole_m = np.bincount(of_pass, weights=length_m)
    beside_turn = np.bincount(of_pass, weights=stretches.by_turn) > 0
    long_enough = whole_m >= np.where(beside_turn, knots.reach_m, _SHORTEST_WIDTHS * width_m)
    keep = long_enough[of_pass]
    return Stretches(first[keep], last[keep], (np.cumsum(long_enough) - 1)[of_pass[keep]], stretches.by_turn[keep])


def _moved(line_m: Floats, right_m: float) -> Floats:
    """A line moved to the right of its way."""
    way = np.gradient(line_m, axis=0)
    size = np.hypot(way[:, 0], way[:, 1])[:, None]
    return line_m + right_m * np.column_stack([way[:, 1], -way[:, 0]]) / np.where(size > 0, size, 1.0)


def _gather(path: Path, *, knots: Knots, stretches: Stretches, right_m: float) -> Passes:
    """Passes of one path from its stretches."""
    steps, of_pass, along = len(path.xy_m) - 1, stretches.of_pass, knots.along_m
    fresh = np.concatenate([[True], of_pass[1:] != of_pass[:-1]])
    first, last = np.flatnonzero(fresh), np.append(np.flatnonzero(fresh)[1:], len(fresh)) - 1
    begin, end = knots.point[stretches.first], knots.point[stretches.last]
    change = np.zeros(steps + 1, dtype=np.int64)
    np.add.at(change, begin, of_pass + 1)
    np.subtract.at(change, end, of_pass + 1)
    width = np.where(np.isfinite(path.width_m) & (path.width_m > 0), path.width_m, knots.width_m)
    summed = np.concatenate([[0.0], np.cumsum(width)])
    stretch_m = along[stretches.last] - along[stretches.first]
    length_m = np.add.reduceat(stretch_m, first)
    after = np.cumsum(stretch_m)
    half = after[first] - stretch_m[first] + length_m / 2
    at = np.minimum(np.searchsorted(after, half), len(after) - 1)
    half_along = along[stretches.last[at]] - (after[at] - half)
    spans = [knots.xy_m[i : j + 1] for i, j in zip(stretches.first.tolist(), stretches.last.tolist(), strict=True)]
    lines = [np.concatenate(spans[i : j + 1]) for i, j in zip(first.tolist(), last.tolist(), strict=True)]
    if right_m:
        lines = [_moved(line, right_m) for line in lines]
    xy, each = np.concatenate(lines), np.cumsum([0, *map(len, lines[:-1])])
    chord = knots.xy_m[stretches.last[last]] - knots.xy_m[stretches.first[first]]
    size = np.hypot(chord[:, 0], chord[:, 1])
    return Passes(
        number=(np.cumsum(change)[:-1],),
        path=np.zeros(len(first), dtype=np.int64),
        first_step=begin[first],
        last_step=end[last] - 1,
        length_m=length_m,
        width_m=np.add.reduceat(summed[end] - summed[begin], first) / np.add.reduceat(end - begin, first),
        middle_m=np.column_stack([np.interp(half_along, along, knots.xy_m[:, k]) for k in (0, 1)]),
        direction=chord / np.where(size > 0, size, np.nan)[:, None],
        line_m=tuple(lines),
        bounds_m=np.hstack([np.minimum.reduceat(xy, each), np.maximum.reduceat(xy, each)]),
        turns_m=np.zeros((0, 2, 2)),
    )
