"""Is the skip real: go look, can't tell or boom off, and the count of passes that follows from it.

A few plots cannot prove a rate; ``python -m tests.bench --only doubt`` measures them on hundreds.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from gladebook.beside.pass_count import PassCount, PassGap
from gladebook.coverage.compute import cover_plots
from gladebook.coverage.result import Coverage
from gladebook.doubt.drift import Drift
from gladebook.doubt.sure_count import sure_count
from gladebook.doubt.verdict import Doubt, Record, Verdict, judge_strips, worth_a_walk
from gladebook.passes.path import CutRules
from gladebook.passes.sprayer import Sprayer
from gladebook.plots.acreage import measure_plots
from gladebook.testing import (
    OPEN_SKY,
    Leg,
    Points,
    as_plot,
    as_track,
    draw_application,
    drive,
    parallel_passes,
    plot_on,
    rectangle,
    track_on,
    truly_missed,
)
from gladebook.testing.applications import PLACE
from gladebook.units import FT_M
from tests.doubt.drawn_gaps import BOOM_M, FRAME, LONG_M, POINTS, SPACING_M, cover, lay, rows, to_and_fro

Floats = NDArray[np.float64]

GROUND = shapely.box(0, 0, LONG_M, 44)  # eight passes of 120 m


def drawn_coverage(*, drift_m: float, seed: int, rules: CutRules | None = None) -> tuple[Any, Coverage]:
    receiver = replace(OPEN_SKY, drift_m=drift_m)
    drawn = draw_application(np.random.default_rng(seed), setting=receiver, boom_m=BOOM_M, acres=1.0)
    plots = measure_plots([as_plot(drawn)]).plots
    return drawn, cover_plots(plots, [as_track(drawn)], sprayer=Sprayer(width_m=BOOM_M), rules=rules)


def test_what_is_said_to_be_real_is_real():
    """Of all strips of twelve drawn plots with a metre of drift that are "go look", at most one in ten is not real."""
    go, real = 0, 0
    for seed in range(300, 312):
        drawn, coverage = drawn_coverage(drift_m=1.0, seed=seed)
        for strip in coverage.strips:
            if strip.verdict.word == "go look":
                go += 1
                real += truly_missed(drawn, PLACE.shape_to_plane(strip.shape)) >= 0.5
                assert strip.verdict.chance_real is not None
                assert 0.8 <= strip.verdict.chance_real <= 0.9
    assert go >= 1
    assert real >= 0.9 * go


def evenly(*, leave_out: tuple[int, ...] = (), interval_s: float = 1.0, error_m: float | None = None) -> Coverage:
    """Straight passes along a plot of 60 by 100 m, recorded without error."""
    ground = rectangle(60.0, 100.0)
    start, legs = parallel_passes(ground, width_m=BOOM_M, spacing_m=SPACING_M, leave_out=leave_out)
    points = drive(start, legs, interval_s=interval_s)
    plots = measure_plots([plot_on("North Glade", ground, frame=FRAME)]).plots
    rules = CutRules(error_m=error_m, gap_s=60.0)
    return cover_plots(plots, [track_on(points, frame=FRAME)], sprayer=Sprayer(width_m=BOOM_M), rules=rules)


def test_a_pass_left_out_is_told_by_passes():
    """Of eleven passes the fifth is left out: go look between the 4th and 5th driven, the whole way, and counted."""
    coverage = evenly(leave_out=(5,))
    verdict = coverage.strips[0].verdict
    assert (verdict.word, verdict.cause, verdict.after) == ("go look", "whole pass missing", 4)
    assert verdict.where == "between your 4th and 5th pass, the whole way"
    count = coverage.passes[0]
    assert (count.found, count.needed) == (10, 11)
    assert [(gap.after, gap.missing) for gap in count.gaps] == [(4, 1)]
    assert "give or take one at the edges" in count.sentences[0]
    doubt = coverage.doubts[0]
    assert doubt.silent == ""
    assert doubt.missed_m2 is not None
    low, high = doubt.missed_m2
    # The drift found is what the model leaves to jitter: the truth lies in the range, at its upper end.
    assert low < (2 * SPACING_M - BOOM_M) * 100.0 < high
    assert high - low < 0.25 * low


def test_points_far_apart_tell_nothing():
    """With four seconds between points no strip is called real, and one sentence says why."""
    coverage = evenly(leave_out=(5,), interval_s=4.0)
    assert {strip.verdict.word for strip in coverage.strips} == {"can't tell"}
    assert coverage.doubts[0].silent == "The recording's points are 4 seconds apart; over 3 is too far."
    assert coverage.passes[0].needed is None


def test_a_receiver_that_is_far_off_tells_nothing():
    """Where the user says that it drifts by more than half the boom, nothing is called real."""
    coverage = evenly(leave_out=(5,), error_m=0.51 * BOOM_M)
    assert {strip.verdict.word for strip in coverage.strips} == {"can't tell"}
    assert "drifts" in coverage.doubts[0].silent


def test_a_boom_that_the_record_shows_off_is_listed_apart():
    """Ground driven over with the boom off on the record is "boom off", whatever the drift."""
    ground = rectangle(60.0, 100.0)
    start, legs = parallel_passes(ground, width_m=BOOM_M, spacing_m=SPACING_M)
    whole = legs[6]  # along the fourth pass: it ends at 100 m or at 0
    near, far = (30.0, 70.0) if whole.y_m > 50 else (70.0, 30.0)
    parts = [Leg(whole.x_m, near, boom_on=True), Leg(whole.x_m, far, boom_on=False), whole]
    off = [*legs[:6], *parts, *legs[7:]]
    plots = measure_plots([plot_on("North Glade", ground, frame=FRAME)]).plots
    coverage = cover_plots(plots, [track_on(drive(start, off), frame=FRAME)], sprayer=Sprayer(width_m=BOOM_M))
    assert coverage.strips[0].verdict.word == "boom off"
    assert coverage.strips[0].verdict.chance_real is None


def test_a_boom_off_for_less_than_its_width_is_told_too():
    """A gap of 3 m with a boom of 6 m on the record is "boom off": its length is measured along the drive."""
    ground = rectangle(60.0, 100.0)
    start, legs = parallel_passes(ground, width_m=BOOM_M, spacing_m=SPACING_M)
    whole = legs[6]
    near, far = (48.5, 51.5) if whole.y_m > 50 else (51.5, 48.5)
    parts = [Leg(whole.x_m, near, boom_on=True), Leg(whole.x_m, far, boom_on=False), whole]
    plots = measure_plots([plot_on("North Glade", ground, frame=FRAME)]).plots
    track = track_on(drive(start, [*legs[:6], *parts, *legs[7:]]), frame=FRAME)
    coverage = cover_plots(plots, [track], sprayer=Sprayer(width_m=BOOM_M))
    assert coverage.strips[0].area_m2 == pytest.approx(15.0, abs=2.0)
    assert coverage.strips[0].verdict.word == "boom off"


def judge(
    points: Points,
    strips_m: Sequence[Any],
    *,
    sizes_m: Sequence[tuple[float, float]],
    ground: Any = GROUND,
    **rules: Any,
) -> tuple[list[Verdict], Doubt]:
    """Verdicts of strips given by hand, of a recording with its boom states."""
    rule = CutRules(gap_s=60.0, **rules)
    laid = lay(points, ground, rules=rule)
    record = Record((laid.path,), (True,), laid.passes, rule)
    return judge_strips("North Glade", strips_m, sizes_m=sizes_m, side=laid.side, plane=ground, record=record)


def stepped(points: Points, *steps: tuple[int, float]) -> Points:
    """The same with its error stepping to the north at points, and staying there."""
    xy = points.xy_m.copy()
    for at, size_m in steps:
        xy[at:, 1] += size_m
    return replace(points, xy_m=xy)


def hidden(*, by_m: float, passes: int = 18) -> tuple[Points, Any]:
    """The sixth pass is left out; the error hides a part of its ground in the pass after it, by steps that show."""
    driven = to_and_fro(rows(passes, leave_out=(5,)))
    return stepped(driven, (5 * POINTS + 6, -by_m), (6 * POINTS + 54, by_m)), shapely.box(
        0, 0, LONG_M, passes * SPACING_M
    )


def test_a_strip_that_the_error_narrowed_is_told():
    """A left-out pass shows 2.8 m bare, under half a boom of 6 m, as its neighbour stepped 2.4 m over: go look."""
    points, ground = hidden(by_m=2.4)
    coverage = cover(points, ground=ground)
    strip = coverage.strips[0]
    assert 0.6 * BOOM_M / 2 < strip.width_m < BOOM_M / 2
    assert (strip.verdict.word, strip.verdict.where) == ("go look", "between your 5th and 6th pass, the whole way")
    # Where the steps came from lies a gap as much too wide, which nobody need walk to.
    assert [s.verdict.word for s in coverage.strips if s.verdict.after != 5] == ["can't tell"] * (
        len(coverage.strips) - 1
    )
    assert coverage.doubts[0].jumps == 2


@pytest.mark.parametrize(
    ("width_m", "word"),
    [(3.1, "go look"), (2.9, "go look"), (1.81, "go look"), (1.79, "can't tell"), (0.5, "can't tell")],
)
def test_a_strip_below_six_tenths_of_the_least_width_is_never_told(width_m: float, word: str):
    """However sure it is, what shows less than 0.6 of half a boom, 1.8 m of 6, has no chance and no "go look"."""
    points, ground = hidden(by_m=2.0)
    at_m = BOOM_M + 4 * SPACING_M
    (found,), _ = judge(points, [shapely.box(0, at_m, LONG_M, at_m + 3.0)], sizes_m=[(LONG_M, width_m)], ground=ground)
    assert found.word == word
    assert (found.chance_real is None) == (word == "can't tell")


def test_a_narrow_strip_that_is_truly_narrow_is_not_told():
    """A quiet pass 2.5 m too far over leaves 2 m bare, surely, but under half a boom: not worth a walk."""
    passes = rows(10)
    passes[5:] = [line + np.array([0.0, 2.5]) for line in passes[5:]]
    ground = shapely.box(0, 0, LONG_M, 10 * SPACING_M + 2.5)
    (strip,) = cover(to_and_fro(passes), ground=ground).strips
    assert strip.width_m == pytest.approx(2.0, abs=0.05)
    assert (strip.verdict.word, strip.verdict.chance_real) == ("can't tell", None)


def test_strips_worth_a_walk_are_long_and_wide():
    """Thirty feet by half a boom, unless the rules say otherwise; a hair less of either is not."""
    rules = CutRules()
    assert worth_a_walk(30 * FT_M, 3.0, boom_m=6.0, rules=rules)
    assert not worth_a_walk(30 * FT_M - 1e-6, 3.0, boom_m=6.0, rules=rules)
    assert not worth_a_walk(30 * FT_M, 3.0 - 1e-6, boom_m=6.0, rules=rules)
    assert worth_a_walk(5.0, 1.0, boom_m=6.0, rules=CutRules(least_strip_m=5.0, least_strip_booms=1 / 6))


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("drift_m", [1.4, 2.0])
def test_a_smooth_error_is_no_skip(drift_m: float, seed: int):
    """Three sinusoids of two to ten minutes, 1.4 or 2 m, open strips for a boom of 12 ft: nobody can tell.

    Turns along the plot's edge, rightly with the boom off, come to lie within it.
    """
    ground, boom_m = rectangle(40.0, 70.0), 12 * FT_M
    rng = np.random.default_rng(seed)
    start, legs = parallel_passes(ground, width_m=boom_m, spacing_m=boom_m * 11 / 12)
    points = drive(start, legs)
    period_s, phase = rng.uniform(120, 600, (2, 3)), rng.uniform(0, 2 * np.pi, (2, 3))
    waves = np.sin(2 * np.pi * points.time_s[:, None, None] / period_s + phase).sum(axis=2)
    swayed = replace(points, xy_m=points.xy_m + drift_m * np.sqrt(2 / 3) * waves)
    coverage = cover(swayed, ground=ground, boom_m=boom_m)
    assert coverage.strips
    assert {strip.verdict.word for strip in coverage.strips} == {"can't tell"}


def test_a_smooth_error_does_not_hide_a_pass_left_out():
    """With a sinusoid of 0.7 m over 200 s the plot is not silent, and a pass left out of eighteen is told."""
    points, ground = hidden(by_m=0.0)
    sway = 0.7 * np.sqrt(2) * np.sin(2 * np.pi * points.time_s / 200.0)
    coverage = cover(replace(points, xy_m=points.xy_m + np.column_stack([sway, sway])), ground=ground)
    assert coverage.doubts[0].silent == ""
    assert (coverage.strips[0].verdict.word, coverage.strips[0].verdict.after) == ("go look", 5)


def test_a_strip_where_a_pass_stops_short_is_not_told():
    """Beyond a pass that stops half-way its place is bare, and taken: a row of grass or a choice, nobody can tell."""
    passes = rows(8)
    passes[3] = passes[3][:31]
    (strip,) = cover(to_and_fro(passes), ground=GROUND).strips
    assert strip.area_m2 == pytest.approx(60 * 5.0, abs=5.0)
    assert (strip.verdict.word, strip.verdict.chance_real, strip.verdict.cause) == ("can't tell", None, "")
    assert strip.verdict.where == "between your 3rd and 5th pass, 200 to 390 ft in"


JUMPS = ((100, -3.0), (130, 3.0), (290, -3.0), (350, 3.0), (400, 3.0))


def test_a_jumpy_recording_tells_nothing():
    """Five steps of 3 m in eight minutes silence a plot of a 6 m boom, left-out pass and all: it says how many."""
    driven = to_and_fro(rows(8, leave_out=(4,)))
    coverage = cover(stepped(driven, *JUMPS), ground=GROUND)
    assert {strip.verdict.word for strip in coverage.strips} == {"can't tell"}
    (doubt,) = coverage.doubts
    assert (doubt.silent, doubt.jumps) == ("The recording jumps sideways 5 times while the passes were driven.", 5)
    assert (doubt.missed_m2, doubt.treated_m2) == (None, None)
    assert coverage.passes[0].needed is None
    assert (
        coverage.passes[0].sentences[0].endswith("The recording jumps sideways 5 times while the passes were driven.")
    )


def test_small_jumps_do_not_silence_a_plot():
    """The same steps at 2.4 m, less than 0.45 of the boom, are taken out, and the left-out pass is told."""
    driven = to_and_fro(rows(8, leave_out=(4,)))
    coverage = cover(stepped(driven, *((at, 0.8 * size_m) for at, size_m in JUMPS)), ground=GROUND)
    (told,) = [strip.verdict for strip in coverage.strips if strip.verdict.word == "go look"]
    assert (told.after, told.cause) == (4, "whole pass missing")
    assert coverage.doubts[0].silent == ""


@pytest.mark.parametrize(
    ("ratio", "chance", "word"),
    [
        (0.1, 0.79, "can't tell"),
        (0.1, 0.81, "go look"),
        (0.34, 0.81, "go look"),
        (0.36, 0.89, "can't tell"),
        (0.36, 0.91, "go look"),
        (0.36, 1.0, "go look"),
    ],
)
def test_with_much_drift_more_is_asked_of_a_chance(
    ratio: float, chance: float, word: str, monkeypatch: pytest.MonkeyPatch
):
    """A chance of 0.8 is enough up to a drift of 0.35 spacings, above it takes 0.9; never more than 0.9 is told."""
    one = np.array([chance])
    told = Drift(ratio * SPACING_M, ratio, SPACING_M, chance=one, bare_width_m=one * 5, left_out=one > 2)
    monkeypatch.setattr("gladebook.doubt.verdict.judge_gaps", lambda *_, **__: told)
    strip = shapely.box(0, BOOM_M + 4 * SPACING_M, LONG_M, 2 * BOOM_M + 4 * SPACING_M)
    (found,), _ = judge(to_and_fro(rows(8, leave_out=(5,))), [strip], sizes_m=[(LONG_M, 5.0)])
    assert (found.word, found.chance_real) == (word, min(chance, 0.9))


def test_a_smooth_swing_of_a_pass_is_not_said_to_be_surely_none():
    """A pass that swings over and back, which looks like smooth drift, is no sure "not real", nor left uncounted."""
    passes, x = rows(12), np.linspace(0.0, 1.0, POINTS)
    swing = np.where((x > 0.1) & (x < 0.9), np.sin(np.pi * (x - 0.1) / 0.8) ** 2, 0.0)
    passes[6:] = [line + np.column_stack([0 * swing, 6.0 * swing]) for line in passes[6:]]
    coverage = cover(to_and_fro(passes), ground=shapely.box(0, 0, LONG_M, 12 * SPACING_M + 6.0))
    (strip,) = [strip for strip in coverage.strips if strip.verdict.after == 6]
    assert strip.width_m > BOOM_M / 2
    assert (strip.verdict.word, strip.verdict.chance_real) == ("can't tell", 0.1)
    assert coverage.passes[0].needed is None


COUNT = PassCount("North Glade", 10, 11, (PassGap(4, 1, "north side", (0, 0), (1, 1)),), 5.5, None, ("old.",))
SURE = Doubt("North Glade", 0.5, 5.5)


def test_a_gap_counts_only_where_it_is_sure():
    """One to go and look at counts; with any other gap nothing is said, however small its chance."""
    real = sure_count(COUNT, verdicts=[Verdict("go look", 0.9, after=4)], doubt=SURE)
    assert (real.needed, len(real.gaps)) == (11, 1)
    for chance in (0.1, 0.5):
        between = sure_count(COUNT, verdicts=[Verdict("can't tell", chance, after=4)], doubt=SURE)
        assert between.needed is None
    assert between.why == "The recording drifts too far to be sure of every gap."
    assert sure_count(COUNT, verdicts=[], doubt=replace(SURE, silent="No.")).needed is None
    assert sure_count(COUNT, verdicts=[], doubt=None) == COUNT


def test_the_count_reads_as_one_sentence():
    """What may be one more or less stands between commas, one on either side."""
    real = sure_count(COUNT, verdicts=[Verdict("go look", 0.9, after=4)], doubt=SURE)
    assert real.sentences[0] == (
        "North Glade: 11 passes needed, give or take one at the edges, 10 found, gap after the 4th, north side."
    )
