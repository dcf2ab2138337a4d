"""A property file of version 1, made by statements of its own: what later versions do to the schema cannot reach it."""

import hashlib
import json
import sqlite3
import struct
from collections.abc import Mapping
from contextlib import closing
from pathlib import Path
from typing import Any

import shapely

__all__ = ["APPLICATION", "PLOTS", "make_version_1"]

PLOTS = {
    "a" * 32: ("North Glade", "POLYGON ((-83.44 31.2, -83.439 31.2, -83.4391 31.2009, -83.44 31.2))", "2026-03-01"),
    "b" * 32: ('Поляна\'s "End"', "POLYGON ((-83.43 31.2, -83.429 31.2, -83.4291 31.2009, -83.43 31.2))", ""),
}
_OLD = "POLYGON ((-83.44 31.2, -83.439 31.2, -83.4391 31.2019, -83.44 31.2))"
APPLICATION = "c" * 32
_JSON = "TEXT NOT NULL DEFAULT '{}' CHECK (json_valid({0}))"
_OF = "TEXT NOT NULL REFERENCES applications(uid) ON DELETE RESTRICT DEFERRABLE INITIALLY DEFERRED"
_DAY = "TEXT NOT NULL DEFAULT ''"
_NAMED = {"name": "TEXT NOT NULL", "day": _DAY, "content": _JSON}
_STATES = "'go look', 'can''t tell', 'boom off', 'seen', 'touched up', 'left'"
_TABLES: dict[str, tuple[str, dict[str, str]]] = {
    "plots": (
        "MULTIPOLYGON",
        {"name": "TEXT NOT NULL UNIQUE", "since": _DAY, "walked": "INTEGER NOT NULL DEFAULT 0", "more": _JSON},
    ),
    "plot_history": (
        "MULTIPOLYGON",
        {"plot_uid": "TEXT NOT NULL", "name": "TEXT NOT NULL", "since": _DAY, "until": _DAY, "more": _JSON},
    ),
    "marks": (
        "MULTIPOLYGON",
        {
            "name": "TEXT NOT NULL",
            "kind": "TEXT NOT NULL CHECK (kind IN ('obstacle', 'check strip'))",
            "more": _JSON,
        },
    ),
    "sprayers": ("", _NAMED),
    "products": ("", _NAMED),
    "applications": ("", {"name": "TEXT NOT NULL", "day": _DAY, "answer": _JSON, "more": _JSON}),
    "application_plots": (
        "",
        {
            "application_uid": _OF,
            "plot_uid": "TEXT NOT NULL",
            "name": "TEXT NOT NULL",
            "since": _DAY,
            "figures": _JSON,
        },
    ),
    "tracks": (
        "MULTILINESTRING",
        {"application_uid": _OF, "name": "TEXT NOT NULL", "clock": "TEXT NOT NULL", "points": _JSON},
    ),
    "strips": (
        "MULTIPOLYGON",
        {
            "application_uid": _OF,
            "plot": "TEXT NOT NULL",
            "number": "INTEGER NOT NULL",
            "state": f"TEXT NOT NULL CHECK (state IN ({_STATES}))",
            "area_m2": "REAL NOT NULL",
            "verdict": _JSON,
        },
    ),
    "mixes": ("", _NAMED),
    "records": ("", _NAMED),
}
_STANDARD = """
PRAGMA application_id = 1196444487;
PRAGMA user_version = 10300;
CREATE TABLE gpkg_spatial_ref_sys (srs_name TEXT NOT NULL, srs_id INTEGER PRIMARY KEY, organization TEXT NOT NULL,
 organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT);
INSERT INTO gpkg_spatial_ref_sys VALUES
 ('WGS 84 geodetic', 4326, 'EPSG', 4326, 'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563]],
PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433],AUTHORITY["EPSG","4326"]]', ''),
 ('Undefined cartesian SRS', -1, 'NONE', -1, 'undefined', ''),
 ('Undefined geographic SRS', 0, 'NONE', 0, 'undefined', '');
CREATE TABLE gpkg_contents (table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE,
 description TEXT DEFAULT '', last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
 min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER,
 CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
CREATE TABLE gpkg_geometry_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT
 NOT NULL, srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL,
 CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name), CONSTRAINT uk_gc_table_name UNIQUE (table_name),
 CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
 CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id));
CREATE TABLE gpkg_extensions (table_name TEXT, column_name TEXT, extension_name TEXT NOT NULL, definition TEXT
 NOT NULL, scope TEXT NOT NULL, CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name));
CREATE TABLE gladebook_schema (version INTEGER NOT NULL, made TEXT NOT NULL, name TEXT NOT NULL);
CREATE TABLE gladebook_changes (number INTEGER PRIMARY KEY AUTOINCREMENT, at TEXT NOT NULL, words TEXT NOT NULL,
 undone INTEGER NOT NULL DEFAULT 0);
CREATE TABLE gladebook_change_rows (change INTEGER NOT NULL REFERENCES gladebook_changes(number),
 place INTEGER NOT NULL, table_name TEXT NOT NULL, uid TEXT NOT NULL, before TEXT, after TEXT,
 PRIMARY KEY (change, place));
INSERT INTO gladebook_schema VALUES (1, '2026-03-01T06:00:00.000Z', 'Hollow Creek');
"""
_INDEX = """
CREATE VIRTUAL TABLE rtree_{t}_geom USING rtree(id, minx, maxx, miny, maxy);
CREATE TRIGGER rtree_{t}_geom_insert AFTER INSERT ON {t} WHEN (NEW.geom NOTNULL AND NOT ST_IsEmpty(NEW.geom))
BEGIN {put} END;
CREATE TRIGGER rtree_{t}_geom_update1 AFTER UPDATE OF geom ON {t}
WHEN OLD.id = NEW.id AND (NEW.geom NOTNULL AND NOT ST_IsEmpty(NEW.geom)) BEGIN {put} END;
CREATE TRIGGER rtree_{t}_geom_update2 AFTER UPDATE OF geom ON {t}
WHEN OLD.id = NEW.id AND (NEW.geom ISNULL OR ST_IsEmpty(NEW.geom))
BEGIN DELETE FROM rtree_{t}_geom WHERE id = OLD.id; END;
CREATE TRIGGER rtree_{t}_geom_update3 AFTER UPDATE ON {t}
WHEN OLD.id != NEW.id AND (NEW.geom NOTNULL AND NOT ST_IsEmpty(NEW.geom))
BEGIN DELETE FROM rtree_{t}_geom WHERE id = OLD.id; {put} END;
CREATE TRIGGER rtree_{t}_geom_update4 AFTER UPDATE ON {t}
WHEN OLD.id != NEW.id AND (NEW.geom ISNULL OR ST_IsEmpty(NEW.geom))
BEGIN DELETE FROM rtree_{t}_geom WHERE id IN (OLD.id, NEW.id); END;
CREATE TRIGGER rtree_{t}_geom_delete AFTER DELETE ON {t} WHEN OLD.geom NOTNULL
BEGIN DELETE FROM rtree_{t}_geom WHERE id = OLD.id; END;
INSERT INTO gpkg_geometry_columns VALUES ('{t}', 'geom', '{kind}', 4326, 0, 0);
INSERT INTO gpkg_extensions
VALUES ('{t}', 'geom', 'gpkg_rtree_index', 'http://www.geopackage.org/spec130/#extension_rtree', 'write-only');
"""
_PUT = (
    "INSERT OR REPLACE INTO rtree_{t}_geom VALUES "
    "(NEW.id, ST_MinX(NEW.geom), ST_MaxX(NEW.geom), ST_MinY(NEW.geom), ST_MaxY(NEW.geom));"
)


def make_version_1(path: Path) -> None:
    """A file with two plots, one of them redrawn, and an application with a track and a strip."""
    with closing(sqlite3.connect(path, isolation_level=None)) as base:
        base.create_function("ST_IsEmpty", 1, lambda blob: None if blob is None else 0)
        for place, name in enumerate(("ST_MinX", "ST_MaxX", "ST_MinY", "ST_MaxY")):
            base.create_function(name, 1, lambda blob, place=place: struct.unpack_from("<4d", blob, 8)[place])
        base.execute("PRAGMA journal_mode = WAL")
        base.executescript(_STANDARD)
        for table, (kind, columns) in _TABLES.items():
            _table(base, table, kind=kind, columns=columns)
        _fill(base)


def _table(base: sqlite3.Connection, table: str, *, kind: str, columns: Mapping[str, str]) -> None:
    own = [f'"{name}" {sql.replace("{0}", name)}' for name, sql in columns.items()]
    first = ["id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL", "uid TEXT UNIQUE"]
    last = [f"geom {kind}"] if kind else []
    base.execute(f"CREATE TABLE {table} ({', '.join([*first, *own, *last])})")
    base.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) VALUES (?, ?, ?, ?)",
        (table, "features" if kind else "attributes", table, 4326 if kind else None),
    )
    if kind:
        base.executescript(_INDEX.format(t=table, kind=kind, put=_PUT.format(t=table)))


def _blob(text: str, kind: type) -> bytes:
    shape = kind([shapely.from_wkt(text)])
    west, south, east, north = shape.bounds
    head = b"GP\x00\x03" + struct.pack("<i4d", 4326, west, east, south, north)
    return head + bytes(shapely.to_wkb(shape, byte_order=1))


def _text(row: Mapping[str, Any]) -> str:
    return json.dumps({k: {"hex": v.hex()} if isinstance(v, bytes) else v for k, v in row.items()})


def _add(base: sqlite3.Connection, table: str, **row: Any) -> tuple[str, str]:
    """Add a row; its table, and the mark that undo knows it by."""
    columns = [*_TABLES[table][1], *(["geom"] if _TABLES[table][0] else [])]
    whole = {"uid": row["uid"], **{name: row.get(name, "{}" if name == "more" else "") for name in columns}}
    names = ", ".join(f'"{name}"' for name in whole)
    base.execute(f"INSERT INTO {table} ({names}) VALUES ({', '.join('?' * len(whole))})", tuple(whole.values()))  # noqa: S608 - names of tables of ours
    return table, hashlib.sha256(_text(whole).encode()).hexdigest()


def _change(base: sqlite3.Connection, words: str, rows: list[tuple[str, str, str | None, str]]) -> None:
    """Rows: table, uid, the row before, the mark after."""
    number = base.execute(
        "INSERT INTO gladebook_changes (at, words) VALUES ('2026-03-02T06:00:00.000Z', ?)", (words,)
    ).lastrowid
    for place, row in enumerate(rows, 1):
        base.execute("INSERT INTO gladebook_change_rows VALUES (?, ?, ?, ?, ?, ?)", (number, place, *row))


def _fill(base: sqlite3.Connection) -> None:
    area, line = shapely.MultiPolygon, shapely.MultiLineString
    for uid, (name, text, since) in PLOTS.items():
        row = {"uid": uid, "name": name, "since": since, "walked": 0, "geom": _blob(text, area)}
        if uid != "a" * 32:
            table, mark = _add(base, "plots", **row)
            _change(base, f"{name} was added", [(table, uid, None, mark)])
            continue
        old = {**row, "since": "2026-01-01", "more": "{}", "geom": _blob(_OLD, area)}
        before = {k: old[k] for k in ("uid", "name", "since", "walked", "more", "geom")}
        was = hashlib.sha256(_text(before).encode()).hexdigest()
        table, mark = _add(base, "plots", **row)
        _change(base, f"{name} was added", [(table, uid, None, was)])
        history, buried = _add(
            base,
            "plot_history",
            uid="d" * 32,
            plot_uid=uid,
            name=name,
            since="2026-01-01",
            until=since,
            geom=old["geom"],
        )
        _change(
            base,
            f"{name} was redrawn",
            [(history, "d" * 32, None, buried), (table, uid, _text(before), mark)],
        )
    points = {name: [0.5, None] for name in ("time_s", "width_m", "speed_mps", "hdop")}
    whole = {"segment": [0, 0], "boom_on": [1, 0], "sections": [[1, 0], [0, -1]], "void_points": 2}
    here = {"lon_deg": [-83.44, -83.4399], "lat_deg": [31.2, 31.2001]}
    named = {"application_uid": APPLICATION, "uid": "e" * 32}
    done = [
        _add(base, "applications", uid=APPLICATION, name="first", day="2026-03-05", answer='{"missed_m2": 4.25}'),
        _add(base, "application_plots", plot_uid="a" * 32, name="North Glade", figures="{}", **named),
        _add(
            base,
            "tracks",
            name="walk.gpx",
            clock="utc",
            points=json.dumps({**points, **whole, **here}),
            geom=_blob("LINESTRING (-83.44 31.2, -83.4399 31.2001)", line),
            **named,
        ),
        _add(
            base,
            "strips",
            plot="North Glade",
            number=1,
            state="go look",
            area_m2=4.25,
            verdict='{"chance": 0.75}',
            geom=_blob("POLYGON ((-83.44 31.2, -83.4399 31.2, -83.4399 31.2001, -83.44 31.2))", area),
            **named,
        ),
    ]
    uids = (APPLICATION, "e" * 32, "e" * 32, "e" * 32)
    _change(base, "first was saved", [(t, uid, None, mark) for uid, (t, mark) in zip(uids, done, strict=True)])
