"""Until when was sprayed, by the tracks: never too early."""

from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np

from gladebook.geometry.frame import Frame
from gladebook.jobs.entry import reentry_after
from gladebook.passes.track import Track
from gladebook.testing import Leg, drive, track_on

FRAME = Frame(-86.0, 32.0)
DAY = datetime(2026, 9, 28, 13, 0, tzinfo=UTC)


def recorded(*, minutes: float = 0.0) -> Track:
    """100 m with the boom on at 2 m/s, then 100 m with it off."""
    points = drive((0, 0), [Leg(0, 100, boom_on=True), Leg(0, 200, boom_on=False)], speed_mps=2.0)
    track = track_on(points, frame=FRAME)
    return replace(track, time_s=points.time_s - points.time_s[0] + DAY.timestamp() + 60 * minutes, clock="utc")


def test_the_ride_home_with_the_boom_off_is_no_spraying():
    """100 m at 2 m/s are 50 s; what comes after with the boom off does not count."""
    assert reentry_after([recorded()], wait_s=3600.0).sprayed_until == DAY.replace(second=50)


def test_a_boom_that_is_not_recorded_may_be_on_to_the_end():
    """Without a recorded boom the whole recording counts: 100 s."""
    track = recorded()
    unknown = replace(track, boom_on=np.full_like(track.boom_on, -1))
    assert reentry_after([unknown], wait_s=3600.0).sprayed_until == DAY.replace(minute=1, second=40)


def test_the_latest_of_several_tracks_counts():
    """Of two trips the one that ends last says when the wait begins."""
    found = reentry_after([recorded(minutes=90), recorded()], wait_s=3600.0)
    assert found.sprayed_until == DAY.replace(hour=14, minute=30, second=50)


def test_what_the_clocks_do_not_say_is_said():
    """Tracks without times, on unlike clocks, or with the boom never on tell no moment, and why."""
    track = recorded()
    local = replace(track, clock="no zone")
    no_times = replace(track, clock="none", time_s=np.full(len(track), np.nan))
    off = replace(track, boom_on=np.zeros_like(track.boom_on))
    for tracks, why in (
        ([track, no_times], "no times to count from"),
        ([track, local], "only some of the tracks state the zone"),
        ([off], "never on"),
    ):
        found = reentry_after(tracks, wait_s=3600.0)
        assert found.sprayed_until is None
        assert why in found.unknown
    there = ZoneInfo("America/Chicago")
    both = reentry_after([track, local], wait_s=3600.0, zone=there)  # 13:00:50 there is five hours later than in UTC
    assert both.sprayed_until == datetime(2026, 9, 28, 13, 0, 50, tzinfo=there)


def test_without_the_labels_hours_nothing_is_worked_out():
    """The hours are the user's to give; none are assumed."""
    assert reentry_after([recorded()], wait_s=None).not_before is None
