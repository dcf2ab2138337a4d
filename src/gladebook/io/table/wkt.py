"""Boundaries in tables: CSV with a column of well-known text (OGC 06-103r4).

Well-known text has no place for its coordinate system, and none is guessed: the call says it, or the cells
begin with ``SRID=4326;`` as the extended form has it.
"""

import re
import warnings
from collections.abc import Sequence
from itertools import islice
from pathlib import Path
from typing import Any

import shapely

from gladebook.errors import UnreadableFile
from gladebook.io.gis.gdal import known_crs
from gladebook.io.limits import Limits
from gladebook.io.rows import Row, Rows
from gladebook.io.table.text import open_table, wide_cells

__all__ = ["read_rows"]

_SAMPLE = 200
_AT_ONCE = 2_000
_SHAPE = re.compile(
    r"\s*(?:SRID=(?P<srid>[0-9]{1,9})\s*;\s*)?"
    r"(?P<wkt>(?:MULTI)?(?:POINT|LINESTRING|POLYGON|CURVE|SURFACE)|GEOMETRYCOLLECTION|CURVEPOLYGON|TRIANGLE)\b",
    re.IGNORECASE,
)
_COLLECTION = re.compile(r"COLLECTION", re.IGNORECASE)
_SAID = (
    "holds well-known text, which does not state its coordinate system (EPSG:4326 is longitude and latitude in degrees)"
)


def read_rows(*, data: bytes, source: str, limits: Limits) -> Rows:
    """Read the rows of a table with a column of well-known text.

    Raises
    ------
    UnreadableFile
        Where the table is broken, or has no such column.
    """
    with wide_cells(max(len(data), 1)):
        table = open_table(Path(source), data, known=lambda _: 0)
        rows = [row for row in islice(table.rows, _SAMPLE) if any(cell.strip() for cell in row[1])]
        place = _place(rows)
        if place is None:
            raise UnreadableFile(
                f"{source}: is a text or a table, which holds no boundary. Give GeoJSON, GeoPackage, shapefile, KML or "
                "GPX, or a table with a column of well-known text, POLYGON ((...))."
            )
        rows += [row for row in table.rows if any(cell.strip() for cell in row[1])]
    _check_rows(rows, source=source, width=len(table.heading))
    texts = [cells[place].strip() for _, cells in rows]
    shapes, faults = _shapes(texts, nesting=limits.nesting)
    made = tuple(
        Row(
            {
                name: cell
                for i, (name, cell) in enumerate(zip(table.heading, cells, strict=False))
                if i != place and name
            },
            shape,
            fault=fault,
        )
        for (_, cells), shape, fault in zip(rows, shapes, faults, strict=True)
    )
    crs, said = _crs(texts, source=source)
    return Rows(source=source, rows=made, crs=crs, notes=table.notes, crs_said=said)


def _place(rows: Sequence[tuple[int, list[str]]]) -> int | None:
    """The column whose cells are shapes, by the first of them that is one."""
    for _, cells in rows:
        for place, cell in enumerate(cells):
            if _SHAPE.match(cell):
                return place
    return None


def _check_rows(rows: Sequence[tuple[int, list[str]]], *, source: str, width: int) -> None:
    for line, cells in rows:
        if len(cells) < width:
            raise UnreadableFile(
                f"{source}: line {line} has {len(cells)} cells where the heading has {width}. "
                "The file may be cut short; export it again, or take that line out."
            )
        if any(cell.strip() for cell in cells[width:]):
            raise UnreadableFile(
                f"{source}: line {line} has more cells than the heading. Put text that has commas in quotes."
            )


def _shapes(texts: Sequence[str], *, nesting: int) -> tuple[list[Any], list[str]]:
    shapes: list[Any] = []
    faults: list[str] = []
    for start in range(0, len(texts), _AT_ONCE):
        part = [_plain(text) for text in texts[start : start + _AT_ONCE]]
        read = _read_many(part) if all(len(_COLLECTION.findall(t)) <= nesting for t in part) else None
        if read is not None:
            shapes.extend(read)
            faults.extend([""] * len(part))
            continue
        for text in part:
            shape, fault = _read_one(text, nesting=nesting)
            shapes.append(shape)
            faults.append(fault)
    return shapes, faults


def _plain(text: str) -> str:
    found = _SHAPE.match(text)
    return text if found is None else text[found.start("wkt") :]


def _read_many(texts: list[str]) -> Any:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            return shapely.force_2d(shapely.from_wkt([text or None for text in texts])).tolist()
        except (shapely.errors.ShapelyError, ValueError, NotImplementedError):
            return None


def _read_one(text: str, *, nesting: int) -> tuple[Any, str]:
    if not text:
        return None, ""
    if len(_COLLECTION.findall(text)) > nesting:
        # GEOS calls itself for each collection within another, until the process dies.
        return None, f"holds more than {nesting} collections. Draw or export it again."
    read = _read_many([text])
    if read is None:
        return None, f'has the shape "{text[:40]}", which is no whole well-known text. Draw or export it again.'
    return read[0], ""


def _crs(texts: Sequence[str], *, source: str) -> tuple[Any, str]:
    numbers = {found["srid"] for text in texts if text for found in [_SHAPE.match(text)] if found is not None}
    if len(numbers) > 1:
        raise UnreadableFile(f"{source}: its shapes state different coordinate systems. Export all of them in one.")
    number = numbers.pop() if numbers else None
    if number is None:
        return None, _SAID
    found = known_crs(f"EPSG:{number}")
    return found, "" if found else f"states by SRID={number} no coordinate system that is known"
