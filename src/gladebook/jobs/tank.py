"""What goes in the tank? Acres from a figure, a boundary file, or a coverage answer."""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from gladebook.errors import UnreadableFile
from gladebook.plots.acreage import Measured
from gladebook.units import ACRE_M2

__all__ = ["CoveragePart", "acres_from_coverage", "acres_from_measured"]

CoveragePart = Literal["treated", "missed"]


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


def acres_from_coverage(path: Path, *, part: CoveragePart) -> list[tuple[str, float]]:
    """Names and areas, m2, of the treated or missed ground in an answer of ``coverage --json``.

    Raises
    ------
    UnreadableFile
        Where the file is no such answer, or has none of that ground.
    """
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
        areas = [(str(p["name"]), float(p[f"{part}_acres"]) * ACRE_M2) for p in document["plots"]]
    except OSError as error:
        raise UnreadableFile(
            f"{path.name}: cannot be read ({error.strerror}). Check the name and the folder."
        ) from None
    except (ValueError, KeyError, TypeError, UnicodeDecodeError, RecursionError):
        raise UnreadableFile(
            f"{path.name}: is no answer of coverage. Make one with: gladebook coverage ... --json --out {path.name}"
        ) from None
    some = [(name, area) for name, area in areas if area > 0]
    if not some:
        raise UnreadableFile(f"{path.name}: has no {part} ground, so there is nothing to mix for.")
    return some
