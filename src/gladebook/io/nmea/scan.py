"""NMEA logs of many sentences, read together: the plain ones at once, the rest one by one.

A sentence is plain where its cells are figures, letters or empty, and nothing in it calls for a second look. Its
cells are found by its commas; figures of one width with the dot in one place are read together
(`gladebook.io.digits`). What comes out is what `gladebook.io.nmea.found.read_slowly` finds.
"""

from typing import NamedTuple

import numpy as np

from gladebook.io.nmea.cells import Bools, Cells, Ints
from gladebook.io.nmea.found import Columns, Found
from gladebook.io.nmea.log import Log
from gladebook.io.nmea.sentence import GGA, KINDS, LONGEST, NOISE, RMC, VTG, WRONG_CHECKSUM, ZDA

__all__ = ["scan"]

_DOLLAR, _END, _COMMA, _STAR, _NOISE = range(1, 6)
_MARKS = bytes(
    {36: _DOLLAR, 10: _END, 13: _END, 44: _COMMA, 42: _STAR}.get(b, 0 if 32 <= b < 127 or b == 9 else _NOISE)
    for b in range(256)
)
_HEX = np.array([int(chr(b), 16) if chr(b) in "0123456789abcdefABCDEF" else 255 for b in range(256)], dtype=np.uint8)
_CAPITAL = np.array([65 <= b <= 90 for b in range(256)])
_NAMING = np.array([65 <= b <= 90 or 48 <= b <= 57 for b in range(256)])
_SHORTEST_NAME, _LONGEST_NAME, _USED_NAME = 3, 12, 5


class _Pieces(NamedTuple):
    """Texts from one ``$`` to the next, or to the line's end; all of shape (n,).

    Attributes
    ----------
    first, body_mark, last : marks of the ``$``, of the end of what the checksum covers, and of the piece's end.
    start, body_stop, stop : the bytes at which those stand.
    bare : whether it has no checksum.
    """

    first: Ints
    body_mark: Ints
    last: Ints
    start: Ints
    body_stop: Ints
    stop: Ints
    bare: Bools

    def of(self, rows: Ints | Bools) -> "_Pieces":
        return _Pieces._make(column[rows] for column in self)


def scan(log: Log) -> Found:
    """Find all readings of a log, and what is left out."""
    found = Found()
    for start, chunk in log.chunks():
        if b"$" in chunk:
            _Chunk(chunk, start=start, found=found).read()
        else:
            found.between(chunk, at=start, leads=False)
        found.end_chunk()
    return found


class _Chunk:
    """Some lines of the file."""

    def __init__(self, chunk: bytes, *, start: int, found: Found) -> None:
        self._chunk = chunk
        self._start = start
        self._found = found
        self._bytes = np.frombuffer(chunk, dtype=np.uint8)
        # The end of the chunk is a line's end too.
        classes = np.frombuffer(chunk.translate(_MARKS) + bytes((_END,)), dtype=np.uint8)
        self._at = np.flatnonzero(classes != 0)
        self._kind = classes[self._at]
        self._ends = np.flatnonzero(self._kind == _END)
        self._noise = np.flatnonzero(self._kind == _NOISE)

    def read(self) -> None:
        """Read all sentences, and count what stands between them."""
        pieces = self._pieces()
        self._between(pieces)
        blank = pieces.bare & np.isin(self._bytes[pieces.stop - 1], (9, 32))
        self._slowly(pieces.of(blank))
        pieces = pieces.of(~blank)
        good = self._named(pieces)
        self._leave_out(NOISE, pieces.of(~good))
        pieces = pieces.of(good)
        right = pieces.bare.copy()
        right[~pieces.bare] = self._right(pieces.of(~pieces.bare))
        self._leave_out(WRONG_CHECKSUM, pieces.of(~right))
        self._sentences(pieces.of(right))

    def _noisy(self, first: Ints, last: Ints) -> Bools:
        """Whether there is noise between marks, the second of which is none."""
        if not len(self._noise):
            return np.zeros(len(first), dtype=bool)
        noisy: Bools = np.searchsorted(self._noise, first) < np.searchsorted(self._noise, last)
        return noisy

    def _pieces(self) -> _Pieces:
        first = np.flatnonzero(self._kind == _DOLLAR)
        ends = np.flatnonzero((self._kind == _DOLLAR) | (self._kind == _END))
        last = ends[np.searchsorted(ends, first) + 1]
        stars = np.append(np.flatnonzero(self._kind == _STAR), len(self._kind))
        star = stars[np.searchsorted(stars, first)]
        body_mark = np.minimum(star, last)
        at = self._at
        return _Pieces(first, body_mark, last, at[first], at[body_mark], at[last], star > last)

    def _between(self, pieces: _Pieces) -> None:
        """Count what stands between pieces; line ends alone, and then clean text before a ``$``, are no loss."""
        begin = np.concatenate(([0], pieces.stop))
        begin_mark = np.concatenate(([0], pieces.last))
        stop = np.append(pieces.start, len(self._chunk))
        stop_mark = np.append(pieces.first, len(self._kind) - 1)
        from_end = np.searchsorted(self._ends, begin_mark)
        ends = np.searchsorted(self._ends, stop_mark) - from_end
        final = self._ends[np.maximum(from_end + ends - 1, 0)]
        in_row = (final == begin_mark + ends - 1) & (self._at[final] == begin + ends - 1)
        plain = ((ends == 0) | in_row) & ~self._noisy(begin_mark, stop_mark)
        plain[-1] = ends[-1] == stop[-1] - begin[-1]
        for i in np.flatnonzero(~plain).tolist():
            text = self._chunk[begin[i] : stop[i]]
            self._found.between(text, at=self._start + int(begin[i]), leads=i < len(pieces.start))

    def _named(self, pieces: _Pieces) -> Bools:
        """Whether each has an address, and nothing but text up to its checksum."""
        size = self._at[pieces.first + 1] - pieces.start - 1
        good = (size >= _SHORTEST_NAME) & (size <= _LONGEST_NAME)
        good &= pieces.body_stop - pieces.start - 1 <= LONGEST
        good &= ~self._noisy(pieces.first, pieces.body_mark)
        good &= _CAPITAL[self._bytes[np.minimum(pieces.start + 1, len(self._bytes) - 1)]]
        for width in np.flatnonzero(np.bincount(size[good])).tolist():
            rows = np.flatnonzero(good & (size == width))
            letters = np.stack([self._bytes[pieces.start[rows] + 1 + i] for i in range(width)])
            good[rows] = _NAMING[letters].all(axis=0)
        return good

    def _right(self, pieces: _Pieces) -> Bools:
        """Whether the checksum is there, and right."""
        if not len(pieces.start):
            return np.empty(0, dtype=bool)
        ends = np.column_stack([pieces.start + 1, pieces.body_stop]).ravel()
        found = np.bitwise_xor.reduceat(self._bytes, ends)[::2]
        last = len(self._bytes) - 1
        high, low = (_HEX[self._bytes[np.minimum(pieces.body_stop + i, last)]] for i in (1, 2))
        there = (pieces.stop - pieces.body_stop > 2) & (high < 16) & (low < 16)
        right: Bools = there & (high * np.uint8(16) + low == found)
        return right

    def _sentences(self, pieces: _Pieces) -> None:
        """Read good sentences, by kind."""
        size = self._at[pieces.first + 1] - pieces.start - 1
        letters = self._bytes
        usual = (size == _USED_NAME) & (letters[pieces.start + 1] != ord("P"))
        key = np.zeros(len(size), dtype=np.int64)
        for i in range(1, _SHORTEST_NAME + 1):
            # The last three letters; of a longer or shorter address they are not looked at.
            key = key * 256 + letters[np.minimum(pieces.start + _USED_NAME - _SHORTEST_NAME + i, len(letters) - 1)]
        kind = np.full(len(size), -1)
        for number, name in enumerate(KINDS):
            kind[usual & (key == int.from_bytes(name, "big"))] = number
        self._others(pieces.of(kind < 0), size=size[kind < 0])
        for number in (RMC, GGA, VTG, ZDA):
            some = pieces.of(kind == number)
            if len(some.start):
                self._kind_of(some, number)

    def _others(self, pieces: _Pieces, *, size: Ints) -> None:
        """Count sentences of other kinds by their addresses."""
        self._noise_after(pieces)
        for width in np.flatnonzero(np.bincount(size)).tolist():
            start = pieces.start[size == width]
            names = np.stack([self._bytes[start + 1 + i] for i in range(width)], axis=1)
            for name, count in zip(*np.unique(names.view(f"S{width}"), return_counts=True), strict=True):
                self._found.others[bytes(name)] += int(count)

    def _kind_of(self, pieces: _Pieces, kind: int) -> None:
        cells = Cells(self._chunk, marks=self._at, first=pieces.first, commas=pieces.body_mark - pieces.first - 1)
        plain, says, read = cells.read(kind, bare=pieces.bare)
        some = pieces.of(plain)
        self._noise_after(some)
        self._found.bare += int(some.bare.sum())
        at = pieces.start[says] + self._start
        kinds = np.full(len(at), kind, dtype=np.int8)
        self._found.many(Columns._make((at, kinds, *(column[says] for column in read))))
        self._slowly(pieces.of(~plain))

    def _noise_after(self, pieces: _Pieces) -> None:
        """Count noise between a checksum and the next line or ``$``."""
        self._leave_out(NOISE, pieces.of(self._noisy(pieces.body_mark, pieces.last)))

    def _leave_out(self, why: str, pieces: _Pieces) -> None:
        self._found.leave_out(why, pieces.start + self._start)

    def _slowly(self, pieces: _Pieces) -> None:
        for start, stop in zip(pieces.start.tolist(), pieces.stop.tolist(), strict=True):
            self._found.sentence(self._chunk[start:stop], at=self._start + start)
