"""Answers as sentences: what stands first, on the screen, on the map and on paper."""

from gladebook.coverage.result import CANNOT_SEE, Coverage, MissedStrip
from gladebook.plots.acreage import Measured
from gladebook.spraying.gallons import GallonsCheck
from gladebook.spraying.recipe import Mix
from gladebook.view.figures import acres, area, feet, gallons, percent, place, rate

__all__ = [
    "CANNOT_SEE",
    "coverage_words",
    "gallons_words",
    "measure_words",
    "mix_words",
    "stop_words",
    "strip_words",
]

_WITHIN = 0.005


def measure_words(measured: Measured) -> list[str]:
    """The acres of all plots in one sentence."""
    count = len(measured.plots)
    return [f"{count} plot{'s' if count != 1 else ''}, {acres(measured.total_m2)} ac to plant or spray."]


def gallons_words(check: GallonsCheck) -> str:
    """The gallons check in one sentence, and what to look for where it is flagged."""
    if abs(check.difference) < _WITHIN:
        verdict = "they match"
    else:
        verdict = f"{percent(abs(check.difference))} {'short' if check.difference < 0 else 'over'}"
    flag = ""
    if check.flagged:
        flag = (
            " Too little went out: look for missed ground, speed or a plugged tip."
            if check.difference < 0
            else " Too much went out: look for overlap, slow driving or spraying outside."
        )
    return (
        f"{gallons(check.used_m3)} at {rate(check.rate_m)} is {acres(check.covered_m2)} ac; "
        f"the plots are {acres(check.plots_m2)} ac: {verdict}.{flag}"
    )


def coverage_words(coverage: Coverage, *, gallons_check: GallonsCheck | None = None) -> list[str]:
    """What one application did, most telling first."""
    words = [gallons_words(gallons_check)] if gallons_check is not None else []
    plot_m2 = coverage.plot_m2
    words.append(
        f"Treated {acres(coverage.treated_m2)} of {acres(plot_m2)} ac ({_share(coverage.treated_m2, plot_m2)}); "
        f"missed {acres(coverage.missed_m2)} ac ({_share(coverage.missed_m2, plot_m2)})"
        + (f" with {_strips(len(coverage.strips))}." if coverage.strips else ".")
    )
    if coverage.unknown_m2 > 0:
        words.append(f"Unknown {area(coverage.unknown_m2)}: the track has gaps there.")
    words.append(
        f"Overlap {area(coverage.overlap_m2)}, which got twice the rate; "
        f"outside the plots {area(coverage.outside_m2)}; driven in all {acres(coverage.driven_m2)} ac."
    )
    if gallons_check is not None and coverage.driven_m2 > 0:
        words.append(
            f"Over all ground driven, {gallons(gallons_check.used_m3)} is "
            f"{rate(gallons_check.used_m3 / coverage.driven_m2)}; {rate(gallons_check.rate_m)} was meant."
        )
    return words


def strip_words(strip: MissedStrip, *, number: int) -> str:
    """One missed strip on one line."""
    return (
        f"{number}. {strip.plot}: {area(strip.area_m2)}, {feet(strip.length_m)} long, {feet(strip.width_m)} wide, "
        f"at {place(strip.lat_deg, strip.lon_deg)}"
    )


def mix_words(mix: Mix) -> list[str]:
    """The job in sentences."""
    full = len(mix.loads)
    loads = f"{full} load{'s' if full != 1 else ''}"
    per_acre = rate(mix.spray_m3 / mix.area_m2)
    words = [f"{acres(mix.area_m2)} ac takes {gallons(mix.spray_m3)} of spray in {loads} ({per_acre})."]
    if mix.sump_m3 > 0:
        words.append(f"The first load has {gallons(mix.sump_m3)} more, which stays in the sump.")
    return words


def _strips(count: int) -> str:
    return f"{count} missed strip{'s' if count != 1 else ''}"


def _share(part_m2: float, whole_m2: float) -> str:
    if whole_m2 <= 0:
        return "0 %"
    share = part_m2 / whole_m2
    if 0 < share < _WITHIN:
        return "under 1 %"
    if 1 - _WITHIN < share < 1:
        return "over 99 %"
    return percent(share)


def stop_words(mix: Mix) -> list[str]:
    """Which plots each load covers, and what is left in the tank after each; nothing for a single plot."""
    if len({stop.name for load in mix.loads for stop in load.stops}) < 2:
        return []
    return [
        f"Load {load.number}: "
        + "; ".join(
            f"{s.name} {acres(s.area_m2)} ac takes {gallons(s.spray_m3)}, {gallons(s.left_m3)} left" for s in load.stops
        )
        for load in mix.loads
    ]
