"""Missed strips: planted ones come back with their size and place."""

import numpy as np
import pytest
import shapely

from gladebook.coverage.strips import SMALLEST_M2, find_strips
from gladebook.geometry.frame import Frame
from tests.passes.tracks import (
    arc,
    box,
    cover,
    in_metres,
    make_plot,
    make_track,
    straight,
    to_metres,
    turned,
)

BOOM_M = 4.0
EXACT = 3e-5  # relative: scan lines lie 2 mm or more apart; strips are cut back and grown by 15 cm, with square corners


def passes_with_a_skip(skip_m: float, *, heading_deg: float = 0.0, length_m: float = 100.0):
    """Five passes side by side, with bare ground between the third and the fourth; and their plot."""
    middles = [-6.0 - skip_m, -2.0 - skip_m, 2.0 - skip_m, 6.0, 10.0]
    middles = [y - 4.0 for y in middles]
    tracks = [make_track(turned(straight((0, y), (length_m, y)), heading_deg)) for y in middles]
    plot = make_plot(turned(box(0, -12 - skip_m, length_m, 8), heading_deg))
    return plot, tracks


@pytest.mark.parametrize("skip_m", [0.5, 1.0, 2.5])
@pytest.mark.parametrize("heading_deg", [0.0, 27.0, 90.0])
def test_a_planted_skip_comes_back(skip_m, heading_deg):
    """A skip 100 m long is one strip, with its area, length, width and a place inside it."""
    plot, tracks = passes_with_a_skip(skip_m, heading_deg=heading_deg)
    answer = cover(plot, tracks, boom_m=BOOM_M)
    assert len(answer.strips) == 1
    strip = answer.strips[0]
    assert strip.plot == "plot"
    assert strip.area_m2 == pytest.approx(100 * skip_m, rel=EXACT)
    assert strip.length_m == pytest.approx(100.0, rel=1e-3)
    assert strip.width_m == pytest.approx(skip_m, rel=1e-3)
    true = shapely.Polygon(turned(box(0, -skip_m, 100, 0), heading_deg))
    place = shapely.Point(to_metres([(strip.lon_deg, strip.lat_deg)])[0])
    assert true.contains(place)
    assert in_metres(strip.shape).symmetric_difference(true).area < 1e-2
    assert answer.missed_m2 == pytest.approx(100 * skip_m, rel=EXACT)


@pytest.mark.parametrize(("off_m", "width_m"), [((20, 60), 40.0), ((75, 80), 5.0)])
def test_a_boom_shut_on_the_way_leaves_a_block(off_m, width_m):
    """A boom off for a stretch of a pass leaves a strip as long as the stretch and as wide as the boom."""
    on = np.ones(101)
    on[off_m[0] : off_m[1]] = 0
    tracks = [make_track(straight((0, y), (100, y)), boom_on=on if y == 0 else 1) for y in (-4, 0, 4)]
    answer = cover(make_plot(box(0, -6, 100, 6)), tracks, boom_m=BOOM_M)
    assert len(answer.strips) == 1
    assert answer.strips[0].area_m2 == pytest.approx(4.0 * width_m, rel=EXACT)
    assert answer.strips[0].length_m == pytest.approx(max(width_m, 4.0), rel=1e-3)
    assert answer.strips[0].width_m == pytest.approx(min(width_m, 4.0), rel=1e-3)


def test_strips_come_largest_first_and_keep_their_plot():
    """Strips of all plots are listed by area, the largest first, each with its plot's name."""
    plots, tracks = [], []
    for k, (name, off) in enumerate((("first", 10), ("second", 40), ("third", 25))):
        y = 30.0 * k
        on = np.ones(101)
        on[20 : 20 + off] = 0
        on[80:85] = 0
        plots.append(make_plot(box(0, y - 2, 100, y + 2), name=name))
        tracks.append(make_track(straight((0, y), (100, y)), boom_on=on))
    strips = cover(plots, tracks, boom_m=BOOM_M).strips
    assert [strip.plot for strip in strips][:3] == ["second", "third", "first"]
    assert [strip.area_m2 for strip in strips] == pytest.approx([160, 100, 40, 20, 20, 20], rel=EXACT)


def test_a_curved_skip_is_measured_along_its_bend():
    """A skip 1.5 m wide along a quarter turn of 30 m is as long as its middle line, not as its chord."""
    inner, outer, steps = 30.0, 31.5, 48
    bend = {"start_deg": 0, "stop_deg": 90, "steps": steps}
    tracks = [make_track(arc((0, 0), radius, **bend)) for radius in (inner - 2, outer + 2)]
    edge = np.concatenate([arc((0, 0), inner - 4, **bend), arc((0, 0), outer + 4, **bend)[::-1]])
    answer = cover(make_plot(edge), tracks, boom_m=BOOM_M)
    strip = answer.strips[0]
    middle = np.pi / 2 * (inner + outer) / 2
    # 2 %: chords of a metre and the ends' headings on an arc that is 48 m long.
    assert strip.length_m == pytest.approx(middle, rel=0.02)
    assert strip.width_m == pytest.approx(1.5, rel=0.02)
    assert strip.area_m2 == pytest.approx(middle * 1.5, rel=0.02)
    place = to_metres([(strip.lon_deg, strip.lat_deg)])[0]
    assert inner - 0.05 < np.hypot(*place) < outer + 0.05
    assert len(answer.strips) == 1


def test_a_bent_skip_round_a_corner_is_one_strip():
    """An L-shaped skip is one strip as long as both its legs along their middle."""
    corner = [(0, 0), (40, 0), (40, 2), (2, 2), (2, 40), (0, 40)]
    tracks = [make_track(straight((2.0, y), (60.0, y))) for y in (4.0, 8.0)]
    plot = make_plot([(0, 0), (60, 0), (60, 10), (2, 10), (2, 40), (0, 40)])
    patch = make_track(straight((40.0, 1.0), (60.0, 1.0)), width_m=2.0)
    answer = cover(plot, [*tracks, patch], boom_m=BOOM_M)
    assert len(answer.strips) == 1
    area = shapely.Polygon(corner).area
    assert answer.strips[0].area_m2 == pytest.approx(area, rel=EXACT)
    # A rectangle of the same area and edge: 2 (L + w) = 160, L w = 156.
    length = (80 + np.sqrt(80**2 - 4 * area)) / 2
    assert answer.strips[0].length_m == pytest.approx(length, rel=1e-3)


def test_a_whole_missed_plot_is_one_strip():
    """A plot that nobody entered is one strip of its own size."""
    plots = [make_plot(box(0, -2, 100, 2), name="done"), make_plot(box(0, 50, 80, 90), name="forgotten")]
    answer = cover(plots, make_track(straight((0, 0), (100, 0))), boom_m=BOOM_M)
    assert [strip.plot for strip in answer.strips] == ["forgotten"]
    assert answer.strips[0].area_m2 == pytest.approx(3200.0, rel=EXACT)
    assert answer.strips[0].length_m == pytest.approx(80.0, rel=1e-3)
    assert answer.strips[0].width_m == pytest.approx(40.0, rel=1e-3)


def test_slivers_count_as_missed_but_are_no_strips():
    """Bare ground narrower than a foot is missed ground, is no strip, and is said in a sentence."""
    plot, tracks = passes_with_a_skip(0.25)
    answer = cover(plot, tracks, boom_m=BOOM_M)
    assert answer.strips == ()
    assert answer.missed_m2 == pytest.approx(25.0, rel=EXACT)
    assert any("narrower than 1 ft" in notice and "0.006 ac" in notice for notice in answer.notices)


def test_two_strips_joined_by_a_thread_are_two():
    """Two bare blocks joined by a thread 10 cm wide are two strips, each of its own size."""
    on = np.ones(101)
    on[10:30] = on[60:90] = 0
    above = make_track(straight((0, 4.1), (100, 4.1)))
    middle = make_track(straight((0, 0), (100, 0)), boom_on=on)
    answer = cover(make_plot(box(0, -2, 100, 6.1)), [above, middle], boom_m=BOOM_M)
    assert len(answer.strips) == 2
    # Each block keeps the thread beside it: 4.1 m high.
    assert [s.area_m2 for s in answer.strips] == pytest.approx([30 * 4.1, 20 * 4.1], rel=1e-2)
    assert answer.missed_m2 == pytest.approx(50 * 4.0 + 100 * 0.1, rel=EXACT)


def test_strips_never_add_up_to_more_than_is_missed():
    """The strips of disjoint plots lie within missed ground and never outweigh it."""
    rng = np.random.default_rng(11)
    plot = make_plot(turned(box(-40, -30, 45, 30), 20.0))
    tracks = [make_track(straight((-60, y), (60, y + rng.normal(0, 2)))) for y in np.arange(-28, 30, 5.5)]
    answer = cover(plot, tracks, boom_m=5.0)
    assert len(answer.strips) > 3
    assert sum(strip.area_m2 for strip in answer.strips) <= answer.missed_m2 * (1 + 1e-9)
    missed = in_metres(answer.layers.missed)
    for strip in answer.strips:
        assert in_metres(strip.shape).difference(missed.buffer(1e-3)).area < 1e-6
        assert strip.length_m >= strip.width_m > 0
        assert strip.length_m * strip.width_m == pytest.approx(strip.area_m2, rel=1e-5)
    areas = [strip.area_m2 for strip in answer.strips]
    assert areas == sorted(areas, reverse=True)


def test_a_place_lies_inside_even_a_horseshoe():
    """The place given for a missed horseshoe lies in its ground, not in the bay at its middle."""
    horseshoe = [(-30, -30), (30, -30), (30, 30), (20, 30), (20, -20), (-20, -20), (-20, 30), (-30, 30)]
    answer = cover(make_plot(horseshoe), make_track(straight((-60, 60), (60, 60))), boom_m=BOOM_M)
    place = to_metres([(answer.strips[0].lon_deg, answer.strips[0].lat_deg)])[0]
    assert shapely.Polygon(horseshoe).contains(shapely.Point(place))


def frayed(rng, *, lines=120):
    """A strip as a sweep draws it: frayed on both sides, with necks and notches."""
    y = 0.25 * np.arange(lines)
    middle, width = np.cumsum(rng.normal(0, 0.1, lines)), np.abs(rng.normal(0.3, 0.4, lines)) + 0.02
    left, right = np.column_stack([middle, y]), np.column_stack([middle + width, y])
    return shapely.Polygon(np.concatenate([left, right[::-1]]))


def test_strips_are_what_lies_within_the_missed_ground():
    """Strips have the area of the ground cut back, grown again and kept within itself, as GEOS has it on a grid."""
    rng, frame = np.random.default_rng(7), Frame(-88.5, 33.0)
    for _ in range(40):
        piece = frayed(rng)
        core = shapely.buffer(piece, -0.15, join_style="mitre")
        wide = shapely.intersection(shapely.buffer(core, 0.15, join_style="mitre"), piece, grid_size=1e-6)
        parts = shapely.get_parts(wide)
        expected = np.sort(shapely.area(parts[shapely.area(parts) >= SMALLEST_M2]))[::-1]
        strips = find_strips(piece, plot="plot", frame=frame)
        assert [s.area_m2 for s in strips] == pytest.approx(expected, rel=1e-5)
        assert all(shapely.is_valid(s.shape) for s in strips)
        assert all(shapely.Point(s.lon_deg, s.lat_deg).within(s.shape) for s in strips)
