"""When may the sprayed ground be entered? The hours are the label's, given by the user; none is known here."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

__all__ = ["Reentry"]


@dataclass(frozen=True)
class Reentry:
    """The wait after spraying, and since when it runs.

    Attributes
    ----------
    wait_s : the label's re-entry time, as the user gives it, s; None where not given.
    sprayed_until : when the boom was last on by the tracks; without a zone, on their own clock; None where not known.
    unknown : why that is not known, one clause; empty where it is.
    """

    wait_s: float | None = None
    sprayed_until: datetime | None = None
    unknown: str = ""

    @property
    def not_before(self) -> datetime | None:
        """The first full minute at which the wait is over; None where the wait or its start is not known."""
        if self.wait_s is None or self.sprayed_until is None:
            return None
        zone = self.sprayed_until.tzinfo
        # In UTC, as a wait over a change of the clocks is no longer or shorter for it.
        start = self.sprayed_until if zone is None else self.sprayed_until.astimezone(UTC)
        end = start + timedelta(seconds=self.wait_s)
        if end.second or end.microsecond:
            end = end.replace(second=0, microsecond=0) + timedelta(minutes=1)
        return end if zone is None else end.astimezone(zone)
