"""Whether a property file is whole: SQLite's own check, references, shapes, indexes, and what the standard asks for."""

import sqlite3
from collections.abc import Callable

import shapely

from gladebook.io.property.blobs import unpack
from gladebook.io.property.schema import TABLES

__all__ = ["faults_in", "mend_indexes"]

_MOST = 20
_ROOT_BYTES = 1228  # an index of two dimensions: 4 bytes, and 51 cells of 24


def faults_in(base: sqlite3.Connection) -> list[str]:
    """What is wrong with a file, one sentence each with what to do; empty where nothing is."""
    found: list[str] = []
    for look in (_damage, _references, _shapes, _indexes, _contents, _pen):
        # Where pages are lost, SQLite gives up on the tables that had them; the others are still looked at.
        try:
            found += look(base)
        except sqlite3.DatabaseError as error:
            found.append(
                f"SQLite cannot read all of it ({error}). Export what is left, or put your last backup in its place."
            )
    return list(dict.fromkeys(found))


def _damage(base: sqlite3.Connection) -> list[str]:
    return [
        f"SQLite finds damage: {text}. Export what is left, or put your last backup in its place."
        for (text,) in base.execute(f"PRAGMA integrity_check({_MOST})").fetchall()
        if text != "ok"
    ]


def _references(base: sqlite3.Connection) -> list[str]:
    return [
        f"{table}, row {row}: what it belongs to ({parent}) is gone. Undo the change that removed it."
        for table, row, parent, _ in base.execute("PRAGMA foreign_key_check").fetchall()
    ]


def _shapes(base: sqlite3.Connection) -> list[str]:
    return _of_tables(base, _bad_shapes)


def _indexes(base: sqlite3.Connection) -> list[str]:
    return _of_tables(base, _bad_index)


def _of_tables(base: sqlite3.Connection, look: Callable[[sqlite3.Connection, str], list[str]]) -> list[str]:
    return [fault for table in TABLES if table.shapes for fault in look(base, table.name)]


def _pen(base: sqlite3.Connection) -> list[str]:
    if base.execute("SELECT count(*) FROM gladebook_pen WHERE held != 0").fetchone()[0]:
        return [
            "The file says that a change is still under way. Export what is left, or put your last backup in its place."
        ]
    return []


def _bad_shapes(base: sqlite3.Connection, table: str) -> list[str]:
    found: list[str] = []
    for row, blob in base.execute(f"SELECT id, geom FROM {table}"):
        try:
            shape = unpack(blob)
            reason = "" if shapely.is_valid(shape) else str(shapely.is_valid_reason(shape))
        except ValueError:
            reason = "there is none" if blob is None else "it cannot be read"
        if reason:
            found.append(f"{table}, row {row}: its shape is bad ({reason}). Draw it again or remove it.")
    return found


def _bad_index(base: sqlite3.Connection, table: str) -> list[str]:
    tree = f"rtree_{table}_geom"
    mend = f"{table}: its spatial index is not that of its shapes. Build it anew with: gladebook property check --mend"
    try:
        (answer,) = base.execute("SELECT rtreecheck(?)", (tree,)).fetchone()
        rows = base.execute(
            f"SELECT count(*) FROM {table} WHERE geom NOTNULL AND NOT ST_IsEmpty(geom) AND "
            f"id NOT IN (SELECT id FROM {tree} WHERE minx <= ST_MinX(geom) AND maxx >= ST_MaxX(geom) "
            "AND miny <= ST_MinY(geom) AND maxy >= ST_MaxY(geom))"
        ).fetchone()[0]
        extra = base.execute(f"SELECT count(*) FROM {tree} WHERE id NOT IN (SELECT id FROM {table})").fetchone()[0]
    except sqlite3.DatabaseError:
        return [mend]
    return [] if answer == "ok" and not rows and not extra else [mend]


def _contents(base: sqlite3.Connection) -> list[str]:
    return [
        f"{table.name}, row {row}: its {name} cannot be read. Remove the row."
        for table in TABLES
        for name, kind in table.columns
        if "json_valid" in kind
        for (row,) in base.execute(f'SELECT id FROM {table.name} WHERE NOT json_valid("{name}")').fetchall()
    ]


def mend_indexes(base: sqlite3.Connection) -> None:
    """Build all spatial indexes anew from the shapes, also where an index is damaged."""
    base.execute("BEGIN IMMEDIATE")
    try:
        for table in TABLES:
            if table.shapes:
                tree = f"rtree_{table.name}_geom"
                # SQLite cannot even drop an index whose root is bad: it is emptied by hand first.
                for part in ("node", "rowid", "parent"):
                    base.execute(f"DELETE FROM {tree}_{part}")
                base.execute(f"INSERT INTO {tree}_node (nodeno, data) VALUES (1, zeroblob({_ROOT_BYTES}))")
                base.execute(f"DROP TABLE {tree}")
                base.execute(f"CREATE VIRTUAL TABLE {tree} USING rtree(id, minx, maxx, miny, maxy)")
                base.execute(
                    f"INSERT INTO {tree} SELECT id, ST_MinX(geom), ST_MaxX(geom), ST_MinY(geom), ST_MaxY(geom) "
                    f"FROM {table.name} WHERE geom NOTNULL AND NOT ST_IsEmpty(geom)"
                )
        base.execute("COMMIT")
    except BaseException:
        if base.in_transaction:
            base.execute("ROLLBACK")
        raise
