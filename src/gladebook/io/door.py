"""The one door for files: told by content, read, checked, turned into plots or tracks."""

from pathlib import Path

from gladebook.errors import CallError, TrackError, UnreadableFile
from gladebook.io import geojson, gpx, table, vector
from gladebook.io.rows import Rows, crs_from, plots_from
from gladebook.passes.track import Track
from gladebook.plots.plot import Plot

__all__ = ["read_plots", "read_track"]

_BOUNDARY_FILES = "GeoJSON, GeoPackage, shapefile (zipped too), KML or GPX"
_TRACK_FILES = "GPX, CSV or GeoJSON"
_SNIFF = 4096
_MAGIC = {b"SQLite format 3\x00": "gpkg", b"PK": "zip", b"\x00\x00\x27\x0a": "shp"}
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
    if kind == "unknown":
        raise UnreadableFile(f"{path.name}: is no kind of track that is known here. Give {_TRACK_FILES}.")
    raise TrackError(
        f"{path.name}: is {_kind_words(kind)}, which holds no track here. Give the track as {_TRACK_FILES}."
    )


def _rows(path: Path, *, layer: str | None) -> Rows:
    kind = _kind(path)
    if layer is not None and kind in ("gpx", "geojson"):
        raise CallError(f"--layer: {path.name} has no layers. Leave it out.")
    if kind == "gpx":
        return gpx.read_rows(path, data=_bytes(path))
    if kind == "geojson":
        return geojson.read_rows(path, text=_text(path))
    if kind in ("gpkg", "shp", "kml"):
        return vector.read_rows(path, layer=layer)
    if kind == "zip":
        names = vector.inside_zip(path)
        if not names:
            raise UnreadableFile(
                f"{path.name}: holds no boundary file. Zip up a shapefile, GeoPackage, KML or GeoJSON."
            )
        if len(names) > 1:
            raise UnreadableFile(
                f"{path.name}: holds {len(names)} boundary files ({', '.join(names[:6])}). "
                "Unpack it and give one of them."
            )
        return _zipped(path, names[0], layer=layer)
    if kind == "text":
        raise UnreadableFile(f"{path.name}: is a text or a table, which holds no boundary. Give {_BOUNDARY_FILES}.")
    raise UnreadableFile(f"{path.name}: is no kind of map file that is known here. Give {_BOUNDARY_FILES}.")


def _zipped(path: Path, name: str, *, layer: str | None) -> Rows:
    if name.lower().endswith((".geojson", ".json")):
        import zipfile

        with zipfile.ZipFile(path) as archive:
            return geojson.read_rows(path, text=_decoded(path, archive.read(name)))
    return vector.read_rows(path, inside=name, layer=layer)


def _kind(path: Path) -> str:
    """What a file is, by its first bytes; ``.gpkg`` by its name, as a live one must not be opened here."""
    try:
        if path.is_dir():
            raise UnreadableFile(f"{path.name}: is a folder. Give the file inside it.")
        size = path.stat().st_size
        if size == 0:
            raise UnreadableFile(f"{path.name}: is empty. Copy or export it again.")
        if size > _LARGEST:
            raise UnreadableFile(f"{path.name}: is larger than 2 GB. Give the part that holds your plots.")
        if path.suffix.lower() == ".gpkg":
            return "gpkg"
        with path.open("rb") as file:
            head = file.read(_SNIFF)
    except OSError as error:
        raise UnreadableFile(f"{path.name}: {_why(error)}") from None
    return _kind_of(head, path=path)


def _kind_of(head: bytes, *, path: Path) -> str:
    """Told by the first bytes; where they say nothing, by the name."""
    for magic, kind in _MAGIC.items():
        if head.startswith(magic):
            return kind
    suffix = path.suffix.lower()
    text = _decoded_head(head)
    if text is None:
        return {".shp": "shp", ".zip": "zip"}.get(suffix, "unknown")
    start = text.lstrip().lower()
    if start.startswith("<"):
        return "kml" if "<kml" in start or suffix == ".kml" else "gpx"
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
