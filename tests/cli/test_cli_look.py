"""``gladebook look``: what a file is, what would come in, and what is doubtful about it."""

import json
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
import shapely

from gladebook.cli import main
from tests.cli.fields import FIELD, FRAME, middles, to_and_fro, write_plots, write_track

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
    assert set(found["track"]["report"]) == {"skipped", "repaired", "doubtful", "other"}


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
    assert any("lines (1)" in said for said in report["skipped"])
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
