"""How the letters of a text file are coded: UTF-8, UTF-16, and for tables Windows-1252 where UTF-8 fails."""

import codecs
import io
from collections.abc import Iterable

from gladebook.errors import UnreadableFile

__all__ = ["coding_of", "head_text", "lines_of", "table_coding", "text_of"]

_UTF16_MARKS = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_LOOK = 400  # bytes
_STEP = 1_000_000
_NOT_IN_1252 = (0x81, 0x8D, 0x8F, 0x90, 0x9D)


def coding_of(head: bytes) -> str:
    """UTF-8 or UTF-16, by the mark at the start or by every second byte of plain letters being nought."""
    if head.startswith(_UTF16_MARKS):
        return "utf-16"
    even, odd = head[0:_LOOK:2].count(0), head[1:_LOOK:2].count(0)
    letters = min(len(head), _LOOK) // 2
    if letters >= 4 and max(even, odd) >= 0.8 * letters and min(even, odd) == 0:
        return "utf-16-le" if odd else "utf-16-be"
    return "utf-8-sig"


def text_of(data: bytes, *, source: str) -> str:
    """A whole file as text in UTF-8 or UTF-16; `source` is its name for messages.

    Raises
    ------
    UnreadableFile
        Where it is neither.
    """
    try:
        return data.decode(coding_of(data))
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise UnreadableFile(f"{source}: line {line} is not UTF-8 text. Save the file as UTF-8.") from None


def head_text(head: bytes) -> str | None:
    """The start of a file as text; None where it is binary."""
    coding = coding_of(head)
    if coding == "utf-8-sig" and b"\x00" in head:
        return None
    return head[: len(head) // 2 * 2 if coding != "utf-8-sig" else None].decode(coding, errors="replace")


def table_coding(data: bytes) -> tuple[str, str]:
    """The code of a table's letters, and what was assumed about it as a sentence.

    Raises
    ------
    UnicodeError
        Where it is none of them.
    """
    coding = coding_of(data[:_LOOK])
    decoder = codecs.getincrementaldecoder(coding)()
    try:
        for at in range(0, len(data), _STEP):
            decoder.decode(data[at : at + _STEP], final=at + _STEP >= len(data))
    except UnicodeDecodeError:
        if coding != "utf-8-sig" or any(bytes([code]) in data for code in _NOT_IN_1252):
            raise
        return "windows-1252", "is not UTF-8; it was read as Windows-1252, so check names that have accents."
    return coding, ""


def lines_of(data: bytes, coding: str) -> Iterable[str]:
    """Lines with their ends, decoded as they are asked for: a long recording is never there twice."""
    return io.TextIOWrapper(io.BytesIO(data), encoding=coding, newline="")
