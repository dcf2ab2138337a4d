"""What goes in the tank? Acres from a figure, a boundary file, or a coverage answer, kept in a property or not."""

import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from gladebook.errors import CallError, UnreadableFile
from gladebook.io.kinds import property_at
from gladebook.jobs.keep import answer_in, strips_seen
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


def acres_from_coverage(path: Path, *, application: str | None = None) -> list[tuple[str, float]]:
    """Names and areas, m2, of the treated ground in an answer of ``coverage --json``.

    Parameters
    ----------
    path
        The answer, or a property that keeps it.
    application
        Which of a property's applications; None for the only one.

    Raises
    ------
    InputError
        Where the file is no such answer, keeps none of that name, or has no treated ground.
    CallError
        Where a property keeps several and none was named.
    """
    areas = _read(
        path,
        lambda d: [(str(p["name"]), float(p["treated_acres"]) * ACRE_M2) for p in d["plots"]],
        application=application,
    )
    some = [(name, area) for name, area in areas if area > 0]
    if not some:
        raise UnreadableFile(f"{path.name}: has no treated ground, so there is nothing to mix for.")
    return some


def strips_from_coverage(
    path: Path, *, seen: Sequence[int] | None, application: str | None = None
) -> list[tuple[str, float]]:
    """Names and areas, m2, of missed strips in an answer of ``coverage --json`` that somebody went and saw.

    Parameters
    ----------
    path
        The answer, or a property that keeps it.
    seen
        Numbers of those strips, from 1, as the answer lists them; None for those that a property has marked so.
    application
        Which of a property's applications; None for the only one.

    Raises
    ------
    InputError
        Where the file is no such answer, or keeps none of that name.
    CallError
        Where a number is missing or not on its list.
    """
    if property_at(path):
        return strips_seen(path, application=application, seen=seen)
    if seen is None:
        raise CallError(
            "--missed and --seen: a touch-up is mixed for strips that somebody went and saw. Give both, like "
            "--missed answer.json --seen 3,5."
        )
    strips = _read(
        path,
        lambda d: [(str(s["plot"]), float(s["area_m2"])) for s in d["missed_strips"]],
        application=application,
    )
    numbers = seen_numbers(seen, listed=len(strips))
    return [(f"{strips[n - 1][0]}, strip {n}", strips[n - 1][1]) for n in numbers]


def _read(
    path: Path, take: Callable[[Any], list[tuple[str, float]]], *, application: str | None = None
) -> list[tuple[str, float]]:
    kept = property_at(path)
    if application is not None and not kept:
        raise CallError(f"--application: {path.name} is no property file. Leave it out.")
    answer = answer_in(path, application=application) if kept else None
    try:
        if answer is None and ".gpkg" in (path.suffix.lower(), path.resolve().suffix.lower()):
            raise ValueError  # it may be a property that is held, which must not be opened here
        return take(json.loads(path.read_text(encoding="utf-8")) if answer is None else answer)
    except OSError as error:
        raise UnreadableFile(
            f"{path.name}: cannot be read ({error.strerror}). Check the name and the folder."
        ) from None
    except (ValueError, KeyError, TypeError, UnicodeDecodeError, RecursionError):
        raise UnreadableFile(
            f"{path.name}: is no answer of coverage. Make one with: gladebook coverage ... --json --out {path.name}"
        ) from None
