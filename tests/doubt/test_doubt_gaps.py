"""Distances between neighbouring passes, and when each was driven: where a pass stops short, crosses, comes twice."""

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from gladebook.doubt.drift import judge_gaps
from gladebook.doubt.gaps import Gaps, without
from tests.doubt.drawn_gaps import (
    BOOM_M,
    LONG_M,
    NO_JUMPS,
    SPACING_M,
    STEP_M,
    along,
    gaps_of,
    lay,
    rows,
    to_and_fro,
)

Floats = NDArray[np.float64]

GROUND = shapely.box(0, 0, LONG_M, 44)  # eight passes


def pairs_of(gaps: Gaps) -> set[tuple[int, int]]:
    return set(zip(gaps.low.tolist(), gaps.high.tolist(), strict=True))


def of_pair(gaps: Gaps, low: int, high: int) -> NDArray[np.bool_]:
    return np.asarray((gaps.low == low) & (gaps.high == high))


def test_even_passes_have_even_gaps_and_times_of_their_drive():
    """Eight passes have seven pairs of the spacing, driven when their points say, within a bin's drive."""
    gaps = lay(to_and_fro(rows(8)), GROUND).gaps
    assert pairs_of(gaps) == {(k, k + 1) for k in range(7)}
    assert set(gaps.rows.tolist()) == {1}
    np.testing.assert_allclose(gaps.gap_m, SPACING_M, atol=1e-3)
    np.testing.assert_allclose(np.abs(gaps.across), [0.0, 1.0], atol=1e-6)
    assert gaps.bin_m == 6.0
    x = gaps.middle_m[:, 0]
    for number, when_s in ((gaps.low, gaps.low_s), (gaps.high, gaps.high_s)):
        into_m = np.where(number % 2 == 0, x, LONG_M - x)
        assert np.abs(when_s - (75.0 * number + into_m / STEP_M)).max() <= 1.5  # 60 s a pass, 15 s a turn


def test_a_pair_across_a_pass_that_stops_short_leads_over_two_rows():
    """Beyond the end of the fourth pass, half as long, the third and the fifth are two rows and two spacings apart."""
    passes = rows(8)
    passes[3] = passes[3][:31]
    gaps = lay(to_and_fro(passes), GROUND).gaps
    across = of_pair(gaps, 2, 4)
    assert across.any()
    assert set(gaps.rows[across].tolist()) == {2}
    assert set(gaps.rows[~across].tolist()) == {1}
    assert gaps.middle_m[across, 0].min() > 60.0 > gaps.middle_m[of_pair(gaps, 2, 3), 0].max() - 3.0
    np.testing.assert_allclose(gaps.gap_m, SPACING_M * gaps.rows, atol=1e-3)
    assert judge_gaps(gaps, [], jumps=NO_JUMPS).spacing_m == pytest.approx(SPACING_M, abs=1e-3)


def crossing() -> Gaps:
    """The fourth pass runs half a row too far over, and for its last quarter on the near side of the third."""
    passes = rows(8)
    third_m = passes[2][0, 1]
    passes[3] = along(np.interp(np.arange(0, LONG_M + 1, STEP_M), [0, 84, 92], third_m + np.array([3.0, 3.0, -1.5])))
    return lay(to_and_fro(passes), GROUND).gaps


def test_passes_that_cross_have_no_gap_between_them():
    """Where two passes have changed places neither is the other's neighbour above: no distance is told of them."""
    gaps = crossing()
    assert (gaps.high > gaps.low).all()
    assert gaps.middle_m[of_pair(gaps, 2, 3), 0].max() <= 92.0
    assert (gaps.gap_m > 0).all()


def test_passes_that_cross_are_not_two_rows_from_their_neighbours():
    """Past a crossing the neighbour below, one row away, is not counted as two rows away: the drift stays small."""
    gaps = crossing()
    assert judge_gaps(gaps, [], jumps=NO_JUMPS).drift_m < 0.5


@pytest.mark.parametrize(("apart_s", "told"), [(100.0, True), (290.0, True), (310.0, False)])
def test_a_place_driven_twice_has_the_mean_time_within_five_minutes(apart_s: float, told: bool):
    """The second row, driven again 100 or 290 s later, has the mean of both times; 310 s later it has none."""
    second = along(BOOM_M / 2 + SPACING_M)
    passes = [*rows(2), second, *rows(5)[2:]]
    begins_s = [0.0, 1000.0, 1000.0 + apart_s, 2000.0, 3000.0, 4000.0]
    gaps = lay(to_and_fro(passes, begins_s=begins_s), shapely.box(0, 0, LONG_M, 5 * SPACING_M)).gaps
    assert pairs_of(gaps) == ({(0, 1), (1, 2), (2, 3), (3, 4)} if told else {(2, 3), (3, 4)})
    if told:
        mine = of_pair(gaps, 1, 2)
        expected_s = 1000.0 + apart_s / 2 + gaps.middle_m[mine, 0] / STEP_M
        assert np.abs(gaps.low_s[mine] - expected_s).max() <= 1.5


def test_gaps_in_shapes_can_be_left_out():
    """What lies in a polygon is taken out of all columns alike."""
    gaps = lay(to_and_fro(rows(8)), GROUND).gaps
    left = without(gaps, [shapely.box(-1, -1, 60, 45)])
    assert 0 < len(left) < len(gaps)
    assert left.middle_m[:, 0].min() > 60.0
    assert {len(c) for c in (left.pair, left.low, left.high, left.bin, left.gap_m, left.low_s, left.high_s)} == {
        len(left)
    }
    assert len(without(gaps, [])) == len(gaps)


def test_a_large_plot_has_few_enough_gaps():
    """The work grows with the third power of the gaps: forty passes of 300 m have longer bins, not more than 300."""
    long_ = [along(BOOM_M / 2 + SPACING_M * k, east=300.0) for k in range(40)]
    gaps = lay(to_and_fro(long_), shapely.box(0, 0, 300, 220)).gaps
    assert 200 <= len(gaps) <= 300
    assert gaps.bin_m > 6.0
    np.testing.assert_allclose(gaps.gap_m, SPACING_M, atol=1e-3)


def test_hand_made_gaps_are_like_laid_ones():
    """The tests' own gaps run to and fro as laid ones do: neighbours are seconds apart at one end, minutes at one."""
    apart_s = np.abs(
        np.subtract(*(getattr(gaps_of(np.full((4, 20), 5.5), pass_s=75.0), k) for k in ("high_s", "low_s")))
    )
    laid = lay(to_and_fro(rows(5)), shapely.box(0, 0, LONG_M, 5 * SPACING_M)).gaps
    for found in (apart_s, np.abs(laid.high_s - laid.low_s)):
        assert found.min() < 30.0
        assert found.max() > 120.0
