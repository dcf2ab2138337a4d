"""When the sun rises and sets at a plot."""

from dataclasses import dataclass
from datetime import date, datetime, tzinfo

from astral import Observer
from astral.sun import sunrise, sunset

__all__ = ["SunTimes", "sun_times"]


@dataclass(frozen=True)
class SunTimes:
    """Sunrise and sunset, with their zone; None where the sun does not rise or set that day."""

    sunrise: datetime | None
    sunset: datetime | None


def sun_times(day: date, *, lon_deg: float, lat_deg: float, zone: tzinfo) -> SunTimes:
    """Sunrise and sunset by the upper edge of the sun on a level horizon; good to a minute or two (library astral).

    Parameters
    ----------
    day
        In `zone`.
    lon_deg, lat_deg
        Degrees on WGS 84.
    zone
        In which the answer is told.
    """
    observer = Observer(latitude=lat_deg, longitude=lon_deg)
    found: list[datetime | None] = []
    for event in (sunrise, sunset):
        try:
            found.append(event(observer, date=day, tzinfo=zone))
        except ValueError:
            found.append(None)
    return SunTimes(*found)
