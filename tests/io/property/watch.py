"""Commands run in one process that has a property file open, and what they do to it otherwise than through SQLite.

``python -m tests.io.property.watch FOLDER [planted]`` prints, as JSON, for each command its exit code and its
offences: opens of the file, or of what SQLite keeps beside it, that Python tells of (`sys.addaudithook`), and locks
of SQLite's that are gone afterwards, as any open and close within the process drops them, in C libraries too.
"""

import contextlib
import io
import json
import os
import shutil
import sqlite3
import sys
import zipfile
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

from gladebook.cli import main as gladebook

_ROOT = Path(__file__).parents[3]
_MAPS = _ROOT / "sample_maps"
_LOCKS = Path("/proc/locks")
_TANK = ("--per-acre", "15 gal/ac", "--tank", "25 gal", "--product", "x=1 qt/ac")
_FORBIDDEN = ("open", "shutil.", "os.truncate", "mmap.", "os.remove", "os.rename")


class Watch:
    """What Python tells of one file, while it is told to look."""

    def __init__(self, path: Path) -> None:
        self.path, self.offences, self.connects = path.resolve(), [], 0  # type: tuple[Path, list[str], int]
        self.looking = False
        sys.addaudithook(self._told)

    def _told(self, event: str, arguments: tuple[Any, ...]) -> None:
        if not self.looking:
            return
        paths = [str(a) for a in arguments if isinstance(a, (str, os.PathLike))]
        if event == "sqlite3.connect":
            self.connects += any(self.path.name in p for p in paths)
        elif event.startswith(_FORBIDDEN):
            names = [os.path.realpath(p) for p in paths]
            self.offences += [
                f"{event} {n.removeprefix(str(self.path))}" for n in names if n.startswith(str(self.path))
            ]

    @contextlib.contextmanager
    def look(self) -> Iterator[None]:
        """Look while the body runs, and at the locks before and after it."""
        self.offences, self.connects = [], 0
        with closing(sqlite3.connect(self.path, isolation_level=None)) as holder:
            holder.execute("SELECT count(*) FROM plots").fetchone()
            before = self._locks()
            assert before or not _LOCKS.exists(), "the locks of an open file can be seen"
            self.looking = True
            try:
                yield
            finally:
                self.looking = False
                self.offences += [f"lock lost: {lock}" for lock in sorted(before - self._locks())]

    def _locks(self) -> set[str]:
        """Locks that this process holds on the file and on the index of its log."""
        if not _LOCKS.exists():
            return set()
        shm = self.path.with_name(self.path.name + "-shm")
        inodes = {p.stat().st_ino: p.suffix for p in (self.path, shm) if p.exists()}
        lines = [line.split() for line in _LOCKS.read_text().splitlines()]
        # Not which bytes: those move with what SQLite does.
        return {
            inodes[int(line[5].split(":")[2])]
            for line in lines
            if line[1] == "POSIX" and int(line[4]) == os.getpid() and int(line[5].split(":")[2]) in inodes
        }


def _command(*words: object) -> Callable[[], int]:
    def run() -> int:
        sys.argv = ["gladebook", *map(str, words)]
        try:
            gladebook()
        except SystemExit as done:
            return int(done.code or 0)
        return 0

    return run


def _commands(path: Path) -> dict[str, Callable[[], int]]:
    """Every command that works with a property file, in an order that gives each something to do."""
    folder = path.parent
    spray = ("coverage", path, _MAPS / "sprayed.csv", "--boom", "12 ft")
    return {
        "show empty": _command("property", "show", path),
        "add": _command("property", "add", path, _MAPS / "plots.geojson", "--since", "2026-03-01"),
        "add ponds": _command("property", "add", path, "--obstacles", _MAPS / "ponds.geojson"),
        "show": _command("property", "show", path),
        "look": _command("look", path),
        "measure": _command("measure", path),
        "measure --save": _command("measure", path, "--save", "acres"),
        "coverage": _command(*spray),
        "coverage --save": _command(*spray, "--save", "first"),
        "mix": _command("mix", "--plots", path, *_TANK),
        "mix --treated --save": _command("mix", "--treated", path, *_TANK, "--save", "tank"),
        "map": _command("map", path, "--out", folder / "map.html"),
        "mark": _command("property", "mark", path, "1", "--as", "seen"),
        "rename": _command("property", "rename", path, "first", "second"),
        "remove": _command("property", "remove", path, "second"),
        "undo": _command("property", "undo", path),
        "check": _command("property", "check", path),
        "check --mend": _command("property", "check", path, "--mend"),
        "backup": _command("property", "backup", path),
        **{
            f"export {kind}": _command("property", "export", path, folder / kind, "--format", kind)
            for kind in ("geojson", "gpkg", "shapefile", "kml", "gpx", "csv")
        },
        "--out over it": _command("measure", path, "--out", path),
        "new over it": _command("property", "new", path),
    }


def _planted(path: Path) -> dict[str, Callable[[], object]]:
    """Ways of opening the file that must be caught."""
    import pyogrio

    def with_os() -> None:
        os.close(os.open(path, os.O_RDONLY))

    def link() -> bytes:
        other = path.with_name("link.geojson")
        other.symlink_to(path)
        return other.read_bytes()

    def zipped() -> None:
        with zipfile.ZipFile(path.with_suffix(".zip"), "w") as packed:
            packed.write(path)

    return {
        "open": lambda: open(path, "rb").close(),  # noqa: PTH123 - the very thing
        "io.open": lambda: io.open(path, "rb").close(),  # noqa: UP020 - the very thing
        "os.open": with_os,
        "Path.open": lambda: path.open("rb").close(),
        "Path.read_bytes": path.read_bytes,
        "Path.read_text": lambda: path.read_text(encoding="latin-1"),
        "shutil.copyfile": lambda: shutil.copyfile(path, path.with_name("copy")),
        "zipfile": zipped,
        "through a link": link,
        "the log": lambda: path.with_name(path.name + "-wal").read_bytes(),
        "pyogrio": lambda: pyogrio.read_info(path, layer="plots"),
    }


def main() -> None:
    folder, planted = Path(sys.argv[1]), bool(sys.argv[2:])
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "home.gpkg"
    os.chdir(folder)
    out, sys.stdout = sys.stdout, io.StringIO()
    _command("property", "new", path)()
    watch, found = Watch(path), {}
    works: dict[str, Callable[[], object]] = {**(_planted(path) if planted else _commands(path))}
    for name, work in works.items():
        sys.stdout.seek(0)
        sys.stdout.truncate()
        with watch.look(), contextlib.redirect_stderr(sys.stdout):
            answer = work()
        code = answer if isinstance(answer, int) else 0
        found[name] = [code, watch.offences, watch.connects, sys.stdout.getvalue()[-300:]]
    out.write(json.dumps(found) + "\n")


if __name__ == "__main__":
    main()
