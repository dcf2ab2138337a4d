"""Until when was sprayed? The latest moment of the tracks with the boom on, or not known to be off."""

from collections.abc import Sequence
from datetime import UTC, datetime, tzinfo
from math import isfinite

from gladebook.passes.track import Track
from gladebook.spraying.reentry import Reentry

__all__ = ["reentry_after"]


def reentry_after(tracks: Sequence[Track], *, wait_s: float | None, zone: tzinfo | None = None) -> Reentry:
    """When sprayed ground may be entered.

    Where the boom is not recorded, spraying lasts until the recording ends: rather too long a wait than too short.

    Parameters
    ----------
    tracks
        The application's tracks.
    wait_s
        The label's re-entry time, as the user gives it, s; None where not given.
    zone
        The zone in which times are told; None: UTC, or the file's own clock where that states no zone.
    """
    if wait_s is None:
        return Reentry()
    clocks = {track.clock for track in tracks}
    if "none" in clocks:
        return Reentry(wait_s, unknown="the track has no times to count from")
    if len(clocks) > 1 and zone is None:
        return Reentry(wait_s, unknown="only some of the tracks state the zone of their times")
    ends = [(end, track.clock) for track in tracks if (end := _last_on(track)) is not None]
    if not ends:
        return Reentry(wait_s, unknown="the boom was never on")
    moments = [_moment(end, on_zone=clock == "utc", zone=zone) for end, clock in ends]
    return Reentry(wait_s, max(moments))


def _moment(end_s: float, *, on_zone: bool, zone: tzinfo | None) -> datetime:
    at = datetime.fromtimestamp(end_s, tz=UTC)
    if on_zone:
        return at if zone is None else at.astimezone(zone)
    return at.replace(tzinfo=zone)


def _last_on(track: Track) -> float | None:
    """The latest time at which the boom was on or not recorded; a state holds until the next point."""
    may_be_on = track.boom_on != 0
    may_be_on[1:] |= track.boom_on[:-1] != 0
    known = [second for second in track.time_s[may_be_on].tolist() if isfinite(second)]
    return max(known, default=None)
