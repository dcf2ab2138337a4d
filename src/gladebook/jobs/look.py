"""What is this file, and what would come in? Nothing is changed, and nothing is saved."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from math import isfinite
from pathlib import Path
from typing import Any, TypeVar

from gladebook.errors import CallError, InputError
from gladebook.io.contents import layers_in
from gladebook.io.door import file_kind, read_boundaries, read_track
from gladebook.jobs.application import TrackReading
from gladebook.notes import Note
from gladebook.passes.track import Track
from gladebook.plots.acreage import measure_plots
from gladebook.plots.sureness import PositionError
from gladebook.view.looks import FoundLayer, FoundPlots, FoundTrack, Look

__all__ = ["Reading", "look_at"]

_FIRST = 12
Found = TypeVar("Found", FoundPlots, FoundTrack)


@dataclass(frozen=True)
class Reading:
    """How the file is to be read, where it does not say so itself; see `gladebook.read_plots` and `read_track`.

    Attributes
    ----------
    crs, layer, name_field, repair : as boundaries.
    track : as a track; its limits hold for boundaries too.
    """

    crs: str | None = None
    layer: str | None = None
    name_field: str | None = None
    repair: bool = False
    track: TrackReading = field(default_factory=TrackReading)


def look_at(path: Path, *, reading: Reading | None = None) -> Look:
    """Say what a file is, which layers it has, and what would come in, as plots and as a track.

    Raises
    ------
    InputError
        Where there is no such file, or it may not be read.
    """
    reading = reading or Reading()
    limits = reading.track.limits
    kind = file_kind(path, limits=limits)
    plots, no_plots = _or_why(lambda: _as_plots(path, reading))
    track, no_track = _or_why(lambda: _as_track(path, reading.track))
    try:
        layers = layers_in(path, limits=limits)
    except InputError:
        layers = []  # the file is at fault, which the two answers say
    return Look(
        name=path.name or str(path),
        kind=kind,
        size_bytes=_size(path),
        layers=tuple(FoundLayer(layer.name, layer.kind, layer.count) for layer in layers),
        plots=plots,
        track=track,
        no_plots=no_plots,
        no_track=no_track,
    )


def _or_why(read: Callable[[], Found]) -> tuple[Found | None, str]:
    """What would come in, or why nothing would."""
    try:
        return read(), ""
    except (InputError, CallError) as error:
        return None, str(error)


def _as_plots(path: Path, reading: Reading) -> FoundPlots:
    read = read_boundaries(
        path,
        crs=reading.crs,
        layer=reading.layer,
        name_field=reading.name_field,
        repair=reading.repair,
        limits=reading.track.limits,
    )
    # With an error stated, nothing is said of the usual one: ranges are no matter of the file.
    measured = measure_plots(read.plots, error=PositionError())
    notes = [note for plot in read.plots for note in plot.notes]
    said = {str(note) for note in notes}
    name = path.name or str(path)
    notes += [Note("read", name, words) for words in measured.notices if words not in said]
    west, south, east, north = zip(*(plot.shape.bounds for plot in read.plots), strict=True)
    return FoundPlots(
        count=len(read.plots),
        names=tuple(plot.name for plot in read.plots[:_FIRST]),
        area_m2=measured.total_m2,
        crs=read.system,
        bounds_deg=(min(west), min(south), max(east), max(north)),
        notes=tuple(dict.fromkeys(notes)),
    )


def _as_track(path: Path, reading: TrackReading) -> FoundTrack:
    track = read_track(
        path,
        columns=reading.columns,
        time_format=reading.time_format,
        allow_estimated=reading.allow_estimated,
        layer=reading.layer,
        limits=reading.limits,
    )
    lon_deg, lat_deg = track.lon_deg, track.lat_deg
    known = [t for t in track.time_s.tolist() if isfinite(t)]
    return FoundTrack(
        points=len(track),
        pieces=len(set(track.segment.tolist())),
        start=_moment(min(known)) if known else None,
        end=_moment(max(known)) if known else None,
        clock=track.clock,
        records=_records(track),
        bounds_deg=(float(lon_deg.min()), float(lat_deg.min()), float(lon_deg.max()), float(lat_deg.max())),
        notes=tuple(dict.fromkeys(track.notes)),
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
