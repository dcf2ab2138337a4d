"""CSV tracks, one point a row.

Columns: ``time, lat, lon`` and, where present, ``speed_mps, width_m, boom_on, hdop`` and the states of the boom's
sections from left to right, ``section_1, section_2`` and so on.
"""

import csv
import io
import math
from pathlib import Path

from gladebook.errors import TrackError, UnreadableFile
from gladebook.io.sections import section_names
from gladebook.io.trackrows import TrackPoint, TrackRows, parse_state, parse_time, plain_number
from gladebook.passes.track import Track

__all__ = ["read_track"]

_COLUMNS = {
    "time": "time",
    "lat": "lat",
    "latitude": "lat",
    "lon": "lon",
    "lng": "lon",
    "long": "lon",
    "longitude": "lon",
    "speed_mps": "speed_mps",
    "width_m": "width_m",
    "boom_on": "boom_on",
    "hdop": "hdop",
}


def read_track(path: Path, *, text: str) -> Track:
    """Read a table of points, in the file's order.

    Raises
    ------
    UnreadableFile
        Where the text is no table.
    TrackError
        Where a column is missing or a cell cannot be read, with its line.
    """
    delimiter = _delimiter(text)
    skipped = len(text) - len(text.lstrip("\r\n"))
    lines_before = text[:skipped].count("\n")
    reader = csv.reader(
        io.StringIO(text[skipped:], newline=""), delimiter=delimiter, strict=True, skipinitialspace=True
    )
    try:
        header = next(reader, [])
        place = _places(path, header)
        sections = _section_places(path, header)
        out = TrackRows(path.name, sections=len(sections))
        for cells in reader:
            if not any(cell.strip() for cell in cells):
                continue
            where = f"line {reader.line_num + lines_before}"
            if len(cells) < len(header):
                raise TrackError(
                    f"{path.name}: {where} has {len(cells)} cells where the heading has {len(header)}. "
                    "The file may be cut short; export it again, or take that line out."
                )
            if any(cell.strip() for cell in cells[len(header) :]):
                raise TrackError(
                    f"{path.name}: {where} has more cells than the heading. Where a comma is the decimal mark, "
                    "write points, or separate cells with semicolons."
                )
            row = {name: cells[i].strip() for name, i in place.items()}
            _add(out, row, sections=[cells[i].strip() for i in sections], where=where)
    except csv.Error as error:
        line = reader.line_num + lines_before
        raise UnreadableFile(
            f"{path.name}: is not a readable table: {error} at line {line}. Mend that line, or export the file again."
        ) from None
    used = {*place.values(), *sections}
    unused = [h.strip() for i, h in enumerate(header) if i not in used and h.strip()]
    if unused:
        out.note(f"columns not used: {', '.join(u[:30] for u in unused[:12])}.")
    return out.finish()


def _delimiter(text: str) -> str:
    first = text.lstrip().split("\n", 1)[0]
    return max(",;\t", key=first.count)


def _places(path: Path, header: list[str]) -> dict[str, int]:
    place: dict[str, int] = {}
    for i, cell in enumerate(header):
        name = _COLUMNS.get(cell.strip().lower())
        if name is not None and name in place:
            raise TrackError(f'{path.name}: has two columns for "{name}". Keep one of them.')
        if name is not None:
            place[name] = i
    missing = [name for name in ("lat", "lon") if name not in place]
    if missing:
        seen = ", ".join(h.strip()[:20] for h in header[:12]) or "none"
        raise TrackError(
            f"{path.name}: has no column {' and no column '.join(missing)}; its columns: {seen}. "
            "The first line must name them: time, lat, lon."
        )
    return place


def _section_places(path: Path, header: list[str]) -> list[int]:
    return [header.index(name) for name in section_names(header, source=path.name)]


def _add(out: TrackRows, row: dict[str, str], *, sections: list[str], where: str) -> None:
    def optional(what: str) -> float:
        return _number(out, row.get(what, ""), where=where, what=what, optional=True)

    point = TrackPoint(
        lon_deg=_number(out, row["lon"], where=where, what="lon"),
        lat_deg=_number(out, row["lat"], where=where, what="lat"),
        time=parse_time(row.get("time"), source=out.source, where=where),
        boom_on=parse_state(row.get("boom_on"), source=out.source, where=where),
        width_m=optional("width_m"),
        speed_mps=optional("speed_mps"),
        hdop=optional("hdop"),
        sections=tuple(
            parse_state(cell, source=out.source, where=where, what=f"section_{number}")
            for number, cell in enumerate(sections, start=1)
        ),
    )
    out.add(point, where=where)


def _number(out: TrackRows, text: str, *, where: str, what: str, optional: bool = False) -> float:
    if optional and not text:
        return math.nan
    try:
        value = plain_number(text)
        if math.isfinite(value):
            return value
    except ValueError:
        pass
    shown = f'"{text[:40]}"' if text else "nothing"
    raise TrackError(f"{out.source}: {where} has {shown} for {what}, where a number belongs. Mend or remove that line.")
