"""What was truly treated and missed: told only where drift is all that moves it and little enough; and it adds up.

How often ranges hold is measured by ``python -m tests.bench --only redraw`` and ``--only doubt``.
"""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from gladebook.coverage.result import Coverage
from gladebook.doubt.verdict import Doubt
from gladebook.testing import Points
from tests.doubt.drawn_gaps import LONG_M, POINTS, SPACING_M, cover, rows, to_and_fro

GROUND = shapely.box(0, 0, LONG_M, 44)
NOUGHT_M = 1e-9
LEFT_OUT_M2 = 5.0 * LONG_M  # two spacings of 5.5 m less a boom of 6 m


def driven() -> Points:
    """Eight passes less the fifth."""
    return to_and_fro(rows(8, leave_out=(4,)))


def stepped(*at: int, size_m: float = 1.5) -> Points:
    """The same, its error stepping to the north and back by turns."""
    points = driven()
    xy = points.xy_m.copy()
    for k, first in enumerate(at):
        xy[first:, 1] += size_m if k % 2 == 0 else -size_m
    return replace(points, xy_m=xy)


def doubt_of(coverage: Coverage) -> Doubt:
    (doubt,) = coverage.doubts
    return doubt


def test_without_drift_what_was_truly_done_is_what_was_recorded():
    """With a receiver that does not drift both ranges are the recorded figures, to a square metre."""
    coverage = cover(driven(), ground=GROUND, error_m=NOUGHT_M)
    doubt = doubt_of(coverage)
    assert doubt.missed_m2 == pytest.approx((LEFT_OUT_M2, LEFT_OUT_M2), abs=1.0)
    assert doubt.missed_m2 == pytest.approx((coverage.missed_m2, coverage.missed_m2), abs=1.0)
    assert doubt.treated_m2 == pytest.approx((coverage.treated_m2, coverage.treated_m2), abs=1.0)


def test_a_drift_of_nought_may_be_given():
    """`CutRules(error_m=0)` is the user's word on a perfect receiver, and no error."""
    assert doubt_of(cover(driven(), ground=GROUND, error_m=0.0)).missed_m2 is not None


@pytest.mark.parametrize("error_m", [0.3, 1.0, 2.0])
def test_treated_and_missed_add_up_to_the_plot(error_m: float):
    """The most treated and the least missed are the plot together, as are the least and the most; none is below 0."""
    doubt = doubt_of(cover(driven(), ground=GROUND, error_m=error_m))
    assert doubt.treated_m2 is not None
    assert doubt.missed_m2 is not None
    (least, most), (low, high) = doubt.treated_m2, doubt.missed_m2
    assert least + high == pytest.approx(GROUND.area, abs=1.0)
    assert most + low == pytest.approx(GROUND.area, abs=1.0)
    assert 0 <= low <= high
    assert 0 <= least <= most


def test_more_drift_takes_more_of_what_looks_missed_away():
    """What shows as missed is ever less sure to be so: the lower end falls, and the range is wider than with none."""
    ranges = [doubt_of(cover(driven(), ground=GROUND, error_m=e)).missed_m2 for e in (NOUGHT_M, 0.1, 0.5, 1.0)]
    lows = [low for low, _ in (r for r in ranges if r is not None)]
    assert len(lows) == 4
    assert lows == sorted(lows, reverse=True)
    assert lows[0] > lows[-1] + 100.0


def test_the_same_recording_has_the_same_range():
    """Redraws are drawn alike each time."""
    assert doubt_of(cover(driven(), ground=GROUND)) == doubt_of(cover(driven(), ground=GROUND))


@pytest.mark.parametrize(("error_m", "told"), [(0.49 * SPACING_M, True), (0.51 * SPACING_M, False)])
def test_with_drift_over_half_the_spacing_no_range_is_told(error_m: float, told: bool):
    """At 2.7 m with 5.5 m between passes there is a range, at 2.8 m none, though strips are still judged."""
    doubt = doubt_of(cover(driven(), ground=GROUND, error_m=error_m))
    assert doubt.silent == ""
    assert (doubt.missed_m2 is not None) is told
    assert (doubt.treated_m2 is not None) is told


@pytest.mark.parametrize(("at", "told"), [((), True), ((100,), True), ((100, 290), False)])
def test_with_two_steps_seen_no_range_is_told(at: tuple[int, ...], told: bool):
    """Steps of the error are not drawn again: one is let pass, with two nothing is told."""
    doubt = doubt_of(cover(stepped(*at), ground=GROUND))
    assert doubt.jumps == len(at)
    assert doubt.silent == ""
    assert (doubt.missed_m2 is not None) is told


@pytest.mark.parametrize("error_m", [3.1, None])
def test_a_silent_plot_has_no_range(error_m: float | None):
    """Neither where the receiver drifts too far, nor where the recording jumps about, is anything truly missed."""
    points = driven() if error_m else stepped(100, 130, 290, 350, size_m=4.0)
    doubt = doubt_of(cover(points, ground=GROUND, error_m=error_m))
    assert doubt.silent != ""
    assert (doubt.missed_m2, doubt.treated_m2) == (None, None)


def test_a_recording_without_times_has_no_range():
    """How the error ran along a track without times cannot be drawn, be it the only one or the second of two."""
    points = driven()
    timeless = replace(points, time_s=np.full(len(points.time_s), np.nan))
    assert doubt_of(cover(timeless, ground=GROUND)).missed_m2 is None
    half = 4 * POINTS
    one = Points(points.xy_m[:half], points.time_s[:half], points.boom_on[:half])
    other = Points(points.xy_m[half:], points.time_s[half:], points.boom_on[half:])
    assert doubt_of(cover(one, other, ground=GROUND)).missed_m2 is not None
    untimed = replace(other, time_s=np.full(len(other.time_s), np.nan))
    assert doubt_of(cover(one, untimed, ground=GROUND)).missed_m2 is None


def test_the_truth_lies_in_the_range_of_a_quiet_recording():
    """A left-out pass of 600 m2, recorded with a drift of 0.5 m: the range holds it, and is no wider than it."""
    points = driven()
    rng = np.random.default_rng(11)
    sway = np.zeros(points.xy_m.shape)
    for i in range(1, len(sway)):
        keep = np.exp(-(points.time_s[i] - points.time_s[i - 1]) / 120.0)
        sway[i] = keep * sway[i - 1] + rng.normal(0, 0.5 * np.sqrt(1 - keep**2), 2)
    doubt = doubt_of(cover(replace(points, xy_m=points.xy_m + sway), ground=GROUND))
    assert doubt.missed_m2 is not None
    low, high = doubt.missed_m2
    assert low < LEFT_OUT_M2 < high
    assert high - low < LEFT_OUT_M2
