"""How often each piece of ground is covered: one sweep along parallel lines, for any number of shapes.

Lines lie `spacing_m` apart. Each edge of an outline crosses some of them; along a line the crossings
in order say under how many grounds each stretch lies, and in which region. A stretch counts with its
exact length, and stands for the ground half a spacing to either side: exact in x, the midpoint rule
in y. So only ends of edges and crossings between lines cost accuracy, and their errors have either
sign. Nothing is snapped and no topology is built, so no input can break it.

At a corner that lies on a line the half-open rule holds: an edge crosses the lines from its lower
end, included, to its upper one, not included; a level edge crosses none.
"""

import numpy as np
import numpy.typing as npt

from gladebook.geometry.ribbon import Edges
from gladebook.geometry.scene import Pairs, Scene, Stretches, Swept, sum_pairs

__all__ = ["MOST_COUNTED", "NOTHING_M", "PAIRS_DEEP", "sweep_plain"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

_TILE = 50_000
NOTHING_M = 1e-9
PAIRS_DEEP = 64
MOST_COUNTED = 3


def sweep_plain(scene: Scene, *, spacing_m: float, wanted: Bools) -> Swept:
    """Sweep a scene, in numpy.

    Parameters
    ----------
    scene
        What to sweep.
    spacing_m
        Between the lines.
    wanted
        Shape (regions + 1, 4, 2): which stretches to keep, by region, count and veil.
    """
    edges = scene.edges
    low, high = _rows_crossed(edges, spacing_m=spacing_m)
    area = np.zeros((scene.regions + 1) * 8)
    ground_m = 0.0
    found: list[Stretches] = []
    pairs: list[Pairs] = []
    for first, last, inside in _tiles(low, high):
        row, x, edge = _crossings(
            edges, inside, low=np.maximum(low[inside], first), high=np.minimum(high[inside], last), spacing_m=spacing_m
        )
        spans = _spans(row, x, up=edges.end_m[edge, 1] > edges.start_m[edge, 1], owner=edges.owner[edge])
        ground_m += float((spans[2] - spans[1])[spans[3] < scene.grounds].sum())
        stretches, sums, shared = _sweep_tile(scene, *spans, wanted=wanted.ravel())
        area += sums
        found.append(stretches)
        pairs.append(shared)
    return Swept(
        spacing_m=spacing_m,
        area_m2=area.reshape(-1, 4, 2) * spacing_m,
        ground_m2=ground_m * spacing_m,
        stretches=_put_together(found),
        pairs=sum_pairs(pairs, spacing_m=spacing_m),
    )


def _put_together(parts: list[Stretches]) -> Stretches:
    if not parts:
        none = np.zeros(0, dtype=np.int64)
        return Stretches(none, np.zeros(0), np.zeros(0), none)
    return Stretches(
        row=np.concatenate([p.row for p in parts]),
        start_m=np.concatenate([p.start_m for p in parts]),
        end_m=np.concatenate([p.end_m for p in parts]),
        kind=np.concatenate([p.kind for p in parts]),
    )


def _rows_crossed(edges: Edges, *, spacing_m: float) -> tuple[Ints, Ints]:
    """First line that each edge crosses, and the first above that it does not."""
    rows = np.ceil(np.stack([edges.start_m[:, 1], edges.end_m[:, 1]]) * (1 / spacing_m) - 0.5).astype(np.int64)
    return rows.min(axis=0), rows.max(axis=0)


def _tiles(low: Ints, high: Ints) -> list[tuple[int, int, Ints]]:
    """Lots of lines with some 50,000 crossings each, and the edges that cross them: work that fits the cache."""
    crossing = np.flatnonzero(high > low)
    if not crossing.size:
        return []
    low, high = low[crossing], high[crossing]
    base, top = int(low.min()), int(high.max())
    change = np.bincount(low - base, minlength=top - base + 1) - np.bincount(high - base, minlength=top - base + 1)
    total = np.cumsum(np.cumsum(change))
    cuts = np.searchsorted(total, np.arange(_TILE, int(total[-1]), _TILE))
    bounds = np.unique(np.concatenate([[0], cuts, [top - base]]))
    lot = np.repeat(np.arange(len(bounds) - 1, dtype=np.uint16), np.diff(bounds))
    first, last = lot[low - base], lot[high - 1 - base]
    if (first != last).any():
        many = last.astype(np.int64) - first + 1
        crossing = np.repeat(crossing, many)
        before = np.append(0, np.cumsum(many)[:-1])
        first = (np.arange(len(crossing)) - np.repeat(before - first, many)).astype(np.uint16)
    # Small numbers are sorted by counting, and keep the order of owners.
    order = np.argsort(first, kind="stable")
    parts = np.split(crossing[order], np.cumsum(np.bincount(first, minlength=len(bounds) - 1))[:-1])
    bounds += base
    return list(zip(bounds[:-1].tolist(), bounds[1:].tolist(), parts, strict=True))


def _crossings(edges: Edges, inside: Ints, *, low: Ints, high: Ints, spacing_m: float) -> tuple[Ints, Floats, Ints]:
    """Line, x and edge of each crossing, edge by edge."""
    count = high - low
    edge = np.repeat(inside, count)
    row = np.arange(len(edge)) + np.repeat(low - np.append(0, np.cumsum(count)[:-1]), count)
    start, end = edges.start_m.take(inside, axis=0), edges.end_m.take(inside, axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = (end[:, 0] - start[:, 0]) / (end[:, 1] - start[:, 1])
    at_zero = start[:, 0] - slope * start[:, 1]
    x = np.repeat(at_zero, count) + np.repeat(slope, count) * ((row + 0.5) * spacing_m)
    return row, x, edge


def _spans(row: Ints, x: Floats, *, up: Bools, owner: Ints) -> tuple[Ints, Floats, Floats, Ints]:
    """Stretches of each line inside each owner: where its outlines wind at least once.

    Nearly all have two crossings of a line; these need no sorting.
    """
    if not len(row):
        return row, x, x, owner
    fresh = np.flatnonzero(np.append(True, owner[1:] != owner[:-1]))
    # A slot for each line that an owner can reach, so that slots stay few.
    bottom = np.minimum.reduceat(row, fresh)
    height = np.maximum.reduceat(row, fresh) - bottom + 1
    number = np.repeat(np.arange(len(fresh)), np.diff(np.append(fresh, len(row))))
    offset = np.append(0, np.cumsum(height)[:-1]) - bottom
    slot = row + offset[number]
    crossings = np.bincount(slot)
    first, last = np.zeros(len(crossings), dtype=np.int64), np.zeros(len(crossings), dtype=np.int64)
    index = np.arange(len(slot))
    first[slot[::-1]] = index[::-1]
    last[slot] = index
    two = np.flatnonzero(crossings == 2)
    a, b = first[two], last[two]
    rows, lefts, rights = [row[a]], [np.minimum(x[a], x[b])], [np.maximum(x[a], x[b])]
    owners = [owner[a]]
    more = np.flatnonzero(crossings[slot] > 2)
    if more.size:
        more = more[np.lexsort((x[more], slot[more]))]
        wind = np.cumsum(np.where(up[more], 1, -1))
        inside = wind != 0
        opens = np.flatnonzero(inside & ~np.append(False, inside[:-1]))
        shuts = np.flatnonzero(~inside & np.append(False, inside[:-1]))
        rows.append(row[more[opens]])
        lefts.append(x[more[opens]])
        rights.append(x[more[shuts]])
        owners.append(owner[more[opens]])
    return np.concatenate(rows), np.concatenate(lefts), np.concatenate(rights), np.concatenate(owners)


def _sweep_tile(
    scene: Scene, row: Ints, left: Floats, right: Floats, owner: Ints, *, wanted: Bools
) -> tuple[Stretches, Floats, Pairs]:
    """Along each line, what lies over each stretch."""
    if not len(row):
        none = np.zeros(0, dtype=np.int64)
        return Stretches(none, np.zeros(0), np.zeros(0), none), np.zeros(len(wanted)), Pairs(none, none, np.zeros(0))
    order, event_row, event_x = _in_order(row, left, right)
    span = np.where(order < len(row), order, order - len(row))
    sign = np.where(order < len(row), 1, -1)
    kind = owner[span]
    ground = kind < scene.grounds
    regional = kind >= scene.grounds + scene.veils
    count = np.cumsum(np.where(ground, sign, 0))
    veil = np.cumsum(np.where(~ground & ~regional, sign, 0)) > 0 if scene.veils else np.zeros(len(sign), dtype=bool)
    of_span = np.zeros(len(kind), dtype=np.int64)
    of_span[regional] = scene.region[kind[regional] - scene.grounds - scene.veils]
    # Where two regions share a sliver, by rounding, it is nobody's.
    alone = np.cumsum(np.where(regional, sign, 0)) == 1
    region = np.where(alone, np.cumsum(of_span * sign), 0)
    what = region * 8 + np.clip(count, 0, MOST_COUNTED) * 2 + veil
    length = np.append(np.diff(event_x), 0.0)
    length[np.append(event_row[1:] != event_row[:-1], True)] = 0.0
    sums: Floats = np.bincount(what, weights=length, minlength=len(wanted)).astype(np.float64)
    keep = wanted[what] & (length > NOTHING_M)
    stretches = _runs(keep, row=event_row, x=event_x, kind=what)
    starts = (sign > 0) & ground
    spans_sorted = span[starts]
    shared = _shared(row[spans_sorted], left[spans_sorted], right[spans_sorted], scene.group[owner[spans_sorted]])
    return stretches, sums, shared


def _in_order(row: Ints, left: Floats, right: Floats) -> tuple[Ints, Ints, Floats]:
    """Starts and ends of spans by line and from left to right: their order, lines and places."""
    x = np.concatenate([left, right])
    lines = np.concatenate([row, row])
    west, span = float(x.min()), float(np.ptp(x)) + 1.0
    # One number to sort by: lines apart by 1, places within; good to a ten-millionth of a metre.
    order = np.argsort((lines - lines.min()) + (x - west) / span)
    return order, lines[order], x[order]


def _runs(keep: Bools, *, row: Ints, x: Floats, kind: Ints) -> Stretches:
    """Stretches to keep, those of one kind that touch joined."""
    at = np.flatnonzero(keep)
    if not at.size:
        none = np.zeros(0, dtype=np.int64)
        return Stretches(none, np.zeros(0), np.zeros(0), none)
    start, end = x[at], x[at + 1]
    fresh = np.append(
        True, (row[at[1:]] != row[at[:-1]]) | (kind[at[1:]] != kind[at[:-1]]) | (start[1:] - end[:-1] > 10 * NOTHING_M)
    )
    first = np.flatnonzero(fresh)
    last = np.append(first[1:], len(at)) - 1
    return Stretches(row=row[at[first]], start_m=start[first], end_m=end[last], kind=kind[at[first]])


def _shared(row: Ints, left: Floats, right: Floats, group: Ints) -> Pairs:
    """Lengths that spans of one line share, by the pair of their groups; spans come in order of their starts.

    A span shares ground with those that start before it ends: the next, the one after, and so on.
    """
    first, second, length = [], [], []
    open_ = np.arange(len(row) - 1)
    for ahead in range(1, PAIRS_DEEP + 1):
        open_ = open_[open_ + ahead < len(row)]
        there = open_ + ahead
        meets = (row[there] == row[open_]) & (left[there] < right[open_])
        open_ = open_[meets]
        if not open_.size:
            break
        there = open_ + ahead
        first.append(np.minimum(group[open_], group[there]))
        second.append(np.maximum(group[open_], group[there]))
        length.append(np.minimum(right[open_], right[there]) - left[there])
    if not first:
        none = np.zeros(0, dtype=np.int64)
        return Pairs(none, none, np.zeros(0))
    return sum_pairs([Pairs(np.concatenate(first), np.concatenate(second), np.concatenate(length))], spacing_m=1.0)
