"""Files gone through in parts answer as files read whole, wherever they are parted, and take little memory."""

import io
import json
import math
import subprocess
import sys
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from gladebook.errors import GladebookError
from gladebook.io import sound, xml
from gladebook.io.digits import numbers_from
from gladebook.io.gpx import reader as gpx
from gladebook.io.gpx import scan as gpxscan
from gladebook.io.gpx.points import read_courses, tell_points
from gladebook.io.json import places, sketch
from gladebook.io.limits import LIMITS
from gladebook.io.nmea import log as nmeabytes
from gladebook.io.nmea import reader as nmea
from gladebook.io.rows import Rows
from tests.io import corpus as c
from tests.io import nmealog as n
from tests.io.broken_plots import GEOJSON as BROKEN_GEOJSON
from tests.io.broken_tracks import GPX as BROKEN_GPX
from tests.io.good_plots import GEOJSON
from tests.io.good_tracks import GPX_TRACKS
from tests.io.same_track import difference

_MB = 1_000_000
_PATH = Path("file")
_SETTINGS = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def _answer(read: Any, **options: Any) -> Any:
    try:
        return read(_PATH, **options)
    except GladebookError as error:
        return f"{type(error).__name__}: {error}"


# --- NMEA ------------------------------------------------------------------------------------

_LOG = (
    b"\xb5b\x01\x07\x00\xff, noise before the first line \x00\r\n"
    + n.drive([86_395 + i * 0.5 for i in range(14)]).replace("GPGGA,000000", "GPGGA,00000").encode("ascii")
    + b"\r\n\r\nlines of text\rof which one ends with CR\n!AIVDM,1,1,,A,x,0*00\r\n"
    + n.gga("000007", quality="6").encode("ascii")
    + n.gga("", n.place(31.2, -83.4)).encode("ascii")
    + b"$GPRMC,cut sho"
)


@_SETTINGS
@given(block=st.integers(400, 3000), cut=st.integers(0, len(_LOG)), end=st.sampled_from([b"\r\n", b"\n", b"\r"]))
def test_a_log_gives_the_same_track_and_counts_in_blocks_of_any_size(block, cut, end, monkeypatch):
    """Blocks that end within a sentence, between CR and LF or in noise change no point, count or line number."""
    data = (_LOG[cut:] + _LOG[:cut]).replace(b"\r\n", end)
    whole = _answer(nmea.read_track, data=data, allow_estimated=True)
    with monkeypatch.context() as patch:
        patch.setattr(nmeabytes, "_CHUNK", block)
        patch.setattr(nmeabytes, "BLOCK", block)
        parted = _answer(nmea.read_track, data=data, allow_estimated=True)
        refused = _answer(nmea.read_track, data=data)
    assert refused == _answer(nmea.read_track, data=data)
    assert parted == whole if isinstance(whole, str) else difference(parted, whole) == []


@_SETTINGS
@given(block=st.integers(1, 60), places=st.sets(st.integers(0, len(_LOG) - 1), max_size=6))
def test_lines_are_counted_across_blocks_as_in_the_whole(block, places, monkeypatch):
    """A byte's line is one more than the line ends before it, in blocks of any size, even of one byte."""
    monkeypatch.setattr(nmeabytes, "BLOCK", block)
    log = nmeabytes.Log(_LOG)
    assert b"".join(chunk for _, chunk in log.chunks()) == _LOG
    assert log.line_numbers(places) == {place: _LOG[:place].count(b"\n") + 1 for place in places}


# --- GPX -------------------------------------------------------------------------------------


@pytest.mark.parametrize("entry", GPX_TRACKS, ids=lambda entry: str(entry.name))
def test_a_gpx_is_the_same_in_blocks_of_any_size(entry, tmp_path, monkeypatch):
    """Every good GPX is scanned alike, or left to the other reader alike, in blocks of 1 to 300 bytes."""
    data = entry.build(tmp_path).read_bytes()
    whole = gpxscan.scan_track(_PATH, data=data)
    for block in (1, 64, 300):
        monkeypatch.setattr(gpxscan, "_CHUNK", block)
        parted = gpxscan.scan_track(_PATH, data=data)
        assert parted is whole is None or (parted and whole and difference(parted, whole) == [])


_POINTS = st.lists(
    st.sampled_from(
        [
            '<trkpt lat="31.2{0:03d}" lon="-83.44{0:03d}"/>',
            '<trkpt lat="31.2{0:03d}" lon="-83.44{0:03d}"><time>2026-05-04T14:00:00.{0:03d}Z</time></trkpt>',
            '<trkpt lat="0" lon="0"/>',
            '<trkpt lat="31.2{0:03d}" lon="-83.44{0:03d}"><hdop>0.{0:03d}</hdop></trkpt>\n</trkseg>\n<trkseg>',
            '<trkpt lat="31.2{0:03d}" lon="-83.44{0:03d}"/></trkseg></trk><trk><name>{0}</name><trkseg>',
            '<trkpt lat="31.2{0:03d}" lon="-83.44{0:03d}"><ele>1</ele><speed>1.{0:03d}</speed></trkpt><!-- x -->',
            '<trkpt lat="91.2{0:03d}" lon="-83.44{0:03d}"/>',
        ]
    ),
    min_size=1,
    max_size=25,
)


@_SETTINGS
@given(points=_POINTS, block=st.integers(1, 400))
def test_points_put_together_at_random_are_the_same_in_blocks_of_any_size(points, block, monkeypatch):
    """Runs, patterns and segments that begin in one block and end in another are what point by point gives."""
    inside = "\n".join(p.format(i) for i, p in enumerate(points))
    data = c.gpx(f"<trk><trkseg>{inside}</trkseg></trk>").encode()
    monkeypatch.setattr(gpxscan, "_CHUNK", block)
    parted, slow = _answer(gpx.read_track, data=data), _answer(gpx.read_slowly, data=data)
    assert parted == slow if isinstance(slow, str) else difference(parted, slow) == []


@pytest.mark.parametrize(
    "entry", [*GPX_TRACKS, *(e for e in BROKEN_GPX if e.read == "track")], ids=lambda entry: str(entry.name)
)
def test_point_by_point_a_gpx_is_the_same_in_blocks_of_any_size(entry, tmp_path, monkeypatch):
    """Good or broken: the points and notes, or the sentence and its line, are those of the file read at once."""
    data = entry.build(tmp_path).read_bytes()
    whole = _answer(gpx.read_slowly, data=data)
    for block in (1, 50):
        monkeypatch.setattr(xml, "_BLOCK", block)
        parted = _answer(gpx.read_slowly, data=io.BytesIO(data))
        assert parted == whole if isinstance(whole, str) else difference(parted, whole) == []


def test_points_that_are_told_are_those_that_are_held():
    """Points in points, routes, segments without points and points without a segment: nothing is lost or moved."""
    point = '<trkpt lat="31.{0}" lon="-83.4{0}"><speed>{0}</speed>{1}<hdop>{0}</hdop></trkpt>'
    body = (
        f"<trk>{point.format(1, '')}<trkseg>{point.format(2, '')}</trkseg><trkseg/></trk>{point.format(3, '')}"
        f'<rte><rtept lat="1" lon="2"/><trkseg>{point.format(4, "")}</trkseg></rte>'
        f"<trk><trkseg>{point.format(5, point.format(6, ''))}{point.format(7, '')}</trkseg></trk>"
    )
    data, told = c.gpx(body).encode(), []
    routes: list[int] = []
    tell_points(_PATH, data, point=lambda p, s: told.append((s, p)), route=lambda: routes.append(1))
    segments = [s for course in read_courses(_PATH, data) if course.kind == "trk" for s in course.segments]
    assert told == [(number, p) for number, segment in enumerate(segments) for p in segment]
    assert routes == [1]


def test_that_a_file_is_cut_short_is_said_before_what_is_wrong_in_it():
    """A point that is no position does not hide that the file ends too early."""
    wrong = c.gpx('<trk><trkseg><trkpt lat="north" lon="-83.4"/></trkseg></trk>').encode()
    assert "is no position" in _answer(gpx.read_track, data=wrong)
    assert "cut short" in _answer(gpx.read_track, data=wrong[:-9])


# --- GeoJSON ---------------------------------------------------------------------------------


_NO_FILE = ("missing file", "folder instead of file")


def _told(rows: Rows | str) -> Any:
    if isinstance(rows, str):
        return rows
    shapes = [None if row.shape is None else row.shape.wkb for row in rows.rows]
    crs = None if rows.crs is None else rows.crs.to_wkt()
    return shapes, [(row.fields, row.fault, row.walked) for row in rows.rows], crs, rows.crs_said, rows.notes


def _same_rows(data: bytes) -> Any:
    whole = _told(_answer(places.read_whole, data=data))
    assert _told(_answer(places.read_rows, data=data)) == whole
    return whole


@pytest.mark.parametrize(
    "entry",
    [*GEOJSON, *(e for e in BROKEN_GEOJSON if e.read == "plots" and e.name not in _NO_FILE)],
    ids=lambda entry: str(entry.name),
)
def test_a_geojson_in_parts_gives_the_rows_or_the_refusal_of_the_whole(entry, tmp_path, monkeypatch):
    """Good or broken, whole or in blocks of 7 or 300 bytes: same shapes, fields, faults, notes, and words."""
    path = entry.build(tmp_path)
    data = path.read_bytes()
    _same_rows(data)
    for block in (7, 300):
        monkeypatch.setattr(sketch, "_BLOCK", block)
        _same_rows(data)


def _taken(text: str | bytes) -> bool:
    """Whether the corners are read apart."""
    data = text if isinstance(text, bytes) else text.encode()
    return places._rows_from_parts(_PATH, io.BytesIO(data), limits=LIMITS) is not None  # noqa: SLF001


_RINGS = [c.GLADE, c.SQUARE, c.moved(c.POND, 0.001)]


@pytest.mark.parametrize(
    "spaced", [{}, {"indent": 2}, {"separators": (",", ":")}, {"indent": "\t"}], ids=["plain", "2", "tight", "tabs"]
)
def test_plain_files_are_read_in_parts(spaced, monkeypatch):
    """Polygons with holes and heights, several in one, and one that is broken do not send a file the slow way."""
    features = [c.feature(c.polygon(ring), name=f"P{i}") for i, ring in enumerate(_RINGS)]
    features += [
        c.feature(c.polygon(c.GLADE, c.POND)),
        c.feature(c.multipolygon([c.GLADE, c.POND], [c.SQUARE])),
        c.feature(c.polygon([[*k[:2], 71.5] for k in c.GLADE])),
        c.feature(c.polygon(c.GLADE[:-1]), name="not closed"),
        c.feature(c.polygon(c.GLADE[:2]), name="two corners"),
        c.feature({"type": "Point", "coordinates": [1, 2]}),
        c.feature(None),
    ]
    text = json.dumps({"type": "FeatureCollection", "features": features}, **spaced)
    assert _taken(text)
    assert _taken("\n".join(json.dumps(feature) for feature in features))
    shapes, told, *_ = _same_rows(text.encode())
    monkeypatch.setattr(sketch, "_BLOCK", 90)
    assert _taken(text)
    assert [fault != "" for _, fault, _ in told] == [False] * 7 + [True, False, False]
    assert sum(shape is None for shape in shapes) == 2


_WORDS = (
    "0 -0 -0.0 0.10 31.2 -83.44 1e2 -7.5E-5 007 1. .5 - +1 1.2.3 123456789012345678 -83.123456789012345678 1e400 NaN "
    'null "1" [] true'
)
_CELLS = st.sampled_from([*_WORDS.split(), "", "1 2", "31.\n2", "9" * 40]) | st.floats(-180, 180).map(repr)


@pytest.mark.parametrize(
    "cell", [*_WORDS.split(), "", "1 2", "31.\n2", "9" * 40, "1,2,3", "[1]", "1],[2", "1;2", '"}"']
)
def test_each_cell_of_a_corner_is_what_it_is_in_the_whole(cell):
    """As longitude, latitude, height or a ring's first corner: the same number to the last bit, or the same words."""
    for corner in (f"[{cell},1]", f"[1,{cell}]", f"[1,1,{cell}]", f"[ {cell} , 1 ]"):
        for ring in (f"[0,0],{corner},[1,0],[0,0]", f"{corner},[0,1],[5,5],{corner}", f"{corner},[0,1],{corner}"):
            text = f'{{"type":"Polygon","coordinates":[[{ring}]]}}'
            _same_rows(text.encode())


@pytest.mark.parametrize("kind", ["Polygon", "Point"])
@pytest.mark.parametrize("number", ["0", "1", "-1", "true", "[0]"])
def test_what_stands_for_coordinates_is_never_taken_from_the_file(kind, number):
    """A file that holds such a mark itself is read as a whole, and refused as it is there."""
    mark = f'{{"type":"Feature","geometry":{{"type":"{kind}","coordinates":[NaN,{number}]}}}}'
    plain = json.dumps(c.feature(c.polygon(c.GLADE)))
    _same_rows(f'{{"type":"FeatureCollection","features":[{plain},{mark}]}}'.encode())
    _same_rows(f'{{"type":"FeatureCollection","features":[{mark},{plain}]}}'.encode())


_CORNERS = st.lists(_CELLS, min_size=1, max_size=3).map(lambda cells: f"[{','.join(cells)}]")
_CLOSED = st.lists(
    st.tuples(st.floats(-180, 180), st.floats(-90, 90)).map(lambda xy: f"[{xy[0]!r}, {xy[1]!r}]"),
    min_size=3,
    max_size=6,
).map(lambda ring: f"[{', '.join([*ring, ring[0]])}]")
_ROUND = _CLOSED | _CLOSED | st.lists(_CORNERS, max_size=5).map(lambda corners: f"[{' ,'.join(corners)}]")
_POLYGONS = st.lists(_ROUND, max_size=2).map(lambda rings: f"[{','.join(rings)}]")
_KINDS = ["Polygon", "Polygon", "MultiPolygon", "MultiLineString", "Point", "Areas"]
_AREA = '{{"type":"{kind}","coordinates":{inside}}}'
_PLACED = '"geometry":' + _AREA
_FORMS = [
    '{{"type":"Feature","properties":{{"name":"a"}},' + _PLACED + "}}",
    '{{"type":"Feature","geometry":{{"coordinates" :\n{inside} ,"type":"{kind}","bbox":[1]}},"properties":null}}',
    '{{"type":"Feature","properties":{{"coordinates":{inside}}},"geometry":null}}',
    '{{"type":"Feature","properties":{{"x\\"coordinates":{inside}}},"geometry":null}}',
    '{{"type":"Feature","properties":{{"a":"\\"coordinates\\":[[[1,2]]]"}},' + _PLACED + "}}",
    '{{"type":"Feature","geometry":{{"type":"{kind}","coordinates":{inside},"coordinates":{inside}}}}}',
    '{{"type":"Feature","geometry":{{"type":"GeometryCollection","geometries":[' + _AREA + "]}}}}",
    '{{"type":"Feature","properties":{{"name":"NaN"}},' + _PLACED + "}}",
    '{{"type":"Feature","properties":{{"name":"["}},' + _PLACED + "]}}",
]
_FEATURES = st.builds(
    lambda form, kind, inside: form.format(kind=kind, inside=inside),
    st.sampled_from([*_FORMS[:2] * 3, *_FORMS]),
    st.sampled_from(_KINDS),
    _POLYGONS | _POLYGONS | st.lists(_POLYGONS, max_size=2).map(lambda p: f"[{','.join(p)}]"),
)


@settings(_SETTINGS, max_examples=150)
@given(features=st.lists(_FEATURES, min_size=1, max_size=4), lines=st.booleans(), block=st.integers(1, 400))
def test_features_put_together_at_random_are_read_in_parts_as_whole(features, lines, block, monkeypatch):
    """Whatever cells, nesting, kinds and keys a file has, both ways give the same rows, or the same refusal."""
    text = "\n".join(features) if lines else f'{{"type":"FeatureCollection","features":[{",".join(features)}]}}'
    monkeypatch.setattr(sketch, "_BLOCK", block)
    _same_rows(text.encode())


@settings(_SETTINGS, max_examples=120)
@given(at=st.floats(0, 1, exclude_max=True), count=st.integers(0, 9), more=st.sampled_from(list('[]{},:" 0.-eN\n\xe9')))
def test_a_file_with_one_place_changed_is_read_in_parts_as_whole(at, count, more):
    """Letters taken out and put in anywhere: the same rows, or the same refusal with the same line and column."""
    text = c.geojson(
        c.feature(c.polygon(c.GLADE, c.POND), name="Große Äsung"),
        c.feature(c.multipolygon([c.SQUARE], [c.moved(c.POND, 0.01)]), name="b"),
    )
    place = int(at * len(text))
    _same_rows((text[:place] + more + text[place + count :]).encode())


# --- figures and clearances ------------------------------------------------------------------


@settings(_SETTINGS, max_examples=120)
@given(
    value=st.floats(1e-3, 1e6) | st.integers(0, 12).map(lambda k: 2.0**k),
    up=st.booleans(),
    digits=st.integers(16, 18),
    off=st.integers(-2, 2),
)
def test_figures_of_16_to_18_digits_are_rounded_to_the_nearest_float(value, up, digits, off):
    """Even beside the middle between two floats, where a sum of rounded parts may go either way."""
    middle = (Fraction(value) + Fraction(math.nextafter(value, math.inf if up else 0))) / 2
    places_ = digits - len(str(int(value)))
    written = str(round(middle * 10**places_) + off).rjust(digits, "0")
    text = f"{written[:-places_]}.{written[-places_:]}"
    cells = np.frombuffer((text + text).encode(), dtype=np.uint8).reshape(2, -1)
    assert numbers_from(cells).tolist() == [float(text)] * 2


@_SETTINGS
@given(
    corners=st.lists(st.tuples(st.floats(-1, 1, width=32), st.floats(-1, 1, width=32)), min_size=3, max_size=12),
    size=st.sampled_from([1e-6, 1e-4, 1e-2]),
)
def test_the_clearance_of_a_boundary_is_never_overstated(corners, size):
    """What all pairs of corners and sides give in single precision is at most what GEOS finds, and near it."""
    around = sorted(corners, key=lambda k: math.atan2(k[1], k[0]))
    shape = shapely.Polygon([(-83.44 + size * x, 31.2 + size * y) for x, y in around])
    if not shapely.is_valid(shape) or not sound._plain(np.array([shape], dtype=object))[0]:  # noqa: SLF001 - see below
        return
    found = sound._clearance_deg(np.array([shape], dtype=object))[0]  # noqa: SLF001 - the bound is what is checked
    true = shapely.minimum_clearance(shape)
    # Corners near -83.44 are themselves no finer than 1.4e-14 degrees.
    assert true - 5e-5 * size <= found <= true + 1e-12


# --- memory ----------------------------------------------------------------------------------


def _peak_mb(path: Path, read: str) -> float:
    """The most memory of a process of its own that reads a file."""
    script = (
        "import resource, sys\n"
        f"from gladebook.io.door import {read}\n"
        f"{read}(sys.argv[1])\n"
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)\n"
    )
    # Through a small shell, as a process's peak is never told below that of what starts it.
    command = ["/bin/sh", "-c", '"$0" -c "$1" "$2"; exit $?', sys.executable, script, str(path)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    return int(done.stdout) * 1024 / _MB


@pytest.mark.skipif(sys.platform != "linux", reason="peaks are told in other units elsewhere")
def test_long_recordings_take_little_more_memory_than_short_ones(tmp_path):
    """A log and a GPX of 60 MB, of which a tenth are points, are never held whole."""
    log = tmp_path / "drive.nmea"
    gsv = n.sentence("GPGSV,3,1,11,10,63,137,17,07,61,098,15,05,59,290,20,08,54,157,30") * 30
    log.write_text((n.gga("140000") + gsv) * 25_000, encoding="ascii")
    track = tmp_path / "drive.gpx"
    point = f'<trkpt lat="31.2" lon="-83.44"><time>2026-05-04T14:00:00Z</time><desc>{"x" * 2000}</desc></trkpt>\n'
    track.write_text(c.gpx(f"<trk><trkseg>{point * 28_000}</trkseg></trk>"), encoding="ascii")
    short = tmp_path / "short.nmea"
    short.write_text(n.gga("140000"), encoding="ascii")
    least = _peak_mb(short, "read_track")
    for path in (log, track):
        assert path.stat().st_size > 50 * _MB
        assert _peak_mb(path, "read_track") < least + 45
