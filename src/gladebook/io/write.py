"""The one way out: a file is written beside its place, then renamed, so that none is ever half written."""

import csv
import errno
import io
import json
import os
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import shapely

from gladebook.errors import OutputError, PropertyError
from gladebook.io.property.open import is_property

__all__ = ["as_csv", "as_geojson", "as_json", "refuse_property", "write_bytes", "write_text"]


_BESIDE = ("-wal", "-shm", "-journal")


def write_text(path: str | Path, text: str) -> Path:
    """Write a text file whole or not at all.

    Raises
    ------
    OutputError
        Where the place cannot be written to.
    """
    try:
        data = text.encode("utf-8")
    except UnicodeEncodeError:
        raise OutputError(
            f"{path}: the answer holds characters that no file can. Check the names of the plots."
        ) from None
    return write_bytes(path, data)


def write_bytes(path: str | Path, data: bytes) -> Path:
    """Write a file whole or not at all.

    Raises
    ------
    OutputError
        Where the place cannot be written to.
    """
    path = Path(path)
    refuse_property(path)
    beside: str | None = None
    try:
        if path.is_dir():
            raise IsADirectoryError(errno.EISDIR, "it is a folder")
        if path.exists() and not path.is_file():
            path.write_bytes(data)  # a pipe or a device is written to, never replaced
            return path
        handle, beside = tempfile.mkstemp(prefix=f".{path.name[:40]}.", dir=path.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(beside).chmod(_mode(path))
        Path(beside).replace(path)
    except ValueError:
        raise OutputError(f"{path}: is no name that a file can have. Name another.") from None
    except OSError as error:
        raise OutputError(f"{path}: cannot be written ({error.strerror or error}). Name another place.") from None
    finally:
        if beside is not None and Path(beside).exists():
            Path(beside).unlink()
    return path


def refuse_property(path: str | Path) -> None:
    """Refuse to write over a property file: by its name, by a link to it, or by a file that SQLite keeps beside it.

    Raises
    ------
    OutputError
        Where it is one.
    """
    path = Path(path)
    try:
        names = {path, path.resolve()} if os.path.lexists(path) else {path}
        if path.is_file() and path.stat().st_nlink > 1:
            names |= {other for other in path.parent.glob("*.gpkg") if other.is_file() and other.samefile(path)}
    except (OSError, ValueError):
        return  # what cannot be looked at cannot be written either, which is said there
    for name in names:
        kept = next((name.with_name(name.name.removesuffix(end)) for end in _BESIDE if name.name.endswith(end)), name)
        try:
            if is_property(kept):
                raise OutputError(
                    f"{path}: {'is' if kept == name else 'belongs to'} a property file, which no answer is written "
                    "over. Name another place."
                )
        except PropertyError:
            raise OutputError(
                f"{path}: may be a property file that cannot be read now, and no answer is written over one. Name "
                "another place."
            ) from None


def _mode(path: Path) -> int:
    """Who may read the answer: as the file that it replaces, else as any new file (a temporary one is private)."""
    if path.exists():
        return path.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def as_json(document: Any) -> str:
    """JSON at full precision; a figure that is no number is a defect and raises."""
    return json.dumps(document, ensure_ascii=False, allow_nan=False, indent=2) + "\n"


def as_csv(header: Sequence[str], rows: Sequence[Sequence[Any]]) -> str:
    """A table that a spreadsheet opens safely: text that it would run as a formula gets an apostrophe."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows([_plain(cell) for cell in row] for row in rows)
    return out.getvalue()


def _plain(cell: Any) -> Any:
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(("=", "+", "-", "@", "\t", "\r", "\x00")) else cell


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
