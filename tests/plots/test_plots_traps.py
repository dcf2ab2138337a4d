"""The known traps of measuring plots, by the number they have in our list of traps.

Here: 1, 2, 4, 5, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 20, 21, 27, 29 and 30. The others belong to the readers of
files (3, 6, 17, 18, 19, 22, 23) and to swept ground and passes (24, 25, 26, 28).
"""

import math
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Transformer

from gladebook.geometry.area import geodesic_area_m2
from gladebook.plots.acreage import PlotAcres, measure_plots
from gladebook.plots.plot import Fault, Plot, check_plot
from gladebook.plots.sureness import PositionError
from gladebook.units import ACRE_M2
from tests.geometry.golden import named, on_ground

SURE = PositionError(sd_m=0.0)
M2 = 1e-3  # what the ellipsoidal areas are good to


def check(name: str, shape: Any, **options: bool) -> Plot:
    plot = check_plot(name, shape, **options)
    assert isinstance(plot, Plot), plot
    return plot


def measured(shape: Any, *, obstacles: tuple[Any, ...] = (), setback_m: float = 0.0) -> PlotAcres:
    plots = [check("Plot 1", shape)]
    ponds = [check(f"pond {i}", pond) for i, pond in enumerate(obstacles)]
    return measure_plots(plots, obstacles=ponds, setback_m=setback_m, error=SURE).plots[0]


def folded(shape: Any) -> Any:
    """Longitudes brought into -180 to 180, as many programs write them."""
    return shapely.transform(shape, lambda xy: np.column_stack([(xy[:, 0] + 180) % 360 - 180, xy[:, 1]]))


def test_trap_1_degrees_are_no_metres() -> None:
    """Trap 1: an acre in degrees is an acre, not the 4e-7 square degrees that its coordinates enclose."""
    row = named("P3")
    assert row.shape.area < 1e-6
    assert measured(row.shape).net_m2 / ACRE_M2 == pytest.approx(0.999991, abs=5e-7)


def test_trap_2_web_mercator_is_no_map_for_areas() -> None:
    """Trap 2: a plot at 43.5 N has its 23,989 m2 and not the 45,574 of its Web Mercator square."""
    row = named("shapely-726")
    way = Transformer.from_crs(4326, 3857, always_xy=True)
    swollen = shapely.transform(row.shape, lambda xy: np.column_stack(way.transform(xy[:, 0], xy[:, 1])))
    assert swollen.area == pytest.approx(45573.99, abs=0.01)  # shapely issue 726
    assert measured(row.shape).gross_m2 == pytest.approx(23988.936, abs=M2)


@pytest.mark.parametrize("name", ["P2", "P8", "P10", "shapely-726", "go-geom-139"])
def test_traps_4_and_5_latitude_first_is_refused_where_it_shows(name: str) -> None:
    """Traps 4 and 5: with latitude before longitude, west of 90 W, the corner is refused as off the earth."""
    swapped = shapely.transform(named(name).shape, lambda xy: xy[:, ::-1])
    fault = check_plot("Swapped", swapped)
    assert isinstance(fault, Fault)
    assert "no latitude and longitude" in fault.reason
    assert "longitude and latitude" in fault.reason


def test_traps_7_and_9_either_direction_is_taken() -> None:
    """Traps 7 and 9: clockwise or not, a boundary is taken as it is and has the same acres."""
    for name in ("P1", "P4", "P7"):
        row = named(name)
        for sign in (1.0, -1.0):
            turned = shapely.MultiPolygon(
                [shapely.geometry.polygon.orient(part, sign) for part in shapely.get_parts(row.shape)]
            )
            assert measured(turned).net_m2 == pytest.approx(row.area_m2, abs=M2)


def test_trap_8_a_hole_is_taken_out_whichever_way_it_runs() -> None:
    """Trap 8: a hole that runs the same way round as its shell is subtracted, not added."""
    row = named("P7")
    same_way = shapely.Polygon(
        shapely.geometry.polygon.orient(row.shape, 1.0).exterior,
        [shapely.geometry.polygon.orient(shapely.Polygon(row.shape.interiors[0]), 1.0).exterior],
    )
    answer = measured(same_way)
    assert answer.net_m2 == pytest.approx(18210.8848, abs=M2)
    assert measured(same_way, setback_m=1.0).net_m2 == pytest.approx(measured(row.shape, setback_m=1.0).net_m2, abs=M2)


def test_trap_10_a_ring_left_open_is_closed_to_its_first_corner() -> None:
    """Trap 10: corners without the first repeated at the end enclose what they enclose with it."""
    row = named("P2")
    corners = shapely.get_coordinates(row.shape)
    assert measured(shapely.Polygon(corners[:-1])).net_m2 == measured(shapely.Polygon(corners)).net_m2


def test_trap_11_heights_are_dropped() -> None:
    """Trap 11: a plot on a slope of 45 degrees has its level 100 m2, not the 141.4 m2 of the slope."""
    flat = on_ground([(0, 0), (10, 0), (10, 10), (0, 10)])
    corners = shapely.get_coordinates(flat)
    sloped = shapely.Polygon(np.column_stack([corners, [0.0, 10.0, 10.0, 0.0, 0.0]]))
    plot = check("Slope", sloped)
    assert not shapely.has_z(plot.shape)
    assert measure_plots([plot], error=SURE).total_m2 == pytest.approx(100.0, abs=M2)
    assert 100.0 * math.sqrt(2) == pytest.approx(141.4, abs=0.05)  # true surface, at a factor of 1.414214


def test_trap_12_a_bow_tie_is_never_measured_as_drawn() -> None:
    """Trap 12: a bow-tie, which as drawn has no area, is refused; mended it has both lobes, 5,000 m2."""
    corners = [(0.0, 0.0), (100.0, 100.0), (100.0, 0.0), (0.0, 100.0)]
    assert isinstance(check_plot("Bow", on_ground(corners)), Fault)
    mended = check("Bow", on_ground(corners), repair=True)
    assert measure_plots([mended], error=SURE).total_m2 == pytest.approx(5000, abs=0.01)


@pytest.mark.parametrize("laps", [1.15, 2.0, 2.5])
def test_trap_13_a_walk_of_more_than_a_lap_is_the_plot_once(laps: float) -> None:
    """Trap 13: a walk past its start is refused; mended it is the plot once, not twice and not the sliver."""
    count = round(40 * laps)
    angle = 2 * math.pi * np.arange(count) / 40
    radius = 50 * (1 + 0.004 * np.arange(count) / 40)
    walk = on_ground([(float(r * math.cos(a)), float(r * math.sin(a))) for r, a in zip(radius, angle, strict=True)])
    assert isinstance(check_plot("Walk", walk, walked=True), Fault)
    mended = check("Walk", walk, walked=True, repair=True)
    acres = measure_plots([mended], error=SURE).total_m2
    # a circle of 50 m by 40 corners, the drift of 0.4 % a lap on top
    once = 20 * 50**2 * math.sin(2 * math.pi / 40)
    assert once < acres < once * 1.004 ** (2 * laps + 1)
    assert mended.walked


def test_trap_14_repeated_corners_change_nothing() -> None:
    """Trap 14: corners recorded twice or three times, also at the seam, leave plot, acres and range as they are."""
    row = named("P2")
    corners = shapely.get_coordinates(row.shape)
    repeated = np.repeat(corners, [3 if i % 2 else 1 for i in range(len(corners))], axis=0)
    repeated = np.vstack([corners[:1], repeated, corners[:1]])
    plot = check("Twice", shapely.Polygon(repeated))
    assert plot.notes == ()
    once, twice = (measure_plots([p], error=PositionError(3.0)).plots[0] for p in (check("Once", row.shape), plot))
    assert twice.net_m2 == pytest.approx(once.net_m2, abs=1e-6)
    assert (twice.low_m2, twice.high_m2) == pytest.approx((once.low_m2, once.high_m2), abs=1e-6)


def test_trap_14_nearly_repeated_corners_are_no_crossing() -> None:
    """Trap 14: corners a micrometre apart, as copies through other programs leave them, refuse no good plot."""
    corners = shapely.get_coordinates(named("P2").shape)
    near = np.vstack([corners[:5], corners[4] + [1e-11, -1e-11], corners[5:]])
    plot = check("Near", shapely.Polygon(near))
    assert measure_plots([plot], error=SURE).total_m2 == pytest.approx(named("P2").area_m2, abs=M2)


@settings(deadline=None, max_examples=40)
@given(
    noise=st.lists(st.tuples(st.floats(-1e-9, 1e-9), st.floats(-1e-9, 1e-9)), min_size=6, max_size=6),
    turn=st.floats(0, 6.3),
)
def test_trap_15_nearly_shared_edges_break_nothing(noise: list[tuple[float, float]], turn: float) -> None:
    """Trap 15: plots and ponds whose edges nearly coincide, to a tenth of a millimetre, are measured all the same."""

    def spun(corners: list[tuple[float, float]]) -> Any:
        c, s = math.cos(turn), math.sin(turn)
        return on_ground([(x * c - y * s, x * s + y * c) for x, y in corners])

    left = spun([(0, 0), (50, 0), (50, 37), (50, 100), (0, 100)])
    right = spun([(50, 0), (120, 0), (120, 100), (50, 100), (50, 61), (50, 20)])
    pond = spun([(50, 0), (60, 0), (60, 100), (50, 100), (50, 61), (50, 20)])
    wobble = np.array([*noise, noise[0]])
    right, pond = (shapely.transform(shape, lambda xy: xy + wobble) for shape in (right, pond))
    answer = measure_plots(
        [Plot("Left", left), Plot("Right", right)], obstacles=[Plot("pond", pond)], setback_m=0.0, error=SURE
    )
    # 1e-9 degrees are 0.1 mm; along some 300 m of edges that is 0.03 m2
    assert answer.total_m2 == pytest.approx(50 * 100 + 60 * 100, abs=0.1)
    assert [p.obstacle_m2 for p in answer.plots] == pytest.approx([0, 1000], abs=0.1)


def forms_of_p9() -> dict[str, Any]:
    """The plot across the 180th meridian as files write it."""
    beyond = named("P9").shape  # 179.998 to 180.001
    west = shapely.intersection(beyond, shapely.box(179, 51, 180, 53))
    east = shapely.intersection(beyond, shapely.box(180, 51, 181, 53))
    return {
        "beyond 180": beyond,
        "mixed signs": folded(beyond),
        "cut at 180, as RFC 7946 asks": shapely.MultiPolygon(
            [west, shapely.transform(east, lambda xy: xy - [360.0, 0.0])]
        ),
        "below -180": shapely.transform(beyond, lambda xy: xy - [360.0, 0.0]),
    }


@pytest.mark.parametrize("form", list(forms_of_p9()))
def test_trap_16_a_plot_across_180_degrees_is_measured_in_every_form(form: str) -> None:
    """Trap 16: a plot across the 180th meridian has one area, and one setback, in all the forms of files."""
    shape = forms_of_p9()[form]
    assert measured(shape).net_m2 == pytest.approx(20234.3622, abs=M2)
    assert measured(shape, setback_m=5.0).net_m2 == pytest.approx(
        measured(named("P9").shape, setback_m=5.0).net_m2, abs=0.01
    )


@pytest.mark.parametrize("form", list(forms_of_p9()))
@pytest.mark.parametrize("pond_lon", [179.9995, 180.0002, -179.9998])
def test_trap_16_a_pond_across_180_degrees_is_taken_out_in_every_form(form: str, pond_lon: float) -> None:
    """Trap 16: a pond is taken out of a plot across the 180th meridian however each of the two was written."""
    pond = shapely.box(pond_lon, 51.9999, pond_lon + 0.0002, 52.0001)
    answer = measured(forms_of_p9()[form], obstacles=(pond,))
    assert answer.obstacle_m2 == pytest.approx(geodesic_area_m2(pond), abs=M2)
    assert answer.net_m2 == pytest.approx(20234.3622 - geodesic_area_m2(pond), abs=2 * M2)


@pytest.mark.parametrize("second", list(forms_of_p9()))
@pytest.mark.parametrize("first", list(forms_of_p9()))
def test_trap_16_shared_ground_across_180_degrees_counts_once(first: str, second: str) -> None:
    """Trap 16: the same plot twice, in any two forms, is the same ground and counts once."""
    forms = forms_of_p9()
    answer = measure_plots([Plot("A", forms[first]), Plot("B", forms[second])], error=SURE)
    assert answer.total_m2 == pytest.approx(20234.3622, abs=2 * M2)
    assert any("A and B share 5.000 ac" in note for note in answer.notices)


def test_longitudes_from_0_to_360_meet_those_from_minus_180() -> None:
    """A pond at 271.5 degrees east lies in a plot at 88.5 degrees west: whole turns are one place."""
    field = on_ground([(0, 0), (100, 0), (100, 100), (0, 100)])
    pond = on_ground([(10, 10), (30, 10), (30, 30), (10, 30)], lon=271.5)
    answer = measured(field, obstacles=(pond,))
    assert answer.obstacle_m2 == pytest.approx(400, abs=2 * M2)
    again = measured(on_ground([(0, 0), (100, 0), (100, 100), (0, 100)], lon=271.5), obstacles=(pond,))
    assert again.net_m2 == pytest.approx(9_600, abs=2 * M2)


def test_traps_20_and_21_a_corner_without_a_number_is_no_corner_at_nought() -> None:
    """Traps 20 and 21: a corner that is not a number is named, and never becomes 0, 0."""
    with np.errstate(invalid="ignore"):
        broken = shapely.Polygon([(-88, 33), (math.nan, math.nan), (-88.001, 33.001), (-88, 33.001)])
    fault = check_plot("Void", broken)
    assert isinstance(fault, Fault)
    assert "corner 2" in fault.reason


def test_trap_27_a_setback_is_in_metres_in_every_direction() -> None:
    """Trap 27: at 60 N, where a degree of longitude is half one of latitude, the setback is as wide each way."""
    north = on_ground([(0, 0), (200, 0), (200, 50), (0, 50)], lon=-150.0, lat=60.0)
    assert measured(north, setback_m=10.0).net_m2 == pytest.approx(180 * 30, abs=0.01)
    west, south, east, top = measured(north, setback_m=10.0).shape.bounds
    inner = on_ground([(10, 10), (190, 10), (190, 40), (10, 40)], lon=-150.0, lat=60.0)
    assert (west, south, east, top) == pytest.approx(inner.bounds, abs=2e-8)  # 2e-8 degrees are 2 mm


def test_trap_29_long_edges_are_geodesics() -> None:
    """Trap 29: an edge of 1 km between two corners is the geodesic; more corners along it change 2 cm at most."""
    box = on_ground([(-500, 0), (500, 0), (500, 800), (-500, 800)], lon=-90.0, lat=45.0)
    corners = shapely.get_coordinates(box)
    dense = shapely.segmentize(box, 0.0001)
    assert len(shapely.get_coordinates(dense)) > 10 * len(corners)
    difference = measured(dense).gross_m2 - measured(box).gross_m2
    # each long edge bows by L^2 tan(lat) / 8R = 1.96 cm, over 2/3 of its length 13 m2; north and south edges
    # bow the same way, so the box keeps almost all of it
    assert abs(difference) < 0.5
    assert measured(box).gross_m2 == pytest.approx(800_000, rel=1e-7)


@pytest.mark.parametrize("radius_m", [2.0, 20.0])
def test_trap_30_rounded_corners_are_round(radius_m: float) -> None:
    """Trap 30: the setback round a rock of one point's size is a circle to 0.02 %, not 0.16 % or 0.64 % short."""
    rock = [(50.0, 50.0), (50.02, 50.0), (50.02, 50.02), (50.0, 50.02)]
    holed = on_ground([(0, 0), (100, 0), (100, 100), (0, 100)], rock)
    s = radius_m
    taken = (100 - 2 * s) ** 2 - measured(holed, setback_m=s).net_m2
    assert taken == pytest.approx(math.pi * s * s + 4 * 0.02 * s + 0.02**2, rel=2e-4, abs=2e-3)
