"""Files for the reader tests, built in a temporary folder by the tests themselves; none is stored.

The formats are written here byte by byte from their published descriptions, so that a file can also
be wrong on purpose: GeoJSON (RFC 7946), GPX 1.0 and 1.1, KML 2.2 (OGC 07-147r2), shapefile (technical
description of July 1998), GeoPackage 1.3 (OGC 12-128r17), zip and CSV (RFC 4180). The places are invented.
"""

import io
import json
import math
import sqlite3
import struct
import zipfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from geographiclib.geodesic import Geodesic
from pyproj import CRS, Transformer

Ring = Sequence[Sequence[float]]
Build = Callable[[Path], Path]

# An irregular plot of about 2.4 acres in invented woods, counter-clockwise, closed; longitude, latitude.
GLADE: list[list[float]] = [
    [-83.4410, 31.2040],
    [-83.4401, 31.2041],
    [-83.4399, 31.2049],
    [-83.4405, 31.2051],
    [-83.4411, 31.2047],
    [-83.4410, 31.2040],
]
POND: list[list[float]] = [
    [-83.4406, 31.2044],
    [-83.4404, 31.2044],
    [-83.4404, 31.2046],
    [-83.4406, 31.2046],
    [-83.4406, 31.2044],
]
SQUARE: list[list[float]] = [
    [-83.4410, 31.2040],
    [-83.4400, 31.2040],
    [-83.4400, 31.2050],
    [-83.4410, 31.2050],
    [-83.4410, 31.2040],
]
BOW_TIE: list[list[float]] = [SQUARE[0], SQUARE[2], SQUARE[1], SQUARE[3], SQUARE[0]]
# An 8 lying on its side: two loops and one crossing in the middle, of the sides after corners 3 and 7.
EIGHT: list[list[float]] = [
    [-83.4410, 31.2040],
    [-83.4410, 31.2050],
    [-83.4402, 31.2046],
    [-83.4398, 31.2044],
    [-83.4390, 31.2040],
    [-83.4390, 31.2050],
    [-83.4398, 31.2046],
    [-83.4402, 31.2044],
    [-83.4410, 31.2040],
]
# Corners a, b, c and back over b: a line, not an area.
THERE_AND_BACK: list[list[float]] = [SQUARE[0], SQUARE[1], SQUARE[2], SQUARE[1], SQUARE[0]]
# Across the 180th meridian, 52 degrees north.
DATE_LINE: list[list[float]] = [
    [179.999, 52.000],
    [180.001, 52.000],
    [180.001, 52.001],
    [179.999, 52.001],
    [179.999, 52.000],
]


def moved(ring: Ring, east: float = 0.0, north: float = 0.0) -> list[list[float]]:
    return [[c[0] + east, c[1] + north, *c[2:]] for c in ring]


def swapped(ring: Ring) -> list[list[float]]:
    """Latitude before longitude, at a place where that puts the second number beyond 90."""
    return [[c[1], c[0] - 20.0] for c in ring]


def ring_m2(ring: Ring) -> float:
    """Area inside a ring on WGS 84 by GeographicLib (Karney, J. Geodesy 87, 2013)."""
    area = Geodesic.WGS84.Polygon()
    for lon, lat, *_ in ring[:-1]:
        area.AddPoint(lat, lon)
    return abs(float(area.Compute(False, True)[2]))


def projected(ring: Ring, crs: str) -> list[list[float]]:
    """A ring of degrees in another system, x first."""
    way = Transformer.from_crs("EPSG:4326", CRS.from_user_input(crs).to_2d(), always_xy=True)
    x, y = way.transform([c[0] for c in ring], [c[1] for c in ring])
    return [[float(a), float(b)] for a, b in zip(x, y, strict=True)]


def file_of(name: str, data: bytes | str) -> Build:
    """A builder of one file."""

    def build(folder: Path) -> Path:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data if isinstance(data, bytes) else data.encode("utf-8"))
        return path

    return build


# --- GeoJSON ---------------------------------------------------------------------------------


def polygon(*rings: Ring) -> dict[str, Any]:
    return {"type": "Polygon", "coordinates": [list(map(list, r)) for r in rings]}


def multipolygon(*polygons: Sequence[Ring]) -> dict[str, Any]:
    return {"type": "MultiPolygon", "coordinates": [[list(map(list, r)) for r in rings] for rings in polygons]}


def line(corners: Ring) -> dict[str, Any]:
    return {"type": "LineString", "coordinates": [list(c) for c in corners]}


def point(lon: float, lat: float) -> dict[str, Any]:
    return {"type": "Point", "coordinates": [lon, lat]}


def collection_of(*geometries: Any) -> dict[str, Any]:
    return {"type": "GeometryCollection", "geometries": list(geometries)}


def feature(geometry: Any, **properties: Any) -> dict[str, Any]:
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def geojson(*features: Any, **members: Any) -> str:
    return json.dumps({"type": "FeatureCollection", **members, "features": list(features)}, ensure_ascii=False)


def named_crs(name: str) -> dict[str, Any]:
    """The ``crs`` member of the GeoJSON of 2008."""
    return {"type": "name", "properties": {"name": name}}


def nested_collections(depth: int) -> str:
    """A square inside `depth` geometry collections, one in the other."""
    inner = json.dumps(polygon(SQUARE))
    opening, closing = '{"type":"GeometryCollection","geometries":[' * depth, "]}" * depth
    return f'{{"type":"Feature","properties":{{}},"geometry":{opening}{inner}{closing}}}'


# --- GPX -------------------------------------------------------------------------------------

GPX_11 = 'version="1.1" creator="tests" xmlns="http://www.topografix.com/GPX/1/1"'
GPX_10 = 'version="1.0" creator="tests" xmlns="http://www.topografix.com/GPX/1/0"'


def gpx(body: str, *, head: str = GPX_11, before: str = "", encoding: str = "UTF-8") -> str:
    return f'<?xml version="1.0" encoding="{encoding}"?>\n{before}<gpx {head}>\n{body}\n</gpx>\n'


def trkpt(lon: Any, lat: Any, inside: str = "") -> str:
    return f'<trkpt lat="{lat}" lon="{lon}">{inside}</trkpt>\n'


def trk(*segments: Ring, name: str = "", inside: str = "") -> str:
    title = f"<name>{name}</name>" if name else ""
    parts = "".join("<trkseg>\n" + "".join(trkpt(c[0], c[1], inside) for c in s) + "</trkseg>\n" for s in segments)
    return f"<trk>{title}{parts}</trk>\n"


def rte(corners: Ring, *, name: str = "") -> str:
    points = "".join(f'<rtept lat="{c[1]}" lon="{c[0]}"/>\n' for c in corners)
    return f"<rte><name>{name}</name>{points}</rte>"


def entity_bomb(root: str) -> str:
    """Ten levels of entities, ten of the one below in each: ten thousand million letters if unfolded."""
    levels = "".join(f'<!ENTITY e{i} "{f"&e{i - 1};" * 10}">' for i in range(1, 10))
    return f'<!DOCTYPE {root} [<!ENTITY e0 "aaaaaaaaaa">{levels}]>\n'


# --- KML -------------------------------------------------------------------------------------


def kml_ring(ring: Ring, *, gap: str = " ") -> str:
    return f"<LinearRing><coordinates>{gap.join(','.join(map(repr, c)) for c in ring)}</coordinates></LinearRing>"


def kml_polygon(*rings: Ring, gap: str = " ") -> str:
    holes = "".join(f"<innerBoundaryIs>{kml_ring(r, gap=gap)}</innerBoundaryIs>" for r in rings[1:])
    return f"<Polygon><outerBoundaryIs>{kml_ring(rings[0], gap=gap)}</outerBoundaryIs>{holes}</Polygon>"


def placemark(shape: str, *, name: str = "") -> str:
    return f"<Placemark>{f'<name>{name}</name>' if name else ''}{shape}</Placemark>\n"


def folder_of(name: str, *inside: str) -> str:
    return f"<Folder><name>{name}</name>{''.join(inside)}</Folder>\n"


def kml(body: str, *, before: str = "", space: str = "http://www.opengis.net/kml/2.2", encoding: str = "UTF-8") -> str:
    xmlns = f' xmlns="{space}"' if space else ""
    return f'<?xml version="1.0" encoding="{encoding}"?>\n{before}<kml{xmlns}><Document>\n{body}</Document></kml>\n'


def redirect(target: str) -> str:
    """A few lines of XML that send a map library to another file, ``plots.geojson``, and no boundary at all."""
    source = f"<SrcDataSource>{target}</SrcDataSource>"
    return f'<OGRVRTDataSource><OGRVRTLayer name="plots">{source}</OGRVRTLayer></OGRVRTDataSource>'


# --- shapefile -------------------------------------------------------------------------------

SHP_POLYGON, SHP_POLYGON_Z, SHP_POLYGON_M, SHP_POINT = 5, 15, 25, 1
WGS84_PRJ = CRS.from_epsg(4326).to_wkt("WKT1_ESRI")


def _shape_record(rings: Sequence[Ring] | None, kind: int) -> bytes:
    if rings is None:
        return struct.pack("<i", 0)
    if kind == SHP_POINT:
        return struct.pack("<i2d", kind, *rings[0][0][:2])
    points = [c for ring in rings for c in ring]
    starts = np.cumsum([0, *(len(r) for r in rings[:-1])])
    xs, ys = [c[0] for c in points], [c[1] for c in points]
    body = struct.pack("<i4d2i", kind, min(xs), min(ys), max(xs), max(ys), len(rings), len(points))
    body += struct.pack(f"<{len(rings)}i", *starts) + b"".join(struct.pack("<2d", *c[:2]) for c in points)
    third = [round(abs(c[0]) * 1e4) % 9 if math.isfinite(c[0]) else 0 for c in points]  # the same where a ring closes
    extra = struct.pack("<2d", 0.0, 9.0) + struct.pack(f"<{len(points)}d", *third)
    return body + extra * (kind != SHP_POLYGON)  # heights, or measures; measures beside heights are optional


def _shape_header(size: int, kind: int) -> bytes:
    return struct.pack(">7i", 9994, 0, 0, 0, 0, 0, size // 2) + struct.pack("<2i8d", 1000, kind, *[0.0] * 8)


def dbf(names: Sequence[str | None], *, encoding: str, field: str, kind: str, deleted: Iterable[int] = ()) -> bytes:
    """A dBASE table with one field: text (C) of width 40, or whole numbers (N) of width 9."""
    gone, width = set(deleted), 9 if kind == "N" else 40
    head = struct.pack("<4BIHH20x", 3, 126, 5, 4, len(names), 65, width + 1)
    column = struct.pack("<11sc4xBB14x", field.encode("ascii"), kind.encode("ascii"), width, 0)
    rows = b""
    for i, name in enumerate(names):
        cell = (name or "").encode(encoding)
        rows += (b"*" if i in gone else b" ") + (cell.rjust(width) if kind == "N" else cell.ljust(width))
    return head + column + b"\r" + rows + b"\x1a"


def shapefile_parts(
    records: Sequence[Sequence[Ring] | None],
    *,
    names: Sequence[str | None] | None = None,
    kind: int = SHP_POLYGON,
    prj: str | None = WGS84_PRJ,
    cpg: str | None = "UTF-8",
    encoding: str = "utf-8",
    field: str = "name",
    field_kind: str = "C",
    deleted: Iterable[int] = (),
) -> dict[str, bytes]:
    """The files of a shapefile by their endings."""
    shapes, index, offset = b"", b"", 100
    for number, rings in enumerate(records, start=1):
        body = _shape_record(rings, kind)
        shapes += struct.pack(">2i", number, len(body) // 2) + body
        index += struct.pack(">2i", offset // 2, len(body) // 2)
        offset += 8 + len(body)
    known = names if names is not None else [f"N{i}" for i in range(1, len(records) + 1)]
    parts = {
        ".shp": _shape_header(100 + len(shapes), kind) + shapes,
        ".shx": _shape_header(100 + len(index), kind) + index,
        ".dbf": dbf(known, encoding=encoding, field=field, kind=field_kind, deleted=deleted),
    }
    if prj is not None:
        parts[".prj"] = prj.encode("utf-8")
    if cpg is not None:
        parts[".cpg"] = cpg.encode("ascii")
    return parts


def shapefile(
    records: Sequence[Sequence[Ring] | None],
    *,
    stem: str = "plots",
    without: Iterable[str] = (),
    change: Mapping[str, Callable[[bytes], bytes]] | None = None,
    give: str = ".shp",
    **options: Any,
) -> Build:
    """A builder of a loose shapefile; parts may be left out or changed, and another part handed in."""

    def build(folder: Path) -> Path:
        for ending, data in shapefile_parts(records, **options).items():
            if ending not in without:
                (folder / f"{stem}{ending}").write_bytes((change or {}).get(ending, bytes)(data))
        return folder / f"{stem}{give}"

    return build


def outer(ring: Ring) -> list[list[float]]:
    """A ring clockwise, as a shapefile wants its outer ones; the rings above run the other way."""
    return [list(c) for c in reversed(ring)]


# --- zip -------------------------------------------------------------------------------------


def zipped(files: Mapping[str, bytes | str]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return out.getvalue()


def zipped_shapefile(prefix: str = "plots", *, without: Iterable[str] = (), **options: Any) -> bytes:
    parts = shapefile_parts([[outer(GLADE)], [outer(moved(SQUARE, 0.01))]], **options)
    return zipped({f"{prefix}{ending}": data for ending, data in parts.items() if ending not in without})


def each_entry(data: bytes, mark: bytes, offset: int, change: Callable[[bytearray, int], None]) -> bytes:
    """Change every header of a zip that starts with `mark`, `offset` bytes in."""
    out, at = bytearray(data), -1
    while (at := out.find(mark, at + 1)) >= 0:
        change(out, at + offset)
    return bytes(out)


def locked(data: bytes) -> bytes:
    """The same zip with the flag of a password on every entry (APPNOTE 4.4.4, bit 0)."""

    def lock(out: bytearray, at: int) -> None:
        out[at] |= 1

    return each_entry(each_entry(data, b"PK\x01\x02", 8, lock), b"PK\x03\x04", 6, lock)


def damaged(data: bytes) -> bytes:
    """The same zip with the squeezed bytes of its first entry overwritten."""
    start = 30 + struct.unpack("<H", data[26:28])[0] + struct.unpack("<H", data[28:30])[0]
    return data[:start] + b"\xff" * 24 + data[start + 24 :]


def claims_two_gigabytes(data: bytes) -> bytes:
    """The same zip, whose list of contents says that each entry unpacks to 2 GB."""

    def claim(out: bytearray, at: int) -> None:
        out[at : at + 4] = struct.pack("<I", 2_000_000_000)

    return each_entry(data, b"PK\x01\x02", 24, claim)


# --- GeoPackage ------------------------------------------------------------------------------

_GPKG_TABLES = """
CREATE TABLE gpkg_spatial_ref_sys (srs_name TEXT NOT NULL, srs_id INTEGER PRIMARY KEY, organization TEXT NOT NULL,
  organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT);
CREATE TABLE gpkg_contents (table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE,
  description TEXT DEFAULT '', last_change DATETIME NOT NULL DEFAULT '2026-05-04T14:00:00.000Z',
  min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER);
CREATE TABLE gpkg_geometry_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL,
  geometry_type_name TEXT NOT NULL, srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL,
  CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name));
INSERT INTO gpkg_spatial_ref_sys VALUES
  ('Undefined Cartesian SRS', -1, 'NONE', -1, 'undefined', 'undefined Cartesian'),
  ('Undefined geographic SRS', 0, 'NONE', 0, 'undefined', 'undefined geographic');
"""


def wkb_polygon(*rings: Ring, kind: int = 3) -> bytes:
    """ISO well-known binary, little endian; kind 3 flat, 1003 with heights, 2003 measures, 3003 both."""
    count = {0: 2, 1: 3, 2: 3, 3: 4}[kind // 1000]
    rows = b""
    for ring in rings:
        full = [[*c, 1.0, 2.0][:count] for c in ring]
        rows += struct.pack("<I", len(full)) + b"".join(struct.pack(f"<{count}d", *c) for c in full)
    return struct.pack("<BII", 1, kind, len(rings)) + rows


def wkb_circle(x: float, y: float, radius: float) -> bytes:
    """A curve polygon whose edge is one circle, as two arcs."""
    corners = [(x - radius, y), (x, y + radius), (x + radius, y), (x, y - radius), (x - radius, y)]
    arcs = struct.pack("<BII", 1, 8, 5) + b"".join(struct.pack("<2d", *c) for c in corners)
    return struct.pack("<BII", 1, 10, 1) + arcs


def wkb_point(x: float, y: float) -> bytes:
    return struct.pack("<BI2d", 1, 1, x, y)


def blob(wkb: bytes, srs_id: int = 4326) -> bytes:
    return b"GP\x00\x01" + struct.pack("<i", srs_id) + wkb


def add_layer(
    db: sqlite3.Connection,
    layer: str,
    rows: Sequence[tuple[Any, bytes | None]],
    *,
    srs_id: int = 4326,
    kind: str = "POLYGON",
    name_type: str = "TEXT",
    zm: tuple[int, int] = (0, 0),
) -> None:
    db.execute(f'CREATE TABLE "{layer}" (fid INTEGER PRIMARY KEY, geom {kind}, name {name_type})')
    contents = "INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) VALUES (?, 'features', ?, ?)"
    db.execute(contents, (layer, layer, srs_id))
    db.execute("INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', ?, ?, ?, ?)", (layer, kind, srs_id, *zm))
    insert = f'INSERT INTO "{layer}" (geom, name) VALUES (?, ?)'  # noqa: S608 - a fixed layer name
    db.executemany(insert, [(shape, name) for name, shape in rows])


def geopackage(
    rows: Sequence[tuple[Any, bytes | None]],
    *,
    file: str = "plots.gpkg",
    srs_id: int = 4326,
    definition: str | None = None,
    kind: str = "POLYGON",
    name_type: str = "TEXT",
    zm: tuple[int, int] = (0, 0),
    more: Callable[[sqlite3.Connection], None] | None = None,
    cut: Callable[[bytes], bytes] | None = None,
) -> Build:
    """A builder of a GeoPackage with the layer ``plots``; `more` may add to it or spoil it."""

    def build(folder: Path) -> Path:
        path = folder / file
        db = sqlite3.connect(path)
        db.execute("PRAGMA application_id = 0x47504B47")
        db.execute("PRAGMA user_version = 10300")
        db.executescript(_GPKG_TABLES)
        known = {4326: CRS.from_epsg(4326).to_wkt("WKT1_GDAL")}
        if definition is not None:
            known[srs_id] = definition
        elif srs_id > 0:
            known[srs_id] = CRS.from_epsg(srs_id).to_wkt("WKT1_GDAL")
        for code, text in known.items():
            db.execute("INSERT INTO gpkg_spatial_ref_sys VALUES ('one', ?, 'EPSG', ?, ?, '')", (code, code, text))
        add_layer(db, "plots", rows, srs_id=srs_id, kind=kind, name_type=name_type, zm=zm)
        if more is not None:
            more(db)
        db.commit()
        db.close()
        if cut is not None:
            path.write_bytes(cut(path.read_bytes()))
        return path

    return build


def statements(*sql: str) -> Callable[[sqlite3.Connection], None]:
    """Further SQL for a GeoPackage."""

    def run(db: sqlite3.Connection) -> None:
        for text in sql:
            db.execute(text)

    return run


# --- CSV -------------------------------------------------------------------------------------


def table(*lines: str, end: str = "\n") -> str:
    return "".join(text + end for text in lines)
