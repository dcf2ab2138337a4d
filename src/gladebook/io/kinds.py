"""What a file is, told by its content; its name decides only where the content says nothing."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from gladebook.errors import PropertyError, UnreadableFile
from gladebook.io.gis.flatgeobuf import MAGIC as FLATGEOBUF
from gladebook.io.gis.geodatabase import FIRST_TABLE
from gladebook.io.gis.parquet import MAGIC as PARQUET
from gladebook.io.letters import head_text, text_of
from gladebook.io.limits import Limits, beyond
from gladebook.io.nmea.log import is_nmea
from gladebook.io.property.open import is_property
from gladebook.io.table.tracks import is_track_table

__all__ = ["kind_of", "name_of", "opened", "property_at", "read_bytes", "read_text", "words_for"]

_LOOK = 65_536
_TEXT_LOOK, _XML_LOOK = 4_096, 16_384
_XML_ASIDES = (("<?", "?>"), ("<!--", "-->"), ("<!DOCTYPE", ">"))
_ROOT = re.compile(r"<(?:[\w.-]+:)?([\w.-]+)")
_MAGIC = {
    b"SQLite format 3\x00": "gpkg",
    b"PK\x03\x04": "zip",
    b"PK\x05\x06": "zip",
    b"\x00\x00\x27\x0a": "shp",
    FLATGEOBUF: "fgb",
    b"%PDF-": "pdf",
    b"\x89PNG\r\n\x1a\n": "picture",
    b"\xff\xd8\xff": "picture",  # JPEG
}
_BINARY_NAMES = {".shp": "shp", ".zip": "zip", ".kmz": "zip", ".fgb": "fgb"}
_TEXT_NAMES = {".shp": "shp", ".zip": "zip", ".kml": "kml", ".gpx": "gpx", ".geojson": "geojson", ".json": "geojson"}
_WORDS = {
    "gpkg": "a GeoPackage",
    "shp": "a shapefile",
    "gdb": "a file geodatabase",
    "fgb": "FlatGeobuf",
    "parquet": "Parquet",
    "kml": "KML",
    "gpx": "GPX",
    "geojson": "GeoJSON",
    "nmea": "a receiver's log (NMEA 0183)",
    "zip": "a zip file",
    "pdf": "a PDF",
    "picture": "a picture",
    "text": "a text or a table",
    "xml": "XML or a web page, no map file",
    "unknown": "no kind of file that is known here",
}


def kind_of(path: Path, *, limits: Limits) -> str:
    """What a file is: one of the keys of the words above, or ``xml`` or ``unknown``.

    A ``.gpkg`` is told by its name, as a live one must not be opened here.

    Raises
    ------
    UnreadableFile
        Where there is no such file, it is a folder, empty or too large, or may not be read.
    """
    name = name_of(path)
    try:
        if path.is_dir():
            if (path / FIRST_TABLE).exists() or path.suffix.lower() == ".gdb":
                return "gdb"
            raise UnreadableFile(f"{name}: is a folder. Give the file inside it.")
        size = path.stat().st_size
        if size == 0:
            raise UnreadableFile(f"{name}: is empty. Copy or export it again.")
        if size > limits.file_bytes:
            raise beyond(
                name,
                f"is larger than {limits.file_bytes / 1e9:g} GB",
                limit="file_bytes",
                limits=limits,
                instead="Give the part that holds your plots",
            )
        if ".gpkg" in (path.suffix.lower(), path.resolve().suffix.lower()):
            return "gpkg"
        with path.open("rb") as file:
            head = file.read(_LOOK)
            file.seek(-min(4, size), 2)
            tail = file.read(4)
    except UnreadableFile:
        raise
    except OSError as error:
        raise UnreadableFile(f"{name}: {_why(error)}") from None
    except ValueError:
        raise UnreadableFile(f"{name}: is no name that a file can have. Check it.") from None
    return _kind_from(head, tail=tail, suffix=path.suffix.lower())


def property_at(path: Path) -> bool:
    """Whether there is a property file, by its own name or a link to it.

    One that cannot be asked counts as none here: readers then say what is wrong with it.
    """
    try:
        return is_property(path) or (path.is_symlink() and is_property(path.resolve()))
    except (PropertyError, OSError, ValueError):
        return False


def name_of(path: Path) -> str:
    """The file's name, for messages."""
    return path.name or str(path)


def read_bytes(path: Path) -> bytes:
    """All of a file.

    Raises
    ------
    UnreadableFile
        Where it cannot be read.
    """
    try:
        return path.read_bytes()
    except OSError as error:
        raise UnreadableFile(f"{path.name}: {_why(error)}") from None


@contextmanager
def opened(path: Path) -> Iterator[BinaryIO]:
    """A file open for a reader that goes through it in parts.

    Raises
    ------
    UnreadableFile
        Where it cannot be opened, or cannot be read to its end.
    """
    try:
        with path.open("rb") as file:
            yield file
    except OSError as error:
        raise UnreadableFile(f"{path.name}: {_why(error)}") from None


def read_text(path: Path, *, source: str) -> str:
    """All of a file as text in UTF-8 or UTF-16; `source` is its name for messages.

    Raises
    ------
    UnreadableFile
        Where it cannot be read, or is neither.
    """
    return text_of(read_bytes(path), source=source)


def words_for(kind: str) -> str:
    """What a kind is called."""
    return _WORDS[kind]


def _kind_from(head: bytes, *, tail: bytes, suffix: str) -> str:
    for magic, kind in _MAGIC.items():
        if head.startswith(magic):
            return kind
    if head.startswith(PARQUET) and (tail == PARQUET or b"\x00" in head):
        return "parquet"
    text = head_text(head[:_TEXT_LOOK])
    start = "" if text is None else text.lstrip()
    if start.startswith("<"):
        return _kind_of_xml(head_text(head[:_XML_LOOK]) or start, suffix=suffix)
    if start.startswith(("{", "[", "\x1e")):
        return "geojson"
    if is_nmea(head) and not is_track_table(head):
        return "nmea"
    names, otherwise = (_BINARY_NAMES, "unknown") if text is None else (_TEXT_NAMES, "text")
    return names.get(suffix, otherwise)


def _kind_of_xml(start: str, *, suffix: str) -> str:
    root = _ROOT.match(start, _after_asides(start))
    named = root[1].lower() if root is not None else suffix[1:]
    if named in ("kml", "gpx"):
        return named
    return {".gpx": "gpx", ".kml": "kml"}.get(suffix, "xml")


def _after_asides(text: str) -> int:
    """Where the root element begins, after comments and declarations; the end where it is not reached."""
    at = 0
    while at < len(text):
        at = len(text) - len(text[at:].lstrip())
        opening, closing = next(((o, c) for o, c in _XML_ASIDES if text.startswith(o, at)), ("", ""))
        if not opening:
            return at
        end = text.find(closing, at + len(opening))
        inside = text.find("[", at, end)
        if opening == "<!DOCTYPE" and 0 <= inside < end:
            end = text.find(">", text.find("]", inside))  # the declarations within end with brackets of their own
        at = len(text) if end < 0 else end + len(closing)
    return len(text)


def _why(error: OSError) -> str:
    if isinstance(error, FileNotFoundError):
        return "there is no such file. Check the name and the folder."
    if isinstance(error, PermissionError):
        return "may not be read by you. Change its permission, or copy it."
    return f"cannot be read ({error.strerror or type(error).__name__}). Copy it to this computer."
