"""Whole applications against a count on a grid of points, made without the engine.

The grid knows nothing of the engine: points 5 cm apart in a plane turned by an odd angle, each tested
against the quadrilateral between a pass's boom ends before and after each step. Headings are the
drive's own, written down as it was laid out. A point met in two stretches of quadrilaterals more than
a dozen steps apart was driven over again.

How well a grid can tell: each row's crossing with an edge is off by up to half a cell, evenly, so with
edges at odd angles an area bounded by P metres of edge has a standard deviation of about
h^2 sqrt(P / h / 6), and five of them are the bound; to it comes, for each turn, what the engine's
headings (chords a metre to either side) may differ from the true ones.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import shapely

from tests.passes.tracks import Floats, cover, make_plot, make_track

GRID_M = 0.05
_AGAIN_AFTER = 12  # steps: a point left for longer was left for good


@dataclass(frozen=True)
class Drive:
    """One trip: points, true headings in radians, and whether each step sprays."""

    xy_m: Floats
    heading_rad: Floats
    on: npt.NDArray[np.bool_]


def line_drive(start: Any, end: Any, *, off: tuple[float, float] | None = None) -> Drive:
    """A straight pass with points about a metre apart, its boom shut between two places along it."""
    a, b = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    length = float(np.hypot(*(b - a)))
    along = np.linspace(0, length, round(length) + 1)
    if off is not None:
        along = np.unique(np.concatenate([along, off]))
    on = np.ones(len(along), dtype=bool)
    if off is not None:
        on[(along >= off[0]) & (along < off[1])] = False
    heading = np.full(len(along), np.arctan2(*(b - a)[::-1]))
    return Drive(xy_m=a + along[:, None] / length * (b - a), heading_rad=heading, on=on)


def lap_drive(corners: Any, radius_m: float) -> Drive:
    """A lap inside a convex plot: straight sides joined by arcs, true headings everywhere."""
    ring = shapely.Polygon(corners).buffer(-radius_m, join_style="mitre")
    core = shapely.get_coordinates(shapely.geometry.polygon.orient(ring))[:-1]
    points, headings = [], []
    for i, here in enumerate(core):
        before, after = core[i - 1], core[(i + 1) % len(core)]
        into, out = np.arctan2(*(here - before)[::-1]), np.arctan2(*(after - here)[::-1])
        turn = (out - into + np.pi) % (2 * np.pi) - np.pi
        angles = into + np.linspace(0, turn, max(round(turn * radius_m / 0.7), 1) + 1)
        points.append(here + radius_m * np.column_stack([np.sin(angles), -np.cos(angles)]))
        headings.append(angles)
        side = float(np.hypot(*(after - here)))
        share = np.linspace(0, 1, max(round(side), 1) + 1)[1:-1, None]
        points.append(points[-1][-1] + share * (after - here))
        headings.append(np.full(len(share), out))
    xy, heading = np.concatenate([*points, points[0][:1]]), np.concatenate([*headings, headings[0][:1]])
    return Drive(xy_m=xy, heading_rad=heading, on=np.ones(len(xy), dtype=bool))


def turn_drive(drive: Drive, rad: float) -> Drive:
    c, s = np.cos(rad), np.sin(rad)
    return Drive(drive.xy_m @ np.array([[c, s], [-s, c]]), drive.heading_rad + rad, drive.on)


def count_on_grid(drives: list[Drive], boom_m: float, corners: Floats) -> tuple[Floats, Any]:
    """How often each grid point in the plot was driven over, and the points' number for one m2."""
    low, high = corners.min(axis=0), corners.max(axis=0)
    x = np.arange(low[0] + GRID_M / 2, high[0], GRID_M)
    y = np.arange(low[1] + GRID_M / 2, high[1], GRID_M)
    total = np.zeros((len(y), len(x)), dtype=np.int16)
    for drive in drives:
        last_met = np.full(total.shape, -10_000, dtype=np.int32)
        side = np.column_stack([-np.sin(drive.heading_rad), np.cos(drive.heading_rad)]) * boom_m / 2
        for k in np.flatnonzero(drive.on[:-1]):
            here, there = drive.xy_m[k], drive.xy_m[k + 1]
            quad = np.array([here + side[k], here - side[k], there - side[k + 1], there + side[k + 1]])
            cols = slice(*np.searchsorted(x, [quad[:, 0].min(), quad[:, 0].max()]))
            rows = slice(*np.searchsorted(y, [quad[:, 1].min(), quad[:, 1].max()]))
            met = _in_quad(x[cols], y[rows], quad)
            new = met & (k - last_met[rows, cols] > _AGAIN_AFTER)
            total[rows, cols] += new
            last_met[rows, cols][met] = k
    inside = _in_polygon(x, y, corners)
    return total[inside].astype(float), GRID_M**2


def _in_quad(x: Floats, y: Floats, quad: Floats) -> npt.NDArray[np.bool_]:
    """Points left of all four edges, for corners that run anticlockwise."""
    inside = np.ones((len(y), len(x)), dtype=bool)
    for a, b in zip(quad, np.roll(quad, -1, axis=0), strict=True):
        inside &= (b[0] - a[0]) * (y[:, None] - a[1]) - (b[1] - a[1]) * (x[None, :] - a[0]) >= 0
    return inside


def _in_polygon(x: Floats, y: Floats, corners: Floats) -> npt.NDArray[np.bool_]:
    """Points with an odd number of edges to their right."""
    inside = np.zeros((len(y), len(x)), dtype=bool)
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        crosses = (y > min(a[1], b[1])) & (y <= max(a[1], b[1]))
        if crosses.any():
            edge = a[0] + (y[crosses] - a[1]) * (b[0] - a[0]) / (b[1] - a[1])
            inside[crosses] ^= x[None, :] < edge[:, None]
    return inside


def as_track(drive: Drive, *, name: str) -> Any:
    return make_track(drive.xy_m, boom_on=drive.on, name=name)


IRREGULAR = np.array([(0, 0), (55, -9), (92, 10), (88, 52), (40, 66), (-8, 44)], dtype=float)


def parallel_passes(middles: list[float], boom_m: float, *, skip: int, reach: Floats) -> list[Drive]:
    """Passes from west to east and back, ending where they meet the lap; one has its boom shut for 12.5 m."""
    plot = shapely.Polygon(IRREGULAR).buffer(-boom_m * 0.9, join_style="mitre")
    drives = []
    for k, y in enumerate(middles):
        meet = shapely.get_coordinates(plot.intersection(shapely.LineString([(-50, y), (150, y)])))
        west, east = meet[meet[:, 0].argmin()], meet[meet[:, 0].argmax()]
        ends = (west, east) if k % 2 == 0 else (east, west)
        drives.append(line_drive(*ends, off=(reach[0], reach[1]) if k == skip else None))
    return drives


def application(kind: str) -> tuple[float, list[Drive]]:
    """Boom width and drives of three invented applications."""
    boom = {"small boom": 4.6, "wide boom": 6.1, "crossed": 3.66}[kind]
    lap = lap_drive(shapely.get_coordinates(shapely.Polygon(IRREGULAR).buffer(-boom / 2, join_style="mitre"))[:-1], 5.0)
    start = {"small boom": 4.0, "wide boom": 6.5, "crossed": 3.0}[kind]
    middles = [start + k * boom * 0.97 for k in range(16)]
    for k in range(6, 16):
        middles[k] += 1.3  # one pass too far over: a strip of about 1.2 m is left, and all later ones with it
    middles = [y for y in middles if y < 62 - boom]
    drives = [lap, *parallel_passes(middles, boom, skip=3, reach=np.array([20.0, 32.5]))]
    if kind == "crossed":
        drives += [line_drive((5, -5), (75, 60)), line_drive((80, 5), (10, 60))]
    return boom, drives


@pytest.mark.parametrize("kind", ["small boom", "wide boom", "crossed"])
def test_an_application_agrees_with_a_count_on_a_grid(kind):
    """An irregular plot with a lap, a dozen passes, a skip and a pass too far over: a grid counts the same ground."""
    boom_m, drives = application(kind)
    rad = np.radians(23.7)  # no edge lies along the grid
    drives = [turn_drive(drive, rad) for drive in drives]
    corners = turn_drive(Drive(IRREGULAR, np.zeros(6), np.ones(6, dtype=bool)), rad).xy_m
    count, cell_m2 = count_on_grid(drives, boom_m, corners)
    answer = cover(make_plot(corners), [as_track(d, name=f"trip {k}") for k, d in enumerate(drives)], boom_m=boom_m)
    # Edges of treated, overlapped or missed ground: two a pass, and the plot's own.
    edge_m = 2 * sum(float(np.hypot(*np.diff(d.xy_m, axis=0).T).sum()) for d in drives) + 350.0
    grid = 5 * GRID_M**2 * np.sqrt(edge_m / GRID_M / 6)
    # At the two ends of each of six bends of 5 m the engine's boom is tilted by up to 1 m / 4R over a metre
    # or two, which moves its tip by W/2 x tilt along the drive and W/2 x tilt^2 / 2 (under 1 cm) across it;
    # and the lap closes with a wedge of (W/2)^2 x tilt at its seam.
    bends = 12 * 2.0 * (boom_m / 2) * 0.05**2 / 2 + (boom_m / 2) ** 2 * 0.075
    bound = grid + bends
    assert bound < 3.0  # m2, of 5,000: or the check would say little
    assert count.size * cell_m2 == pytest.approx(answer.plot_m2, abs=grid)
    assert answer.treated_m2 == pytest.approx((count >= 1).sum() * cell_m2, abs=bound)
    assert answer.overlap_m2 == pytest.approx((count >= 2).sum() * cell_m2, abs=bound)
    assert answer.missed_m2 == pytest.approx((count == 0).sum() * cell_m2, abs=bound)
    # What was planted is there: a shut boom for 12.5 m, a strip of over a metre, a lap that overlaps.
    assert answer.missed_m2 > 12.5 * boom_m
    assert answer.overlap_m2 > 100.0


def test_the_grid_itself_counts_what_is_known():
    """The grid gives two passes three metres apart their 700 and 100 m2, within its own bound."""
    rad = np.radians(31.3)
    drives = [turn_drive(line_drive((0, y), (100, y)), rad) for y in (0.0, 3.0)]
    corners = np.array([(-5, -5), (105, -5), (105, 10), (-5, 10)], dtype=float)
    corners = turn_drive(Drive(corners, np.zeros(4), np.ones(4, dtype=bool)), rad).xy_m
    count, cell_m2 = count_on_grid(drives, 4.0, corners)
    bound = 5 * GRID_M**2 * np.sqrt(416 / GRID_M / 6)
    assert (count >= 1).sum() * cell_m2 == pytest.approx(700.0, abs=bound)
    assert (count >= 2).sum() * cell_m2 == pytest.approx(100.0, abs=bound)
