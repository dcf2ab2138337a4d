"""The ground that an application is judged by: plots, ground left on purpose, obstacles, the plots' edge.

The plane is cut into regions that share no ground, so that one sweep serves all of them.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
import shapely

from gladebook.geometry.frame import Frame
from gladebook.geometry.ribbon import Edges
from gladebook.geometry.validity import robust
from gladebook.plots.plot import Plot, plane_shape

__all__ = ["Ground", "Marks", "Region", "is_water", "outline_edges", "part_ground"]

Kind = Literal["plot", "left", "obstacle", "edge"]

_SLIVER_M2 = 1e-3
_WATER = re.compile(
    r"\b(water|ponds?|lakes?|creeks?|streams?|rivers?|springs?|sloughs?|ditch(es)?|marsh(es)?|swamps?|wetlands?|"
    r"branch|seeps?|wells?|beaver)\b",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Marks:
    """What else lies on the map.

    Attributes
    ----------
    obstacles : ponds, rocks and trees that were taken out of the plots.
    left : ground left unsprayed on purpose, such as a check strip to compare with.
    """

    obstacles: tuple[Plot, ...] = ()
    left: tuple[Plot, ...] = ()


@dataclass(frozen=True)
class Region:
    """A piece of the plane that is judged as one.

    Attributes
    ----------
    kind : what it is.
    members : the plots that it lies in, by number; for an obstacle, its own number.
    shape : polygons in the plane, metres.
    """

    kind: Kind
    members: tuple[int, ...]
    shape: Any = field(repr=False)


@dataclass(frozen=True)
class Ground:
    """All regions; they share no ground but slivers.

    Attributes
    ----------
    regions : numbered from 1 in a sweep.
    plots : how many plots there are.
    """

    regions: tuple[Region, ...]
    plots: int


def part_ground(planes: Sequence[Any], *, whole: Any, marks: Marks, frame: Frame, edge_m: float) -> Ground:
    """Part the plane.

    Parameters
    ----------
    planes
        The plots in the plane, metres; some may be empty, some may share ground.
    whole
        All of them together.
    marks
        What else lies there.
    frame
        The plane.
    edge_m
        How far outside the plots' edge still counts as "over the edge", metres.
    """
    regions = _plots(planes)
    if marks.left:
        kept_out = robust(shapely.union_all, [plane_shape(p.shape, frame=frame) for p in marks.left])
        regions = [part for region in regions for part in _split(region, kept_out)]
    taken = whole
    for number, obstacle in enumerate(marks.obstacles):
        shape = robust(shapely.difference, plane_shape(obstacle.shape, frame=frame), taken)
        if shapely.area(shape) > _SLIVER_M2:
            regions.append(Region("obstacle", (number,), shape))
            taken = robust(shapely.union, taken, shape)
    if edge_m > 0:
        band = robust(shapely.difference, shapely.buffer(whole, edge_m), taken)
        regions.append(Region("edge", (), band))
    return Ground(regions=tuple(regions), plots=len(planes))


def _plots(planes: Sequence[Any]) -> list[Region]:
    """One region a plot; where plots share ground, one for each set of plots."""
    shapes = np.array(planes, dtype=object)
    first, second = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    once = first < second
    first, second = first[once], second[once]
    if len(first):
        pairs = zip(first.tolist(), second.tolist(), strict=True)
        shared = np.array([robust(shapely.intersection, shapes[a], shapes[b]).area for a, b in pairs])
        first, second = first[shared > _SLIVER_M2], second[shared > _SLIVER_M2]
    mixed = {*first.tolist(), *second.tolist()}
    regions = [Region("plot", (i,), p) for i, p in enumerate(planes) if i not in mixed and not shapely.is_empty(p)]
    parts: list[Region] = []
    for i in sorted(mixed):
        rest = planes[i]
        found: list[Region] = []
        for part in parts:
            if not shapely.intersects(part.shape, rest):
                found.append(part)
                continue
            both = robust(shapely.intersection, part.shape, rest)
            found += [
                Region("plot", part.members, robust(shapely.difference, part.shape, rest)),
                Region("plot", (*part.members, i), both),
            ]
            rest = robust(shapely.difference, rest, part.shape)
        parts = [p for p in [*found, Region("plot", (i,), rest)] if shapely.area(p.shape) > 0]
    return regions + parts


def _split(region: Region, kept_out: Any) -> list[Region]:
    if not shapely.intersects(region.shape, kept_out):
        return [region]
    left = Region("left", region.members, robust(shapely.intersection, region.shape, kept_out))
    rest = Region("plot", region.members, robust(shapely.difference, region.shape, kept_out))
    return [part for part in (rest, left) if shapely.area(part.shape) > 0]


def outline_edges(shape: Any, *, owner: int) -> Edges:
    """Edges of polygons, anticlockwise round their ground."""
    rings: list[Any] = []
    for part in shapely.get_parts(shape):
        turned = shapely.orient_polygons(part)
        rings += [shapely.get_coordinates(ring) for ring in [turned.exterior, *turned.interiors]]
    start = np.concatenate([ring[:-1] for ring in rings])
    end = np.concatenate([ring[1:] for ring in rings])
    return Edges(start_m=start, end_m=end, owner=np.full(len(start), owner, dtype=np.int64))


def is_water(obstacle: Plot) -> bool:
    """Whether an obstacle's name says that it is water."""
    return _WATER.search(obstacle.name) is not None
