"""A look at a file: what it is and what would come in, in words and as a document."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from gladebook.notes import KINDS, Note, NoteKind
from gladebook.units import ACRE_M2
from gladebook.view.figures import acres

__all__ = ["FoundLayer", "FoundPlots", "FoundTrack", "Look", "look_document", "look_words"]

_KB, _MB = 1e3, 1e6
_MOST_LAYERS = 20
_MOST_NOTES = 12  # of a kind on a screen
_TITLES: dict[NoteKind, str] = {
    "skipped": "Left out:",
    "repaired": "Repaired:",
    "doubtful": "Doubtful:",
    "assumed": "Assumed:",
    "read": "Also:",
}


@dataclass(frozen=True)
class FoundLayer:
    """A layer of the file, or a file in a zip.

    Attributes
    ----------
    name : by which it is chosen.
    kind : "boundaries", "track", "lines" or "points".
    count : how many shapes, or points of a track.
    """

    name: str
    kind: str
    count: int


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
    notes : what the reader has to say.
    """

    count: int
    names: tuple[str, ...]
    area_m2: float
    crs: str
    bounds_deg: tuple[float, float, float, float]
    notes: tuple[Note, ...]


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
    notes : what the reader has to say.
    """

    points: int
    pieces: int
    start: datetime | None
    end: datetime | None
    clock: str
    records: tuple[str, ...]
    bounds_deg: tuple[float, float, float, float]
    notes: tuple[Note, ...]


@dataclass(frozen=True)
class Look:
    """What a file is.

    Attributes
    ----------
    name : the file's name.
    kind : what it is, in words.
    size_bytes : its size, a folder's files added up.
    layers : its layers; none where it has no such thing.
    plots, track : what would come in; None where nothing would.
    no_plots, no_track : why not, as a sentence; empty where something would.
    """

    name: str
    kind: str
    size_bytes: int
    layers: tuple[FoundLayer, ...]
    plots: FoundPlots | None
    track: FoundTrack | None
    no_plots: str
    no_track: str


def look_words(look: Look) -> list[str]:
    """What the file is, what would come in, and what is left out, repaired or doubtful."""
    words = [f"{look.name}: {look.kind}, {_size(look.size_bytes)}.", *_layers(look.layers)]
    if look.plots is not None:
        words += ["", *_plots(look.plots), *_report(look.plots.notes, name=look.name)]
    if look.track is not None:
        words += ["", *_track(look.track), *_report(look.track.notes, name=look.name)]
    if look.plots is None and look.track is None:
        words += ["", "Nothing would come in.", *_whys(look)]
    elif look.plots is None:
        words += ["", f"No plots: {_after_name(look.no_plots, look.name)}"]
    elif look.track is None:
        words += ["", f"No track: {_after_name(look.no_track, look.name)}"]
    return words


def _whys(look: Look) -> list[str]:
    """Why neither plots nor a track would come in; both say the same where the file itself is at fault."""
    no_plots, no_track = (_after_name(why, look.name) for why in (look.no_plots, look.no_track))
    return [f"- {no_plots}"] if no_plots == no_track else [f"- As plots: {no_plots}", f"- As a track: {no_track}"]


def _layers(layers: Sequence[FoundLayer]) -> list[str]:
    """Layers with what each would give, and how to choose one; one alone is no choice."""
    if len(layers) < 2:
        return []
    shown = [f"- {layer.name}: {_holds(layer)}" for layer in layers[:_MOST_LAYERS]]
    if len(layers) > _MOST_LAYERS:
        shown.append(f"- and {len(layers) - _MOST_LAYERS} more; --json lists all.")
    words = ["", f"It holds {len(layers)} layers:", *shown]
    for kind, lead, option in (
        ("boundaries", "To take plots from one of them alone", "--layer"),
        ("track", "To take one track alone", "--track-layer"),
    ):
        names = [layer.name for layer in layers if layer.kind == kind]
        if len(names) > 1:
            words.append(f'{lead}, say {option} "{names[0]}".')
    return words


def _holds(layer: FoundLayer) -> str:
    what = {"track": "point", "boundaries": "shape"}.get(layer.kind, layer.kind.removesuffix("s"))
    count = f"{layer.count:,} {what}{'s' if layer.count != 1 else ''}"
    return {"track": f"a track, {count}", "boundaries": f"boundaries, {count}"}.get(layer.kind, f"{count}, no plots")


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
    plain = "Records places only." if found.start is None else "Records places and times only."
    words.append(f"Records: {', '.join(found.records)}." if found.records else plain)
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


def _report(notes: Sequence[Note], *, name: str) -> list[str]:
    """What is to be said, sorted by its kind."""
    words: list[str] = []
    for kind in KINDS:
        said = [note for note in notes if note.kind == kind]
        shown = [f"- {_remark(note, name=name)}" for note in said[:_MOST_NOTES]]
        if len(said) > _MOST_NOTES:
            shown.append(f"- And {len(said) - _MOST_NOTES} more; --json lists all.")
        words += [_TITLES[kind], *shown] if shown else []
    return words


def _remark(note: Note, *, name: str) -> str:
    """One remark under its title: the file's name stands above it already."""
    about = note.about.removeprefix(name).removeprefix(": ")
    # A plot's name stays as it was written.
    return f"{about}: {note.words}" if about else note.words[:1].upper() + note.words[1:]


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
        "layers": [asdict(layer) for layer in look.layers],
        "plots": None
        if plots is None
        else {
            "count": plots.count,
            "names": list(plots.names),
            "acres": plots.area_m2 / ACRE_M2,
            "crs": plots.crs,
            "bounds": list(plots.bounds_deg),
            "report": _report_document(plots.notes),
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
            "report": _report_document(track.notes),
        },
        "no_plots": look.no_plots,
        "no_track": look.no_track,
    }


def _report_document(notes: Sequence[Note]) -> dict[str, Any]:
    """Sentences by their kind, "other" for how things were read, and the remarks in their parts."""
    by_kind = {
        "other" if kind == "read" else kind: [str(note) for note in notes if note.kind == kind] for kind in KINDS
    }
    return {**by_kind, "remarks": [{**asdict(note), "examples": list(note.examples)} for note in notes]}


def _stamp(moment: datetime, *, clock: str) -> str:
    return moment.isoformat().replace("+00:00", "Z" if clock == "utc" else "")
