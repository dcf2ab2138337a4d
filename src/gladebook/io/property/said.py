"""What SQLite reports, as one sentence that ends with what to do."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from gladebook.errors import PropertyError

__all__ = ["said"]

_HELD = "another program has held it for two minutes, and nothing was changed. Close that program and do it again."
_NOT_YOURS = "may not be written by you, and nothing was changed. Change its permission and that of its folder."
_DAMAGED = (
    "is damaged. Ask what is left: gladebook property check; or move it away, with what ends in -wal and -shm beside "
    "it, and put your last backup in its place."
)
_DISK = "the disk did not take or give what it should, and nothing was changed. Check the disk and its free room."
_NO_FILE = "cannot be opened. Check that its folder is there, and that you may read the file and write in the folder."
# The first that fits holds.
_SAID = {
    "disk is full": "the disk is full, and nothing was changed. Make room and do it again.",
    "readonly": _NOT_YOURS,
    "read-only": _NOT_YOURS,
    "locked": _HELD,
    "locking protocol": _HELD,
    "busy": _HELD,
    "malformed": _DAMAGED,
    "not a database": "is no property file, or is damaged. Name another file, or put your last backup in its place.",
    "disk image": _DAMAGED,
    "could not decode": _DAMAGED,
    "user-defined function raised": _DAMAGED,
    "no such table": _DAMAGED,
    "no such column": _DAMAGED,
    "rtree": "its spatial index is damaged. Build it anew with: gladebook property check --mend",
    "disk i/o": _DISK,
    "unable to open": _NO_FILE,
    "unique constraint failed: plots.name": (
        "there is a plot of that name already, and nothing was changed. Choose another name."
    ),
    "foreign key constraint": (
        "something else that is kept belongs to what would go, and nothing was changed. "
        "See what other programs wrote: gladebook property show"
    ),
    "constraint failed": (
        "this does not go with what is kept, and nothing was changed. Look for what is wrong: gladebook property check"
    ),
}


@contextmanager
def said(path: Path) -> Iterator[None]:
    """Turn what SQLite reports into one sentence.

    Raises
    ------
    PropertyError
        Where it reports anything.
    """
    try:
        yield
    except sqlite3.Error as error:
        text = str(error)
        why = next((words for part, words in _SAID.items() if part in text.lower()), None)
        if why is None:
            why = f"cannot be read or written ({text}), and nothing was changed. Ask: gladebook property check"
        raise PropertyError(f"{path.name}: {why}") from None
