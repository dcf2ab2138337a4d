"""The answer of ``gladebook today``: what was not checked first, then stops and cautions, each with its reason."""

from collections.abc import Sequence
from typing import Any

from gladebook.season.finding import Finding
from gladebook.season.today import Today
from gladebook.season.winter_grass import Again
from gladebook.spraying.cautions import CAUTIONS
from gladebook.units import ACRE_M2
from gladebook.view.figures import acres, amount

__all__ = ["again_document", "again_words", "today_document", "today_words"]


def today_words(today: Today) -> list[str]:
    """The whole answer, and the cautions under any amount."""
    case = today.case
    stand = " + ".join(f.name for f in case.growing.forages) or "bare ground"
    where = f"{case.plot}: " if case.plot else ""
    what = ", ".join(f"{p.product}{f' at {p.rate}' if p.rate is not None else ''}" for p in case.planned)
    words = [
        today.headline,
        f"{where}{what}, on {stand}, {case.day.isoformat()}{f' {case.clock:%H:%M}' if case.clock else ''}.",
    ]
    words += _listed("Not checked (find out before you spray)", today.not_checked)
    words += _listed("Stops", today.stops)
    words += _listed("Cautions", today.cautions)
    words += _listed("Looked at, nothing against it", today.fine)
    if today.winter is not None:
        words += ["", "The winter grass:", *(f"- {sentence}" for sentence in today.winter.words)]
    if today.entry.words:
        words += ["", "Walking and hunting:", *(f"- {sentence}" for sentence in today.entry.words)]
    words += ["", *_amounts(today)]
    return words


def _listed(title: str, findings: Sequence[Finding]) -> list[str]:
    if not findings:
        return []
    return ["", f"{title}:", *(f"- {f.about}: {f.reason}{f' [{f.source}]' if f.source else ''}" for f in findings)]


def _amounts(today: Today) -> list[str]:
    if not today.amounts:
        return [today.why_none]
    area_m2 = today.case.area_m2 or 0.0
    told = "; ".join(f"{a.name} {amount(a.amount, unit=a.unit)}" for a in today.amounts)
    return [
        f"For {acres(area_m2)} ac: {told}. Loads and water: gladebook mix.",
        "",
        "Cautions:",
        *(f"- {c}" for c in CAUTIONS),
    ]


def today_document(today: Today, *, notices: Sequence[str], asks: Sequence[str]) -> dict[str, Any]:
    """What ``gladebook today --json`` prints."""
    case = today.case
    return {
        "headline": today.headline,
        "plot": case.plot,
        "day": case.day.isoformat(),
        "forages": [f.name for f in case.growing.forages],
        "products": [
            {"name": p.product, "rate": None if p.rate is None else str(p.rate), "listed": dict(p.listed)}
            for p in case.planned
        ],
        "not_checked": [_finding(f) for f in today.not_checked],
        "stops": [_finding(f) for f in today.stops],
        "cautions_found": [_finding(f) for f in today.cautions],
        "fine": [_finding(f) for f in today.fine],
        "entry": {
            "not_before": None if today.entry.not_before is None else today.entry.not_before.isoformat(),
            "hunts": [{"day": day.isoformat(), "over": over} for day, over in today.entry.hunts],
            "words": list(today.entry.words),
        },
        "winter_grass": None
        if today.winter is None
        else {
            "small": today.winter.small,
            "window": [day.isoformat() for day in today.winter.window],
            "look_again": [today.winter.look_from.isoformat(), today.winter.look_until.isoformat()],
            "words": list(today.winter.words),
        },
        "acres": None if case.area_m2 is None else case.area_m2 / ACRE_M2,
        "amounts": [{"name": a.name, "amount": a.amount, "unit": a.unit} for a in today.amounts],
        "why_no_amounts": today.why_none,
        "asks": list(asks),
        "cautions": list(CAUTIONS),
        "notices": list(notices),
    }


def _finding(finding: Finding) -> dict[str, str]:
    return {"about": finding.about, "reason": finding.reason, "source": finding.source}


def again_words(again: Again) -> list[str]:
    """What to do after looking again."""
    return list(again.words)


def again_document(again: Again) -> dict[str, Any]:
    """The same for ``--json``."""
    return {"days": again.days, "suspected_resistance": again.suspect, "words": list(again.words)}
