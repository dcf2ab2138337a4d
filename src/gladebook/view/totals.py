"""Figures over all plots that an answer holds by plot."""

from typing import Any

from gladebook.beside.pass_count import passes_document
from gladebook.coverage.result import Coverage

__all__ = ["WORTH_SAYING_M2", "all_passes", "left_sprayed_m2", "thrice_m2"]

WORTH_SAYING_M2 = 2.0  # below, it would read as less than a thousandth of an acre


def thrice_m2(coverage: Coverage) -> float:
    """Ground driven over three or more times; where plots share such ground, at most all overlap."""
    return min(sum(p.count_m2[3] for p in coverage.plots), coverage.overlap_m2)


def left_sprayed_m2(coverage: Coverage) -> float:
    """Ground left on purpose that was sprayed; where plots share such ground, at most all that was left."""
    return min(sum(p.left_sprayed_m2 for p in coverage.plots), coverage.left_m2)


def all_passes(coverage: Coverage) -> dict[str, Any]:
    """Passes found and needed, added up over the plots, and the gaps with their plot.

    A pass through two plots counts in each; None are needed where any plot with passes is silent about it.
    """
    by_plot = [(p.name, passes_document(p)) for p in coverage.passes]
    driven = [p for p in coverage.passes if p.found]
    told = [p.needed for p in driven if p.needed is not None]
    return {
        "found": sum(p.found for p in driven),
        "needed": sum(told) if len(told) == len(driven) else None,
        "gaps": [{"plot": name, **gap} for name, document in by_plot for gap in document["gaps"]],
    }
