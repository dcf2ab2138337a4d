"""A property file is a GeoPackage: by the numbered requirements of the standard, and as GDAL reads and edits it.

Requirements are those of "OGC GeoPackage Encoding Standard" 1.3, OGC 12-128r17: numbers and texts as in the files
`spec/core/1_base.adoc`, `2a_features`, `2e_extensions-mechanism`, `2f_attributes` and
`annexes/extension_spatialindex.adoc` of the standard's public repository (opengeospatial/geopackage).
"""

import json
import os
import re
import sqlite3
import struct
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pyogrio
import pytest
import shapely

from gladebook.errors import PropertyError
from gladebook.io.property.blobs import bounds_of, pack, unpack
from gladebook.io.property.change import changing, steps_of, undo_last
from gladebook.io.property.check import faults_in
from gladebook.io.property.open import connected, copy_into, new_property
from gladebook.io.property.schema import TABLES
from gladebook.io.property.store import (
    add_kept,
    add_mark,
    edits_in,
    kept_in,
    plots_in,
    redraw_plot,
    rename_plot,
    strips_in,
)
from tests.io.property.season import CHANGES, crooked

_ROOT = Path(__file__).parents[3]
_ELSEWHERE = "MULTIPOLYGON (((-83.1 31.1, -83.0999 31.1, -83.0999 31.1001, -83.1 31.1)))"
# Table of data types in clause 1.1.1.1.3; those of shapes that are used here.
_TYPES = {"BOOLEAN", "TINYINT", "SMALLINT", "MEDIUMINT", "INT", "INTEGER", "FLOAT", "DOUBLE", "REAL", "TEXT", "BLOB"}
_TYPES |= {"DATE", "DATETIME", "MULTIPOLYGON", "MULTILINESTRING"}
# Columns, types, whether NOT NULL, and place in the primary key; tables of clauses 1.1.2.1.1, 1.1.3.1.1, 2.1.5.1.1
# and 2.3.2.1.1. SQLite gives `srs_id INTEGER PRIMARY KEY` without its own NOT NULL as nullable, though it is not.
_STANDARD = {
    "gpkg_spatial_ref_sys": (
        "srs_name TEXT 1 0, srs_id INTEGER 0 1, organization TEXT 1 0, organization_coordsys_id INTEGER 1 0, "
        "definition TEXT 1 0, description TEXT 0 0"
    ),
    "gpkg_contents": (
        "table_name TEXT 1 1, data_type TEXT 1 0, identifier TEXT 0 0, description TEXT 0 0, last_change DATETIME 1 0, "
        "min_x DOUBLE 0 0, min_y DOUBLE 0 0, max_x DOUBLE 0 0, max_y DOUBLE 0 0, srs_id INTEGER 0 0"
    ),
    "gpkg_geometry_columns": (
        "table_name TEXT 1 1, column_name TEXT 1 2, geometry_type_name TEXT 1 0, srs_id INTEGER 1 0, z TINYINT 1 0, "
        "m TINYINT 1 0"
    ),
    "gpkg_extensions": (
        "table_name TEXT 0 0, column_name TEXT 0 0, extension_name TEXT 1 0, definition TEXT 1 0, scope TEXT 1 0"
    ),
}
# Annex F.3, "Define Triggers to Maintain Spatial Index Values", as in 1.3: update1 to update4.
_PUT = (
    "INSERT OR REPLACE INTO rtree_<t>_<c> VALUES (NEW.<i>, ST_MinX(NEW.<c>), ST_MaxX(NEW.<c>), ST_MinY(NEW.<c>), "
    "ST_MaxY(NEW.<c>));"
)
_TRIGGERS = {
    "insert": f"AFTER INSERT ON <t> WHEN (NEW.<c> NOTNULL AND NOT ST_IsEmpty(NEW.<c>)) BEGIN {_PUT} END",
    "update1": (
        "AFTER UPDATE OF <c> ON <t> WHEN OLD.<i> = NEW.<i> AND (NEW.<c> NOTNULL AND NOT ST_IsEmpty(NEW.<c>)) "
        f"BEGIN {_PUT} END"
    ),
    "update2": (
        "AFTER UPDATE OF <c> ON <t> WHEN OLD.<i> = NEW.<i> AND (NEW.<c> ISNULL OR ST_IsEmpty(NEW.<c>)) "
        "BEGIN DELETE FROM rtree_<t>_<c> WHERE id = OLD.<i>; END"
    ),
    "update3": (
        "AFTER UPDATE ON <t> WHEN OLD.<i> != NEW.<i> AND (NEW.<c> NOTNULL AND NOT ST_IsEmpty(NEW.<c>)) "  # noqa: S608 - a template
        "BEGIN DELETE FROM rtree_<t>_<c> WHERE id = OLD.<i>; " + _PUT + " END"
    ),
    "update4": (
        "AFTER UPDATE ON <t> WHEN OLD.<i> != NEW.<i> AND (NEW.<c> ISNULL OR ST_IsEmpty(NEW.<c>)) "
        "BEGIN DELETE FROM rtree_<t>_<c> WHERE id IN (OLD.<i>, NEW.<i>); END"
    ),
    "delete": "AFTER DELETE ON <t> WHEN OLD.<c> NOTNULL BEGIN DELETE FROM rtree_<t>_<c> WHERE id = OLD.<i>; END",
}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A property with something in each kind of table."""
    found = tmp_path / "glade.gpkg"
    new_property(found, name="Hollow Creek")
    with connected(found) as base:
        for name in ("add", "add", "save", "redraw", "rename"):
            CHANGES[name].make(base, found)
        with changing(base, "a pond and a sprayer") as pen:
            add_mark(pen, name="pond", kind="obstacle", shape=crooked(2, size_deg=1e-4))
            add_kept(pen, "sprayers", name="cart", content={"width_m": 6.1})
    return found


@pytest.fixture
def plain(path: Path) -> Iterator[sqlite3.Connection]:
    """The file as any program sees it that knows nothing of ours."""
    with closing(sqlite3.connect(path, isolation_level=None)) as base:
        yield base


def _columns(base: sqlite3.Connection, table: str) -> list[tuple[Any, ...]]:
    return base.execute(f"PRAGMA table_info({table})").fetchall()


def _pairs(base: sqlite3.Connection, sql: str) -> set[Any]:
    return {row[0] if len(row) == 1 else row for row in base.execute(sql).fetchall()}


def test_the_container_is_one(path, plain):
    """Requirements 1, 2, 3, 6, 7: SQLite 3, "GPKG", 1.3, the ending, integrity and foreign keys."""
    code = "import sys; sys.stdout.buffer.write(open(sys.argv[1], 'rb').read(100))"
    head = subprocess.run([sys.executable, "-c", code, str(path)], check=True, capture_output=True).stdout
    assert head[:16] == b"SQLite format 3\0"  # 1
    assert head[68:72] == b"GPKG"  # 2: application_id, at byte 68 of the header
    assert struct.unpack(">i", head[60:64]) == (10300,)  # 2: user_version; 0x283C for 1.3.0
    assert plain.execute("PRAGMA application_id").fetchone() == (0x47504B47,)  # 2
    assert path.suffix == ".gpkg"  # 3
    assert plain.execute("PRAGMA integrity_check").fetchall() == [("ok",)]  # 6
    assert plain.execute("PRAGMA foreign_key_check").fetchall() == []  # 7


def test_columns_are_of_the_standard_types(plain):
    """Requirement 5: every column of every table that is announced has one of the types of the standard."""
    tables = _pairs(plain, "SELECT table_name FROM gpkg_contents UNION SELECT table_name FROM gpkg_extensions")
    for table in {*tables, *_STANDARD}:
        assert {column[2] for column in _columns(plain, table)} <= _TYPES, table  # 5


def test_the_standard_tables_are_those_of_the_standard(plain):
    """Requirements 10, 13, 21, 58: columns, types, NOT NULL and keys; names in lower case (clause 1)."""
    for table, columns in _STANDARD.items():
        there = ", ".join(f"{name} {kind} {no} {key}" for _, name, kind, no, _, key in _columns(plain, table))
        assert there == columns  # 10, 13, 21, 58
    foreign = {t: {r[2:5] for r in plain.execute(f"PRAGMA foreign_key_list({t})")} for t in _STANDARD}
    srs = ("gpkg_spatial_ref_sys", "srs_id", "srs_id")
    assert foreign["gpkg_contents"] == {srs}  # 13
    assert foreign["gpkg_geometry_columns"] == {srs, ("gpkg_contents", "table_name", "table_name")}  # 21
    assert _pairs(plain, "SELECT name FROM sqlite_master WHERE name != lower(name)") == set()
    (default,) = [c[4] for c in _columns(plain, "gpkg_contents") if c[1] == "last_change"]
    assert default == "strftime('%Y-%m-%dT%H:%M:%fZ','now')"  # 13


def test_coordinate_systems_are_there(plain):
    """Requirements 11, 12, 16, 26: the three systems, and those of all tables among them."""
    rows = _pairs(
        plain, "SELECT srs_id, upper(organization), organization_coordsys_id, definition FROM gpkg_spatial_ref_sys"
    )
    assert {(-1, "NONE", -1, "undefined"), (0, "NONE", 0, "undefined")} < rows  # 11
    (wgs84,) = (definition for srs, name, code, definition in rows if (srs, name, code) == (4326, "EPSG", 4326))
    pyproj = pytest.importorskip("pyproj")
    assert pyproj.CRS.from_wkt(wgs84) == pyproj.CRS.from_epsg(4326) or pyproj.CRS.from_wkt(wgs84).to_epsg() == 4326
    used = _pairs(
        plain, "SELECT srs_id FROM gpkg_contents WHERE srs_id NOTNULL UNION SELECT srs_id FROM gpkg_geometry_columns"
    )
    assert used <= {row[0] for row in rows}  # 12, 16, 26


def test_contents_name_every_table_of_data(plain):
    """Requirements 14, 15, 18, 118: each table is listed with its kind and the moment of its last change."""
    contents = dict(plain.execute("SELECT table_name, data_type FROM gpkg_contents").fetchall())
    assert set(contents) <= _pairs(plain, "SELECT name FROM sqlite_master WHERE type IN ('table', 'view')")  # 14
    assert contents == {t.name: "features" if t.shapes else "attributes" for t in TABLES}  # 18, 118
    moments = _pairs(plain, "SELECT last_change FROM gpkg_contents")
    assert all(re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d+Z", m) for m in moments)  # 15


def test_only_what_was_changed_has_a_new_moment(path, plain):
    """Requirement 15, "last change to content": a change of one table leaves the moments of the others."""
    sql = "SELECT table_name, last_change FROM gpkg_contents"
    before = dict(plain.execute(sql).fetchall())
    with connected(path) as base, changing(base, "x") as pen:
        add_kept(pen, "mixes", name="x", content={})
    after = dict(plain.execute(sql).fetchall())
    assert {t for t in before if before[t] != after[t]} == {"mixes"}


def test_shapes_are_geopackage_shapes(plain):
    """Requirements 19, 20, 32, 33, 148, 149: the header, kinds, systems, and extents that hold all shapes."""
    for table, kind in plain.execute("SELECT table_name, geometry_type_name FROM gpkg_geometry_columns").fetchall():
        extent = plain.execute(
            "SELECT min_x, min_y, max_x, max_y FROM gpkg_contents WHERE table_name = ?", (table,)
        ).fetchone()
        blobs = [row[0] for row in plain.execute(f"SELECT geom FROM {table}").fetchall()]  # noqa: S608 - names of tables of ours
        assert blobs, table
        for blob in blobs:
            magic, version, flags, srs = struct.unpack_from("<2sBBi", blob)
            assert (magic, version, srs) == (b"GP", 0, 4326)  # 19, 33
            assert flags == 0b0000_0011  # 19: standard, not empty, envelope of x and y, little-endian
            west, east, south, north = struct.unpack_from("<4d", blob, 8)
            shape = shapely.from_wkb(blob[40:])
            assert shape.bounds == (west, south, east, north)
            assert shape.geom_type.upper() == kind  # 20, 32
            assert not shapely.has_z(shape)  # gpkg_geometry_columns says z = 0
            assert extent[0] <= west <= east <= extent[2]  # 148
            assert extent[1] <= south <= north <= extent[3]  # 148
    empty = pack(shapely.MultiPolygon())
    assert empty[3] == 0b0001_0001  # 149: empty, no envelope
    assert bounds_of(empty) is None
    assert unpack(empty).is_empty


def test_columns_of_shapes_are_listed(plain):
    """Requirements 22 to 25, 27 to 31, 119: one column of shapes a table, its declared type, and an integer key."""
    rows = plain.execute(
        "SELECT table_name, column_name, geometry_type_name, z, m FROM gpkg_geometry_columns"
    ).fetchall()
    contents = dict(plain.execute("SELECT table_name, data_type FROM gpkg_contents").fetchall())
    assert {r[0] for r in rows} == {t for t, kind in contents.items() if kind == "features"}  # 22, 23
    for table, column, kind, z, m in rows:
        columns = {c[1]: c[2] for c in _columns(plain, table)}
        assert column in columns  # 24
        assert kind in {"MULTIPOLYGON", "MULTILINESTRING"}  # 25
        assert (z, m) == (0, 0)  # 27, 28
        assert [c for c, declared in columns.items() if declared in {"MULTIPOLYGON", "MULTILINESTRING"}] == [
            column
        ]  # 30
        assert columns[column] == kind  # 31
    for table in contents:
        assert [c[1:3] for c in _columns(plain, table) if c[5]] == [("id", "INTEGER")]  # 29, 119


def test_extensions_are_announced(plain):
    """Requirements 59 to 64, 75, 76: every table and index that is not of the core is listed, with its scope."""
    rows = plain.execute(
        "SELECT table_name, column_name, extension_name, definition, scope FROM gpkg_extensions"
    ).fetchall()
    tables = _pairs(plain, "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
    known = {t for t in tables if t.startswith(("gpkg_", "rtree_"))} | _pairs(
        plain, "SELECT table_name FROM gpkg_contents"
    )
    assert tables - known == {r[0] for r in rows if r[2] == "gladebook_property"}  # 59, 60
    for table, column, name, definition, scope in rows:
        assert column is None or column in {c[1] for c in _columns(plain, table)}  # 61
        assert re.fullmatch(r"[a-zA-Z0-9]+_[a-zA-Z0-9_]+", name)  # 62
        assert definition  # 63
        assert scope in {"read-write", "write-only"}  # 64
    indexed = {(r[0], r[1]) for r in rows if r[2] == "gpkg_rtree_index" and r[4] == "write-only"}
    assert indexed == _pairs(plain, "SELECT table_name, column_name FROM gpkg_geometry_columns")  # 75, 76


def test_indexes_are_built_and_kept_as_the_standard_says(plain):
    """Requirement 77: the index of each column of shapes and its triggers are the standard's, word by word."""
    made = dict(plain.execute("SELECT name, sql FROM sqlite_master WHERE sql NOTNULL").fetchall())
    for table, column in _pairs(plain, "SELECT table_name, column_name FROM gpkg_geometry_columns"):
        tree = f"rtree_{table}_{column}"
        assert made[tree] == f"CREATE VIRTUAL TABLE {tree} USING rtree(id, minx, maxx, miny, maxy)"  # 77
        there = {n.removeprefix(f"{tree}_"): s for n, s in made.items() if s.startswith(f"CREATE TRIGGER {tree}_")}
        assert there.keys() == _TRIGGERS.keys()  # 77
        for name, template in _TRIGGERS.items():
            sql = template.replace("<t>", table).replace("<c>", column).replace("<i>", "id")
            assert there[name] == f"CREATE TRIGGER {tree}_{name} {sql}"  # 77


def _gdal(code: str, *arguments: object) -> Any:
    """What GDAL finds, in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", f"import json, sys, pyogrio\n{code}", *map(str, arguments)],
        check=False,
        capture_output=True,
        text=True,
    )
    assert (done.returncode, done.stderr) == (0, ""), done.stderr
    return json.loads(done.stdout)


_READ = """
found = {}
for layer, kind in pyogrio.list_layers(sys.argv[1]).tolist():
    meta, _, shapes, columns = pyogrio.raw.read(sys.argv[1], layer=layer)
    found[layer] = [kind, meta["crs"], meta["fields"].tolist(), [bytes(s).hex() for s in shapes] if kind else
                    len(columns[0])]
print(json.dumps(found))
"""


@pytest.mark.parametrize("copied", [False, True])
def test_gdal_reads_every_layer_and_the_very_same_shapes(path, copied):
    """GDAL finds all tables, their rows, fields and shapes, in the file and in a copy of it, and warns of nothing."""
    if copied:
        with connected(path, write=False) as base:
            copy_into(base, path.with_name("copy.gpkg"))
        path = path.with_name("copy.gpkg")
    found = _gdal(_READ, path)
    assert set(found) == {t.name for t in TABLES}
    with connected(path, write=False) as base:
        for table in TABLES:
            kind, crs, fields, there = found[table.name]
            assert fields == [name for name in table.names if name != "geom"]
            if not table.shapes:
                assert there == base.execute(f"SELECT count(*) FROM {table.name}").fetchone()[0]  # noqa: S608 - names of tables of ours
                continue
            assert (kind.upper().replace(" ", ""), crs) == (table.shapes, "EPSG:4326")
            ours = [unpack(row[0]) for row in base.execute(f"SELECT geom FROM {table.name} ORDER BY id").fetchall()]  # noqa: S608 - names of tables of ours
            theirs = shapely.from_wkb([bytes.fromhex(text) for text in there])
            assert len(ours) == len(theirs) > 0
            assert shapely.equals_identical(ours, theirs).all()


def test_gdal_finds_plots_by_the_spatial_index(path):
    """A box of GDAL's takes the plots that it touches: the index answers as the shapes do."""
    with connected(path, write=False) as base:
        plots = plots_in(base)
    code = (
        "print(json.dumps(pyogrio.raw.read(sys.argv[1], layer='plots', bbox=tuple(json.loads(sys.argv[2])), "
        "columns=['name'])[3][0].tolist()))"
    )
    assert _gdal(code, path, json.dumps(plots[0].shape.bounds)) == [plots[0].name]


def _edit(path: Path, *words: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tests.io.property.gdal_edit", str(path), *words],
        cwd=_ROOT,
        env={**os.environ, "PYTHONPATH": str(_ROOT)},
        check=False,
        capture_output=True,
        text=True,
    )
    if "no GDAL beside pyogrio" in done.stderr:
        pytest.skip("skipped: no GDAL library beside pyogrio to call")
    assert (done.stdout, done.stderr) == ("0 0\n", "")


def test_edits_of_another_program_are_noticed_and_not_trampled(path):
    """A plot that GDAL redrew is noted; undo of our change of it is refused and changes nothing."""
    _edit(path, "edit", _ELSEWHERE)
    with connected(path) as base:
        assert [(table, what, count) for _, table, what, count in edits_in(base)] == [("plots", "changed", 1)]
        plot = plots_in(base)[0]
        assert shapely.equals_identical(plot.shape, shapely.from_wkt(_ELSEWHERE))
        assert undo_last(base, path=path).words == "a pond and a sprayer", "what it did not touch is undone"
        assert undo_last(base, path=path).words.endswith("was renamed"), "it renamed the other plot"
        for _ in range(2):
            with pytest.raises(PropertyError, match=r"another program has changed its plots since\. Nothing"):
                undo_last(base, path=path)
        assert shapely.equals_identical(plots_in(base)[0].shape, shapely.from_wkt(_ELSEWHERE))
        assert [s.undone for s in steps_of(base)] == [False] * 4 + [True] * 2
        assert faults_in(base) == []
        with changing(base, "drawn by hand") as pen:
            redraw_plot(pen, plot, shape=crooked(5), day="2026-07-01")
        assert undo_last(base, path=path).words == "drawn by hand"
        assert shapely.equals_identical(plots_in(base)[0].shape, shapely.from_wkt(_ELSEWHERE))


def test_a_plot_that_another_program_adds_is_one_of_ours(path):
    """A plot that GDAL added has an id, is noted once, can be renamed, redrawn and undone; its row stays GDAL's."""
    _edit(path, "add", _ELSEWHERE)
    with connected(path) as base:
        assert [(table, what, count) for _, table, what, count in edits_in(base)] == [("plots", "added", 1)]
        plot = plots_in(base)[2]
        assert (plot.name, len(plot.uid)) == ("from a map program", 32)
        with changing(base, "named") as pen:
            rename_plot(pen, plot, name="South Corner")
        assert undo_last(base, path=path).words == "named"
        assert undo_last(base, path=path).words == "a pond and a sprayer"
        assert kept_in(base, "sprayers") == []
        assert plots_in(base)[2] == plot
        assert len(edits_in(base)) == 1, "our own changes are no edits of others"
        assert faults_in(base) == []


def test_a_plot_that_another_program_removes_is_noticed(path):
    """A plot that GDAL removed is noted; our changes of it are neither undone nor made, in a sentence."""
    with connected(path, write=False) as base:
        plot = plots_in(base)[0]
    _edit(path, "delete")
    with connected(path) as base:
        assert [(table, what, count) for _, table, what, count in edits_in(base)] == [("plots", "removed", 1)]
        before = steps_of(base)
        with pytest.raises(PropertyError, match="no longer there"), changing(base, "x") as pen:
            redraw_plot(pen, plot, shape=crooked(5), day="2026-07-01")
        assert steps_of(base) == before
        assert len(strips_in(base)) == 3
        assert faults_in(base) == []


def test_a_row_never_loses_its_id(path):
    """Where another program empties the column of ids of a row, the row keeps the one it had."""
    with connected(path) as base:
        uid = plots_in(base)[0].uid
        base.execute("UPDATE plots SET uid = NULL, name = 'emptied' WHERE id = 1")
        assert (plots_in(base)[0].uid, plots_in(base)[0].name) == (uid, "emptied")
        assert [(table, what, count) for _, table, what, count in edits_in(base)] == [("plots", "changed", 1)]


def test_pyogrio_has_a_gdal_that_writes_geopackages():
    """The other program of these tests is GDAL, with its driver for GeoPackages."""
    assert "w" in pyogrio.list_drivers()["GPKG"]
