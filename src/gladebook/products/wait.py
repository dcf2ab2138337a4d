"""A wait in days or months, as labels have it: nine months are not 270 days."""

import calendar
import re
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final, Literal

from gladebook.errors import CallError

__all__ = ["Wait", "wait_from"]

_TEXT: Final = re.compile(
    r"\s*(?P<count>\d+(?:\.\d+)?)\s*(?P<unit>days?|d|weeks?|wks?|months?|mos?)\s*$", re.IGNORECASE
)


@dataclass(frozen=True)
class Wait:
    """So many days, or months of the calendar."""

    count: float
    unit: Literal["days", "months"]

    def after(self, day: date) -> date:
        """The first day on which the wait that began on `day` is over; half a month counts as fifteen days."""
        if self.unit == "days":
            return day + timedelta(days=-int(-self.count // 1))
        months = day.month - 1 + int(self.count)
        year, month = day.year + months // 12, months % 12 + 1
        end = date(year, month, min(day.day, calendar.monthrange(year, month)[1]))
        return end + timedelta(days=15 if self.count % 1 else 0)

    def __str__(self) -> str:
        unit = self.unit if self.count != 1 else self.unit[:-1]
        return f"{self.count:g} {unit}"


def wait_from(text: str, *, what: str) -> Wait:
    """Read ``30 days``, ``2 weeks`` or ``9 months``.

    Raises
    ------
    CallError
        Where it is no wait, or says no unit.
    """
    match = _TEXT.match(text[:40])
    if match is None:
        raise CallError(f'{what}: "{text[:40]}" is no wait; write it like "30 days" or "9 months".')
    count, unit = float(match["count"]), match["unit"].lower()
    if unit.startswith("w"):
        return Wait(count * 7, "days")
    return Wait(count, "months" if unit.startswith("m") else "days")
