"""Whether it is allowed here at all, and fits what grows and what is sprayed against."""

from gladebook.products.forage import Forage, same_crop
from gladebook.products.label import Label
from gladebook.season.case import Case, Planned
from gladebook.season.checks.said import COUNTY, ENTRY, LABEL, caution, fine, no_label, said, stop, unchecked
from gladebook.season.evidence import Candidate, Evidence, forage_evidence, known_ingredients, weed_evidence
from gladebook.season.finding import Finding
from gladebook.units import IN_M

__all__ = ["BARE", "check_site", "check_stand", "check_weed", "crops_of"]

BARE = "bare ground"


def crops_of(case: Case) -> tuple[str, ...]:
    """The crops that the label must list: those of the stand, or bare ground."""
    return tuple(f.name for f in case.growing.forages) or (BARE,)


def check_site(case: Case) -> list[Finding]:
    """Whether the user found the site and every crop on the label. Only they can tell."""
    found: list[Finding] = []
    if not case.growing.forages:
        found.append(
            unchecked("forage", "No forage is said to grow there, so the plot counts as bare ground (--forage).")
        )
    for planned in case.planned:
        for crop in crops_of(case):
            answer = planned.listed.get(crop)
            about = f"{planned.product} on {crop}"
            if answer is None:
                found.append(
                    unchecked("site on the label", f"{about}: read whether your label lists this site and {crop}, and "
                              "answer with --label-lists yes or no.")
                )  # fmt: skip
            elif answer:
                found.append(fine("site on the label", f"{about}: you found it on your label.", source=ENTRY))
            else:
                found.append(
                    stop("site on the label", f"{about}: you answered that your label does not list it.", source=ENTRY)
                )
    return found


def check_stand(case: Case) -> list[Finding]:
    """Whether what grows there is hurt, and whether it is far enough."""
    found: list[Finding] = []
    for planned in case.planned:
        found += [_on_forage(planned, forage) for forage in case.growing.forages]
        stage = said(planned, "stand")
        if not case.growing.forages:
            continue
        if stage is None:
            found.append(no_label(planned, "stage of the stand", "what stage the stand must have"))
        else:
            yours = case.growing.stage or "not said (--stage)"
            found.append(
                unchecked(
                    "stage of the stand", f"{planned.product} asks for {stage.value}; yours: {yours}. Compare them."
                )
            )
    return found


def _on_forage(planned: Planned, forage: Forage) -> Finding:
    label = planned.label
    if label is not None and same_crop(label.injured, forage):
        return stop("forage", f"{planned.product} hurts {forage.name}, by your label.")
    evidence = forage_evidence(_candidate(planned), forage, region=None)
    told = f"{planned.product} {evidence.reason}"
    if evidence.word == "no":
        return caution("forage", f"{told}.", source=evidence.source)
    if evidence.word == "differ":
        return caution("forage", f"{planned.product}: {evidence.reason}.", source=evidence.source)
    if evidence.word == "yes" and evidence.source in (LABEL, COUNTY):
        return fine("forage", f"{told}.", source=evidence.source)
    return unchecked("forage", f"{planned.product}: whether it spares {forage.name} stands on your label.")


def _candidate(planned: Planned) -> Candidate:
    labels = [label for label in (planned.label, planned.county) if label is not None]
    names = [part.ingredient for label in labels[:1] for part in label.ingredients] or [planned.product]
    return Candidate(planned.product, known_ingredients(names), planned.label, planned.county)


def check_weed(case: Case) -> list[Finding]:
    """Whether the weed is one that it kills, and of the size that its label is for."""
    if case.weed is None:
        return [unchecked("weed", "The weed was not named (--weed), so neither whether it is killed nor its height.")]
    found: list[Finding] = []
    up = None if case.weed_height_m is None else case.weed_height_m > 0
    for planned in case.planned:
        evidence = weed_evidence(_candidate(planned), case.weed, up=up, region=None)
        found.append(_weed_finding(planned, evidence, label=planned.label))
        found += _height(case, planned)
    return found


def _weed_finding(planned: Planned, evidence: Evidence, *, label: Label | None) -> Finding:
    told = f"{planned.product} {evidence.reason}."
    if evidence.word == "no":
        return caution("weed", told, source=evidence.source)
    if evidence.word in ("yes", "some") and evidence.source in (LABEL, COUNTY):
        return fine("weed", told, source=evidence.source)
    if evidence.word == "differ":
        return caution("weed", f"{planned.product}: {evidence.reason}.", source=evidence.source)
    there = "stands on your label" if label is not None else "was not entered"
    return unchecked("weed", f"{planned.product}: whether it kills this weed {there}.")


def _height(case: Case, planned: Planned) -> list[Finding]:
    most, least = said(planned, "weed_height_most_m"), said(planned, "weed_height_least_m")
    if most is None and least is None:
        return [no_label(planned, "weed height", "the weed height that it is for")]
    if case.weed_height_m is None:
        return [unchecked("weed height", "How tall the weed is was not said (--weed-height).")]
    yours = f"{case.weed_height_m / IN_M:.3g} in"
    for limit, over in ((most, True), (least, False)):
        if limit is None:
            continue
        beyond = (
            case.weed_height_m > limit.value * (1 + 1e-9) if over else case.weed_height_m < limit.value * (1 - 1e-9)
        )
        if beyond:
            words = (
                f"{planned.product} is for weeds {'up to' if over else 'from'} {limit.value / IN_M:.3g} in; "
                f"yours are {yours}."
            )
            return [Finding(limit.word, "weed height", words, limit.source)]
    shown = most or least
    assert shown is not None
    return [fine("weed height", f"{planned.product}: weeds of {yours} are within its limits.", source=shown.source)]
