"""The one door for files: told by content, read, checked, turned into plots or tracks."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from gladebook.errors import CallError, TrackError, UnreadableFile
from gladebook.io.gis import flatgeobuf, geodatabase, geopackage, parquet, shapefile
from gladebook.io.gpx import reader as gpx
from gladebook.io.json import places as geojson
from gladebook.io.json import tracks as geojsontrack
from gladebook.io.kinds import kind_of, name_of, opened, property_at, read_bytes, read_text, words_for
from gladebook.io.kml import places as kml
from gladebook.io.limits import LIMITS, Limits, beyond
from gladebook.io.nmea import reader as nmea
from gladebook.io.rows import Rows, crs_from, crs_name, plots_from
from gladebook.io.table import tracks as table
from gladebook.io.table import wkt
from gladebook.io.zipped import BOUNDARIES, TRACKS, unpacked
from gladebook.passes.doubts import track_doubts
from gladebook.passes.track import Track
from gladebook.plots.plot import Plot

__all__ = ["Boundaries", "file_kind", "read_boundaries", "read_plots", "read_track", "rows_in"]

_BOUNDARY_FILES = "GeoJSON, GeoPackage, shapefile (zipped too), KML or GPX"
_TRACK_FILES = "GPX, NMEA, KML, CSV or GeoJSON"


def read_plots(
    path: str | Path,
    *,
    name_field: str | None = None,
    crs: str | None = None,
    layer: str | None = None,
    repair: bool = False,
    limits: Limits = LIMITS,
) -> list[Plot]:
    """Read plots, or obstacles, from a boundary file.

    GeoJSON (also in lines), GeoPackage, shapefile, KML, KMZ, GPX, FlatGeobuf, GeoParquet, file geodatabase, or a table
    with a column of well-known text; zipped too.

    Parameters
    ----------
    path
        The file; its content decides what it is.
    name_field
        The field that holds the names; by default ``name`` in any case, else "Plot 1", "Plot 2".
    crs
        The coordinate system of a file that states none, such as ``EPSG:26916``.
    layer
        The layer or folder to read, where a file has several; of a zip, the file in it.
    repair
        Mend crossed boundaries, and say how the acres changed.
    limits
        How much a file may hold.

    Raises
    ------
    InputError
        Where the file cannot be read, states no coordinate system, or holds bad boundaries.
    CallError
        Where `crs` is not known, `layer` is given for a file that has none, or a reader is not installed.
    """
    read = read_boundaries(path, name_field=name_field, crs=crs, layer=layer, repair=repair, limits=limits)
    return list(read.plots)


@dataclass(frozen=True)
class Boundaries:
    """Plots, and the coordinate system that they were read in, by name and number."""

    plots: tuple[Plot, ...]
    system: str


def read_boundaries(
    path: str | Path,
    *,
    name_field: str | None = None,
    crs: str | None = None,
    layer: str | None = None,
    repair: bool = False,
    limits: Limits = LIMITS,
) -> Boundaries:
    """Read plots as `read_plots` does, and say in which system the file was read.

    Raises
    ------
    InputError, CallError
        As `read_plots`.
    """
    given = crs_from(crs, what="--crs") if crs is not None else None
    rows = rows_in(Path(path), layer=layer, limits=limits)
    plots = plots_from(rows, name_field=name_field, crs=given, repair=repair, limits=limits)
    # What the file states beats what the call says; without either there are no plots.
    used = rows.crs if rows.crs is not None else given
    return Boundaries(plots=tuple(plots), system="" if used is None else crs_name(used))


def read_track(
    path: str | Path,
    *,
    columns: Mapping[str, str] | None = None,
    time_format: str | None = None,
    allow_estimated: bool = False,
    layer: str | None = None,
    limits: Limits = LIMITS,
) -> Track:
    """Read the track of one recording: GPX, NMEA, KML, KMZ, GeoJSON or a table such as CSV; zipped too.

    Parameters
    ----------
    path
        The file; its content decides what it is.
    columns
        Where a table's columns are named otherwise, from what they hold to their heading, with a unit where it is
        another: ``{"width_m": "swath_in:in", "lat": "Y"}``.
    time_format
        How a table's times are written where they are neither ISO 8601 nor seconds, such as ``%m/%d/%Y %I:%M %p``.
    allow_estimated
        Take points of a receiver's log that it did not measure.
    layer
        The track to read, where a KML or GPX has several; of a zip, the file in it.
    limits
        How much a file may hold.

    Raises
    ------
    InputError
        Where the file cannot be read or holds no track.
    CallError
        Where `columns` or `time_format` cannot be understood, or is given for a file that is no table.
    """
    path = Path(path)
    asked = _Asked(columns, time_format, allow_estimated, layer, limits)
    kind = kind_of(path, limits=limits)
    if kind == "zip":
        with unpacked(path, wanted=TRACKS, layer=layer, limits=limits) as found:
            asked = replace(asked, layer=found.layer)
            track = _track_of(found.path, kind=kind_of(found.path, limits=limits), source=path, asked=asked)
        return _doubted(replace(track, notes=(*found.notes, *track.notes)))
    return _doubted(_track_of(path, kind=kind, source=path, asked=asked))


def _doubted(track: Track) -> Track:
    """The track with what is doubtful about it said."""
    doubts = track_doubts(track)
    return replace(track, notes=(*track.notes, *doubts)) if doubts else track


def file_kind(path: str | Path, *, limits: Limits = LIMITS) -> str:
    """What a file is by its content, in words such as "a GeoPackage".

    Raises
    ------
    InputError
        Where there is no such file, it is empty or too large, or may not be read.
    """
    kind = kind_of(Path(path), limits=limits)
    return "a property file (GeoPackage)" if kind == "gpkg" and property_at(Path(path)) else words_for(kind)


@dataclass(frozen=True)
class _Asked:
    columns: Mapping[str, str] | None
    time_format: str | None
    allow_estimated: bool
    layer: str | None
    limits: Limits


def _track_of(path: Path, *, kind: str, source: Path, asked: _Asked) -> Track:
    """Read the track of a file of a known kind; messages name `source`, which is the zip where there is one."""
    limits = asked.limits
    _refuse_options(source, kind=kind, asked=asked)
    if kind == "text":
        return table.read_track(
            source, data=read_bytes(path), columns=asked.columns, time_format=asked.time_format, limits=limits
        )
    if kind == "geojson":
        return geojsontrack.read_track(source, text=read_text(path, source=source.name), limits=limits)
    if kind == "gpx":
        with opened(path) as file:
            track = gpx.read_track(source, data=file, layer=asked.layer)
    elif kind == "kml":
        track = kml.read_track(source, data=read_bytes(path), layer=asked.layer)
    elif kind == "nmea":
        with opened(path) as file:
            track = nmea.read_track(source, data=file, allow_estimated=asked.allow_estimated)
    elif kind in ("unknown", "xml"):
        raise UnreadableFile(f"{source.name}: is no kind of track that is known here. Give {_TRACK_FILES}.")
    else:
        raise TrackError(
            f"{source.name}: is {words_for(kind)}, which holds no track here. Give the track as {_TRACK_FILES}."
        )
    if len(track) > limits.points:
        raise beyond(
            source.name,
            f"has {len(track):,} points, and at most {limits.points:,} are read",
            limit="points",
            limits=limits,
            instead="Give the part with your plots in it",
        )
    return track


def _refuse_options(source: Path, *, kind: str, asked: _Asked) -> None:
    """Refuse what was asked for and does not go with the kind of the file."""
    for option, value in (("--column", asked.columns), ("--time-format", asked.time_format)):
        if value is not None and kind in ("gpx", "nmea", "kml", "geojson"):
            raise CallError(f"{option}: {name_of(source)} is {words_for(kind)}, which is no table. Leave it out.")
    if kind not in ("gpx", "kml"):
        _refuse_layer(source, asked.layer, option=TRACKS.option)


def rows_in(path: Path, *, layer: str | None, limits: Limits) -> Rows:
    """Read the shapes of a boundary file as they are, before any of them is checked.

    Raises
    ------
    InputError, CallError
        As `read_plots`.
    """
    kind = kind_of(path, limits=limits)
    if kind != "zip":
        return _rows_of(path, kind=kind, source=path, layer=layer, limits=limits)
    with unpacked(path, wanted=BOUNDARIES, layer=layer, limits=limits) as found:
        inside = kind_of(found.path, limits=limits)
        rows = _rows_of(found.path, kind=inside, source=path, layer=found.layer, limits=limits)
    return replace(rows, notes=(*found.notes, *rows.notes))


def _rows_of(path: Path, *, kind: str, source: Path, layer: str | None, limits: Limits) -> Rows:
    """Read a file of a known kind; messages name `source`, which is the zip where there is one."""
    name = name_of(source)
    if kind == "gpkg":
        return geopackage.read_rows(path, source=name, layer=layer, limits=limits)
    if kind == "gdb":
        return geodatabase.read_rows(path, source=name, layer=layer, limits=limits)
    if kind == "kml":
        return kml.read_rows(source, data=read_bytes(path), layer=layer)
    _refuse_layer(source, layer, option=BOUNDARIES.option)
    return _rows_of_one_layer(path, kind=kind, source=source, limits=limits)


def _rows_of_one_layer(path: Path, *, kind: str, source: Path, limits: Limits) -> Rows:
    name = name_of(source)
    if kind == "geojson":
        with opened(path) as file:
            return geojson.read_rows(source, data=file, limits=limits)
    if kind == "gpx":
        return gpx.read_rows(source, data=read_bytes(path))
    if kind == "text":
        return wkt.read_rows(data=read_bytes(path), source=name, limits=limits)
    readers = {"shp": shapefile.read_rows, "fgb": flatgeobuf.read_rows, "parquet": parquet.read_rows}
    if kind in readers:
        return readers[kind](path, source=name, limits=limits)
    if kind == "nmea":
        raise UnreadableFile(f"{name}: is a receiver's log: a track, which is no boundary. Give {_BOUNDARY_FILES}.")
    if kind in ("pdf", "picture"):
        raise UnreadableFile(f"{name}: is {words_for(kind)}, which holds no boundary. Give {_BOUNDARY_FILES}.")
    if kind == "xml":
        raise UnreadableFile(f"{name}: is XML or a web page, not a map file. Give {_BOUNDARY_FILES}.")
    raise UnreadableFile(f"{name}: is no kind of map file that is known here. Give {_BOUNDARY_FILES}.")


def _refuse_layer(path: Path, layer: str | None, *, option: str) -> None:
    if layer is not None:
        raise CallError(f"{option}: {name_of(path)} has no layers. Leave it out.")
