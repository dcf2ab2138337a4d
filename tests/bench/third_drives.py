# Never used for tuning. Run once a method is frozen, and report what comes out, whatever it is.
"""Applications with GPS error, drawn in a third way; how the work comes about stands in `third_ways`
and `third_ride`.

It shares the nouns and the truth's swath with `gladebook.testing.applications`, and nothing of how things come about.
The error is like the output of a phone's filter. Along each axis it is, at time t and place p,

    shift + slow(t) + multipath(p, t) + jitter(t) + jumps(t)

- shift: one draw a recording.
- slow: what the geometry of the satellites brings, a critically damped process of the second order: smooth, unlike
  the others' drift. Its two axes are unequal and turned, as an ellipse of error is; its time is drawn for each
  recording.
- multipath: a field over the clearing that changes within minutes, worse near the trees: so what passes beside each
  other share is in part their place. With slow it makes up the setting's drift.
- jitter: the same kind of process as slow, within seconds.
- jumps come in over seconds, then fade, or go back at once.

Sourced: the sizes, which are the setting's (`gladebook.testing.receivers` names the forestry papers behind them), and
that the error is more like an autocorrelated process than like white noise (Sensors 20(21):6050, 2020, abstract).
Common practice, no source: all the rest, so the times, the share of multipath and its reach, the forms of jumps, how
fields are shaped, how people drive and what they forget, and how often.
"""

import math
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.testing import Planted, Receiver, Simulated, swept
from tests.bench.third_lines import Driver, rough
from tests.bench.third_ride import Ride, draw_clearing, ride
from tests.bench.third_ways import Laid, lay_passes, lay_rounds, plan_lapses

__all__ = ["draw_application", "third_error"]

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

_START_S = 1_776_000_000.0
_ROUNDS = ((0, False), (1, False), (2, False), (1, True), (2, True))  # how many, and whether they come last
_ROUNDS_ODDS = (0.42, 0.24, 0.1, 0.18, 0.06)
_STUMPS, _REFILLS, _STOPS, _RECORDS = 0.22, 0.3, 0.5, 0.6
_SLOW_S = (60.0, 240.0)
_WAVES = 32
_TREES_M = 8.0


def draw_application(
    rng: np.random.Generator, *, setting: Receiver, boom_m: float, acres: float, step_s: float = 1.0
) -> Simulated:
    """As `gladebook.testing.draw_application`, otherwise made."""
    of_driver, of_receiver = rng.spawn(2)
    spacing_m = boom_m * 11 / 12
    plot = draw_clearing(of_driver, acres=acres)
    stump_m, stump = 0.0, np.zeros(2)
    if of_driver.random() < _STUMPS:
        stump_m, stump, plot = _stump(of_driver, plot)
    work, laid = _work(of_driver, plot, sizes_m=(boom_m, spacing_m), around=(stump_m, stump))
    records = bool(of_driver.random() < _RECORDS)
    driven = swept(work.xy, work.on, boom_m=boom_m)
    missed = shapely.difference(plot, driven)
    planted = tuple(
        Planted(
            kind=one.lapse.kind,
            number=number,
            shape=shapely.intersection(one.bare, missed),
            extra_m=one.over_m,
            on_record=records and one.lapse.on_record and not one.lapse.between,
        )
        for number, one in laid
        if one.lapse is not None
    )
    at_s = np.arange(of_receiver.uniform(0, step_s), work.time_s[-1], step_s)
    at_s = at_s[_given(of_receiver, at_s, setting)]
    true = np.column_stack([np.interp(at_s, work.time_s, axis) for axis in work.xy.T])
    k = np.clip(np.searchsorted(work.time_s, at_s, side="right") - 1, 0, len(work.time_s) - 1)
    trees_m = np.where(shapely.contains_xy(plot, *true.T), shapely.distance(plot.exterior, shapely.points(true)), 0.0)
    return Simulated(
        plot=plot,
        boom_m=boom_m,
        spacing_m=spacing_m,
        receiver=setting,
        time_s=_START_S + at_s,
        true_xy_m=true,
        recorded_xy_m=true + third_error(setting, at_s, of_receiver, true_xy_m=true, trees_m=trees_m),
        boom_on=work.on[k],
        recorded_boom=(work.shown[k] if records else np.full(len(k), -1)).astype(np.int8),
        pass_number=work.number[k],
        driven=driven,
        planted=planted,
    )


def third_error(
    setting: Receiver, time_s: Floats, rng: np.random.Generator, *, true_xy_m: Floats, trees_m: Floats
) -> Floats:
    """East and north at times that rise, shape (n, 2), metres; `trees_m` is how far off the trees are, shape (n,)."""
    of_shift, of_slow, of_place, of_jitter, of_jumps = rng.spawn(5)
    error = np.tile(of_shift.normal(0.0, setting.shift_m, 2), (len(time_s), 1))
    least_s, most_s = _SLOW_S
    slow_s = math.exp(of_slow.uniform(math.log(least_s), math.log(most_s)))
    placed = of_slow.uniform(0.08, 0.25)  # share of the drift's variance
    even, turn = of_slow.uniform(0.3, 0.7), of_slow.uniform(0, 2 * np.pi)
    ellipse = np.sqrt(2 * np.array([even, 1 - even]))[:, None] * np.array(
        [[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]]
    )
    slow = _in_time(of_slow, time_s, scale_s=slow_s, grid_s=1.0)
    error += setting.drift_m * math.sqrt(1 - placed) * slow @ ellipse
    error += setting.drift_m * math.sqrt(placed) * _multipath(of_place, time_s, true_xy_m, trees_m)
    error += setting.jitter_m * _in_time(of_jitter, time_s, scale_s=of_jitter.uniform(1.5, 4.0), grid_s=0.5)
    return np.asarray(error + _jumps(of_jumps, time_s, setting))


def _in_time(rng: np.random.Generator, time_s: Floats, *, scale_s: float, grid_s: float) -> Floats:
    """Smooth noise of unit s.d., shape (n, 2), at any times."""
    count = math.ceil(float(time_s[-1] - time_s[0]) / grid_s) + 2
    noise = rough(rng, count, scale=scale_s / grid_s, columns=2)
    at = (time_s - time_s[0]) / grid_s
    low = at.astype(np.int64)
    share = (at - low)[:, None]
    # Between two points of the grid a mean of both would have too little spread.
    alike = (1 + 2 * grid_s / scale_s) * math.exp(-2 * grid_s / scale_s)
    spread = np.sqrt((1 - share) ** 2 + share**2 + 2 * share * (1 - share) * alike)
    return np.asarray(((1 - share) * noise[low] + share * noise[low + 1]) / spread)


def _multipath(rng: np.random.Generator, time_s: Floats, xy_m: Floats, trees_m: Floats) -> Floats:
    """Waves over the clearing that change with time, of unit mean square along the track on average; shape (n, 2)."""
    field = np.empty((len(time_s), 2))
    for axis in range(2):
        wave = rng.normal(0.0, 1 / rng.uniform(8.0, 18.0), (_WAVES, 2))
        beat = rng.normal(0.0, 1 / rng.uniform(90.0, 240.0), _WAVES)
        phase = xy_m @ wave.T + time_s[:, None] * beat + rng.uniform(0, 2 * np.pi, _WAVES)
        field[:, axis] = np.sin(phase).sum(axis=1) * math.sqrt(2 / _WAVES)
    worse = 0.6 + np.exp(-trees_m / _TREES_M)
    return np.asarray(field * (worse / np.sqrt((worse**2).mean()))[:, None])


def _jumps(rng: np.random.Generator, time_s: Floats, setting: Receiver) -> Floats:
    """Steps that come in over seconds; their part of the variance is what `Receiver.axis_m` has for them."""
    error = np.zeros((len(time_s), 2))
    before_s = 8 * setting.drift_s
    begin_s, end_s = float(time_s[0]) - before_s, float(time_s[-1])
    for _ in range(rng.poisson(setting.jumps_an_hour / 3600 * (end_s - begin_s))):
        since_s = time_s - rng.uniform(begin_s, end_s)
        far, comes_s, goes_s = rng.normal(0.0, setting.jump_m, 2), rng.uniform(2, 6), rng.uniform(2, 6)
        fades, lasts_s = rng.random() < 0.6, setting.drift_s * rng.uniform(0.5, 1.5)
        # The square of a ramp of r seconds sums to r / 3: what follows is shorter by as much.
        shape = np.clip(since_s / comes_s, 0.0, 1.0)
        if fades:
            fade_s = max(lasts_s - 2 * comes_s / 3, 1.0)
            shape *= np.exp(-np.maximum(since_s - comes_s, 0.0) / fade_s)
        else:
            stays_s = max(lasts_s / 2 - (comes_s + goes_s) / 3, 0.0)
            shape *= 1 - np.clip((since_s - comes_s - stays_s) / goes_s, 0.0, 1.0)
        error += shape[:, None] * far
    return error


def _given(rng: np.random.Generator, time_s: Floats, setting: Receiver) -> Bools:
    """Points that are there; silences are of uneven length, very short ones rare."""
    there = np.ones(len(time_s), dtype=bool)
    for _ in range(rng.poisson(setting.dropouts_an_hour * float(time_s[-1] - time_s[0]) / 3600)):
        begin_s = rng.uniform(time_s[0], time_s[-1])
        there &= (time_s < begin_s) | (time_s > begin_s + rng.gamma(2.0, setting.dropout_s / 2))
    there[[0, -1]] = True
    return there


def _work(
    rng: np.random.Generator, plot: Any, *, sizes_m: tuple[float, float], around: tuple[float, Floats]
) -> tuple[Ride, list[tuple[int, Laid]]]:
    """One driver's work on a plot: the ride, and its passes with their numbers."""
    care = rng.gamma(4.0, 0.25) + 0.05
    driver = Driver(
        aim_m=rng.uniform(0.1, 0.3),
        wander_m=rng.uniform(0.1, 0.2),
        wander_length_m=rng.uniform(12.0, 28.0),
        copies=rng.uniform(0.4, 0.9),
        bend=int(rng.choice([1, 2, 3], p=[0.4, 0.4, 0.2])),
        on_from=rng.uniform(0.0, 0.3),
        least_m=rng.uniform(2.5, 5.0),
        mps=1.95 * math.exp(rng.normal(0.0, 0.18)),
        care=care,
    )
    refill = float(rng.uniform(0.25, 0.85)) if rng.random() < _REFILLS else None
    count, last = _ROUNDS[int(rng.choice(len(_ROUNDS), p=_ROUNDS_ODDS))]
    gate = shapely.line_interpolate_point(plot.exterior, rng.random(), normalized=True)
    gate_xy = shapely.get_coordinates(gate)[0]
    middle = shapely.get_coordinates(shapely.centroid(plot))[0]
    truck = gate_xy + rng.uniform(3.0, 10.0) * (gate_xy - middle) / np.hypot(*(gate_xy - middle))
    boom_m, spacing_m = sizes_m
    rounds, ground = lay_rounds(rng, plot, count=count, boom_m=boom_m, spacing_m=spacing_m, driver=driver)
    passes = lay_passes(
        rng,
        plot,
        ground=ground,
        sizes_m=sizes_m,
        driver=driver,
        lapses=plan_lapses(rng, care=care, refill=refill),
        around=(rounds[-1].xy[-1] if rounds and not last else truck, *around),
    )
    about = [(-k, one) for k, one in enumerate(rounds, 1)]
    to_and_fro = list(enumerate(passes, 1))
    work = [*to_and_fro, *about] if last else [*about, *to_and_fro]
    return ride(rng, work, mps=driver.mps, truck=truck, refill=refill, stops=_STOPS), to_and_fro


def _stump(rng: np.random.Generator, plot: Any) -> tuple[float, Floats, Any]:
    """Something to drive round, how far off its middle, and where; some owners leave it out of the plot."""
    inner = shapely.buffer(plot, -12.0)
    inner = plot if inner.is_empty else inner
    west, south, east, north = inner.bounds
    places = rng.uniform((west, south), (east, north), (60, 2))
    inside = places[shapely.contains_xy(inner, *places.T)]
    if not len(inside):
        return 0.0, np.zeros(2), plot
    wide_m = rng.uniform(0.4, 1.6)
    if rng.random() < 0.45:
        plot = shapely.difference(plot, shapely.buffer(shapely.Point(inside[0]), wide_m, quad_segs=3))
    return wide_m + 0.9, inside[0], plot
