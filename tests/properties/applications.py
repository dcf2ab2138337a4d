"""Random applications, plain and hostile, from a seed: plots, tracks, and what a receiver adds."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.coverage.result import Coverage
from tests.passes.tracks import Floats, cover, in_metres, make_plot, make_track, turned

Rng = np.random.Generator
LAYERS = ("treated", "missed", "unknown", "overlap", "outside")


@dataclass(frozen=True)
class Drive:
    """One track in metres, before it is placed."""

    xy_m: Floats
    time_s: Floats
    boom_on: npt.NDArray[np.int8]
    width_m: Floats
    segment: npt.NDArray[np.int64]


@dataclass(frozen=True)
class Application:
    """Plots as rings of corners in metres, and drives."""

    rings_m: tuple[Floats, ...]
    drives: tuple[Drive, ...]


def judge(application: Application, *, turn_deg: float = 0.0, shift_m: Any = (0.0, 0.0)) -> Coverage:
    """Cover an application, after turning and shifting all of it."""
    plots = [
        make_plot(turned(ring, turn_deg) + shift_m, name=f"plot {k}") for k, ring in enumerate(application.rings_m)
    ]
    tracks = [
        make_track(
            turned(drive.xy_m, turn_deg) + shift_m,
            time_s=drive.time_s,
            boom_on=drive.boom_on,
            width_m=drive.width_m,
            segment=drive.segment,
            name=f"trip {k}",
        )
        for k, drive in enumerate(application.drives)
    ]
    return cover(plots, tracks, boom_m=4.37)


def random_ring(rng: Rng, *, centre: tuple[float, float] = (0.0, 0.0), radius_m: float = 40.0) -> Floats:
    """A star-shaped ring of 4 to 9 corners: never crossed, often hollow."""
    n = int(rng.integers(4, 10))
    angle = np.sort(rng.uniform(0, 2 * np.pi / n, n) + 2 * np.pi / n * np.arange(n))
    away = radius_m * rng.uniform(0.5, 1.0, n)
    ring: Floats = np.array(centre) + np.column_stack([away * np.cos(angle), away * np.sin(angle)])
    return ring


def sprayed(rng: Rng) -> Application:
    """One to three plots, driven in rows with turns, drifting fixes, shut booms, stops and a gap."""
    rings = [random_ring(rng, radius_m=30.0)]
    if rng.random() < 0.5:
        rings.append(random_ring(rng, centre=(50.0, rng.uniform(-20, 20)), radius_m=19.0))
    drives = [_rows(rng) for _ in range(int(rng.integers(1, 3)))]
    return Application(tuple(rings), tuple(drives))


def _rows(rng: Rng) -> Drive:
    spacing, speed = rng.uniform(3.0, 6.0), rng.uniform(1.5, 2.8)
    rows = []
    for k, y in enumerate(np.arange(-25.0, 25.0, spacing)):
        x = np.arange(-32.0, 32.0, speed)
        row = np.column_stack([x if k % 2 == 0 else -x, np.full(len(x), y)])
        rows.append(row)
    xy = turned(np.concatenate(rows), rng.uniform(0, 360))
    n = len(xy)
    drift = np.cumsum(rng.normal(0, 0.03, (n, 2)), axis=0) + rng.normal(0, 0.02, (n, 2))
    time_s = 1.7e9 + np.arange(n, dtype=float)
    if rng.random() < 0.5:
        time_s[int(rng.integers(1, n)) :] += 40.0
    kind = rng.integers(0, 3)
    on = np.full(n, -1) if kind == 0 else np.where(rng.random(n) < 0.02, 0, 1)
    width = np.full(n, np.nan) if rng.random() < 0.7 else np.where(np.arange(n) < n // 2, 3.1, 5.3)
    segment = np.sort(rng.integers(0, 2, n)) if rng.random() < 0.3 else np.zeros(n)
    return Drive(xy + drift, time_s, on.astype(np.int8), width, segment.astype(np.int64))


def wandering(rng: Rng, *, points: int = 150) -> Drive:
    """A drive that turns smoothly at random, tightly at times, with its boom mostly on."""
    turn = np.convolve(rng.normal(0, rng.uniform(0.05, 0.5), points), np.ones(5) / 5, mode="same")
    heading, step = np.cumsum(turn), rng.uniform(0.3, 2.0)
    xy = np.cumsum(step * np.column_stack([np.cos(heading), np.sin(heading)]), axis=0)
    on = (rng.random(points) > 0.03).astype(np.int8)
    return Drive(
        xy_m=xy - xy.mean(axis=0),
        time_s=1.7e9 + np.arange(points, dtype=float),
        boom_on=on,
        width_m=np.full(points, np.nan),
        segment=np.zeros(points, dtype=np.int64),
    )


HOSTILE = (
    "random walk",
    "jumps",
    "repeated points",
    "standing",
    "times missing",
    "times backwards",
    "tiny steps",
    "to and fro",
    "spinning",
    "everything",
)


def hostile(kind: str, rng: Rng) -> Drive:
    """A track that no sprayer drove: of one hostile kind, or of all together."""
    n = int(rng.integers(2, 160))
    xy = np.cumsum(rng.normal(0, rng.choice([0.3, 1.0, 4.0]), (n, 2)), axis=0)
    time_s = 1.7e9 + np.arange(n, dtype=float) * float(rng.choice([0.2, 1.0]))
    every = kind == "everything"
    if kind == "jumps" or every:
        xy[rng.random(n) < 0.15] += rng.normal(0, 300, 2)
    if kind == "standing" or every:
        xy[n // 3 : n // 3 + n // 2] = xy[n // 3]
    if kind == "tiny steps" or every:
        few = np.cumsum(rng.normal(0, 1e-9, (n, 2)), axis=0)
        xy = few if kind == "tiny steps" and rng.random() < 0.5 else np.where(rng.random((n, 1)) < 0.5, xy[0] + few, xy)
    if kind == "to and fro":
        x = np.abs((np.arange(n) * 1.0) % 40 - 20)
        xy = np.column_stack([x, np.zeros(n)])
    if kind == "spinning":
        angle = np.arange(n) * rng.uniform(0.1, 3.2)
        xy = rng.uniform(0.2, 6.0) * np.column_stack([np.cos(angle), np.sin(angle)])
    if kind == "repeated points" or every:
        xy = np.repeat(xy, rng.integers(1, 4, n), axis=0)[:n]
    if kind == "times missing" or every:
        time_s[rng.random(n) < rng.uniform(0, 1)] = np.nan
    if kind == "times backwards" or every:
        time_s = rng.permutation(time_s)
    return Drive(
        xy_m=xy,
        time_s=time_s,
        boom_on=rng.choice([[-1, -1], [0, 1], [1, 1], [-1, 1]][int(rng.integers(4))], n).astype(np.int8),
        width_m=rng.choice([[np.nan], [np.nan, 3.0], [0.01, 40.0], [0.0, 4.0]][int(rng.integers(4))], n),
        segment=np.cumsum(rng.random(n) < 0.05),
    )


def check_identities(answer: Coverage) -> None:
    """What holds of every answer, whatever was driven.

    Tolerance: 2e-5 of all ground concerned, for scan lines 2 mm to 25 cm apart.
    """
    total = answer.plot_m2
    within = 2e-5 * (sum(row.plot_m2 for row in answer.plots) + answer.driven_m2)
    for row in answer.plots:
        figures = (row.treated_m2, row.missed_m2, row.unknown_m2, row.overlap_m2)
        assert all(np.isfinite(figure) and figure >= 0 for figure in figures)
        assert abs(row.treated_m2 + row.missed_m2 + row.unknown_m2 - row.plot_m2) <= within
        assert row.overlap_m2 <= row.treated_m2 + within
    for figure in ("treated_m2", "missed_m2", "unknown_m2", "overlap_m2"):
        assert abs(getattr(answer, figure) - sum(getattr(row, figure) for row in answer.plots)) <= within
    assert np.isfinite(answer.driven_m2)
    assert answer.outside_m2 >= 0
    assert answer.driven_m2 >= answer.treated_m2 + answer.outside_m2 + answer.overlap_m2 - within
    assert abs(total - sum(row.plot_m2 for row in answer.plots)) <= within


def check_layers(answer: Coverage, rings_m: tuple[Floats, ...], *, seed: int = 0) -> None:
    """The shapes drawn have the areas told, and every place is in the one shape that it should be in.

    Places are drawn at random and told by point in polygon, not by overlays; those with an
    edge that is nearer than two scan lines may fall to either side.
    """
    shapes = {name: in_metres(getattr(answer.layers, name)) for name in LAYERS}
    for name, shape in shapes.items():
        # A millimetre along every edge, what scan lines leave, and slivers thinner than a centimetre.
        within = 1e-3 * float(shapely.length(shape)) + 2e-5 * answer.driven_m2 + 0.02
        assert abs(float(shapely.area(shape)) - getattr(answer, f"{name}_m2")) <= within, name
    rings = [shapely.Polygon(ring) for ring in rings_m]
    places = np.random.default_rng(seed).uniform(-90, 120, (600, 2))
    corners = np.concatenate([shapely.get_coordinates(shape) for shape in shapes.values()])
    if len(corners):
        places = np.concatenate([places, corners[:: max(len(corners) // 300, 1)] + 0.01])
    points = shapely.points(places)
    edges = [shapely.boundary(shape) for shape in [*rings, *shapes.values()] if not shapely.is_empty(shape)]
    clear = np.all([shapely.distance(points, edge) > 2 * answer.spacing_m + 0.01 for edge in edges], axis=0)
    places = places[clear]
    within_ring = np.any([shapely.contains_xy(ring, *places.T) for ring in rings], axis=0)
    lies = {name: shapely.contains_xy(shape, *places.T) for name, shape in shapes.items()}
    told = lies["treated"].astype(int) + lies["missed"] + lies["unknown"]
    np.testing.assert_array_equal(told, within_ring.astype(int))
    assert not (lies["overlap"] & ~lies["treated"]).any()
    assert not (lies["outside"] & within_ring).any()
