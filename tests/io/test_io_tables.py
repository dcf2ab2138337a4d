"""Tables: angles as people write them, columns as the call names them, times as it says."""

import contextlib
import csv
import struct
import tracemalloc

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gladebook.errors import CallError, InputError
from gladebook.io.door import file_kind, read_boundaries, read_plots, read_track
from gladebook.io.table.angles import degrees_from
from gladebook.io.table.clocks import check_format
from gladebook.io.table.columns import places_in
from tests.io import corpus as c
from tests.io import corpus_formats as f
from tests.io.good_formats import FLATGEOBUF

_TIME = "2026-05-04T14:00:00Z"

# ISO 6709:2008, annex H (from memory), writes angles with the side last, sixtieths with two digits: 40 deg 12 min
# 13.1 s N; the values are 40 + 12/60 + 13.1/3600.
_ANGLES = [
    ("40°12′13.1″N", 40 + 12 / 60 + 13.1 / 3600),
    ("40° 12' 13.1\" n", 40 + 12 / 60 + 13.1 / 3600),
    ("N 40 12 13.1", 40 + 12 / 60 + 13.1 / 3600),
    ("40 12 13.1''S", -(40 + 12 / 60 + 13.1 / 3600)),
    ("40 12.5 S", -(40 + 12.5 / 60)),
    ("S40.25", -40.25),
    ("40.25°", 40.25),
    ("-40° 30′", -40.5),
    ("−40 30", -40.5),
    ("+0 30 36", 0.51),
    ("-0 30", -0.5),
    ("0°0'0\"S", 0.0),
]


@pytest.mark.parametrize(("text", "degrees"), _ANGLES)
def test_an_angle_is_read_as_people_write_it(text, degrees):
    """Degrees, minutes and seconds with marks or blanks, the side before or behind; to the last digit of a double."""
    assert degrees_from(text, sides="NS") == pytest.approx(degrees, rel=1e-15)


@pytest.mark.parametrize(
    "text",
    [
        *(
            "",
            "N",
            "north",
            "40 12",
            "40°12'",
            "40 60 N",
            "40 12 60 N",
            "40.5 12 N",
            "40 12.5 13 N",
            "401213N",
            "4012.5N",
        ),
        *(
            "40 1213 N",
            "-40 N",
            "N 40 N",
            "N 40 S",
            "40 W",
            "40'N",
            '40"N',
            '40°12"N',
            "40 12 13 14 N",
            "1_0 N",
            "nan N",
        ),
        *("inf", "40,5 N", "４０ N", "40 -12 N", "40--12", "--40 12", "N" * 10_000, " " * 10_000 + "x", "4 " * 5_000),
    ],
)
def test_an_angle_that_could_mean_two_things_or_none_is_refused(text):
    """No side beside minutes, sixtieths beyond sixty, decimals in the middle, both a side and a sign: not guessed."""
    with pytest.raises(ValueError, match=r"^$"):
        degrees_from(text, sides="NS")


@given(
    st.integers(0, 89),
    st.integers(0, 59),
    st.integers(0, 59_999),
    st.sampled_from("NS"),
    st.sampled_from(["°′″", "   "]),
)
def test_an_angle_written_out_and_read_back_is_the_same(degrees, minutes, thousandths, side, marks):
    """Any latitude in thousandths of seconds comes back to the last digits of a double."""
    text = f"{degrees}{marks[0]}{minutes}{marks[1]}{thousandths / 1000:.3f}{marks[2]}{side}"
    wanted = (degrees + minutes / 60 + thousandths / 3.6e6) * (1 if side == "N" else -1)
    assert degrees_from(text, sides="NS") == pytest.approx(wanted, rel=1e-14, abs=1e-14)


def _table(*lines: str) -> c.Build:
    return c.file_of("track.csv", c.table(*lines))


_WRONG_CALLS = [
    ({"columns": {"widht_m": "swath"}}, CallError, '--column: "widht_m" is nothing.*Choose from time, date, lat'),
    ({"columns": {"width_m": "swath:gal"}}, CallError, '--column width_m: "gal" is no unit of length'),
    ({"columns": {"width_m": "swath:furlong"}}, CallError, '--column width_m: "furlong" is no unit of length'),
    ({"columns": {"lat": "lat:deg"}}, CallError, "--column lat: takes no unit"),
    ({"columns": {"width_m": "swath:"}}, CallError, "--column width_m: names no unit after its colon"),
    ({"columns": {"width_m": "boom"}}, InputError, 'track.csv: has no column "boom" for width_m; its columns: time'),
    ({"columns": {"section_2": "swath"}}, InputError, "section_2 but no section_1"),
    ({"time_format": "%H:%M"}, CallError, '--time-format: "%H:%M" does not state day, month and year'),
    ({"time_format": ""}, CallError, "--time-format"),
    ({"time_format": "%Q"}, CallError, "--time-format"),
    ({"time_format": "%Y-%m-%d"}, InputError, 'line 2 has the time "2026-05-04T14:00:00Z".*--time-format says'),
    ({"layer": "x"}, CallError, "--track-layer: track.csv has no layers"),
]


@pytest.mark.parametrize(("options", "error", "says"), _WRONG_CALLS)
def test_a_column_or_format_that_makes_no_sense_is_refused(options, error, says, tmp_path):
    """A name that a track has not, a unit of another kind, a heading that is not there, a format without a day."""
    path = _table("time,lat,lon,swath", f"{_TIME},31.2,-83.44,3")(tmp_path)
    with pytest.raises(error, match=says):
        read_track(path, **options)


@pytest.mark.parametrize("option", [{"columns": {"lat": "Y"}}, {"time_format": "%Y-%m-%d %H:%M"}])
def test_words_for_tables_are_refused_for_other_files(option, tmp_path):
    """Columns and formats of times given for a GPX are a mistake in the call, not silently of no use."""
    path = c.file_of("walk.gpx", c.gpx(c.trk(c.GLADE)))(tmp_path)
    with pytest.raises(CallError, match=r"--(column|time-format): walk\.gpx is GPX, which is no table"):
        read_track(path, **option)


def test_a_column_is_found_by_its_whole_name_before_its_unit():
    """A heading that has a colon of its own is that heading; what follows another is a unit."""
    heading = ("lat", "lon", "swath:in", "swath")
    whole = places_in(heading, source="x", columns={"width_m": "swath:in"}).columns["width_m"]
    unit = places_in(heading[:2] + heading[3:], source="x", columns={"width_m": "swath:in"}).columns["width_m"]
    assert (whole.place, whole.factor) == (2, None)
    assert unit.place == 2
    assert unit.factor == pytest.approx(0.0254, rel=1e-15)  # 85 FR 62698: a foot is 0.3048 m


@pytest.mark.parametrize("text", ["%m/%d/%Y %I:%M:%S %p", "%d.%m.%y %H:%M", "%Y-%m-%dT%H:%M:%S.%f%z", "%c"])
def test_a_format_with_a_whole_date_is_taken(text):
    """Day, month and year in any order are enough."""
    check_format(text)


def test_the_same_points_in_six_spellings_are_the_same_track(tmp_path):
    """Commas, semicolons with decimal commas, blanks, degrees and minutes, UTF-16 and Windows-1252 change nothing."""
    rows = [("2026-05-04T14:00:00Z", 31.25, -83.5), ("2026-05-04T14:00:01Z", 31.5, -83.75)]
    plain = c.table("time,lat,lon", *(f"{t},{y},{x}" for t, y, x in rows))
    spelt = {
        "plain": plain.encode(),
        "comma": c.table("time;lat;lon", *(f"{t};{y};{x}".replace(".", ",") for t, y, x in rows)).encode(),
        "blanks": c.table("time  lat  lon", *(f"{t}   {y}  {x}" for t, y, x in rows)).encode(),
        "minutes": c.table(
            "time,lat,lon", *(f"{t},{int(y)} {y % 1 * 60} N,{-int(x)} {-x % 1 * 60} W" for t, y, x in rows)
        ).encode(),
        "utf-16": plain.encode("utf-16"),
        "cp1252": plain.replace("time,", "time,Höhe,").replace("Z,", "Z,9,").encode("cp1252"),
    }
    for name, data in spelt.items():
        track = read_track(c.file_of(f"{name}.csv", data)(tmp_path))
        assert track.time_s.tolist() == [1777903200.0, 1777903201.0], name
        assert track.lat_deg.tolist() == [31.25, 31.5], name
        assert track.lon_deg.tolist() == [-83.5, -83.75], name


def test_a_long_table_takes_little_more_room_than_its_points(tmp_path):
    """Forty thousand rows are read within 30 MB: the file, its points twice, and some rows at a time."""
    rows = (
        f"2026-05-04T{14 + i // 36000}:{i // 600 % 60:02}:{i / 10 % 60:04.1f}Z,31.{i:07},-83.44,1,3.66"
        for i in range(40_000)
    )
    path = _table("time,lat,lon,boom_on,width_m", *rows)(tmp_path)
    tracemalloc.start()
    try:
        track = read_track(path)
        most = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert len(track) == 40_000
    assert np.diff(track.time_s) == pytest.approx(0.1, abs=1e-6)
    assert most < 30_000_000  # measured: 21.5 MB, of which the file is 1.9 and eight doubles a point are 2.6


def test_reading_a_table_of_shapes_leaves_the_length_of_cells_as_it_was(tmp_path):
    """The standard library's limit on cells, which all of a process shares, is put back after good files and bad."""
    before = csv.field_size_limit()
    for text in (f'wkt\n"{f.wkt(c.GLADE)}"\n', 'wkt\n"POLYGON ((\n'):
        path = c.file_of("plots.csv", text)(tmp_path)
        with contextlib.suppress(InputError):
            read_plots(path, crs="EPSG:4326")
        assert csv.field_size_limit() == before


def test_a_file_is_named_by_its_kind_and_its_system(tmp_path):
    """What a file is comes from its content, whatever it is called; what it states of its system beats the call."""
    utm = c.geojson(c.feature(c.polygon(c.projected(c.GLADE, "EPSG:26916"))), crs=c.named_crs("EPSG:26916"))
    path = c.file_of("plots.shp", utm)(tmp_path)
    utm_16 = "NAD83 / UTM zone 16N (EPSG:26916)"
    assert (file_kind(path), read_boundaries(path).system) == ("GeoJSON", utm_16)
    assert read_boundaries(path, crs="EPSG:32617").system == utm_16
    table = c.file_of("plots.kml", c.table("wkt", f'"{f.wkt(c.GLADE)}"'))(tmp_path)
    silent = c.file_of("plots.csv", table.read_bytes())(tmp_path)
    assert read_boundaries(silent, crs="EPSG:4326").system == "WGS 84 (EPSG:4326)"
    kinds = {
        "FlatGeobuf": FLATGEOBUF[0].build(tmp_path),
        "a receiver's log (NMEA 0183)": c.file_of("walk.csv", "noise\n$GPRMC,1,A\n")(tmp_path),
        "XML or a web page, no map file": c.file_of("page.gpkg.txt", "<html></html>")(tmp_path),
        "no kind of file that is known here": c.file_of("x.json", bytes(range(256)))(tmp_path),
        "a file geodatabase": f.geodatabase({"plots": [("N", f.area(c.GLADE))]})(tmp_path),
    }
    assert [file_kind(path) for path in kinds.values()] == list(kinds)


def test_a_flatgeobuf_without_an_index_of_one_feature_or_many_is_whole(tmp_path):
    """The length of the packed tree is as the specification has it, for any number of features up to three levels."""
    for count in (1, 2, 15, 16, 17, 256, 257):
        rows = [(f"P{i}", f.area(c.moved(c.GLADE, 0.001 * i))) for i in range(count)]
        path = f.flatgeobuf(rows)(tmp_path)
        assert sorted(p.name for p in read_plots(path)) == sorted(name for name, _ in rows)


def test_rows_struck_out_and_rows_without_a_shape_are_told_apart(tmp_path):
    """A shapefile's rows that are struck out are gone; those without a shape are left out and said."""
    path = c.shapefile([[c.outer(c.GLADE)], None, [c.outer(c.moved(c.SQUARE, 0.01))]], deleted=[2])(tmp_path)
    plots = read_plots(path)
    assert [plot.name for plot in plots] == ["N1"]
    said = f"{path.name}: left out rows without a shape (1: N2); a plot is an area."
    assert tuple(map(str, plots[0].notes)) == (said,)


def test_a_shape_that_was_overwritten_in_place_is_seen(tmp_path):
    """A shapefile record whose counts no longer fit its length is refused, not read as nothing."""

    def spoil(data: bytes) -> bytes:
        return f.put(108 + 40, struct.pack("<i", 7))(data)

    path = c.shapefile([[c.outer(c.GLADE)], [c.outer(c.SQUARE)]], change={".shp": spoil})(tmp_path)
    with pytest.raises(InputError, match="broken, cut short or incomplete"):
        read_plots(path)


def test_time_alone_does_not_make_a_point_out_of_nothing(tmp_path):
    """A table whose figures are all empty holds no points, and the first line says so."""
    with pytest.raises(InputError, match="line 2 has nothing for lon"):
        read_track(_table("time,lat,lon", f"{_TIME},,")(tmp_path))
