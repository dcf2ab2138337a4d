"""What is said of a recording that can be read but hardly be right."""

from dataclasses import replace

import numpy as np
import pytest

from gladebook.passes.doubts import track_doubts
from tests.passes.tracks import make_track, straight

PLAIN = make_track(straight((0, 0), (60, 0)), name="drive")


def test_a_plain_track_raises_no_doubt():
    """A track of a minute in one place, dated this century, has nothing to be said."""
    assert track_doubts(PLAIN) == ()


def test_swapped_american_coordinates_are_doubted():
    """Latitude and longitude of the south-eastern United States swapped lie in Antarctica, and that is said."""
    swapped = replace(PLAIN, lon_deg=PLAIN.lat_deg, lat_deg=PLAIN.lon_deg)
    (said,) = map(str, track_doubts(swapped))
    assert "swapped" in said
    assert said.startswith("drive: doubtful:")


def test_coordinates_near_nought_are_doubted():
    """A track within half a degree of 0, 0 lies in the sea, and that is said."""
    (said,) = map(str, track_doubts(replace(PLAIN, lon_deg=PLAIN.lon_deg * 0 + 0.2, lat_deg=PLAIN.lat_deg * 0 + 0.1)))
    assert "sea" in said


@pytest.mark.parametrize(("away_deg", "miles"), [(0.5, "35"), (10.0, "691")])
def test_a_jump_of_many_miles_is_told_with_its_place(away_deg, miles):
    """A point half a degree north is 34.5 miles away, ten degrees 690: one degree of a meridian is 69.1 miles."""
    lat = PLAIN.lat_deg.copy()
    lat[30] += away_deg
    (said,) = map(str, track_doubts(replace(PLAIN, lat_deg=lat)))
    # There and back again: two jumps.
    assert f"jumps {miles} miles between points 30 and 31" in said or f"jumps {int(miles)} miles" in said
    assert "1 more such jump." in said


def test_figures_that_jump_at_every_step_are_said_to_look_like_metres():
    """Metres read as degrees put each point 69 miles from the one before: one sentence says so, not sixty jumps."""
    (said,) = map(str, track_doubts(replace(PLAIN, lat_deg=np.arange(61.0), lon_deg=PLAIN.lon_deg * 0 + 20)))
    assert "look like metres or feet" in said


def test_a_step_of_twenty_miles_is_no_doubt():
    """Plots of one property may lie twenty miles apart."""
    lat = PLAIN.lat_deg.copy()
    lat[30:] += 0.29
    assert track_doubts(replace(PLAIN, lat_deg=lat)) == ()


def test_dates_of_1980_are_doubted():
    """Points dated on the first day of GPS time, 6 January 1980, are counted and the date is told."""
    time_s = PLAIN.time_s.copy()
    time_s[:4] = 315_964_800.0 + np.arange(4)  # 1980-01-06T00:00:00Z, the GPS epoch
    (said,) = map(str, track_doubts(replace(PLAIN, time_s=time_s)))
    assert "4 of 61 points are dated before 1995, the first 1980-01-06" in said


def test_times_without_a_zone_or_date_are_not_judged():
    """Seconds on the file's own clock are no dates."""
    assert track_doubts(replace(PLAIN, time_s=np.arange(61.0), clock="no zone")) == ()
