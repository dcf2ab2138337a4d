"""Other ways to the same answer, by libraries for any geometry, on the same points.

Each takes a field and gives areas. All but the buffer sweep the boom from end to end as the engine
does, by the same headings (`heading_along`), so that what differs is the geometry alone. What each
costs includes its own headings and boom ends.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.geometry.ribbon import heading_along, step_turn_rad
from tests.bench.fields import BOOM_M, Field
from tests.bench.ours import Areas

__all__ = ["PEERS", "Peer", "Swept", "sweep_boom"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

_GRID_M = 1e-6
_CLIPPER_SCALE = 10_000  # a tenth of a millimetre
_STEP_TURN_RAD, _RIBBON_TURN_RAD = np.radians(29.0), np.radians(100.0)


@dataclass(frozen=True, eq=False)
class Swept:
    """The boom of a field, step by step.

    Attributes
    ----------
    left0, right0, left1, right1 : shape (s, 2), its ends before and after each step.
    ribbon : shape (s,), the ribbon of each step: ground within one counts once.
    crossed : shape (s,), whether the boom crosses where it was.
    """

    left0: Floats
    right0: Floats
    left1: Floats
    right1: Floats
    ribbon: Ints
    crossed: Bools


@dataclass(frozen=True)
class Peer:
    """Another way: its name, how to run it, and what to know of its answer."""

    name: str
    run: Callable[[Field], Areas]
    note: str


def sweep_boom(field: Field) -> Swept:
    """Headings, boom ends and ribbons of all steps with the boom on, by the rules of the engine."""
    point, run = _runs(field)
    xy = field.xy_m[point]
    heading = heading_along(xy, run=run, reach_m=1.0)
    step = np.flatnonzero(run[1:] == run[:-1])
    side = BOOM_M / 2 * np.column_stack([-heading[:, 1], heading[:, 0]])
    left, right = xy + side, xy - side
    a, b, c, d = left[step], right[step], left[step + 1], right[step + 1]
    crossed = (_side(a, b, c) * _side(a, b, d) < 0) & (_side(c, d, a) * _side(c, d, b) < 0)
    turn = step_turn_rad(heading[step], heading[step + 1])
    length_m = np.hypot(*(xy[step + 1] - xy[step]).T)
    return Swept(a, b, c, d, _ribbons(run[step], turn, tight=length_m < np.abs(turn) * BOOM_M / 2), crossed)


def _runs(field: Field) -> tuple[Ints, Ints]:
    """Points of steps with the boom on, and the run of each."""
    steps = field.on[:-1]
    before, after = np.append(False, steps), np.append(steps, False)
    point = np.flatnonzero(before | after)
    return point, np.cumsum((~before & after)[point]) - 1


def _side(a: Floats, b: Floats, c: Floats) -> Floats:
    found: Floats = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    return found


def _ribbons(run: Ints, turn: Floats, *, tight: Bools) -> Ints:
    """New ribbons with runs, at sharp steps, into and out of tight turns, and at 100 degrees of turn."""
    apart = np.append(True, run[1:] != run[:-1])
    stretch = np.flatnonzero(apart | np.append(True, tight[1:] != tight[:-1]))
    much = np.abs(np.add.reduceat(turn, stretch)) > _STEP_TURN_RAD
    tight = tight & np.repeat(much, np.diff(np.append(stretch, len(turn))))
    sharp = np.abs(turn) > _STEP_TURN_RAD
    fresh = apart
    fresh[1:] |= (tight[1:] != tight[:-1]) | sharp[1:] | sharp[:-1]
    first = np.flatnonzero(fresh)
    for start, end in zip(first.tolist(), np.append(first[1:], len(turn)).tolist(), strict=True):
        begin = start
        far = np.abs(np.cumsum(turn[begin:end])) > _RIBBON_TURN_RAD
        while far.any():
            begin += max(int(np.argmax(far)), 1)
            fresh[begin] = True
            far = np.abs(np.cumsum(turn[begin:end])) > _RIBBON_TURN_RAD
    found: Ints = np.cumsum(fresh) - 1
    return found


def _pieces(swept: Swept) -> Any:
    """The ground of each step as a polygon: a quadrilateral, or two triangles where the boom crosses where it was."""
    rings = np.stack([swept.left0, swept.right0, swept.right1, swept.left1], axis=1)
    shapes = shapely.polygons(rings)
    shapes[swept.crossed] = shapely.make_valid(shapes[swept.crossed])
    return shapes


def _in_plot(field: Field, covered: Any) -> Areas:
    treated = float(shapely.intersection(field.plot, covered).area)
    return Areas(treated, float(field.plot.area) - treated)


def buffer_per_run(field: Field) -> Areas:
    """Each run of boom-on as a line, made half a boom wide on either side, with flat ends."""
    point, run = _runs(field)
    lines = shapely.linestrings(field.xy_m[point], indices=run)
    return _in_plot(field, shapely.union_all(shapely.buffer(lines, BOOM_M / 2, cap_style="flat")))


def union_of_quads(field: Field) -> Areas:
    """All steps' ground put together, as it comes."""
    return _in_plot(field, shapely.union_all(_pieces(sweep_boom(field))))


def union_on_grid(field: Field) -> Areas:
    """All steps' ground put together on a grid of a micrometre."""
    return _in_plot(field, shapely.union_all(_pieces(sweep_boom(field)), grid_size=_GRID_M))


def node_and_polygonize(field: Field) -> Areas:
    """Outlines of ribbons cut at each other, faces made of them, and ribbons counted over each face."""
    swept = sweep_boom(field)
    lines = _outlines(swept)
    lines += [shapely.LinearRing(ring) for ring in (field.plot.exterior, *field.plot.interiors)]
    noded = shapely.node(shapely.multilinestrings([shapely.LineString(line) for line in lines]))
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(noded)))
    inside = shapely.point_on_surface(faces)
    shapely.prepare(field.plot)
    mine = shapely.contains(field.plot, inside)
    faces, inside = faces[mine], inside[mine]
    place, step = shapely.STRtree(_pieces(swept)).query(inside, predicate="intersects")
    ribbons = int(swept.ribbon[-1]) + 1
    count = np.bincount(np.unique(place * ribbons + swept.ribbon[step]) // ribbons, minlength=len(faces))
    area = shapely.area(faces)
    return Areas(float(area[count > 0].sum()), float(area[count == 0].sum()), float(area[count > 1].sum()))


def _outlines(swept: Swept) -> list[Any]:
    """Rings round each ribbon; where the boom crosses where it was, the boom at each step too."""
    lines: list[Any] = list(_rings(swept))
    odd = np.unique(swept.ribbon[swept.crossed])
    inside = np.isin(swept.ribbon, odd)
    booms = np.concatenate(
        [
            np.stack([swept.left0[inside], swept.right0[inside]], axis=1),
            np.stack([swept.left1[inside], swept.right1[inside]], axis=1),
        ]
    )
    return [*lines, *np.unique(booms, axis=0)]


def _rings(swept: Swept) -> list[Floats]:
    """Right ends forward, left ends back, of each ribbon; closed."""
    first = np.flatnonzero(np.append(True, swept.ribbon[1:] != swept.ribbon[:-1]))
    last = np.append(first[1:], len(swept.ribbon))
    return [
        np.concatenate(
            [
                swept.right0[begin : begin + 1],
                swept.right1[begin:end],
                swept.left1[begin:end][::-1],
                swept.left0[begin : begin + 1],
                swept.right0[begin : begin + 1],
            ]
        )
        for begin, end in zip(first.tolist(), last.tolist(), strict=True)
    ]


def clipper(field: Field) -> Areas:
    """Rings of ribbons put together by winding, not zero, and clipped by the plot in one go."""
    # Loaded here, as it may have to be built from source: without it, this row alone says so.
    import pyclipr

    engine = pyclipr.Clipper()
    engine.scaleFactor = _CLIPPER_SCALE
    engine.addPaths([ring[:-1] for ring in _rings(sweep_boom(field))], pyclipr.Subject)
    plot = shapely.orient_polygons(field.plot)
    rings = [shapely.get_coordinates(ring)[:-1] for ring in (plot.exterior, *plot.interiors)]
    engine.addPaths(rings, pyclipr.Clip)
    found = engine.execute(pyclipr.Intersection, pyclipr.FillRule.NonZero)
    treated = float(sum(_shoelace(np.asarray(ring)) for ring in found))
    return Areas(treated, float(field.plot.area) - treated)


def _shoelace(ring: Floats) -> float:
    x, y = (ring - ring[0]).T
    return float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2


PEERS = (
    Peer("buffer per run, flat caps, union", buffer_per_run, "no count"),
    Peer("quads, GEOS union, no grid", union_of_quads, "no count"),
    Peer("quads, GEOS union, 1 um grid", union_on_grid, "no count"),
    Peer("node, polygonize, count", node_and_polygonize, "exact counts"),
    Peer("Clipper2, ribbons, nonzero", clipper, "no count"),
)
