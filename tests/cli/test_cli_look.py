"""``gladebook look``: what a file is, what would come in, and what is doubtful about it."""

import json
import sys
from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np
import pytest
import shapely

from gladebook.cli import main
from tests.cli.command import gladebook
from tests.cli.fields import FIELD, FRAME, middles, to_and_fro, write_plots, write_track
from tests.io.corpus import blob, geopackage, wkb_polygon

ACRE_M2 = 4046.8564224  # 43,560 ft2 of 0.3048 m, exact
Look = Callable[..., tuple[int, str, str]]


@pytest.fixture
def look(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Look:
    def call(*arguments: str | Path) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["gladebook", "look", *map(str, arguments)])
        with pytest.raises(SystemExit) as left:
            main()
        said = capsys.readouterr()
        return int(left.value.code or 0), said.out, said.err

    return call


def test_plots_are_told_with_their_acres_and_place(look: Look, tmp_path: Path):
    """A file of two plots is told by count, names, acres and coordinate system, and holds no track."""
    file = write_plots(tmp_path / "p.geojson", {"Alder Glade": FIELD, "Sumac": shapely.box(200, 0, 300, 50)})
    code, out, _ = look(file)
    assert code == 0
    assert "p.geojson: GeoJSON" in out
    assert f"As plots: 2 plots, {(FIELD.area + 5000) / ACRE_M2:.2f} ac." in out
    assert "Names: Alder Glade, Sumac." in out
    assert "No track:" in out


def test_a_track_is_told_with_its_times_and_records(look: Look, tmp_path: Path):
    """A table of points is told by count, first and last time in UTC, and what it records; it holds no plots."""
    points = to_and_fro(middles())
    code, out, _ = look(write_track(tmp_path / "t.csv", points))
    assert code == 0
    assert f"As a track: {len(points.time_s):,} points" in out
    assert "From 2026-09-28 13:00:00 to" in out
    assert "UTC" in out
    assert "boom on and off" in out
    assert "No plots:" in out


def test_the_document_says_the_same(look: Look, tmp_path: Path):
    """--json holds counts, acres, times in ISO 8601 and the report, sorted."""
    points = to_and_fro(middles())
    found = json.loads(look(write_track(tmp_path / "t.csv", points), "--json")[1])
    assert found["track"]["points"] == len(points.time_s)
    assert found["track"]["start"] == "2026-09-28T13:00:00Z"
    assert found["plots"] is None
    assert set(found["track"]["report"]) == {"skipped", "repaired", "doubtful", "assumed", "other", "remarks"}


def test_what_is_left_out_and_doubtful_is_sorted(look: Look, tmp_path: Path):
    """A stated area that does not fit is doubtful, a line beside the plots is left out."""
    square = json.loads(shapely.to_geojson(FRAME.shape_to_lonlat(shapely.box(0, 0, 100, 100))))
    line = {"type": "LineString", "coordinates": [[-86.5, 32.4], [-86.499, 32.4]]}
    features = [
        {"type": "Feature", "properties": {"name": "Glade", "acres": 9.0}, "geometry": square},
        {"type": "Feature", "properties": {}, "geometry": line},
    ]
    file = tmp_path / "p.geojson"
    file.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    report = json.loads(look(file, "--json")[1])["plots"]["report"]
    assert any("left out lines (1: row 2)" in said for said in report["skipped"])
    assert any('"acres" says 9 ac' in said for said in report["doubtful"])


def test_a_crossed_boundary_is_told_and_repaired_only_when_asked(look: Look, tmp_path: Path):
    """A bow tie comes in only with --repair, which says how the acres changed; the file is not touched."""
    bow = shapely.Polygon([(0, 0), (100, 100), (100, 0), (0, 120)])
    file = write_plots(tmp_path / "bow.geojson", {"Bow": bow})
    before = file.read_bytes()
    code, out, _ = look(file)
    assert code == 0
    assert "Nothing would come in." in out
    assert "crosses itself near" in out
    code, out, _ = look(file, "--repair")
    assert "As plots: 1 plot" in out
    assert "Repaired:" in out
    assert file.read_bytes() == before


def test_a_file_that_is_nothing_is_answered_in_words(look: Look, tmp_path: Path):
    """Noise is no map file; a missing file is an error with exit code 3."""
    noise = tmp_path / "noise.bin"
    noise.write_bytes(bytes(range(256)) * 40)
    code, out, _ = look(noise)
    assert code == 0
    assert "Nothing would come in." in out
    code, out, err = look(tmp_path / "none.gpx")
    assert (code, out) == (3, "")
    assert "there is no such file" in err


def test_columns_can_be_named(look: Look, tmp_path: Path):
    """A table with other headings comes in where --column says what they hold, with their unit."""
    file = tmp_path / "odd.csv"
    file.write_text("when,Y,X,swath_in\n2026-05-04T14:05:00Z,32.4,-86.5,144\n2026-05-04T14:05:01Z,32.40001,-86.5,144\n")
    names = [word for pair in ("time=when", "lat=Y", "lon=X", "width_m=swath_in:in") for word in ("--column", pair)]
    code, out, err = look(file, *names)
    assert code == 0, err
    assert "As a track: 2 points" in out
    assert "boom width" in out
    code, _, err = look(file, "--column", "lat")
    assert code == 2
    assert "is no pair" in err


_GPX = '<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="hand">{}</gpx>'


def _trk(name: str, places: list[tuple[float, float]], day: str = "2026-05-04") -> str:
    points = "".join(
        f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}"><time>{day}T14:{i // 60:02}:{i % 60:02}Z</time></trkpt>'
        for i, (lon, lat) in enumerate(places)
    )
    return f"<trk><name>{name}</name><trkseg>{points}</trkseg></trk>"


def _places(xy_m: list[tuple[float, float]]) -> list[tuple[float, float]]:
    return [(float(lon), float(lat)) for lon, lat in FRAME.to_lonlat(np.array(xy_m, dtype=float))]


_WALK = [(40 * np.cos(a) * (1 + 0.05 * np.sin(0.6 * a)), 40 * np.sin(a)) for a in np.linspace(0, 4 * np.pi, 81)]
_DRIVE = [(0.0, 2.0 * i) for i in range(40)]


def _feature(ring: list[tuple[float, float]], **properties: object) -> dict[str, object]:
    shape = {"type": "Polygon", "coordinates": [[*map(list, ring), list(ring[0])]]}
    return {"type": "Feature", "properties": properties, "geometry": shape}


def _geojson(*features: Mapping[str, object]) -> str:
    return json.dumps({"type": "FeatureCollection", "features": features})


def _csv(places: list[tuple[float, float]], head: str = "time,lat,lon", year: str = "2026") -> str:
    rows = [f"{year}-05-04T14:00:{i:02}Z,{lat!r},{lon!r}" for i, (lon, lat) in enumerate(places)]
    return "\n".join([head, *rows, ""])


_SQUARE = _places([(0, 0), (100, 0), (100, 100), (0, 100)])
_FAR = [(lon, lat + 2) for lon, lat in _SQUARE]
_METRES = [(547000.0, 3585000.0), (547100.0, 3585000.0), (547100.0, 3585100.0)]
_YARD = [(0.0, 0.0), (100.0, 0.0), (100.0, 80.0), (0.0, 80.0)]
_LOCAL = [(20.0, float(i)) for i in range(9)]
_JUMP = [*_places(_DRIVE[:20]), (-86.5, 33.4), *_places(_DRIVE[21:])]
Doubt = tuple[str, str, str, tuple[str, ...], str]
# file, text, what it is read as, options, and what the list of doubts must say
_DOUBTS: dict[str, Doubt] = {
    "an area that does not match": ("p.geojson", _geojson(_feature(_SQUARE, acres=9)), "plots", (), "says 9 ac"),
    "swapped plots": ("p.geojson", _geojson(_feature([(y, x) for x, y in _SQUARE])), "plots", (), "look swapped"),
    "plots in metres": ("p.geojson", _geojson(_feature(_YARD)), "plots", (), "Check that its coordinates are degrees"),
    "plots far apart": ("p.geojson", _geojson(_feature(_SQUARE), _feature(_FAR)), "plots", (), "138 miles apart"),
    "a corner far away": (
        "p.geojson", _geojson(_feature([*_SQUARE[:2], _FAR[2]])), "plots", (), "it reaches over 138 miles",
    ),
    "two laps": ("w.gpx", _GPX.format(_trk("Walk", _places(_WALK))), "plots", ("--repair",), "round about 2 times"),
    "a jump": ("t.csv", _csv(_JUMP), "track", (), "jumps 69 miles between points 20 and 21"),
    "a swapped track": ("t.csv", _csv(_places(_DRIVE), "time,lon,lat"), "track", (), "look swapped"),
    "a track in metres": ("t.csv", _csv(_LOCAL), "track", (), "look like metres or feet"),
    "a track of 1980": ("t.csv", _csv(_places(_DRIVE), year="1980"), "track", (), "dated before 1995"),
    "a walk of 1980": ("w.gpx", _GPX.format(_trk("Walk", _places(_DRIVE), "1980-01-06")), "track", (), "1980-01-06"),
}  # fmt: skip


@pytest.mark.parametrize("entry", _DOUBTS.values(), ids=_DOUBTS.keys())
def test_each_doubt_stands_in_the_words_and_the_document(entry: Doubt, look: Look, tmp_path: Path):
    """What may be wrong stands under Doubtful, in the list of doubts as a sentence, and as a remark of its kind."""
    file, text, kind, options, says = entry
    path = tmp_path / file
    path.write_text(text)
    code, out, _ = look(path, *options)
    assert code == 0
    assert says in out.partition("Doubtful:\n")[2]
    report = json.loads(look(path, *options, "--json")[1])[kind]["report"]
    assert sum(says in sentence for sentence in report["doubtful"]) == 1
    assert [note["kind"] for note in report["remarks"] if says in note["words"]] == ["doubtful"]


@pytest.mark.parametrize(
    ("file", "text", "says"),
    [
        (
            "p.geojson",
            _geojson(_feature(_METRES)),
            "As plots: Plot 1: has a corner at 3585100, 547100, which is no lat",
        ),
        ("t.csv", _csv(_METRES), "As a track: line 2 lies at 3585000, 547000, which is no latitude"),
    ],
)
def test_what_cannot_be_degrees_is_refused_as_metres(file: str, text: str, says: str, look: Look, tmp_path: Path):
    """Figures in the hundred thousands come in neither as plots nor as a track, and are said to look like metres."""
    path = tmp_path / file
    path.write_text(text)
    code, out, _ = look(path)
    assert code == 0
    assert "Nothing would come in." in out
    assert says in out
    assert "looks like metres or feet" in out


def test_layers_are_listed_and_chosen(look: Look, tmp_path: Path):
    """Tracks of one file are listed with their points and how to choose one; the chosen one alone comes in."""
    path = tmp_path / "week.gpx"
    path.write_text(_GPX.format(_trk("Monday", _places(_DRIVE)) + _trk("Tuesday", _places(_DRIVE[:15]))))
    _, out, _ = look(path)
    assert "It holds 2 layers:\n- Monday: a track, 40 points\n- Tuesday: a track, 15 points\n" in out
    assert 'To take one track alone, say --track-layer "Monday".' in out
    assert "As a track: 55 points" in out
    found = json.loads(look(path, "--track-layer", "tuesday", "--json")[1])
    assert found["layers"] == [
        {"name": "Monday", "kind": "track", "count": 40},
        {"name": "Tuesday", "kind": "track", "count": 15},
    ]
    assert found["track"]["points"] == 15
    assert found["track"]["report"]["skipped"] == ["week.gpx: left out tracks that were not chosen (1)."]


def test_a_track_is_chosen_for_coverage_and_the_map_too(tmp_path: Path):
    """Coverage and map take --track-layer: half the drives treat less ground than all of them."""
    plots = write_plots(tmp_path / "p.geojson", {"Alder Glade": FIELD})
    drives = tmp_path / "week.gpx"
    ways = [[(x, 2.0 * i) for i in range(41)] for x in middles()[:2]]
    drives.write_text(_GPX.format("".join(_trk(n, _places(w)) for n, w in zip(("Mon", "Tue"), ways, strict=True))))
    both = gladebook("coverage", plots, drives, "--boom", "4 m", "--json").json
    one = gladebook("coverage", plots, drives, "--boom", "4 m", "--track-layer", "Tue", "--json").json
    assert one["treated_acres"] == pytest.approx(both["treated_acres"] / 2, rel=0.02)
    pages = [tmp_path / "both.html", tmp_path / "one.html"]
    for page, options in zip(pages, ([], ["--track-layer", "Mon"]), strict=True):
        assert gladebook("map", plots, drives, "--boom", "4 m", *options, "--out", page).code == 0
    assert ["tracks that were not chosen (1)" in page.read_text() for page in pages] == [False, True]
    wrong = gladebook("coverage", plots, drives, "--boom", "4 m", "--track-layer", "Wed")
    assert wrong.code == 3
    assert 'week.gpx: has no track "Wed". Choose from Mon, Tue.' in wrong.err


def test_a_limit_is_kept_in_a_geopackage(look: Look, tmp_path: Path):
    """--limit holds for the rows of a GeoPackage, and the sentence says how to raise it."""
    path = geopackage([("A", blob(wkb_polygon(_SQUARE))), ("B", blob(wkb_polygon(_FAR)))])(tmp_path)
    out = look(path, "--limit", "rows=1")[1]
    assert (
        "has more than 1 rows in a layer. Give the part that holds your plots, or raise it with --limit rows=2" in out
    )
    assert "As plots: 2 plots" in look(path, "--limit", "rows=2")[1]


def test_the_report_of_look_stands_in_the_notices_of_measure(look: Look, tmp_path: Path):
    """Every sentence that look sorts is a notice of measure, word for word."""
    path = tmp_path / "p.geojson"
    point = {"type": "Feature", "properties": {}, "geometry": {"type": "Point", "coordinates": [-86.5, 32.4]}}
    bow = [_SQUARE[0], _SQUARE[2], _SQUARE[1], _SQUARE[3]]
    path.write_text(_geojson(_feature(_SQUARE, name="Glade", acres=9), _feature(bow, name="Bow"), point))
    report = json.loads(look(path, "--repair", "--json")[1])["plots"]["report"]
    notices = gladebook("measure", path, "--repair", "--json").json["notices"]
    sentences = [said for kind in ("skipped", "repaired", "doubtful") for said in report[kind]]
    assert len(sentences) == 3
    assert set(sentences) <= set(notices)
