"""What a property holds, in words, a table and as a document."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from gladebook.records.kept import Kept, KeptApplication, KeptMark, KeptStrip, Step
from gladebook.units import ACRE_M2, FT_M
from gladebook.view.figures import acres, area
from gladebook.view.tables import plain_table

__all__ = [
    "Edit",
    "Holding",
    "ShownPlot",
    "application_line",
    "dated",
    "holding_document",
    "holding_words",
    "kept_document",
    "sprayer_words",
    "strip_document",
]

_MOST_PLOTS = 60
_MOST_APPLICATIONS = 20
_MOST_NAMED = 12
_LAST_STEPS = 5


@dataclass(frozen=True)
class ShownPlot:
    """A plot.

    Attributes
    ----------
    name : its name.
    since : the day from which its boundary holds.
    area_m2 : what is left to plant or spray, obstacles taken out; None where no area is left of it.
    """

    name: str
    since: str
    area_m2: float | None


@dataclass(frozen=True)
class Edit:
    """What another program wrote: when, UTC to the minute; in which table; what was done, to how many rows."""

    at: str
    table: str
    what: str
    count: int


@dataclass(frozen=True)
class Holding:
    """All that a property holds.

    Attributes
    ----------
    file, name : of the file, and of the property.
    plots : as they are now.
    total_m2 : all of them, shared ground counted once.
    applications, strips, marks, sprayers, mixes, products, records : what else is kept.
    edits : what other programs wrote.
    steps : all changes, the oldest first.
    notices : what was seen on the way.
    """

    file: str
    name: str
    plots: tuple[ShownPlot, ...]
    total_m2: float
    applications: tuple[KeptApplication, ...] = ()
    strips: tuple[KeptStrip, ...] = ()
    marks: tuple[KeptMark, ...] = ()
    sprayers: tuple[Kept, ...] = ()
    mixes: tuple[Kept, ...] = ()
    products: tuple[Kept, ...] = ()
    records: tuple[Kept, ...] = ()
    edits: tuple[Edit, ...] = ()
    steps: tuple[Step, ...] = ()
    notices: tuple[str, ...] = ()


def holding_words(holding: Holding) -> list[str]:
    """What a property holds: first in a sentence, then thing by thing."""
    words = [f"{holding.name} ({holding.file}): {_counts(holding)}."]
    if not holding.plots:
        words.append(f"Add plots with: gladebook property add {holding.file} plots.geojson")
    words += _plots(holding.plots)
    if holding.applications:
        words += ["", "Applications:"]
        shown = holding.applications[-_MOST_APPLICATIONS:]
        if len(shown) < len(holding.applications):
            words.append(f"  {len(holding.applications) - len(shown)} older ones; --json lists all.")
        words += [f"  {application_line(one, _strips_of(holding, one))}" for one in shown]
    words += _marks(holding.marks)
    if holding.sprayers:
        words += ["", "Sprayers:", *(f"  {sprayer_words(one)}" for one in holding.sprayers)]
    for title, things in (("Mixes", holding.mixes), ("Products", holding.products), ("Records", holding.records)):
        if things:
            words += ["", f"{title}:", *(f"  {dated(one.name, one.day)}" for one in things[-_MOST_APPLICATIONS:])]
    words += _edits(holding.edits)
    return words + _steps(holding.steps)


def _counts(holding: Holding) -> str:
    plots = f"{_count(len(holding.plots), 'plot')}, {acres(holding.total_m2)} ac to plant or spray"
    kinds = Counter(mark.kind for mark in holding.marks)
    parts = [
        _count(number, what)
        for number, what in (
            (len(holding.applications), "application"),
            (kinds["obstacle"], "obstacle"),
            (kinds["check strip"], "check strip"),
            (len(holding.sprayers), "sprayer"),
        )
        if number
    ]
    return "; ".join([plots if holding.plots else "no plots yet", *parts])


def _plots(plots: Sequence[ShownPlot]) -> list[str]:
    if not plots:
        return []
    rows = [
        [p.name, "none left" if p.area_m2 is None else acres(p.area_m2), p.since or "not said"]
        for p in plots[:_MOST_PLOTS]
    ]
    words = ["", plain_table(["Plot", "Acres", "Boundary since"], rows).rstrip("\n")]
    if len(plots) > _MOST_PLOTS:
        words.append(f"And {len(plots) - _MOST_PLOTS:,} more plots; --json lists all.")
    return words


def application_line(application: KeptApplication, strips: Sequence[KeptStrip]) -> str:
    """What an application did, and what became of its strips, on one line."""
    answer = application.answer
    try:
        whole_m2 = sum(float(p["plot_acres"]) for p in answer["plots"]) * ACRE_M2
        did = f"treated {acres(float(answer['treated_acres']) * ACRE_M2)} of {acres(whole_m2)} ac, missed "
        did += f"{area(float(answer['missed_acres']) * ACRE_M2)}"
    except (KeyError, TypeError, ValueError):
        did = "its answer cannot be read; another program may have changed it"
    told = _states(strips)
    return f"{dated(application.name, application.day)}: {did}{f'; strips: {told}' if told else ''}."


def _states(strips: Sequence[KeptStrip]) -> str:
    counts = Counter(strip.state for strip in strips)
    return ", ".join(f"{number} {state}" for state, number in sorted(counts.items(), key=lambda c: (-c[1], c[0])))


def _strips_of(holding: Holding, application: KeptApplication) -> list[KeptStrip]:
    return [strip for strip in holding.strips if strip.application_uid == application.uid]


def _marks(marks: Sequence[KeptMark]) -> list[str]:
    words: list[str] = []
    for kind, title in (("obstacle", "Obstacles"), ("check strip", "Check strips")):
        names = [mark.name for mark in marks if mark.kind == kind]
        if names:
            more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
            words += ["", f"{title}: {', '.join(names[:_MOST_NAMED])}{more}."]
    return words


def sprayer_words(sprayer: Kept) -> str:
    """A sprayer that is kept, on one line."""
    content = sprayer.content
    parts: list[str] = []
    try:
        if content.get("width_m"):
            parts.append(f"boom {_figure(content['width_m'])} wide")
        if content.get("sections_m"):
            parts.append(f"{len(content['sections_m'])} sections")
        if content.get("behind_m"):
            away_m = float(content["behind_m"])
            parts.append(f"{_figure(abs(away_m))} {'behind' if away_m > 0 else 'ahead of'} the phone")
        if content.get("right_m"):
            away_m = float(content["right_m"])
            parts.append(f"its middle {_figure(abs(away_m))} to the {'right' if away_m > 0 else 'left'}")
        if content.get("one_sided"):
            parts.append(f"sprays to the {content['one_sided']} only")
        for word, name in (("starts", "on_delay_s"), ("ends", "off_delay_s")):
            if content.get(name):
                parts.append(f"{word} {float(content[name]):g} s after the switch")
    except (TypeError, ValueError):
        parts = ["what is kept of it cannot be read; another program may have changed it"]
    return f"{sprayer.name}: {', '.join(parts) or 'nothing said about it'}."


def _figure(length_m: Any) -> str:
    return f"{float(length_m) / FT_M:.4g} ft"


def _edits(edits: Sequence[Edit]) -> list[str]:
    if not edits:
        return []
    shown = edits[-_MOST_NAMED:]
    lines = [f"  {edit.at.replace('T', ' ')} UTC: {_edit_words(edit)}." for edit in shown]
    return ["", "Changed by other programs (undo leaves it alone):", *lines]


def _edit_words(edit: Edit) -> str:
    row = {"plots": "plot", "marks": "obstacle or check strip", "strips": "strip", "mixes": "mix"}.get(edit.table)
    what = row or edit.table.replace("_", " ").removesuffix("s")
    plural = {"plot history": "older boundaries", "obstacle or check strip": "obstacles or check strips"}
    many = plural.get(what, f"{what}es" if what == "mix" else f"{what}s")
    one = "older boundary" if what == "plot history" else what
    return f"{edit.count:,} {one if edit.count == 1 else many} {edit.what}"


def _steps(steps: Sequence[Step]) -> list[str]:
    if not steps:
        return []
    lines = [f"  {_at(step)}: {step.words}{' Taken back.' if step.undone else ''}" for step in steps[-_LAST_STEPS:]]
    words = ["", "Last changes:", *lines]
    last = next((step for step in reversed(steps) if not step.undone), None)
    words.append("Nothing is left to undo." if last is None else f"Undo would take back: {last.words}")
    return words


def _at(step: Step) -> str:
    return f"{step.at[:16].replace('T', ' ')} UTC"


def dated(name: str, day: str) -> str:
    """A name with its day before it, where there is one."""
    return f"{day}  {name}" if day else name


def _count(number: int, what: str) -> str:
    return f"{number:,} {what}{'' if number == 1 else 's'}"


def holding_document(holding: Holding) -> dict[str, Any]:
    """What ``gladebook property show --json`` prints."""
    last = next((step for step in reversed(holding.steps) if not step.undone), None)
    return {
        "file": holding.file,
        "name": holding.name,
        "plots": [
            {"name": p.name, "acres": None if p.area_m2 is None else p.area_m2 / ACRE_M2, "since": p.since}
            for p in holding.plots
        ],
        "total_acres": holding.total_m2 / ACRE_M2,
        "applications": [
            {"name": one.name, "day": one.day, "strips": [strip_document(s) for s in _strips_of(holding, one)]}
            for one in holding.applications
        ],
        "marks": [{"name": mark.name, "kind": mark.kind} for mark in holding.marks],
        "sprayers": [kept_document(one) for one in holding.sprayers],
        "mixes": [kept_document(one) for one in holding.mixes],
        "products": [kept_document(one) for one in holding.products],
        "records": [kept_document(one) for one in holding.records],
        "other_programs": [asdict(edit) for edit in holding.edits],
        "changes": [asdict(step) for step in holding.steps],
        "undo_would_take_back": None if last is None else last.words,
        "notices": list(holding.notices),
    }


def strip_document(strip: KeptStrip) -> dict[str, Any]:
    """A missed strip as JSON has it."""
    return {
        "number": strip.number,
        "plot": strip.plot,
        "state": strip.state,
        "area_m2": strip.area_m2,
        **dict(strip.verdict),
    }


def kept_document(kept: Kept) -> dict[str, Any]:
    """A sprayer, mix, product or record as JSON has it."""
    return {"name": kept.name, "day": kept.day, "content": dict(kept.content)}
