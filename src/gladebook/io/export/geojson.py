"""GeoJSON by RFC 7946: a file for each kind of area; each track a file of points with all that was recorded."""

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from gladebook.io.export.held import Held, HeldTrack, counted, pieces_of, polygons_of, put, times_of
from gladebook.io.write import as_geojson

__all__ = ["write"]

_FIGURES = ("width_m", "speed_mps", "hdop")


def write(held: Held, folder: Path) -> list[str]:
    """Write all files, and say what they cannot hold."""
    for layer in held.layers:
        features = [(_shape(a.shape), {"name": a.name, **a.fields}) for a in layer.areas]
        put(folder, f"{layer.kind}.geojson", as_geojson(features).encode())
    for track in held.tracks:
        put(folder, f"tracks/{track.file}.geojson", _points(track).encode())
    several = sum(len(pieces_of(track.track)) > 1 for track in held.tracks)
    if not several:
        return []
    words = "GeoJSON points are read back as one piece; where a recording began anew is in their field piece"
    return [f"{words} ({counted(several, 'track')}). CSV parts them."]


def _shape(shape: Any) -> Any:
    parts = polygons_of(shape)
    return parts[0] if len(parts) == 1 else shapely.multipolygons(parts)


def _points(held: HeldTrack) -> str:
    """A FeatureCollection of a track's points, one a line."""
    track = held.track
    times, _ = times_of(track)
    places = np.column_stack([track.lon_deg, track.lat_deg]).tolist()
    figures = {name: getattr(track, name).tolist() for name in _FIGURES}
    lines = []
    for number, piece in enumerate(pieces_of(track), start=1):
        for i in piece.tolist():
            fields: dict[str, Any] = {"time": times[i] or None, "piece": number, "boom_on": _state(track.boom_on[i])}
            fields |= {name: values[i] if math.isfinite(values[i]) else None for name, values in figures.items()}
            if track.sections is not None:
                fields |= {f"section_{k}": _state(s) for k, s in enumerate(track.sections[i], start=1)}
            place = {"type": "Point", "coordinates": places[i]}
            lines.append(json.dumps({"type": "Feature", "properties": fields, "geometry": place}, allow_nan=False))
    return '{"type": "FeatureCollection", "features": [\n' + ",\n".join(lines) + "\n]}\n"


def _state(value: Any) -> int | None:
    return None if value < 0 else int(value)
