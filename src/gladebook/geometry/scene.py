"""What a sweep is given and what it finds: outlines, stretches of lines, areas; how far apart its lines lie."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from gladebook.geometry.ribbon import Edges, join_edges

__all__ = ["Pairs", "Scene", "Stretches", "Swept", "best_turn_rad", "spacing_for", "sum_pairs"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_FINEST_M = 0.002
_COARSEST_M = 0.25
_CROSSINGS = 80_000
_CROSSINGS_A_REGION = 5_000
_CROSSINGS_OF_FEW, _FEW_EDGES = 170_000, 10_000
_FEW_PAIRS = 4_000_000
_SAMPLE = 50_000
_APART = np.abs(np.sin(np.radians(np.arange(180)[:, None] + np.arange(180)[None, :] + 0.5))) + 0.02


@dataclass(frozen=True, eq=False)
class Scene:
    """Outlines to sweep, in metres.

    Attributes
    ----------
    parts : outlines, in lots that are swept together; owners are numbered from 0: first the grounds that are
        counted, then veils, then regions.
    grounds : how many owners are grounds that are counted.
    veils : how many are veils: ground that is only told apart where nothing else lies.
    region : shape (owners - grounds - veils,), each further owner's region, from 1 to `regions`; regions
        must not share ground.
    regions : how many regions there are; 0 is the rest of the plane.
    group : shape (grounds,), the group of each ground, from 0; which groups share ground is told.
    """

    parts: tuple[Edges, ...]
    grounds: int
    veils: int
    region: Ints
    regions: int
    group: Ints

    @cached_property
    def edges(self) -> Edges:
        """All outlines in one lot, ordered by owner."""
        return join_edges(list(self.parts))


@dataclass(frozen=True, eq=False)
class Stretches:
    """Pieces of scan lines, by line and from left to right.

    Attributes
    ----------
    row : shape (s,), number of the line; it lies at y = (row + 1/2) spacing.
    start_m, end_m : shape (s,), x of its ends, metres.
    kind : shape (s,), 8 times the region, plus twice the count (0, 1, 2, 3 or more), plus 1 under a veil.
    """

    row: Ints
    start_m: Floats
    end_m: Floats
    kind: Ints


@dataclass(frozen=True, eq=False)
class Pairs:
    """Which groups share ground: shape (p,) each; a pair of a group with itself is ground that it covered again."""

    first: Ints
    second: Ints
    area_m2: Floats


@dataclass(frozen=True, eq=False)
class Swept:
    """What a sweep found.

    Attributes
    ----------
    spacing_m : between its lines.
    area_m2 : shape (regions + 1, 4, 2), by region, count (0, 1, 2, 3 or more) and veil (without, under).
    ground_m2 : all grounds added up, as often as they lie there.
    stretches : the stretches asked for.
    pairs : ground that grounds share, by their groups; spans over 64 deep on one line are not paired further.
    """

    spacing_m: float
    area_m2: Floats
    ground_m2: float
    stretches: Stretches
    pairs: Pairs


def spacing_for(parts: Sequence[Edges], *, regions: int) -> float:
    """Spacing of the lines, metres: 25 cm, or closer, down to 2 mm, where that takes few enough crossings.

    80,000 for any scene and 5,000 for each region: what corners and crossings of outlines cost is a share of all
    ground, and grows with how many there are on it. Scenes of less than 10,000 edges get up to 170,000 more, as
    nobody notices the time that takes.
    """
    height = sum(float(np.abs(part.end_m[:, 1] - part.start_m[:, 1]).sum()) for part in parts)
    few = max(1.0 - sum(map(len, parts)) / _FEW_EDGES, 0.0)
    crossings = _CROSSINGS + regions * _CROSSINGS_A_REGION + few * _CROSSINGS_OF_FEW
    return float(np.clip(height / crossings, _FINEST_M, _COARSEST_M))


def best_turn_rad(edges: Edges) -> float:
    """Angle to turn a scene by so that few of its edges, by length, lie nearly along the lines.

    The error of a sweep lives on edges that nearly do. Angles are tried degree by degree, on
    50,000 edges or so where there are more.
    """
    few = slice(None, None, max(len(edges) // _SAMPLE, 1))
    step = edges.end_m[few] - edges.start_m[few]
    length = np.hypot(step[:, 0], step[:, 1])
    angle = np.degrees(np.arctan2(step[:, 1], step[:, 0])) % 180
    by_degree = np.bincount(np.minimum(angle.astype(np.int64), 179), weights=length, minlength=180)
    cost = (by_degree / _APART).sum(axis=1)
    return float(np.radians(np.argmin(cost)))


def sum_pairs(parts: list[Pairs], *, spacing_m: float) -> Pairs:
    """Add up what the same pairs share."""
    first = np.concatenate([p.first for p in parts]) if parts else np.zeros(0, dtype=np.int64)
    second = np.concatenate([p.second for p in parts]) if parts else np.zeros(0, dtype=np.int64)
    length = np.concatenate([p.area_m2 for p in parts]) if parts else np.zeros(0)
    if not len(first):
        return Pairs(first, second, length)
    many = int(second.max()) + 1
    key = first * many + second
    if many * many <= _FEW_PAIRS:
        table: Floats = np.bincount(key, weights=length).astype(np.float64)
        key = np.flatnonzero(table)
        return Pairs(first=key // many, second=key % many, area_m2=table[key] * spacing_m)
    key, place = np.unique(key, return_inverse=True)
    total: Floats = (np.bincount(place, weights=length) * spacing_m).astype(np.float64)
    return Pairs(first=key // many, second=key % many, area_m2=total)
