"""A look at a file: what it is and what would come in, in words and as a document."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from gladebook.units import ACRE_M2
from gladebook.view.figures import acres

__all__ = ["FoundPlots", "FoundTrack", "Look", "Report", "look_document", "look_words"]

_KB, _MB = 1e3, 1e6


@dataclass(frozen=True)
class Report:
    """What a reader has to say, as sentences.

    Attributes
    ----------
    skipped : what was left out, by reason, counted.
    repaired : what was mended, and how.
    doubtful : what may be wrong, though it can be read.
    other : what else the reader should know.
    """

    skipped: tuple[str, ...] = ()
    repaired: tuple[str, ...] = ()
    doubtful: tuple[str, ...] = ()
    other: tuple[str, ...] = ()


@dataclass(frozen=True)
class FoundPlots:
    """The plots that would come in.

    Attributes
    ----------
    count : how many.
    names : the first twelve names.
    area_m2 : all together, shared ground counted once.
    crs : the coordinate system that the file was read in, in words.
    bounds_deg : west, south, east, north.
    report : what the reader has to say.
    """

    count: int
    names: tuple[str, ...]
    area_m2: float
    crs: str
    bounds_deg: tuple[float, float, float, float]
    report: Report


@dataclass(frozen=True)
class FoundTrack:
    """The track that would come in.

    Attributes
    ----------
    points, pieces : how many.
    start, end : first and last time, None without times; without a zone on the file's own clock.
    clock : "utc", "no zone" or "none".
    records : what it records beside places and times, in words.
    bounds_deg : west, south, east, north.
    report : what the reader has to say.
    """

    points: int
    pieces: int
    start: datetime | None
    end: datetime | None
    clock: str
    records: tuple[str, ...]
    bounds_deg: tuple[float, float, float, float]
    report: Report


@dataclass(frozen=True)
class Look:
    """What a file is.

    Attributes
    ----------
    name : the file's name.
    kind : what it is, in words.
    size_bytes : its size, a folder's files added up.
    plots, track : what would come in; None where nothing would.
    no_plots, no_track : why not, as a sentence; empty where something would.
    """

    name: str
    kind: str
    size_bytes: int
    plots: FoundPlots | None
    track: FoundTrack | None
    no_plots: str
    no_track: str


def look_words(look: Look) -> list[str]:
    """What the file is, what would come in, and what is left out, repaired or doubtful."""
    words = [f"{look.name}: {look.kind}, {_size(look.size_bytes)}."]
    if look.plots is not None:
        words += ["", *_plots(look.plots), *_report(look.plots.report)]
    if look.track is not None:
        words += ["", *_track(look.track), *_report(look.track.report)]
    if look.plots is None and look.track is None:
        # Both say the same where the file itself is at fault.
        words += ["", "Nothing would come in.", *dict.fromkeys([look.no_plots, look.no_track])]
    elif look.plots is None:
        words += ["", f"No plots: {_after_name(look.no_plots, look.name)}"]
    elif look.track is None:
        words += ["", f"No track: {_after_name(look.no_track, look.name)}"]
    return words


def _after_name(sentence: str, name: str) -> str:
    """A refusal without the file's name, which stands above it already."""
    return sentence.removeprefix(f"{name}: ")


def _plots(found: FoundPlots) -> list[str]:
    more = f" and {found.count - len(found.names)} more" if found.count > len(found.names) else ""
    return [
        f"As plots: {found.count} plot{'s' if found.count != 1 else ''}, {acres(found.area_m2)} ac.",
        f"Names: {', '.join(found.names)}{more}.",
        f"Coordinates: {found.crs}; {_place(found.bounds_deg)}.",
    ]


def _track(found: FoundTrack) -> list[str]:
    pieces = f" in {found.pieces} pieces" if found.pieces > 1 else ""
    words = [f"As a track: {found.points:,} points{pieces}; {_place(found.bounds_deg)}."]
    words.append(_times(found.start, found.end, clock=found.clock))
    words.append(f"Records: {', '.join(found.records)}." if found.records else "Records places and times only.")
    return words


def _times(start: datetime | None, end: datetime | None, *, clock: str) -> str:
    if start is None or end is None:
        return "No times."
    zone = "UTC" if clock == "utc" else "on the file's own clock, no zone stated"
    last = f"{end:%H:%M:%S}" if start.date() == end.date() else f"{end:%Y-%m-%d %H:%M:%S}"
    return f"From {start:%Y-%m-%d %H:%M:%S} to {last}, {zone}."


def _place(bounds_deg: tuple[float, float, float, float]) -> str:
    west, south, east, north = bounds_deg
    return f"latitude {south:.5f} to {north:.5f}, longitude {west:.5f} to {east:.5f}"


def _report(report: Report) -> list[str]:
    return [
        *_listed("Left out:", report.skipped),
        *_listed("Repaired:", report.repaired),
        *_listed("Doubtful:", report.doubtful),
        *_listed("Also:", report.other),
    ]


def _listed(title: str, sentences: Sequence[str]) -> list[str]:
    return [title, *(f"- {s}" for s in sentences)] if sentences else []


def _size(size_bytes: int) -> str:
    if size_bytes < _KB:
        return f"{size_bytes} bytes"
    return f"{size_bytes / _KB:.0f} kB" if size_bytes < _MB else f"{size_bytes / _MB:.1f} MB"


def look_document(look: Look) -> dict[str, Any]:
    """What ``gladebook look --json`` prints."""
    plots, track = look.plots, look.track
    return {
        "file": look.name,
        "kind": look.kind,
        "size_bytes": look.size_bytes,
        "plots": None
        if plots is None
        else {
            "count": plots.count,
            "names": list(plots.names),
            "acres": plots.area_m2 / ACRE_M2,
            "crs": plots.crs,
            "bounds": list(plots.bounds_deg),
            "report": asdict(plots.report),
        },
        "track": None
        if track is None
        else {
            "points": track.points,
            "pieces": track.pieces,
            "start": None if track.start is None else _stamp(track.start, clock=track.clock),
            "end": None if track.end is None else _stamp(track.end, clock=track.clock),
            "clock": track.clock,
            "records": list(track.records),
            "bounds": list(track.bounds_deg),
            "report": asdict(track.report),
        },
        "no_plots": look.no_plots,
        "no_track": look.no_track,
    }


def _stamp(moment: datetime, *, clock: str) -> str:
    return moment.isoformat().replace("+00:00", "Z" if clock == "utc" else "")
