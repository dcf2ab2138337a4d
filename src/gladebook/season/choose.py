"""Which ingredients fit a stand and a weed, which would hurt, why, and what nobody was seen to say.

Tolerated is not legal: whether a label lists the site and the crop is for its user to read. No amounts here.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Final, Literal

from gladebook.errors import CallError
from gladebook.products.forage import FORAGES, Forage
from gladebook.products.ingredient import Figure, Region, applies
from gladebook.products.label import Label, plant_back_of
from gladebook.products.table.all import INGREDIENTS
from gladebook.products.weed import Weed
from gladebook.season.evidence import (
    Candidate,
    Evidence,
    forage_evidence,
    known_ingredients,
    season_words,
    weed_evidence,
)
from gladebook.units import FT_M, IN_M

__all__ = ["NOT_LEGAL", "Choice", "Option", "Question", "Verdict", "choose"]

Verdict = Literal["fits", "sources differ", "not known", "too tall", "does not kill it", "would hurt the stand"]
NOT_LEGAL: Final = (
    "Tolerated is not legal: spray only what your own label lists for this site and for every crop in the stand."
)
_ORDER: Final[tuple[Verdict, ...]] = (
    "fits", "sources differ", "not known", "too tall", "does not kill it", "would hurt the stand",
)  # fmt: skip
_TALLEST_M: Final = 20 * FT_M


@dataclass(frozen=True)
class Question:
    """What is asked.

    Attributes
    ----------
    weed : to kill.
    forages : that grow there; empty for bare ground, or ground that is to be planted anew.
    weed_height_m : m; None where not said.
    day : of the spray.
    region : whose publications count; None where not said.
    stage : of the stand, in the user's words.
    next_crop : to be planted after; empty for none.
    labels : the user's, and the county extension office's list.
    """

    weed: Weed
    day: date
    forages: tuple[Forage, ...] = ()
    weed_height_m: float | None = None
    region: Region | None = None
    stage: str = ""
    next_crop: tuple[Forage, ...] = ()
    labels: tuple[Label, ...] = ()


@dataclass(frozen=True)
class Option:
    """One product or ingredient.

    Attributes
    ----------
    name : of it.
    own : whether it is one of the user's products.
    verdict : in a word or two.
    reasons : each with its source.
    unknown : what is not known, and stands on the label.
    printed : figures as printed, for another region or crop as well; none of them is for here unless it says so.
    rank : 1 for the best; options of one rank cannot be told apart by anything with a source; 0 where it does not fit.
    """

    name: str
    own: bool
    verdict: Verdict
    reasons: tuple[Evidence, ...]
    unknown: tuple[str, ...] = ()
    printed: tuple[str, ...] = ()
    rank: int = 0


@dataclass(frozen=True)
class Choice:
    """The answer: options, the best first; and what to know beside, as sentences."""

    question: Question
    options: tuple[Option, ...]
    notices: tuple[str, ...] = field(default=())


def choose(question: Question) -> Choice:
    """Judge every product of the user's and every ingredient of the table.

    Raises
    ------
    CallError
        Where the weed's height cannot be.
    """
    height_m = question.weed_height_m
    if height_m is not None and not 0 <= height_m <= _TALLEST_M:
        raise CallError("--weed-height: must be from 0 to 20 ft.")
    judged = [_judge(candidate, question) for candidate in _candidates(question.labels)]
    best = sorted({score for option, score in judged if option.verdict == "fits"}, reverse=True)
    options = [
        Option(**{**vars(option), "rank": best.index(score) + 1 if option.verdict == "fits" else 0})
        for option, score in judged
    ]
    options.sort(key=lambda o: (_ORDER.index(o.verdict), o.rank, not o.own, o.name.lower()))
    return Choice(question, tuple(options), _notices(question, options))


def _candidates(labels: Sequence[Label]) -> list[Candidate]:
    """The user's products, what the county lists beside them, and the ingredients that neither has."""
    own = [label for label in labels if label.whose == "label"]
    county = [label for label in labels if label.whose == "county list"]
    found = [
        Candidate(
            label.name, known_ingredients([s.ingredient for s in label.ingredients]), label, _beside(label, county)
        )
        for label in own
    ]
    named = {label.name.casefold() for label in own} | {
        frozenset(s.ingredient for s in label.ingredients) for label in own
    }
    found += [
        Candidate(label.name, known_ingredients(_contents(label)), None, label)
        for label in county
        if label.name.casefold() not in named and frozenset(_contents(label)) not in named
    ]
    there = {frozenset(i.name for i in candidate.ingredients) for candidate in found}
    found += [Candidate(name, (i,)) for name, i in INGREDIENTS.items() if frozenset({name}) not in there]
    return found


def _contents(label: Label) -> list[str]:
    return [part.ingredient for part in label.ingredients]


def _beside(label: Label, county: Sequence[Label]) -> Label | None:
    """What the county lists under the same name, or for the same ingredients."""
    for other in county:
        if other.name.casefold() == label.name.casefold():
            return other
        if set(_contents(other)) == set(_contents(label)):
            return other
    return None


def _judge(candidate: Candidate, question: Question) -> tuple[Option, tuple[int, int]]:
    height_m = question.weed_height_m
    up = None if height_m is None else height_m > 0
    forages = [forage_evidence(candidate, forage, region=question.region) for forage in question.forages]
    weed = weed_evidence(candidate, question.weed, up=up, region=question.region)
    height = _height_evidence(candidate, height_m)
    verdict = _verdict(forages, weed=weed, height=height)
    reasons = (*forages, weed, *([height] if height is not None else []))
    grounds = [e.tier for e in (*forages, weed)]
    option = Option(
        name=candidate.name,
        own=candidate.label is not None,
        verdict=verdict,
        reasons=reasons,
        unknown=_unknown(candidate, question),
        printed=_printed(candidate, question),
    )
    return option, (min(grounds), 1 if weed.word == "yes" else 0)


def _verdict(forages: Sequence[Evidence], *, weed: Evidence, height: Evidence | None) -> Verdict:
    words = {e.word for e in forages}
    if "no" in words:
        return "would hurt the stand"
    if weed.word == "no":
        return "does not kill it"
    if height is not None and height.word == "no":
        return "too tall"
    if "differ" in words or weed.word == "differ":
        return "sources differ"
    if words & {"unknown", "elsewhere"} or weed.word in ("unknown", "elsewhere"):
        return "not known"
    return "fits"


def _height_evidence(candidate: Candidate, height_m: float | None) -> Evidence | None:
    """Only the user's label, or the county's list, has a limit that counts."""
    for label in (candidate.label, candidate.county):
        if label is None or label.weed_height_most_m is None:
            continue
        whose = "your label" if label.whose == "label" else "county list"
        most = f"weeds up to {label.weed_height_most_m / IN_M:g} in"
        if height_m is None:
            return Evidence("unknown", f"is for {most}: measure yours", whose)
        word: Literal["no", "yes"] = "no" if height_m > label.weed_height_most_m * (1 + 1e-9) else "yes"
        return Evidence(word, f"is for {most}; yours are {height_m / IN_M:.3g} in", whose)
    return None


_ASKED: Final = (
    ("rate", "rate_most"), ("weed height", "weed_height_most_m"), ("stage of the stand", "stand"),
    ("adjuvant", "adjuvant"),
    ("most for one application", "single_max"), ("most for a season", "season_max"), ("rainfast hours", "rainfast_s"),
    ("re-entry", "reentry_s"), ("plant-back", "plant_back"), ("mode of action", "group"),
)  # fmt: skip


def _unknown(candidate: Candidate, question: Question) -> tuple[str, ...]:
    """What is asked of a label and was not entered."""
    labels = [label for label in (candidate.label, candidate.county) if label is not None]
    found = [
        name
        for name, attribute in _ASKED
        if not any(getattr(label, attribute) not in (None, "", {}) for label in labels)
        and not (name == "mode of action" and any(i.group for i in candidate.ingredients))
    ]
    if question.weed_height_m is None and "weed height" not in found:
        found.append("how tall your weeds are")
    if question.forages and not question.stage:
        found.append("how far your stand is")
    return tuple(found)


def _printed(candidate: Candidate, question: Question) -> tuple[str, ...]:
    """Published figures, each with the crop and region it was printed for."""
    return tuple(
        _figure_words(figure, question.region)
        for ingredient in candidate.ingredients
        for figure in ingredient.figures
        if _about_question(figure, question)
    )


def _about_question(figure: Figure, question: Question) -> bool:
    """Whether a figure was printed for what grows here, or is to be planted next; all others are in ``--about``."""
    crops = question.next_crop if figure.about == "plant-back" else question.forages
    named = FORAGES.get(figure.crop)
    if named is not None:
        return any(f.name == figure.crop or f.family == named.family for f in crops)
    return figure.crop == "other" and bool(crops)


def _figure_words(figure: Figure, region: Region | None) -> str:
    crop = f" for {figure.crop}" if figure.crop else ""
    here = "check your label" if applies(figure.source, region=region) else "not for here; check your label"
    return f"{figure.about}{crop}: {figure.words} ({figure.source}; {figure.source.region}: {here})"


def _notices(question: Question, options: Sequence[Option]) -> tuple[str, ...]:
    found = [NOT_LEGAL]
    if question.region is None:
        found.append(
            "No region is said, so nothing printed for a region counts. Say it with --region, like south-east."
        )
    told = season_words(question.weed, month=question.day.month)
    if told:
        found.append(told)
    grasses = [f.name for f in question.forages if f.grass]
    others = [f.name for f in question.forages if not f.grass]
    if grasses and others and question.weed.kind == "grass":
        found.append(
            f"The stand is a mix: what kills {question.weed.name} takes the {' and '.join(grasses)} too, and leaves "
            f"the "
            f"{' and '.join(others)}."
        )
    ranks = [o.rank for o in options if o.rank]
    if ranks.count(1) > 1:
        level = ", ".join(o.name for o in options if o.rank == 1)
        found.append(f"Nothing with a source tells these apart: {level}.")
    for label in question.labels:
        waits = [(crop, plant_back_of(label, crop)) for crop in question.next_crop]
        whose = "your label" if label.whose == "label" else "the county list"
        found += [f"{label.name}: {crop.name} waits {wait} after it, by {whose}." for crop, wait in waits if wait]
    return tuple(found)
