"""One thing of a property in full: a plot, an application, a mix, whatever has a name."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from gladebook.records.kept import Kept, KeptApplication, KeptMark, KeptStrip
from gladebook.units import ACRE_M2
from gladebook.view.figures import acres, area, feet
from gladebook.view.labels import label_words
from gladebook.view.property import application_line, dated, kept_document, sprayer_words, strip_document
from gladebook.view.tables import plain_table

__all__ = ["ShownBoundary", "ShownHistory", "ShownThing", "thing_document", "thing_words"]

_MOST = 60


@dataclass(frozen=True)
class ShownBoundary:
    """A boundary that a plot has or had: m2 as drawn, from when until when; `until` None while it holds."""

    area_m2: float
    since: str
    until: str | None


@dataclass(frozen=True)
class ShownHistory:
    """A plot: its name, boundaries (the oldest first), applications by name, and what was entered of it in words."""

    name: str
    boundaries: tuple[ShownBoundary, ...]
    applications: tuple[str, ...]
    entered: tuple[str, ...] = ()


@dataclass(frozen=True)
class ShownThing:
    """One thing.

    Attributes
    ----------
    kind : "plot", "obstacle", "check strip", "sprayer", "application", "mix", "product" or "record".
    noun : the thing itself.
    strips : of an application.
    area_m2 : of an obstacle or a check strip.
    """

    kind: str
    noun: ShownHistory | KeptApplication | KeptMark | Kept
    strips: tuple[KeptStrip, ...] = ()
    area_m2: float = 0.0


def thing_words(shown: ShownThing, *, file: str) -> list[str]:
    """One thing in words; `file` is the property's, for what can be done next."""
    noun = shown.noun
    if isinstance(noun, ShownHistory):
        return _plot_words(noun)
    if isinstance(noun, KeptApplication):
        return _application_words(noun, shown.strips, file=file)
    if isinstance(noun, KeptMark):
        return [_mark_words(noun, area_m2=shown.area_m2)]
    return [sprayer_words(noun)] if shown.kind == "sprayer" else _content_words(noun)


def _plot_words(plot: ShownHistory) -> list[str]:
    """A plot with its boundaries and its applications."""
    words: list[str] = []
    for boundary in reversed(plot.boundaries):
        if boundary.until is None:
            words.append(
                f"{plot.name}: {acres(boundary.area_m2)} ac as drawn, since {boundary.since or 'a day not said'}."
            )
        else:
            words.append(
                f"Before: {acres(boundary.area_m2)} ac, from {boundary.since or 'the start'} until {boundary.until}."
            )
    told = ", ".join(plot.applications)
    words.append(f"Applications: {told}." if told else "No application is kept for it.")
    return words + list(plot.entered)


def _application_words(application: KeptApplication, strips: Sequence[KeptStrip], *, file: str) -> list[str]:
    """An application with its missed strips and what became of them."""
    words = [application_line(application, strips)]
    by_plot = application.answer.get("plots")
    if isinstance(by_plot, list) and all(isinstance(p, Mapping) for p in by_plot):
        rows = [
            [str(p.get("name")), *(_acres_in(p, key) for key in ("plot_acres", "treated_acres", "missed_acres"))]
            for p in by_plot[:_MOST]
        ]
        words += ["", plain_table(["Plot", "Plot ac", "Treated ac", "Missed ac"], rows).rstrip("\n")]
    if strips:
        words += ["", "Missed strips:", *(f"  {_strip_line(strip)}" for strip in strips[:_MOST])]
        if len(strips) > _MOST:
            words.append(f"  {len(strips) - _MOST:,} more; --json lists all.")
        words.append(
            f"Say what became of one with: gladebook property mark {file} {strips[0].number} --as seen "
            f'--application "{application.name}"'
        )
    return words


def _acres_in(plot: Mapping[str, Any], key: str) -> str:
    value = plot.get(key)
    return acres(float(value) * ACRE_M2) if isinstance(value, int | float) else "?"


def _strip_line(strip: KeptStrip) -> str:
    told = strip.verdict
    where = f"{told['where']}; " if told.get("where") else ""
    size = area(strip.area_m2)
    length_m, width_m = told.get("length_m"), told.get("width_m")
    if isinstance(length_m, int | float) and isinstance(width_m, int | float):
        size += f", {feet(length_m)} long, {feet(width_m)} wide"
    judged = told.get("verdict")
    before = f" (judged: {judged})" if judged and judged != strip.state else ""
    return f"{strip.number}. {strip.plot}: {where}{size}; {strip.state}{before}"


def _mark_words(mark: KeptMark, *, area_m2: float) -> str:
    """An obstacle or a check strip, on one line."""
    what = "an obstacle, taken out of every plot" if mark.kind == "obstacle" else "left unsprayed on purpose"
    return f"{mark.name}: {what}; {area(area_m2)}."


def _content_words(kept: Kept) -> list[str]:
    """A mix or a record as it was answered, with its day first."""
    if "cells" in kept.content or "listed" in kept.content:
        return [f"{dated(kept.name, kept.day)}:", *label_words(kept.content)]
    lines = kept.content.get("words")
    told = [str(line) for line in lines] if isinstance(lines, list) else ["What it holds is in --json."]
    return [f"{dated(kept.name, kept.day)}:", *told]


def thing_document(shown: ShownThing) -> dict[str, Any]:
    """What ``gladebook property show FILE NAME --json`` prints."""
    noun = shown.noun
    if isinstance(noun, ShownHistory):
        told: dict[str, Any] = {
            "name": noun.name,
            "boundaries": [{"acres": b.area_m2 / ACRE_M2, "since": b.since, "until": b.until} for b in noun.boundaries],
            "applications": list(noun.applications),
            "entered": list(noun.entered),
        }
    elif isinstance(noun, KeptApplication):
        told = _application_document(noun, shown.strips)
    elif isinstance(noun, KeptMark):
        told = {"name": noun.name, "acres": shown.area_m2 / ACRE_M2}
    else:
        told = kept_document(noun)
    return {"kind": shown.kind, **told}


def _application_document(application: KeptApplication, strips: Sequence[KeptStrip]) -> dict[str, Any]:
    return {
        "name": application.name,
        "day": application.day,
        "strips": [strip_document(strip) for strip in strips],
        "answer": dict(application.answer),
    }
