"""Missed strips for people: go and look, nobody can tell, or boom off; and when the ground may be entered."""

from collections.abc import Sequence
from datetime import UTC, datetime

from gladebook.coverage.result import Coverage, MissedStrip
from gladebook.doubt.verdict import Doubt, Word
from gladebook.spraying.reentry import Reentry
from gladebook.spraying.touch_up import TouchUp
from gladebook.units import GAL_M3
from gladebook.view.figures import acres, amount, area, feet, place, rate

__all__ = [
    "HEADINGS",
    "cant_tell_words",
    "entry_words",
    "missed_words",
    "numbered",
    "strip_lines",
    "strip_rest",
    "strip_words",
    "touch_up_lines",
    "touch_up_words",
    "truly_words",
]

HEADINGS: dict[Word, str] = {
    "go look": "Go look, largest first:",
    "can't tell": "Can't tell:",
    "boom off": "The record shows the boom off, largest first:",
}
_INSTEAD = "Use the gallons check and the count of passes instead."
_MOST_LISTED = 20  # on a screen
_MOST_NAMED = 3
_MOST_NUMBERS = 12
_HOUR_S, _MINUTE_S = 3600.0, 60.0

Numbered = tuple[int, MissedStrip]


def numbered(coverage: Coverage, word: Word) -> list[Numbered]:
    """Strips with one verdict, and their numbers in the order of all, largest first."""
    return [(n, s) for n, s in enumerate(coverage.strips, start=1) if s.verdict.word == word]


def strip_words(strip: MissedStrip, *, number: int) -> str:
    """One missed strip on one line: where it lies by passes, its size, its cause, its spot."""
    return f"{number}. {strip.plot}: {strip_rest(strip)}"


def strip_rest(strip: MissedStrip) -> str:
    """What `strip_words` says after the plot's name."""
    found = strip.verdict
    cause = "" if found.cause in ("boom off", found.where) else found.cause
    size = f"{area(strip.area_m2)}, {feet(strip.length_m)} long, {feet(strip.width_m)} wide"
    first = f"{found.where}; " if found.where else ""
    return f"{first}{size}{f'; {cause}' if cause else ''}; at {place(strip.lat_deg, strip.lon_deg)}"


def missed_words(coverage: Coverage) -> str:
    """How much of the missed ground is worth a walk, in part of a sentence; empty where there is no strip."""
    told: list[str] = []
    for word in HEADINGS:
        strips = numbered(coverage, word)
        if strips:
            told.append(f"{word} {area(_sum_m2(strips))} in {_places(len(strips))}")
    return ", ".join(told)


def truly_words(coverage: Coverage) -> list[str]:
    """Between what ends ground was truly missed, where the receiver's drift is known and little enough."""
    known = {d.name: d for d in coverage.doubts if d.missed_m2 is not None}
    if not known:
        return []
    plots = sorted((p for p in coverage.plots if p.name in known), key=lambda p: -p.missed_m2)
    parts = [
        ("" if len(coverage.plots) == 1 else f"{p.name} ") + f"{_range(known[p.name])} (looks like {area(p.missed_m2)})"
        for p in plots[:_MOST_NAMED]
    ]
    more = len(plots) - _MOST_NAMED
    rest = f"; {more} more plot{'s' if more > 1 else ''} in --json" if more > 0 else ""
    return [f"Truly missed, the receiver's drift taken out: {'; '.join(parts)}{rest}. Right about 9 times in 10."]


def cant_tell_words(coverage: Coverage) -> list[str]:
    """One line for all doubtful strips, with their numbers, and why in plots where nothing is told to be real."""
    strips = numbered(coverage, "can't tell")
    if not strips:
        return []
    numbers = _spans([n for n, _ in strips])
    words = [f"Can't tell: {area(_sum_m2(strips))} in {_places(len(strips))} ({numbers})."]
    plots = {s.plot for _, s in strips}
    by_why: dict[str, list[str]] = {}
    for doubt in coverage.doubts:
        if doubt.silent and doubt.name in plots:
            by_why.setdefault(doubt.silent, []).append(doubt.name)
    for why, names in by_why.items():
        more = len(names) - _MOST_NAMED
        where = ", ".join(names[:_MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
        words.append(f"Nothing is told to be real in {where}. {why} {_INSTEAD}")
    return words


def entry_words(reentry: Reentry) -> str:
    """When the ground may be entered on foot."""
    words = "Do not go in on foot before the re-entry time on your label"
    if reentry.wait_s is None:
        return f"{words}."
    wait = f"With the {_hours(reentry.wait_s)} you gave"
    at = reentry.not_before
    if at is None or reentry.sprayed_until is None:
        return f"{words}. {wait}, count from when you stopped spraying: {reentry.unknown}."
    return f"{words}. {wait}: not before {_moment(at)}; sprayed until {_moment(reentry.sprayed_until)}."


def strip_lines(coverage: Coverage, *, reentry: Reentry) -> list[str]:
    """The list for a screen: when to go in, where to go and look, what nobody can tell, what had the boom off."""
    if not coverage.strips:
        return []
    lines = [entry_words(reentry)]
    for word, heading in HEADINGS.items():
        if word == "can't tell":
            lines += cant_tell_words(coverage)
            continue
        strips = numbered(coverage, word)
        if strips:
            lines += [heading, *(f"  {strip_words(s, number=n)}" for n, s in strips[:_MOST_LISTED])]
        smaller = strips[_MOST_LISTED:]
        if smaller:
            lines.append(f"  {len(smaller)} more, {area(_sum_m2(smaller))} together; --json lists all.")
    return lines


def touch_up_words(touch_up: TouchUp) -> list[str]:
    """Acres and gallons of the strips that were seen, in sentences."""
    many = len(touch_up.strips) > 1
    numbers = _spans([s.number for s in touch_up.strips])
    spray = amount(touch_up.spray_m3 / GAL_M3, unit="gal")
    first = f"Touch-up of strip{'s' if many else ''} {numbers}, which you saw: {area(touch_up.area_m2)} at "
    words = [f"{first}{rate(touch_up.rate_m)} takes {spray} of spray."]
    if many:
        words += [
            f"  {s.number}. {s.plot}: {area(s.area_m2)}, {amount(s.spray_m3 / GAL_M3, unit='gal')}"
            for s in touch_up.strips
        ]
    return words


def touch_up_lines(touch_up: TouchUp) -> list[str]:
    """The same for a screen, with what must stand beside it."""
    return [*touch_up_words(touch_up), *touch_up.notices, "Cautions:", *(f"- {c}" for c in touch_up.cautions)]


def _range(doubt: Doubt) -> str:
    low, high = (acres(m2) for m2 in doubt.missed_m2 or (0.0, 0.0))
    return f"{low} ac" if low == high else f"{low} to {high} ac"


def _sum_m2(strips: Sequence[Numbered]) -> float:
    return sum(s.area_m2 for _, s in strips)


def _places(count: int) -> str:
    return f"{count:,} place{'s' if count != 1 else ''}"


def _spans(numbers: Sequence[int]) -> str:
    """Numbers with runs drawn together: ``3, 6 to 9``; a long list is cut short."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    told = [str(a) if a == b else f"{a}, {b}" if b == a + 1 else f"{a} to {b}" for a, b in runs[:_MOST_NUMBERS]]
    return ", ".join(told) + (" and more" if len(runs) > _MOST_NUMBERS else "")


def _hours(wait_s: float) -> str:
    return f"{wait_s / _HOUR_S:g} h" if wait_s >= _HOUR_S else f"{wait_s / _MINUTE_S:g} min"


def _moment(at: datetime) -> str:
    """A moment to the minute, with its zone; beside it UTC where that is another."""
    told = f"{at:%Y-%m-%d %H:%M}"
    if at.tzinfo is None:
        return f"{told} on the track's own clock, which states no zone"
    if at.tzinfo is UTC:
        return f"{told} UTC"
    return f"{told} {at.tzname()} ({at.astimezone(UTC):%H:%M} UTC)"
