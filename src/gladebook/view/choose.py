"""Answers of ``gladebook choose``: what fits, what would hurt, why, and what is not known."""

from typing import Any, Final

from gladebook.products.ingredient import Cell, Ingredient
from gladebook.season.choose import Choice, Option
from gladebook.season.evidence import Evidence
from gladebook.spraying.cautions import CAUTIONS
from gladebook.units import IN_M

__all__ = ["about_document", "about_words", "choice_document", "choice_words"]

_EMPTY: Final = "not known here; see your label"
_HEADINGS: Final = {
    "fits": "Fits the stand and the weed",
    "sources differ": "Sources differ",
    "not known": "Not known",
    "too tall": "The weed is too tall for its label",
    "does not kill it": "Does not kill it",
    "would hurt the stand": "Would hurt the stand",
}


def choice_words(choice: Choice) -> list[str]:
    """The answer: what fits first, then the rest by verdict, each with its reasons; sources by number below."""
    question = choice.question
    stand = " + ".join(f.name for f in question.forages) or "bare ground"
    height = "" if question.weed_height_m is None else f", {question.weed_height_m / IN_M:.3g} in tall"
    fits = [o for o in choice.options if o.verdict == "fits"]
    told = f"{question.weed.name}{height}, in {stand}, on {question.day.isoformat()}"
    if fits:
        best = [o.name for o in fits if o.rank == 1]
        words = [f"{_joined(best)}: {'fits' if len(best) == 1 else 'fit'} {told}, by what is known here."]
    else:
        words = [f"Nothing here is known to fit {told}.", "See below why, and ask your county extension agent."]
    sources: list[str] = []
    for verdict, heading in _HEADINGS.items():
        options = [o for o in choice.options if o.verdict == verdict]
        if options:
            words += ["", f"{heading}:"]
            for option in options:
                words += _option_words(option, sources)
    if sources:
        words += ["", "Sources (no recommendation for your field; your label wins):"]
        words += [f"  [{number}] {source}" for number, source in enumerate(sources, start=1)]
    return words


def _option_words(option: Option, sources: list[str]) -> list[str]:
    rank = f"{option.rank}. " if option.rank else "- "
    mine = " (yours)" if option.own else ""
    told = [_because(e, sources) for e in _telling(option)]
    words = [f"{rank}{option.name}{mine}: {'; '.join(dict.fromkeys(told))}."]
    if option.verdict in ("fits", "sources differ", "too tall"):
        if option.unknown:
            words.append(f"   Not known, so see your label: {', '.join(option.unknown)}.")
        words += [f"   Printed: {figure}" for figure in option.printed]
    return words


def _telling(option: Option) -> list[Evidence]:
    """The reasons that decide: all of what fits, the ones against it where it does not."""
    against = {
        "would hurt the stand": ("no",),
        "does not kill it": ("no",),
        "sources differ": ("differ",),
        "not known": ("unknown", "elsewhere"),
        "too tall": ("no",),
    }
    words = against.get(option.verdict, ())
    found = [e for e in option.reasons if e.word in words]
    return found or list(option.reasons)


def _because(evidence: Evidence, sources: list[str]) -> str:
    if not evidence.source:
        return evidence.reason
    if evidence.source in ("your label", "county list"):
        return f"{evidence.reason} [{evidence.source}]"
    told = evidence.source if evidence.region == "anywhere" else f"{evidence.source} ({evidence.region})"
    if told not in sources:
        sources.append(told)
    return f"{evidence.reason} [{sources.index(told) + 1}]"


def _joined(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def choice_document(choice: Choice, *, asks: list[str]) -> dict[str, Any]:
    """What ``gladebook choose --json`` prints; `asks` are the questions that stand open before any amount."""
    question = choice.question
    return {
        "weed": question.weed.name,
        "weed_height_in": None if question.weed_height_m is None else question.weed_height_m / IN_M,
        "forages": [f.name for f in question.forages],
        "day": question.day.isoformat(),
        "region": question.region,
        "options": [
            {
                "name": o.name,
                "own": o.own,
                "verdict": o.verdict,
                "rank": o.rank,
                "reasons": [
                    {"word": e.word, "reason": e.reason, "source": e.source, "region": e.region} for e in o.reasons
                ],
                "unknown": list(o.unknown),
                "printed": list(o.printed),
            }
            for o in choice.options
        ],
        "asks": asks,
        "cautions": list(CAUTIONS),
        "notices": list(choice.notices),
    }


def _rows(ingredient: Ingredient) -> list[tuple[str, list[str]]]:
    """Every cell of an ingredient as a row: what it is about, and what each source says."""
    rows: list[tuple[str, list[str]]] = [
        (f"kills {kind}", _cells([ingredient.kills.get(kind)])) for kind in ("grass", "broadleaf", "sedge", "woody")
    ]
    rows += [(f"kills {life} weeds", _cells([ingredient.lives.get(life)])) for life in ("annual", "perennial")]
    rows += [
        ("goes on", _cells(list(ingredient.timing))),
        ("contact or systemic", _cells([ingredient.moves])),
        ("mode-of-action group", _cells([ingredient.group])),
        ("growth regulator", _cells([ingredient.growth_regulator])),
    ]
    rows += [(f"weed: {name}", _cells([cell])) for name, cell in ingredient.weeds]
    for cell in ingredient.forages:
        stage = f" at {cell.stage}" if cell.stage else ""
        note = f" ({cell.note})" if cell.note else ""
        rows.append((f"forage: {cell.forage}", [f"{cell.word}{stage}{note} [{cell.source}, {cell.source.region}]"]))
    if not ingredient.forages:
        rows.append(("forages", []))
    for about in ("rate", "weed height", "stand", "adjuvant", "single maximum", "season maximum", "interval",
                  "rain needed", "rainfast", "re-entry", "plant-back"):  # fmt: skip
        figures = [f for f in ingredient.figures if f.about == about]
        rows.append(
            (about, [f"{f.crop + ': ' if f.crop else ''}{f.words} [{f.source}, {f.source.region}]" for f in figures])
        )
    return rows


def _cells(cells: list[Cell | None]) -> list[str]:
    return [
        f"{c.value}{f' ({c.note})' if c.note else ''} [{c.source}, {c.source.region}]" for c in cells if c is not None
    ]


def about_words(ingredient: Ingredient) -> list[str]:
    """All that is known of one ingredient, cell by cell, each with its source or said to be empty."""
    words = [f"{ingredient.name}: what publications say. Your label wins; check it.", ""]
    for about, told in _rows(ingredient):
        words += [f"{about}: {line}" for line in told] or [f"{about}: {_EMPTY}"]
    return words


def about_document(ingredient: Ingredient) -> dict[str, Any]:
    """The same for ``--json``: what each cell is about, and what its sources say; empty where nothing is known."""
    return {
        "name": ingredient.name,
        "cells": [{"about": about, "told": told} for about, told in _rows(ingredient)],
        "cautions": list(CAUTIONS),
    }
