"""A track: where the receiver was, in the order of the file."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, tzinfo
from typing import Literal

import numpy as np
import numpy.typing as npt

from gladebook.errors import CallError, TrackError
from gladebook.notes import Note

__all__ = ["Clock", "Track", "trim_track"]

Clock = Literal["utc", "no zone", "none"]
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Track:
    """Points of one recording, in the file's order.

    Attributes
    ----------
    name : the file's name.
    lon_deg, lat_deg : shape (n,), degrees on WGS 84.
    time_s : shape (n,), seconds since 1970 UTC; without a zone, seconds on the file's own
        clock; not a number where unknown.
    segment : shape (n,), the recording's own pieces; nothing is joined across them.
    boom_on : shape (n,), 1 on, 0 off, -1 not recorded; holds from a point to the next.
    width_m : shape (n,), boom width in metres, not a number where not recorded; holds likewise.
    speed_mps : shape (n,), speed as recorded, not a number where not.
    hdop : shape (n,), dilution of precision as recorded, not a number where not.
    clock : whether times are in UTC, without a zone, or missing.
    notes : what the reader left out, took for granted or doubts.
    sections : shape (n, k), states of the boom's sections from left to right as `boom_on` is; None where
        the recording has none.
    void_points : how many points the reader left out because the receiver did not yet know its place.
    """

    name: str
    lon_deg: Floats
    lat_deg: Floats
    time_s: Floats
    segment: npt.NDArray[np.int64]
    boom_on: npt.NDArray[np.int8]
    width_m: Floats
    speed_mps: Floats
    hdop: Floats
    clock: Clock
    notes: tuple[Note, ...] = ()
    sections: npt.NDArray[np.int8] | None = None
    void_points: int = 0

    def __len__(self) -> int:
        return len(self.lon_deg)


def trim_track(
    track: Track,
    *,
    start: datetime | time | None = None,
    end: datetime | time | None = None,
    zone: tzinfo | None = None,
) -> Track:
    """Keep the points from `start` until `end`, both included: the ride from the truck goes.

    Parameters
    ----------
    start, end
        With a zone of their own, or read in `zone`. A time of day alone is that of the day on
        which the track starts, there.
    zone
        The zone of times that state none, in the file or in the call.

    Raises
    ------
    CallError
        Where a time states no zone and `zone` is missing.
    TrackError
        Where the track has no times, or no point is left.
    """
    if start is None and end is None:
        return track
    if track.clock == "none":
        raise TrackError(f"{track.name}: has no times, so it cannot be trimmed. Leave out --from and --until.")
    shift_s = np.zeros(len(track))
    if track.clock == "no zone":
        if zone is None:
            raise CallError(f"{track.name}: its times state no zone. Say which with --time-zone, like America/Chicago.")
        shift_s = _to_utc(track.time_s, zone=zone)
    keep = np.ones(len(track), dtype=bool)
    with np.errstate(invalid="ignore"):
        if start is not None:
            keep &= track.time_s + shift_s >= _stamp(start, track=track, zone=zone)
        if end is not None:
            keep &= track.time_s + shift_s <= _stamp(end, track=track, zone=zone)
    if not keep.any():
        raise TrackError(
            f"{track.name}: no point lies between the times given. Check --from, --until and the time zone."
        )
    trimmed = int((~keep).sum())
    words = f"{trimmed} of {len(track)} points trimmed away by time."
    return replace(
        track,
        lon_deg=track.lon_deg[keep],
        lat_deg=track.lat_deg[keep],
        time_s=track.time_s[keep],
        segment=track.segment[keep],
        boom_on=track.boom_on[keep],
        width_m=track.width_m[keep],
        speed_mps=track.speed_mps[keep],
        hdop=track.hdop[keep],
        sections=None if track.sections is None else track.sections[keep],
        notes=(*track.notes, Note("skipped", track.name, words, count=trimmed)),
    )


def _stamp(moment: datetime | time, *, track: Track, zone: tzinfo | None) -> float:
    there = moment.tzinfo or zone
    if there is None:
        raise CallError(
            f"{moment.isoformat()} states no zone. End it with Z for UTC or an offset like -05:00, "
            "or say --time-zone America/Chicago."
        )
    if isinstance(moment, time):
        first = datetime.fromtimestamp(float(track.time_s[np.isfinite(track.time_s)][0]), tz=UTC)
        # Without a zone the file's own clock is already the local one.
        day = (first if track.clock == "no zone" else first.astimezone(there)).date()
        moment = datetime.combine(day, moment)
    return moment.replace(tzinfo=there).timestamp()


def _to_utc(time_s: Floats, *, zone: tzinfo) -> Floats:
    """Seconds to add to the file's own clock to reach UTC, by the zone's rules at each hour."""
    hours = np.unique(np.floor(time_s[np.isfinite(time_s)] / 3600))
    shift = {
        h: datetime.fromtimestamp(h * 3600, tz=UTC).replace(tzinfo=zone).timestamp() - h * 3600 for h in hours.tolist()
    }
    return np.array([shift.get(h, np.nan) for h in np.floor(time_s / 3600).tolist()])
