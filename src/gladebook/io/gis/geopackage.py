"""GeoPackage (OGC 12-128), read through sqlite3 alone.

A GeoPackage may be open elsewhere in this process; any other way of opening it would drop
SQLite's locks on it. A shape is a short header, then well-known binary with x before y whatever
the coordinate system says (clause 2.1.3).
"""

import sqlite3
import tempfile
from pathlib import Path
from typing import Any
from urllib.parse import quote

from pyproj import CRS
from pyproj.exceptions import CRSError

from gladebook.errors import UnreadableFile
from gladebook.io.rows import CURVED, Row, Rows, shape_from_wkb

__all__ = ["read_rows"]

_ENVELOPE_BYTES = (0, 32, 48, 48, 64)  # by the code in bits 1 to 3 of the flags


def read_rows(path: Path, *, source: str, layer: str | None = None) -> Rows:
    """Read the features of the layer that holds areas.

    Parameters
    ----------
    path
        The file.
    source
        The name for messages: the file's own, or that of the zip it came in.
    layer
        The layer to read, where several may hold areas.

    Raises
    ------
    UnreadableFile
        Where the file is broken, holds no such layer, or several and `layer` chooses none.
    """
    try:
        with _opened(path) as base:
            check = base.execute("PRAGMA quick_check(1)").fetchone()
            pages, page_size = (base.execute(f"PRAGMA {p}").fetchone()[0] for p in ("page_count", "page_size"))
            # Asking for the size opens nothing, so it is safe on a live file.
            if check is None or check[0] != "ok" or path.stat().st_size < pages * page_size:
                raise sqlite3.DatabaseError
            return _read(source, base, layer=layer)
    except (sqlite3.Error, UnicodeDecodeError, OverflowError):
        raise UnreadableFile(
            f"{source}: it cannot be read as GeoPackage; it is broken or cut short. Copy or export it again."
        ) from None


class _opened:  # noqa: N801 - used as a verb
    """A read-only connection, closed at the end."""

    def __init__(self, path: Path) -> None:
        self._base = sqlite3.connect(f"file:{quote(str(path.resolve()))}?mode=ro", uri=True)

    def __enter__(self) -> sqlite3.Connection:
        return self._base

    def __exit__(self, *_: object) -> None:
        self._base.close()


def _read(source: str, base: sqlite3.Connection, *, layer: str | None) -> Rows:
    tables = base.execute(
        "SELECT c.table_name, g.column_name, g.geometry_type_name, g.srs_id FROM gpkg_contents c "
        "JOIN gpkg_geometry_columns g ON g.table_name = c.table_name WHERE c.data_type = 'features' ORDER BY c.rowid"
    ).fetchall()
    names = [str(t[0]) for t in tables]
    if layer is not None and layer not in names:
        raise UnreadableFile(f'{source}: has no layer "{layer}". Its layers: {", ".join(names[:20]) or "none"}.')
    kept = [t for t in tables if t[0] == layer] if layer is not None else [t for t in tables if _may_hold_areas(t[2])]
    kept = kept or tables
    if not kept:
        raise UnreadableFile(
            f"{source}: holds no layer with shapes in it. Draw at least one plot, or pick another file."
        )
    if len(kept) > 1:
        raise UnreadableFile(
            f"{source}: has {len(kept)} layers that may hold areas ({', '.join(str(t[0]) for t in kept[:12])}). "
            "Choose with --layer."
        )
    table, column, _, srs_id = kept[0]
    cursor = base.execute(f"SELECT * FROM {_quoted(table)}")  # noqa: S608 - a name cannot be a parameter; it is quoted
    fields = [str(d[0]) for d in cursor.description]
    place = next((i for i, f in enumerate(fields) if f.lower() == str(column).lower()), None)
    if place is None:
        raise UnreadableFile(f'{source}: layer "{table}" lacks its column of shapes. Export it again.')
    rows: list[Row] = []
    notes: set[str] = set()
    found = cursor.fetchall()
    shapes = [_shape(values[place]) for values in found]
    if any(fault == CURVED for _, fault, _ in shapes):
        straight = _straightened(base, str(table))
        if len(straight) == len(shapes):
            shapes = [new if old[1] == CURVED else old for old, new in zip(shapes, straight, strict=True)]
            notes.add(f"{source}: round edges made of arcs were read as short straight sides.")
    for values, (shape, fault, note) in zip(found, shapes, strict=True):
        notes |= {f"{source}: {note}"} if note else set()
        rows.append(
            Row({f: v for i, (f, v) in enumerate(zip(fields, values, strict=True)) if i != place}, shape, fault=fault)
        )
    return Rows(source=source, rows=tuple(rows), crs=_crs(base, srs_id), notes=tuple(sorted(notes)))


def _straightened(base: sqlite3.Connection, table: str) -> list[tuple[Any, str, str]]:
    """A layer's shapes with arcs as short sides, by GDAL; it gets a copy, as a live file is not for it."""
    from pyogrio.raw import read

    with tempfile.TemporaryDirectory() as place:
        copy = f"{place}/copy.gpkg"
        base.execute("VACUUM INTO ?", (copy,))
        try:
            _, _, blobs, _ = read(copy, layer=table, columns=[])
        except Exception:  # noqa: BLE001 - GDAL's bindings raise many kinds, some of them by accident
            return []
    return [(None, "", "") if blob is None else shape_from_wkb(blob) for blob in blobs]


def _may_hold_areas(kind: Any) -> bool:
    return "POLYGON" in str(kind).upper() or "SURFACE" in str(kind).upper() or str(kind).upper().startswith("GEOM")


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


def _shape(blob: Any) -> tuple[Any, str, str]:
    """The shape in a blob, why it cannot be used, and what was mended."""
    if blob is None:
        return None, "", ""
    if not isinstance(blob, bytes) or len(blob) < 8 or blob[:2] != b"GP":
        return None, "holds a shape that cannot be read. Draw or export it again.", ""
    flags = blob[3]
    code = (flags >> 1) & 7
    if flags & 0x10:  # the standard's flag for an empty shape
        return None, "", ""
    if code >= len(_ENVELOPE_BYTES):
        return None, "holds a shape that cannot be read. Draw or export it again.", ""
    return shape_from_wkb(blob[8 + _ENVELOPE_BYTES[code] :])


def _crs(base: sqlite3.Connection, srs_id: Any) -> CRS | None:
    """The stated system; None for the standard's two undefined ones (0 and -1) and for what is not known."""
    row = base.execute(
        "SELECT organization, organization_coordsys_id, definition FROM gpkg_spatial_ref_sys WHERE srs_id = ?",
        (srs_id,),
    ).fetchone()
    if row is None or srs_id in (0, -1):
        return None
    organization, number, definition = row
    for text in (f"{organization}:{number}", str(definition)):
        try:
            return CRS.from_user_input(text)
        except (CRSError, UnicodeError):
            continue
    return None
