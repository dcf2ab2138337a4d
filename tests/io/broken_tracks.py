"""Broken GPX files and tracks: how each is made, and what its refusal must say."""

from typing import Any

from gladebook.errors import CallError
from tests.io import corpus as c
from tests.io.broken_plots import (
    GOOD_ZIP,
    METRES,
    NO_PLACE,
    NOISE,
    NORTH_ROW,
    PICTURE,
    SHAPES,
    SQUARE_MARK,
    Broken,
    kml_file,
    zip_file,
)


def gpx_file(body: str, **options: Any) -> c.Build:
    return c.file_of("walk.gpx", c.gpx(body, **options))


def _one(lon: Any, lat: Any, inside: str = "") -> c.Build:
    return gpx_file(f"<trk><trkseg>\n{c.trkpt(-83.44, 31.2, inside)}{c.trkpt(lon, lat, inside)}</trkseg></trk>")


GPX_TEXT = c.gpx(c.trk(c.GLADE, name="North"))
_TIMES = "<time>2026-05-04T14:00:00Z</time>", "<time>2026-05-04T14:00:01</time>"
_MIXED = f"<trk><trkseg>{c.trkpt(-83.44, 31.2, _TIMES[0])}{c.trkpt(-83.44, 31.21, _TIMES[1])}</trkseg></trk>"
_WAYPOINT = '<wpt lat="31.2" lon="-83.44"/>'

GPX = [
    Broken("empty", c.file_of("walk.gpx", b""), "is empty"),
    Broken("no track in it", gpx_file(""), "no track or route"),
    Broken("waypoints only", gpx_file(_WAYPOINT), "no track or route"),
    Broken("cut in a point", c.file_of("walk.gpx", GPX_TEXT[: len(GPX_TEXT) // 2]), "not whole GPX.*line"),
    Broken("last tag missing", c.file_of("walk.gpx", GPX_TEXT.replace("</gpx>", "")), "not whole GPX.*line"),
    Broken("prose", c.file_of("walk.gpx", "north plot\n"), "not whole GPX.*line 1"),
    Broken("noise", c.file_of("walk.gpx", NOISE), "known|GPX|text"),
    Broken("another kind of XML", c.file_of("walk.gpx", "<osm></osm>"), "not GPX"),
    Broken("an entity bomb", gpx_file(c.trk(c.GLADE, name="&e9;"), before=c.entity_bomb("gpx")), "entities"),
    Broken(
        "an external entity",
        gpx_file(c.trk(c.GLADE, name="&s;"), before='<!DOCTYPE gpx [<!ENTITY s SYSTEM "file:///etc/hostname">]>'),
        "entities",
    ),
    Broken("not closed", gpx_file(c.trk(c.SQUARE[:4], name="North")), "North.*ends 111 m from where it starts"),
    Broken("two points", gpx_file(c.trk(c.SQUARE[:2], name="North")), "North.*fewer than three"),
    Broken(
        "out and back",
        gpx_file(c.trk([c.SQUARE[0], c.SQUARE[1], c.SQUARE[0]], name="North")),
        "North.*fewer than three",
    ),
    Broken("standing still", gpx_file(c.trk([c.SQUARE[0]] * 9, name="North")), "North.*fewer than three"),
    Broken("a figure eight", gpx_file(c.trk(c.EIGHT, name="North")), "North.*crosses itself near"),
    Broken(
        "a point without lat", gpx_file('<trk><trkseg>\n<trkpt lon="-83.44"/></trkseg></trk>'), "line 4.*no position"
    ),
    Broken("a point beyond the pole", gpx_file(c.trk(c.moved(c.SQUARE, 0, 64), name="North")), f"North.*({NO_PLACE})"),
    Broken(
        "a name field that no track has",
        gpx_file(c.trk(c.GLADE, name="North")),
        'no field "title"',
        options={"name_field": "title"},
    ),
    Broken("a layer where there is none", gpx_file(c.trk(c.GLADE)), "--layer", options={"layer": "x"}, error=CallError),
    Broken("an encoding that does not exist", gpx_file(c.trk(c.GLADE), encoding="UVF-8"), "encoding|UVF-8|line 1"),
    Broken("an encoding of many bytes a letter", gpx_file(c.trk(c.GLADE), encoding="shift_jis"), "encoding|line 1"),
    Broken("track: empty", c.file_of("walk.gpx", b""), "is empty", "track"),
    Broken("track: no points", gpx_file("<trk><trkseg/></trk>"), "no track points", "track"),
    Broken("track: waypoints only", gpx_file(_WAYPOINT), "no track points", "track"),
    Broken("track: routes only", gpx_file(c.rte(c.GLADE)), "no track points", "track"),
    Broken("track: cut short", c.file_of("walk.gpx", GPX_TEXT[:-60]), "not whole GPX.*line", "track"),
    Broken(
        "track: lat missing",
        gpx_file('<trk><trkseg>\n<trkpt lon="-83.44"/></trkseg></trk>'),
        "line 4.*no position",
        "track",
    ),
    Broken("track: lat with a comma", _one(-83.44, "31,2"), 'line 5.*"31,2".*no position', "track"),
    Broken("track: lat with an underscore", _one(-83.44, "3_1.2"), 'line 5.*"3_1.2".*no position', "track"),
    Broken("track: NaN", _one("NaN", 31.2), "line 5.*no position", "track"),
    Broken("track: infinity", _one("inf", 31.2), "line 5.*no position", "track"),
    Broken("track: beyond the pole", _one(-83.44, 91.5), f"line 5.*({NO_PLACE})", "track"),
    Broken("track: longitude of 1e308", _one("1e308", 31.2), f"line 5.*({NO_PLACE})", "track"),
    Broken(
        "track: a bad time", _one(-83.44, 31.2, "<time>yesterday</time>"), 'line 4.*"yesterday".*2026-05-04T14', "track"
    ),
    Broken("track: an American date", _one(-83.44, 31.2, "<time>5/4/2026 14:05</time>"), 'line 4.*"5/4/2026', "track"),
    Broken("track: mixed zones", gpx_file(_MIXED), "zone.*Z or an offset", "track"),
    Broken(
        "track: an entity bomb", gpx_file(c.trk(c.GLADE, name="&e9;"), before=c.entity_bomb("gpx")), "entities", "track"
    ),
    Broken(
        "track: an encoding that does not exist",
        gpx_file(c.trk(c.GLADE), encoding="UVF-8"),
        "encoding|UVF-8|line 1",
        "track",
    ),
    Broken("track: only points at 0, 0", gpx_file(c.trk([[0, 0], [0, 0]])), "no track points", "track"),
]


def _csv(*lines: str, end: str = "\n") -> c.Build:
    return c.file_of("track.csv", c.table(*lines, end=end))


_HEAD = "time,lat,lon"
_FULL = "time,lat,lon,boom_on,width_m,speed_mps,hdop"
FIRST_TIME, _T1 = "2026-05-04T14:00:00Z", "2026-05-04T14:00:01Z"
_FIRST = f"{FIRST_TIME},31.2040,-83.4410"

CSV = [
    Broken("as plots", _csv(_HEAD, _FIRST), "table.*no boundary", "plots"),
    Broken("empty", c.file_of("track.csv", b""), "is empty"),
    Broken("only blanks", c.file_of("track.csv", "\n \n\n"), "no column"),
    Broken("heading only", _csv(_HEAD), "no track points"),
    Broken("no heading", _csv(_FIRST, _FIRST), "no column lat"),
    Broken("no lat", _csv("time,lon", f"{FIRST_TIME},-83.44"), "no column lat"),
    Broken("no lon", _csv("time,lat,long_deg", f"{FIRST_TIME},31.2,-83.44"), "no column lon.*long_deg"),
    Broken("two lat columns", _csv("time,lat,latitude,lon", f"{FIRST_TIME},31.2,31.2,-83.44"), 'two columns for "lat"'),
    Broken("a word for lat", _csv(_HEAD, _FIRST, f"{_T1},north,-83.441"), 'line 3.*"north".*lat'),
    Broken("nothing for lon", _csv(_HEAD, _FIRST, f"{_T1},31.2,"), "line 3.*nothing for lon"),
    Broken("NaN for lat", _csv(_HEAD, _FIRST, f"{_T1},nan,-83.441"), 'line 3.*"nan".*lat'),
    Broken("infinity for lat", _csv(_HEAD, _FIRST, f"{_T1},inf,-83.441"), 'line 3.*"inf".*lat'),
    Broken("1e308 for lon", _csv(_HEAD, _FIRST, f"{_T1},31.2,1e308"), f"line 3.*({NO_PLACE})"),
    Broken("an underscore in lat", _csv(_HEAD, _FIRST, f"{_T1},3_1.2,-83.441"), 'line 3.*"3_1.2"'),
    Broken("metres", _csv(_HEAD, f"{FIRST_TIME},3450000,500000"), f"line 2.*({NO_PLACE})"),
    Broken("latitude and longitude swapped", _csv(_HEAD, f"{FIRST_TIME},-93.44,31.2"), f"line 2.*({NO_PLACE})"),
    Broken("a bad time", _csv(_HEAD, _FIRST, "noon,31.2,-83.44"), 'line 3.*"noon".*2026-05-04T14'),
    Broken("an American date", _csv(_HEAD, "5/4/2026 14:05,31.2,-83.44"), 'line 2.*"5/4/2026'),
    Broken("a time of day alone", _csv(_HEAD, "14:05:00,31.2,-83.44"), 'line 2.*"14:05:00"'),
    Broken("mixed zones", _csv(_HEAD, _FIRST, "2026-05-04T14:00:01,31.2,-83.44"), "zone"),
    Broken("seconds and dates mixed", _csv(_HEAD, "5,31.2,-83.44", "2026-05-04T14:00:06,31.2,-83.44"), "time|line 3"),
    Broken(
        "a bad boom state", _csv(_HEAD + ",boom_on", _FIRST + ",1", f"{_T1},31.2,-83.44,half"), 'line 3.*boom_on "half"'
    ),
    Broken("a width below nothing", _csv(_HEAD + ",width_m", _FIRST + ",-4"), "line 2.*width"),
    Broken("a negative width", _csv(_HEAD + ",width_m", _FIRST + ",-3"), "line 2.*width"),
    Broken("a width with its unit", _csv(_HEAD + ",width_m", _FIRST + ",12 ft"), 'line 2.*"12 ft".*width_m'),
    Broken("a word for hdop", _csv(_HEAD + ",hdop", _FIRST + ",good"), 'line 2.*"good".*hdop'),
    Broken("a bad section state", _csv(_HEAD + ",section_1", _FIRST + ",half"), 'line 2.*section_1 "half"'),
    Broken(
        "a section missing between", _csv(_HEAD + ",section_1,section_3", _FIRST + ",1,1"), "section_3.*no section_2"
    ),
    Broken("the first section missing", _csv(_HEAD + ",Section_2", _FIRST + ",1"), "section_2.*no section_1"),
    Broken("a section far away", _csv(_HEAD + ",section_999999999", _FIRST + ",1"), "no section_1"),
    Broken(
        "sections from nought",
        _csv(_HEAD + ",section_0,section_1", _FIRST + ",1,1"),
        "section_0.*leftmost section is section_1",
    ),
    Broken("a section twice", _csv(_HEAD + ",section_1,SECTION_1", _FIRST + ",1,1"), '"section_1" twice'),
    Broken("a section twice, once with a nought", _csv(_HEAD + ",section_1,section_01", _FIRST + ",1,1"), "twice"),
    Broken(
        "65 sections",
        _csv(_HEAD + "".join(f",section_{i}" for i in range(1, 66)), _FIRST + ",1" * 65),
        "65 boom sections.*at most 64",
    ),
    Broken("a short row", _csv(_FULL, _FIRST + ",1,3.66,1.2,0.9", f"{_T1},31.2"), "line 3.*2 cells.*7"),
    Broken("a row too long", _csv(_HEAD, _FIRST, f"{_T1},31,2,-83,44"), "line 3.*cells"),
    Broken("an open quote", _csv(_HEAD, _FIRST, f'"{_T1},31.2,-83.44'), "line"),
    Broken("NUL bytes", c.file_of("track.csv", f"{_HEAD}\n{_FIRST}\n{_T1},31\x00.2,-83.44\n"), "known|line 3|NUL"),
    Broken(
        "NUL bytes far down",
        c.file_of("track.csv", c.table(_HEAD, *[_FIRST] * 300, f"{_T1},31\x00.2,-83.44")),
        "line 302",
    ),
    Broken("noise", c.file_of("track.csv", NOISE), "known|UTF-8"),
    Broken("a picture", c.file_of("track.csv", PICTURE), "is a picture, which holds no track"),
    Broken("a cell of 200,000 letters", _csv(_HEAD, f"{FIRST_TIME},31.2,{'9' * 200_000}"), "line 2"),
    Broken("terminal codes in a time", _csv(_HEAD, _FIRST, "\x1b]0;gone\x07,31.2,-83.44"), "line 3.*time"),
    Broken("terminal codes in a heading", _csv("time,\x1b[31mlatt,lon", "1,31.2,-83.44"), "no column lat"),
    Broken("a line break in a time", _csv(_HEAD, _FIRST, '"two\nlines",31.2,-83.44'), "line [34].*time"),
]


def _gjt(*features: Any, **members: Any) -> c.Build:
    return c.file_of("track.geojson", c.geojson(*features, **members))


def _fix(**properties: Any) -> c.Build:
    return _gjt(c.feature(c.point(-83.44, 31.2)), c.feature(c.point(-83.441, 31.2), **properties))


GEOJSON_TRACK = [
    Broken("areas only", _gjt(c.feature(c.polygon(c.SQUARE))), "no track points"),
    Broken("no feature", _gjt(), "no feature"),
    Broken("shapes of null only", _gjt(c.feature(None)), "no track points"),
    Broken(
        "too few times", _gjt(c.feature(c.line(c.SQUARE[:3]), times=[FIRST_TIME, _T1])), "feature 1.*times.*3 corners"
    ),
    Broken("times that are text", _gjt(c.feature(c.line(c.SQUARE[:3]), times=FIRST_TIME)), "feature 1.*times"),
    Broken("a bad time", _fix(time="noon"), 'feature 2.*"noon"'),
    Broken("a time that is a list", _fix(time=[FIRST_TIME]), "feature 2.*time"),
    Broken("a time of 400 digits", _fix(time=int("1" * 400)), "feature 2.*time"),
    Broken("a bad boom state", _fix(boom_on="half"), 'feature 2.*"half"'),
    Broken("a bad section state", _fix(section_1=[1]), "feature 2.*section_1"),
    Broken("a section missing between", _fix(section_1=1, SECTION_3=1), "section_3.*no section_2"),
    Broken("a section twice", _fix(section_1=1, section_01=1), '"section_1" twice'),
    Broken("a bad section of a line", _gjt(c.feature(c.line(c.SQUARE), section_1="x")), 'feature 1.*section_1 "x"'),
    Broken("a bad width", _fix(width_m="12 ft"), 'feature 2.*"12 ft"'),
    Broken("a width of true", _fix(width_m=True), "feature 2.*width_m"),
    Broken("a width of 400 digits", _fix(width_m=int("1" * 400)), "feature 2.*width"),
    Broken("a width below nothing", _fix(width_m=-4), "feature 2.*width"),
    Broken("a speed that is a list", _fix(speed_mps=[1]), "feature 2.*speed_mps"),
    Broken(
        "properties that are a list",
        _gjt({**c.feature(c.point(-83.44, 31.2)), "properties": [1]}),
        "feature 1.*properties",
    ),
    Broken(
        "properties that are text",
        _gjt({**c.feature(c.point(-83.44, 31.2)), "properties": "x"}),
        "feature 1.*properties",
    ),
    Broken("a line of one point", _gjt(c.feature(c.line(c.SQUARE[:1]))), "feature 1.*line of one point"),
    Broken("beyond the pole", _gjt(c.feature(c.point(-83.44, 93))), f"feature 1.*({NO_PLACE})"),
    Broken(
        "NaN",
        c.file_of("track.geojson", c.geojson(c.feature(c.point(7.25, 31.2))).replace("7.25", "NaN")),
        "feature 1|line 1",
    ),
    Broken("metres", _gjt(c.feature(c.line(METRES[:3])), crs=c.named_crs("EPSG:26916")), "longitude and latitude"),
    Broken("crs of null", _gjt(c.feature(c.line(c.SQUARE[:3])), crs=None), "longitude and latitude|coordinate system"),
    Broken("cut short", c.file_of("track.geojson", c.geojson(c.feature(c.line(c.SQUARE)))[:-4]), "cut short.*line"),
    Broken(
        "a time that cannot be text",
        c.file_of("track.geojson", c.geojson(c.feature(c.point(1, 2), time="@")).replace('"@"', '"\\ud800"')),
        "feature 1.*time",
    ),
]

OTHER_TRACK = [
    Broken(
        "an unknown track",
        gpx_file(c.trk(c.GLADE, name="North") + c.trk(c.GLADE)),
        'has no track "x". Choose from North, track 2.',
        options={"layer": "x"},
    ),
    Broken("missing", lambda folder: folder / "nowhere.gpx", "no such file"),
    Broken("a folder", lambda folder: folder, "is a folder"),
    Broken("a GeoPackage", c.geopackage([NORTH_ROW]), "GeoPackage.*GPX, NMEA, KML, CSV or GeoJSON"),
    Broken("a shapefile", c.shapefile(SHAPES), "shapefile.*GPX, NMEA, KML, CSV or GeoJSON"),
    Broken("a zip", zip_file(GOOD_ZIP), "zip: holds no track"),
    Broken("KML without a line", kml_file(SQUARE_MARK), "no track points, only areas"),
]
