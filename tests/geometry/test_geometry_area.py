"""Areas and perimeters on the ellipsoid against GeographicLib and published figures."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Transformer

from gladebook.geometry.area import geodesic_area_m2, geodesic_perimeter_m, ring_area_m2
from tests.geometry.golden import Row, geographiclib_area_m2, geographiclib_ring, in_group, named, on_ground

# The stated accuracy of GeographicLib for perimeters under 10 km is 0.0013 m2 (Planimeter, ACCURACY);
# a thousandth of a square metre is what this project promises.
PLOT_M2 = 1e-3
CONTINENT = 1e-11
PLOTS = in_group("plot")
PLANIMETER = in_group("planimeter")
CONTINENTAL = in_group("continental")


def name_of(row: Row) -> str:
    return row.name


@pytest.mark.parametrize("row", PLOTS + PLANIMETER + CONTINENTAL, ids=name_of)
def test_the_table_is_what_geographiclib_gives(row: Row) -> None:
    """The figures in the table are GeographicLib's own, and within the stated distance of printed ones."""
    assert geographiclib_area_m2(row.shape) == pytest.approx(row.area_m2, rel=1e-12, abs=1e-4)
    length = sum(geographiclib_ring(part.exterior)[1] for part in shapely.get_parts(row.shape))
    assert length == pytest.approx(row.perimeter_m, rel=1e-12)
    if "printed_area_m2" in row.printed:
        assert row.area_m2 == pytest.approx(row.printed["printed_area_m2"], rel=0, abs=row.printed["printed_within_m2"])
    if "printed_perimeter_m" in row.printed:
        assert row.perimeter_m == pytest.approx(
            row.printed["printed_perimeter_m"], rel=0, abs=row.printed["printed_within_m"]
        )


@pytest.mark.parametrize("row", PLOTS, ids=name_of)
def test_plots_have_the_area_that_geographiclib_gives(row: Row) -> None:
    """A plot of 0.1 to 640 acres, with a hole, in parts or across 180 degrees, is right to 1e-3 m2."""
    assert geodesic_area_m2(row.shape) == pytest.approx(row.area_m2, rel=0, abs=PLOT_M2)
    # 200 nm is the stated accuracy of a perimeter, 1e-6 m is far below any tape
    assert geodesic_perimeter_m(row.shape) == pytest.approx(row.perimeter_m, rel=0, abs=1e-6)


@pytest.mark.parametrize("row", CONTINENTAL, ids=name_of)
def test_continents_have_the_area_that_geographiclib_gives(row: Row) -> None:
    """Shapes of up to the size of a continent are right to 1e-11 of their area."""
    assert geodesic_area_m2(row.shape) == pytest.approx(row.area_m2, rel=CONTINENT, abs=PLOT_M2)
    assert geodesic_perimeter_m(row.shape) == pytest.approx(row.perimeter_m, rel=CONTINENT)


@pytest.mark.parametrize("row", PLANIMETER, ids=name_of)
def test_the_suite_of_geographiclib_holds(row: Row) -> None:
    """The published test polygons of GeographicLib come out within their own tolerances."""
    assert ring_area_m2(row.shape.exterior) == pytest.approx(
        row.printed["printed_area_m2"], rel=0, abs=row.printed["printed_within_m2"]
    )
    if "printed_perimeter_m" in row.printed:
        assert geodesic_perimeter_m(row.shape) == pytest.approx(
            row.printed["printed_perimeter_m"], rel=0, abs=row.printed["printed_within_m"]
        )


def test_half_the_ellipsoid_is_half_its_area() -> None:
    """The northern half of the earth is half of 510065621724088.5093 m2 (GeographicLib test suite)."""
    equator = shapely.LinearRing([(0, 0), (90, 0), (180, 0), (270, 0)])
    assert ring_area_m2(equator) == pytest.approx(510065621724088.5093 / 2, rel=1e-14)


def test_a_ring_that_is_one_point_has_no_area() -> None:
    """A ring whose corners are all one place has neither area nor length (GeographicLib, Planimeter19)."""
    point = shapely.Polygon([(1, 1)] * 4)
    assert ring_area_m2(point.exterior) == 0.0
    assert geodesic_perimeter_m(point) == 0.0


def test_nothing_has_no_area() -> None:
    """Empty shapes, points and lines have no area and no perimeter."""
    for nothing in (
        shapely.Polygon(),
        shapely.MultiPolygon(),
        shapely.GeometryCollection(),
        shapely.Point(1, 1),
        shapely.LineString([(0, 0), (1, 1)]),
    ):
        assert geodesic_area_m2(nothing) == 0.0
        assert geodesic_perimeter_m(nothing) == 0.0


def test_the_direction_of_a_ring_does_not_matter() -> None:
    """Trap 7: a ring drawn clockwise encloses as much as one drawn the other way."""
    for row in PLOTS:
        for part in shapely.get_parts(row.shape):
            back = shapely.Polygon(part.exterior.coords[::-1], [hole.coords[::-1] for hole in part.interiors])
            assert geodesic_area_m2(back) == pytest.approx(geodesic_area_m2(part), rel=0, abs=PLOT_M2)


def test_holes_are_taken_out_whichever_way_they_run() -> None:
    """Trap 8: a hole is subtracted also where it runs the same way round as its shell."""
    row = named("P7")
    shell, hole = row.shape.exterior, row.shape.interiors[0]
    for shell_coords in (shell.coords, shell.coords[::-1]):
        for hole_coords in (hole.coords, hole.coords[::-1]):
            holed = shapely.Polygon(shell_coords, [hole_coords])
            assert geodesic_area_m2(holed) == pytest.approx(row.area_m2, rel=0, abs=PLOT_M2)


def test_a_published_polygon_with_a_hole_either_way() -> None:
    """Trap 8: the holed polygon of the pyproj documentation has one area for all directions of its rings."""
    row = named("holed")
    for sign in (1.0, -1.0):
        turned = shapely.geometry.polygon.orient(row.shape, sign)
        assert geodesic_area_m2(turned) == pytest.approx(944373881400.3394, rel=CONTINENT)


def test_holes_do_not_count_as_perimeter() -> None:
    """The perimeter is the length of outer edges: a pond inside adds nothing to it."""
    row = named("P7")
    assert geodesic_perimeter_m(row.shape) == pytest.approx(596.329, abs=5e-4)  # the digits of the table
    assert geodesic_perimeter_m(row.shape) == geodesic_perimeter_m(shapely.Polygon(row.shape.exterior))


def test_a_height_changes_no_area() -> None:
    """Trap 11: a height on a corner is dropped; the area is the level one, as on a plat."""
    flat = named("P1").shape
    raised = shapely.force_3d(flat, 1500.0)
    assert geodesic_area_m2(raised) == geodesic_area_m2(flat)
    assert geodesic_perimeter_m(raised) == geodesic_perimeter_m(flat)


def test_whole_turns_of_longitude_change_nothing() -> None:
    """A longitude of 271.5 is one of -88.5: shapes shifted by whole turns keep area and perimeter."""
    for row in PLOTS:
        for turn in (-360.0, 360.0):
            moved = shapely.transform(row.shape, lambda xy, turn=turn: xy + np.array([turn, 0.0]))
            if abs(shapely.get_coordinates(moved)[:, 0]).max() <= 360:
                assert geodesic_area_m2(moved) == pytest.approx(row.area_m2, rel=0, abs=PLOT_M2)


def test_a_plot_across_180_degrees_in_three_forms() -> None:
    """Trap 16: a plot across the 180th meridian has its area in all three ways that files write it."""
    row = named("P9")
    folded = shapely.transform(row.shape, lambda xy: np.column_stack([(xy[:, 0] + 180) % 360 - 180, xy[:, 1]]))
    west = shapely.intersection(row.shape, shapely.box(179, 51, 180, 53))
    east = shapely.intersection(row.shape, shapely.box(180, 51, 181, 53))
    cut = shapely.MultiPolygon([west, shapely.transform(east, lambda xy: xy - [360.0, 0.0])])
    assert geodesic_area_m2(row.shape) == pytest.approx(20234.3622, abs=PLOT_M2)
    assert geodesic_area_m2(folded) == pytest.approx(row.area_m2, rel=0, abs=PLOT_M2)
    # the cut adds corners on straight lines in degrees, which are not quite geodesics: 0.0001 m2 (computed)
    assert geodesic_area_m2(cut) == pytest.approx(20234.362303, rel=0, abs=PLOT_M2)


@pytest.mark.parametrize("row", [row for row in PLOTS if "utm_percent_off" in row.printed], ids=name_of)
def test_map_projections_are_off_by_what_is_known(row: Row) -> None:
    """Trap 2: Web Mercator and UTM are off by the known per cent, so neither is what areas come from."""
    lon = shapely.get_coordinates(row.shape)[:, 0].mean()
    zone = {"P3": 17, "P5": 16}.get(row.name, int((lon + 180) // 6) + 1)
    for epsg, column in ((32600 + zone, "utm_percent_off"), (3857, "web_mercator_percent_off")):
        way = Transformer.from_crs(4326, epsg, always_xy=True)
        plane = shapely.transform(row.shape, lambda xy, way=way: np.column_stack(way.transform(xy[:, 0], xy[:, 1])))
        off = 100 * (plane.area / geodesic_area_m2(row.shape) - 1)
        # the table has five digits of UTM and four of Web Mercator; its own rounding is half of the last
        assert off == pytest.approx(row.printed[column], abs=6e-5 if column.startswith("web") else 2e-5)


@pytest.mark.parametrize(
    ("lat", "factor"),
    [
        (0, 1.006739),
        (25, 1.222719),
        (30, 1.337830),
        (33, 1.425633),
        (35, 1.493733),
        (40, 1.706096),
        (45, 2.000023),
        (50, 2.417482),
        (60, 3.986623),
        (70, 8.504798),
    ],
)
def test_web_mercator_swells_by_the_exact_factor(lat: float, factor: float) -> None:
    """Trap 2: a Web Mercator area over ours is a2 / (M N cos2), 1.43 at 33 N."""
    a, e2 = 6378137.0, 0.0066943799901413165  # WGS 84
    sin2 = math.sin(math.radians(lat)) ** 2
    m, n = a * (1 - e2) / (1 - e2 * sin2) ** 1.5, a / math.sqrt(1 - e2 * sin2)
    assert a * a / (m * n * math.cos(math.radians(lat)) ** 2) == pytest.approx(factor, abs=5e-7)
    plot = on_ground([(-5, -5), (5, -5), (5, 5), (-5, 5)], lon=-88.5, lat=lat)
    way = Transformer.from_crs(4326, 3857, always_xy=True)
    plane = shapely.transform(plot, lambda xy: np.column_stack(way.transform(xy[:, 0], xy[:, 1])))
    # over 10 m the factor itself changes by some 1e-11, and 100 m2 is known to 1e-4 m2
    assert plane.area / geodesic_area_m2(plot) == pytest.approx(factor, rel=3e-6)


def test_a_users_rectangle_is_not_its_web_mercator_area() -> None:
    """Trap 2: the rectangle of shapely issue 726 is 23,989 m2; its Web Mercator area is 1.8998 times that."""
    row = named("shapely-726")
    assert geodesic_area_m2(row.shape) == pytest.approx(23988.936, abs=PLOT_M2)
    assert 45573.99 / geodesic_area_m2(row.shape) == pytest.approx(1.8998, abs=5e-5)


def test_an_area_in_square_degrees_is_no_area() -> None:
    """Trap 1: the area comes from the ellipsoid, never from degrees as if they were metres."""
    row = named("P2")
    assert row.shape.area < 1e-6
    assert geodesic_area_m2(row.shape) == pytest.approx(2023.4159, abs=PLOT_M2)


def test_lines_straight_in_degrees_and_geodesics_part_little_under_a_kilometre() -> None:
    """Trap 29: an edge of 1 km, straight in degrees, bows 2 cm from the geodesic, 13 ppm of a square km."""
    # sagitta = L^2 tan(lat) / 8R = 1.96 cm at 45 degrees; area between = 2/3 L sagitta = 13.1 m2
    half = 500 / (111_320 * math.cos(math.radians(45)))
    south = on_ground([(0, -900), (1, -900), (1, -899)], lon=0, lat=45).bounds[1]
    geodesic = shapely.Polygon([(-half, 45), (half, 45), (half, south), (-half, south)])
    along = [(float(x), 45.0) for x in np.linspace(-half, half, 101)]
    in_degrees = shapely.Polygon([*along, (half, south), (-half, south)])
    between = geodesic_area_m2(geodesic) - geodesic_area_m2(in_degrees)
    length, radius = 1000.0, 6388838.3  # radius N at 45 N, WGS 84
    assert between == pytest.approx(2 / 3 * length * length**2 / (8 * radius), rel=0.01)
    assert between / geodesic_area_m2(geodesic) < 2e-5


places = st.tuples(st.floats(-180, 180), st.floats(-85, 85))
stars = st.lists(st.floats(0.2, 1.0), min_size=3, max_size=14)


@settings(deadline=None, max_examples=60)
@given(place=places, spokes=stars, size=st.floats(5, 1000))
def test_any_plot_has_the_area_that_geographiclib_gives(
    place: tuple[float, float], spokes: list[float], size: float
) -> None:
    """Any star-shaped plot of up to 2 km, anywhere, agrees with GeographicLib to 2e-3 m2, either way round."""
    # twice the stated accuracy, since both sides have it
    corners = [
        (r * size * math.cos(2 * math.pi * i / len(spokes)), r * size * math.sin(2 * math.pi * i / len(spokes)))
        for i, r in enumerate(spokes)
    ]
    plot = on_ground(corners, lon=place[0], lat=place[1])
    expected = geographiclib_area_m2(plot)
    assert geodesic_area_m2(plot) == pytest.approx(expected, rel=0, abs=2e-3)
    assert geodesic_area_m2(plot.reverse()) == pytest.approx(expected, rel=0, abs=2e-3)
    assert geodesic_perimeter_m(plot) == pytest.approx(geographiclib_ring(plot.exterior)[1], rel=0, abs=1e-6)


@settings(deadline=None, max_examples=40)
@given(place=places, share=st.floats(0.05, 0.95), width=st.floats(10, 900), height=st.floats(10, 900))
def test_two_halves_make_the_whole(place: tuple[float, float], share: float, width: float, height: float) -> None:
    """A plot fenced in two along a straight line has the area of its two pieces."""
    cut = width * share
    whole = on_ground([(0, 0), (width, 0), (width, height), (0, height)], lon=place[0], lat=place[1])
    a, b, c, d = shapely.get_coordinates(whole)[:4]
    south, north = a + (b - a) * share, d + (c - d) * share
    halves = [shapely.Polygon([a, south, north, d]), shapely.Polygon([south, b, c, north])]
    cornered = shapely.Polygon([a, south, b, c, north, d])
    assert cut > 0
    total = sum(geodesic_area_m2(half) for half in halves)
    assert total == pytest.approx(geodesic_area_m2(cornered), rel=0, abs=3e-3)
