"""What is said of a boundary that can be measured but may be wrong."""

import numpy as np
import pytest
import shapely

from gladebook.geometry.area import geodesic_area_m2
from gladebook.geometry.frame import Frame
from gladebook.plots.doubts import boundary_doubts, said_together, spread_doubt
from gladebook.plots.plot import Fault, check_plot, laps_turned

FRAME = Frame(lon_deg=-86.5, lat_deg=32.4)
SQUARE = FRAME.shape_to_lonlat(shapely.box(0, 0, 100, 100))
ACRE_M2 = 4046.8564224  # 43,560 ft2 of 0.3048 m, exact


def test_a_plain_boundary_raises_no_doubt():
    """A hectare in Alabama whose fields say nothing of its area has nothing to be said."""
    assert boundary_doubts(SQUARE, fields={"name": "Glade", "area": 3}) == ()


def test_swapped_american_coordinates_are_doubted():
    """A boundary near 86 south looks swapped."""
    swapped = shapely.transform(SQUARE, lambda xy: xy[:, ::-1])
    (doubt,) = boundary_doubts(swapped, fields={})
    assert "swapped" in doubt.words


def test_a_corner_far_away_is_doubted():
    """A degree of a meridian is 69 miles: a plot with one corner that far north reaches over them."""
    (doubt,) = boundary_doubts(shapely.Polygon([(-86.5, 32.4), (-86.499, 32.4), (-86.5, 33.4)]), fields={})
    assert "reaches over 69 miles" in doubt.words


@pytest.mark.parametrize(("away_deg", "says"), [(0.3, ""), (1.0, "its plots lie up to 69 miles apart")])
def test_plots_far_apart_are_doubted(away_deg, says):
    """Plots of one property lie 21 miles apart without a word, 69 miles apart with one."""
    other = shapely.transform(SQUARE, lambda lonlat: lonlat + np.array([0, away_deg]))
    assert spread_doubt(np.array([SQUARE, other])).startswith(says)
    assert bool(spread_doubt(np.array([SQUARE, other]))) == bool(says)
    assert spread_doubt(np.array([SQUARE])) == ""


def test_a_plot_across_the_date_line_reaches_no_farther_than_it_is_wide():
    """Corners on both sides of 180 degrees, in whatever sign, are near each other."""
    across = shapely.box(-179.999, 52.0, 179.999, 52.001)
    assert boundary_doubts(across, fields={}) == ()


@pytest.mark.parametrize("field", ["acres", "Acres", "GIS_Acres", "ha", "area_m2"])
def test_a_stated_area_that_fits_is_no_doubt(field):
    """An area column within 1 % of the boundary's own area is not mentioned, whatever its unit."""
    true_m2 = geodesic_area_m2(SQUARE)
    unit = {"ha": 10_000.0, "area_m2": 1.0}.get(field, ACRE_M2)
    assert boundary_doubts(SQUARE, fields={field: true_m2 / unit * 1.005}) == ()


@pytest.mark.parametrize(("share", "words"), [(1.2, "20 % more"), (0.9, "10 % less")])
def test_a_stated_area_that_does_not_fit_is_told(share, words):
    """An area column that is 20 % more or 10 % less than the boundary encloses is told with both figures."""
    acres = geodesic_area_m2(SQUARE) / ACRE_M2
    (doubt,) = boundary_doubts(SQUARE, fields={"ACRES": str(acres * share)})
    assert words in doubt.words
    assert f"{acres:.3g} ac" in doubt.words


@pytest.mark.parametrize("count", [3, 4, 100])
def test_what_is_doubtful_of_many_plots_is_said_once(count):
    """Up to three plots say their doubt themselves; of more the file says how many there are, and names three."""
    found = [(f"P{i}", boundary_doubts(SQUARE, fields={"acres": 3 + i})[0]) for i in range(count)]
    notes, told = said_together(found, source="farm.gpkg")
    if count == 3:
        assert (notes, told) == ([], set())
        return
    (note,) = notes
    assert note.count == count
    assert note.examples[0] == "P0: 3 ac stated, 2.47 ac enclosed"  # 10,000 m2 / 4,046.856 m2
    assert f"({count} plots: P0: 3 ac stated, 2.47 ac enclosed; P1: " in str(note)
    assert f"; and {count - 3} more). It may leave something out" in str(note)
    assert told == {doubt for _, doubt in found}


def test_doubts_of_different_kinds_are_not_said_together():
    """Three plots whose field is off and three in Antarctica are six, each with its own sentence."""
    swapped = shapely.transform(SQUARE, lambda xy: xy[:, ::-1])
    found = [(f"P{i}", boundary_doubts(SQUARE, fields={"acres": 3})[0]) for i in range(3)]
    found += [(f"Q{i}", boundary_doubts(swapped, fields={})[0]) for i in range(3)]
    assert said_together(found, source="farm.gpkg") == ([], set())


@pytest.mark.parametrize("value", [None, True, "", "n/a", "nan", 0, -3.0, "1e999"])
def test_a_stated_area_that_is_no_figure_is_passed_over(value):
    """What is no area above zero says nothing."""
    assert boundary_doubts(SQUARE, fields={"acres": value}) == ()


@pytest.mark.parametrize("laps", [1, 2, 3])
def test_turns_tell_how_often_a_walk_goes_round(laps):
    """The turns of a crooked walk add up to a whole turn a lap."""
    angle = np.linspace(0, 2 * np.pi * laps, 40 * laps + 1)
    away = 40 + 3 * np.sin(7 * angle)
    xy = np.column_stack([away * np.cos(angle), away * np.sin(angle)])
    assert laps_turned(xy) == pytest.approx(laps, abs=0.01)


def test_one_lap_of_a_receiver_that_wanders_is_not_called_many():
    """A single lap whose points jitter by half a metre is told to cross itself, not to go round often."""
    rng = np.random.default_rng(8)
    angle = np.linspace(0, 2 * np.pi, 2001)[:-1]
    xy = 40 * np.column_stack([np.cos(angle), np.sin(angle)]) + rng.normal(0, 0.5, (2000, 2))
    ring = np.concatenate([xy, xy[:1]])
    assert laps_turned(ring) > 1.5
    found = check_plot("Alder Glade", shapely.Polygon(FRAME.to_lonlat(ring)))
    assert isinstance(found, Fault)
    assert "crosses itself" in found.reason
    assert "goes round" not in found.reason


def test_two_laps_of_a_walk_are_refused_as_such():
    """A walk twice round crosses itself; the answer says that one lap is enough."""
    angle = np.linspace(0, 4 * np.pi, 90)
    away = 40 + 4 * np.sin(2.5 * angle)
    lonlat = FRAME.to_lonlat(np.column_stack([away * np.cos(angle), away * np.sin(angle)]))
    fault = check_plot("walk", shapely.Polygon(lonlat), walked=True)
    assert isinstance(fault, Fault)
    assert "goes round about 2 times" in fault.reason


def test_one_lap_that_crosses_itself_is_not_called_two():
    """A figure of eight turns once one way and once the other: not two laps."""
    eight = FRAME.to_lonlat(np.array([(0, 0), (40, 40), (40, 0), (0, 40), (0, 0)], dtype=float))
    fault = check_plot("eight", shapely.Polygon(eight))
    assert isinstance(fault, Fault)
    assert "goes round" not in fault.reason
