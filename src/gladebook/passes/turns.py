"""A path with its boom on, thinned to knots, and split into stretches at its turns; the rules stand in `trips`."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gladebook.geometry.frame import lengths_m
from gladebook.passes.path import Path

__all__ = ["Knots", "Stretches", "cos_between", "split_at_turns", "thin"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

_REACH_WIDTHS, _REACH_M, _REACH_NOISE = 1.5, 4.0, 8.0
_GATE_WIDTHS, _GATE_M, _GATE_NOISE = 1 / 3, 1.0, 5.0
_TURN_COS, _KEEPS_COS = np.cos(np.radians([50.0, 25.0])).tolist()
_ONE_WAY, _BACK_REACHES, _MOST_WORK = 0.6, 2.0, 20
_UNKNOWN_WIDTH_M = 3.6576  # 12 ft, where no width is recorded: it decides turns alone (common practice, no source)
_LOOK_AHEAD, _LONGEST_CHORD = 60, 64  # points
_SAMPLE, _NOISE_STEP_M = 20_000, 10.0


@dataclass(frozen=True, eq=False)
class Knots:
    """Points that stand for a path with its boom on: the run of each, its first point, how far it was driven."""

    xy_m: Floats
    run: Ints
    point: Ints
    along_m: Floats
    width_m: float
    noise_m: float
    reach_m: float


@dataclass(frozen=True, eq=False)
class Stretches:
    """Stretches of knots: first and last knot, the pass of each, and whether a turn bounds them."""

    first: Ints
    last: Ints
    of_pass: Ints
    by_turn: Bools


def split_at_turns(knots: Knots) -> Stretches:
    """Split runs of boom-on at their turns, sharp and wide."""
    return _unfolded(_stretches(knots), knots)


def thin(path: Path, on: Bools) -> Knots:
    """Points at least a gate apart, each the mean of those from it to the next; ends of runs as they are."""
    edge = np.diff(on.astype(np.int8), prepend=0, append=0)
    starts, stops = np.flatnonzero(edge == 1), np.flatnonzero(edge == -1)
    widths = path.width_m[:-1][on]
    widths = widths[np.isfinite(widths) & (widths > 0)]
    width_m = float(np.median(widths)) if widths.size else _UNKNOWN_WIDTH_M
    noise_m = min(_noise(path.xy_m, on), width_m / 3)
    gate_m = max(_GATE_WIDTHS * width_m, _GATE_M, _GATE_NOISE * noise_m)
    point = np.flatnonzero(np.append(on, False) | np.concatenate([[False], on]))
    is_end = np.zeros(len(path.xy_m), dtype=bool)
    is_end[starts], is_end[stops] = True, True
    ends, places = is_end[point], path.xy_m.take(point, axis=0)
    kept = np.flatnonzero(ends | _apart(places, gate_m=gate_m))
    xy = np.add.reduceat(places, kept, axis=0) / np.diff(np.append(kept, len(point)))[:, None]
    at_end = ends[kept]
    xy[at_end] = path.xy_m[point[kept[at_end]]]
    run = np.searchsorted(starts, point[kept], side="right")
    step_m = lengths_m(np.diff(xy, axis=0))
    return Knots(
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
        if np.median(lengths_m(chord)) >= gate_m:
            break
        ahead *= 2
    speed = lengths_m(xy_m[ahead:] - xy_m[:-ahead]) / ahead
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
    length = lengths_m(chord)
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
    rest = rest[lengths_m(xy_m[last[rest]] - xy_m[rest]) >= reach_m / 2]
    found[rest] = last[rest]
    return found


def cos_between(a: Floats, b: Floats) -> Floats:
    """Cosine between vectors, shape (n, 2) each; 1 where either is none."""
    size = lengths_m(a) * lengths_m(b)
    dot = a[:, 0] * b[:, 0] + a[:, 1] * b[:, 1]
    cos: Floats = np.where(size > 0, dot / np.where(size > 0, size, 1.0), 1.0)
    return cos


def _stretches(knots: Knots) -> Stretches:
    """Runs split at turns, as far into each turn as they keep their direction."""
    n, xy = len(knots.run), knots.xy_m
    ahead = _first_away(xy, knots.run, reach_m=knots.reach_m)
    behind = (n - 1) - _first_away(xy[::-1], knots.run[::-1], reach_m=knots.reach_m)[::-1]
    turning = cos_between(xy - xy.take(behind, axis=0), xy.take(ahead, axis=0) - xy) < _TURN_COS
    fresh = np.concatenate([[True], knots.run[1:] != knots.run[:-1]])
    run_first, run_last = np.flatnonzero(fresh), np.append(np.flatnonzero(fresh)[1:], n) - 1
    way = np.append(np.diff(xy, axis=0), [[0.0, 0.0]], axis=0)
    # A way as long as the reach lies between two turns, not in one.
    parted = np.append(fresh[1:], True) | (lengths_m(way) >= knots.reach_m)
    opens = turning & ~np.concatenate([[False], (turning & ~parted)[:-1]])
    shuts = turning & ~np.append(turning[1:] & ~parted[:-1], False)
    a, b = np.flatnonzero(opens), np.flatnonzero(shuts)
    turn = np.cumsum(opens) - 1
    inner = turning & ~shuts  # the way from such a knot to the next lies within its turn
    into, out = xy[a] - xy[behind[a]], xy[ahead[b]] - xy[b]
    lost_in, lost_out = np.ones(n, dtype=bool), np.ones(n, dtype=bool)
    lost_in[inner] = cos_between(way[inner], into[turn[inner]]) < _KEEPS_COS
    lost_out[inner] = cos_between(way[inner], out[turn[inner]]) < _KEEPS_COS
    next_lost = np.minimum.accumulate(np.where(lost_in, np.arange(n), n)[::-1])[::-1]
    last_lost = np.maximum.accumulate(np.where(lost_out, np.arange(n), -1))
    stop = np.minimum(next_lost[a], b)
    start = np.maximum(np.where(b > 0, last_lost[np.maximum(b - 1, 0)] + 1, 0), stop)
    first, last = np.sort(np.concatenate([run_first, start])), np.sort(np.concatenate([run_last, stop]))
    after_turn, before_turn = np.isin(first, start), np.isin(last, stop)
    length_m = knots.along_m[last] - knots.along_m[first]
    keep = (length_m > 0) & ~(after_turn & before_turn & (length_m < knots.reach_m))
    return Stretches(first[keep], last[keep], np.arange(int(keep.sum())), (after_turn | before_turn)[keep])


def _unfolded(stretches: Stretches, knots: Knots) -> Stretches:
    """Stretches split where they double back, until none does."""
    first, last = stretches.first, stretches.last
    place, back_m = knots.xy_m[:, 0] + 1j * knots.xy_m[:, 1], _BACK_REACHES * knots.reach_m
    detour_m = knots.along_m[last] - knots.along_m[first] - np.abs(place[last] - place[first])
    todo = [(int(first[k]), int(last[k])) for k in np.flatnonzero(detour_m >= 2 * back_m)]
    splits, work = [], _MOST_WORK * len(place)
    while todo and work > 0:
        i, j = todo.pop()
        work -= j - i
        far = _far_end(place[i : j + 1], back_m=back_m)
        if far:
            splits.append(i + far)
            todo += [(i, i + far), (i + far, j)]
    if not splits:
        return stretches
    new_first, new_last = np.sort(np.append(first, splits)), np.sort(np.append(last, splits))
    parent = np.searchsorted(first, new_first, side="right") - 1
    by_turn = stretches.by_turn[parent] | np.isin(new_first, splits) | np.isin(new_last, splits)
    return Stretches(new_first, new_last, np.arange(len(new_first)), by_turn)


def _far_end(place: npt.NDArray[np.complex128], *, back_m: float) -> int:
    """The knot where a stretch that mostly runs one way, there and back, turns round; 0 for none."""
    step = np.diff(place)
    size = np.abs(step)
    doubled = complex(np.sum(step[size > 0] ** 2 / size[size > 0]))
    if abs(doubled) < _ONE_WAY * size.sum():
        return 0
    u = ((place - place[0]) * np.exp(-0.5j * np.angle(doubled))).real
    for v in (u, -u):
        lost = int(np.argmax(np.maximum.accumulate(v) - v))
        far = int(np.argmax(v[: lost + 1]))
        if v[far] - v[lost] >= back_m and v[far] - v[: far + 1].min() >= back_m:
            return far
    return 0
