"""From the stretches of a sweep to polygons: their outlines, traced from line to line.

Each end of a stretch leads up to one other end and down to one: to the end of the stretch that it
meets on the next line, or, where none does, across to the end beside it. So outlines are the cycles
of a graph in which each place has two links, and nothing is searched for.
"""

from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.geometry.scene import Stretches
from gladebook.geometry.validity import mend, polygons_only

__all__ = ["trace"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Points = npt.NDArray[np.float64]

_TOUCH_M = 1e-6
_SLIVER_M = 0.01
_STRAIGHT_M = 1e-4
_ON_LINE_M = 1e-9
_MANY = 24
_SMALLEST_M2 = 1e-6


def trace(stretches: Stretches, *, spacing_m: float, least_m2: float = 0.0) -> Any:
    """Polygons of the ground that stretches stand for, in the plane they were swept in.

    Stretches shorter than a centimetre are left out, and gaps as short closed: passes that only just
    touch leave slivers by the thousand, which nobody can see. Between two lines an edge runs straight
    from end to end. Corners that lie within a tenth of a millimetre of a straight edge are left out.
    Parts whose outlines touch themselves are mended.

    Parameters
    ----------
    stretches
        By line and from left to right; their kinds do not matter.
    spacing_m
        Between the lines.
    least_m2
        Pieces of less ground are left out before they are drawn, m2.

    Returns
    -------
    A shapely Polygon or MultiPolygon, perhaps empty.
    """
    row, start, end = _joined(stretches)
    if least_m2 > 0 and len(row):
        large = _large(row, start, end, least_m=least_m2 / spacing_m)
        row, start, end = row[large], start[large], end[large]
    if not len(row):
        return shapely.MultiPolygon()
    up, down = _links(row, start, end)
    return _assemble(*_cycles(up, down, row=row, start=start, end=end, spacing_m=spacing_m))


def _joined(stretches: Stretches) -> tuple[Ints, Floats, Floats]:
    """Stretches of one line that touch become one; slivers go, then gaps as narrow are closed."""
    order = np.lexsort((stretches.start_m, stretches.row))
    lines = stretches.row[order], stretches.start_m[order], stretches.end_m[order]
    row, start, end = _closed(*lines, gap_m=_TOUCH_M)
    wide = end - start > _SLIVER_M
    return _closed(row[wide], start[wide], end[wide], gap_m=_SLIVER_M)


def _closed(row: Ints, start: Floats, end: Floats, *, gap_m: float) -> tuple[Ints, Floats, Floats]:
    """Stretches in order, those of one line joined whose gap is no wider."""
    if not len(row):
        return row, start, end
    fresh = np.append(True, (row[1:] != row[:-1]) | (start[1:] - end[:-1] > gap_m))
    first = np.flatnonzero(fresh)
    return row[first], start[first], np.maximum.reduceat(end, first)


def _large(row: Ints, start: Floats, end: Floats, *, least_m: float) -> npt.NDArray[np.bool_]:
    """Which stretches hang together, from line to line, with others so long in all."""
    n = len(row)
    # Each line beside the next one's stretches: neighbours in a group that touches hang together.
    level = np.concatenate([row, row - 1])
    which = np.concatenate([np.arange(n)] * 2)
    order = np.lexsort((np.concatenate([start, start]), level))
    which = which[order]
    group = _touching(level[order], start[which], end[which])
    met = np.flatnonzero(group[1:] == group[:-1])
    owner = _components(n, which[met], which[met + 1])
    total = np.bincount(owner, weights=end - start, minlength=n)
    large: npt.NDArray[np.bool_] = total[owner] >= least_m
    return large


def _components(count: int, first: Ints, second: Ints) -> Ints:
    """The lowest number that each of `count` things hangs together with, by pairs."""
    lowest = np.arange(count)
    while True:
        a, b = lowest[first], lowest[second]
        if (a == b).all():
            return lowest
        least = np.minimum(a, b)
        np.minimum.at(lowest, a, least)
        np.minimum.at(lowest, b, least)
        # Roots of roots: chains halve, so long strips take few rounds.
        lowest = lowest[lowest]
        lowest = lowest[lowest]


def _links(row: Ints, start: Floats, end: Floats) -> tuple[Ints, Ints]:
    """For each end of a stretch the end it leads up to, and the one it leads down to.

    Ends are numbered 2 i for the left one of stretch i and 2 i + 1 for its right one.
    """
    n = len(row)
    links = np.empty((2, 2 * n), dtype=np.int64)
    for upward in (True, False):
        # Seen from each line: its own stretches as lower ones, the next line's as upper ones (or the other way).
        side = 0 if upward else 1
        level = np.concatenate([row, row - 1 if upward else row + 1])
        own = np.arange(2 * n) < n
        which = np.concatenate([np.arange(n)] * 2)
        order = np.lexsort((np.concatenate([start, start]), level))
        level, own, which = level[order], own[order], which[order]
        group = _touching(level, start[which], end[which])
        mates = np.lexsort((own, group))  # stable: within a group the others first, then own, each from left to right
        g, o, w = group[mates], own[mates], which[mates]
        head = np.append(True, (g[1:] != g[:-1]) | (o[1:] != o[:-1]))
        tail = np.append(head[1:], True)
        inner = ~head
        links[side, 2 * w[inner & o]] = 2 * w[np.flatnonzero(inner & o) - 1] + 1
        inner = ~tail
        links[side, 2 * w[inner & o] + 1] = 2 * w[np.flatnonzero(inner & o) + 1]
        first_own, last_own = w[head & o], w[tail & o]
        groups = g[head & o]
        other_first = np.full(int(group.max()) + 1, -1)
        other_last = other_first.copy()
        other_first[g[head & ~o]] = w[head & ~o]
        other_last[g[tail & ~o]] = w[tail & ~o]
        alone = other_first[groups] < 0
        links[side, 2 * first_own] = np.where(alone, 2 * last_own + 1, 2 * other_first[groups])
        links[side, 2 * last_own + 1] = np.where(alone, 2 * first_own, 2 * other_last[groups] + 1)
    return links[0], links[1]


def _touching(level: Ints, start: Floats, end: Floats) -> Ints:
    """Groups of stretches, sorted by level and start, that hang together by their extents."""
    span = float(np.ptp(np.concatenate([start, end]))) + 1.0
    west = float(start.min())
    reach = np.maximum.accumulate((end - west) + (level - level.min()) * 2 * span)
    begins = (start - west) + (level - level.min()) * 2 * span
    fresh = np.append(True, begins[1:] > reach[:-1])
    found: Ints = np.cumsum(fresh) - 1
    return found


def _cycles(
    up: Ints, down: Ints, *, row: Ints, start: Floats, end: Floats, spacing_m: float
) -> tuple[list[Points], list[bool]]:
    """Rings through all ends, and which of them are holes; a link that stays on its line goes by the line's edge.

    A ring is entered at its lowest line, at the left: for a shell that is a stretch's left end.
    """
    rows = np.repeat(row, 2)
    x, y = np.column_stack([start, end]).ravel().tolist(), ((rows + 0.5) * spacing_m).tolist()
    across_up, across_down = (rows[up] == rows).tolist(), (rows[down] == rows).tolist()
    to_up, to_down = up.tolist(), down.tolist()
    half = spacing_m / 2
    seen = bytearray(len(x))
    rings: list[Points] = []
    holes: list[bool] = []
    for begin in range(len(x)):
        if seen[begin]:
            continue
        ring: list[float] = []
        at, rising = begin, True
        while not seen[at]:
            seen[at] = 1
            ring += (x[at], y[at])
            to, across = (to_up[at], across_up[at]) if rising else (to_down[at], across_down[at])
            if across:
                edge = y[at] + half if rising else y[at] - half
                ring += (x[at], edge, x[to], edge)
                rising = not rising
            at = to
        rings.append(_cornered(np.array(ring).reshape(-1, 2)))
        holes.append(begin % 2 == 1)
    return rings, holes


def _cornered(ring: Points) -> Points:
    """A ring without the points that lie on the straight line between their neighbours."""
    if len(ring) < _MANY:
        return ring
    before, after = np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0)
    step = after - before
    off = step[:, 0] * (ring[:, 1] - before[:, 1]) - step[:, 1] * (ring[:, 0] - before[:, 0])
    # A billionth of a metre: a bend of 3 km radius with points 5 mm apart is off by more.
    keep = np.abs(off) > _ON_LINE_M * np.hypot(step[:, 0], step[:, 1])
    return ring[keep] if keep.sum() >= 3 else ring


def _assemble(rings: list[Points], holes: list[bool]) -> Any:
    """Polygons from rings: each hole goes to the smallest shell round it."""
    sizes = [len(ring) for ring in rings]
    faces = shapely.polygons(
        shapely.linearrings(np.concatenate(rings), indices=np.repeat(np.arange(len(rings)), sizes))
    )
    hollow = np.array(holes)
    shells, gaps = faces[~hollow], faces[hollow]
    inside: dict[int, list[Any]] = {}
    if len(gaps):
        lowest = shapely.points([rings[i][0] for i in np.flatnonzero(hollow)])
        hole, shell = shapely.STRtree(shells).query(lowest, predicate="intersects")
        size = shapely.area(shells)
        nearest: dict[int, int] = {}
        for h, s in zip(hole.tolist(), shell.tolist(), strict=True):
            if h not in nearest or size[s] < size[nearest[h]]:
                nearest[h] = s
        for h, s in nearest.items():
            inside.setdefault(s, []).append(shapely.get_exterior_ring(gaps[h]))
    parts = [
        shapely.polygons(shapely.get_exterior_ring(shell), holes=inside[i]) if i in inside else shell
        for i, shell in enumerate(shells)
    ]
    drawn = shapely.simplify(np.array(parts, dtype=object), _STRAIGHT_M)
    broken = ~shapely.is_valid(drawn)
    sound = [mend(part) if bad else part for part, bad in zip(drawn, broken, strict=True)]
    kept = shapely.get_parts(np.array(sound, dtype=object))
    return polygons_only(shapely.multipolygons(kept[shapely.area(kept) > _SMALLEST_M2]))
