"""Good boundary files with quirks: how each is made, and the names and areas that it must give."""

import json
import math
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pyproj import CRS

from tests.io import corpus as c

# GeographicLib and PROJ agree to about 1e-3 m2 on plots with a perimeter under 10 km (Planimeter documentation).
_SAME_M2 = 1e-3

# Areas by GeographicLib, in m2.
GLADE_M2 = c.ring_m2(c.GLADE)
_SQUARE = c.ring_m2(c.SQUARE)
_POND = c.ring_m2(c.POND)
_EAST = c.moved(c.SQUARE, 0.01)


@dataclass(frozen=True)
class Good:
    """A boundary file: how it is made and read, and the names and square metres that it must give.

    `says` is a pattern that the notices must hold; None asks for no notice at all, "*" allows any.
    """

    name: str
    build: c.Build
    plots: Sequence[tuple[str, float]]
    says: str | None = None
    options: dict[str, Any] = field(default_factory=dict)
    walked: bool = False
    within_m2: float = _SAME_M2


def geojson_file(*features: Any, **members: Any) -> c.Build:
    return c.file_of("plots.geojson", c.geojson(*features, **members))


def _one(geometry: Any, **members: Any) -> c.Build:
    return geojson_file(c.feature(geometry, name="North"), **members)


def glade_in(crs: str, name: str = "North") -> c.Build:
    """The glade in another coordinate system, stated by the older member."""
    return geojson_file(c.feature(c.polygon(c.projected(c.GLADE, crs)), name=name), crs=c.named_crs(crs))


_N = [("North", GLADE_M2)]
_TWO = [("North", GLADE_M2), ("South", _SQUARE)]
_BOTH = c.feature(c.polygon(c.GLADE), name="North"), c.feature(c.polygon(_EAST), name="South")
_TEXT = c.geojson(*_BOTH)
_CYRILLIC = c.geojson(c.feature(c.polygon(c.GLADE), name="Поляна"), c.feature(c.polygon(_EAST), name="Große Äsung"))
_CYRILLIC_PLOTS = [("Поляна", GLADE_M2), ("Große Äsung", _SQUARE)]
_HIGH = [[*corner, 90.0 + i % 5] for i, corner in enumerate(c.GLADE)]
_RISING = [[*corner, 90.0 + i] for i, corner in enumerate(c.GLADE)]  # closed on the map, not in height
_DATE_LINE = c.ring_m2(c.DATE_LINE)
_WEST_HALF = [[179.999, 52.0], [180.0, 52.0], [180.0, 52.001], [179.999, 52.001], [179.999, 52.0]]
_EAST_HALF = [[-180.0, 52.0], [-179.999, 52.0], [-179.999, 52.001], [-180.0, 52.001], [-180.0, 52.0]]
# EPSG Guidance Note 7-2, method 9820: ETRS89 50 N 5 E is 3962799.45, 2999718.85 in EPSG:3035, an equal-area
# system; so 100 m by 100 m in it is 10,000 m2 of ground. A corner rounded to 0.01 m moves nothing that matters.
LAEA_SQUARE = [[3962799.45 + x, 2999718.85 + y] for x, y in ((0, 0), (100, 0), (100, 100), (0, 100), (0, 0))]
# Albers of the lower 48 (EPSG:5070) is equal-area too. 300 ft by 500 ft is 150,000 sq ft, 13,935.4560 m2 (computed).
_FT = 0.3048
_ALBERS = [[1188000 + x * _FT, 1010000 + y * _FT] for x, y in ((0, 0), (300, 0), (300, 500), (0, 500), (0, 0))]
_ALBERS_M2 = 150_000 * _FT**2

GEOJSON = [
    Good("plain", geojson_file(*_BOTH), _TWO),
    Good("heights", _one(c.polygon(_HIGH)), _N),
    Good("four values in each corner", _one(c.polygon([[*k, 7.0] for k in _HIGH])), _N),
    Good("a ring not closed", _one(c.polygon(c.GLADE[:-1])), _N, "not closed"),
    Good("a ring closed but for its height", _one(c.polygon(_RISING)), _N),
    Good("a ring not closed within a collection", _one(c.collection_of(c.polygon(c.GLADE[:-1]))), _N, "not closed"),
    Good("clockwise", _one(c.polygon(c.outer(c.GLADE))), _N),
    Good("a hole the other way round", _one(c.polygon(c.GLADE, c.outer(c.POND))), [("North", GLADE_M2 - _POND)]),
    Good("a hole the same way round", _one(c.polygon(c.GLADE, c.POND)), [("North", GLADE_M2 - _POND)]),
    Good("both clockwise", _one(c.polygon(c.outer(c.GLADE), c.outer(c.POND))), [("North", GLADE_M2 - _POND)]),
    Good("a hole not closed", _one(c.polygon(c.GLADE, c.POND[:-1])), [("North", GLADE_M2 - _POND)], "not closed"),
    Good("every corner twice", _one(c.polygon([k for k in c.GLADE for _ in (0, 1)])), _N),
    Good(
        "a hole that touches the edge in one corner",
        _one(c.polygon(c.SQUARE, [c.SQUARE[0], c.POND[0], c.POND[1], c.SQUARE[0]])),
        [("North", _SQUARE - c.ring_m2([c.SQUARE[0], c.POND[0], c.POND[1], c.SQUARE[0]]))],
        "*",
    ),
    Good("two parts", _one(c.multipolygon([c.GLADE], [_EAST])), [("North", GLADE_M2 + _SQUARE)]),
    Good(
        "two parts that share an edge",
        _one(c.multipolygon([c.SQUARE], [c.moved(c.SQUARE, 0.001)])),
        [("North", 2 * _SQUARE)],
        "*",
    ),
    Good(
        "an island in the pond",
        _one(
            c.multipolygon(
                [c.SQUARE, c.POND],
                [[[-83.44055, 31.20445], [-83.44045, 31.20445], [-83.44045, 31.20455], [-83.44055, 31.20445]]],
            )
        ),
        [
            (
                "North",
                _SQUARE
                - _POND
                + c.ring_m2(
                    [[-83.44055, 31.20445], [-83.44045, 31.20445], [-83.44045, 31.20455], [-83.44055, 31.20445]]
                ),
            )
        ],
    ),
    Good("name in capitals", geojson_file(c.feature(c.polygon(c.GLADE), NAME="North")), _N),
    Good("name with a capital", geojson_file(c.feature(c.polygon(c.GLADE), id=9, Name="North")), _N),
    Good(
        "names that are numbers",
        geojson_file(c.feature(c.polygon(c.GLADE), name=7), c.feature(c.polygon(_EAST), name="007")),
        [("7", GLADE_M2), ("007", _SQUARE)],
    ),
    Good(
        "no names",
        geojson_file(c.feature(c.polygon(c.GLADE)), c.feature(c.polygon(_EAST))),
        [("Plot 1", GLADE_M2), ("Plot 2", _SQUARE)],
    ),
    Good(
        "some names",
        geojson_file(
            c.feature(c.polygon(c.GLADE), name=None),
            c.feature(c.polygon(c.GLADE), name="B"),
            c.feature(c.polygon(c.GLADE), name=" "),
        ),
        [("Plot 1", GLADE_M2), ("B", GLADE_M2), ("Plot 3", GLADE_M2)],
    ),
    Good(
        "the same name twice",
        geojson_file(c.feature(c.polygon(c.GLADE), name="N"), c.feature(c.polygon(_EAST), name="N")),
        [("N", GLADE_M2), ("N", _SQUARE)],
    ),
    Good(
        "a name with a line break and a direction mark",
        geojson_file(c.feature(c.polygon(c.GLADE), name="North\n\u202eGlade\x07 ")),
        [("North Glade", GLADE_M2)],
    ),
    Good("a name of half a letter", c.file_of("plots.geojson", _TEXT.replace('"North"', '"No\\ud800rth"')), _TWO),
    Good(
        "a name of 300 letters",
        geojson_file(c.feature(c.polygon(c.GLADE), name="x" * 300)),
        [("x" * 79 + "…", GLADE_M2)],
    ),
    Good(
        "a name field of another name",
        geojson_file(c.feature(c.polygon(c.GLADE), Title="North", name="no")),
        _N,
        options={"name_field": "TITLE"},
    ),
    Good(
        "thirty plots in no order",
        geojson_file(
            *(c.feature(c.polygon(c.moved(c.GLADE, 0.01 * (i * 7 % 30))), name=f"P{i * 7 % 30}") for i in range(30))
        ),
        [(f"P{i * 7 % 30}", c.ring_m2(c.moved(c.GLADE, 0.01 * (i * 7 % 30)))) for i in range(30)],
    ),
    Good(
        "a row without a shape among good ones",
        geojson_file(_BOTH[0], c.feature(None, name="Lost"), _BOTH[1]),
        _TWO,
        r"rows without a shape \(1: ",
    ),
    Good(
        "two rows without a shape",
        geojson_file(_BOTH[0], c.feature(None), c.feature(None), _BOTH[1]),
        _TWO,
        r"rows without a shape \(2: row 2, row 3\)",
    ),
    Good(
        "a feature without a geometry member",
        geojson_file(_BOTH[0], {"type": "Feature", "properties": {}}),
        _N,
        r"rows without a shape \(1: ",
    ),
    Good(
        "a polygon of no corners among good ones",
        geojson_file(_BOTH[0], c.feature({"type": "Polygon", "coordinates": []})),
        _N,
        r"rows without a shape \(1: ",
    ),
    Good(
        "points and lines among areas",
        geojson_file(
            c.feature(c.point(-83.44, 31.2), name="Stand"), *_BOTH, c.feature(c.line(c.GLADE[:3]), name="Road")
        ),
        _TWO,
        r"points \(1: Stand\); a plot .*left out lines \(1: Road\)",
    ),
    Good(
        "a point within an area's row",
        _one(c.collection_of(c.point(-83.44, 31.2), c.polygon(c.GLADE))),
        _N,
        r"points and lines beside an area \(1: ",
    ),
    Good(
        "collections nested 450 deep", c.file_of("plots.geojson", c.nested_collections(450)), [("Plot 1", _SQUARE)], "*"
    ),
    Good(
        "a collection in a collection",
        _one(c.collection_of(c.collection_of(c.collection_of(c.polygon(c.GLADE), c.point(-83.44, 31.2))))),
        _N,
        "*",
    ),
    Good(
        "parts at two depths of collections",
        _one(
            c.collection_of(
                c.multipolygon([c.GLADE], [_EAST]), c.collection_of(c.multipolygon([c.moved(c.SQUARE, 0.02)]))
            )
        ),
        [("North", GLADE_M2 + 2 * _SQUARE)],
        "*",
    ),
    Good(
        "an empty part in a collection",
        _one(c.collection_of({"type": "Polygon", "coordinates": []}, c.polygon(c.GLADE))),
        _N,
        "*",
    ),
    Good(
        "extra members everywhere",
        geojson_file(
            {**_BOTH[0], "id": 5, "bbox": [0, 0, 1, 1], "drawn_by": {"who": None}},
            bbox=[-84, 31, -83, 32],
            title="Spring",
            licence=[1, 2],
        ),
        _N,
    ),
    Good("properties of null", geojson_file({**_BOTH[0], "properties": None}), [("Plot 1", GLADE_M2)]),
    Good(
        "no properties member",
        geojson_file({"type": "Feature", "geometry": c.polygon(c.GLADE)}),
        [("Plot 1", GLADE_M2)],
    ),
    Good("one feature alone", c.file_of("plots.geojson", json.dumps(_BOTH[0])), _N),
    Good("one geometry alone", c.file_of("plots.geojson", json.dumps(c.polygon(c.GLADE))), [("Plot 1", GLADE_M2)]),
    Good(
        "blank lines, tabs and carriage returns",
        c.file_of(
            "plots.geojson", "\r\n \t" + json.dumps(json.loads(_TEXT), indent=1).replace("\n", "\r\n") + "\r\n\r\n"
        ),
        _TWO,
    ),
    Good(
        "numbers with exponents",
        c.file_of("plots.geojson", _TEXT.replace("-83.441,", "-834.41e-1,").replace("31.204]", "3.1204E+1]")),
        _TWO,
    ),
    Good("UTF-8 with a mark", c.file_of("plots.geojson", b"\xef\xbb\xbf" + _CYRILLIC.encode()), _CYRILLIC_PLOTS),
    Good("Cyrillic and German names", c.file_of("plots.geojson", _CYRILLIC), _CYRILLIC_PLOTS),
    Good("Cyrillic names as escapes", c.file_of("plots.geojson", json.dumps(json.loads(_CYRILLIC))), _CYRILLIC_PLOTS),
    Good(
        "UTF-16, small end first",
        c.file_of("plots.geojson", b"\xff\xfe" + _CYRILLIC.encode("utf-16-le")),
        _CYRILLIC_PLOTS,
    ),
    Good(
        "UTF-16, big end first",
        c.file_of("plots.geojson", b"\xfe\xff" + _CYRILLIC.encode("utf-16-be")),
        _CYRILLIC_PLOTS,
    ),
    Good("named .json", c.file_of("plots.json", _TEXT), _TWO),
    Good("named .txt", c.file_of("plots.txt", _TEXT), _TWO),
    Good("named .shp by mistake", c.file_of("plots.shp", _TEXT), _TWO),
    Good("a file name of signs", c.file_of("a b%20#?&=é{1}'$.geojson", _TEXT), _TWO),
    Good(
        "old crs: longitude and latitude",
        _one(c.polygon(c.GLADE), crs=c.named_crs("urn:ogc:def:crs:OGC:1.3:CRS84")),
        _N,
    ),
    Good("old crs: 4326, still x first", _one(c.polygon(c.GLADE), crs=c.named_crs("urn:ogc:def:crs:EPSG::4326")), _N),
    Good("old crs: NAD83", _one(c.polygon(c.GLADE), crs=c.named_crs("EPSG:4269")), _N, "*"),
    Good("old crs: UTM metres", glade_in("EPSG:26916"), _N, "*"),
    Good(
        "old crs: UTM metres as a URN",
        geojson_file(
            c.feature(c.polygon(c.projected(c.GLADE, "EPSG:26916")), name="North"),
            crs=c.named_crs("urn:ogc:def:crs:EPSG::26916"),
        ),
        _N,
        "*",
    ),
    Good("old crs: web map metres", glade_in("EPSG:3857"), _N, "*"),
    Good("old crs: US survey feet, New York", glade_in("EPSG:2263"), _N, "*"),
    Good("old crs: US survey feet, North Carolina", glade_in("EPSG:2264"), _N, "*"),
    Good("old crs: international feet, Arizona", glade_in("EPSG:2222"), _N, "*"),
    Good(
        "old crs: equal-area metres, closed form",
        geojson_file(c.feature(c.polygon(LAEA_SQUARE), name="Square"), crs=c.named_crs("EPSG:3035")),
        [("Square", 10_000.0)],
        "*",
        within_m2=0.01,
    ),
    Good("old crs: with heights", glade_in("EPSG:26916+5703"), _N, "*"),
    Good("old crs: three axes", _one(c.polygon(_HIGH), crs=c.named_crs("EPSG:4979")), _N),
    Good(
        "old crs of null, and --crs",
        geojson_file(c.feature(c.polygon(c.projected(c.GLADE, "EPSG:26916")), name="North"), crs=None),
        _N,
        "as --crs says",
        options={"crs": "EPSG:26916"},
    ),
    Good("--crs that says the same", _one(c.polygon(c.GLADE)), _N, options={"crs": "EPSG:4326"}),
    Good(
        "--crs that says otherwise",
        _one(c.polygon(c.GLADE)),
        _N,
        "not needed and not used",
        options={"crs": "EPSG:26916"},
    ),
    Good("longitudes counted to 360", _one(c.polygon(c.moved(c.GLADE, 360.0))), _N),
    Good("across the date line, beyond 180", _one(c.polygon(c.DATE_LINE)), [("North", _DATE_LINE)]),
    Good(
        "across the date line, signs mixed",
        _one(c.polygon([[k[0] - 360 * (k[0] > 180), k[1]] for k in c.DATE_LINE])),
        [("North", _DATE_LINE)],
    ),
    Good("across the date line, below -180", _one(c.polygon(c.moved(c.DATE_LINE, -360.0))), [("North", _DATE_LINE)]),
    Good(
        "across the date line, cut there",
        _one(c.multipolygon([_WEST_HALF], [_EAST_HALF])),
        [("North", _DATE_LINE)],
        "*",
    ),
    Good(
        "at the corner of equator and prime meridian",
        _one(c.polygon(c.moved(c.SQUARE, 83.441, -31.204))),
        [("North", c.ring_m2(c.moved(c.SQUARE, 83.441, -31.204)))],
        "*",
    ),
]

WKB_GLADE, WKB_EAST = c.wkb_polygon(c.GLADE), c.wkb_polygon(_EAST)
_ROWS = [("North", c.blob(WKB_GLADE)), ("South", c.blob(WKB_EAST))]


def gpkg_file(*shapes: bytes, **options: Any) -> c.Build:
    srs_id = options.get("srs_id", 4326)
    names = ["North", "South", "East", "West"]
    return c.geopackage([(n, c.blob(s, srs_id)) for n, s in zip(names, shapes, strict=False)], **options)


def _beside(db: sqlite3.Connection) -> None:
    """A layer of points and a table without shapes beside the plots."""
    c.add_layer(db, "stands", [("Oak stand", c.blob(c.wkb_point(-83.44, 31.2)))], kind="POINT")
    db.execute("CREATE TABLE notes (fid INTEGER PRIMARY KEY, note TEXT)")
    db.execute("INSERT INTO gpkg_contents (table_name, data_type, identifier) VALUES ('notes', 'attributes', 'notes')")


def _old_layer(db: sqlite3.Connection) -> None:
    c.add_layer(db, "last year", [("Old", c.blob(WKB_EAST))])


def _stale_count(db: sqlite3.Connection) -> None:
    """A cached count of rows from before the last plots were added."""
    db.execute("CREATE TABLE gpkg_ogr_contents (table_name TEXT NOT NULL PRIMARY KEY, feature_count INTEGER)")
    db.execute("INSERT INTO gpkg_ogr_contents VALUES ('plots', 1)")


_ALBERS_DEFINITION = CRS.from_epsg(5070).to_wkt("WKT1_GDAL")
_UTM_RING = c.projected(c.GLADE, "EPSG:26916")
_NEW_YORK_RING = c.projected(c.GLADE, "EPSG:2263")
_NO_NAME_SRS = CRS.from_epsg(26916).to_wkt("WKT1_GDAL").replace("NAD83 / UTM zone 16N", "undefined")

GEOPACKAGE = [
    Good("plain", gpkg_file(WKB_GLADE, WKB_EAST), _TWO),
    Good("UTM", gpkg_file(c.wkb_polygon(_UTM_RING), srs_id=26916), _N, "*"),
    Good("US survey feet", gpkg_file(c.wkb_polygon(_NEW_YORK_RING), srs_id=2263), _N, "*"),
    Good(
        "equal-area, closed form",
        gpkg_file(c.wkb_polygon(_ALBERS), srs_id=5070),
        [("North", _ALBERS_M2)],
        "*",
        within_m2=0.01,
    ),
    Good(
        "a full system that is called undefined",
        gpkg_file(c.wkb_polygon(_UTM_RING), srs_id=26916, definition=_NO_NAME_SRS),
        _N,
        "*",
    ),
    Good(
        "undefined, and --crs",
        gpkg_file(c.wkb_polygon(_UTM_RING), srs_id=-1),
        _N,
        "as --crs says",
        options={"crs": "EPSG:26916"},
    ),
    Good("heights", gpkg_file(c.wkb_polygon(c.GLADE, kind=1003), zm=(1, 0)), _N),
    Good("measures", gpkg_file(c.wkb_polygon(c.GLADE, kind=2003), zm=(0, 1)), _N),
    Good("heights and measures", gpkg_file(c.wkb_polygon(c.GLADE, kind=3003), zm=(1, 1)), _N),
    Good("a ring not closed", gpkg_file(WKB_GLADE, c.wkb_polygon(_EAST[:-1])), _TWO, "*"),
    Good("a hole the same way round", gpkg_file(c.wkb_polygon(c.GLADE, c.POND)), [("North", GLADE_M2 - _POND)]),
    # A circle of radius 50 m in an equal-area system is pi 2500 m2; arcs in steps of 4 degrees are 0.08 % short.
    Good(
        "a round edge made of arcs",
        gpkg_file(c.wkb_circle(1188000, 1010000, 50), srs_id=5070, kind="CURVEPOLYGON"),
        [("North", math.pi * 2500)],
        "*",
        within_m2=0.001 * math.pi * 2500,
    ),
    Good(
        "a column of any geometry",
        gpkg_file(WKB_GLADE, c.wkb_point(-83.44, 31.2), kind="GEOMETRY"),
        _N,
        r"points( and lines beside an area)? \(1: ",
    ),
    Good(
        "a row without a shape", c.geopackage([_ROWS[0], ("Lost", None), _ROWS[1]]), _TWO, r"rows without a shape \(1: "
    ),
    Good(
        "names that are whole numbers",
        c.geopackage([(7, _ROWS[0][1]), (8, _ROWS[1][1])], name_type="INTEGER"),
        [("7", GLADE_M2), ("8", _SQUARE)],
    ),
    Good(
        "whole numbers, one missing",
        c.geopackage([(7, _ROWS[0][1]), (None, _ROWS[1][1])], name_type="INTEGER"),
        [("7", GLADE_M2), ("Plot 2", _SQUARE)],
    ),
    Good("Cyrillic names", c.geopackage([("Поляна", _ROWS[0][1]), ("Große Äsung", _ROWS[1][1])]), _CYRILLIC_PLOTS),
    Good("points and a plain table beside the plots", gpkg_file(WKB_GLADE, WKB_EAST, more=_beside), _TWO),
    Good(
        "two layers, one chosen",
        gpkg_file(WKB_GLADE, more=_old_layer),
        [("Old", _SQUARE)],
        options={"layer": "last year"},
    ),
    Good("a stale count of its rows", gpkg_file(WKB_GLADE, WKB_EAST, more=_stale_count), _TWO),
    Good("a name in capitals", gpkg_file(WKB_GLADE, WKB_EAST, file="PLOTS.GPKG"), _TWO),
    Good("no ending", gpkg_file(WKB_GLADE, WKB_EAST, file="plots"), _TWO),
    Good("a file name of signs", gpkg_file(WKB_GLADE, WKB_EAST, file="a b%20#?&=é{1}'$.gpkg"), _TWO),
]

_SHAPES = [[c.outer(c.GLADE)], [c.outer(_EAST)]]
_PLOTS = [("N1", GLADE_M2), ("N2", _SQUARE)]
_ALBERS_PRJ = CRS.from_epsg(5070).to_wkt("WKT1_ESRI")
_FEET_PRJ = CRS.from_epsg(2264).to_wkt("WKT1_ESRI")
_NO_NAME_PRJ = CRS.from_epsg(26916).to_wkt("WKT1_ESRI").replace("NAD_1983_UTM_Zone_16N", "undefined")
_FEET_RING = c.projected(c.GLADE, "EPSG:2264")
_GREEN = ["Grün", "Äsung"]
_GREEN_PLOTS = [("Grün", GLADE_M2), ("Äsung", _SQUARE)]
_HOLE = c.POND  # counter-clockwise, as a shapefile wants its holes

SHAPEFILE = [
    Good("plain", c.shapefile(_SHAPES), _PLOTS),
    Good(
        "Albers, closed form",
        c.shapefile([[c.outer(_ALBERS)]], prj=_ALBERS_PRJ),
        [("N1", _ALBERS_M2)],
        "*",
        within_m2=0.01,
    ),
    Good("US survey feet", c.shapefile([[c.outer(_FEET_RING)]], prj=_FEET_PRJ), [("N1", GLADE_M2)], "*"),
    Good(
        "a full system that is called undefined",
        c.shapefile([[c.outer(_UTM_RING)]], prj=_NO_NAME_PRJ),
        [("N1", GLADE_M2)],
        "*",
    ),
    Good(
        "no .prj, and --crs",
        c.shapefile([[c.outer(_UTM_RING)]], without=[".prj"]),
        [("N1", GLADE_M2)],
        "as --crs says",
        options={"crs": "EPSG:26916"},
    ),
    Good("a .prj with a mark", c.shapefile(_SHAPES, prj="\ufeff" + c.WGS84_PRJ), _PLOTS),
    Good("heights", c.shapefile(_SHAPES, kind=c.SHP_POLYGON_Z), _PLOTS),
    Good("measures", c.shapefile(_SHAPES, kind=c.SHP_POLYGON_M), _PLOTS),
    Good("a hole", c.shapefile([[c.outer(c.GLADE), _HOLE]]), [("N1", GLADE_M2 - _POND)]),
    Good("the hole before its plot", c.shapefile([[_HOLE, c.outer(c.GLADE)]]), [("N1", GLADE_M2 - _POND)]),
    Good("rings the wrong way round", c.shapefile([[c.GLADE], [_EAST]]), _PLOTS),
    Good(
        "rings and hole the wrong way round", c.shapefile([[c.GLADE, c.outer(_HOLE)]]), [("N1", GLADE_M2 - _POND)], "*"
    ),
    Good(
        "a hole the same way round as its plot",
        c.shapefile([[c.outer(c.GLADE), c.outer(_HOLE)]]),
        [("N1", GLADE_M2 - _POND)],
        "*",
    ),
    Good(
        "two parts, one with a hole",
        c.shapefile([[c.outer(c.GLADE), c.outer(_EAST), _HOLE]]),
        [("N1", GLADE_M2 + _SQUARE - _POND)],
    ),
    Good("a ring not closed", c.shapefile([[c.outer(c.GLADE)[:-1]], [c.outer(_EAST)]]), _PLOTS, "*"),
    Good(
        "a row without a shape",
        c.shapefile([_SHAPES[0], None, _SHAPES[1]], names=["A", "B", "C"]),
        [("A", GLADE_M2), ("C", _SQUARE)],
        r"rows without a shape \(1: ",
    ),
    Good("a row struck out", c.shapefile([*_SHAPES, _SHAPES[1]], deleted=[1]), [("N1", GLADE_M2), ("N3", _SQUARE)]),
    Good("names in capitals", c.shapefile(_SHAPES, field="NAME"), _PLOTS),
    Good(
        "names that are whole numbers",
        c.shapefile(_SHAPES, names=["7", "8"], field_kind="N"),
        [("7", GLADE_M2), ("8", _SQUARE)],
    ),
    Good(
        "whole numbers, one missing",
        c.shapefile(_SHAPES, names=["7", None], field_kind="N"),
        [("7", GLADE_M2), ("Plot 2", _SQUARE)],
    ),
    Good("no name for one", c.shapefile(_SHAPES, names=["", "Far"]), [("Plot 1", GLADE_M2), ("Far", _SQUARE)]),
    Good("names in UTF-8", c.shapefile(_SHAPES, names=["Поляна", "Große Äsung"]), _CYRILLIC_PLOTS),
    Good(
        "names in Latin-1 without a .cpg",
        c.shapefile(_SHAPES, names=_GREEN, encoding="latin-1", cpg=None),
        _GREEN_PLOTS,
    ),
    Good(
        "names in Windows Cyrillic",
        c.shapefile(_SHAPES, names=["Поляна", "Луг"], encoding="cp1251", cpg="1251"),
        [("Поляна", GLADE_M2), ("Луг", _SQUARE)],
    ),
    Good("a file name of signs", c.shapefile(_SHAPES, stem="a b%20#?&=é{1}'$"), _PLOTS),
    Good("its index instead of it", c.shapefile(_SHAPES, give=".shx"), _PLOTS),
]


def _zip(data: bytes, name: str = "plots.zip") -> c.Build:
    return c.file_of(name, data)


def _gpkg_bytes(folder: Path) -> bytes:
    inner = folder / "inner"
    inner.mkdir()
    data = gpkg_file(WKB_GLADE, WKB_EAST)(inner).read_bytes()
    (inner / "plots.gpkg").unlink()
    inner.rmdir()
    return data


def _zipped_gpkg(folder: Path) -> Path:
    return _zip(c.zipped({"a/plots.gpkg": _gpkg_bytes(folder)}))(folder)


_KML_TWO = c.kml(c.placemark(c.kml_polygon(c.GLADE), name="North") + c.placemark(c.kml_polygon(_EAST), name="South"))
_PARTS = c.shapefile_parts(_SHAPES)
_MAC = c.zipped(
    {**{f"plots{e}": d for e, d in _PARTS.items()}, "__MACOSX/._plots.shp": b"\x00\x05\x16\x07", "__MACOSX/": b""}
)

ZIP = [
    Good("a shapefile", _zip(c.zipped_shapefile()), _PLOTS),
    Good("a shapefile in a folder", _zip(c.zipped_shapefile("spring 2026/plots")), _PLOTS),
    Good("a shapefile in a Cyrillic folder", _zip(c.zipped_shapefile("Лес/поляны")), _PLOTS),
    Good("with a readme and another machine's folder", _zip(_MAC), _PLOTS),
    Good("a name in capitals", _zip(c.zipped_shapefile(), "PLOTS.ZIP"), _PLOTS),
    Good("no ending", _zip(c.zipped_shapefile(), "plots"), _PLOTS),
    Good("an ending of its own", _zip(c.zipped_shapefile(), "plots.shz"), _PLOTS),
    Good("in a folder called .zip", _zip(c.zipped_shapefile(), "maps.zip/plots.zip"), _PLOTS),
    Good("a file name of signs", _zip(c.zipped_shapefile("a b#?é"), "a b%20#?&=é{1}'$.zip"), _PLOTS),
    Good("GeoJSON", _zip(c.zipped({"a/plots.geojson": _TEXT})), _TWO),
    Good("a GeoPackage", _zipped_gpkg, _TWO),
    Good("KML", _zip(c.zipped({"doc.kml": _KML_TWO, "files/icon.png": b"\x89PNG"}), "plots.kmz"), _TWO),
]


def _kml(body: str, **options: Any) -> c.Build:
    return c.file_of("plots.kml", c.kml(body, **options))


def _mark(ring: c.Ring, name: str) -> str:
    return c.placemark(c.kml_polygon(ring), name=name)


_FAR = c.moved(c.SQUARE, 0.02)
_MULTI = f"<MultiGeometry>{c.kml_polygon(c.GLADE)}{c.kml_polygon(_EAST)}</MultiGeometry>"
_KML_POINT = c.placemark("<Point><coordinates>-83.44,31.2</coordinates></Point>", name="Gate")
_NORTH = _mark(c.GLADE, "North")
_TWO_FOLDERS = c.folder_of("near", _NORTH) + c.folder_of("far", _mark(_EAST, "South"))

KML = [
    Good("plain", c.file_of("plots.kml", _KML_TWO), _TWO),
    Good("heights", _kml(_mark(_HIGH, "North")), _N),
    Good("clockwise", _kml(_mark(c.outer(c.GLADE), "North")), _N),
    Good(
        "a hole",
        _kml(c.placemark(c.kml_polygon(c.GLADE, c.outer(c.POND)), name="North")),
        [("North", GLADE_M2 - _POND)],
    ),
    Good(
        "a hole the same way round",
        _kml(c.placemark(c.kml_polygon(c.GLADE, c.POND), name="North")),
        [("North", GLADE_M2 - _POND)],
    ),
    Good("corners on lines of their own", _kml(c.placemark(c.kml_polygon(c.GLADE, gap="\n\t\t"), name="North")), _N),
    Good("a ring not closed", _kml(_mark(c.GLADE[:-1], "North") + _mark(_EAST, "South")), _TWO, "*"),
    Good("no names", _kml(_mark(c.GLADE, "") + _mark(_EAST, "")), [("Plot 1", GLADE_M2), ("Plot 2", _SQUARE)]),
    Good(
        "a name with markup",
        _kml(_mark(c.GLADE, "<![CDATA[Elm & Oak]]>") + _mark(_EAST, "A &lt;b&gt;")),
        [("Elm & Oak", GLADE_M2), ("A <b>", _SQUARE)],
    ),
    Good("points among areas", _kml(_KML_POINT + _NORTH), _N, r"points( and lines beside an area)? \(1: "),
    Good("two parts", _kml(c.placemark(_MULTI, name="North")), [("North", GLADE_M2 + _SQUARE)]),
    Good("two folders", _kml(_TWO_FOLDERS), _TWO),
    Good("folders nested 5,000 deep", _kml("<Folder>" * 5000 + _NORTH + "</Folder>" * 5000), _N),
    Good(
        "shapes nested 30 deep",
        _kml(c.placemark("<MultiGeometry>" * 30 + c.kml_polygon(c.GLADE) + "</MultiGeometry>" * 30, name="North")),
        _N,
    ),
    Good(
        "a folder in a folder", _kml(c.folder_of("all", _NORTH, c.folder_of("far", _mark(_EAST, "South")))), _TWO, "*"
    ),
    Good(
        "loose plots between folders, in the file's order",
        _kml(
            c.folder_of("a", _mark(c.GLADE, "first")) + _mark(_EAST, "second") + c.folder_of("b", _mark(_FAR, "third"))
        ),
        [("first", GLADE_M2), ("second", _SQUARE), ("third", _SQUARE)],
        "*",
    ),
    Good("no namespace", _kml(_NORTH, space=""), _N),
    Good("a namespace of its own", _kml(_NORTH, space="http://example.com/kml/2.0"), _N),
    Good("a mark before it", c.file_of("plots.kml", b"\xef\xbb\xbf" + _KML_TWO.encode()), _TWO),
    Good(
        "UTF-16",
        c.file_of("plots.kml", c.kml(_mark(c.GLADE, "Поляна"), encoding="UTF-16").encode("utf-16")),
        [("Поляна", GLADE_M2)],
    ),
    Good(
        "Windows Cyrillic",
        c.file_of("plots.kml", c.kml(_mark(c.GLADE, "Поляна"), encoding="windows-1251").encode("cp1251")),
        [("Поляна", GLADE_M2)],
    ),
    Good("named .xml, with folders", c.file_of("plots.xml", c.kml(_TWO_FOLDERS)), _TWO, "*"),
]


def _gpx(body: str, **options: Any) -> c.Build:
    return c.file_of("walk.gpx", c.gpx(body, **options))


OPEN_WALK = [*c.GLADE[:-1], [-83.44095, 31.20402]]  # stops short of its first corner
OPEN_WALK_GAP_M = 5.25  # computed below, by GeographicLib
_WALK = c.trk(c.GLADE, name="North")

GPX = [
    Good("a closed walk", _gpx(_WALK), _N, walked=True),
    Good(
        "a walk that stops five metres short",
        _gpx(c.trk(OPEN_WALK, name="North")),
        [("North", c.ring_m2([*OPEN_WALK, c.GLADE[0]]))],
        r"straight line of 5\.\d m",
        walked=True,
    ),
    Good("a walk in two pieces", _gpx(c.trk(c.GLADE[:3], c.GLADE[3:], name="North")), _N, "2 pieces", walked=True),
    Good("a closed route is drawn, not walked", _gpx(c.rte(c.GLADE, name="North")), _N),
    Good("two walks", _gpx(_WALK + c.trk(_EAST, name="South")), _TWO, walked=True),
    Good("no name", _gpx(c.trk(c.GLADE)), [("Plot 1", GLADE_M2)], walked=True),
    Good(
        "names on points and in extensions",
        _gpx(
            c.trk(c.GLADE, name="North", inside="<name>p</name>").replace(
                "</trk>", "<extensions><name>x</name></extensions></trk>"
            )
        ),
        _N,
        walked=True,
    ),
    Good(
        "an empty track beside it",
        _gpx(_WALK + "<trk><name>nothing</name></trk><trk><trkseg/></trk>"),
        _N,
        "*",
        walked=True,
    ),
    Good("waypoints beside it", _gpx('<wpt lat="31.2" lon="-83.44"><name>Gate</name></wpt>' + _WALK), _N, walked=True),
    Good("version 1.0", _gpx(_WALK, head=c.GPX_10), _N, walked=True),
    Good("no namespace", _gpx(_WALK, head='version="1.1"'), _N, walked=True),
    Good(
        "UTF-16",
        c.file_of("walk.gpx", c.gpx(c.trk(c.GLADE, name="Поляна"), encoding="UTF-16").encode("utf-16")),
        [("Поляна", GLADE_M2)],
        walked=True,
    ),
    Good(
        "Windows Latin",
        c.file_of("walk.gpx", c.gpx(c.trk(c.GLADE, name="Äsung"), encoding="windows-1252").encode("cp1252")),
        [("Äsung", GLADE_M2)],
        walked=True,
    ),
    Good("named .xml", c.file_of("walk.xml", c.gpx(_WALK)), _N, walked=True),
    Good("named .kml by mistake", c.file_of("walk.kml", c.gpx(_WALK)), _N, walked=True),
    Good(
        "every point three times, as when standing",
        _gpx(c.trk([k for k in c.GLADE for _ in range(3)], name="North")),
        _N,
        walked=True,
    ),
]
