"""The gallons check, against worked figures."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gladebook.errors import CallError, GladebookError
from gladebook.spraying.gallons import FLAG_ABOVE, GallonsCheck, check_gallons
from gladebook.units import ACRE_M2, GAL_M3


def check(used_gal: float, gpa: float, acres: float) -> GallonsCheck:
    return check_gallons(used_m3=used_gal * GAL_M3, rate_m=gpa * GAL_M3 / ACRE_M2, plots_m2=acres * ACRE_M2)


def test_the_worked_check() -> None:
    """28 gal at 15 gal/ac is 1.87 ac; the plots are 2.30 ac: 19 % short, and flagged."""
    answer = check(28, 15, 2.30)
    assert round(answer.covered_m2 / ACRE_M2, 2) == 1.87
    assert round(100 * answer.difference) == -19
    assert answer.flagged
    assert answer.used_m3 / GAL_M3 == pytest.approx(28)
    assert answer.plots_m2 / ACRE_M2 == pytest.approx(2.30)


@pytest.mark.parametrize(
    ("used_gal", "gpa", "acres", "per_cent", "flagged"),
    [
        (64.5, 15, 4.3, 0.0, False),  # the worked job of 4.3 ac
        (63.0, 15, 4.0, 5.0, False),  # worked accounting: 0.30 ac missed and 0.50 ac twice: 63 gal for 60
        (12.5 * 4, 15, 4.0, -16.7, True),  # 15 gal/ac at 5 mph is 12.5 at 6 mph (constant pressure)
        (18.75 * 4, 15, 4.0, 25.0, True),  # and 18.75 at 4 mph
        (15 / 1.1 * 4, 15, 4.0, -9.1, False),  # 10 % more speed
        (0.0, 15, 2.0, -100.0, True),
        (60.0, 15, 2.0, 100.0, True),
    ],
)
def test_checks_of_published_differences(
    used_gal: float, gpa: float, acres: float, per_cent: float, flagged: bool
) -> None:
    """The difference is covered less plots, over plots; beyond ten per cent either way it is flagged."""
    answer = check(used_gal, gpa, acres)
    assert round(100 * answer.difference, 1) == per_cent
    assert answer.flagged is flagged


@pytest.mark.parametrize(
    ("used_gal", "gpa", "acres"), [(27.0, 15, 2.0), (33.0, 15, 2.0), (31.05, 15, 2.3), (9.9, 10, 0.9)]
)
def test_exactly_ten_per_cent_is_not_over_ten_per_cent(used_gal: float, gpa: float, acres: float) -> None:
    """Over ten per cent is flagged, ten per cent itself is not."""
    answer = check(used_gal, gpa, acres)
    assert abs(answer.difference) == pytest.approx(FLAG_ABOVE, rel=1e-9)
    assert not answer.flagged


@pytest.mark.parametrize(("used_gal", "flagged"), [(26.9, True), (27.1, False), (32.9, False), (33.1, True)])
def test_the_flag_begins_at_ten_per_cent(used_gal: float, flagged: bool) -> None:
    """Around ten per cent of 30 gal a tenth of a gallon decides."""
    assert check(used_gal, 15, 2.0).flagged is flagged


@pytest.mark.parametrize(
    ("used_gal", "gpa", "acres", "word"),
    [
        (28, 0, 2.3, "per acre"),
        (28, -15, 2.3, "per acre"),
        (28, 15, 0, "acres"),
        (28, 15, -1, "acres"),
        (-1, 15, 2.3, "used"),
    ],
)
def test_what_cannot_be_is_refused(used_gal: float, gpa: float, acres: float, word: str) -> None:
    """A rate or plots of nothing, or gallons below zero, are refused by name."""
    with pytest.raises(CallError) as caught:
        check(used_gal, gpa, acres)
    assert word in str(caught.value)
    assert isinstance(caught.value, GladebookError)


@pytest.mark.parametrize("bad", [math.nan, math.inf])
@pytest.mark.parametrize("place", [0, 1, 2])
def test_what_is_no_number_is_refused(place: int, bad: float) -> None:
    """Gallons, rate or acres that are not a number or endless are refused and never become an all-clear."""
    given_figures = [28.0, 15.0, 2.3]
    given_figures[place] = bad
    with pytest.raises(CallError):
        check(*given_figures)


@settings(deadline=None, max_examples=150)
@given(gpa=st.floats(1, 100), acres=st.floats(0.05, 500), share=st.floats(0, 3))
def test_the_difference_is_the_share_used(gpa: float, acres: float, share: float) -> None:
    """Gallons of a share of the job cover that share of the plots, and the sign says short or over."""
    answer = check(share * gpa * acres, gpa, acres)
    assert answer.covered_m2 / ACRE_M2 == pytest.approx(share * acres, rel=1e-9, abs=1e-9)
    assert answer.difference == pytest.approx(share - 1, abs=1e-9)
    if abs(abs(share - 1) - 0.1) > 1e-9:
        assert answer.flagged is (abs(share - 1) > 0.1)
