"""Changing a property file: one transaction a change, each row as it was kept for undo.

A change takes the pen (so that the triggers know who writes), writes rows, and commits; or nothing of it happened.
Undo puts rows back as they were, latest first, if they still are what the change made of them: what another
program, or a later change, has written since is not trampled.
"""

import hashlib
import json
import sqlite3
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from uuid import uuid4

from gladebook.errors import Clash, PropertyError
from gladebook.io.property.open import moment
from gladebook.io.property.schema import TABLES
from gladebook.records.kept import Step

__all__ = ["Pen", "changing", "steps_of", "undo_last"]

_BY_NAME = {table.name: table for table in TABLES}
Row = Mapping[str, Any]


class Pen:
    """What writes rows inside one change."""

    def __init__(self, base: sqlite3.Connection, *, change: int) -> None:
        self._base, self._change, self._place = base, change, 0
        self.touched: set[str] = set()

    def add(self, table: str, **values: Any) -> str:
        """Add a row, and give its id; `uid` may be given, as undo and copies do."""
        uid = str(values.pop("uid", None) or uuid4().hex)
        values = _storable(values)
        names = ["uid", *values]
        marks = ", ".join("?" * len(names))
        columns = ", ".join(f'"{name}"' for name in names)
        self._base.execute(
            f"INSERT INTO {_known(table)} ({columns}) VALUES ({marks})",
            (uid, *values.values()),
        )
        self._note(table, uid, before=None)
        return uid

    def change(self, table: str, uid: str, **values: Any) -> None:
        """Change columns of a row.

        Raises
        ------
        PropertyError
            Where it is gone: somebody else has removed it since it was read.
        """
        before, values = self.row(table, uid), _storable(values)
        columns = ", ".join(f'"{name}" = ?' for name in values)
        self._base.execute(
            f"UPDATE {_known(table)} SET {columns} WHERE uid = ?",
            (*values.values(), uid),
        )
        self._note(table, uid, before=before)

    def row(self, table: str, uid: str) -> Row:
        """All of a row as it is now, by column; what was read before the change began may have changed since.

        Raises
        ------
        PropertyError
            Where it is gone.
        """
        found = row_of(self._base, table, uid)
        if found is None:
            raise PropertyError(
                f"What should be changed in {_words_for(table)} is no longer there, and nothing was changed. "
                "Look at what is there now: gladebook property show"
            )
        return found

    def remove(self, table: str, uid: str) -> None:
        """Remove a row; errors as `change` has them."""
        before = self.row(table, uid)
        self._base.execute(f"DELETE FROM {_known(table)} WHERE uid = ?", (uid,))
        self._note(table, uid, before=before)

    def _note(self, table: str, uid: str, *, before: Row | None) -> None:
        after = row_of(self._base, table, uid)
        self._place += 1
        self.touched.add(table)
        self._base.execute(
            "INSERT INTO gladebook_change_rows VALUES (?, ?, ?, ?, ?, ?)",
            (self._change, self._place, table, uid, _text(before) if before else None, mark_of(after)),
        )


@contextmanager
def changing(base: sqlite3.Connection, words: str) -> Iterator[Pen]:
    """One change: all of it, or nothing.

    Parameters
    ----------
    base
        A connection from `connected`.
    words
        What is done, one sentence, for the list of changes.
    """
    with _transaction(base):
        row = (moment(), _clean(words))
        number = base.execute("INSERT INTO gladebook_changes (at, words) VALUES (?, ?)", row).lastrowid
        pen = Pen(base, change=int(number or 0))
        yield pen
        _touch(base, pen.touched)


@contextmanager
def _transaction(base: sqlite3.Connection) -> Iterator[None]:
    base.execute("BEGIN IMMEDIATE")
    try:
        base.execute("UPDATE gladebook_pen SET held = 1")
        yield
        base.execute("UPDATE gladebook_pen SET held = 0")
        base.execute("COMMIT")
    except BaseException:
        if base.in_transaction:
            base.execute("ROLLBACK")
        raise


def _touch(base: sqlite3.Connection, tables: Collection[str]) -> None:
    """Bring the extents and the moment of the last change up to date, as the standard asks for."""
    for table in sorted(tables):
        extent: tuple[Any, ...] = (None, None, None, None)
        if _BY_NAME[table].shapes:
            tree = f"rtree_{table}_geom"
            extent = base.execute(f"SELECT min(minx), min(miny), max(maxx), max(maxy) FROM {tree}").fetchone()
        base.execute(
            "UPDATE gpkg_contents SET last_change = ?, min_x = ?, min_y = ?, max_x = ?, max_y = ? WHERE table_name = ?",
            (moment(), *extent, table),
        )


def undo_last(base: sqlite3.Connection, *, path: Path, seen: int | None = None) -> Step:
    """Take back the latest change that was not taken back yet.

    Parameters
    ----------
    base
        A connection from `connected`.
    path
        The file, for messages.
    seen
        Number of the change that whoever asks means to take back; None takes whichever is the latest.

    Raises
    ------
    Clash
        Where another change has come since the one that was seen.
    PropertyError
        Where there is none, or a row was changed since by another program.
    """
    with _transaction(base):
        found = base.execute(
            "SELECT number, at, words FROM gladebook_changes WHERE undone = 0 ORDER BY number DESC LIMIT 1"
        ).fetchone()
        if found is None:
            raise PropertyError(f"{path.name}: there is nothing left to undo.")
        number, at, words = found
        if seen is not None and number != seen:
            raise Clash(
                f'Somebody else changed something in the meantime ("{words}"), so nothing was taken back. Look at it '
                "first; the next undo would take that back."
            )
        rows = base.execute(
            "SELECT table_name, uid, before, after FROM gladebook_change_rows WHERE change = ? ORDER BY place DESC",
            (number,),
        ).fetchall()
        for table, uid, before, after in rows:
            if mark_of(row_of(base, table, uid)) != after:
                raise PropertyError(
                    f'{path.name}: cannot undo "{words}": another program has changed its {_words_for(table)} since. '
                    "Nothing was changed. See: gladebook property show"
                )
            _put_back(base, table, uid, before=None if before is None else _row(before))
        base.execute("UPDATE gladebook_changes SET undone = 1 WHERE number = ?", (number,))
        _touch(base, {row[0] for row in rows})
    return Step(number, at, words, undone=True)


def _put_back(base: sqlite3.Connection, table: str, uid: str, *, before: Row | None) -> None:
    there = base.execute(f"SELECT 1 FROM {_known(table)} WHERE uid = ?", (uid,)).fetchone()
    if before is None:
        base.execute(f"DELETE FROM {_known(table)} WHERE uid = ?", (uid,))
    elif there:
        columns = ", ".join(f'"{name}" = ?' for name in before)
        base.execute(
            f"UPDATE {_known(table)} SET {columns} WHERE uid = ?",
            (*before.values(), uid),
        )
    else:
        columns, marks = ", ".join(f'"{name}"' for name in before), ", ".join("?" * len(before))
        base.execute(
            f"INSERT INTO {_known(table)} ({columns}) VALUES ({marks})",
            tuple(before.values()),
        )


def steps_of(base: sqlite3.Connection) -> list[Step]:
    """All changes, the oldest first."""
    rows = base.execute("SELECT number, at, words, undone FROM gladebook_changes ORDER BY number").fetchall()
    return [Step(number, at, words, bool(undone)) for number, at, words, undone in rows]


def row_of(base: sqlite3.Connection, table: str, uid: str) -> Row | None:
    """All of a row, by column; None where there is none."""
    names = ("id", *_BY_NAME[table].names)
    columns = ", ".join(f'"{name}"' for name in names)
    row = base.execute(f"SELECT {columns} FROM {table} WHERE uid = ?", (uid,)).fetchone()
    return None if row is None else dict(zip(names, row, strict=True))


def mark_of(row: Row | None) -> str | None:
    """A mark by which a row is known again: the SHA-256 of its text, whatever its number."""
    if row is None:
        return None
    return hashlib.sha256(_text({k: v for k, v in row.items() if k != "id"}).encode()).hexdigest()


def _text(row: Row) -> str:
    return json.dumps({k: {"hex": v.hex()} if isinstance(v, bytes) else v for k, v in row.items()}, allow_nan=False)


def _row(text: str) -> Row:
    """A row as `_text` wrote it.

    Raises
    ------
    PropertyError
        Where it cannot be read.
    """
    try:
        return {k: bytes.fromhex(v["hex"]) if isinstance(v, dict) else v for k, v in json.loads(text).items()}
    except (AttributeError, KeyError, TypeError, ValueError):
        raise PropertyError(
            "What the file kept to undo this cannot be read, and nothing was changed. Ask: gladebook property check"
        ) from None


def _clean(text: str) -> str:
    """Text without what no file can hold: the halves of characters that stand for bad bytes in file names."""
    return text.encode("utf-8", "replace").decode()


def _storable(values: Mapping[str, Any]) -> dict[str, Any]:
    return {name: _clean(v) if isinstance(v, str) else v for name, v in values.items()}


def _known(table: str) -> str:
    return _BY_NAME[table].name


def _words_for(table: str) -> str:
    return table.replace("_", " ")
