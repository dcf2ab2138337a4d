"""Trimming a track by time, with zones and without."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta, timezone
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from gladebook.errors import CallError, TrackError
from gladebook.passes.track import Track, trim_track
from tests.passes.tracks import box, cover, make_plot, make_track, straight

CHICAGO = ZoneInfo("America/Chicago")  # UTC-5 in July, UTC-6 in January (IANA time zone database)
START = datetime(2026, 7, 1, 13, 0, 0, tzinfo=UTC)  # 8 in the morning in Chicago
LINE = straight((-50, 0), (50, 0))


def recorded(*, clock: str = "utc", start: datetime = START) -> Track:
    """A hundred metres at 1 m/s from a moment; without a zone, on the clock of its wall."""
    track = make_track(
        LINE,
        time_s=start.timestamp() + np.arange(len(LINE), dtype=float),
        boom_on=np.arange(len(LINE)) % 2,
        width_m=np.arange(len(LINE), dtype=float) + 1,
        speed_mps=np.arange(len(LINE), dtype=float) + 2,
        segment=np.arange(len(LINE)) // 30,
    )
    return replace(track, clock="no zone") if clock == "no zone" else track


def kept(track: Track) -> tuple[int, int]:
    """First and last point kept, counted as in the whole file by its widths."""
    return int(track.width_m[0]) - 1, int(track.width_m[-1]) - 1


def test_nothing_to_trim_keeps_the_track():
    """Without a start and an end the same track comes back, with times or without."""
    for track in (recorded(), make_track(LINE, time_s=None)):
        assert trim_track(track) is track


def test_both_ends_are_included():
    """The points at the very start and end asked for are kept, and the trimmed ones are counted."""
    trimmed = trim_track(recorded(), start=START + timedelta(seconds=20), end=START + timedelta(seconds=60))
    assert kept(trimmed) == (20, 60)
    assert len(trimmed) == 41
    assert str(trimmed.notes[-1]) == "drive: 60 of 101 points trimmed away by time."


def test_every_column_is_trimmed_alike():
    """Position, state, width, speed and piece of a point that is kept are its own."""
    whole = recorded()
    trimmed = trim_track(whole, start=START + timedelta(seconds=33.5), end=START + timedelta(seconds=71.5))
    for column in ("lon_deg", "lat_deg", "time_s", "segment", "boom_on", "width_m", "speed_mps", "hdop"):
        np.testing.assert_array_equal(getattr(trimmed, column), getattr(whole, column)[34:72])


@pytest.mark.parametrize(
    "start",
    [
        datetime(2026, 7, 1, 13, 0, 20, tzinfo=UTC),
        datetime(2026, 7, 1, 8, 0, 20, tzinfo=CHICAGO),
        datetime(2026, 7, 1, 18, 30, 20, tzinfo=timezone(timedelta(hours=5, minutes=30))),
    ],
)
def test_a_moment_with_a_zone_of_its_own_needs_no_other(start):
    """The same moment in three zones trims alike, whatever zone is said besides."""
    for zone in (None, CHICAGO, ZoneInfo("Asia/Tokyo")):
        assert kept(trim_track(recorded(), start=start, zone=zone)) == (20, 100)


def test_a_moment_without_a_zone_is_read_in_the_zone_said():
    """Eight o'clock in Chicago is 13:00 UTC in July."""
    # A naive moment is what a user types.
    typed = datetime(2026, 7, 1, 8, 0, 20)  # noqa: DTZ001
    assert kept(trim_track(recorded(), start=typed, zone=CHICAGO)) == (20, 100)
    with pytest.raises(CallError, match="states no zone"):
        trim_track(recorded(), start=typed)


@pytest.mark.parametrize(("month", "utc_hour"), [(7, 13), (1, 14)])
def test_a_file_without_a_zone_follows_summer_time(month, utc_hour):
    """A file's own clock at 8:00 in Chicago is 13:00 UTC in summer and 14:00 UTC in winter."""
    track = recorded(clock="no zone", start=datetime(2026, month, 1, 8, 0, 0, tzinfo=UTC))
    start = datetime(2026, month, 1, utc_hour, 0, 20, tzinfo=UTC)
    assert kept(trim_track(track, start=start, zone=CHICAGO)) == (20, 100)
    typed = datetime(2026, month, 1, 8, 0, 20)  # noqa: DTZ001
    assert kept(trim_track(track, start=typed, zone=CHICAGO)) == (20, 100)


def test_a_file_without_a_zone_asks_for_one():
    """A clock without a zone is asked for its zone, never guessed."""
    with pytest.raises(CallError, match="state no zone"):
        trim_track(recorded(clock="no zone"), start=START)


def test_trimming_leaves_the_times_as_they_were():
    """A clock without a zone stays the file's own clock after trimming."""
    track = recorded(clock="no zone", start=datetime(2026, 7, 1, 8, 0, 0, tzinfo=UTC))
    trimmed = trim_track(track, start=START + timedelta(seconds=20), zone=CHICAGO)
    assert trimmed.clock == "no zone"
    np.testing.assert_array_equal(trimmed.time_s, track.time_s[20:])


def test_a_time_of_day_is_that_of_the_day_the_track_starts_there():
    """An evening drive in Chicago starts on 1 July there though UTC already says 2 July."""
    evening = recorded(start=datetime(2026, 7, 2, 1, 0, 0, tzinfo=UTC))
    assert kept(trim_track(evening, start=time(20, 0, 20), zone=CHICAGO)) == (20, 100)
    own_clock = recorded(clock="no zone", start=datetime(2026, 7, 1, 20, 0, 0, tzinfo=UTC))
    assert kept(trim_track(own_clock, start=time(20, 0, 20), zone=CHICAGO)) == (20, 100)
    with pytest.raises(CallError, match="states no zone"):
        trim_track(evening, start=time(20, 0, 20))


def test_nothing_left_is_refused():
    """Times that leave no point, or a track without times, are refused with what to check."""
    with pytest.raises(TrackError, match="no point lies between"):
        trim_track(recorded(), start=START + timedelta(hours=1))
    with pytest.raises(TrackError, match="no point lies between"):
        trim_track(recorded(), start=START + timedelta(seconds=60), end=START + timedelta(seconds=20))
    with pytest.raises(TrackError, match="has no times"):
        trim_track(make_track(LINE, time_s=None), start=START)


def test_points_without_a_time_go():
    """Points whose time is missing cannot be told to lie within the times, and go."""
    track = recorded()
    track.time_s[[10, 50, 90]] = np.nan
    trimmed = trim_track(track, start=START + timedelta(seconds=20), end=START + timedelta(seconds=60))
    assert len(trimmed) == 40
    assert np.isfinite(trimmed.time_s).all()


def test_the_ride_from_the_truck_goes():
    """Trimmed to the time of spraying, a ride with the boom left on counts no ground of the ride."""
    field = make_plot(box(-20, -20, 20, 20))
    track = make_track(LINE, time_s=START.timestamp() + np.arange(len(LINE), dtype=float))
    whole = cover(field, track, boom_m=4.0)
    assert whole.outside_m2 == pytest.approx(4.0 * 60, rel=1e-6)
    start, end = START + timedelta(seconds=30), START + timedelta(seconds=70)
    answer = cover(field, trim_track(track, start=start, end=end), boom_m=4.0)
    assert answer.driven_m2 == pytest.approx(4.0 * 40, rel=1e-6)
    assert answer.treated_m2 == pytest.approx(whole.treated_m2, rel=1e-6)
    # 1e-3 m2: edges that lie on each other but for rounding.
    assert answer.outside_m2 == pytest.approx(0.0, abs=1e-3)
