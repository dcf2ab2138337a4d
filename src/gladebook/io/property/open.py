"""Opening and closing a property file: through SQLite alone, so that its locks hold.

Any other open of the file in the same process, even to look at it, drops SQLite's locks when it closes (POSIX
advisory locks; "How To Corrupt An SQLite Database File", sqlite.org, section 2.2). So a file is told to be a property
by asking SQLite, and nothing here opens it otherwise.
"""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import quote
from uuid import uuid4

from gladebook.errors import PropertyError
from gladebook.io.property.blobs import add_functions
from gladebook.io.property.said import said
from gladebook.io.property.schema import VERSION, create, migrate, schema_version

__all__ = ["connected", "copy_into", "free_name", "is_property", "moment", "new_property", "said"]

_WAIT_S = 120.0
_BESIDE = ("-wal", "-shm", "-journal")


def moment() -> str:
    """The moment as the clock tells it, UTC, to the millisecond."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def is_property(path: str | Path) -> bool:
    """Whether a file is a property file, as SQLite tells; false where there is none, or it cannot be read.

    Raises
    ------
    PropertyError
        Where another program holds it, so that it cannot be told.
    """
    path = Path(path)
    if path.suffix.lower() != ".gpkg" or not os.path.isfile(path):  # noqa: PTH113 - Path.is_file raises for some
        return False
    try:
        with _reading(path) as base:
            return schema_version(base) is not None
    except sqlite3.Error as error:
        if "locked" not in str(error):
            return False
        with said(path):
            raise


def new_property(path: str | Path, *, name: str) -> None:
    """Make an empty property file: under another name first, so that there is a whole one or none.

    Raises
    ------
    PropertyError
        Where there is a file of that name already, it does not end in .gpkg, or it cannot be written.
    """
    path = Path(path)
    if path.suffix.lower() != ".gpkg":
        raise PropertyError(f"{path.name}: a property file ends in .gpkg. Call it {path.stem or 'property'}.gpkg.")
    if path.exists():
        raise PropertyError(f"{path.name}: there is such a file already. Choose another name.")
    with said(path), _made_beside(path) as draft:
        with closing(_connect(draft, mode="rwc")) as base:
            base.execute("PRAGMA journal_mode = WAL")
            base.execute("BEGIN IMMEDIATE")
            create(base, name=name, now=moment())
            base.execute("COMMIT")
        _publish(draft, path)


@contextmanager
def connected(path: str | Path, *, write: bool = True) -> Iterator[sqlite3.Connection]:
    """A connection to a property file of today's version; an older file is backed up and brought up to date first.

    Parameters
    ----------
    path
        The file.
    write
        Whether it may be changed. A file that is only read stays as it is, also one of an older version, and nothing
        beside it is left behind.

    Raises
    ------
    PropertyError
        Where there is no such file, it is no property, is of a newer version, or cannot be read or written.
    """
    path = Path(path)
    if not os.path.isfile(path):  # noqa: PTH113 - Path.is_file raises where a folder may not be entered
        raise PropertyError(f"{path.name}: there is no such file. Make one with: gladebook property new {path.name}")
    with said(path), _writing(path) if write else _reading(path) as base:
        _refuse_others(base, path)
        if write:
            _bring_up(base, path)
        elif (schema_version(base) or 1) < VERSION:
            with closing(_in_memory(base)) as of_today:
                yield of_today
            return
        yield base


@contextmanager
def _writing(path: Path) -> Iterator[sqlite3.Connection]:
    if not _may_write(path):
        raise sqlite3.OperationalError("attempt to write a readonly database")
    with closing(_connect(path, mode="rw")) as base:
        yield base


@contextmanager
def _reading(path: Path) -> Iterator[sqlite3.Connection]:
    """A read-only connection that leaves nothing beside the file.

    A file in WAL mode is read with two files beside it, and only a connection that may write removes them when it
    closes as the last. So one stays open behind the one that reads. Where nobody may write, nothing can be made
    beside the file; SQLite then reads it as one that does not change, which is looked after here.
    """
    if _may_write(path) and _may_write(path.parent):
        with closing(_connect(path, mode="rw")) as keeper, closing(_connect(path, mode="ro")) as base:
            keeper.execute("SELECT 1 FROM sqlite_master").fetchone()
            yield base
        return
    beside = path.with_name(path.name + "-wal")
    alone = not beside.exists()
    before = _look(path)
    with closing(_connect(path, mode="ro", immutable=alone)) as base:
        yield base
    if alone and (beside.exists() or _look(path) != before):
        raise PropertyError(f"{path.name}: another program has written to it while it was read. Do it again.")


def _look(path: Path) -> tuple[int, int]:
    found = path.stat()
    return found.st_mtime_ns, found.st_size


def _may_write(path: Path) -> bool:
    return os.access(path, os.W_OK, effective_ids=os.access in os.supports_effective_ids)


def _in_memory(base: sqlite3.Connection) -> sqlite3.Connection:
    """An older file as it would be today."""
    found = sqlite3.connect(":memory:", isolation_level=None)
    base.backup(found)
    add_functions(found)
    found.execute("BEGIN IMMEDIATE")
    migrate(found)
    found.execute("COMMIT")
    return found


def _connect(path: Path, *, mode: str, immutable: bool = False) -> sqlite3.Connection:
    where = f"file:{quote(str(path.resolve()))}?mode={mode}{'&immutable=1' if immutable else ''}"
    base = sqlite3.connect(where, uri=True, timeout=_WAIT_S, isolation_level=None)
    add_functions(base)
    base.execute("PRAGMA foreign_keys = ON")
    base.execute("PRAGMA synchronous = FULL")
    base.execute("PRAGMA fullfsync = ON")  # macOS: else the drive may still hold what it calls written
    base.execute("PRAGMA trusted_schema = ON")  # the standard's own triggers call functions
    return base


def _refuse_others(base: sqlite3.Connection, path: Path) -> None:
    version = schema_version(base)
    if version is None:
        raise PropertyError(f"{path.name}: is no property file. Make one with: gladebook property new")
    if version > VERSION:
        raise PropertyError(
            f"{path.name}: was written by a newer gladebook (its tables have version {version}, this one knows "
            f"{VERSION}). Nothing was changed. Install the newer one."
        )


def _bring_up(base: sqlite3.Connection, path: Path) -> None:
    """Migrate an older file, after a backup; and turn WAL on again, which a copy of a file has not."""
    if schema_version(base) != VERSION:
        base.execute("BEGIN IMMEDIATE")
        try:
            # Another process may have done it while this one waited.
            if schema_version(base) != VERSION:
                with closing(_connect(path, mode="ro")) as reader:
                    copy_into(reader, free_name(path, f"before-version-{VERSION}"))
                migrate(base)
            base.execute("COMMIT")
        except BaseException:
            if base.in_transaction:
                base.execute("ROLLBACK")
            raise
    if base.execute("PRAGMA journal_mode").fetchone()[0] != "wal":
        # Not possible while others read; then the next one does it.
        with suppress(sqlite3.OperationalError):
            base.execute("PRAGMA journal_mode = WAL")


def copy_into(base: sqlite3.Connection, target: Path) -> None:
    """Write all that a connection sees into a new file: whole and on the disk, or not there at all.

    Raises
    ------
    PropertyError
        Where there is a file of that name.
    """
    with _made_beside(target) as draft:
        base.execute("VACUUM INTO ?", (str(draft),))
        # SQLite does not wait for the disk here. Nobody has the draft open, so no lock is lost.
        handle = os.open(draft, os.O_RDWR)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
        _publish(draft, target)


@contextmanager
def _made_beside(path: Path) -> Iterator[Path]:
    """A name in the same folder for a file in the making; what is left of it goes."""
    draft = path.with_name(f".gladebook-{uuid4().hex[:12]}.part")
    try:
        yield draft
    finally:
        for end in ("", *_BESIDE):
            draft.with_name(draft.name + end).unlink(missing_ok=True)


def _publish(draft: Path, path: Path) -> None:
    """Give a finished file its name, never over another file, nor beside the log of one that is gone."""
    taken = PropertyError(f"{path.name}: there is such a file already. Choose another name.")
    if path.exists():
        raise taken
    for end in _BESIDE:
        left = path.with_name(path.name + end)
        if left.exists():
            raise PropertyError(
                f"{left.name}: is left of an earlier {path.name}, and would be mixed into the new one. Move it away."
            )
    try:
        os.link(draft, path)
    except FileExistsError:
        raise taken from None
    except OSError:  # a disk without hard links
        if path.exists():
            raise taken from None
        draft.rename(path)


def free_name(path: Path, words: str) -> Path:
    """A name beside a file that no file has yet."""
    for number in range(1, 10_000):
        found = path.with_name(f"{path.stem}-{words}{'' if number == 1 else f'-{number}'}{path.suffix}")
        if not found.exists():
            return found
    raise PropertyError(f"{path.name}: there are too many backups beside it. Move some away.")
