"""Which column of a table holds what: by its name, or as the call says."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from gladebook.errors import CallError, QuantityError, TrackError
from gladebook.io.sections import section_names
from gladebook.units import parse_quantity
from gladebook.units.quantity import Kind

__all__ = ["Column", "Places", "known_columns", "places_in"]

_NAMES = {
    "time": "time",
    "timestamp": "time",
    "datetime": "time",
    "date_time": "time",
    "date": "date",
    "lat": "lat",
    "latitude": "lat",
    "lat_deg": "lat",
    "lon": "lon",
    "lng": "lon",
    "long": "lon",
    "longitude": "lon",
    "lon_deg": "lon",
    "speed_mps": "speed_mps",
    "width_m": "width_m",
    "boom_on": "boom_on",
    "hdop": "hdop",
}
_KINDS: dict[str, Kind] = {"width_m": "length", "speed_mps": "speed", "time": "time"}
_WITH_UNIT = re.compile(r"(width|speed)_([a-z]{1,5})")
_UNITS = {"width": ("ft", "in", "yd", "cm"), "speed": ("mph", "kmh", "kph", "kn", "kt", "kts", "knots")}
_SECTION = re.compile(r"section_[0-9]{1,9}")
_KEYS = ("time", "date", "lat", "lon", "boom_on", "width_m", "speed_mps", "hdop", "section_1")


@dataclass(frozen=True)
class Column:
    """A column: where it stands, counted from 0, and what one of its unit is in SI; None where it has no unit."""

    place: int
    factor: float | None = None


@dataclass(frozen=True)
class Places:
    """Columns by what they hold, and the places of the boom's sections from left to right."""

    columns: Mapping[str, Column]
    sections: tuple[int, ...]

    def unused(self, heading: Sequence[str]) -> list[str]:
        """Names of the columns that hold nothing that is read."""
        used = {column.place for column in self.columns.values()} | set(self.sections)
        return [name for place, name in enumerate(heading) if name and place not in used]


def known_columns(heading: Sequence[str], *, columns: Mapping[str, str] | None = None) -> int:
    """How many names of a heading are known, where a latitude and a longitude are among them; else nought."""
    wanted = {name.lower(): key for key, text in (columns or {}).items() for name in _names_of(text)}
    found = [wanted.get(cell.lower()) or _key_of(cell)[0] for cell in heading]
    return sum(key != "" for key in found) if "lat" in found and "lon" in found else 0


def places_in(heading: Sequence[str], *, source: str, columns: Mapping[str, str] | None = None) -> Places:
    """Find the columns of a track.

    Parameters
    ----------
    heading
        The names of the columns.
    source
        The file's name, for messages.
    columns
        From what it is (``time``, ``date``, ``lat``, ``lon``, ``boom_on``, ``width_m``, ``speed_mps``, ``hdop``,
        ``section_1`` and so on) to the heading, with a unit after a colon where it is another one.

    Raises
    ------
    CallError
        Where `columns` names something that a track has not, or a unit of another kind.
    TrackError
        Where a column is missing or stands twice.
    """
    found: dict[str, Column] = {}
    sections: dict[int, str] = {}
    for key, text in (columns or {}).items():
        column = _given(key, text, heading=heading, source=source)
        if _SECTION.fullmatch(key):
            sections[column.place] = key
        else:
            found[key] = column
    given = set(found)
    for place, name in enumerate(heading):
        key, unit = _key_of(name)
        if not key or key in given or place in {column.place for column in found.values()}:
            continue
        if key in found:
            raise TrackError(f'{source}: has two columns for "{key}". Keep one of them.')
        kind = _KINDS.get(key)
        factor = parse_quantity(f"1 {unit}", kind=kind).si if unit and kind else None
        found[key] = Column(place, factor)
    _refuse_missing(heading, found, source=source)
    names = [sections.get(place, name) for place, name in enumerate(heading)]
    return Places(found, tuple(names.index(name) for name in section_names(names, source=source)))


def _key_of(name: str) -> tuple[str, str]:
    """What a heading stands for, and the unit that it names; empty where it is not known."""
    plain = name.lower().replace(" ", "_")
    if plain in _NAMES:
        return _NAMES[plain], ""
    found = _WITH_UNIT.fullmatch(plain)
    if found is not None and found[2] in _UNITS[found[1]]:
        return ("width_m" if found[1] == "width" else "speed_mps"), found[2]
    return "", ""


def _names_of(text: str) -> tuple[str, ...]:
    """The headings that a column of the call may mean: a colon may belong to the name."""
    return text, text.rpartition(":")[0]


def _given(key: str, text: str, *, heading: Sequence[str], source: str) -> Column:
    _check_key(key)
    lowered = [name.lower() for name in heading]
    for name in _names_of(text):
        places = [place for place, cell in enumerate(lowered) if cell == name.strip().lower() and name.strip()]
        if len(places) > 1:
            raise TrackError(f'{source}: has two columns "{name[:40]}". Keep one of them.')
        if places:
            return Column(places[0], None if name == text else _factor(key, text[len(name) + 1 :].strip()))
    raise TrackError(
        f'{source}: has no column "{text[:40]}" for {key}; its columns: {_listed(heading)}. Check --column.'
    )


def _factor(key: str, unit: str) -> float:
    if not unit:
        raise CallError(f"--column {key}: names no unit after its colon; write it like width_m=swath_in:in.")
    kind = _KINDS.get(key)
    if kind is None:
        raise CallError(f"--column {key}: takes no unit. Leave out :{unit[:40]}.")
    try:
        return parse_quantity(f"1 {unit}", kind=kind, what=f"--column {key}").si
    except QuantityError:
        raise CallError(
            f'--column {key}: "{unit[:40]}" is no unit of {kind} that is known here; write it like width_m=swath_in:in.'
        ) from None


def _check_key(key: str) -> None:
    if key not in _KEYS and not _SECTION.fullmatch(key):
        raise CallError(f'--column: "{key[:40]}" is nothing that a track has. Choose from {", ".join(_KEYS)}.')


def _refuse_missing(heading: Sequence[str], found: Mapping[str, Column], *, source: str) -> None:
    missing = [name for name in ("lat", "lon") if name not in found]
    if missing:
        raise TrackError(
            f"{source}: has no column {' and no column '.join(missing)}; its columns: {_listed(heading)}. "
            "The first line must name them: time, lat, lon."
        )


def _listed(heading: Sequence[str]) -> str:
    return ", ".join(name[:20] for name in heading[:12]) or "none"
