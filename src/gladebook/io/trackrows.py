"""Collect the points of a track, refuse what cannot be right, and say what was left out."""

import math
from array import array
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from itertools import compress
from typing import Any, Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from gladebook.errors import TrackError, UnreadableFile, printable
from gladebook.io.limits import LIMITS, beyond
from gladebook.notes import Note, NoteKind, left_out
from gladebook.passes.track import Clock, Track

__all__ = ["VOID", "Stamp", "TrackColumns", "TrackPoint", "TrackRows", "parse_state", "parse_time", "plain_number"]

Stamp = Literal["utc", "no zone", "seconds", "none"]
Floats = npt.NDArray[np.float64]
VOID = "points at 0, 0, which a receiver writes before it knows its place"
_LONGEST_TIME = 40
_LARGEST_DEG = 1000.0  # beyond any slip in degrees
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


def parse_state(value: Any, *, source: str, where: str, what: str = "boom_on") -> int:
    """Read the state of a boom or a section: 1 or 0, on or off, true or false, yes or no; -1 where it is empty.

    Raises
    ------
    TrackError
        Where it is something else.
    """
    if value is None or value == "":
        return -1
    text = str(value)
    state = _STATES.get(text)
    if state is None:
        state = _STATES.get(text.strip().lower())
    if state is None:
        raise TrackError(f'{source}: {where} has {what} "{str(value)[:40]}"; write 1 or 0, on or off.')
    return state


class TrackPoint(NamedTuple):
    """One point as a file has it; see `gladebook.passes.track.Track` for the meanings."""

    lon_deg: float
    lat_deg: float
    time: tuple[float, Stamp]
    segment: int = 0
    boom_on: int = -1
    width_m: float = math.nan
    speed_mps: float = math.nan
    hdop: float = math.nan
    sections: tuple[int, ...] = ()


class TrackColumns(NamedTuple):
    """Points as columns of one length, in the file's order; None stands for not recorded at any point."""

    lon_deg: Floats
    lat_deg: Floats
    time_s: Floats
    segment: npt.NDArray[np.int64]
    boom_on: npt.NDArray[np.int8] | None = None
    width_m: Floats | None = None
    speed_mps: Floats | None = None
    hdop: Floats | None = None
    sections: npt.NDArray[np.int8] | None = None


class TrackRows:
    """Points as they are read, in the file's order.

    Parameters
    ----------
    source
        The file's name.
    sections
        How many boom sections the recording has; a point has as many states, or none.
    most
        How many points are taken; by default any number.
    """

    def __init__(self, source: str, *, sections: int = 0, most: int | None = None) -> None:
        self.source = source
        self._most = 2**60 if most is None else most
        self._flat = array("d")
        self._unknown = (-1,) * sections
        self._sections = array("b")
        self._clocks: Counter[Stamp] = Counter()
        self._skipped: Counter[str] = Counter()
        self._examples: dict[str, tuple[str, ...]] = {}
        self._notes: list[Note] = []

    def add(self, point: TrackPoint, *, where: str) -> None:
        """Take one point; `where` says where in the file it stands.

        Raises
        ------
        TrackError
            Where its position or width cannot be right.
        """
        lon, lat, (time_s, clock), segment, boom_on, width_m, speed_mps, hdop, sections = point
        if not (math.isfinite(lon) and math.isfinite(lat)) or abs(lat) > 90 or abs(lon) > 360:
            raise self._no_place(lon, lat, where)
        if lon == 0 and lat == 0:
            self.skip(VOID)
            return
        if width_m < 0 or math.isinf(width_m):
            raise self._no_width(width_m, where)
        self._clocks[clock] += 1
        self._flat.extend((lon, lat, time_s, segment, boom_on, width_m, speed_mps, hdop))
        if self._unknown:
            self._sections.extend(sections or self._unknown)
        if len(self._flat) > 8 * self._most:
            raise self._too_many()

    def extend(self, columns: TrackColumns, *, clocks: Sequence[Stamp] | Stamp, where: Callable[[int], str]) -> None:
        """Take many points, as `add` takes each; `where` says where one of them stands.

        Parameters
        ----------
        columns
            The points; nothing that is not a number beside positions, times and figures.
        clocks
            How each time is stated, or all of them.
        where
            From a point's number, counted from 0, to where it stands in the file.

        Raises
        ------
        TrackError
            Where a position or width cannot be right.
        """
        lon, lat, width_m = columns.lon_deg, columns.lat_deg, columns.width_m
        with np.errstate(invalid="ignore"):
            bad = ~((np.abs(lat) <= 90) & (np.abs(lon) <= 360))
            thin = np.zeros(len(lon), dtype=bool) if width_m is None else (width_m < 0) | np.isinf(width_m)
        void = (lon == 0) & (lat == 0)
        for i in np.flatnonzero(bad | thin & ~void)[:1].tolist():
            raise (
                self._no_place(lon[i], lat[i], where(i))
                if width_m is None or bad[i]
                else self._no_width(width_m[i], where(i))
            )
        kept = ~void
        flat = np.full((int(kept.sum()), 8), np.nan)
        for place, values in enumerate((lon, lat, columns.time_s, columns.segment)):
            flat[:, place] = values[kept]
        flat[:, 4] = -1 if columns.boom_on is None else columns.boom_on[kept]
        for place, figures in ((5, width_m), (6, columns.speed_mps), (7, columns.hdop)):
            if figures is not None:
                flat[:, place] = figures[kept]
        self._flat.frombytes(flat.tobytes())
        if self._unknown:
            states = np.full((len(lon), len(self._unknown)), -1) if columns.sections is None else columns.sections
            self._sections.frombytes(states[kept].astype(np.int8).tobytes())
        self._clocks.update({clocks: len(flat)} if isinstance(clocks, str) else compress(clocks, kept.tolist()))
        if not kept.all():
            self.skip(VOID, int(void.sum()))
        if len(self._flat) > 8 * self._most:
            raise self._too_many()

    def _no_place(self, lon: float, lat: float, where: str) -> TrackError:
        looks = ", but looks like metres or feet" if max(abs(lat), abs(lon)) > _LARGEST_DEG else ""
        return TrackError(
            f"{self.source}: {where} lies at {lat:.10g}, {lon:.10g}, which is no latitude and longitude{looks}. "
            "Check the columns, or export the track in WGS 84."
        )

    def _no_width(self, width_m: float, where: str) -> TrackError:
        return TrackError(f"{self.source}: {where} has a boom width of {width_m:g} m. Mend it, or leave it empty.")

    def _too_many(self) -> UnreadableFile:
        return beyond(
            self.source,
            f"has more than {self._most:,} points",
            limit="points",
            limits=replace(LIMITS, points=self._most),
            instead="Give the part with your plots in it",
        )

    def take(self, columns: TrackColumns, *, clocks: Counter[Stamp]) -> Track:
        """Make the track of columns that were read at once; points at 0, 0 are left out already, and counted.

        Raises
        ------
        TrackError
            As `finish`.
        """
        self._clocks.update(clocks)
        return self._track(columns)

    def skip(self, why: str, count: int = 1, *, examples: tuple[str, ...] = ()) -> None:
        """Count something left out, named in the plural; `examples` says where the first of them stand."""
        self._skipped[why] += count
        if examples:
            self._examples[why] = examples

    def note(self, sentence: str, *, kind: NoteKind = "read", count: int | None = None) -> None:
        """Keep a remark for the reader."""
        self._notes.append(Note(kind, printable(self.source), printable(sentence), count=count))

    def finish(self) -> Track:
        """Make the track of the points added.

        Raises
        ------
        TrackError
            Where no point is left, or times are partly with and partly without a zone.
        """
        lon, lat, time_s, segment, boom_on, width_m, speed_mps, hdop = (
            np.frombuffer(self._flat).reshape(-1, 8).T.copy() if self._flat else np.empty((8, 0))
        )
        states = None
        if self._unknown and self._sections:
            states = np.frombuffer(self._sections, dtype=np.int8).reshape(-1, len(self._unknown)).copy()
        columns = TrackColumns(
            lon, lat, time_s, segment.astype(np.int64), boom_on.astype(np.int8), width_m, speed_mps, hdop, states
        )
        return self._track(columns)

    def _track(self, columns: TrackColumns) -> Track:
        if not len(columns.lon_deg):
            found = "".join(f", only {why} ({n})" for why, n in self._skipped.items())
            raise TrackError(f"{self.source}: holds no track points{found}. Pick the file with the recording in it.")
        clock, notes = self._clock()
        void = self._skipped[VOID]
        unknown = np.full(len(columns.lon_deg), np.nan)
        states = columns.sections
        return Track(
            name=self.source,
            lon_deg=columns.lon_deg,
            lat_deg=columns.lat_deg,
            time_s=columns.time_s,
            segment=columns.segment,
            boom_on=np.full(len(unknown), -1, dtype=np.int8) if columns.boom_on is None else columns.boom_on,
            width_m=unknown if columns.width_m is None else columns.width_m,
            speed_mps=unknown.copy() if columns.speed_mps is None else columns.speed_mps,
            hdop=unknown.copy() if columns.hdop is None else columns.hdop,
            clock=clock,
            notes=(*notes, *self._notes),
            sections=states if states is not None and (states >= 0).any() else None,
            void_points=void,
        )

    def _clock(self) -> tuple[Clock, list[Note]]:
        """How the times are stated, and what is to say about them and about what was left out."""
        kinds: list[Stamp] = [kind for kind in ("utc", "no zone", "seconds") if self._clocks[kind]]
        if len(kinds) > 1:
            raise TrackError(
                f"{self.source}: its times are written in different ways, with a zone, without one or as seconds, "
                "so they cannot be put in order. Write all of them with Z or an offset."
            )
        clock: Clock = "none" if not kinds else "utc" if kinds == ["utc"] else "no zone"
        about = printable(self.source)
        notes = [
            replace(left_out(about, printable(why), count=n), examples=self._examples.get(why, ()))
            for why, n in self._skipped.items()
            if n
        ]
        if clock == "no zone":
            words = "its times state no zone; they are used for the time between points only."
            notes.append(Note("assumed", about, words))
        if clock != "none" and (timeless := self._clocks["none"]):
            notes.append(Note("read", about, f"{timeless} points have no time.", count=timeless))
        return clock, notes
