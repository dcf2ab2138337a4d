"""How sure an area is, given how sure its corners are.

The shoelace area of a ring is half of ``x' M y`` with ``M[i, i+1] = 1`` and ``M[i, i-1] = -1``.
With independent Gaussian errors in x and in y, each with the same covariance C between corners, its
variance is exactly::

    gx' C gx + gy' C gy + trace(M C M' C) / 4

where ``gx[i] = (y[i+1] - y[i-1]) / 2`` and ``gy[i] = (x[i-1] - x[i+1]) / 2``. Derived here; for
uncorrelated corners it is the textbook sum of squared diagonals plus ``n sd^4 / 2``, and the area's
mean is unbiased. A shift shared by all corners changes nothing. Checked against simulation in the tests.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

__all__ = ["PositionError", "ring_area_variance_m4"]

_MOST_CORNERS = 1500


@dataclass(frozen=True)
class PositionError:
    """How far off recorded positions are.

    Attributes
    ----------
    sd_m : standard deviation along each axis, metres. The default sits at the upper end of
        what phones showed in the open (1.7 to 4.5 m in two axes, so 1.2 to 3.2 m in each:
        Tomastik et al., Advances in smartphone positioning in forests, Forestry; abstract).
    walk_m : distance along a walked boundary over which the correlation of its errors falls to
        1/e, metres. The default, 100 m, is about 80 seconds of walking: phone errors drift over
        minutes (Sensors 20(21):6050, 2020, abstract, finds the correlation; the figure itself is
        common practice, no source).
    """

    sd_m: float = 3.0
    walk_m: float = 100.0


def ring_area_variance_m4(ring_m: npt.NDArray[np.float64], *, sd_m: float, walk_m: float = 0.0) -> float:
    """Variance of the area inside one ring, in m4.

    Parameters
    ----------
    ring_m
        Corners in metres, shape (n, 2), the first not repeated.
    sd_m
        Standard deviation of a corner's error along each axis, metres.
    walk_m
        Distance along the ring over which errors lose their likeness (correlation exp(-d / walk_m),
        from the start of the walk to its end, not across the closing gap); 0 for corners that err
        independently. A walk of more than 1,500 corners is thinned evenly: neighbours then are
        nearly the same error anyway.
    """
    n = len(ring_m)
    if n < 3 or sd_m <= 0:
        return 0.0
    if walk_m <= 0:
        gx, gy = _gradient(ring_m)
        return float(sd_m**2 * (gx @ gx + gy @ gy) + n * sd_m**4 / 2)
    if n > _MOST_CORNERS:
        ring_m = ring_m[np.linspace(0, n, _MOST_CORNERS, endpoint=False).astype(int)]
    gx, gy = _gradient(ring_m)
    step = np.hypot(*np.diff(ring_m, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(step)])
    cov = sd_m**2 * np.exp(-np.abs(along[:, None] - along[None, :]) / walk_m)
    up, down = np.roll(cov, -1, axis=0), np.roll(cov, 1, axis=0)
    # M C M' from shifted copies: M takes the next row less the row before.
    turned = np.roll(up, -1, axis=1) - np.roll(up, 1, axis=1) - np.roll(down, -1, axis=1) + np.roll(down, 1, axis=1)
    return float(gx @ cov @ gx + gy @ cov @ gy + (turned * cov).sum() / 4)


def _gradient(ring_m: npt.NDArray[np.float64]) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    across = (np.roll(ring_m, -1, axis=0) - np.roll(ring_m, 1, axis=0)) / 2
    return across[:, 1], -across[:, 0]
