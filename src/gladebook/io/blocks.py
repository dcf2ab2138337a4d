"""Bytes or an open file: readers that go through a file in blocks take either."""

import io
from collections.abc import Iterator
from typing import BinaryIO

__all__ = ["BLOCK", "Data", "as_file", "blocks", "whole"]

Data = bytes | BinaryIO
BLOCK = 2_000_000  # bytes at a time: larger ones leave the processor's cache


def as_file(data: Data) -> BinaryIO:
    """A file that can be gone to and fro in; of bytes, no copy is made."""
    return io.BytesIO(data) if isinstance(data, bytes) else data


def whole(data: Data) -> bytes:
    """All of it."""
    if isinstance(data, bytes):
        return data
    data.seek(0)
    return data.read()


def blocks(file: BinaryIO, *, start: int = 0, size: int = BLOCK) -> Iterator[bytes]:
    """Parts of a file from a byte on, in its order, none of them empty."""
    file.seek(start)
    while block := file.read(size):
        yield block
