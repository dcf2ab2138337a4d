"""A touch-up is worked out for strips that were seen, and for no other."""

import pytest

from gladebook.errors import CallError
from gladebook.spraying.cautions import CAUTIONS
from gladebook.spraying.touch_up import plan_touch_up, seen_numbers
from gladebook.units import ACRE_M2, GAL_M3

RATE_M = 15 * GAL_M3 / ACRE_M2
STRIPS = [("Glade", 0.2 * ACRE_M2), ("Flat", 0.1 * ACRE_M2), ("Flat", 0.04 * ACRE_M2)]


def test_gallons_are_acres_times_gallons_per_acre():
    """0.2 and 0.04 ac at 15 gal/ac take 3 and 0.6 gal, 3.6 gal together; the unseen strip takes none."""
    found = plan_touch_up(STRIPS, seen=[3, 1, 3], rate_m=RATE_M)
    assert [s.number for s in found.strips] == [1, 3]
    assert [s.spray_m3 / GAL_M3 for s in found.strips] == pytest.approx([3.0, 0.6])
    assert found.area_m2 / ACRE_M2 == pytest.approx(0.24)
    assert found.spray_m3 / GAL_M3 == pytest.approx(3.6)


def test_every_caution_and_the_reminder_go_with_it():
    """The amount comes with all cautions, and with the reminder that it is a new application weeks later."""
    found = plan_touch_up(STRIPS, seen=[2], rate_m=RATE_M)
    assert found.cautions == CAUTIONS
    assert "only weeks later" in found.notices[0]
    assert "new application with checks of its own" in found.notices[0]


@pytest.mark.parametrize("number", [0, 4, 99])
def test_a_number_that_is_not_on_the_list_is_refused(number: int):
    """Only numbers of the list can have been seen; the sentence says which there are."""
    with pytest.raises(CallError, match=f"{number} is not on the list of missed strips; its numbers are 1 to 3"):
        plan_touch_up(STRIPS, seen=[1, number], rate_m=RATE_M)


def test_without_strips_none_can_have_been_seen():
    """Where nothing was missed, the sentence says so; with one strip, its number."""
    with pytest.raises(CallError, match="there is no missed strip"):
        seen_numbers([1], listed=0)
    with pytest.raises(CallError, match="its only number is 1"):
        seen_numbers([2], listed=1)


def test_a_rate_must_be_above_zero():
    """No rate, or none above zero, gives no touch-up."""
    for rate_m in (0.0, -RATE_M, float("nan"), float("inf")):
        with pytest.raises(CallError, match="above zero"):
            plan_touch_up(STRIPS, seen=[1], rate_m=rate_m)
