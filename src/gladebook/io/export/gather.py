"""Read what a property holds, for any format; what cannot be read, as in a damaged file, is left out and counted."""

import json
import re
import sqlite3
from collections import Counter
from collections.abc import Mapping
from typing import Any

import shapely

from gladebook.geometry.area import geodesic_area_m2
from gladebook.io.export.held import Area, Held, HeldTrack, Layer, counted, pieces_of, polygons_of
from gladebook.io.property.blobs import unpack
from gladebook.io.property.store import KEPT, tracks_of
from gladebook.units import ACRE_M2

__all__ = ["gathered"]

_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_NO_SHAPE, _NO_TRACK, _LISTS = "shapes", "tracks", "lists"


def gathered(base: sqlite3.Connection) -> tuple[Held, list[str]]:
    """All that is exported, and sentences on what of the property is left out of it."""
    lost: Counter[str] = Counter()
    layers = {
        "plots": _plots(base),
        "obstacles": _marks(base, kind="obstacle"),
        "check-strips": _marks(base, kind="check strip"),
        "missed-strips": _strips(base),
    }
    drawn = {kind: tuple(a for a in areas if polygons_of(a.shape)) for kind, areas in layers.items()}
    lost[_NO_SHAPE] = sum(map(len, layers.values())) - sum(map(len, drawn.values()))
    tracks, applications = _applications(base, lost)
    held = Held(
        tuple(Layer(kind, areas) for kind, areas in drawn.items() if areas),
        tuple(tracks),
        {"applications": applications, "application-plots": _plots_of_applications(base, lost)},
    )
    return held, _left_out(base, lost)


def _plots(base: sqlite3.Connection) -> list[Area]:
    rows = base.execute("SELECT uid, name, since, walked, geom FROM plots ORDER BY id").fetchall()
    found = []
    for uid, name, since, walked, blob in rows:
        shape = _shape(blob)
        fields = {"since": since, "acres": _acres(shape), "walked": bool(walked), "uid": uid}
        found.append(Area(name, shape, fields, walked=bool(walked)))
    return found


def _marks(base: sqlite3.Connection, *, kind: str) -> list[Area]:
    rows = base.execute("SELECT uid, name, geom FROM marks WHERE kind = ? ORDER BY id", (kind,)).fetchall()
    shapes = [_shape(blob) for _, _, blob in rows]
    return [
        Area(name, shape, {"acres": _acres(shape), "uid": uid})
        for (uid, name, _), shape in zip(rows, shapes, strict=True)
    ]


def _strips(base: sqlite3.Connection) -> list[Area]:
    rows = base.execute(
        "SELECT s.uid, a.name, a.day, s.plot, s.number, s.state, s.area_m2, s.verdict, s.geom FROM strips s "
        "JOIN applications a ON a.uid = s.application_uid ORDER BY a.day, a.id, s.number"
    ).fetchall()
    found = []
    for uid, work, day, plot, number, state, area_m2, verdict, blob in rows:
        fields = {"plot": plot, "number": number, "state": state, "acres": area_m2 / ACRE_M2}
        fields |= {"application": work, "day": day}
        judged, _ = _flat(_object(verdict))
        fields |= {key if key not in fields else f"verdict_{key}": value for key, value in judged.items()}
        found.append(Area(f"{plot}, strip {number}", _shape(blob), {**fields, "uid": uid}))
    return found


def _applications(base: sqlite3.Connection, lost: Counter[str]) -> tuple[list[HeldTrack], list[dict[str, Any]]]:
    """The tracks, and a row for each application."""
    tracks: list[HeldTrack] = []
    rows: list[dict[str, Any]] = []
    for uid, name, day, answer in base.execute("SELECT uid, name, day, answer FROM applications ORDER BY day, id"):
        (count,) = base.execute("SELECT count(*) FROM tracks WHERE application_uid = ?", (uid,)).fetchone()
        try:
            found = [track for track in tracks_of(base, uid) if pieces_of(track)]
        except ValueError:
            found = []
        lost[_NO_TRACK] += count - len(found)
        dated = f"-{day[:10]}" if _DAY.match(day) else ""
        files = [f"track-{len(tracks) + i}{dated}" for i in range(1, len(found) + 1)]
        tracks += [HeldTrack(file, track, name, day) for file, track in zip(files, found, strict=True)]
        sums, lists = _flat(_object(answer))
        lost[_LISTS] += lists
        rows.append({**sums, "name": name, "day": day, "tracks": "; ".join(files), "uid": uid})
        first = ("name", "day", "tracks", "uid")
        rows[-1] = {key: rows[-1][key] for key in (*first, *(k for k in sums if k not in first))}
    return tracks, rows


def _plots_of_applications(base: sqlite3.Connection, lost: Counter[str]) -> list[dict[str, Any]]:
    """What each application did in each plot, a row each."""
    rows: list[dict[str, Any]] = []
    for work, day, plot, since, figures, uid in base.execute(
        "SELECT a.name, a.day, p.name, p.since, p.figures, a.uid FROM application_plots p "
        "JOIN applications a ON a.uid = p.application_uid ORDER BY a.day, a.id, p.id"
    ):
        known = {"application": work, "day": day, "plot": plot, "boundary_since": since, "application_uid": uid}
        sums, lists = _flat(_object(figures))
        lost[_LISTS] += lists
        rows.append(known | {key: value for key, value in sums.items() if key not in known})
    return rows


def _shape(blob: bytes | None) -> Any:
    """The shape of a row; an empty one where it has none that can be read."""
    try:
        parts = [] if blob is None else polygons_of(unpack(blob))
    except (ValueError, TypeError):
        parts = []
    return shapely.MultiPolygon(parts)


def _acres(shape: Any) -> float:
    return geodesic_area_m2(shape) / ACRE_M2


def _object(text: str) -> Mapping[str, Any]:
    try:
        found = json.loads(text)
    except (TypeError, ValueError):
        return {}
    return found if isinstance(found, Mapping) else {}


def _flat(content: Mapping[str, Any]) -> tuple[dict[str, Any], int]:
    """Figures and words of a JSON object and of objects in it, by name; and how many lists were left out."""
    found: dict[str, Any] = {}
    lists = 0
    for key, value in content.items():
        if isinstance(value, Mapping):
            inner, more = _flat(value)
            found |= {f"{key}_{name}": held for name, held in inner.items()}
            lists += more
        elif isinstance(value, list):
            lists += bool(value)
        else:
            # JSON can spell half a letter, which no file holds.
            found[key] = value.encode(errors="replace").decode() if isinstance(value, str) else value
    return found, lists


def _left_out(base: sqlite3.Connection, lost: Counter[str]) -> list[str]:
    kept = [("plot_history", "earlier boundary", "earlier boundaries")]
    kept += [(table, table.removesuffix("es" if table == "mixes" else "s"), table) for table in KEPT]
    # The names of tables are ours.
    counts = [(base.execute(f"SELECT count(*) FROM {table}").fetchone()[0], *words) for table, *words in kept]  # noqa: S608
    said = []
    if lost[_LISTS]:
        said.append("Of applications the tables hold figures and words; lists, as of passes and notices, are left out.")
    if any(number for number, *_ in counts):
        words = ", ".join(counted(number, *names) for number, *names in counts if number)
        said.append(f"Left out, as only a GeoPackage holds them: {words}.")
    if lost[_NO_SHAPE]:
        said.append(f"Left out, as they have no shape that can be drawn: {counted(lost[_NO_SHAPE], 'row')}.")
    if lost[_NO_TRACK]:
        said.append(f"Left out, as they have no points that can be read: {counted(lost[_NO_TRACK], 'track')}.")
    return said
