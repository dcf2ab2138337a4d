"""The one door for files: told by content, read, checked, turned into plots or tracks."""

import re
from pathlib import Path

from gladebook.errors import CallError, TrackError, UnreadableFile
from gladebook.io import geojson, geopackage, gpx, kml, shapefile, table
from gladebook.io.rows import Rows, crs_from, plots_from
from gladebook.io.zipped import unpacked
from gladebook.passes.track import Track
from gladebook.plots.plot import Plot

__all__ = ["read_plots", "read_track"]

_BOUNDARY_FILES = "GeoJSON, GeoPackage, shapefile (zipped too), KML or GPX"
_TRACK_FILES = "GPX, CSV or GeoJSON"
_SNIFF = 4096
_XML_ASIDE = re.compile(r"<!--.*?-->|<\?.*?\?>|<!DOCTYPE[^>\[]*(?:\[.*?\])?[^>]*>", re.DOTALL)
_ROOT = re.compile(r"<(?:[\w.-]+:)?([\w.-]+)")
_MAGIC = {b"SQLite format 3\x00": "gpkg", b"PK\x03\x04": "zip", b"PK\x05\x06": "zip", b"\x00\x00\x27\x0a": "shp"}
_BY_NAME = {".shp": "shp", ".zip": "zip", ".geojson": "geojson", ".json": "geojson", ".kml": "kml", ".gpx": "gpx"}
_LARGEST = 2_000_000_000


def read_plots(
    path: str | Path,
    *,
    name_field: str | None = None,
    crs: str | None = None,
    layer: str | None = None,
    repair: bool = False,
) -> list[Plot]:
    """Read plots, or obstacles, from a boundary file: GeoJSON, GeoPackage, shapefile, KML or GPX.

    Parameters
    ----------
    path
        The file; its content decides what it is.
    name_field
        The field that holds the names; by default ``name`` in any case, else "Plot 1", "Plot 2".
    crs
        The coordinate system of a file that states none, such as ``EPSG:26916``.
    layer
        The layer to read, where a file has several.
    repair
        Mend crossed boundaries, and say how the acres changed.

    Raises
    ------
    InputError
        Where the file cannot be read, states no coordinate system, or holds bad boundaries.
    CallError
        Where `crs` is not known.
    """
    given = crs_from(crs, what="--crs") if crs is not None else None
    return plots_from(_rows(Path(path), layer=layer), name_field=name_field, crs=given, repair=repair)


def read_track(path: str | Path) -> Track:
    """Read the track of one recording: GPX, CSV or GeoJSON.

    Raises
    ------
    InputError
        Where the file cannot be read or holds no track.
    """
    path = Path(path)
    kind = _kind(path)
    if kind == "gpx":
        return gpx.read_track(path, data=_bytes(path))
    if kind == "geojson":
        return geojson.read_track(path, text=_text(path))
    if kind == "text":
        return table.read_track(path, text=_text(path))
    if kind in ("unknown", "xml"):
        raise UnreadableFile(f"{path.name}: is no kind of track that is known here. Give {_TRACK_FILES}.")
    raise TrackError(
        f"{path.name}: is {_kind_words(kind)}, which holds no track here. Give the track as {_TRACK_FILES}."
    )


def _rows(path: Path, *, layer: str | None) -> Rows:
    kind = _kind(path)
    if kind == "zip":
        with unpacked(path) as inside:
            return _rows_of(inside, kind=_kind(inside), source=path, layer=layer)
    return _rows_of(path, kind=kind, source=path, layer=layer)


def _rows_of(path: Path, *, kind: str, source: Path, layer: str | None) -> Rows:
    """Read a file of a known kind; messages name `source`, which is the zip where there is one."""
    if layer is not None and kind != "gpkg":
        raise CallError(f"--layer: {_name(source)} has no layers. Leave it out.")
    if kind == "gpkg":
        return geopackage.read_rows(path, source=_name(source), layer=layer)
    if kind == "shp":
        return shapefile.read_rows(path, source=_name(source))
    if kind == "geojson":
        return geojson.read_rows(source, text=_decoded(source, _bytes(path)))
    if kind in ("gpx", "kml"):
        reader = gpx.read_rows if kind == "gpx" else kml.read_rows
        return reader(source, data=_bytes(path))
    if kind == "text":
        raise UnreadableFile(f"{_name(source)}: is a text or a table, which holds no boundary. Give {_BOUNDARY_FILES}.")
    if kind == "xml":
        raise UnreadableFile(f"{_name(source)}: is XML or a web page, not a map file. Give {_BOUNDARY_FILES}.")
    raise UnreadableFile(f"{_name(source)}: is no kind of map file that is known here. Give {_BOUNDARY_FILES}.")


def _kind(path: Path) -> str:
    """What a file is, by its first bytes; ``.gpkg`` by its name, as a live one must not be opened here."""
    name = _name(path)
    try:
        if path.is_dir():
            raise UnreadableFile(f"{name}: is a folder. Give the file inside it.")
        size = path.stat().st_size
        if size == 0:
            raise UnreadableFile(f"{name}: is empty. Copy or export it again.")
        if size > _LARGEST:
            raise UnreadableFile(f"{name}: is larger than 2 GB. Give the part that holds your plots.")
        if path.suffix.lower() == ".gpkg":
            return "gpkg"
        with path.open("rb") as file:
            head = file.read(_SNIFF)
    except UnreadableFile:
        raise
    except OSError as error:
        raise UnreadableFile(f"{name}: {_why(error)}") from None
    except ValueError:
        raise UnreadableFile(f"{name}: is no name that a file can have. Check it.") from None
    return _kind_of(head, suffix=path.suffix.lower())


def _kind_of(head: bytes, *, suffix: str) -> str:
    """Told by the first bytes; where they say nothing, by the name."""
    for magic, kind in _MAGIC.items():
        if head.startswith(magic):
            return kind
    text = _decoded_head(head)
    if text is None:
        return {".shp": "shp", ".zip": "zip"}.get(suffix, "unknown")
    start = text.lstrip()
    if start.startswith("<"):
        root = _ROOT.search(_XML_ASIDE.sub("", start))
        named = root[1].lower() if root is not None else suffix[1:]
        return named if named in ("kml", "gpx") else "gpx" if suffix == ".gpx" else "kml" if suffix == ".kml" else "xml"
    if start.startswith(("{", "[")):
        return "geojson"
    return _BY_NAME.get(suffix, "text")


def _decoded_head(head: bytes) -> str | None:
    """The head as text; None where it is binary. UTF-16 is told by its mark."""
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return head[: len(head) // 2 * 2].decode("utf-16", errors="replace")
    if b"\x00" in head:
        return None
    return head.decode("utf-8-sig", errors="replace")


def _name(path: Path) -> str:
    return path.name or str(path)


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise UnreadableFile(f"{path.name}: {_why(error)}") from None


def _text(path: Path) -> str:
    return _decoded(path, _bytes(path))


def _decoded(path: Path, data: bytes) -> str:
    try:
        if data.startswith((b"\xff\xfe", b"\xfe\xff")):
            return data.decode("utf-16")
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise UnreadableFile(f"{path.name}: line {line} is not UTF-8 text. Save the file as UTF-8.") from None


def _why(error: OSError) -> str:
    if isinstance(error, FileNotFoundError):
        return "there is no such file. Check the name and the folder."
    if isinstance(error, PermissionError):
        return "may not be read by you. Change its permission, or copy it."
    return f"cannot be read ({error.strerror or type(error).__name__}). Copy it to this computer."


def _kind_words(kind: str) -> str:
    return {"gpkg": "a GeoPackage", "shp": "a shapefile", "kml": "KML", "zip": "a zip file"}.get(kind, kind)
