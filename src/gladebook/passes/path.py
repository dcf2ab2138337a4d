"""A track laid out on the plane and cut where nothing may be joined.

A track is cut between two points

- where the recording itself starts a new piece;
- where the time between them is longer than the longest gap allowed (default five times the
  track's usual interval);
- where they are a jump apart: faster than a sprayer can move;
- where time runs backwards.

Nothing is painted across a cut.
"""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from gladebook.geometry.frame import Frame
from gladebook.passes.track import Track

__all__ = ["CutRules", "Path", "lay_out"]

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

_USUAL_TIMES = 5.0
_JUMP_MPS = 10.0  # common practice, no source: no sprayer in a woodland plot drives 22 mph
_JUMP_TIMES = 4.0
_JUMP_AT_LEAST_M = 6.0
_EVEN_STEPS = 50
_EVEN_SPREAD = 3.0


@dataclass(frozen=True)
class CutRules:
    """When a track is cut.

    Attributes
    ----------
    gap_s : the longest time between points that are joined, seconds; None: five times the usual.
    gap_m : the longest step that is joined, metres; None: only jumps are cut.
    """

    gap_s: float | None = None
    gap_m: float | None = None


@dataclass(frozen=True, eq=False)
class Path:
    """Points on the plane, with what holds from each to the next.

    Attributes
    ----------
    name : the track's name.
    xy_m : shape (n, 2).
    time_s, speed_mps : shape (n,), not a number where unknown.
    boom_on : shape (n,), 1, 0, or -1 where not recorded; from a point to the next.
    width_m : shape (n,), from a point to the next; not a number where not recorded.
    cut : shape (n - 1,), true where nothing joins a point to the next.
    backwards : shape (n - 1,), true where the cut is time running backwards.
    top_mps : the speed above which two points are a jump apart; not a number without times.
    notes : how it was cut, as sentences.
    """

    name: str
    xy_m: Floats
    time_s: Floats
    speed_mps: Floats
    boom_on: npt.NDArray[np.int8]
    width_m: Floats
    cut: Bools
    backwards: Bools
    top_mps: float
    notes: tuple[str, ...] = field(default=())


def lay_out(track: Track, *, frame: Frame, rules: CutRules) -> Path:
    """Lay a track out on the plane and cut it by the rules; points keep the file's order."""
    xy = frame.to_plane(np.column_stack([track.lon_deg, track.lat_deg]))
    step_m = np.hypot(*np.diff(xy, axis=0).T)
    time_s = _filled(track.time_s)
    step_s = np.diff(time_s)
    pieces = np.diff(track.segment) != 0
    with np.errstate(invalid="ignore"):
        backwards = step_s < 0
    notes: list[str] = []
    gap = _time_gaps(track, step_s=step_s, rules=rules, notes=notes)
    top_mps = _top_speed(step_m, step_s)
    jump = _jumps(step_m, step_s, top_mps=top_mps)
    if track.clock == "none":
        jump |= _long_steps(track, step_m=step_m, pieces=pieces, rules=rules, notes=notes)
    if rules.gap_m is not None:
        jump |= step_m > rules.gap_m
    for mask, words in (
        (pieces, "the recording starts a new piece"),
        (gap & ~pieces, "a gap in time"),
        (jump & ~gap & ~pieces, "a jump"),
        (backwards & ~pieces, "time running backwards"),
    ):
        if mask.any():
            notes.append(f"{track.name}: cut at {words}, {int(mask.sum())} time{'s' if mask.sum() > 1 else ''}.")
    return Path(
        name=track.name,
        xy_m=xy,
        time_s=time_s,
        speed_mps=track.speed_mps,
        boom_on=track.boom_on,
        width_m=track.width_m,
        cut=pieces | gap | jump | backwards,
        backwards=backwards,
        top_mps=top_mps,
        notes=tuple(notes),
    )


def _filled(time_s: Floats) -> Floats:
    """Times with those of points that have none put evenly between their neighbours'.

    A point without a time must neither bridge a gap nor hide a jump.
    """
    known = np.isfinite(time_s)
    if known.all() or not known.any():
        return time_s
    number = np.arange(len(time_s))
    return np.interp(number, number[known], time_s[known])


def _time_gaps(track: Track, *, step_s: Floats, rules: CutRules, notes: list[str]) -> Bools:
    moving = step_s[np.isfinite(step_s) & (step_s > 0)]
    if not moving.size:
        return np.zeros(len(step_s), dtype=bool)
    usual_s = float(np.median(moving))
    longest_s = rules.gap_s if rules.gap_s is not None else _USUAL_TIMES * usual_s
    notes.append(
        f"{track.name}: points usually {usual_s:g} s apart; over {longest_s:g} s counts as a gap"
        + ("." if rules.gap_s is not None else " (five times the usual; set yours with --gap).")
    )
    with np.errstate(invalid="ignore"):
        gap: Bools = step_s > longest_s
    return gap


def _top_speed(step_m: Floats, step_s: Floats) -> float:
    with np.errstate(invalid="ignore", divide="ignore"):
        speed = step_m / step_s
    moving = speed[np.isfinite(speed) & (speed > 0.2)]
    return max(_JUMP_MPS, _JUMP_TIMES * float(np.median(moving))) if moving.size else float("nan")


def _jumps(step_m: Floats, step_s: Floats, *, top_mps: float) -> Bools:
    """Steps faster than a sprayer; several points with one time stamp share the second around them."""
    with np.errstate(invalid="ignore"):
        # A recorder that writes whole seconds gives several points one stamp: allow that second.
        jump: Bools = (step_m > _JUMP_AT_LEAST_M) & (step_m > top_mps * np.where(step_s <= 0, 1.0, step_s))
    return jump & np.isfinite(step_s)


def _long_steps(track: Track, *, step_m: Floats, pieces: Bools, rules: CutRules, notes: list[str]) -> Bools:
    """Without times, lost reception shows only as a long step, and only where steps are even."""
    long_: Bools = np.zeros(len(step_m), dtype=bool)
    moved = step_m[(step_m > 0) & ~pieces]
    if moved.size:
        usual_m, most_m = float(np.median(moved)), float(np.quantile(moved, 0.9))
        if moved.size >= _EVEN_STEPS and most_m <= _EVEN_SPREAD * usual_m and rules.gap_m is None:
            long_ = step_m > max(_USUAL_TIMES * usual_m, _JUMP_AT_LEAST_M)
            notes.append(
                f"{track.name}: has no times; steps over {max(_USUAL_TIMES * usual_m, _JUMP_AT_LEAST_M):.0f} m, "
                "five times the usual, count as gaps (set yours with --gap, as a length)."
            )
        elif rules.gap_m is None:
            notes.append(
                f"{track.name}: has no times, so lost reception cannot be told; points were joined as they come "
                f"(longest step {moved.max():.0f} m). If that was a gap, say --gap with a length."
            )
    return long_
