"""Weather from a file: a table with a time and a unit in the name of each column.

Of its rows the one nearest to the spray counts, within an hour; rain is looked for in the rows after it.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from pathlib import Path
from typing import Final, cast

from gladebook.errors import UnreadableFile
from gladebook.io.table.text import open_table
from gladebook.units import IN_M, MPH_MPS
from gladebook.units.factors import KMH_MPS
from gladebook.weather.reading import Reading, Sky

__all__ = ["WEATHER_COLUMNS", "WeatherFile", "read_weather"]

_MOST_BYTES: Final = 20_000_000
_NEAR: Final = timedelta(hours=1)
_NIGHT: Final = timedelta(hours=24)
_RAINS_M: Final = 0.0001  # a tenth of a millimetre; less does not wet a gauge

# column -> (what, factor, shift): SI = (value - shift) * factor
WEATHER_COLUMNS: Final[dict[str, tuple[str, float, float]]] = {
    "wind_mph": ("wind", MPH_MPS, 0.0),
    "wind_kmh": ("wind", KMH_MPS, 0.0),
    "wind_mps": ("wind", 1.0, 0.0),
    "gust_mph": ("gust", MPH_MPS, 0.0),
    "gust_kmh": ("gust", KMH_MPS, 0.0),
    "gust_mps": ("gust", 1.0, 0.0),
    "temperature_f": ("temperature", 1 / 1.8, 32.0),
    "temperature_c": ("temperature", 1.0, 0.0),
    "humidity_pct": ("humidity", 0.01, 0.0),
    "rain_in": ("rain", IN_M, 0.0),
    "rain_mm": ("rain", 0.001, 0.0),
}
_LIMITS: Final = {"wind": (0, 60), "gust": (0, 90), "temperature": (-60, 60), "humidity": (0, 1), "rain": (0, 2)}


@dataclass(frozen=True)
class WeatherFile:
    """The reading for a time, and what was taken for granted on the way, as sentences."""

    reading: Reading
    notices: tuple[str, ...]


@dataclass(frozen=True)
class _Row:
    at: datetime
    values: Mapping[str, float]
    sky: Sky | None


def read_weather(path: Path, *, at: datetime, zone: tzinfo | None = None) -> WeatherFile:
    """Read what the weather was, or is forecast to be, at a time.

    Parameters
    ----------
    path
        CSV with a column ``time`` and any of `WEATHER_COLUMNS`, and ``sky`` ("clear" or "cloudy").
    at
        The time of the spray, with or without a zone.
    zone
        The zone of times in the file that state none; None for the plot's own clock.

    Raises
    ------
    UnreadableFile
        Where it is no such table, or has nothing within an hour.
    """
    rows, notices = _rows(path)
    bare = [row for row in rows if row.at.tzinfo is None]
    if bare and at.tzinfo is not None:
        notices.append(f"{path.name}: its times state no zone, so they were taken for the plot's own clock.")
    moments = [(_on_clock(row.at, at=at, zone=zone), row) for row in rows]
    nearest, row = min(moments, key=lambda m: abs(m[0] - at))
    if abs(nearest - at) > _NEAR:
        raise UnreadableFile(
            f"{path.name}: has nothing within an hour of {at:%Y-%m-%d %H:%M}; the nearest is {nearest:%Y-%m-%d %H:%M}."
        )
    later = [(moment, other) for moment, other in moments if moment >= nearest]
    wet = [moment for moment, other in later if other.values.get("rain", 0.0) > _RAINS_M]
    tells_rain = any("rain" in other.values for _, other in later)
    lows = [o.values["temperature"] for m, o in moments if abs(m - at) <= _NIGHT and "temperature" in o.values]
    values = row.values
    reading = Reading(
        at=nearest,
        measured=None,
        wind_mps=values.get("wind"),
        gust_mps=values.get("gust"),
        temperature_c=values.get("temperature"),
        night_low_c=min(lows) if len(lows) > 1 else None,
        humidity=values.get("humidity"),
        sky=row.sky,
        rain_in_s=(max((min(wet) - at).total_seconds(), 0.0) if wet else math.inf) if tells_rain else None,
        rain_m=sum(o.values.get("rain", 0.0) for _, o in later) if tells_rain else None,
    )
    end = max(moment for moment, _ in moments)
    if tells_rain and not wet:
        notices.append(f"{path.name}: no rain up to {end:%Y-%m-%d %H:%M}, where it ends.")
    return WeatherFile(reading, (f"{path.name}: the row of {nearest:%Y-%m-%d %H:%M} was taken.", *notices))


def _on_clock(moment: datetime, *, at: datetime, zone: tzinfo | None) -> datetime:
    """A moment of the file on the clock of the spray."""
    if at.tzinfo is None:
        return moment.replace(tzinfo=None)
    return moment.replace(tzinfo=zone or at.tzinfo) if moment.tzinfo is None else moment.astimezone(at.tzinfo)


def _rows(path: Path) -> tuple[list[_Row], list[str]]:
    try:
        data = path.read_bytes()
    except OSError as error:
        raise UnreadableFile(f"{path.name}: cannot be read ({error.strerror}). Check the name.") from None
    if len(data) > _MOST_BYTES:
        raise UnreadableFile(f"{path.name}: is larger than 20 MB. Take out the days that you do not need.")
    wanted = {"time", "sky", *WEATHER_COLUMNS}
    table = open_table(path, data, known=lambda names: sum(name.strip().lower() in wanted for name in names))
    names = [name.strip().lower() for name in table.heading]
    if "time" not in names or not set(names) & set(WEATHER_COLUMNS):
        raise UnreadableFile(
            f"{path.name}: is no table of weather. Its first line must name time and some of "
            f"{', '.join(WEATHER_COLUMNS)}."
        )
    unknown = [name for name in names if name and name not in wanted]
    notices = [str(note) for note in table.notes]
    if unknown:
        notices.append(f"{path.name}: columns that are not known here were not read: {', '.join(unknown)}.")
    rows = [_row(path, line, names, cells) for line, cells in table.rows if any(cell.strip() for cell in cells)]
    if not rows:
        raise UnreadableFile(f"{path.name}: has no row below its heading.")
    return rows, notices


def _row(path: Path, line: int, names: Sequence[str], cells: Sequence[str]) -> _Row:
    texts = {name: cell.strip() for name, cell in zip(names, cells, strict=False) if cell.strip()}
    try:
        at = datetime.fromisoformat(texts.get("time", ""))
    except ValueError:
        raise UnreadableFile(
            f'{path.name}, line {line}: time "{texts.get("time", "")[:40]}" is none; write it like 2026-11-26T14:00.'
        ) from None
    values: dict[str, float] = {}
    for name, text in texts.items():
        if name in WEATHER_COLUMNS:
            what, factor, shift = WEATHER_COLUMNS[name]
            values[what] = _value(
                text, factor=factor, shift=shift, what=what, where=f"{path.name}, line {line}: {name}"
            )
    sky = texts.get("sky", "").lower() or None
    if sky not in (None, "clear", "cloudy"):
        raise UnreadableFile(f'{path.name}, line {line}: sky is "{sky[:40]}"; write clear or cloudy.')
    return _Row(at, values, cast("Sky | None", sky))


def _value(text: str, *, factor: float, shift: float, what: str, where: str) -> float:
    try:
        value = (float(text) - shift) * factor
    except ValueError:
        value = math.nan
    least, most = _LIMITS[what]
    if not least <= value <= most:
        raise UnreadableFile(f'{where} is "{text[:40]}", which cannot be. Check figure and unit.')
    return value
