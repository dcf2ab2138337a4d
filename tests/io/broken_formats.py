"""Broken files of the other formats: how each is made, and what its refusal must say."""

import struct
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from gladebook.errors import CallError
from tests.io import corpus as c
from tests.io import corpus_formats as f
from tests.io.broken_plots import METRES, NO_PLACE, NOISE, SHAPES, Broken

_NORTH, _SOUTH = (
    c.feature(c.polygon(c.GLADE), name="North"),
    c.feature(c.polygon(c.moved(c.SQUARE, 0.01)), name="South"),
)
_MARK = "\x1e"


def _lines(text: str) -> c.Build:
    return c.file_of("plots.geojsonl", text)


GOOD_LINES = f.sequence(_NORTH, _SOUTH)

SEQUENCE = [
    Broken("cut in its last line", _lines(GOOD_LINES[:-9]), "cut short.*line 2"),
    Broken("cut in its first line", _lines(GOOD_LINES[:90]), "cut short.*line 1"),
    Broken("prose in the second line", _lines(f.sequence(_NORTH) + "and the pond\n"), "line 2"),
    Broken("a number in the second line", _lines(f.sequence(_NORTH, 7)), "GeoJSON"),
    Broken("only the mark", _lines(_MARK), "no boundary|line 1"),
    Broken(
        "no feature in any collection",
        _lines(f.sequence({"type": "FeatureCollection", "features": []}, mark=_MARK)),
        "no feature",
    ),
    Broken(
        "a topology in the second line", _lines(f.sequence(_NORTH, {"type": "Topology", "objects": {}})), "Topology"
    ),
    Broken(
        "another system in the second line",
        _lines(f.sequence(_NORTH, {**_SOUTH, "crs": c.named_crs("EPSG:26916")})),
        "another coordinate system at line 2",
    ),
    Broken(
        "properties that are a list", _lines(f.sequence(_NORTH, {**_SOUTH, "properties": [1]})), "feature 2.*properties"
    ),
    Broken("lists nested too deep in the second line", _lines(f.sequence(_NORTH) + "[" * 100_000), "deep"),
    Broken("collections nested 460 deep", c.file_of("plots.geojson", c.nested_collections(460)), "deep|collections"),
    Broken(
        "a bow-tie in the second line",
        _lines(f.sequence(_NORTH, c.feature(c.polygon(c.BOW_TIE), name="South"))),
        "South.*crosses itself",
    ),
]

_ROWS = [("North", f.area(c.GLADE)), ("South", f.area(c.moved(c.SQUARE, 0.01)))]
_BROKEN_FGB = "no whole FlatGeobuf"


def _fgb(change: Callable[[bytes], bytes], **options: Any) -> c.Build:
    return f.flatgeobuf(_ROWS, change=change, **options)


def _claims(data: bytes) -> bytes:
    """The same FlatGeobuf without an index, whose first feature says that it is 2 GB long."""
    return f.put(12 + int(struct.unpack_from("<I", data, 8)[0]), struct.pack("<I", 2_000_000_000))(data)


FLATGEOBUF = [
    Broken("only its magic", c.file_of("plots.fgb", b"fgb\x03fgb\x01"), _BROKEN_FGB),
    Broken("noise after its magic", c.file_of("plots.fgb", b"fgb\x03fgb\x01" + NOISE), _BROKEN_FGB),
    Broken("noise", c.file_of("plots.fgb", NOISE), "FlatGeobuf|known"),
    Broken("another version", _fgb(f.put(3, b"\x02")), "FlatGeobuf"),
    Broken("a header of 2 GB", _fgb(f.put(8, struct.pack("<I", 2_000_000_000))), _BROKEN_FGB),
    Broken("a header of nothing", _fgb(f.put(8, struct.pack("<I", 0))), _BROKEN_FGB),
    Broken("a header that points far away", _fgb(f.put(12, struct.pack("<I", 0x7FFFFFFF))), _BROKEN_FGB),
    Broken("a feature of 2 GB", _fgb(_claims, index=False), _BROKEN_FGB),
    Broken("more features than there are", _fgb(f.fgb_count(3), index=False), _BROKEN_FGB),
    Broken("as many features as there are grains of sand", _fgb(f.fgb_count(2**63)), _BROKEN_FGB),
    Broken("no features", f.flatgeobuf([], index=False), "no feature"),
    Broken("no system", f.flatgeobuf(_ROWS, crs=None), "coordinate system.*--crs"),
    Broken("points only", f.flatgeobuf([("Gate", f.Point(-83.44, 31.2))]), r"no area.*points \(1\)"),
    Broken("metres called degrees", f.flatgeobuf([("North", f.area(METRES))]), f"North.*({NO_PLACE})"),
    Broken("a bow-tie", f.flatgeobuf([("North", f.area(c.BOW_TIE))]), "North.*crosses itself"),
    Broken("a layer where there is none", f.flatgeobuf(_ROWS), "--layer", options={"layer": "x"}, error=CallError),
    Broken("as a track", f.flatgeobuf(_ROWS), "FlatGeobuf, which holds no track", "track"),
]

_PLOTS = {"plots": _ROWS}
_BROKEN_GDB = "cannot be read as file geodatabase"
LAYER_TABLE = "a00000009.gdbtable"  # the first eight are the geodatabase's own


def _empty_gdb(folder: Path) -> Path:
    (folder / "plots.gdb").mkdir()
    return folder / "plots.gdb"


def _gdb(*, without: str = "", **change: Callable[[bytes], bytes]) -> c.Build:
    parts = {f"a{part[1:]}".replace("_", "."): act for part, act in change.items()}
    return f.geodatabase(_PLOTS, change=parts, without=[without] if without else [])


GEODATABASE = [
    Broken("an empty folder", _empty_gdb, _BROKEN_GDB),
    Broken("its first table missing", _gdb(without="a00000001.gdbtable"), _BROKEN_GDB),
    Broken("its layer's table missing", _gdb(without=LAYER_TABLE), _BROKEN_GDB),
    Broken("its layer's list of rows missing", _gdb(without="a00000009.gdbtablx"), _BROKEN_GDB),
    Broken("its layer's table cut short", _gdb(a00000009_gdbtable=lambda d: d[:-40]), _BROKEN_GDB),
    Broken("its layer's table empty", _gdb(a00000009_gdbtable=lambda _: b""), _BROKEN_GDB),
    Broken("its layer's list of rows cut short", _gdb(a00000009_gdbtablx=lambda d: d[:-100]), _BROKEN_GDB),
    Broken("more rows than there are", _gdb(a00000009_gdbtable=f.put(4, struct.pack("<i", 3))), _BROKEN_GDB),
    Broken("a table of 2 GB", _gdb(a00000009_gdbtable=f.put(24, struct.pack("<q", 2**31))), _BROKEN_GDB),
    Broken("noise for a catalogue", _gdb(a00000001_gdbtable=lambda _: NOISE), _BROKEN_GDB),
    Broken("several layers", f.geodatabase({"plots": _ROWS, "old": _ROWS}), "plots, old.*--layer"),
    Broken("an unknown layer", f.geodatabase(_PLOTS), '"new".*plots', options={"layer": "new"}),
    Broken("no system", f.geodatabase(_PLOTS, crs=None), "coordinate system.*--crs"),
    Broken(
        "points only",
        f.geodatabase({"gates": [("Gate", f.Point(-83.44, 31.2))]}, kinds={"gates": "Point"}),
        r"no area.*points \(1\)",
    ),
    Broken("as a track", f.geodatabase(_PLOTS), "geodatabase, which holds no track", "track"),
    Broken(
        "several layers, zipped", f.zipped_folder(f.geodatabase({"plots": _ROWS, "old": _ROWS})), "plots, old.*--layer"
    ),
]


def _shp(change: Mapping[str, Callable[[bytes], bytes]]) -> c.Build:
    return c.shapefile(SHAPES, change=change)


_FIRST = 100 + 8  # the first record's content
_BROKEN_SHP = "cannot be read as shapefile"

SHAPEFILE = [
    Broken(
        "a record of 2,000,000,000 points",
        _shp({".shp": f.put(_FIRST + 40, struct.pack("<i", 2_000_000_000))}),
        _BROKEN_SHP,
    ),
    Broken("a record of fewer than no parts", _shp({".shp": f.put(_FIRST + 36, struct.pack("<i", -1))}), _BROKEN_SHP),
    Broken("a record longer than its list says", _shp({".shp": f.put(104, struct.pack(">i", 2**30))}), _BROKEN_SHP),
    Broken("a list that points beyond the end", _shp({".shx": f.put(108, struct.pack(">i", 2**30))}), _BROKEN_SHP),
    Broken("a list that points into a record", _shp({".shx": f.put(108, struct.pack(">i", 60))}), _BROKEN_SHP),
    Broken("a .shp of 2 GB", _shp({".shp": f.put(24, struct.pack(">i", 1_000_000_000))}), _BROKEN_SHP),
    Broken("a .shx of 2 GB", _shp({".shx": f.put(24, struct.pack(">i", 1_000_000_000))}), _BROKEN_SHP),
    Broken("a .dbf of 4,000,000,000 rows", _shp({".dbf": f.put(4, b"\xff\xff\xff\xff")}), _BROKEN_SHP),
    Broken("fewer rows than shapes", _shp({".dbf": f.put(4, struct.pack("<I", 2))}), _BROKEN_SHP),
    Broken("fewer shapes than rows", _shp({".shx": lambda d: f.put(24, struct.pack(">i", 58))(d[:-8])}), _BROKEN_SHP),
]

_PARTS = {
    f"{stem}{e}": d for stem in ("a/north", "b/north") for e, d in c.shapefile_parts([[c.outer(c.GLADE)]]).items()
}
_KML = c.kml(c.placemark(c.kml_polygon(c.GLADE), name="North"))


def _zip(files: Mapping[str, bytes | str], name: str = "plots.zip") -> c.Build:
    return c.file_of(name, c.zipped(files))


def _bomb() -> bytes:
    """60 MB of blanks in some 60 kB."""
    return c.zipped({"plots.kml": b"<kml>" + b" " * 60_000_000})


def _method(data: bytes) -> bytes:
    """The same zip, whose entries say that they are packed by a method that nobody uses (APPNOTE 4.4.5)."""

    def change(out: bytearray, at: int) -> None:
        out[at : at + 2] = struct.pack("<H", 60)

    return c.each_entry(c.each_entry(data, b"PK\x01\x02", 10, change), b"PK\x03\x04", 8, change)


ZIP = [
    Broken(
        "only another zip",
        _zip({"inner.zip": c.zipped({"plots.kml": _KML})}),
        r"no boundary file, only another zip \(inner\.zip\)",
    ),
    Broken("a zip bomb", c.file_of("plots.zip", _bomb()), "times its size.*at most 200.*--limit unzip_ratio=400"),
    Broken(
        "packed by an unknown method", c.file_of("plots.zip", _method(c.zipped({"plots.kml": _KML}))), "packed in a way"
    ),
    Broken(
        "a name that none of its files has",
        _zip(_PARTS),
        '"south" names none.*a/north.shp, b/north.shp',
        options={"layer": "south"},
    ),
    Broken(
        "a name that two of its files have",
        _zip(_PARTS),
        '"north" names 2.*a/north.shp, b/north.shp',
        options={"layer": "north"},
    ),
    Broken(
        "KMZ: two at the top, none of them doc.kml",
        _zip({"a.kml": _KML, "b.kml": _KML}, "p.kmz"),
        "2 boundary files.*--layer",
    ),
    Broken("two of a kind of text", _zip({"a.geojson": "{}", "b.geojson": "{}"}), "2 boundary files.*--layer"),
    Broken("as a track: none in it", _zip({"i.png": b"x"}), "holds no track", "track"),
    Broken("as a track: two in it", _zip({"a.gpx": "x", "b.gpx": "x"}), r"2 tracks \(a\.gpx, b\.gpx\)", "track"),
]

_NORTH_WKT, _SOUTH_WKT = f.wkt(c.GLADE), f.wkt(c.moved(c.SQUARE, 0.01))
_DEGREES = {"crs": "EPSG:4326"}


def _table(*lines: str) -> c.Build:
    return c.file_of("plots.csv", c.table(*lines))


def _second(cell: str) -> c.Build:
    """A table whose second row has the cell given."""
    return _table("name,wkt", f'North,"{_NORTH_WKT}"', f'South,"{cell}"')


WKT = [
    Broken("no system", _second(_SOUTH_WKT), "does not state its coordinate system.*--crs"),
    Broken(
        "two systems",
        _table("name,wkt", *(f'N,"SRID={n};{_NORTH_WKT}"' for n in (4326, 26916))),
        "different coordinate systems",
    ),
    Broken("an unknown system", _table("name,wkt", f'N,"SRID=999999;{_NORTH_WKT}"'), "SRID=999999.*--crs"),
    Broken("a table without shapes", _table("name,acres", "North,2.5"), "table.*no boundary"),
    Broken("commas without quotes", _table("name,wkt", f"North,{_NORTH_WKT}"), "line 2.*quotes", options=_DEGREES),
    Broken(
        "a row cut short",
        _table("name,wkt,acres", f'North,"{_NORTH_WKT}",2', "South"),
        "line 3.*cells",
        options=_DEGREES,
    ),
    Broken(
        "an open quote", _table("name,wkt", f'North,"{_NORTH_WKT}"', f'South,"{_SOUTH_WKT}'), "line 3", options=_DEGREES
    ),
    Broken("a shape cut short", _second(_SOUTH_WKT[:60]), "South.*no whole well-known text", options=_DEGREES),
    Broken("prose for a shape", _second("behind the barn"), "South.*behind the barn.*no whole", options=_DEGREES),
    Broken("a ring not closed", _second(f.wkt(c.SQUARE[:-1])), "South", options=_DEGREES),
    Broken("a number for a shape", _second("POLYGON ((nan 1, 2 3, 4 5, nan 1))"), "South", options=_DEGREES),
    Broken("1e308", _second(_SOUTH_WKT.replace("-83.431", "1e308")), "South", options=_DEGREES),
    Broken("infinity", _second("POLYGON ((inf 1, 2 3, 4 5, inf 1))"), "South", options=_DEGREES),
    Broken("a ring of two corners", _second(f.wkt(c.SQUARE[:2])), "South", options=_DEGREES),
    Broken("a bow-tie", _second(f.wkt(c.BOW_TIE)), "South.*crosses itself", options=_DEGREES),
    Broken("points only", _table("name,wkt", "Gate,POINT (-83.44 31.2)"), r"no area.*points \(1\)", options=_DEGREES),
    Broken(
        "collections nested 5,000 deep",
        _second("GEOMETRYCOLLECTION(" * 5_000 + "POINT (1 2)" + ")" * 5_000),
        "South.*collections",
        options=_DEGREES,
    ),
    Broken(
        "an edge of arcs",
        _second("CURVEPOLYGON (CIRCULARSTRING (0 0, 1 1, 2 0, 1 -1, 0 0))"),
        "South",
        options=_DEGREES,
    ),
    Broken("letters of no code", c.file_of("plots.csv", b"name,wkt\n\x81\x8d\xff," + _NORTH_WKT.encode()), "UTF-8"),
    Broken("a layer where there is none", _second(_SOUTH_WKT), "--layer", options={"layer": "x"}, error=CallError),
]

_TIME = "2026-05-04T14:00:00Z"


def _csv(*lines: str) -> c.Build:
    return c.file_of("track.csv", c.table(*lines))


TABLES = [
    Broken(
        "a point among decimal commas",
        _csv("time;lat;lon", f"{_TIME};31,204;-83,441", f"{_TIME};31.204;-83,441"),
        'line 2.*"-83,441"',
        "track",
    ),
    Broken(
        "minutes without a side",
        _csv("time,lat,lon", f"{_TIME},31 12.3,83 26.46"),
        'line 2.*"(31 12.3|83 26.46)"',
        "track",
    ),
    Broken("61 minutes", _csv("time,lat,lon", f"{_TIME},31 61.0 N,83 26 W"), 'line 2.*"31 61.0 N"', "track"),
    Broken("a latitude to the east", _csv("time,lat,lon", f"{_TIME},31.2 E,83.4 W"), 'line 2.*"31.2 E"', "track"),
    Broken("a receiver's ddmm.mm", _csv("time,lat,lon", f"{_TIME},3112.3,-8326.4"), f"line 2.*({NO_PLACE})", "track"),
    Broken(
        "a day in American order",
        _csv("date,time,lat,lon", "5/4/2026,14:05:00,31.2,-83.44"),
        'line 2.*"5/4/2026".*--time-format',
        "track",
    ),
    Broken(
        "a time of day with PM",
        _csv("date,time,lat,lon", "2026-05-04,2:05 PM,31.2,-83.44"),
        'line 2.*"2:05 PM".*--time-format',
        "track",
    ),
    Broken(
        "seconds beside a day",
        _csv("date,time,lat,lon", "2026-05-04,12,31.2,-83.44"),
        'line 2.*"12".*--time-format',
        "track",
    ),
    Broken("no day beside its time", _csv("date,time,lat,lon", ",12:00:00,31.2,-83.44"), 'line 2.*date ""', "track"),
    Broken(
        "a time with PM",
        _csv("time,lat,lon", "5/4/2026 2:05 PM,31.2,-83.44"),
        'line 2.*"5/4/2026 2:05 PM".*--time-format',
        "track",
    ),
    Broken(
        "two widths",
        _csv("time,lat,lon,width_m,width_ft", f"{_TIME},31.2,-83.44,3,10"),
        'two columns for "width_m"',
        "track",
    ),
    Broken("letters of no code", c.file_of("track.csv", b"time,lat,lon\n\x81\x8d\xff"), "UTF-8", "track"),
    Broken(
        "a lone half of a letter in UTF-16",
        c.file_of("track.csv", c.table("time,lat,lon").encode("utf-16") + b"\x00\xd8"),
        "UTF-8",
        "track",
    ),
    Broken("a heading of 30,000 letters", _csv("x" * 30_000 + ",lat,lon", "1,31.2,-83.44"), "no column", "track"),
    Broken("as plots: a receiver's log", c.file_of("drive.nmea", "$GPRMC,1,A\r\n"), "receiver's log.*no boundary"),
    Broken(
        "times of two lines, one missing",
        c.file_of(
            "track.geojson",
            c.geojson(
                c.feature({"type": "MultiLineString", "coordinates": [c.SQUARE[:2], c.SQUARE[:2]]}, times=[_TIME] * 3)
            ),
        ),
        "feature 1.*times.*2 corners",
        "track",
    ),
    Broken(
        "points a line, cut short",
        c.file_of("track.geojsonl", f.sequence(*[c.feature(c.point(-83.44, 31.2))] * 2)[:-4]),
        "cut short.*line 2",
        "track",
    ),
]
