"""How much a file may hold: each limit answered by one sentence, which says how to raise it; hostile files."""

import re
import sqlite3
import struct
import time
import tracemalloc
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from gladebook.errors import CallError, InputError
from gladebook.geometry.area import geodesic_area_m2
from gladebook.io.door import read_plots, read_track
from gladebook.io.limits import LIMITS, Limits, limits_from
from tests.io import corpus as c
from tests.io import corpus_formats as f

_PLOTS = c.geojson(*(c.feature(c.polygon(c.moved(c.GLADE, 0.01 * i)), name=f"P{i}") for i in range(4)))
_ROWS = [("North", f.area(c.GLADE)), ("South", f.area(c.moved(c.SQUARE, 0.01)))]
_GATES, _KINDS = [("Gate", f.Point(-83.44, 31.2))], {"b": "Point", "c": "Point"}
_CSV = c.table("time,lat,lon", *(f"{i},31.2,-83.44{i}" for i in range(8)))
_LINE = c.geojson(c.feature(c.line(c.GLADE)))
_POINTS = f.sequence(*(c.feature(c.point(-83.44, 31.2)) for _ in range(8)))
_GPX = c.gpx(c.trk(c.GLADE, name="North"))
_KML = c.kml(
    c.placemark(f"<LineString><coordinates>{' '.join(f'{x},{y}' for x, y in c.GLADE)}</coordinates></LineString>")
)
_ZIP = c.zipped({"plots.geojson": _PLOTS, **{f"{i}.png": b"x" for i in range(4)}})
_BLANKS = c.zipped({"plots.geojson": _PLOTS + " " * 60_000_000})
_NEST = c.nested_collections(20)

_BLOBS = [("North", c.blob(c.wkb_polygon(c.GLADE))), ("South", c.blob(c.wkb_polygon(c.moved(c.SQUARE, 0.01))))]
_GPKG = c.geopackage(_BLOBS)
# The layer as a view that gives each row a thousand times, with a long remark.
_MANY_TIMES = (
    "ALTER TABLE plots RENAME TO kept",
    """
    CREATE VIEW plots AS WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 1000)
    SELECT fid, geom, name, hex(zeroblob(500)) AS remark FROM kept, n
    """,
)


def _add_gates(db: sqlite3.Connection) -> None:
    c.add_layer(db, "gates", [("Gate", c.blob(c.wkb_point(-83.44, 31.2)))], kind="POINT")


def _file(name: str, data: bytes | str) -> c.Build:
    return c.file_of(name, data)


def _mended(path: Path, *, limits: Limits) -> Any:
    return read_plots(path, repair=True, limits=limits)


_TANGLE = [(x / 1000 - 83.44, y / 1000 + 31.2) for x, y in [(0, 0), (3, 4), (1, 4), (4, 0), (0, 2), (4, 3), (0, 0)]]

_TOO_MUCH: list[tuple[str, c.Build, Any, dict[str, int], str]] = [
    ("bytes", _file("plots.geojson", _PLOTS), read_plots, {"file_bytes": 500}, "is larger than"),
    (
        "bytes of a shapefile",
        c.shapefile([[c.outer(c.GLADE)]] * 9),
        read_plots,
        {"file_bytes": 1_800},
        "is larger than",
    ),
    ("bytes of a geodatabase", f.geodatabase({"plots": _ROWS}), read_plots, {"file_bytes": 30_000}, "is larger than"),
    (
        "corners",
        _file("plots.geojson", _PLOTS),
        read_plots,
        {"ring_corners": 5},
        "6 corners in one ring, and at most 5",
    ),
    ("nesting", _file("plots.geojson", _NEST), read_plots, {"nesting": 15}, "collections, one inside the other"),
    (
        "layers",
        f.geodatabase({"a": _ROWS, "b": _GATES, "c": _GATES}, kinds=_KINDS),
        read_plots,
        {"layers": 2},
        "has 3 layers",
    ),
    ("rows", _file("plots.geojson", _PLOTS), read_plots, {"rows": 3}, "has 4 rows, and at most 3"),
    ("rows of FlatGeobuf", f.flatgeobuf(_ROWS), read_plots, {"rows": 1}, "has 2 features, and at most 1"),
    ("rows of a GeoPackage", _GPKG, read_plots, {"rows": 1}, "has more than 1 rows in a layer"),
    ("corners in a GeoPackage", _GPKG, read_plots, {"ring_corners": 4}, "corners in one ring, and at most 4"),
    ("layers of a GeoPackage", c.geopackage(_BLOBS, more=_add_gates), read_plots, {"layers": 1}, "has 2 layers"),
    (
        "what a view makes of little",
        c.geopackage(_BLOBS, more=c.statements(*_MANY_TIMES)),
        read_plots,
        {"file_bytes": 100_000},
        "holds more than 0.0001 GB in a layer",
    ),
    ("points of a table", _file("track.csv", _CSV), read_track, {"points": 5}, "more than 5 points"),
    ("points of GeoJSON", _file("track.geojson", _LINE), read_track, {"points": 5}, "more than 5 points"),
    ("points a line", _file("track.geojsonl", _POINTS), read_track, {"points": 7}, "more than 7 points"),
    ("points of GPX", _file("track.gpx", _GPX), read_track, {"points": 5}, "has 6 points, and at most 5"),
    ("points of KML", _file("track.kml", _KML), read_track, {"points": 5}, "has 6 points, and at most 5"),
    ("files in a zip", _file("plots.zip", _ZIP), read_plots, {"zip_files": 4}, "more than 4 files"),
    ("bytes in a zip", _file("plots.zip", _ZIP), read_plots, {"unzip_bytes": 600}, "unpack to more than"),
    (
        "how far a zip is packed",
        _file("plots.zip", _BLANKS),
        read_plots,
        {"unzip_ratio": 250},
        "times its size, and at most 250",
    ),
    (
        "crossings",
        _file("plots.geojson", c.geojson(c.feature(c.polygon(_TANGLE), name="P"))),
        _mended,
        {"crossings": 1},
        "and in more than 1 places in all, too many to mend",
    ),
]


@pytest.mark.parametrize(
    ("build", "read", "limits", "says"), [pytest.param(*rest, id=name) for name, *rest in _TOO_MUCH]
)
def test_what_is_beyond_a_limit_is_refused_and_can_be_raised_as_the_sentence_says(build, read, limits, says, tmp_path):
    """A file beyond a limit is refused by one sentence; doing again and again what it says makes the file readable."""
    path = build(tmp_path)
    now = Limits(**limits)
    with pytest.raises(InputError) as caught:
        read(path, limits=now)
    message = str(caught.value)
    assert message.startswith(f"{path.name}: ")
    assert says in message
    assert message.isprintable()
    assert len(re.findall(r"[.!?](?=\s+[A-Z]|$)", message.removeprefix(f"{path.name}: "))) <= 2
    for _ in range(12):
        raised = re.search(r"--limit (\w+)(=\d+)?", message)
        assert raised is not None
        word = raised[0].removeprefix("--limit ")
        now = limits_from([word if raised[2] else f"{word}={2 * getattr(now, word)}"])
        try:
            assert len(read(path, limits=now)) > 0
        except InputError as error:
            message = str(error)
        else:
            break
    else:
        pytest.fail(message)


def test_limits_are_set_by_name_and_whole_number():
    """A limit is set as written, with dashes or commas too, and the others stay as they are."""
    assert limits_from([]) == LIMITS
    assert limits_from(["ring-corners=7,000,000", "points=9"]) == Limits(ring_corners=7_000_000, points=9)


@pytest.mark.parametrize(
    "text", ["", "points", "points=", "points=0", "points=-1", "points=1e9", "size=5", "points=" + "9" * 40]
)
def test_a_limit_that_cannot_be_understood_is_a_mistake_in_the_call(text):
    """No name, no number, nought and too large a number are each refused."""
    with pytest.raises(CallError, match="--limit: "):
        limits_from([text])


def test_a_ring_of_a_million_corners_is_read_and_measured(tmp_path):
    """A circle of 100 m radius with a million corners is a plot of its true area."""
    turn = np.arange(1_000_000) / 1_000_000 * 2 * np.pi
    lonlat = np.column_stack([-83.44 + 0.001 * np.cos(turn), 31.2 + 0.001 * np.sin(turn)])
    corners = ",".join(f"[{x:.9f},{y:.9f}]" for x, y in lonlat.tolist())
    first = corners.split("]", 1)[0] + "]"
    path = c.file_of("plots.geojson", f'{{"type":"Polygon","coordinates":[[{corners},{first}]]}}')(tmp_path)
    plot = read_plots(path)[0]
    assert len(plot.shape.exterior.coords) == 1_000_001
    coarse = c.ring_m2([*lonlat[::1000].tolist(), lonlat[0].tolist()])
    # A polygon of n corners is smaller than its circle by 6.6 / n^2, 6.6e-6 for a thousand; and the ellipsoidal sum
    # over a million sides of half a millimetre rounds off some 2e-6.
    assert geodesic_area_m2(plot.shape) == pytest.approx(coarse, rel=1e-5)


@pytest.mark.parametrize("depth", [400, 30_000, 300_000])
def test_shapes_nested_in_a_geopackage_are_read_or_refused_and_never_end_the_process(depth, tmp_path):
    """Collections nested deep in well-known binary once overflowed the stack of GEOS; they are read or refused."""
    nest = struct.pack("<BII", 1, 7, 1) * depth + c.wkb_polygon(c.SQUARE)
    path = c.geopackage([("North", c.blob(nest))], kind="GEOMETRY")(tmp_path)
    if depth <= LIMITS.nesting:
        assert geodesic_area_m2(read_plots(path)[0].shape) == pytest.approx(c.ring_m2(c.SQUARE), abs=1e-3)
        with pytest.raises(InputError, match=r"North: .*nested more than 300 deep"):
            read_plots(path, limits=Limits(nesting=300))
        return
    with pytest.raises(InputError, match=r"North: .*nested more than 450 deep"):
        read_plots(path)


def test_a_nest_among_many_flat_shapes_is_found(tmp_path):
    """A deep nest behind points, lines, measures, both byte orders and the older flags does not reach GEOS."""
    parts = (
        struct.pack("<BI2d", 1, 1, 1, 2)
        + struct.pack(">BI3d", 0, 1001, 1, 2, 3)
        + struct.pack("<BII2d", 1, 0x20000001, 4326, 1, 2)
        + struct.pack("<BII6d", 1, 0x80000002, 2, *range(6))
        + c.wkb_polygon(c.SQUARE, c.POND, kind=3003)
        + struct.pack("<BII", 1, 6, 1)
        + c.wkb_polygon(c.SQUARE)
    )
    nest = struct.pack(">BII", 0, 7, 1) * 50_000 + struct.pack("<BI2d", 1, 1, 1, 2)
    blob = c.blob(struct.pack("<BII", 1, 7, 7) + parts + nest)
    path = c.geopackage([("North", blob)], kind="GEOMETRY")(tmp_path)
    with pytest.raises(InputError, match=r"North: .*nested more than 450 deep"):
        read_plots(path)


def test_a_zip_with_a_long_list_of_contents_is_refused_before_it_is_read(tmp_path):
    """A zip of twenty thousand empty files is refused by the length of its list, in a tenth of the time to read it."""
    path = tmp_path / "plots.zip"
    with zipfile.ZipFile(path, "w") as archive:
        for number in range(20_000):
            archive.writestr(f"{number}.kml", b"")
    started = time.perf_counter()
    with zipfile.ZipFile(path):
        to_read = time.perf_counter() - started
    started = time.perf_counter()
    with pytest.raises(InputError, match=r"more than 1,000 files.*--limit zip_files=2000"):
        read_plots(path, limits=Limits(zip_files=1_000))
    assert time.perf_counter() - started < max(to_read / 2, 0.02)


def test_nothing_in_a_zip_is_written_outside_of_its_own_place(tmp_path, monkeypatch):
    """Names that climb out, begin at the root or name a drive unpack under plain names, which are gone afterwards."""
    place = tmp_path / "a" / "b" / "place"
    place.mkdir(parents=True)
    monkeypatch.setattr("tempfile.tempdir", str(place))
    kml = c.kml(c.placemark(c.kml_polygon(c.GLADE), name="North"))
    for name in ("../../climbed.kml", "/climbed.kml", "C:\\climbed.kml", "..\\climbed.kml", "x/../../climbed.kml"):
        path = c.file_of("plots.zip", c.zipped({name: kml}))(tmp_path)
        assert [plot.name for plot in read_plots(path)] == ["North"]
    gdb = f.zipped_folder(f.geodatabase({"plots": _ROWS}), prefix="../../")(tmp_path)
    assert len(read_plots(gdb)) == 2
    assert {p.name for p in tmp_path.rglob("*") if p.is_file()} == {"plots.zip"}


def test_a_zip_that_lies_about_its_sizes_is_not_unpacked_beyond_them(tmp_path):
    """An entry that says it unpacks to ten bytes and would to 60 MB is refused as damaged, without filling the disk."""
    data = c.zipped({"plots.kml": b"<kml>" + b" " * 60_000_000})

    def lie(out: bytearray, at: int) -> None:
        out[at : at + 4] = struct.pack("<I", 10)

    lying = c.each_entry(c.each_entry(data, b"PK\x01\x02", 24, lie), b"PK\x03\x04", 22, lie)
    tracemalloc.start()
    try:
        with pytest.raises(InputError, match="not a whole zip"):
            read_plots(c.file_of("plots.zip", lying)(tmp_path))
        assert tracemalloc.get_traced_memory()[1] < 20_000_000
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize("repair", [False, True])
def test_a_tangle_of_many_corners_is_refused_soon(repair, tmp_path):
    """A ring of 200,000 random corners, which to mend would take days, is refused within 20 seconds, mended or not."""
    lonlat = np.random.default_rng(1).uniform([-83.441, 31.199], [-83.439, 31.201], (200_000, 2))
    corners = ",".join(f"[{x:.9f},{y:.9f}]" for x, y in [*lonlat.tolist(), lonlat[0].tolist()])
    path = c.file_of("plots.geojson", f'{{"type":"Polygon","coordinates":[[{corners}]]}}')(tmp_path)
    started = time.perf_counter()
    with pytest.raises(InputError, match=r"sides after corners 1 and .* more than 100,000 places .* --limit crossings"):
        read_plots(path, repair=repair)
    assert time.perf_counter() - started < 20  # two are usual


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("plots.xml", "<!DOCTYPE" * 8_000),
        ("plots.kml", "<!--" * 20_000),
        ("plots.gpx", "<?" * 30_000),
        ("track.csv", "time,lat,lon\n" + '"' * 60_001),
        ("track.csv", " ".join(["lat", "lon"] * 9_000)),
        ("track.csv", "," * 60_000 + "\n" + "," * 60_000),
        ("track.log", "$GPRMC,A" * 10_000),
        ("track.geojson", '{"type":"Feature"}' * 5_000),
    ],
)
@pytest.mark.parametrize("read", [read_plots, read_track])
def test_a_file_made_to_take_long_does_not(read, name, text, tmp_path):
    """Beginnings that would lead a careless pattern round and round are refused within two seconds."""
    path = c.file_of(name, text)(tmp_path)
    started = time.perf_counter()
    with pytest.raises(InputError):
        read(path)
    assert time.perf_counter() - started < 2  # a hundredth of that is usual


def test_a_database_beside_a_file_is_left_alone(tmp_path):
    """A GeoPackage of the same name as a shapefile, in a folder whose name makes a copy needful, is never opened."""
    folder: Path = tmp_path / "wood!s"
    folder.mkdir()
    path = c.shapefile([[c.outer(c.GLADE)]])(folder)
    beside = folder / "plots.gpkg"
    beside.write_bytes(b"SQLite format 3\x00")
    beside.chmod(0)
    before = beside.stat().st_atime_ns
    assert len(read_plots(path)) == 1
    assert beside.stat().st_atime_ns == before
    beside.chmod(0o600)
