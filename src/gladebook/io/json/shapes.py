"""Shapes from GeoJSON geometries: many plain polygons at once, and whatever is odd one by one."""

from collections.abc import Callable, Sequence
from itertools import chain
from typing import Any

import numpy as np
import shapely

from gladebook.io.json.corners import FURTHEST

__all__ = ["BadGeometry", "shape_of", "shapes_of"]

_AT_ONCE = 2_000


class BadGeometry(Exception):  # noqa: N818 - never leaves the readers
    """Why a geometry cannot be used, as a sentence without its name."""


def shapes_of(geometries: Sequence[Any], *, nesting: int) -> tuple[list[Any], list[str], int]:
    """Shapes of geometries in their order, why each cannot be used, and how many rings had to be closed.

    A shape is None where there is none, or none that can be used; the reason is empty where there is nothing wrong.
    """
    shapes: list[Any] = [None] * len(geometries)
    faults = [""] * len(geometries)
    opened: list[int] = []
    for start in range(0, len(geometries), _AT_ONCE):
        part = range(start, min(start + _AT_ONCE, len(geometries)))
        plain = [i for i in part if _may_be_plain(geometries[i])]
        made = _polygons_at_once([geometries[i]["coordinates"] for i in plain])
        if made is not None:
            for i, shape in zip(plain, made.tolist(), strict=True):
                shapes[i] = shape
        for i in part if made is None else sorted(set(part) - set(plain)):
            if geometries[i] is None:
                continue
            try:
                shapes[i] = shape_of(geometries[i], nesting=nesting, opened=opened)
            except BadGeometry as error:
                faults[i] = str(error)
    return shapes, faults, len(opened)


def shape_of(geometry: Any, *, nesting: int, opened: list[int] | None = None) -> Any:
    """The shape of one geometry; None where it has no coordinates. Each ring that had to be closed adds to `opened`.

    Raises
    ------
    BadGeometry
        Where it cannot be used.
    """
    rings = [] if opened is None else opened
    if not isinstance(geometry, dict) or not isinstance(geometry.get("type"), str):
        raise BadGeometry("has no usable geometry. Draw it again.")
    kind = geometry["type"]
    if kind == "GeometryCollection":
        members = geometry.get("geometries")
        if not isinstance(members, list):
            raise BadGeometry('is a GeometryCollection without "geometries". Draw it again.')
        if nesting < 1:
            raise BadGeometry(
                "has more collections, one inside the other, than are read. Draw it without, or raise --limit nesting."
            )
        return shapely.GeometryCollection([shape_of(m, nesting=nesting - 1, opened=rings) for m in members])
    corners = geometry.get("coordinates")
    makers: dict[str, Callable[[Any], Any]] = {
        "Point": lambda c: shapely.points(_positions([c])[0]),
        "MultiPoint": lambda c: shapely.multipoints(_positions(c)),
        "LineString": _line,
        "MultiLineString": lambda c: shapely.multilinestrings([_line(part) for part in _listed(c)]),
        "Polygon": lambda c: _polygon(c, opened=rings),
        "MultiPolygon": lambda c: shapely.multipolygons([_polygon(part, opened=rings) for part in _listed(c)]),
    }
    if kind not in makers:
        raise BadGeometry(f'has the geometry "{kind[:40]}", which GeoJSON does not have. Draw it again.')
    if corners == []:
        return None
    return makers[kind](corners)


def _may_be_plain(geometry: Any) -> bool:
    return (
        isinstance(geometry, dict)
        and geometry.get("type") == "Polygon"
        and isinstance(geometry.get("coordinates"), list)
        and len(geometry["coordinates"]) > 0
    )


def _polygons_at_once(polygons: list[list[Any]]) -> Any:
    """Polygons of closed rings of plain numbers; None where there is anything else among them."""
    try:
        rings = list(chain.from_iterable(polygons))
        sizes = np.array([len(ring) for ring in rings])
        corners = list(chain.from_iterable(rings))
        if not corners or set(map(type, rings)) | set(map(type, corners)) != {list}:
            return None
        widths = set(map(len, corners))
        flat = list(chain.from_iterable(corners if widths == {2} else [corner[:2] for corner in corners]))
        if min(widths) < 2 or not set(map(type, flat)) <= {int, float}:
            return None
        xy = np.array(flat, dtype=float).reshape(-1, 2)
    except (TypeError, OverflowError):
        return None
    starts = np.cumsum(sizes) - sizes
    if (sizes < 4).any() or not (np.abs(xy) < FURTHEST).all() or (xy[starts] != xy[starts + sizes - 1]).any():
        return None
    lines = shapely.linearrings(xy, indices=np.repeat(np.arange(len(rings)), sizes))
    return shapely.polygons(lines, indices=np.repeat(np.arange(len(polygons)), [len(p) for p in polygons]))


def _polygon(rings: Any, *, opened: list[int]) -> Any:
    closed = [_ring(ring, opened=opened) for ring in _listed(rings)]
    if not closed:
        raise BadGeometry("has no ring. Draw the line round the plot.")
    return shapely.polygons(closed[0], holes=[shapely.linearrings(r) for r in closed[1:]] or None)


def _ring(corners: Any, *, opened: list[int]) -> Any:
    xy = _positions(corners)
    if len(xy) and (xy[0] != xy[-1]).any():
        if len(xy) > 2:
            opened.append(len(xy))
        xy = np.vstack([xy, xy[:1]])
    if len(xy) < 4:
        raise BadGeometry("has fewer than three different corners. Draw the line round the plot.")
    return xy


def _line(corners: Any) -> Any:
    xy = _positions(corners)
    if len(xy) < 2:
        raise BadGeometry("has a line of one point. Take it out, or draw it again.")
    return shapely.linestrings(xy)


def _listed(value: Any) -> list[Any]:
    if not isinstance(value, list):
        raise BadGeometry("has coordinates that are not nested as GeoJSON asks. Draw it again.")
    return value


def _positions(corners: Any) -> Any:
    """Corners as an array, heights dropped; the first bad one is named."""
    try:
        xy = np.array([(c[0], c[1]) for c in _listed(corners)], dtype=float)
        if xy.shape == (len(corners), 2) and np.isfinite(xy).all() and not _has_text(corners):
            return xy
    except (TypeError, ValueError, IndexError, KeyError, OverflowError):
        pass
    for number, corner in enumerate(_listed(corners), start=1):
        good = isinstance(corner, list) and len(corner) >= 2
        if not good or not all(isinstance(v, int | float) and not isinstance(v, bool) for v in corner[:2]):
            raise BadGeometry(f"corner {number} is not a pair of numbers, longitude then latitude. Mend or remove it.")
        if not all(abs(v) < FURTHEST for v in corner[:2]):
            raise BadGeometry(f"corner {number} has no usable position. Mend or remove it.")
    raise BadGeometry("has coordinates that are not nested as GeoJSON asks. Draw it again.")


def _has_text(corners: list[Any]) -> bool:
    return any(isinstance(v, str | bool) for c in corners for v in c[:2])
