"""Standing still, jitter, and stray fixes."""

import numpy as np
import pytest

from tests.passes.tracks import SHAPE_M2, Floats, box, cover, in_metres, make_plot, make_track, straight, swath

FIELD = make_plot(box(-150, -150, 150, 150))
LINE = straight((-50, 0), (50, 0))
BOOM_M = 4.0
STOP = 50  # the middle of the line


def with_a_stop(points: int) -> Floats:
    """The line with a stay at its middle."""
    return np.concatenate([LINE[: STOP + 1], np.repeat(LINE[STOP : STOP + 1], points, axis=0), LINE[STOP + 1 :]])


@pytest.mark.parametrize("time_s", [1.0, 0.2, None])
@pytest.mark.parametrize("boom_on", [1, -1])
def test_standing_still_adds_nothing(time_s, boom_on):
    """A hundred points at one place change no figure, with the boom recorded or assumed."""
    if boom_on == -1 and time_s == 1.0:
        time_s = 1.5  # 1 m in 1.5 s is 1.5 mph, above the mile an hour below which a boom is assumed off
    plain = cover(FIELD, make_track(LINE, boom_on=boom_on, time_s=time_s), boom_m=BOOM_M)
    stood = cover(FIELD, make_track(with_a_stop(100), boom_on=boom_on, time_s=time_s), boom_m=BOOM_M)
    # 1e-6 m2: the rounding of sums; nothing was swept.
    assert stood.driven_m2 == pytest.approx(plain.driven_m2, abs=1e-3)
    assert stood.treated_m2 == pytest.approx(plain.treated_m2, abs=1e-3)
    assert stood.overlap_m2 == pytest.approx(0.0, abs=1e-3)
    assert stood.unknown_m2 == 0.0
    assert plain.driven_m2 == pytest.approx(400.0, rel=1e-5)


@pytest.mark.parametrize("where", ["start", "end"])
def test_standing_at_either_end_adds_nothing(where):
    """Waiting with the boom on before the first or after the last metre sweeps no ground."""
    wait = np.repeat(LINE[:1] if where == "start" else LINE[-1:], 60, axis=0)
    xy = np.concatenate([wait, LINE] if where == "start" else [LINE, wait])
    answer = cover(FIELD, make_track(xy), boom_m=BOOM_M)
    assert answer.driven_m2 == pytest.approx(400.0, rel=1e-5)
    assert answer.overlap_m2 == pytest.approx(0.0, abs=1e-3)


def test_a_track_that_only_stands_sweeps_nothing():
    """A sprayer that never moves with its boom on treats nothing, and that is no error."""
    answer = cover(FIELD, make_track(np.zeros((50, 2))), boom_m=BOOM_M)
    assert answer.driven_m2 == answer.treated_m2 == answer.overlap_m2 == 0.0


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("step_s", [1.0, 0.2])
@pytest.mark.parametrize("boom_on", [1, -1])
@pytest.mark.parametrize("sd_m", [0.05, 0.1])
def test_jitter_while_standing_adds_less_than_half_a_metre_of_boom(sd_m, boom_on, step_s, seed):
    """Twenty or a hundred seconds of centimetre jitter at a stop sweep under half a metre of boom."""
    # Half a metre: moves that short are the receiver's (common practice, no source). The jitter's
    # own spread, about three standard deviations, is less.
    xy = with_a_stop(100)
    jitter = np.random.default_rng(seed).normal(0.0, sd_m, (100, 2))
    xy[STOP + 1 : STOP + 101] += jitter
    answer = cover(FIELD, make_track(xy, boom_on=boom_on, time_s=step_s), boom_m=BOOM_M)
    assert abs(answer.treated_m2 - 400.0) < BOOM_M * 0.5
    assert answer.overlap_m2 < BOOM_M * 0.5
    assert answer.outside_m2 + answer.unknown_m2 == 0.0


@pytest.mark.parametrize("boom_on", [1, -1])
@pytest.mark.parametrize("stray_m", [(0.0, 300.0), (0.0, 80.0), (0.0, 20.0), (100.0, 0.0), (-90.0, 50.0)])
def test_a_stray_fix_leaves_an_unknown_strip_between_its_neighbours(stray_m, boom_on):
    """One fix far off the drive leaves the straight swath from the last good to the next good point."""
    xy = LINE.copy()
    xy[STOP] += stray_m
    answer = cover(FIELD, make_track(xy, boom_on=boom_on), boom_m=BOOM_M)
    assert answer.driven_m2 == pytest.approx(4.0 * 98, rel=1e-5)
    assert answer.treated_m2 == pytest.approx(4.0 * 98, rel=1e-5)
    assert answer.unknown_m2 == pytest.approx(4.0 * 2, abs=1e-3)
    unknown = in_metres(answer.layers.unknown)
    assert unknown.symmetric_difference(swath([(-1, 0), (1, 0)], BOOM_M)).area < SHAPE_M2


def test_two_stray_fixes_in_a_row_leave_one_unknown_strip():
    """Two fixes thrown to different places leave the swath between the good points around them."""
    xy = LINE.copy()
    xy[STOP] += (0.0, 200.0)
    xy[STOP + 1] += (0.0, -250.0)
    answer = cover(FIELD, make_track(xy), boom_m=BOOM_M)
    assert answer.treated_m2 == pytest.approx(4.0 * 97, rel=1e-5)
    assert answer.unknown_m2 == pytest.approx(4.0 * 3, abs=1e-3)


def test_a_stray_first_fix_leaves_the_drive_as_it_was():
    """A first fix far away, before the receiver has settled, adds no ground and no doubt near the drive."""
    xy = np.concatenate([[[60.0, 140.0]], LINE])
    answer = cover(FIELD, make_track(xy), boom_m=BOOM_M)
    assert answer.treated_m2 == pytest.approx(400.0, rel=1e-5)
    assert answer.driven_m2 == pytest.approx(400.0, rel=1e-5)


def test_a_repeated_point_changes_nothing():
    """Every point written twice, as some recorders do, gives the same ground."""
    xy = np.repeat(LINE, 2, axis=0)
    time_s = 1.7e9 + np.repeat(np.arange(len(LINE), dtype=float), 2)
    answer = cover(FIELD, make_track(xy, time_s=time_s), boom_m=BOOM_M)
    assert answer.driven_m2 == pytest.approx(400.0, rel=1e-5)
    assert answer.overlap_m2 == pytest.approx(0.0, abs=1e-3)
