"""Tables as CSV: areas as well-known text (OGC 06-103r4), tracks point by point, and what has no shape."""

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from gladebook.io.export.held import Held, HeldTrack, Texts, counted, pieces_of, polygons_of, put, times_of
from gladebook.io.write import as_csv

__all__ = ["write", "write_tables"]

_NUL = re.compile("\x00")
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_POINT = ("time", "lat", "lon", "boom_on", "width_m", "speed_mps", "hdop")


def write(held: Held, folder: Path) -> list[str]:
    """Write areas and tracks, and say what their files cannot hold."""
    said = []
    rows = [
        {"WKT": shapely.to_wkt(_shape(a.shape), rounding_precision=-1), "name": a.name, **a.fields}
        for layer in held.layers
        for a in layer.areas
    ]
    sizes = [len(layer.areas) for layer in held.layers]
    texts = Texts(forbidden=_NUL)
    for layer, end, size in zip(held.layers, np.cumsum(sizes).tolist(), sizes, strict=True):
        # Shapes come first: a reader that looks for them by their words would take a plot called Point for one.
        put(folder, f"{layer.kind}.csv", _table(rows[end - size : end], texts))
    if rows:
        said.append("CSV does not state its coordinate system: read its shapes back with --crs EPSG:4326.")
    for track in held.tracks:
        put(folder, f"tracks/{track.file}.csv", _points(track).encode())
    return [*said, *texts.said("CSV"), *_apostrophes(rows)]


def write_tables(held: Held, folder: Path) -> list[str]:
    """Write what has no shape, beside the files of any format, and say what its files cannot hold."""
    texts = Texts(forbidden=_NUL)
    for name, rows in held.tables.items():
        if rows:
            put(folder, f"{name}.csv", _table(rows, texts))
    return [*texts.said("CSV"), *_apostrophes([row for rows in held.tables.values() for row in rows])]


def _shape(shape: Any) -> Any:
    parts = shapely.orient_polygons(polygons_of(shape)).tolist()
    return parts[0] if len(parts) == 1 else shapely.multipolygons(parts)


def _table(rows: Sequence[Mapping[str, Any]], texts: Texts) -> bytes:
    columns = list(dict.fromkeys(key for row in rows for key in row))
    cells = [[_cell(row.get(column), texts) for column in columns] for row in rows]
    return as_csv(columns, cells).encode()


def _cell(value: Any, texts: Texts) -> Any:
    if isinstance(value, bool):
        return int(value)
    return texts.fit(value) if isinstance(value, str) else value


def _apostrophes(rows: Sequence[Mapping[str, Any]]) -> list[str]:
    found = sum(isinstance(v, str) and v.startswith(_FORMULA) for row in rows for v in row.values())
    if not found:
        return []
    words = f"CSV: an apostrophe stands before {counted(found, 'text')} that would begin with =, +, - or @"
    return [f"{words}, so that no spreadsheet takes it for a formula."]


def _points(held: HeldTrack) -> str:
    """A row a point; the heading is repeated where a piece ends, as our own reader parts them there."""
    track = held.track
    times, _ = times_of(track)
    states = [track.boom_on, *([] if track.sections is None else list(track.sections.T))]
    heading = [*_POINT, *(f"section_{k}" for k in range(1, len(states)))]
    columns = [times, *(_figures(values) for values in (track.lat_deg, track.lon_deg)), _states(states[0])]
    columns += [_figures(values) for values in (track.width_m, track.speed_mps, track.hdop)]
    columns += [_states(values) for values in states[1:]]
    rows = list(zip(*columns, strict=True))
    parted: list[Sequence[Any]] = []
    for piece in pieces_of(track):
        parted += [heading] if parted else []
        parted += [rows[i] for i in piece.tolist()]
    return as_csv(heading, parted)


def _figures(values: Any) -> list[Any]:
    return ["" if not np.isfinite(v) else v for v in values.tolist()]


def _states(values: Any) -> list[Any]:
    return ["" if v < 0 else v for v in values.tolist()]
