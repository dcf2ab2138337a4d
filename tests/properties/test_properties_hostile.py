"""Hostile tracks and senseless figures: only gladebook's own errors come out, and the identities hold."""

import zlib

import numpy as np
import pytest

from gladebook.errors import CallError, GladebookError, TrackError
from tests.passes.tracks import box, cover, make_plot, make_track, straight
from tests.properties.applications import (
    HOSTILE,
    Application,
    check_identities,
    check_layers,
    hostile,
    judge,
    random_ring,
)

FIELD = make_plot(box(-60, -60, 60, 60))
LINE = straight((-50, 0), (50, 0))


@pytest.mark.parametrize("number", range(30))
@pytest.mark.parametrize("kind", HOSTILE)
def test_a_hostile_track_raises_only_our_errors_and_keeps_the_identities(kind, number):
    """Random walks, jumps, repeats, standing, missing and backward times and nanometre steps do no harm."""
    rng = np.random.default_rng([zlib.crc32(kind.encode()), number])
    application = Application((random_ring(rng),), (hostile(kind, rng),))
    try:
        answer = judge(application)
    except GladebookError:
        return
    check_identities(answer)
    check_layers(answer, application.rings_m)


def test_hostile_tracks_are_seldom_refused():
    """Nearly all hostile tracks are answered, so the check above says something."""
    refused = 0
    for kind in HOSTILE:
        rng = np.random.default_rng([zlib.crc32(kind.encode()), 0])
        try:
            judge(Application((random_ring(rng),), (hostile(kind, rng),)))
        except GladebookError:
            refused += 1
    assert refused <= 1


@pytest.mark.parametrize("boom_m", [0.0, -4.0, float("nan"), float("inf")])
def test_a_boom_that_is_no_width_is_refused(boom_m):
    """A boom of no, negative or unknown width is a mistake in the call, never a swath."""
    with pytest.raises(CallError):
        cover(FIELD, make_track(LINE), boom_m=boom_m)


def test_a_negative_width_in_a_file_paints_nothing():
    """A recorded width below nothing is refused or sweeps nothing; it is never swept as a width."""
    try:
        answer = cover(FIELD, make_track(LINE, width_m=-4.0), boom_m=4.0)
    except GladebookError:
        return
    assert answer.treated_m2 == 0.0


@pytest.mark.parametrize(("lon", "lat"), [(np.nan, 32.0), (-84.7, np.nan), (np.inf, 32.0), (-84.7, 95.0)])
def test_a_point_that_is_no_place_is_refused_as_such(lon, lat):
    """A point without a usable position is refused by the track's name, and not as lying some miles away."""
    track = make_track(LINE)
    track.lon_deg[5], track.lat_deg[5] = lon, lat
    with pytest.raises(TrackError, match="drive") as refused:
        cover(FIELD, track, boom_m=4.0)
    assert "lies 0 miles" not in str(refused.value)


@pytest.mark.parametrize("time_s", [1.0, None])
def test_a_void_fix_at_zero_zero_paints_nothing(time_s):
    """A void fix in the Gulf of Guinea in the middle of a drive leaves 4 m x 2 m unknown and paints nothing."""
    track = make_track(LINE, time_s=time_s)
    track.lon_deg[50] = track.lat_deg[50] = 0.0
    answer = cover(FIELD, track, boom_m=4.0)
    assert answer.driven_m2 == pytest.approx(4.0 * 98, rel=2e-5)
    assert answer.outside_m2 == pytest.approx(0.0, abs=1e-3)
    assert answer.unknown_m2 == pytest.approx(4.0 * 2, rel=2e-5)


def test_all_stamps_alike_still_give_the_ground():
    """A recorder that stamps every point alike gives no speed, so the boom is assumed on in the plot."""
    track = make_track(LINE, time_s=np.full(len(LINE), 1.7e9), boom_on=-1)
    assert cover(FIELD, track, boom_m=4.0).treated_m2 == pytest.approx(400.0, rel=2e-5)


def test_two_points_at_one_place_drive_nothing():
    """The shortest track there is, standing, is answered with nothing."""
    answer = cover(FIELD, make_track(LINE[[0, 0]]), boom_m=4.0)
    assert answer.driven_m2 == answer.treated_m2 == 0.0
    assert answer.missed_m2 == pytest.approx(14400.0, rel=1e-6)


def test_a_boom_wider_than_the_plot_treats_it_all_at_most():
    """With a boom a kilometre wide the plot is treated where it was crossed, never more than all of it."""
    answer = cover(FIELD, make_track(straight((-70, 0), (70, 0))), boom_m=1000.0)
    assert answer.treated_m2 == pytest.approx(14400.0, rel=1e-6)
    check_identities(answer)


def test_a_receivers_noise_of_a_metre_is_survived():
    """A straight pass with white noise of 1 m at ten points a second is answered, with the plot kept whole."""
    rng = np.random.default_rng(1)
    xy = straight((-50, 0), (50, 0), step_m=0.2)
    xy += rng.normal(0, 1.0, xy.shape)
    answer = cover(FIELD, make_track(xy, time_s=0.1), boom_m=4.0)
    check_identities(answer)
    # The pass itself, 400 m2, is treated, and no more than noise can reach: three metres around it.
    assert 350.0 < answer.treated_m2 < 106 * 10
