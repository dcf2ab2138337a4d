"""The bytes of an NMEA log, gone through in parts, so that a log of any length takes little memory."""

import io
import re
from collections.abc import Iterable, Iterator

from gladebook.io.blocks import BLOCK, Data, as_file, blocks

__all__ = ["Log", "is_nmea"]

_HEAD = re.compile(rb"\$(?:[A-OQ-Z][A-Z0-9][A-Z]{3}|P[A-Z0-9]{3,11}),")
_UTF8, _UTF16 = b"\xef\xbb\xbf", (b"\xff\xfe", b"\xfe\xff")
_CHUNK = BLOCK


def is_nmea(head: bytes) -> bool:
    """Whether some bytes, as a rule a file's first, hold the beginning of an NMEA sentence."""
    return _HEAD.search(_plain(head)) is not None


class Log:
    """A log; bytes are counted from its first one that is no mark.

    Parameters
    ----------
    data
        The file. One in UTF-16, as a console may have saved it, is held whole.
    """

    def __init__(self, data: Data) -> None:
        file = as_file(data)
        file.seek(0)
        head = file.read(len(_UTF8))
        if head.startswith(_UTF16):
            file = io.BytesIO(_plain(head + file.read()))
        self._file = file
        self._start = len(_UTF8) if head == _UTF8 else 0
        self._end = b"\r"

    def chunks(self) -> Iterator[tuple[int, bytes]]:
        """Parts that end with a line, or before a ``$`` where lines are endless, and where they begin."""
        at, held = 0, b""
        parts = blocks(self._file, start=self._start, size=_CHUNK)
        for part in parts:
            held += part
            while len(held) > _CHUNK:
                ends = (held.rfind(end, 0, _CHUNK) + 1 for end in (b"\n", b"\r"))
                stop = next((end for end in ends if end), 0) or max(held.rfind(b"$", 1, _CHUNK), 0) or _CHUNK
                yield at, self._seen(held[:stop])
                at, held = at + stop, held[stop:]
        if held:
            yield at, self._seen(held)

    def line_numbers(self, places: Iterable[int]) -> dict[int, int]:
        """The lines, counted from 1, in which some bytes stand; asked for once all chunks were gone through."""
        numbers: dict[int, int] = {}
        wanted = sorted(places, reverse=True)
        start, line = 0, 1
        parts = blocks(self._file, start=self._start)
        while wanted:
            block, at = next(parts), 0
            while wanted and wanted[-1] - start < len(block):
                place = wanted.pop()
                line += block.count(self._end, at, place - start)
                numbers[place], at = line, place - start
            line += block.count(self._end, at)
            start += len(block)
        return numbers

    def _seen(self, chunk: bytes) -> bytes:
        if b"\n" in chunk:
            self._end = b"\n"
        return chunk


def _plain(data: bytes) -> bytes:
    """The bytes as sentences are made of."""
    if data.startswith(_UTF16) and _HEAD.search(data) is None:
        return data.decode("utf-16", errors="replace").encode("ascii", errors="replace")
    return data.removeprefix(_UTF8)
