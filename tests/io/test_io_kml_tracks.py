"""KML as recordings: tracks of times and places, trails of timed points, drawn lines."""

import math
import re
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import geopandas
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from gladebook.errors import GladebookError, InputError, TrackError
from gladebook.io.kml import places as kml
from gladebook.passes.track import Track
from tests.io import corpus as c

_PATH = Path("drive.kml")
_GX = ' xmlns:gx="http://www.google.com/kml/ext/2.2"'
_PLACES = [(-83.4410 + 1e-5 * i, 31.2040 + 2e-6 * i) for i in range(4)]
_NOON = datetime(2026, 5, 4, 12, tzinfo=UTC).timestamp()
_SLOWEST_S = 5.0  # a hang would be far longer; a busy machine is not this slow


def _kml(body: str, *, space: str = "http://www.opengis.net/kml/2.2") -> str:
    return f'<?xml version="1.0" encoding="UTF-8"?>\n<kml xmlns="{space}"{_GX}><Document>{body}</Document></kml>'


def _when(i: int, tail: str = "Z") -> str:
    return f"<when>2026-05-04T12:00:{i:02d}{tail}</when>\n"


def _coord(lon: float, lat: float) -> str:
    return f"<gx:coord>{lon:.7f} {lat:.7f} 95.2</gx:coord>\n"


def _gx(places: Any = _PLACES, *, first: int = 0, extra: str = "", tail: str = "Z") -> str:
    times = "".join(_when(first + i, tail) for i in range(len(places)))
    return f"<gx:Track>\n{times}{''.join(_coord(*p) for p in places)}{extra}</gx:Track>\n"


def _array(name: str, *values: str) -> str:
    inside = "".join(f"<gx:value>{v}</gx:value>" for v in values)
    return f'<gx:SimpleArrayData name="{name}">{inside}</gx:SimpleArrayData>'


def _extended(*arrays: str) -> str:
    return f'<ExtendedData><SchemaData schemaUrl="#s">{"".join(arrays)}</SchemaData></ExtendedData>'


def _timed(i: int, place: tuple[float, float], inside: str = "") -> str:
    stamp = f"<TimeStamp>{_when(i)}</TimeStamp>"
    return f"<Placemark>{stamp}<Point><coordinates>{place[0]},{place[1]},95</coordinates></Point>{inside}</Placemark>"


def _line(places: Any = _PLACES) -> str:
    return f"<LineString><coordinates>{' '.join(f'{x},{y},0' for x, y in places)}</coordinates></LineString>"


def _read(body: str, **options: Any) -> Track:
    return kml.read_track(_PATH, data=_kml(body, **options).encode())


def _lonlat(track: Track) -> list[tuple[float, float]]:
    return list(zip(track.lon_deg.tolist(), track.lat_deg.tolist(), strict=True))


def _says(track: Track, words: str) -> bool:
    return any(words in str(note) for note in track.notes)


def _rounded(places: Any = _PLACES) -> list[tuple[float, float]]:
    return [(round(x, 7), round(y, 7)) for x, y in places]


# --- tracks ----------------------------------------------------------------------------------


def test_a_track_pairs_its_times_and_places():
    """The n-th time goes with the n-th place, in one piece, in UTC, and nothing is left to say."""
    track = _read(c.placemark(_gx(), name="drive"))
    assert _lonlat(track) == _rounded()
    assert track.time_s.tolist() == [_NOON + i for i in range(4)]
    assert (track.clock, track.segment.tolist(), track.notes) == ("utc", [0] * 4, ())
    assert np.isnan(track.speed_mps).all()
    assert np.isnan(track.hdop).all()


def test_an_independent_reader_finds_the_same_places(tmp_path):
    """GDAL's reader of KML gives the same corners for a track and for drawn lines, to the last figure."""
    for body in (c.placemark(_gx(), name="drive"), c.placemark(_line(), name="way")):
        path = tmp_path / "drive.kml"
        path.write_text(_kml(body), encoding="utf-8")
        (shape,) = geopandas.read_file(path).geometry
        assert [xy[:2] for xy in shape.coords] == _lonlat(_read(body))


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text,
        lambda text: text.replace("gx:", ""),
        lambda text: text.replace("gx:", "x1:").replace(":gx=", ":x1="),
        lambda text: text.replace("opengis.net/kml/2.2", "opengis.net/kml/2.3").replace("gx:", ""),
        lambda text: re.sub("<(/?)(?=[A-Za-z])(?!gx:)", r"<\1k:", text).replace(" xmlns=", " xmlns:k="),
        lambda text: text.replace("> ", ">\n\t ").replace(" 95.2<", "  95.2\n<"),
        lambda text: text.replace(" 95.2<", "<"),
        lambda text: text.replace("\n", "\r\n"),
    ],
    ids=["as it is", "no prefix", "another prefix", "KML 2.3", "all prefixed", "blanks", "no height", "CR LF"],
)
def test_names_count_whatever_their_prefix_and_namespace(change):
    """Other prefixes, none, another namespace and other blanks make no difference."""
    data = change(_kml(c.placemark(_gx(), name="drive"))).encode()
    assert _lonlat(kml.read_track(_PATH, data=data)) == _rounded()


def test_times_and_places_may_take_turns():
    """Pairs written one by one are read as those written in two blocks."""
    pairs = "".join(_when(i) + _coord(*p) for i, p in enumerate(_PLACES))
    track = _read(c.placemark(f"<gx:Track>{pairs}</gx:Track>"))
    assert (_lonlat(track), track.time_s.tolist()) == (_rounded(), [_NOON + i for i in range(4)])


def test_all_tracks_in_all_folders_are_pieces_in_their_order():
    """Two tracks of a MultiTrack and one in a folder are three pieces, and that nothing is made up is said."""
    multi = f"<gx:MultiTrack><gx:interpolate>1</gx:interpolate>{_gx()}{_gx(first=10)}</gx:MultiTrack>"
    track = _read(c.placemark(multi) + c.folder_of("far", c.folder_of("farther", c.placemark(_gx(first=20)))))
    assert track.segment.tolist() == [0] * 4 + [1] * 4 + [2] * 4
    assert track.time_s.tolist() == [_NOON + first + i for first in (0, 10, 20) for i in range(4)]
    assert _says(track, "holds 3 tracks; all are read, in their order, and nothing is joined between them")
    assert _says(track, "(interpolate); that is not done")


@pytest.mark.parametrize(("flag", "said"), [("0", False), ("false", False), ("1", True), ("true", True)])
def test_interpolation_is_said_only_where_it_is_asked_for(flag, said):
    """XML writes true and false as words or figures."""
    multi = f"<gx:MultiTrack><gx:interpolate>{flag}</gx:interpolate>{_gx()}</gx:MultiTrack>"
    assert _says(_read(c.placemark(multi)), "interpolate") == said


def test_arrays_of_speed_and_hdop_are_taken_with_their_unit_said():
    """Plain names in any letters count, other arrays do not, and empty values are unknown."""
    arrays = (_array("Speed", "1.5", "", "2", "x"), _array("HDOP", "0.9", "1.2", "12", "0.8"), _array("heart", *"1234"))
    track = _read(c.placemark(_gx(extra=_extended(*arrays))))
    assert track.speed_mps.tolist() == pytest.approx([1.5, math.nan, 2, math.nan], nan_ok=True)
    assert track.hdop.tolist() == [0.9, 1.2, 12, 0.8]
    assert _says(track, "speeds state no unit; they are taken as metres per second")
    assert not _says(_read(c.placemark(_gx(extra=_extended(arrays[1])))), "unit")


@pytest.mark.parametrize("values", ["9", "99999"])
def test_an_array_of_another_length_is_left_out_and_said(values):
    """Values fewer or more than the places belong to no point."""
    track = _read(c.placemark(_gx(extra=_extended(_array("hdop", *values)))))
    assert np.isnan(track.hdop).all()
    assert _says(track, 'values named "hdop" do not pair with the places of 1 tracks and are left out')


def test_a_track_without_times_is_read_and_said():
    """Places alone are a way, with no clock."""
    track = _read(c.placemark(f"<gx:Track>{''.join(_coord(*p) for p in _PLACES)}</gx:Track>"))
    assert (_lonlat(track), track.clock) == (_rounded(), "none")
    assert _says(track, "states no times")


def test_points_without_a_place_and_at_0_0_are_left_out_and_counted():
    """An empty coord keeps its time from the others; 0, 0 is what a receiver writes before it knows its place."""
    inside = (
        "".join(_when(i) for i in range(4)) + "<gx:coord/>" + _coord(*_PLACES[1]) + _coord(0, 0) + _coord(*_PLACES[3])
    )
    track = _read(c.placemark(f"<gx:Track>{inside}</gx:Track>"))
    assert track.time_s.tolist() == [_NOON + 1, _NOON + 3]
    assert track.void_points == 1
    assert _says(track, "left out recorded points without a place (1)")


def test_times_without_a_zone_stay_so():
    """Nothing is guessed about the zone."""
    assert _read(c.placemark(_gx(tail=""))).clock == "no zone"


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (
            _gx().replace("</gx:Track>", f"{_when(5)}</gx:Track>"),
            r"the track at line 2 has 5 times but 4 places, so they",
        ),
        (_gx().replace(_when(2), ""), r"has 3 times but 4 places, so they cannot be paired\. Export it again"),
        (_gx([(-83.4, 91.0)]), r"point 1 of the track at line 2 lies at 91, -83\.4, which is no latitude"),
        (
            _gx().replace("31.2040020", "north"),
            r'point 2 of the track at line 2 has the place "-83.* north 95\.2", which',
        ),
        (_gx().replace("31.2040020", "nan"), "which is no longitude and latitude"),
        (_gx().replace(" 31.2040020 95.2", ""), 'has the place "-83.4409900", which'),
        (_gx().replace("12:00:02Z", "noon"), 'point 3 of the track at line 2 has the time "2026-05-04Tnoon"'),
        (_gx().replace("12:00:02Z", "12:00:02"), "times are written in different ways"),
        ("<gx:Track/>", "holds no track points"),
        (
            "<gx:Track><when/><gx:coord/></gx:Track>",
            r"holds no track points, only recorded points without a place \(1\)",
        ),
    ],
)
def test_a_track_that_cannot_be_right_is_refused_in_one_sentence(body, words):
    """The sentence names the file, the point and what is wrong with it."""
    with pytest.raises(TrackError, match=rf"^drive\.kml: .*{words}"):
        _read(f"<Placemark>{body}</Placemark>")


# --- trails of timed points ------------------------------------------------------------------


def test_points_with_a_time_stamp_are_a_trail_a_piece_for_each_folder():
    """Order is that of the file; the line drawn through them, waypoints and areas are left out and counted."""
    body = (
        c.folder_of("one", *(_timed(i, p) for i, p in enumerate(_PLACES[:2])))
        + c.folder_of("two", *(_timed(i, p) for i, p in enumerate(_PLACES[2:], start=2)))
        + c.placemark(_line())
        + "<Placemark><Point><coordinates>-83.4,31.2</coordinates></Point></Placemark>"
        + c.placemark(c.kml_polygon(c.GLADE, c.POND))
        + "<NetworkLink><Link><href>http://example.com/x.kml</href></Link></NetworkLink>"
    )
    track = _read(body)
    assert (_lonlat(track), track.segment.tolist()) == (_PLACES, [0, 0, 1, 1])
    assert track.time_s.tolist() == [_NOON + i for i in range(4)]
    for words in (
        "lines without times, as there are recorded points (1)",
        "points without a time stamp, or beside a track (1)",
        "areas, which are no track (1)",
        "links to other files, which are not followed (1)",
        "its 4 points with a time stamp are taken as one recording, a piece for each folder",
    ):
        assert _says(track, words)


def test_points_after_a_folder_belong_to_what_holds_it():
    """Points of the document before and after a folder are one piece of the trail, those inside it another."""
    a, b, x, y = (_timed(i, p) for i, p in enumerate(_PLACES))
    assert _read(a + c.folder_of("far", b, x) + y).segment.tolist() == [0, 1, 1, 0]


def test_a_trail_may_state_speed_and_hdop():
    """Data and SimpleData of plain names are taken; values of other names are not."""
    values = "".join(f'<Data name="{k}"><value>{v}</value></Data>' for k, v in (("speed", 1.5), ("hdop", 0.9)))
    data = f"<ExtendedData>{values}</ExtendedData>"
    schema = '<ExtendedData><SchemaData><SimpleData name="HDOP">2</SimpleData></SchemaData></ExtendedData>'
    track = _read(_timed(0, _PLACES[0], data) + _timed(1, _PLACES[1], schema))
    assert track.speed_mps.tolist() == pytest.approx([1.5, math.nan], nan_ok=True)
    assert track.hdop.tolist() == [0.9, 2]


def test_a_track_comes_before_points_and_lines():
    """Where a file holds a track, timed points and lines beside it are left out and counted."""
    track = _read(_timed(30, _PLACES[0]) + _timed(31, _PLACES[1]) + c.placemark(_line()) + c.placemark(_gx()))
    assert _lonlat(track) == _rounded()
    assert _says(track, "points without a time stamp, or beside a track (2)")
    assert _says(track, "lines without times, as there are recorded points (1)")


# --- drawn lines -----------------------------------------------------------------------------


def test_lines_alone_are_pieces_without_times():
    """All lines are read in order, in geometries of several too, and that they are only drawn is said."""
    both = f"<MultiGeometry>{_line(_PLACES[:2])}{_line(_PLACES[2:])}</MultiGeometry>"
    track = _read(c.folder_of("far", c.placemark(both)) + _timed(0, (-83.4, 31.2)) + c.placemark(_line()))
    assert _lonlat(track) == _PLACES * 2
    assert (track.segment.tolist(), track.clock) == ([0, 0, 1, 1, 2, 2, 2, 2], "none")
    assert np.isnan(track.time_s).all()
    assert _says(track, "holds no times, only drawn lines")
    assert _says(track, "holds 3 lines; all are read, and nothing is joined between them")
    assert _says(track, "points without a time stamp, or beside a track (1)")


def test_lines_of_one_point_are_left_out():
    """A line of one point leads nowhere; an empty one neither."""
    track = _read(c.placemark(_line(_PLACES[:1])) + c.placemark(_line([])) + c.placemark(_line()))
    assert _lonlat(track) == _PLACES
    assert _says(track, "lines of fewer than two points (2)")


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (_line([(-83.4, 31.2), (-83.4, 95.0)]), "the line of the placemark at line 2 lies at 95, -83.4"),
        (
            _line().replace("31.204002", "abc"),
            'the line of the placemark at line 2: corner 2, "-83.44099,abc,0", is no',
        ),
        (c.kml_polygon(c.GLADE), r"holds no track points, only areas, which are no track \(1\)"),
        ("", "holds no track points. Pick the file"),
    ],
)
def test_what_is_no_way_is_refused_in_one_sentence(body, words):
    """Bad corners are named; areas alone are no recording."""
    with pytest.raises(TrackError, match=words):
        _read(f"<Placemark>{body}</Placemark>")


def test_boundaries_beside_a_track_are_read_as_ever():
    """A file of a track and an area gives the area as a boundary, and the track as a placemark without one."""
    rows = kml.read_rows(
        _PATH, data=_kml(c.placemark(_gx()) + c.placemark(c.kml_polygon(c.GLADE), name="North")).encode()
    )
    assert [row.shape is None for row in rows.rows] == [True, False]


# --- damage ----------------------------------------------------------------------------------

_BASE = _kml(
    c.placemark(_gx(extra=_extended(_array("hdop", *"1234"))))
    + c.folder_of("far", *(_timed(i, p) for i, p in enumerate(_PLACES)))
    + c.placemark(_line())
).encode()
_NASTY = [
    *(b"<", b">", b"&x;", b"</gx:Track>", b"<gx:Track>", b"<when>", b"<gx:coord/>", b"</Placemark>", b"\x00", b"\xff"),
    *(
        b"nan",
        b"inf",
        b"1e999",
        b"-",
        b",",
        b" ",
        b"9" * 30,
        b"1_0",
        b"<!--",
        b"]]>",
        b"Folder",
        b"2026-13-45T99:00:00Z",
    ),
]


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    damage=st.lists(
        st.tuples(
            st.floats(0, 1, exclude_max=True),
            st.integers(0, 60),
            st.one_of(st.just(b""), st.sampled_from(_NASTY), st.binary(max_size=4)),
        ),
        min_size=1,
        max_size=4,
    )
)
def test_a_damaged_file_is_read_or_refused_and_nothing_else(damage):
    """Bytes lost, added or written over anywhere bring a track of finite places or one of our errors, soon."""
    data = _BASE
    for share, count, extra in damage:
        at = int(share * len(data))
        data = data[:at] + extra + data[at + count :]
    started = time.perf_counter()
    try:
        track = kml.read_track(_PATH, data=data)
    except GladebookError as error:
        assert isinstance(error, InputError)  # noqa: PT017 - a track is right too
        assert str(error).startswith("drive.kml: ")  # noqa: PT017 - same
    else:
        assert np.isfinite(track.lon_deg).all()
        assert (np.abs(track.lat_deg) <= 90).all()
    assert time.perf_counter() - started < _SLOWEST_S


@pytest.mark.parametrize("read", [kml.read_track, kml.read_rows])
@pytest.mark.parametrize("nest", ["Folder", "MultiGeometry", "gx:Track", "ExtendedData"])
def test_a_deep_nest_takes_no_longer_than_its_length_asks_for(read, nest):
    """Thirty thousand elements, each inside the last and with a line in it, are read or refused soon."""
    deep = 30_000
    body = f"<Placemark>{f'<{nest}>{_line(_PLACES[:2])}' * deep}{f'</{nest}>' * deep}</Placemark>"
    started = time.perf_counter()
    try:
        read(_PATH, data=_kml(body).encode())
    except GladebookError as error:
        assert isinstance(error, InputError)  # noqa: PT017 - an answer is right too
    assert time.perf_counter() - started < _SLOWEST_S
