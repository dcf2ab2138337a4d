"""KML 2.2 (OGC 07-147r2): a file for each kind of area, and one of all tracks as lines."""

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from gladebook.io.export.held import (
    Area,
    Held,
    HeldTrack,
    Texts,
    counted,
    figure,
    pieces_of,
    polygons_of,
    put,
    single_points_left_out,
)

__all__ = ["write"]

_HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n<kml xmlns="http://www.opengis.net/kml/2.2">\n<Document>\n'
_TAIL = "</Document>\n</kml>\n"


def write(held: Held, folder: Path) -> list[str]:
    """Write all files, and say what they cannot hold."""
    texts = Texts()
    for layer in held.layers:
        _put(folder, layer.kind, [_area(a, texts) for a in layer.areas])
    drawn = [t for t in held.tracks if any(len(piece) > 1 for piece in pieces_of(t.track))]
    if drawn:
        _put(folder, "tracks", [_track(t, texts) for t in drawn])
    said = single_points_left_out(held.tracks, format_name="KML")
    if held.tracks:
        said.append(
            f"KML holds tracks as lines: times, speeds, boom states and widths of {counted(len(held.tracks), 'track')} "
            "are left out. CSV holds them."
        )
    return [*texts.said("KML"), *said]


def _put(folder: Path, kind: str, marks: Iterable[str]) -> None:
    put(folder, f"{kind}.kml", f"{_HEAD}<name>{kind}</name>\n{''.join(marks)}{_TAIL}".encode())


def _mark(name: str, fields: Mapping[str, Any], shapes: list[str], texts: Texts) -> str:
    rows = "".join(
        f"<Data name={quoteattr(texts.fit(key))}><value>{_text(_shown(value), texts)}</value></Data>"
        for key, value in fields.items()
        if value is not None
    )
    shape = shapes[0] if len(shapes) == 1 else f"<MultiGeometry>{''.join(shapes)}</MultiGeometry>"
    return f"<Placemark><name>{_text(name, texts)}</name>\n<ExtendedData>{rows}</ExtendedData>\n{shape}\n</Placemark>\n"


def _text(text: str, texts: Texts) -> str:
    return escape(texts.fit(text), {"\r": "&#13;"})


def _shown(value: Any) -> str:
    return str(int(value)) if isinstance(value, bool) else figure(value) if isinstance(value, float) else str(value)


def _area(area: Area, texts: Texts) -> str:
    shapes = []
    for part in polygons_of(area.shape):
        inner = "".join(f"<innerBoundaryIs>{_ring(hole)}</innerBoundaryIs>" for hole in part.interiors)
        shapes.append(f"<Polygon><outerBoundaryIs>{_ring(part.exterior)}</outerBoundaryIs>{inner}</Polygon>")
    return _mark(area.name, area.fields, shapes, texts)


def _ring(ring: Any) -> str:
    return f"<LinearRing><coordinates>{_places(ring.coords)}</coordinates></LinearRing>"


def _track(held: HeldTrack, texts: Texts) -> str:
    xy = np.column_stack([held.track.lon_deg, held.track.lat_deg])
    lines = [xy[piece].tolist() for piece in pieces_of(held.track) if len(piece) > 1]
    shapes = [f"<LineString><coordinates>{_places(line)}</coordinates></LineString>" for line in lines]
    fields = {"application": held.application, "day": held.day, "file": held.track.name}
    return _mark(held.file, fields, shapes, texts)


def _places(corners: Iterable[Any]) -> str:
    return " ".join(f"{figure(lon)},{figure(lat)}" for lon, lat in corners)
