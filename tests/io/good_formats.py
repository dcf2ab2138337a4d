"""Good boundary files of the other formats: sequences, FlatGeobuf, geodatabases, KMZ, zips, tables of shapes."""

import zipfile
from pathlib import Path

from pyproj import CRS

from tests.io import corpus as c
from tests.io import corpus_formats as f
from tests.io.good_plots import GLADE_M2, WKB_GLADE, Good, gpkg_file

_POND_M2 = c.ring_m2(c.POND)
_SQUARE_M2 = c.ring_m2(c.SQUARE)
_EAST = c.moved(c.SQUARE, 0.01)
_FAR = c.moved(c.SQUARE, 0.02)
_N = [("North", GLADE_M2)]
_TWO = [("North", GLADE_M2), ("South", _SQUARE_M2)]
_NORTH, _SOUTH = c.feature(c.polygon(c.GLADE), name="North"), c.feature(c.polygon(_EAST), name="South")
_MARK = "\x1e"
_UTM = {"crs": c.named_crs("EPSG:26916")}


def _lines(*documents: object, name: str = "plots.geojsonl", **options: object) -> c.Build:
    return c.file_of(name, f.sequence(*documents, **options))  # type: ignore[arg-type]


SEQUENCE = [
    Good("a feature a line", _lines(_NORTH, _SOUTH), _TWO),
    Good("named .ndjson", _lines(_NORTH, _SOUTH, name="plots.ndjson"), _TWO),
    Good("named .txt", _lines(_NORTH, _SOUTH, name="plots.txt"), _TWO),
    Good("no line end at its end", c.file_of("plots.geojsonl", f.sequence(_NORTH, _SOUTH).rstrip()), _TWO),
    Good("blank lines and carriage returns", _lines(_NORTH, _SOUTH, end="\r\n\r\n"), _TWO),
    Good("a mark before it", c.file_of("plots.geojsonl", b"\xef\xbb\xbf" + f.sequence(_NORTH, _SOUTH).encode()), _TWO),
    Good("UTF-16", c.file_of("plots.geojsonl", f.sequence(_NORTH, _SOUTH).encode("utf-16")), _TWO),
    Good("UTF-16 without a mark", c.file_of("plots.geojson", c.geojson(_NORTH).encode("utf-16-le")), _N),
    Good(
        "geometries alone",
        _lines(c.polygon(c.GLADE), c.polygon(_EAST)),
        [("Plot 1", GLADE_M2), ("Plot 2", _SQUARE_M2)],
    ),
    Good("RFC 8142", _lines(_NORTH, _SOUTH, mark=_MARK, name="plots.geojsons"), _TWO),
    Good("RFC 8142, one text", _lines(_NORTH, mark=_MARK), _N),
    Good("RFC 8142, texts over many lines", _lines(_NORTH, _SOUTH, mark=_MARK, indent=2), _TWO),
    Good(
        "RFC 8142, collections among features",
        _lines(
            {"type": "FeatureCollection", "features": [_NORTH]},
            {"type": "FeatureCollection", "features": []},
            _SOUTH,
            mark=_MARK,
        ),
        _TWO,
    ),
    Good("a row without a shape", _lines(_NORTH, c.feature(None), _SOUTH), _TWO, r"rows without a shape \(1: "),
    Good("a ring not closed", _lines(c.feature(c.polygon(c.GLADE[:-1]), name="North"), _SOUTH), _TWO, "not closed"),
    Good(
        "old crs in each line",
        _lines(*({**c.feature(c.polygon(c.projected(c.GLADE, "EPSG:26916")), name=n), **_UTM} for n in "AB")),
        [("A", GLADE_M2), ("B", GLADE_M2)],
        "*",
    ),
    Good(
        "a hundred plots, one of them crossing a corner of itself",
        _lines(
            *(c.feature(c.polygon(c.moved(c.GLADE, 0.001 * i)), name=f"P{i}") for i in range(99)),
            c.feature(c.polygon([*c.SQUARE[:2], c.SQUARE[1], *c.SQUARE[2:]]), name="Twice"),
        ),
        [*((f"P{i}", c.ring_m2(c.moved(c.GLADE, 0.001 * i))) for i in range(99)), ("Twice", _SQUARE_M2)],
    ),
]

_ROWS = [("North", f.area(c.GLADE)), ("South", f.area(_EAST))]
_UTM_ROWS = [("North", f.area(c.projected(c.GLADE, "EPSG:26916")))]

FLATGEOBUF = [
    # With an index the rows stand along a curve of Hilbert; these two happen to keep their order.
    Good("plain", f.flatgeobuf(_ROWS, index=False), _TWO),
    Good("with an index", f.flatgeobuf(_ROWS[:1]), _N),
    Good("a number of features that is not stated", f.flatgeobuf(_ROWS, index=False, change=f.fgb_count(0)), _TWO),
    Good("another patch number", f.flatgeobuf(_ROWS, index=False, change=f.put(7, b"\x09")), _TWO),
    Good("named .bin", f.flatgeobuf(_ROWS, index=False, file="plots.bin"), _TWO),
    Good("a file name of signs", f.flatgeobuf(_ROWS, index=False, file="a b%20#?&=é{1}'$!.zip!x.fgb"), _TWO),
    Good("a hole", f.flatgeobuf([("North", f.area(c.GLADE, c.POND))]), [("North", GLADE_M2 - _POND_M2)]),
    Good("two parts", f.flatgeobuf([("North", f.areas(c.GLADE, _EAST))]), [("North", GLADE_M2 + _SQUARE_M2)]),
    Good("UTM", f.flatgeobuf(_UTM_ROWS, crs="EPSG:26916"), _N, "*"),
    Good("no system, and --crs", f.flatgeobuf(_UTM_ROWS, crs=None), _N, "as --crs says", options={"crs": "EPSG:26916"}),
    Good("no names", f.flatgeobuf([(None, f.area(c.GLADE))]), [("Plot 1", GLADE_M2)]),
    Good("zipped", f.zipped_folder(f.flatgeobuf(_ROWS, index=False), prefix="a/"), _TWO),
]

_STANDS = [("Oak stand", f.Point(-83.44, 31.2))]
_FINE_M2 = 0.05  # GDAL's geodatabases keep corners on a grid of 1e-9 degrees, a tenth of a millimetre

GEODATABASE = [
    Good("plain", f.geodatabase({"plots": _ROWS}), _TWO, within_m2=_FINE_M2),
    Good("a name of its own", f.geodatabase({"plots": _ROWS}, file="woods 2026.GDB"), _TWO, within_m2=_FINE_M2),
    Good(
        "a folder name with an exclamation mark",
        f.geodatabase({"plots": _ROWS}, file="wood!s.gdb"),
        _TWO,
        within_m2=_FINE_M2,
    ),
    Good(
        "points beside the plots",
        f.geodatabase({"stands": _STANDS, "plots": _ROWS}, kinds={"stands": "Point"}),
        _TWO,
        within_m2=_FINE_M2,
    ),
    Good(
        "two layers, one chosen",
        f.geodatabase({"plots": _ROWS, "old": _ROWS[:1]}),
        _N,
        options={"layer": "old"},
        within_m2=_FINE_M2,
    ),
    Good("UTM", f.geodatabase({"plots": _UTM_ROWS}, crs="EPSG:26916"), _N, "*", within_m2=_FINE_M2),
    Good(
        "a row without a shape",
        f.geodatabase({"plots": [_ROWS[0], ("Lost", None), _ROWS[1]]}),
        _TWO,
        r"rows without a shape \(1: ",
        within_m2=_FINE_M2,
    ),
    Good("zipped", f.zipped_folder(f.geodatabase({"plots": _ROWS})), _TWO, within_m2=_FINE_M2),
    Good(
        "zipped in a folder, two layers, one chosen",
        f.zipped_folder(f.geodatabase({"plots": _ROWS, "old": _ROWS[:1]}), prefix="a/b/"),
        _N,
        options={"layer": "old"},
        within_m2=_FINE_M2,
    ),
    Good(
        "zipped, its layer chosen behind its name",
        f.zipped_folder(f.geodatabase({"plots": _ROWS, "old": _ROWS[:1]})),
        _N,
        options={"layer": "plots.gdb/old"},
        within_m2=_FINE_M2,
    ),
]

_KML_NORTH = c.kml(c.placemark(c.kml_polygon(c.GLADE), name="North"))
_KML_OTHER = c.kml(c.placemark(c.kml_polygon(_FAR), name="Other"))
_SHAPES = {
    f"{stem}{ending}": data
    for stem, ring in (("spring/north", c.GLADE), ("south", _EAST))
    for ending, data in c.shapefile_parts([[c.outer(ring)]], names=[stem]).items()
}


def _zip(files: dict[str, bytes | str], name: str = "plots.zip") -> c.Build:
    return c.file_of(name, c.zipped(files))


def _two_geopackages(folder: Path) -> Path:
    """A zip with a GeoPackage of two layers, and a shapefile."""
    inner = folder / "inner"
    inner.mkdir()
    path = gpkg_file(WKB_GLADE, more=lambda db: c.add_layer(db, "old", [("Old", c.blob(WKB_GLADE))]))(inner)
    data = path.read_bytes()
    path.unlink()
    inner.rmdir()
    return _zip({"woods.gpkg": data, **_SHAPES})(folder)


MORE_ZIP = [
    Good("KMZ: doc.kml before others", _zip({"more.kml": _KML_OTHER, "doc.kml": _KML_NORTH}, "a.kmz"), _N, "more.kml"),
    Good(
        "KMZ: the one at the top",
        _zip({"files/more.kml": _KML_OTHER, "Woods.kml": _KML_NORTH, "files/i.png": b"x"}, "a.kmz"),
        _N,
        "only Woods.kml was read; files/more.kml was left out",
    ),
    Good("KMZ: one in a folder", _zip({"files/woods.kml": _KML_NORTH}, "a.kmz"), _N),
    Good(
        "KMZ: another one, chosen",
        _zip({"more.kml": _KML_OTHER, "doc.kml": _KML_NORTH}, "a.kmz"),
        [("Other", _SQUARE_M2)],
        options={"layer": "more"},
    ),
    Good("shapefiles, one chosen", _zip(dict(_SHAPES)), [("south", _SQUARE_M2)], options={"layer": "south"}),
    Good(
        "shapefiles, one chosen by its place",
        _zip(dict(_SHAPES)),
        [("spring/north", GLADE_M2)],
        options={"layer": "Spring/North.shp"},
    ),
    Good("a layer of one of several", _two_geopackages, [("Old", GLADE_M2)], options={"layer": "woods.gpkg/old"}),
    Good("the only file, named", _zip({"plots.kml": _KML_NORTH}), _N, options={"layer": "plots"}),
    Good("names that climb out", _zip({"../../plots.kml": _KML_NORTH, "/etc/x.png": b"x"}), _N),
    Good("stored, not packed", c.file_of("plots.zip", f.stored({"plots.kml": _KML_NORTH.encode()})), _N),
    Good(
        "packed by other means",
        c.file_of("plots.zip", f.stored({"plots.kml": _KML_NORTH.encode()}, method=zipfile.ZIP_LZMA)),
        _N,
    ),
    Good(
        "packed two hundred times and more, but small",
        _zip({"plots.kml": _KML_NORTH.replace("<Document>", "<Document>" + " " * 2_000_000)}),
        _N,
    ),
    Good(
        "a shapefile beside a name that pyogrio would split",
        c.shapefile([[c.outer(c.GLADE)]], names=["North"], stem="a!b"),
        _N,
    ),
    Good("GeoJSON in lines", _zip({"plots.geojsonl": f.sequence(_NORTH, _SOUTH)}), _TWO),
    Good(
        "a table of shapes",
        _zip({"readme.txt": "hello", "plots.csv": f'name,wkt\nNorth,"{f.wkt(c.GLADE)}"\n'}),
        _N,
        "as --crs says",
        options={"crs": "EPSG:4326"},
    ),
]

_DEGREES = {"crs": "EPSG:4326"}
_NORTH_WKT, _SOUTH_WKT = f.wkt(c.GLADE), f.wkt(_EAST)
_SAYS = "as --crs says"


def _table(*lines: str, name: str = "plots.csv", end: str = "\n") -> c.Build:
    return c.file_of(name, c.table(*lines, end=end))


_PLAIN = ["name,wkt", f'North,"{_NORTH_WKT}"', f'South,"{_SOUTH_WKT}"']

WKT = [
    Good("plain", _table(*_PLAIN), _TWO, _SAYS, options=_DEGREES),
    Good("with its number", _table("name,wkt", f'North,"SRID=4326;{_NORTH_WKT}"'), _N),
    Good(
        "with its number, UTM",
        _table("name,wkt", f'North,"SRID=26916;{f.wkt(c.projected(c.GLADE, "EPSG:26916"))}"'),
        _N,
        "*",
    ),
    Good("semicolons", _table("name;wkt", f"North;{_NORTH_WKT}", f"South;{_SOUTH_WKT}"), _TWO, _SAYS, options=_DEGREES),
    Good("tabs", _table("name\twkt", f"North\t{_NORTH_WKT}"), _N, _SAYS, options=_DEGREES),
    Good("bars, carriage returns", _table("wkt|NAME", f"{_NORTH_WKT}|North", end="\r\n"), _N, _SAYS, options=_DEGREES),
    Good("one column", _table("shape", f'"{_NORTH_WKT}"'), [("Plot 1", GLADE_M2)], _SAYS, options=_DEGREES),
    Good("one column without quotes", _table("shape", _NORTH_WKT), [("Plot 1", GLADE_M2)], _SAYS, options=_DEGREES),
    Good(
        "small letters", _table(*(line.replace("POLYGON", "polygon") for line in _PLAIN)), _TWO, _SAYS, options=_DEGREES
    ),
    Good(
        "a hole",
        _table("name,wkt", f'North,"{f.wkt(c.GLADE, c.POND)}"'),
        [("North", GLADE_M2 - _POND_M2)],
        _SAYS,
        options=_DEGREES,
    ),
    Good(
        "heights",
        _table("name,wkt", f'North,"{f.force_3d(f.area(c.GLADE), 90.0).wkt}"'),
        _N,
        _SAYS,
        options=_DEGREES,
    ),
    Good(
        "two parts",
        _table("name,wkt", f'North,"{f.areas(c.GLADE, _EAST).wkt}"'),
        [("North", GLADE_M2 + _SQUARE_M2)],
        _SAYS,
        options=_DEGREES,
    ),
    Good(
        "a cell without a shape, and a blank line",
        _table("name,wkt", "Lost,", "", *_PLAIN[1:]),
        _TWO,
        r"rows without a shape \(1: ",
        options=_DEGREES,
    ),
    Good(
        "names in Windows-1252",
        c.file_of("plots.csv", f'name,wkt\nÄsung,"{_NORTH_WKT}"\n'.encode("cp1252")),
        [("Äsung", GLADE_M2)],
        "Windows-1252",
        options=_DEGREES,
    ),
    Good(
        "UTF-16",
        c.file_of("plots.csv", f'name,wkt\nПоляна,"{_NORTH_WKT}"\n'.encode("utf-16")),
        [("Поляна", GLADE_M2)],
        _SAYS,
        options=_DEGREES,
    ),
    Good("named .txt", _table(*_PLAIN, name="plots.txt"), _TWO, _SAYS, options=_DEGREES),
]

_PROJJSON = CRS.from_epsg(26916).to_json_dict()

PARQUET = [
    Good("plain", f.parquet(_ROWS), _TWO),
    Good("corners as numbers", f.parquet(_ROWS, encoding="polygon"), _TWO),
    Good("a hole", f.parquet([("North", f.area(c.GLADE, c.POND))]), [("North", GLADE_M2 - _POND_M2)]),
    Good("UTM", f.parquet(_UTM_ROWS, crs=_PROJJSON), _N, "*"),
    Good("crs of null, and --crs", f.parquet(_UTM_ROWS, crs=None), _N, _SAYS, options={"crs": "EPSG:26916"}),
    Good("a row without a shape", f.parquet([*_ROWS, ("Lost", None)]), _TWO, r"rows without a shape \(1: "),
    Good("named .bin", f.parquet(_ROWS, file="plots.bin"), _TWO),
]
