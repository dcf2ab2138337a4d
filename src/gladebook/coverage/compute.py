"""Join plots and tracks: what one application did to the ground."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial
from typing import Any

import numpy as np
import shapely

from gladebook.coverage.boom import Settled, settle_boom
from gladebook.coverage.draw import draw_layers
from gladebook.coverage.figures import outside_figures, plot_figures, total_figures
from gladebook.coverage.ground import Marks, part_ground
from gladebook.coverage.judged import Swept, judge_plots
from gladebook.coverage.result import Coverage
from gladebook.coverage.say import left_words, nowhere_near, obstacle_words, spare_words
from gladebook.coverage.tally import Tally, tally_ground
from gladebook.doubt.verdict import Record
from gladebook.errors import InputError, TrackError
from gladebook.geometry.frame import Frame, frame_for
from gladebook.geometry.validity import robust
from gladebook.passes.clean import Cleaning
from gladebook.passes.path import CutRules, lay_out
from gladebook.passes.sprayer import Sprayer, check_sprayer, sprayer_assumptions
from gladebook.passes.track import Track
from gladebook.passes.trips import find_passes
from gladebook.plots.acreage import PlotAcres
from gladebook.plots.plot import plane_shape
from gladebook.units import MI_M

__all__ = ["Driven", "cover_plots", "drive_plots", "judge_driven"]

_LARGEST_SPREAD_M = 200_000.0
_EMPTY = shapely.MultiPolygon()


@dataclass(frozen=True, eq=False)
class Driven:
    """What was driven over, before any strip is judged.

    Attributes
    ----------
    plain : its figures and shapes, without strips, doubts, passes and notices.
    plots : the plots, and their polygons on the plane, without what was left on purpose.
    on : what was swept.
    notices, nowhere : what the reader should know; the latter where nothing was treated.
    """

    plain: Coverage
    plots: tuple[tuple[PlotAcres, Any], ...]
    on: Swept
    notices: tuple[str, ...]
    nowhere: tuple[str, ...]


def cover_plots(
    plots: Sequence[PlotAcres],
    tracks: Sequence[Track],
    *,
    sprayer: Sprayer | None = None,
    rules: CutRules | None = None,
    marks: Marks | None = None,
    progress: Callable[[float], None] | None = None,
) -> Coverage:
    """Say what one application did: `drive_plots`, then `judge_driven`.

    Parameters
    ----------
    plots
        Measured plots, obstacles and setback taken out.
    tracks
        The application's tracks; each is a trip of its own.
    sprayer
        The boom, and where it sits; None where the tracks tell its width.
    rules
        When a track is cut.
    marks
        Obstacles, and ground left unsprayed on purpose.
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
    tell = progress or (lambda _: None)
    driven = drive_plots(
        plots, tracks, sprayer=sprayer, rules=rules, marks=marks, progress=lambda share: tell(0.8 * share)
    )
    return judge_driven(driven, progress=lambda share: tell(0.8 + 0.2 * share))


def drive_plots(
    plots: Sequence[PlotAcres],
    tracks: Sequence[Track],
    *,
    sprayer: Sprayer | None = None,
    rules: CutRules | None = None,
    marks: Marks | None = None,
    progress: Callable[[float], None] | None = None,
) -> Driven:
    """What was driven over, before any missed strip is judged; arguments and errors as `cover_plots` has them."""
    tell = progress or (lambda _: None)
    sprayer, marks = sprayer or Sprayer(), marks or Marks()
    check_sprayer(sprayer)
    with_ground = [p.shape for p in plots if not shapely.is_empty(p.shape)]
    if not with_ground:
        raise InputError("No plot has any ground left. Check the boundaries, obstacles and setback.")
    frame = frame_for(*with_ground)
    planes = [_EMPTY if shapely.is_empty(p.shape) else plane_shape(p.shape, frame=frame) for p in plots]
    whole = robust(shapely.union_all, planes)
    _refuse_spread(whole)
    rules = rules or CutRules()
    settled = []
    for number, track in enumerate(tracks, start=1):
        settled.append(_settle(track, frame=frame, whole=whole, sprayer=sprayer, rules=rules))
        tell(0.5 * number / len(tracks))
    edge_m = max((_widest_m(s) for s in settled), default=0.0) / 2
    ground = part_ground(planes, whole=whole, marks=marks, frame=frame, edge_m=edge_m)
    passes = find_passes([s.path for s in settled], right_m=sprayer.right_m or 0.0)
    tell(0.6)
    tally = tally_ground(ground, settled=settled, passes=passes.number, progress=lambda share: tell(0.6 + 0.4 * share))
    rows = plot_figures(plots, planes, tally=tally)
    total = total_figures(tally)
    outside = outside_figures(tally, marks=marks)
    plain = Coverage(
        plots=tuple(rows),
        treated_m2=total.treated_m2,
        missed_m2=total.missed_m2,
        overlap_m2=total.overlap_m2,
        unknown_m2=total.unknown_m2,
        left_m2=total.left_m2,
        outside=outside,
        driven_m2=tally.driven_m2,
        strips=(),
        doubts=(),
        pass_overlaps=tally.pairs,
        passes=(),
        cleaning=sum((s.path.cleaning for s in settled), Cleaning()),
        assumptions=(*sprayer_assumptions(sprayer), *(a for s in settled for a in s.assumptions)),
        notices=(),
        spacing_m=tally.spacing_m,
        draw=cache(partial(draw_layers, tally, settled=settled, frame=frame)),
    )
    has_boom = tuple(bool((t.boom_on >= 0).any()) for t in tracks)
    with_bare = list(zip(plots, _without_left(planes, marks=marks, frame=frame), strict=True))
    on = Swept(tally, frame, tuple(settled), Record(tuple(s.path for s in settled), has_boom, passes, rules))
    notices = [*obstacle_words(outside), *left_words(rows), *_notes(tracks, settled, tally=tally)]
    nowhere = () if total.treated_m2 > 0 else (nowhere_near(settled, whole=whole),)
    return Driven(plain, tuple(with_bare), on, tuple(notices), nowhere)


def judge_driven(driven: Driven, *, progress: Callable[[float], None] | None = None) -> Coverage:
    """Find the missed strips in what was driven, count passes, and say which strips are real; most of the time.

    Parameters
    ----------
    driven
        What was driven over.
    progress
        Called with the share done, 0 to 1.
    """
    tell = progress or (lambda _: None)
    judged = judge_plots(driven.plots, on=driven.on, progress=tell)
    spare = spare_words(judged.strips, missed_m2=driven.plain.missed_m2, shared=len(driven.plots) > 1)
    tell(1.0)
    return replace(
        driven.plain,
        strips=tuple(sorted(judged.strips, key=lambda s: -s.area_m2)),
        doubts=tuple(judged.doubts),
        passes=tuple(judged.counts),
        notices=(*driven.notices, *spare, *driven.nowhere),
    )


def _settle(track: Track, *, frame: Frame, whole: Any, sprayer: Sprayer, rules: CutRules) -> Settled:
    if len(track) < 2:
        raise TrackError(f"{track.name}: has fewer than two points, so nothing was driven. Check the recording.")
    path = lay_out(track, frame=frame, rules=rules)
    away_m = float(shapely.distance(whole, shapely.linestrings(path.xy_m)))
    if away_m > _LARGEST_SPREAD_M:
        raise TrackError(
            f"{track.name}: lies {away_m / MI_M:,.0f} miles from the plots. Check that both show the same place "
            "and that latitude and longitude are not swapped."
        )
    return settle_boom(path, sprayer=sprayer, ground=whole)


def _without_left(planes: Sequence[Any], *, marks: Marks, frame: Frame) -> list[Any]:
    """Plots without ground left on purpose, which needs no pass."""
    if not marks.left:
        return list(planes)
    left = robust(shapely.union_all, [plane_shape(p.shape, frame=frame) for p in marks.left])
    return [robust(shapely.difference, plane, left) for plane in planes]


def _notes(tracks: Sequence[Track], settled: Sequence[Settled], *, tally: Tally) -> list[str]:
    """What was read, cut, cleaned and taken for granted, each said once."""
    said = [str(note) for t, s in zip(tracks, settled, strict=True) for note in (*t.notes, *s.path.notes, *s.notices)]
    return list(dict.fromkeys([*said, *([tally.engine.note] if tally.engine.note else [])]))


def _widest_m(settled: Settled) -> float:
    """The widest boom that was on anywhere."""
    lanes = settled.lanes
    on = lanes.on.any(axis=0)
    return float((lanes.left_m.max(axis=0) - lanes.right_m.min(axis=0))[on].max()) if on.any() else 0.0


def _refuse_spread(whole: Any) -> None:
    west, south, east, north = shapely.bounds(whole)
    spread_m = float(np.hypot(east - west, north - south))
    if spread_m > _LARGEST_SPREAD_M:
        raise InputError(
            f"The plots lie up to {spread_m / MI_M:,.0f} miles apart. Check one property at a time, "
            "or check that every plot is in the right place."
        )
