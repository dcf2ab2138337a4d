"""Broken boundary files: how each is made, and what its refusal must say."""

import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from gladebook.errors import CallError, GladebookError, InputError
from tests.io import corpus as c


@dataclass(frozen=True)
class Broken:
    """One broken file: how it is made, read, and what the answer must say (a pattern, any case)."""

    name: str
    build: c.Build
    says: str
    read: str = "plots"
    options: dict[str, Any] = field(default_factory=dict)
    error: type[GladebookError] = InputError


def geojson_file(*features: Any, **members: Any) -> c.Build:
    return c.file_of("plots.geojson", c.geojson(*features, **members))


def _text(text: str | bytes) -> c.Build:
    return c.file_of("plots.geojson", text)


def plot_of(*rings: Any) -> c.Build:
    return geojson_file(c.feature(c.polygon(*rings), name="North"))


def _raw_corner(corner: str) -> c.Build:
    """A square whose second corner is written as given."""
    text = c.geojson(c.feature(c.polygon(c.SQUARE), name="North"))
    return _text(text.replace(json.dumps(c.SQUARE[1]), corner, 1))


def _crs(name: str) -> c.Build:
    return geojson_file(c.feature(c.polygon(c.SQUARE)), crs=c.named_crs(name))


GOOD_TEXT = c.geojson(c.feature(c.polygon(c.GLADE), name="North"), c.feature(c.polygon(c.SQUARE), name="South"))
METRES = [
    [500000.0, 3450000.0],
    [500100.0, 3450000.0],
    [500100.0, 3450100.0],
    [500000.0, 3450100.0],
    [500000.0, 3450000.0],
]
NOISE = bytes((i * 167 + 13 * (i // 7)) % 256 for i in range(3000))
PICTURE = b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + NOISE
NO_PLACE = "latitude and longitude|longitude and latitude"

GEOJSON = [
    Broken("empty", _text(b""), "is empty"),
    Broken("only blanks", _text("   \n\n"), "line"),
    Broken("cut in half", _text(GOOD_TEXT[: len(GOOD_TEXT) // 2]), "cut short.*line"),
    Broken("last bracket missing", _text(GOOD_TEXT[:-1]), "cut short.*line"),
    Broken("two documents in one", _text(GOOD_TEXT + "\n" + GOOD_TEXT), "line 2"),
    Broken("missing file", lambda folder: folder / "nowhere.geojson", "no such file"),
    Broken("folder instead of file", lambda folder: folder, "is a folder"),
    Broken("a web page", _text("<!DOCTYPE html>\n<html><body><p>Not found<br></body></html>"), "not"),
    Broken("prose", _text("The north plot lies behind the barn.\n"), "line 1"),
    Broken("binary noise", _text(NOISE), "known|text"),
    Broken("a PDF", _text(b"%PDF-1.4\n1 0 obj\n"), "is a PDF, which holds no boundary"),
    Broken("a picture", _text(PICTURE), "is a picture, which holds no boundary"),
    Broken(
        "letters of another code page", _text(GOOD_TEXT.replace("North", "Glädé").encode("latin-1")), "line 1.*UTF-8"
    ),
    Broken("JSON without a type", _text('{"plots": []}'), '"type"'),
    Broken("a bare list", _text("[[1, 2], [3, 4]]"), "GeoJSON"),
    Broken("a topology", _text('{"type": "Topology", "objects": {}}'), "Topology"),
    Broken("no features member", _text('{"type": "FeatureCollection"}'), '"features"'),
    Broken("features is an object", _text('{"type": "FeatureCollection", "features": {}}'), '"features"'),
    Broken("no feature at all", geojson_file(), "no feature"),
    Broken("a feature that is a number", geojson_file(c.feature(c.polygon(c.GLADE)), 7), "2"),
    Broken("a feature that is a geometry", geojson_file(c.polygon(c.GLADE)), "1.*Feature"),
    Broken(
        "properties that are a list", geojson_file({**c.feature(c.polygon(c.GLADE)), "properties": [1]}), "feature 1"
    ),
    Broken("NaN for a longitude", _raw_corner("[NaN, 31.204]"), "corner 2|line 1"),
    Broken("Infinity for a longitude", _raw_corner("[-Infinity, 31.204]"), "corner 2|line 1"),
    Broken("a number beyond all numbers", _raw_corner("[1e999, 31.204]"), "North.*corner 2"),
    Broken("1e308 for a longitude", _raw_corner("[1e308, 31.204]"), f"North.*({NO_PLACE}|corner 2)"),
    Broken("a whole number of 5,000 digits", _raw_corner(f"[{'1' * 5000}, 31.204]"), "number|corner 2|line 1"),
    Broken("a whole number of 400 digits", _raw_corner(f"[{'1' * 400}, 31.204]"), "North.*corner 2"),
    Broken("a longitude in quotes", _raw_corner('["-83.44", 31.204]'), "North.*corner 2"),
    Broken("a longitude of null", _raw_corner("[null, 31.204]"), "North.*corner 2"),
    Broken("a longitude of true", _raw_corner("[true, 31.204]"), "North.*corner 2"),
    Broken("a corner with one number", _raw_corner("[-83.44]"), "North.*corner 2"),
    Broken("a corner that is an object", _raw_corner('{"lon": -83.44, "lat": 31.204}'), "North.*corner 2"),
    Broken(
        "rings not nested", geojson_file(c.feature({"type": "Polygon", "coordinates": c.SQUARE}, name="North")), "North"
    ),
    Broken("no coordinates", geojson_file(c.feature({"type": "Polygon"}, name="North")), "North.*coordinates"),
    Broken(
        "a polygon of no rings",
        geojson_file(c.feature({"type": "MultiPolygon", "coordinates": [[]]}, name="North")),
        "no ring",
    ),
    Broken(
        "an unknown geometry",
        geojson_file(c.feature({"type": "Circle", "coordinates": [1, 2]}, name="North")),
        "North.*Circle",
    ),
    Broken("a geometry that is text", geojson_file(c.feature("square", name="North")), "North"),
    Broken("lists nested too deep", _text("[" * 100_000), "deep"),
    Broken("collections nested 100,000 deep", _text(c.nested_collections(100_000)), "deep"),
    Broken("a short ring, not closed", plot_of(c.SQUARE[:2]), "North.*fewer than three"),
    Broken("a ring of one corner, often", plot_of([c.SQUARE[0]] * 6), "North.*fewer than three"),
    Broken("a ring there and back", plot_of([c.SQUARE[0], c.SQUARE[1], c.SQUARE[0]]), "North.*fewer than three"),
    Broken("a collapsed ring", plot_of(c.THERE_AND_BACK), "North.*encloses no ground"),
    Broken("a bow-tie", plot_of(c.BOW_TIE), r"North.*crosses itself near 31\.2045\d*, -83\.4405.*corners 1 and 3"),
    Broken("a figure eight", plot_of(c.EIGHT), r"North.*crosses itself near 31\.2045\d*, -83\.4400.*corners 3 and 7"),
    Broken(
        "parts on each other",
        geojson_file(c.feature(c.multipolygon([c.SQUARE], [c.moved(c.SQUARE, 0.0005)]), name="North")),
        "North.*lie on each other",
    ),
    Broken("a hole across the edge", plot_of(c.SQUARE, c.moved(c.POND, 0.0005)), "North.*crosses itself"),
    Broken("a hole far outside", plot_of(c.SQUARE, c.moved(c.POND, 0.05)), "North"),
    Broken("a hole as large as its plot", plot_of(c.SQUARE, c.SQUARE), "North.*no ground"),
    Broken(
        "points only",
        geojson_file(c.feature(c.point(-83.44, 31.2)), c.feature(c.point(-83.43, 31.2))),
        r"no area.*points \(2\)",
    ),
    Broken("lines only", geojson_file(c.feature(c.line(c.SQUARE[:3]))), r"no area.*lines \(1\)"),
    Broken("only empty rows", geojson_file(c.feature(None), c.feature(None)), "no area"),
    Broken("crs of null", geojson_file(c.feature(c.polygon(c.SQUARE)), crs=None), "coordinate system.*--crs"),
    Broken("an unknown crs", _crs("EPSG:999999"), "coordinate system"),
    Broken("an empty crs", _crs(""), "coordinate system"),
    Broken(
        "a crs that is a link", geojson_file(c.feature(c.polygon(c.SQUARE)), crs={"type": "link"}), "coordinate system"
    ),
    Broken("a crs that is text", geojson_file(c.feature(c.polygon(c.SQUARE)), crs="EPSG:4326"), "coordinate system"),
    Broken(
        "a crs that cannot be text",
        _text(c.geojson(c.feature(c.polygon(c.SQUARE)), crs=c.named_crs("@")).replace('"@"', '"\\ud800"')),
        "coordinate system",
    ),
    Broken("a crs of heights alone", _crs("EPSG:5703"), "coordinate system"),
    Broken("a crs with its origin in the earth's centre", _crs("EPSG:4978"), "coordinate system"),
    Broken("a crs of a building site", _crs('LOCAL_CS["site",UNIT["metre",1]]'), "coordinate system"),
    Broken("metres without a crs", plot_of(METRES), f"North.*({NO_PLACE})"),
    Broken("latitude before longitude", plot_of(c.swapped(c.SQUARE)), f"North.*({NO_PLACE})"),
    Broken("degrees that claim to be metres", _crs("EPSG:26916"), "Plot 1"),
    Broken(
        "metres outside their system",
        geojson_file(c.feature(c.polygon(c.moved(METRES, 1e30)), name="North"), crs=c.named_crs("EPSG:26916")),
        "coordinate",
    ),
    Broken("an unknown name field", plot_of(c.SQUARE), 'no field "title".*name', options={"name_field": "title"}),
    Broken("a layer where there is none", plot_of(c.SQUARE), "--layer", options={"layer": "plots"}, error=CallError),
    Broken(
        "an unknown --crs",
        geojson_file(c.feature(c.polygon(c.SQUARE)), crs=None),
        "--crs.*EPSG:banana",
        options={"crs": "EPSG:banana"},
        error=CallError,
    ),
    Broken(
        "an empty --crs",
        geojson_file(c.feature(c.polygon(c.SQUARE)), crs=None),
        "--crs",
        options={"crs": ""},
        error=CallError,
    ),
    Broken(
        "a --crs of heights alone",
        geojson_file(c.feature(c.polygon(c.SQUARE)), crs=None),
        "crs|coordinate system",
        options={"crs": "EPSG:5703"},
        error=GladebookError,
    ),
    Broken(
        "a --crs of the earth's centre",
        geojson_file(c.feature(c.polygon(c.SQUARE)), crs=None),
        "crs|coordinate system",
        options={"crs": "EPSG:4978"},
        error=GladebookError,
    ),
    Broken(
        "a --crs that cannot be text",
        geojson_file(c.feature(c.polygon(c.SQUARE)), crs=None),
        "--crs",
        options={"crs": "\ud800"},
        error=CallError,
    ),
    Broken(
        "terminal codes in a geometry's kind",
        _text(c.geojson(c.feature({"type": "@", "coordinates": [1]})).replace('"@"', '"\\u001b[31mX\\ud800"')),
        "geometry",
    ),
    Broken(
        "no crs by another name",
        c.file_of("plots.gpkg", c.geojson(c.feature(c.polygon(c.SQUARE)), crs=None)),
        "coordinate system|GeoPackage",
    ),
]


def _gp(wkb: bytes) -> c.Build:
    """A GeoPackage whose second plot has the shape given."""
    return c.geopackage([("North", c.blob(c.wkb_polygon(c.GLADE))), ("South", c.blob(wkb))])


def _gp_raw(raw: bytes) -> c.Build:
    return c.geopackage([("North", c.blob(c.wkb_polygon(c.GLADE))), ("South", raw)])


NORTH_ROW = ("North", c.blob(c.wkb_polygon(c.GLADE)))
MANY_ROWS = [(f"Plot {i}", c.blob(c.wkb_polygon(c.moved(c.GLADE, 0.01 * i)))) for i in range(300)]
_TABLE = (
    "CREATE TABLE notes (fid INTEGER PRIMARY KEY, note TEXT)",
    "INSERT INTO notes (note) VALUES ('limed in March'), ('too wet')",
    "INSERT INTO gpkg_contents (table_name, data_type, identifier) VALUES ('notes', 'attributes', 'notes')",
)


def _two_layers(db: Any) -> None:
    c.add_layer(db, "old plots", [NORTH_ROW])


GEOPACKAGE = [
    Broken("empty", c.file_of("plots.gpkg", b""), "is empty"),
    Broken("noise", c.file_of("plots.gpkg", NOISE), "GeoPackage"),
    Broken("prose", c.file_of("plots.gpkg", "north plot\n"), "GeoPackage"),
    Broken("only its first words", c.file_of("plots.gpkg", b"SQLite format 3\x00"), "GeoPackage"),
    Broken("cut at a tenth", c.geopackage(MANY_ROWS, cut=lambda d: d[: len(d) // 10]), "cut short"),
    Broken("cut in half", c.geopackage(MANY_ROWS, cut=lambda d: d[: len(d) // 2]), "cut short"),
    Broken("last page missing", c.geopackage(MANY_ROWS, cut=lambda d: d[:-4096]), "cut short"),
    Broken(
        "middle overwritten",
        c.geopackage(MANY_ROWS, cut=lambda d: d[:40960] + b"\x00" * 8192 + d[49152:]),
        "broken|cannot be read",
    ),
    Broken("undefined metres", c.geopackage([NORTH_ROW], srs_id=-1), "coordinate system.*--crs"),
    Broken("undefined degrees", c.geopackage([NORTH_ROW], srs_id=0), "coordinate system.*--crs"),
    Broken(
        "a system that is not listed",
        c.geopackage(
            [NORTH_ROW],
            more=c.statements("UPDATE gpkg_geometry_columns SET srs_id = 77", "UPDATE gpkg_contents SET srs_id = 77"),
        ),
        "coordinate system.*--crs",
    ),
    Broken(
        "a system of nonsense", c.geopackage([NORTH_ROW], srs_id=77, definition="somewhere"), "coordinate system.*--crs"
    ),
    Broken("a system of heights", c.geopackage([NORTH_ROW], srs_id=5703), "coordinate system"),
    Broken("a shape of garbage", _gp_raw(b"garbage"), "South|row 2|feature 2|shapes that cannot be read"),
    Broken(
        "a shape cut short",
        _gp_raw(c.blob(c.wkb_polygon(c.SQUARE))[:60]),
        "South|row 2|feature 2|shapes that cannot be read",
    ),
    Broken(
        "NaN for a longitude", _gp(c.wkb_polygon([c.SQUARE[0], [float("nan"), 31.2], *c.SQUARE[2:]])), "South.*corner 2"
    ),
    Broken(
        "infinity for a longitude",
        _gp(c.wkb_polygon([c.SQUARE[0], [float("inf"), 31.2], *c.SQUARE[2:]])),
        "South.*corner 2",
    ),
    Broken("1e308 for a longitude", _gp(c.wkb_polygon([c.SQUARE[0], [1e308, 31.2], *c.SQUARE[2:]])), "South"),
    Broken("a ring of two corners", _gp(c.wkb_polygon(c.SQUARE[:2])), "South.*fewer than three"),
    Broken(
        "a ring there and back", _gp(c.wkb_polygon([c.SQUARE[0], c.SQUARE[1], c.SQUARE[0]])), "South.*fewer than three"
    ),
    Broken("a bow-tie", _gp(c.wkb_polygon(c.BOW_TIE)), "South.*crosses itself near"),
    Broken("latitude before longitude", _gp(c.wkb_polygon(c.swapped(c.SQUARE))), f"South.*({NO_PLACE})"),
    Broken(
        "points only",
        c.geopackage([("Gate", c.blob(c.wkb_point(-83.44, 31.2)))], kind="POINT"),
        r"no area.*points \(1\)",
    ),
    Broken("no rows", c.geopackage([]), "no area"),
    Broken(
        "no layers",
        c.geopackage([], more=c.statements("DELETE FROM gpkg_geometry_columns", "DELETE FROM gpkg_contents")),
        "no layer",
    ),
    Broken(
        "its table missing",
        c.geopackage([NORTH_ROW], more=c.statements("DROP TABLE plots")),
        "no layer|cannot be read|broken",
    ),
    Broken(
        "a database of something else",
        c.geopackage(
            [NORTH_ROW],
            more=c.statements(
                "DROP TABLE gpkg_contents", "DROP TABLE gpkg_geometry_columns", "DROP TABLE gpkg_spatial_ref_sys"
            ),
        ),
        "GeoPackage|no layer",
    ),
    Broken("several layers", c.geopackage([NORTH_ROW], more=_two_layers), "plots, old plots.*--layer"),
    Broken(
        "an unknown layer",
        c.geopackage([NORTH_ROW], more=_two_layers),
        '"new plots".*plots, old plots',
        options={"layer": "new plots"},
    ),
    Broken(
        "a layer without shapes",
        c.geopackage([NORTH_ROW], more=c.statements(*_TABLE)),
        "no area|no shapes|no layer",
        options={"layer": "notes"},
    ),
]

SHAPES = [[c.outer(c.GLADE)], [c.outer(c.moved(c.SQUARE, 0.01))], [c.outer(c.moved(c.SQUARE, 0.02))]]


def _shp_of(ring: Any, **options: Any) -> c.Build:
    return c.shapefile([[c.outer(c.GLADE)], [ring]], **options)


SHAPEFILE = [
    Broken("no .prj", c.shapefile(SHAPES, without=[".prj"]), "coordinate system.*--crs"),
    Broken("an empty .prj", c.shapefile(SHAPES, prj=""), "coordinate system"),
    Broken("a .prj of nonsense", c.shapefile(SHAPES, prj="somewhere in the woods"), "coordinate system"),
    Broken("a .prj cut short", c.shapefile(SHAPES, prj=c.WGS84_PRJ[:40]), r"coordinate system|\.prj"),
    Broken("no .dbf", c.shapefile(SHAPES, without=[".dbf"]), r"\.dbf"),
    Broken("an empty .dbf", c.shapefile(SHAPES, change={".dbf": lambda _: b""}), r"\.dbf"),
    Broken("a .dbf cut short", c.shapefile(SHAPES, change={".dbf": lambda d: d[:-50]}), r"\.dbf"),
    Broken("no .shx", c.shapefile(SHAPES, without=[".shx"]), r"\.shx"),
    Broken("a .shx cut short", c.shapefile(SHAPES, change={".shx": lambda d: d[:-8]}), r"\.shx|cut short"),
    Broken("an empty .shp", c.shapefile(SHAPES, change={".shp": lambda _: b""}), "is empty"),
    Broken("a .shp cut in its head", c.shapefile(SHAPES, change={".shp": lambda d: d[:60]}), "cut short"),
    Broken(
        "a .shp cut in the last plot",
        c.shapefile(SHAPES, change={".shp": lambda d: d[:-20]}),
        "cut short|broken|damaged",
    ),
    Broken(
        "a .shp cut after the first plot",
        c.shapefile(SHAPES, change={".shp": lambda d: d[:250]}),
        "cut short|broken|damaged",
    ),
    Broken("noise", c.file_of("plots.shp", NOISE), "shapefile"),
    Broken("prose", c.file_of("plots.shp", "north plot\n"), "shapefile"),
    Broken("its table instead of it", c.shapefile(SHAPES, give=".dbf"), "no kind of map file|shp"),
    Broken("its projection instead of it", c.shapefile(SHAPES, give=".prj"), "holds no boundary|shp"),
    Broken("metres without a .prj", _shp_of(c.outer(METRES), without=[".prj"]), "coordinate system.*--crs"),
    Broken("metres called degrees", _shp_of(c.outer(METRES)), f"N2.*({NO_PLACE})"),
    Broken("latitude before longitude", _shp_of(c.swapped(c.outer(c.SQUARE))), f"N2.*({NO_PLACE})"),
    Broken("NaN for a longitude", _shp_of([c.SQUARE[0], [float("nan"), 31.2], *c.SQUARE[2:]]), "N2.*corner 2"),
    Broken("a ring of two corners", _shp_of(c.SQUARE[:2]), "N2.*fewer than three"),
    Broken("a bow-tie", _shp_of(c.BOW_TIE), "N2.*crosses itself near"),
    Broken("points only", c.shapefile([[[c.SQUARE[0]]]], kind=c.SHP_POINT), r"no area.*points \(1\)"),
    Broken("an unknown name field", c.shapefile(SHAPES), 'no field "title"', options={"name_field": "title"}),
]

GOOD_ZIP = c.zipped_shapefile()
_TWO = c.zipped(
    {f"{stem}{e}": d for stem in ("north", "south") for e, d in c.shapefile_parts([[c.outer(c.GLADE)]]).items()}
)


def zip_file(data: bytes) -> c.Build:
    return c.file_of("plots.zip", data)


def _redirect_zip(folder: Path) -> Path:
    target = geojson_file(c.feature(c.polygon(c.SQUARE), name="elsewhere"))(folder)
    return zip_file(c.zipped({"plots.kml": c.redirect(str(target))}))(folder)


ZIP = [
    Broken("empty", zip_file(b""), "is empty"),
    Broken("no entry", zip_file(c.zipped({})), "no boundary file"),
    Broken("nothing of use", zip_file(c.zipped({"readme.txt": "see you at the gate"})), "no boundary file"),
    Broken("a zip in a zip", zip_file(c.zipped({"inner.zip": GOOD_ZIP})), "no boundary file"),
    Broken("two boundary files", zip_file(_TWO), r"2 boundary files \(north\.shp, south\.shp\)"),
    Broken("cut short", zip_file(GOOD_ZIP[: len(GOOD_ZIP) // 2]), "not a whole zip"),
    Broken("its list of contents missing", zip_file(GOOD_ZIP[:-30]), "not a whole zip"),
    Broken("an entry overwritten", zip_file(c.damaged(GOOD_ZIP)), "damaged|not a whole zip"),
    Broken("locked", zip_file(c.locked(GOOD_ZIP)), "password"),
    Broken("unpacks without end", zip_file(c.claims_two_gigabytes(GOOD_ZIP)), "1 GB"),
    Broken("prose", zip_file(b"north plot\n"), "not a whole zip"),
    Broken("no .prj inside", zip_file(c.zipped_shapefile(without=[".prj"])), "coordinate system.*--crs"),
    Broken("no .shx inside", zip_file(c.zipped_shapefile(without=[".shx"])), r"\.shx"),
    Broken("no .dbf inside", zip_file(c.zipped_shapefile(without=[".dbf"])), r"\.dbf"),
    Broken("broken GeoJSON inside", zip_file(c.zipped({"plots.geojson": GOOD_TEXT[:-1]})), "cut short"),
    Broken("terminal codes in a name", zip_file(c.zipped({"\x1b[31mred.shp": b"x"})), "shapefile"),
    Broken(
        "a layer of GeoJSON",
        zip_file(c.zipped({"plots.geojson": GOOD_TEXT})),
        "--layer|layer",
        options={"layer": "x"},
        error=GladebookError,
    ),
    Broken("a redirection inside", _redirect_zip, "KML"),
]


def kml_file(body: str, **options: Any) -> c.Build:
    return c.file_of("plots.kml", c.kml(body, **options))


def _redirect(name: str, before: str = "") -> c.Build:
    def build(folder: Path) -> Path:
        target = geojson_file(c.feature(c.polygon(c.SQUARE), name="elsewhere"))(folder)
        return c.file_of(name, before + c.redirect(str(target)))(folder)

    return build


def _secret(folder: Path) -> Path:
    (folder / "secret.txt").write_text("SECRET")
    before = f'<!DOCTYPE kml [<!ENTITY s SYSTEM "file://{folder}/secret.txt">]>\n'
    return kml_file(c.placemark(c.kml_polygon(c.SQUARE), name="&s;"), before=before)(folder)


KML_TEXT = c.kml(c.placemark(c.kml_polygon(c.GLADE), name="North") + c.placemark(c.kml_polygon(c.SQUARE), name="South"))
_CORNER = "-83.44,31.204 "
SQUARE_MARK = c.placemark(c.kml_polygon(c.SQUARE), name="North")

KML = [
    Broken("empty", c.file_of("plots.kml", b""), "is empty"),
    Broken(
        "cut in the coordinates",
        c.file_of("plots.kml", KML_TEXT[: KML_TEXT.rindex("</coordinates>") - 30]),
        "cut short",
    ),
    Broken(
        "cut after the first plot",
        c.file_of("plots.kml", KML_TEXT[: KML_TEXT.index("</Placemark>") + 12]),
        "cut short",
    ),
    Broken("last tag missing", c.file_of("plots.kml", KML_TEXT.replace("</kml>", "")), "cut short"),
    Broken("prose", c.file_of("plots.kml", "north plot\n"), "KML"),
    Broken("noise", c.file_of("plots.kml", NOISE), "known|KML|text"),
    Broken("a web page", c.file_of("plots.kml", "<html><body>Not found</body></html>"), "KML"),
    Broken("no placemark", kml_file(""), "no placemark"),
    Broken(
        "points only",
        kml_file(c.placemark("<Point><coordinates>-83.44,31.2</coordinates></Point>")),
        r"no area.*points \(1\)",
    ),
    Broken(
        "an entity bomb",
        kml_file(c.placemark(c.kml_polygon(c.SQUARE), name="&e9;"), before=c.entity_bomb("kml")),
        "KML|entities",
    ),
    Broken("an external entity", _secret, "KML|entities"),
    Broken("a corner that is text", kml_file(SQUARE_MARK.replace(_CORNER, "abc,31.204 ")), "North|corner|line|number"),
    Broken("a corner without latitude", kml_file(SQUARE_MARK.replace(_CORNER, "-83.44 ")), "North|corner|line|number"),
    Broken("NaN for a longitude", kml_file(SQUARE_MARK.replace(_CORNER, "nan,31.204 ")), "North.*corner 2|line|number"),
    Broken(
        "a ring of two corners",
        kml_file(c.placemark(c.kml_polygon(c.GLADE)) + c.placemark(c.kml_polygon(c.SQUARE[:2]), name="South")),
        "South.*fewer than three",
    ),
    Broken("a bow-tie", kml_file(c.placemark(c.kml_polygon(c.BOW_TIE), name="North")), "North.*crosses itself near"),
    Broken(
        "latitude before longitude",
        kml_file(c.placemark(c.kml_polygon(c.swapped(c.SQUARE)), name="North")),
        f"North.*({NO_PLACE})",
    ),
    Broken("a redirection", _redirect("plots.kml"), "KML"),
    Broken("a redirection called a GeoPackage", _redirect("plots.gpkg"), "GeoPackage"),
    Broken("a redirection behind a comment", _redirect("plots.xml", "<!-- <kml> -->\n"), "KML|XML"),
]
