"""Passes of a plot that run side by side: how many it needs, how many were found, and where one is missing.

- The main direction is that of the passes' lines in the plot. At least four must keep within 25 degrees of it,
  with 65 % of all lengths but those that keep by the edge, as a headland round's; of the others at most half as
  many may be two booms long. Else nothing is counted.
- What bends together is straightened. A pass that wanders across by more than a boom, as a headland's along a
  slanted side, is not counted; what it covered is not bare, nor is what was covered in turns.
- Passes within a third of a boom of one line share a place: halves round a pond, or a row driven twice.
- The usual spacing is the middle one of all distances between neighbours. Where it is over 1.5 booms, every
  other row is missing, and the boom is the spacing.
- A gap is where neighbours are over 0.6 of a boom further apart than usual, with 0.3 of a boom bare, or where
  over 0.6 of a boom is bare beside the plot's edge. Between two it holds round(distance / spacing) - 1 passes.
- A missing row must be two booms long. A row that stops short is none: its place is taken.

Common practice, no source. Nothing here knows of the receiver's drift.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from gladebook.beside.inside import Inside, inside_plot
from gladebook.beside.neighbours import Beside, Cuts, Places, cut_across, in_places, look_beside
from gladebook.beside.pass_count import PassCount, PassGap, count_words, counted_words, passes_words, side_words
from gladebook.passes.trips import Passes

__all__ = ["Laid", "SideBySide", "count_beside", "count_passes", "counted_from_low", "lay_side_by_side"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_FEWEST = 4
_SHARE_ALONG, _MOST_OTHERS = 0.65, 0.5
_WIDEST_SPACING = 1.5  # booms
_REGULAR, _REGULAR_SHARE = 0.25, 0.65  # of a spacing, from its nearest multiple; of all pairs by length
_WANDERS = 1 / 6  # of a spacing, standard deviation: above it neighbours cannot be told apart
_GAP, _BARE, _LASTS = 0.6, 0.3, 2.0  # booms
_NEAR_ROW = 3.0  # booms beyond its ends, a row still takes its place
_MOST_ROWS = 1000


@dataclass(frozen=True, eq=False)
class Laid:
    """Passes side by side: the plot cut across, the places, and what lies between them."""

    cuts: Cuts
    places: Places
    beside: Beside


@dataclass(frozen=True, eq=False)
class SideBySide:
    """Passes of one plot, laid side by side; None, and why, where they do not run so."""

    inside: Inside
    laid: Laid | None
    why: str


@dataclass(frozen=True)
class _Scale:
    """Widths and distances that rules are measured in."""

    boom_m: float
    spacing_m: float
    step_m: float


@dataclass(frozen=True, eq=False)
class _Row:
    """A missing row: its offset from the shared curve, and the cuts where it is missing."""

    offset_m: float
    cuts: Ints


def count_passes(name: str, plane: Any, *, passes: Passes) -> PassCount:
    """Count the passes of one plot, and those that are missing.

    Parameters
    ----------
    name
        The plot's name.
    plane
        Its valid (multi)polygon on the plane, metres.
    passes
        Passes on the same plane.
    """
    return count_beside(name, lay_side_by_side(plane, passes))


def lay_side_by_side(plane: Any, passes: Passes) -> SideBySide:
    """Lay the passes of one plot side by side, as far as they run so.

    Parameters
    ----------
    plane
        The plot's valid (multi)polygon on the plane, metres.
    passes
        Passes on the same plane.
    """
    inside = inside_plot(plane, passes)
    if len(inside.number) < _FEWEST:
        return SideBySide(inside, None, "There are fewer than four.")
    cuts = cut_across(plane, inside)
    if not _one_direction(inside, cuts):
        why = "They do not run in one direction, as in laps, tight curves or cross-spraying."
        return SideBySide(inside, None, why)
    places = in_places(inside, cuts)
    if len(places.offset_m) < _FEWEST:
        return SideBySide(inside, None, "Fewer than four run side by side.")
    beside = look_beside(places, cuts, boom_m=inside.boom_m)
    return SideBySide(inside, Laid(cuts, places, beside), "")


def count_beside(name: str, side: SideBySide) -> PassCount:
    """Count passes that are laid side by side, and those that are missing."""
    driven, laid = len(side.inside.number), side.laid
    if laid is None:
        return _silent(name, driven, side.why)
    boom_m = side.inside.boom_m
    spacing_m = _usual_spacing(laid.places, laid.cuts, laid.beside, boom_m=boom_m)
    if spacing_m is None:
        return _silent(name, driven, "They wander, or their distances vary, too much to tell neighbours apart.")
    rows = _missing_rows(laid.places, laid.beside, scale=_Scale(boom_m, spacing_m, laid.cuts.step_m))
    left_out = driven - laid.places.passes
    return _told(name, laid.places, laid.cuts, rows=rows, spacing_m=spacing_m, left_out=left_out)


def _one_direction(inside: Inside, cuts: Cuts) -> bool:
    length_m, along = inside.length_m, cuts.along
    across = ~along & ~inside.by_edge
    others = int((across & (length_m >= _LASTS * inside.boom_m)).sum())
    return bool(
        length_m[along].sum() >= _SHARE_ALONG * length_m[along | across].sum()
        and others <= _MOST_OTHERS * int(along.sum())
    )


def _usual_spacing(places: Places, cuts: Cuts, beside: Beside, *, boom_m: float) -> float | None:
    """The middle one of all distances between neighbours; None where they are not regular."""
    pairs = _pairs(beside)
    long_enough = [bare for _, bare in pairs.values() if len(bare) * cuts.step_m >= _LASTS * boom_m]
    if not long_enough:
        return None
    spacing_m = float(np.median(np.concatenate([bare for _, bare in pairs.values()]))) + boom_m
    apart_m = np.array([np.median(bare) + boom_m for bare in long_enough])
    weight = np.array([len(bare) for bare in long_enough])
    wander_m = np.nanmedian(np.abs(places.v_m - places.curve_m - places.offset_m[:, None])) / 0.6745
    if spacing_m <= 0 or wander_m > _WANDERS * spacing_m:
        return None
    times = apart_m / spacing_m
    regular = np.abs(times - np.maximum(np.round(times), 1)) <= _REGULAR
    if weight[regular].sum() < _REGULAR_SHARE * weight.sum():
        return None
    return spacing_m if spacing_m <= _WIDEST_SPACING * boom_m else boom_m


def _pairs(beside: Beside) -> dict[tuple[int, int], tuple[Ints, Floats]]:
    """The cuts, and the bare ground there, of every two places that are neighbours anywhere."""
    both = np.flatnonzero((beside.low >= 0) & (beside.high >= 0))
    both = both[np.lexsort((beside.cut[both], beside.high[both], beside.low[both]))]
    if not both.size:
        return {}
    low, high = beside.low[both], beside.high[both]
    first = np.flatnonzero(np.concatenate([[True], (np.diff(low) != 0) | (np.diff(high) != 0)]))
    groups = np.split(both, first[1:])
    return {(int(low[i]), int(high[i])): (beside.cut[g], beside.bare_m[g]) for i, g in zip(first, groups, strict=True)}


def _missing_rows(places: Places, beside: Beside, *, scale: _Scale) -> list[_Row]:
    rows: list[_Row] = []
    for (low, high), (cuts, bare) in _pairs(beside).items():
        bare_m = float(np.median(bare))
        a, b = float(places.offset_m[low]), float(places.offset_m[high])
        apart_m = bare_m + scale.boom_m
        if apart_m - scale.spacing_m <= _GAP * scale.boom_m or bare_m <= _BARE * scale.boom_m or b <= a:
            continue
        count = min(round(apart_m / scale.spacing_m) - 1, _MOST_ROWS)
        between = [_Row(a + (b - a) * k / (count + 1), cuts) for k in range(1, count + 1)]
        rows += [row for row in between if not _taken(places, row, but=(low, high), scale=scale)]
    rows += _at_edges(places, beside.low, beside.high, beside=beside, scale=scale, sign=1)
    rows += _at_edges(places, beside.high, beside.low, beside=beside, scale=scale, sign=-1)
    merged = [_Row(float(np.mean([r.offset_m for r in g])), _all_cuts(g)) for g in _by_offset(rows, scale=scale)]
    return [row for row in merged if len(row.cuts) * scale.step_m >= _LASTS * scale.boom_m]


def _at_edges(places: Places, near: Ints, far: Ints, *, beside: Beside, scale: _Scale, sign: int) -> list[_Row]:
    """Rows missing on one side of a place, up to the plot's edge or to a pass that leads across."""
    rows: list[_Row] = []
    at_edge = np.flatnonzero((near >= 0) & (far < 0) & (beside.bare_m > _GAP * scale.boom_m))
    for place in np.unique(near[at_edge]).tolist():
        mine = at_edge[near[at_edge] == place]
        for k in range(_MOST_ROWS):
            deep = mine[beside.bare_m[mine] > _GAP * scale.boom_m + k * scale.spacing_m]
            row = _Row(float(places.offset_m[place]) + sign * (k + 1) * scale.spacing_m, beside.cut[deep])
            if not deep.size or _taken(places, row, but=(place,), scale=scale):
                break
            rows.append(row)
    return rows


def _taken(places: Places, row: _Row, *, but: tuple[int, ...], scale: _Scale) -> bool:
    """Whether a pass runs on this row near here: one that stops short, not one that was left out."""
    close = np.abs(places.offset_m - row.offset_m) <= _GAP * min(scale.boom_m, scale.spacing_m)
    close[list(but)] = False
    reach = _NEAR_ROW * scale.boom_m / scale.step_m
    for place in np.flatnonzero(close).tolist():
        runs = np.flatnonzero(np.isfinite(places.v_m[place]))
        if runs[0] - reach <= row.cuts.max() and runs[-1] + reach >= row.cuts.min():
            return True
    return False


def _by_offset(rows: list[_Row], *, scale: _Scale) -> list[list[_Row]]:
    """Rows seen from different neighbours, put together."""
    groups: list[list[_Row]] = []
    for row in sorted(rows, key=lambda r: r.offset_m):
        before_m = float(np.mean([r.offset_m for r in groups[-1]])) if groups else -np.inf
        if row.offset_m - before_m < _GAP * min(scale.boom_m, scale.spacing_m):
            groups[-1].append(row)
        else:
            groups.append([row])
    return groups


def _all_cuts(rows: list[_Row]) -> Ints:
    return np.unique(np.concatenate([r.cuts for r in rows]))


def _told(name: str, places: Places, cuts: Cuts, *, rows: list[_Row], spacing_m: float, left_out: int) -> PassCount:
    found, from_low = len(places.offset_m), counted_from_low(places)
    up = cuts.angle + np.pi / 2
    far, near = (side_words(up), side_words(up + np.pi)) if from_low else (side_words(up + np.pi), side_words(up))
    groups: dict[int, list[_Row]] = {}
    for row in rows:
        below = int((places.offset_m < row.offset_m).sum())
        groups.setdefault(below if from_low else found - below, []).append(row)
    gaps = []
    for after, group in sorted(groups.items()):
        first_m, last_m = _ends(group, places, cuts)
        gaps.append(PassGap(after, len(group), far if after else near, first_m, last_m))
    needed = found + sum(g.missing for g in gaps)
    sentences = [count_words(name, needed=needed, found=found, gaps=gaps)]
    if gaps:
        sentences.append(counted_words(name, side=far))
    if places.passes > found:
        sentences.append(f"{name}: passes on one line are counted once; {places.passes} were driven.")
    if left_out:
        sentences.append(f"{name}: {passes_words(left_out)} across the others or along a slanted side not counted.")
    return PassCount(name, found, needed, tuple(gaps), spacing_m, None, tuple(sentences), far)


def counted_from_low(places: Places) -> bool:
    """Whether places are counted from the first on: from the side where driving began.

    Driving that began right in the middle counts from the outermost place that was driven earlier.
    """
    found, first = len(places.offset_m), places.first_pass
    began = int(np.argmin(first))
    return 2 * began < found - 1 or (2 * began == found - 1 and bool(first[0] < first[-1]))


def _ends(rows: list[_Row], places: Places, cuts: Cuts) -> tuple[tuple[float, float], tuple[float, float]]:
    at = _all_cuts(rows)[[0, -1]]
    u = cuts.u_m[at] + np.array([-0.5, 0.5]) * cuts.step_m
    v = float(np.mean([r.offset_m for r in rows])) + places.curve_m[at]
    first, last = ((u + 1j * v) * np.exp(1j * cuts.angle)).tolist()
    return (first.real, first.imag), (last.real, last.imag)


def _silent(name: str, found: int, why: str) -> PassCount:
    words = f"{name}: {passes_words(found)} found; how many it needs is not told. {why}"
    return PassCount(name, found, None, (), None, why, (words,))
