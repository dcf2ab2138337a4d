"""Where the boom was on, and how wide: as recorded, else assumed and said."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.errors import CallError, TrackError
from gladebook.geometry.frame import lengths_m
from gladebook.passes.clean import drive_clock
from gladebook.passes.path import Path, split_steps
from gladebook.passes.sprayer import (
    SAME_WIDTH_M,
    Lanes,
    Sprayer,
    apply_delays,
    check_sections,
    check_sprayer,
    in_feet,
    lay_lanes,
    settle_sections,
)
from gladebook.units import FT_M, MPH_MPS

__all__ = ["Settled", "settle_boom"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

_ASSUMED_ABOVE_MPS = 1.0 * MPH_MPS
_EDGE_M = 1e-6
_WINDOW_S = 3.0
_SLACK_S = 1e-6
_BLOCKS = (256, 16, 1)  # steps looked at together, ever fewer


@dataclass(frozen=True)
class Settled:
    """A path whose boom states and widths are known at every point.

    Attributes
    ----------
    path : the path, with points where its edges and delays need them.
    lanes : where each section runs, and when it sprays, at the points of that path.
    assumptions : what was taken for granted, as sentences.
    notices : what is to be said besides the path's own notes, as sentences.
    """

    path: Path
    lanes: Lanes
    assumptions: tuple[str, ...]
    notices: tuple[str, ...]


def settle_boom(path: Path, *, sprayer: Sprayer, ground: Any) -> Settled:
    """Fill in what the recording does not say, and let its switches take effect as late as the spray answers.

    A recorded width beats the sprayer's. Where no boom state is recorded it is on inside the plots
    above 1 mph, judged at the receiver's place; steps are split where they cross a plot's edge.
    Without times the speed cannot be told and does not count. Assumed switches have no delay.

    Parameters
    ----------
    path
        As recorded.
    sprayer
        Its width where the recording has none, where it sits, its sections and delays.
    ground
        All plots together, in the plane.

    Raises
    ------
    CallError
        Where neither the recording nor the call gives a width, or the sprayer given is none or not
        the one recorded.
    TrackError
        Where a recorded width is none.
    """
    check_sprayer(sprayer)
    path, assumptions, notices = _settle_widths(path, sprayer=sprayer)
    if (sprayer.on_delay_s or sprayer.off_delay_s) and not (path.boom_on >= 0).any():
        notices.append(f"{path.name}: no boom state is recorded, so the delays given for the spray change nothing.")
    path = apply_delays(path, sprayer=sprayer)
    if (path.boom_on == -1).any():
        timed = bool(np.isfinite(path.time_s).any() or np.isfinite(path.speed_mps).any())
        missing = "no boom state is" if bool((path.boom_on == -1).all()) else "boom states are not all"
        assumptions.append(
            f"{path.name}: {missing} recorded; the boom is assumed on "
            f"inside the plots{' above 1 mph' if timed else ' at any speed, as there are no times'}, and off elsewhere."
        )
        if sprayer.behind_m:
            side = "behind" if sprayer.behind_m > 0 else "ahead of"
            assumptions.append(
                f"{path.name}: where the boom is assumed on is judged at the receiver's place, not at the boom's, "
                f"{abs(sprayer.behind_m) / FT_M:.3g} ft {side} it."
            )
        path = _assume(path, ground=ground)
    path = settle_sections(path)
    lanes = lay_lanes(path, sprayer=sprayer)
    return Settled(path=path, lanes=lanes, assumptions=tuple(assumptions), notices=tuple(notices))


def _settle_widths(path: Path, *, sprayer: Sprayer) -> tuple[Path, list[str], list[str]]:
    """The path with the whole boom's width everywhere, what was assumed, and what is to be said."""
    no_width = np.isnan(path.width_m)
    if not bool((no_width | ((path.width_m >= 0) & np.isfinite(path.width_m))).all()):
        raise TrackError(f"{path.name}: has boom widths below zero. Mend them, or leave them out.")
    # A recorder that switches sections writes no width at all while none is open: the boom is off.
    path = replace(path, boom_on=np.where(path.width_m == 0, 0, path.boom_on).astype(np.int8))
    path, assumptions = _whole_widths(settle_sections(path), sprayer=sprayer)
    open_ = np.isnan(path.width_m)
    if open_.any():
        boom_m = _given_width(sprayer)
        if boom_m is None:
            raise CallError(
                f'{path.name}: has no width_m at every point. Say how wide the boom is, like --boom "12 ft".'
            )
        path = replace(path, width_m=np.where(open_, boom_m, path.width_m))
    notices: list[str] = []
    given = "--boom" if sprayer.width_m is not None else "--sections" if path.sections is None else ""
    if _given_width(sprayer) is not None and given and not no_width.all():
        notices.append(f"{path.name}: the widths in the file were used instead of {given}, where it has them.")
    if sprayer.sections_m and path.sections is None:
        notices.append(
            f"{path.name}: records no sections of the boom, so all of them are taken to open and shut together."
        )
    return path, list(assumptions), notices


def _given_width(sprayer: Sprayer) -> float | None:
    """Width of the whole boom as given, or as its sections add up, metres; None where neither is."""
    if sprayer.width_m is None and sprayer.sections_m:
        return float(sum(sprayer.sections_m))
    return sprayer.width_m


def _whole_widths(path: Path, *, sprayer: Sprayer) -> tuple[Path, tuple[str, ...]]:
    """Make recorded widths those of the whole boom, though some recorders write that of the open sections.

    Also where the boom is off and a recorder wrote no width: a spray that ends late needs one.

    Returns
    -------
    The path, and what was taken for granted, as sentences.

    Raises
    ------
    CallError
        Where the sections given are not those recorded.
    """
    width_m = _carried(path.width_m)
    if path.sections is None:
        return replace(path, width_m=width_m), ()
    open_ = path.sections == 1
    recorded = path.width_m > 0
    check_sections(path, sprayer=sprayer)
    if sprayer.sections_m:
        given = np.array(sprayer.sections_m)
        fits = np.abs(width_m - given.sum()) <= SAME_WIDTH_M
        wrong = recorded & ~fits & (np.abs(width_m - open_ @ given) > SAME_WIDTH_M)
        if wrong.any():
            at = int(np.argmax(wrong))
            raise CallError(
                f"{path.name}: the sections given add up to {in_feet(float(given.sum()))}, but a width of "
                f"{in_feet(float(width_m[at]))} is recorded. Mend --sections, or leave it out."
            )
        return replace(path, width_m=np.full(len(width_m), given.sum())), ()
    count = path.sections.shape[1]
    said = []
    if count > 1:
        said.append(
            f"{path.name}: the boom's {count} sections are assumed equally wide; give their widths from left to "
            "right with --sections."
        )
    opened = open_.sum(axis=1)
    told = recorded & (opened > 0)
    if told.any() and np.ptp(opened[told]) and np.ptp(width_m[told]) > SAME_WIDTH_M:
        each_m = width_m[told] / opened[told]
        if np.ptp(each_m) <= SAME_WIDTH_M:
            width_m = np.full(len(width_m), float(np.median(each_m)) * count)
            said.append(
                f"{path.name}: the widths in the file grow with the sections that are open, so the whole boom is "
                f"taken as {in_feet(width_m[0])}."
            )
        else:
            said.append(
                f"{path.name}: the widths in the file change and are taken as those of the whole boom; where they "
                "are those of the open sections only, give --sections."
            )
    return replace(path, width_m=width_m), tuple(said)


def _carried(width_m: Floats) -> Floats:
    """Widths of nothing, written while the boom is off, replaced by the one before, else by the first."""
    real = ~(width_m == 0)
    if real.all() or not real.any():
        return width_m
    before = np.maximum.accumulate(np.where(real, np.arange(len(width_m)), -1))
    carried: Floats = width_m[np.where(before >= 0, before, int(np.argmax(real)))]
    return carried


def _assume(path: Path, *, ground: Any) -> Path:
    """On inside the plots where the sprayer moves, off elsewhere, wherever no state is recorded."""
    shapely.prepare(ground)
    edges = _edges(ground)
    tree = shapely.STRtree(shapely.linestrings(edges))
    open_ = path.boom_on == -1
    joined = np.append(open_[:-1] & ~path.cut, False)
    fast = np.append(_fast(path), False)
    near = np.append(_near(path.xy_m, tree=tree), True)
    # Steps in a row that meet no edge lie all inside or all outside, so one of their points answers for them.
    fresh = ~near & np.concatenate([[True], near[:-1]])
    starts = np.flatnonzero(fresh)
    inside_run = shapely.intersects_xy(ground, *path.xy_m[starts].T)
    inside = np.zeros(len(path.xy_m), dtype=bool)
    inside[~near] = np.repeat(inside_run, np.diff(np.append(np.cumsum(~near)[starts] - 1, (~near).sum())))
    alone = np.flatnonzero(open_ & ~joined & near)
    inside[alone] = shapely.intersects_xy(ground, *path.xy_m[alone].T)
    on = inside & (fast | ~joined)
    split = np.flatnonzero(joined & fast & near)
    step, share, state = _split(path.xy_m, split, edges=edges, tree=tree, ground=ground)
    first = share == 0
    on[step[first]] = state[first]
    boom_on = np.where(open_, on, path.boom_on == 1).astype(np.int8)
    grown, new = split_steps(replace(path, boom_on=boom_on), step=step[~first], share=share[~first])
    boom_on = grown.boom_on.copy()
    boom_on[new] = state[~first]
    return replace(grown, boom_on=boom_on)


def _edges(ground: Any) -> Floats:
    """Both ends of each edge of the plots, shape (m, 2, 2)."""
    rings = shapely.get_rings(shapely.get_parts(ground))
    corners, ring = shapely.get_coordinates(rings, return_index=True)
    edges = np.stack([corners[:-1], corners[1:]], axis=1)[ring[:-1] == ring[1:]]
    real: Floats = edges[(edges[:, 0] != edges[:, 1]).any(axis=1)]
    return real


def _near(xy: Floats, *, tree: Any) -> Bools:
    """Whether each step's box meets an edge of the plots."""
    low = np.minimum(xy[:-1], xy[1:]) - _EDGE_M
    high = np.maximum(xy[:-1], xy[1:]) + _EDGE_M
    steps = np.arange(len(low))
    for size in _BLOCKS:
        if not steps.size:
            break
        starts = np.arange(0, len(steps), size)
        floor, roof = np.minimum.reduceat(low, starts), np.maximum.reduceat(high, starts)
        boxes = shapely.box(floor[:, 0], floor[:, 1], roof[:, 0], roof[:, 1])
        hit = np.zeros(len(starts), dtype=bool)
        hit[tree.query(boxes, predicate="intersects")[0]] = True
        kept = np.flatnonzero(hit[np.arange(len(steps)) // size])
        steps, low, high = steps[kept], low.take(kept, axis=0), high.take(kept, axis=0)
    near = np.zeros(len(xy) - 1, dtype=bool)
    near[steps] = True
    return near


def _split(xy: Floats, steps: Ints, *, edges: Floats, tree: Any, ground: Any) -> tuple[Ints, Floats, Bools]:
    """Where steps change between inside and outside.

    Returns
    -------
    The step, the share of it, and whether it lies inside from there on: one with share 0 for each
    step, and one for each change along it.
    """
    if not steps.size:
        return steps, np.zeros(0), np.zeros(0, dtype=bool)
    start, way = xy[steps], xy[steps + 1] - xy[steps]
    length = lengths_m(way)
    hit, edge = tree.query(shapely.linestrings(np.stack([start, start + way], axis=1)))
    hit, edge = hit[length[hit] > 0], edge[length[hit] > 0]
    side = edges[edge, 1] - edges[edge, 0]
    off = edges[edge, 0] - start[hit]
    across = _cross(way[hit], side)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        share, along = _cross(off, side) / across, _cross(off, way[hit]) / across
        slack = _EDGE_M / np.hypot(side[:, 0], side[:, 1])
        meets = np.isfinite(share) & (along >= -slack) & (along <= 1 + slack)
    number, shares = [np.arange(len(steps)), hit[meets]], [np.zeros(len(steps)), share[meets]]
    for corner in (off, off + side):  # an edge along the step is met at its corners
        on_line = np.abs(_cross(corner, way[hit])) <= _EDGE_M * length[hit]
        number.append(hit[on_line])
        shares.append((corner * way[hit]).sum(axis=1)[on_line] / length[hit[on_line]] ** 2)
    which, place = np.concatenate(number), np.concatenate(shares)
    least = _EDGE_M / np.where(length > 0, length, 1.0)[which]
    keep = (place == 0) | ((place > least) & (place < 1 - least))
    order = np.flatnonzero(keep)[np.lexsort((place[keep], which[keep]))]
    which, place, least = which[order], place[order], least[order]
    fresh = _changes(which) | np.append(True, np.diff(place) > least[1:])
    which, place = which[fresh], place[fresh]
    last = np.append(_changes(which)[1:], True)
    until = np.where(last, 1.0, np.append(place[1:], 1.0))
    middle = start[which] + ((place + until) / 2)[:, None] * way[which]
    inside = shapely.intersects_xy(ground, middle[:, 0], middle[:, 1])
    turns = _changes(which) | _changes(inside)
    return steps[which[turns]], place[turns], inside[turns]


def _changes(values: npt.NDArray[Any]) -> Bools:
    """Whether each value differs from the one before; the first does."""
    return np.append(True, values[1:] != values[:-1])


def _cross(a: Floats, b: Floats) -> Floats:
    product: Floats = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return product


def _fast(path: Path) -> Bools:
    """Whether the sprayer moves faster than 1 mph over each step.

    The way made good over about three seconds round the step decides, within one drive: single
    steps are too short where a phone writes several points a second, or whole seconds only, or
    wanders while it stands. A recorded speed decides only without times: the same drive must give
    the same acres whether its file has a column of speeds or not.
    """
    if np.isfinite(path.time_s).all():
        clock = drive_clock(path.time_s, cut=path.cut)
        made_good: Bools = _made_good_mps(path.xy_m, clock) > _ASSUMED_ABOVE_MPS
        return made_good
    speed_mps = path.speed_mps[:-1]
    return np.where(np.isfinite(speed_mps), speed_mps > _ASSUMED_ABOVE_MPS, True)


def _made_good_mps(xy_m: Floats, clock_s: Floats) -> Floats:
    """Straight way made good per second round each step; endless where no time passes."""
    reach_s = np.maximum(_WINDOW_S - np.diff(clock_s), 0.0) / 2
    first = np.searchsorted(clock_s, clock_s[:-1] - reach_s - _SLACK_S, side="left")
    last = np.searchsorted(clock_s, clock_s[1:] + reach_s + _SLACK_S, side="right") - 1
    way_m = lengths_m(xy_m.take(last, axis=0) - xy_m.take(first, axis=0))
    seconds = clock_s[last] - clock_s[first]
    return np.where(seconds > 0, way_m / np.where(seconds > 0, seconds, 1.0), np.inf)
