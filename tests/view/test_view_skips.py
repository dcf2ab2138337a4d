"""Missed strips in words: go look, can't tell, boom off; and until when to stay out."""

import string
from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from gladebook.coverage.compute import cover_plots
from gladebook.coverage.result import Coverage, MissedStrip, PlotCoverage
from gladebook.doubt.verdict import Doubt, Verdict
from gladebook.geometry.frame import Frame
from gladebook.passes.sprayer import Sprayer
from gladebook.plots.acreage import measure_plots
from gladebook.spraying.cautions import CAUTIONS
from gladebook.spraying.reentry import Reentry
from gladebook.spraying.touch_up import plan_touch_up
from gladebook.testing import Leg, drive, plot_on, rectangle, track_on
from gladebook.units import ACRE_M2, FT_M, GAL_M3
from gladebook.view.documents import coverage_document
from gladebook.view.shapes import coverage_features
from gladebook.view.skips import (
    cant_tell_words,
    entry_words,
    missed_words,
    strip_lines,
    touch_up_lines,
    truly_words,
)

FRAME = Frame(-86.0, 32.0)
SILENT = "The recording drifts by some 9 ft, too much for passes 11 ft apart."


@pytest.fixture(scope="module")
def plain() -> Coverage:
    """One pass of 4 m through the middle of a plot of 20 by 50 m."""
    plot = plot_on("North Glade", rectangle(20, 50), frame=FRAME)
    track = track_on(drive((10, 0), [Leg(10, 50, boom_on=True)]), frame=FRAME)
    return cover_plots(measure_plots([plot]).plots, [track], sprayer=Sprayer(width_m=4.0))


def strip(acres: float, verdict: Verdict, *, plot: str = "North Glade") -> MissedStrip:
    return MissedStrip(plot, acres * ACRE_M2, 100 * FT_M, 12 * FT_M, -86.0, 32.0, rectangle(1, 1), verdict)


RANGE = "Truly missed, the receiver's drift taken out"
RIGHT = "Right about 9 times in 10."  # measured on drawn drives: 83 to 100 of 100, by boom and drift
LOCAL = (
    "With the 12 h you gave: not before 2026-09-28 21:45 CDT (02:45 UTC); "
    "sprayed until 2026-09-28 09:45 CDT (14:45 UTC)."
)
OWN_CLOCK = (
    "With the 30 min you gave: not before 2026-09-28 15:15 on the track's own clock, which states no zone; "
    "sprayed until 2026-09-28 14:45 on the track's own clock, which states no zone."
)
FIRST = (
    "  1. North Glade: between your 7th and 8th pass, 40 to 120 ft in; 0.20 ac, 100 ft long, 12 ft wide; "
    "whole pass missing; at 32.00000, -86.00000"
)
SKIPS = (
    strip(0.2, Verdict("go look", 0.9, "between your 7th and 8th pass, 40 to 120 ft in", "whole pass missing")),
    strip(0.1, Verdict("can't tell", 0.4, "between your 2nd and 3rd pass, the whole way")),
    strip(0.08, Verdict("go look", 0.85, "along the edge", "along the edge")),
    strip(0.06, Verdict("boom off", None, "", "boom off")),
    strip(0.04, Verdict("can't tell")),
    strip(0.03, Verdict("can't tell")),
)


@pytest.fixture
def skipped(plain: Coverage) -> Coverage:
    return replace(plain, strips=SKIPS, doubts=(Doubt("North Glade", 0.3, 3.4, missed_m2=(500.0, 1600.0)),))


def test_the_list_says_when_to_go_in_and_where_to_look_in_one_order(skipped: Coverage):
    """Numbers are those of all strips, largest first; a cause that is the place is said once; doubt is one line."""
    assert strip_lines(skipped, reentry=Reentry()) == [
        "Do not go in on foot before the re-entry time on your label.",
        "Go look, largest first:",
        FIRST,
        "  3. North Glade: along the edge; 0.080 ac, 100 ft long, 12 ft wide; at 32.00000, -86.00000",
        "Can't tell: 0.17 ac in 3 places (2, 5, 6).",
        "The record shows the boom off, largest first:",
        "  4. North Glade: 0.060 ac, 100 ft long, 12 ft wide; at 32.00000, -86.00000",
    ]


def test_without_strips_there_is_no_list(plain: Coverage):
    """Where nothing was missed, there is nowhere to go and nothing to warn of."""
    assert strip_lines(replace(plain, strips=()), reentry=Reentry()) == []
    assert missed_words(replace(plain, strips=())) == ""


def test_a_long_list_is_cut_short_on_a_screen(plain: Coverage):
    """Twenty strips stand on a screen; the rest are one line."""
    many = tuple(strip(0.01, Verdict("go look", 0.9, "along the edge")) for _ in range(25))
    lines = strip_lines(replace(plain, strips=many), reentry=Reentry())
    assert len(lines) == 2 + 20 + 1
    assert lines[-1] == "  5 more, 0.050 ac together; --json lists all."


def test_a_silent_plot_says_why_and_what_to_use_instead(skipped: Coverage):
    """Where nothing is told to be real, the reason stands with the gallons check and the count of passes."""
    doubts = (Doubt("North Glade", 2.7, 3.4, SILENT), Doubt("Elsewhere", silent="The recording has no times."))
    words = cant_tell_words(replace(skipped, doubts=doubts))
    assert words[0] == "Can't tell: 0.17 ac in 3 places (2, 5, 6)."
    assert words[1] == (
        f"Nothing is told to be real in North Glade. {SILENT} Use the gallons check and the count of passes instead."
    )
    assert len(words) == 2  # Elsewhere has no strip in doubt


def test_plots_silent_for_one_reason_share_a_sentence(plain: Coverage):
    """Four plots with one reason are one sentence: three names, and how many more."""
    names = ("A", "B", "C", "D")
    strips = tuple(strip(0.01, Verdict("can't tell"), plot=name) for name in names)
    words = cant_tell_words(replace(plain, strips=strips, doubts=tuple(Doubt(n, silent=SILENT) for n in names)))
    assert words[1].startswith("Nothing is told to be real in A, B, C and 1 more. The recording drifts")


def plots_of(plain: Coverage, *missed_m2: float) -> tuple[PlotCoverage, ...]:
    """Plots A, B, C and so on that look as if so much of them was missed."""
    names = string.ascii_uppercase
    return tuple(replace(plain.plots[0], name=n, missed_m2=m2) for n, m2 in zip(names, missed_m2, strict=False))


def test_the_range_of_missed_ground_is_told_beside_what_it_looks_like(skipped: Coverage):
    """One plot's range is a sentence without its name; 500 to 1,600 m2 are 0.12 to 0.40 ac, and it looks like 0.20."""
    seen = replace(skipped, plots=(replace(skipped.plots[0], missed_m2=0.2 * ACRE_M2),))
    assert truly_words(seen) == [f"{RANGE}: 0.12 to 0.40 ac (looks like 0.20 ac). {RIGHT}"]


def test_ranges_of_two_plots_stand_by_name(plain: Coverage):
    """The plot with more missed stands first; ends that read alike are said once."""
    ranges = (Doubt("A", 0.3, 3.4, missed_m2=(0.0, 0.1 * ACRE_M2)), Doubt("B", 0.3, 3.4, missed_m2=(1213.0, 1215.0)))
    two = replace(plain, plots=plots_of(plain, 0.05 * ACRE_M2, 0.3 * ACRE_M2), doubts=ranges)
    assert truly_words(two) == [
        f"{RANGE}: B 0.30 ac (looks like 0.30 ac); A 0.00 to 0.10 ac (looks like 0.050 ac). {RIGHT}"
    ]


def test_ranges_of_five_plots_are_cut_short(plain: Coverage):
    """Three of five are named, the rest are counted: "2 more plots", or "1 more plot" where one has no range."""
    plots = plots_of(plain, *(k * 0.1 * ACRE_M2 for k in (1, 2, 3, 4, 5)))
    doubts = tuple(Doubt(p.name, 0.3, 3.4, missed_m2=(p.missed_m2 / 2, p.missed_m2)) for p in plots)
    three = (
        "E 0.25 to 0.50 ac (looks like 0.50 ac); D 0.20 to 0.40 ac (looks like 0.40 ac); "
        "C 0.15 to 0.30 ac (looks like 0.30 ac)"
    )
    five = replace(plain, plots=plots, doubts=doubts)
    assert truly_words(five) == [f"{RANGE}: {three}; 2 more plots in --json. {RIGHT}"]
    assert truly_words(replace(five, doubts=doubts[1:])) == [f"{RANGE}: {three}; 1 more plot in --json. {RIGHT}"]


def test_the_only_range_of_several_plots_has_its_name(plain: Coverage):
    """Where one of two plots has a range, it is told whose it is."""
    one = replace(
        plain, plots=plots_of(plain, 0.1 * ACRE_M2, 0.0), doubts=(Doubt("A", 1.0, 3.4, missed_m2=(0.0, 5.0)),)
    )
    assert truly_words(one) == [f"{RANGE}: A 0.00 to 0.001 ac (looks like 0.10 ac). {RIGHT}"]


def test_without_a_range_nothing_is_said_to_be_truly_missed(skipped: Coverage):
    """A silent plot has no range, and no sentence; nor has one without strips."""
    assert truly_words(replace(skipped, doubts=(Doubt("North Glade", 2.7, 3.4, SILENT),))) == []
    assert truly_words(replace(skipped, doubts=())) == []


def test_no_chance_is_said_in_words(skipped: Coverage):
    """A chance is a number of JSON alone: no sentence on strips has a percent or an "in 10"."""
    words = "\n".join([missed_words(skipped), *strip_lines(skipped, reentry=Reentry())])
    assert "%" not in words
    assert "in 10" not in words
    assert [s["chance_real"] for s in coverage_document(skipped, gallons=None)["missed_strips"]][:4] == [
        0.9,
        0.4,
        0.85,
        None,
    ]


def test_doubts_are_in_field_units(skipped: Coverage):
    """JSON has drift and spacing in feet and ground in acres: 0.3048 m is 1 ft, 4,046.86 m2 an acre."""
    treated_m2, missed_m2 = (0.6 * ACRE_M2, 0.9 * ACRE_M2), (0.1 * ACRE_M2, 0.4 * ACRE_M2)
    doubt = Doubt("North Glade", FT_M, 11 * FT_M, "", jumps=1, treated_m2=treated_m2, missed_m2=missed_m2)
    (found,) = coverage_document(replace(skipped, doubts=(doubt,)), gallons=None)["doubts"]
    assert found["drift_ft"] == pytest.approx(1.0)
    assert found["spacing_ft"] == pytest.approx(11.0)
    assert found["jumps"] == 1
    assert found["treated_acres_range"] == pytest.approx([0.6, 0.9])
    assert found["missed_acres_range"] == pytest.approx([0.1, 0.4])
    (bare,) = coverage_document(replace(skipped, doubts=(Doubt("X", silent=SILENT),)), gallons=None)["doubts"]
    assert (bare["drift_ft"], bare["treated_acres_range"], bare["missed_acres_range"]) == (None, None, None)


def test_shapes_carry_the_verdict(skipped: Coverage):
    """Each strip's shape has its number, verdict, place and cause; treated says what it means."""
    features = [properties for _, properties in coverage_features(skipped)]
    strips = [p for p in features if p["kind"] == "missed strip"]
    assert [(p["number"], p["verdict"]) for p in strips][:4] == [
        (1, "go look"),
        (2, "can't tell"),
        (3, "go look"),
        (4, "boom off"),
    ]
    assert strips[0]["cause"] == "whole pass missing"
    assert "plugged tips" in features[0]["means"]


@pytest.mark.parametrize(
    ("reentry", "words"),
    [
        (
            Reentry(12 * 3600.0, datetime(2026, 9, 28, 14, 45, 30, tzinfo=UTC)),
            "With the 12 h you gave: not before 2026-09-29 02:46 UTC; sprayed until 2026-09-28 14:45 UTC.",
        ),
        (
            Reentry(12 * 3600.0, datetime(2026, 9, 28, 9, 45, tzinfo=ZoneInfo("America/Chicago"))),
            LOCAL,
        ),
        (
            Reentry(1800.0, datetime(2026, 9, 28, 14, 45)),  # noqa: DTZ001 - a recording's own clock
            OWN_CLOCK,
        ),
        (
            Reentry(12 * 3600.0, unknown="the track has no times to count from"),
            "With the 12 h you gave, count from when you stopped spraying: the track has no times to count from.",
        ),
    ],
)
def test_the_time_to_stay_out_says_its_clock(reentry: Reentry, words: str):
    """With the label's hours the sentence says until when, in UTC or on whose clock, after the label's own rule."""
    assert entry_words(reentry) == f"Do not go in on foot before the re-entry time on your label. {words}"


def test_a_touch_up_stands_with_its_reminder_and_cautions(skipped: Coverage):
    """Acres and gallons of seen strips alone, then the reminder, then every caution."""
    areas = [(s.plot, s.area_m2) for s in skipped.strips]
    lines = touch_up_lines(plan_touch_up(areas, seen=[1, 3], rate_m=15 * GAL_M3 / ACRE_M2))
    assert lines[0] == "Touch-up of strips 1, 3, which you saw: 0.28 ac at 15 gal/ac takes 4.2 gal of spray."
    assert lines[1:3] == ["  1. North Glade: 0.20 ac, 3 gal", "  3. North Glade: 0.080 ac, 1.2 gal"]
    assert "only weeks later" in lines[3]
    assert lines[-len(CAUTIONS) :] == [f"- {c}" for c in CAUTIONS]
    one = touch_up_lines(plan_touch_up(areas, seen=[4], rate_m=15 * GAL_M3 / ACRE_M2))
    assert one[0] == "Touch-up of strip 4, which you saw: 0.060 ac at 15 gal/ac takes 0.9 gal of spray."
    assert "4." not in one[1]
