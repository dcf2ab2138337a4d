"""A GeoPackage for other programs: a copy without our own tables and triggers, with acres beside each area.

The copy is made by SQLite (VACUUM INTO), so that nothing else opens the property file. What undo needs goes, and the
copy is written anew after that: no trace of what was removed from the property stays in it.
"""

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import shapely

from gladebook.geometry.area import geodesic_area_m2
from gladebook.io.export.held import counted, polygons_of
from gladebook.io.property.blobs import add_functions, unpack
from gladebook.units import ACRE_M2

__all__ = ["write"]

_OURS = "LIKE 'gladebook\\_%' ESCAPE '\\'"
_WITH_ACRES = ("plots", "plot_history", "marks", "strips")


def write(base: sqlite3.Connection, copy: Path) -> list[str]:
    """Write the copy, and say what it does not hold.

    Parameters
    ----------
    base
        The property, open and not in a transaction.
    copy
        The file to make.
    """
    base.execute("VACUUM INTO ?", (str(copy.resolve()),))
    with closing(sqlite3.connect(copy, isolation_level=None)) as out:
        add_functions(out)
        out.execute("PRAGMA trusted_schema = ON")  # the standard's own triggers call functions
        out.execute("PRAGMA journal_mode = DELETE")
        out.execute("BEGIN")
        (changes,) = out.execute("SELECT count(*) FROM gladebook_changes").fetchone()
        _drop_ours(out)
        for table in _WITH_ACRES:
            _add_acres(out, table)
        out.execute("COMMIT")
        out.execute("VACUUM")
    if not changes:
        return []
    words = f"A GeoPackage for other programs holds no undo: {counted(changes, 'change')} can be taken back"
    return [f"{words} in the property file only. A full copy is made by: gladebook property backup"]


def _drop_ours(out: sqlite3.Connection) -> None:
    for kind in ("trigger", "view", "index", "table"):
        wanted = f"SELECT name FROM sqlite_master WHERE type = ? AND name {_OURS}"  # noqa: S608 - text of our own
        names = out.execute(wanted, (kind,)).fetchall()
        for (name,) in names:
            out.execute(f'DROP {kind} "{name}"')
    out.execute(f"DELETE FROM gpkg_extensions WHERE table_name {_OURS}")  # noqa: S608 - as above
    out.execute(f"DELETE FROM sqlite_sequence WHERE name {_OURS}")  # noqa: S608 - as above


def _add_acres(out: sqlite3.Connection, table: str) -> None:
    """Add acres to each area of a layer, and the layer's bounds to its contents."""
    out.execute(f"ALTER TABLE {table} ADD COLUMN acres REAL")
    rows = out.execute(f"SELECT id, geom FROM {table} WHERE geom NOTNULL").fetchall()  # noqa: S608 - a name of our own
    shapes = [(row, shape) for row, blob in rows if (shape := _readable(blob)) is not None]
    acres = [(sum(map(geodesic_area_m2, polygons_of(shape))) / ACRE_M2, row) for row, shape in shapes]
    out.executemany(f"UPDATE {table} SET acres = ? WHERE id = ?", acres)  # noqa: S608 - as above
    if table == "strips":
        out.execute("UPDATE strips SET acres = area_m2 / ?", (ACRE_M2,))
    kept = [shape for _, shape in shapes if not shapely.is_empty(shape)]
    if kept:
        bounds = shapely.total_bounds(kept).tolist()
        out.execute(
            "UPDATE gpkg_contents SET min_x = ?, min_y = ?, max_x = ?, max_y = ? WHERE table_name = ?", (*bounds, table)
        )


def _readable(blob: bytes) -> Any:
    try:
        return unpack(blob)
    except (ValueError, TypeError):
        return None
