"""GPX 1.1: walked boundaries as closed tracks, drawn ones as closed routes, recordings with their times.

So does our own reader tell them. Elements stand in the order of the schema of GPX 1.1.
"""

from collections.abc import Iterable
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

import numpy as np

from gladebook.io.export.held import (
    Area,
    Held,
    HeldTrack,
    Texts,
    counted,
    figure,
    named,
    pieces_of,
    polygons_of,
    put,
    times_of,
)

__all__ = ["write"]

_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="gladebook" '
    'xmlns="http://www.topografix.com/GPX/1/1" xmlns:g="urn:gladebook:point">\n'
)
_UNSAID = ("walked", "uid")
_TAIL = "</gpx>\n"


def write(held: Held, folder: Path) -> list[str]:
    """Write all files, and say what they cannot hold."""
    texts = Texts()
    for layer in held.layers:
        # Routes come before tracks in the schema.
        areas = sorted(layer.areas, key=lambda a: a.walked)
        _put(folder, layer.kind, (course for area in areas for course in _courses(area, texts)))
    for track in held.tracks:
        _put(folder, f"tracks/{track.file}", [_track(track, texts)])
    areas = [area for layer in held.layers for area in layer.areas]
    return [*texts.said("GPX"), *_lost_of_areas(areas), *_lost_of_tracks(held.tracks)]


def _put(folder: Path, name: str, courses: Iterable[str]) -> None:
    put(folder, f"{name}.gpx", f"{_HEAD}{''.join(courses)}{_TAIL}".encode())


def _text(text: str, texts: Texts) -> str:
    return escape(texts.fit(text), {"\r": "&#13;"})


def _courses(area: Area, texts: Texts) -> list[str]:
    parts = polygons_of(area.shape)
    words = ", ".join(f"{k} {_shown(v)}" for k, v in area.fields.items() if v not in (None, "") and k not in _UNSAID)
    found = []
    for number, part in enumerate(parts, start=1):
        name = area.name if len(parts) == 1 else f"{area.name} (part {number} of {len(parts)})"
        head = f"<name>{_text(name, texts)}</name><desc>{_text(words, texts)}</desc>\n"
        corners = part.exterior.coords
        found.append(
            f"<trk>{head}<trkseg>\n{_corners('trkpt', corners)}</trkseg></trk>\n"
            if area.walked
            else f"<rte>{head}{_corners('rtept', corners)}</rte>\n"
        )
    return found


def _shown(value: Any) -> str:
    return f"{value:.4f}" if isinstance(value, float) else str(value)


def _corners(element: str, corners: Iterable[Any]) -> str:
    return "".join(f'<{element} lat="{figure(lat)}" lon="{figure(lon)}"/>\n' for lon, lat in corners)


def _track(held: HeldTrack, texts: Texts) -> str:
    track = held.track
    times, dated = times_of(track)
    words = f"application {held.application}" + (f", {held.day}" if held.day else "")
    found = [f"<trk><name>{_text(track.name, texts)}</name><desc>{_text(words, texts)}</desc>\n"]
    speed, hdop = track.speed_mps.tolist(), track.hdop.tolist()
    lat, lon = track.lat_deg.tolist(), track.lon_deg.tolist()
    for piece in pieces_of(track):
        found.append("<trkseg>\n")
        for i in piece.tolist():
            time = f"<time>{times[i]}</time>" if times[i] and dated else ""
            poor = f"<hdop>{figure(hdop[i])}</hdop>" if np.isfinite(hdop[i]) else ""
            fast = f"<extensions><g:speed>{figure(speed[i])}</g:speed></extensions>" if np.isfinite(speed[i]) else ""
            found.append(f'<trkpt lat="{figure(lat[i])}" lon="{figure(lon[i])}">{time}{poor}{fast}</trkpt>\n')
        found.append("</trkseg>\n")
    return "".join([*found, "</trk>\n"])


def _lost_of_areas(areas: list[Area]) -> list[str]:
    said = []
    holes = {a.name: sum(len(p.interiors) for p in polygons_of(a.shape)) for a in areas}
    holed = [name for name, number in holes.items() if number]
    if holed:
        number = sum(holes.values())
        are = "is" if number == 1 else "are"
        said.append(f"GPX holds no holes: {counted(number, 'hole')} {are} left out of {named(holed)}.")
    parted = [a.name for a in areas if len(polygons_of(a.shape)) > 1]
    if parted:
        said.append(f"GPX holds areas as closed lines: one for each part of {named(parted)}.")
    if areas:
        said.append("GPX has no fields of its own for days, acres and states: they are written as words.")
    return said


def _lost_of_tracks(tracks: Iterable[HeldTrack]) -> list[str]:
    found = [held.track for held in tracks]
    boom = sum(bool((t.boom_on >= 0).any() or np.isfinite(t.width_m).any() or t.sections is not None) for t in found)
    said = []
    if boom:
        said.append(f"GPX holds no boom states and widths: they are left out of {counted(boom, 'track')}.")
    local = [t.name for t in found if t.clock == "no zone"]
    if local:
        said.append(
            f"GPX times are in UTC by its standard: those of {named(local)} state no zone and are written without one."
        )
    far = [t.name for t in found if not times_of(t)[1]]
    if far:
        said.append(f"GPX holds no times beyond the year 9999: those of {named(far)} are left out.")
    return said
