"""What may have happened at a strip: by how much it widens each gap, how likely it is, and steps that are seen."""

from dataclasses import replace
from math import exp, log

import numpy as np
import pytest
from numpy.typing import NDArray

from gladebook.doubt.events import Event, by_jumps, events_at, nearly_whole, other_wide, step_odds, usual_m
from gladebook.doubt.gaps import Gaps
from tests.doubt.drawn_gaps import BOOM_M, NO_JUMPS, SPACING_M, gaps_of, jumps_at

Floats = NDArray[np.float64]

PAIRS, BINS, PASS_S = 5, 10, 40.0
EVEN = gaps_of(np.full((PAIRS, BINS), SPACING_M), pass_s=PASS_S)
PART, WHOLE = np.arange(23, 27), np.arange(20, 30)  # four bins of the middle pair, and all ten


def of_shape(event: Event) -> Floats:
    return event.column.reshape(PAIRS, BINS)


def true_events(gaps: Gaps, strip: NDArray[np.int64]) -> list[Event]:
    return [e for e in events_at(gaps, strip, spacing_m=SPACING_M, step=-3.0) if e.true]


def rivals(gaps: Gaps, strip: NDArray[np.int64]) -> list[Event]:
    return [e for e in events_at(gaps, strip, spacing_m=SPACING_M, step=-3.0) if not e.true]


def test_a_pass_left_out_widens_its_pair_and_no_other():
    """Where a strip lies along 60 % of its pair, a left-out pass widens all of the pair by a spacing, give a fifth."""
    (left_out, *_) = true_events(EVEN, np.arange(20, 26))
    expected = np.zeros((PAIRS, BINS))
    expected[2] = 1.0
    np.testing.assert_array_equal(of_shape(left_out), expected)
    assert (left_out.mean_m, left_out.spread_m) == pytest.approx((SPACING_M, 0.2 * SPACING_M))
    assert all(e.column.sum() < BINS for e in true_events(EVEN, np.arange(20, 25)))  # half the pair is too short


@pytest.mark.parametrize("passes", [1, 2, 3])
def test_as_many_passes_are_left_out_as_have_room(passes: int):
    """A gap of two, three or four spacings has room for one, two or three passes."""
    distance = np.full((PAIRS, BINS), SPACING_M)
    distance[2] += passes * SPACING_M + 0.4
    (left_out, *_) = true_events(gaps_of(distance), WHOLE)
    assert left_out.mean_m == pytest.approx(passes * SPACING_M)


def test_no_pass_is_left_out_where_one_stops_short():
    """Across a pass that stops short there is room for a whole one, and its place is taken."""
    short = replace(EVEN, rows=np.where(EVEN.pair == 2, 2, 1))
    (first, *_) = true_events(short, WHOLE)
    assert first.mean_m < SPACING_M
    assert len(true_events(short, WHOLE)) < len(true_events(EVEN, WHOLE))


def test_a_pass_too_far_over_widens_the_strip_alone():
    """It widens the strip's gaps alike, by 0.7 of a boom give or take 0.4."""
    too_far = true_events(EVEN, PART)[0]
    np.testing.assert_array_equal(np.flatnonzero(too_far.column), PART)
    assert set(too_far.column[PART]) == {1.0}
    assert (too_far.mean_m, too_far.spread_m) == pytest.approx((0.7 * BOOM_M, 0.4 * BOOM_M))


def test_wedges_widen_more_and_more():
    """One rises from one end to the other, one falls, in even steps, and together they are even along the strip."""
    rise, fall = true_events(EVEN, PART)[1:3]
    np.testing.assert_allclose(rise.column[PART], [0.25, 0.5, 0.75, 1.0])
    np.testing.assert_allclose(fall.column[PART], [1.0, 0.75, 0.5, 0.25])
    for wedge in (rise, fall):
        np.testing.assert_array_equal(np.flatnonzero(wedge.column), PART)
        # A wedge of 1.3 times the size is 0.65 of it in the middle, and never more than the strip's own reach.
        assert wedge.mean_m == pytest.approx(1.3 * 0.7 * BOOM_M)


def test_a_bulge_narrows_the_next_gap_by_what_it_widens_this():
    """There is one bulge to either side, as long as the strip; at the outermost pair there is one side alone."""
    up, down = true_events(EVEN, PART)[3:]
    for bulge, pair in ((up, 3), (down, 1)):
        expected = np.zeros((PAIRS, BINS))
        expected[2, 3:7], expected[pair, 3:7] = 1.0, -1.0
        np.testing.assert_array_equal(of_shape(bulge), expected)
    (only,) = true_events(EVEN, np.arange(3, 7))[3:]
    np.testing.assert_array_equal(np.flatnonzero(only.column < 0), np.arange(13, 17))


def test_odds_of_a_place_are_a_share_of_the_pairs():
    """A skip somewhere along a pair has odds of its own; in a strip half as long they are half, by any of its kinds."""
    long_, short = true_events(EVEN, np.arange(22, 26)), true_events(EVEN, np.arange(22, 24))
    for one, other in zip(long_, short, strict=True):
        assert one.log_odds - other.log_odds == pytest.approx(log(2))
    odds = [exp(e.log_odds) for e in long_]
    assert odds[0] == pytest.approx(0.05 / 2 * 0.4 / 2)  # too far over: a twentieth, half of it even, 0.4 of the pair
    assert sum(odds[:3]) == pytest.approx(0.05 * 0.4 / 2)  # and half of it as wedges


def test_rivals_are_steps_at_the_strips_ends():
    """A step as one pass comes to the strip, one as the other leaves it, and in each a step there and back."""
    half_s = PASS_S / BINS / 2

    def after(when_s: float) -> Floats:
        return (EVEN.high_s > when_s).astype(np.float64) - (EVEN.low_s > when_s)

    high, low = EVEN.high_s[PART], EVEN.low_s[PART]
    comes, leaves = after(high.min() - half_s), after(low.max() + half_s)
    expected = [comes, comes - after(high.max() + half_s), leaves, after(low.min() - half_s) - leaves]
    found = rivals(EVEN, PART)
    assert {tuple(e.column) for e in found} == {tuple(column) for column in expected}
    assert [float(column[PART].mean()) for column in expected] == [1.0, 1.0, 1.0, -1.0]
    assert {(e.mean_m, e.log_odds, e.true) for e in found} == {(0.0, -3.0, False)}


def test_rivals_of_a_strip_of_one_bin_reach_around_it():
    """A strip in one bin has rivals too: a step a moment before it was driven, and one a moment after."""
    found = rivals(EVEN, np.array([24]))
    assert len(found) == 4
    assert all(abs(e.column[24]) == 1 for e in found)


def test_steps_that_nobody_saw_are_likelier_the_longer_nobody_looked():
    """Twice the unseen time has twice the odds, where no moment beside the strip was looked at."""
    pair = gaps_of(np.full((2, 4), SPACING_M), pass_s=100.0)
    short = step_odds(pair, np.arange(4), jumps=NO_JUMPS)
    long_ = step_odds(replace(pair, low_s=2 * pair.low_s, high_s=2 * pair.high_s), np.arange(4), jumps=NO_JUMPS)
    assert long_ - short == pytest.approx(log(2))
    # 100 s between the passes' middles; a fifth of a step in two fifths of an hour is one in two hours.
    assert exp(short) == pytest.approx(100 / 3600 * 0.5, rel=0.01)


def test_steps_that_nobody_saw_are_rarer_where_somebody_looked():
    """Of what a look would show, three in ten slip by: looked at throughout, the odds are 0.3 of those unseen."""
    far = replace(EVEN, low_s=EVEN.low_s + 600.0, high_s=EVEN.high_s + 600.0)
    seen, elsewhere = jumps_at(looked_s=np.arange(0.5, 1800.0)), jumps_at(looked_s=np.arange(5000.5, 6800.0))
    looked, unlooked = (step_odds(far, WHOLE, jumps=jumps) for jumps in (seen, elsewhere))
    assert looked - unlooked == pytest.approx(log(0.3), abs=0.05)


def test_steps_that_nobody_saw_are_likelier_the_more_were_seen():
    """In an hour of looks the odds grow as steps seen and a fifth; with none they are those of a seventh an hour."""
    odds = [step_odds(EVEN, WHOLE, jumps=jumps_at(*np.linspace(0, 3599, many))) for many in range(4)]
    assert odds == sorted(odds)
    for many in range(4):
        assert exp(odds[many] - odds[0]) == pytest.approx((many + 0.2) / 0.2)
    assert odds[0] < step_odds(EVEN, WHOLE, jumps=NO_JUMPS)  # an hour without any is a reason to expect few


def drawn_changes(gaps: Gaps, *, when_s: float, step_m: float, noise_m: float, draws: int) -> Floats:
    """What a step changes gaps by, drawn: half of them stay, half fade over two minutes; told of with noise."""
    rng = np.random.default_rng(8)
    stays = rng.random(draws) < 0.5
    off_m = rng.normal(0, noise_m, draws)

    def error(time_s: Floats) -> Floats:
        since = np.maximum(time_s - when_s, 0.0)
        after = (time_s > when_s).astype(np.float64)
        size = np.where(stays[:, None], after, after * np.exp(-since / 120.0)) * step_m
        return np.asarray(size + off_m[:, None] * after)

    return np.asarray(error(gaps.high_s) - error(gaps.low_s))


@pytest.mark.parametrize("noise_m", [0.0, 0.8])
@pytest.mark.parametrize("when_s", [70.0, 95.0])
def test_steps_that_are_seen_widen_gaps_as_simulated_ones_do(when_s: float, noise_m: float):
    """Mean and covariance are those of 40,000 drawn steps that stay or fade, half and half."""
    gaps, draws, step_m = gaps_of(np.full((4, 5), SPACING_M)), 40_000, 2.5
    mean, cov = by_jumps(gaps, jumps_at(when_s, step_m=step_m, noise_m=noise_m))
    drawn = drawn_changes(gaps, when_s=when_s, step_m=step_m, noise_m=noise_m, draws=draws)
    largest = (step_m / 2) ** 2 + noise_m**2
    np.testing.assert_allclose(mean, drawn.mean(axis=0), atol=5 * np.sqrt(largest / draws))
    np.testing.assert_allclose(cov, np.cov(drawn.T), atol=5 * np.sqrt(2 / draws) * largest)
    assert np.abs(mean).max() > 1.0


def test_steps_add_up_and_count_only_across_the_passes():
    """Two steps change gaps by the sum of each; of one at 45 degrees 0.71 counts, of one along the passes none."""
    gaps = gaps_of(np.full((4, 5), SPACING_M))
    one, other = (by_jumps(gaps, jumps_at(s)) for s in (70.0, 130.0))
    both = by_jumps(gaps, jumps_at(70.0, 130.0))
    for k in (0, 1):
        np.testing.assert_allclose(both[k], one[k] + other[k])
    aslant = replace(gaps, across=np.array([1.0, 1.0]) / np.sqrt(2))
    np.testing.assert_allclose(by_jumps(aslant, jumps_at(70.0))[0], one[0] / np.sqrt(2))
    beside = replace(gaps, across=np.array([1.0, 0.0]))
    np.testing.assert_allclose(by_jumps(beside, jumps_at(70.0, noise_m=0.0))[1], 0.0, atol=1e-12)


def test_without_steps_nothing_is_changed():
    """No step, or one before or after all that was driven, changes no gap but by what fades."""
    gaps = gaps_of(np.full((4, 5), SPACING_M))
    for jumps in (NO_JUMPS, jumps_at(1e6)):
        mean, cov = by_jumps(gaps, jumps)
        assert (np.abs(mean).max(), np.abs(cov).max()) == (0.0, 0.0)
    mean, _ = by_jumps(gaps, jumps_at(-1200.0))  # ten correlation times before
    assert np.abs(mean).max() < 1e-4


def test_wide_stretches_that_no_strip_covers_are_found():
    """Ten metres or more, over 0.35 booms wider than usual, along one pair; apart where a bin lies between."""
    distance = np.full((PAIRS, BINS), SPACING_M)
    distance[1, 2:5] += 0.36 * BOOM_M
    distance[1, 6:9] += 0.36 * BOOM_M
    distance[2, 8:] += 0.36 * BOOM_M
    distance[3, :2] += 0.36 * BOOM_M
    distance[4, 4] += 0.36 * BOOM_M  # one bin of 6 m is too short
    distance[0] += 0.34 * BOOM_M  # not wide enough
    found = other_wide(gaps_of(distance), [np.arange(16, 19)], spacing_m=SPACING_M)
    assert [run.tolist() for run in found] == [[12, 13, 14], [28, 29], [30, 31]]


def test_a_whole_pass_has_room_along_most_of_a_pair():
    """Room is 1.6 spacings; most of a pair is six tenths."""
    for wide, bins, whole in ((1.61, 6, True), (1.59, 6, False), (1.61, 5, False), (2.0, 10, True)):
        distance = np.full((PAIRS, BINS), SPACING_M)
        distance[2] *= wide
        assert nearly_whole(gaps_of(distance), np.arange(20, 20 + bins), spacing_m=SPACING_M) is whole


def test_the_usual_distance_is_that_of_rows():
    """A third of the gaps across a pass that stops short, twice as wide, do not change it."""
    distance = np.full((3, 4), SPACING_M)
    distance[2] *= 2
    gaps = gaps_of(distance)
    assert usual_m(replace(gaps, rows=np.where(gaps.pair == 2, 2, 1))) == pytest.approx(SPACING_M)
