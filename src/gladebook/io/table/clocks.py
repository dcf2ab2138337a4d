"""Times of a table's rows: in one column or two, as ISO 8601, as seconds, or as the call says."""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
import numpy.typing as npt

from gladebook.errors import CallError, TrackError
from gladebook.io.digits import STAMPS, times_from
from gladebook.io.trackrows import Stamp, parse_time, plain_number

__all__ = ["Clock", "check_format"]

Floats = npt.NDArray[np.float64]

_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}|[0-9]{8}")
_OF_DAY = re.compile(r"[0-9]{1,2}:[0-9]{2}(:[0-9]{2}([.,][0-9]+)?)?(Z|[+-][0-9]{2}:?[0-9]{2})?", re.IGNORECASE)
_DATED = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]")
_ALIKE = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}:[0-9]{2}(?:\.[0-9]{1,9})?(?:Z|[+-][0-9]{2}:[0-9]{2})?"
)
_LONGEST = 80


@dataclass(frozen=True)
class Clock:
    """How the times of a table are written.

    Attributes
    ----------
    format : as Python's `datetime.strptime` has it; None for ISO 8601 or seconds.
    second_s : seconds in one of the unit of times that are numbers; None where the call states no unit.
    with_day : whether the day stands in a column of its own.
    """

    format: str | None = None
    second_s: float | None = None
    with_day: bool = False

    def read(self, text: str, day: str, *, source: str, where: str) -> tuple[float, Stamp]:
        """One time in seconds, and how it is stated.

        Raises
        ------
        TrackError
            Where it cannot be read, or could mean two things.
        """
        if not text.strip():
            return math.nan, "none"
        if self.second_s is not None:
            return self._seconds(text, source=source, where=where), "seconds"
        if self.with_day and not (self.format is None and _DATED.match(text.strip())):
            text = self._with_day(text.strip(), day.strip(), source=source, where=where)
        if self.format is not None:
            return self._formatted(text.strip(), source=source, where=where)
        try:
            return parse_time(text, source=source, where=where)
        except TrackError:
            raise TrackError(
                f'{source}: {where} has the time "{text.strip()[:40]}"; write it like 2026-05-04T14:05:00Z, or say how '
                'it is written with --time-format, like "%m/%d/%Y %I:%M %p".'
            ) from None

    def read_many(self, texts: Sequence[str], days: Sequence[str], *, source: str) -> tuple[Floats, list[Stamp]]:
        """Many times as `read` has each.

        Raises
        ------
        TrackError
            Where one of them cannot be read; it does not say which.
        """
        if self.format is None and self.second_s is None:
            joined = [f"{day}T{text}" for text, day in zip(texts, days, strict=True)] if self.with_day else texts
            alike = _alike(joined)
            if alike is not None:
                return alike
        known: dict[tuple[str, str], tuple[float, Stamp]] = {}
        for pair in set(zip(texts, days, strict=True)):
            known[pair] = self.read(*pair, source=source, where="a row")
        read = [known[pair] for pair in zip(texts, days, strict=True)]
        return np.array([time_s for time_s, _ in read], dtype=float), [stamp for _, stamp in read]

    def _seconds(self, text: str, *, source: str, where: str) -> float:
        try:
            number = plain_number(text.strip())
        except ValueError:
            number = math.nan
        if not math.isfinite(number):
            raise TrackError(f'{source}: {where} has the time "{text[:40]}", where a number belongs. Mend that line.')
        return number * (self.second_s or 1.0)

    def _with_day(self, text: str, day: str, *, source: str, where: str) -> str:
        if self.format is not None:
            return f"{day} {text}"
        if not _DAY.fullmatch(day):
            raise TrackError(
                f'{source}: {where} has the date "{day[:40]}"; write it like 2026-05-04, or say how it is written with '
                '--time-format, like "%m/%d/%Y %H:%M:%S".'
            )
        if not _OF_DAY.fullmatch(text):
            raise TrackError(
                f'{source}: {where} has the time of day "{text[:40]}"; write it like 14:05:00, or say how it is '
                'written with --time-format, like "%m/%d/%Y %I:%M %p".'
            )
        return f"{day}T{text.zfill(len(text) + 1) if text[1] == ':' else text}"

    def _formatted(self, text: str, *, source: str, where: str) -> tuple[float, Stamp]:
        try:
            moment = datetime.strptime(text[:_LONGEST], self.format or "")  # noqa: DTZ007 - no zone is said to be none
            if moment.tzinfo is not None:
                return moment.timestamp(), "utc"
            return moment.replace(tzinfo=UTC).timestamp(), "no zone"
        except (ValueError, OverflowError):
            raise TrackError(
                f'{source}: {where} has the time "{text[:40]}", which is not written as --time-format says, '
                f'"{(self.format or "")[:40]}". Check both.'
            ) from None


def check_format(text: str) -> None:
    """Check that a format of times names a day of some year.

    Raises
    ------
    CallError
        Where it does not, or is none.
    """
    sample = datetime(2026, 5, 4, 14, 5, 6, tzinfo=UTC)
    try:
        back = datetime.strptime(sample.strftime(text), text)  # noqa: DTZ007 - only its day is looked at
    except (ValueError, re.error, UnicodeError):
        back = None
    if len(text) > _LONGEST or back is None or back.date() != sample.date():
        raise CallError(
            f'--time-format: "{text[:40]}" does not state day, month and year; write it like "%m/%d/%Y %I:%M:%S %p".'
        )


def _alike(texts: Sequence[str]) -> tuple[Floats, list[Stamp]] | None:
    """Times that are written alike but for their digits, read at once; None where they are not."""
    width = len(texts[0])
    whole = "".join(texts)
    if not width or len(whole) != width * len(texts) or not whole.isascii() or any(len(t) != width for t in texts):
        return None
    cells = np.frombuffer(whole.encode("ascii"), dtype=np.uint8).reshape(-1, width).copy()
    digit = (cells >= 48) & (cells <= 57)
    if (digit != digit[0]).any() or (cells[:, ~digit[0]] != cells[0, ~digit[0]]).any():
        return None
    if not _ALIKE.fullmatch(texts[0]):
        return None
    cells[:, 10] = ord("T")
    read = times_from(cells, source="")
    return None if read is None else (read[0], [STAMPS[code] for code in read[1].tolist()])
