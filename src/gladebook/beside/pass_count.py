"""How many passes a plot has and needs, as a noun and in words."""

from dataclasses import dataclass
from typing import Any

import numpy as np

__all__ = [
    "PassCount",
    "PassGap",
    "count_words",
    "counted_words",
    "ordinal",
    "passes_document",
    "passes_words",
    "side_words",
]

_MOST_TOLD = 6
_SIDES = ("east", "north-east", "north", "north-west", "west", "south-west", "south", "south-east")


@dataclass(frozen=True)
class PassGap:
    """A place where passes are missing.

    Attributes
    ----------
    after : the pass it follows, in order of place from the side where driving began; 0: before the first.
    missing : how many passes it holds.
    side : on which side of that pass it lies, like "north side"; for 0, of the plot.
    first_m, last_m : its ends, x and y on the plane.
    """

    after: int
    missing: int
    side: str
    first_m: tuple[float, float]
    last_m: tuple[float, float]


@dataclass(frozen=True)
class PassCount:
    """Passes of one plot.

    Attributes
    ----------
    name : the plot's name.
    found : places side by side with a pass; where they do not run side by side, passes in the plot.
    needed : those and the missing ones; None where passes do not run side by side.
    gaps : in order of place from the side where driving began.
    spacing_m : the usual distance between neighbours; None where `needed` is.
    why : why `needed` is None, one sentence; None where it is known.
    sentences : all of it as people read it.
    side : the side on which the next pass lies, as they are counted; empty where `needed` is None.
    """

    name: str
    found: int
    needed: int | None
    gaps: tuple[PassGap, ...]
    spacing_m: float | None
    why: str | None
    sentences: tuple[str, ...]
    side: str = ""


def passes_document(count: PassCount) -> dict[str, Any]:
    """Give the count as JSON has it: found, needed (null where not told), and gaps with after, missing and side."""
    gaps = [{"after": g.after, "missing": g.missing, "side": g.side} for g in count.gaps]
    return {"found": count.found, "needed": count.needed, "gaps": gaps}


def count_words(name: str, *, needed: int, found: int, gaps: list[PassGap], give: str = "") -> str:
    """Say how many passes a plot needs, how many were found, and where they are missing."""
    return f"{name}: {passes_words(needed)} needed{give}, {found} found{_gap_words(gaps)}."


def _gap_words(gaps: list[PassGap]) -> str:
    """Gaps by side, as the end of a sentence."""
    words = ""
    for side in dict.fromkeys(g.side for g in gaps):
        mine = [g for g in gaps if g.side == side]
        told = [
            (f"of {g.missing} passes " if g.missing > 1 else "")
            + (f"after the {ordinal(g.after)}" if g.after else "before the 1st")
            for g in mine[:_MOST_TOLD]
        ]
        if len(mine) > len(told):
            told.append(f"{len(mine) - len(told)} more")
        listed = ", ".join(told[:-1]) + (" and " if told[1:] else "") + told[-1]
        words += f", gap{'s' if told[1:] else ''} {listed}, {side}"
    return words


def ordinal(number: int) -> str:
    """Give 1st, 2nd, 3rd, 4th."""
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def passes_words(count: int) -> str:
    """Give 1 pass, 2 passes."""
    return f"{count} pass{'es' if count != 1 else ''}"


def counted_words(name: str, *, side: str) -> str:
    """Say from where passes are counted, by the side on which the next one lies."""
    turned = _SIDES[(_SIDES.index(side.removesuffix(" side")) + 4) % 8]
    return f"{name}: passes are counted from the {turned} side, nearest to the first one driven."


def side_words(angle: float) -> str:
    """Name the side that a direction on the plane leads to."""
    return f"{_SIDES[round(angle / (np.pi / 4)) % 8]} side"
