"""What was driven over how often, by polygons: the slow way, kept to check the fast one.

It shares no line with gladebook. Points are taken one at a time, headings and boom ends come from
plain trigonometry, each step's ground is a polygon, and GEOS does the rest. The rules, in order:

1. A run is steps in a row with any section on and no cut. Headings look no further than it.
2. Within a run, points less than 0.5 m from the last one kept go, except its last point and those
   where a section's state or edges change.
3. Steps over 5 m get points 1.25 m inside both ends.
4. The heading at a point is the chord between the first points 1 m away on either side, one-sided at
   the ends; a chord under half a metre keeps the last heading; a run that reaches nowhere uses its
   whole chord.
5. A step sweeps the area between the boom at its two ends: a quad, or two triangles where its sides
   cross. Where the heading turned by more than a right angle, it is swept square to its own chord.
6. Ribbons count once: a new one starts with the run, where its width changes, at more than 100 degrees of
   turn since it began, before and after a step of more than 29 degrees, and into and out of a stretch
   of tight steps (shorter than turn x half the boom) that turns by more than 29 degrees in all.
7. The count at a place is the number of ribbons over it.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

__all__ = ["Arrangement", "Drive", "PlotCount", "arrange", "count_at", "headings_rad", "ribbons_of"]

Floats = npt.NDArray[np.float64]
_XY = tuple[float, float]
_Lane = tuple[bool, float, float]  # on, left, right

_STILL_M = 0.5
_LONG_M = 5.0
_CORNER_M = 1.25
_REACH_M = 1.0
_RIBBON_DEG = 100.0
_STEP_DEG = 29.0
_GRIDS_M = (1e-6, 1e-5, 1e-4, 1e-3)
_NO_GROUND_M2 = 1e-10
_EMPTY = shapely.MultiPolygon()


@dataclass(frozen=True, eq=False)
class Drive:
    """One path in plane metres.

    Attributes
    ----------
    xy_m : the receiver, shape (n, 2).
    on : shape (n,) or, for k sections, (k, n); holds from a point to the next.
    left_m, right_m : edges of each section, metres to the left of the receiver (so left > right); a
        number, (k,) or (k, n). `width_m` instead gives one section about the receiver.
    behind_m : how far the boom is behind the receiver.
    cut : shape (n - 1,), true where nothing joins a point to the next.
    """

    xy_m: Any
    on: Any = True
    width_m: Any = None
    left_m: Any = None
    right_m: Any = None
    behind_m: float = 0.0
    cut: Any = None


@dataclass(frozen=True)
class PlotCount:
    """A plot's ground by how often it was driven over: never, once, twice, three times or more."""

    count_m2: tuple[float, float, float, float]

    @property
    def missed_m2(self) -> float:
        return self.count_m2[0]

    @property
    def treated_m2(self) -> float:
        return sum(self.count_m2[1:])

    @property
    def overlap_m2(self) -> float:
        return sum(self.count_m2[2:])


@dataclass(frozen=True, eq=False)
class Arrangement:
    """All ground of all paths.

    Attributes
    ----------
    plots : in the order given.
    total : the plots together, shared ground once.
    outside_m2 : ground driven over that lies in no plot.
    driven_m2 : all ribbons added up.
    layers : ground driven over at least once, twice, three times.
    ribbons : each ribbon's ground.
    """

    plots: tuple[PlotCount, ...]
    total: PlotCount
    outside_m2: float
    driven_m2: float
    layers: tuple[Any, Any, Any]
    ribbons: tuple[Any, ...]


def arrange(drives: Sequence[Drive], plots: Sequence[Any]) -> Arrangement:
    """Count how often every bit of every plot was driven over, and what lies outside."""
    ribbons = [_union(pieces) for drive in drives for pieces in ribbons_of(drive)]
    layers = _fold(ribbons)
    ground = _union(list(plots)) if plots else _EMPTY
    outside = _robust(shapely.difference, layers[0], ground)
    return Arrangement(
        plots=tuple(_count(plot, layers) for plot in plots),
        total=_count(ground, layers),
        outside_m2=float(outside.area),
        driven_m2=float(sum(ribbon.area for ribbon in ribbons)),
        layers=layers,
        ribbons=tuple(ribbons),
    )


def count_at(drives: Sequence[Drive], places_m: Any) -> npt.NDArray[np.int64]:
    """How many ribbons lie over each place, by point in polygon alone: no overlay is made."""
    places = np.asarray(places_m, dtype=float)
    count = np.zeros(len(places), dtype=np.int64)
    points = shapely.points(places)
    for drive in drives:
        for pieces in ribbons_of(drive):
            tree = shapely.STRtree(np.array(pieces, dtype=object))
            hit = np.zeros(len(places), dtype=bool)
            hit[tree.query(points, predicate="intersects")[0]] = True
            count += hit
    return count


def ribbons_of(drive: Drive) -> list[list[Any]]:
    """The pieces of ground of each ribbon of a path, as polygons."""
    xy = [(float(x), float(y)) for x, y in np.asarray(drive.xy_m, dtype=float)]
    lanes = _lanes(drive, len(xy))
    cut = [False] * (len(xy) - 1) if drive.cut is None else [bool(c) for c in drive.cut]
    found: list[list[Any]] = []
    for first, last in _runs(lanes, cut):
        places, settings = _thinned(xy[first : last + 1], lanes[first : last + 1])
        places, settings = _with_corners(places, settings)
        angle = headings_rad(places)
        if angle is not None:
            found += _ribbons_of_run(places, settings, angle, drive.behind_m)
    return found


def _lanes(drive: Drive, n: int) -> list[tuple[_Lane, ...]]:
    """For each point the state and edges of each section."""
    on = np.atleast_2d(np.broadcast_to(np.asarray(drive.on), (n,)) if np.ndim(drive.on) < 2 else np.asarray(drive.on))
    k = len(on)
    if drive.width_m is not None:
        half = np.broadcast_to(np.asarray(drive.width_m, dtype=float), (n,)) / 2
        left, right = half[None, :], -half[None, :]
    else:
        edges = [np.asarray(e, dtype=float) for e in (drive.left_m, drive.right_m)]
        left, right = (np.broadcast_to(e[:, None] if e.ndim == 1 else e, (k, n)) for e in edges)
    return [
        tuple((bool(on[s, i] == 1), float(left[s, i]), float(right[s, i])) for s in range(len(left))) for i in range(n)
    ]


def _runs(lanes: list[tuple[_Lane, ...]], cut: list[bool]) -> list[tuple[int, int]]:
    """First and last point of each stretch of steps in a row with any section on and no cut."""
    found: list[tuple[int, int]] = []
    start = None
    for i in range(len(cut)):
        sprays = any(lane[0] for lane in lanes[i]) and not cut[i]
        if sprays and start is None:
            start = i
        if not sprays and start is not None:
            found.append((start, i))
            start = None
    if start is not None:
        found.append((start, len(cut)))
    return found


def _thinned(xy: list[_XY], lanes: list[tuple[_Lane, ...]]) -> tuple[list[_XY], list[tuple[_Lane, ...]]]:
    kept_xy, kept_lanes = [xy[0]], [lanes[0]]
    for i in range(1, len(xy)):
        is_last = i == len(xy) - 1
        changes = lanes[i] != lanes[i - 1]
        moved = math.dist(xy[i], kept_xy[-1])
        if is_last or changes or moved >= _STILL_M:
            kept_xy.append(xy[i])
            kept_lanes.append(lanes[i])
    return kept_xy, kept_lanes


def _with_corners(xy: list[_XY], lanes: list[tuple[_Lane, ...]]) -> tuple[list[_XY], list[tuple[_Lane, ...]]]:
    more_xy, more_lanes = [xy[0]], [lanes[0]]
    for i in range(1, len(xy)):
        (xa, ya), (xb, yb) = xy[i - 1], xy[i]
        length = math.dist(xy[i - 1], xy[i])
        if length > _LONG_M:
            for share in (_CORNER_M / length, 1 - _CORNER_M / length):
                more_xy.append((xa + share * (xb - xa), ya + share * (yb - ya)))
                more_lanes.append(lanes[i - 1])
        more_xy.append(xy[i])
        more_lanes.append(lanes[i])
    return more_xy, more_lanes


def headings_rad(xy: Sequence[_XY]) -> list[float] | None:
    """The heading at each point of one run, radians from east, anticlockwise; None where it never moved."""
    n = len(xy)
    found: list[float | None] = []
    for i in range(n):
        ahead = next((j for j in range(i + 1, n) if math.dist(xy[i], xy[j]) >= _REACH_M), i)
        behind = next((j for j in range(i - 1, -1, -1) if math.dist(xy[i], xy[j]) >= _REACH_M), i)
        dx, dy = xy[ahead][0] - xy[behind][0], xy[ahead][1] - xy[behind][1]
        found.append(math.atan2(dy, dx) if math.hypot(dx, dy) > _REACH_M / 2 else None)
    told = [angle for angle in found if angle is not None]
    if not told:
        dx, dy = xy[-1][0] - xy[0][0], xy[-1][1] - xy[0][1]
        return [math.atan2(dy, dx)] * n if math.hypot(dx, dy) > 0 else None
    held: list[float] = []
    last = told[0]
    for angle in found:
        last = last if angle is None else angle
        held.append(last)
    return held


def _ribbons_of_run(
    xy: list[_XY], lanes: list[tuple[_Lane, ...]], angle: list[float], behind_m: float
) -> list[list[Any]]:
    steps = len(xy) - 1
    turn = [_turn_deg(angle[i], angle[i + 1]) for i in range(steps)]
    ribbons: list[list[Any]] = []
    for i, fresh in enumerate(_starts(xy, lanes, turn)):
        if fresh:
            ribbons.append([])
        a, b = angle[i], angle[i + 1]
        if abs(turn[i]) > 90.0:
            a = b = math.atan2(xy[i + 1][1] - xy[i][1], xy[i + 1][0] - xy[i][0])
            if xy[i + 1] == xy[i]:
                continue
        for on, left_m, right_m in lanes[i]:
            if on:
                start = _ends(xy[i], a, left_m, right_m, behind_m)
                end = _ends(xy[i + 1], b, left_m, right_m, behind_m)
                ribbons[-1] += _swept(*start, *end)
    return [pieces for pieces in ribbons if pieces]


def _turn_deg(a: float, b: float) -> float:
    return math.degrees(math.remainder(b - a, math.tau))


def _starts(xy: list[_XY], lanes: list[tuple[_Lane, ...]], turn: list[float]) -> list[bool]:
    """Whether each step starts a ribbon."""
    tight = _tight(xy, lanes, turn)
    found: list[bool] = []
    turned = 0.0
    for i in range(len(turn)):
        turned += turn[i]
        width = i > 0 and _width_m(lanes[i]) != _width_m(lanes[i - 1])
        sharp = abs(turn[i]) > _STEP_DEG or (i > 0 and abs(turn[i - 1]) > _STEP_DEG)
        swung = i > 0 and tight[i] != tight[i - 1]
        fresh = i == 0 or width or sharp or swung or abs(turned) > _RIBBON_DEG
        if fresh:
            turned = turn[i]
        found.append(fresh)
    return found


def _width_m(lanes: tuple[_Lane, ...]) -> float:
    """Of the whole boom, whatever is shut."""
    return max(left_m for _, left_m, _ in lanes) - min(right_m for _, _, right_m in lanes)


def _tight(xy: list[_XY], lanes: list[tuple[_Lane, ...]], turn: list[float]) -> list[bool]:
    """Whether each step belongs to a tight turn: tight steps in a row that turn by more than 29 degrees in all."""
    found = [False] * len(turn)
    i = 0
    while i < len(turn):
        j, total = i, 0.0
        while j < len(turn) and _is_tight(xy[j], xy[j + 1], lanes[j], turn[j]):
            total += turn[j]
            j += 1
        if abs(total) > _STEP_DEG:
            found[i:j] = [True] * (j - i)
        i = max(j, i + 1)
    return found


def _is_tight(a: _XY, b: _XY, lanes: tuple[_Lane, ...], turn_deg: float) -> bool:
    return math.dist(a, b) < math.radians(abs(turn_deg)) * _width_m(lanes) / 2


def _ends(at: _XY, angle: float, left_m: float, right_m: float, behind_m: float) -> tuple[_XY, _XY]:
    """The left and the right end of a section."""
    c, s = math.cos(angle), math.sin(angle)
    x, y = at[0] - behind_m * c, at[1] - behind_m * s
    return (x - left_m * s, y + left_m * c), (x - right_m * s, y + right_m * c)


def _swept(left0: _XY, right0: _XY, left1: _XY, right1: _XY) -> list[Any]:
    """Ground between a line and where it went: a quad, or two triangles where two of its sides cross."""
    swung = _meet(left0, right0, left1, right1)
    slid = _meet(left0, left1, right0, right1)
    if swung is not None:
        rings = [[left0, swung, left1], [right0, swung, right1]]
    elif slid is not None:
        rings = [[left0, slid, right0], [left1, slid, right1]]
    else:
        rings = [[left0, right0, right1, left1]]
    pieces = [shapely.Polygon(ring) for ring in rings]
    pieces = [piece if piece.is_valid else shapely.make_valid(piece) for piece in pieces]
    return [piece for piece in pieces if piece.area > _NO_GROUND_M2]


def _meet(a0: _XY, a1: _XY, b0: _XY, b1: _XY) -> _XY | None:
    """Where two segments properly cross."""
    ux, uy, vx, vy = a1[0] - a0[0], a1[1] - a0[1], b1[0] - b0[0], b1[1] - b0[1]
    wx, wy = b0[0] - a0[0], b0[1] - a0[1]
    cross = ux * vy - uy * vx
    if abs(cross) <= 1e-12:
        return None
    s, t = (wx * vy - wy * vx) / cross, (wx * uy - wy * ux) / cross
    return (a0[0] + s * ux, a0[1] + s * uy) if 0 < s < 1 and 0 < t < 1 else None


def _fold(ribbons: list[Any]) -> tuple[Any, Any, Any]:
    """Ground under at least one, two and three ribbons, from pairs of groups in rounds."""
    groups: list[tuple[Any, Any, Any]] = [(ribbon, _EMPTY, _EMPTY) for ribbon in ribbons]
    while len(groups) > 1:
        merged = [_together(groups[i], groups[i + 1]) for i in range(0, len(groups) - 1, 2)]
        groups = merged + groups[len(merged) * 2 :]
    return groups[0] if groups else (_EMPTY, _EMPTY, _EMPTY)


def _together(a: tuple[Any, Any, Any], b: tuple[Any, Any, Any]) -> tuple[Any, Any, Any]:
    both = _both(a[0], b[0])
    return (
        _union([a[0], b[0]]),
        _union([a[1], b[1], both]),
        _union([a[2], b[2], _both(a[1], b[0]), _both(a[0], b[1])]),
    )


def _both(a: Any, b: Any) -> Any:
    if shapely.is_empty(a) or shapely.is_empty(b):
        return _EMPTY
    return _robust(shapely.intersection, a, b)


def _union(shapes: list[Any]) -> Any:
    kept = [shape for shape in shapes if not shapely.is_empty(shape)]
    return _robust(shapely.union_all, np.array(kept, dtype=object)) if kept else _EMPTY


def _count(plot: Any, layers: tuple[Any, Any, Any]) -> PlotCount:
    at_least = [float(plot.area), *[float(_both(plot, layer).area) for layer in layers]]
    once, twice, thrice = at_least[0] - at_least[1], at_least[1] - at_least[2], at_least[2] - at_least[3]
    return PlotCount((once, twice, thrice, at_least[3]))


def _robust(operation: Callable[..., Any], *shapes: Any) -> Any:
    """An overlay on a grid: without one, GEOS 3.14 drops whole triangles of tight turns and says nothing."""
    for grid_m in _GRIDS_M:
        try:
            made = operation(*shapes, grid_size=grid_m)
        except shapely.errors.GEOSException:
            continue
        parts = shapely.get_parts(np.array([made], dtype=object))
        while (shapely.get_type_id(parts) > 3).any():  # collections within collections
            parts = shapely.get_parts(parts)
        return shapely.multipolygons(parts[shapely.get_dimensions(parts) == 2])
    message = "no grid makes this overlay"
    raise AssertionError(message)
