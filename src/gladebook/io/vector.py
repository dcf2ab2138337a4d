"""GeoPackage, shapefile and KML, read by GDAL through pyogrio; zipped ones too."""

import zipfile
from collections.abc import Sequence
from pathlib import Path, PurePosixPath
from typing import Any

import numpy as np
import shapely
from pyproj import CRS
from pyproj.exceptions import CRSError

from gladebook.errors import UnreadableFile
from gladebook.io.rows import Row, Rows

__all__ = ["inside_zip", "read_rows"]

_READABLE = {
    ".shp": "shapefile",
    ".gpkg": "GeoPackage",
    ".kml": "KML",
    ".geojson": "GeoJSON",
    ".json": "GeoJSON",
}
_LARGEST_UNPACKED = 1_000_000_000


def inside_zip(path: Path) -> list[str]:
    """Names of the boundary files inside a zip, in its order.

    Raises
    ------
    UnreadableFile
        Where the zip is broken, locked or would unpack to more than 1 GB.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            entries = archive.infolist()
            if sum(e.file_size for e in entries) > _LARGEST_UNPACKED:
                raise UnreadableFile(
                    f"{path.name}: would unpack to more than 1 GB. Unpack it and give the file itself."
                )
            if any(e.flag_bits & 1 for e in entries):
                raise UnreadableFile(f"{path.name}: is locked with a password. Unpack it and give the file itself.")
            broken = archive.testzip()
    except (zipfile.BadZipFile, NotImplementedError, EOFError, OSError, ValueError) as error:
        raise UnreadableFile(f"{path.name}: is not a whole zip file. Copy it again.") from error
    if broken is not None:
        raise UnreadableFile(f"{path.name}: {broken} inside it is damaged. Copy it again.")
    names = [e.filename for e in entries if not e.is_dir()]
    return [n for n in names if PurePosixPath(n).suffix.lower() in _READABLE and not n.startswith("__MACOSX")]


def read_rows(path: Path, *, inside: str | None = None, layer: str | None = None) -> Rows:
    """Read the areas of a file with their fields.

    Parameters
    ----------
    path
        The file, or the zip that holds it.
    inside
        Its name inside the zip.
    layer
        The layer to read; needed where several hold areas, but for KML, whose folders are all read.

    Raises
    ------
    UnreadableFile
        Where the file is broken, holds no layer, or leaves the choice open.
    """
    from pyogrio import list_layers
    from pyogrio.errors import DataSourceError

    suffix = PurePosixPath(inside or path.name).suffix.lower()
    kind = _READABLE.get(suffix, "map file")
    where = f"/vsizip/{path.resolve()}/{inside}" if inside else str(path.resolve())
    try:
        layers = list_layers(where)
    except (DataSourceError, RuntimeError, ValueError):
        raise UnreadableFile(_broken(path, inside, kind=kind)) from None
    chosen = _choose(path, layers, kind=kind, layer=layer)
    rows: list[Row] = []
    crs: CRS | None = None
    notes: list[str] = []
    for name in chosen:
        more, crs_here = _read_layer(path, where, name, inside=inside, kind=kind)
        if rows and crs_here != crs:
            raise UnreadableFile(f"{path.name}: its layers have different coordinate systems. Choose one with --layer.")
        crs = crs_here
        rows += more
    if len(chosen) > 1:
        notes.append(f"{path.name}: read {len(chosen)} folders: {', '.join(chosen[:12])}.")
    return Rows(source=path.name, rows=tuple(rows), crs=crs, notes=tuple(notes))


def _choose(path: Path, layers: Any, *, kind: str, layer: str | None) -> list[str]:
    names = [str(n) for n, _ in layers]
    if layer is not None:
        if layer not in names:
            raise UnreadableFile(f'{path.name}: has no layer "{layer}". Its layers: {", ".join(names[:20]) or "none"}.')
        return [layer]
    if kind == "KML":
        chosen = names
    else:
        chosen = [str(n) for n, t in layers if t is not None and "polygon" in str(t).lower()]
        chosen = chosen or [str(n) for n, t in layers if t is not None]
    if not chosen:
        raise UnreadableFile(
            f"{path.name}: holds no layer with shapes in it. Draw at least one plot, or pick another file."
        )
    if len(chosen) > 1 and kind != "KML":
        raise UnreadableFile(
            f"{path.name}: has {len(chosen)} layers with areas ({', '.join(chosen)}). Choose with --layer."
        )
    return chosen


def _read_layer(path: Path, where: str, layer: str, *, inside: str | None, kind: str) -> tuple[list[Row], CRS | None]:
    from pyogrio.errors import DataLayerError, DataSourceError, FeatureError, GeometryError
    from pyogrio.raw import read

    try:
        meta, _, geometry, columns = read(where, layer=layer, encoding=None)
        shapes = shapely.from_wkb(geometry, on_invalid="ignore") if geometry is not None else np.array([])
    except (
        DataLayerError,
        DataSourceError,
        FeatureError,
        GeometryError,
        RuntimeError,
        ValueError,
        UnicodeError,
    ):
        raise UnreadableFile(_broken(path, inside, kind=kind)) from None
    except shapely.errors.ShapelyError:
        raise UnreadableFile(f"{path.name}: holds shapes that cannot be read. Export it again.") from None
    fields = [str(f) for f in meta["fields"]]
    rows = [
        Row(dict(zip(fields, values, strict=True)), _flat(shape))
        for shape, values in zip(shapes, _by_row(columns, len(shapes)), strict=True)
    ]
    return rows, _crs(meta["crs"])


def _flat(shape: Any) -> Any:
    if shape is None or shapely.is_empty(shape):
        return None
    return shapely.force_2d(shape)


def _by_row(columns: Sequence[Any], count: int) -> list[tuple[Any, ...]]:
    return list(zip(*columns, strict=True)) if len(columns) else [()] * count


def _crs(text: str | None) -> CRS | None:
    if not text:
        return None
    try:
        crs = CRS.from_user_input(text)
    except CRSError:
        return None
    # GeoPackage's "undefined" systems are engineering ones with no place on the earth.
    return None if "undefined" in crs.name.lower() else crs


def _broken(path: Path, inside: str | None, *, kind: str) -> str:
    what = f"{inside} inside it" if inside else "it"
    hint = ""
    if kind == "shapefile":
        hint = " A shapefile is several files: keep .shp, .shx, .dbf and .prj together."
    return (
        f"{path.name}: {what} cannot be read as {kind}; it is broken, cut short or incomplete.{hint} Export it again."
    )
