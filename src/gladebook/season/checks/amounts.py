"""How much is too much: for one application, for a season, and how soon again."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Final

from gladebook.errors import QuantityError
from gladebook.products.label import Label, Strength
from gladebook.records.sprayed import Sprayed
from gladebook.season.case import Case, Planned
from gladebook.season.checks.said import Said, caution, fine, no_label, said, unchecked
from gladebook.season.finding import Finding
from gladebook.spraying.strength import ingredient_rate
from gladebook.units import Kind, Quantity, amount_in

__all__ = ["check_interval", "check_season", "check_single"]

_CRUMB: Final = 1e-6
_SEASON: Final = timedelta(days=365)  # never less than a calendar year's part that is gone, so the stricter of the two


def check_single(case: Case) -> list[Finding]:
    """The rate against the most for one application, and twice the rate, which ground gets that is covered twice."""
    found: list[Finding] = []
    for planned in case.planned:
        about = "single maximum"
        limit = said(planned, "single_max") or said(planned, "rate_most")
        if planned.rate is None:
            found.append(
                unchecked(about, f'{planned.product}: no rate was given (--product "{planned.product}=8 fl oz/ac").')
            )
            continue
        if limit is None:
            found.append(no_label(planned, about, "the most for one application"))
            continue
        try:
            rate = _comparable(planned.rate, limit.value, label=planned.label or planned.county, case=case)
        except QuantityError as error:
            found.append(unchecked(about, f"{planned.product}: {error}"))
            continue
        found.append(_single(planned, rate, limit=limit))
    return found


def _single(planned: Planned, rate: Quantity, *, limit: Said) -> Finding:
    most: Quantity = limit.value
    if rate.si > most.si * (1 + _CRUMB):
        return Finding(
            limit.word, "single maximum", f"{planned.product}: {planned.rate} is over the most of {most}.", limit.source
        )
    if 2 * rate.si > most.si * (1 + _CRUMB):
        return caution(
            "single maximum",
            f"{planned.product}: {planned.rate} is within {most}, but ground covered twice gets over it. Do not "
            f"overlap.",
            source=limit.source,
        )
    return fine(
        "single maximum", f"{planned.product}: even twice {planned.rate} is within {most}.", source=limit.source
    )


def _comparable(rate: Quantity, limit: Quantity, *, label: Label | None, case: Case) -> Quantity:
    """The rate in what the limit counts: product, or pounds of its one ingredient."""
    rate = _per_area(rate, case=case)
    limit_kind = limit.kind
    if limit_kind in ("percent of volume", "weight per volume"):
        limit_kind = _per_area(limit, case=case).kind
    if not limit.basis:
        if rate.kind != limit_kind:
            raise QuantityError(f"a rate of {rate} and a limit of {limit} are not of one kind.")
        return rate
    parts = [] if label is None else [part for part in label.ingredients if part.strength is not None]
    if label is None or len(label.ingredients) != 1 or len(parts) != 1:
        raise QuantityError(f"a limit of {limit} needs the strength of its one ingredient, which was not entered.")
    return _ingredient(rate, parts[0], basis=limit.basis)


def _per_area(rate: Quantity, *, case: Case) -> Quantity:
    """A rate by volume of spray as one by area: rate x gallons per acre."""
    if rate.kind in ("volume per area", "weight per area"):
        return rate
    if case.per_acre is None:
        raise QuantityError(f"{rate} goes by the volume of spray, and gallons per acre were not given (--per-acre).")
    si = rate.si * case.per_acre.si
    solid = rate.kind == "weight per volume"
    unit = "lb/ac" if solid else "fl oz/ac"
    kind: Kind = "weight per area" if solid else "volume per area"
    return replace(rate, value=amount_in(si, unit=unit), unit=unit, kind=kind, si=si)


def _ingredient(rate: Quantity, part: Strength, *, basis: str) -> Quantity:
    if part.strength is None:
        raise QuantityError(f"the strength of {part.ingredient} was not entered.")
    found = ingredient_rate(rate, strength=part.strength)
    if found.basis != basis:
        raise QuantityError(
            f"the limit counts {basis} and the strength {found.basis}; they are different weights, and are not added."
        )
    return found


def check_season(case: Case) -> list[Finding]:
    """What went out in 365 days with what is planned, by ingredient across products, against the season's most."""
    found: list[Finding] = []
    recent = [s for s in case.history if case.day - _SEASON < s.day <= case.day]
    for planned in case.planned:
        found += _most_applications(planned, recent)
        limit = said(planned, "season_max")
        if limit is None:
            found.append(no_label(planned, "season maximum", "the most for a season"))
            continue
        if planned.rate is None:
            found.append(unchecked("season maximum", f"{planned.product}: no rate was given, so no sum can be made."))
            continue
        found.append(_season(case, planned, recent, limit=limit))
    return found


def _season(case: Case, planned: Planned, recent: Sequence[Sprayed], *, limit: Said) -> Finding:
    most: Quantity = limit.value
    label = planned.label or planned.county
    assert label is not None
    before, gaps = _before(case, label, recent, most=most)
    for other in case.planned:
        if other is not planned:
            more, missing = _one(case, label, other.label or other.county, other.rate, other.product, most=most)
            before, gaps = before + more, gaps + missing
    now, missing = _one(case, label, label, planned.rate, planned.product, most=most)
    if missing:
        return unchecked("season maximum", f"{planned.product}: {'; '.join(missing)}")
    total = amount_in(before + now, unit=most.unit)
    what = f"{total:.4g} {most.unit} in 365 days, this spray counted, of {most}"
    if before + now > most.si * (1 + _CRUMB):
        return Finding(limit.word, "season maximum", f"{planned.product}: {what}: over it.", limit.source)
    if gaps:
        return unchecked("season maximum", f"{planned.product}: at least {what}; not counted: {'; '.join(gaps)}")
    return fine("season maximum", f"{planned.product}: {what}, as far as you entered.", source=limit.source)


def _before(case: Case, label: Label, recent: Sequence[Sprayed], *, most: Quantity) -> tuple[float, list[str]]:
    total, gaps = 0.0, []
    for sprayed in recent:
        si, missing = _one(case, label, sprayed.label, sprayed.rate, sprayed.product, most=most)
        total += si
        gaps += [f"{sprayed.product} on {sprayed.day.isoformat()}: {m}" for m in missing]
    return total, gaps


def _one(
    case: Case, label: Label, other: Label | None, rate: Quantity | None, product: str, *, most: Quantity
) -> tuple[float, list[str]]:
    """What one spray adds to the sum, in what the limit counts; and why it could not be told."""
    same = product.casefold() == label.name.casefold()
    if other is None and not same:
        return 0.0, [f"what {product} contains was not entered."]
    mine = {part.ingredient for part in label.ingredients}
    shared = [part for part in (other or label).ingredients if part.ingredient in mine]
    if not shared:
        return 0.0, []
    try:
        return _share(case, label, shared, rate, same=same, most=most), []
    except QuantityError as error:
        return 0.0, [str(error)]


def _share(
    case: Case, label: Label, shared: Sequence[Strength], rate: Quantity | None, *, same: bool, most: Quantity
) -> float:
    if rate is None:
        raise QuantityError("its rate was not entered.")
    per_area = _per_area(rate, case=case)
    if not most.basis:
        return _as_product(per_area, shared, label, same=same, most=most)
    if len(label.ingredients) != 1:
        raise QuantityError(f"{label.name} has several ingredients, and the limit of {most} does not say which.")
    return _ingredient(per_area, shared[0], basis=most.basis).si


def _as_product(rate: Quantity, shared: Sequence[Strength], label: Label, *, same: bool, most: Quantity) -> float:
    """A spray as so much of the product that the limit is of: itself, or what holds as much of the same ingredient."""
    if same:
        if rate.kind != most.kind:
            raise QuantityError(f"a rate of {rate} and a limit of {most} are not of one kind.")
        return rate.si
    mine = next(part for part in label.ingredients if part.ingredient == shared[0].ingredient)
    if mine.strength is None or shared[0].strength is None or len(label.ingredients) != 1:
        raise QuantityError(f"the strengths that would turn it into {label.name} were not entered.")
    there = ingredient_rate(rate, strength=shared[0].strength)
    if (mine.strength.basis or "ai") != there.basis:
        raise QuantityError(f"{mine.strength} and {shared[0].strength} count different weights, and are not added.")
    return there.si / mine.strength.si


def _most_applications(planned: Planned, recent: Sequence[Sprayed]) -> list[Finding]:
    most = said(planned, "most_applications")
    if most is None:
        return []
    days = {s.day for s in recent if s.product.casefold() == planned.product.casefold()}
    count = len(days) + 1
    told = f"{planned.product}: this is number {count} in 365 days, of {most.value}"
    if count > most.value:
        return [Finding(most.word, "applications a season", f"{told} that are allowed.", most.source)]
    return [fine("applications a season", f"{told}.", source=most.source)]


def check_interval(case: Case) -> list[Finding]:
    """The time since the last application of the same product, or of one with the same ingredient."""
    found: list[Finding] = []
    for planned in case.planned:
        last = _last(planned, case.history, before=case.day)
        if last is None:
            continue
        wait = said(planned, "interval")
        if wait is None:
            found.append(no_label(planned, "interval", "the least time between applications"))
            continue
        over: date = wait.value.after(last)
        days = (case.day - last).days
        told = (
            f"{planned.product}: {days} day{'' if days == 1 else 's'} since {last.isoformat()}, and it asks for "
            f"{wait.value}"
        )
        if case.day < over:
            found.append(Finding(wait.word, "interval", f"{told}: from {over.isoformat()} on.", wait.source))
        else:
            found.append(fine("interval", f"{told}.", source=wait.source))
    return found


def _last(planned: Planned, history: Iterable[Sprayed], *, before: date) -> date | None:
    mine = {part.ingredient for label in (planned.label, planned.county) if label for part in label.ingredients}
    days = [
        s.day
        for s in history
        if s.day <= before
        and (
            s.product.casefold() == planned.product.casefold()
            or (s.label is not None and mine & {part.ingredient for part in s.label.ingredients})
        )
    ]
    return max(days, default=None)
