"""What is this file, and what would come in? Nothing is changed, and nothing is saved."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from math import isfinite
from pathlib import Path
from typing import Any

from gladebook.errors import CallError, InputError
from gladebook.io.door import file_kind, read_boundaries, read_track
from gladebook.io.limits import LIMITS, Limits
from gladebook.passes.track import Track
from gladebook.plots.acreage import measure_plots
from gladebook.view.looks import FoundPlots, FoundTrack, Look, Report

__all__ = ["Reading", "look_at", "report_of"]

_SKIPPED = re.compile(r"left out|skipped|not used|not read", re.IGNORECASE)
_REPAIRED = re.compile(r"\brepaired\b|closed by a straight line|counted once", re.IGNORECASE)
_DOUBTFUL = re.compile(r"\bdoubtful\b|check that|may be wrong|more than any plot|no date", re.IGNORECASE)
_FIRST = 12


@dataclass(frozen=True)
class Reading:
    """How the file is to be read, where it does not say so itself; see `gladebook.read_plots` and `read_track`.

    Attributes
    ----------
    crs, layer, name_field, repair : for boundaries.
    columns, time_format, allow_estimated : for tracks.
    limits : how much the file may hold.
    """

    crs: str | None = None
    layer: str | None = None
    name_field: str | None = None
    repair: bool = False
    columns: Mapping[str, str] | None = None
    time_format: str | None = None
    allow_estimated: bool = False
    limits: Limits = LIMITS


def look_at(path: Path, *, reading: Reading | None = None) -> Look:
    """Say what a file is and what would come in, as plots and as a track.

    Raises
    ------
    InputError
        Where there is no such file, or it may not be read.
    """
    reading = reading or Reading()
    kind = file_kind(path, limits=reading.limits)
    plots, no_plots = _as_plots(path, reading)
    track, no_track = _as_track(path, reading)
    return Look(
        name=path.name or str(path),
        kind=kind,
        size_bytes=_size(path),
        plots=plots,
        track=track,
        no_plots=no_plots,
        no_track=no_track,
    )


def report_of(notes: Sequence[str]) -> Report:
    """Sort a reader's sentences by what they say."""
    found: dict[str, list[str]] = {"skipped": [], "repaired": [], "doubtful": [], "other": []}
    for note in dict.fromkeys(notes):
        for kind, words in (("doubtful", _DOUBTFUL), ("skipped", _SKIPPED), ("repaired", _REPAIRED)):
            if words.search(note):
                found[kind].append(note)
                break
        else:
            found["other"].append(note)
    return Report(**{kind: tuple(sentences) for kind, sentences in found.items()})


def _as_plots(path: Path, reading: Reading) -> tuple[FoundPlots | None, str]:
    try:
        read = read_boundaries(
            path,
            crs=reading.crs,
            layer=reading.layer,
            name_field=reading.name_field,
            repair=reading.repair,
            limits=reading.limits,
        )
    except (InputError, CallError) as error:
        return None, str(error)
    plots = read.plots
    measured = measure_plots(plots)
    boxes = [p.shape.bounds for p in plots]
    west, south = min(b[0] for b in boxes), min(b[1] for b in boxes)
    east, north = max(b[2] for b in boxes), max(b[3] for b in boxes)
    # The ranges are no matter of the file.
    notices = [n for n in measured.notices if not n.startswith("The ranges assume")]
    return (
        FoundPlots(
            count=len(plots),
            names=tuple(p.name for p in plots[:_FIRST]),
            area_m2=measured.total_m2,
            crs=read.system,
            bounds_deg=(west, south, east, north),
            report=report_of(notices),
        ),
        "",
    )


def _as_track(path: Path, reading: Reading) -> tuple[FoundTrack | None, str]:
    try:
        track = read_track(
            path,
            columns=reading.columns,
            time_format=reading.time_format,
            allow_estimated=reading.allow_estimated,
            layer=reading.layer,
            limits=reading.limits,
        )
    except (InputError, CallError) as error:
        return None, str(error)
    known = [t for t in track.time_s.tolist() if isfinite(t)]
    return (
        FoundTrack(
            points=len(track),
            pieces=len(set(track.segment.tolist())),
            start=_moment(min(known)) if known else None,
            end=_moment(max(known)) if known else None,
            clock=track.clock,
            records=_records(track),
            bounds_deg=(
                float(track.lon_deg.min()),
                float(track.lat_deg.min()),
                float(track.lon_deg.max()),
                float(track.lat_deg.max()),
            ),
            report=report_of(track.notes),
        ),
        "",
    )


def _records(track: Track) -> tuple[str, ...]:
    sections = 0 if track.sections is None else track.sections.shape[1]
    found = (
        ("boom on and off", bool((track.boom_on >= 0).any())),
        (f"{sections} boom sections", sections > 0),
        ("boom width", _any(track.width_m)),
        ("speed", _any(track.speed_mps)),
        ("HDOP", _any(track.hdop)),
    )
    return tuple(words for words, there in found if there)


def _any(column: Any) -> bool:
    """Whether a column has a figure anywhere."""
    return any(isfinite(value) for value in column.tolist())


def _moment(time_s: float) -> datetime:
    return datetime.fromtimestamp(float(time_s), tz=UTC)


def _size(path: Path) -> int:
    files = [f for f in path.rglob("*") if f.is_file()] if path.is_dir() else [path]
    return sum(f.stat().st_size for f in files)
