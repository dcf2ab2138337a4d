"""Layers of files: which there are, how many shapes or points each holds, and how one of them is chosen."""

import pytest

from gladebook.errors import CallError, InputError
from gladebook.io.contents import layers_in
from gladebook.io.door import read_plots, read_track
from gladebook.io.layers import LayerFound, chosen_place, kind_from, named_once
from tests.io import corpus as c
from tests.io import corpus_formats as f

_AREA, _POINT = c.blob(c.wkb_polygon(c.GLADE)), c.blob(c.wkb_point(-83.44, 31.2))
_ROWS = [("North", f.area(c.GLADE)), ("South", f.area(c.moved(c.SQUARE, 0.01)))]
_WAYS = (c.GLADE, c.moved(c.GLADE, 0.01)[:4])
_DAYS = ("Monday", "Tuesday")


def _add_layers(db):
    c.add_layer(db, "old plots", [("West", _AREA)] * 3)
    c.add_layer(db, "gates", [("Gate", _POINT)], kind="POINT")


def _line(corners):
    return f"<LineString><coordinates>{' '.join(f'{x},{y}' for x, y in corners)}</coordinates></LineString>"


def _recorded(corners):
    places = "".join(f"<when>2026-05-04T14:00:{i:02}Z</when><gx:coord>{x} {y} 0</gx:coord>" for i, (x, y) in corners)
    return f"<gx:Track>{places}</gx:Track>"


def _timed(i, place):
    stamp = f"<TimeStamp><when>2026-05-04T14:00:{i:02}Z</when></TimeStamp>"
    return f"<Placemark>{stamp}<Point><coordinates>{place[0]},{place[1]}</coordinates></Point></Placemark>"


_GPKG = c.geopackage([("North", _AREA)], more=_add_layers)
_GDB = f.geodatabase({"plots": _ROWS, "old": _ROWS[:1]})
_GPX = c.gpx("".join(c.trk(way, name=day) for way, day in zip(_WAYS, _DAYS, strict=True)))
_AREAS = c.folder_of("Plots", c.placemark(c.kml_polygon(c.GLADE), name="North")) + c.folder_of(
    "Ponds", *(c.placemark(c.kml_polygon(c.moved(c.SQUARE, 0.01 * i)), name=f"Pond {i}") for i in (1, 2))
)
_LINES = "".join(c.placemark(_line(way), name=day) for way, day in zip(_WAYS, _DAYS, strict=True))
_TRACKS = "".join(c.placemark(_recorded(list(enumerate(way))), name=day) for way, day in zip(_WAYS, _DAYS, strict=True))
_TRAILS = "".join(
    c.folder_of(day, *(_timed(i, place) for i, place in enumerate(way))) for way, day in zip(_WAYS, _DAYS, strict=True)
)
_TWO_TRACKS = [LayerFound("Monday", "track", 6), LayerFound("Tuesday", "track", 4)]
_TWO_FOLDERS = [LayerFound("Plots", "boundaries", 1), LayerFound("Ponds", "boundaries", 2)]


def _kml(body):
    return c.file_of("t.kml", c.kml(body).replace("<kml ", '<kml xmlns:gx="http://www.google.com/kml/ext/2.2" ', 1))


_SHAPE = {f"a/{name}": data for name, data in c.shapefile_parts([[c.outer(c.GLADE)]]).items()}
_ZIP = c.file_of(
    "all.zip",
    c.zipped(
        {
            **{name if name.startswith("a/plots") else f"a/plots{name[2:]}": data for name, data in _SHAPE.items()},
            "pond.geojson": c.geojson(c.feature(c.polygon(c.SQUARE)), c.feature(c.point(-83.44, 31.2))),
            "ride.gpx": _GPX,
            "drive.csv": c.table("time,lat,lon", *(f"{i},31.2,-83.44{i}" for i in range(8))),
            "notes.txt": "wet at the gate",
        }
    ),
)
_FILES = [
    (
        "gpkg",
        _GPKG,
        [
            LayerFound("plots", "boundaries", 1),
            LayerFound("old plots", "boundaries", 3),
            LayerFound("gates", "points", 1),
        ],
    ),
    ("gdb", _GDB, [LayerFound("plots", "boundaries", 2), LayerFound("old", "boundaries", 1)]),
    ("gpx", c.file_of("t.gpx", _GPX), _TWO_TRACKS),
    ("kml folders", _kml(_AREAS), _TWO_FOLDERS),
    ("kml lines", _kml(_LINES), _TWO_TRACKS),
    ("kml tracks", _kml(_TRACKS), _TWO_TRACKS),
    ("kml trails", _kml(_TRAILS), _TWO_TRACKS),
    ("kml of both", _kml(_AREAS + _TRACKS), [*_TWO_FOLDERS, *_TWO_TRACKS]),
    ("kml zipped", c.file_of("t.kmz", c.zipped({"doc.kml": c.kml(_AREAS), "other.kml": c.kml(_LINES)})), _TWO_FOLDERS),
    (
        "zip",
        _ZIP,
        [
            LayerFound("a/plots.shp", "boundaries", 1),
            LayerFound("pond.geojson", "boundaries", 1),
            LayerFound("ride.gpx/Monday", "track", 6),
            LayerFound("ride.gpx/Tuesday", "track", 4),
            LayerFound("drive.csv", "track", 8),
        ],
    ),
    ("geojson", c.file_of("t.geojson", c.geojson(c.feature(c.polygon(c.GLADE)))), []),
]


@pytest.mark.parametrize(("build", "wanted"), [pytest.param(*rest, id=name) for name, *rest in _FILES])
def test_each_layer_is_listed_with_its_kind_and_count(build, wanted, tmp_path):
    """All layers are listed in order, each with as many shapes or points as it gives when it is chosen."""
    path = build(tmp_path)
    found = layers_in(path)
    assert found == wanted
    for layer in found:
        if layer.kind == "boundaries":
            assert len(read_plots(path, layer=layer.name)) == layer.count
        elif layer.kind == "track":
            assert len(read_track(path, layer=layer.name)) == layer.count


@pytest.mark.parametrize("body", [_LINES, _TRACKS, _TRAILS])
@pytest.mark.parametrize(("day", "way"), list(zip(_DAYS, _WAYS, strict=True)))
def test_a_track_of_a_kml_is_chosen_by_name_and_the_others_are_counted(body, day, way, tmp_path):
    """Lines, tracks and trails of one name, in any case, give their own points; what was not chosen is said."""
    track = read_track(_kml(body)(tmp_path), layer=day.upper())
    assert list(zip(track.lon_deg.tolist(), track.lat_deg.tolist(), strict=True)) == [tuple(k) for k in way]
    assert any("tracks that were not chosen (1)" in str(note) for note in track.notes)


def test_folders_that_were_not_chosen_are_counted(tmp_path):
    """Of a KML with two folders one is read, and the placemarks of the other are said to be left out."""
    plots = read_plots(_kml(_AREAS)(tmp_path), layer="Plots")
    assert [plot.name for plot in plots] == ["North"]
    assert [str(note) for note in plots[0].notes] == ["t.kml: left out placemarks of folders that were not chosen (2)."]


def test_the_command_line_says_which_option_chooses(tmp_path):
    """A zip of several files names --layer for plots and --track-layer for tracks."""
    path = _ZIP(tmp_path)
    with pytest.raises(InputError, match=r"3 boundary files.*Choose one with --layer,"):
        read_plots(path)
    with pytest.raises(InputError, match=r"3 tracks.*Choose one with --track-layer,"):
        read_track(path)
    with pytest.raises(CallError, match=r"--track-layer: all\.zip has no layers"):
        read_track(path, layer="drive.csv/Monday")


@pytest.mark.parametrize(
    ("kind", "holds"),
    [
        ("MULTIPOLYGON", "boundaries"),
        ("Polygon Z", "boundaries"),
        ("GEOMETRY", "boundaries"),
        ("Unknown", "boundaries"),
        ("CURVEPOLYGON", "boundaries"),
        ("MultiPoint", "points"),
        ("LINESTRING", "lines"),
    ],
)
def test_what_a_layer_may_hold_is_told_by_the_kind_of_its_shapes(kind, holds):
    """Columns of areas and of any shapes may hold boundaries; those of points and lines do not."""
    assert kind_from(kind) == holds


def test_names_of_layers_differ_and_the_nearest_is_chosen():
    """Layers of one name are numbered, nameless ones are called by number; the exact name beats another case."""
    names = named_once(["East", "", "east", "East", " "], otherwise="track")
    assert names == ["East", "track 2", "east", "East (2)", "track 5"]
    assert chosen_place(names, wanted="east", source="t.gpx", what="track") == 2
    assert chosen_place(names, wanted="EAST (2)", source="t.gpx", what="track") == 3
    with pytest.raises(InputError, match=r't\.gpx: has no track "West". Choose from East, track 2, east, East \(2\),'):
        chosen_place(names, wanted="West", source="t.gpx", what="track")
