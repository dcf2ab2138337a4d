"""Passes of one plot seen side by side: turned to run one way, straightened, in places, with what lies between.

Everything is compared at cuts across the passes, half a boom apart, so that a plot's outline does no harm: at
each cut a pass has the neighbours that run beside it there, or the plot's edge.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.beside.inside import Inside
from gladebook.geometry.frame import turn_points

__all__ = ["Beside", "Cuts", "Places", "cut_across", "in_places", "look_beside"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Complexes = npt.NDArray[np.complex128]

_CHORD = 2.0  # booms
_ALONG_COS, _ALONG_SHARE = np.cos(np.radians(25.0)), 0.7
_MOST_CUTS = 400
_SAME_LINE = 1 / 3  # of a boom
_WANDERS = 1.0  # booms
_ROUNDS, _LOOSE = 8, 0.25
_TINY_M = 1e-6


@dataclass(frozen=True, eq=False)
class Cuts:
    """The plot cut across its passes.

    Attributes
    ----------
    angle : the passes' main direction, radians from x.
    u_m : shape (c,), where along it the cuts are, `step_m` apart.
    v_m : shape (r, c), where each pass that runs along it lies, not a number where it does not.
    along : shape (r,), whether a pass keeps within 25 degrees of the direction for 70 % of its way.
    edge_cut, edge_m : shape (e,), where the plot starts and stops, in turns, at each cut.
    """

    angle: float
    u_m: Floats
    step_m: float
    v_m: Floats
    along: Bools
    edge_cut: Ints
    edge_m: Floats


@dataclass(frozen=True, eq=False)
class Places:
    """Places side by side, in order of their offset from the curve that all share.

    Attributes
    ----------
    curve_m : shape (c,), that curve at the cuts.
    offset_m, width_m : shape (p,).
    v_m : shape (p, c), where each runs at the cuts.
    first_pass : shape (p,), the first pass driven there, counted from 0.
    row, place : shape (k,), the rows that have a place, and which.
    passes : how many passes share the places.
    cover_cut, cover_m : shape (q,), where turns and passes that are not counted have covered ground at the cuts.
    """

    curve_m: Floats
    offset_m: Floats
    width_m: Floats
    v_m: Floats
    first_pass: Ints
    row: Ints
    place: Ints
    passes: int
    cover_cut: Ints
    cover_m: Floats


@dataclass(frozen=True, eq=False)
class Beside:
    """What lies between neighbours at the cuts, within the plot.

    Attributes
    ----------
    cut : shape (b,).
    low, high : shape (b,), the neighbours: a place, -1 for the plot's edge, -2 for what covers but is not counted.
    bare_m : shape (b,), how wide the ground between their swaths is, negative where they overlap.
    """

    cut: Ints
    low: Ints
    high: Ints
    bare_m: Floats


def cut_across(plane: Any, inside: Inside) -> Cuts:
    """Turn a plot and its passes to their main direction, and cut across it; there must be passes."""
    count = len(inside.number)
    chord, row = _chords(inside)
    size = np.abs(chord)
    # Doubled angles, weighted by length: there and back are one direction.
    angle = float(np.angle(np.sum(chord**2 / np.where(size > 0, size, 1.0)))) / 2
    chord = chord * np.exp(-1j * angle)

    def per_pass(weights: Any) -> Floats:
        return np.bincount(row, weights=weights, minlength=count).astype(np.float64)

    along = per_pass(size * (np.abs(chord.real) >= _ALONG_COS * size)) >= _ALONG_SHARE * per_pass(size)
    xy, part = shapely.get_coordinates(inside.parts, return_index=True)
    u = turn_points(xy, turn_rad=-angle)[along[inside.row[part]] | (not along.any()), 0]
    low, high = float(u.min()), float(u.max())
    step_m = max(inside.boom_m / 2, (high - low) / _MOST_CUTS, _TINY_M)
    cuts = max(int(np.ceil((high - low) / step_m)), 1)
    u_m: Floats = np.asarray((low + high) / 2 + (np.arange(cuts) - (cuts - 1) / 2) * step_m, dtype=np.float64)
    xy, part = shapely.get_coordinates(shapely.segmentize(inside.parts, step_m / 3), return_index=True)
    row, turned = inside.row[part], turn_points(xy, turn_rad=-angle)
    cut = np.floor((turned[:, 0] - u_m[0]) / step_m + 0.5).astype(np.int64)
    use = (cut >= 0) & (cut < cuts) & along[row]
    cell = row[use] * cuts + cut[use]
    points = np.bincount(cell, minlength=count * cuts)
    total = np.bincount(cell, weights=turned[use, 1], minlength=count * cuts)
    v_m = np.where(points > 0, total / np.maximum(points, 1), np.nan).reshape(count, cuts)
    edge_cut, edge_m = _edges(shapely.transform(plane, lambda at: turn_points(at, turn_rad=-angle)), u_m)
    return Cuts(angle, u_m, step_m, v_m, along, edge_cut, edge_m)


def _chords(inside: Inside) -> tuple[Complexes, Ints]:
    """Chords along the lines, so long that the receiver's noise hardly turns them, and the row of each."""
    length_m = shapely.length(inside.parts)
    count = np.maximum(np.round(length_m / (_CHORD * inside.boom_m)), 1).astype(np.int64)
    part = np.repeat(np.arange(len(count)), count + 1)
    number = np.arange(len(part)) - np.repeat(np.cumsum(count + 1) - count - 1, count + 1)
    xy, of_part = shapely.get_coordinates(inside.parts, return_index=True)
    # One number along all parts, a metre between them: GEOS walks a line anew for every point asked for.
    step_m = np.hypot(np.diff(xy[:, 0]), np.diff(xy[:, 1]))
    along_m = np.concatenate([[0.0], np.cumsum(np.where(np.diff(of_part) == 0, step_m, 1.0))])
    begin_m = along_m[np.searchsorted(of_part, np.arange(len(count)))]
    at_m = begin_m[part] + number / count[part] * length_m[part]
    ends: Complexes = np.interp(at_m, along_m, xy[:, 0]) + 1j * np.interp(at_m, along_m, xy[:, 1])
    inner = part[1:] == part[:-1]
    chord: Complexes = np.diff(ends)[inner]
    return chord, inside.row[part[1:][inner]]


def _edges(turned: Any, u_m: Floats) -> tuple[Ints, Floats]:
    """Where a turned plot starts and stops at each cut: the cut, and start and stop in turns."""
    _, low, _, high = shapely.bounds(turned)
    ends = np.stack([np.full(len(u_m), low - 1), np.full(len(u_m), high + 1)], axis=1)
    lines = shapely.linestrings(np.stack([np.repeat(u_m[:, None], 2, axis=1), ends], axis=2))
    parts, cut = shapely.get_parts(shapely.intersection(lines, turned), return_index=True)
    box = shapely.bounds(parts)
    long_enough = box[:, 3] > box[:, 1]
    cut, box = cut[long_enough], box[long_enough]
    order = np.lexsort((box[:, 1], cut))
    return np.repeat(cut[order], 2), box[order][:, [1, 3]].ravel()


def in_places(inside: Inside, cuts: Cuts) -> Places:
    """Straighten the passes that run along, and put those on one line in one place."""
    rows = np.flatnonzero(cuts.along & np.isfinite(cuts.v_m).any(axis=1))
    curve = np.zeros(len(cuts.u_m))
    offset = np.zeros(0)
    if rows.size:
        curve = _shared_curve(cuts.v_m[rows], cuts.u_m, boom_m=inside.boom_m)
        off = cuts.v_m[rows] - curve
        low, offset, high = (_quantile(off, share) for share in (0.05, 0.5, 0.95))
        steady = high - low <= _WANDERS * inside.boom_m
        rows, offset = rows[steady], offset[steady]
    groups: list[list[int]] = []
    for k in np.argsort(offset, kind="stable").tolist():
        if groups and offset[k] - np.mean(offset[groups[-1]]) < _SAME_LINE * inside.boom_m:
            groups[-1].append(k)
        else:
            groups.append([k])
    cover_cut, cover_m = _cover(inside, cuts, but=rows)
    return Places(
        curve_m=curve,
        offset_m=np.array([np.mean(offset[g]) for g in groups]),
        width_m=np.array([np.mean(inside.width_m[rows[g]]) for g in groups]),
        v_m=np.array([_mean_of(cuts.v_m[rows[g]]) for g in groups]).reshape(len(groups), len(curve)),
        first_pass=np.array([inside.number[rows[g]].min() for g in groups], dtype=np.int64),
        row=rows[np.array([k for g in groups for k in g], dtype=np.int64)],
        place=np.repeat(np.arange(len(groups)), [len(g) for g in groups]),
        passes=len(rows),
        cover_cut=cover_cut,
        cover_m=cover_m,
    )


def _cover(inside: Inside, cuts: Cuts, *, but: Ints) -> tuple[Ints, Floats]:
    """The cuts, and where at them, that turns and the passes of other rows lead over."""
    xy, part = shapely.get_coordinates(inside.parts[~np.isin(inside.row, but)], return_index=True)
    inner = np.flatnonzero(part[1:] == part[:-1])
    ends = np.concatenate([np.stack([xy[inner], xy[inner + 1]], axis=1), inside.turns_m])
    steps = turn_points(ends.reshape(-1, 2), turn_rad=-cuts.angle).reshape(-1, 2, 2)
    size = np.hypot(*(steps[:, 1] - steps[:, 0]).T)
    fine_m = min(cuts.step_m, inside.boom_m / 2) / 2
    count = np.maximum(np.ceil(size / fine_m), 1).astype(np.int64)
    step = np.repeat(np.arange(len(steps)), count)
    share = (np.arange(len(step)) - np.repeat(np.cumsum(count) - count, count) + 0.5) / count[step]
    at = steps[step, 0] + share[:, None] * (steps[step, 1] - steps[step, 0])
    cut = np.floor((at[:, 0] - cuts.u_m[0]) / cuts.step_m + 0.5)
    use = (cut >= 0) & (cut < len(cuts.u_m))
    found = np.unique(np.column_stack([cut[use], np.round(at[use, 1] / fine_m)]), axis=0)
    return found[:, 0].astype(np.int64), found[:, 1] * fine_m


def _mean_of(v_m: Floats) -> Floats:
    """The mean over rows of what is known; not a number where nothing is."""
    known = np.isfinite(v_m)
    count = known.sum(axis=0)
    mean: Floats = np.where(count > 0, np.where(known, v_m, 0.0).sum(axis=0) / np.maximum(count, 1), np.nan)
    return mean


def _quantile(values: Floats, share: float) -> Floats:
    """The quantile of what is known in each row; not a number where nothing is."""
    rising = np.sort(values, axis=1)  # what is not a number comes last
    at = share * np.maximum(np.isfinite(values).sum(axis=1) - 1, 0)
    row, low = np.arange(len(values)), np.floor(at).astype(np.int64)
    below, above = rising[row, low], rising[row, np.ceil(at).astype(np.int64)]
    found: Floats = below + (at - low) * (above - below)
    return found


def _shared_curve(v_m: Floats, u_m: Floats, *, boom_m: float) -> Floats:
    """What all passes have in common: a cubic, then what is left at the cuts that three of them pass.

    Least squares within passes, so that it does not matter which cuts each passes, and repeated with
    those that lead elsewhere weighing less.
    """
    known = np.isfinite(v_m)
    count = known.sum(axis=1, keepdims=True)
    x = (u_m - u_m.mean()) / max(float(np.ptp(u_m)) / 2, _TINY_M)
    powers = np.stack([x, x**2, x**3])

    def centred(values: Any) -> Any:
        inner = np.where(known, values, 0.0)
        return np.where(known, inner - inner.sum(axis=-1, keepdims=True) / count, 0.0)

    y, bases = centred(v_m), centred(powers[:, None])
    weight, shape = np.ones(len(v_m)), np.zeros(3)
    for _ in range(_ROUNDS):
        weighted = (bases * weight[:, None]).reshape(3, -1)
        shape = np.linalg.lstsq(weighted @ bases.reshape(3, -1).T, weighted @ y.ravel(), rcond=1e-9)[0]
        left = y - np.tensordot(shape, bases, axes=1)
        weight = 1 / (1 + (left**2).sum(axis=1) / count[:, 0] / (_LOOSE * boom_m) ** 2)
    curve: Floats = shape @ powers
    several = known.sum(axis=0) >= 3
    for _ in range(2):
        off = v_m - curve
        curve[several] += _quantile((off - _quantile(off, 0.5)[:, None]).T, 0.5)[several]
    return curve


def look_beside(places: Places, cuts: Cuts, *, boom_m: float) -> Beside:
    """Find the neighbours at every cut."""
    place, cut = np.nonzero(np.isfinite(places.v_m))
    v = np.concatenate([places.v_m[place, cut], places.cover_m])
    cut = np.concatenate([cut, places.cover_cut])
    who = np.concatenate([place, np.full(len(places.cover_m), -2)])
    half = np.concatenate([places.width_m[place] / 2, np.full(len(places.cover_m), boom_m / 2)])
    at, keep = _put_inside(cut, v, cuts, boom_m=boom_m)
    cut, v, who, half, at = cut[keep], v[keep], who[keep], half[keep], at[keep]
    edges = len(cuts.edge_m)
    # At each cut the plot's starts and stops and the passes in it stand in order: neighbours follow each other.
    kind = np.concatenate([np.zeros(len(v)), np.where(np.arange(edges) % 2 == 0, -1.0, 1.0)])
    all_cut = np.concatenate([cut, cuts.edge_cut])
    order = np.lexsort((kind, np.concatenate([at, cuts.edge_m]), all_cut))
    all_cut, kind = all_cut[order], kind[order]
    v = np.concatenate([v, cuts.edge_m])[order]
    who = np.concatenate([who, np.full(edges, -1)])[order]
    half = np.concatenate([half, np.zeros(edges)])[order]
    slope = np.gradient(places.curve_m, cuts.step_m) if len(cuts.u_m) > 1 else np.zeros(1)
    bare = np.diff(v) / np.hypot(1.0, slope)[all_cut[1:]] - half[1:] - half[:-1]
    both = (all_cut[1:] == all_cut[:-1]) & (kind[:-1] < 1) & (kind[1:] > -1)
    both &= (who[1:] >= 0) | (who[:-1] >= 0)
    return Beside(all_cut[1:][both], who[:-1][both], who[1:][both], bare[both])


def _put_inside(cut: Ints, v_m: Floats, cuts: Cuts, *, boom_m: float) -> tuple[Floats, Bools]:
    """Where passes stand among the plot's starts and stops: just inside, if at most half a boom outside."""
    reach = 4 * (1 + float(np.abs(np.concatenate([cuts.edge_m, v_m])).max(initial=0.0)))
    edge, edge_cut = np.append(cuts.edge_m, np.inf), np.append(cuts.edge_cut, -1)
    over = np.searchsorted(cuts.edge_cut * reach + cuts.edge_m, cut * reach + v_m)
    under = np.maximum(over - 1, 0)
    to_under = np.where((edge_cut[under] == cut) & (over > 0), v_m - edge[under], np.inf)
    to_over = np.where(edge_cut[over] == cut, edge[over] - v_m, np.inf)
    # An odd number of starts and stops lies below what is inside.
    inside = over % 2 == 1
    near_edge = np.where(to_under <= to_over, edge[under] - _TINY_M, edge[over] + _TINY_M)
    return np.where(inside, v_m, near_edge), inside | (np.minimum(to_under, to_over) <= boom_m / 2)
