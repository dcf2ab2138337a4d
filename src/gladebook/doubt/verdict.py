"""Is the strip real? Go look, or can't tell; and where it lies, said by passes.

A strip between two passes is weighed by `gladebook.doubt.drift`. One along the plot's edge is not: the
shift of the whole recording does not drop out there, so that only the user's word on the receiver can help.
Where the recording is too poor for either, nothing is said to be real.

The chances asked for and the limits are common practice, no source; tried on drawn drives (DEVELOPERS.md).
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.beside.side_by_side import SideBySide
from gladebook.doubt.drift import Drift, chance_above, judge_gaps
from gladebook.doubt.gaps import Gaps, gaps_between, without
from gladebook.doubt.jumps import find_jumps
from gladebook.doubt.quality import jumpy_because, poor_because
from gladebook.doubt.whereabouts import NOWHERE, Ends, Whereabouts, place_of
from gladebook.geometry.frame import lengths_m
from gladebook.passes.path import CutRules, Path
from gladebook.passes.trips import Passes
from gladebook.units import FT_M

__all__ = ["Doubt", "Record", "Verdict", "judge_strips", "worth_a_walk"]

Ints = npt.NDArray[np.int64]

_GO_LOOK, _GO_LOOK_WEAK, _WEAK_RATIO = 0.8, 0.9, 0.35  # with much drift the chances themselves are less sure
_LEAST_SURE, _MOST_SURE = 0.1, 0.9  # never more than about 9 in 10 is said, nor less than 1 in 10
_NARROWED = 0.6  # of the least width
_FEWEST_GAPS, _FEWEST_PAIRS = 8, 3
_WORST_RATIO, _WORST_OF_BOOM = 0.65, 0.5
_OFF_SHARE = 0.5
# A phone in the open is seldom shifted further: common practice, no source.
_AT_EDGE_M, _DEEP_M, _TIMES_DRIFT = 1.0, 5.0, 8.0

Word = Literal["go look", "can't tell", "boom off"]


@dataclass(frozen=True)
class Verdict:
    """Whether a strip is real.

    Attributes
    ----------
    word : "go look"; "can't tell"; or "boom off", where the record shows it: no question of drift.
    chance_real : of at least half of it truly not having been driven, 0.1 to 0.9; None where not worked out, as
        for strips too small for the list.
    where : like "between your 7th and 8th pass, 40 to 120 ft in"; empty where it cannot be said.
    cause : like "whole pass missing"; empty where it cannot be told.
    after : the pass that it follows, as `PassGap` counts; None between no two.
    ends_m : between the two passes, where it begins and ends on the plane; None between no two.
    """

    word: Word
    chance_real: float | None = None
    where: str = ""
    cause: str = ""
    after: int | None = None
    ends_m: Ends | None = None


@dataclass(frozen=True)
class Doubt:
    """How sure a plot's answer is.

    Attributes
    ----------
    name : the plot's name.
    drift_m : the receiver's drift across the passes, s.d.; None where it could not be told.
    spacing_m : between the passes; None where `drift_m` is.
    silent : why no strip of it is told to be real, one sentence; empty where some may be.
    jumps : how many steps of the receiver's error its passes show.
    treated_m2, missed_m2 : ends of what truly was, meant to hold in 95 of 100 plots, and held in some 9 of 10 drawn
        ones; None where it is not known.
    """

    name: str
    drift_m: float | None = None
    spacing_m: float | None = None
    silent: str = ""
    jumps: int = 0
    treated_m2: tuple[float, float] | None = None
    missed_m2: tuple[float, float] | None = None


@dataclass(frozen=True, eq=False)
class Record:
    """What was recorded: paths with their booms settled, whether each recorded boom states, and the passes."""

    paths: tuple[Path, ...]
    has_boom: tuple[bool, ...]
    passes: Passes
    rules: CutRules = field(default_factory=CutRules)


def judge_strips(
    name: str,
    strips_m: Sequence[Any],
    *,
    sizes_m: Sequence[tuple[float, float]],
    side: SideBySide,
    plane: Any,
    record: Record,
) -> tuple[list[Verdict], Doubt]:
    """Judge the strips of one plot.

    Parameters
    ----------
    name
        The plot's name.
    strips_m
        Their polygons on the plane.
    sizes_m
        How long and wide each is.
    side
        The plot's passes side by side.
    plane
        The plot, on the plane.
    record
        What was recorded.
    """
    off = _boom_off(strips_m, record, plane=plane, boom_m=side.inside.boom_m)
    all_gaps = _gaps(side, record)
    # Where the record shows the boom off there is no pass, and nothing to learn of drift.
    off_m = [strip for strip, is_off in zip(strips_m, off, strict=True) if is_off]
    gaps = _enough(without(all_gaps, off_m) if all_gaps is not None else None)
    long_enough = [length_m >= record.rules.least_strip_m for length_m, _ in sizes_m]
    lies = [
        place_of(strip, side=side, gaps=all_gaps if is_off else gaps, plane=plane, paths=record.paths)
        if is_off or told
        else NOWHERE
        for strip, told, is_off in zip(strips_m, long_enough, off, strict=True)
    ]
    # Where a pass stops short its place is taken, and there is nothing to tell.
    between = [
        i
        for i, where in enumerate(lies)
        if gaps is not None and where.at.size and long_enough[i] and not off[i] and (gaps.rows[where.at] == 1).all()
    ]
    drift, jumps, silent = _weighed(gaps, [lies[i].at for i in between], side=side, record=record)
    if drift is not None and record.rules.error_m is None:
        far_m = _TIMES_DRIFT * drift.drift_m
        off = [
            o and not (w.by_edge and _reach_m(s, plane) < far_m) for o, w, s in zip(off, lies, strips_m, strict=True)
        ]
    chance: list[float | None] = [None] * len(lies)
    least = _least_chance(drift)
    if not silent:
        chance = _chances(strips_m, sizes_m, between, drift=drift, boom_m=side.inside.boom_m, rules=record.rules)
    found: list[Verdict] = []
    for i, where in enumerate(lies):
        one = chance[i]
        if off[i]:
            found.append(Verdict("boom off", None, where.words, _off_because(where), where.after))
        elif one is not None and one >= least:
            cause = _cause(where, drift, between.index(i) if i in between else None)
            found.append(Verdict("go look", _modest(one), where.words, cause, where.after, where.ends_m))
        else:
            found.append(Verdict("can't tell", _modest(one), where.words, "", where.after))
    if drift is None:
        return found, Doubt(name, silent=silent)
    return found, Doubt(name, drift.drift_m, drift.spacing_m, silent, jumps)


def _weighed(gaps: Gaps | None, at: list[Ints], *, side: SideBySide, record: Record) -> tuple[Drift | None, int, str]:
    """What the gaps say of strips that lie in some of them, how many steps show, and why nothing is told to be real."""
    error_m = record.rules.error_m
    silent = poor_because(record.paths, passes=record.passes, rows=side.inside.number)
    if gaps is None:
        if not silent and error_m is None:
            silent = side.why or "Too few passes were driven beside each other, or they have no times."
        return None, 0, silent
    jumps = find_jumps(record.paths, passes=record.passes)
    drift = judge_gaps(gaps, at, jumps=jumps, error_m=error_m)
    silent = silent or _too_far_off(drift, boom_m=gaps.boom_m)
    silent = silent or jumpy_because(jumps, across=gaps.across, boom_m=gaps.boom_m)
    return drift, len(jumps.when_s), silent


def _modest(chance: float | None) -> float | None:
    """A chance as it is told: the model is surer of the ends than drawn drives bear out."""
    return None if chance is None else min(max(chance, _LEAST_SURE), _MOST_SURE)


def _least_chance(drift: Drift | None) -> float:
    return _GO_LOOK_WEAK if drift is not None and drift.ratio >= _WEAK_RATIO else _GO_LOOK


def _chances(
    strips_m: Sequence[Any],
    sizes_m: Sequence[tuple[float, float]],
    between: list[int],
    *,
    drift: Drift | None,
    boom_m: float,
    rules: CutRules,
) -> list[float | None]:
    """The chance of each strip that is worth a walk; None of the others."""
    worth = [worth_a_walk(*size_m, boom_m=boom_m, rules=rules) for size_m in sizes_m]
    chance: list[float | None] = [None] * len(worth)
    if rules.error_m is not None:
        error_m = rules.error_m
        chance = [_by_width(s, error_m=error_m) if w else None for s, w in zip(strips_m, worth, strict=True)]
    if drift is not None:
        least_m = rules.least_strip_booms * boom_m
        # Drift narrows strips as often as it widens them: what is too narrow as recorded may truly be wide enough.
        for i, one, width_m in zip(between, drift.chance.tolist(), drift.bare_width_m.tolist(), strict=True):
            wide = width_m >= least_m and sizes_m[i][1] >= _NARROWED * least_m and one >= _least_chance(drift)
            chance[i] = one if worth[i] or wide else None
    return chance


def _gaps(side: SideBySide, record: Record) -> Gaps | None:
    """The gaps between a plot's passes; None where they do not run side by side."""
    laid = side.laid
    if laid is None:
        return None
    return gaps_between(
        laid.places, laid.cuts, laid.beside, inside=side.inside, passes=record.passes, paths=record.paths
    )


def _enough(gaps: Gaps | None) -> Gaps | None:
    """The gaps, if they are enough to tell anything by."""
    if gaps is None:
        return None
    return gaps if len(gaps) >= _FEWEST_GAPS and len(np.unique(gaps.pair)) >= _FEWEST_PAIRS else None


def _too_far_off(drift: Drift, *, boom_m: float) -> str:
    if drift.ratio > _WORST_RATIO or drift.drift_m > _WORST_OF_BOOM * boom_m:
        return (
            f"The recording drifts by some {drift.drift_m / FT_M:.0f} ft, too much for passes "
            f"{drift.spacing_m / FT_M:.0f} ft apart."
        )
    return ""


def worth_a_walk(length_m: float, width_m: float, *, boom_m: float, rules: CutRules) -> bool:
    """Whether a strip of that size is long and wide enough for the list."""
    return length_m >= rules.least_strip_m and width_m >= rules.least_strip_booms * boom_m


def _by_width(strip: Any, *, error_m: float) -> float:
    """The chance that at least half of a strip beside no two passes is real: its width against error and shift.

    Only where the user has said how far the receiver is off, as nothing in the recording tells its shift.
    """
    width_m = 2 * float(shapely.area(strip)) / float(shapely.length(strip))
    return float(chance_above(width_m / 2, 2 * error_m**2))


def _boom_off(strips_m: Sequence[Any], record: Record, *, plane: Any, boom_m: float) -> list[bool]:
    """Whether the record shows that the sprayer drove through half or more of a strip with its boom off.

    Not of short strips at the plot's edge: a boom rightly off beyond it shows inside where the recording is shifted.
    """
    through = np.zeros(len(strips_m))
    if not len(strips_m):
        return []
    tree = shapely.STRtree(list(strips_m))
    for path, has_boom in zip(record.paths, record.has_boom, strict=True):
        if not has_boom:
            continue
        steps = np.flatnonzero((path.boom_on[:-1] == 0) & ~path.cut)
        middle = (path.xy_m[steps] + path.xy_m[steps + 1]) / 2
        length_m = lengths_m(path.xy_m[steps + 1] - path.xy_m[steps])
        point, strip = tree.query(shapely.points(middle), predicate="intersects")
        through += np.bincount(strip, weights=length_m[point], minlength=len(strips_m))
    strips = np.array(list(strips_m), dtype=object)
    area_m2 = shapely.area(strips)
    inner = shapely.distance(strips, shapely.boundary(plane)) > _AT_EDGE_M
    inner |= area_m2 / boom_m > _DEEP_M
    if record.rules.error_m is not None:
        inner |= record.rules.error_m < _AT_EDGE_M
    found: list[bool] = (inner & (through * boom_m >= _OFF_SHARE * area_m2)).tolist()
    return found


def _reach_m(strip: Any, plane: Any) -> float:
    """How far from the plot's edge a strip reaches."""
    return float(shapely.distance(shapely.points(shapely.get_coordinates(strip)), shapely.boundary(plane)).max())


def _cause(where: Whereabouts, drift: Drift | None, number: int | None) -> str:
    if drift is None or number is None:
        return where.beside
    return "whole pass missing" if drift.left_out[number] else "a pass too far over"


def _off_because(where: Whereabouts) -> str:
    """Why a boom was off, as far as the place tells."""
    return "late on or early off" if where.by_edge else "boom off"
