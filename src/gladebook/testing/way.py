"""Rounds and passes joined into one way with times: turns, an unsteady speed, stops and a refill.

All of it is common practice, no source: the speed wanders about its mean by some 8 %, alike for 60 m, and
falls to 55 % in turns; a refill is a ride of some 30 to 60 m and a wait of two to five minutes.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gladebook.testing.driving import STEP_M, Habits, Pass, smooth_noise

__all__ = ["Way", "join_way"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

_TURN_REACH_M = 4.0
_SLOW, _SLOW_M = 0.55, 8.0
_UNSTEADY, _UNSTEADY_M = 0.08, 60.0
_STOP_S, _REFILL_S = (5.0, 25.0), (120.0, 300.0)
_AWAY_M = (30.0, 60.0)


@dataclass(frozen=True, eq=False)
class Way:
    """Where the boom's middle went, every half metre, with what holds from each point to the next.

    Attributes
    ----------
    xy_m, time_s : shape (n, 2) and (n,); where it stood, a place comes twice.
    boom_on, shown_on : shape (n,), the boom in truth and as a record shows it.
    number : shape (n,), the pass from 1; -1 and -2 for rounds; 0 in turns and on other ways.
    """

    xy_m: Floats
    time_s: Floats
    boom_on: Bools
    shown_on: Bools
    number: Ints


def join_way(rng: np.random.Generator, *, rounds: Sequence[Floats], passes: Sequence[Pass], habits: Habits) -> Way:
    """Drive rounds, then passes, in their order.

    Parameters
    ----------
    rng
        Where the draws come from.
    rounds
        Rings, each (n, 2), metres.
    passes
        In the direction in which each is driven.
    habits
        How the driver drives.
    """
    pieces = [(ring, np.ones(len(ring), dtype=bool), np.ones(len(ring), dtype=bool)) for ring in rounds]
    pieces += [(p.xy_m, p.boom_on, p.shown_on) for p in passes]
    numbers = [*range(-1, -len(rounds) - 1, -1), *range(1, len(passes) + 1)]
    refill, away, wait = rng.random(), rng.uniform(*_AWAY_M), rng.uniform(*_REFILL_S)
    refilled = int(rng.integers(len(rounds), len(pieces))) if refill < habits.refills else -1
    xy: list[Floats] = []
    on: list[Bools] = []
    shown: list[Bools] = []
    number: list[Ints] = []
    pauses: list[tuple[int, float]] = []  # points gone by, and how long it stands there

    def go(places: Floats, *, states: tuple[Bools, Bools] | None, as_number: int) -> None:
        xy.append(places)
        off = np.zeros(len(places), dtype=bool)
        on.append(off if states is None else states[0])
        shown.append(off if states is None else states[1])
        number.append(np.full(len(places), as_number))

    for i, (places, *states) in enumerate(pieces):
        go(places, states=(states[0], states[1]), as_number=numbers[i])
        if i + 1 == len(pieces):
            break
        begin, end = (places[-1], _heading(places[-2:])), (pieces[i + 1][0][0], _heading(pieces[i + 1][0][:2]))
        if i == refilled:
            truck = begin[0] + away * begin[1]
            go(_turn(begin, (truck, begin[1])), states=None, as_number=0)
            pauses.append((sum(map(len, xy)), wait))
            go(_turn((truck, -begin[1]), end), states=None, as_number=0)
        else:
            go(_turn(begin, end), states=None, as_number=0)
    whole = Way(
        xy_m=np.concatenate(xy),
        time_s=np.empty(0),
        boom_on=np.concatenate(on),
        shown_on=np.concatenate(shown),
        number=np.concatenate(number),
    )
    stops = rng.integers(1, len(whole.xy_m) - 1, size=rng.poisson(habits.stops))
    pauses += [(int(at), float(rng.uniform(*_STOP_S))) for at in stops]
    return _timed(rng, whole, pauses=pauses, habits=habits)


def _timed(rng: np.random.Generator, way: Way, *, pauses: list[tuple[int, float]], habits: Habits) -> Way:
    step_m = np.hypot(*np.diff(way.xy_m, axis=0).T)
    at_m = np.append(0.0, np.cumsum(step_m))
    turning = np.flatnonzero(way.number == 0)
    near_m = np.full(len(at_m), np.inf)
    if len(turning):
        after = np.minimum(np.searchsorted(turning, np.arange(len(at_m))), len(turning) - 1)
        before = np.maximum(after - 1, 0)
        near_m = np.minimum(np.abs(at_m[turning[after]] - at_m), np.abs(at_m - at_m[turning[before]]))
    slow = _SLOW + (1 - _SLOW) * np.clip(near_m / _SLOW_M, 0.0, 1.0)
    uneven = np.exp(smooth_noise(rng, len(at_m), sd_m=_UNSTEADY, alike=_UNSTEADY_M / STEP_M))
    speed = rng.uniform(*habits.speed_mps) * slow * uneven
    time_s = np.append(0.0, np.cumsum(step_m / speed[:-1]))
    pauses = sorted(pauses)
    at = np.array([i for i, _ in pauses], dtype=np.int64)
    waits_s = np.append(0.0, np.cumsum([wait for _, wait in pauses]))
    # A place where it stands comes twice: at the first of the two the boom is off, and stays so until the second.
    order = np.sort(np.concatenate([np.arange(len(at_m)), at]))
    first = np.append(order[1:] == order[:-1], False)
    stood = np.searchsorted(at, order, side="right") - first
    return Way(
        xy_m=way.xy_m[order],
        time_s=time_s[order] + waits_s[stood],
        boom_on=way.boom_on[order] & ~first,
        shown_on=way.shown_on[order] & ~first,
        number=way.number[order],
    )


def _heading(two: Floats) -> Floats:
    step = two[1] - two[0]
    return np.asarray(step / max(float(np.hypot(*step)), 1e-9))


def _turn(begin: tuple[Floats, Floats], end: tuple[Floats, Floats]) -> Floats:
    """A smooth curve from a place and heading to another, its two ends left out."""
    (a, ahead), (b, onward) = begin, end
    away_m = float(np.hypot(*(b - a)))
    reach = max(_TURN_REACH_M, 0.6 * away_m)
    share = np.linspace(0.0, 1.0, max(round((away_m + 1.5 * reach) / STEP_M), 4))[1:-1, None]
    c, d = a + reach * ahead, b - reach * onward
    rest = 1 - share
    return np.asarray(rest**3 * a + 3 * rest**2 * share * c + 3 * rest * share**2 * d + share**3 * b)
