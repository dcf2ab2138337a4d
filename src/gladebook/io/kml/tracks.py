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
from gladebook.io.kml.marks import SPEEDS, Mark, Marks, Piece, read_marks
from gladebook.io.layers import LayerFound, chosen_place, named_once
from gladebook.io.trackrows import TrackPoint, TrackRows, parse_time, plain_number
from gladebook.passes.track import Track

__all__ = ["positions_from", "read_track", "recordings_in"]

_LINES = "lines without times, as there are recorded points"
_POINTS = "points without a time stamp, or beside a track"
_AREAS = "areas, which are no track"
_LINKS = "links to other files, which are not followed"
_EMPTY = "recorded points without a place"
_NOT_CHOSEN = "tracks that were not chosen"


@dataclass(frozen=True)
class _Recordings:
    """What counts as recorded, of one sort, by the name of its placemark or folder.

    Attributes
    ----------
    names : each once, in the file's order.
    pieces, trails, lines : one for each name; two of the three are empty.
    """

    names: list[str]
    pieces: list[list[Piece]] = field(default_factory=list)
    trails: list[list[Mark]] = field(default_factory=list)
    lines: list[list[tuple[Mark, str]]] = field(default_factory=list)


def read_track(path: Path, *, data: bytes, layer: str | None = None) -> Track:
    """Read a recording from KML, in the file's order.

    Parameters
    ----------
    path
        The file, for its name.
    data
        Its bytes.
    layer
        The placemark or folder whose recording is read; all of them where None.

    Raises
    ------
    UnreadableFile
        Where the file is no readable KML, or holds no such recording.
    TrackError
        Where it holds no recording, its times and places do not pair, or one of them cannot be right.
    """
    reader = read_marks(path, data)
    found = _recordings(reader)
    wanted = slice(None)
    if layer is not None:
        place = chosen_place(found.names, wanted=layer, source=path.name, what="track")
        wanted = slice(place, place + 1)
    out = TrackRows(path.name)
    lines = 0 if found.lines else sum(len(mark.lines) for mark in reader.marks)
    points = sum(len(m.points) for m in reader.marks) - sum(map(len, found.trails))
    if found.pieces:
        _add_pieces(out, [p for pieces in found.pieces[wanted] for p in pieces], interpolated=reader.interpolated)
    elif found.trails:
        chosen = {id(mark) for marks in found.trails[wanted] for mark in marks}
        _add_trail(out, [mark for mark in reader.marks if id(mark) in chosen])  # in the file's order
    else:
        _add_lines(out, [text for texts in found.lines[wanted] for text in texts])
    if layer is not None and len(found.names) > 1:
        out.skip(_NOT_CHOSEN, len(found.names) - 1)
    for why, count in ((_LINES, lines), (_POINTS, points), (_AREAS, reader.areas), (_LINKS, reader.links)):
        if count:
            out.skip(why, count)
    return out.finish()


def recordings_in(path: Path, *, data: bytes) -> list[LayerFound]:
    """The recordings of a KML, one for each placemark or folder that holds one, with how many points each has.

    Raises
    ------
    UnreadableFile
        Where the file is no readable KML.
    """
    reader = read_marks(path, data)
    found = _recordings(reader)
    counts = (
        [sum(len(p.coord) for p in pieces) for pieces in found.pieces]
        or [len(marks) for marks in found.trails]
        or [sum(len(text.split()) for _, text in texts) for texts in found.lines]
    )
    return [LayerFound(name, "track", count) for name, count in zip(found.names, counts, strict=True)]


def _recordings(reader: Marks) -> _Recordings:
    """Tracks before timed points, and those before lines."""
    pieces: dict[int, list[Piece]] = {}
    for piece in reader.pieces:
        if piece.when or piece.coord:
            pieces.setdefault(id(piece.mark or piece), []).append(piece)
    if pieces:
        names = [found[0].mark.name if found[0].mark else "" for found in pieces.values()]
        return _Recordings(named_once(names, otherwise="track"), pieces=list(pieces.values()))
    trail = [m for m in reader.marks if m.when and len(m.points) == 1 and not m.lines]
    lines = [(m, text) for m in reader.marks for text in m.lines]
    if len(trail) > 1 or (trail and not lines):
        folders: dict[int, list[Mark]] = {}
        for mark in trail:
            folders.setdefault(mark.place, []).append(mark)
        names = [reader.folders.get(place, "") for place in folders]
        return _Recordings(named_once(names, otherwise="track"), trails=list(folders.values()))
    drawn: dict[int, list[tuple[Mark, str]]] = {}
    for mark, text in lines:
        drawn.setdefault(id(mark), []).append((mark, text))
    names = [texts[0][0].name for texts in drawn.values()]
    return _Recordings(named_once(names, otherwise="line"), lines=list(drawn.values()))


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


def _add_pieces(out: TrackRows, pieces: list[Piece], *, interpolated: bool) -> None:
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
    if interpolated:
        out.note("asks for places to be made up between its tracks (interpolate); that is not done.", kind="skipped")
    if any(not piece.when for piece in pieces):
        out.note("a track in it states no times.")
    for name, count in ignored.items():
        words = f'values named "{name}" do not pair with the places of {count} tracks and are left out.'
        out.note(words, kind="skipped", count=count)
    _say_units(out, {name for piece in pieces for name in piece.values})


def _add_trail(out: TrackRows, trail: list[Mark]) -> None:
    segments = {place: number for number, place in enumerate(dict.fromkeys(mark.place for mark in trail))}
    for mark in trail:
        where = f"the placemark at line {mark.line}"
        tuples = ",".join(part.strip() for part in mark.points[0].split(",")).split()
        texts = tuples[0].split(",") if len(tuples) == 1 else []
        segment = segments[mark.place]
        out.add(_point(out, texts, when=mark.when, segment=segment, values=mark.values, where=where), where=where)
    words = f"its {len(trail)} points with a time stamp are taken as one recording, a piece for each folder."
    out.note(words, kind="assumed")
    _say_units(out, {name for mark in trail for name in mark.values})


def _add_lines(out: TrackRows, lines: list[tuple[Mark, str]]) -> None:
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
        words = "holds no times, only drawn lines; they are taken as the way that was driven, in their order."
        out.note(words, kind="assumed")
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
    speed = next((values[name] for name in SPEEDS if name in values), None)
    return TrackPoint(
        lon_deg=place[0],
        lat_deg=place[1],
        time=parse_time(when, source=out.source, where=where),
        segment=segment,
        speed_mps=number_or_nan(speed),
        hdop=number_or_nan(values.get("hdop")),
    )


def _say_units(out: TrackRows, names: set[str]) -> None:
    if not names.isdisjoint(SPEEDS):
        out.note("its speeds state no unit; they are taken as metres per second.", kind="assumed")
