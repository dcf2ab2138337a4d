"""A GeoJSON with the coordinates of its areas read apart, many at once, and the rest of it as JSON.

In the rest, ``[NaN, n]``, which no JSON can hold, stands for the coordinates of the nth area. Where those do
not all turn up again as the coordinates of features, or anything else is in doubt, the file is to be read as a whole.
"""

import json
import math
import re
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.errors import UnreadableFile
from gladebook.io.blocks import blocks
from gladebook.io.json.corners import END, areas_from
from gladebook.io.json.text import Features, load_features
from gladebook.io.letters import coding_of

__all__ = ["Sketch", "sketch_of"]

_BLOCK = 2_000_000
_LOOK = 400
_BEGINS = re.compile(rb'"coordinates"[ \t\r\n]*:[ \t\r\n]*(?P<first>\[)[ \t\r\n]*\[[ \t\r\n]*\[(?P<deep>[ \t\r\n]*\[)?')
_NEVER = b"NaN"
_KINDS = {"Polygon": 3, "MultiPolygon": 4}


class _Doubt(Exception):  # noqa: N818 - never leaves this module
    """The file is to be read as a whole."""


class Sketch:
    """A file without the coordinates of its areas, and these.

    Attributes
    ----------
    features : the features, with marks in the place of coordinates that were read apart.
    """

    features: Features

    def __init__(self) -> None:
        self._rest: list[bytes] = []
        self._shapes: list[npt.NDArray[Any]] = []
        self._nesting: list[npt.NDArray[np.int8]] = []
        self._odd: dict[int, Any] = {}
        self._count = 0

    def take(self, part: bytes) -> None:
        """Read a part of the file that ends with an object, or with the file."""
        found = _spans(part)
        at = 0
        for number, (start, stop, _) in enumerate(found, start=self._count):
            self._rest += (part[at:start], b"[%b,%d]" % (_NEVER, number))
            at = stop
        self._rest.append(part[at:])
        nesting = np.array([deep for _, _, deep in found], dtype=np.int8)
        shapes = np.full(len(found), None, dtype=object)
        for deep in np.unique(nesting).tolist():
            rows = np.flatnonzero(nesting == deep)
            texts = [part[found[i][0] : found[i][1]] for i in rows.tolist()]
            read = areas_from(END.join(texts) + END, nesting=deep)
            if read is not None and len(read) == len(rows):
                shapes[rows] = read
        for i in np.flatnonzero(shapely.is_missing(shapes)).tolist():
            self._odd[self._count + i] = _from_json(part[found[i][0] : found[i][1]])
        self._count += len(found)
        self._shapes.append(shapes)
        self._nesting.append(nesting)

    def end(self, path: Path) -> None:
        """Read the rest as JSON, once all of the file was taken."""
        rest = b"".join(self._rest)
        self._rest.clear()
        if not self._count or rest.count(_NEVER) != self._count:
            raise _Doubt
        try:
            self.features = load_features(path, rest.decode("utf-8-sig"))
        except (UnreadableFile, UnicodeDecodeError):
            raise _Doubt from None  # which is found again, with the line

    def filled(self, geometries: list[Any]) -> list[Any] | None:
        """The shapes of some geometries, which are taken out of them; what is odd gets its coordinates back.

        None where marks are missing, or stand elsewhere too.
        """
        shapes: list[Any] = [None] * len(geometries)
        read = np.concatenate(self._shapes).tolist()
        nesting = np.concatenate(self._nesting).tolist()
        seen = set[int]()
        for place, geometry in enumerate(geometries):
            number = _number(geometry)
            if number is None:
                continue
            seen.add(number)
            if read[number] is not None and _KINDS.get(geometry.get("type")) == nesting[number]:
                shapes[place], geometries[place] = read[number], None
            elif number in self._odd:
                geometry["coordinates"] = self._odd[number]
            else:
                return None
        return shapes if len(seen) == self._count else None


def _spans(part: bytes) -> list[tuple[int, int, int]]:
    """Where the coordinates of areas seem to begin and end, and how deep their lists go: 3 or 4."""
    spans = []
    for found in _BEGINS.finditer(part):
        # They end with the last bracket before their object does, or before its next key.
        stop = part.find(b"}", found.end())
        stop = len(part) if stop < 0 else stop
        key = part.find(b'"', found.end(), stop)
        stop = part.rfind(b"]", found.end(), stop if key < 0 else key) + 1
        if stop:
            spans.append((found.start("first"), stop, 4 if found["deep"] else 3))
    return spans


def _from_json(text: bytes) -> Any:
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        raise _Doubt from None


def _number(geometry: Any) -> int | None:
    """The number of the coordinates that a mark stands for; None where there is no mark."""
    mark = geometry.get("coordinates") if isinstance(geometry, dict) else None
    if not isinstance(mark, list) or len(mark) != 2 or not (isinstance(mark[0], float) and math.isnan(mark[0])):
        return None
    return int(mark[1])


def sketch_of(path: Path, file: BinaryIO) -> Sketch | None:
    """Read a file in parts; None where it must be read as a whole.

    Parameters
    ----------
    path
        For its name.
    file
        The file, open.
    """
    file.seek(0)
    if coding_of(file.read(_LOOK)) != "utf-8-sig":
        return None
    sketch = Sketch()
    held = bytearray()
    try:
        for block in blocks(file, size=_BLOCK):
            ended = block.rfind(b"}") + 1  # no coordinates lie across an object's end
            held += block
            if ended:
                stop = len(held) - len(block) + ended
                sketch.take(bytes(memoryview(held)[:stop]))
                del held[:stop]
        sketch.take(bytes(held))
        sketch.end(path)
    except _Doubt:
        return None
    return sketch
