"""What an NMEA log holds: readings in the file's order, and what was left out, counted, with the first places."""

import re
from collections import Counter
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from gladebook.io.nmea.log import Log
from gladebook.io.nmea.sentence import DAMAGED, NOISE, Reading, has_noise, read_sentence

__all__ = ["SHIPS", "TEXT", "Columns", "Found", "read_slowly"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

TEXT = "lines of other text"
SHIPS = "ship reports, whose lines begin with !"
_SHOWN = 3  # places that are named of each kind of thing left out
_PIECE = re.compile(rb"\$[^$\r\n]*")
_LINE = re.compile(rb"[^\r\n]+")
_BLANK = b" \t"


class Columns(NamedTuple):
    """Readings as columns; see `gladebook.io.nmea.sentence.Reading`. ``at`` is the byte at which each begins."""

    at: Ints
    kind: npt.NDArray[np.int8]
    time_us: Ints
    lat_deg: Floats
    lon_deg: Floats
    value: Floats
    quality: npt.NDArray[np.int8]
    day: npt.NDArray[np.int32]


_TYPES: tuple[np.dtype[Any], ...] = tuple(np.dtype(t) for t in ("i8", "i1", "i8", "f8", "f8", "f8", "i1", "i4"))


class Found:
    """Collects readings and counts, chunk by chunk.

    Attributes
    ----------
    counts : how many of each kind of thing left out.
    first : the first bytes of some of each, in order.
    others : addresses of sentences that are not used, counted.
    bare : sentences used that have no checksum.
    """

    def __init__(self) -> None:
        self.counts: Counter[str] = Counter()
        self.first: dict[str, list[int]] = {}
        self.others: Counter[bytes] = Counter()
        self.bare = 0
        self._rows: list[tuple[int, Reading]] = []
        self._fast: list[Columns] = []
        self._blocks = [bytearray() for _ in Columns._fields]  # which grow in place, where lists of arrays would not

    def leave_out(self, why: str, places: Sequence[int] | Ints) -> None:
        """Count things left out, by the bytes at which they begin, in order."""
        if not len(places):
            return
        self.counts[why] += len(places)
        first = self.first.setdefault(why, [])
        if len(first) < _SHOWN or places[0] < first[-1]:
            first[:] = sorted([*first, *(int(at) for at in places[:_SHOWN])])[:_SHOWN]

    def sentence(self, text: bytes, *, at: int) -> None:
        """Read one sentence, from its ``$`` on, exactly."""
        made = read_sentence(text)
        for fault in made.faults:
            self.leave_out(fault, (at,))
        if made.address:
            self.others[made.address] += 1
        if made.bare and DAMAGED not in made.faults:
            self.bare += 1
        if made.reading is not None:
            self._rows.append((at, made.reading))

    def between(self, text: bytes, *, at: int, leads: bool) -> None:
        """Count what stands between sentences, line by line; where it `leads` to a ``$``, its last line is no loss."""
        for found in _LINE.finditer(text):
            line = found[0].strip(_BLANK)
            if not line:
                continue
            if has_noise(line):
                self.leave_out(NOISE, (at + found.start(),))
            elif not (leads and found.end() == len(text)):
                self.leave_out(SHIPS if line.startswith(b"!") else TEXT, (at + found.start(),))

    def many(self, columns: Columns) -> None:
        """Take readings of the present chunk that were made together."""
        self._fast.append(columns)

    def end_chunk(self) -> None:
        """Put the readings of the present chunk in the file's order."""
        parts = self._fast
        if self._rows:
            cells = zip(*((at, *reading) for at, reading in self._rows), strict=True)
            slow = [np.array(cell, dtype=kind) for cell, kind in zip(cells, _TYPES, strict=True)]
            parts = [*parts, Columns._make(slow)]
        if parts:
            order = np.argsort(np.concatenate([part.at for part in parts]), kind="stable")
            for block, *columns in zip(self._blocks, *parts, strict=True):
                block.extend(np.concatenate(columns)[order].tobytes())
        self._rows, self._fast = [], []

    def finish(self) -> Columns:
        """All readings, in the file's order; nothing is kept here."""
        blocks, self._blocks = self._blocks, []
        return Columns._make(np.frombuffer(b, dtype=kind) for b, kind in zip(blocks, _TYPES, strict=True))


def read_slowly(log: Log) -> Found:
    """Read sentence by sentence; `gladebook.io.nmea.scan.scan` finds the same, sooner."""
    found = Found()
    for start, chunk in log.chunks():
        at = 0
        for piece in _PIECE.finditer(chunk):
            found.between(chunk[at : piece.start()], at=start + at, leads=True)
            found.sentence(piece[0], at=start + piece.start())
            at = piece.end()
        found.between(chunk[at:], at=start + at, leads=False)
        found.end_chunk()
    return found
