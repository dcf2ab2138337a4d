"""An older file is brought to today's version, with a backup, and nothing in it is lost."""

import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
import shapely

from gladebook.errors import PropertyError
from gladebook.io.property import open as opening
from gladebook.io.property.blobs import add_functions
from gladebook.io.property.change import steps_of, undo_last
from gladebook.io.property.check import faults_in
from gladebook.io.property.open import connected, is_property, new_property
from gladebook.io.property.schema import VERSION, schema_version
from gladebook.io.property.store import (
    applications_in,
    boundaries_of,
    edits_in,
    name_in,
    plots_in,
    strips_in,
    tracks_of,
)
from tests.io.property.version_1 import APPLICATION, PLOTS, make_version_1


@pytest.fixture
def old(tmp_path: Path) -> Path:
    path = tmp_path / "old.gpkg"
    make_version_1(path)
    return path


def _version(path: Path) -> int | None:
    with closing(sqlite3.connect(path)) as base:
        return schema_version(base)


def _hash_elsewhere(path: Path) -> str:
    """The file's hash, taken in another process, as this one must not open it."""
    code = "import hashlib, sys; print(hashlib.sha256(open(sys.argv[1], 'rb').read()).hexdigest())"
    return subprocess.run([sys.executable, "-c", code, str(path)], check=True, capture_output=True, text=True).stdout


def _tables(path: Path) -> dict[str, list[str]]:
    """Columns and constraints of each table and trigger of a file, as SQL."""
    with closing(sqlite3.connect(path)) as base:
        rows = base.execute("SELECT type, name, sql FROM sqlite_master WHERE sql NOTNULL").fetchall()
    return {f"{kind} {name}": " ".join(sql.split()).replace(" ;", ";").split() for kind, name, sql in rows}


def _all_kept(path: Path, *, write: bool) -> None:
    with connected(path, write=write) as base:
        assert name_in(base) == "Hollow Creek"
        plots = {p.uid: p for p in plots_in(base)}
        assert list(plots) == list(PLOTS)
        for uid, (name, text, since) in PLOTS.items():
            assert (plots[uid].name, plots[uid].since) == (name, since)
            assert shapely.equals_identical(plots[uid].shape, shapely.multipolygons([shapely.from_wkt(text)]))
        assert [b.until for b in boundaries_of(base, "a" * 32)] == ["2026-03-01", None]
        assert [a.answer for a in applications_in(base)] == [{"missed_m2": 4.25}]
        assert [(s.state, s.area_m2, s.verdict) for s in strips_in(base)] == [("go look", 4.25, {"chance": 0.75})]
        (track,) = tracks_of(base, APPLICATION)
        assert track.lon_deg.tolist() == [-83.44, -83.4399]
        assert track.sections is not None
        assert track.sections.tolist() == [[1, 0], [0, -1]]
        assert len(steps_of(base)) == 4
        assert edits_in(base) == []
        assert faults_in(base) == []


def test_an_older_file_is_brought_up_with_a_backup_beside_it(old):
    """Opened to be changed, a file of version 1 becomes today's, with all it holds; the backup is as it was."""
    assert _version(old) == 1
    _all_kept(old, write=True)
    assert _version(old) == VERSION
    backup = old.with_name(f"old-before-version-{VERSION}.gpkg")
    assert sorted(p.name for p in old.parent.iterdir()) == sorted([old.name, backup.name])
    assert _version(backup) == 1
    _all_kept(old, write=True)
    assert sorted(p.name for p in old.parent.iterdir()) == sorted([old.name, backup.name]), "no second backup"
    _all_kept(backup, write=False)


def test_an_older_file_that_is_only_read_stays_as_it_is(old):
    """Read without leave to change, all is found; the file's bytes are the same, and no file comes beside it."""
    before = _hash_elsewhere(old)
    _all_kept(old, write=False)
    assert is_property(old)
    assert _hash_elsewhere(old) == before
    assert [p.name for p in old.parent.iterdir()] == [old.name]


def test_undo_goes_back_through_changes_of_the_older_version(old):
    """What version 1 did is undone after the migration, to the plots as they were first."""
    with connected(old) as base:
        assert undo_last(base, path=old).words == "first was saved"
        assert not applications_in(base)
        assert not strips_in(base)
        assert undo_last(base, path=old).words.endswith("was added")
        assert undo_last(base, path=old).words == "North Glade was redrawn"
        (plot,) = plots_in(base)
        assert plot.since == "2026-01-01"
        assert plot.shape.bounds[3] == 31.2019
        assert len(boundaries_of(base, plot.uid)) == 1
        assert undo_last(base, path=old).words == "North Glade was added"
        assert plots_in(base) == []
        assert faults_in(base) == []


def test_a_migrated_file_has_the_tables_of_a_new_one(old, tmp_path):
    """Tables, triggers and indexes of a migrated file are those of a new file, but for the standard's own wording."""
    with connected(old):
        pass
    new_property(tmp_path / "new.gpkg", name="x")
    ours, theirs = _tables(old), _tables(tmp_path / "new.gpkg")
    assert ours.keys() == theirs.keys()
    assert [name for name in ours if "gladebook_" in name and ours[name] != theirs[name]] == []


def test_a_row_that_had_no_id_gets_one(old):
    """A plot that another program added to the older file, without an id of ours, has one afterwards."""
    with closing(sqlite3.connect(old, isolation_level=None)) as base:
        add_functions(base)
        base.execute("INSERT INTO plots (name) VALUES ('from elsewhere')")
    with connected(old) as base:
        assert base.execute("SELECT length(uid) FROM plots WHERE name = 'from elsewhere'").fetchone() == (32,)


def test_a_migration_that_fails_changes_nothing(old, monkeypatch):
    """An error half way leaves version 1 and all it holds; the backup is whole."""

    def half(base: sqlite3.Connection) -> None:
        base.execute("DELETE FROM plots")
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr(opening, "migrate", half)
    with pytest.raises(PropertyError, match="the disk is full"), connected(old):
        pass
    monkeypatch.undo()
    assert _version(old) == 1
    _all_kept(old, write=True)


def test_two_processes_may_bring_up_a_file_at_once(old):
    """Three processes that open an old file at the same time all succeed, and one backup is made."""
    code = (
        "import sys; from gladebook.io.property.open import connected\n"
        "sys.stdin.readline()\n"
        "with connected(sys.argv[1]) as base: print(base.execute('SELECT version FROM gladebook_schema').fetchone()[0])"
    )
    runs = [
        subprocess.Popen(
            [sys.executable, "-c", code, str(old)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        for _ in range(3)
    ]
    for run in runs:
        assert run.stdin is not None
        run.stdin.write("go\n")
        run.stdin.flush()
    assert [run.communicate(timeout=60)[0].strip() for run in runs] == [str(VERSION)] * 3
    assert len(list(old.parent.iterdir())) == 2
    _all_kept(old, write=True)
