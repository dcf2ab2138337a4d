"""When the plot may be walked and hunted: re-entry by the labels, and the days of the hunts."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo

from gladebook.season.case import Case
from gladebook.spraying.reentry import Reentry

__all__ = ["Entry", "entry_after"]


@dataclass(frozen=True)
class Entry:
    """Re-entry.

    Attributes
    ----------
    wait_s : the longest of the labels', s; None where one of them was not entered.
    not_before : when it is over, on the plot's clock; None where the wait, or the end of the spray, is not known.
    missing : products whose re-entry time was not entered.
    hunts : each day of a hunt, and whether the wait is over before that day begins; None where that is not known.
    words : all of it as sentences.
    """

    wait_s: float | None
    not_before: datetime | None
    missing: tuple[str, ...]
    hunts: tuple[tuple[date, bool | None], ...]
    words: tuple[str, ...]


def entry_after(case: Case) -> Entry:
    """The longest re-entry time of what is planned, from the time of the spray on, and what it means for hunts.

    Mixtures take the longest (United States Department of Agriculture, record manual; reprint read).
    """
    waits = {p.product: p.label.reentry_s if p.label is not None else None for p in case.planned}
    missing = tuple(product for product, wait in waits.items() if wait is None)
    known = [wait for wait in waits.values() if wait is not None]
    longest = max(known, default=None)
    start = None if case.clock is None else datetime.combine(case.day, case.clock, tzinfo=_zone(case))
    end = Reentry(wait_s=longest, sprayed_until=start).not_before
    before = _from_history(case)
    # Without a clock the spray may end as late as midnight.
    ends = [moment.replace(tzinfo=None) for _, moment in before] + ([] if end is None else [end.replace(tzinfo=None)])
    if longest is not None and end is None:
        ends.append(_midnight_after(case.day) + timedelta(seconds=longest))
    latest = max(ends, default=None)
    hunts = tuple((day, _over(day, latest, known=not missing)) for day in case.growing.hunts if day >= case.day)
    words = [
        f"{name} was sprayed before: nobody goes in before {moment:%Y-%m-%d %H:%M}, by its label."
        for name, moment in before
    ]
    words += _words(case, longest=longest, end=end, missing=missing, hunts=hunts)
    return Entry(longest if not missing else None, end if not missing else None, missing, hunts, tuple(words))


def _midnight_after(day: date) -> datetime:
    return datetime.combine(day, datetime.min.time()) + timedelta(days=1)


def _from_history(case: Case) -> list[tuple[str, datetime]]:
    """Earlier sprays whose re-entry time reaches into the day, and until when."""
    found = []
    for sprayed in case.history:
        wait = None if sprayed.label is None else sprayed.label.reentry_s
        if wait is None or sprayed.day > case.day:
            continue
        ended = sprayed.ended or _midnight_after(sprayed.day)
        over = Reentry(wait_s=wait, sprayed_until=ended.replace(tzinfo=None)).not_before
        if over is not None and over > datetime.combine(case.day, datetime.min.time()):
            found.append((f"{sprayed.product} of {sprayed.day.isoformat()}", over))
    return found


def _zone(case: Case) -> tzinfo | None:
    return None if case.sunset is None else case.sunset.tzinfo


def _over(day: date, latest: datetime | None, *, known: bool) -> bool | None:
    if latest is None:
        return None
    over = datetime.combine(day, datetime.min.time()) >= latest.replace(tzinfo=None)
    # A wait that is not over is a fact even where another product's is not known.
    return over if known or not over else None


def _words(
    case: Case,
    *,
    longest: float | None,
    end: datetime | None,
    missing: tuple[str, ...],
    hunts: tuple[tuple[date, bool | None], ...],
) -> list[str]:
    words: list[str] = []
    if not case.planned:
        return words
    if missing:
        words.append(f"Re-entry: not known for {', '.join(missing)}. Stay out until the time on the label has passed.")
    if longest is not None and end is not None:
        least = "at least " if missing else ""
        words.append(
            f"Nobody goes in before {least}{end:%Y-%m-%d %H:%M} if you end at the time you said ({longest / 3600:g} "
            f"h by your "
            "label; of several products the longest)."
        )
    elif longest is not None:
        words.append(f"Nobody goes in for {longest / 3600:g} h after you end, by your label.")
    for day, over in hunts:
        told = "not known whether the re-entry time is over"
        if over is not None:
            told = "the re-entry time is over by then" if over else "NOT over by then: do not hunt there that day"
        words.append(f"Hunt on {day.isoformat()}: {told}.")
    graze = [f"{p.product} {p.label.graze_wait}" for p in case.planned if p.label is not None and p.label.graze_wait]
    if graze:
        words.append(
            f"Your label has a wait for livestock ({', '.join(graze)}). Deer are no livestock; ask your State "
            f"before you eat "
            "game from a plot that was just sprayed."
        )
    return words
