"""Good files with quirks: never refused, and the right answer each time."""

import re
import subprocess
import sys
import warnings
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from pyproj import CRS

from gladebook.geometry.area import geodesic_area_m2
from gladebook.io.door import read_plots, read_track
from gladebook.plots.acreage import measure_plots
from gladebook.units import ACRE_M2
from tests.io import corpus as c
from tests.io.good_formats import FLATGEOBUF, GEODATABASE, MORE_ZIP, SEQUENCE, WKT
from tests.io.good_plots import (
    GEOJSON,
    GEOPACKAGE,
    GLADE_M2,
    GPX,
    KML,
    LAEA_SQUARE,
    OPEN_WALK,
    OPEN_WALK_GAP_M,
    SHAPEFILE,
    WKB_EAST,
    WKB_GLADE,
    ZIP,
    geojson_file,
    glade_in,
    gpkg_file,
)
from tests.io.good_track_formats import COLUMNS, DELIMITERS, DOOR, FIGURES, LETTERS, MORE_GEOJSON_TRACKS, TIMES
from tests.io.good_tracks import CSV_TRACKS, FIRST_S, GEOJSON_TRACKS, GPX_TRACKS


def _group(title: str, entries: Sequence[Any]) -> list[Any]:
    return [pytest.param(e, id=f"{title}: {e.name}") for e in entries]


ALL_PLOTS = [
    *_group("geojson", GEOJSON),
    *_group("gpkg", GEOPACKAGE),
    *_group("shp", SHAPEFILE),
    *_group("zip", [*ZIP, *MORE_ZIP]),
    *_group("kml", KML),
    *_group("gpx", GPX),
    *_group("sequence", SEQUENCE),
    *_group("fgb", FLATGEOBUF),
    *_group("gdb", GEODATABASE),
    *_group("wkt", WKT),
]


def _contents(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def _read_quietly(read: Callable[[], Any], *, folder: Path, capfd: Any) -> Any:
    """Read, and hold that nothing is warned, printed or changed on the disk."""
    before = _contents(folder)
    with warnings.catch_warnings(record=True) as warned:
        warnings.simplefilter("always")
        answer = read()
    printed = capfd.readouterr()
    assert [str(w.message) for w in warned] == []
    assert (printed.out, printed.err) == ("", "")
    assert _contents(folder) == before
    return answer


def _check_notices(notices: Sequence[str], says: str | None) -> None:
    text = " ".join(notices)
    assert text.isprintable()
    if says is None:
        assert text == ""
    elif says != "*":
        assert re.search(says, text), text


@pytest.mark.parametrize("entry", ALL_PLOTS)
def test_a_good_boundary_file_gives_its_names_in_order_and_its_true_areas(entry, tmp_path, capfd):
    """A good file with a quirk is read without complaint: names, order, areas by GeographicLib, notices."""
    path = entry.build(tmp_path)
    plots = _read_quietly(lambda: read_plots(path, **entry.options), folder=tmp_path, capfd=capfd)
    assert [plot.name for plot in plots] == [name for name, _ in entry.plots]
    areas = [geodesic_area_m2(plot.shape) for plot in plots]
    assert areas == pytest.approx([m2 for _, m2 in entry.plots], rel=0, abs=entry.within_m2)
    assert {plot.walked for plot in plots} == {entry.walked}
    _check_notices([str(note) for plot in plots for note in plot.notes], entry.says)


def test_the_gap_of_the_open_walk_is_five_metres():
    """The walk that stops short in the corpus does so by the metres that its entry says."""
    (lon_1, lat_1), (lon_2, lat_2) = OPEN_WALK[-1], c.GLADE[0]
    assert Geodesic.WGS84.Inverse(lat_1, lon_1, lat_2, lon_2)["s12"] == pytest.approx(OPEN_WALK_GAP_M, abs=0.05)


def test_the_feet_of_the_corpus_are_feet():
    """The systems used above count in the feet that their entries claim (EPSG registry)."""
    unit = {code: CRS.from_epsg(code).axis_info[0].unit_conversion_factor for code in (2222, 2263, 2264)}
    assert unit[2222] == 0.3048
    assert unit[2263] == unit[2264] == pytest.approx(1200 / 3937, abs=1e-15)


def test_the_corner_of_a_published_example_lands_where_it_should(tmp_path):
    """EPSG Guidance Note 7-2, method 9820: 3962799.45, 2999718.85 in EPSG:3035 is 50 N 5 E, to its centimetre."""
    path = geojson_file(c.feature(c.polygon(LAEA_SQUARE), name="Square"), crs=c.named_crs("EPSG:3035"))(tmp_path)
    lon, lat = shapely.get_coordinates(read_plots(path)[0].shape)[0]
    assert (lon, lat) == pytest.approx((5.0, 50.0), abs=2e-7)  # 0.01 m is 9e-8 degrees of latitude


def test_a_plot_in_either_foot_measures_the_same_as_in_metres(tmp_path):
    """One ring written in metres, survey feet and international feet gives one area in acres."""
    plots = [read_plots(glade_in(crs)(tmp_path))[0] for crs in ("EPSG:26916", "EPSG:2263", "EPSG:2222")]
    acres = [row.net_m2 / ACRE_M2 for row in measure_plots(plots).plots]
    assert acres == pytest.approx([GLADE_M2 / 4046.8564224] * 3, abs=1e-6)  # 4 ppm, the survey acre, would be 1e-5


def test_rows_still_in_the_journal_of_a_geopackage_are_read(tmp_path):
    """A plot saved by a program that is still open, and so only in the journal beside the file, is read too."""
    path = gpkg_file(WKB_GLADE)(tmp_path)
    blob = c.blob(WKB_EAST).hex()
    writer = (
        "import sqlite3, sys\n"
        "db = sqlite3.connect(sys.argv[1])\n"
        "db.execute('PRAGMA journal_mode = WAL')\n"
        "db.execute('PRAGMA wal_autocheckpoint = 0')\n"
        "db.execute(\"INSERT INTO plots (geom, name) VALUES (?, 'South')\", (bytes.fromhex(sys.argv[2]),))\n"
        "db.commit()\n"
        "print('saved', flush=True)\n"
        "sys.stdin.readline()\n"
        "print(len(db.execute('SELECT * FROM plots').fetchall()), flush=True)\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", writer, str(path), blob], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as program:
        assert program.stdout is not None
        assert program.stdout.readline() == "saved\n"
        names = [plot.name for plot in read_plots(path)]
        rows, _ = program.communicate("\n", timeout=20)
    assert names == ["North", "South"]
    assert rows == "2\n"


ALL_TRACKS = [
    *_group("gpx", GPX_TRACKS),
    *_group("csv", [*CSV_TRACKS, *DELIMITERS, *LETTERS, *FIGURES, *TIMES, *COLUMNS]),
    *_group("geojson", [*GEOJSON_TRACKS, *MORE_GEOJSON_TRACKS]),
    *_group("door", DOOR),
]


def _same(found: Any, wanted: Sequence[float] | None, *, within: float = 0.0) -> None:
    if wanted is not None:
        assert found.tolist() == pytest.approx(list(wanted), rel=0, abs=within, nan_ok=True)


def _pieces(segment: Any) -> list[int]:
    """The pieces of a track counted from 0, whatever numbers they have."""
    return [int(n) for n in np.cumsum(np.diff(segment, prepend=segment[:1]) != 0)]


@pytest.mark.parametrize("entry", ALL_TRACKS)
def test_a_good_track_file_gives_its_points_in_order(entry, tmp_path, capfd):
    """A good track with a quirk is read without complaint: points, times, pieces, boom, sections, figures, notices."""
    path = entry.build(tmp_path)
    track = _read_quietly(lambda: read_track(path, **entry.options), folder=tmp_path, capfd=capfd)
    places = np.column_stack([track.lon_deg, track.lat_deg])
    # Minutes and sixtieths of degrees are not whole in binary; 1e-12 degrees are a ten thousandth of a millimetre.
    assert places == pytest.approx(np.array(entry.path), rel=0, abs=1e-12 if entry.rounded else 0)
    assert track.clock == entry.clock
    _same(track.time_s, entry.times, within=1e-6)  # a double holds seconds since 1970 to 2e-7 s
    for found, wanted in (
        (track.boom_on, entry.boom),
        (track.width_m, entry.width),
        (track.speed_mps, entry.speed),
        (track.hdop, entry.hdop),
    ):
        _same(found, wanted)
    if entry.sections is None:
        assert track.sections is None
    else:
        assert track.sections is not None
        assert track.sections.dtype == np.int8
        assert track.sections.tolist() == [list(states) for states in entry.sections]
    assert track.void_points == entry.void
    if entry.pieces is not None:
        assert _pieces(track.segment) == list(entry.pieces)
    _check_notices([str(note) for note in track.notes], entry.says)


def test_there_are_at_least_thirty_good_files():
    """The corpus is as large as promised, and no entry stands in it twice."""
    names = [entry.id for entry in [*ALL_PLOTS, *ALL_TRACKS]]
    assert len(names) >= 30
    assert len({*[e.id for e in ALL_PLOTS]}) == len(ALL_PLOTS)
    assert len({*[e.id for e in ALL_TRACKS]}) == len(ALL_TRACKS)


def test_the_moment_of_the_corpus_is_that_moment():
    """2026-05-04 14:00 UTC is 20,577 days, of 86,400 s, and 14 hours after 1970 (counted: 56 years, 14 leap days)."""
    days = 56 * 365 + 14 + 31 + 28 + 31 + 30 + 3
    assert days * 86_400 + 14 * 3_600 == FIRST_S
