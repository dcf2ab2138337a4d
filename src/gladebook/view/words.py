"""Answers as sentences: what stands first, on the screen, on the map and on paper."""

from collections.abc import Sequence
from typing import Final

from gladebook.beside.pass_count import PassCount, PassGap
from gladebook.coverage.result import CANNOT_SEE, Coverage, Outside
from gladebook.plots.acreage import Measured
from gladebook.spraying.gallons import GallonsCheck
from gladebook.spraying.recipe import Mix
from gladebook.view.figures import acres, area, gallons, percent, rate
from gladebook.view.skips import missed_words, truly_words
from gladebook.view.totals import WORTH_SAYING_M2, left_sprayed_m2, thrice_m2

__all__ = [
    "ACROSS",
    "CANNOT_SEE",
    "TREATED_MEANS",
    "coverage_words",
    "gallons_verdict",
    "gallons_words",
    "measure_words",
    "mix_words",
    "pass_words",
    "passes_words",
    "stop_words",
    "without_ranges",
]

TREATED_MEANS: Final = "driven with the boom on; plugged tips, an empty tank and wind cannot be seen"
_WITHIN = 0.005
_NOTHING_M2 = 0.1  # below, it would read as 0 or 1 sq ft
_MOST_NAMED = 3
_WAYS = ("east", "north-east", "north", "north-west", "west", "south-west", "south", "south-east")
ACROSS: Final = {f"{way} side": f"{_WAYS[(i + 4) % 8]} side" for i, way in enumerate(_WAYS)}


def measure_words(measured: Measured) -> list[str]:
    """The acres of all plots in one sentence."""
    count = len(measured.plots)
    return [f"{count} plot{'s' if count != 1 else ''}, {acres(measured.total_m2)} ac to plant or spray."]


def without_ranges(notices: Sequence[str]) -> list[str]:
    """Notices of measured plots, but for the one about ranges, for where those are not shown."""
    return [n for n in notices if not n.startswith("The ranges assume")]


def gallons_verdict(check: GallonsCheck) -> str:
    """By how much the gallons are short or over, in part of a sentence; empty where they match."""
    if abs(check.difference) < _WITHIN:
        return ""
    return f"{percent(abs(check.difference))} {'short' if check.difference < 0 else 'over'}"


def gallons_words(check: GallonsCheck, *, left_m2: float = 0.0) -> str:
    """The gallons check in one sentence, and what to look for where it is flagged.

    Parameters
    ----------
    check
        The check.
    left_m2
        Ground left unsprayed on purpose, which the plots of the check are without.
    """
    verdict = gallons_verdict(check) or "they match"
    flag = ""
    if check.flagged:
        flag = (
            " Too little went out: look for missed ground, speed or a plugged tip."
            if check.difference < 0
            else " Too much went out: look for overlap, slow driving or spraying outside."
        )
    without = " without what was left on purpose" if left_m2 > 0 else ""
    return (
        f"{gallons(check.used_m3)} at {rate(check.rate_m)} is {acres(check.covered_m2)} ac; "
        f"the plots{without} are {acres(check.plots_m2)} ac: {verdict}.{flag}"
    )


def coverage_words(coverage: Coverage, *, gallons_check: GallonsCheck | None = None) -> list[str]:
    """What one application did, most telling first; nothing about what did not happen."""
    words = [gallons_words(gallons_check, left_m2=coverage.left_m2)] if gallons_check is not None else []
    plot_m2 = coverage.plot_m2
    words.append(
        f"Treated {acres(coverage.treated_m2)} of {acres(plot_m2)} ac "
        f"({_share(coverage.treated_m2, plot_m2)}): {TREATED_MEANS}."
    )
    strips = missed_words(coverage)
    words.append(
        f"Missed {acres(coverage.missed_m2)} ac ({_share(coverage.missed_m2, plot_m2)})"
        f"{f': {strips}' if strips else ''}."
    )
    words += truly_words(coverage)
    if coverage.unknown_m2 > 0:
        words.append(f"Unknown {area(coverage.unknown_m2)}: the track has gaps there.")
    words += [*passes_words(coverage.passes), *_outside_words(coverage.outside)]
    if coverage.left_m2 > 0:
        sprayed_m2 = left_sprayed_m2(coverage)
        told = sprayed_m2 >= WORTH_SAYING_M2
        words.append(
            f"Left on purpose {area(coverage.left_m2)}, neither treated nor missed"
            + (f"; {_part(sprayed_m2, coverage.left_m2)} was sprayed all the same." if told else ".")
        )
    words.append(_overlap_words(coverage))
    if gallons_check is not None and coverage.driven_m2 > 0:
        words.append(
            f"Over all ground driven, {gallons(gallons_check.used_m3)} is "
            f"{rate(gallons_check.used_m3 / coverage.driven_m2)}; {rate(gallons_check.rate_m)} was meant."
        )
    return words


def _overlap_words(coverage: Coverage) -> str:
    driven = f"driven in all {acres(coverage.driven_m2)} ac."
    if coverage.overlap_m2 < _NOTHING_M2:
        return driven.capitalize()
    thrice = thrice_m2(coverage)
    more = f" or more: {area(thrice)} of it was covered three times or more" if thrice >= WORTH_SAYING_M2 else ""
    return f"Overlap {area(coverage.overlap_m2)}, which got twice the rate{more}; {driven}"


def _outside_words(outside: Outside) -> list[str]:
    """Water first and by name; then how much lies where."""
    water = [o for o in outside.obstacles if o[1] and o[2] >= _NOTHING_M2]
    others = [o for o in outside.obstacles if not o[1] and o[2] >= _NOTHING_M2]
    named = [f"{name}, {area(m2)}" for name, _, m2 in water]
    words = [f"Sprayed over water: {'; '.join(named)}."] if water else []
    rest = others[_MOST_NAMED:]
    parts = [
        (outside.edge_m2, "within half a boom of an edge"),
        (outside.elsewhere_m2, "farther out"),
        (sum(m2 for *_, m2 in water), "over water"),
        *((m2, f"on {name}") for name, _, m2 in others[:_MOST_NAMED]),
        (sum(m2 for *_, m2 in rest), f"on {len(rest)} more obstacles"),
    ]
    told = [(area(m2), where) for m2, where in parts if m2 >= _NOTHING_M2]
    whole = area(outside.total_m2)
    if len(told) == 1:
        words.append(f"Outside the plots {whole}, all {told[0][1]}.")
    elif told:
        words.append(f"Outside the plots {whole}: {', '.join(' '.join(part) for part in told)}.")
    return words


def passes_words(counts: Sequence[PassCount]) -> list[str]:
    """One sentence on the passes that were needed and found; none where no plot's run side by side."""
    told = [c for c in counts if c.needed is not None]
    if not told:
        return []
    if len(counts) == 1:
        return [f"{pass_words(told[0])}."]
    bare = [c for c in told if c.gaps]
    whole = len(told) - len(bare)
    plots = f"{whole} {'other ' if bare else ''}plot{'s' if whole > 1 else ''}"
    parts = [f"{c.name} {c.found} of {c.needed}{_gaps_words(c)}" for c in bare[:_MOST_NAMED]]
    parts += [f"gaps in {len(bare) - _MOST_NAMED} more plots"] if len(bare) > _MOST_NAMED else []
    parts += [f"none missing in {plots}"] if whole else []
    return [f"Passes{' found' if bare else ''}: {'; '.join(parts)}."]


def pass_words(count: PassCount) -> str:
    """Passes of one plot, and after which of them some are missing."""
    if count.needed is None:
        return f"{count.found} pass{'es' if count.found != 1 else ''} found"
    return f"{count.needed} passes needed, {count.found} found{_gaps_words(count)}"


def _gaps_words(count: PassCount) -> str:
    if not count.gaps:
        return ""
    gaps = [_gap_words(gap) for gap in count.gaps[:_MOST_NAMED]]
    gaps += [f"{len(count.gaps) - _MOST_NAMED} more"] if len(count.gaps) > _MOST_NAMED else []
    first = count.gaps[0]
    # A gap lies on the far side of the pass it follows, and one before the first on the near side.
    began = ACROSS.get(first.side, first.side) if first.after else first.side
    return f", gap{'s' if gaps[1:] else ''} {_listed(gaps)} from the {began}"


def _gap_words(gap: PassGap) -> str:
    where = f"after the {_ordinal(gap.after)}" if gap.after else "before the 1st"
    return where if gap.missing == 1 else f"of {gap.missing} passes {where}"


def _listed(parts: Sequence[str]) -> str:
    return ", ".join(parts[:-1]) + (" and " if parts[1:] else "") + parts[-1]


def _ordinal(number: int) -> str:
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def mix_words(mix: Mix) -> list[str]:
    """The job in sentences."""
    full = len(mix.loads)
    loads = f"{full} load{'s' if full != 1 else ''}"
    per_acre = rate(mix.spray_m3 / mix.area_m2)
    words = [f"{acres(mix.area_m2)} ac takes {gallons(mix.spray_m3)} of spray in {loads} ({per_acre})."]
    if mix.sump_m3 > 0:
        words.append(f"The first load has {gallons(mix.sump_m3)} more, which stays in the sump.")
    return words


def _part(part_m2: float, whole_m2: float) -> str:
    return "all of it" if part_m2 > (1 - _WITHIN) * whole_m2 else f"{area(part_m2)} of it"


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
