"""Whole applications through the engine, against polygons laid over each other by GEOS.

The oracle (tests/oracle.py) works out headings and boom ends for itself, so it sees a wrong heading
too. It counts in the plane in which an application is drawn; the engine gets the same application in
degrees. The two planes differ by 1e-8 of any area here.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from gladebook.coverage.boom import Settled, settle_boom
from gladebook.coverage.compute import cover_plots
from gladebook.coverage.ground import Ground, Marks, part_ground
from gladebook.coverage.result import Coverage
from gladebook.coverage.tally import tally_ground
from gladebook.geometry.frame import frame_for
from gladebook.passes.path import CutRules, lay_out
from gladebook.passes.sprayer import Sprayer
from gladebook.passes.track import Track
from gladebook.plots.acreage import measure_plots
from gladebook.plots.plot import Plot, plane_shape
from tests.oracle import Arrangement, Drive, PlotCount, arrange, count_at
from tests.passes.tracks import arc, box, make_track, straight, to_degrees, turned
from tests.properties.applications import random_ring

Floats = NDArray[np.float64]
Rng = np.random.Generator

# What the engine promises at its own spacing, of each figure itself. GPS drift of 15 cm moves missed
# ground by some 2 %: the engine's error lies far below that of any receiver.
TREATED, OVERLAP, MISSED = 1e-5, 5e-4, 1e-3
DRIVEN = 5e-5  # adds up all ribbons: each end of each counts, under others too
LEAST_M2 = 1e-4  # a square centimetre: no share of nothing is asked for


@dataclass(frozen=True)
class Job:
    """An application in metres: plots, drives by the receiver, and the sprayer.

    A drive's states have shape (n,), or (k, n) for the sprayer's k sections from left to right.
    """

    plots: tuple[Any, ...]
    drives: tuple[tuple[Floats, NDArray[np.bool_]], ...]
    sprayer: Sprayer
    widths_m: tuple[Floats, ...] = ()


def driven(job: Job) -> list[Drive]:
    """An application's drives as the oracle takes them."""
    sprayer = job.sprayer
    behind_m, middle_m = sprayer.behind_m or 0.0, -(sprayer.right_m or 0.0)
    drives: list[Drive] = []
    for number, (xy, on) in enumerate(job.drives):
        if job.widths_m:
            half_m = np.atleast_2d(job.widths_m[number]) / 2
            left_m, right_m = middle_m + half_m, middle_m - half_m
        else:
            sections_m = sprayer.sections_m or (sprayer.width_m or 0.0,)
            bounds_m = middle_m + sum(sections_m) / 2 - np.cumsum([0.0, *sections_m])
            left_m, right_m = bounds_m[:-1], bounds_m[1:]
        drives.append(Drive(xy, on=np.atleast_2d(on), left_m=left_m, right_m=right_m, behind_m=behind_m))
    return drives


def counted(job: Job) -> Arrangement:
    """What the oracle says."""
    return arrange(driven(job), job.plots)


def drawn(job: Job) -> list[Plot]:
    return [Plot(name=f"plot {k}", shape=shapely.transform(p, to_degrees)) for k, p in enumerate(job.plots)]


def recorded(job: Job) -> list[Track]:
    """An application's tracks, as a recorder writes them."""
    tracks: list[Track] = []
    for number, (xy, on) in enumerate(job.drives):
        track = make_track(
            xy,
            boom_on=np.atleast_2d(on).any(axis=0),
            width_m=job.widths_m[number] if job.widths_m else np.nan,
            name=f"trip {number}",
        )
        tracks.append(replace(track, sections=on.T.astype(np.int8)) if np.ndim(on) == 2 else track)
    return tracks


def covered(job: Job) -> Coverage:
    """What the engine says."""
    return cover_plots(measure_plots(drawn(job)).plots, recorded(job), sprayer=job.sprayer)


def plot_with_hole(rng: Rng, *, across_m: float = 100.0, corners: int = 11) -> Any:
    """An irregular plot, hollow in places, with a hole in it."""
    angle = np.sort(np.linspace(0, 2 * np.pi, corners, endpoint=False) + rng.uniform(0, 0.4, corners))
    away = across_m / 2 * rng.uniform(0.75, 1.0, corners)
    ring = np.column_stack([away * np.cos(angle), 0.75 * away * np.sin(angle)])
    hole = np.array([0.12, -0.05]) + arc((0, 0), 0.06, start_deg=0, stop_deg=360, steps=9)[:-1] * [1.0, 0.6]
    return shapely.Polygon(ring, [across_m * hole])


def rows(
    plot: Any, *, spacing_m: float, step_m: float = 2.1, turns_on: bool = False, left_out: Sequence[int] = ()
) -> tuple[Floats, NDArray[np.bool_]]:
    """Passes to and fro over a plot, joined by half circles; those left out are turned past."""
    west, south, east, north = plot.bounds
    pieces: list[Floats] = []
    states: list[NDArray[np.bool_]] = []
    lines = [
        shapely.intersection(plot.convex_hull, shapely.LineString([(west - 9, y), (east + 9, y)])).bounds
        for y in np.arange(south + spacing_m / 2, north, spacing_m)
    ]
    heads_east = True
    for number, (x0, y, x1, _) in enumerate(lines):
        if number in left_out:
            continue
        pass_m = straight((x0, y), (x1, y), step_m=step_m)
        pass_m = pass_m if heads_east else pass_m[::-1]
        if pieces:
            here, there = pieces[-1][-1], pass_m[0]
            radius = float(there[1] - here[1]) / 2
            x = max(here[0], there[0]) + 2.0 if not heads_east else min(here[0], there[0]) - 2.0
            steps = max(round(np.pi * radius / step_m), 5)
            bend = arc((x, here[1] + radius), radius, start_deg=-90, stop_deg=90, steps=steps)
            bend = bend if not heads_east else np.column_stack([2 * x - bend[:, 0], bend[:, 1]])
            # Passes end where the plot does, bends beyond: straight ways lead there and back.
            way_out, way_back = straight(here, bend[0], step_m=step_m), straight(bend[-1], there, step_m=step_m)
            bend = np.concatenate([way_out[1:-1], bend, way_back[1:-1]])
            pieces.append(bend)
            states.append(np.full(len(bend), turns_on))
        state = np.ones(len(pass_m), dtype=bool)
        state[-1] = turns_on
        pieces.append(pass_m)
        states.append(state)
        heads_east = not heads_east
    return np.concatenate(pieces), np.concatenate(states)


def lap(plot: Any, *, inside_m: float, step_m: float = 2.1) -> Floats:
    """Once round inside a plot's edge, its corners rounded by 5 m."""
    ring = shapely.buffer(shapely.buffer(shapely.Polygon(plot.exterior), -inside_m - 5.0), 5.0).exterior
    along = np.arange(0.0, ring.length, step_m)
    points: Floats = shapely.get_coordinates(shapely.line_interpolate_point(ring, along))
    return points


def drift(rng: Rng, n: int, *, sd_m: float = 0.6, tau_s: float = 60.0) -> Floats:
    """A receiver's error: correlated for about a minute, and 2 cm of its own at each point (common practice)."""
    keep = np.exp(-1 / tau_s)
    error = np.zeros((n, 2))
    error[0] = rng.normal(0, sd_m, 2)
    shocks = rng.normal(0, sd_m * np.sqrt(1 - keep**2), (n, 2))
    for i in range(1, n):
        error[i] = keep * error[i - 1] + shocks[i]
    return error + rng.normal(0, 0.02, (n, 2))


def drifted(rng: Rng, xy: Floats, *, turn_deg: float = 0.0, sd_m: float = 0.6) -> Floats:
    return turned(xy + drift(rng, len(xy), sd_m=sd_m), turn_deg)


def turn_shape(shape: Any, deg: float) -> Any:
    return shapely.transform(shape, lambda xy: turned(xy, deg))


def headland_and_rows(rng: Rng) -> Job:
    """A lap along the edge, then passes, the boom off in turns; two passes are left out."""
    plot, deg = plot_with_hole(rng), 23.0
    inner, on = rows(shapely.buffer(plot, -4.0), spacing_m=4.2, left_out=(5, 11))
    xy = np.concatenate([lap(plot, inside_m=2.2), inner])
    state = np.append(np.ones(len(xy) - len(inner), dtype=bool), on)
    state[len(xy) - len(inner) - 1] = False
    return Job((turn_shape(plot, deg),), ((drifted(rng, xy, turn_deg=deg), state),), Sprayer(width_m=4.5))


def boom_on_in_turns(rng: Rng) -> Job:
    """Passes whose half circles are sprayed too, wider than half the boom."""
    plot = plot_with_hole(rng)
    xy, on = rows(plot, spacing_m=6.3, turns_on=True, left_out=(4,))
    return Job((plot,), ((drifted(rng, xy), on),), Sprayer(width_m=6.5))


def tight_turns_with_a_wide_boom(rng: Rng) -> Job:
    """Half circles of 2 m with a boom of 9 m on: the inner tips run backward."""
    plot, deg = plot_with_hole(rng, across_m=80.0), -41.0
    xy, on = rows(plot, spacing_m=4.0, step_m=0.9, turns_on=True, left_out=(5, 6, 7))
    return Job((turn_shape(plot, deg),), ((drifted(rng, xy, turn_deg=deg, sd_m=0.3), on),), Sprayer(width_m=9.0))


def crossings(rng: Rng) -> Job:
    """A plot driven in rows, then again in rows 68 degrees to those, too far apart both times."""
    plot = plot_with_hole(rng)
    first, on_first = rows(plot, spacing_m=8.0)
    second, on_second = rows(turn_shape(plot, -68.0), spacing_m=9.0)
    return Job(
        (plot,),
        ((drifted(rng, first), on_first), (drifted(rng, second, turn_deg=68.0), on_second)),
        Sprayer(width_m=5.5),
    )


def strong_drift(rng: Rng) -> Job:
    """A phone under trees: a metre and a half of drift."""
    plot, deg = plot_with_hole(rng), 131.0
    xy, on = rows(plot, spacing_m=3.7)
    return Job((turn_shape(plot, deg),), ((drifted(rng, xy, turn_deg=deg, sd_m=1.5), on),), Sprayer(width_m=3.7))


def sections_that_switch(rng: Rng) -> Job:
    """Five sections that open over the plot alone, and now and then shut for no reason."""
    plot, deg = plot_with_hole(rng), 77.0
    xy, _ = rows(plot, spacing_m=8.8, turns_on=True)
    xy = drifted(rng, xy, turn_deg=deg, sd_m=0.3)
    plot = turn_shape(plot, deg)
    sections = (2.5, 1.5, 1.0, 1.5, 2.5)
    inside = shapely.contains_xy(plot, *xy.T)
    shut = rng.random((5, len(xy) // 12 + 1)) < 0.08
    on = inside & ~np.repeat(shut, 12, axis=1)[:, : len(xy)]
    return Job((plot,), ((xy, on),), Sprayer(width_m=sum(sections), sections_m=sections))


def boom_behind_and_aside(rng: Rng) -> Job:
    """The receiver 2.4 m ahead of the boom and 0.8 m left of its middle, turns sprayed."""
    plot, deg = plot_with_hole(rng), 12.0
    xy, on = rows(plot, spacing_m=6.4, turns_on=True)
    sprayer = Sprayer(width_m=6.0, behind_m=2.4, right_m=0.8)
    return Job((turn_shape(plot, deg),), ((drifted(rng, xy, turn_deg=deg, sd_m=0.3), on),), sprayer)


def boom_ahead_with_sections(rng: Rng) -> Job:
    """A boom with three sections mounted 3 m ahead of the receiver."""
    plot, deg = plot_with_hole(rng), -7.0
    xy, on = rows(plot, spacing_m=6.2)
    state = np.stack([on & (rng.random(len(on)) > 0.02) for _ in range(3)])
    sprayer = Sprayer(width_m=6.0, behind_m=-3.0, sections_m=(2.0, 2.0, 2.0))
    return Job((turn_shape(plot, deg),), ((drifted(rng, xy, turn_deg=deg), state),), sprayer)


def plots_that_touch_and_overlap(rng: Rng) -> Job:
    """Four plots: two share an edge, one lies over both, one touches at a corner; one drive over all."""
    plots = (
        shapely.Polygon(box(-50, -30, 0, 30)),
        shapely.Polygon(box(0, -30, 45, 25)),
        shapely.Polygon([(-20, -10), (30, -20), (20, 20), (-5, 12)]),
        shapely.Polygon(box(45, 25, 70, 40)),
    )
    xy, on = rows(shapely.box(-55, -35, 60, 35), spacing_m=5.3, left_out=(6,))
    deg = 33.0
    return Job(tuple(turn_shape(p, deg) for p in plots), ((drifted(rng, xy, turn_deg=deg), on),), Sprayer(width_m=5.0))


def plots_drawn_over_each_other(rng: Rng) -> Job:
    """Nine plots: stars at random over each other, one twice, one within another, one in two parts, one with a ring."""
    stars = [random_ring(rng, centre=tuple(rng.uniform(-25, 25, 2)), radius_m=35.0) for _ in range(5)]
    inner = shapely.Polygon(stars[0]).representative_point().buffer(11.0)
    parts = shapely.MultiPolygon([shapely.box(-50, -40, -20, -10), shapely.box(-20, -10, 12, 30)])
    ring = shapely.Point(10, 0).buffer(30.0).difference(shapely.Point(10, 0).buffer(18.0))
    plots = (*(shapely.Polygon(star) for star in stars), shapely.Polygon(stars[0]), inner, parts, ring)
    xy, on = rows(shapely.box(-60, -50, 60, 50), spacing_m=5.2, turns_on=True, left_out=(4, 12))
    return Job(plots, ((drifted(rng, xy), on),), Sprayer(width_m=5.6))


def several_tracks(rng: Rng) -> Job:
    """Three trips to one plot: rows, the same rows again after a drift, and a wandering touch-up."""
    plot = plot_with_hole(rng)
    xy, on = rows(plot, spacing_m=6.6)
    heading = np.cumsum(np.convolve(rng.normal(0, 0.12, 400), np.ones(5) / 5, mode="same"))
    wander = np.cumsum(1.7 * np.column_stack([np.cos(heading), np.sin(heading)]), axis=0)
    wander -= wander.mean(axis=0)
    trips = (
        (drifted(rng, xy), on),
        (drifted(rng, xy[: len(xy) // 2]), on[: len(xy) // 2]),
        (wander, wander[:, 0] > -30),
    )
    return Job((plot,), trips, Sprayer(width_m=5.8))


def few_points_far_apart(rng: Rng) -> Job:
    """A recorder that writes a point every 9 m."""
    plot, deg = plot_with_hole(rng), 55.0
    xy, on = rows(plot, spacing_m=6.0, step_m=9.0, turns_on=True)
    return Job((turn_shape(plot, deg),), ((drifted(rng, xy, turn_deg=deg, sd_m=0.3), on),), Sprayer(width_m=6.4))


def a_spiral_with_widths_that_change(rng: Rng) -> Job:
    """From the middle outward with 6 m, of which a recorder writes 4 m at times."""
    angle = np.cumsum(1.9 / (6.0 + 0.9 * np.arange(1200) ** 0.5 * 1.9 / 1.35))
    xy = (6.0 + 5.7 * angle / (2 * np.pi))[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    xy = xy[np.hypot(*xy.T) < 48] + 0.0
    width = np.where(np.arange(len(xy)) // 40 % 4 == 2, 4.0, 6.0)
    plot = shapely.Polygon(box(-40, -36, 38, 40), [arc((3, -3), 9.0, start_deg=0, stop_deg=360, steps=24)[:-1]])
    xy = drifted(rng, xy, sd_m=0.3)
    return Job((plot,), ((xy, np.ones(len(xy), dtype=bool)),), Sprayer(width_m=6.0), widths_m=(width,))


def large_fields(rng: Rng) -> Job:
    """Forty acres in two plots, so much that the engine's lines lie 25 cm apart; turns sprayed on one."""
    first = plot_with_hole(rng, across_m=420.0)
    second = shapely.transform(plot_with_hole(rng, across_m=360.0), lambda xy: xy + np.array([420.0, 90.0]))
    trips = []
    for plot, spacing_m, turns_on in ((first, 5.7, True), (second, 5.2, False)):
        xy, on = rows(plot, spacing_m=spacing_m, step_m=3.1, turns_on=turns_on, left_out=(9, 30))
        trips.append((drifted(rng, xy, turn_deg=0.0), on))
    return Job((first, second), tuple(trips), Sprayer(width_m=5.5))


def many_small_plots(rng: Rng) -> Job:
    """Forty plots of a third of an acre, each driven by itself, a pass left out, all judged in one go."""
    plots: list[Any] = []
    trips: list[tuple[Floats, NDArray[np.bool_]]] = []
    for number in range(40):
        at = np.array([90.0 * (number % 8), 80.0 * (number // 8)])
        plot, deg = plot_with_hole(rng, across_m=rng.uniform(40, 70)), rng.uniform(0, 360)
        xy, on = rows(plot, spacing_m=5.0, left_out=(3,))
        trips.append((drifted(rng, xy, turn_deg=deg) + at, on))
        plots.append(shapely.transform(turn_shape(plot, deg), lambda xy, at=at: xy + at))
    return Job(tuple(plots), tuple(trips), Sprayer(width_m=5.2))


JOBS: tuple[Callable[[Rng], Job], ...] = (
    headland_and_rows,
    boom_on_in_turns,
    tight_turns_with_a_wide_boom,
    crossings,
    strong_drift,
    sections_that_switch,
    boom_behind_and_aside,
    boom_ahead_with_sections,
    plots_that_touch_and_overlap,
    plots_drawn_over_each_other,
    several_tracks,
    few_points_far_apart,
    a_spiral_with_widths_that_change,
    large_fields,
    many_small_plots,
)


@cache
def truth_of(make: Callable[[Rng], Job]) -> Arrangement:
    """What the oracle makes of an application."""
    return counted(make(np.random.default_rng(1)))


@cache
def answer_of(make: Callable[[Rng], Job]) -> Coverage:
    """What the engine makes of the same."""
    return covered(make(np.random.default_rng(1)))


@pytest.mark.parametrize("make", JOBS)
def test_an_application_has_something_of_everything(make):
    """Each application treats most, and leaves, covers twice and strays over 20 m2 or more."""
    truth = truth_of(make)
    whole = truth.total
    assert whole.treated_m2 > sum(whole.count_m2) / 2
    assert min(whole.missed_m2, whole.overlap_m2, truth.outside_m2) > 20.0


@pytest.mark.parametrize("make", [tight_turns_with_a_wide_boom, sections_that_switch, several_tracks])
def test_the_oracles_overlays_lose_nothing(make):
    """At places drawn at random the oracle's layers lie as deep as pieces of ribbons do, told by point in polygon."""
    job = make(np.random.default_rng(1))
    layers = truth_of(make).layers
    west, south, east, north = layers[0].bounds
    places = np.random.default_rng(7).uniform((west, south), (east, north), (3000, 2))
    # Within a millimetre of an edge a place may be told either way.
    edges = [shapely.boundary(shape) for shape in layers if not shapely.is_empty(shape)]
    clear = np.all([shapely.distance(shapely.points(places), edge) > 1e-3 for edge in edges], axis=0)
    places = places[clear]
    deep = np.sum([shapely.contains_xy(shape, *places.T) for shape in layers], axis=0)
    told = count_at(driven(job), places)
    np.testing.assert_array_equal(deep, np.minimum(told, 3))
    assert len(places) > 2500
    assert (deep > 1).sum() > 10


@pytest.mark.parametrize("make", JOBS)
def test_an_application_is_counted_as_by_polygons(make):
    """Treated, overlap and missed of all plots together agree with the arrangement to what the engine promises."""
    truth, answer = truth_of(make), answer_of(make)
    # Ground that plots share counts once.
    assert answer.treated_m2 == pytest.approx(truth.total.treated_m2, rel=TREATED)
    assert answer.overlap_m2 == pytest.approx(truth.total.overlap_m2, rel=OVERLAP)
    assert answer.missed_m2 == pytest.approx(truth.total.missed_m2, rel=MISSED)
    assert answer.unknown_m2 == 0.0
    assert answer.outside_m2 == pytest.approx(truth.outside_m2, rel=OVERLAP)
    assert answer.driven_m2 == pytest.approx(truth.driven_m2, rel=DRIVEN)


@pytest.mark.parametrize("make", JOBS)
def test_each_plot_is_counted_as_by_polygons(make):
    """Treated, overlap and missed of each plot agree with the arrangement to what the engine promises.

    The promise is for all plots together. One of many plots in a sweep may be off by thirty times the square of the
    lines' spacing more: corners and crossings cost about that square each, either way, and a plot has hundreds.
    """
    truth, answer = truth_of(make), answer_of(make)
    least_m2 = LEAST_M2 + 30 * answer.spacing_m**2
    for row, plot in zip(answer.plots, truth.plots, strict=True):
        assert row.plot_m2 == pytest.approx(sum(plot.count_m2), rel=1e-6), row.name
        assert row.treated_m2 == pytest.approx(plot.treated_m2, rel=TREATED, abs=least_m2), row.name
        assert row.overlap_m2 == pytest.approx(plot.overlap_m2, rel=OVERLAP, abs=least_m2), row.name
        assert row.missed_m2 == pytest.approx(plot.missed_m2, rel=MISSED, abs=least_m2), row.name


@pytest.mark.parametrize("make", JOBS)
def test_ground_is_told_by_how_often_it_was_driven_over(make):
    """Ground driven over never, once, twice and more often agrees as far as treated, overlap and missed do."""
    truth, answer = truth_of(make), answer_of(make)
    least_m2 = LEAST_M2 + 30 * answer.spacing_m**2
    for row, plot in zip(answer.plots, truth.plots, strict=True):
        for got, want, within in zip(row.count_m2, plot.count_m2, slack_m2(plot, least_m2=least_m2), strict=True):
            assert got == pytest.approx(want, abs=within), f"{row.name}: {row.count_m2} against {plot.count_m2}"


def slack_m2(plot: PlotCount, *, least_m2: float) -> tuple[float, float, float, float]:
    """By how much each count may differ: once is treated less overlap, so it may differ by both."""
    overlap = OVERLAP * plot.overlap_m2 + least_m2
    return MISSED * plot.missed_m2 + least_m2, TREATED * plot.treated_m2 + overlap, overlap, overlap


def settle(job: Job) -> tuple[Ground, list[Settled]]:
    """An application as the engine's inner parts take it."""
    plots = drawn(job)
    frame = frame_for(*[p.shape for p in plots])
    planes = [plane_shape(p.shape, frame=frame) for p in plots]
    whole = shapely.union_all(planes, grid_size=1e-6)
    paths = [lay_out(track, frame=frame, rules=CutRules()) for track in recorded(job)]
    settled = [settle_boom(path, sprayer=job.sprayer, ground=whole) for path in paths]
    return part_ground(planes, whole=whole, marks=Marks(), frame=frame, edge_m=2.0), settled


@pytest.mark.parametrize("make", JOBS)
def test_the_compiled_engine_gives_the_same_numbers(make):
    """Ground by region and count, ground driven, missed stretches and shared ground do not depend on the engine."""
    pytest.importorskip("numba", reason="numba is not installed, so there is no compiled engine")
    ground, settled = settle(make(np.random.default_rng(1)))
    steps = [np.arange(len(one.path.xy_m)) // 50 for one in settled]
    plain, compiled = (
        tally_ground(ground, settled=settled, passes=steps, progress=lambda _: None, wish=wish)
        for wish in ("numpy", "compiled")
    )
    assert (plain.engine.compiled, compiled.engine.compiled) == (False, True)
    # Sums in another order: 1e-9 of the ground, far below a square millimetre on an acre.
    within_m2 = 1e-9 * plain.driven_m2
    assert compiled.driven_m2 == pytest.approx(plain.driven_m2, abs=within_m2)
    np.testing.assert_allclose(compiled.area_m2, plain.area_m2, rtol=0, atol=within_m2)
    lengths = [(t.missed.end_m - t.missed.start_m).sum() * t.spacing_m for t in (plain, compiled)]
    assert lengths[1] == pytest.approx(lengths[0], abs=within_m2)
    shared = [{(first, second): m2 for first, second, m2 in t.pairs if m2 > within_m2} for t in (plain, compiled)]
    assert shared[1] == pytest.approx(shared[0], abs=within_m2)


@dataclass(frozen=True)
class Antenna:
    """Where a receiver sits on the sprayer, seen from the middle of the boom."""

    ahead_m: float
    right_m: float

    def track(self, middle: Floats, heading_rad: Floats) -> Floats:
        """Where it goes when the middle of the boom goes there with those headings."""
        ahead = np.column_stack([np.cos(heading_rad), np.sin(heading_rad)])
        right = np.column_stack([np.sin(heading_rad), -np.cos(heading_rad)])
        return middle + self.ahead_m * ahead + self.right_m * right

    @property
    def sprayer(self) -> Sprayer:
        return Sprayer(width_m=5.0, behind_m=self.ahead_m, right_m=-self.right_m)


def ground_with(antenna: Antenna, drives: list[tuple[Floats, Floats]], plot: Any, *, sprayer: Sprayer) -> Floats:
    """The plot's counts, when the middle of the boom goes there with those headings, recorded by the antenna."""
    tracks = [antenna.track(middle, heading_rad) for middle, heading_rad in drives]
    answer = covered(Job((plot,), tuple((xy, np.ones(len(xy), dtype=bool)) for xy in tracks), sprayer))
    return np.array(answer.plots[0].count_m2)


UNDER = Antenna(0.0, 0.0)
ANTENNAS = pytest.mark.parametrize("antenna", [Antenna(0.0, 1.2), Antenna(1.5, 0.0), Antenna(-1.5, -0.8)])


@ANTENNAS
@pytest.mark.parametrize("deg", [0.0, 64.0])
def test_two_antennas_on_straight_passes_give_the_same_ground(antenna, deg):
    """Wherever the receiver sits, straight passes that start and stop at the same moments treat the same ground."""
    plot = turn_shape(plot_with_hole(np.random.default_rng(2)), deg)
    drives = []
    for number, y in enumerate(np.arange(-40.0, 41.0, 4.7)):
        middle = turned(straight((-38, y), (44, y + 2), step_m=1.9), deg)
        middle = middle if number % 2 else middle[::-1]
        along = middle[-1] - middle[0]
        drives.append((middle, np.full(len(middle), np.arctan2(along[1], along[0]))))
    under = ground_with(UNDER, drives, plot, sprayer=UNDER.sprayer)
    # A straight pass has one heading anywhere on the sprayer, so only the engine's own error is left.
    there = ground_with(antenna, drives, plot, sprayer=antenna.sprayer)
    count = PlotCount((under[0], under[1], under[2], under[3]))
    assert (np.abs(there - under) <= slack_m2(count, least_m2=LEAST_M2)).all()
    unsaid = ground_with(antenna, drives, plot, sprayer=UNDER.sprayer)
    assert np.abs(unsaid - under).max() > 5.0


@ANTENNAS
def test_two_antennas_on_winding_passes_give_the_same_ground(antenna):
    """On passes that wind gently, receivers agree to a^2 / R, by which one ahead or behind puts the boom outward."""
    # A receiver a metres ahead moves at atan(a / R) to the sprayer's heading, so the boom laid out behind it lies
    # a^2 / R outward of where it went. Passes side by side wind alike, so all swaths move together, and a plot's
    # ground changes by no more than that along its edge. One beside the boom moves as the sprayer heads.
    plot = plot_with_hole(np.random.default_rng(3))
    swing_m, bend_per_m, step_m = 1.5, 2 * np.pi / 60, 1.9
    x = np.arange(-75.0, 75.0, step_m)
    heading_rad = np.arctan(swing_m * bend_per_m * np.cos(bend_per_m * x))
    drives = []
    for number, y in enumerate(np.arange(-44.0, 45.0, 4.7)):
        middle = np.column_stack([x, y + swing_m * np.sin(bend_per_m * x)])
        ahead = (middle, heading_rad)
        drives.append(ahead if number % 2 else (middle[::-1], heading_rad[::-1] + np.pi))
    under = ground_with(UNDER, drives, plot, sprayer=UNDER.sprayer)
    sharpest_per_m = swing_m * bend_per_m**2
    outward_m = antenna.ahead_m**2 * sharpest_per_m
    # A chord over 1.9 m to either side misses the heading by the change of curvature x 1.9^2 / 6: a milliradian.
    aside_m = (abs(antenna.right_m) + abs(antenna.ahead_m)) * sharpest_per_m * bend_per_m * step_m**2 / 6
    within_m2 = (outward_m + aside_m) * plot.length + OVERLAP * under[2] + MISSED * under[0]
    there = ground_with(antenna, drives, plot, sprayer=antenna.sprayer)
    assert np.abs(there - under).max() < within_m2
    assert within_m2 < 0.004 * plot.area


@pytest.mark.parametrize(
    "antenna", [UNDER, Antenna(0.0, 1.5), Antenna(0.0, -2.0), Antenna(2.0, 0.0), Antenna(-2.0, 1.0)]
)
def test_antennas_on_a_circle_give_the_ring_but_for_a2_over_r(antenna):
    """On a circle a receiver beside the boom gives the boom's ring, and one a metres ahead one wider by a^2 / R."""
    radius_m, half_m, chords = 14.0, 2.5, 80
    angle = 2 * np.pi / chords * np.arange(chords + 1.0)
    middle = radius_m * np.column_stack([np.cos(angle), np.sin(angle)])
    # From the receiver, at r, the boom lies a behind along the tangent: its tips at sqrt(side^2 + a^2).
    receiver_m = np.hypot(radius_m + antenna.right_m, antenna.ahead_m)
    centre_m = receiver_m - antenna.right_m
    inner, outer = (np.hypot(centre_m + side, antenna.ahead_m) for side in (-half_m, half_m))
    wedge = shapely.Polygon([(0, 0), *(25.0 / radius_m * middle[10:71])])
    missed, once, *more = ground_with(antenna, [(middle, angle + np.pi / 2)], wedge, sprayer=antenna.sprayer)
    per_m2 = 60 / 2 * np.sin(2 * np.pi / chords)
    assert once == pytest.approx(per_m2 * (outer**2 - inner**2), rel=TREATED)
    assert missed == pytest.approx(wedge.area - once, rel=TREATED)
    assert sum(more) == pytest.approx(0.0, abs=1e-3)
    hole = shapely.Polygon([(0, 0), *(middle[10:71])])
    inside, *_ = ground_with(antenna, [(middle, angle + np.pi / 2)], hole, sprayer=antenna.sprayer)
    assert inside == pytest.approx(per_m2 * inner**2, rel=TREATED)
    # To first order in a / r: both tips lie a^2 / r farther out than the boom's.
    assert inner - (radius_m - half_m) == pytest.approx(antenna.ahead_m**2 / radius_m, abs=0.12)
