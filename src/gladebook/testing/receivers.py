"""How far off a phone's track is, drawn at random: a shift, a slow drift with jumps, a fast jitter.

The error along each axis at time t is

    shift + drift(t) + jitter(t)

- The shift is the same for the whole track.
- The drift is an Ornstein-Uhlenbeck process: its covariance at two times is s^2 exp(-|dt| / tau). Errors of
  standing receivers are closer to that, or to an autoregressive process, than to white noise (Sensors
  20(21):6050, 2020, abstract); along a moving track they are strongly autocorrelated (IJGIS 30(2):316-333,
  2016, abstract). Neither abstract gives a correlation time; 120 s is common practice, no source.
- At a jump, normal steps are added to the drift along both axes, and fade away as it does. Jumps come at
  random at a steady rate, which adds rate x step^2 x tau / 2 to the variance. Their rate and size are common
  practice, no source.
- The jitter is the same process with seconds for tau. Its size and time are common practice, no source.
- Dropouts come at random and last exponentially; their rate and length are common practice, no source.

Sizes. With v the variance along one axis, the root mean square of the distance is sqrt(2 v), and the mean length
of the shift is its s.d. x sqrt(pi / 2). Read in abstracts:

- Phones in the open: 1.72 to 4.51 m (Tomastik and others, "Advances in smartphone positioning in forests"),
  1.90 to 2.36 m (Tomastik and others 2017, Forestry 90:187-198).
- Forest without leaves: 4.10 to 11.44 m (the first), 4.51 to 6.72 m (the second).
- Forest in leaf: 5.41 to 12.55 m (the first), 4.96 to 11.45 m (the second).
- Tracks on the move in leaf are shifted as a whole by 1.23 to 5.98 m, less than standing points (the first).

The three settings, as root mean square: open sky 2.0 m; under leaves 6.2 m, its mean shift 3.1 m, both
within those figures; the woodland edge 3.9 m, between open ground and bare forest, as no figure was found for
it. How the whole is shared between shift and drift is common practice, no source.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

__all__ = ["OPEN_SKY", "UNDER_LEAVES", "WOODLAND_EDGE", "Receiver", "error_of", "heard"]

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

_HOUR_S = 3600.0


@dataclass(frozen=True)
class Receiver:
    """How a receiver errs. All sizes are standard deviations along one axis.

    Use `dataclasses.replace` to sweep one of them.

    Attributes
    ----------
    name : where it is used.
    shift_m : of the whole track.
    drift_m, drift_s : slow drift without its jumps, and its correlation time.
    jitter_m, jitter_s : fast noise, and its correlation time.
    jumps_an_hour, jump_m : how often the drift steps, and how far.
    dropouts_an_hour, dropout_s : how often the receiver falls silent, and for how long on average.
    """

    name: str
    shift_m: float
    drift_m: float
    drift_s: float = 120.0
    jitter_m: float = 0.1
    jitter_s: float = 2.0
    jumps_an_hour: float = 0.0
    jump_m: float = 0.0
    dropouts_an_hour: float = 0.0
    dropout_s: float = 0.0

    @property
    def axis_m(self) -> float:
        """Standard deviation of the whole error along one axis, metres."""
        jumps_m2 = self.jumps_an_hour / _HOUR_S * self.jump_m**2 * self.drift_s / 2
        return float(np.sqrt(self.shift_m**2 + self.drift_m**2 + jumps_m2 + self.jitter_m**2))


OPEN_SKY: Final = Receiver("open sky", shift_m=1.0, drift_m=1.0)
WOODLAND_EDGE: Final = Receiver(
    "woodland edge",
    shift_m=1.8,
    drift_m=2.0,
    jitter_m=0.2,
    jumps_an_hour=2.0,
    jump_m=2.0,
    dropouts_an_hour=1.0,
    dropout_s=6.0,
)
UNDER_LEAVES: Final = Receiver(
    "under leaves",
    shift_m=2.5,
    drift_m=3.0,
    drift_s=120.0,
    jitter_m=0.4,
    jumps_an_hour=20.0,
    jump_m=3.5,
    dropouts_an_hour=4.0,
    dropout_s=12.0,
)


def error_of(setting: Receiver, time_s: Floats, rng: np.random.Generator) -> Floats:
    """Draw the error of a track.

    Parameters
    ----------
    setting
        How the receiver errs.
    time_s
        Shape (n,), seconds, never falling.
    rng
        Where the draws come from.

    Returns
    -------
    East and north at each point, shape (n, 2), metres.
    """
    n = len(time_s)
    shift = rng.normal(0.0, setting.shift_m, 2)
    # Each part has a generator of its own, so that one setting can be swept with all other draws kept.
    slow, quick, steps = rng.spawn(3)
    drift = _forgetting(slow.normal(size=(n, 2)), time_s, sd_m=setting.drift_m, forgets_s=setting.drift_s)
    jitter = _forgetting(quick.normal(size=(n, 2)), time_s, sd_m=setting.jitter_m, forgets_s=setting.jitter_s)
    return np.asarray(shift + drift + jitter + _jumps(setting, time_s, steps))


def heard(setting: Receiver, time_s: Floats, rng: np.random.Generator) -> Bools:
    """Draw which points a receiver gives, shape (n,): not those in its dropouts; always the first and the last."""
    given = np.ones(len(time_s), dtype=bool)
    for begin_s in _at_random(setting.dropouts_an_hour, time_s, rng, before_s=0.0):
        given &= (time_s < begin_s) | (time_s > begin_s + rng.exponential(setting.dropout_s))
    given[[0, -1]] = True
    return given


def _forgetting(draws: Floats, time_s: Floats, *, sd_m: float, forgets_s: float) -> Floats:
    """An Ornstein-Uhlenbeck process at the times given, exact for any interval, made of standard normal draws."""
    keep = np.exp(-np.diff(time_s) / forgets_s)
    error = sd_m * draws
    error[1:] *= np.sqrt(1 - keep**2)[:, None]
    for i, kept in enumerate(keep.tolist(), start=1):
        error[i] += kept * error[i - 1]
    return error


def _jumps(setting: Receiver, time_s: Floats, rng: np.random.Generator) -> Floats:
    error = np.zeros((len(time_s), 2))
    # Jumps before the start have not faded yet: without them a track would begin better than it goes on.
    for jump_s in _at_random(setting.jumps_an_hour, time_s, rng, before_s=8 * setting.drift_s):
        since_s = np.maximum(time_s - jump_s, 0.0)
        fading = np.where(time_s >= jump_s, np.exp(-since_s / setting.drift_s), 0.0)
        error += fading[:, None] * rng.normal(0.0, setting.jump_m, 2)
    return error


def _at_random(an_hour: float, time_s: Floats, rng: np.random.Generator, *, before_s: float) -> list[float]:
    """Moments of a Poisson process, from some time before the track."""
    begin_s, end_s = float(time_s[0]) - before_s, float(time_s[-1])
    count = rng.poisson(an_hour / _HOUR_S * (end_s - begin_s))
    return sorted(rng.uniform(begin_s, end_s, count).tolist())
