"""The corners of many polygons out of the text of their GeoJSON coordinates, all at once.

Brackets and commas are found in one pass, and what may follow what is looked up in a table, so that whatever passes
is JSON of the right nesting. Numbers of one width with the dot in one place are read together
(`gladebook.io.digits`). Each number comes out as the standard library reads it.
"""

import re
from collections.abc import Iterator
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.io.digits import numbers_from

__all__ = ["END", "FURTHEST", "areas_from"]

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

END = b";"  # stands after the coordinates of each geometry
FURTHEST = 1e300
_LEAST_CORNERS = 4
_OPEN, _CLOSE, _COMMA, _END, _KINDS = 1, 2, 3, 4, 5
_MARKS = bytes({91: _OPEN, 93: _CLOSE, 44: _COMMA, END[0]: _END}.get(b, 0) for b in range(256))
_WITH_NUMBER = ((_OPEN, _COMMA), (_COMMA, _COMMA), (_COMMA, _CLOSE))
_BARE = ((_OPEN, _OPEN), (_COMMA, _OPEN), (_CLOSE, _COMMA), (_CLOSE, _CLOSE), (_CLOSE, _END), (_END, _OPEN))
_BLANKS = b" \t\r\n"
_APART = re.compile(rb"[-+.0-9eE][ \t\r\n]+[-+.0-9eE]")
_NUMBER = re.compile(rb"-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?(?:[eE][-+]?[0-9]+)?")
_WIDEST = 32
_MINUS, _DOT, _ZERO = b"-.0"


def _table(steps: tuple[tuple[int, int], ...]) -> Bools:
    allowed = np.zeros(_KINDS * _KINDS, dtype=bool)
    allowed[[before * _KINDS + here for before, here in steps]] = True
    return allowed


_TELLS_NUMBER, _TELLS_NONE = _table(_WITH_NUMBER), _table(_BARE)


def areas_from(text: bytes, *, nesting: int) -> npt.NDArray[Any] | None:
    """Shape (n,): polygons, or shapes of several, and None for those that are not closed rings of usable corners.

    None instead of the array where the text holds anything but coordinates of this nesting.

    Parameters
    ----------
    text
        The ``coordinates`` of each geometry and `END`.
    nesting
        Lists within each other: 3 for Polygon, 4 for MultiPolygon.
    """
    marks = _Marks(_without_blanks(text), nesting=nesting)
    if not marks.right:
        return None
    first = np.flatnonzero(marks.opens(nesting))
    x, y = marks.numbers(first), marks.numbers(first + 1)
    if x is None or y is None or not marks.heights_are_numbers(first):
        return None
    return _shapes(np.column_stack([x, y]), marks=marks, first=first)


def _without_blanks(text: bytes) -> bytes:
    """Without blanks that mean nothing; those between two numbers stay, and are found wrong."""
    if any(blank in text for blank in (b"\n", b"\t", b"\r")):
        return text if _APART.search(text) is not None else text.translate(None, _BLANKS)
    blanks = text.count(b" ")
    after_commas = blanks > 0 and text.count(b", ") == blanks
    return text if not after_commas and _APART.search(text) is not None else text.translate(None, _BLANKS)


class _Marks:
    """Brackets, commas and ends in a text.

    Attributes
    ----------
    right : whether they follow each other as in coordinates of this nesting, with numbers where these belong.
    """

    def __init__(self, text: bytes, *, nesting: int) -> None:
        self._text = text
        self._bytes = np.frombuffer(text, dtype=np.uint8)
        classes = np.frombuffer(text.translate(_MARKS), dtype=np.uint8)
        self._at = np.flatnonzero(classes != 0)
        self._kind = classes[self._at]
        self.nesting = nesting
        before = np.concatenate(([_END], self._kind[:-1])).astype(np.uint8)
        step = before * np.uint8(_KINDS) + self._kind
        gap = np.diff(self._at, prepend=-1) > 1
        # One up for each opening bracket, one down for each closing one.
        turn = (self._kind == _OPEN).view(np.int8) - (self._kind == _CLOSE).view(np.int8)
        self._depth = np.cumsum(turn, dtype=np.int32)
        self._number = _TELLS_NUMBER[step]
        self.right = bool(
            np.where(gap, self._number, _TELLS_NONE[step]).all()
            and self._depth.max(initial=0) == nesting
            and (self._depth[self._kind != _END] - turn[self._kind != _END].clip(max=0) >= 1).all()
            and (self._depth[self._kind == _END] == 0).all()
            and (self._depth[self._number] + (self._kind[self._number] == _CLOSE) == nesting).all()
        )

    def opens(self, depth: int) -> Bools:
        """Which marks open a list that lies so deep, from 1 on."""
        opens: Bools = (self._kind == _OPEN) & (self._depth == depth)
        return opens

    def numbers(self, after: Ints) -> Floats | None:
        """The numbers that follow some marks; None where one of them is none of JSON."""
        start = self._at[after] + 1
        width = self._at[after + 1] - start
        values = np.full(len(after), np.nan)
        plain = np.zeros(len(after), dtype=bool)
        for rows, cells, whole in self._alike(start, width):
            values[rows] = numbers_from(cells) + 0.0 if whole else numbers_from(cells)  # JSON's -0 is 0, its -0.0 not
            plain[rows] = True
        for i in np.flatnonzero(~plain).tolist():
            cell = self._text[start[i] : start[i] + width[i]]
            if _NUMBER.fullmatch(cell) is None:
                return None
            values[i] = float(cell)
        return values

    def heights_are_numbers(self, first: Ints) -> bool:
        """Whether what else stands in the corners, which is not used, is numbers too."""
        others = self._number.copy()
        others[first + 1] = others[first + 2] = False
        return not others.any() or self.numbers(np.flatnonzero(others) - 1) is not None

    def _alike(self, start: Ints, width: Ints) -> Iterator[tuple[Ints, npt.NDArray[np.uint8], bool]]:
        """Rows whose number is written alike and plainly, their cells of shape (k, w), and whether it has no dot."""
        for size in np.flatnonzero(np.bincount(np.minimum(width, _WIDEST + 1))).tolist():
            if not 0 < size <= _WIDEST:
                continue
            rows = np.flatnonzero(width == size)
            # Windows that begin at every byte, so that one look-up copies whole cells.
            windows = np.ndarray((len(self._text) - size + 1,), f"V{size}", self._text, strides=(1,))
            cells = windows[start[rows]].view(np.uint8).reshape(-1, size)
            letters = np.ascontiguousarray(cells.T)  # long rows, which are gone through faster than long columns
            minus = (letters[0] == _MINUS).astype(np.int64)
            dots = letters == _DOT
            digits = (letters - np.uint8(_ZERO) < 10).sum(axis=0, dtype=np.uint8)
            # Where the dot stands; with two of them the form does not come out.
            dot = (dots * np.arange(size, dtype=np.uint8)[:, None]).sum(axis=0, dtype=np.uint8)
            dot = np.where(dots.any(axis=0), dot, size)
            leads = self._bytes[start[rows] + np.minimum(minus, size - 1)] == _ZERO
            plain = (digits + minus + (dot < size) == size) & (dot > minus) & (dot != size - 1)
            plain &= ~leads | (dot == minus + 1)
            form = np.where(plain, 2 * dot + minus, -1)
            for each in np.flatnonzero(np.bincount(form[plain])).tolist():
                some = form == each
                whole = each >= 2 * size
                yield (rows, cells, whole) if some.all() else (rows[some], cells[some], whole)


def _shapes(xy: Floats, *, marks: _Marks, first: Ints) -> npt.NDArray[Any]:
    """Make the shapes whose rings are closed and whose corners can be used."""
    deep = marks.nesting
    ring_of = _holder(marks.opens(deep - 1), first)
    ring = np.flatnonzero(marks.opens(deep - 1))
    area_of = _holder(marks.opens(deep - 2), ring)
    area = np.flatnonzero(marks.opens(deep - 2))
    shape_of = _holder(marks.opens(1), area)
    sizes = np.bincount(ring_of, minlength=len(ring))
    starts = np.cumsum(sizes) - sizes
    good = (sizes >= _LEAST_CORNERS) & (xy[starts] == xy[starts + sizes - 1]).all(axis=1)
    good[ring_of[~(np.abs(xy) < FURTHEST).all(axis=1)]] = False
    shapes = np.full(int(marks.opens(1).sum()), None, dtype=object)
    sound = np.ones(len(shapes), dtype=bool)
    sound[shape_of[area_of[~good]]] = False
    if not sound.any():
        return shapes
    kept_rings = sound[shape_of[area_of]]
    lines = shapely.linearrings(xy[kept_rings[ring_of]], indices=_anew(ring_of[kept_rings[ring_of]]))
    areas = shapely.polygons(lines, indices=_anew(area_of[kept_rings]))
    kept = np.flatnonzero(sound)
    shapes[kept] = areas if deep == 3 else shapely.multipolygons(areas, indices=_anew(shape_of[sound[shape_of]]))
    return shapes


def _holder(opens: Bools, inner: Ints) -> Ints:
    """Which of some lists, counted from 0, holds each of some marks."""
    held: Ints = np.cumsum(opens, dtype=np.int64)[inner] - 1
    return held


def _anew(numbers: Ints) -> Ints:
    """Rising numbers without the gaps between them."""
    return np.cumsum(np.diff(numbers, prepend=numbers[:1]) > 0)
