"""True acres of plots: gross, what obstacles and setback take, what is left, and how sure."""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely

from gladebook.geometry.area import geodesic_area_m2, geodesic_perimeter_m
from gladebook.geometry.frame import frame_for, near_pairs
from gladebook.geometry.validity import polygons_only, robust
from gladebook.plots.plot import Plot, plane_shape
from gladebook.plots.sureness import PositionError, ring_area_variance_m4
from gladebook.units import ACRE_M2, FT_M

__all__ = ["Measured", "PlotAcres", "measure_plots"]

_TWO_SIDED_95 = 1.959963984540054  # normal quantile at 0.975
_ARC_STEPS = 64  # a quarter circle in this many steps: 0.01 % short of its area
_WORTH_NAMING_M2 = 1.0


@dataclass(frozen=True)
class PlotAcres:
    """One plot, measured.

    Attributes
    ----------
    name : the plot's name.
    net_m2 : what is left to plant or spray, m2.
    gross_m2 : the whole boundary, m2.
    obstacle_m2 : ponds, rocks and trees taken out, m2.
    setback_m2 : the strip kept off along the edge, m2.
    perimeter_m : length of the outer edges, metres.
    low_m2, high_m2 : 95 % range of the net area from the position error of the corners.
    shape : the net ground, degrees on WGS 84.
    """

    name: str
    net_m2: float
    gross_m2: float
    obstacle_m2: float
    setback_m2: float
    perimeter_m: float
    low_m2: float
    high_m2: float
    shape: Any = field(repr=False)


@dataclass(frozen=True)
class Measured:
    """All plots, measured, in the order they came.

    Attributes
    ----------
    plots : one entry a plot.
    total_m2 : net ground, shared ground counted once.
    notices : what the reader should know, as sentences.
    """

    plots: tuple[PlotAcres, ...]
    total_m2: float
    notices: tuple[str, ...]


def measure_plots(
    plots: Sequence[Plot],
    *,
    obstacles: Sequence[Plot] = (),
    setback_m: float = 0.0,
    error: PositionError | None = None,
    progress: Callable[[float], None] | None = None,
) -> Measured:
    """Measure plots.

    Parameters
    ----------
    plots
        In the order in which the answer keeps them.
    obstacles
        Areas to take out of any plot that they touch.
    setback_m
        Width of the strip kept off along every edge as drawn, metres.
    error
        How far off the corners are; where None, the stated default is assumed and said.
    progress
        Called with the share done, 0 to 1.
    """
    assumed = error is None
    error = error or PositionError()
    near_to: dict[int, list[Any]] = {}
    for i, k in near_pairs([p.shape for p in plots], [o.shape for o in obstacles]) if obstacles else []:
        near_to.setdefault(i, []).append(obstacles[k].shape)
    rows: list[PlotAcres] = []
    for number, plot in enumerate(plots):
        near = near_to.get(number, [])
        rows.append(_measure_one(plot, obstacles=near, setback_m=setback_m, error=error))
        if progress is not None:
            progress((number + 1) / len(plots))
    shared_m2, shared_notices = _shared_ground(rows)
    notices = [str(note) for plot in [*plots, *obstacles] for note in plot.notes]
    notices += _same_names(rows) + _nothing_left(rows) + shared_notices
    if setback_m > 0:
        notices.append(
            f"The setback of {setback_m / FT_M:g} ft was kept off every edge as drawn, also where plots touch."
        )
    if obstacles and not any(row.obstacle_m2 > 0 for row in rows):
        notices.append("No obstacle touches a plot. Check that both files show the same place.")
    if assumed:
        walked = f", alike over {error.walk_m:g} m of walk" if any(p.walked for p in plots) else ""
        notices.append(
            f"The ranges assume corners off by {error.sd_m:g} m (standard deviation along each axis{walked}); "
            "set yours with --accuracy."
        )
    return Measured(
        plots=tuple(rows),
        total_m2=sum(row.net_m2 for row in rows) - shared_m2,
        notices=tuple(notices),
    )


def _measure_one(plot: Plot, *, obstacles: list[Any], setback_m: float, error: PositionError) -> PlotAcres:
    gross_m2 = geodesic_area_m2(plot.shape)
    frame = frame_for(plot.shape)
    plane = plane_shape(plot.shape, frame=frame)
    variance = sum(
        ring_area_variance_m4(ring, sd_m=error.sd_m, walk_m=error.walk_m if plot.walked else 0.0)
        for ring in _rings(plane)
    )
    obstacle_m2 = setback_m2 = 0.0
    net, net_m2, shape = plane, gross_m2, plot.shape
    if setback_m > 0:
        net = polygons_only(shapely.buffer(plane, -setback_m, quad_segs=_ARC_STEPS))
        shape = frame.shape_to_lonlat(net)
        setback_m2 = gross_m2 - geodesic_area_m2(shape)
        net_m2 = gross_m2 - setback_m2
    if obstacles:
        blocked = shapely.union_all([plane_shape(o, frame=frame) for o in obstacles])
        taken = robust(shapely.intersection, net, blocked)
        if taken.area > 0:
            obstacle_m2 = geodesic_area_m2(frame.shape_to_lonlat(taken))
            net = robust(shapely.difference, net, blocked)
            shape = frame.shape_to_lonlat(net)
            net_m2 = max(gross_m2 - setback_m2 - obstacle_m2, 0.0) if net.area > 0 else 0.0
            variance += sum(ring_area_variance_m4(ring, sd_m=error.sd_m) for ring in _rings(taken))
    half_m2 = _TWO_SIDED_95 * float(np.sqrt(variance))
    return PlotAcres(
        name=plot.name,
        net_m2=net_m2,
        gross_m2=gross_m2,
        obstacle_m2=obstacle_m2,
        setback_m2=setback_m2,
        perimeter_m=geodesic_perimeter_m(plot.shape),
        low_m2=max(net_m2 - half_m2, 0.0),
        high_m2=net_m2 + half_m2,
        shape=shape,
    )


def _rings(plane: Any) -> list[Any]:
    """Rings of polygons in metres, the closing corner left out."""
    rings = [ring for part in shapely.get_parts(plane) for ring in [part.exterior, *part.interiors]]
    return [shapely.get_coordinates(ring)[:-1] for ring in rings]


def _shared_ground(rows: list[PlotAcres]) -> tuple[float, list[str]]:
    """Ground that lies in more than one plot: how much too much a plain sum counts, and who shares it."""
    shapes = [row.shape for row in rows]
    pairs = [(a, b) for a, b in near_pairs(shapes, shapes) if a < b]
    notices: list[str] = []
    group = list(range(len(rows)))
    for a, b in pairs:
        frame = frame_for(shapes[a])
        both = robust(shapely.intersection, *(plane_shape(shapes[i], frame=frame) for i in (a, b)))
        if both.area <= 0:
            continue
        group = [group[a] if g == group[b] else g for g in group]
        if both.area >= _WORTH_NAMING_M2:
            notices.append(
                f"{rows[a].name} and {rows[b].name} share {both.area / ACRE_M2:.3f} ac; the total counts it once."
            )
    shared_m2 = 0.0
    for g in sorted(g for g, count in Counter(group).items() if count > 1):
        members = [shapes[i] for i in range(len(rows)) if group[i] == g]
        frame = frame_for(*members)
        planes = [plane_shape(m, frame=frame) for m in members]
        shared_m2 += sum(p.area for p in planes) - robust(shapely.union_all, planes).area
    return shared_m2, notices


def _same_names(rows: list[PlotAcres]) -> list[str]:
    twice = [(name, count) for name, count in Counter(row.name for row in rows).items() if count > 1]
    if not twice:
        return []
    shown = ", ".join(f'{count} are called "{name}"' for name, count in twice[:6])
    more = f", and {len(twice) - 6} more names" if len(twice) > 6 else ""
    return [f"Some plots share a name: {shown}{more}. They are kept apart, in the order of the file."]


def _nothing_left(rows: list[PlotAcres]) -> list[str]:
    eaten = [row for row in rows if row.net_m2 < min(_WORTH_NAMING_M2, row.gross_m2 / 2)]
    return [f"{row.name}: obstacles and setback leave no ground." for row in eaten]
