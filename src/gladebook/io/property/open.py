"""Opening and closing a property file: through SQLite alone, so that its locks hold.

Any other open of the file in the same process, even to look at it, drops SQLite's locks when it closes (POSIX
advisory locks; "How To Corrupt An SQLite Database File", sqlite.org, section 2.2). So a file is told to be a property
by asking SQLite, and nothing here opens it otherwise.
"""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import quote

from gladebook.errors import PropertyError
from gladebook.io.property.blobs import add_functions
from gladebook.io.property.schema import VERSION, create, migrate, schema_version

__all__ = ["connected", "free_name", "is_property", "moment", "new_property", "said"]

_WAIT_S = 120.0
_HELD = "another program has held it for two minutes, and nothing was changed. Close that program."
_NOT_YOURS = "may not be written by you, and nothing was changed. Change its permission and that of its folder."
_DAMAGED = "is damaged. Copy your last backup over it, or ask `gladebook property check` what is left."
_SAID = {
    "disk is full": "the disk is full, and nothing was changed. Make room and do it again.",
    "readonly": _NOT_YOURS,
    "read-only": _NOT_YOURS,
    "locked": _HELD,
    "busy": _HELD,
    "malformed": _DAMAGED,
    "not a database": _DAMAGED,
    "disk image": _DAMAGED,
}


def moment() -> str:
    """The moment as the clock tells it, UTC, to the millisecond."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def is_property(path: str | Path) -> bool:
    """Whether a file is a property file, as SQLite tells; false where there is none, or it cannot be read."""
    path = Path(path)
    if path.suffix.lower() != ".gpkg" or not path.is_file():
        return False
    try:
        with closing(_connect(path, mode="ro")) as base:
            return schema_version(base) is not None
    except sqlite3.Error:
        return False


def new_property(path: str | Path, *, name: str) -> None:
    """Make an empty property file.

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
    with said(path), closing(_connect(path, mode="rwc")) as base:
        base.execute("PRAGMA journal_mode = WAL")
        base.execute("BEGIN IMMEDIATE")
        create(base, name=name, now=moment())
        base.execute("COMMIT")


@contextmanager
def connected(path: str | Path, *, write: bool = True) -> Iterator[sqlite3.Connection]:
    """A connection to a property file of today's version; an older file is backed up and brought up to date first.

    Parameters
    ----------
    path
        The file.
    write
        Whether it may be changed. A file that is only read is not migrated, and nothing beside it is left behind.

    Raises
    ------
    PropertyError
        Where there is no such file, it is no property, is of a newer version, or cannot be read or written.
    """
    path = Path(path)
    if not path.is_file():
        raise PropertyError(f"{path.name}: there is no such file. Make one with: gladebook property new {path.name}")
    with said(path):
        # Another process may hold the file's index in memory: reading needs to write beside it, unless nobody has it.
        alone = not write and not os.access(path.parent, os.W_OK)
        with closing(_connect(path, mode="rw" if write else "ro", immutable=alone)) as base:
            _refuse_others(base, path)
            if write:
                _bring_up(base, path)
            yield base


def _connect(path: Path, *, mode: str, immutable: bool = False) -> sqlite3.Connection:
    where = f"file:{quote(str(path.resolve()))}?mode={mode}{'&immutable=1' if immutable else ''}"
    base = sqlite3.connect(where, uri=True, timeout=_WAIT_S, isolation_level=None)
    add_functions(base)
    base.execute("PRAGMA foreign_keys = ON")
    base.execute("PRAGMA synchronous = FULL")
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
    """Migrate an older file, after a backup."""
    version = schema_version(base) or 1
    if version == VERSION:
        return
    backup = free_name(path, f"before-version-{VERSION}")
    base.execute("VACUUM INTO ?", (str(backup),))
    base.execute("BEGIN IMMEDIATE")
    try:
        migrate(base)
        base.execute("COMMIT")
    except BaseException:
        if base.in_transaction:
            base.execute("ROLLBACK")
        raise


def free_name(path: Path, words: str) -> Path:
    """A name beside a file that no file has yet."""
    for number in range(1, 10_000):
        found = path.with_name(f"{path.stem}-{words}{'' if number == 1 else f'-{number}'}{path.suffix}")
        if not found.exists():
            return found
    raise PropertyError(f"{path.name}: there are too many backups beside it. Move some away.")


@contextmanager
def said(path: Path) -> Iterator[None]:
    """Turn what SQLite reports into one sentence."""
    try:
        yield
    except sqlite3.Error as error:
        raise PropertyError(f"{path.name}: {_why(error, path)}") from None


def _why(error: sqlite3.Error, path: Path) -> str:
    text = str(error)
    for words, said_so in _SAID.items():
        if words in text.lower():
            return said_so
    if "unable to open" in text:
        if path.exists() and not os.access(path, os.R_OK):
            return "may not be read by you. Change its permission, or copy it."
        return "cannot be opened. Check that its folder is there and may be written."
    if "constraint" in text.lower():
        return f"this does not go with what is there ({text}), and nothing was changed."
    return f"cannot be read or written ({text}), and nothing was changed."
