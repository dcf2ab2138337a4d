"""The few words that stand first: gallons, passes and their side, water, strips, gaps."""

from dataclasses import replace
from pathlib import Path

import pytest
import shapely

from gladebook.beside.pass_count import PassCount, PassGap
from gladebook.coverage.compute import cover_plots
from gladebook.coverage.ground import Marks
from gladebook.coverage.result import Coverage
from gladebook.io.door import read_track
from gladebook.passes.sprayer import Sprayer
from gladebook.plots.acreage import measure_plots
from gladebook.plots.plot import Plot
from gladebook.spraying.gallons import check_gallons
from gladebook.units import ACRE_M2, GAL_M3
from gladebook.view.headline import headline_words
from tests.cli.fields import FIELD, FRAME, middles, to_and_fro, write_track


def driven(folder: Path, *, leave_out: tuple[int, ...] = (), obstacles: tuple[Plot, ...] = ()) -> Coverage:
    """Ten passes over the plot, some left out."""
    track = read_track(write_track(folder / "drive.csv", to_and_fro(middles(), leave_out=leave_out)))
    plots = measure_plots([Plot("Glade", FRAME.shape_to_lonlat(FIELD))], obstacles=obstacles).plots
    return cover_plots(plots, [track], sprayer=Sprayer(width_m=4.0, behind_m=0.0), marks=Marks(obstacles=obstacles))


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Coverage:
    return driven(tmp_path_factory.mktemp("whole"))


def gap(after: int, missing: int = 1) -> PassGap:
    return PassGap(after, missing, "", (0.0, 0.0), (0.0, 0.0))


def count(needed: int, *gaps: PassGap, side: str = "east side") -> PassCount:
    return PassCount("Glade", needed - sum(g.missing for g in gaps), needed, gaps, 4.0, None, (), side)


@pytest.mark.parametrize(
    ("passes", "words"),
    [
        (count(10, gap(0)), "Glade: one pass missing, west side"),
        (count(10, gap(9)), "Glade: one pass missing, east side"),
        (count(10, gap(4)), "Glade: one pass missing, in the middle"),
        (count(10, gap(0, 2)), "Glade: two passes missing, west side"),
        (count(12, gap(1), gap(10)), "Glade: two passes missing, west side and east side"),
        (count(12, gap(1), gap(2)), "Glade: two passes missing, west side"),
        (count(30, gap(3, 12), side="north-west side"), "Glade: 12 passes missing, south-east side"),
    ],
)
def test_missing_passes_are_told_by_the_side_of_the_plot(whole: Coverage, passes: PassCount, words: str):
    """Passes are counted towards a side: the first third lies on the far side of it, the last third on it."""
    assert headline_words(replace(whole, passes=(passes,)))[0] == words


@pytest.mark.parametrize(
    ("used", "words"),
    [
        (15.0, "Gallons: matches"),
        (14.7, "Gallons: close, 2 % short"),
        (12.0, "Gallons: 20 % short"),
        (18.0, "Gallons: 20 % over"),
    ],
)
def test_gallons_match_or_are_short_or_over(whole: Coverage, used: float, words: str):
    """One acre at 15 gallons an acre; the check's own limit says what is worth flagging."""
    check = check_gallons(used_m3=used * GAL_M3, rate_m=15 * GAL_M3 / ACRE_M2, plots_m2=ACRE_M2)
    assert headline_words(whole, gallons_check=check)[0] == words


def test_a_whole_application_has_nothing_to_tell_but_that(whole: Coverage):
    """Ten passes side by side miss nothing that is worth a walk."""
    assert headline_words(whole) == ["No missed strip worth a walk"]


def test_a_pass_left_out_is_named_and_sized(tmp_path: Path):
    """The third of ten passes, driven from the west, is missing: 4 m by 80 m are 0.079 ac."""
    words = headline_words(driven(tmp_path, leave_out=(3,)))
    assert words == ["Glade: one pass missing, west side", "Go look: 1 place, 0.079 ac"]


def test_water_that_was_sprayed_over_is_named(tmp_path: Path):
    """A pond inside the plot stands by its name; a rock does not."""
    ponds = [
        Plot(name, FRAME.shape_to_lonlat(shapely.box(x, 20, x + 5, 30)))
        for name, x in (("Alder Pond", 9), ("Rock", 25))
    ]
    words = headline_words(driven(tmp_path, obstacles=tuple(ponds)))
    assert words[0] == "Sprayed over water: Alder Pond"
    assert len([w for w in words if "over water" in w]) == 1
