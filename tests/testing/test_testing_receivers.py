"""Receivers' errors: their statistics are those of the formulas, and their sizes those that were published."""

from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest

from gladebook.testing import OPEN_SKY, UNDER_LEAVES, WOODLAND_EDGE, Receiver, error_of, heard

Floats = npt.NDArray[np.float64]

AT_S = np.array([0.0, 1.0, 30.0, 31.5, 150.0, 400.0])  # uneven on purpose
DRAWS = 3000
ERRORS = 4.5  # standard errors allowed: some 20 figures are looked at in each test


def many(setting: Receiver, *, seed: int) -> Floats:
    """One row a draw and axis, one column a time."""
    rng = np.random.default_rng(seed)
    errors = np.array([error_of(setting, AT_S, rng) for _ in range(DRAWS)])
    return np.asarray(errors.transpose(0, 2, 1).reshape(-1, len(AT_S)))


def holds(products: Floats, expected: Floats) -> bool:
    """Whether means are what is expected, within standard errors taken from the spread itself."""
    error = products.std(axis=0) / np.sqrt(len(products))
    return bool((np.abs(products.mean(axis=0) - expected) <= ERRORS * error).all())


def covariances(errors: Floats) -> Floats:
    return np.asarray(errors[:, :, None] * errors[:, None, :])


def test_drift_forgets_itself_as_the_formula_says():
    """The drift's covariance at any two times is s^2 exp(-|dt| / tau), however uneven the times."""
    setting = Receiver("drift alone", shift_m=0.0, drift_m=2.0, drift_s=90.0, jitter_m=0.0)
    apart_s = np.abs(AT_S[:, None] - AT_S[None, :])
    assert holds(covariances(many(setting, seed=1)), 4.0 * np.exp(-apart_s / 90.0))


def test_shift_is_shared_by_the_whole_track():
    """With a shift alone the error is the same at every point, and its s.d. along an axis is the setting's."""
    errors = many(Receiver("shift alone", shift_m=1.5, drift_m=0.0, jitter_m=0.0), seed=2)
    assert np.ptp(errors, axis=1).max() == 0.0
    assert holds(errors[:, :1] ** 2, np.array([2.25]))


def test_jumps_add_the_variance_that_the_formula_says():
    """Jumps at a steady rate add rate x step^2 x tau / 2, from the first point on, and fade as the drift does."""
    setting = Receiver(
        "jumps alone", shift_m=0.0, drift_m=0.0, drift_s=60.0, jitter_m=0.0, jumps_an_hour=60.0, jump_m=2.0
    )
    apart_s = np.abs(AT_S[:, None] - AT_S[None, :])
    # 60 an hour x 2^2 x 60 s / 2
    assert holds(covariances(many(setting, seed=3)), 2.0 * np.exp(-apart_s / 60.0))


def test_jumps_are_steps():
    """The largest change from a second to the next is a jump's, far beyond what the drift does in a second."""
    setting = Receiver("steps", shift_m=0.0, drift_m=1.0, jitter_m=0.0, jumps_an_hour=12.0, jump_m=4.0)
    time_s = np.arange(3600.0)
    steps = np.abs(np.diff(error_of(setting, time_s, np.random.default_rng(4)), axis=0)).max(axis=1)
    usual = np.sqrt(1 - np.exp(-2 / setting.drift_s))
    assert 3 <= (steps > 8 * usual).sum() <= 25


@pytest.mark.parametrize("setting", [OPEN_SKY, WOODLAND_EDGE, UNDER_LEAVES], ids=lambda s: s.name)
def test_the_stated_size_is_the_size_drawn(setting: Receiver):
    """`axis_m` is the standard deviation of the whole error along one axis."""
    errors = many(setting, seed=5)
    assert holds(errors**2, np.full(len(AT_S), setting.axis_m**2))
    assert holds(errors, np.zeros(len(AT_S)))


def test_the_settings_lie_within_published_figures():
    """Root mean squares and the mean shift of a track lie within what was read in two abstracts."""
    # Tomastik and others: "Advances in smartphone positioning in forests"; and 2017, Forestry 90:187-198.
    rms_m = {s.name: np.sqrt(2) * s.axis_m for s in (OPEN_SKY, WOODLAND_EDGE, UNDER_LEAVES)}
    assert max(1.72, 1.90) <= rms_m["open sky"] <= min(4.51, 2.36)
    assert max(5.41, 4.96) <= rms_m["under leaves"] <= min(12.55, 11.45)
    # No figure was found for the edge: above the open (2.36), below bare forest at its worst (6.72).
    assert 2.36 <= rms_m["woodland edge"] <= 6.72
    assert 1.23 <= UNDER_LEAVES.shift_m * np.sqrt(np.pi / 2) <= 5.98


def test_one_size_can_be_swept_with_all_else_kept():
    """With the same seed the error is linear in the drift's size: no other draw changes."""
    none, one, two = (
        error_of(replace(UNDER_LEAVES, drift_m=size), AT_S, np.random.default_rng(6)) for size in (0.0, 1.0, 2.0)
    )
    np.testing.assert_allclose(two - none, 2 * (one - none), atol=1e-12)
    assert np.abs(one - none).max() > 0.1


def test_dropouts_take_the_share_that_the_formula_says():
    """A moment is lost with probability 1 - exp(-rate x mean length); first and last points stay."""
    setting = replace(OPEN_SKY, dropouts_an_hour=60.0, dropout_s=20.0)
    rng, time_s = np.random.default_rng(7), np.arange(0.0, 1200.0, 5.0)
    given = np.array([heard(setting, time_s, rng) for _ in range(400)])
    assert given[:, [0, -1]].all()
    late = ~given[:, 60:-1]  # dropouts before the start are not drawn: 300 s on, none of them could last
    shares = late.mean(axis=1)
    expected = 1 - np.exp(-60.0 / 3600 * 20)
    assert abs(shares.mean() - expected) <= ERRORS * shares.std() / np.sqrt(len(shares))
    assert heard(OPEN_SKY, time_s, rng).all()
