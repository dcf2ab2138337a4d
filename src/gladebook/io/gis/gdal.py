"""Layers read by GDAL through pyogrio, for kinds of files that have no plain reader here.

GDAL leaves out what it cannot read and says nothing, and opens whatever it takes a file for. So only files
come here whose first bytes and lengths were checked; what it took the file for, and how many rows it gave,
is checked afterwards.
"""

import shutil
import tempfile
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from pyproj import CRS
from pyproj.exceptions import CRSError

from gladebook.errors import UnreadableFile
from gladebook.io.gis.wkb import mended_notes, shapes_from_wkb
from gladebook.io.limits import Limits
from gladebook.io.rows import Row
from gladebook.notes import Note

__all__ = ["Layer", "count_rows", "known_crs", "layers_of", "read_layer", "rows_of"]

_SHAPEFILE = (".shp", ".shx", ".dbf", ".prj", ".cpg")
_ODD = ("!", "://")  # pyogrio would look for a zip or an address in such a name


@dataclass(frozen=True)
class Layer:
    """One layer as GDAL gives it.

    Attributes
    ----------
    fields : names of the columns.
    columns : values, one array a column.
    blobs : shapes as well-known binary; None where a row has none.
    crs : the coordinate system as text; None where none is stated.
    """

    fields: tuple[str, ...]
    columns: Sequence[Any]
    blobs: Sequence[Any]
    crs: str | None


def layers_of(path: Path, *, refusal: UnreadableFile) -> list[tuple[str, str]]:
    """Names of all layers and the kinds of their shapes; the kind is empty where a layer has none.

    Raises
    ------
    UnreadableFile
        `refusal`, where GDAL cannot read the file.
    """
    import pyogrio

    with _plainly_named(path) as plain, _quietly(refusal):
        found = pyogrio.list_layers(plain)
    return [(str(name), "" if kind is None else str(kind)) for name, kind in found.tolist()]


def count_rows(path: Path, layers: Sequence[str], *, refusal: UnreadableFile) -> list[int]:
    """How many rows each of some layers has.

    Raises
    ------
    UnreadableFile
        `refusal`, where GDAL cannot read the file.
    """
    import pyogrio

    with _plainly_named(path) as plain, _quietly(refusal):
        return [int(pyogrio.read_info(plain, layer=name, force_feature_count=True)["features"]) for name in layers]


def read_layer(
    path: Path, *, driver: str, refusal: UnreadableFile, layer: str | None = None, count: int | None = None
) -> Layer:
    """Read all rows of a layer.

    Parameters
    ----------
    path
        The file, checked already.
    driver
        GDAL's name for its kind; what it takes for another is refused.
    refusal
        What to raise where it cannot be read, or not all of it.
    layer
        The layer; by default the only one.
    count
        How many rows it has; by default as GDAL says.

    Raises
    ------
    UnreadableFile
        `refusal`.
    """
    import pyogrio
    from pyogrio.raw import read

    # Rings may run either way round; GDAL then tells plots from holes by what lies inside what.
    pyogrio.set_gdal_config_options({"OGR_ORGANIZE_POLYGONS": "DEFAULT"})
    with _plainly_named(path) as plain, _quietly(refusal):
        info = pyogrio.read_info(plain, layer=layer, force_feature_count=True)
        meta, _, blobs, columns = read(plain, layer=layer)
    blobs = [] if blobs is None else blobs
    if info["driver"] != driver or len(blobs) != (info["features"] if count is None else count):
        raise refusal
    return Layer(tuple(str(f) for f in meta["fields"]), columns, blobs, meta["crs"])


def rows_of(layer: Layer, *, source: str, limits: Limits) -> tuple[tuple[Row, ...], tuple[Note, ...]]:
    """Rows with their fields as plain values, and what was mended."""
    mended: list[str] = []
    rows: list[Row] = []
    columns = [[_plain(value) for value in column] for column in layer.columns]
    values = zip(*columns, strict=True) if columns else iter([()] * len(layer.blobs))
    shapes = shapes_from_wkb(layer.blobs, nesting=limits.nesting)
    for (shape, fault, note), row in zip(shapes, values, strict=True):
        mended += [note] if note else []
        rows.append(Row(dict(zip(layer.fields, row, strict=True)), shape, fault=fault))
    return tuple(rows), mended_notes(mended, source=source)


def known_crs(*texts: str | None) -> CRS | None:
    """The first of some texts that is a known coordinate system."""
    for text in texts:
        try:
            if text:
                return CRS.from_user_input(text)
        except (CRSError, UnicodeError):
            continue
    return None


@contextmanager
def _quietly(refusal: UnreadableFile) -> Iterator[None]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            yield
        except Exception:  # noqa: BLE001 - GDAL's bindings raise many kinds, some of them by accident
            raise refusal from None


@contextmanager
def _plainly_named(path: Path) -> Iterator[str]:
    """A name that means the file and nothing else: its own, or that of a copy."""
    name = str(path.resolve())
    if not any(odd in name for odd in _ODD):
        yield name
        return
    with tempfile.TemporaryDirectory() as place:
        copy = Path(place) / f"copy{path.suffix}"
        if path.is_dir():
            shutil.copytree(path, copy)
        else:
            for part in path.parent.iterdir():
                # Nothing else that happens to have the same name: it may be a database in use.
                if part == path or (part.stem == path.stem and part.suffix.lower() in _SHAPEFILE):
                    shutil.copyfile(part, copy.with_suffix(part.suffix))
        yield str(copy)


def _plain(value: Any) -> Any:
    return value.item() if isinstance(value, np.generic) else value
