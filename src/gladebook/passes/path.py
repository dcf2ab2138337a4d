"""A track laid out on the plane, cleaned, and cut where nothing may be joined.

Points that are not the sprayer's way are left out or held still first, by the rules in `clean`.
Then the track is cut between two points

- where the recording itself starts a new piece;
- where the time between them is longer than the longest gap allowed (default five times the
  track's usual interval);
- where they are a jump apart: faster than a sprayer can move;
- where time runs backwards.

Nothing is painted across a cut.
"""

from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from gladebook.errors import TrackError
from gladebook.geometry.frame import Frame, lengths_m
from gladebook.passes.clean import Cleaning, Kept, drop_points, hold_still
from gladebook.passes.track import Track
from gladebook.units import FT_M

__all__ = ["CutRules", "Path", "lay_out", "split_steps"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

_USUAL_TIMES = 5.0
_JUMP_MPS = 10.0  # common practice, no source: no sprayer in a woodland plot drives 22 mph
_JUMP_TIMES = 4.0
_JUMP_AT_LEAST_M = 6.0
_EVEN_STEPS = 50
_EVEN_SPREAD = 3.0


@dataclass(frozen=True)
class CutRules:
    """When a track is cut, which points are too unsure to follow, and which strips are worth a walk.

    Attributes
    ----------
    gap_s : the longest time between points that are joined, seconds; None: five times the usual.
    gap_m : the longest step that is joined, metres; None: only jumps are cut.
    hdop_above : points with a dilution of precision above this are left out.
    error_m : how far the receiver drifts, standard deviation, metres; None: told from the track.
    least_strip_m, least_strip_booms : a missed strip shorter, or narrower in booms, is never one to go and look at.
    """

    gap_s: float | None = None
    gap_m: float | None = None
    hdop_above: float = 10.0  # common practice, no source
    error_m: float | None = None
    least_strip_m: float = 30 * FT_M
    least_strip_booms: float = 0.5


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
    notes : how it was cleaned and cut, as sentences.
    sections : shape (n, k), states of the boom's sections from left to right as `boom_on` is; None where
        the recording has none.
    cleaning : what was left out, held still and cut, counted.
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
    sections: npt.NDArray[np.int8] | None = None
    cleaning: Cleaning = field(default_factory=Cleaning)


def lay_out(track: Track, *, frame: Frame, rules: CutRules) -> Path:
    """Lay a track out on the plane, clean it and cut it by the rules; points keep the file's order.

    Raises
    ------
    TrackError
        Where a point has no usable place, or nearly all are too unsure to follow.
    """
    whole = frame.to_plane(np.column_stack([track.lon_deg, track.lat_deg]))
    if not np.isfinite(whole).all():
        number = int(np.argmin(np.isfinite(whole).all(axis=1))) + 1
        raise TrackError(f"{track.name}: point {number} has no usable latitude and longitude. Take it out.")
    recorded, kept = track, drop_points(track, hdop_above=rules.hdop_above)
    track, xy = kept.track, whole.take(kept.number, axis=0)
    step_m = lengths_m(np.diff(xy, axis=0))
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
    # Stops are looked for last: where it stood must not change what counts as a gap or a jump.
    xy, standing_points, standing_stops = hold_still(xy, time_s=time_s, cut=pieces | gap | backwards)
    cleaning = Cleaning(
        points=len(recorded),
        void=recorded.void_points,
        repeats=kept.repeats,
        poor_hdop=int(kept.poor.sum()),
        standing_points=standing_points,
        standing_stops=standing_stops,
        jumps=int((jump & ~gap & ~pieces).sum()),
        backwards=int((backwards & ~pieces).sum()),
        gaps=int((gap & ~pieces).sum()),
    )
    notes += _cleaning_notes(track.name, cleaning=cleaning, pieces=int(pieces.sum()), rules=rules)
    path = Path(
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
        sections=track.sections,
        cleaning=cleaning,
    )
    return _keep_switches(path, recorded=recorded, kept=kept)


def split_steps(path: Path, *, step: Ints, share: Floats) -> tuple[Path, Ints]:
    """Put points into steps; time runs evenly along a step, and all else is as at its start.

    Parameters
    ----------
    path
        As it is.
    step
        Shape (m,), the points where the steps start, in order; nothing may be cut there.
    share
        Shape (m,), how far along its step each point lies, 0 to 1, in order within a step.

    Returns
    -------
    The path, and the numbers of the new points in it.
    """
    at = step + 1
    source = np.insert(np.arange(len(path.xy_m)), at, step)
    grown = replace(
        path,
        xy_m=np.insert(path.xy_m, at, path.xy_m[step] + share[:, None] * (path.xy_m[at] - path.xy_m[step]), axis=0),
        time_s=np.insert(path.time_s, at, path.time_s[step] + share * (path.time_s[at] - path.time_s[step])),
        speed_mps=path.speed_mps[source],
        boom_on=path.boom_on[source],
        width_m=path.width_m[source],
        cut=np.insert(path.cut, step, False),
        backwards=np.insert(path.backwards, step, False),
        sections=None if path.sections is None else path.sections[source],
    )
    return grown, at + np.arange(len(at))


def _keep_switches(path: Path, *, recorded: Track, kept: Kept) -> Path:
    """Put switches of the boom at points left out as too unsure on the line between their good neighbours."""
    poor = np.flatnonzero(kept.poor)
    poor = poor[poor > 0]
    switched = recorded.boom_on[poor] != recorded.boom_on[poor - 1]
    width = recorded.width_m
    switched |= ~((width[poor] == width[poor - 1]) | (np.isnan(width[poor]) & np.isnan(width[poor - 1])))
    if recorded.sections is not None:
        switched |= (recorded.sections[poor] != recorded.sections[poor - 1]).any(axis=1)
    poor = poor[switched]
    step = np.searchsorted(kept.number, poor) - 1
    inside = (step >= 0) & (step < len(path.cut))
    poor, step = poor[inside], step[inside]
    joined = ~path.cut[step]
    poor, step = poor[joined], step[joined]
    if not poor.size:
        return path
    before, after = kept.number[step], kept.number[step + 1]
    share = (poor - before) / (after - before)
    with np.errstate(invalid="ignore", divide="ignore"):
        timed = (recorded.time_s[poor] - path.time_s[step]) / (path.time_s[step + 1] - path.time_s[step])
        share = np.where((timed >= 0) & (timed <= 1), timed, share)
    order = np.lexsort((poor, share, step))
    poor = poor[order]
    grown, new = split_steps(path, step=step[order], share=share[order])
    boom_on, width_m = grown.boom_on.copy(), grown.width_m.copy()
    boom_on[new], width_m[new] = recorded.boom_on[poor], recorded.width_m[poor]
    sections = None
    if grown.sections is not None and recorded.sections is not None:
        sections = grown.sections.copy()
        sections[new] = recorded.sections[poor]
    return replace(grown, boom_on=boom_on, width_m=width_m, sections=sections)


def _cleaning_notes(name: str, *, cleaning: Cleaning, pieces: int, rules: CutRules) -> list[str]:
    """One sentence for each rule that found something; the reader has said what it left out itself."""
    c = cleaning
    notes = [
        f"{name}: {number:,} point{'s' if number > 1 else ''} left out: {why}."
        for number, why in (
            (c.repeats, "the same place and time as the point before"),
            (c.poor_hdop, f"an HDOP above {rules.hdop_above:g}"),
        )
        if number
    ]
    if c.standing_stops:
        notes.append(
            f"{name}: stood still {c.standing_stops:,} time{'s' if c.standing_stops > 1 else ''} (within 10 ft for "
            f"20 s or more); {c.standing_points:,} points were held where it stopped."
        )
    notes += [
        f"{name}: cut at {words}, {number} time{'s' if number > 1 else ''}."
        for number, words in (
            (pieces, "the recording starts a new piece"),
            (c.gaps, "a gap in time"),
            (c.jumps, "a jump"),
            (c.backwards, "time running backwards"),
        )
        if number
    ]
    return notes


def _filled(time_s: Floats) -> Floats:
    """Times with those of points that have none put evenly between their neighbours'.

    A point without a time must neither bridge a gap nor hide a jump.
    """
    known = np.isfinite(time_s)
    if known.all():
        return time_s
    if not known.any():
        return np.full(len(time_s), np.nan)
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
