"""From the stretches of a sweep to polygons: their outlines, traced from line to line.

Each end of a stretch leads up to one other end and down to one: to the end of the stretch that it
meets on the next line, or, where none does, across to the end beside it. So outlines are the cycles
of a graph in which each place has two links, and nothing is searched for.
"""

import sys
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.geometry.scene import Stretches
from gladebook.geometry.validity import polygons_only, straighten

__all__ = ["trace"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Points = npt.NDArray[np.float64]

_TOUCH_M = 1e-6
_SLIVER_M = 0.01
_STRAIGHT_M = 1e-4
_ON_LINE_M = 1e-9
_MANY, _FEWEST = 24, 3
_COMPILED = "gladebook.geometry.compiled"
_LARGE = 2_000  # stretches: below, loading what is compiled takes longer
_SMALLEST_M2 = 1e-6


@dataclass(frozen=True, eq=False)
class _Rings:
    """Corners of all rings, shape (k, 2); the first corner of each; whether it is a hole."""

    xy_m: Points
    first: Ints
    hole: npt.NDArray[np.bool_]


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
    if not len(row):
        return shapely.MultiPolygon()
    rings = _rings(row, start, end, spacing_m=spacing_m, least_m=least_m2 / spacing_m)
    return _assemble(_cornered(rings)) if len(rings.first) else shapely.MultiPolygon()


def _rings(row: Ints, start: Floats, end: Floats, *, spacing_m: float, least_m: float) -> _Rings:
    """Outlines of what hangs together and is long enough; compiled where that engine is loaded and it pays."""
    if _COMPILED in sys.modules and len(row) >= _LARGE:
        from gladebook.geometry.compiled_outline import rings_compiled

        return _Rings(*rings_compiled(row, start, end, spacing_m=spacing_m, least_m=least_m))
    if least_m > 0:
        large = np.flatnonzero(_large(row, start, end, least_m=least_m))
        row, start, end = row[large], start[large], end[large]
    return _cycles(row, start, end, spacing_m=spacing_m)


def _joined(stretches: Stretches) -> tuple[Ints, Floats, Floats]:
    """Stretches of one line that touch become one; slivers go, then gaps as narrow are closed."""
    lines = stretches.row, stretches.start_m, stretches.end_m
    step = np.diff(stretches.row)
    if not ((step > 0) | ((step == 0) & (np.diff(stretches.start_m) >= 0))).all():
        order = np.lexsort((stretches.start_m, stretches.row))
        lines = stretches.row[order], stretches.start_m[order], stretches.end_m[order]
    row, start, end = _closed(*lines, gap_m=_TOUCH_M)
    wide = np.flatnonzero(end - start > _SLIVER_M)
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


def _cycles(row: Ints, start: Floats, end: Floats, *, spacing_m: float) -> _Rings:
    """Rings through all ends; a link that stays on its line goes by the line's edge.

    A ring is entered at its lowest line, at the left: for a shell that is a stretch's left end.
    """
    if not len(row):
        return _Rings(np.zeros((0, 2)), np.zeros(0, dtype=np.int64), np.zeros(0, dtype=bool))
    up, down = _links(row, start, end)
    rows = np.repeat(row, 2)
    x, y = np.column_stack([start, end]).ravel().tolist(), ((rows + 0.5) * spacing_m).tolist()
    across_up, across_down = (rows[up] == rows).tolist(), (rows[down] == rows).tolist()
    to_up, to_down = up.tolist(), down.tolist()
    half = spacing_m / 2
    seen = bytearray(len(x))
    flat: list[float] = []
    first: list[int] = []
    hole: list[bool] = []
    for begin in range(len(x)):
        if seen[begin]:
            continue
        first.append(len(flat) // 2)
        hole.append(begin % 2 == 1)
        at, rising = begin, True
        while not seen[at]:
            seen[at] = 1
            flat += (x[at], y[at])
            to, across = (to_up[at], across_up[at]) if rising else (to_down[at], across_down[at])
            if across:
                edge = y[at] + half if rising else y[at] - half
                flat += (x[at], edge, x[to], edge)
                rising = not rising
            at = to
    return _Rings(np.array(flat).reshape(-1, 2), np.array(first), np.array(hole))


def _cornered(rings: _Rings) -> _Rings:
    """Rings without the points that lie on the straight line between their neighbours; short ones as they are."""
    x, y = rings.xy_m[:, 0], rings.xy_m[:, 1]
    last = np.append(rings.first[1:], len(x)) - 1
    step_x, step_y = np.diff(x, append=0.0), np.diff(y, append=0.0)
    step_x[last], step_y[last] = x[rings.first] - x[last], y[rings.first] - y[last]
    back_x, back_y = np.append(0.0, step_x[:-1]), np.append(0.0, step_y[:-1])
    back_x[rings.first], back_y[rings.first] = step_x[last], step_y[last]
    off = (step_x + back_x) * back_y - (step_y + back_y) * back_x
    # A billionth of a metre: a bend of 3 km radius with points 5 mm apart is off by more.
    keep = off * off > _ON_LINE_M**2 * ((step_x + back_x) ** 2 + (step_y + back_y) ** 2)
    size = np.diff(rings.first, append=len(x))
    whole = np.repeat((size < _MANY) | (np.add.reduceat(keep, rings.first, dtype=np.int64) < _FEWEST), size)
    kept = np.flatnonzero(keep | whole)
    return _Rings(rings.xy_m.take(kept, axis=0), np.searchsorted(kept, rings.first), rings.hole)


def _assemble(rings: _Rings) -> Any:
    """Polygons from rings: each hole goes to the smallest shell round it."""
    size = np.diff(rings.first, append=len(rings.xy_m))
    faces = shapely.polygons(shapely.linearrings(rings.xy_m, indices=np.repeat(np.arange(len(size)), size)))
    shells, gaps = faces[~rings.hole], faces[rings.hole]
    inside: dict[int, list[Any]] = {}
    if len(gaps):
        lowest = shapely.points(rings.xy_m[rings.first[rings.hole]])
        hole, shell = shapely.STRtree(shells).query(lowest, predicate="intersects")
        area = shapely.area(shells)
        nearest: dict[int, int] = {}
        for h, s in zip(hole.tolist(), shell.tolist(), strict=True):
            if h not in nearest or area[s] < area[nearest[h]]:
                nearest[h] = s
        for h, s in nearest.items():
            inside.setdefault(s, []).append(shapely.get_exterior_ring(gaps[h]))
    for i, holes in inside.items():
        shells[i] = shapely.polygons(shapely.get_exterior_ring(shells[i]), holes=holes)
    kept = shapely.get_parts(straighten(shells, off_m=_STRAIGHT_M))
    return polygons_only(shapely.multipolygons(kept[shapely.area(kept) > _SMALLEST_M2]))
