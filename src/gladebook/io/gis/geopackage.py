"""GeoPackage (OGC 12-128), read through sqlite3 alone.

A GeoPackage may be open elsewhere in this process; any other way of opening it would drop
SQLite's locks on it. A property file is read as any other, its plots as they are now where no
layer is chosen, over the kind of connection that is its own. A shape is a short header, then
well-known binary with x before y whatever the coordinate system says (clause 2.1.3).
"""

import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import quote

from pyproj import CRS
from pyproj.exceptions import CRSError

from gladebook.errors import UnreadableFile
from gladebook.io.gis.wkb import CURVED, mended_notes, shape_from_wkb
from gladebook.io.kinds import property_at
from gladebook.io.layers import LayerFound, kind_from
from gladebook.io.limits import Limits, beyond
from gladebook.io.property.blobs import ENVELOPE_BYTES
from gladebook.io.property.open import connected
from gladebook.io.rows import Row, Rows
from gladebook.notes import Note

__all__ = ["layers_in", "read_rows"]

_AT_ONCE = 1_000
_OF_PROPERTY = "plots"


def read_rows(path: Path, *, source: str, layer: str | None = None, limits: Limits) -> Rows:
    """Read the features of the layer that holds areas.

    Parameters
    ----------
    path
        The file.
    source
        The name for messages: the file's own, or that of the zip it came in.
    layer
        The layer to read, where several may hold areas.
    limits
        How much it may hold.

    Raises
    ------
    UnreadableFile
        Where the file is broken, holds no such layer, or several and `layer` chooses none.
    """
    kept = property_at(path)
    with _checked(path, source=source, kept=kept) as base:
        return _read(source, base, layer=_OF_PROPERTY if kept and layer is None else layer, limits=limits)


def layers_in(path: Path, *, source: str, limits: Limits) -> list[LayerFound]:
    """The layers of shapes, by what their columns may hold, with how many rows each has.

    Raises
    ------
    UnreadableFile
        Where the file is broken.
    """
    found: list[LayerFound] = []
    with _checked(path, source=source, kept=property_at(path)) as base:
        for table, _, kind, _ in _tables(base)[: limits.layers]:
            rows = f"SELECT 1 FROM {_quoted(table)} LIMIT {limits.rows + 1}"  # noqa: S608 - quoted; a number
            (count,) = base.execute(f"SELECT count(*) FROM ({rows})").fetchone()  # noqa: S608 - as above
            found.append(LayerFound(str(table), kind_from(str(kind)), count))
    return found


@contextmanager
def _checked(path: Path, *, source: str, kept: bool) -> Iterator[sqlite3.Connection]:
    """A read-only connection to a whole file; `kept` where it is a property file."""
    if kept:
        with connected(path, write=False) as base:
            yield base
        return
    try:
        with closing(sqlite3.connect(f"file:{quote(str(path.resolve()))}?mode=ro", uri=True)) as base:
            check = base.execute("PRAGMA quick_check(1)").fetchone()
            pages, page_size = (base.execute(f"PRAGMA {p}").fetchone()[0] for p in ("page_count", "page_size"))
            # Asking for the size opens nothing, so it is safe on a live file.
            if check is None or check[0] != "ok" or path.stat().st_size < pages * page_size:
                raise sqlite3.DatabaseError
            yield base
    except (sqlite3.Error, UnicodeDecodeError, OverflowError):
        raise UnreadableFile(
            f"{source}: it cannot be read as GeoPackage; it is broken or cut short. Copy or export it again."
        ) from None


def _tables(base: sqlite3.Connection) -> list[tuple[Any, ...]]:
    """Names of tables of shapes, their columns of shapes, the kinds of these, and their systems."""
    return base.execute(
        "SELECT c.table_name, g.column_name, g.geometry_type_name, g.srs_id FROM gpkg_contents c "
        "JOIN gpkg_geometry_columns g ON g.table_name = c.table_name WHERE c.data_type = 'features' ORDER BY c.rowid"
    ).fetchall()


def _read(source: str, base: sqlite3.Connection, *, layer: str | None, limits: Limits) -> Rows:
    tables = _tables(base)
    names = [str(t[0]) for t in tables]
    if len(names) > limits.layers:
        raise _too_much(source, f"has {len(names):,} layers, and at most {limits.layers:,} are read", "layers", limits)
    if layer is not None and layer not in names:
        raise UnreadableFile(f'{source}: has no layer "{layer}". Its layers: {", ".join(names[:20]) or "none"}.')
    areas = [t for t in tables if kind_from(str(t[2])) == "boundaries"] or tables
    kept = areas if layer is None else [t for t in tables if t[0] == layer]
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
    notes: list[Note] = []
    found = _all_rows(source, cursor, limits=limits)
    shapes = [_shape(values[place], nesting=limits.nesting) for values in found]
    if any(fault == CURVED for _, fault, _ in shapes):
        straight = _straightened(base, str(table))
        if len(straight) == len(shapes):
            shapes = [new if old[1] == CURVED else old for old, new in zip(shapes, straight, strict=True)]
            notes.append(Note("read", source, "round edges made of arcs were read as short straight sides."))
    notes += mended_notes((mended for _, _, mended in shapes), source=source)
    for values, (shape, fault, _) in zip(found, shapes, strict=True):
        rows.append(
            Row({f: v for i, (f, v) in enumerate(zip(fields, values, strict=True)) if i != place}, shape, fault=fault)
        )
    return Rows(source=source, rows=tuple(rows), crs=_crs(base, srs_id), notes=tuple(notes))


def _all_rows(source: str, cursor: sqlite3.Cursor, *, limits: Limits) -> list[tuple[Any, ...]]:
    """The rows of a layer. It may be a view, which can give more rows, and longer ones, than the file has bytes."""
    found: list[tuple[Any, ...]] = []
    held_bytes = 0
    while part := cursor.fetchmany(min(_AT_ONCE, limits.rows + 1)):
        found += part
        held_bytes += sum(len(value) for values in part for value in values if isinstance(value, str | bytes))
        if len(found) > limits.rows:
            raise _too_much(source, f"has more than {limits.rows:,} rows in a layer", "rows", limits)
        if held_bytes > limits.file_bytes:
            raise _too_much(source, f"holds more than {limits.file_bytes / 1e9:g} GB in a layer", "file_bytes", limits)
    return found


def _too_much(source: str, holds: str, limit: str, limits: Limits) -> UnreadableFile:
    return beyond(source, holds, limit=limit, limits=limits, instead="Give the part that holds your plots")


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


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


def _shape(blob: Any, *, nesting: int) -> tuple[Any, str, str]:
    """The shape in a blob, why it cannot be used, and what was mended."""
    if blob is None:
        return None, "", ""
    if not isinstance(blob, bytes) or len(blob) < 8 or blob[:2] != b"GP":
        return None, "holds a shape that cannot be read. Draw or export it again.", ""
    flags = blob[3]
    code = (flags >> 1) & 7
    if flags & 0x10:  # the standard's flag for an empty shape
        return None, "", ""
    if code >= len(ENVELOPE_BYTES):
        return None, "holds a shape that cannot be read. Draw or export it again.", ""
    return shape_from_wkb(blob[8 + ENVELOPE_BYTES[code] :], nesting=nesting)


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
