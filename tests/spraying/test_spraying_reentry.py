"""When sprayed ground may be entered: a sum of times that must never come out early."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from gladebook.spraying.reentry import Reentry

HOUR_S = 3600.0


def test_the_wait_runs_from_the_end_of_spraying_and_is_rounded_up():
    """12 h from 14:45:01 is 02:46 the next day: a full minute, never an earlier one."""
    end = datetime(2026, 9, 28, 14, 45, 1, tzinfo=UTC)
    assert Reentry(12 * HOUR_S, end).not_before == datetime(2026, 9, 29, 2, 46, tzinfo=UTC)
    even = datetime(2026, 9, 28, 14, 45, tzinfo=UTC)
    assert Reentry(12 * HOUR_S, even).not_before == even + timedelta(hours=12)


def test_a_wait_over_a_change_of_the_clocks_is_no_shorter():
    """24 h from 18:00 on the eve of the clocks' change is 24 true hours: 17:00 by the clock when they went back."""
    there = ZoneInfo("America/Chicago")  # clocks go back on 1 November 2026 and forward on 8 March 2026
    back = Reentry(24 * HOUR_S, datetime(2026, 10, 31, 18, 0, tzinfo=there)).not_before
    assert back is not None
    assert (back.day, back.hour, back.tzname()) == (1, 17, "CST")
    forward = Reentry(24 * HOUR_S, datetime(2026, 3, 7, 18, 0, tzinfo=there)).not_before
    assert forward is not None
    assert (forward.day, forward.hour, forward.tzname()) == (8, 19, "CDT")


def test_a_clock_without_a_zone_stays_without_one():
    """A recording on its own clock gets a time on that clock, and no zone is made up."""
    until = Reentry(4 * HOUR_S, datetime(2026, 9, 28, 22, 30)).not_before  # noqa: DTZ001 - the point of the test
    assert until == datetime(2026, 9, 29, 2, 30)  # noqa: DTZ001


def test_nothing_is_told_where_something_is_not_known():
    """Without the label's hours or an end of spraying there is no moment."""
    assert Reentry().not_before is None
    assert Reentry(HOUR_S).not_before is None
    assert Reentry(sprayed_until=datetime(2026, 9, 28, tzinfo=UTC)).not_before is None
