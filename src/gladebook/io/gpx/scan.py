"""GPX of many points, read by the few patterns that its points are written to.

A receiver writes every point to one of a few patterns: the bytes are the same but for the digits. So each
pattern is read once, by the reader that reads whole files, and the digits of all its points are then read
together. Where anything is in doubt the answer is None, and the file is to be read point by point.

Why that is safe: the file is cut before every ``<trkpt``. Leave out all points but one of each pattern, and what
remains is a small GPX that expat reads in full: the head, one point of each pattern, whatever stands between
points, and the end. A point that was left out is, digits aside, one that was read. Its digits differ only in
text and in attributes that declare nothing, and it holds no reference, so it is well-formed if the other is, and
its values stand in the same places. A file that is cut short or mangled has a pattern or an end that expat refuses.
"""

import re
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from gladebook.errors import InputError
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
_ROWS = 32_768  # points at a time, for the same reason
_FEW, _SHARE = 1000, 8  # with more patterns or pieces than 1000 + an eighth of the points, nothing is gained
_DECLARATION = re.compile(
    rb"(?:\xef\xbb\xbf)?(?:<\?xml version=(?:\"1\.0\"|'1\.0')(?:\s+encoding=[\"'](?:utf-8|us-ascii)[\"'])?"
    rb"(?:\s+standalone=[\"'](?:yes|no)[\"'])?\s*\?>)?",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class _Points:
    """The points of a file by pattern.

    Attributes
    ----------
    start : shape (n,), where each point's tag begins.
    end : shape (n,), where the next one begins, or the file ends.
    of : shape (n,), each point's pattern.
    patterns : the patterns, in the order of their first points.
    first : shape (k,), the first point of each pattern.
    """

    start: Ints
    end: Ints
    of: Ints
    patterns: tuple[Pattern, ...]
    first: Ints

    def __len__(self) -> int:
        return len(self.start)


def scan_track(path: Path, *, data: bytes) -> Track | None:
    """Read all track points at once, or none at all: what is answered is what `gpx.read_slowly` answers.

    None where the file is not plain: comments, CDATA, entities or declarations beside the first, other
    encodings than UTF-8 and ASCII, routes, names of tracks and points with a prefix, points that are broken or hold no
    position, or more patterns than pay.
    """
    try:
        points = _points(data)
        segment = None if points is None else _segments(path, data, points)
        return None if points is None or segment is None else _track(path, data, points, segment=segment)
    except (InputError, UnicodeDecodeError):
        return None  # the other reader finds it too, and says the line


class _Numbered(dict[bytes, int]):
    """Numbers for keys, in the order in which they are first asked for."""

    def __missing__(self, key: bytes) -> int:
        self[key] = number = len(self)
        return number


def _points(data: bytes) -> _Points | None:
    """Cut the file before every point, and tell the points' patterns apart."""
    at = data.find(_MARK)
    if at < 0 or _DECLARATION.match(data) is None:
        return None
    number = _Numbered()
    kinds: list[Ints] = []
    sizes: list[Ints] = []
    first_at, count = at, 0
    while at < len(data):
        stop = data.find(_MARK, at + _CHUNK)
        stop = stop if stop >= 0 else len(data)
        parts = data[at:stop].translate(_DIGITS_ALIKE).split(_MARK)
        del parts[0]
        kinds.append(np.fromiter(map(number.__getitem__, parts), dtype=np.int64, count=len(parts)))
        sizes.append(np.fromiter(map(len, parts), dtype=np.int64, count=len(parts)))
        at, count = stop, count + len(parts)
        if len(number) > _FEW + count // _SHARE:
            return None
    of = np.concatenate(kinds)
    end = first_at + np.cumsum(np.concatenate(sizes) + len(_MARK))
    start = np.concatenate(([first_at], end[:-1]))
    first = np.flatnonzero(np.diff(np.maximum.accumulate(of), prepend=-1))  # numbers rise with their first points
    read = [pattern_of(data[start[i] : end[i]]) for i in first.tolist()]
    patterns = tuple(pattern for pattern in read if pattern is not None)
    return _Points(start, end, of, patterns, first) if len(patterns) == len(read) else None


def _segments(path: Path, data: bytes, points: _Points) -> Ints | None:
    """Shape (n,): each point's segment; None where the small file does not read as expected."""
    bodies = np.array([p.size for p in points.patterns])
    body_end = points.start + bodies[points.of]
    # After these points stands more than blanks: the end of a segment, as a rule.
    last = np.flatnonzero(np.array([p.ends_run for p in points.patterns])[points.of])
    if len(last) > _FEW + len(points) // _SHARE or not len(last) or last[-1] != len(points) - 1:
        return None
    between = [data[body_end[i] : points.end[i]] for i in last.tolist()]
    head = data[: points.start[0]]
    if not _is_plain(head, between):
        return None
    runs = last[:-1] + 1
    shown = [*points.first.tolist(), *runs.tolist()]
    told = [data[points.start[i] : body_end[i]] for i in shown]
    patterns = len(points.patterns)
    small = [head, *told[:patterns], between[0]]
    for body, gap in zip(told[patterns:], between[1:], strict=True):
        small += [body, gap]
    numbered = _numbered(read_courses(path, b"".join(small)))
    if numbered is None or len(numbered) != len(shown):
        return None
    for (_, point), text, i in zip(numbered, told, points.of[shown].tolist(), strict=True):
        if not points.patterns[i].agrees(text, point):
            return None
    segments = np.array([segment for segment, _ in numbered], dtype=np.int64)
    if (segments[:patterns] != segments[0]).any():
        return None
    lengths = np.diff(np.concatenate(([0], runs, [len(points)])))
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


def _track(path: Path, data: bytes, points: _Points, *, segment: Ints) -> Track | None:
    columns = _Columns(data, source=path.name, count=len(points))
    order = np.argsort(points.of, kind="stable")
    bounds = np.searchsorted(points.of[order], np.arange(len(points.patterns) + 1)).tolist()
    for pattern, lower, upper in zip(points.patterns, bounds[:-1], bounds[1:], strict=True):
        for begin in range(lower, upper, _ROWS):
            rows = order[begin : min(begin + _ROWS, upper)]
            if not columns.read(pattern, rows=rows, start=points.start[rows]):
                return None
    return columns.track(segment)


class _Columns:
    """Values of all points, filled pattern by pattern."""

    def __init__(self, data: bytes, *, source: str, count: int) -> None:
        self._data = data
        self._source = source
        self._values = {name: np.full(count, np.nan) for name in ("lat", "lon", *KEPT)}
        self._stamps = np.zeros(count, dtype=np.int8)

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
            self._values[name][rows], self._stamps[rows] = read
        return True

    def track(self, segment: Ints) -> Track | None:
        """Make the track; None where a point has no usable position."""
        lat, lon = self._values["lat"], self._values["lon"]
        if not ((np.abs(lat) <= 90) & (np.abs(lon) <= 360)).all():  # not a number is refused too
            return None
        kept = (lat != 0) | (lon != 0)
        out = TrackRows(self._source)
        if not kept.all():
            out.skip(VOID, int((~kept).sum()))
            self._values = {name: values[kept] for name, values in self._values.items()}
        v = self._values
        counts = np.bincount(self._stamps[kept], minlength=len(STAMPS)).tolist()
        columns = TrackColumns(v["lon"], v["lat"], v["time"], segment[kept], speed_mps=v["speed"], hdop=v["hdop"])
        return out.take(columns, clocks=Counter(dict(zip(STAMPS, counts, strict=True))))

    def _cells(self, start: Ints, span: Span) -> npt.NDArray[np.uint8]:
        """Shape (n, w): the bytes of one span of each point."""
        width = span.stop - span.start
        if not width:
            return np.empty((len(start), 0), dtype=np.uint8)
        # Windows that begin at every byte, so that one look-up copies whole cells.
        windows = np.ndarray((len(self._data) - width + 1,), f"V{width}", self._data, strides=(1,))
        return windows[start + span.start].view(np.uint8).reshape(-1, width)
