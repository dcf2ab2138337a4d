"""Shapefiles, each in a zip: areas for each kind, and all tracks as lines.

By the published technical description of July 1998 (.shp, .shx) and the dBASE III layout that it names (.dbf):
lengths and places are in 16-bit words, big-endian; outer rings run clockwise, holes the other way; a field has a name
of at most 10 letters and at most 254 bytes of text. Letters are UTF-8, as the .cpg says; coordinates are longitude and
latitude on WGS 84, as the .prj says. No day of writing is stated.
"""

import io
import struct
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from gladebook.io.export.held import Held, Texts, counted, pieces_of, polygons_of, put, single_points_left_out

__all__ = ["write"]

_LINES, _AREAS = 3, 5
_PRJ = (
    'GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],'
    'PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]'
)
_NAME_BYTES, _TEXT_BYTES, _FIGURE_BYTES, _DECIMALS = 10, 254, 24, 15
_FIRST_DAY = (1980, 1, 1, 0, 0, 0)
_UNIX, _READABLE = 3, 0o644 << 16
Row = tuple[list[Any], Mapping[str, Any]]


@dataclass
class _Lost:
    """What fields could not hold."""

    texts: Texts = field(default_factory=Texts)
    names: dict[str, str] = field(default_factory=dict)
    cut: int = 0

    def said(self) -> list[str]:
        said = self.texts.said("A shapefile")
        if self.names:
            pairs = ", ".join(f"{long} is {short}" for long, short in self.names.items())
            said.append(f"A shapefile's fields have names of at most 10 letters: {pairs}.")
        if self.cut:
            said.append(f"A shapefile holds texts of at most 254 bytes: {counted(self.cut, 'text')} cut.")
        return said


def write(held: Held, folder: Path) -> list[str]:
    """Write all files, and say what they cannot hold."""
    lost = _Lost()
    for layer in held.layers:
        rows = [(_rings(a.shape), {"name": a.name, **a.fields}) for a in layer.areas]
        put(folder, f"{layer.kind}.zip", _zipped(layer.kind, rows, kind=_AREAS, lost=lost))
    lines: list[Row] = []
    for track in held.tracks:
        xy = np.column_stack([track.track.lon_deg, track.track.lat_deg])
        parts = [xy[piece] for piece in pieces_of(track.track) if len(piece) > 1]
        fields = {"name": track.file, "work": track.application, "day": track.day, "file": track.track.name}
        if parts:
            lines.append((parts, fields))
    if lines:
        put(folder, "tracks.zip", _zipped("tracks", lines, kind=_LINES, lost=lost))
    said = single_points_left_out(held.tracks, format_name="A shapefile")
    if held.tracks:
        said.append(
            f"A shapefile holds tracks as lines: times, speeds, boom states and widths of "
            f"{counted(len(held.tracks), 'track')} are left out. CSV holds them."
        )
    return [*lost.said(), *said]


def _zipped(name: str, rows: Sequence[Row], *, kind: int, lost: _Lost) -> bytes:
    shp, shx = _shapes(rows, kind=kind)
    files = {"shp": shp, "shx": shx, "dbf": _fields(rows, lost), "prj": _PRJ.encode(), "cpg": b"UTF-8"}
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as zipped:
        for suffix, data in files.items():
            entry = zipfile.ZipInfo(f"{name}.{suffix}", _FIRST_DAY)
            entry.compress_type, entry.create_system, entry.external_attr = zipfile.ZIP_DEFLATED, _UNIX, _READABLE
            zipped.writestr(entry, data)
    return out.getvalue()


def _rings(shape: Any) -> list[Any]:
    parts = shapely.orient_polygons(polygons_of(shape), exterior_cw=True)
    return [shapely.get_coordinates(ring) for part in parts for ring in (part.exterior, *part.interiors)]


def _shapes(rows: Sequence[Row], *, kind: int) -> tuple[bytes, bytes]:
    """The shapes, and where each of them stands."""
    records, places, at = [], [], 50
    for number, (parts, _) in enumerate(rows, start=1):
        corners = np.vstack(parts)
        starts = np.cumsum([0, *(len(part) for part in parts[:-1])])
        body = struct.pack("<i4d2i", kind, *corners.min(axis=0), *corners.max(axis=0), len(parts), len(corners))
        body += starts.astype("<i4").tobytes() + corners.astype("<f8").tobytes()
        records.append(struct.pack(">2i", number, len(body) // 2) + body)
        places.append(struct.pack(">2i", at, len(body) // 2))
        at += len(records[-1]) // 2
    every = np.vstack([part for parts, _ in rows for part in parts])
    box = struct.pack("<2i8d", 1000, kind, *every.min(axis=0), *every.max(axis=0), 0, 0, 0, 0)
    files = []
    for entries in (records, places):
        data = b"".join(entries)
        files.append(struct.pack(">7i", 9994, 0, 0, 0, 0, 0, 50 + len(data) // 2) + box + data)
    return files[0], files[1]


def _fields(rows: Sequence[Row], lost: _Lost) -> bytes:
    """The table of fields."""
    names = list(dict.fromkeys(key for _, fields in rows for key in fields))
    heads, columns = [], []
    taken: set[str] = set()
    for name in names:
        short = _short(name, taken)
        if short != name:
            lost.names[name] = short
        letter, width, decimals, cells = _column([fields.get(name) for _, fields in rows], lost)
        heads.append(struct.pack("<11sc4xBB14x", short.encode(), letter, width, decimals))
        columns.append(cells)
    head_bytes = 32 + 32 * len(heads) + 1
    row_bytes = 1 + sum(len(cells[0]) for cells in columns)
    head = struct.pack("<B3BIHH20x", 3, 80, 1, 1, len(rows), head_bytes, row_bytes)
    body = b"".join(b" " + b"".join(cells) for cells in zip(*columns, strict=True))
    return head + b"".join(heads) + b"\r" + body + b"\x1a"


def _short(name: str, taken: set[str]) -> str:
    """A name of at most ten letters that no other field has."""
    plain = "".join(c if c.isascii() and (c.isalnum() or c == "_") else "_" for c in name) or "field"
    short, number = plain[:_NAME_BYTES], 1
    while short.lower() in taken:
        number += 1
        short = f"{plain[: _NAME_BYTES - len(str(number)) - 1]}_{number}"
    taken.add(short.lower())
    return short


def _column(values: list[Any], lost: _Lost) -> tuple[bytes, int, int, list[bytes]]:
    """A column's letter, width and decimals, and its cells, all of that width."""
    known = [value for value in values if value is not None]
    if known and all(isinstance(v, int) for v in known):
        texts = ["" if v is None else str(int(v)) for v in values]
        width = max(map(len, texts))
        if width <= 18:  # beyond this some programs turn them into decimals
            return b"N", width, 0, [text.rjust(width).encode() for text in texts]
    elif known and all(isinstance(v, int | float) for v in known):
        texts = ["" if v is None else _figure(float(v)) for v in values]
        return b"N", _FIGURE_BYTES, _DECIMALS, [text.rjust(_FIGURE_BYTES).encode() for text in texts]
    cells = [_cut("" if v is None else str(v), lost) for v in values]
    width = max(1, *map(len, cells)) if cells else 1
    return b"C", width, 0, [cell.ljust(width) for cell in cells]


def _figure(value: float) -> str:
    text = f"{value:.{_DECIMALS}f}"
    return text if len(text) <= _FIGURE_BYTES else f"{value:.16e}"


def _cut(text: str, lost: _Lost) -> bytes:
    data = lost.texts.fit(text).encode()
    if len(data) <= _TEXT_BYTES:
        return data
    lost.cut += 1
    return data[:_TEXT_BYTES].decode(errors="ignore").encode()
