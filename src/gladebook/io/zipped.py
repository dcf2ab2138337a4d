"""The one map file or recording inside a zip, unpacked to a place of its own for a moment."""

import struct
import tempfile
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from gladebook.errors import UnreadableFile
from gladebook.io.limits import Limits, beyond

__all__ = ["BOUNDARIES", "TRACKS", "Unpacked", "unpacked"]

# Endings that are looked for; later ones only where there is none of the earlier ones.
BOUNDARIES = (
    (".shp", ".gpkg", ".gdb", ".kml", ".geojson", ".geojsonl", ".geojsons", ".gpx", ".fgb", ".parquet"),
    (".json", ".ndjson", ".jsonl", ".geoparquet"),
    (".csv", ".tsv"),
)
TRACKS = (
    (".gpx", ".kml", ".nmea", ".csv", ".tsv", ".geojson", ".geojsonl", ".geojsons"),
    (".json", ".ndjson", ".jsonl", ".log", ".txt"),
)
_SHAPEFILE = (".shp", ".shx", ".dbf", ".prj", ".cpg")
_FIRST_KML = "doc.kml"  # the one that is read first (OGC 12-007r2, 5.2, from memory)
_SMALL = 50_000_000
_CHUNK = 1_000_000
_END, _END_64 = b"PK\x05\x06", b"PK\x06\x06"
_LONG_ENTRY = 200  # bytes of an entry in the list of contents; 46 and the name, which is seldom longer


@dataclass(frozen=True)
class Unpacked:
    """A file out of a zip.

    Attributes
    ----------
    path : where it lies for the moment, under a plain name.
    layer : what is left of the layer that was asked for: one inside the file.
    notes : what was left out, as sentences without the zip's name.
    """

    path: Path
    layer: str | None
    notes: tuple[str, ...] = ()


@contextmanager
def unpacked(
    path: Path, *, endings: Sequence[Sequence[str]], layer: str | None, limits: Limits, what: str
) -> Iterator[Unpacked]:
    """Unpack the wanted file of a zip, with what belongs to it; it is gone afterwards.

    Files are written under plain names, so that no name in the zip can lead out of that place.

    Parameters
    ----------
    path
        The zip.
    endings
        Endings that are looked for, in groups; a group counts only where no earlier one is there.
    layer
        The file to take where there are several, by its name or its place in the zip; what follows it after a
        slash is a layer in it.
    limits
        How much it may hold.
    what
        What is looked for, such as "boundary file".

    Raises
    ------
    UnreadableFile
        Where the zip is broken, locked, too large, or does not hold exactly one such file.
    """
    _check_list(path, limits=limits)
    with tempfile.TemporaryDirectory() as place:
        try:
            with zipfile.ZipFile(path) as archive:
                found = _unpack(path, archive, place=Path(place), choice=_Choice(endings, layer, what), limits=limits)
        except UnreadableFile:
            raise
        except NotImplementedError:
            raise UnreadableFile(
                f"{path.name}: is packed in a way that cannot be read here. Unpack it and give the file itself."
            ) from None
        except (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError, RuntimeError, struct.error):
            raise UnreadableFile(f"{path.name}: is not a whole zip file, or is damaged. Copy it again.") from None
        yield found


@dataclass(frozen=True)
class _Choice:
    endings: Sequence[Sequence[str]]
    layer: str | None
    what: str


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


def _unpack(path: Path, archive: zipfile.ZipFile, *, place: Path, choice: _Choice, limits: Limits) -> Unpacked:
    entries = [e for e in archive.infolist() if not e.is_dir() and not _hidden(_slashed(e.filename))]
    if len(entries) > limits.zip_files:
        raise _too_many(path, limits=limits)
    members = _members([_slashed(e.filename) for e in entries], choice=choice)
    if not members:
        inner = next((e.filename for e in entries if e.filename.lower().endswith((".zip", ".kmz"))), None)
        zips = f", only another zip ({inner[:80]}). Unpack it first." if inner else ". Give the file that is one."
        raise UnreadableFile(f"{path.name}: holds no {choice.what}{zips}")
    member, layer, notes = _chosen(path, members, choice=choice)
    suffix = PurePosixPath(member).suffix.lower()
    wanted = {e: _plain_name(_slashed(e.filename), member=member, suffix=suffix) for e in entries}
    kept = {e: name for e, name in wanted.items() if name}
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


def _members(names: list[str], *, choice: _Choice) -> list[str]:
    """Files of the wanted kinds, and folders that are one, in the zip's order, each once."""
    found: dict[str, str] = {}
    for name in names:
        parts = PurePosixPath(name).parts
        folder = next((i for i, part in enumerate(parts[:-1]) if part.lower().endswith(".gdb")), None)
        member = name if folder is None else "/".join(parts[: folder + 1])
        found.setdefault(member, PurePosixPath(member).suffix.lower())
    for endings in choice.endings:
        members = [member for member, suffix in found.items() if suffix in endings]
        if members:
            return members
    return []


def _chosen(path: Path, members: list[str], *, choice: _Choice) -> tuple[str, str | None, tuple[str, ...]]:
    """The member to read, the layer to read in it, and what is said about the others."""
    if choice.layer is not None:
        named = [(m, rest) for m in members for rest in [_after_name(choice.layer, member=m)] if rest is not None]
        if len(named) == 1:
            return named[0][0], named[0][1] or None, ()
        if len(members) == 1:
            return members[0], choice.layer, ()
        raise UnreadableFile(
            f'{path.name}: "{choice.layer[:60]}" names {len(named) or "none"} of its {choice.what}s. '
            f"Choose with --layer from {_listed(members)}."
        )
    if len(members) > 1 and path.suffix.lower() == ".kmz":
        first = [m for m in members if m.lower() == _FIRST_KML] or [m for m in members if "/" not in m]
        if len(first) == 1:
            others = [m for m in members if m != first[0]]
            return first[0], None, (f"only {first[0]} was read; {_listed(others)} was left out.",)
    if len(members) > 1:
        raise UnreadableFile(
            f"{path.name}: holds {len(members)} {choice.what}s ({_listed(members)}). "
            "Choose one with --layer, or unpack it and give one of them."
        )
    return members[0], None, ()


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
