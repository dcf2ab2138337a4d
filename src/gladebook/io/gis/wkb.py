"""Shapes from well-known binary (OGC 06-103r4), which files of several kinds hold."""

import struct
import warnings
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import shapely

from gladebook.io.limits import LIMITS
from gladebook.notes import Note

__all__ = ["CURVED", "mended_notes", "shape_from_wkb", "shapes_from_wkb"]

CURVED = "has a round edge made of arcs, which cannot be read here. Export it with straight sides."
_UNREADABLE = "holds a shape that cannot be read. Draw or export it again."
_POINT, _POLYGON = 1, 3
_CORNERS = (2, 8)  # a line, and a line of arcs
_PARTS = (4, 5, 6, 7, 9, 10, 11, 12)
_PLAIN = (1, 2, 3, 1001, 1002, 1003, 2003, 3003)  # these have no parts
_AT_ONCE = 2_000
_HEIGHT, _MEASURE, _NUMBERED = 0x80000000, 0x40000000, 0x20000000  # flags of the older, extended form


def shape_from_wkb(blob: bytes, *, nesting: int = LIMITS.nesting) -> tuple[Any, str, str]:
    """A shape from well-known binary, why it cannot be used, and what was mended."""
    if not _shallow(blob, most=nesting):
        return None, f"holds collections nested more than {nesting} deep. Draw or export it again.", ""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a NaN in it is told by the corner, when the plot is checked
        try:
            return shapely.force_2d(shapely.from_wkb(blob)), "", ""
        except NotImplementedError:
            return None, CURVED, ""
        except (shapely.errors.ShapelyError, ValueError):
            shape = shapely.from_wkb(blob, on_invalid="fix")
    if shape is None or shapely.is_empty(shape):
        return None, _UNREADABLE, ""
    return shapely.force_2d(shape), "", "some rings were not closed; closed to their first corner."


def shapes_from_wkb(blobs: Sequence[bytes | None], *, nesting: int = LIMITS.nesting) -> Iterator[tuple[Any, str, str]]:
    """What `shape_from_wkb` says of each of many blobs, and nothing of None; most are read at once."""
    for start in range(0, len(blobs), _AT_ONCE):
        part = list(blobs[start : start + _AT_ONCE])
        try:
            if not all(blob is None or _shallow(blob, most=nesting) for blob in part):
                raise ValueError
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                shapes = shapely.force_2d(shapely.from_wkb(part))
            yield from ((shape, "", "") for shape in shapes.tolist())
        except (shapely.errors.ShapelyError, ValueError, TypeError, NotImplementedError):
            for blob in part:
                yield (None, "", "") if blob is None else shape_from_wkb(blob, nesting=nesting)


def mended_notes(mended: Iterable[str], *, source: str) -> tuple[Note, ...]:
    """What was mended in the shapes of a file, each said once and counted."""
    counts = Counter(words for words in mended if words)
    return tuple(Note("repaired", source, words, count=n) for words, n in sorted(counts.items()))


def _shallow(blob: bytes, *, most: int) -> bool:
    """Whether shapes nest no deeper than `most`: GEOS calls itself at each level, until the process dies.

    What is not whole is left to GEOS, which refuses it.
    """
    at, left = 0, [1]
    if len(blob) > 5 and struct.unpack_from("<I" if blob[0] == 1 else ">I", blob, 1)[0] in _PLAIN:
        return True
    while left and at + 9 <= len(blob):
        if not left[-1]:
            left.pop()
            continue
        left[-1] -= 1
        order = "<" if blob[at] == 1 else ">"
        (code,) = struct.unpack_from(f"{order}I", blob, at + 1)
        at += 9 if code & _NUMBERED else 5
        kind, plan = code % 65536 % 1000, code % 65536 // 1000
        numbers = 2 + bool(code & _HEIGHT or plan in (1, 3)) + bool(code & _MEASURE or plan in (2, 3))
        if kind in _PARTS:
            left.append(_count(blob, at, order))
            at += 4
        else:
            at = _after_corners(blob, at, kind=kind, corner_bytes=8 * numbers, order=order)
        if len(left) > most + 2:  # the shape itself, and the innermost, which is no collection
            return False
    return True


def _after_corners(blob: bytes, at: int, *, kind: int, corner_bytes: int, order: str) -> int:
    """Where a shape without parts ends; beyond all where it is of no known kind."""
    if kind == _POINT:
        return at + corner_bytes
    if kind in _CORNERS:
        return at + 4 + corner_bytes * _count(blob, at, order)
    if kind != _POLYGON:
        return len(blob)
    rings, at = _count(blob, at, order), at + 4
    for _ in range(rings):
        if at + 4 > len(blob):
            break
        at += 4 + corner_bytes * _count(blob, at, order)
    return at


def _count(blob: bytes, at: int, order: str) -> int:
    return int(struct.unpack_from(f"{order}I", blob, at)[0]) if at + 4 <= len(blob) else 0
