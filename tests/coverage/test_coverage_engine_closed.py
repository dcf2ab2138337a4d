"""Ground that geometry gives by a formula, by the engine and by the oracle that checks it.

Where a drive's ends would blur the answer (a heading there is one-sided), the plot is laid over the
part that they do not reach, so that the formula holds to rounding. Circles are driven in chords: n
equal chords of turn d about a centre sweep, between tips at distances a and b from it,
n / 2 x (b^2 - a^2) sin d, which nears pi (b^2 - a^2) from below with (d^2) / 6.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
import shapely

from gladebook.passes.sprayer import Sprayer
from tests.coverage.test_coverage_engine import MISSED, OVERLAP, TREATED, Job, counted, covered, turn_shape
from tests.passes.tracks import Floats, arc, joined, straight, turned

FIELD = shapely.box(-150, -150, 150, 150)
DEGREES = [0.0, 17.3, 90.0, -142.0]
CHORDS = 56  # round a circle of 10 m: 1.12 m each, so that a heading's reach is one chord
TURN = 2 * np.pi / CHORDS


@dataclass(frozen=True)
class Ground:
    """An answer, and how exact it must be."""

    counts_m2: list[tuple[float, float, float, float]]
    outside_m2: float
    driven_m2: float
    treated_rel: float
    overlap_rel: float

    def treated(self, m2: float, *, plus_m2: float = 0.0) -> Any:
        return pytest.approx(m2, rel=self.treated_rel, abs=1e-5 + plus_m2)

    def overlap(self, m2: float, *, plus_m2: float = 0.0) -> Any:
        return pytest.approx(m2, rel=self.overlap_rel, abs=1e-3 + plus_m2)


def by_oracle(job: Job) -> Ground:
    """Micrometres of grid along 200 m of edges: 1e-6 of a swath."""
    found = counted(job)
    counts = [plot.count_m2 for plot in found.plots]
    return Ground(counts, found.outside_m2, found.driven_m2, treated_rel=1e-6, overlap_rel=1e-6)


def by_engine(job: Job) -> Ground:
    """What it promises at its own spacing."""
    found = covered(job)
    counts = [plot.count_m2 for plot in found.plots]
    return Ground(counts, found.outside_m2, found.driven_m2, treated_rel=TREATED, overlap_rel=OVERLAP)


WAYS = pytest.mark.parametrize("way", [by_oracle, by_engine])
Way = Callable[[Job], Ground]


def on(xy: Floats) -> tuple[Floats, Any]:
    """A drive with the boom on all along."""
    return xy, np.ones(len(xy), dtype=bool)


def circle(radius_m: float, *, start: int, stop: int) -> Floats:
    """Round the origin, anticlockwise, from one of the chords' corners to another."""
    degrees = 360.0 / CHORDS
    return arc((0, 0), radius_m, start_deg=start * degrees, stop_deg=stop * degrees, steps=abs(stop - start))


def sector(*, first: int, last: int, from_m: float = 0.0, to_m: float = 20.0) -> Any:
    """The plot from one corner's ray to another's, between two circles driven in chords."""
    inner = circle(from_m, start=last, stop=first) if from_m else [(0.0, 0.0)]
    return shapely.Polygon([*circle(to_m, start=first, stop=last), *inner])


def ring_m2(inner_m: float, outer_m: float, *, chords: int) -> float:
    return chords / 2 * (outer_m**2 - inner_m**2) * float(np.sin(TURN))


@WAYS
@pytest.mark.parametrize("deg", DEGREES)
@pytest.mark.parametrize("angle_deg", [90.0, 37.0, 143.0])
def test_two_rectangles_cross_in_a_parallelogram(way: Way, angle_deg, deg):
    """Swaths of 4.3 and 6.1 m that cross at an angle share w1 w2 / sin(angle)."""
    along = straight((-60, 0), (60, 0), step_m=1.7)
    job = Job(
        (FIELD,),
        (on(turned(along, deg)), on(turned(along, deg + angle_deg))),
        Sprayer(width_m=5.0),
        widths_m=(np.full(len(along), 4.3), np.full(len(along), 6.1)),
    )
    found = way(job)
    both_m2 = 4.3 * 6.1 / np.sin(np.radians(angle_deg))
    _, once, twice, more = found.counts_m2[0]
    assert twice == found.overlap(both_m2)
    assert once == found.treated(120 * (4.3 + 6.1) - 2 * both_m2, plus_m2=found.overlap_rel * both_m2)
    assert more == 0.0
    assert found.outside_m2 == 0.0


@WAYS
@pytest.mark.parametrize("deg", DEGREES)
def test_passes_side_by_side(way: Way, deg):
    """Two passes of 4 m x 100 m, 3 m apart: 800 m2 driven, 700 treated, 100 of them twice."""
    up, down = straight((0, -50), (0, 50)), straight((3, 50), (3, -50))
    found = way(Job((FIELD,), (on(turned(up, deg)), on(turned(down, deg))), Sprayer(width_m=4.0)))
    assert found.driven_m2 == found.treated(800.0)
    assert sum(found.counts_m2[0][1:]) == found.treated(700.0)
    assert found.counts_m2[0][2] == found.overlap(100.0)
    assert found.counts_m2[0] == (found.treated(90000 - 700), found.treated(600.0), found.overlap(100.0), 0.0)


@WAYS
@pytest.mark.parametrize("deg", DEGREES)
def test_passes_that_lie_three_and_four_deep(way: Way, deg):
    """Four passes of 4 m x 100 m, 1 m apart: 200 m2 once, 200 twice, and 300 three times or more."""
    # Across: a metre each of 1, 2, 3, 4, 3, 2, 1 passes.
    drives = tuple(on(turned(straight((x, -50), (x, 50), step_m=1.3), deg)) for x in (0.0, 1.0, 2.0, 3.0))
    found = way(Job((FIELD,), drives, Sprayer(width_m=4.0)))
    assert found.counts_m2[0][1:] == (found.overlap(200.0), found.overlap(200.0), found.overlap(300.0))
    assert sum(found.counts_m2[0][1:]) == found.treated(700.0)


@WAYS
@pytest.mark.parametrize("deg", DEGREES)
def test_plots_that_a_pass_crosses(way: Way, deg):
    """A pass of 5 m over two plots that touch, one over both and one beside: each its own ground, outside the rest."""
    plots = tuple(
        turn_shape(p, deg)
        for p in (
            shapely.box(-40, -20, 0, 20),
            shapely.box(0, -20, 30, 1),
            shapely.box(-10, -10, 10, 10),
            shapely.box(-40, 20, 0, 40),
        )
    )
    drive = turned(straight((-60, 0), (60, 0), step_m=1.9), deg)
    found = way(Job(plots, (on(drive),), Sprayer(width_m=5.0)))
    treated = [sum(counts[1:]) for counts in found.counts_m2]
    assert treated == [found.treated(m2) for m2 in (40 * 5.0, 30 * 3.5, 20 * 5.0, 0.0)]
    # In a plot: 40 m of 5 m, 30 m of 3.5 m, and the third's corner north of the second: 10 m of 1.5 m.
    assert found.outside_m2 == found.treated(120 * 5.0 - 200 - 105 - 15)


@WAYS
@pytest.mark.parametrize("deg", DEGREES)
def test_a_ring(way: Way, deg):
    """On a circle of 10 m with 6 m of boom each chord sweeps r w sin d: 2 pi r w less a share of d^2 / 6."""
    first, last = 4, 50
    plot = sector(first=first, last=last)
    found = way(
        Job((turn_shape(plot, deg),), (on(turned(circle(10.0, start=0, stop=CHORDS), deg)),), Sprayer(width_m=6.0))
    )
    chords_m2 = ring_m2(7.0, 13.0, chords=last - first)
    assert found.counts_m2[0][1] == found.treated(chords_m2)
    assert found.counts_m2[0][2] + found.counts_m2[0][3] == pytest.approx(0.0, abs=1e-3)
    true_m2 = 2 * np.pi * 10.0 * 6.0 * (last - first) / CHORDS
    assert true_m2 * (1 - 1.01 * TURN**2 / 6) < found.counts_m2[0][1] < true_m2


@WAYS
def test_a_ring_driven_twice_in_one_go(way: Way):
    """Two laps without a break cover the ring twice, and three of them three times."""
    plot = sector(first=4, last=50)
    chords_m2 = ring_m2(7.0, 13.0, chords=46)
    for laps in (2, 3):
        found = way(Job((plot,), (on(circle(10.0, start=0, stop=laps * CHORDS)),), Sprayer(width_m=6.0)))
        assert found.counts_m2[0][laps] == found.overlap(chords_m2)
        assert found.counts_m2[0][0] == found.treated(float(plot.area) - chords_m2)


# The receiver circles the boom's middle, 5 m beside it, in chords of 0.56 m, so the boom turns about its middle.
# At either end of the drive the heading is that of a chord of two steps, so the boom's middle lies 5 d = 0.56 m off:
# plots that start 2 m from the middle and four corners from those ends see none of it.
NEAR_M = 2.0


@WAYS
@pytest.mark.parametrize("deg", DEGREES)
@pytest.mark.parametrize("clockwise", [False, True])
def test_a_pivot_about_the_booms_middle(way: Way, deg, clockwise):
    """Turned half round about its middle, a boom's halves sweep half a disc each; turned on, again and again."""
    radius, half = 5.0, 6.0
    flip = np.array([1.0, -1.0 if clockwise else 1.0])
    sprayer = Sprayer(width_m=2 * half, right_m=radius if clockwise else -radius)
    for stop, first, last, times in (
        (CHORDS // 2, 6, 22, 1),
        (CHORDS // 2, 34, 50, 1),
        (CHORDS, 6, 22, 2),
        (CHORDS, 34, 50, 2),
        (3 * CHORDS // 2, 6, 22, 3),
        (2 * CHORDS, 34, 50, 3),  # four times
    ):
        plot = sector(first=first, last=last, from_m=NEAR_M)
        plot = shapely.transform(plot, lambda xy: turned(xy * flip, deg))
        drive = turned(circle(radius, start=0, stop=stop) * flip, deg)
        found = way(Job((plot,), (on(drive),), sprayer))
        wedge_m2 = ring_m2(NEAR_M, half, chords=last - first)
        assert found.counts_m2[0][times] == found.overlap(wedge_m2)
        assert sum(found.counts_m2[0][1:]) == found.treated(wedge_m2)


@WAYS
@pytest.mark.parametrize("deg", DEGREES)
def test_half_a_pivot_covers_the_disc(way: Way, deg):
    """Half a turn of a boom of 12 m about its middle covers the disc of pi (w/2)^2, and once but for its ends."""
    drive = turned(circle(5.0, start=0, stop=CHORDS // 2), deg)
    found = way(Job((FIELD,), (on(drive),), Sprayer(width_m=12.0, right_m=-5.0)))
    disc_m2 = np.pi * 36.0
    # The first and the last boom lie up to 0.56 m beside the middle and d askew: two strips of that width.
    within_m2 = 2 * 0.56 * 12.0
    assert sum(found.counts_m2[0][1:]) == pytest.approx(disc_m2, abs=within_m2 / 2)
    assert found.counts_m2[0][2] + found.counts_m2[0][3] < within_m2


@WAYS
@pytest.mark.parametrize("deg", DEGREES)
@pytest.mark.parametrize("clockwise", [False, True])
def test_a_pivot_about_the_booms_end(way: Way, deg, clockwise):
    """Turned about its inner end, a boom sweeps pi w^2 in a full turn, each wedge once."""
    width = 11.3
    flip = np.array([1.0, -1.0 if clockwise else 1.0])
    plot = shapely.transform(sector(first=5, last=51, from_m=NEAR_M), lambda xy: turned(xy * flip, deg))
    drive = turned(circle(width / 2, start=0, stop=CHORDS) * flip, deg)
    found = way(Job((plot,), (on(drive),), Sprayer(width_m=width)))
    assert found.counts_m2[0][1] == found.treated(ring_m2(NEAR_M, width, chords=46))
    assert found.counts_m2[0][2] + found.counts_m2[0][3] == pytest.approx(0.0, abs=1e-3)
    true_m2 = np.pi * (width**2 - NEAR_M**2) * 46 / CHORDS
    assert true_m2 * (1 - 1.01 * TURN**2 / 6) < found.counts_m2[0][1] < true_m2


def u_turn(radius_m: float, *, leg_m: float = 40.0) -> Floats:
    """Up, half a circle to the left, and down."""
    legs = straight((radius_m, -leg_m), (radius_m, 0), step_m=1.1), straight((-radius_m, 0), (-radius_m, -leg_m))
    return joined(legs[0], circle(radius_m, start=0, stop=CHORDS // 2), legs[1])


@WAYS
@pytest.mark.parametrize("deg", DEGREES)
def test_a_wide_u_turn(way: Way, deg):
    """Turning wider than half the boom covers legs and bend once: length x width but for the bend's chords."""
    radius, width = 10.0, 6.0
    plots = (sector(first=2, last=26), shapely.box(-20, -30, 20, -3))
    found = way(
        Job(tuple(turn_shape(p, deg) for p in plots), (on(turned(u_turn(radius), deg)),), Sprayer(width_m=width))
    )
    assert found.counts_m2[0][1] == found.treated(ring_m2(7.0, 13.0, chords=24))
    assert found.counts_m2[1][1] == found.treated(2 * 27.0 * width)
    for counts in found.counts_m2:
        assert counts[2] + counts[3] == pytest.approx(0.0, abs=1e-3)


@WAYS
@pytest.mark.parametrize("deg", DEGREES)
def test_a_tight_u_turn(way: Way, deg):
    """Turning within half the boom, the outer half goes once round; the inner tip goes back over both legs."""
    radius, half = 5.0, 8.0
    beyond = sector(first=4, last=24, from_m=NEAR_M)
    legs = shapely.box(-20, -35, 20, -12)
    found = way(
        Job(
            tuple(turn_shape(p, deg) for p in (beyond, legs)), (on(turned(u_turn(radius), deg)),), Sprayer(width_m=16.0)
        )
    )
    assert found.counts_m2[0][1] == found.treated(ring_m2(NEAR_M, radius + half, chords=20))
    assert found.counts_m2[0][2] + found.counts_m2[0][3] == pytest.approx(0.0, abs=1e-3)
    # Legs of 16 m, 10 m apart: 6 m of them twice.
    assert found.counts_m2[1][1] == found.treated(23.0 * 20.0)
    assert found.counts_m2[1][2] == found.overlap(23.0 * 6.0)


@WAYS
@pytest.mark.parametrize("deg", DEGREES)
def test_a_tight_u_turns_inner_tip_goes_over_both_legs(way: Way, deg):
    """The half disc that the inner tip swept backward lies where both legs overlap: driven over three times."""
    radius, half = 5.0, 8.0
    # Clear of the bend's ends, where headings are those of chords: from corner 34 to 50 of the inner disc.
    inner = shapely.Polygon([(0.0, 0.0), *circle(half - radius, start=34, stop=50)])
    found = way(Job((turn_shape(inner, deg),), (on(turned(u_turn(radius), deg)),), Sprayer(width_m=2 * half)))
    assert found.counts_m2[0][3] == found.overlap(ring_m2(0.0, half - radius, chords=16), plus_m2=1e-3)


@WAYS
@pytest.mark.parametrize("deg", DEGREES)
@pytest.mark.parametrize("behind_m", [3.0, -3.0])
@pytest.mark.parametrize("clockwise", [False, True])
def test_a_boom_behind_the_receiver_runs_on_another_circle(way: Way, deg, behind_m, clockwise):
    """With the boom 3 m behind, or ahead, on a circle of r its tips run on circles of sqrt((r -+ w/2)^2 + 9)."""
    radius, half = 10.0, 3.0
    flip = np.array([1.0, -1.0 if clockwise else 1.0])
    inner, outer = (np.hypot(radius + side, behind_m) for side in (-half, half))
    drive = turned(circle(radius, start=0, stop=CHORDS) * flip, deg)
    # Within the receiver's circle and without; the boom lags or leads by atan(3 / 7), four corners.
    plots = (sector(first=6, last=50, to_m=radius), sector(first=6, last=50, from_m=radius))
    plots = tuple(shapely.transform(p, lambda xy: turned(xy * flip, deg)) for p in plots)
    found = way(Job(plots, (on(drive),), Sprayer(width_m=2 * half, behind_m=behind_m)))
    assert found.counts_m2[0][0] == found.treated(ring_m2(0.0, inner, chords=44))
    assert found.counts_m2[0][1] == found.treated(ring_m2(inner, radius, chords=44))
    assert found.counts_m2[1][1] == found.treated(ring_m2(radius, outer, chords=44))
    # The receiver's own circle would leave 9 pi / 2 x 44 / 56 less in the middle: 22 m2.
    assert ring_m2(0.0, inner, chords=44) > ring_m2(0.0, radius - half, chords=44) + 20.0


@WAYS
@pytest.mark.parametrize("deg", DEGREES)
def test_a_boom_behind_the_receiver_stops_short_by_as_much(way: Way, deg):
    """On a straight pass a boom 3 m behind starts and stops 3 m back, and one ahead 3 m on."""
    drive = turned(straight((-40, 0), (40, 0), step_m=1.7), deg)
    plots = tuple(turn_shape(shapely.box(*b), deg) for b in ((-60, -9, -40, 9), (-40, -9, 40, 9), (40, -9, 60, 9)))
    for behind_m, ends in ((3.0, (3.0, 77.0, 0.0)), (-3.0, (0.0, 77.0, 3.0))):
        found = way(Job(plots, (on(drive),), Sprayer(width_m=5.0, behind_m=behind_m)))
        assert [c[1] for c in found.counts_m2] == [found.treated(5.0 * length) for length in ends]


@WAYS
@pytest.mark.parametrize("deg", DEGREES)
def test_a_swath_to_one_side(way: Way, deg):
    """A nozzle that sprays 5 m to the right alone treats the right, and on a circle driven left the outer ring."""
    # The receiver at the swath's left edge: 2.5 m left of its middle.
    sprayer = Sprayer(width_m=5.0, right_m=2.5)
    drive = turned(straight((-40, 0), (40, 0), step_m=1.7), deg)
    left, right = (turn_shape(shapely.box(-50, low, 50, high), deg) for low, high in ((0, 9), (-9, 0)))
    found = way(Job((left, right), (on(drive),), sprayer))
    assert found.counts_m2[0][1] == pytest.approx(0.0, abs=1e-3)
    assert found.counts_m2[1][1] == found.treated(80 * 5.0)
    plot = sector(first=4, last=50)
    found = way(Job((turn_shape(plot, deg),), (on(turned(circle(10.0, start=0, stop=CHORDS), deg)),), sprayer))
    assert found.counts_m2[0][1] == found.treated(ring_m2(10.0, 15.0, chords=46))


@WAYS
@pytest.mark.parametrize("deg", DEGREES)
def test_sections_treat_their_own_strips(way: Way, deg):
    """Of sections 2, 1 and 3 m wide from left to right, each treats its strip where it is open."""
    drive = straight((-40, 0), (40, 0), step_m=2.0)
    x = drive[:, 0]
    states = np.stack([x < 0, (x >= -20) & (x < 20), x >= -30])
    # From the left: y from 3 to 1, from 1 to 0, from 0 to -3.
    strips = tuple(turn_shape(shapely.box(-50, low, 50, high), deg) for low, high in ((1, 3), (0, 1), (-3, 0)))
    sprayer = Sprayer(width_m=6.0, sections_m=(2.0, 1.0, 3.0))
    found = way(Job(strips, ((turned(drive, deg), states),), sprayer))
    assert [c[1] for c in found.counts_m2] == [found.treated(m2) for m2 in (40 * 2.0, 40 * 1.0, 70 * 3.0)]
    assert found.outside_m2 == pytest.approx(0.0, abs=1e-3)
    for counts in found.counts_m2:
        assert counts[2] + counts[3] == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("deg", [*DEGREES, 0.4, 45.01])
@pytest.mark.parametrize("gap_m", [-0.1, 0.1])
def test_strips_thinner_than_the_engines_lines_are_apart(deg, gap_m):
    """On 30 acres, where lines lie 25 cm apart, strips of 10 cm missed or driven twice are told to a thousandth."""
    # 61 passes of 5 m x 400 m, all in one direction, their ends in a row: errors of equal sign would add up.
    width, passes = 5.0, 61
    middle = (np.arange(passes) - (passes - 1) / 2) * (width + gap_m)
    drives = tuple(on(turned(straight((-200, y), (200, y), step_m=4.0), deg)) for y in middle)
    high = middle[-1] + width / 2
    plot = turn_shape(shapely.box(-190, -high, 190, high), deg)
    missed, once, twice, more = by_engine(Job((plot,), drives, Sprayer(width_m=width))).counts_m2[0]
    strips_m2 = 380 * 0.1 * (passes - 1)
    seen = twice if gap_m < 0 else missed
    assert seen == pytest.approx(strips_m2, rel=OVERLAP if gap_m < 0 else MISSED)
    assert once == pytest.approx(plot.area - strips_m2, rel=TREATED)
    assert more == 0.0
    # The plot's long edges and the outer passes' lie on each other, but for what degrees and metres round.
    assert missed + twice - seen < 0.01
