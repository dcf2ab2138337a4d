"""Whole applications drawn at random, with their truth: what was driven, what was planted, what was recorded.

The plot, the driver and the receiver have generators of their own: with the same seed another receiver, or another
interval between points, meets the same driving. How plots, driving and errors are drawn, and from what sources,
stands in `ground`, `driving`, `way` and `receivers`.
"""

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.geometry.frame import Frame, turn_points
from gladebook.geometry.validity import robust
from gladebook.passes.track import Track
from gladebook.plots.plot import Plot
from gladebook.testing.driving import Habits, Skip, SkipKind, lay_passes, lay_rounds
from gladebook.testing.ground import draw_plot
from gladebook.testing.receivers import Receiver, error_of, heard
from gladebook.testing.way import Way, join_way

__all__ = [
    "PLACE",
    "Planted",
    "Simulated",
    "as_plot",
    "as_track",
    "draw_application",
    "moved_back",
    "swept",
    "truly_missed",
]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

PLACE: Final = Frame(lon_deg=-86.7, lat_deg=32.4)  # an invented place
_SPACING = 11 / 12  # of the boom; common practice, no source
_SAG = 0.04  # of the length, at most: passes stay within 1.3 % of their spacing
_START_S = 1_776_000_000.0
_BESIDE = 0.75  # booms: nearer to a strip lies the pass beside it, and not the next one
_MOVES_M = 0.2


@dataclass(frozen=True)
class Planted:
    """A skip that was planted.

    Attributes
    ----------
    kind : "left out", a whole pass; "too far", a pass too far over along part of its length; "boom off" over part
        of a pass; "late on" and "early off".
    number : the pass that it befell; a pass left out would have been driven before this one.
    shape : the plot's ground that it truly left bare, metres; nothing else drove there.
    extra_m : how much too far over.
    on_record : whether the record shows the boom off there.
    """

    kind: SkipKind
    number: int
    shape: Any = field(repr=False)
    extra_m: float
    on_record: bool

    @property
    def area_m2(self) -> float:
        """The ground left bare, m2."""
        return float(shapely.area(self.shape))


@dataclass(frozen=True, eq=False)
class Simulated:
    """One application as it was and as it was recorded. Places are metres on the plane of `PLACE`.

    Attributes
    ----------
    plot : its polygon.
    boom_m, spacing_m : the boom, and how far from each other passes were meant to be.
    receiver : how the places were recorded.
    time_s : shape (n,), seconds since 1970 UTC at each recorded point.
    true_xy_m, recorded_xy_m : shape (n, 2), the boom's middle; the recorded place is the true one and the error.
    boom_on : shape (n,), the boom in truth, from each point on.
    recorded_boom : shape (n,), as a recording has it: 1, 0, or -1 throughout where it has no boom states.
    pass_number : shape (n,), the pass from 1 in the order driven; -1 and -2 for rounds; 0 elsewhere.
    driven : the ground truly driven with the boom on, from the way every half metre.
    planted : skips, in the order driven.
    """

    plot: Any
    boom_m: float
    spacing_m: float
    receiver: Receiver
    time_s: Floats
    true_xy_m: Floats
    recorded_xy_m: Floats
    boom_on: Bools
    recorded_boom: npt.NDArray[np.int8]
    pass_number: Ints
    driven: Any
    planted: tuple[Planted, ...]

    @property
    def error_m(self) -> Floats:
        """Recorded less true place, shape (n, 2)."""
        return np.asarray(self.recorded_xy_m - self.true_xy_m)

    @cached_property
    def missed(self) -> Any:
        """The plot's ground that was truly not driven."""
        return robust(shapely.difference, self.plot, self.driven)


def draw_application(
    rng: np.random.Generator,
    *,
    setting: Receiver,
    boom_m: float,
    acres: float,
    step_s: float = 1.0,
    habits: Habits | None = None,
) -> Simulated:
    """Draw an application.

    Parameters
    ----------
    rng
        Where the draws come from.
    setting
        How the receiver errs.
    boom_m
        The boom.
    acres
        The plot's area.
    step_s
        Seconds between recorded points.
    habits
        How the driver drives; None: as `Habits` has it.
    """
    habits = habits or Habits()
    of_plot, of_driver, of_receiver = rng.spawn(3)
    spacing_m = _SPACING * boom_m
    flat = draw_plot(of_plot, acres=acres, plain=habits.plain)
    turn_rad, bent, sag = of_plot.uniform(0, 2 * np.pi), of_plot.random() < habits.bent, of_plot.uniform(-_SAG, _SAG)
    west, _, east, _ = shapely.bounds(flat).tolist()

    def on_plane(xy: Floats) -> Floats:
        """From the frame in which passes are straight along x: bent, then turned."""
        bend = sag * (east - west) * (1 - (2 * xy[:, 0] / (east - west)) ** 2) if bent else 0.0
        return turn_points(np.column_stack([xy[:, 0], xy[:, 1] + bend]), turn_rad=turn_rad)

    dense = shapely.segmentize(flat, 2.0)
    plot = shapely.transform(dense, on_plane)
    rounds, left = lay_rounds(of_driver, plot=dense, boom_m=boom_m, spacing_m=spacing_m, habits=habits)
    passes = lay_passes(of_driver, ground=left, boom_m=boom_m, spacing_m=spacing_m, habits=habits)
    way = join_way(of_driver, rounds=rounds, passes=passes, habits=habits)
    way = Way(on_plane(way.xy_m), way.time_s, way.boom_on, way.shown_on, way.number)
    driven = swept(way.xy_m, way.boom_on, boom_m=boom_m)
    missed = robust(shapely.difference, plot, driven)
    records = bool(of_driver.random() < habits.records)
    planted = [
        _planted(p.skip, shapely.transform(p.ground, on_plane), missed=missed, records=records)
        for p in passes
        if p.skip is not None
    ]
    time_s = _times(way, step_s=step_s)
    time_s = time_s[heard(setting, time_s, of_receiver)]
    true_xy_m = np.column_stack([np.interp(time_s, way.time_s, axis) for axis in way.xy_m.T])
    # A point tells the state that it was recorded in.
    at = np.minimum(np.searchsorted(way.time_s, time_s, side="right") - 1, len(way.time_s) - 1)
    return Simulated(
        plot=plot,
        boom_m=boom_m,
        spacing_m=spacing_m,
        receiver=setting,
        time_s=_START_S + time_s,
        true_xy_m=true_xy_m,
        recorded_xy_m=true_xy_m + error_of(setting, time_s, of_receiver),
        boom_on=way.boom_on[at],
        recorded_boom=(way.shown_on[at] if records else np.full(len(at), -1)).astype(np.int8),
        pass_number=way.number[at],
        driven=driven,
        planted=tuple(planted),
    )


def swept(xy_m: Floats, boom_on: Bools, *, boom_m: float) -> Any:
    """Ground within half a boom, square to the way, of each stretch with the boom on; metres.

    It is made of flat-ended buffers, and shares nothing with the way in which gladebook sweeps.
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[False], boom_on[:-1], [False]]).astype(int)))
    lines = [shapely.LineString(xy_m[a : b + 1]) for a, b in edges.reshape(-1, 2)]
    return robust(shapely.union_all, shapely.buffer(lines, boom_m / 2, cap_style="flat", quad_segs=4))


def truly_missed(simulated: Simulated, strip_m: Any, *, near: Ints | None = None) -> float:
    """What share of a strip on the recorded map was truly not driven: it is real from a half up.

    A strip lies between recorded passes, so it is moved back by the mean error of those passes beside it. Of
    the moved strip counts what lies in the plot and was truly not driven.

    Parameters
    ----------
    simulated
        The application.
    strip_m
        The strip on the plane of `PLACE`, as recorded.
    near
        Numbers of the points, from 0, whose error it shares; None: those with the boom on that move along beside it,
        within three quarters of a boom.

    Returns
    -------
    The share, 0 to 1; 0 where the strip has no ground.
    """
    area_m2 = float(shapely.area(strip_m))
    if area_m2 <= 0:
        return 0.0
    moved = moved_back(simulated, strip_m, near=near)
    return float(shapely.area(robust(shapely.intersection, moved, simulated.missed))) / area_m2


def moved_back(simulated: Simulated, strip_m: Any, *, near: Ints | None = None) -> Any:
    """A strip on the recorded map, where it truly lies, as `truly_missed` has it."""
    if near is None:
        near = _beside(simulated, strip_m)
    shift = simulated.error_m[near].mean(axis=0)
    return shapely.transform(strip_m, lambda xy: xy - shift)


def as_track(simulated: Simulated, *, name: str = "drive") -> Track:
    """The recording; its width is left to whoever asks, as most recordings leave it."""
    lonlat = PLACE.to_lonlat(simulated.recorded_xy_m)
    n = len(lonlat)
    return Track(
        name=name,
        lon_deg=lonlat[:, 0],
        lat_deg=lonlat[:, 1],
        time_s=simulated.time_s,
        segment=np.zeros(n, dtype=np.int64),
        boom_on=simulated.recorded_boom,
        width_m=np.full(n, np.nan),
        speed_mps=np.full(n, np.nan),
        hdop=np.full(n, np.nan),
        clock="utc",
    )


def as_plot(simulated: Simulated, *, name: str = "plot") -> Plot:
    """The plot, its outline without error."""
    return Plot(name=name, shape=PLACE.shape_to_lonlat(simulated.plot))


def _times(way: Way, *, step_s: float) -> Floats:
    end_s = float(way.time_s[-1])
    times: Floats = np.append(np.arange(0.0, end_s, step_s), end_s)
    return times


def _planted(skip: Skip, ground: Any, *, missed: Any, records: bool) -> Planted:
    switched = skip.kind in ("boom off", "late on", "early off")
    return Planted(
        kind=skip.kind,
        number=skip.number,
        shape=robust(shapely.intersection, ground, missed),
        extra_m=skip.extra_m,
        on_record=records and switched and skip.on_record,
    )


def _beside(simulated: Simulated, strip_m: Any) -> Ints:
    """Points whose error a strip shares."""
    shapely.prepare(strip_m)
    xy_m = simulated.recorded_xy_m
    places = shapely.points(xy_m)
    moves = np.append(np.hypot(*np.diff(simulated.true_xy_m, axis=0).T) >= _MOVES_M, False)
    side = np.flatnonzero(moves & simulated.boom_on)
    away_m = shapely.distance(places[side], strip_m)
    close = side[away_m <= _BESIDE * simulated.boom_m]
    return close if len(close) else side[[int(np.argmin(away_m))]]
