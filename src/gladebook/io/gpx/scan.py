"""GPX of many points, read by the few patterns that its points are written to.

A receiver writes every point to one of a few patterns: the bytes are the same but for the digits. So each
pattern is read once, by the reader that reads whole files, and the digits of all its points are then read
together, part by part. Where anything is in doubt the answer is None, and the file is to be read point by point.

Why that is safe: the file is cut before every ``<trkpt``. Leave out all points but one of each pattern, and what
remains is a small GPX that expat reads in full: the head, one point of each pattern, whatever stands between
points, and the end. A point that was left out is, digits aside, one that was read. Its digits differ only in
text and in attributes that declare nothing, and it holds no reference, so it is well-formed if the other is, and
its values stand in the same places. A file that is cut short or mangled has a pattern or an end that expat refuses.
"""

import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any, BinaryIO, NamedTuple

import numpy as np
import numpy.typing as npt

from gladebook.errors import InputError
from gladebook.io.blocks import Data, as_file, blocks
from gladebook.io.digits import STAMPS, numbers_from, times_from
from gladebook.io.gpx.pattern import Pattern, Span, pattern_of
from gladebook.io.gpx.points import KEPT, Course, Point, read_courses
from gladebook.io.trackrows import VOID, TrackColumns, TrackRows
from gladebook.passes.track import Track

__all__ = ["scan_track"]

Ints = npt.NDArray[np.int64]
_MARK = b"<trkpt"
_DIGITS_ALIKE = bytes.maketrans(b"123456789", b"000000000")
_CHUNK = 4_000_000  # bytes at a time: larger ones leave the processor's cache, smaller ones gain nothing (measured)
_STAMP = "stamp"
_VALUES = ("lat", "lon", *KEPT)
_FEW, _SHARE = 1000, 8  # with more patterns or pieces than 1000 + an eighth of the points, nothing is gained
_DECLARATION = re.compile(
    rb"(?:\xef\xbb\xbf)?(?:<\?xml version=(?:\"1\.0\"|'1\.0')(?:\s+encoding=[\"'](?:utf-8|us-ascii)[\"'])?"
    rb"(?:\s+standalone=[\"'](?:yes|no)[\"'])?\s*\?>)?",
    re.IGNORECASE,
)


class _Shown(NamedTuple):
    """A point that is read by expat: its number in the file, its pattern's, and its text."""

    number: int
    pattern: int
    text: bytes


def scan_track(path: Path, *, data: Data) -> Track | None:
    """Read all track points at once, or none at all: what is answered is what `gpx.read_slowly` answers.

    None where the file is not plain: comments, CDATA, entities or declarations beside the first, other
    encodings than UTF-8 and ASCII, routes, names of tracks and points with a prefix, points that are broken or hold no
    position, or more patterns than pay.
    """
    try:
        points = _Points(path.name)
        if not points.read(as_file(data)):
            return None
        segment = _segments(path, points)
        return None if segment is None else points.columns.track(segment)
    except (InputError, UnicodeDecodeError):
        return None  # the other reader finds it too, and says the line


class _Numbered(dict[bytes, int]):
    """Numbers for keys, in the order in which they are first asked for."""

    def __missing__(self, key: bytes) -> int:
        self[key] = number = len(self)
        return number


def _parts(file: BinaryIO) -> Iterator[bytes]:
    """What stands before the first point, then parts that begin with a point and end before another, or at the end."""
    held = bytearray()
    least = 0
    for block in blocks(file, size=_CHUNK):
        looked = max(len(held) - len(_MARK) + 1, 0)
        held += block
        while (stop := held.find(_MARK, max(least, looked))) >= 0:
            yield bytes(memoryview(held)[:stop])
            del held[:stop]
            least, looked = _CHUNK, 0
    yield bytes(held)


class _Points:
    """The points of a file by pattern.

    Attributes
    ----------
    columns : their values.
    patterns : the patterns, in the order of their first points.
    first : the first point of each pattern.
    runs : the first point of each run but the first; a run ends where more than blanks follows a point.
    between : what follows each run up to the next point, or to the file's end.
    head : what stands before the first point.
    """

    def __init__(self, source: str) -> None:
        self.columns = _Columns(source)
        self.patterns: list[Pattern] = []
        self.first: list[_Shown] = []
        self.runs: list[_Shown] = []
        self.between: list[bytes] = []
        self.head = b""
        self._count = 0
        self._run_ended = False
        self._number = _Numbered()

    def __len__(self) -> int:
        return self._count

    def read(self, file: BinaryIO) -> bool:
        """Go through a file once; false where its points are in doubt."""
        parts = _parts(file)
        self.head = next(parts)
        return all(self._read(part) for part in parts) and self._run_ended

    def _read(self, part: bytes) -> bool:
        texts = part.translate(_DIGITS_ALIKE).split(_MARK)
        del texts[0]
        of = np.fromiter(map(self._number.__getitem__, texts), dtype=np.int64, count=len(texts))
        end = np.cumsum(np.fromiter(map(len, texts), dtype=np.int64, count=len(texts)) + len(_MARK))
        start = np.concatenate(([0], end[:-1]))
        most = _FEW + (self._count + len(texts)) // _SHARE
        if len(self._number) > most or not self._find_patterns(part, of=of, start=start, end=end):
            return False
        body_end = start + np.array([p.size for p in self.patterns])[of]
        last = np.flatnonzero(np.array([p.ends_run for p in self.patterns])[of])
        if len(self.between) + len(last) > most:
            return False
        self.between += [part[body_end[i] : end[i]] for i in last.tolist()]
        begins = [*([0] if self._run_ended else []), *(last[last < len(of) - 1] + 1).tolist()]
        self.runs += [_Shown(self._count + i, int(of[i]), part[start[i] : body_end[i]]) for i in begins]
        self._run_ended = len(last) > 0 and last[-1] == len(of) - 1
        self._count += len(of)
        return self._read_values(part, of=of, start=start)

    def _find_patterns(self, part: bytes, *, of: Ints, start: Ints, end: Ints) -> bool:
        """Read the first points of patterns that are new; false where one of them is not plain."""
        # Numbers rise with their first points.
        new = np.flatnonzero(np.diff(np.maximum.accumulate(of), prepend=len(self.patterns) - 1) > 0)
        for i in new[of[new] >= len(self.patterns)].tolist():
            pattern = pattern_of(part[start[i] : end[i]])
            if pattern is None:
                return False
            text = part[start[i] : start[i] + pattern.size]
            self.first.append(_Shown(self._count + i, len(self.patterns), text))
            self.patterns.append(pattern)
        return True

    def _read_values(self, part: bytes, *, of: Ints, start: Ints) -> bool:
        order = np.argsort(of, kind="stable")
        kinds, begins = np.unique(of[order], return_index=True)
        self.columns.begin(part, count=len(of))
        for kind, rows in zip(kinds.tolist(), np.split(order, begins[1:]), strict=True):
            if not self.columns.read(self.patterns[kind], rows=rows, start=start[rows]):
                return False
        self.columns.end()
        return True


def _segments(path: Path, points: _Points) -> Ints | None:
    """Shape (n,): each point's segment; None where the small file does not read as expected."""
    if not _is_plain(points.head, points.between):
        return None
    patterns = len(points.patterns)
    small = [points.head, *(shown.text for shown in points.first), points.between[0]]
    for shown, gap in zip(points.runs, points.between[1:], strict=True):
        small += [shown.text, gap]
    told = [*points.first, *points.runs]
    numbered = _numbered(read_courses(path, b"".join(small)))
    if numbered is None or len(numbered) != len(told):
        return None
    for (_, point), shown in zip(numbered, told, strict=True):
        if not points.patterns[shown.pattern].agrees(shown.text, point):
            return None
    segments = np.array([segment for segment, _ in numbered], dtype=np.int64)
    if (segments[:patterns] != segments[0]).any():
        return None
    lengths = np.diff([0, *(shown.number for shown in points.runs), len(points)])
    return np.repeat(np.concatenate((segments[:1], segments[patterns:])), lengths)


def _is_plain(head: bytes, between: list[bytes]) -> bool:
    """No comment, CDATA, declaration or instruction; no point of a route; prefixes are declared by the root alone."""
    declared = _DECLARATION.match(head)
    if declared is None:
        return False
    root, _, inside = head[declared.end() :].partition(b">")
    rest = [inside, *between]
    return not any(mark in text for text in (root, *rest) for mark in (b"<!", b"<?", b"rtept")) and not any(
        b"xmlns" in text for text in rest
    )


def _numbered(courses: list[Course]) -> list[tuple[int, Point]] | None:
    """All points with the number of their segment, in the file's order; None where there is a route."""
    if any(course.kind != "trk" for course in courses):
        return None
    segments = [segment for course in courses for segment in course.segments]
    return [(number, point) for number, segment in enumerate(segments) for point in segment]


class _Columns:
    """Values of all points, filled part by part, and in each part pattern by pattern."""

    def __init__(self, source: str) -> None:
        self._source = source
        self._blocks = {name: bytearray() for name in (*_VALUES, _STAMP)}  # which grow in place
        self._part = b""
        self._values: dict[str, Any] = {}

    def begin(self, part: bytes, *, count: int) -> None:
        """Get ready for a part of the file with so many points."""
        self._part = part
        self._values = {name: np.full(count, np.nan) for name in _VALUES}
        self._values[_STAMP] = np.zeros(count, dtype=np.int8)

    def read(self, pattern: Pattern, *, rows: Ints, start: Ints) -> bool:
        """Read the values of points of one pattern, which begin at `start`; false where one of them is in doubt."""
        for column, code in pattern.fixed:
            if (self._cells(start, Span(column, column + 1)) != code).any():
                return False
        for name, span in pattern.spans.items():
            cells = self._cells(start, span)
            if name != "time":
                self._values[name][rows] = numbers_from(cells)
                continue
            read = times_from(cells, source=self._source)
            if read is None:
                return False
            self._values[name][rows], self._values[_STAMP][rows] = read
        return True

    def end(self) -> None:
        """Keep the values of the part."""
        for name, block in self._blocks.items():
            block.extend(self._values[name].tobytes())

    def track(self, segment: Ints) -> Track | None:
        """Make the track; None where a point has no usable position."""
        stamps = np.frombuffer(self._blocks[_STAMP], dtype=np.int8)
        v = {name: np.frombuffer(self._blocks[name]) for name in _VALUES}
        lat, lon = v["lat"], v["lon"]
        if not ((np.abs(lat) <= 90) & (np.abs(lon) <= 360)).all():  # not a number is refused too
            return None
        kept = (lat != 0) | (lon != 0)
        out = TrackRows(self._source)
        if not kept.all():
            out.skip(VOID, int((~kept).sum()))
            v = {name: values[kept] for name, values in v.items()}
            segment, stamps = segment[kept], stamps[kept]
        counts = np.bincount(stamps, minlength=len(STAMPS)).tolist()
        columns = TrackColumns(v["lon"], v["lat"], v["time"], segment, speed_mps=v["speed"], hdop=v["hdop"])
        return out.take(columns, clocks=Counter(dict(zip(STAMPS, counts, strict=True))))

    def _cells(self, start: Ints, span: Span) -> npt.NDArray[np.uint8]:
        """Shape (n, w): the bytes of one span of each point."""
        width = span.stop - span.start
        if not width:
            return np.empty((len(start), 0), dtype=np.uint8)
        # Windows that begin at every byte, so that one look-up copies whole cells.
        windows = np.ndarray((len(self._part) - width + 1,), f"V{width}", self._part, strides=(1,))
        return windows[start + span.start].view(np.uint8).reshape(-1, width)
