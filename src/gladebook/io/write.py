"""The one way out: a file is written beside its place, then renamed, so that none is ever half written."""

import csv
import io
import json
import os
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import shapely

from gladebook.errors import OutputError

__all__ = ["as_csv", "as_geojson", "as_json", "write_bytes", "write_text"]


def write_text(path: str | Path, text: str) -> Path:
    """Write a text file whole or not at all.

    Raises
    ------
    OutputError
        Where the place cannot be written to.
    """
    return write_bytes(path, text.encode("utf-8"))


def write_bytes(path: str | Path, data: bytes) -> Path:
    """Write a file whole or not at all.

    Raises
    ------
    OutputError
        Where the place cannot be written to.
    """
    path = Path(path)
    beside: str | None = None
    try:
        if path.is_dir():
            raise OutputError(f"{path}: is a folder. Name a file to write to.")
        handle, beside = tempfile.mkstemp(prefix=f".{path.name[:40]}.", dir=path.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        mask = os.umask(0)
        os.umask(mask)
        Path(beside).chmod(0o666 & ~mask)  # a temporary file is private; the answer is not
        Path(beside).replace(path)
    except OSError as error:
        if isinstance(error, OutputError):
            raise
        raise OutputError(f"{path}: cannot be written ({error.strerror or error}). Name another place.") from None
    finally:
        if beside is not None and Path(beside).exists():
            Path(beside).unlink()
    return path


def as_json(document: Any) -> str:
    """JSON at full precision; a figure that is no number is a defect and raises."""
    return json.dumps(document, ensure_ascii=False, allow_nan=False, indent=2) + "\n"


def as_csv(header: Sequence[str], rows: Sequence[Sequence[Any]]) -> str:
    """A table that a spreadsheet opens safely: text that it would run as a formula gets an apostrophe."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(header)
    writer.writerows([_plain(cell) for cell in row] for row in rows)
    return out.getvalue()


def _plain(cell: Any) -> Any:
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(("=", "+", "-", "@", "\t", "\r")) else cell


def as_geojson(features: Sequence[tuple[Any, dict[str, Any]]]) -> str:
    """A FeatureCollection by RFC 7946 of shapes in degrees with their properties, rings counter-clockwise."""
    return as_json(
        {
            "type": "FeatureCollection",
            "features": [
                {
                    "type": "Feature",
                    "properties": properties,
                    "geometry": shapely.geometry.mapping(shapely.orient_polygons(shape)),
                }
                for shape, properties in features
                if not shapely.is_empty(shape)
            ],
        }
    )
