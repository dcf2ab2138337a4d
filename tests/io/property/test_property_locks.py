"""A property file is opened by SQLite alone: any other open in the same process would drop its locks."""

import json
import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path
from typing import Any

import pyogrio
import pytest
import shapely

from gladebook.errors import PropertyError
from gladebook.io.property import open as opening
from gladebook.io.property.open import connected, copy_into, is_property, new_property

_ROOT = Path(__file__).parents[3]


def _watched(folder: Path, *planted: str) -> dict[str, tuple[int, list[str], int, str]]:
    """For each command: exit code, offences, connections of SQLite to the file, the end of what it printed."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.io.property.watch", str(folder), *planted],
        cwd=_ROOT,
        env={**os.environ, "PYTHONPATH": f"{_ROOT / 'src'}{os.pathsep}{_ROOT}"},
        check=False,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return {name: tuple(answer) for name, answer in found.items()}


def test_every_command_opens_a_property_file_through_sqlite_alone(tmp_path):
    """No command opens, copies, moves or removes the file otherwise, and SQLite's locks on it outlive each."""
    found = _watched(tmp_path)
    assert {name: offences for name, (_, offences, _, _) in found.items() if offences} == {}
    over = ("--out over it", "new over it")
    assert {name: said for name, (code, _, _, said) in found.items() if code and name not in over} == {}
    assert all(found[name][0] == 3 for name in over), "an answer is never written over a property"
    assert [name for name, (_, _, connects, _) in found.items() if not connects and name not in over] == []


@pytest.mark.skipif(not Path("/proc/locks").exists(), reason="skipped: this system does not show its locks")
def test_the_watch_catches_every_other_way_of_opening_it(tmp_path):
    """Each planted open is caught: by Python's own account of it, in C by the locks that it drops."""
    found = _watched(tmp_path, "planted")
    assert {name for name, (_, offences, _, _) in found.items() if not offences} == set()
    assert all("lock lost: .gpkg" in found[name][1] for name in ("open", "shutil.copyfile", "zipfile", "pyogrio"))


def test_only_a_property_is_told_to_be_one(tmp_path):
    """A plain GeoPackage, a copy under another ending, text, an empty file, a folder and nothing are none."""
    new_property(tmp_path / "home.gpkg", name="Hollow Creek")
    with connected(tmp_path / "home.gpkg", write=False) as base:
        copy_into(base, tmp_path / "copy.gpkg")
        copy_into(base, tmp_path / "copy.db")
    pyogrio.write_dataframe(_frame(), tmp_path / "plain.gpkg", driver="GPKG")
    (tmp_path / "text.gpkg").write_text("not a database " * 50)
    (tmp_path / "empty.gpkg").touch()
    (tmp_path / "folder.gpkg").mkdir()
    names = ("home", "copy", "plain", "text", "empty", "folder", "none")
    assert [name for name in names if is_property(tmp_path / f"{name}.gpkg")] == ["home", "copy"]
    assert is_property(str(tmp_path / "home.gpkg"))
    assert not is_property(tmp_path / "copy.db")
    assert not is_property(tmp_path / ("x" * 300 + ".gpkg"))
    assert not is_property("nothing\0here.gpkg")


def _frame() -> Any:
    import geopandas

    return geopandas.GeoDataFrame({"name": ["a"]}, geometry=[shapely.box(0, 0, 1, 1)], crs=4326)


def test_a_plain_geopackage_that_keeps_a_log_is_left_as_it_is(tmp_path):
    """Asking whether another program's file is a property leaves nothing beside it, nor changes how it is kept."""
    path = tmp_path / "plain.gpkg"
    with closing(sqlite3.connect(path)) as base:
        base.execute("PRAGMA journal_mode = WAL")
        base.execute("CREATE TABLE t (a)")
    assert not is_property(path)
    assert [p.name for p in tmp_path.iterdir()] == [path.name]


def test_a_file_that_cannot_be_asked_is_told_and_not_taken_for_another(tmp_path, monkeypatch):
    """Where another program holds the file whole, nobody says that it is no property."""
    path = tmp_path / "home.gpkg"
    new_property(path, name="Hollow Creek")
    monkeypatch.setattr(opening, "_WAIT_S", 0.1)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("PRAGMA locking_mode = EXCLUSIVE")
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(PropertyError, match="another program has held it"):
            is_property(path)
        other.execute("ROLLBACK")
    assert is_property(path)
