"""Where a ring crosses itself, and what mending it would change."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

__all__ = [
    "Crossing",
    "crossings",
    "first_crossing",
    "flatten",
    "mend",
    "on_grid",
    "polygon_parts",
    "polygons_only",
    "robust",
    "seems_tangled",
    "to_draw",
]

_POLYGON, _MULTI = 3, 4  # GEOS's type numbers: from the latter on they hold parts
_EDGE_M = 0.01
_DRAWN_M = 1e-4
_BLOCK = 64  # edges, so that even where each meets a million others the pairs fit in memory
_LARGE = 20_000  # corners
_SAMPLE = 997  # edges; a prime, so as not to fall into step with equal passes
_FAR_MORE = 4  # times as many: more than a sample may be off
_NO_TURN = 1e-6  # far above rounding, to be looked at closely
_GRIDS_M = (1e-6, 1e-5, 1e-4, 1e-3)  # from far above rounding to far below any position


@dataclass(frozen=True)
class Crossing:
    """A place where two edges of a shape cross or touch.

    Attributes
    ----------
    x, y : the place, in the shape's own coordinates.
    corner_a, corner_b : the corners (counted from 1 along the shape's rings) where the two edges start.
    """

    x: float
    y: float
    corner_a: int
    corner_b: int


def first_crossing(polygon: Any) -> Crossing | None:
    """Find the first place where edges of one polygon's rings cross, overlap or touch.

    Edges that merely follow each other do not count. None where there is no such place.
    """
    return crossings(polygon, most=0)[0]


def crossings(polygon: Any, *, most: int | None) -> tuple[Crossing | None, bool]:
    """Find the first such place, and whether there are more of them than `most`, one for each pair of edges."""
    edges = _edges(polygon)
    found: Crossing | None = None
    count = 0
    for first, second in _meetings(edges):
        if found is None:
            order = np.lexsort((second, first))[0]
            a, b = int(first[order]), int(second[order])
            spot = shapely.get_coordinates(shapely.intersection(edges.lines[a], edges.lines[b]))[0]
            found = Crossing(x=float(spot[0]), y=float(spot[1]), corner_a=a + 1, corner_b=b + 1)
        count += len(first)
        if most is None or count > most:
            break
    return found, most is not None and count > most


def seems_tangled(polygon: Any, *, most: int) -> bool:
    """Whether some edges, evenly spaced, meet so many others that there must be far more crossings than that.

    To be asked before GEOS is: on a tangle of a million corners its check takes minutes.
    """
    edges = _edges(polygon)
    count = len(edges.lines)
    if count < _LARGE:
        return False
    tree = shapely.STRtree(edges.lines)
    limit = _FAR_MORE * 2 * most * _SAMPLE / count  # each meeting is seen from both of its edges
    for edge in np.linspace(0, count - 1, _SAMPLE).astype(np.int64):
        limit -= max(len(tree.query(edges.lines[edge], predicate="intersects")) - 3, 0)  # itself and its neighbours
        if limit < 0:
            return True
    return False


@dataclass(frozen=True, eq=False)
class _Edges:
    """Edges of all rings in a row: lines, vectors, the ring of each, its place in it, and how many each ring has."""

    lines: Any
    vector: Any
    ring: Any
    place: Any
    size: Any

    def follow(self, first: Any, second: Any) -> Any:
        """Whether the second edge of each pair, the later one, stands next to the first in their ring."""
        step = self.place[second] - self.place[first]
        return (self.ring[first] == self.ring[second]) & ((step == 1) | (step == self.size[self.ring[first]] - 1))

    def fold(self, first: Any, second: Any) -> Any:
        """Whether edges that follow each other lie on each other."""
        (ax, ay), (bx, by) = self.vector[first].T, self.vector[second].T
        along = ax * bx + ay * by
        back = (along < 0) & (np.abs(ax * by - ay * bx) <= -_NO_TURN * along)
        pairs = np.flatnonzero(back)
        back[pairs] = shapely.length(shapely.intersection(self.lines[first[pairs]], self.lines[second[pairs]])) > 0
        return back


def _edges(polygon: Any) -> _Edges:
    rings = [shapely.get_coordinates(ring) for ring in [polygon.exterior, *polygon.interiors]]
    size = np.array([len(xy) - 1 for xy in rings])
    ends = np.concatenate([np.stack([xy[:-1], xy[1:]], axis=1) for xy in rings])
    place = np.concatenate([np.arange(n) for n in size])
    return _Edges(
        lines=shapely.linestrings(ends),
        vector=ends[:, 1] - ends[:, 0],
        ring=np.repeat(np.arange(len(rings)), size),
        place=place,
        size=size,
    )


def _meetings(edges: _Edges) -> Iterator[tuple[Any, Any]]:
    """Pairs of edges that meet though they do not follow each other, the earlier edge first; in parts, in order."""
    tree = shapely.STRtree(edges.lines)
    begin, block = 0, 1
    while begin < len(edges.lines):
        first, second = tree.query(edges.lines[begin : begin + block], predicate="intersects")
        first = first + begin
        later = second > first
        first, second = first[later], second[later]
        # Edges in a row share a corner; they are at fault only where they lie on each other.
        fault = ~edges.follow(first, second)
        fault[~fault] = edges.fold(first[~fault], second[~fault])
        if fault.any():
            yield first[fault], second[fault]
        begin, block = begin + block, min(2 * block, _BLOCK)


def mend(shape: Any) -> Any:
    """Make a crossed (multi)polygon valid: what its rings enclose, counted once.

    The ``structure`` method keeps what a walk of two laps enclosed, where the default one
    leaves only the sliver between the laps (7,859 m2 against 3 m2 in one measured case).
    """
    made = shapely.make_valid(shape, method="structure", keep_collapsed=False)
    parts = shapely.get_parts(made)
    if len(parts) < 2:
        return polygons_only(made)
    # Where sides lie on each other it leaves parts that share an edge, but for rounding: join those.
    if shapely.get_num_coordinates(made) > _LARGE and shapely.is_valid(made):
        # Joining all of them would take minutes.
        side_by_side = _share_edges(parts)
        joined = robust(shapely.union_all, parts[side_by_side])
        return polygons_only(shapely.multipolygons([*parts[~side_by_side], *polygon_parts(np.array([joined]))]))
    joined = robust(shapely.union_all, parts)
    shared_edge = float(shapely.length(joined)) < float(shapely.length(made)) - _EDGE_M
    return joined if shared_edge or not shapely.is_valid(made) else polygons_only(made)


def straighten(parts: Any, *, off_m: float) -> Any:
    """Polygons of an array without corners that lie `off_m` or less off a straight edge; mended where not valid."""
    # Five times as fast as the way that watches for crossings, but it mends what crosses, and says nothing: only
    # what is the same polygon all along is taken.
    drawn = shapely.simplify(parts, off_m, preserve_topology=False)
    sound = shapely.is_valid(parts) & (shapely.get_type_id(drawn) == _POLYGON) & ~shapely.is_empty(drawn)
    sound &= shapely.get_num_interior_rings(drawn) == shapely.get_num_interior_rings(parts)
    sound &= np.abs(shapely.area(drawn) - shapely.area(parts)) <= off_m * shapely.length(parts)
    rest = np.flatnonzero(~sound)
    drawn[rest] = shapely.simplify(parts[rest], off_m)
    for i in rest[~shapely.is_valid(drawn[rest])].tolist():
        drawn[i] = mend(drawn[i])
    return drawn


def _share_edges(polygons: Any) -> Any:
    """Which polygons have an edge that another one has too, both ends to within a micrometre or so."""
    rings, of_polygon = shapely.get_rings(polygons, return_index=True)
    xy, of_ring = shapely.get_coordinates(rings, return_index=True)
    near = np.rint(xy / _GRIDS_M[0]).astype(np.int64)
    edge = np.flatnonzero((of_ring[1:] == of_ring[:-1]) & (near[1:] != near[:-1]).any(axis=1))
    one, other = near[edge].T, near[edge + 1].T
    turned = (one[0] > other[0]) | ((one[0] == other[0]) & (one[1] > other[1]))
    ends = np.concatenate([np.where(turned, other, one), np.where(turned, one, other)])
    order = np.lexsort(ends)
    same = (np.diff(ends[:, order], axis=1) == 0).all(axis=0)
    owner = of_polygon[of_ring[edge[order]]]
    share = np.zeros(len(polygons), dtype=bool)
    share[owner[:-1][same]] = share[owner[1:][same]] = True
    return share


def flatten(shape: Any) -> Any:
    """All single parts of a shape, however deep its collections nest; none for nothing."""
    return _single(np.array([] if shape is None else [shape], dtype=object))


def _single(shapes: Any) -> Any:
    parts = shapely.get_parts(shapes)
    while len(parts) and (shapely.get_type_id(parts) >= _MULTI).any():
        parts = shapely.get_parts(parts)
    return parts[~shapely.is_empty(parts)]


def polygon_parts(shapes: Any) -> Any:
    """All polygons of an array of shapes, in order; lines and points that an overlay leaves behind are dropped."""
    parts = _single(shapes)
    return parts[shapely.get_dimensions(parts) == 2]


def polygons_only(shape: Any) -> Any:
    """Keep the polygons of a shape; lines and points that an overlay leaves behind are dropped."""
    parts = polygon_parts(np.array([] if shape is None else [shape], dtype=object))
    return parts[0] if len(parts) == 1 else shapely.multipolygons(parts)


def to_draw(shape: Any) -> Any:
    """A shape in metres on a grid of a tenth of a millimetre, so that it stays valid when turned into degrees."""
    return polygons_only(shapely.set_precision(shape, _DRAWN_M))


def on_grid(shapes: Any) -> Any:
    """Shapes in metres with their corners on the grid of `to_draw`; a few of them may thereby become invalid."""
    return shapely.remove_repeated_points(shapely.set_precision(shapes, _DRAWN_M, mode="pointwise"))


def robust(operation: Any, *shapes: Any) -> Any:
    """Run a GEOS overlay on a fine grid, polygons only.

    Without a grid, GEOS 3.14 drops whole triangles of a union, and says nothing, where corners
    coincide but for rounding. Where a grid defeats it, coarser ones are tried, then mended input.

    Raises
    ------
    shapely.errors.GEOSException
        Where nothing helps.
    """
    for grid_m in _GRIDS_M:
        try:
            return polygons_only(operation(*shapes, grid_size=grid_m))
        except shapely.errors.GEOSException:
            continue
    return polygons_only(operation(*(_sound(shape) for shape in shapes), grid_size=_GRIDS_M[-1]))


def _sound(shape: Any) -> Any:
    """A shape, or an array of them, mended on the coarsest grid; lines and points that mending leaves are dropped."""
    made = shapely.make_valid(shapely.set_precision(shape, _GRIDS_M[-1], mode="pointwise"))
    if isinstance(made, shapely.Geometry):
        return polygons_only(made)
    return np.array([polygons_only(one) for one in made], dtype=object)
