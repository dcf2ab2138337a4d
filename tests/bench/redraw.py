"""The track drawn again: seconds for 200 redraws of 5,000 points, and how often the ranges hold the truth.

``python -m tests.bench --only redraw [--plots N] [--second]``: N plots a cell of boom x drift, from seeds that nothing
was chosen on; with --second drawn in the other way. Plots have 0.7 to 2 acres; the
receiver is OPEN_SKY with the drift given, whose drift and shift the ranges are told.

- Plain is 2.5 to 97.5 % of the redraws themselves; basic the basic bootstrap, 2 recorded - redraw; range what
  `acres_range` says.
- The truth of treated and missed ground is that of the drawing's own polygons, without what a boom left bare that was
  off and not recorded so: no track shows it. That of overlap and outside is the engine's on the true places, and
  counts only where the record has boom states, as an assumed boom sprays in turns too.
- Drift fits where it is at most half the usual distance between passes, 11/12 of a boom: that limit was set after both
  ways of drawing had been looked at; the ranges' own rules after the first alone.
- Every figure within a square metre of a range is held: so much lies between polygons and the engine's lines.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from gladebook.coverage.boom import Settled, settle_boom
from gladebook.coverage.redraw import ReceiverError, Redraws, ranges_of, redraw
from gladebook.geometry.sweep import Wish, choose_engine
from gladebook.passes.path import CutRules, lay_out
from gladebook.passes.sprayer import Sprayer
from gladebook.passes.track import Track
from gladebook.testing import OPEN_SKY, PLACE, Simulated, as_track, draw_application
from gladebook.units import FT_M
from tests.bench import second_drives
from tests.bench.fields import make_field
from tests.bench.ours import job_of

__all__ = ["redraw_rows"]

Floats = npt.NDArray[np.float64]

_AIMS_S: dict[Wish, float] = {"numpy": 2.0, "compiled": 0.5}
_POINTS, _DRAWS, _ROUNDS = 5_000, 200, 7
_BOOMS_FT, _DRIFTS_M, _ACRES = (12, 20, 30), (0.5, 1.0, 2.0), (0.7, 2.0)
_MOST_SHARE, _PASS_SHARE = 0.5, 11 / 12
_SLACK_M2 = 1.0
_FIGURES = ("treated", "missed", "overlap", "outside")
_WAYS = ("plain", "basic", "range")
_SEED = 40


@dataclass
class Held:
    """For each way and figure, whether each range held the truth, and the mean of the ends, as shares of the plot."""

    held: dict[tuple[str, str], list[bool]] = field(default_factory=dict)
    width: dict[tuple[str, str], list[float]] = field(default_factory=dict)

    def add(self, way: str, figure: str, ends: tuple[float, float], *, truth: float, plot_m2: float) -> None:
        """Note one range."""
        held = ends[0] - _SLACK_M2 <= truth <= ends[1] + _SLACK_M2
        self.held.setdefault((way, figure), []).append(held)
        self.width.setdefault((way, figure), []).append((ends[1] - ends[0]) / plot_m2)


def redraw_rows(*, plots: int, second: bool) -> None:
    """Print the times, then the table."""
    _time_rows()
    every, fit = Held(), Held()
    print(f"redraw    plots a cell: {plots}; 95 % ranges that hold, in %, treated / missed / overlap / outside")
    print(
        f"  {'boom ft':>7} {'drift m':>7}   " + "   ".join(f"{way:^19}" for way in _WAYS) + "   missed, % of plot wide"
    )
    for boom_ft in _BOOMS_FT:
        for drift_m in _DRIFTS_M:
            cell = Held()
            for number in range(plots):
                rng = np.random.default_rng([_SEED, boom_ft, int(10 * drift_m), number])
                fits = drift_m <= _MOST_SHARE * _PASS_SHARE * boom_ft * FT_M
                into = (cell, every, fit) if fits else (cell, every)
                _add_plot(rng, boom_ft=boom_ft, drift_m=drift_m, second=second, into=into)
            print(f"  {boom_ft:>7} {drift_m:>7g}   {_row(cell)}")
    print(f"  {'all':>15}   {_row(every)}")
    print(f"  {'drift fits':>15}   {_row(fit)}")


def _time_rows() -> None:
    job = job_of(make_field(_POINTS))
    error = ReceiverError(0.5, 0.5)
    for wish, aim_s in _AIMS_S.items():
        if choose_engine(0, wish=wish).compiled != (wish == "compiled"):
            print(f"redraw    {wish}: not run, as numba is not installed or has no folder for its cache")
            continue
        spent = []
        for _ in range(_ROUNDS):
            start = time.process_time()
            redraw([job.settled], ground=job.ground.regions[0].shape, error=error, draws=_DRAWS, wish=wish)
            spent.append(time.process_time() - start)
        said = "reached" if min(spent) <= aim_s else "MISSED"
        print(
            f"redraw    {wish:<9} {_DRAWS} draws of {_POINTS:,} points, s of the processor: first {spent[0]:.2f}, "
            f"median {sorted(spent)[_ROUNDS // 2]:.2f}, best {min(spent):.2f}; aim {aim_s}: {said}"
        )


def _add_plot(rng: np.random.Generator, *, boom_ft: int, drift_m: float, second: bool, into: tuple[Held, ...]) -> None:
    draw: Callable[..., Simulated] = second_drives.draw_application if second else draw_application
    setting = replace(OPEN_SKY, drift_m=drift_m)
    drawn = draw(rng, setting=setting, boom_m=boom_ft * FT_M, acres=rng.uniform(*_ACRES))
    plot_m2 = float(drawn.plot.area)
    error = ReceiverError(drift_m, setting.shift_m, setting.drift_s)
    redraws = redraw([_settle(as_track(drawn), drawn)], ground=drawn.plot, error=error)
    truth = _truth(drawn)
    for figure, ways in zip(_FIGURES, _ranges(redraws), strict=True):
        if figure in truth:
            for way, ends in ways.items():
                for held in into:
                    held.add(way, figure, ends, truth=truth[figure], plot_m2=plot_m2)


def _ranges(redraws: Redraws) -> list[dict[str, tuple[float, float]]]:
    """Of each figure, the ends by each way."""
    told = ranges_of(redraws)
    plain: Floats = np.quantile(redraws.drawn_m2, [0.025, 0.975], axis=0)
    basic = np.maximum(2 * redraws.recorded_m2 - plain[::-1], 0.0)
    ours = (told.treated_m2, told.missed_m2, told.overlap_m2, told.outside_m2)
    found = []
    for i, ends in enumerate(ours):
        most = np.inf if _FIGURES[i] == "outside" else redraws.ground_m2
        low, high = np.minimum(basic[:, i], most).tolist()
        found.append({"plain": (plain[0, i], plain[1, i]), "basic": (low, high), "range": ends})
    return found


def _truth(drawn: Simulated) -> dict[str, float]:
    unseen_m2 = sum(p.area_m2 for p in drawn.planted if p.kind not in ("left out", "too far") and not p.on_record)
    missed_m2 = max(float(drawn.missed.area) - unseen_m2, 0.0)
    found = {"treated": float(drawn.plot.area) - missed_m2, "missed": missed_m2}
    if (drawn.recorded_boom >= 0).any() and not unseen_m2:
        lonlat = PLACE.to_lonlat(drawn.true_xy_m)
        true = replace(
            as_track(drawn), lon_deg=lonlat[:, 0], lat_deg=lonlat[:, 1], boom_on=drawn.boom_on.astype(np.int8)
        )
        swept = redraw([_settle(true, drawn)], ground=drawn.plot, error=ReceiverError(0.0), draws=1).recorded_m2
        found |= {"overlap": float(swept[2]), "outside": float(swept[3])}
    return found


def _settle(track: Track, drawn: Simulated) -> Settled:
    path = lay_out(track, frame=PLACE, rules=CutRules())
    return settle_boom(path, sprayer=Sprayer(width_m=drawn.boom_m), ground=drawn.plot)


def _row(held: Held) -> str:
    def rate(way: str, figure: str) -> str:
        found: Any = held.held.get((way, figure), [])
        return f"{100 * np.mean(found):4.0f}" if found else "   -"

    rates = "   ".join(" ".join(rate(way, figure) for figure in _FIGURES) for way in _WAYS)
    wide = " ".join(f"{100 * np.mean(held.width[way, 'missed']):5.1f}" for way in _WAYS)
    return f"{rates}   {wide}"
