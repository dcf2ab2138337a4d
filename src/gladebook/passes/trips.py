"""Passes told from turns.

A pass is one trip across with the boom on: a stretch without a cut that keeps its general direction.

- A turn is where the way ahead and the way behind, each 1.5 boom widths long (4 m at least), differ by more
  than 50 degrees. Bends with a radius of about 1.8 widths or more, as along a plot's edge, are no turn. Round
  a bend that is one, a pass reaches as far as it keeps within 25 degrees of its direction.
- So a headland lap is one pass for each side between sharp corners, and a single pass where it is all gentle.
- What lies between two turns and is shorter than those 1.5 widths belongs to the turn; nor is a stretch that
  short a pass beside one turn, or a stretch of less than half a width anywhere.
- Where the boom goes off, the track is cut, or a turn leads round something, the same pass goes on if the next
  stretch starts at most 10 widths further and 2 widths back, no more than half a width (and twice the
  receiver's noise) off its line, within 20 degrees of its direction, whatever was driven in between.

Common practice, no source. The receiver's noise is told from the track, and the reach grows with it. A turn wider
than a bend is not told: with the boom left on through it, both rows are one pass.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from gladebook.passes.path import Path

__all__ = ["Passes", "find_passes"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

_REACH_WIDTHS, _REACH_M, _REACH_NOISE = 1.5, 4.0, 8.0
_GATE_WIDTHS, _GATE_M, _GATE_NOISE = 1 / 3, 1.0, 5.0
_TURN_COS, _KEEPS_COS, _ON_COS, _ON_SHORT_COS = np.cos(np.radians([50.0, 25.0, 20.0, 60.0])).tolist()
_SHORTEST_WIDTHS, _ON_WIDTHS, _BACK_WIDTHS, _OFF_LINE_WIDTHS = 0.5, 10.0, 2.0, 0.5
_UNKNOWN_WIDTH_M = 3.6576  # 12 ft, where no width is recorded: it decides turns alone (common practice, no source)
_LOOK_AHEAD, _LONGEST_CHORD = 60, 64  # points
_SAMPLE, _NOISE_STEP_M = 20_000, 10.0


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

    def __len__(self) -> int:
        return len(self.path)


@dataclass(frozen=True, eq=False)
class _Knots:
    """Points that stand for a path with its boom on: the run of each, its first point, how far it was driven."""

    xy_m: Floats
    run: Ints
    point: Ints
    along_m: Floats
    width_m: float
    noise_m: float
    reach_m: float


@dataclass(frozen=True, eq=False)
class _Stretches:
    """Stretches of knots: first and last knot, the pass of each, and whether a turn bounds them."""

    first: Ints
    last: Ints
    of_pass: Ints
    by_turn: Bools


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
        **each,
    )


def _one_path(path: Path, right_m: float) -> Passes:
    steps = max(len(path.xy_m) - 1, 0)
    placed = np.isfinite(path.xy_m[:, 0]) & np.isfinite(path.xy_m[:, 1])
    on = (path.boom_on[:steps] == 1) & ~path.cut[:steps] & placed[1:] & placed[:-1]
    if not on.any():
        return _none(steps)
    knots = _thin(path, on)
    stretches = _go_on(_stretches(knots), knots)
    if not stretches.first.size:
        return _none(steps)
    return _gather(path, knots=knots, stretches=stretches, right_m=right_m)


def _none(steps: int) -> Passes:
    no = np.zeros(0, dtype=np.int64)
    none, pairs = np.zeros(0), np.zeros((0, 2))
    return Passes((np.zeros(steps, dtype=np.int64),), no, no, no, none, none, pairs, pairs, (), np.zeros((0, 4)))


def _thin(path: Path, on: Bools) -> _Knots:
    """Points at least a gate apart, each the mean of those from it to the next; ends of runs as they are."""
    edge = np.diff(on.astype(np.int8), prepend=0, append=0)
    starts, stops = np.flatnonzero(edge == 1), np.flatnonzero(edge == -1)
    widths = path.width_m[:-1][on]
    widths = widths[np.isfinite(widths) & (widths > 0)]
    width_m = float(np.median(widths)) if widths.size else _UNKNOWN_WIDTH_M
    noise_m = min(_noise(path.xy_m, on), width_m / 3)
    gate_m = max(_GATE_WIDTHS * width_m, _GATE_M, _GATE_NOISE * noise_m)
    point = np.flatnonzero(np.append(on, False) | np.concatenate([[False], on]))
    ends = np.isin(point, np.concatenate([starts, stops]))
    kept = np.flatnonzero(ends | _apart(path.xy_m[point], gate_m=gate_m))
    xy = np.add.reduceat(path.xy_m[point], kept, axis=0) / np.diff(np.append(kept, len(point)))[:, None]
    at_end = ends[kept]
    xy[at_end] = path.xy_m[point[kept[at_end]]]
    run = np.searchsorted(starts, point[kept], side="right")
    step_m = np.hypot(*np.diff(xy, axis=0).T)
    return _Knots(
        xy_m=xy,
        run=run,
        point=point[kept],
        along_m=np.concatenate([[0.0], np.cumsum(np.where(run[1:] == run[:-1], step_m, 0.0))]),
        width_m=width_m,
        noise_m=noise_m,
        reach_m=max(_REACH_WIDTHS * width_m, _REACH_M, _REACH_NOISE * noise_m),
    )


def _apart(xy_m: Floats, *, gate_m: float) -> Bools:
    """Points about a gate apart along the way, told over chords so long that noise hardly lengthens them."""
    n, ahead = len(xy_m), 1
    sample = np.arange(0, n, max(n // _SAMPLE, 1))
    while ahead < min(_LONGEST_CHORD, n // 2):
        chord = xy_m[np.minimum(sample + ahead, n - 1)] - xy_m[sample]
        if np.median(np.hypot(chord[:, 0], chord[:, 1])) >= gate_m:
            break
        ahead *= 2
    speed = np.hypot(xy_m[ahead:, 0] - xy_m[:-ahead, 0], xy_m[ahead:, 1] - xy_m[:-ahead, 1]) / ahead
    at = np.clip(np.arange(n - 1) - ahead // 2, 0, len(speed) - 1)
    gates = np.floor(np.cumsum(speed[at]) / gate_m)
    taken: Bools = np.concatenate([[True], np.diff(gates, prepend=0.0) > 0])
    return taken


def _noise(xy_m: Floats, on: Bools) -> float:
    """Standard deviation of white noise that would explain the middle one of the sideways second differences.

    A second difference across the way has variance 1 + 4 + 1 of the noise's; the middle of a normal's
    sizes is 0.6745 of its standard deviation. Differences along the way show uneven intervals instead.
    """
    number = np.flatnonzero(on[1:] & on[:-1])
    number = number[:: max(len(number) // _SAMPLE, 1)]
    a, b, c = xy_m[number], xy_m[number + 1], xy_m[number + 2]
    chord, bend = c - a, a - 2 * b + c
    length = np.hypot(chord[:, 0], chord[:, 1])
    moved = ((b - a) != 0).any(axis=1) & ((c - b) != 0).any(axis=1)
    near = moved & (length > 0) & (length < 2 * _NOISE_STEP_M)
    if not near.any():
        return 0.0
    sideways = np.abs(chord[near, 0] * bend[near, 1] - chord[near, 1] * bend[near, 0]) / length[near]
    return float(np.median(sideways)) / (0.6745 * float(np.sqrt(6.0)))


def _first_away(xy_m: Floats, run: Ints, *, reach_m: float) -> Ints:
    """The first later knot of the same run a reach away, else its last one half a reach away, else itself."""
    n = len(xy_m)
    x, y = np.ascontiguousarray(xy_m[:, 0]), np.ascontiguousarray(xy_m[:, 1])
    found = np.arange(n)
    last = np.append(np.flatnonzero(run[1:] != run[:-1]), n - 1)
    last = last[np.searchsorted(last, found)]
    open_ = np.flatnonzero(last > found)
    for ahead in range(1, _LOOK_AHEAD + 1):
        target = open_ + ahead
        away = (x[target] - x[open_]) ** 2 + (y[target] - y[open_]) ** 2 >= reach_m * reach_m
        found[open_[away]] = target[away]
        open_ = open_[~away]
        open_ = open_[open_ + ahead < last[open_]]
        if not open_.size:
            break
    rest = np.flatnonzero(found == np.arange(n))
    rest = rest[np.hypot(*(xy_m[last[rest]] - xy_m[rest]).T) >= reach_m / 2]
    found[rest] = last[rest]
    return found


def _cos(a: Floats, b: Floats) -> Floats:
    """Cosine between vectors, shape (n, 2) each; 1 where either is none."""
    size = np.hypot(a[:, 0], a[:, 1]) * np.hypot(b[:, 0], b[:, 1])
    dot = (a * b).sum(axis=1)
    cos: Floats = np.where(size > 0, dot / np.where(size > 0, size, 1.0), 1.0)
    return cos


def _stretches(knots: _Knots) -> _Stretches:
    """Runs split at turns, as far into each turn as they keep their direction."""
    n, xy = len(knots.run), knots.xy_m
    ahead = _first_away(xy, knots.run, reach_m=knots.reach_m)
    behind = (n - 1) - _first_away(xy[::-1], knots.run[::-1], reach_m=knots.reach_m)[::-1]
    turning = _cos(xy - xy[behind], xy[ahead] - xy) < _TURN_COS
    fresh = np.concatenate([[True], knots.run[1:] != knots.run[:-1]])
    run_first, run_last = np.flatnonzero(fresh), np.append(np.flatnonzero(fresh)[1:], n) - 1
    opens = turning & (~np.concatenate([[False], turning[:-1]]) | fresh)
    shuts = turning & (~np.append(turning[1:], False) | np.append(fresh[1:], True))
    a, b = np.flatnonzero(opens), np.flatnonzero(shuts)
    way = np.append(np.diff(xy, axis=0), [[0.0, 0.0]], axis=0)
    turn = np.cumsum(opens) - 1
    inner = turning & ~shuts  # the way from such a knot to the next lies within its turn
    into, out = xy[a] - xy[behind[a]], xy[ahead[b]] - xy[b]
    lost_in, lost_out = np.ones(n, dtype=bool), np.ones(n, dtype=bool)
    lost_in[inner] = _cos(way[inner], into[turn[inner]]) < _KEEPS_COS
    lost_out[inner] = _cos(way[inner], out[turn[inner]]) < _KEEPS_COS
    next_lost = np.minimum.accumulate(np.where(lost_in, np.arange(n), n)[::-1])[::-1]
    last_lost = np.maximum.accumulate(np.where(lost_out, np.arange(n), -1))
    stop = np.minimum(next_lost[a], b)
    start = np.maximum(np.where(b > 0, last_lost[np.maximum(b - 1, 0)] + 1, 0), stop)
    first, last = np.sort(np.concatenate([run_first, start])), np.sort(np.concatenate([run_last, stop]))
    after_turn, before_turn = np.isin(first, start), np.isin(last, stop)
    length_m = knots.along_m[last] - knots.along_m[first]
    keep = (length_m > 0) & ~(after_turn & before_turn & (length_m < knots.reach_m))
    return _Stretches(first[keep], last[keep], np.arange(int(keep.sum())), (after_turn | before_turn)[keep])


def _go_on(stretches: _Stretches, knots: _Knots) -> _Stretches:
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
        & (_cos(out, into) >= np.where(short, _ON_SHORT_COS, _ON_COS))
        & (on_m >= -_BACK_WIDTHS * width_m)
        & (on_m <= _ON_WIDTHS * width_m)
        & (off_m <= _OFF_LINE_WIDTHS * width_m + 2 * knots.noise_m)
    )
    of_pass = np.concatenate([[0], np.cumsum(~goes_on)])
    whole_m = np.bincount(of_pass, weights=length_m)
    beside_turn = np.bincount(of_pass, weights=stretches.by_turn) > 0
    long_enough = whole_m >= np.where(beside_turn, knots.reach_m, _SHORTEST_WIDTHS * width_m)
    keep = long_enough[of_pass]
    return _Stretches(first[keep], last[keep], (np.cumsum(long_enough) - 1)[of_pass[keep]], stretches.by_turn[keep])


def _moved(line_m: Floats, right_m: float) -> Floats:
    """A line moved to the right of its way."""
    way = np.gradient(line_m, axis=0)
    size = np.hypot(way[:, 0], way[:, 1])[:, None]
    return line_m + right_m * np.column_stack([way[:, 1], -way[:, 0]]) / np.where(size > 0, size, 1.0)


def _gather(path: Path, *, knots: _Knots, stretches: _Stretches, right_m: float) -> Passes:
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
    )
