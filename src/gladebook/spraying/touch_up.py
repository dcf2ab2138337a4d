"""A touch-up: spray for missed strips, and only for those that somebody went and saw."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from gladebook.errors import CallError
from gladebook.spraying.cautions import CAUTIONS

__all__ = ["SEEN_FIRST", "SeenStrip", "TouchUp", "plan_touch_up", "seen_numbers"]

SEEN_FIRST: Final = (
    "Grass that was skipped shows only weeks later. Spraying it then is a new application with checks of its own.",
    "Check on your label the time between applications, the most for a season, and the size of grass and crop.",
    "The acres are as recorded: measure what you saw, and mix for that.",
)


@dataclass(frozen=True)
class SeenStrip:
    """A missed strip that was seen: its number on the list, plot, area in m2, and spray for it in m3."""

    number: int
    plot: str
    area_m2: float
    spray_m3: float


@dataclass(frozen=True)
class TouchUp:
    """Spray for the strips that were seen.

    Attributes
    ----------
    strips : those strips, by their numbers.
    rate_m : spray volume per area, m3 per m2.
    area_m2, spray_m3 : all of them together.
    cautions, notices : as sentences.
    """

    strips: tuple[SeenStrip, ...]
    rate_m: float
    area_m2: float
    spray_m3: float
    cautions: tuple[str, ...] = CAUTIONS
    notices: tuple[str, ...] = SEEN_FIRST


def seen_numbers(seen: Sequence[int], *, listed: int) -> list[int]:
    """Numbers of strips that were seen, in order, each once.

    Parameters
    ----------
    seen
        Their numbers, from 1.
    listed
        How many strips there are.

    Raises
    ------
    CallError
        Where a number is not on the list.
    """
    if not listed:
        raise CallError("--seen: there is no missed strip, so none can have been seen. Leave it out.")
    for number in seen:
        if not 1 <= number <= listed:
            there = f"its numbers are 1 to {listed}" if listed > 1 else "its only number is 1"
            raise CallError(f"--seen: {number} is not on the list of missed strips; {there}.")
    return sorted(set(seen))


def plan_touch_up(strips: Sequence[tuple[str, float]], *, seen: Sequence[int], rate_m: float) -> TouchUp:
    """Spray volume for the strips that were seen: area x volume per area, as in any mix.

    Parameters
    ----------
    strips
        Plot and area in m2 of every missed strip, in the order of their numbers.
    seen
        Numbers, from 1, of those that somebody went and saw.
    rate_m
        Spray volume per area, m3 per m2.

    Raises
    ------
    CallError
        Where a number is not on the list, or the rate is not above zero.
    """
    if not 0 < rate_m < math.inf:
        raise CallError("--rate: gallons per acre must be above zero.")
    numbers = seen_numbers(seen, listed=len(strips))
    found = tuple(SeenStrip(n, *strips[n - 1], strips[n - 1][1] * rate_m) for n in numbers)
    area_m2 = sum(s.area_m2 for s in found)
    return TouchUp(found, rate_m=rate_m, area_m2=area_m2, spray_m3=area_m2 * rate_m)
