"""Collect the points of a track, refuse what cannot be right, and say what was left out."""

import math
from collections import Counter
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Literal

import numpy as np

from gladebook.errors import TrackError, printable
from gladebook.passes.track import Clock, Track

__all__ = ["TrackPoint", "TrackRows", "parse_state", "parse_time", "plain_number"]

Stamp = Literal["utc", "no zone", "seconds", "none"]
_LONGEST_TIME = 40
_STATES = {
    **dict.fromkeys(("1", "1.0", "true", "on", "yes", "t", "y"), 1),
    **dict.fromkeys(("0", "0.0", "false", "off", "no", "f", "n"), 0),
}


def plain_number(text: str) -> float:
    """A number as files write it: no underscores, which Python would take.

    Raises
    ------
    ValueError
        Where it is none.
    """
    if "_" in text:
        raise ValueError
    return float(text)


def parse_time(value: Any, *, source: str, where: str) -> tuple[float, Stamp]:
    """Read an ISO 8601 time, or seconds as a number; the clock says whether a zone was stated.

    A number is seconds on the file's own clock, with no zone.

    Raises
    ------
    TrackError
        Where it is neither.
    """
    if value is None or value == "":
        return math.nan, "none"
    text = str(value)[:400].strip().replace("z", "Z")
    try:
        number = plain_number(text)
        if math.isfinite(number):
            return number, "seconds"
    except ValueError:
        pass
    try:
        if len(text) > _LONGEST_TIME:
            raise ValueError
        moment = datetime.fromisoformat(text)
        if moment.tzinfo is None:
            return moment.replace(tzinfo=UTC).timestamp(), "no zone"
        return moment.timestamp(), "utc"
    except (ValueError, OverflowError):
        raise TrackError(f'{source}: {where} has the time "{text[:40]}"; write it like 2026-05-04T14:05:00Z.') from None


def parse_state(value: Any, *, source: str, where: str) -> int:
    """Read a boom state: 1 or 0, on or off, true or false, yes or no; -1 where it is empty.

    Raises
    ------
    TrackError
        Where it is something else.
    """
    if value is None or value == "":
        return -1
    state = _STATES.get(str(value).strip().lower())
    if state is None:
        raise TrackError(f'{source}: {where} has boom_on "{str(value)[:40]}"; write 1 or 0, on or off.')
    return state


@dataclass(frozen=True, slots=True)
class TrackPoint:
    """One point as a file has it; see `gladebook.passes.track.Track` for the meanings."""

    lon_deg: float
    lat_deg: float
    time: tuple[float, Stamp]
    segment: int = 0
    boom_on: int = -1
    width_m: float = math.nan
    speed_mps: float = math.nan
    hdop: float = math.nan


class TrackRows:
    """Points as they are read, in the file's order."""

    def __init__(self, source: str) -> None:
        self.source = source
        self._columns: list[tuple[float, float, float, int, int, float, float, float]] = []
        self._clocks: Counter[Stamp] = Counter()
        self._skipped: Counter[str] = Counter()
        self._notes: list[str] = []

    def add(self, point: TrackPoint, *, where: str) -> None:
        """Take one point; `where` says where in the file it stands.

        Raises
        ------
        TrackError
            Where its position or width cannot be right.
        """
        lon, lat, width_m = point.lon_deg, point.lat_deg, point.width_m
        if not (math.isfinite(lon) and math.isfinite(lat)) or abs(lat) > 90 or abs(lon) > 360:
            raise TrackError(
                f"{self.source}: {where} lies at {lat:g}, {lon:g}, which is no latitude and longitude. "
                "Check the columns, or export the track in WGS 84."
            )
        if lon == 0 and lat == 0:
            self.skip("points at 0, 0, which a receiver writes before it knows its place")
            return
        if width_m < 0 or math.isinf(width_m):
            raise TrackError(f"{self.source}: {where} has a boom width of {width_m:g} m. Mend it, or leave it empty.")
        time_s, clock = point.time
        self._clocks[clock] += 1
        self._columns.append(
            (lon, lat, time_s, point.segment, point.boom_on, point.width_m, point.speed_mps, point.hdop)
        )

    def skip(self, why: str) -> None:
        """Count something left out, named in the plural."""
        self._skipped[why] += 1

    def note(self, sentence: str) -> None:
        """Keep a sentence for the reader."""
        self._notes.append(printable(f"{self.source}: {sentence}"))

    def finish(self) -> Track:
        """Make the track.

        Raises
        ------
        TrackError
            Where no point is left, or times are partly with and partly without a zone.
        """
        if not self._columns:
            found = "".join(f", only {why} ({n})" for why, n in self._skipped.items())
            raise TrackError(f"{self.source}: holds no track points{found}. Pick the file with the recording in it.")
        kinds: list[Stamp] = [kind for kind in ("utc", "no zone", "seconds") if self._clocks[kind]]
        if len(kinds) > 1:
            raise TrackError(
                f"{self.source}: its times are written in different ways, with a zone, without one or as seconds, "
                "so they cannot be put in order. Write all of them with Z or an offset."
            )
        clock: Clock = "none" if not kinds else "utc" if kinds == ["utc"] else "no zone"
        notes = [printable(f"{self.source}: left out {why} ({n}).") for why, n in self._skipped.items()]
        if clock == "no zone":
            notes.append(f"{self.source}: its times state no zone; they are used for the time between points only.")
        if clock != "none" and self._clocks["none"]:
            notes.append(f"{self.source}: {self._clocks['none']} points have no time.")
        lon, lat, time_s, segment, boom_on, width_m, speed_mps, hdop = np.array(self._columns, dtype=float).T
        return Track(
            name=self.source,
            lon_deg=lon,
            lat_deg=lat,
            time_s=time_s,
            segment=segment.astype(np.int64),
            boom_on=boom_on.astype(np.int8),
            width_m=width_m,
            speed_mps=speed_mps,
            hdop=hdop,
            clock=clock,
            notes=(*notes, *self._notes),
        )
