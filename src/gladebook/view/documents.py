"""The documents of ``--json``: full precision, stable names. A test holds them."""

from typing import Any

from gladebook.coverage.result import CANNOT_SEE, Coverage
from gladebook.plots.acreage import Measured
from gladebook.spraying.cautions import CAUTIONS
from gladebook.spraying.gallons import GallonsCheck
from gladebook.spraying.recipe import Mix
from gladebook.units import ACRE_M2, GAL_M3
from gladebook.view.words import gallons_words

__all__ = ["coverage_document", "gallons_document", "measure_document", "mix_document"]


def measure_document(measured: Measured) -> dict[str, Any]:
    """What ``gladebook measure --json`` prints."""
    return {
        "plots": [
            {
                "name": p.name,
                "acres": p.net_m2 / ACRE_M2,
                "gross_acres": p.gross_m2 / ACRE_M2,
                "obstacle_acres": p.obstacle_m2 / ACRE_M2,
                "setback_acres": p.setback_m2 / ACRE_M2,
                "perimeter_m": p.perimeter_m,
                "acres_range": [p.low_m2 / ACRE_M2, p.high_m2 / ACRE_M2],
            }
            for p in measured.plots
        ],
        "total_acres": measured.total_m2 / ACRE_M2,
        "notices": list(measured.notices),
    }


def coverage_document(
    coverage: Coverage, *, gallons: GallonsCheck | None, notices: tuple[str, ...] = ()
) -> dict[str, Any]:
    """What ``gladebook coverage --json`` prints; `notices` come before the coverage's own."""
    return {
        "plots": [
            {
                "name": p.name,
                "plot_acres": p.plot_m2 / ACRE_M2,
                "treated_acres": p.treated_m2 / ACRE_M2,
                "missed_acres": p.missed_m2 / ACRE_M2,
                "overlap_acres": p.overlap_m2 / ACRE_M2,
                "unknown_acres": p.unknown_m2 / ACRE_M2,
            }
            for p in coverage.plots
        ],
        "treated_acres": coverage.treated_m2 / ACRE_M2,
        "missed_acres": coverage.missed_m2 / ACRE_M2,
        "overlap_acres": coverage.overlap_m2 / ACRE_M2,
        "unknown_acres": coverage.unknown_m2 / ACRE_M2,
        "outside_acres": coverage.outside_m2 / ACRE_M2,
        "driven_acres": coverage.driven_m2 / ACRE_M2,
        "missed_strips": [
            {
                "plot": s.plot,
                "area_m2": s.area_m2,
                "length_m": s.length_m,
                "width_m": s.width_m,
                "lon": s.lon_deg,
                "lat": s.lat_deg,
            }
            for s in coverage.strips
        ],
        "gallons": None if gallons is None else gallons_document(gallons),
        "assumptions": list(coverage.assumptions),
        "notices": [*notices, *coverage.notices, CANNOT_SEE],
    }


def gallons_document(check: GallonsCheck) -> dict[str, Any]:
    """What ``gladebook gallons --json`` prints."""
    return {
        "used_gal": check.used_m3 / GAL_M3,
        "rate_gal_per_ac": check.rate_m * ACRE_M2 / GAL_M3,
        "covered_acres": check.covered_m2 / ACRE_M2,
        "plot_acres": check.plots_m2 / ACRE_M2,
        "difference_percent": 100 * check.difference,
        "flagged": check.flagged,
        "words": gallons_words(check),
        "cautions": list(CAUTIONS),
    }


def mix_document(mix: Mix, *, notices: tuple[str, ...] = ()) -> dict[str, Any]:
    """What ``gladebook mix --json`` prints; `notices` come before the mix's own."""
    return {
        "acres": mix.area_m2 / ACRE_M2,
        "spray_gal": mix.spray_m3 / GAL_M3,
        "sump_gal": mix.sump_m3 / GAL_M3,
        "loads": [
            {
                "number": load.number,
                "acres": load.area_m2 / ACRE_M2,
                "spray_gal": load.spray_m3 / GAL_M3,
                "mixed_gal": load.mixed_m3 / GAL_M3,
                "water_gal": load.water_m3 / GAL_M3,
                "products": [{"name": a.name, "amount": a.amount, "unit": a.unit} for a in load.products],
                "plots": [
                    {
                        "name": s.name,
                        "acres": s.area_m2 / ACRE_M2,
                        "spray_gal": s.spray_m3 / GAL_M3,
                        "left_gal": s.left_m3 / GAL_M3,
                    }
                    for s in load.stops
                ],
            }
            for load in mix.loads
        ],
        "totals": [{"name": a.name, "amount": a.amount, "unit": a.unit} for a in mix.totals],
        "overlap_rates": [
            {
                "name": o.name,
                "rate": o.rate,
                "twice": o.twice,
                "maximum": o.maximum,
                "unit": o.unit,
                "over": o.over,
            }
            for o in mix.overlaps
        ],
        "cautions": list(mix.cautions),
        "notices": [*notices, *mix.notices],
    }
