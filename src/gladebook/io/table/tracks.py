"""Tracks in tables, one point a row: CSV with any delimiter, and columns that stand under each other.

Columns: ``time, lat, lon`` and, where present, ``date, speed_mps, width_m, boom_on, hdop`` and the states of the
boom's sections from left to right, ``section_1, section_2`` and so on; the call may name others. Cells that are
plain figures are read many at once, and one by one where any of them is not.
"""

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import chain, islice
from pathlib import Path

import numpy as np
import numpy.typing as npt

from gladebook.errors import TrackError
from gladebook.io.limits import LIMITS, Limits
from gladebook.io.table.angles import degrees_from
from gladebook.io.table.clocks import Clock, check_format
from gladebook.io.table.columns import Places, known_columns, places_in
from gladebook.io.table.text import Table, has_heading, open_table
from gladebook.io.trackrows import Stamp, TrackColumns, TrackPoint, TrackRows, parse_state, plain_number
from gladebook.passes.track import Track

__all__ = ["is_track_table", "read_track"]

Row = tuple[int, list[str]]
Floats = npt.NDArray[np.float64]

_AT_ONCE = 20_000
_SAMPLE = 200
_COMMA_NUMBER = re.compile(r"[+-]?[0-9]+,[0-9]+")
_MOST_STATES = 100
_FIGURES = ("width_m", "speed_mps", "hdop")


class _NotPlain(Exception):  # noqa: N818 - never leaves this module
    """Some rows hold more than plain figures."""


def is_track_table(head: bytes) -> bool:
    """Whether the first bytes of a file hold a heading with a latitude and a longitude."""
    return has_heading(head, known=known_columns)


def read_track(
    path: Path,
    *,
    data: bytes,
    columns: Mapping[str, str] | None = None,
    time_format: str | None = None,
    limits: Limits = LIMITS,
) -> Track:
    """Read a table of points, in the file's order.

    Parameters
    ----------
    path
        The file, for its name.
    data
        Its bytes: UTF-8, UTF-16 or Windows-1252.
    columns
        Names of columns that are not as above, and their units; see `gladebook.io.table.columns.places_in`.
    time_format
        How times are written that are neither ISO 8601 nor seconds, as Python's `datetime.strptime` has it; where the
        day has a column of its own, for both with a blank between.
    limits
        How many points are read.

    Raises
    ------
    CallError
        Where `columns` or `time_format` cannot be understood.
    UnreadableFile
        Where the text is no table.
    TrackError
        Where a column is missing or a cell cannot be read, with its line.
    """
    if time_format is not None:
        check_format(time_format)
    table = open_table(path, data, known=lambda cells: known_columns(cells, columns=columns))
    places = places_in(table.heading, source=path.name, columns=columns)
    time = places.columns.get("time")
    clock = Clock(time_format, None if time is None else time.factor, "date" in places.columns)
    sample = list(islice(table.rows, _SAMPLE))
    comma = _has_decimal_commas(sample, places)
    reader = _Reader(
        table, places, clock, comma, TrackRows(path.name, sections=len(places.sections), most=limits.points)
    )
    rows = chain(sample, table.rows)
    while part := list(islice(rows, _AT_ONCE)):
        reader.take(part)
    for note in table.notes:
        reader.out.note(note.words, kind=note.kind, count=note.count)
    if comma:
        reader.out.note("a comma is the decimal mark of its figures.")
    if unused := places.unused(table.heading):
        words = f"columns not used: {', '.join(u[:30] for u in unused[:12])}."
        reader.out.note(words, kind="skipped", count=len(unused))
    return reader.out.finish()


def _has_decimal_commas(rows: Sequence[Row], places: Places) -> bool:
    """Whether latitudes and longitudes are written like 31,204."""
    wanted = [places.columns[name].place for name in ("lat", "lon")]
    cells = [cells[place].strip() for _, cells in rows for place in wanted if place < len(cells)]
    return any(map(_COMMA_NUMBER.fullmatch, cells)) and not any("." in cell for cell in cells)


@dataclass
class _Reader:
    """Turns rows into points, many at once where they are plain."""

    table: Table
    places: Places
    clock: Clock
    comma: bool
    out: TrackRows
    segment: int = 0

    def take(self, rows: list[Row]) -> None:
        rows = [row for row in rows if row[1]]
        if not rows:
            return
        try:
            self._take_at_once(rows)
        except (_NotPlain, ValueError):  # our own errors are ValueErrors too: they are told again, with the line
            for line, cells in rows:
                self._take_one(cells, where=f"line {line}")

    def _take_at_once(self, rows: list[Row]) -> None:
        heading = self.table.heading
        if len({len(row) for _, row in rows}) != 1 or len(rows[0][1]) < len(heading):
            raise _NotPlain
        cells = list(zip(*[row for _, row in rows], strict=True))
        if any("".join(column).strip() for column in cells[len(heading) :]):
            raise _NotPlain
        lat, lon = (self._figures(cells, name, filled=True) for name in ("lat", "lon"))
        width_m, speed_mps, hdop = (
            self._figures(cells, name, filled=False) if name in self.places.columns else None for name in _FIGURES
        )
        time_s, stamps = self._times(cells, count=len(rows))
        boom = self.places.columns.get("boom_on")
        states = [_states(cells[place]) for place in self.places.sections]
        columns = TrackColumns(
            lon_deg=lon,
            lat_deg=lat,
            time_s=time_s,
            segment=np.full(len(rows), self.segment),
            boom_on=None if boom is None else _states(cells[boom.place]),
            width_m=width_m,
            speed_mps=speed_mps,
            hdop=hdop,
            sections=np.column_stack(states) if states else None,
        )
        self.out.extend(columns, clocks=stamps, where=lambda i: f"line {rows[i][0]}")

    def _figures(self, cells: Sequence[Sequence[str]], name: str, *, filled: bool) -> Floats:
        column = self.places.columns[name]
        texts = cells[column.place]
        whole = "".join(texts)
        if "_" in whole or (self.comma and "." in whole):
            raise _NotPlain
        if self.comma:
            texts = [text.replace(",", ".") for text in texts]
        try:
            values = np.fromiter(map(float, texts), dtype=float, count=len(texts))
            empty = 0
        except ValueError:
            if filled:
                raise _NotPlain from None
            known = [text for text in texts if text.strip()]
            values = np.array([float(text) if text.strip() else math.nan for text in texts])
            empty = len(texts) - len(known)
        if int((~np.isfinite(values)).sum()) != empty:
            raise _NotPlain
        return values if column.factor is None else values * column.factor

    def _times(self, cells: Sequence[Sequence[str]], *, count: int) -> tuple[Floats, list[Stamp]]:
        time, date = (self.places.columns.get(name) for name in ("time", "date"))
        if time is None:
            return np.full(count, math.nan), ["none"] * count
        texts = [self._clock_text(text) for text in cells[time.place]] if self.comma else cells[time.place]
        days = [""] * count if date is None else cells[date.place]
        return self.clock.read_many(texts, days, source=self.out.source)

    def _clock_text(self, text: str) -> str:
        return text.replace(",", ".") if self.comma and _COMMA_NUMBER.fullmatch(text.strip()) else text

    def _take_one(self, cells: list[str], *, where: str) -> None:
        source, heading = self.out.source, self.table.heading
        if not any(cell.strip() for cell in cells):
            return
        if tuple(cell.strip() for cell in cells) == heading:
            self.out.skip("headings repeated between rows, as where recordings were put together")
            self.segment += 1
            return
        if len(cells) < len(heading):
            raise TrackError(
                f"{source}: {where} has {len(cells)} cells where the heading has {len(heading)}. "
                "The file may be cut short; export it again, or take that line out."
            )
        if any(cell.strip() for cell in cells[len(heading) :]):
            raise TrackError(
                f"{source}: {where} has more cells than the heading. Where a comma is the decimal mark, "
                "write points, or separate cells with semicolons."
            )
        row = {name: cells[column.place].strip() for name, column in self.places.columns.items()}
        point = TrackPoint(
            lon_deg=self._angle(row["lon"], where=where, what="lon"),
            lat_deg=self._angle(row["lat"], where=where, what="lat"),
            time=self.clock.read(
                self._clock_text(row.get("time", "")), row.get("date", ""), source=source, where=where
            ),
            segment=self.segment,
            boom_on=parse_state(row.get("boom_on"), source=source, where=where),
            width_m=self._figure(row, where=where, what="width_m"),
            speed_mps=self._figure(row, where=where, what="speed_mps"),
            hdop=self._figure(row, where=where, what="hdop"),
            sections=tuple(
                parse_state(cells[place].strip(), source=source, where=where, what=f"section_{number}")
                for number, place in enumerate(self.places.sections, start=1)
            ),
        )
        self.out.add(point, where=where)

    def _angle(self, text: str, *, where: str, what: str) -> float:
        try:
            return self._number(text, where=where, what=what)
        except TrackError:
            marked = text.replace(",", ".") if self.comma else text
            try:
                return degrees_from(marked, sides="NS" if what == "lat" else "EW")
            except ValueError:
                pass
            raise

    def _figure(self, row: Mapping[str, str], *, where: str, what: str) -> float:
        text = row.get(what, "")
        if not text:
            return math.nan
        factor = self.places.columns[what].factor
        return self._number(text, where=where, what=what) * (1.0 if factor is None else factor)

    def _number(self, text: str, *, where: str, what: str) -> float:
        try:
            if self.comma and "." in text:
                raise ValueError
            value = plain_number(text.replace(",", ".") if self.comma else text)
            if math.isfinite(value):
                return value
        except ValueError:
            pass
        shown = f'"{text[:40]}"' if text else "nothing"
        raise TrackError(
            f"{self.out.source}: {where} has {shown} for {what}, where a number belongs. Mend or remove that line."
        )


def _states(texts: Sequence[str]) -> npt.NDArray[np.int8]:
    kinds = set(texts)
    if len(kinds) > _MOST_STATES:
        raise _NotPlain
    known = {text: parse_state(text.strip(), source="", where="a row") for text in kinds}
    return np.fromiter(map(known.__getitem__, texts), dtype=np.int8, count=len(texts))
