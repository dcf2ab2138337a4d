"""The one map file or recording inside a zip, unpacked to a place of its own for a moment."""

import struct
import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from gladebook.errors import UnreadableFile
from gladebook.io.limits import Limits, beyond
from gladebook.notes import Note

__all__ = ["BOUNDARIES", "TRACKS", "Unpacked", "Wanted", "members_of", "unpacked"]

_SHAPEFILE = (".shp", ".shx", ".dbf", ".prj", ".cpg")
_FIRST_KML = "doc.kml"  # the one that is read first (OGC 12-007r2, 5.2, from memory)
_SMALL = 50_000_000
_CHUNK = 1_000_000
_END, _END_64 = b"PK\x05\x06", b"PK\x06\x06"
_LONG_ENTRY = 200  # bytes of an entry in the list of contents; 46 and the name, which is seldom longer


@dataclass(frozen=True)
class Wanted:
    """What is looked for in a zip.

    Attributes
    ----------
    what : in words, such as "boundary file".
    option : how one of several is chosen on the command line.
    endings : how its files end, in groups; a group counts only where none of an earlier one is there.
    """

    what: str
    option: str
    endings: tuple[tuple[str, ...], ...]


BOUNDARIES = Wanted(
    "boundary file",
    "--layer",
    (
        (".shp", ".gpkg", ".gdb", ".kml", ".geojson", ".geojsonl", ".geojsons", ".gpx", ".fgb", ".parquet"),
        (".json", ".ndjson", ".jsonl", ".geoparquet"),
        (".csv", ".tsv"),
    ),
)
TRACKS = Wanted(
    "track",
    "--track-layer",
    (
        (".gpx", ".kml", ".nmea", ".csv", ".tsv", ".geojson", ".geojsonl", ".geojsons"),
        (".json", ".ndjson", ".jsonl", ".log", ".txt"),
    ),
)


@dataclass(frozen=True)
class Unpacked:
    """A file out of a zip.

    Attributes
    ----------
    path : where it lies for the moment, under a plain name.
    layer : what is left of the layer that was asked for: one inside the file.
    notes : what was left out.
    """

    path: Path
    layer: str | None
    notes: tuple[Note, ...] = ()


def members_of(path: Path, *, wanted: Wanted, limits: Limits) -> list[str]:
    """Places in a zip of the files that are wanted, in its order; of a .kmz the one that is read first.

    Raises
    ------
    UnreadableFile
        Where the zip is broken or too large.
    """
    _check_list(path, limits=limits)
    with _readable(path), zipfile.ZipFile(path) as archive:
        members = _members([_slashed(e.filename) for e in _entries(path, archive, limits=limits)], wanted=wanted)
    first = _first_of_kmz(path, members)
    return [first] if first else members


@contextmanager
def unpacked(path: Path, *, wanted: Wanted, layer: str | None, limits: Limits) -> Iterator[Unpacked]:
    """Unpack the wanted file of a zip, with what belongs to it; it is gone afterwards.

    Files are written under plain names, so that no name in the zip can lead out of that place.

    Parameters
    ----------
    path
        The zip.
    wanted
        What is looked for.
    layer
        The file to take where there are several, by its name or its place in the zip; what follows it after a
        slash is a layer in it.
    limits
        How much it may hold.

    Raises
    ------
    UnreadableFile
        Where the zip is broken, locked, too large, or does not hold exactly one such file.
    """
    _check_list(path, limits=limits)
    with tempfile.TemporaryDirectory() as place:
        with _readable(path), zipfile.ZipFile(path) as archive:
            found = _unpack(path, archive, place=Path(place), wanted=wanted, layer=layer, limits=limits)
        yield found


@contextmanager
def _readable(path: Path) -> Iterator[None]:
    """What goes wrong while a zip is read, as one sentence."""
    try:
        yield
    except UnreadableFile:
        raise
    except NotImplementedError:
        raise UnreadableFile(
            f"{path.name}: is packed in a way that cannot be read here. Unpack it and give the file itself."
        ) from None
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError, RuntimeError, struct.error):
        raise UnreadableFile(f"{path.name}: is not a whole zip file, or is damaged. Copy it again.") from None


def _check_list(path: Path, *, limits: Limits) -> None:
    """Refuse a list of contents that would take minutes and gigabytes to read, as its closing record states it."""
    with path.open("rb") as file:
        file.seek(max(0, path.stat().st_size - 66_000))
        tail = file.read()
    at = len(tail) - 22 if tail[-22:-18] == _END and tail[-2:] == b"\0\0" else tail.rfind(_END)
    stated = struct.unpack_from("<I", tail, at + 12)[0] if 0 <= at <= len(tail) - 22 else 0
    long_at = tail.rfind(_END_64)
    if stated == 0xFFFFFFFF and 0 <= long_at <= len(tail) - 56:
        stated = struct.unpack_from("<Q", tail, long_at + 40)[0]
    if stated > _LONG_ENTRY * limits.zip_files and stated <= path.stat().st_size:
        raise _too_many(path, limits=limits)


def _too_many(path: Path, *, limits: Limits) -> UnreadableFile:
    return beyond(
        path.name,
        f"holds more than {limits.zip_files:,} files",
        limit="zip_files",
        limits=limits,
        instead="Unpack it and give the file itself",
    )


def _entries(path: Path, archive: zipfile.ZipFile, *, limits: Limits) -> list[zipfile.ZipInfo]:
    entries = [e for e in archive.infolist() if not e.is_dir() and not _hidden(_slashed(e.filename))]
    if len(entries) > limits.zip_files:
        raise _too_many(path, limits=limits)
    return entries


def _unpack(
    path: Path, archive: zipfile.ZipFile, *, place: Path, wanted: Wanted, layer: str | None, limits: Limits
) -> Unpacked:
    entries = _entries(path, archive, limits=limits)
    members = _members([_slashed(e.filename) for e in entries], wanted=wanted)
    if not members:
        inner = next((e.filename for e in entries if e.filename.lower().endswith((".zip", ".kmz"))), None)
        zips = f", only another zip ({inner[:80]}). Unpack it first." if inner else ". Pick another file."
        raise UnreadableFile(f"{path.name}: holds no {wanted.what}{zips}")
    member, layer, notes = _chosen(path, members, wanted=wanted, layer=layer)
    suffix = PurePosixPath(member).suffix.lower()
    names = {e: _plain_name(_slashed(e.filename), member=member, suffix=suffix) for e in entries}
    kept = {e: name for e, name in names.items() if name}
    if any(e.flag_bits & 1 for e in kept):
        raise UnreadableFile(f"{path.name}: is locked with a password. Unpack it and give the file itself.")
    _check_sizes(path, list(kept), limits=limits)
    for entry, name in kept.items():
        target = place / name
        target.parent.mkdir(exist_ok=True)
        with archive.open(entry) as source, target.open("wb") as file:
            while chunk := source.read(_CHUNK):
                file.write(chunk)
    return Unpacked(place / f"boundary{suffix}", layer, notes)


def _members(names: list[str], *, wanted: Wanted) -> list[str]:
    """Files of the wanted kinds, and folders that are one, in the zip's order, each once."""
    found: dict[str, str] = {}
    for name in names:
        parts = PurePosixPath(name).parts
        folder = next((i for i, part in enumerate(parts[:-1]) if part.lower().endswith(".gdb")), None)
        member = name if folder is None else "/".join(parts[: folder + 1])
        found.setdefault(member, PurePosixPath(member).suffix.lower())
    for endings in wanted.endings:
        members = [member for member, suffix in found.items() if suffix in endings]
        if members:
            return members
    return []


def _chosen(
    path: Path, members: list[str], *, wanted: Wanted, layer: str | None
) -> tuple[str, str | None, tuple[Note, ...]]:
    """The member to read, the layer to read in it, and what is said about the others."""
    first = _first_of_kmz(path, members)
    named = [] if layer is None else [(m, rest) for m in members if (rest := _after_name(layer, member=m)) is not None]
    if len(named) == 1:
        return named[0][0], named[0][1] or None, ()
    if first and not named:
        others = [m for m in members if m != first]
        words = f"only {first} was read; {_listed(others)} was left out."
        return first, layer, (Note("skipped", path.name, words, count=len(others), examples=tuple(others[:3])),)
    if layer is not None and len(members) > 1:
        raise UnreadableFile(
            f'{path.name}: "{layer[:60]}" names {len(named) or "none"} of its {wanted.what}s. '
            f"Choose with {wanted.option} from {_listed(members)}."
        )
    if len(members) > 1:
        raise UnreadableFile(
            f"{path.name}: holds {len(members)} {wanted.what}s ({_listed(members)}). "
            f"Choose one with {wanted.option}, or unpack it and give one of them."
        )
    return members[0], layer, ()


def _first_of_kmz(path: Path, members: list[str]) -> str:
    """Of the several files of a .kmz the one that is read first; empty where there is no such."""
    if len(members) < 2 or path.suffix.lower() != ".kmz":
        return ""
    first = [m for m in members if m.lower() == _FIRST_KML] or [m for m in members if "/" not in m]
    return first[0] if len(first) == 1 else ""


def _listed(names: list[str]) -> str:
    return ", ".join(name[:60] for name in names[:6]) + (f" and {len(names) - 6} more" if len(names) > 6 else "")


def _after_name(layer: str, *, member: str) -> str | None:
    """What follows a member's name in the layer that was asked for; None where it names another."""
    wanted, whole = layer.lower(), PurePosixPath(member.lower())
    for name in (str(whole), whole.name, whole.stem):
        if wanted == name:
            return ""
        if wanted.startswith(f"{name}/"):
            return layer[len(name) + 1 :]
    return None


def _plain_name(name: str, *, member: str, suffix: str) -> str:
    """The name to unpack an entry to; empty where it does not belong to the member."""
    if suffix == ".gdb":
        inside = PurePosixPath(name).name
        plain = inside.isascii() and inside.replace(".", "").replace("_", "").isalnum()
        return f"boundary.gdb/{inside}" if plain and name.startswith(f"{member}/") else ""
    if name == member:
        return f"boundary{suffix}"
    own = PurePosixPath(name).suffix.lower()
    beside = name[: -len(own) or None].lower() == member[: -len(suffix)].lower()
    return f"boundary{own}" if suffix == ".shp" and own in _SHAPEFILE[1:] and beside else ""


def _check_sizes(path: Path, entries: list[zipfile.ZipInfo], *, limits: Limits) -> None:
    whole, packed = sum(e.file_size for e in entries), sum(e.compress_size for e in entries)
    if whole > limits.unzip_bytes:
        raise beyond(
            path.name,
            f"would unpack to more than {limits.unzip_bytes / 1e9:g} GB",
            limit="unzip_bytes",
            limits=limits,
            instead="Unpack it and give the file itself",
        )
    if whole > _SMALL and whole > limits.unzip_ratio * max(packed, 1):
        times = f"{whole / max(packed, 1):,.0f} times its size"
        raise beyond(
            path.name,
            f"would unpack to {times}, and at most {limits.unzip_ratio} times is read",
            limit="unzip_ratio",
            limits=limits,
            instead="Unpack it and give the file itself",
        )


def _slashed(name: str) -> str:
    """The name with the separators that the standard asks for, and some programs do not write."""
    return name.replace("\\", "/")


def _hidden(name: str) -> bool:
    """Left behind by an operating system, not put there by a person."""
    return name.startswith("__MACOSX") or PurePosixPath(name).name.startswith(".")
