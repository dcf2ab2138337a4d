"""What goes wrong around a file is told in one sentence that says what to do, and the file stays as it was."""

import os
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing, suppress
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from gladebook.errors import PropertyError
from gladebook.io.property import change
from gladebook.io.property import open as opening
from gladebook.io.property.change import changing, steps_of, undo_last
from gladebook.io.property.check import faults_in, mend_indexes
from gladebook.io.property.open import connected, copy_into, is_property, new_property
from gladebook.io.property.schema import VERSION
from gladebook.io.property.store import (
    add_plot,
    applications_in,
    boundaries_of,
    boundary_on,
    edits_in,
    marks_in,
    plots_in,
    plots_on,
    redraw_plot,
    rename_plot,
    strips_in,
    tracks_of,
)
from gladebook.plots.plot import Plot
from tests.io.property.season import CHANGES, crooked

_ROOT = Path(__file__).parents[3]
_NOBODY = 65534


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return _season_in(tmp_path)


def _season_in(folder: Path) -> Path:
    """A property with a season in it."""
    found = folder / "glade.gpkg"
    new_property(found, name="Hollow Creek")
    with connected(found) as base:
        for name in ("add", "add", "save", "redraw"):
            CHANGES[name].make(base, found)
    return found


def elsewhere(code: str, *arguments: object) -> str:
    """Run Python in another process, and give what it prints."""
    done = subprocess.run(
        [sys.executable, "-c", code, *map(str, arguments)],
        env={**os.environ, "PYTHONPATH": str(_ROOT / "src"), "PYTHONDONTWRITEBYTECODE": "1"},
        check=False,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def hash_of(path: Path) -> str:
    """Taken in another process: this one must not open the file but through SQLite."""
    return elsewhere("import hashlib, sys; print(hashlib.sha256(open(sys.argv[1], 'rb').read()).hexdigest())", path)


def _told(work: Callable[[], object], *words: str) -> None:
    """The work is refused in one line of whole sentences, the last of which says what to do."""
    with pytest.raises(PropertyError) as caught:
        work()
    _one_sentence(str(caught.value), *words)


def _one_sentence(text: str, *words: str) -> None:
    assert all(word in text for word in words), text
    last = text.rstrip(".").split(". ")[-1]
    asks = (
        "Call",
        "Make",
        "Change",
        "Close",
        "Install",
        "Name",
        "Ask",
        "Do it",
        "Choose",
        "Look",
        "See",
        "Check",
        "Move",
    )
    assert last.startswith(asks), text
    assert "\n" not in text
    assert "sqlite3" not in text


def _add(path: Path, *, name: str = "New Glade", corners: int = 17) -> None:
    with connected(path) as base, changing(base, f"{name} was added") as pen:
        add_plot(pen, Plot(name, crooked(30, corners=corners)), day="2026-05-02")


def _sound(path: Path, *, plots: int, steps: int) -> None:
    with connected(path, write=False) as base:
        assert faults_in(base) == []
        assert (len(plots_in(base)), len(steps_of(base))) == (plots, steps)
    assert not list(path.parent.glob(f"{path.name}-*"))


def test_a_full_disk_changes_nothing(path, monkeypatch):
    """Where a change does not fit on the disk, it is refused whole; with room made, it is done."""
    plain = sqlite3.connect

    def full(*arguments: Any, **options: Any) -> sqlite3.Connection:
        base: sqlite3.Connection = plain(*arguments, **options)
        pages = base.execute("PRAGMA page_count").fetchone()[0]
        base.execute(f"PRAGMA max_page_count = {pages + 1}")
        return base

    monkeypatch.setattr(sqlite3, "connect", full)
    _told(lambda: _add(path, corners=2000), "the disk is full", "Make room")
    _sound(path, plots=2, steps=4)
    monkeypatch.undo()
    _add(path, corners=2000)
    _sound(path, plots=3, steps=5)


def test_a_disk_that_refuses_to_write_changes_nothing(path):
    """Where the system lets no file grow further, a change and a new file are refused, and nothing is half there."""
    code = (
        "import resource, signal, sys\n"
        "from pathlib import Path\n"
        "from gladebook.errors import PropertyError\n"
        "from gladebook.io.property.open import connected, new_property, copy_into\n"
        "from gladebook.io.property.change import changing\n"
        "from gladebook.io.property.store import add_kept\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "path = Path(sys.argv[1])\n"
        "def change():\n"
        "    with connected(path) as base, changing(base, 'x') as pen:\n"
        "        add_kept(pen, 'records', name='x', content={'x': 'y' * 400_000})\n"
        "def backup():\n"
        "    with connected(path, write=False) as base: copy_into(base, path.with_name('copy.gpkg'))\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (150_000, 150_000))\n"
        "for work in (change, lambda: new_property(path.with_name('new.gpkg'), name='x'), backup):\n"
        "    try: work(); print('done')\n"
        "    except PropertyError as error: print(error)\n"
    )
    pytest.importorskip("resource")
    told = elsewhere(code, path).splitlines()
    assert len(told) == 3
    for text in told:
        assert "nothing was changed" in text
        assert text.split(". ")[-1].startswith(("Check the disk", "Make room")), text
    assert sorted(p.name for p in path.parent.iterdir()) == [path.name]
    _sound(path, plots=2, steps=4)


_TRY = (
    "import os, sys\n"
    "from pathlib import Path\n"
    "from gladebook.errors import PropertyError\n"
    "from gladebook.io.property.change import changing, undo_last\n"
    "from gladebook.io.property.open import connected, is_property, new_property\n"
    "from gladebook.io.property.store import add_kept, plots_in\n"
    "os.setgid(int(sys.argv[2])); os.setuid(int(sys.argv[2]))\n"
    "path = Path(sys.argv[1])\n"
    "def change():\n"
    "    with connected(path) as base, changing(base, 'x') as pen:\n"
    "        add_kept(pen, 'records', name='x', content={})\n"
    "def undo():\n"
    "    with connected(path) as base: undo_last(base, path=path)\n"
    "def read():\n"
    "    with connected(path, write=False) as base: print(is_property(path), len(plots_in(base)))\n"
    "for work in (read, change, undo):\n"
    "    try: work(); work is read or print('done')\n"
    "    except PropertyError as error: print(error)\n"
)


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="skipped: only root can become nobody")
@pytest.mark.parametrize(
    ("file_mode", "folder_mode"), [(0o444, 0o777), (0o444, 0o555), (0o666, 0o555)], ids=["file", "both", "folder"]
)
def test_what_may_not_be_written_is_read_and_nothing_comes_beside_it(file_mode, folder_mode):
    """A read-only file, or one in a folder without leave to write, is read as another user; a change is refused."""
    # pytest's own folders are closed to other users.
    with tempfile.TemporaryDirectory() as folder:
        path = _season_in(Path(folder))
        path.chmod(file_mode)
        path.parent.chmod(folder_mode)
        before = hash_of(path)
        read, *refused = elsewhere(_TRY, path, _NOBODY).splitlines()
        assert read == "True 2"
        assert len(refused) == 2
        for text in refused:
            _one_sentence(text, "glade.gpkg: ", "you")
        assert [p.name for p in path.parent.iterdir()] == [path.name]
        assert hash_of(path) == before


_CRASH = (
    "import os, signal, sys\n"
    "from gladebook.io.property.change import changing\n"
    "from gladebook.io.property.open import connected\n"
    "from gladebook.io.property.store import plots_in, remove_plot\n"
    "pid = os.fork()\n"
    "if not pid:\n"
    "    with connected(sys.argv[1]) as base:\n"
    "        with changing(base, 'x') as pen: remove_plot(pen, plots_in(base)[0], day='2026-06-01')\n"
    "        os.kill(os.getpid(), signal.SIGKILL)\n"
    "os.waitpid(pid, 0)\n"
)


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="skipped: only root can become nobody")
def test_after_a_crash_who_may_only_read_sees_what_was_done_or_is_told():
    """With the log of a killed process beside it, a file is read with all that was done; without its map, told."""
    with tempfile.TemporaryDirectory() as folder:
        path = _season_in(Path(folder))
        elsewhere(_CRASH, path)
        assert path.with_name(path.name + "-wal").exists()
        path.parent.chmod(0o555)
        assert elsewhere(_TRY, path, _NOBODY).splitlines()[0] == "True 1"
        path.with_name(path.name + "-shm").unlink()
        told = elsewhere(_TRY, path, _NOBODY).splitlines()
        assert len(told) == 3
        for text in told:
            _one_sentence(text, "glade.gpkg: ", "you")
        path.parent.chmod(0o755)
        with connected(path) as base:
            assert len(plots_in(base)) == 1


def test_a_file_that_is_only_read_leaves_nothing_beside_it(path):
    """Reading, asking whether it is a property, and an error while reading all leave the folder as it was."""
    before = hash_of(path)
    assert is_property(path)
    with connected(path, write=False) as base:
        assert len(plots_in(base)) == 2
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            base.execute("DELETE FROM plots")
    _break_off(path, write=False)
    assert [p.name for p in path.parent.iterdir()] == [path.name]
    assert hash_of(path) == before


@pytest.mark.parametrize("write", [True, False])
def test_an_error_while_a_file_is_open_closes_it(path, write):
    """Where the work with a file breaks off in the middle of its rows, the file is closed, and nothing is left."""
    _break_off(path, write=write)
    assert [p.name for p in path.parent.iterdir()] == [path.name]


def _break_off(path: Path, *, write: bool) -> None:
    def work() -> None:
        with connected(path, write=write) as base:
            for _ in base.execute("SELECT * FROM plots"):
                raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        work()


def test_a_change_that_breaks_off_is_not_there(path):
    """An error inside a change takes back all of it, and the file can be changed right after."""
    with connected(path) as base:
        with pytest.raises(ZeroDivisionError):
            _half(base)
        assert len(plots_in(base)) == 2
        with changing(base, "y") as pen:
            add_plot(pen, Plot("whole", crooked(31)), day="2026-05-02")
    _sound(path, plots=3, steps=5)


def _half(base: sqlite3.Connection) -> None:
    with changing(base, "x") as pen:
        add_plot(pen, Plot("half", crooked(31)), day="2026-05-02")
        raise ZeroDivisionError


def test_a_clock_that_jumps_back_loses_no_order(path, monkeypatch):
    """Changes are listed and undone in the order in which they were made, whatever the clock said."""
    moments = ("2026-05-01T00:00:00.000Z", "2019-01-01T00:00:00.000Z", "2031-01-01T00:00:00.000Z")
    for k, at in enumerate(moments):
        monkeypatch.setattr(change, "moment", partial(str, at))
        _add(path, name=f"Glade {k}")
    monkeypatch.undo()
    with connected(path) as base:
        assert [s.at for s in steps_of(base)][-3:] == list(moments)
        assert [undo_last(base, path=path).words for _ in moments] == [f"Glade {k} was added" for k in (2, 1, 0)]
    _sound(path, plots=2, steps=7)


def test_boundaries_dated_back_do_not_hold_before_they_began(path):
    """With days that jump back, a boundary never holds on a day before it began."""
    with connected(path) as base:
        plot = plots_in(base)[1]
        for day in ("2026-06-01", "2026-05-01"):
            with changing(base, "redrawn") as pen:
                redraw_plot(pen, plot, shape=crooked(9, corners=int(day[5:7]) + 5), day=day)
        assert [b.since for b in boundaries_of(base, plot.uid)] == ["2026-03-01", "2026-06-01", "2026-05-01"]
        for day, since in (("2026-04-15", "2026-03-01"), ("2026-07-01", "2026-05-01"), ("2026-01-01", "2026-03-01")):
            assert boundary_on(base, plot.uid, day=day).since == since
            assert {p.uid: p.since for p in plots_on(base, day=day)}[plot.uid] == since


def test_a_newer_file_is_refused_and_not_a_byte_of_it_changes(path):
    """A file of a later version is refused for reading and writing alike, and stays the same file."""
    with closing(sqlite3.connect(path, isolation_level=None)) as base:
        base.execute("UPDATE gladebook_schema SET version = ?", (VERSION + 1,))
    before = hash_of(path)
    for write in (True, False):
        _told(partial(_open, path, write=write), f"version {VERSION + 1}", "Install the newer one")
    assert is_property(path)
    assert hash_of(path) == before
    assert [p.name for p in path.parent.iterdir()] == [path.name]


def _open(path: Path, *, write: bool = True) -> None:
    with connected(path, write=write):
        pass


def test_what_is_no_property_is_refused_and_left(tmp_path):
    """Text, an empty file, a plain database, a folder and nothing at all are each refused in a sentence, unchanged."""
    text, empty, other, folder = (tmp_path / f"{n}.gpkg" for n in ("text", "empty", "other", "folder"))
    text.write_text("plots of last year\n" * 100)
    empty.touch()
    folder.mkdir()
    with closing(sqlite3.connect(other, isolation_level=None)) as base:
        base.execute("CREATE TABLE plots (name TEXT)")
    before = {p: hash_of(p) for p in (text, empty, other)}
    for write in (True, False):
        for found in (text, empty, other):
            _told(partial(_open, found, write=write), found.name, "no property file")
        _told(partial(_open, folder, write=write), "no such file")
        _told(partial(_open, tmp_path / "none.gpkg", write=write), "no such file", "property new none.gpkg")
    assert {p: hash_of(p) for p in before} == before
    assert sorted(tmp_path.iterdir()) == sorted([text, empty, other, folder])


@pytest.mark.parametrize("offset", range(0, 200_000, 8_321))
def test_a_damaged_file_is_told_and_never_escapes_as_another_error(path, offset):
    """With a stretch of the file spoiled, every way of reading it gives what it can or one sentence."""
    with connected(path) as base:
        CHANGES["save"].make(base, path)
    size = path.stat().st_size
    code = "import sys; f = open(sys.argv[1], 'r+b'); f.seek(int(sys.argv[2])); f.write(b'\\xa7' * 700)"
    elsewhere(code, path, 100 + offset * (size - 1000) // 200_000)
    try:
        with connected(path, write=False) as base:
            uids = [a.uid for a in _read(lambda: applications_in(base), [])]
            looks: tuple[Callable[..., Any], ...] = (plots_in, marks_in, strips_in, edits_in, steps_of)
            for look in looks:
                _read(partial(look, base), None)
            for uid in uids:
                _read(partial(tracks_of, base, uid), None)
            assert all(f.endswith((".", "--mend")) for f in faults_in(base))
    except PropertyError as error:
        assert "damaged" in str(error) or "no property file" in str(error), error  # noqa: PT017 - most have none
    with suppress(PropertyError), connected(path) as base:
        undo_last(base, path=path)
    assert is_property(path) in (True, False)


def _read(look: Callable[[], Any], otherwise: Any) -> Any:
    try:
        return look()
    except PropertyError as error:
        assert "\n" not in str(error)  # noqa: PT017 - most of these looks succeed
        return otherwise
    except sqlite3.DatabaseError:  # `connected` turns it into a sentence where nobody catches it
        return otherwise


def test_a_spoiled_index_is_told_and_mended(path):
    """A spatial index that lost an entry, or whose pages are spoiled, is found, and built anew from the shapes."""
    for spoil in (
        "DELETE FROM rtree_plots_geom WHERE id = 1",
        "UPDATE rtree_plots_geom_node SET data = x'00'",
        "DELETE FROM rtree_plots_geom_node",
    ):
        with closing(sqlite3.connect(path, isolation_level=None)) as base:
            base.execute(spoil)
        with connected(path) as base:
            assert any("plots: its spatial index" in f for f in faults_in(base)), spoil
            mend_indexes(base)
            assert faults_in(base) == []


def test_a_spoiled_shape_is_found_and_does_not_stop_the_search(path):
    """A row whose shape is no shape is named by its table and number; the other rows are still looked at."""
    with connected(path) as base:
        base.execute("UPDATE plots SET geom = x'47500001' WHERE id = 2")
        base.execute("UPDATE strips SET geom = NULL WHERE id = 1")
        faults = [f for f in faults_in(base) if "shape is bad" in f]
        assert [f.split(":")[0] for f in faults] == ["plots, row 2", "strips, row 1"]
        with pytest.raises(PropertyError, match="gladebook property check"):
            plots_in(base)
        mend_indexes(base)


def test_a_name_that_is_taken_is_refused_in_a_sentence(path):
    """Two plots cannot have one name, by adding nor by renaming; nothing is changed."""
    _told(lambda: _add(path, name=_names(path)[0]), "a plot of that name", "Choose another name")

    def rename() -> None:
        with connected(path) as base, changing(base, "x") as pen:
            rename_plot(pen, plots_in(base)[0], name=plots_in(base)[1].name)

    _told(rename, "a plot of that name", "Choose another name")
    _sound(path, plots=2, steps=4)


def _names(path: Path) -> list[str]:
    with connected(path, write=False) as base:
        return [p.name for p in plots_in(base)]


def test_a_new_file_is_never_put_over_another_nor_beside_an_old_log(tmp_path):
    """A name that is taken is refused; so is one beside which the log of an earlier file lies: SQLite would use it."""
    path = tmp_path / "glade.gpkg"
    new_property(path, name="x")
    before = hash_of(path)
    _told(lambda: new_property(path, name="y"), "such a file already", "Choose another name")
    with connected(path, write=False) as base:
        _told(lambda: copy_into(base, path), "such a file already", "Choose another name")
    _told(lambda: new_property(tmp_path / "glade.txt", name="y"), "ends in .gpkg")
    assert hash_of(path) == before
    path.unlink()
    left = tmp_path / "glade.gpkg-wal"
    left.write_bytes(b"a log of an earlier file")
    _told(lambda: new_property(path, name="y"), "is left of an earlier glade.gpkg", "Move it away")
    assert [p.name for p in tmp_path.iterdir()] == [left.name]


def test_a_file_that_another_program_holds_is_waited_for_and_then_told(path, monkeypatch):
    """While another program holds the file, a change waits; when that takes too long, it is told, and not made."""
    monkeypatch.setattr(opening, "_WAIT_S", 0.2)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        start_s = time.monotonic()
        _told(lambda: _add(path), "another program has held it", "Close that program")
        assert time.monotonic() - start_s > 0.15
        other.execute("ROLLBACK")
    _add(path)
    _sound(path, plots=3, steps=5)


def test_a_copy_that_lost_its_log_mode_gets_it_back(path):
    """A file copied whole by SQLite keeps no write-ahead log; the first change turns it on again."""
    copy = path.with_name("copy.gpkg")
    with connected(path, write=False) as base:
        copy_into(base, copy)
    with closing(sqlite3.connect(copy)) as base:
        assert base.execute("PRAGMA journal_mode").fetchone()[0] == "delete"
    with connected(copy) as base:
        assert base.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
    _sound(copy, plots=2, steps=4)
