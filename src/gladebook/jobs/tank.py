"""What goes in the tank? Acres from a figure, a boundary file, or a coverage answer."""

import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from gladebook.errors import UnreadableFile
from gladebook.plots.acreage import Measured
from gladebook.spraying.touch_up import seen_numbers
from gladebook.units import ACRE_M2

__all__ = ["acres_from_coverage", "acres_from_measured", "strips_from_coverage"]


def acres_from_measured(measured: Measured, *, order: Sequence[str] = ()) -> list[tuple[str, float]]:
    """Names and net areas, m2, of measured plots; with `order`, those named, in that order.

    Raises
    ------
    UnreadableFile
        Where a name is not among the plots.
    """
    if not order:
        return [(p.name, p.net_m2) for p in measured.plots]
    chosen: list[tuple[str, float]] = []
    for name in order:
        found = [p for p in measured.plots if p.name.lower() == name.lower()]
        if not found:
            known = ", ".join(p.name for p in measured.plots[:20])
            raise UnreadableFile(f'There is no plot called "{name}". The plots: {known}.')
        chosen += [(p.name, p.net_m2) for p in found]
    return chosen


def acres_from_coverage(path: Path) -> list[tuple[str, float]]:
    """Names and areas, m2, of the treated ground in an answer of ``coverage --json``.

    Raises
    ------
    UnreadableFile
        Where the file is no such answer, or has no treated ground.
    """
    areas = _read(path, lambda d: [(str(p["name"]), float(p["treated_acres"]) * ACRE_M2) for p in d["plots"]])
    some = [(name, area) for name, area in areas if area > 0]
    if not some:
        raise UnreadableFile(f"{path.name}: has no treated ground, so there is nothing to mix for.")
    return some


def strips_from_coverage(path: Path, *, seen: Sequence[int]) -> list[tuple[str, float]]:
    """Names and areas, m2, of missed strips in an answer of ``coverage --json`` that somebody went and saw.

    Parameters
    ----------
    path
        The answer.
    seen
        Numbers of those strips, from 1, as the answer lists them.

    Raises
    ------
    UnreadableFile
        Where the file is no such answer.
    CallError
        Where a number is not on its list.
    """
    strips = _read(path, lambda d: [(str(s["plot"]), float(s["area_m2"])) for s in d["missed_strips"]])
    numbers = seen_numbers(seen, listed=len(strips))
    return [(f"{strips[n - 1][0]}, strip {n}", strips[n - 1][1]) for n in numbers]


def _read(path: Path, take: Callable[[Any], list[tuple[str, float]]]) -> list[tuple[str, float]]:
    try:
        return take(json.loads(path.read_text(encoding="utf-8")))
    except OSError as error:
        raise UnreadableFile(
            f"{path.name}: cannot be read ({error.strerror}). Check the name and the folder."
        ) from None
    except (ValueError, KeyError, TypeError, UnicodeDecodeError, RecursionError):
        raise UnreadableFile(
            f"{path.name}: is no answer of coverage. Make one with: gladebook coverage ... --json --out {path.name}"
        ) from None
