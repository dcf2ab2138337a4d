"""Where the boom was on, and how wide: as recorded, else assumed and said."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.errors import CallError, TrackError
from gladebook.passes.path import Path
from gladebook.units import MPH_MPS

__all__ = ["Settled", "settle_boom"]

_ASSUMED_ABOVE_MPS = 1.0 * MPH_MPS
_EDGE_M = 1e-6
_WINDOW_S = 3.0
_SLACK_S = 1e-6


@dataclass(frozen=True)
class Settled:
    """A path whose boom states and widths are known at every point, and what was assumed for it."""

    path: Path
    assumptions: tuple[str, ...]
    notices: tuple[str, ...]


def settle_boom(path: Path, *, boom_m: float | None, ground: Any) -> Settled:
    """Fill in what the recording does not say.

    A recorded width beats `boom_m`. Where no boom state is recorded it is on inside the plots
    above 1 mph; steps are split where they cross a plot's edge. Without times the speed cannot
    be told and does not count.

    Parameters
    ----------
    path
        As recorded.
    boom_m
        Width of the boom where the recording has none, metres.
    ground
        All plots together, in the plane.

    Raises
    ------
    CallError
        Where neither the recording nor the call gives a width.
    TrackError
        Where a recorded width is none.
    """
    assumptions: list[str] = []
    notices: list[str] = []
    no_width = np.isnan(path.width_m)
    if not bool((no_width | ((path.width_m >= 0) & np.isfinite(path.width_m))).all()):
        raise TrackError(f"{path.name}: has boom widths below zero. Mend them, or leave them out.")
    # A recorder that switches sections writes no width at all while none is open: the boom is off.
    path = replace(path, boom_on=np.where(path.width_m == 0, 0, path.boom_on).astype(np.int8))
    if no_width.any():
        if boom_m is None:
            raise CallError(
                f'{path.name}: has no width_m at every point. Say how wide the boom is, like --boom "12 ft".'
            )
        path = replace(path, width_m=np.where(no_width, boom_m, path.width_m))
    if boom_m is not None and not no_width.all():
        notices.append(f"{path.name}: the widths in the file were used instead of --boom, where it has them.")
    if (path.boom_on == -1).any():
        timed = bool(np.isfinite(path.time_s).any() or np.isfinite(path.speed_mps).any())
        missing = "no boom state is" if bool((path.boom_on == -1).all()) else "boom states are not all"
        assumptions.append(
            f"{path.name}: {missing} recorded; the boom is assumed on "
            f"inside the plots{' above 1 mph' if timed else ' at any speed, as there are no times'}, and off elsewhere."
        )
        path = _assume(path, ground=ground)
    return Settled(path=path, assumptions=tuple(assumptions), notices=tuple(notices))


def _assume(path: Path, *, ground: Any) -> Path:
    shapely.prepare(ground)
    open_ = path.boom_on == -1
    inside_point = shapely.intersects_xy(ground, path.xy_m[:, 0], path.xy_m[:, 1])
    state = np.where(open_, inside_point, path.boom_on == 1).astype(np.int8)
    joined = np.flatnonzero(open_[:-1] & ~path.cut)
    lines = shapely.linestrings(np.stack([path.xy_m[joined], path.xy_m[joined + 1]], axis=1))
    fast = _fast(path)[joined]
    within = shapely.covers(ground, lines)
    crossing = shapely.intersects(ground, lines) & ~within & fast
    state[joined] = within & fast
    at: list[int] = []
    extra: list[npt.NDArray[np.float64]] = []
    extra_state: list[int] = []
    for k in np.flatnonzero(crossing):
        i = int(joined[k])
        for number, (share, on) in enumerate(_split(lines[k], ground=ground)):
            if number == 0:
                state[i] = on
                continue
            at.append(i + 1)
            extra.append(path.xy_m[i] + share * (path.xy_m[i + 1] - path.xy_m[i]))
            extra_state.append(on)
    return _insert(replace(path, boom_on=state), at=at, xy=extra, state=extra_state)


def _split(line: Any, *, ground: Any) -> list[tuple[float, int]]:
    """Where along a step the boom state changes at a plot's edge: (share of the step, on or off) from each place on."""
    length = float(shapely.length(line))
    meet = shapely.intersection(ground, line)
    shares = {0.0}
    for part in shapely.get_parts(meet):
        ends = shapely.points(shapely.get_coordinates(part)[[0, -1]])
        shares |= {float(d) / length for d in shapely.line_locate_point(line, ends)}
    starts = sorted(s for s in shares if s < 1 - _EDGE_M / length)
    stops = [*starts[1:], 1.0]
    split: list[tuple[float, int]] = []
    for start, stop in zip(starts, stops, strict=True):
        middle = shapely.line_interpolate_point(line, (start + stop) / 2 * length)
        on = int(shapely.intersects(ground, middle))
        if not split or split[-1][1] != on:
            split.append((start, on))
    return split


def _fast(path: Path) -> npt.NDArray[np.bool_]:
    """Whether the sprayer moves faster than 1 mph over each step.

    A recorded speed decides. Else it is the way made good over about three seconds round the
    step, within one drive: single steps are too short where a phone writes several points a
    second, or whole seconds only, or wanders while it stands.
    """
    fast = np.ones(len(path.cut), dtype=bool)
    if np.isfinite(path.time_s).any():
        edges = np.flatnonzero(path.cut)
        for first, last in zip([0, *(edges + 1).tolist()], [*edges.tolist(), len(path.xy_m) - 1], strict=True):
            if last > first:
                part = slice(first, last + 1)
                fast[first:last] = _made_good_mps(path.xy_m[part], path.time_s[part]) > _ASSUMED_ABOVE_MPS
    told = np.isfinite(path.speed_mps[:-1])
    return np.where(told, path.speed_mps[:-1] > _ASSUMED_ABOVE_MPS, fast)


def _made_good_mps(xy_m: npt.NDArray[np.float64], time_s: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Straight way made good per second round each step of one drive; endless where no time passes."""
    step_s = np.diff(time_s)
    reach_s = np.maximum(_WINDOW_S - step_s, 0.0) / 2
    first = np.searchsorted(time_s, time_s[:-1] - reach_s - _SLACK_S, side="left")
    last = np.searchsorted(time_s, time_s[1:] + reach_s + _SLACK_S, side="right") - 1
    way_m = np.hypot(*(xy_m[last] - xy_m[first]).T)
    seconds = time_s[last] - time_s[first]
    return np.where(seconds > 0, way_m / np.where(seconds > 0, seconds, 1.0), np.inf)


def _insert(path: Path, *, at: list[int], xy: list[npt.NDArray[np.float64]], state: list[int]) -> Path:
    if not at:
        return path
    before = [i - 1 for i in at]
    return replace(
        path,
        xy_m=np.insert(path.xy_m, at, np.array(xy), axis=0),
        time_s=np.insert(path.time_s, at, np.nan),
        speed_mps=np.insert(path.speed_mps, at, path.speed_mps[before]),
        boom_on=np.insert(path.boom_on, at, np.array(state, dtype=np.int8)),
        width_m=np.insert(path.width_m, at, path.width_m[before]),
        cut=np.insert(path.cut, before, False),
        backwards=np.insert(path.backwards, before, False),
    )
