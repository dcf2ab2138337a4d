"""KML as recordings: ``gx:Track``, else timed points in order, else lines without times.

What is read, and where it is described:

- ``Track``: pairs of ``when`` and ``coord`` (longitude, latitude and maybe a height, with blanks between), the
  n-th of one with the n-th of the other, and arrays of values with as many entries (OGC 12-007r2, KML 2.3, and the
  ``gx`` extension before it). Each is a piece.
- ``Placemark`` with one ``Point`` and a ``TimeStamp``: a trail, a piece for each folder (OGC 07-147r2).
- ``LineString``: a piece each.

Names count, whatever their prefix and namespace, as in `gladebook.io.kml.places`.
"""

import math
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import numpy.typing as npt

from gladebook.errors import TrackError
from gladebook.io.digits import number_or_nan
from gladebook.io.trackrows import TrackPoint, TrackRows, parse_time, plain_number
from gladebook.io.xml import parse_xml
from gladebook.passes.track import Track

__all__ = ["positions_from", "read_track"]

_SPEEDS = ("speed", "speed_mps")
_VALUES = (*_SPEEDS, "hdop")
_LINES = "lines without times, as there are recorded points"
_POINTS = "points without a time stamp, or beside a track"
_AREAS = "areas, which are no track"
_LINKS = "links to other files, which are not followed"
_EMPTY = "recorded points without a place"


@dataclass
class _Piece:
    """A ``Track`` as it is written: texts of its times, places and values, and the line where it begins."""

    line: int
    when: list[str] = field(default_factory=list)
    coord: list[str] = field(default_factory=list)
    values: dict[str, list[str]] = field(default_factory=dict)


@dataclass
class _Mark:
    """What a ``Placemark`` holds, besides tracks."""

    line: int
    place: int
    when: str = ""
    points: list[str] = field(default_factory=list)
    lines: list[str] = field(default_factory=list)
    values: dict[str, str] = field(default_factory=dict)


def read_track(path: Path, *, data: bytes) -> Track:
    """Read a recording from KML, in the file's order.

    Raises
    ------
    UnreadableFile
        Where the file is no readable KML.
    TrackError
        Where it holds no recording, its times and places do not pair, or one of them cannot be right.
    """
    reader = _Reader()
    parse_xml(path, data, handler=reader, root="kml")
    out = TrackRows(path.name)
    trail = [m for m in reader.marks if m.when and len(m.points) == 1 and not m.lines]
    lines = [(m, text) for m in reader.marks for text in m.lines]
    points = sum(len(m.points) for m in reader.marks)
    if any(piece.when or piece.coord for piece in reader.pieces):
        _add_pieces(out, reader)
    elif len(trail) > 1 or (trail and not lines):
        _add_trail(out, trail)
        points -= len(trail)
    else:
        _add_lines(out, lines)
        lines = []
    for why, count in ((_LINES, len(lines)), (_POINTS, points), (_AREAS, reader.areas), (_LINKS, reader.links)):
        if count:
            out.skip(why, count)
    return out.finish()


def positions_from(words: str) -> tuple[npt.NDArray[np.float64] | None, str]:
    """Corners from ``lon,lat[,height]`` tuples, shape (n, 2), and what is wrong with the first bad one."""
    # White space separates tuples, but some writers put it after commas too.
    tuples = ",".join(part.strip() for part in words.split(",")).split()
    if not tuples:
        return None, ""
    corners = []
    for number, text in enumerate(tuples, start=1):
        values = _numbers([v for v in text.split(",") if v])
        if values is None:
            return None, f'corner {number}, "{text[:40]}", is no longitude and latitude. Mend or remove it.'
        corners.append(values)
    return np.array(corners), ""


def _numbers(texts: list[str]) -> tuple[float, float] | None:
    """Longitude and latitude, the first two of some figures; None where they are none."""
    try:
        values = [plain_number(text) for text in texts]
    except ValueError:
        return None
    if len(values) < 2 or not all(math.isfinite(v) for v in values[:2]):
        return None
    return values[0], values[1]


def _add_pieces(out: TrackRows, reader: "_Reader") -> None:
    pieces = [piece for piece in reader.pieces if piece.when or piece.coord]
    ignored: Counter[str] = Counter()
    for segment, piece in enumerate(pieces):
        count = len(piece.coord)
        if piece.when and len(piece.when) != count:
            raise TrackError(
                f"{out.source}: the track at line {piece.line} has {len(piece.when)} times but {count} places, so "
                "they cannot be paired. Export it again."
            )
        values = {name: texts for name, texts in piece.values.items() if len(texts) == count}
        ignored.update(name for name in piece.values if name not in values)
        for i, coord in enumerate(piece.coord):
            if not coord:
                out.skip(_EMPTY)
                continue
            where = f"point {i + 1} of the track at line {piece.line}"
            when = piece.when[i] if piece.when else ""
            texts = {name: column[i] for name, column in values.items()}
            out.add(_point(out, coord.split(), when=when, segment=segment, values=texts, where=where), where=where)
    if len(pieces) > 1:
        out.note(f"holds {len(pieces)} tracks; all are read, in their order, and nothing is joined between them.")
    if reader.interpolated:
        out.note("asks for places to be made up between its tracks (interpolate); that is not done.")
    if any(not piece.when for piece in pieces):
        out.note("a track in it states no times.")
    for name, count in ignored.items():
        out.note(f'values named "{name}" do not pair with the places of {count} tracks and are left out.')
    _say_units(out, {name for piece in pieces for name in piece.values})


def _add_trail(out: TrackRows, trail: list[_Mark]) -> None:
    segments = {place: number for number, place in enumerate(dict.fromkeys(mark.place for mark in trail))}
    for mark in trail:
        where = f"the placemark at line {mark.line}"
        tuples = ",".join(part.strip() for part in mark.points[0].split(",")).split()
        texts = tuples[0].split(",") if len(tuples) == 1 else []
        segment = segments[mark.place]
        out.add(_point(out, texts, when=mark.when, segment=segment, values=mark.values, where=where), where=where)
    out.note(f"its {len(trail)} points with a time stamp are taken as one recording, a piece for each folder.")
    _say_units(out, {name for mark in trail for name in mark.values})


def _add_lines(out: TrackRows, lines: list[tuple[_Mark, str]]) -> None:
    segment = 0
    for mark, text in lines:
        xy, fault = positions_from(text)
        where = f"the line of the placemark at line {mark.line}"
        if fault:
            raise TrackError(f"{out.source}: {where}: {fault}")
        if xy is None or len(xy) < 2:
            out.skip("lines of fewer than two points")
            continue
        for lon_deg, lat_deg in xy.tolist():
            out.add(TrackPoint(lon_deg, lat_deg, (math.nan, "none"), segment), where=where)
        segment += 1
    if segment:
        out.note("holds no times, only drawn lines; they are taken as the way that was driven, in their order.")
    if segment > 1:
        out.note(f"holds {segment} lines; all are read, and nothing is joined between them.")


def _point(
    out: TrackRows, texts: list[str], *, when: str, segment: int, values: dict[str, str], where: str
) -> TrackPoint:
    place = _numbers(texts)
    if place is None:
        raise TrackError(
            f'{out.source}: {where} has the place "{" ".join(texts)[:40]}", which is no longitude and latitude. '
            "Mend or remove it."
        )
    speed = next((values[name] for name in _SPEEDS if name in values), None)
    return TrackPoint(
        lon_deg=place[0],
        lat_deg=place[1],
        time=parse_time(when, source=out.source, where=where),
        segment=segment,
        speed_mps=number_or_nan(speed),
        hdop=number_or_nan(values.get("hdop")),
    )


def _say_units(out: TrackRows, names: set[str]) -> None:
    if not names.isdisjoint(_SPEEDS):
        out.note("its speeds state no unit; they are taken as metres per second.")


class _Reader:
    """What expat calls."""

    def __init__(self) -> None:
        self.pieces: list[_Piece] = []
        self.marks: list[_Mark] = []
        self.areas = 0
        self.links = 0
        self.interpolated = False
        self._path: list[str] = []
        self._open: Counter[str] = Counter()
        self._text: list[str] = []
        self._data_name = ""
        self._places = [0]
        self._place = 0

    def start(self, name: str, attributes: dict[str, str], line: int) -> None:
        self._path.append(name)
        self._open[name] += 1
        self._text.clear()
        if name in ("Folder", "Document"):
            self._place += 1
            self._places.append(self._place)
        elif name == "Placemark":
            self.marks.append(_Mark(line, self._places[-1]))
        elif name == "Track":
            self.pieces.append(_Piece(line))
        elif name in ("SimpleArrayData", "Data", "SimpleData"):
            self._data_name = attributes.get("name", "").strip().casefold()

    def text(self, data: str) -> None:
        self._text.append(data)

    def end(self, name: str) -> None:
        self._path.pop()
        self._open[name] -= 1
        words = "".join(self._text).strip()
        self._text.clear()
        if name in ("Folder", "Document"):
            self._places.pop()
        elif name == "NetworkLink":
            self.links += 1
        elif name == "interpolate":
            self.interpolated |= words in ("1", "true")
        elif self._open["Track"]:
            self._in_track(name, words)
        elif self._open["Placemark"]:
            self._in_placemark(name, words)

    def _in_track(self, name: str, words: str) -> None:
        piece = self.pieces[-1]
        if name == "when" and self._path[-1] == "Track":
            piece.when.append(words)
        elif name == "coord" and self._path[-1] == "Track":
            piece.coord.append(words)
        elif name == "value" and self._path[-1] == "SimpleArrayData" and self._data_name in _VALUES:
            piece.values.setdefault(self._data_name, []).append(words)

    def _in_placemark(self, name: str, words: str) -> None:
        mark, parent = self.marks[-1], self._path[-1]
        if name in ("Polygon", "LinearRing"):
            self.areas += name == "Polygon" or not self._open["Polygon"]
        elif name == "coordinates" and not self._open["Polygon"]:
            if parent == "Point":
                mark.points.append(words)
            elif parent == "LineString":
                mark.lines.append(words)
        elif name == "when" and parent == "TimeStamp":
            mark.when = words
        elif ((name == "value" and parent == "Data") or name == "SimpleData") and self._data_name in _VALUES:
            mark.values.setdefault(self._data_name, words)
