"""Exporting a property: what is written and said, what is refused, and that a stop half-way leaves nothing."""

import csv
import io
import json
import os
import socket
import sqlite3
import subprocess
import sys
import zipfile
from contextlib import closing
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from gladebook.errors import CallError, GladebookError, OutputError, PropertyError
from gladebook.geometry.area import geodesic_area_m2
from gladebook.io.door import read_plots
from gladebook.io.property.change import changing, undo_last
from gladebook.io.property.check import faults_in
from gladebook.io.property.export import FORMATS, export_property
from gladebook.io.property.open import connected, new_property
from gladebook.io.property.store import (
    add_application,
    add_kept,
    add_mark,
    add_plot,
    add_strip,
    plots_in,
    redraw_plot,
    set_state,
    strips_in,
)
from gladebook.passes.track import Track
from gladebook.plots.plot import Plot
from gladebook.records.kept import KeptStrip
from gladebook.units import ACRE_M2
from tests.io.property.season import mark_of_file

_WEST, _SOUTH = -83.44, 31.2
_APPLICATION = "Of applications the tables hold figures and words; lists, as of passes and notices, are left out."
_ONLY_GPKG = "Left out, as only a GeoPackage holds them: 1 earlier boundary, 1 sprayer, 2 mixes."


def _box(east: float, north: float, size: float) -> Any:
    return shapely.box(_WEST + east, _SOUTH + north, _WEST + east + size, _SOUTH + north + size)


def _drive() -> Track:
    k = np.arange(7.0)
    return Track(
        name="drive of May.gpx",
        lon_deg=_WEST + k * 1e-4,
        lat_deg=_SOUTH + k * 1.1e-4,
        time_s=1_777_903_500.25 + k,
        segment=np.array([0, 0, 0, 1, 1, 1, 2]),
        boom_on=np.array([1, 1, 0, -1, 1, 1, 0], dtype=np.int8),
        width_m=np.array([*[6.096] * 6, np.nan]),
        speed_mps=np.array([*[2.2] * 6, np.nan]),
        hdop=np.full(7, 0.9),
        clock="no zone",
        sections=np.array([[1, 0]] * 7, dtype=np.int8),
    )


def _pond_patch() -> Any:
    ponds = [_box(0.0005, 0.0005, 0.0005), _box(0.0012, 0.0012, 0.0003)]
    return _box(0, 0, 0.002).difference(shapely.union_all(ponds))


def _two_parts() -> Any:
    return shapely.MultiPolygon([_box(0.01, 0.01, 0.002), _box(0.02, 0.01, 0.002)])


@pytest.fixture
def glades(tmp_path: Path) -> Path:
    """A property with everything in it, and a plot that was added and taken back."""
    path = tmp_path / "glades.gpkg"
    new_property(path, name="Glades")
    with connected(path) as base:
        with changing(base, "everything") as pen:
            add_plot(pen, Plot("Pond Patch", _pond_patch()), day="2026-04-01")
            add_plot(pen, Plot("Twin Glade", _two_parts(), walked=True), day="2026-04-02")
            add_mark(pen, name="Pond", kind="obstacle", shape=_box(0.0005, 0.0005, 0.0005))
            add_mark(pen, name="Check", kind="check strip", shape=_box(0, 0, 0.0001))
            add_kept(pen, "sprayers", name="ATV", content={})
            for name in ("first", "second"):
                add_kept(pen, "mixes", name=name, content={})
            answer = {"treated_acres": 1.5, "outside_acres_by": {"edge": 0.1}, "notices": ["a", "b"]}
            figures = {"treated_acres": 1.25, "passes": [1, 2]}
            judged = [(plots_in(base)[0], figures)]
            uid = add_application(pen, name="Spring", day="2026-05-04", answer=answer, tracks=[_drive()], plots=judged)
            verdict = {"verdict": "go look", "chance_real": 0.93, "where": None, "cause": "between passes 3 and 4"}
            shape = _box(0.0001, 0.0001, 0.0002)
            add_strip(pen, KeptStrip("", uid, "Pond Patch", 1, "go look", 407.5, shape, verdict))
        with changing(base, "redrawn") as pen:
            redraw_plot(pen, plots_in(base)[0], shape=_pond_patch(), day="2026-05-05")
        with changing(base, "seen") as pen:
            set_state(pen, strips_in(base)[0], state="seen")
        with changing(base, "a plot that nobody shall know of") as pen:
            add_plot(pen, Plot("Hidden Honey Hole", _box(0.3, 0.3, 0.001)), day="2026-04-01")
        undo_last(base, path=path)
    return path


def _files(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


def _contents(folder: Path) -> dict[str, bytes]:
    """All files, those in zips too."""
    found = {}
    for name in _files(folder):
        data = (folder / name).read_bytes()
        if name.endswith(".zip"):
            with zipfile.ZipFile(io.BytesIO(data)) as zipped:
                found.update({f"{name}/{entry}": zipped.read(entry) for entry in zipped.namelist()})
        found[name] = data
    return found


def _rows(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"), newline="")))


@pytest.mark.parametrize("format_name", ["geojson", "shapefile", "kml", "gpx", "csv"])
def test_each_kind_of_thing_has_a_file_of_its_own(glades, tmp_path, format_name):
    """Plots, obstacles, check strips, missed strips and tracks each have their file, tables lie beside them."""
    export_property(glades, tmp_path / "out", format=format_name)
    end = {"shapefile": "zip"}.get(format_name, format_name)
    track = f"tracks.{end}" if format_name in ("kml", "shapefile") else f"tracks/track-1-2026-05-04.{end}"
    kinds = [f"{kind}.{end}" for kind in ("check-strips", "missed-strips", "obstacles", "plots")]
    assert _files(tmp_path / "out") == sorted([*kinds, track, "applications.csv", "application-plots.csv"])


def test_areas_carry_their_days_acres_and_states(glades, tmp_path):
    """Plots say since when and how many acres, strips what became of them and why they were thought missed."""
    export_property(glades, tmp_path / "out", format="geojson")

    def fields(kind: str) -> list[dict[str, Any]]:
        found = json.loads((tmp_path / "out" / f"{kind}.geojson").read_text(encoding="utf-8"))
        return [feature["properties"] for feature in found["features"]]

    pond, twin = fields("plots")
    assert (pond["name"], pond["since"], pond["walked"]) == ("Pond Patch", "2026-05-05", False)
    assert (twin["name"], twin["since"], twin["walked"]) == ("Twin Glade", "2026-04-02", True)
    assert pond["acres"] == pytest.approx(geodesic_area_m2(_pond_patch()) / ACRE_M2, rel=1e-12)
    assert twin["acres"] == pytest.approx(geodesic_area_m2(_two_parts()) / ACRE_M2, rel=1e-12)
    (strip,) = fields("missed-strips")
    del strip["uid"]
    assert strip.pop("acres") == pytest.approx(407.5 / 4046.8564224, rel=1e-12)  # the international acre
    assert strip == {
        "name": "Pond Patch, strip 1",
        "plot": "Pond Patch",
        "number": 1,
        "state": "seen",
        "application": "Spring",
        "day": "2026-05-04",
        "verdict": "go look",
        "chance_real": 0.93,
        "where": None,
        "cause": "between passes 3 and 4",
    }


def test_applications_are_a_table_of_their_figures(glades, tmp_path):
    """An application is a row with its figures and the names of its tracks' files; so is each of its plots."""
    export_property(glades, tmp_path / "out", format="kml")
    (work,) = _rows(tmp_path / "out" / "applications.csv")
    assert work.pop("uid")
    assert work == {
        "name": "Spring",
        "day": "2026-05-04",
        "tracks": "track-1-2026-05-04",
        "treated_acres": "1.5",
        "outside_acres_by_edge": "0.1",
    }
    (plot,) = _rows(tmp_path / "out" / "application-plots.csv")
    assert (plot["application"], plot["plot"], plot["boundary_since"]) == ("Spring", "Pond Patch", "2026-04-01")
    assert plot["treated_acres"] == "1.25"


_PIECES = (
    "GeoJSON points are read back as one piece; where a recording began anew is in their field piece (1 track). "
    "CSV parts them."
)
_NO_UNDO = (
    "A GeoPackage for other programs holds no undo: 4 changes can be taken back in the property file only. A full "
    "copy is made by: gladebook property backup"
)
_AS_LINES = "holds tracks as lines: times, speeds, boom states and widths of 1 track are left out. CSV holds them."
_WALKED = "1 boundary that was walked comes back as if drawn: say --accuracy when you measure there."
_SAID = {
    "geojson": (
        _PIECES,
        _APPLICATION,
        _ONLY_GPKG,
        _WALKED,
    ),
    "gpkg": (_NO_UNDO,),
    "shapefile": (
        "A shapefile's fields have names of at most 10 letters: application is applicatio, chance_real is chance_rea.",
        "A shapefile holds tracks as lines: 1 single point left out.",
        f"A shapefile {_AS_LINES}",
        _APPLICATION,
        _ONLY_GPKG,
        _WALKED,
    ),
    "kml": (
        "KML holds tracks as lines: 1 single point left out.",
        f"KML {_AS_LINES}",
        _APPLICATION,
        _ONLY_GPKG,
        _WALKED,
    ),
    "gpx": (
        "GPX holds no holes: 2 holes are left out of Pond Patch.",
        "GPX holds areas as closed lines: one for each part of Twin Glade.",
        "GPX has no fields of its own for days, acres and states: they are written as words.",
        "GPX holds no boom states and widths: they are left out of 1 track.",
        "GPX times are in UTC by its standard: those of drive of May.gpx state no zone and are written without one.",
        _APPLICATION,
        _ONLY_GPKG,
    ),
    "csv": (
        "CSV does not state its coordinate system: read its shapes back with --crs EPSG:4326.",
        _APPLICATION,
        _ONLY_GPKG,
        _WALKED,
    ),
}


@pytest.mark.parametrize("format_name", sorted(FORMATS))
def test_what_a_format_cannot_hold_is_said_with_counts(glades, tmp_path, format_name):
    """Each thing that a format cannot hold is one sentence, with how many of them are left out."""
    assert export_property(glades, tmp_path / "out", format=format_name) == _SAID[format_name]


@pytest.mark.parametrize("format_name", ["geojson", "shapefile", "kml"])
def test_nothing_is_said_where_the_format_holds_all(tmp_path, format_name):
    """Of a property with plain plots nothing is lost, and nothing is said to be."""
    path = tmp_path / "plain.gpkg"
    new_property(path, name="Plain")
    with connected(path) as base, changing(base, "a plot") as pen:
        add_plot(pen, Plot("Pond Patch", _pond_patch()), day="2026-04-01")
    assert export_property(path, tmp_path / "out", format=format_name) == ()


def test_texts_that_a_format_must_change_are_counted(tmp_path):
    """Control characters, formulas and long names are changed where they must be, and the number of them is said."""
    path = tmp_path / "odd.gpkg"
    new_property(path, name="Odd")
    with connected(path) as base, changing(base, "plots") as pen:
        for number, name in enumerate(("bell\x07", "=1+1", "🦌" * 80)):
            add_plot(pen, Plot(name, _box(0.01 * number, 0, 0.002)), day="2026-04-01")
        base.execute("UPDATE plots SET name = 'bell' || char(7) WHERE name LIKE 'bell%'")
    said = {f: export_property(path, tmp_path / f, format=f) for f in ("kml", "csv", "shapefile")}
    blanks = "holds no control characters: blanks stand for them in 1 text."
    assert said["kml"] == (f"KML {blanks}",)
    words = "CSV: an apostrophe stands before 1 text that would begin with =, +, - or @"
    assert said["csv"][1:] == (f"{words}, so that no spreadsheet takes it for a formula.",)
    assert said["shapefile"] == (
        f"A shapefile {blanks}",
        "A shapefile holds texts of at most 254 bytes: 1 text cut.",
    )


def test_rows_that_cannot_be_read_are_left_out_and_counted(glades, tmp_path):
    """Of a damaged property the rest is exported: what is left is what an export is for."""
    with connected(glades) as base:
        base.execute("DROP TRIGGER rtree_plots_geom_update1")
        base.execute("UPDATE plots SET geom = x'4750' WHERE name = 'Twin Glade'")
        base.execute("UPDATE marks SET geom = NULL")
    for format_name in ("geojson", "gpkg"):
        said = export_property(glades, tmp_path / format_name, format=format_name)
        if format_name == "geojson":
            assert said[-1] == "Left out, as they have no shape that can be drawn: 3 rows."
    assert [p.name for p in read_plots(tmp_path / "geojson" / "plots.geojson")] == ["Pond Patch"]
    assert not (tmp_path / "geojson" / "obstacles.geojson").exists()


def test_a_geopackage_has_nothing_of_ours_and_no_trace_of_what_was_undone(glades, tmp_path):
    """The copy has our layers with acres, no tables or triggers of ours, and not a byte of what undo remembers."""
    export_property(glades, tmp_path / "out", format="gpkg")
    copy = tmp_path / "out" / "glades.gpkg"
    assert b"Honey Hole" not in copy.read_bytes()
    assert _files(tmp_path / "out") == ["glades.gpkg"]
    with closing(sqlite3.connect(copy)) as base:
        assert base.execute("SELECT name FROM sqlite_master WHERE name LIKE 'gladebook%'").fetchall() == []
        assert base.execute("SELECT * FROM gpkg_extensions WHERE table_name LIKE 'gladebook%'").fetchall() == []
        assert base.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert base.execute("PRAGMA foreign_key_check").fetchall() == []
        assert base.execute("PRAGMA journal_mode").fetchone() == ("delete",)
        assert base.execute("PRAGMA application_id").fetchone() == (0x47504B47,)
        assert base.execute("PRAGMA user_version").fetchone() == (10300,)
        assert base.execute("PRAGMA freelist_count").fetchone() == (0,)
        acres = base.execute("SELECT acres FROM plots ORDER BY id").fetchall()
        bounds = base.execute("SELECT min_x, min_y FROM gpkg_contents WHERE table_name = 'plots'").fetchone()
    assert acres[0][0] == pytest.approx(geodesic_area_m2(_pond_patch()) / ACRE_M2, rel=1e-12)
    assert bounds == pytest.approx((_WEST, _SOUTH))


_EDIT = """
import sqlite3, sys
import numpy as np, shapely
from pyogrio.raw import read, write
shape = np.array([shapely.to_wkb(shapely.MultiPolygon([shapely.box(-83.5, 31.3, -83.49, 31.31)]))], dtype=object)
write(sys.argv[1], shape, [np.array(["Drawn Elsewhere"], dtype=object)], ["name"], layer="plots",
      driver="GPKG", geometry_type="MultiPolygon", crs="EPSG:4326", append=True)
names = read(sys.argv[1], layer="plots", columns=["name"], bbox=(-83.51, 31.29, -83.48, 31.32))[3][0]
print(list(names))
"""


@pytest.mark.parametrize("kind", ["the copy", "the property"])
def test_other_programs_can_add_to_a_geopackage(glades, tmp_path, kind):
    """GDAL in another process adds a plot and finds it by its place, in the copy and in the property itself."""
    path = glades
    if kind == "the copy":
        export_property(glades, tmp_path / "out", format="gpkg")
        path = tmp_path / "out" / "glades.gpkg"
    done = subprocess.run([sys.executable, "-c", _EDIT, str(path)], capture_output=True, text=True, check=False)
    assert done.stdout.strip() == "['Drawn Elsewhere']", done.stderr
    assert len(read_plots(path, layer="plots")) == 3


_WATCH = """
import sys
from pathlib import Path
from gladebook.io.property.export import FORMATS, export_property
path, out = Path(sys.argv[1]), Path(sys.argv[2])
opened = []
def watch(event, args):
    if event in ("open", "shutil.copyfile", "os.rename") and str(args[0]).startswith(str(path)):
        opened.append((event, args[0]))
sys.addaudithook(watch)
for name in FORMATS:
    export_property(path, out / name, format=name)
print(opened, "pyogrio" in sys.modules, len(list(out.iterdir())))
"""


def test_the_property_file_is_opened_by_sqlite_alone(glades, tmp_path):
    """No format opens, copies or moves the property file but through SQLite, nor loads GDAL; it stays as it is."""
    before, beside = mark_of_file(glades), sorted(glades.parent.iterdir())
    (tmp_path / "all").mkdir()
    done = subprocess.run(
        [sys.executable, "-c", _WATCH, str(glades), str(tmp_path / "all")], capture_output=True, text=True, check=False
    )
    assert done.stdout.strip() == f"[] False {len(FORMATS)}", done.stderr
    assert mark_of_file(glades) == before
    assert sorted(glades.parent.iterdir()) == sorted([*beside, tmp_path / "all"])


@pytest.mark.parametrize("format_name", sorted(FORMATS))
def test_nothing_of_this_machine_gets_into_the_files(glades, tmp_path, format_name):
    """No path, host or user of this machine is in an export, nor when it was made: made twice it is the same."""
    for name in ("one", "two"):
        export_property(glades, tmp_path / name, format=format_name)
    one, two = _contents(tmp_path / "one"), _contents(tmp_path / "two")
    told = [str(tmp_path), str(Path.home()) + "/", socket.gethostname(), str(Path(__file__).parents[3])]
    for name, data in one.items():
        assert not [word for word in told if word.encode() in data], name
        if format_name != "gpkg":  # SQLite counts in its heading how often a file was written
            assert data == two[name], name


def _before(tmp_path: Path) -> list[str]:
    return sorted(path.name for path in tmp_path.iterdir())


def test_what_is_there_is_never_overwritten(glades, tmp_path):
    """A name that is taken, by a file, a folder, a link to nowhere or the property itself, is refused and kept."""
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    (tmp_path / "folder").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "nowhere")
    mark, before = mark_of_file(glades), _before(tmp_path)
    for name in ("file", "folder", "link"):
        with pytest.raises(OutputError, match=rf"^{name}: is there already\. Nothing was written; choose another"):
            export_property(glades, tmp_path / name, format="csv")
    with pytest.raises(OutputError, match="is the property file itself"):
        export_property(glades, glades, format="gpkg")
    assert (tmp_path / "file").read_text(encoding="utf-8") == "mine"
    assert (_before(tmp_path), mark_of_file(glades)) == (before, mark)


def test_names_that_would_do_harm_are_refused(glades, tmp_path):
    """Names that SQLite needs beside the property, names of files, and places that are not there are refused."""
    before = _before(tmp_path)
    for end in ("-wal", "-shm", "-journal"):
        with pytest.raises(OutputError, match="is a name that the property file needs for itself"):
            export_property(glades, tmp_path / f"glades.gpkg{end}", format="csv")
    with pytest.raises(CallError, match=r"^plots\.kml: an export is a folder .* Name it plots\.$"):
        export_property(glades, tmp_path / "plots.kml", format="kml")
    with pytest.raises(OutputError, match=r"is not there\. Make it first"):
        export_property(glades, tmp_path / "no" / "out", format="csv")
    for bad in ("a\x00b", "x" * 300):
        with pytest.raises(OutputError, match=r"is no name|cannot be written"):
            export_property(glades, tmp_path / bad, format="csv")
    with pytest.raises(
        CallError, match=r'^--format: "dxf" is not known\. Give one of geojson, gpkg, shapefile, kml, gpx'
    ):
        export_property(glades, tmp_path / "out", format="dxf")
    assert _before(tmp_path) == before


def test_what_is_no_property_or_holds_nothing_is_refused(tmp_path):
    """A file that is no property, one that is missing, and an empty property each give a sentence and no folder."""
    with closing(sqlite3.connect(tmp_path / "other.gpkg")) as base:
        base.execute("CREATE TABLE t (x)")
    new_property(tmp_path / "empty.gpkg", name="Empty")
    before = _before(tmp_path)
    for name in ("other.gpkg", "missing.gpkg", "empty.gpkg"):
        with pytest.raises(PropertyError, match=name):
            export_property(tmp_path / name, tmp_path / "out", format="kml")
    assert _before(tmp_path) == before


@pytest.mark.parametrize("format_name", sorted(set(FORMATS) - {"gpkg"}))
@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_a_stop_half_way_leaves_nothing(glades, tmp_path, monkeypatch, format_name, error):
    """However many files were written when the disk fills up or the user stops, none of them is left."""
    before, real = _before(tmp_path), os.fsync
    for allowed in range(7):
        written = iter(range(allowed))

        def fsync(handle: int, left: Any = written) -> None:
            if next(left, None) is None:
                raise error
            real(handle)

        with monkeypatch.context() as patch:
            patch.setattr(os, "fsync", fsync)
            with pytest.raises((OutputError, KeyboardInterrupt)) as caught:
                export_property(glades, tmp_path / "out", format=format_name)
        if isinstance(error, OSError):
            said = "out: cannot be written (No space left on device), and nothing of it was left. Choose another place."
            assert str(caught.value) == said
        assert _before(tmp_path) == before


@pytest.mark.parametrize("format_name", ["gpkg", "csv"])
def test_a_folder_that_cannot_get_its_name_leaves_nothing(glades, tmp_path, monkeypatch, format_name):
    """Where renaming fails, or somebody took the name meanwhile, what was written goes again."""

    def taken(*_: Any) -> None:
        raise OSError(39, "Directory not empty")

    before = _before(tmp_path)
    with monkeypatch.context() as patch:
        patch.setattr(Path, "rename", taken)
        with pytest.raises(OutputError, match="out: cannot be written"):
            export_property(glades, tmp_path / "out", format=format_name)
    assert _before(tmp_path) == before


def test_an_export_may_run_while_the_property_is_open_and_changed(glades, tmp_path):
    """Another connection in the same process keeps its locks and its half-made change, which is not exported."""
    with connected(glades) as base:
        with changing(base, "half") as pen:
            add_plot(pen, Plot("Not Yet", _box(0.05, 0.05, 0.001)), day="2026-04-01")
            for format_name in ("geojson", "gpkg"):
                export_property(glades, tmp_path / format_name, format=format_name)
        assert faults_in(base) == []
        assert len(plots_in(base)) == 3
    assert len(read_plots(tmp_path / "geojson" / "plots.geojson")) == 2
    assert len(read_plots(tmp_path / "gpkg" / "glades.gpkg", layer="plots")) == 2


def test_a_folder_without_write_permission_gives_a_sentence(glades, tmp_path, monkeypatch):
    """Where nothing may be written, one sentence of ours comes out."""

    def refuse(*_: Any, **__: Any) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "mkdir", refuse)
    with pytest.raises(GladebookError, match=r"^out: cannot be written \(Permission denied\), and nothing"):
        export_property(glades, tmp_path / "out", format="kml")


def _polygon_record(data: bytes) -> list[Any]:
    """The rings of the first shape of a .shp, by the technical description of 1998, page 8 and after."""
    parts, points = (int.from_bytes(data[100 + 8 + at : 100 + 8 + at + 4], "little") for at in (36, 40))
    starts = np.frombuffer(data, "<i4", parts, 100 + 8 + 44)
    return np.split(np.frombuffer(data, "<f8", 2 * points, 100 + 8 + 44 + 4 * parts).reshape(-1, 2), starts[1:])


def test_a_shapefile_keeps_to_its_description(glades, tmp_path):
    """Outer rings run clockwise and holes the other way, lengths agree, and letters and system are stated."""
    export_property(glades, tmp_path / "out", format="shapefile")
    files = _contents(tmp_path / "out")
    shp, dbf = files["plots.zip/plots.shp"], files["plots.zip/plots.dbf"]
    assert int.from_bytes(shp[:4], "big") == 9994
    assert 2 * int.from_bytes(shp[24:28], "big") == len(shp)
    turns = [shapely.LinearRing(ring).is_ccw for ring in _polygon_record(shp)]
    assert turns == [False, True, True]
    assert len(dbf) == int.from_bytes(dbf[8:10], "little") + 2 * int.from_bytes(dbf[10:12], "little") + 1
    assert files["plots.zip/plots.cpg"] == b"UTF-8"
    assert b"GCS_WGS_1984" in files["plots.zip/plots.prj"]
