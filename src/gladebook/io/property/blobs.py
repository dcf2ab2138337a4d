"""Shapes as GeoPackage stores them (OGC 12-128r18, clause 2.1.3), and the functions that its triggers ask for.

A shape is a header, "GP", version 0, flags, the number of the coordinate system and an envelope, then well-known
binary. Flags: bit 0 little-endian, bits 1 to 3 the kind of envelope, bit 4 empty. Clause 2.1.4.1 and Annex F.3 ask
for ST_IsEmpty, ST_MinX and the like in SQL.
"""

import sqlite3
import struct
from typing import Any

import shapely

from gladebook.errors import PropertyError

__all__ = ["ENVELOPE_BYTES", "SRS_ID", "add_functions", "bounds_of", "pack", "unpack"]

SRS_ID = 4326
_HEAD = struct.Struct("<2sBBi")
_BOX = struct.Struct("<4d")
_LITTLE, _BOX_XY, _EMPTY = 1, 1 << 1, 1 << 4
ENVELOPE_BYTES = (0, 32, 48, 48, 64)  # by the code in bits 1 to 3 of the flags


def pack(shape: Any) -> bytes:
    """Turn a shape in degrees into bytes."""
    body: bytes = shapely.to_wkb(shape, output_dimension=2, byte_order=1, include_srid=False)
    if shapely.is_empty(shape):
        return _HEAD.pack(b"GP", 0, _LITTLE | _EMPTY, SRS_ID) + body
    west, south, east, north = shapely.bounds(shape).tolist()
    return _HEAD.pack(b"GP", 0, _LITTLE | _BOX_XY, SRS_ID) + _BOX.pack(west, east, south, north) + body


def unpack(blob: bytes) -> Any:
    """Turn bytes into a shape.

    Raises
    ------
    PropertyError
        Where they are none.
    """
    try:
        return shapely.from_wkb(blob[_HEAD.size + ENVELOPE_BYTES[_envelope_kind(blob)] :])
    except shapely.errors.GEOSException as error:
        raise _unreadable(str(error)) from None


def _envelope_kind(blob: bytes) -> int:
    if not isinstance(blob, bytes) or len(blob) < _HEAD.size or blob[:2] != b"GP":
        raise _unreadable("it does not begin as one")
    kind = blob[3] >> 1 & 7
    if kind >= len(ENVELOPE_BYTES) or len(blob) < _HEAD.size + ENVELOPE_BYTES[kind]:
        raise _unreadable("it has no such envelope")
    return kind


def _unreadable(why: str) -> PropertyError:
    return PropertyError(f"The property holds a shape that cannot be read ({why}). Ask: gladebook property check")


def bounds_of(blob: bytes) -> tuple[float, float, float, float] | None:
    """West, south, east and north of a shape, None where it is empty; errors as `unpack` has them."""
    kind = _envelope_kind(blob)
    if blob[3] & _EMPTY:
        return None
    if kind == 1 and blob[3] & _LITTLE:
        west, east, south, north = _BOX.unpack_from(blob, _HEAD.size)
        return west, south, east, north
    shape = unpack(blob)
    if shapely.is_empty(shape):
        return None
    west, south, east, north = shapely.bounds(shape).tolist()
    return west, south, east, north


def add_functions(base: sqlite3.Connection) -> None:
    """Give a connection the functions that the triggers of spatial indexes ask for."""

    def side(number: int) -> Any:
        def of(blob: bytes | None) -> float | None:
            box = _box(blob)
            return None if box is None else box[number]

        return of

    for number, name in enumerate(("ST_MinX", "ST_MinY", "ST_MaxX", "ST_MaxY")):
        base.create_function(name, 1, side(number), deterministic=True)
    base.create_function(
        "ST_IsEmpty", 1, lambda blob: None if blob is None else int(_box(blob) is None), deterministic=True
    )


def _box(blob: bytes | None) -> tuple[float, float, float, float] | None:
    """As `bounds_of`; None also for what is no shape, so that a bad one can still be looked for, and removed."""
    try:
        return None if blob is None else bounds_of(blob)
    except PropertyError:
        return None
