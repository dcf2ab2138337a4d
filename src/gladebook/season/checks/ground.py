"""The tank before, the disk and the crop after: what lingers, and what is to come."""

from datetime import date, timedelta
from typing import Final

from gladebook.products.facts import is_growth_regulator, is_non_selective, kills_broadleaf, kills_only_grass
from gladebook.products.forage import Forage
from gladebook.products.label import Label, plant_back_of
from gladebook.records.sprayed import InTank
from gladebook.season.case import Case, Planned
from gladebook.season.checks.said import COUNTY, ENTRY, LABEL, caution, fine, no_label, said, unchecked
from gladebook.season.finding import Finding

__all__ = ["burndown_window", "check_disking", "check_mixing", "check_plant_back", "check_tank"]

_RIGHT_DAYS: Final = (14, 21)
_SHORT_DAYS: Final = 5
PRACTICE: Final = "common practice, no source"
_NDSU: Final = (
    "North Dakota State Univ., Carrington crop alert, 2000 (quizalofop; printed for the north-central States)"
)


def burndown_window(disk_on: date) -> tuple[date, date]:
    """First and last day for a burndown before disking: 21 to 14 days ahead (common practice, no source)."""
    return disk_on - timedelta(days=_RIGHT_DAYS[1]), disk_on - timedelta(days=_RIGHT_DAYS[0])


def check_tank(case: Case) -> list[Finding]:
    """What was last in the tank: a trace of a growth regulator hurts legumes."""
    about = "last in the tank"
    tank = case.tank
    if tank is None or case.tank_new:
        if case.tank_new:
            return [fine(about, "You said that nothing was in the tank before.", source=ENTRY)]
        return [unchecked(about, "What was last in the tank was not said (--last-in-tank NAME, or --tank-new).")]
    if tank.cleaned is not None:
        return [
            fine(about, f"Cleaned after {tank.product} on {tank.cleaned.isoformat()}, as you entered.", source=ENTRY)
        ]
    if [p.product.casefold() for p in case.planned] == [tank.product.casefold()]:
        return [fine(about, f"{tank.product} itself was last in the tank.", source=ENTRY)]
    return [_lingers(tank, [f.name for f in case.growing.forages if f.legume])]


def _lingers(tank: InTank, legumes: list[str]) -> Finding:
    """What an uncleaned tank means for a stand."""
    about = "last in the tank"
    regulator, source = (None, "") if tank.label is None else is_growth_regulator(tank.label)
    clean = tank.label.clean_out if tank.label is not None else ""
    how = f" Its label says: {clean}" if clean else " Clean it as its label says; then: --tank-cleaned DAY."
    if regulator and legumes:
        told = (
            f"{tank.product} is a growth regulator [{source}], and {', '.join(legumes)} would be hurt by what is "
            f"left of it."
        )
        return Finding("stop", about, f"{told}{how}", ENTRY)
    if regulator is None and legumes:
        hurt = ", ".join(legumes)
        return unchecked(
            about, f"Whether {tank.product} is a growth regulator, which hurts {hurt}: see its label.{how}"
        )
    return caution(about, f"{tank.product} was last in the tank, and no cleaning was entered.{how}", source=ENTRY)


def check_plant_back(case: Case) -> list[Finding]:
    """What was and is sprayed against the next crop that is planned."""
    crops = case.growing.next_crop
    if not crops:
        return [
            unchecked("plant-back", "The next crop was not said (--next-crop), so no wait before it was looked at.")
        ]
    found: list[Finding] = []
    for planned in case.planned:
        label = planned.label or planned.county
        found += [_plant_back(label, planned.product, crop, case=case, since=case.day) for crop in crops]
    for sprayed in case.history:
        if sprayed.label is not None:
            found += [_plant_back(sprayed.label, sprayed.product, crop, case=case, since=sprayed.day) for crop in crops]
        else:
            found.append(
                unchecked("plant-back", f"{sprayed.product} of {sprayed.day.isoformat()}: its label was not entered.")
            )
    return found


def _plant_back(label: Label | None, product: str, crop: Forage, *, case: Case, since: date) -> Finding:
    wait = None if label is None else plant_back_of(label, crop)
    what = f"{product} of {since.isoformat()}" if since != case.day else product
    if label is None or wait is None:
        return unchecked("plant-back", f"{what}: the wait before {crop.name} was not entered. See your label.")
    first = wait.after(since)
    told = f"{what}: {crop.name} waits {wait}, so from {first.isoformat()} on"
    plant_on = case.growing.plant_on
    if plant_on is None:
        return unchecked("plant-back", f"{told}; when it is to be planted was not said (--plant-on).")
    source, word = (LABEL, "stop") if label.whose == "label" else (COUNTY, "caution")
    if plant_on < first:
        return Finding(word, "plant-back", f"{told}, and you mean to plant {plant_on.isoformat()}.", source)  # type: ignore[arg-type]  # one of the two
    return fine("plant-back", f"{told}; you mean to plant {plant_on.isoformat()}.", source=source)


def check_disking(case: Case) -> list[Finding]:
    """From the spray to the disk: the label's wait, and for a burndown what is customary."""
    found: list[Finding] = []
    for planned in case.planned:
        label = planned.label or planned.county
        burndown = _is_burndown(planned, label)
        disk_on = case.growing.disk_on
        if disk_on is None:
            if burndown:
                found.append(
                    unchecked("disking", f"{planned.product}: when the plot is to be disked was not said (--disk-on).")
                )
            continue
        days = (disk_on - case.day).days
        if days < 0:
            continue
        wait = said(planned, "till_wait")
        if wait is not None and disk_on < wait.value.after(case.day):
            told = (
                f"{planned.product}: {wait.value} before disking, and it is to be disked {disk_on.isoformat()}, "
                f"{days} days on."
            )
            found.append(Finding(wait.word, "disking", told, wait.source))
        elif wait is None:
            found.append(no_label(planned, "disking", "how long to wait before disking"))
        if burndown:
            found.append(_burndown(planned, days, disk_on=disk_on))
    return found


def _is_burndown(planned: Planned, label: Label | None) -> bool:
    if label is None:
        return planned.product.lower() == "glyphosate"
    return is_non_selective(label)[0] is True or "burndown" in label.timing


def _burndown(planned: Planned, days: int, *, disk_on: date) -> Finding:
    first, last = burndown_window(disk_on)
    window = f"14 to 21 days ahead is usual, {first.isoformat()} to {last.isoformat()}"
    told = f"{planned.product}: {days} day{'' if days == 1 else 's'} before disking"
    if _RIGHT_DAYS[0] <= days <= _RIGHT_DAYS[1]:
        return fine("burndown", f"{told}; {window}.", source=PRACTICE)
    if days < _SHORT_DAYS:
        return caution("burndown", f"{told} is too short for it to reach the roots; {window}.", source=PRACTICE)
    if days < _RIGHT_DAYS[0]:
        return caution("burndown", f"{told} is short: much of the kill may be lost; {window}.", source=PRACTICE)
    return caution("burndown", f"{told} is long: new weeds may be up by then; {window}.", source=PRACTICE)


def check_mixing(case: Case) -> list[Finding]:
    """A grass-selective spray near a broadleaf one, in the tank or in days; and what must go with each product."""
    found: list[Finding] = []
    kinds = [(p, _kind(p.label or p.county)) for p in case.planned]
    grass = [p.product for p, kind in kinds if kind == "grass"]
    broad = [p.product for p, kind in kinds if kind == "broadleaf"]
    about = "grass and broadleaf sprays"
    if grass and broad:
        told = (
            f"{', '.join(grass)} with {', '.join(broad)} in one tank may kill less grass: 1 day or more before, "
            f"or 5 after."
        )
        found.append(caution(about, told, source=_NDSU))
    for sprayed in case.history:
        days, other = (case.day - sprayed.day).days, _kind(sprayed.label)
        if grass and other == "broadleaf" and 0 <= days < 5:
            told = (
                f"{sprayed.product} went out {days} days ago; a grass-selective spray waits 5 days after a "
                f"broadleaf one."
            )
            found.append(caution(about, told, source=_NDSU))
        if broad and other == "grass" and 0 <= days < 1:
            told = f"{sprayed.product} went out today; a broadleaf spray waits 1 day after a grass-selective one."
            found.append(caution(about, told, source=_NDSU))
    for planned in case.planned:
        adjuvant = said(planned, "adjuvant")
        if adjuvant is not None:
            found.append(
                unchecked(
                    "adjuvant", f"{planned.product}: {adjuvant.source} asks for {adjuvant.value}. Is it in the mix?"
                )
            )
    return found


def _kind(label: Label | None) -> str:
    if label is None:
        return ""
    if kills_only_grass(label)[0]:
        return "grass"
    return "broadleaf" if kills_broadleaf(label)[0] and not is_non_selective(label)[0] else ""
