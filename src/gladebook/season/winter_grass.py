"""A winter annual grass in clover: the common case of the South-east.

It comes up in autumn, stays small in winter, heads in spring and seeds itself. Univ. of Georgia, Annual Ryegrass
(reprint read): it seeds prolifically and comes back where it may head. GROW integrated weed management network (annual
ryegrass, 2025): it comes up over a long time, with a second flush in spring in the south-central States; North
Carolina has kinds that resist groups 1, 2 and 9 and paraquat. The months are common practice, no source.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from gladebook.products.table.sources import RESISTS, RYEGRASS
from gladebook.products.weed import Weed
from gladebook.season.case import Case
from gladebook.units import IN_M
from gladebook.units.temperature import fahrenheit

__all__ = ["AGAIN_DAYS", "Again", "WinterGrass", "look_again", "winter_grass"]

AGAIN_DAYS: Final = (14, 21)
_HEADS: Final = str(RYEGRASS)
_RESISTS: Final = str(RESISTS)
_PRACTICE: Final = "common practice, no source"
_SMALL_MONTHS, _SPRING_MONTHS = (10, 11, 12, 1, 2), (3, 4, 5)
_COOL_C: Final = (55 - 32) / 1.8


@dataclass(frozen=True)
class WinterGrass:
    """Where the season stands for it.

    Attributes
    ----------
    small : whether it is small now; None where its height or the limit is not known.
    window : first and last day on which it is usually small, in this winter.
    look_from, look_until : when to look again.
    words : as sentences, each with its source.
    """

    small: bool | None
    window: tuple[date, date]
    look_from: date
    look_until: date
    words: tuple[str, ...]


@dataclass(frozen=True)
class Again:
    """What was seen on looking again, and what to do; never more product.

    Attributes
    ----------
    days : since the spray.
    suspect : whether resistance is to be suspected.
    words : as sentences.
    """

    days: int
    suspect: bool
    words: tuple[str, ...]


def winter_grass(case: Case) -> WinterGrass | None:
    """The window, the cold, the seed, and when to look again; None where it is no winter annual grass in a legume."""
    weed = case.weed
    if weed is None or weed.kind != "grass" or weed.life != "winter annual":
        return None
    if not any(f.legume for f in case.growing.forages):
        return None
    first = _autumn(case.day)
    window = (first, date(first.year + 1, 3, 1) - timedelta(days=1))
    small, words = _small(case, weed)
    words.append(f"It is usually small from {window[0].isoformat()} to {window[1].isoformat()} [{_PRACTICE}].")
    if case.day.month in _SPRING_MONTHS:
        words.append(f"It heads in spring. What heads seeds itself, and comes back in autumn [{_HEADS}].")
    else:
        words.append(f"What is left to head in spring seeds itself, and comes back [{_HEADS}].")
    words += _cold(case)
    again = tuple(case.day + timedelta(days=days) for days in AGAIN_DAYS)
    words.append(
        f"Look again between {again[0].isoformat()} and {again[1].isoformat()}: dead or alive? New ones come up "
        f"late, too "
        f"[{_RESISTS}]."
    )
    return WinterGrass(small, window, again[0], again[1], tuple(words))


def _autumn(day: date) -> date:
    """The 1st of October of the winter that a day is in, or that comes next."""
    return date(day.year - 1 if day.month < 6 else day.year, 10, 1)


def _small(case: Case, weed: Weed) -> tuple[bool | None, list[str]]:
    limits = [p.label.weed_height_most_m for p in case.planned if p.label is not None and p.label.weed_height_most_m]
    if case.weed_height_m is None:
        return None, [f"How tall is the {weed.name}? Measure it: small grass is what these sprays are for."]
    tall = f"{case.weed_height_m / IN_M:.3g} in"
    if not limits:
        return None, [f"The {weed.name} is {tall} tall; up to what height stands on your label."]
    small = case.weed_height_m <= min(limits) * (1 + 1e-9)
    word = "small enough" if small else "too tall"
    return small, [f"The {weed.name} is {tall} tall: {word} for your label's {min(limits) / IN_M:.3g} in."]


def _cold(case: Case) -> list[str]:
    air = None if case.weather is None else case.weather.temperature_c
    if air is None:
        return [f"Cold slows the spray: choose a spell in which the grass grows [{_PRACTICE}]."]
    if air < _COOL_C:
        return [
            (
                f"At {fahrenheit(air):.3g} F the spray works slowly: wait for a mild spell, and look again later "
                f"[{_PRACTICE}]."
            )
        ]
    return []


def look_again(sprayed_on: date, *, day: date, alive: bool | None) -> Again:
    """What to do when the sprayed grass is looked at again. Suspected resistance is never answered with more product.

    Parameters
    ----------
    sprayed_on
        The day of the spray.
    day
        Today.
    alive
        What was seen; None for nobody has looked.
    """
    days = (day - sprayed_on).days
    first, last = (sprayed_on + timedelta(days=d) for d in AGAIN_DAYS)
    if alive is None or days < AGAIN_DAYS[0]:
        early = " It is too early to tell." if alive is not None else ""
        return Again(
            days, False, (f"{days} days since the spray.{early} Look between {first} and {last} [{_PRACTICE}].",)
        )
    if not alive:
        return Again(days, False, ("Dead. Keep an eye on what comes up late, and keep the record.",))
    return Again(
        days,
        True,
        (
            f"Alive after {days} days. Do not spray more of the same, and do not raise the rate.",
            "First: was it missed? Compare where it lives with the missed strips (gladebook coverage).",
            "Then: was it too tall, too cold or too dry; was the adjuvant left out; did rain come too soon?",
            (
                "If sprayed plants live beside dead ones, suspect resistance: kinds that resist groups 1, 2 and 9 and "
                "paraquat are "
                f"known in North Carolina [{_RESISTS}]. Keep it from heading, save seed for a test, and ask your "
                f"county "
                f"extension "
                "agent for another mode-of-action group, or another way than spraying."
            ),
        ),
    )
