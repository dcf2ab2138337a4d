"""Traced outlines: what cutting and keeping off leave, on any shape (Hypothesis)."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from gladebook.errors import BoundaryError
from gladebook.geometry.frame import Frame, frame_for
from gladebook.plots.traced import cut_to_neighbours, kept_off_edge, shared_m2, thinned, traced_shape
from gladebook.units import FT_M

FRAME = Frame(lon_deg=-86.5, lat_deg=32.4)
# Corners are kept to a tenth of a millimetre along some hundred metres of edge.
ROUNDING_M2 = 0.05


@st.composite
def glades(draw: st.DrawFn) -> shapely.Polygon:
    """Crooked clearings of 0.1 to 3 acres, in metres; the corners go once round a middle."""
    count = draw(st.integers(4, 14))
    radii = draw(st.lists(st.floats(12, 60), min_size=count, max_size=count))
    x, y = draw(st.floats(-40, 40)), draw(st.floats(-40, 40))
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    return shapely.Polygon(np.column_stack([x + np.array(radii) * np.cos(angle), y + np.array(radii) * np.sin(angle)]))


def plane(shape: shapely.Geometry) -> shapely.Geometry:
    return FRAME.shape_to_plane(shape)


@given(glades(), glades())
def test_cut_and_shared_ground_make_the_whole(mine: shapely.Polygon, theirs: shapely.Polygon):
    """What is kept and what was shared add up to what was traced, and nothing is shared any more."""
    here, there = FRAME.shape_to_lonlat(mine), FRAME.shape_to_lonlat(theirs)
    both = shared_m2(here, [there])[0]
    assert both == pytest.approx(mine.intersection(theirs).area, abs=ROUNDING_M2)
    assume(mine.area - both > 1)
    kept = cut_to_neighbours(here, [there], name="Mine")
    # Crumbs under half a square metre are no ground to plant.
    assert plane(kept).area + both == pytest.approx(mine.area, abs=2.0)
    assert shared_m2(kept, [there])[0] < ROUNDING_M2


@given(glades(), st.floats(1, 40))
def test_what_is_kept_off_the_edge_lies_that_far_inside(mine: shapely.Polygon, feet: float):
    """Every place left is as far from the old line as was asked, to a hundredth (as GEOS buffers)."""
    try:
        kept = kept_off_edge(FRAME.shape_to_lonlat(mine), width_m=feet * FT_M, name="Mine")
    except BoundaryError:
        assert mine.buffer(-feet * FT_M).area < 1
        return
    inner = plane(kept)
    assert inner.within(mine.buffer(0.001))
    assert inner.distance(mine.exterior) == pytest.approx(feet * FT_M, abs=0.001 + 0.01 * feet * FT_M)
    whole = mine.buffer(-feet * FT_M, quad_segs=64).area
    assert inner.area == pytest.approx(whole, rel=0.01, abs=1.0)


@given(glades(), st.floats(0.1, 3))
def test_fewer_corners_move_no_line_by_more_than_was_said(mine: shapely.Polygon, off_m: float):
    """The corners that stay are old ones, the rest lie within the distance of the new line, and it is an area still."""
    edge = mine.segmentize(3.0)
    thin = plane(thinned(FRAME.shape_to_lonlat(edge), off_m=off_m))
    assert thin.is_valid
    assert len(thin.exterior.coords) <= len(edge.exterior.coords)
    assert shapely.hausdorff_distance(thin.exterior, edge.exterior) <= off_m + 0.001
    assert shapely.MultiPoint(thin.exterior.coords).distance(shapely.MultiPoint(edge.exterior.coords)) < 0.001


def test_neighbours_that_do_not_touch_change_nothing():
    """Far neighbours, and none at all, leave the outline as it was."""
    mine = FRAME.shape_to_lonlat(shapely.box(0, 0, 50, 50))
    far = FRAME.shape_to_lonlat(shapely.box(500, 0, 550, 50))
    for others in ([], [far]):
        kept = cut_to_neighbours(mine, others, name="Mine")
        assert kept.geom_type == "Polygon"
        assert plane(kept).area == pytest.approx(2500, abs=ROUNDING_M2)


def test_a_shape_across_the_180th_meridian_is_cut_there_too():
    """The plane is the shape's own, so that the jump in longitudes does no harm."""
    frame = Frame(lon_deg=180.0, lat_deg=-17.0)
    mine, theirs = (frame.shape_to_lonlat(shapely.box(x, 0, x + 60, 40)) for x in (-40, 0))
    kept = cut_to_neighbours(mine, [theirs], name="Mine")
    assert frame_for(kept).shape_to_plane(kept).area == pytest.approx(40 * 40, abs=ROUNDING_M2)


@pytest.mark.parametrize(
    "parts",
    [
        [],
        [[]],
        [[[]]],
        [[[(0, 0), (1, 1)]]],
        [[[(0, 0), (1, math.nan), (1, 1)]]],
        [[[(0, 0), (0, 91), (1, 1)]]],
        [[[(0, 0), (0, 1), (1, 1)]], []],
    ],
)
def test_corners_that_are_no_outline_are_refused(parts: list[list[list[tuple[float, float]]]]):
    """No corner, too few, no number, no place on earth, or a part without any."""
    with pytest.raises(BoundaryError, match="Odd"):
        traced_shape(parts, name="Odd")
