"""What sprays: how wide, where it sits seen from the receiver, which sections, and how late it answers."""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from gladebook.errors import CallError
from gladebook.passes.clean import drive_clock
from gladebook.passes.path import Path, split_steps
from gladebook.units import FT_M

__all__ = [
    "SAME_WIDTH_M",
    "Lanes",
    "Sprayer",
    "apply_delays",
    "check_sections",
    "check_sprayer",
    "in_feet",
    "lay_lanes",
    "settle_sections",
    "sprayer_assumptions",
]

Floats = npt.NDArray[np.float64]
States = npt.NDArray[np.int8]
Bools = npt.NDArray[np.bool_]

SAME_WIDTH_M = 0.01  # widths typed in feet and inches agree to less
_FARTHEST_M = 30.0  # common practice, no source: nothing in a woodland plot is longer
_LATEST_S = 60.0  # common practice, no source
_SHARED_STAMP_S = 1.0
_AT_POINT = 1e-6  # of a step


@dataclass(frozen=True)
class Sprayer:
    """What sprays, and where it sits seen from the receiver.

    Attributes
    ----------
    width_m : swath of the whole boom, metres; for boomless or one-sided nozzles the effective swath. None: as
        recorded.
    behind_m : how far the boom is behind the receiver, metres, negative ahead; None: not given, taken as 0.
    right_m : how far the middle of the swath lies to the right of the receiver, metres, negative left; None:
        not given, taken as 0.
    on_delay_s, off_delay_s : seconds from the recorded switch to the spray starting or ending, negative where
        the record lags behind the spray; None: not given, taken as 0.
    sections_m : widths of the sections from left to right, metres; () for equal parts of the boom.
    """

    width_m: float | None = None
    behind_m: float | None = None
    right_m: float | None = None
    on_delay_s: float | None = None
    off_delay_s: float | None = None
    sections_m: tuple[float, ...] = ()


@dataclass(frozen=True, eq=False)
class Lanes:
    """Where the edges of each section run, seen from the receiver, and when it sprays.

    Attributes
    ----------
    on : shape (k, n), from a point to the next.
    left_m, right_m : shape (k, n), metres to the left of the receiver's line, negative right of it, at the
        height of the boom; what neighbouring sections share is the same number.
    behind_m : how far the boom is behind the receiver, negative ahead.
    """

    on: Bools
    left_m: Floats
    right_m: Floats
    behind_m: float


def check_sprayer(sprayer: Sprayer) -> None:
    """Refuse what no sprayer can be.

    Raises
    ------
    CallError
        Where a figure is none, or the sections do not add up to the boom.
    """
    if sprayer.width_m is not None and not 0 < sprayer.width_m < np.inf:
        raise CallError(f"The boom's width must be above zero, not {sprayer.width_m:g} m.")
    sides = (("behind", "ahead of", sprayer.behind_m), ("to the right of", "to the left of", sprayer.right_m))
    for plus, minus, length_m in sides:
        if length_m is not None and not abs(length_m) <= _FARTHEST_M:
            raise CallError(
                f"The boom cannot be {in_feet(abs(length_m))} {minus if length_m < 0 else plus} the receiver; give at "
                f"most {_FARTHEST_M / FT_M:.0f} ft."
            )
    for words, delay_s in (("start", sprayer.on_delay_s), ("end", sprayer.off_delay_s)):
        if delay_s is not None and not abs(delay_s) <= _LATEST_S:
            raise CallError(
                f"The spray cannot {words} {delay_s:g} s after the switch; give at most {_LATEST_S:.0f} s, with a "
                "minus where the record lags behind the spray."
            )
    if any(not 0 < width_m < np.inf for width_m in sprayer.sections_m):
        raise CallError("Every section's width must be above zero; give them from left to right.")
    whole_m = sum(sprayer.sections_m)
    if sprayer.sections_m and sprayer.width_m is not None and abs(whole_m - sprayer.width_m) > SAME_WIDTH_M:
        raise CallError(
            f"The sections add up to {in_feet(whole_m)}, but the boom is given as {in_feet(sprayer.width_m)}. "
            "Mend one of them, or leave out the boom's width."
        )


def sprayer_assumptions(sprayer: Sprayer) -> tuple[str, ...]:
    """What is taken for granted because it was not given, as sentences."""
    said: list[str] = []
    behind, right = sprayer.behind_m is None, sprayer.right_m is None
    if behind and right:
        said.append(
            "The middle of the boom is assumed straight under the phone or receiver; say how far behind it the boom "
            "is with --behind, and how far to the right its middle is with --right."
        )
    elif behind:
        said.append(
            "The boom is assumed level with the phone or receiver, neither behind nor ahead; say how far behind it "
            "is with --behind."
        )
    elif right:
        said.append(
            "The middle of the boom is assumed in line with the phone or receiver; say how far to the right it is "
            "with --right."
        )
    late = [
        (words, option)
        for words, option, delay_s in (
            ("start", "--on-delay", sprayer.on_delay_s),
            ("end", "--off-delay", sprayer.off_delay_s),
        )
        if delay_s is None
    ]
    if late:
        words, options = " and ".join(w for w, _ in late), " and ".join(o for _, o in late)
        said.append(f"The spray is assumed to {words} at the recorded switch; say the seconds between with {options}.")
    return tuple(said)


def settle_sections(path: Path) -> Path:
    """Let the whole boom and its sections agree, as far as they are recorded.

    A boom recorded as off beats its sections; a section that is not recorded follows the boom; the
    boom is on where any section is, and off where all are.
    """
    if path.sections is None or not path.sections.shape[1]:
        return replace(path, sections=None)
    boom = path.boom_on[:, None]
    sections = np.where(boom == 0, 0, np.where(path.sections == -1, boom, path.sections)).astype(np.int8)
    return replace(path, sections=sections, boom_on=_any_on(sections))


def _any_on(sections: States) -> States:
    all_off = (sections == 0).all(axis=1)
    return np.where((sections == 1).any(axis=1), 1, np.where(all_off, 0, -1)).astype(np.int8)


def check_sections(path: Path, *, sprayer: Sprayer) -> None:
    """Refuse widths of more or fewer sections than are recorded.

    Raises
    ------
    CallError
        Where the numbers differ.
    """
    count = 0 if path.sections is None else path.sections.shape[1]
    given = len(sprayer.sections_m)
    if count and given and count != given:
        raise CallError(
            f"{path.name}: records {count} section{'s' if count > 1 else ''} of the boom, but --sections gives "
            f"{given} width{'s' if given > 1 else ''}. Give one for each, from left to right."
        )


def lay_lanes(path: Path, *, sprayer: Sprayer) -> Lanes:
    """Lay out where each section runs beside the receiver; one lane where no sections are recorded.

    Parameters
    ----------
    path
        With its boom states and widths settled.
    sprayer
        Where the boom sits, and the widths of its sections.

    Raises
    ------
    CallError
        Where a width is missing, or the sections given are not those recorded.
    """
    check_sprayer(sprayer)
    check_sections(path, sprayer=sprayer)
    path = settle_sections(path)
    states = path.boom_on[:, None] if path.sections is None else path.sections
    count = states.shape[1]
    shares, width_m = np.arange(count + 1) / count, path.width_m
    if path.sections is not None and sprayer.sections_m:
        whole_m = sum(sprayer.sections_m)
        shares = np.concatenate([[0.0], np.cumsum(sprayer.sections_m)]) / whole_m
        width_m = np.full(len(width_m), whole_m)
    if np.isnan(width_m).any():
        raise CallError(f'{path.name}: has no width_m at every point. Say how wide the boom is, like --boom "12 ft".')
    # Boundaries once: what two sections share must be one number, or slivers open between them.
    boundary_m = (0.5 - shares)[:, None] * width_m - (sprayer.right_m or 0.0)
    return Lanes(
        on=np.ascontiguousarray(states.T == 1),
        left_m=boundary_m[:-1],
        right_m=boundary_m[1:],
        behind_m=sprayer.behind_m or 0.0,
    )


def apply_delays(path: Path, *, sprayer: Sprayer) -> Path:
    """Let recorded switches take effect as late as the spray answers.

    Each section's switch to on takes effect `on_delay_s` later, each switch to off `off_delay_s`
    later, at a place in between where need be; where that time falls in a cut, after it. A switch
    that a later one overtakes never takes effect: neither a burst nor a pause shorter than the
    delays is sprayed as such. States that are not recorded, and the first after one, are left as
    they are.

    Parameters
    ----------
    path
        With states as recorded.
    sprayer
        Its delays; negative ones take effect earlier, where the record lags behind the spray.
    """
    delays = (sprayer.off_delay_s or 0.0, sprayer.on_delay_s or 0.0)
    if not any(delays):
        return path
    path = settle_sections(path)
    states = path.boom_on[:, None] if path.sections is None else path.sections
    if len(path.xy_m) < 2 or not (np.diff(states, axis=0) != 0).any():
        return path
    if not np.isfinite(path.time_s).all():
        said = f"{path.name}: has no times, so the delays given for the spray could not be applied."
        return replace(path, notes=(*path.notes, said))
    clock = _one_time_each(path.time_s, backwards=path.backwards)
    found = [_switches(column, path=path, clock=clock, delays=delays) for column in states.T]
    places = np.unique(np.concatenate([place for place, _, _ in found]))
    between = places[places != np.floor(places)]
    step = between.astype(np.int64)
    grown, _ = split_steps(path, step=step, share=between - step)
    here = np.sort(np.concatenate([np.arange(len(path.xy_m)), between]))
    columns = [state[np.searchsorted(place, here, side="right") - 1] for place, state, _ in found]
    sections = np.column_stack(columns).astype(np.int8)
    lost = sum(number for _, _, number in found)
    notes = path.notes
    if lost:
        said = "switch was overtaken by the next and never took" if lost == 1 else "switches were overtaken and took no"
        notes = (*notes, f"{path.name}: with the delays given, {lost:,} {said} effect.")
    if path.sections is None:
        return replace(grown, boom_on=sections[:, 0], notes=notes)
    return replace(grown, sections=sections, boom_on=_any_on(sections), notes=notes)


def _one_time_each(time_s: Floats, *, backwards: Bools) -> Floats:
    """A clock on which points that share a stamp follow each other evenly, within the second after it."""
    clock = drive_clock(time_s, cut=backwards)
    first = np.concatenate([[True], clock[1:] > clock[:-1]])
    starts = np.flatnonzero(first)
    run = np.cumsum(first) - 1
    length = np.diff(np.append(starts, len(clock)))
    if (length == 1).all():
        return clock
    room_s = np.minimum(np.diff(clock[starts], append=np.inf), _SHARED_STAMP_S)
    spread: Floats = clock + (np.arange(len(clock)) - starts[run]) / length[run] * room_s[run]
    return spread


def _switches(state: States, *, path: Path, clock: Floats, delays: tuple[float, float]) -> tuple[Floats, States, int]:
    """Where one section changes: places along the track in points, the state from each on, and how many were lost."""
    n = len(state)
    changed = np.flatnonzero((state[1:] != state[:-1]) | path.backwards) + 1
    late = changed[(state[changed] >= 0) & (state[changed - 1] >= 0) & ~path.backwards[changed - 1]]
    # Beginnings are known, not switched: the first point, and where the record starts anew, stops, or runs backwards.
    hard = np.concatenate([[0], np.setdiff1d(changed, late, assume_unique=True)]).astype(np.int64)
    number = np.searchsorted(hard, late, side="right") - 1
    begin, end = hard[number], np.append(hard[1:], n)[number]
    due = np.maximum(clock[late] + np.array(delays)[state[late]], clock[begin])
    overtaken = np.zeros(len(late), dtype=bool)
    if len(late) > 1:
        overtaken[:-1] = np.minimum.accumulate(due[::-1])[::-1][1:] <= due[:-1]
    step = np.searchsorted(clock, due, side="right") - 1
    inside = step < n - 1
    low = np.minimum(step, n - 2)
    share = np.where(inside, (due - clock[low]) / np.maximum(clock[low + 1] - clock[low], 1e-12), 0.0)
    share = np.where(
        share < _AT_POINT, 0.0, np.where((share > 1 - _AT_POINT) | (path.cut[low] & (share > 0)), 1.0, share)
    )
    place = np.round(step + share, 9)  # switches of two sections at one moment share one point
    stays = ~overtaken & (place < end)
    places = np.concatenate([hard, place[stays]])
    states = np.concatenate([state[hard], state[late[stays]]])
    order = np.argsort(places, kind="stable")
    return places[order], states[order], int(overtaken.sum())


def in_feet(length_m: float) -> str:
    """A length as people read it."""
    return f"{length_m / FT_M:.4g} ft"
