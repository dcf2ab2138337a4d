"""GeoJSON boundaries: RFC 7946, its sequences and lines, and the older ``crs`` member of 2008 where a file has one."""

from pathlib import Path
from typing import Any, BinaryIO

from gladebook.errors import UnreadableFile
from gladebook.io.blocks import Data, as_file, whole
from gladebook.io.json.shapes import shapes_of
from gladebook.io.json.sketch import sketch_of
from gladebook.io.json.text import Features, load_features, no_collection, properties_of
from gladebook.io.letters import text_of
from gladebook.io.limits import LIMITS, Limits
from gladebook.io.rows import Row, Rows
from gladebook.notes import Note

__all__ = ["read_rows", "read_whole"]


def read_rows(path: Path, *, data: Data, limits: Limits = LIMITS) -> Rows:
    """Read features with their fields.

    Parameters
    ----------
    path
        The file, for its name.
    data
        Its bytes, or itself, open; then the corners of plain areas are read in parts, and never held as text.
    limits
        How much it may hold.

    Raises
    ------
    UnreadableFile
        Where the text is no GeoJSON, with the line.
    MissingCrs
        Where the older ``crs`` member says that nobody knows, or points elsewhere.
    """
    with no_collection():
        return _rows_from_parts(path, as_file(data), limits=limits) or read_whole(path, data=data, limits=limits)


def read_whole(path: Path, *, data: Data, limits: Limits = LIMITS) -> Rows:
    """Read all of a file as JSON; `read_rows` answers the same, sooner.

    Raises
    ------
    UnreadableFile, MissingCrs
        As `read_rows`.
    """
    features = load_features(path, text_of(whole(data), source=path.name))
    fields, geometries = _told(path, features)
    shapes, faults, opened = shapes_of(geometries, nesting=limits.nesting)
    del geometries  # millions of lists go before the next look for garbage goes through them
    return _rows(path, features, fields=fields, made=(shapes, faults, opened))


def _rows_from_parts(path: Path, file: BinaryIO, *, limits: Limits) -> Rows | None:
    """Read the corners of plain areas apart; None where the file must be read as a whole."""
    sketch = sketch_of(path, file)
    if sketch is None:
        return None
    try:
        fields, geometries = _told(path, sketch.features)
    except UnreadableFile:
        return None  # which is found again, with the line
    ready = sketch.filled(geometries)
    if ready is None:
        return None
    shapes, faults, opened = shapes_of(geometries, nesting=limits.nesting)
    shapes = [other if shape is None else shape for shape, other in zip(ready, shapes, strict=True)]
    return _rows(path, sketch.features, fields=fields, made=(shapes, faults, opened))


def _told(path: Path, features: Features) -> tuple[list[dict[str, Any]], list[Any]]:
    """The fields and the geometry of each feature."""
    fields, geometries = [], []
    for number, feature in enumerate(features, start=1):
        fields.append(properties_of(path, feature, number=number))
        geometries.append(feature.get("geometry"))
    return fields, geometries


def _rows(
    path: Path, features: Features, *, fields: list[dict[str, Any]], made: tuple[list[Any], list[str], int]
) -> Rows:
    shapes, faults, opened = made
    rows = tuple(Row(f, s, fault=why) for f, s, why in zip(fields, shapes, faults, strict=True))
    notes: tuple[Note, ...] = ()
    if opened:
        words = f"{opened} ring{'s' if opened > 1 else ''} not closed; closed to the first corner."
        notes = (Note("repaired", path.name, words, count=opened),)
    return Rows(source=path.name, rows=rows, crs=features.crs, notes=notes, crs_said=features.crs_said)
