"""GeoParquet (versions 1.0 and 1.1), where pyarrow is installed.

The file's own words, as JSON under ``geo``, say which column holds the shapes, how they are written, and in
which coordinate system: without one it is OGC:CRS84, with null nobody knows.
"""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from pyproj import CRS

from gladebook.errors import MissingExtra, UnreadableFile
from gladebook.io.gis.gdal import known_crs
from gladebook.io.gis.wkb import mended_notes, shapes_from_wkb
from gladebook.io.json.shapes import BadGeometry, shape_of
from gladebook.io.limits import Limits, beyond
from gladebook.io.rows import Row, Rows

__all__ = ["MAGIC", "read_rows"]

MAGIC = b"PAR1"
_BATCH = 1_000
_NATIVE = {
    name.lower(): name for name in ("Point", "LineString", "Polygon", "MultiPoint", "MultiLineString", "MultiPolygon")
}


def read_rows(path: Path, *, source: str, limits: Limits) -> Rows:
    """Read the features with their fields, in the file's order.

    Raises
    ------
    MissingExtra
        Where pyarrow is not installed.
    UnreadableFile
        Where the file is broken, cut short, or a table without shapes.
    """
    try:
        from pyarrow.parquet import ParquetFile
    except ImportError:
        raise MissingExtra(
            f"{source}: is GeoParquet, whose reader is not installed. "
            'Install it with python -m pip install "gladebook[parquet]", or export the file as GeoPackage.'
        ) from None
    refusal = UnreadableFile(f"{source}: is no whole GeoParquet; it is broken or cut short. Copy or export it again.")
    try:
        head = ParquetFile(path)
        about = _about(head.schema_arrow.metadata)
    except Exception:  # noqa: BLE001 - Arrow raises kinds of its own, and Python's
        raise refusal from None
    if about is None:
        raise UnreadableFile(f"{source}: is a table without shapes. Export it as GeoParquet, or as GeoPackage.")
    _check_size(head.metadata, source=source, limits=limits)
    column, encoding, crs, said = about
    try:
        rows = list(_rows(path, head, column=column, encoding=encoding, limits=limits))
    except _TooLarge:
        raise _too_large(source, limits=limits) from None
    except Exception:  # noqa: BLE001 - same
        raise refusal from None
    if len(rows) != head.metadata.num_rows:
        raise refusal
    notes = mended_notes((note for _, note in rows), source=source)
    return Rows(source=source, rows=tuple(row for row, _ in rows), crs=crs, notes=notes, crs_said=said)


class _TooLarge(Exception):  # noqa: N818 - never leaves this module
    """The shapes take more room than a file may unpack to."""


def _about(metadata: dict[bytes, bytes] | None) -> tuple[str, str, CRS | None, str] | None:
    """The column of shapes, its encoding in small letters, and its coordinate system; None where there is none."""
    if not metadata or b"geo" not in metadata:
        return None
    geo = json.loads(metadata[b"geo"])
    column = str(geo["primary_column"])
    told = geo["columns"][column]
    crs, said = CRS.from_user_input("OGC:CRS84"), ""
    if "crs" in told:
        text = told["crs"] if isinstance(told["crs"], str | None) else json.dumps(told["crs"])
        found = known_crs(text)
        said = "" if found else "says by crs = null that nobody knows its coordinate system"
        return column, str(told["encoding"]).lower(), found, said
    return column, str(told["encoding"]).lower(), crs, said


def _check_size(metadata: Any, *, source: str, limits: Limits) -> None:
    if metadata.num_rows > limits.rows:
        raise beyond(
            source,
            f"has {metadata.num_rows:,} rows, and at most {limits.rows:,} are read",
            limit="rows",
            limits=limits,
            instead="Give the part that holds your plots",
        )
    if sum(metadata.row_group(i).total_byte_size for i in range(metadata.num_row_groups)) > limits.unzip_bytes:
        raise _too_large(source, limits=limits)


def _too_large(source: str, *, limits: Limits) -> UnreadableFile:
    return beyond(
        source,
        f"would unpack to more than {limits.unzip_bytes / 1e9:g} GB",
        limit="unzip_bytes",
        limits=limits,
        instead="Give the part that holds your plots",
    )


def _rows(path: Path, head: Any, *, column: str, encoding: str, limits: Limits) -> Iterator[tuple[Row, str]]:
    """Rows and what was mended in each."""
    from pyarrow import types
    from pyarrow.parquet import ParquetFile

    schema = head.schema_arrow
    kinds = (types.is_string, types.is_large_string, types.is_binary, types.is_large_binary)
    texts = [f.name for f in schema if any(is_kind(f.type) for is_kind in kinds)]
    fields = [f.name for f in schema if f.name == column or not types.is_nested(f.type)]
    # One long text in many rows stays one text so.
    file = ParquetFile(path, read_dictionary=texts)
    total = 0
    for batch in file.iter_batches(batch_size=_BATCH, columns=fields):
        columns = {name: _values(batch.column(i)) for i, name in enumerate(batch.schema.names)}
        written = columns.pop(column)
        total += sum(len(value) for value in written if isinstance(value, bytes))
        if total > limits.unzip_bytes:
            raise _TooLarge
        shapes = (
            shapes_from_wkb(written, nesting=limits.nesting)
            if encoding == "wkb"
            else (_shape(value, encoding=encoding, limits=limits) for value in written)
        )
        for number, (shape, fault, note) in enumerate(shapes):
            yield Row({name: values[number] for name, values in columns.items()}, shape, fault=fault), note


def _values(array: Any) -> list[Any]:
    if hasattr(array, "dictionary"):
        words = array.dictionary.to_pylist()
        return [None if i is None else words[i] for i in array.indices.to_pylist()]
    values: list[Any] = array.to_pylist()
    return values


def _shape(value: Any, *, encoding: str, limits: Limits) -> tuple[Any, str, str]:
    if value is None:
        return None, "", ""
    try:
        return shape_of({"type": _NATIVE[encoding], "coordinates": _listed(value)}, nesting=limits.nesting), "", ""
    except BadGeometry as error:
        return None, str(error), ""


def _listed(value: Any) -> Any:
    """Corners as lists of two numbers, from structures of x and y."""
    if isinstance(value, dict):
        return [value["x"], value["y"]]
    return [_listed(part) for part in value]
