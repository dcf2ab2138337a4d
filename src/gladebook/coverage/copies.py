"""Many copies of one application swept as one scene: they lie one above the other, each with its own ground."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import sqrt
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.coverage.boom import Settled
from gladebook.coverage.ground import outline_edges
from gladebook.geometry.frame import turn_points
from gladebook.geometry.ribbon import Edges, join_edges
from gladebook.geometry.scene import Scene, best_turn_rad
from gladebook.geometry.sweep import Engine, Wish, choose_engine, sweep
from gladebook.passes.path import Path
from gladebook.passes.sprayer import Lanes
from gladebook.passes.swath import gap_swaths, paint

__all__ = ["Drive", "Stage", "set_stage", "sweep_copies"]

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

_FINEST_M, _COARSEST_M, _LINES = 0.1, 0.5, 200  # between the lines; lines across the ground
_BESIDE_M = 50.0  # steps further from the ground are left out


@dataclass(frozen=True, eq=False)
class Drive:
    """The points of one track with the boom on near the ground, turned as the scene is."""

    path: Path
    lanes: Lanes


@dataclass(frozen=True, eq=False)
class Stage:
    """What all redraws share.

    Attributes
    ----------
    drives : the tracks.
    ground, veils : outlines of the ground, and of what only a gap could have covered; owners from 0.
    spacing_m : between the lines.
    engine : which sweeps.
    """

    drives: tuple[Drive, ...]
    ground: Edges
    veils: Edges
    spacing_m: float
    engine: Engine

    @property
    def points(self) -> int:
        """Points of one redraw."""
        return sum(len(drive.path.xy_m) for drive in self.drives)


def set_stage(settled: Sequence[Settled], *, ground: Any, draws: int, wish: Wish) -> Stage:
    """Get ready what all copies share.

    Parameters
    ----------
    settled
        The tracks, with their booms.
    ground
        Polygons on the same plane, metres; their area is above zero.
    draws
        How many copies there will be, which decides the engine.
    wish
        Which engine to use.
    """
    outline = outline_edges(ground, owner=0)
    every = [_near(one, bounds=shapely.bounds(ground)) for one in settled]
    near = [drive for drive in every if len(drive.path.xy_m) > 1]
    steps = [Edges(d.path.xy_m[:-1], d.path.xy_m[1:], np.zeros(len(d.path.cut), dtype=np.int64)) for d in near]
    turn_rad = best_turn_rad(join_edges([outline, *steps]))
    swaths = [swath for one in settled for swath in gap_swaths(one.path, lanes=one.lanes)]
    here = [swath for swath in swaths if shapely.intersects(swath, ground)]
    veils = join_edges([outline_edges(swath, owner=i) for i, swath in enumerate(here)])
    spacing_m = float(np.clip(sqrt(shapely.area(ground)) / _LINES, _FINEST_M, _COARSEST_M))
    drives = tuple(replace(d, path=replace(d.path, xy_m=turn_points(d.path.xy_m, turn_rad=turn_rad))) for d in near)
    points = sum(len(d.path.xy_m) for d in near)
    return Stage(
        drives=drives,
        ground=_turned(outline, turn_rad=turn_rad),
        veils=_turned(veils, turn_rad=turn_rad),
        spacing_m=spacing_m,
        engine=choose_engine(points * draws, wish=wish),
    )


def _near(one: Settled, *, bounds: Floats) -> Drive:
    """The points of a track near the ground from or to which the boom was on; nothing joins what is left out."""
    path, lanes = one.path, one.lanes
    on: Bools = np.logical_or.reduce(lanes.on, axis=0)
    on[1:] |= on[:-1].copy()
    beside = (path.xy_m >= bounds[:2] - _BESIDE_M) & (path.xy_m <= bounds[2:] + _BESIDE_M)
    kept = np.flatnonzero(on & beside.all(axis=1))
    cut = np.diff(kept) > 1
    cut |= path.cut[kept[:-1]]
    # Painting asks for places and cuts alone; times are for the drift.
    path = replace(path, xy_m=path.xy_m.take(kept, axis=0), time_s=path.time_s[kept], cut=cut)
    on, left_m, right_m = lanes.on[:, kept], lanes.left_m[:, kept], lanes.right_m[:, kept]
    return Drive(path, Lanes(on=on, left_m=left_m, right_m=right_m, behind_m=lanes.behind_m))


def sweep_copies(stage: Stage, errors: Sequence[Floats], *, copies: int) -> Floats:
    """Sweep some copies of the application, each with errors of its own.

    Headings are those of the moved track, as if it had been recorded so.

    Parameters
    ----------
    stage
        What they share.
    errors
        For each drive, what is added to its places, shape (copies, points, 2), metres.
    copies
        How many there are.

    Returns
    -------
    Treated, missed, overlap and outside, shape (copies, 4), m2.
    """
    places = [drive.path.xy_m + error for drive, error in zip(stage.drives, errors, strict=True)]
    low, high = _reach(stage, places)
    # Whole lines apart: every copy is crossed by the same lines, so that what lines leave out is alike in all.
    base = np.floor(low[1] / stage.spacing_m) * stage.spacing_m
    height = np.ceil((high[1] - base) / stage.spacing_m) * stage.spacing_m
    up = np.column_stack([np.zeros(copies), np.arange(copies) * height])
    parts: list[Edges] = []
    grounds = 0
    for drive, place in zip(stage.drives, places, strict=True):
        edges, count = _paint_copies(drive, place + up[:, None, :], engine=stage.engine)
        parts.append(Edges(edges.start_m, edges.end_m, edges.owner + grounds))
        grounds += count
    scene = _scene(stage, parts, grounds=grounds, up=up, box=(low[0], base, high[0], base + height))
    wanted = np.zeros((2 * copies + 1, 4, 2), dtype=bool)
    area = sweep(scene, spacing_m=stage.spacing_m, wanted=wanted, engine=stage.engine).area_m2
    inside, beside = area[1 : copies + 1], area[copies + 1 :]
    counted = inside.sum(axis=2)
    return np.column_stack(
        [counted[:, 1:].sum(axis=1), inside[:, 0, 0], counted[:, 2:].sum(axis=1), beside[:, 1:].sum(axis=(1, 2))]
    )


def _scene(
    stage: Stage, painted: Sequence[Edges], *, grounds: int, up: Floats, box: tuple[float, float, float, float]
) -> Scene:
    """Painted ground and, for each copy, two regions: its ground, and the rest of its box."""
    west, south, east, north = box
    corners = np.array([[west, south], [east, south], [east, north], [west, north]])
    rest = Edges(
        start_m=np.concatenate([corners, stage.ground.end_m]),
        end_m=np.concatenate([np.roll(corners, -1, axis=0), stage.ground.start_m]),
        owner=np.zeros(4 + len(stage.ground), dtype=np.int64),
    )
    copies, veils = len(up), (int(stage.veils.owner[-1]) + 1 if len(stage.veils) else 0)
    return Scene(
        parts=(
            *painted,
            _repeated(stage.veils, up, first=grounds, owners=veils),
            _repeated(stage.ground, up, first=grounds + veils * copies, owners=1),
            _repeated(rest, up, first=grounds + (veils + 1) * copies, owners=1),
        ),
        grounds=grounds,
        veils=veils * copies,
        region=np.arange(1, 2 * copies + 1),
        regions=2 * copies,
        group=np.zeros(grounds, dtype=np.int64),
    )


def _reach(stage: Stage, places: Sequence[Floats]) -> tuple[Floats, Floats]:
    """Corners of a box that holds everything of any copy, with a metre to spare."""
    corners = [stage.ground.start_m]
    if len(stage.veils):
        corners.append(stage.veils.start_m)
    for drive, place in zip(stage.drives, places, strict=True):
        aside_m = max(float(np.abs(drive.lanes.left_m).max()), float(np.abs(drive.lanes.right_m).max()))
        away_m = aside_m + abs(drive.lanes.behind_m)
        # One axis at a time: numpy takes ten times as long over both.
        x, y = place[..., 0], place[..., 1]
        corners.append(np.array([[x.min(), y.min()]]) - away_m)
        corners.append(np.array([[x.max(), y.max()]]) + away_m)
    every = np.concatenate(corners)
    return every.min(axis=0) - 1.0, every.max(axis=0) + 1.0


def _paint_copies(drive: Drive, places: Floats, *, engine: Engine) -> tuple[Edges, int]:
    """Ribbons of all copies of one track, driven one after the other with a cut between, and how many they are."""
    copies = len(places)
    cut = np.tile(np.append(drive.path.cut, True), copies)[:-1]
    lanes = replace(
        drive.lanes,
        on=np.tile(drive.lanes.on, (1, copies)),
        left_m=np.tile(drive.lanes.left_m, (1, copies)),
        right_m=np.tile(drive.lanes.right_m, (1, copies)),
    )
    path = replace(drive.path, xy_m=places.reshape(-1, 2), cut=cut)
    ribbons = paint(path, lanes=lanes, compiled=engine.compiled)
    return ribbons.edges, ribbons.count


def _repeated(edges: Edges, up: Floats, *, first: int, owners: int) -> Edges:
    """Copies of outlines, each a way further up, with owners of their own from `first` on."""
    copy = np.arange(len(up))[:, None] * owners
    return Edges(
        start_m=(edges.start_m[None] + up[:, None, :]).reshape(-1, 2),
        end_m=(edges.end_m[None] + up[:, None, :]).reshape(-1, 2),
        owner=(edges.owner[None] + copy).ravel() + first,
    )


def _turned(edges: Edges, *, turn_rad: float) -> Edges:
    start_m, end_m = turn_points(edges.start_m, turn_rad=turn_rad), turn_points(edges.end_m, turn_rad=turn_rad)
    return Edges(start_m, end_m, edges.owner)
