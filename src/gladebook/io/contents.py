"""What layers a file has, so that one of them can be chosen: nothing is checked, and nothing is kept."""

import re
from pathlib import Path

import shapely

from gladebook.errors import CallError, InputError
from gladebook.geometry.validity import flatten
from gladebook.io.door import read_track, rows_in
from gladebook.io.gis import geodatabase, geopackage
from gladebook.io.gpx import reader as gpx
from gladebook.io.kinds import kind_of, name_of, read_bytes
from gladebook.io.kml import places as kml
from gladebook.io.layers import LayerFound
from gladebook.io.limits import LIMITS, Limits
from gladebook.io.zipped import BOUNDARIES, TRACKS, Wanted, members_of, unpacked

__all__ = ["layers_in"]

_GPX_TRACK = re.compile(rb"<(?:[\w.-]+:)?trk[\s>]")
_MOST_FILES = 20  # of a zip are looked into


def layers_in(path: Path, *, limits: Limits = LIMITS) -> list[LayerFound]:
    """The layers of a GeoPackage or geodatabase, folders and tracks of a KML, tracks of a GPX, files of a zip.

    A file that is all one layer has none.

    Raises
    ------
    InputError
        Where the file cannot be read.
    """
    kind = kind_of(path, limits=limits)
    if kind == "zip":
        return _in_zip(path, limits=limits)
    return _in_file(path, kind=kind, source=path, limits=limits)


def _in_file(path: Path, *, kind: str, source: Path, limits: Limits) -> list[LayerFound]:
    if kind == "gpkg":
        return geopackage.layers_in(path, source=name_of(source), limits=limits)
    if kind == "gdb":
        return geodatabase.layers_in(path, source=name_of(source), limits=limits)
    if kind == "kml":
        return kml.layers_in(source, data=read_bytes(path))
    if kind == "gpx":
        data = read_bytes(path)
        # One track, as most have: a look at every point of it would take longer than all else.
        return [] if len(_GPX_TRACK.findall(data)) == 1 else gpx.layers_in(source, data=data)
    return []


def _in_zip(path: Path, *, limits: Limits) -> list[LayerFound]:
    """The files of a zip, or the layers of each where it has some."""
    places: dict[str, list[Wanted]] = {}
    for wanted in (BOUNDARIES, TRACKS):
        for member in members_of(path, wanted=wanted, limits=limits):
            places.setdefault(member, []).append(wanted)
    found: list[LayerFound] = []
    for member, kinds in list(places.items())[:_MOST_FILES]:
        try:
            with unpacked(path, wanted=kinds[0], layer=member, limits=limits) as file:
                inside = kind_of(file.path, limits=limits)
                layers = _in_file(file.path, kind=inside, source=path, limits=limits)
        except InputError:
            continue  # it is refused by itself when it is chosen
        if layers:
            alone = len(places) == 1
            found += [LayerFound(m.name if alone else f"{member}/{m.name}", m.kind, m.count) for m in layers]
        else:
            found += _whole(path, member, limits=limits)
    return found


def _whole(path: Path, member: str, *, limits: Limits) -> list[LayerFound]:
    """A file of a zip that has no layers, as boundaries or else as a track."""
    try:
        rows = rows_in(path, layer=member, limits=limits).rows
        areas = sum(bool(row.fault) or bool((shapely.get_dimensions(flatten(row.shape)) == 2).any()) for row in rows)
        if areas:
            return [LayerFound(member, "boundaries", areas)]
    except (InputError, CallError):
        pass
    try:
        return [LayerFound(member, "track", len(read_track(path, layer=member, limits=limits)))]
    except (InputError, CallError):
        return []
