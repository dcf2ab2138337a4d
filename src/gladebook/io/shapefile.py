"""Shapefiles, read by GDAL through pyogrio, after checks that GDAL does not make.

A .shp that is cut short would lose its last plots without a word; its header says how long it
must be (in 16-bit words, big-endian, at byte 24: the published technical description of 1998).
"""

import warnings
from pathlib import Path
from typing import Any

import numpy as np
from pyproj import CRS
from pyproj.exceptions import CRSError

from gladebook.errors import UnreadableFile
from gladebook.io.rows import Row, Rows, shape_from_wkb

__all__ = ["read_rows"]

_HEADER = 100
_BROKEN = (
    "it cannot be read as shapefile; it is broken, cut short or incomplete. A shapefile is several files: "
    "keep .shp, .shx, .dbf and .prj together, and export or copy them again."
)


def read_rows(path: Path, *, source: str) -> Rows:
    """Read the shapes of a shapefile with their fields.

    Parameters
    ----------
    path
        The .shp file, its siblings beside it.
    source
        The name for messages: the file's own, or that of the zip it came in.

    Raises
    ------
    UnreadableFile
        Where the file, or one beside it, is missing, broken or cut short.
    """
    _check_whole(path, source=source)
    import pyogrio
    from pyogrio.raw import read

    # Rings may run either way round; GDAL then tells plots from holes by what lies inside what.
    pyogrio.set_gdal_config_options({"OGR_ORGANIZE_POLYGONS": "DEFAULT"})
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            meta, _, blobs, columns = read(str(path.resolve()))
    except Exception:  # noqa: BLE001 - GDAL's bindings raise many kinds, some of them by accident
        raise UnreadableFile(f"{source}: {_BROKEN}") from None
    fields = [str(f) for f in meta["fields"]]
    rows: list[Row] = []
    notes: set[str] = set()
    for number, blob in enumerate(blobs if blobs is not None else []):
        shape, fault, note = (None, "", "") if blob is None else shape_from_wkb(blob)
        notes |= {f"{source}: {note}"} if note else set()
        values = [_plain(column[number]) for column in columns]
        rows.append(Row(dict(zip(fields, values, strict=True)), shape, fault=fault))
    return Rows(source=source, rows=tuple(rows), crs=_crs(path, meta["crs"]), notes=tuple(sorted(notes)))


def _check_whole(path: Path, *, source: str) -> None:
    beside = {p.suffix.lower(): p for p in path.parent.iterdir() if p.stem == path.stem}
    missing = [suffix for suffix in (".shx", ".dbf") if suffix not in beside]
    if missing:
        raise UnreadableFile(f"{source}: lacks its {' and '.join(missing)}. Keep all files of a shapefile together.")
    for part in (path, beside[".shx"], beside[".dbf"]):
        with part.open("rb") as file:
            head = file.read(_HEADER)
        if part.suffix.lower() == ".dbf":
            # Records times their length, after the heading; little-endian at bytes 4, 8 and 10 (dBASE III).
            count, start, length = (int.from_bytes(head[a:b], "little") for a, b in ((4, 8), (8, 10), (10, 12)))
            least = max(start + count * length, 32)
        else:
            least = max(2 * int.from_bytes(head[24:28], "big"), _HEADER)
        if part.stat().st_size < least:
            raise UnreadableFile(f"{source}: {_BROKEN}")


def _plain(value: Any) -> Any:
    return value.item() if isinstance(value, np.generic) else value


def _crs(path: Path, told: str | None) -> CRS | None:
    """The system in the .prj; None where there is none, or none that is known."""
    prj = next((p for p in path.parent.iterdir() if p.stem == path.stem and p.suffix.lower() == ".prj"), None)
    texts = [told] if told else []
    if prj is not None:
        texts.append(prj.read_bytes().decode("latin-1").strip("\x00\ufeff \r\n"))
    for text in texts:
        try:
            return CRS.from_user_input(text)
        except (CRSError, UnicodeError):
            continue
    return None
