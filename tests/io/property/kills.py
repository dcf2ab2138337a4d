"""Processes that are killed while they change a property file, and what is found afterwards.

``python -m tests.io.property.kills FOLDER statements`` kills at every SQL statement of every kind of change;
``... moments COUNT`` at random moments of a season; ``... log STEP`` cuts the write-ahead log of a killed process at
every STEP-th byte of its last transaction. Each prints its counts as JSON. It is a process of its own, so that
nothing else here ever has the files open, and it forks its children, so that each costs milliseconds.
"""

import json
import os
import random
import shutil
import signal
import sqlite3
import sys
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import asdict, dataclass, field
from pathlib import Path

from gladebook.io.property.check import faults_in, mend_indexes
from gladebook.io.property.open import connected, new_property
from tests.io.property.season import CHANGES, STARTS, mark_of_file, same_every_time
from tests.io.property.version_1 import make_version_1

Say = Callable[[str], None]
_BESIDE = ("-wal", "-shm")
_SEASON = (
    "add",
    "add",
    "save",
    "redraw",
    "undo",
    "rename",
    "walk",
    "add",
    "remove",
    "undo",
    "save",
    "undo",
    "redraw",
    "walk",
)


@dataclass
class Counts:
    """What was tried, and what was found; `lost`, `half` and `faults` are what must not be."""

    kills: int = 0
    acknowledged: int = 0
    not_acknowledged_but_there: int = 0
    lost: int = 0
    half: int = 0
    faults: int = 0
    by_kind: dict[str, int] = field(default_factory=dict)
    bad: list[str] = field(default_factory=list)

    def found(self, kind: str, mark: str, *, acknowledged: bool, before: str, after: str) -> None:
        self.kills += 1
        self.by_kind[kind] = self.by_kind.get(kind, 0) + 1
        self.acknowledged += acknowledged
        if mark not in (before, after):
            self.half += 1
            self.bad.append(f"{kind}, kill {self.by_kind[kind]}: {mark[:80]}")
        elif acknowledged and mark != after:
            self.lost += 1
            self.bad.append(f"{kind}, kill {self.by_kind[kind]}: acknowledged and lost")
        elif not acknowledged and mark == after:
            self.not_acknowledged_but_there += 1


def _die() -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def _child(work: Callable[[Say], None]) -> tuple[int, int]:
    """Start a process that does the work; its id, and where to read what it acknowledges."""
    read, write = os.pipe()
    pid = os.fork()
    if pid:
        os.close(write)
        return pid, read
    os.close(read)
    try:
        same_every_time()
        work(lambda text: _tell(write, text))
    except BaseException as error:  # noqa: BLE001 - a child has nobody else to tell
        os.write(write, f"failed {error!r}\n".encode())
    finally:
        os._exit(0)


def _tell(write: int, text: str) -> None:
    os.write(write, f"{text}\n".encode())


def _ended(pid: int, read: int) -> list[str]:
    """What it has said, once it has ended."""
    with os.fdopen(read) as said:
        lines = said.read().split("\n")[:-1]
    os.waitpid(pid, 0)
    failed = [line for line in lines if line.startswith("failed")]
    if failed:
        sys.exit(failed[0])
    return lines


def _copy(source: Path, target: Path) -> None:
    """Nobody in this process has either of them open."""
    for end in ("", *_BESIDE):
        target.with_name(target.name + end).unlink(missing_ok=True)
        if source.with_name(source.name + end).exists():
            shutil.copyfile(source.with_name(source.name + end), target.with_name(target.name + end))


def _one(name: str, path: Path) -> Callable[[Say], None]:
    """What makes a change and then says so: the file is opened for it."""

    def work(say: Say) -> None:
        if name == "new":
            new_property(path, name="Hollow Creek")
            say("done")
        else:
            with connected(path) as base:
                if name == "mend":
                    mend_indexes(base)
                elif name != "migrate":
                    CHANGES[name].make(base, path)
                say("done")

    return work


def _counted(work: Callable[[Say], None], *, last: int) -> Callable[[Say], None]:
    """The work, killed at the statement of that number; with 0 it says how many there are, -1 is once it is done."""

    def counted(say: Say) -> None:
        if last < 0:

            def say_and_die(text: str) -> None:
                say(text)
                _die()

            work(say_and_die)
        seen = 0
        plain = sqlite3.connect

        def trace(_: str) -> None:
            nonlocal seen
            seen += 1
            if seen == last:
                _die()

        def connect(*arguments: object, **options: object) -> sqlite3.Connection:
            base: sqlite3.Connection = plain(*arguments, **options)  # type: ignore[call-overload]
            base.set_trace_callback(trace)
            return base

        vars(sqlite3)["connect"] = connect
        work(say)
        if not last:
            say(str(seen))

    return counted


def _start(folder: Path, name: str) -> Path:
    """The file that a change of that name is made in."""
    path = folder / f"start-{name.replace(' ', '-')}.gpkg"
    path.unlink(missing_ok=True)
    if name == "migrate":
        make_version_1(path)
    elif name != "new":
        _ended(*_child(_one("new", path)))
        for before in STARTS.get(name, ("add", "add")):
            _ended(*_child(_one(before, path)))
        if name == "mend":
            with closing(sqlite3.connect(path, isolation_level=None)) as base:
                base.execute("DELETE FROM rtree_plots_geom WHERE id = 1")
    return path


def _sound(path: Path) -> bool:
    """Whether our own check finds nothing; it opens the file as any command does."""
    with connected(path) as base:
        return faults_in(base) == []


def _planted(path: Path) -> Callable[[Say], None]:
    """What a change must not be: said too early, and made in two steps."""

    def work(say: Say) -> None:
        with connected(path) as base:
            say("done")
            CHANGES["rename"].make(base, path)
            CHANGES["redraw"].make(base, path)

    return work


def at_every_statement(folder: Path, *names: str) -> Counts:
    """Kill at each statement of each kind of change, opening the file included."""
    counts = Counts()
    for name in names:
        start, path = _start(folder, name), folder / "season.gpkg"
        work = _planted(path) if name == "planted" else _one(name, path)
        before = mark_of_file(start)
        _copy(start, path)
        said = _ended(*_child(_counted(work, last=0)))
        after, statements = mark_of_file(path), int(said[-1])
        for number in (*range(1, statements + 1), -1):
            _copy(start, path)
            said = _ended(*_child(_counted(work, last=number)))
            mark = mark_of_file(path)
            counts.found(name, mark, acknowledged="done" in said, before=before, after=after)
            if path.exists():
                counts.faults += name != "mend" and number % 6 in (0, 5) and not _sound(path)
    return counts


def _season(path: Path, *, start: int) -> Callable[[Say], None]:
    """The changes of a season from one of them on, some of them in one go with the file open."""

    def work(say: Say) -> None:
        say("go")
        for number in range(start, len(_SEASON), 2):
            with connected(path) as base:
                say("open")
                for name in _SEASON[number : number + 2]:
                    CHANGES[name].make(base, path)
                    say("done")

    return work


def _snapshots(folder: Path) -> list[Path]:
    """The file before each change of the season, and after the last."""
    path = folder / "snapshots.gpkg"
    path.unlink(missing_ok=True)
    _ended(*_child(_one("new", path)))
    found = []
    for number in range(len(_SEASON) + 1):
        found.append(folder / f"snapshot-{number}.gpkg")
        _copy(path, found[-1])
        if number < len(_SEASON):
            _ended(*_child(_one(_SEASON[number], path)))
    return found


def at_random_moments(folder: Path, *, count: int, seed: int) -> Counts:
    """Kill by the clock, anywhere in a season, in a migration too."""
    random_one, counts, path = random.Random(seed), Counts(), folder / "season.gpkg"  # noqa: S311 - no secret
    snapshots = _snapshots(folder)
    marks = [mark_of_file(p) for p in snapshots]
    old = folder / "old.gpkg"
    old.unlink(missing_ok=True)
    make_version_1(old)
    _copy(old, path)
    start_s = time.perf_counter()
    _ended(*_child(_one("migrate", path)))
    migrating_s = time.perf_counter() - start_s
    before, after = mark_of_file(old), mark_of_file(path)
    _copy(snapshots[0], path)
    start_s = time.perf_counter()
    _ended(*_child(_season(path, start=0)))
    change_s = (time.perf_counter() - start_s) / len(_SEASON)
    for number in range(count):
        if number % 5 == 4:
            _copy(old, path)
            pid, read = _child(_one("migrate", path))
            time.sleep(random_one.uniform(0, 1.2 * migrating_s))
            os.kill(pid, signal.SIGKILL)
            said = _ended(pid, read)
            counts.found("migrate", mark_of_file(path), acknowledged="done" in said, before=before, after=after)
        else:
            start = random_one.randrange(len(_SEASON))
            _copy(snapshots[start], path)
            pid, read = _child(_season(path, start=start))
            while os.read(read, 1) != b"\n":
                pass
            time.sleep(random_one.uniform(0, change_s * (len(_SEASON) - start)))
            os.kill(pid, signal.SIGKILL)
            done = start + _ended(pid, read).count("done")
            mark = mark_of_file(path)
            later = marks[min(done + 1, len(_SEASON))]
            kind = _SEASON[done] if done < len(_SEASON) else "after the last"
            counts.found(kind, mark, acknowledged=False, before=marks[done], after=later)
            counts.acknowledged += done - start
            counts.lost += mark in marks[:done] and mark not in (marks[done], later)
        counts.faults += not _sound(path)
    return counts


def log_cut(folder: Path, *, step: int, flip: bool = False) -> Counts:
    """Cut the log of a killed process at each byte of its last transaction; or spoil that byte."""
    start, path, counts = _start(folder, "walk"), folder / "season.gpkg", Counts()
    _copy(start, path)
    log = path.with_name(path.name + "-wal")

    def work(say: Say) -> None:
        with connected(path) as base:
            CHANGES["redraw"].make(base, path)
            say(str(log.stat().st_size))
            CHANGES["rename"].make(base, path)
            say(str(log.stat().st_size))
            _die()

    sizes = [int(line) for line in _ended(*_child(work))]
    killed, cut = folder / "killed.gpkg", folder / "cut.gpkg"
    _copy(path, killed)
    whole = killed.with_name(killed.name + "-wal").read_bytes()
    marks = []
    for size in sizes:
        _copy(killed, cut)
        cut.with_name(cut.name + "-wal").write_bytes(whole[:size])
        marks.append(mark_of_file(cut))
    for at in range(sizes[0], sizes[1] + 1, step):
        _copy(killed, cut)
        part = whole[:at]
        if flip:
            part = whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :] if at < len(whole) else whole
        cut.with_name(cut.name + "-wal").write_bytes(part)
        if at % 2:  # the killed process's map of the log, or none
            cut.with_name(cut.name + "-shm").unlink()
        mark = mark_of_file(cut)
        # All of the log was acknowledged; only where all of it is there can its last change be.
        kept = at == sizes[1]
        counts.found("spoiled" if flip else "cut", mark, acknowledged=kept, before=marks[0], after=marks[1])
        if at % 10 == 0 or kept:
            counts.faults += not _sound(cut)
    return counts


def main() -> None:
    folder, what, *number = sys.argv[1:]
    Path(folder).mkdir(parents=True, exist_ok=True)
    same_every_time()
    if what == "statements":
        counts = at_every_statement(Path(folder), *STARTS, "migrate", "mend", "new")
    elif what == "planted":
        counts = at_every_statement(Path(folder), "planted")
    elif what == "moments":
        counts = at_random_moments(Path(folder), count=int(number[0]), seed=int(number[1]) if number[1:] else 6)
    else:
        counts = log_cut(Path(folder), step=int(number[0]), flip=what == "spoil")
    sys.stdout.write(json.dumps(asdict(counts)) + "\n")


if __name__ == "__main__":
    main()
