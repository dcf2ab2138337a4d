"""Sentences on an application: what is said, in which order, and what is left out."""

from dataclasses import replace

import pytest

from gladebook.beside.pass_count import PassCount, PassGap
from gladebook.coverage.compute import cover_plots
from gladebook.coverage.result import Coverage, Outside
from gladebook.geometry.frame import Frame
from gladebook.passes.sprayer import Sprayer
from gladebook.plots.acreage import measure_plots
from gladebook.testing import Leg, drive, plot_on, rectangle, track_on
from gladebook.units import ACRE_M2
from gladebook.view.documents import coverage_document
from gladebook.view.tables import coverage_cells, coverage_table
from gladebook.view.words import TREATED_MEANS, coverage_words, pass_words, passes_words

FRAME = Frame(-86.0, 32.0)


@pytest.fixture(scope="module")
def plain() -> Coverage:
    """One pass of 4 m through the middle of a plot of 20 by 50 m."""
    plot = plot_on("North Glade", rectangle(20, 50), frame=FRAME)
    track = track_on(drive((10, 0), [Leg(10, 50, boom_on=True)]), frame=FRAME)
    return cover_plots(measure_plots([plot]).plots, [track], sprayer=Sprayer(width_m=4.0))


def gap(after: int, *, missing: int = 1, side: str = "east side") -> PassGap:
    return PassGap(after=after, missing=missing, side=side, first_m=(0, 0), last_m=(0, 1))


def counted(name: str, found: int, *gaps: PassGap, needed: int | None = -1) -> PassCount:
    every = found + sum(g.missing for g in gaps) if needed == -1 else needed
    return PassCount(name, found, every, gaps, 3.6, None if every is not None else "There are fewer than four.", ())


@pytest.mark.parametrize(
    ("gaps", "words"),
    [
        ((), "18 passes needed, 18 found"),
        ((gap(7),), "19 passes needed, 18 found, gap after the 7th from the west side"),
        ((gap(7, side="north side"),), "19 passes needed, 18 found, gap after the 7th from the south side"),
        ((gap(0, side="west side"),), "19 passes needed, 18 found, gap before the 1st from the west side"),
        (
            (gap(1, side="south-west side"), gap(12, missing=2, side="south-west side")),
            "21 passes needed, 18 found, gaps after the 1st and of 2 passes after the 12th from the north-east side",
        ),
        (
            tuple(gap(k) for k in (1, 2, 3, 4)),
            (
                "22 passes needed, 18 found, gaps after the 1st, after the 2nd, after the 3rd and 1 more "
                "from the west side"
            ),
        ),
    ],
)
def test_a_gap_is_told_from_the_side_where_counting_begins(gaps: tuple[PassGap, ...], words: str):
    """A gap after a pass lies on its far side, so counting begins on the other; one before the first, on its own."""
    assert pass_words(counted("North Glade", 18, *gaps)) == words


def test_passes_of_several_plots_are_one_sentence():
    """Plots with gaps stand by name, the others as a number; plots that cannot be told are not named."""
    silent = counted("Firebreak", 3, needed=None)
    glade, flat = counted("Glade", 27, gap(6)), counted("Flat", 15, gap(6, missing=2))
    whole = counted("Annex", 8)
    (sentence,) = passes_words([glade, silent, flat, whole])
    assert sentence == (
        "Passes found: Glade 27 of 28, gap after the 6th from the west side; Flat 15 of 17, gap of 2 passes after "
        "the 6th from the west side; none missing in 1 other plot."
    )
    assert passes_words([whole, whole, silent]) == ["Passes: none missing in 2 plots."]
    assert passes_words([silent, silent]) == []
    many = passes_words([glade] * 5)[0]
    assert many.count("Glade") == 3
    assert many.endswith("gaps in 2 more plots.")


def test_nothing_is_said_about_what_did_not_happen(plain: Coverage):
    """A single clean pass is told in three sentences."""
    assert coverage_words(plain) == [
        f"Treated 0.049 of 0.25 ac (20 %): {TREATED_MEANS}.",
        "Missed 0.20 ac (80 %): can't tell 0.20 ac in 2 places.",
        "Driven in all 0.049 ac.",
    ]


def test_treated_is_said_with_what_cannot_be_seen(plain: Coverage):
    """Sentence, table and JSON call ground treated only with what a recording of the boom cannot show."""
    assert TREATED_MEANS == "driven with the boom on; plugged tips, an empty tank and wind cannot be seen"
    assert TREATED_MEANS in coverage_words(plain)[0]
    assert coverage_table(plain).endswith(f"Treated: {TREATED_MEANS}.\n")
    assert coverage_document(plain, gallons=None)["treated_means"] == TREATED_MEANS


def test_outside_is_told_by_where_it_lies_and_water_first(plain: Coverage):
    """Water stands by name in a sentence of its own before all that was sprayed outside."""
    acre = ACRE_M2
    outside = Outside(
        edge_m2=0.3 * acre,
        elsewhere_m2=0.04 * acre,
        obstacles=(("Alder Pond", True, 0.02 * acre), ("Mill Creek", True, 5.0), ("Rock Pile", False, 0.05 * acre)),
    )
    words = coverage_words(replace(plain, outside=outside))
    assert words[2] == "Sprayed over water: Alder Pond, 0.020 ac; Mill Creek, 54 sq ft."
    assert words[3] == (
        "Outside the plots 0.41 ac: 0.30 ac within half a boom of an edge, 0.040 ac farther out, 0.021 ac over water, "
        "0.050 ac on Rock Pile."
    )
    only = Outside(edge_m2=0.3 * acre, elsewhere_m2=0.0, obstacles=(("Rock Pile", False, 0.02),))
    assert coverage_words(replace(plain, outside=only))[2] == (
        "Outside the plots 0.30 ac, all within half a boom of an edge."
    )


def test_a_long_list_of_obstacles_is_cut_short(plain: Coverage):
    """Of many rocks three are named and the rest are added up; water is always named."""
    rocks = tuple((f"Rock {k}", False, 100.0) for k in range(1, 7))
    ponds = tuple((f"Pond {k}", True, 100.0) for k in range(1, 6))
    words = coverage_words(replace(plain, outside=Outside(0.0, 0.0, (*ponds, *rocks))))
    assert all(f"Pond {k}" in words[2] for k in range(1, 6))
    assert "Rock 3" in words[3]
    assert "Rock 4" not in words[3]
    assert "0.074 ac on 3 more obstacles" in words[3]  # 3 x 100 m2 is 0.0741 acres


def test_tables_have_columns_for_what_happened_alone(plain: Coverage):
    """Unknown, three times over and left on purpose have a column where there is some, and none elsewhere."""
    assert coverage_cells(plain)[0] == ["Plot", "Plot ac", "Treated ac", "Missed ac", "Overlap ac"]
    row = replace(plain.plots[0], unknown_m2=50.0, left_m2=60.0, count_m2=(0.0, 1.0, 2.0, 40.0), overlap_m2=42.0)
    much = replace(plain, plots=(row,), unknown_m2=50.0, left_m2=60.0, overlap_m2=42.0)
    header, rows, total = coverage_cells(much)
    assert header[4:] == ["Unknown ac", "Overlap ac", "3+ times ac", "Left on purpose ac"]
    # 50, 42, 40 and 60 m2 over 4,046.856 m2 an acre
    assert rows[0][4:] == total[4:] == ["0.012", "0.010", "0.010", "0.015"]
    assert "Left on purpose ac" in coverage_table(much)


def test_figures_over_all_plots_never_count_shared_ground_past_the_whole(plain: Coverage):
    """Where plots share ground, what lies in both is at most all overlap, or all that was left on purpose."""
    row = replace(plain.plots[0], left_m2=60.0, left_sprayed_m2=55.0, count_m2=(0.0, 0.0, 0.0, 40.0))
    shared = replace(plain, plots=(row, row), passes=plain.passes * 2, overlap_m2=42.0, left_m2=60.0)
    assert coverage_document(shared, gallons=None)["left_on_purpose_sprayed_acres"] == pytest.approx(60.0 / ACRE_M2)
    assert coverage_cells(shared)[2][-2] == "0.010"  # 42 m2


def test_pairs_of_passes_stop_at_fifty(plain: Coverage):
    """JSON lists the fifty pairs that share most ground, largest first as the engine gives them."""
    pairs = tuple((k, k + 1, 100.0 - k) for k in range(80))
    listed = coverage_document(replace(plain, pass_overlaps=pairs), gallons=None)["pass_overlaps"]
    assert len(listed) == 50
    assert listed[0] == {"first": 0, "second": 1, "acres": 100.0 / ACRE_M2}
