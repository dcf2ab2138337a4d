"""Sweep all ground at once, and add up what was found: by plot, outside, by pairs of passes."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.coverage.boom import Settled
from gladebook.coverage.ground import Ground, Region, outline_edges
from gladebook.geometry.frame import turn_points
from gladebook.geometry.outline import trace
from gladebook.geometry.ribbon import Edges, join_edges
from gladebook.geometry.scene import Scene, Stretches, Swept, best_turn_rad, spacing_for
from gladebook.geometry.sweep import Engine, Wish, choose_engine, sweep
from gladebook.passes.swath import gap_swaths, paint

__all__ = ["Tally", "draw_kinds", "missed_by_plot", "tally_ground"]

Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Tally:
    """What a sweep found over all ground.

    Attributes
    ----------
    ground : the regions.
    area_m2 : shape (regions + 1, 4, 2), by region (0 is the rest), count and veil; a region's figures add
        up to its own area.
    driven_m2 : all ribbons added up.
    missed : stretches of missed ground, by region.
    pairs : passes that share ground: first, second, m2.
    scene, spacing_m, turn_rad, engine : what was swept, and how.
    """

    ground: Ground
    area_m2: Floats
    driven_m2: float
    missed: Stretches
    pairs: tuple[tuple[int, int, float], ...]
    scene: Scene
    spacing_m: float
    turn_rad: float
    engine: Engine

    def trace(self, stretches: Stretches, *, least_m2: float = 0.0) -> Any:
        """Polygons of stretches, in the plane of the plots; pieces smaller than `least_m2` are left out."""
        turned = trace(stretches, spacing_m=self.spacing_m, least_m2=least_m2)
        return shapely.transform(turned, lambda xy: turn_points(xy, turn_rad=-self.turn_rad))


def tally_ground(
    ground: Ground,
    *,
    settled: Sequence[Settled],
    passes: Sequence[npt.NDArray[np.int64]],
    progress: Callable[[float], None],
    wish: Wish = "auto",
) -> Tally:
    """Sweep the ribbons of all tracks over all regions.

    Parameters
    ----------
    ground
        The regions.
    settled
        The tracks, with their booms.
    passes
        For each track the pass of each of its steps, 0 where it is a turn.
    progress
        Called with the share done, 0 to 1.
    wish
        Which engine to use.
    """
    engine = choose_engine(sum(len(one.path.xy_m) for one in settled), wish=wish)
    still = join_edges([outline_edges(region.shape, owner=i) for i, region in enumerate(ground.regions)])
    turn_rad = best_turn_rad(_ways(still, settled=settled))
    turned = _scene(still, settled=settled, passes=passes, engine=engine, turn_rad=turn_rad)
    progress(0.4)
    spacing_m = spacing_for(turned.parts, regions=turned.regions)
    wanted = np.zeros((turned.regions + 1, 4, 2), dtype=bool)
    wanted[1:, 0, 0] = [r.kind == "plot" for r in ground.regions]
    swept = sweep(turned, spacing_m=spacing_m, wanted=wanted, engine=engine)
    progress(1.0)
    pairs = sorted(
        zip(swept.pairs.first.tolist(), swept.pairs.second.tolist(), swept.pairs.area_m2.tolist(), strict=True),
        key=lambda pair: -pair[2],
    )
    return Tally(
        ground=ground,
        area_m2=_settled_areas(swept, ground.regions),
        driven_m2=swept.ground_m2,
        missed=swept.stretches,
        pairs=tuple(pairs),
        scene=turned,
        spacing_m=spacing_m,
        turn_rad=turn_rad,
        engine=engine,
    )


def missed_by_plot(tally: Tally, *, least_m2: float) -> dict[int, Any]:
    """Missed ground of each plot that has some, in the plane of the plots; pieces of less than `least_m2` left out."""
    found = tally.missed
    region = found.kind // 8
    order = np.argsort(region, kind="stable")
    starts = np.searchsorted(region[order], np.arange(1, tally.scene.regions + 2))
    pieces: dict[int, list[Any]] = {}
    for number, place in enumerate(tally.ground.regions):
        mine = order[starts[number] : starts[number + 1]]
        if len(mine):
            for plot in place.members:
                pieces.setdefault(plot, []).append(mine)
    missed: dict[int, Any] = {}
    for plot, lots in sorted(pieces.items()):
        mine = np.concatenate(lots)
        stretches = Stretches(found.row[mine], found.start_m[mine], found.end_m[mine], found.kind[mine])
        missed[plot] = tally.trace(stretches, least_m2=least_m2)
    return missed


def draw_kinds(tally: Tally) -> Callable[[Callable[[Region | None, int, bool], bool]], Any]:
    """Sweep again keeping every stretch; gives a function that draws the ground of chosen kinds.

    The choice is asked with the region (None for the rest of the plane), the count, and whether a veil lies there.
    """
    everything = np.ones((tally.scene.regions + 1, 4, 2), dtype=bool)
    found = sweep(tally.scene, spacing_m=tally.spacing_m, wanted=everything, engine=tally.engine).stretches
    places: list[Region | None] = [None, *tally.ground.regions]

    def draw(choose: Callable[[Region | None, int, bool], bool]) -> Any:
        table = np.array([[[choose(p, n, v) for v in (False, True)] for n in range(4)] for p in places]).ravel()
        keep = table[found.kind]
        return tally.trace(Stretches(found.row[keep], found.start_m[keep], found.end_m[keep], found.kind[keep]))

    return draw


def _ways(still: Edges, *, settled: Sequence[Settled]) -> Edges:
    """Outlines of the regions, and a thousand steps of the tracks or two, long as all that they stand for."""
    parts = [Edges(still.start_m, still.end_m, np.zeros(len(still), dtype=np.int64))]
    every = max(sum(len(one.path.xy_m) for one in settled) // 1_000, 1)
    for one in settled:
        start = one.path.xy_m[:-1:every]
        step = one.path.xy_m[1::every] - start
        parts.append(Edges(start, start + every * step, np.zeros(len(start), dtype=np.int64)))
    return join_edges(parts)


def _scene(
    still: Edges,
    *,
    settled: Sequence[Settled],
    passes: Sequence[npt.NDArray[np.int64]],
    engine: Engine,
    turn_rad: float,
) -> Scene:
    """All outlines, turned: turning the tracks before they are painted takes less than turning what is painted."""
    turned = partial(turn_points, turn_rad=turn_rad)
    parts: list[Edges] = []
    group: list[npt.NDArray[np.int64]] = []
    grounds = 0
    veils: list[Any] = []
    for one, number in zip(settled, passes, strict=True):
        path = replace(one.path, xy_m=turned(one.path.xy_m))
        ribbons = paint(path, lanes=one.lanes, compiled=engine.compiled)
        owner = ribbons.edges.owner + grounds if grounds else ribbons.edges.owner
        parts.append(Edges(ribbons.edges.start_m, ribbons.edges.end_m, owner))
        group.append(number[ribbons.step])
        grounds += ribbons.count
        veils += gap_swaths(path, lanes=one.lanes)
    first = grounds + len(veils)
    parts.append(join_edges([outline_edges(swath, owner=grounds + i) for i, swath in enumerate(veils)]))
    parts.append(Edges(turned(still.start_m), turned(still.end_m), still.owner + first))
    regions = int(still.owner[-1]) + 1
    return Scene(
        parts=tuple(parts),
        grounds=grounds,
        veils=len(veils),
        region=np.arange(1, regions + 1),
        regions=regions,
        group=np.concatenate(group) if group else np.zeros(0, dtype=np.int64),
    )


def _settled_areas(swept: Swept, regions: Sequence[Region]) -> Floats:
    """Areas by region; what the lines leave over goes to the largest figure, so that the parts are the region."""
    area = np.maximum(swept.area_m2, 0.0)  # places are sorted to a hundred-millionth of a metre only
    for number, region in enumerate(regions, start=1):
        figures = area[number].ravel()
        largest = int(np.argmax(figures))
        figures[largest] = max(figures[largest] + float(region.shape.area) - float(figures.sum()), 0.0)
        area[number] = figures.reshape(4, 2)
    return area
