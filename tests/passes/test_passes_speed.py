"""Ground speed from a track."""

from dataclasses import replace

import numpy as np
import pytest

from gladebook.errors import TrackError
from gladebook.io.door import read_track
from gladebook.passes.speed import driven_speed
from gladebook.units import MPH_MPS
from tests.sample_property import FOLDER, SPEED_MPS


def test_the_sample_drive_was_driven_at_its_speed() -> None:
    """The sample property is drawn at 2 m/s, with the boom recorded on and off."""
    found = driven_speed(read_track(FOLDER / "sprayed.csv"))
    assert found.speed_mps == pytest.approx(SPEED_MPS, rel=0.01)
    assert found.low_mps <= found.speed_mps <= found.high_mps
    assert found.boom_on


def test_a_speed_in_miles_is_the_same_speed() -> None:
    """2 m/s are 4.47 mph: 2 x 3600 / 1609.344."""
    assert pytest.approx(4.4739, abs=5e-5) == SPEED_MPS / MPH_MPS


def test_noise_of_the_receiver_does_not_add_speed() -> None:
    """With an error of 1 ft from second to second the speed stays within 3 %, as it is told over 5 seconds."""
    track = read_track(FOLDER / "sprayed.csv")
    noise = np.random.default_rng(7).normal(0, 0.3 / 111_000, (2, len(track)))
    rough = replace(track, lat_deg=track.lat_deg + noise[0], lon_deg=track.lon_deg + noise[1])
    assert driven_speed(rough).speed_mps == pytest.approx(SPEED_MPS, rel=0.03)


def test_a_track_without_times_or_driving_tells_no_speed() -> None:
    """No times, or the boom never on: one sentence."""
    track = read_track(FOLDER / "sprayed.csv")
    with pytest.raises(TrackError, match="no times"):
        driven_speed(replace(track, time_s=np.full(len(track), np.nan)))
    with pytest.raises(TrackError, match="boom on"):
        driven_speed(replace(track, boom_on=np.zeros_like(track.boom_on)))
