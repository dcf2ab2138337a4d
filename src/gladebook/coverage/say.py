"""What the reader of an answer should know, as sentences."""

from collections.abc import Sequence
from typing import Any

import shapely

from gladebook.coverage.boom import Settled
from gladebook.coverage.result import MissedStrip, Outside, PlotCoverage
from gladebook.units import ACRE_M2, FT_M, MI_M

__all__ = ["left_words", "nowhere_near", "obstacle_words", "spare_words"]

_FAR_M = 1000.0
_WORTH_NAMING_M2 = 1.0
_WATER_M2 = 0.1  # below, it would read as 0 or 1 sq ft


def spare_words(strips: Sequence[MissedStrip], *, missed_m2: float, shared: bool) -> list[str]:
    """Missed ground that no strip lists."""
    spare_m2 = missed_m2 - sum(s.area_m2 for s in strips)
    if spare_m2 < _WORTH_NAMING_M2 or (shared and spare_m2 < 0):
        return []
    words = (
        f"{spare_m2 / ACRE_M2:.3f} ac of the missed ground is in pieces narrower than 1 ft or smaller than "
        f"{1 / FT_M**2:.0f} sq ft, not listed as strips."
    )
    return [words]


def obstacle_words(outside: Outside) -> list[str]:
    """What to do about obstacles that were sprayed and whose names say water."""
    water = [name for name, says_water, area_m2 in outside.obstacles if says_water and area_m2 >= _WATER_M2]
    return [f"{name} was sprayed, and its name says water: read what your label says about water." for name in water]


def left_words(plots: Sequence[PlotCoverage]) -> list[str]:
    """Ground left on purpose that was sprayed all the same."""
    return [
        f"{p.name}: {p.left_sprayed_m2 / ACRE_M2:.3f} of the {p.left_m2 / ACRE_M2:.3f} ac left unsprayed on purpose "
        "was sprayed; there it no longer shows what unsprayed ground would have done."
        for p in plots
        if p.left_sprayed_m2 >= _WORTH_NAMING_M2
    ]


def nowhere_near(settled: Sequence[Settled], *, whole: Any) -> str:
    """Why nothing was treated."""
    if not settled:
        return "No track was given; nothing was treated."
    away_m = min(float(shapely.distance(whole, shapely.linestrings(s.path.xy_m))) for s in settled)
    if away_m > _FAR_M:
        return f"No track comes within {away_m / MI_M:.1f} miles of a plot. Check that both show the same place."
    if away_m > 0:
        return f"No track enters a plot; the nearest passes {away_m / FT_M:.0f} ft away."
    return "The track enters the plots, but with the boom off or below 1 mph throughout; nothing was treated."
