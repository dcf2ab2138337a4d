"""More builders of files for the reader tests: sequences of GeoJSON, FlatGeobuf, geodatabases, tables of shapes.

FlatGeobuf and file geodatabases are written by GDAL and then changed byte by byte; what they hold is still compared
with GeographicLib. GeoParquet is written where pyarrow is installed.
"""

import io
import json
import shutil
import struct
import warnings
import zipfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from pyogrio.raw import write
from shapely import Point, force_3d

from tests.io import corpus as c

__all__ = [
    "Point",
    "area",
    "areas",
    "fgb_count",
    "fgb_count_at",
    "flatgeobuf",
    "force_3d",
    "geodatabase",
    "parquet",
    "put",
    "sequence",
    "stored",
    "wkt",
    "zipped_folder",
]

Named = Sequence[tuple[str | None, Any]]  # names and shapes


def area(*rings: c.Ring) -> Any:
    return shapely.Polygon([k[:2] for k in rings[0]], [[k[:2] for k in ring] for ring in rings[1:]])


def areas(*rings: c.Ring) -> Any:
    return shapely.MultiPolygon([area(ring) for ring in rings])


def sequence(*documents: Any, mark: str = "", end: str = "\n", indent: int | None = None) -> str:
    """One JSON text after the other: with the mark of RFC 8142 before each, or in lines of their own."""
    return "".join(f"{mark}{json.dumps(d, ensure_ascii=False, indent=indent)}{end}" for d in documents)


def _write(path: Path, rows: Named, *, driver: str, layer: str, crs: str | None, kind: str, **options: Any) -> None:
    shapes = np.array([None if shape is None else shapely.to_wkb(shape) for _, shape in rows], dtype=object)
    names = np.array([name for name, _ in rows], dtype=object)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns of a file without a coordinate system, which is what is wanted
        _write_quietly(path, shapes, names, driver=driver, layer=layer, crs=crs, kind=kind, **options)


def _write_quietly(path: Path, shapes: Any, names: Any, *, driver: str, layer: str, **options: Any) -> None:
    write(
        path,
        geometry=shapes,
        field_data=[names],
        fields=["name"],
        crs=options.pop("crs"),
        geometry_type=options.pop("kind"),
        driver=driver,
        layer=layer,
        append=path.exists(),
        **options,
    )


def flatgeobuf(
    rows: Named,
    *,
    file: str = "plots.fgb",
    crs: str | None = "EPSG:4326",
    kind: str = "Unknown",
    index: bool = True,
    change: Callable[[bytes], bytes] = bytes,
) -> c.Build:
    """A builder of a FlatGeobuf; with an index, rows are put in an order of their own."""

    def build(folder: Path) -> Path:
        path = folder / "written.fgb"
        _write(
            path, rows, driver="FlatGeobuf", layer="plots", crs=crs, kind=kind, SPATIAL_INDEX="YES" if index else "NO"
        )
        data = path.read_bytes()
        path.unlink()
        return c.file_of(file, change(data))(folder)

    return build


def fgb_count_at(data: bytes) -> int:
    """Where the header of a FlatGeobuf states how many features there are: field 8 of its table."""
    table = 12 + struct.unpack_from("<I", data, 12)[0]
    places = table - struct.unpack_from("<i", data, table)[0]
    return int(table + struct.unpack_from("<H", data, places + 4 + 2 * 8)[0])


def put(place: int, value: bytes) -> Callable[[bytes], bytes]:
    """Overwrite some bytes."""
    return lambda data: data[:place] + value + data[place + len(value) :]


def fgb_count(count: int) -> Callable[[bytes], bytes]:
    """The same FlatGeobuf, whose header says that it has so many features; 0 is for an unknown number."""
    return lambda data: put(fgb_count_at(data), struct.pack("<Q", count))(data)


def geodatabase(
    layers: Mapping[str, Named],
    *,
    file: str = "plots.gdb",
    crs: str | None = "EPSG:4326",
    kinds: Mapping[str, str] | None = None,
    change: Mapping[str, Callable[[bytes], bytes]] | None = None,
    without: Iterable[str] = (),
) -> c.Build:
    """A builder of a file geodatabase; parts of the folder may be left out or changed."""

    def build(folder: Path) -> Path:
        path = folder / file
        for layer, rows in layers.items():
            kind = (kinds or {}).get(layer, "MultiPolygon")
            _write(folder / "written.gdb", rows, driver="OpenFileGDB", layer=layer, crs=crs, kind=kind)
        (folder / "written.gdb").rename(path)
        for name, act in (change or {}).items():
            (path / name).write_bytes(act((path / name).read_bytes()))
        for name in without:
            (path / name).unlink()
        return path

    return build


def zipped_folder(build: c.Build, *, prefix: str = "", file: str = "plots.zip") -> c.Build:
    """A builder of a zip of what another builder makes."""

    def zip_it(folder: Path) -> Path:
        inner = folder / "inner"
        inner.mkdir()
        made = build(inner)
        parts = sorted(made.rglob("*")) if made.is_dir() else [made]
        files = {f"{prefix}{p.relative_to(inner).as_posix()}": p.read_bytes() for p in parts if p.is_file()}
        shutil.rmtree(inner)
        return c.file_of(file, c.zipped(files))(folder)

    return zip_it


def parquet(
    rows: Named, *, crs: Any = "absent", encoding: str = "WKB", file: str = "plots.parquet", plain: bool = False
) -> c.Build:
    """A builder of a GeoParquet 1.1, by its specification; `plain` leaves out what makes it one."""

    def build(folder: Path) -> Path:
        import pyarrow as pa
        import pyarrow.parquet as pq

        if encoding != "polygon":
            shapes = pa.array([None if shape is None else shapely.to_wkb(shape) for _, shape in rows])
        else:
            rings = [
                [[{"x": x, "y": y} for x, y in ring.coords] for ring in [shape.exterior, *shape.interiors]]
                for _, shape in rows
            ]
            shapes = pa.array(rings, pa.list_(pa.list_(pa.struct([("x", pa.float64()), ("y", pa.float64())]))))
        column: dict[str, Any] = {"encoding": encoding, "geometry_types": []}
        if crs != "absent":
            column["crs"] = crs
        geo = {"version": "1.1.0", "primary_column": "shape", "columns": {"shape": column}}
        tags = pa.array([["wet", "north"]] * len(rows))
        table = pa.table({"name": [name for name, _ in rows], "shape": shapes, "tags": tags})
        if not plain:
            table = table.replace_schema_metadata({"geo": json.dumps(geo)})
        pq.write_table(table, folder / file)
        return folder / file

    return build


def stored(files: Mapping[str, bytes], *, method: int = zipfile.ZIP_STORED) -> bytes:
    """A zip packed in a way of choice."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return out.getvalue()


def wkt(*rings: c.Ring) -> str:
    return f"POLYGON ({', '.join('(' + ', '.join(f'{k[0]!r} {k[1]!r}' for k in ring) + ')' for ring in rings)})"
