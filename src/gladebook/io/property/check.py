"""Whether a property file is whole: SQLite's own check, references, shapes, indexes, and what the standard asks for."""

import json
import sqlite3

import shapely

from gladebook.io.property.blobs import unpack
from gladebook.io.property.schema import TABLES

__all__ = ["faults_in", "mend_indexes"]

_MOST = 20


def faults_in(base: sqlite3.Connection) -> list[str]:
    """What is wrong with a file, one sentence each with what to do; empty where nothing is."""
    found = [
        f"SQLite finds damage: {text}. Copy your last backup over the file, or export what is left."
        for (text,) in base.execute(f"PRAGMA integrity_check({_MOST})").fetchall()
        if text != "ok"
    ]
    found += [
        f"{table}, row {row}: what it belongs to ({parent}) is gone. Undo the change that removed it."
        for table, row, parent, _ in base.execute("PRAGMA foreign_key_check").fetchall()
    ]
    for table in TABLES:
        if table.shapes:
            found += _bad_shapes(base, table.name)
            found += _bad_index(base, table.name)
    found += _bad_json(base)
    missing = base.execute("SELECT count(*) FROM gladebook_pen WHERE held != 0").fetchone()[0]
    if missing:
        found.append("The file says that a change is still under way. Open it once with: gladebook property show")
    return found


def _bad_shapes(base: sqlite3.Connection, table: str) -> list[str]:
    found: list[str] = []
    for row, blob in base.execute(f"SELECT id, geom FROM {table}"):
        try:
            shape = unpack(blob)
            reason = "" if shapely.is_valid(shape) else str(shapely.is_valid_reason(shape))
        except (ValueError, TypeError):
            reason = "it cannot be read"
        if reason:
            found.append(f"{table}, row {row}: its shape is bad ({reason}). Draw it again or remove it.")
    return found


def _bad_index(base: sqlite3.Connection, table: str) -> list[str]:
    tree = f"rtree_{table}_geom"
    (answer,) = base.execute("SELECT rtreecheck(?)", (tree,)).fetchone()
    rows = base.execute(
        f"SELECT count(*) FROM {table} WHERE geom NOTNULL AND NOT ST_IsEmpty(geom) AND "
        f"id NOT IN (SELECT id FROM {tree} WHERE minx <= ST_MinX(geom) AND maxx >= ST_MaxX(geom) "
        "AND miny <= ST_MinY(geom) AND maxy >= ST_MaxY(geom))"
    ).fetchone()[0]
    extra = base.execute(f"SELECT count(*) FROM {tree} WHERE id NOT IN (SELECT id FROM {table})").fetchone()[0]
    if answer == "ok" and not rows and not extra:
        return []
    return [
        f"{table}: its spatial index is not that of its shapes. Build it anew with: gladebook property check --mend"
    ]


def _bad_json(base: sqlite3.Connection) -> list[str]:
    found: list[str] = []
    for table in TABLES:
        for name, kind in table.columns:
            if "json_valid" not in kind:
                continue
            for row, text in base.execute(f'SELECT id, "{name}" FROM {table.name}'):
                try:
                    json.loads(text)
                except (TypeError, ValueError):
                    found.append(f"{table.name}, row {row}: its {name} cannot be read. Remove the row.")
    return found


def mend_indexes(base: sqlite3.Connection) -> None:
    """Build all spatial indexes anew from the shapes."""
    base.execute("BEGIN IMMEDIATE")
    for table in TABLES:
        if table.shapes:
            tree = f"rtree_{table.name}_geom"
            base.execute(f"DELETE FROM {tree}")
            base.execute(
                f"INSERT INTO {tree} SELECT id, ST_MinX(geom), ST_MaxX(geom), ST_MinY(geom), ST_MaxY(geom) "
                f"FROM {table.name} WHERE geom NOTNULL AND NOT ST_IsEmpty(geom)"
            )
    base.execute("COMMIT")
