"""How honest the list of missed strips is, on applications whose truth is known.

``python -m tests.bench --only doubt [--plots N] [--second | --third] [--plain]``: N plots a cell of boom x drift x
jumpy or not, the same ones each time; with --second those of the generator that no method was tuned on, with --third
those of one that is run once a method is frozen; with --plain all verdicts are forgotten, which is what to compare
with. Plots have 0.7 to 2 acres; one in four recordings has a point every 3 s, the others every second. Drift is the
standard deviation along an axis, without jumps; the rest of the error is OPEN_SKY's, in jumpy cells UNDER_LEAVES',
whose jumps add 2 m to it.

- A strip is what `truly_missed` says: real where at least half of it, moved back by the error of the passes
  beside it, was truly not driven.
- Strips that carry no verdict are a "go look" each, if at least 30 ft long and half a boom wide: the plain list.
- A planted skip is found where the strips of a verdict, moved back, cover a quarter of its ground. A pass left out is
  one of at least two booms in length; a large skip is a pass left out or too far over that left bare at least 60 ft
  by three quarters of a boom. A boom that was off counts in neither: off the record no track shows it.
- The inner count is how many passes are said to be missing between others. A pass too far over by 0.8 of a boom or
  more counts as one; plots with one between 0.4 and 0.8 are left out of that column.
- A range holds where the plot's ground that was truly missed lies in it, or within a square metre, without what a boom
  left bare that was off and not recorded so: no track shows it.
- Columns that nothing was said for show a dash.
"""

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from statistics import median
from types import SimpleNamespace
from typing import Any

import numpy as np
import shapely

from gladebook.coverage.compute import cover_plots
from gladebook.coverage.result import Coverage, MissedStrip
from gladebook.coverage.strips import strip_size_m
from gladebook.passes.sprayer import Sprayer
from gladebook.plots.acreage import measure_plots
from gladebook.testing import (
    OPEN_SKY,
    PLACE,
    UNDER_LEAVES,
    Planted,
    Receiver,
    Simulated,
    as_plot,
    as_track,
    draw_application,
    moved_back,
    truly_missed,
)
from gladebook.units import ACRE_M2, FT_M
from tests.bench import second_drives, third_drives

__all__ = ["Score", "doubt_rows", "score_plot"]

_BOOMS_FT = (12, 20, 30)
_DRIFTS_M = (1.0, 2.0, 3.0)
_ACRES = (0.7, 2.0)
_LISTED_M, _LISTED_BOOMS = 30 * FT_M, 0.5
_LARGE_M, _LARGE_BOOMS = 60 * FT_M, 0.75
_COVERED = 0.25
_HALF_OVER, _WHOLE_OVER = 0.4, 0.8
_REAL = 0.5
_SLACK_M2 = 1.0
_BETWEEN = ("left out", "too far")
_GENERATORS: dict[str, Callable[..., Simulated]] = {
    "first": draw_application,
    "second": second_drives.draw_application,
    "third": third_drives.draw_application,
}
_GO_LOOK, _CANNOT_TELL = "go look", "can't tell"
_HEAD = (
    "boom ft", "drift m", "drift/spacing", "jumps", "plots", "go look", "real", "false/ac", "left out found",
    "large found", "or can't tell", "range holds", "count right", "silent", "ms",
)  # fmt: skip


@dataclass
class Score:
    """What came out for some plots; add what belongs to one of them with `score_plot`.

    Attributes
    ----------
    acres : of all plots.
    real : of each strip to "go look" at, whether it is real.
    chances : of each strip of the plain list's size that has one, the chance stated, and whether it is real.
    left_out, large : of each such skip, whether it was found.
    told : of each large skip, whether it was found, or lies where the answer is "can't tell".
    holds : of each range of missed ground, whether the truth lies in it.
    count : of each inner count stated, whether it is right.
    silent : of each plot, whether no strips were told on purpose.
    ms : of each plot, how long it took.
    """

    acres: float = 0.0
    real: list[bool] = field(default_factory=list)
    chances: list[tuple[float, bool]] = field(default_factory=list)
    left_out: list[bool] = field(default_factory=list)
    large: list[bool] = field(default_factory=list)
    told: list[bool] = field(default_factory=list)
    holds: list[bool] = field(default_factory=list)
    count: list[bool] = field(default_factory=list)
    silent: list[bool] = field(default_factory=list)
    ms: list[float] = field(default_factory=list)


def doubt_rows(*, plots: int, generator: str = "first", plain: bool = False) -> None:
    """Print a table with a row a cell, and how well the stated chances hold; plain: every verdict forgotten."""
    draw, list_ = _GENERATORS[generator], "the plain list" if plain else "by verdict"
    print(f"Missed strips against the truth, {list_}, {generator} generator, {plots} plots a cell")
    print("| " + " | ".join(_HEAD) + " |")
    print("|" + "---|" * len(_HEAD))
    chances: list[tuple[float, bool]] = []
    for boom_ft, jumps, drift_m in _cells():
        score = Score()
        setting = replace(UNDER_LEAVES if jumps else OPEN_SKY, drift_m=drift_m)
        for number in range(plots):
            drawn = _drawn(draw, setting, boom_ft=boom_ft, number=number)
            score_plot(drawn, score, cover=_plain if plain else cover_plots)
        ratio = drift_m / (boom_ft * FT_M * 11 / 12)
        first = [f"{boom_ft}", f"{drift_m:g}", f"{ratio:.2f}", "yes" if jumps else "no", f"{plots}"]
        print("| " + " | ".join([*first, *_figures(score)]) + " |", flush=True)
        chances += score.chances
    _print_chances(chances)


def score_plot(simulated: Simulated, score: Score, *, cover: Callable[..., Coverage] = cover_plots) -> None:
    """Run a method on a recording and add what came out to a score.

    Parameters
    ----------
    simulated
        The application.
    score
        What is added to.
    cover
        The method: called as `cover_plots`.
    """
    rows, track = measure_plots([as_plot(simulated)]).plots, as_track(simulated)
    began = time.perf_counter()
    coverage = cover(rows, [track], sprayer=Sprayer(width_m=simulated.boom_m))
    score.ms.append(1000 * (time.perf_counter() - began))
    score.acres += float(simulated.plot.area) / ACRE_M2
    silent = any(doubt.silent for doubt in getattr(coverage, "doubts", ()))
    score.silent.append(silent)
    verdicts = _judged(coverage, simulated, score)
    sure, either = verdicts[_GO_LOOK], [*verdicts[_GO_LOOK], *verdicts[_CANNOT_TELL]]
    for planted in simulated.planted:
        if _is_row(planted, boom_m=simulated.boom_m):
            score.left_out.append(_covered(planted, sure))
        if _is_large(planted, boom_m=simulated.boom_m):
            score.large.append(_covered(planted, sure))
            score.told.append(silent or _covered(planted, either))
    for doubt in getattr(coverage, "doubts", ()):
        if doubt.missed_m2 is not None:
            low, high = doubt.missed_m2
            score.holds.append(low - _SLACK_M2 <= _missed_m2(simulated) <= high + _SLACK_M2)
    said, true = _inner_said(coverage), _inner_true(simulated)
    if said is not None and true is not None:
        score.count.append(said == true)


def _cells() -> Iterator[tuple[int, bool, float]]:
    for boom_ft in _BOOMS_FT:
        for jumps in (False, True):
            for drift_m in _DRIFTS_M:
                yield boom_ft, jumps, drift_m


def _drawn(draw: Callable[..., Simulated], setting: Receiver, *, boom_ft: int, number: int) -> Simulated:
    # The seed knows of the boom and the plot alone: cells of one boom differ in nothing but the receiver.
    rng = np.random.default_rng([boom_ft, number])
    acres, step_s = float(rng.uniform(*_ACRES)), (3.0 if rng.random() < 0.25 else 1.0)
    return draw(rng, setting=setting, boom_m=boom_ft * FT_M, acres=acres, step_s=step_s)


def _judged(coverage: Coverage, simulated: Simulated, score: Score) -> dict[str, list[Any]]:
    """Strips by verdict, each where it truly lies; whether they are real is added to the score."""
    verdicts: dict[str, list[Any]] = {_GO_LOOK: [], _CANNOT_TELL: []}
    for strip in coverage.strips:
        word, chance = _verdict(strip, boom_m=simulated.boom_m)
        if word not in verdicts:
            continue
        shape_m = PLACE.shape_to_plane(strip.shape)
        verdicts[word].append(moved_back(simulated, shape_m))
        real = truly_missed(simulated, shape_m) >= _REAL
        if word == _GO_LOOK:
            score.real.append(real)
        if chance is not None and _is_listed(strip, boom_m=simulated.boom_m):
            score.chances.append((chance, real))
    return verdicts


def _verdict(strip: MissedStrip, *, boom_m: float) -> tuple[str, float | None]:
    """A strip's word and chance; a plain strip is one to go and look at if it is large enough, else nothing."""
    verdict = getattr(strip, "verdict", None)
    if verdict is not None:
        return getattr(verdict, "word", ""), getattr(verdict, "chance_real", None)
    return _GO_LOOK if _is_listed(strip, boom_m=boom_m) else "", None


def _is_listed(strip: MissedStrip, *, boom_m: float) -> bool:
    return strip.length_m >= _LISTED_M and strip.width_m >= _LISTED_BOOMS * boom_m


def _plain(*args: Any, **settings: Any) -> Any:
    """Cover plots and forget every verdict: what an answer without doubt would tell."""
    coverage = cover_plots(*args, **settings)
    strips = [SimpleNamespace(shape=s.shape, length_m=s.length_m, width_m=s.width_m) for s in coverage.strips]
    return SimpleNamespace(strips=strips, passes=coverage.passes)


def _missed_m2(simulated: Simulated) -> float:
    """Ground truly missed that a track could show."""
    unseen = [p.area_m2 for p in simulated.planted if p.kind not in _BETWEEN and not p.on_record]
    return max(float(simulated.missed.area) - sum(unseen), 0.0)


def _is_row(planted: Planted, *, boom_m: float) -> bool:
    return planted.kind == "left out" and _size_m(planted)[0] >= 2 * boom_m


def _is_large(planted: Planted, *, boom_m: float) -> bool:
    length_m, width_m = _size_m(planted)
    return planted.kind in _BETWEEN and length_m >= _LARGE_M and width_m >= _LARGE_BOOMS * boom_m


def _size_m(planted: Planted) -> tuple[float, float]:
    parts = [p for p in shapely.get_parts(planted.shape) if shapely.area(p) > 0]
    return strip_size_m(max(parts, key=shapely.area)) if parts else (0.0, 0.0)


def _covered(planted: Planted, strips: Sequence[Any]) -> bool:
    over = shapely.intersection(shapely.union_all(strips), planted.shape)
    return bool(shapely.area(over) >= _COVERED * planted.area_m2)


def _inner_said(coverage: Coverage) -> int | None:
    count = coverage.passes[0]
    if count.needed is None:
        return None
    return sum(gap.missing for gap in count.gaps if 0 < gap.after < count.found)


def _inner_true(simulated: Simulated) -> int | None:
    over = [p.extra_m / simulated.boom_m for p in simulated.planted if p.kind == "too far"]
    if any(_HALF_OVER < o < _WHOLE_OVER for o in over):
        return None
    rows = sum(_is_row(p, boom_m=simulated.boom_m) for p in simulated.planted)
    return rows + sum(o >= _WHOLE_OVER for o in over)


def _figures(score: Score) -> list[str]:
    false = len(score.real) - sum(score.real)
    return [
        f"{len(score.real)}",
        _share(score.real),
        f"{false / score.acres:.2f}",
        _share(score.left_out, of=True),
        _share(score.large, of=True),
        _share(score.told),
        _share(score.holds),
        _share(score.count, of=True),
        _share(score.silent),
        f"{median(score.ms):.0f}",
    ]


def _share(marks: Sequence[bool], *, of: bool = False) -> str:
    if not marks:
        return "-"
    return f"{sum(marks) / len(marks):.2f}" + (f" of {len(marks)}" if of else "")


def _print_chances(chances: Sequence[tuple[float, bool]]) -> None:
    """Chances stated, by tenths, beside the share that was real."""
    if not chances:
        print("No strip carries a chance.")
        return
    print("| chance stated | strips | mean | real |\n|---|---|---|---|")
    for tenth in range(10):
        here = [(c, real) for c, real in chances if min(int(10 * c), 9) == tenth]
        if here:
            mean, real = np.mean(here, axis=0)
            print(f"| {tenth / 10:.1f} to {(tenth + 1) / 10:.1f} | {len(here)} | {mean:.2f} | {real:.2f} |")
