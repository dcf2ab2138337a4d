"""Which boundaries are taken, which are refused, and in which words."""

from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from gladebook.errors import BoundaryError, GladebookError, InputError
from gladebook.geometry.area import geodesic_area_m2, geodesic_perimeter_m
from gladebook.geometry.frame import frame_for
from gladebook.plots.plot import Fault, Plot, check_plot, clean_name, plane_shape, refuse_faults
from gladebook.units import ACRE_M2
from tests.geometry.golden import in_group, named, on_ground

BOW_TIE = on_ground([(0, 0), (100, 100), (100, 0), (0, 100)], lon=-88.5, lat=33.2)
HOURGLASS = on_ground([(0, 0), (50, 50), (100, 0), (100, 100), (50, 50), (0, 100)])


def taken(name: str, shape: Any, **options: bool) -> Plot:
    plot = check_plot(name, shape, **options)
    assert isinstance(plot, Plot), plot
    return plot


def refused(name: str, shape: Any, **options: bool) -> str:
    fault = check_plot(name, shape, **options)
    assert isinstance(fault, Fault), fault
    assert fault.name == name
    assert fault.reason.endswith((".", ")."))
    return fault.reason


@pytest.mark.parametrize("row", in_group("plot"), ids=lambda row: row.name)
def test_good_boundaries_are_taken_as_they_are(row: Any) -> None:
    """A good boundary becomes a plot with its own corners, and nothing is noted."""
    plot = taken(row.name, row.shape)
    assert plot.notes == ()
    assert plot.name == row.name
    assert shapely.get_coordinates(plot.shape).tolist() == shapely.get_coordinates(row.shape).tolist()


def test_a_walk_stays_a_walk() -> None:
    """A boundary that was walked is remembered as walked, for its errors hang together."""
    shape = named("P2").shape
    assert taken("Walk", shape, walked=True).walked
    assert not taken("Drawn", shape).walked


def test_a_crossed_boundary_is_refused_by_place_with_both_ways_out() -> None:
    """A bow-tie is refused with the place, the sides, both acreages and what to do."""
    reason = refused("North Glade", BOW_TIE)
    middle = on_ground([(50, 50), (51, 50), (50, 51)], lon=-88.5, lat=33.2).exterior.coords[0]
    assert f"{middle[1]:.5f}, {middle[0]:.5f}" in reason
    assert "corners 1 and 3" in reason
    assert "Retrace it" in reason
    assert "--repair" in reason
    assert f"{0:.3f} ac as drawn" in reason
    assert f"{5000 / ACRE_M2:.3f} ac mended" in reason


def test_repair_mends_and_says_how_the_acres_changed() -> None:
    """With repair a bow-tie keeps both lobes, and the note has the place and the acres before and after."""
    plot = taken("North Glade", BOW_TIE, repair=True)
    assert geodesic_area_m2(plot.shape) == pytest.approx(5000, abs=0.01)
    (note,) = map(str, plot.notes)
    assert note.startswith("North Glade: repaired")
    assert "crosses itself near 33.2" in note
    assert "0.000 ac as drawn" in note
    assert f"{5000 / ACRE_M2:.3f} ac mended" in note


def test_repair_leaves_good_boundaries_alone() -> None:
    """Repair changes nothing about a good boundary."""
    row = named("P7")
    assert taken("Good", row.shape, repair=True) == taken("Good", row.shape)


def test_a_boundary_that_touches_itself_is_taken_and_said() -> None:
    """A figure of eight that only touches in its middle has its acres, and the place is noted."""
    plot = taken("Hourglass", HOURGLASS)
    assert geodesic_area_m2(plot.shape) == pytest.approx(5000, abs=0.01)
    (note,) = map(str, plot.notes)
    assert note.startswith("Hourglass: the boundary touches itself near 33.000")
    assert "not affected" in note


def test_all_bad_plots_are_refused_together() -> None:
    """All bad plots of a file are named in one refusal, each with its reason, in order."""
    shapes = {
        "North Glade": BOW_TIE,
        "Pine Flat": shapely.Polygon(),
        "Creek Bend": shapely.LineString([(0, 0), (1, 1)]),
    }
    faults = [check_plot(name, shape) for name, shape in shapes.items()]
    assert all(isinstance(fault, Fault) for fault in faults)
    with pytest.raises(BoundaryError) as caught:
        refuse_faults([fault for fault in faults if isinstance(fault, Fault)], where="ridge.geojson")
    message = str(caught.value)
    assert isinstance(caught.value, InputError)
    assert isinstance(caught.value, GladebookError)
    assert message.startswith("ridge.geojson: ")
    places = [message.index(f"{name}: ") for name in shapes]
    assert places == sorted(places)
    assert "33.2" in message


def test_no_bad_plot_is_no_refusal() -> None:
    """Without a fault nothing is refused."""
    refuse_faults([], where="ridge.geojson")


def test_a_hundred_bad_plots_are_counted() -> None:
    """Of very many bad plots twenty are named and the rest counted."""
    faults = [Fault(f"Plot {n}", "has no corners.") for n in range(1, 101)]
    with pytest.raises(BoundaryError) as caught:
        refuse_faults(faults, where="all.geojson")
    message = str(caught.value)
    assert "Plot 20: " in message
    assert "Plot 21: " not in message
    assert "80 more" in message


@pytest.mark.parametrize(
    ("shape", "word"),
    [
        (None, "no corners"),
        (shapely.Polygon(), "no corners"),
        (shapely.MultiPolygon(), "no corners"),
        (shapely.Point(-88, 33), "point"),
        (shapely.MultiPoint([(-88, 33), (-89, 33)]), "point"),
        (shapely.LineString([(-88, 33), (-88, 34)]), "line"),
        (shapely.MultiLineString([[(-88, 33), (-88, 34)]]), "line"),
        (shapely.Polygon([(-88, 33), (-88, 33.001), (-88, 33.002)]), "no ground"),
        (shapely.Polygon([(-88, 33)] * 4), "corners"),
        (shapely.Polygon([(-88, 33), (-88.001, 33), (-88, 33), (-88, 33)]), "corners"),
        (shapely.box(-88, 33, -87.9999999, 33.0000001), "no ground"),
        (shapely.box(500_000, 3_650_000, 500_100, 3_650_100), "no latitude and longitude"),
        (shapely.box(-480.0, 33.0, -479.99, 33.01), "no latitude and longitude"),
        (shapely.box(-88, 89.9, -87.9, 90.1), "no latitude and longitude"),
    ],
)
def test_what_is_no_boundary_is_refused(shape: Any, word: str) -> None:
    """Nothing, points, lines, slivers and coordinates off the earth are refused with what is wrong."""
    assert word in refused("Oak Bottom", shape)
    assert word in refused("Oak Bottom", shape, repair=True)


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_a_corner_without_a_position_is_named(bad: float) -> None:
    """A corner that is not a number or infinite is named by its count."""
    with np.errstate(invalid="ignore"):
        shape = shapely.Polygon([(-88, 33), (-88.001, 33), (bad, 33.001), (-88, 33.001)])
    reason = refused("Oak Bottom", shape)
    assert "corner 3" in reason


def test_parts_on_each_other_are_refused_or_joined() -> None:
    """Parts of one plot that lie on each other are refused with the acres; with repair that ground counts once."""
    parts = shapely.MultiPolygon(
        [
            on_ground([(0, 0), (100, 0), (100, 100), (0, 100)]),
            on_ground([(60, 0), (160, 0), (160, 100), (60, 100)]),
        ]
    )
    reason = refused("Twins", parts)
    assert f"{40 * 100 / ACRE_M2:.3f} ac" in reason
    assert "--repair" in reason
    plot = taken("Twins", parts, repair=True)
    assert geodesic_area_m2(plot.shape) == pytest.approx(16_000, abs=0.01)
    assert f"{40 * 100 / ACRE_M2:.3f} ac" in str(plot.notes[0])


def test_parts_that_touch_are_taken() -> None:
    """Parts that share an edge or a corner are one plot; in its plane they are joined."""
    for second in ([(100, 0), (150, 0), (150, 100), (100, 100)], [(100, 100), (150, 100), (150, 150), (100, 150)]):
        parts = shapely.MultiPolygon([on_ground([(0, 0), (100, 0), (100, 100), (0, 100)]), on_ground(second)])
        plot = taken("Joined", parts)
        flat = plane_shape(plot.shape, frame=frame_for(plot.shape))
        assert flat.is_valid
        assert flat.area == pytest.approx(geodesic_area_m2(plot.shape), abs=0.01)


def test_a_collection_of_areas_is_taken() -> None:
    """Areas in a collection are the parts of one plot, also where one of them is itself in parts."""
    first, second = shapely.box(-88.001, 33, -88, 33.001), shapely.box(-88.003, 33, -88.002, 33.001)
    third = shapely.box(-88.005, 33, -88.004, 33.001)
    expected = geodesic_area_m2(shapely.MultiPolygon([first, second, third]))
    flat = shapely.GeometryCollection([first, second, third])
    nested = shapely.GeometryCollection([shapely.MultiPolygon([first, second]), third])
    assert geodesic_area_m2(taken("Flat", flat).shape) == pytest.approx(expected, abs=1e-3)
    assert geodesic_area_m2(taken("Nested", nested).shape) == pytest.approx(expected, abs=1e-3)


def test_a_collection_with_a_line_in_it_is_refused() -> None:
    """A line among areas is no area, and the whole is refused rather than cut down silently."""
    mixed = shapely.GeometryCollection([shapely.box(-88.001, 33, -88, 33.001), shapely.LineString([(0, 0), (1, 1)])])
    assert "not an area" in refused("Mixed", mixed)


@pytest.mark.parametrize(
    ("hole", "what"),
    [
        ([(200, 0), (220, 0), (220, 20), (200, 20)], "beside the shell"),
        ([(90, 40), (120, 40), (120, 60), (90, 60)], "across the shell"),
    ],
)
def test_a_hole_outside_its_shell_is_refused_with_its_place(hole: list[tuple[float, float]], what: str) -> None:
    """A hole that is not inside its boundary is refused, and the refusal says where it is."""
    shape = on_ground([(0, 0), (100, 0), (100, 100), (0, 100)], hole)
    reason = refused("Holed", shape)
    assert "near 33." in reason, what


def test_a_hole_that_touches_its_shell_at_a_corner_is_taken() -> None:
    """A hole that touches the boundary at one corner is sound and is taken out."""
    shape = on_ground([(0, 0), (100, 0), (100, 100), (0, 100)], [(0, 0), (40, 20), (20, 40)])
    assert geodesic_area_m2(taken("Holed", shape).shape) == pytest.approx(10_000 - 600, abs=0.01)


def test_a_mended_boundary_has_no_edge_inside() -> None:
    """Where two sides lay on each other, the mended plot's perimeter is its outer edge alone."""
    corners = [(0, 0), (0, 120), (20, 100), (10, 120), (10, 110), (30, 90)]
    plot = taken("Kidney", on_ground([(float(x), float(y)) for x, y in corners]), repair=True)
    outline = shapely.Polygon([(0, 0), (0, 120), (10, 110), (10, 120), (20, 100), (30, 90)])
    assert geodesic_area_m2(plot.shape) == pytest.approx(outline.area, abs=0.01)
    assert geodesic_perimeter_m(plot.shape) == pytest.approx(outline.length, abs=0.01)


def test_a_shape_round_the_earth_is_refused_or_measured_but_never_escapes() -> None:
    """A box round the whole earth is no plot; asking about one raises nothing foreign."""
    assert isinstance(check_plot("World", shapely.box(-180, -90, 180, 90)), Fault)


@pytest.mark.parametrize(
    ("text", "clean"),
    [
        ("North Glade", "North Glade"),
        ("  North \t Glade \n", "North Glade"),
        ("line\r\nbreak", "line break"),
        ("null\x00bell\x07", "nullbell"),
        ("turned\u202eedalG", "turnededalG"),  # marks that turn the direction of reading
        ("\u200bzero\u200dwidth\ufeff", "zerowidth"),
        ("Étang du Pré", "Étang du Pré"),
        ("<b>bold</b>", "<b>bold</b>"),  # what it means on a page is the page's business
        ("", ""),
        ("\x1b[31mred", "[31mred"),
    ],
)
def test_names_are_put_on_one_plain_line(text: str, clean: str) -> None:
    """A name is one line without control, direction or hidden marks; letters of any language stay."""
    assert clean_name(text) == clean


def test_a_long_name_is_cut_with_a_mark() -> None:
    """A name of more than 80 characters is cut to 80, the last of them a mark that it was cut."""
    assert clean_name("x" * 80) == "x" * 80
    assert clean_name("x" * 81) == "x" * 79 + "…"


@settings(deadline=None, max_examples=200)
@given(text=st.text(max_size=200))
def test_a_clean_name_is_short_plain_and_stays_clean(text: str) -> None:
    """Whatever the text, the name is printable, on one line, at most 80 long, and cleaning it again changes nothing."""
    name = clean_name(text)
    assert len(name) <= 80
    assert name == name.strip()
    assert len(name.splitlines()) <= 1
    assert clean_name(name) == name


@settings(deadline=None, max_examples=150)
@given(corners=st.lists(st.tuples(st.integers(0, 15), st.integers(0, 15)), min_size=3, max_size=9))
def test_any_ring_is_a_sound_plot_or_a_reason(corners: list[tuple[int, int]]) -> None:
    """However a ring is drawn, a sound plot comes back or a reason, and repair never makes what is refused unsound."""
    shape = on_ground([(5.0 * x, 5.0 * y) for x, y in corners])
    for repair in (False, True):
        answer = check_plot("Drawn", shape, repair=repair)
        if isinstance(answer, Fault):
            assert answer.reason
            assert len(answer.reason) < 400
            continue
        frame = frame_for(answer.shape)
        flat = plane_shape(answer.shape, frame=frame)
        assert flat.is_valid
        assert flat.area == pytest.approx(geodesic_area_m2(answer.shape), abs=0.01)
        raw = frame.shape_to_plane(shape)
        if not repair and raw.is_valid:
            assert answer.notes == ()
            assert flat.area == pytest.approx(raw.area, abs=0.01)
