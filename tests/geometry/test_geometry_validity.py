"""Crossed, doubled and touching rings: found, placed and mended."""

import math
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from gladebook.geometry import validity
from gladebook.geometry.validity import (
    Crossing,
    crossings,
    first_crossing,
    mend,
    polygons_only,
    robust,
    seems_tangled,
)

BOW_TIE = shapely.Polygon([(0, 0), (100, 100), (100, 0), (0, 100)])


def laps(turns: float, *, radius: float = 50.0, corners: int = 40, drift: float = 0.01) -> Any:
    """A walk of so many laps round a circle; the second lap runs a little outside the first."""
    count = round(turns * corners)
    angle = 2 * math.pi * np.arange(count) / corners
    r = radius * (1 + drift * np.arange(count) / corners)
    return shapely.Polygon(np.column_stack([r * np.cos(angle), r * np.sin(angle)]))


def test_a_bow_tie_is_placed() -> None:
    """Trap 12: a bow-tie crosses where its diagonals meet, between the sides after corners 1 and 3."""
    assert first_crossing(BOW_TIE) == Crossing(x=50.0, y=50.0, corner_a=1, corner_b=3)


def test_a_bow_tie_keeps_both_lobes() -> None:
    """Trap 12: mending a bow-tie of 100 m keeps both lobes, 5,000 m2, where buffer(0) may drop one."""
    assert mend(BOW_TIE).area == pytest.approx(5000)
    assert shapely.buffer(BOW_TIE, 0).area == pytest.approx(2500)  # what a shortcut would lose
    assert shapely.is_valid(mend(BOW_TIE))


def test_two_laps_keep_the_plot() -> None:
    """Trap 13: a walk of two laps encloses the plot once: about 7,850 m2, neither twice nor the sliver."""
    walk = laps(2.0)
    inner = math.pi * 50**2 * math.sin(2 * math.pi / 40) / (2 * math.pi / 40)
    assert not walk.is_valid
    signed = (
        abs(
            sum(
                x0 * y1 - x1 * y0
                for (x0, y0), (x1, y1) in zip(walk.exterior.coords, walk.exterior.coords[1:], strict=False)
            )
        )
        / 2
    )
    assert signed == pytest.approx(2 * inner, rel=0.03)  # the raw sum counts the plot twice
    assert inner < mend(walk).area < inner * 1.021**2
    assert shapely.make_valid(walk).area < 0.1 * inner  # the default mending leaves the sliver between the laps


@pytest.mark.parametrize("turns", [1.15, 1.5, 2.0, 3.0])
def test_a_walk_of_more_than_one_lap_is_mended_to_the_plot(turns: float) -> None:
    """Trap 13: however far past its start a walk goes on, mending gives the ground once, to the width of the drift."""
    inner = math.pi * 50**2
    assert mend(laps(turns)).area == pytest.approx(inner, rel=0.02 * turns + 0.02)


def test_a_walk_of_more_than_one_lap_is_found() -> None:
    """Trap 13: a walk that goes on past its start crosses itself, and the crossing lies on the walk."""
    walk = laps(1.5)
    crossing = first_crossing(walk)
    assert crossing is not None
    assert shapely.distance(walk.exterior, shapely.Point(crossing.x, crossing.y)) < 1e-9
    corners = np.array(walk.exterior.coords)
    for corner in (crossing.corner_a, crossing.corner_b):
        side = shapely.LineString(corners[corner - 1 : corner + 1])
        assert side.distance(shapely.Point(crossing.x, crossing.y)) < 1e-9


def test_a_sound_ring_has_no_crossing() -> None:
    """Sound rings, with holes or without, have no crossing and are left alone by mending."""
    for sound in (
        shapely.box(0, 0, 10, 10),
        shapely.Polygon([(0, 0), (10, 0), (5, 8)]),
        shapely.Polygon(shapely.box(0, 0, 10, 10).exterior, [shapely.box(2, 2, 4, 4).exterior]),
        shapely.Point(0, 0).buffer(10),
    ):
        assert first_crossing(sound) is None
        assert mend(sound).equals(sound)


def test_a_ring_that_touches_itself_is_placed() -> None:
    """A ring that touches itself at a corner is placed there, and mending keeps all of its ground."""
    hourglass = shapely.Polygon([(0, 0), (5, 5), (10, 0), (10, 10), (5, 5), (0, 10)])
    crossing = first_crossing(hourglass)
    assert crossing is not None
    assert (crossing.x, crossing.y) == (5.0, 5.0)
    assert mend(hourglass).area == pytest.approx(50)


def test_a_spike_is_placed_and_cut_off() -> None:
    """An edge that runs out and back on itself encloses nothing; it is found and mending drops it."""
    spiked = shapely.Polygon([(0, 0), (10, 0), (10, 5), (20, 5), (10, 5), (10, 10), (0, 10)])
    crossing = first_crossing(spiked)
    assert crossing is not None
    assert 10 <= crossing.x <= 20
    assert crossing.y == 5
    assert mend(spiked).area == pytest.approx(100)


def test_a_hole_across_the_shell_is_placed() -> None:
    """A hole that crosses its shell is placed where they meet; corners count on along shell, then hole."""
    shell = shapely.box(0, 0, 10, 10).exterior
    hole = shapely.box(5, 2, 15, 8).exterior
    crossing = first_crossing(shapely.Polygon(shell, [hole]))
    assert crossing is not None
    assert crossing.x == pytest.approx(10)
    assert crossing.y in (2.0, 8.0)
    assert crossing.corner_a <= 4 < crossing.corner_b


def test_the_first_of_two_crossings_is_named() -> None:
    """Of several crossings the one on the earliest side of the walk is named."""
    twice = shapely.Polygon([(0, 0), (10, 0), (10, 10), (8, -2), (6, 10), (0, 10)])
    crossing = first_crossing(twice)
    assert crossing is not None
    assert (crossing.corner_a, crossing.corner_b) == (1, 3)
    assert crossing.y == pytest.approx(0)


def test_a_triangle_cannot_cross_itself() -> None:
    """Three corners that are not on one line never cross."""
    assert first_crossing(shapely.Polygon([(0, 0), (4, 1), (2, 6)])) is None


def test_a_flat_triangle_lies_on_itself() -> None:
    """Three corners on one line run back on themselves, which is found, and mending leaves no ground."""
    flat = shapely.Polygon([(0, 0), (4, 0), (10, 0)])
    assert first_crossing(flat) is not None
    assert mend(flat).area == 0


def test_only_polygons_are_kept() -> None:
    """Points and lines that an overlay leaves are dropped, also out of collections within collections."""
    square, other = shapely.box(0, 0, 1, 1), shapely.box(5, 5, 6, 6)
    line, point = shapely.LineString([(0, 0), (9, 9)]), shapely.Point(3, 3)
    assert polygons_only(shapely.GeometryCollection([square, line, point])).equals(square)
    mixed = shapely.GeometryCollection([shapely.MultiPolygon([square, other]), line])
    assert polygons_only(mixed).area == pytest.approx(2)
    assert shapely.is_empty(polygons_only(line))
    assert shapely.is_empty(polygons_only(shapely.Polygon()))


def test_an_overlay_that_rounding_defeats_is_run_again_on_a_coarser_grid() -> None:
    """Trap 15: where GEOS gives up on the finest grid, the overlay runs again on the next one."""
    grids: list[float] = []

    def stubborn(a: Any, b: Any, *, grid_size: float) -> Any:
        grids.append(grid_size)
        if grid_size < 1e-5:
            raise shapely.errors.GEOSException("TopologyException: found non-noded intersection")
        return shapely.intersection(a, b, grid_size=grid_size)

    both = robust(stubborn, shapely.box(0, 0, 2, 2), shapely.box(1, 1, 3, 3))
    assert both.area == pytest.approx(1)
    assert grids == [1e-6, 1e-5]


def test_an_overlay_moves_corners_by_a_thousandth_of_a_millimetre_at_most() -> None:
    """Trap 15: the finest grid is a micrometre, far below any position, so areas keep six digits and more."""
    third = 1 / 3
    both = robust(shapely.intersection, shapely.box(0, 0, third, third), shapely.box(-1, -1, 1, 1))
    assert both.bounds == pytest.approx((0, 0, third, third), abs=1e-6)


def test_a_union_keeps_triangles_whose_corners_coincide_but_for_rounding() -> None:
    """Triangles round nearly one pivot are all kept: without a grid, a union of such pieces lost whole ones."""
    angle = np.linspace(0, np.pi, 25)
    near = np.random.default_rng(3).normal(0, 1e-9, (24, 2))
    tips = 5 * np.column_stack([np.cos(angle), np.sin(angle)])
    fan = shapely.polygons(np.stack([near, tips[:-1], tips[1:]], axis=1))
    whole = 24 * 0.5 * 5**2 * math.sin(math.pi / 24)  # 24 triangles with two sides of 5 m
    assert robust(shapely.union_all, fan).area == pytest.approx(whole, abs=1e-4)


def enclosed_m2(ring: Any) -> float:
    """Ground that a ring winds round at all, each face of its own lines counted once."""
    corners = shapely.get_coordinates(ring)
    total = 0.0
    for face in shapely.polygonize([shapely.node(shapely.LineString(corners))]).geoms:
        inside = face.representative_point()
        angle = np.unwrap(np.arctan2(corners[:, 1] - inside.y, corners[:, 0] - inside.x))
        if round((angle[-1] - angle[0]) / (2 * math.pi)):
            total += face.area
    return total


@settings(deadline=None, max_examples=200)
@given(corners=st.lists(st.tuples(st.integers(0, 12), st.integers(0, 12)), min_size=4, max_size=9, unique=True))
def test_mending_keeps_what_the_walk_went_round(corners: list[tuple[int, int]]) -> None:
    """A ring is sound exactly where no crossing is found; mended it is the ground it winds round, once."""
    ring = shapely.Polygon(corners)
    assert (first_crossing(ring) is None) == shapely.is_valid(ring)
    mended = mend(ring)
    # Where parts are joined, corners move by a micrometre at most: over sides of up to 17 m, 5e-5 m2.
    assert shapely.union_all(shapely.get_parts(mended)).area == pytest.approx(enclosed_m2(ring), abs=5e-5)
    assert mended.area == pytest.approx(enclosed_m2(ring), abs=5e-5)


@pytest.mark.parametrize(
    "corners",
    [
        [(0, 0), (0, 12), (2, 10), (1, 12), (1, 11), (3, 9)],  # two sides lie on each other for a stretch
        [(0, 0), (100, 100), (100, 0), (0, 100)],
        [(0, 0), (10, 0), (10, 5), (20, 5), (10, 5), (10, 10), (0, 10)],
    ],
)
def test_what_is_mended_is_sound(corners: list[tuple[int, int]]) -> None:
    """A mended ring is valid: no edge is left inside, which would count as perimeter."""
    mended = mend(shapely.Polygon(corners))
    assert shapely.is_valid_reason(mended) == "Valid Geometry"
    assert mended.length == pytest.approx(shapely.union_all(shapely.get_parts(mended)).length)


def meetings_by_pairs(ring: Any) -> list[tuple[int, int]]:
    """Every pair of sides that meet, by looking at each pair alone; sides in a row only where they overlap."""
    xy = shapely.get_coordinates(ring)
    sides = shapely.linestrings(np.stack([xy[:-1], xy[1:]], axis=1))
    last = len(sides) - 1
    return [
        (a, b)
        for a in range(len(sides))
        for b in range(a + 1, len(sides))
        if (meet := sides[a].intersection(sides[b])).length > 0
        or (not meet.is_empty and b - a != 1 and (a, b) != (0, last))
    ]


@settings(deadline=None, max_examples=20)
@given(seed=st.integers(0, 10_000), plain=st.integers(0, 150))
def test_crossings_of_a_long_ring_are_those_of_all_pairs(seed: int, plain: int) -> None:
    """Behind any number of plain sides the first crossing and the number of them are those of all pairs of sides."""
    rng = np.random.default_rng(seed)
    calm = np.column_stack([np.linspace(-50, 0, plain, endpoint=False), np.full(plain, -20.0)])
    ring = shapely.Polygon(np.vstack([calm, rng.integers(0, 30, (40, 2)), [(0, 90), (-50, 90)]]))
    pairs = meetings_by_pairs(ring)
    found, _ = crossings(ring, most=0)
    assert found is not None
    assert (found.corner_a - 1, found.corner_b - 1) == pairs[0]
    assert crossings(ring, most=len(pairs)) == (found, False)
    assert crossings(ring, most=len(pairs) - 1) == (found, True)


@settings(deadline=None, max_examples=50)
@given(corners=st.lists(st.tuples(st.integers(0, 12), st.integers(0, 12)), min_size=4, max_size=30, unique=True))
def test_a_large_ring_is_mended_as_a_small_one(corners: list[tuple[int, int]]) -> None:
    """Joining only parts that share a side, as is done for large rings, leaves the same ground in a valid shape."""
    ring = shapely.Polygon(corners)
    small = mend(ring)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(validity, "_LARGE", 0)
        large = mend(ring)
    assert shapely.is_valid(large)
    assert large.area == pytest.approx(small.area, abs=5e-5)
    assert large.length == pytest.approx(small.length, abs=1e-3)


def test_a_tangle_is_told_from_a_long_ring() -> None:
    """Of 30,000 corners a plain ring is no tangle, and random ones are; of 100 corners none is."""
    angle = np.linspace(0, 2 * math.pi, 30_000, endpoint=False)
    assert not seems_tangled(shapely.Polygon(np.column_stack([np.cos(angle), np.sin(angle)])), most=100)
    random = np.random.default_rng(1).uniform(size=(30_000, 2))
    assert seems_tangled(shapely.Polygon(random), most=100_000)
    assert not seems_tangled(shapely.Polygon(random[:100]), most=1)
