"""The tables of a property file, and how an older file becomes one of today's.

The file is a GeoPackage 1.3 (OGC 12-128r17): `application_id`, `user_version` and the gpkg_ tables are the
standard's. Ours have a version of their own, in `gladebook_schema`, and are announced as an extension.

- Every table of ours has a number, as the standard asks for, and a `uid` that never changes.
- `plots` are as they are now; a boundary that was replaced, or whose plot was removed, lies in `plot_history`.
- What has no shape of its own keeps its contents as JSON in TEXT, so that a later version needs no new column.
- `gladebook_changes` and `gladebook_change_rows` hold what undo needs: each row as it was, and a mark of what it
  became. `gladebook_edits` is filled by triggers whenever another program writes: `gladebook_pen` says who holds the
  pen, inside the transaction that writes.
"""

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass

from gladebook.io.property.blobs import SRS_ID

__all__ = ["TABLES", "VERSION", "Table", "create", "migrate", "schema_version"]

VERSION = 2
_APPLICATION_ID = 0x47504B47  # "GPKG"
_USER_VERSION = 10300
_WGS84 = (
    'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563]],'
    'PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433],AUTHORITY["EPSG","4326"]]'
)


@dataclass(frozen=True)
class Table:
    """A table of ours: its columns besides `id` and `uid`, and the kind of its shapes, "" for none."""

    name: str
    columns: tuple[tuple[str, str], ...]
    shapes: str = ""
    words: str = ""

    @property
    def names(self) -> tuple[str, ...]:
        """All columns but the number, in order."""
        return ("uid", *(name for name, _ in self.columns), *(("geom",) if self.shapes else ()))


_OF_APPLICATION = "TEXT NOT NULL REFERENCES applications(uid) ON DELETE RESTRICT DEFERRABLE INITIALLY DEFERRED"
_JSON = "TEXT NOT NULL DEFAULT '{}' CHECK (json_valid({0}))"
_DAY = "TEXT NOT NULL DEFAULT ''"


def _json(name: str) -> tuple[str, str]:
    return name, _JSON.replace("{0}", name)


TABLES: tuple[Table, ...] = (
    Table(
        "plots",
        (("name", "TEXT NOT NULL UNIQUE"), ("since", _DAY), ("walked", "INTEGER NOT NULL DEFAULT 0"), _json("more")),
        "MULTIPOLYGON",
        "plots as they are now",
    ),
    Table(
        "plot_history",
        (("plot_uid", "TEXT NOT NULL"), ("name", "TEXT NOT NULL"), ("since", _DAY), ("until", _DAY), _json("more")),
        "MULTIPOLYGON",
        "boundaries that plots had",
    ),
    Table(
        "marks",
        (
            ("name", "TEXT NOT NULL"),
            ("kind", "TEXT NOT NULL CHECK (kind IN ('obstacle', 'check strip'))"),
            _json("more"),
        ),
        "MULTIPOLYGON",
        "obstacles, and ground left unsprayed on purpose",
    ),
    Table("sprayers", (("name", "TEXT NOT NULL"), ("day", _DAY), _json("content")), words="sprayers"),
    Table("products", (("name", "TEXT NOT NULL"), ("day", _DAY), _json("content")), words="products and label values"),
    Table(
        "applications",
        (("name", "TEXT NOT NULL"), ("day", _DAY), _json("answer"), _json("more")),
        words="applications and what they did",
    ),
    Table(
        "application_plots",
        (
            ("application_uid", _OF_APPLICATION),
            ("plot_uid", "TEXT NOT NULL"),
            ("name", "TEXT NOT NULL"),
            ("since", _DAY),
            _json("figures"),
        ),
        words="the plots of each application, with the day since which the boundary held that it was judged by",
    ),
    Table(
        "tracks",
        (("application_uid", _OF_APPLICATION), ("name", "TEXT NOT NULL"), ("clock", "TEXT NOT NULL"), _json("points")),
        "MULTILINESTRING",
        "the tracks of each application",
    ),
    Table(
        "strips",
        (
            ("application_uid", _OF_APPLICATION),
            ("plot", "TEXT NOT NULL"),
            ("number", "INTEGER NOT NULL"),
            (
                "state",
                "TEXT NOT NULL CHECK (state IN ('go look', 'can''t tell', 'boom off', 'seen', 'touched up', 'left'))",
            ),
            ("area_m2", "REAL NOT NULL"),
            _json("verdict"),
        ),
        "MULTIPOLYGON",
        "missed strips, and what became of them",
    ),
    Table("mixes", (("name", "TEXT NOT NULL"), ("day", _DAY), _json("content")), words="mixes"),
    Table("records", (("name", "TEXT NOT NULL"), ("day", _DAY), _json("content")), words="anything else that is kept"),
)

_STANDARD = (
    (
        "CREATE TABLE gpkg_spatial_ref_sys (srs_name TEXT NOT NULL, srs_id INTEGER PRIMARY KEY, "
        "organization TEXT NOT NULL, organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, "
        "description TEXT)"
    ),
    (
        "CREATE TABLE gpkg_contents (table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, "
        "identifier TEXT UNIQUE, description TEXT DEFAULT '', "
        "last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')), "
        "min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER, "
        "CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id))"
    ),
    (
        "CREATE TABLE gpkg_geometry_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL, "
        "geometry_type_name TEXT NOT NULL, srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL, "
        "CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name), "
        "CONSTRAINT uk_gc_table_name UNIQUE (table_name), "
        "CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name), "
        "CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id))"
    ),
    (
        "CREATE TABLE gpkg_extensions (table_name TEXT, column_name TEXT, extension_name TEXT NOT NULL, "
        "definition TEXT NOT NULL, scope TEXT NOT NULL, "
        "CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name))"
    ),
)
_OURS = (
    "CREATE TABLE gladebook_schema (version INTEGER NOT NULL, made TEXT NOT NULL, name TEXT NOT NULL)",
    (
        "CREATE TABLE gladebook_changes (number INTEGER PRIMARY KEY AUTOINCREMENT, at TEXT NOT NULL, "
        "words TEXT NOT NULL, undone INTEGER NOT NULL DEFAULT 0)"
    ),
    (
        "CREATE TABLE gladebook_change_rows (change INTEGER NOT NULL REFERENCES gladebook_changes(number), "
        "place INTEGER NOT NULL, table_name TEXT NOT NULL, uid TEXT NOT NULL, before TEXT, after TEXT, "
        "PRIMARY KEY (change, place))"
    ),
)
_EDITS = (
    "CREATE TABLE gladebook_pen (held INTEGER NOT NULL)",
    "INSERT INTO gladebook_pen VALUES (0)",
    (
        "CREATE TABLE gladebook_edits (number INTEGER PRIMARY KEY AUTOINCREMENT, "
        "at TEXT NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%SZ','now')), table_name TEXT NOT NULL, uid TEXT, "
        "what TEXT NOT NULL)"
    ),
)
_EXTENSION = "gladebook_property"
_HIDDEN = ("gladebook_schema", "gladebook_changes", "gladebook_change_rows", "gladebook_pen", "gladebook_edits")


def create(base: sqlite3.Connection, *, name: str, now: str) -> None:
    """Make the tables of an empty file, inside the transaction that is open."""
    base.execute(f"PRAGMA application_id = {_APPLICATION_ID}")
    base.execute(f"PRAGMA user_version = {_USER_VERSION}")
    for sql in (*_STANDARD, *_OURS):
        base.execute(sql)
    base.executemany(
        "INSERT INTO gpkg_spatial_ref_sys VALUES (?, ?, ?, ?, ?, ?)",
        [
            ("WGS 84 geodetic", SRS_ID, "EPSG", SRS_ID, _WGS84, "longitude and latitude in degrees"),
            ("Undefined cartesian SRS", -1, "NONE", -1, "undefined", "undefined cartesian coordinate system"),
            ("Undefined geographic SRS", 0, "NONE", 0, "undefined", "undefined geographic coordinate system"),
        ],
    )
    base.execute("INSERT INTO gladebook_schema VALUES (1, ?, ?)", (now, name))
    for table in TABLES:
        _create_table(base, table)
    migrate(base)


def _create_table(base: sqlite3.Connection, table: Table) -> None:
    columns = ["id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL", "uid TEXT UNIQUE"]
    columns += [f'"{name}" {kind}' for name, kind in table.columns]
    if table.shapes:
        columns.append(f"geom {table.shapes}")
    base.execute(f"CREATE TABLE {table.name} ({', '.join(columns)})")
    kind = "features" if table.shapes else "attributes"
    base.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, srs_id) VALUES (?, ?, ?, ?, ?)",
        (table.name, kind, table.name, table.words, SRS_ID if table.shapes else None),
    )
    if table.shapes:
        base.execute(
            "INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', ?, ?, 0, 0)", (table.name, table.shapes, SRS_ID)
        )
        _index(base, table.name)


def _index(base: sqlite3.Connection, name: str) -> None:
    """The spatial index of a table, with all triggers of Annex F.3."""
    tree = f"rtree_{name}_geom"
    base.execute(f"CREATE VIRTUAL TABLE {tree} USING rtree(id, minx, maxx, miny, maxy)")
    put = (
        f"INSERT OR REPLACE INTO {tree} VALUES "
        "(NEW.id, ST_MinX(NEW.geom), ST_MaxX(NEW.geom), ST_MinY(NEW.geom), ST_MaxY(NEW.geom));"
    )
    there, gone = "NEW.geom NOTNULL AND NOT ST_IsEmpty(NEW.geom)", "(NEW.geom ISNULL OR ST_IsEmpty(NEW.geom))"
    drop_old = f"DELETE FROM {tree} WHERE id = OLD.id;"
    for trigger, when, what, do in (
        ("insert", f"AFTER INSERT ON {name}", f"({there})", put),
        ("update1", f"AFTER UPDATE OF geom ON {name}", f"OLD.id = NEW.id AND ({there})", put),
        ("update2", f"AFTER UPDATE OF geom ON {name}", f"OLD.id = NEW.id AND {gone}", drop_old),
        ("update3", f"AFTER UPDATE ON {name}", f"OLD.id != NEW.id AND ({there})", f"{drop_old} {put}"),
        (
            "update4",
            f"AFTER UPDATE ON {name}",
            f"OLD.id != NEW.id AND {gone}",
            f"DELETE FROM {tree} WHERE id IN (OLD.id, NEW.id);",
        ),
        ("delete", f"AFTER DELETE ON {name}", "OLD.geom NOTNULL", drop_old),
    ):
        base.execute(f"CREATE TRIGGER {tree}_{trigger} {when} WHEN {what} BEGIN {do} END")
    base.execute(
        "INSERT INTO gpkg_extensions VALUES (?, 'geom', 'gpkg_rtree_index', ?, 'write-only')",
        (name, "http://www.geopackage.org/spec130/#extension_rtree"),
    )


def _to_2(base: sqlite3.Connection) -> None:
    """Notice what other programs write; announce our own tables."""
    for sql in _EDITS:
        base.execute(sql)
    for table in TABLES:
        others = "(SELECT held FROM gladebook_pen) = 0"
        base.execute(f"UPDATE {table.name} SET uid = lower(hex(randomblob(16))) WHERE uid IS NULL")
        note = f"INSERT INTO gladebook_edits (table_name, uid, what) SELECT '{table.name}'"
        # A row that another program adds has no id of ours yet, and one that it changes may lose it.
        new_uid = f"UPDATE {table.name} SET uid = {{0}} WHERE id = NEW.id AND uid IS NULL;"
        for word, when, do in (
            (
                "added",
                f"INSERT ON {table.name} WHEN {others}",
                new_uid.format("lower(hex(randomblob(16)))")
                + f"{note}, uid, 'added' FROM {table.name} WHERE id = NEW.id;",
            ),
            (
                "changed",
                f"UPDATE ON {table.name} WHEN {others} AND OLD.uid NOTNULL",
                f"{new_uid.format('OLD.uid')}{note}, OLD.uid, 'changed';",
            ),
            ("removed", f"DELETE ON {table.name} WHEN {others}", f"{note}, OLD.uid, 'removed';"),
        ):
            base.execute(f"CREATE TRIGGER gladebook_{table.name}_{word} AFTER {when} BEGIN {do} END")
    base.executemany(
        "INSERT INTO gpkg_extensions VALUES (?, NULL, ?, 'The README of gladebook says what these tables hold.', "
        "'read-write')",
        [(name, _EXTENSION) for name in _HIDDEN],
    )


_MIGRATIONS: dict[int, Callable[[sqlite3.Connection], None]] = {2: _to_2}


def schema_version(base: sqlite3.Connection) -> int | None:
    """The version of a file's tables of ours; None where it has none."""
    if not base.execute("SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'gladebook_schema'").fetchone():
        return None
    row = base.execute("SELECT version FROM gladebook_schema").fetchone()
    return int(row[0]) if row else None


def migrate(base: sqlite3.Connection) -> None:
    """Bring the tables to today's version, inside the transaction that is open."""
    version = schema_version(base) or 1
    for number in range(version + 1, VERSION + 1):
        _MIGRATIONS[number](base)
        base.execute("UPDATE gladebook_schema SET version = ?", (number,))
