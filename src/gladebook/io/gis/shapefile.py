"""Shapefiles, read by GDAL through pyogrio, after checks that GDAL does not make.

A .shp that is cut short would lose its last plots without a word, and so would one whose list of records
or table was changed: lengths, places and counts must agree (the published technical description of 1998;
numbers of the .shp and .shx are in 16-bit words, big-endian).
"""

from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from pyproj import CRS

from gladebook.errors import UnreadableFile
from gladebook.io.gis.gdal import known_crs, read_layer, rows_of
from gladebook.io.limits import Limits, beyond
from gladebook.io.rows import Rows

__all__ = ["read_rows"]

_HEADER = 100
_POINT_KINDS = (1, 11, 21)
_RING_KINDS = (3, 5, 13, 15, 23, 25)
_BROKEN = (
    "it cannot be read as shapefile; it is broken, cut short or incomplete. A shapefile is several files: "
    "keep .shp, .shx, .dbf and .prj together, and export or copy them again."
)


def read_rows(path: Path, *, source: str, limits: Limits) -> Rows:
    """Read the shapes of a shapefile with their fields.

    Parameters
    ----------
    path
        The .shp file, its siblings beside it.
    source
        The name for messages: the file's own, or that of the zip it came in.
    limits
        How much it may hold.

    Raises
    ------
    UnreadableFile
        Where the file, or one beside it, is missing, broken or cut short.
    """
    refusal = UnreadableFile(f"{source}: {_BROKEN}")
    beside = {p.suffix.lower(): p for p in path.parent.iterdir() if p.stem == path.stem}
    missing = [suffix for suffix in (".shp", ".shx", ".dbf") if suffix not in beside]
    if missing:
        raise UnreadableFile(f"{source}: lacks its {' and '.join(missing)}. Keep all files of a shapefile together.")
    live = _check_whole(beside, source=source, refusal=refusal, limits=limits)
    layer = read_layer(path, driver="ESRI Shapefile", refusal=refusal, count=live)
    rows, notes = rows_of(layer, source=source, limits=limits)
    return Rows(source=source, rows=rows, crs=_crs(beside.get(".prj"), layer.crs), notes=notes)


def _check_whole(beside: dict[str, Path], *, source: str, refusal: UnreadableFile, limits: Limits) -> int:
    """Refuse what is shorter than it says, and lists that do not agree with what they list; count the live rows."""
    sizes = {suffix: part.stat().st_size for suffix, part in beside.items()}
    if sum(sizes.values()) > limits.file_bytes:
        raise beyond(
            source,
            f"is larger than {limits.file_bytes / 1e9:g} GB",
            limit="file_bytes",
            limits=limits,
            instead="Give the part that holds your plots",
        )
    for suffix in (".shp", ".shx"):
        with beside[suffix].open("rb") as file:
            head = file.read(_HEADER)
        if sizes[suffix] < max(2 * int.from_bytes(head[24:28], "big"), _HEADER):
            raise refusal
    listed = np.fromfile(beside[".shx"], dtype=">i4", offset=_HEADER)
    places = listed[: len(listed) // 2 * 2].reshape(-1, 2).astype(np.int64) * 2
    with beside[".dbf"].open("rb") as file:
        head = file.read(32)
    # Records times their length, after the heading; little-endian at bytes 4, 8 and 10 (dBASE III).
    count, start, length = (int.from_bytes(head[a:b], "little") for a, b in ((4, 8), (8, 10), (10, 12)))
    if sizes[".dbf"] < max(start + count * length, 32) or count != len(places):
        raise refusal
    if not _records_agree(np.memmap(beside[".shp"], dtype=np.uint8, mode="r"), places):
        raise refusal
    if not count or not length:
        return count
    marks = np.memmap(beside[".dbf"], dtype=np.uint8, mode="r")[start : start + count * length : length]
    return count - int((marks == ord("*")).sum())  # rows that are struck out


def _records_agree(shp: npt.NDArray[np.uint8], places: npt.NDArray[np.int64]) -> bool:
    """Whether each record stands where the list says, is as long, and as long as its counts of parts and points ask."""
    if not len(places):
        return True
    at, size = places[:, 0], places[:, 1]
    if (at < _HEADER).any() or (size < 4).any() or (at + 8 + size > len(shp)).any():
        return False
    if (_numbers(shp, at + 4, ">i4") * 2 != size).any():
        return False
    kind = _numbers(shp, at + 8, "<i4")
    rings = np.isin(kind, _RING_KINDS)
    if (size[rings] < 44).any() or (size[np.isin(kind, _POINT_KINDS)] < 20).any():
        return False
    parts, points = (_numbers(shp, at[rings] + 8 + skip, "<i4") for skip in (36, 40))
    return not ((parts < 0) | (points < 0) | (44 + 4 * parts + 16 * points > size[rings])).any()


def _numbers(data: npt.NDArray[np.uint8], at: npt.NDArray[np.int64], kind: str) -> npt.NDArray[np.int64]:
    """Four-byte numbers that stand anywhere."""
    found: npt.NDArray[np.int64] = data[at[:, None] + np.arange(4)].reshape(-1, 4).copy().view(kind).ravel()
    return found.astype(np.int64)


def _crs(prj: Path | None, told: str | None) -> CRS | None:
    """The system in the .prj; None where there is none, or none that is known."""
    text: Any = None if prj is None else prj.read_bytes().decode("latin-1").strip("\x00\ufeff \r\n")
    return known_crs(told, text)
