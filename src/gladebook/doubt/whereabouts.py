"""Where a strip lies, said by passes: the mapped spot is off by the receiver's shift and drift, the passes are not."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.beside.pass_count import ordinal
from gladebook.beside.side_by_side import Laid, SideBySide, counted_from_low
from gladebook.doubt.gaps import Gaps
from gladebook.geometry.frame import lengths_m, turn_points
from gladebook.passes.path import Path
from gladebook.units import FT_M

__all__ = ["NOWHERE", "Ends", "Whereabouts", "place_of"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Ends = tuple[tuple[float, float], tuple[float, float]]

_TOUCHES_M = 1.0
_ROUND_FT = 10
_BESIDE_TURN = 0.75  # booms


@dataclass(frozen=True, eq=False)
class Whereabouts:
    """Where a strip lies.

    Attributes
    ----------
    at : the gaps that it lies in, all of one pair; empty where it lies between no two passes.
    words : like "between your 7th and 8th pass, 40 to 120 ft in"; empty where it cannot be said.
    beside : "along the edge", "round an obstacle", "in a turn" or "at a gap in the recording", where it lies so.
    by_edge : whether it reaches the plot's edge.
    after : the pass that it follows, counted from the side where driving began; None between no two.
    ends_m : between the two passes, where it begins and ends; None between no two.
    """

    at: Ints
    words: str
    beside: str
    by_edge: bool = False
    after: int | None = None
    ends_m: Ends | None = None


NOWHERE = Whereabouts(np.zeros(0, dtype=np.int64), "", "")


def place_of(strip: Any, *, side: SideBySide, gaps: Gaps | None, plane: Any, paths: Sequence[Path]) -> Whereabouts:
    """Find the two passes that a strip lies between, or what it lies along.

    Parameters
    ----------
    strip
        Its polygon on the plane.
    side
        The plot's passes side by side.
    gaps
        What lies between them.
    plane
        The plot, on the plane.
    paths
        What was recorded.
    """
    by_edge = float(shapely.distance(strip, shapely.boundary(plane))) < _TOUCHES_M
    if gaps is not None and side.laid is not None:
        inside = shapely.contains_xy(strip, gaps.middle_m[:, 0], gaps.middle_m[:, 1])
        if inside.any():
            most = int(np.argmax(np.bincount(gaps.pair[inside])))
            at = np.flatnonzero(inside & (gaps.pair == most))
            words, after = _between(strip, at, gaps=gaps, laid=side.laid)
            order = at[np.argsort(gaps.bin[at])]
            ends = gaps.middle_m[order[[0, -1]]].tolist()
            return Whereabouts(at, words, "", by_edge, after, ((ends[0][0], ends[0][1]), (ends[1][0], ends[1][1])))
    beside = _beside(strip, plane, side=side, paths=paths)
    return Whereabouts(NOWHERE.at, beside, beside, by_edge)


def _between(strip: Any, at: Ints, *, gaps: Gaps, laid: Laid) -> tuple[str, int]:
    found = len(laid.places.offset_m)
    low, high = int(gaps.low[at[0]]), int(gaps.high[at[0]])
    from_low = counted_from_low(laid.places)
    first, second = (low + 1, high + 1) if from_low else (found - high, found - low)
    words = f"between your {ordinal(first)} and {ordinal(second)} pass"
    one = low if from_low else high
    along = np.flatnonzero(np.isfinite(laid.places.v_m[one]))
    begin_m, end_m = float(laid.cuts.u_m[along[0]]), float(laid.cuts.u_m[along[-1]])
    u = turn_points(shapely.get_coordinates(strip), turn_rad=-laid.cuts.angle)[:, 0]
    a, b = float(u.min()), float(u.max())
    mine = np.flatnonzero(gaps.pair == gaps.pair[at[0]])
    when = (gaps.low_s if from_low else gaps.high_s)[mine]
    if len(mine) > 1 and when[np.argmax(gaps.bin[mine])] < when[np.argmin(gaps.bin[mine])]:
        a, b, begin_m, end_m = -b, -a, -end_m, -begin_m
    from_ft, to_ft = (max(_rounded(x - begin_m), 0) for x in (a, b))
    if a <= begin_m + laid.cuts.step_m and b >= end_m - laid.cuts.step_m:
        return f"{words}, the whole way", first
    return f"{words}, {from_ft} to {to_ft} ft in", first


def _rounded(length_m: float) -> int:
    return int(round(length_m / FT_M / _ROUND_FT) * _ROUND_FT)


def _beside(strip: Any, plane: Any, *, side: SideBySide, paths: Sequence[Path]) -> str:
    rings = [ring for part in shapely.get_parts(plane) for ring in part.interiors]
    if rings and float(shapely.distance(strip, shapely.multilinestrings(rings))) < _TOUCHES_M:
        return "round an obstacle"
    lost = np.concatenate([np.zeros((0, 2, 2)), *(_lost(path) for path in paths)])
    if len(lost) and float(shapely.distance(strip, shapely.multilinestrings(lost))) < _TOUCHES_M:
        return "at a gap in the recording"
    outer = [part.exterior for part in shapely.get_parts(plane)]
    if float(shapely.distance(strip, shapely.multilinestrings(outer))) < _TOUCHES_M:
        return "along the edge"
    turns = side.inside.turns_m
    reach_m = _BESIDE_TURN * side.inside.boom_m
    near = len(turns) > 0 and float(shapely.distance(strip, shapely.multilinestrings(turns))) < reach_m
    return "in a turn" if near else ""


def _lost(path: Path) -> Floats:
    """Straight lines across the gaps of a recording, shape (k, 2, 2)."""
    at = np.flatnonzero(path.cut & (lengths_m(np.diff(path.xy_m, axis=0)) > _TOUCHES_M))
    return np.stack([path.xy_m[at], path.xy_m[at + 1]], axis=1)
