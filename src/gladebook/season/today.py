"""The checks before a spray, all together: what was not checked first, then stops, then cautions."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from gladebook.errors import CallError
from gladebook.season.case import Case, Planned
from gladebook.season.checks.air import check_air, check_calm, check_delta_t, check_heat, check_rain
from gladebook.season.checks.amounts import check_interval, check_season, check_single
from gladebook.season.checks.ground import check_disking, check_mixing, check_plant_back, check_tank
from gladebook.season.checks.site import check_site, check_stand, check_weed, crops_of
from gladebook.season.entry import Entry, entry_after
from gladebook.season.finding import Finding
from gladebook.season.winter_grass import WinterGrass, winter_grass
from gladebook.spraying.recipe import Amount
from gladebook.units import FT_M, amount_in

__all__ = ["Today", "check_today"]

_CHECKS: Final[tuple[Callable[[Case], list[Finding]], ...]] = (
    check_site, check_stand, check_weed, check_single, check_season, check_interval, check_tank, check_mixing,
    check_plant_back, check_disking, check_air, check_calm, check_rain, check_heat, check_delta_t,
)  # fmt: skip
_TALLEST_M: Final = 20 * FT_M


@dataclass(frozen=True)
class Today:
    """What was found.

    Attributes
    ----------
    case : what was looked at.
    not_checked, stops, cautions, fine : findings, in the order of the checks.
    headline : one sentence. It never says that a spray is safe, as nobody here can know.
    entry : when people may go in, and hunt.
    winter : the window of a winter annual grass in clover; None where it is no such case.
    amounts : product for the plot, only where the user found site and crops on every label, and nothing stops.
    why_none : why there are no amounts; empty where there are.
    """

    case: Case
    not_checked: tuple[Finding, ...]
    stops: tuple[Finding, ...]
    cautions: tuple[Finding, ...]
    fine: tuple[Finding, ...]
    headline: str
    entry: Entry
    winter: WinterGrass | None
    amounts: tuple[Amount, ...]
    why_none: str


def check_today(case: Case) -> Today:
    """Run every check.

    Raises
    ------
    CallError
        Where no product is planned, or a figure cannot be.
    """
    if not case.planned:
        raise CallError('--product: say what you mean to spray, like "Grass spray=8 fl oz/ac".')
    if case.weed_height_m is not None and not 0 <= case.weed_height_m <= _TALLEST_M:
        raise CallError("--weed-height: must be from 0 to 20 ft.")
    found = [finding for check in _CHECKS for finding in check(case)]
    found = list(dict.fromkeys(found))
    by_word = {word: tuple(f for f in found if f.word == word) for word in ("not checked", "stop", "caution", "fine")}
    amounts, why_none = _amounts(case, stopped=bool(by_word["stop"]))
    return Today(
        case=case,
        not_checked=by_word["not checked"],
        stops=by_word["stop"],
        cautions=by_word["caution"],
        fine=by_word["fine"],
        headline=_headline(by_word),
        entry=entry_after(case),
        winter=winter_grass(case),
        amounts=amounts,
        why_none=why_none,
    )


def _headline(found: dict[str, tuple[Finding, ...]]) -> str:
    missing = ", ".join(dict.fromkeys(f.about for f in found["not checked"])) or "what only you and the label can see"
    if found["stop"]:
        about = ", ".join(dict.fromkeys(f.about for f in found["stop"]))
        return f"Do not spray: {about}. NOT checked: {missing}."
    if found["caution"]:
        about = ", ".join(dict.fromkeys(f.about for f in found["caution"]))
        return f"Nothing you entered forbids it, but mind: {about}. NOT checked: {missing}."
    return f"Nothing you entered conflicts; NOT checked: {missing}."


def _amounts(case: Case, *, stopped: bool) -> tuple[tuple[Amount, ...], str]:
    """Product for the plot: rate x area, or x gallons per acre x area."""
    if stopped:
        return (), "No amounts, as something stops this spray."
    for planned in case.planned:
        if not all(planned.listed.get(crop) for crop in crops_of(case)):
            return (
                (),
                f"No amounts before you have read whether your label of {planned.product} lists this site and crop.",
            )
    if case.area_m2 is None:
        return (), "No amounts, as the plot's acres are not known."
    found = [_amount(case, planned, area_m2=case.area_m2) for planned in case.planned]
    missing = [one for one in found if isinstance(one, str)]
    return ((), missing[0]) if missing else (tuple(one for one in found if isinstance(one, Amount)), "")


def _amount(case: Case, planned: Planned, *, area_m2: float) -> Amount | str:
    """Product for the plot; or why there is none, as a sentence."""
    rate = planned.rate
    if rate is None:
        return f"No amounts, as no rate was given for {planned.product}."
    if rate.basis:
        return f"No amounts: {planned.product} at {rate} counts the ingredient. Give the rate of the product."
    per_volume = rate.kind not in ("volume per area", "weight per area")
    if per_volume and case.per_acre is None:
        return f"No amounts, as {planned.product} goes by gallons of spray, and gallons per acre were not given."
    si = rate.si * area_m2 * (case.per_acre.si if per_volume and case.per_acre is not None else 1.0)
    unit = "fl oz" if rate.unit == "%" else rate.amount_unit
    return Amount(planned.product, amount_in(si, unit=unit), unit)
