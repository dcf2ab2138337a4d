"""The one boundary file inside a zip, unpacked to a place of its own for a moment."""

import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath

from gladebook.errors import UnreadableFile

__all__ = ["unpacked"]

_READABLE = (".shp", ".gpkg", ".kml", ".geojson", ".gpx")
_LARGEST_UNPACKED = 1_000_000_000


@contextmanager
def unpacked(path: Path) -> Iterator[Path]:
    """Unpack the boundary file of a zip, with what belongs to it; it is gone afterwards.

    Files are written under plain names, so that no name in the zip can lead out of that place.

    Raises
    ------
    UnreadableFile
        Where the zip is broken, locked, too large, or does not hold exactly one boundary file.
    """
    with tempfile.TemporaryDirectory() as place:
        try:
            with zipfile.ZipFile(path) as archive:
                found = _unpack(path, archive, place=Path(place))
        except UnreadableFile:
            raise
        except (zipfile.BadZipFile, zlib.error, NotImplementedError, EOFError, OSError, ValueError, RuntimeError):
            raise UnreadableFile(f"{path.name}: is not a whole zip file, or is damaged. Copy it again.") from None
        yield found


def _unpack(path: Path, archive: zipfile.ZipFile, *, place: Path) -> Path:
    entries = [e for e in archive.infolist() if not e.is_dir()]
    if any(e.flag_bits & 1 for e in entries):
        raise UnreadableFile(f"{path.name}: is locked with a password. Unpack it and give the file itself.")
    names = [e.filename for e in entries]
    readable = [n for n in names if n.lower().endswith(_READABLE) and not _hidden(n)]
    readable = readable or [n for n in names if n.lower().endswith(".json") and not _hidden(n)]
    if not readable:
        raise UnreadableFile(f"{path.name}: holds no boundary file. Zip up a shapefile, GeoPackage, KML or GeoJSON.")
    if len(readable) > 1:
        shown = ", ".join(readable[:6])
        raise UnreadableFile(
            f"{path.name}: holds {len(readable)} boundary files ({shown}). Unpack it and give one of them."
        )
    chosen = readable[0]
    stem, suffix = chosen[: -len(PurePosixPath(chosen).suffix)], PurePosixPath(chosen).suffix.lower()
    wanted = [e for e in entries if e.filename == chosen or (suffix == ".shp" and _belongs(e.filename, stem=stem))]
    if sum(e.file_size for e in wanted) > _LARGEST_UNPACKED:
        raise UnreadableFile(f"{path.name}: would unpack to more than 1 GB. Unpack it and give the file itself.")
    for entry in wanted:
        (place / f"boundary{PurePosixPath(entry.filename).suffix.lower()}").write_bytes(archive.read(entry))
    return place / f"boundary{suffix}"


def _hidden(name: str) -> bool:
    """Left behind by an operating system, not put there by a person."""
    return name.startswith("__MACOSX") or PurePosixPath(name).name.startswith(".")


def _belongs(name: str, *, stem: str) -> bool:
    return name[: -len(PurePosixPath(name).suffix) or None].lower() == stem.lower()
