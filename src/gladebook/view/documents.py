"""The documents of ``--json``: full precision, stable names. A test holds them."""

from dataclasses import asdict
from typing import Any

from gladebook.beside.pass_count import passes_document
from gladebook.coverage.result import CANNOT_SEE, Coverage, MissedStrip, PlotCoverage
from gladebook.doubt.verdict import Doubt
from gladebook.plots.acreage import Measured
from gladebook.spraying.cautions import CAUTIONS
from gladebook.spraying.gallons import GallonsCheck
from gladebook.spraying.recipe import Mix
from gladebook.spraying.reentry import Reentry
from gladebook.spraying.touch_up import TouchUp
from gladebook.units import ACRE_M2, FT_M, GAL_M3
from gladebook.view.skips import entry_words, touch_up_words
from gladebook.view.totals import all_passes, left_sprayed_m2
from gladebook.view.words import TREATED_MEANS, gallons_words

__all__ = ["coverage_document", "gallons_document", "measure_document", "mix_document"]

_COUNTS = ("0", "1", "2", "3+")
_MOST_PAIRS = 50


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
    coverage: Coverage,
    *,
    gallons: GallonsCheck | None,
    notices: tuple[str, ...] = (),
    reentry: Reentry | None = None,
    touch_up: TouchUp | None = None,
) -> dict[str, Any]:
    """What ``gladebook coverage --json`` prints.

    Parameters
    ----------
    coverage
        What an application did.
    gallons
        The gallons check, where there is one.
    notices
        What comes before the coverage's own notices.
    reentry
        When its ground may be entered; None: by the label.
    touch_up
        Spray for strips that were seen; None where none was asked for.
    """
    waits = reentry or Reentry()
    outside = coverage.outside
    return {
        "plots": [
            {**_plot_acres(plot), "passes": passes_document(passes)}
            for plot, passes in zip(coverage.plots, coverage.passes, strict=True)
        ],
        "treated_means": TREATED_MEANS,
        "treated_acres": coverage.treated_m2 / ACRE_M2,
        "missed_acres": coverage.missed_m2 / ACRE_M2,
        "overlap_acres": coverage.overlap_m2 / ACRE_M2,
        "unknown_acres": coverage.unknown_m2 / ACRE_M2,
        "outside_acres": coverage.outside_m2 / ACRE_M2,
        "outside_acres_by": {
            "edge": outside.edge_m2 / ACRE_M2,
            "elsewhere": outside.elsewhere_m2 / ACRE_M2,
            "obstacles": outside.obstacles_m2 / ACRE_M2,
        },
        "obstacles_sprayed": [
            {"name": name, "water": water, "acres": area_m2 / ACRE_M2} for name, water, area_m2 in outside.obstacles
        ],
        "left_on_purpose_acres": coverage.left_m2 / ACRE_M2,
        "left_on_purpose_sprayed_acres": left_sprayed_m2(coverage) / ACRE_M2,
        "driven_acres": coverage.driven_m2 / ACRE_M2,
        "missed_strips": [_strip_document(s) for s in coverage.strips],
        "doubts": [_doubt_document(d) for d in coverage.doubts],
        "reentry": {
            "words": entry_words(waits),
            "not_before": None if waits.not_before is None else waits.not_before.isoformat(),
        },
        "touch_up": None if touch_up is None else _touch_up_document(touch_up),
        "passes": all_passes(coverage),
        "pass_overlaps": [
            {"first": first, "second": second, "acres": area_m2 / ACRE_M2}
            for first, second, area_m2 in coverage.pass_overlaps[:_MOST_PAIRS]
        ],
        "cleaning": asdict(coverage.cleaning),
        "gallons": None if gallons is None else gallons_document(gallons, left_m2=coverage.left_m2),
        "assumptions": list(coverage.assumptions),
        "notices": [*notices, *coverage.notices, CANNOT_SEE],
    }


def _strip_document(strip: MissedStrip) -> dict[str, Any]:
    return {
        "plot": strip.plot,
        "area_m2": strip.area_m2,
        "length_m": strip.length_m,
        "width_m": strip.width_m,
        "lon": strip.lon_deg,
        "lat": strip.lat_deg,
        "verdict": strip.verdict.word,
        "chance_real": strip.verdict.chance_real,
        "where": strip.verdict.where,
        "cause": strip.verdict.cause,
    }


def _doubt_document(doubt: Doubt) -> dict[str, Any]:
    return {
        "name": doubt.name,
        "drift_ft": None if doubt.drift_m is None else doubt.drift_m / FT_M,
        "spacing_ft": None if doubt.spacing_m is None else doubt.spacing_m / FT_M,
        "silent": doubt.silent,
        "jumps": doubt.jumps,
        "treated_acres_range": _acres_range(doubt.treated_m2),
        "missed_acres_range": _acres_range(doubt.missed_m2),
    }


def _acres_range(ends_m2: tuple[float, float] | None) -> list[float] | None:
    return None if ends_m2 is None else [m2 / ACRE_M2 for m2 in ends_m2]


def _touch_up_document(touch_up: TouchUp) -> dict[str, Any]:
    return {
        "seen": [s.number for s in touch_up.strips],
        "acres": touch_up.area_m2 / ACRE_M2,
        "rate_gal_per_ac": touch_up.rate_m * ACRE_M2 / GAL_M3,
        "spray_gal": touch_up.spray_m3 / GAL_M3,
        "strips": [
            {"number": s.number, "plot": s.plot, "acres": s.area_m2 / ACRE_M2, "spray_gal": s.spray_m3 / GAL_M3}
            for s in touch_up.strips
        ],
        "words": touch_up_words(touch_up)[0],
        "notices": list(touch_up.notices),
        "cautions": list(touch_up.cautions),
    }


def _plot_acres(plot: PlotCoverage) -> dict[str, Any]:
    return {
        "name": plot.name,
        "plot_acres": plot.plot_m2 / ACRE_M2,
        "treated_acres": plot.treated_m2 / ACRE_M2,
        "missed_acres": plot.missed_m2 / ACRE_M2,
        "overlap_acres": plot.overlap_m2 / ACRE_M2,
        "unknown_acres": plot.unknown_m2 / ACRE_M2,
        "left_on_purpose_acres": plot.left_m2 / ACRE_M2,
        "count_acres": {times: m2 / ACRE_M2 for times, m2 in zip(_COUNTS, plot.count_m2, strict=True)},
    }


def gallons_document(check: GallonsCheck, *, left_m2: float = 0.0) -> dict[str, Any]:
    """What ``gladebook gallons --json`` prints; `left_m2` as for `gallons_words`."""
    return {
        "used_gal": check.used_m3 / GAL_M3,
        "rate_gal_per_ac": check.rate_m * ACRE_M2 / GAL_M3,
        "covered_acres": check.covered_m2 / ACRE_M2,
        "plot_acres": check.plots_m2 / ACRE_M2,
        "difference_percent": 100 * check.difference,
        "flagged": check.flagged,
        "words": gallons_words(check, left_m2=left_m2),
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
