"""What is exported, whatever the format: layers of areas, tracks, and tables; and how texts and times are written."""

import os
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from gladebook.passes.track import Track

__all__ = [
    "Area",
    "Held",
    "HeldTrack",
    "Layer",
    "Texts",
    "counted",
    "figure",
    "named",
    "pieces_of",
    "polygons_of",
    "put",
    "single_points_left_out",
    "times_of",
]

_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")  # XML 1.0, production 2
_FIRST_S, _LAST_S = -62_135_596_800, 253_402_300_799  # the years 1 to 9999, which ISO 8601 writes with four digits
_EXAMPLES = 3


@dataclass(frozen=True)
class Area:
    """One area.

    Attributes
    ----------
    name : as people call it.
    shape : shapely Polygon or MultiPolygon in degrees on WGS 84.
    fields : what else is known of it, by name.
    walked : whether its boundary was walked with a receiver.
    """

    name: str
    shape: Any = field(repr=False)
    fields: Mapping[str, Any]
    walked: bool = False


@dataclass(frozen=True)
class Layer:
    """Areas of one kind, and what their file is called."""

    kind: str
    areas: tuple[Area, ...]


@dataclass(frozen=True)
class HeldTrack:
    """A track, what its file is called, and the application that it belongs to."""

    file: str
    track: Track
    application: str
    day: str


@dataclass(frozen=True)
class Held:
    """All that is exported.

    Attributes
    ----------
    layers : none of them empty.
    tracks : in the order of their applications.
    tables : rows as mappings from column to value, by what their file is called.
    """

    layers: tuple[Layer, ...]
    tracks: tuple[HeldTrack, ...]
    tables: Mapping[str, Sequence[Mapping[str, Any]]]


class Texts:
    """Makes texts fit a format, and counts those that were changed."""

    def __init__(self, *, forbidden: re.Pattern[str] = _NOT_XML) -> None:
        self._forbidden = forbidden
        self.changed = 0

    def fit(self, text: str) -> str:
        """The text without characters that the format cannot hold; each becomes a blank."""
        if not self._forbidden.search(text):
            return text
        self.changed += 1
        return self._forbidden.sub(" ", text)

    def said(self, format_name: str) -> list[str]:
        """What was changed, as a sentence."""
        if not self.changed:
            return []
        return [f"{format_name} holds no control characters: blanks stand for them in {counted(self.changed, 'text')}."]


def put(folder: Path, name: str, data: bytes) -> None:
    """Write a file of the export, and wait until the disk has it."""
    path = folder / name
    path.parent.mkdir(exist_ok=True)
    with path.open("xb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def polygons_of(shape: Any) -> list[Any]:
    """The polygons of a shape, without heights; empty where it has none that can be drawn."""
    flat = shapely.force_2d(shape)
    parts = [p for p in shapely.get_parts(flat) if p.geom_type == "Polygon" and not p.is_empty]
    return parts if np.isfinite(shapely.get_coordinates(parts)).all() else []


def pieces_of(track: Track) -> list[Any]:
    """The numbers of the points of each of a track's own pieces, in order; points without a place are left out."""
    there = np.flatnonzero(np.isfinite(track.lon_deg) & np.isfinite(track.lat_deg))
    if not len(there):
        return []
    return np.split(there, np.flatnonzero(np.diff(track.segment[there]) != 0) + 1)


def single_points_left_out(tracks: Iterable[HeldTrack], *, format_name: str) -> list[str]:
    """What lines cannot hold of tracks, as a sentence."""
    alone = sum(len(piece) == 1 for held in tracks for piece in pieces_of(held.track))
    return [f"{format_name} holds tracks as lines: {counted(alone, 'single point')} left out."] if alone else []


def times_of(track: Track) -> tuple[list[str], bool]:
    """Each point's time as text, empty where it has none, and whether it is by ISO 8601; else it is in seconds.

    Times are written to the millisecond, or to the microsecond where one of them is finer.
    """
    known = np.isfinite(track.time_s)
    if not known.any():
        return [""] * len(track), True
    seconds = track.time_s[known]
    if seconds.min() < _FIRST_S or seconds.max() >= _LAST_S:
        return [repr(t) if there else "" for t, there in zip(track.time_s.tolist(), known.tolist(), strict=True)], False
    micro = np.zeros(len(track), dtype=np.int64)
    micro[known] = np.round(seconds * 1e6).astype(np.int64)
    moments = micro.astype("datetime64[us]")
    fine = bool((micro % 1000).any())
    texts = (np.datetime_as_string(moments) if fine else np.datetime_as_string(moments, unit="ms")).tolist()
    end = "Z" if track.clock == "utc" else ""
    return [f"{text}{end}" if there else "" for text, there in zip(texts, known.tolist(), strict=True)], True


def figure(value: float) -> str:
    """A number with all its digits and no exponent, which GPX and KML do not allow."""
    text = repr(float(value))
    return text if "e" not in text else str(np.format_float_positional(value, trim="0"))


def counted(number: int, what: str, many: str = "") -> str:
    """A number with its noun."""
    return f"{number:,} {what if number == 1 else many or what + 's'}"


def named(names: Sequence[str]) -> str:
    """The first of some names, and how many more there are."""
    more = f" and {len(names) - _EXAMPLES:,} more" if len(names) > _EXAMPLES else ""
    return ", ".join(name or "one without a name" for name in names[:_EXAMPLES]) + more
