"""Join plots and tracks: what one application did to the ground."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from gladebook.coverage.boom import settle_boom
from gladebook.coverage.result import Coverage, Layers, MissedStrip, PlotCoverage
from gladebook.coverage.strips import find_strips
from gladebook.errors import CallError, InputError, TrackError
from gladebook.geometry.frame import Frame, frame_for
from gladebook.geometry.validity import robust, to_draw
from gladebook.passes.path import CutRules, Path, lay_out
from gladebook.passes.swath import gap_swaths, paint
from gladebook.passes.track import Track
from gladebook.plots.acreage import PlotAcres
from gladebook.plots.plot import plane_shape
from gladebook.units import ACRE_M2, FT_M, MI_M

__all__ = ["cover_plots"]

_LARGEST_SPREAD_M = 200_000.0
_FAR_M = 1000.0
_EMPTY = shapely.MultiPolygon()


@dataclass(frozen=True)
class _Painted:
    """Ground of all trips together, in the plane."""

    once: Any
    twice: Any
    gaps: Any
    driven_m2: float


@dataclass(frozen=True)
class _Ground:
    """A plot's ground by what was done to it, in the plane."""

    treated: Any
    missed: Any
    overlap: Any
    unknown: Any


def cover_plots(
    plots: Sequence[PlotAcres],
    tracks: Sequence[Track],
    *,
    boom_m: float | None = None,
    rules: CutRules | None = None,
    progress: Callable[[float], None] | None = None,
) -> Coverage:
    """Say what one application did.

    Parameters
    ----------
    plots
        Measured plots, obstacles and setback taken out.
    tracks
        The application's tracks; each is a trip of its own.
    boom_m
        Width of the boom where a track has none, metres.
    rules
        When a track is cut.
    progress
        Called with the share done, 0 to 1.

    Raises
    ------
    CallError
        Where a width is missing, or none.
    InputError
        Where no plot has ground, or plots and tracks lie too far apart for one plane.
    TrackError
        Where a track has fewer than two points, or lies elsewhere.
    """
    if boom_m is not None and not 0 < boom_m < np.inf:
        raise CallError(f"The boom's width must be above zero, not {boom_m:g} m.")
    with_ground = [p.shape for p in plots if not shapely.is_empty(p.shape)]
    if not with_ground:
        raise InputError("No plot has any ground left. Check the boundaries, obstacles and setback.")
    frame = frame_for(*with_ground)
    planes = [_EMPTY if shapely.is_empty(p.shape) else plane_shape(p.shape, frame=frame) for p in plots]
    ground = robust(shapely.union_all, planes)
    _refuse_spread(ground)
    paths, assumptions, notices = _settled(tracks, frame=frame, ground=ground, boom_m=boom_m, rules=rules or CutRules())
    painted = _paint_all(paths, progress=progress)
    rows: list[PlotCoverage] = []
    strips: list[MissedStrip] = []
    for plot, plane in zip(plots, planes, strict=True):
        row, parts = _judge(plot.name, plane, painted=painted)
        rows.append(row)
        strips += find_strips(parts.missed, plot=plot.name, frame=frame)
    whole, all_parts = _judge("", ground, painted=painted)
    outside = robust(shapely.difference, painted.once, ground)
    notices += _spare_words(strips, missed_m2=whole.missed_m2, shared=len(plots) > 1)
    if whole.treated_m2 <= 0:
        notices.append(_nowhere_near(paths, ground=ground))
    return Coverage(
        plots=tuple(rows),
        treated_m2=whole.treated_m2,
        missed_m2=whole.missed_m2,
        overlap_m2=whole.overlap_m2,
        unknown_m2=whole.unknown_m2,
        outside_m2=float(outside.area),
        driven_m2=painted.driven_m2,
        strips=tuple(sorted(strips, key=lambda s: -s.area_m2)),
        assumptions=tuple(assumptions),
        notices=tuple(notices),
        layers=_layers(frame, parts=all_parts, outside=outside, paths=paths),
    )


def _settled(
    tracks: Sequence[Track], *, frame: Frame, ground: Any, boom_m: float | None, rules: CutRules
) -> tuple[list[Path], list[str], list[str]]:
    paths: list[Path] = []
    assumptions: list[str] = []
    notices: list[str] = []
    for track in tracks:
        notices += track.notes
        if len(track) < 2:
            raise TrackError(f"{track.name}: has fewer than two points, so nothing was driven. Check the recording.")
        path = lay_out(track, frame=frame, rules=rules)
        if not np.isfinite(path.xy_m).all():
            number = int(np.argmin(np.isfinite(path.xy_m).all(axis=1))) + 1
            raise TrackError(f"{track.name}: point {number} has no usable latitude and longitude. Take it out.")
        away_m = float(shapely.distance(ground, shapely.linestrings(path.xy_m)))
        if away_m > _LARGEST_SPREAD_M:
            raise TrackError(
                f"{track.name}: lies {away_m / MI_M:,.0f} miles from the plots. Check that both show the same place "
                "and that latitude and longitude are not swapped."
            )
        settled = settle_boom(path, boom_m=boom_m, ground=ground)
        paths.append(settled.path)
        notices += [*path.notes, *settled.notices]
        assumptions += settled.assumptions
    return paths, assumptions, notices


def _paint_all(paths: list[Path], *, progress: Callable[[float], None] | None) -> _Painted:
    ribbons: list[Any] = []
    gaps: list[Any] = []
    for number, path in enumerate(paths, start=1):
        ribbons += paint(path)
        gaps += gap_swaths(path)
        if progress is not None:
            progress(number / len(paths) / 2)
    once, twice = _fold(ribbons, progress=None if progress is None else lambda share: progress((1 + share) / 2))
    return _Painted(
        once=once,
        twice=twice,
        gaps=robust(shapely.union_all, gaps) if gaps else _EMPTY,
        driven_m2=float(sum(r.area for r in ribbons)),
    )


def _fold(ribbons: list[Any], *, progress: Callable[[float], None] | None) -> tuple[Any, Any]:
    """Ground under at least one ribbon, and under at least two.

    Neighbours are merged in rounds: what two groups share is covered twice, and so is what either
    already had twice. Exact, and never slower than a tree of unions.
    """
    groups = [(ribbon, _EMPTY) for ribbon in ribbons]
    left = total = max(len(groups) - 1, 1)
    while len(groups) > 1:
        merged: list[tuple[Any, Any]] = []
        for k in range(0, len(groups) - 1, 2):
            (once_a, twice_a), (once_b, twice_b) = groups[k], groups[k + 1]
            both = robust(shapely.intersection, once_a, once_b)
            twice = [t for t in (twice_a, twice_b, both) if not shapely.is_empty(t)]
            merged.append(
                (
                    robust(shapely.union, once_a, once_b),
                    robust(shapely.union_all, twice) if twice else _EMPTY,
                )
            )
            left -= 1
            if progress is not None:
                progress(1 - left / total)
        if len(groups) % 2:
            merged.append(groups[-1])
        groups = merged
    return groups[0] if groups else (_EMPTY, _EMPTY)


def _judge(name: str, plane: Any, *, painted: _Painted) -> tuple[PlotCoverage, _Ground]:
    bare = robust(shapely.difference, plane, painted.once)
    ground = _Ground(
        treated=robust(shapely.intersection, plane, painted.once),
        missed=robust(shapely.difference, bare, painted.gaps),
        overlap=robust(shapely.intersection, plane, painted.twice),
        unknown=robust(shapely.intersection, bare, painted.gaps),
    )
    # The overlays' grid leaves square millimetres over: they go to the largest part, so that the parts are the plot.
    parts = {f"{kind}_m2": float(getattr(ground, kind).area) for kind in ("treated", "missed", "unknown")}
    parts[max(parts, key=lambda k: parts[k])] += float(plane.area) - sum(parts.values())
    row = PlotCoverage(
        name=name,
        plot_m2=float(plane.area),
        overlap_m2=min(float(ground.overlap.area), parts["treated_m2"]),
        **parts,
    )
    return row, ground


def _refuse_spread(ground: Any) -> None:
    west, south, east, north = shapely.bounds(ground)
    spread_m = float(np.hypot(east - west, north - south))
    if spread_m > _LARGEST_SPREAD_M:
        raise InputError(
            f"The plots lie up to {spread_m / MI_M:,.0f} miles apart. Check one property at a time, "
            "or check that every plot is in the right place."
        )


def _spare_words(strips: list[MissedStrip], *, missed_m2: float, shared: bool) -> list[str]:
    spare_m2 = missed_m2 - sum(s.area_m2 for s in strips)
    if spare_m2 < 1.0 or (shared and spare_m2 < 0):
        return []
    words = (
        f"{spare_m2 / ACRE_M2:.3f} ac of the missed ground is in pieces narrower than 1 ft or smaller than "
        f"{1 / FT_M**2:.0f} sq ft, not listed as strips."
    )
    return [words]


def _nowhere_near(paths: list[Path], *, ground: Any) -> str:
    if not paths:
        return "No track was given; nothing was treated."
    away_m = min(float(shapely.distance(ground, shapely.linestrings(p.xy_m))) for p in paths)
    if away_m > _FAR_M:
        return f"No track comes within {away_m / MI_M:.1f} miles of a plot. Check that both show the same place."
    if away_m > 0:
        return f"No track enters a plot; the nearest passes {away_m / FT_M:.0f} ft away."
    return "The track enters the plots, but with the boom off or below 1 mph throughout; nothing was treated."


def _layers(frame: Frame, *, parts: _Ground, outside: Any, paths: list[Path]) -> Layers:
    shapes = {**vars(parts), "outside": outside}
    lines: dict[int, list[Any]] = {0: [], 1: []}
    for path in paths:
        joined = np.flatnonzero(~path.cut)
        for state, found in lines.items():
            steps = joined[path.boom_on[joined] == state]
            for run in np.split(steps, np.flatnonzero(np.diff(steps) != 1) + 1):
                if len(run):
                    found.append(shapely.linestrings(path.xy_m[run[0] : run[-1] + 2]))
    tracks = {state: shapely.MultiLineString(found) for state, found in lines.items()}
    return Layers(
        **{name: frame.shape_to_lonlat(to_draw(shape)) for name, shape in shapes.items()},
        track_on=frame.shape_to_lonlat(tracks[1]),
        track_off=frame.shape_to_lonlat(tracks[0]),
    )
