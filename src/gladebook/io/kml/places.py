"""KML 2.2: placemarks with areas, from all folders, in the file's order; recordings are read by `tracks` beside this.

Read with the standard library's expat, so that a corner without a latitude is refused by name
instead of being read as something else. Coordinates are longitude, latitude and maybe a height,
on WGS 84 (OGC 07-147r2).
"""

from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from pyproj import CRS

from gladebook.errors import UnreadableFile
from gladebook.io.kml.tracks import positions_from, read_track, recordings_in
from gladebook.io.layers import LayerFound, chosen_place, named_once
from gladebook.io.rows import Row, Rows
from gladebook.io.xml import parse_xml
from gladebook.notes import Note, left_out

__all__ = ["layers_in", "read_rows", "read_track"]

_FOLDERS = ("Folder", "Document")
_SHAPES = ("Point", "LineString", "LinearRing", "Polygon")


@dataclass
class _Placemark:
    fields: dict[str, str] = field(default_factory=dict)
    shapes: list[Any] = field(default_factory=list)
    fault: str = ""
    open_rings: int = 0
    folder: int = 0


def read_rows(path: Path, *, data: bytes, layer: str | None = None) -> Rows:
    """Read placemarks with their names and extended data.

    Parameters
    ----------
    path
        The file, for its name.
    data
        Its bytes.
    layer
        The folder to read; all of them where None.

    Raises
    ------
    UnreadableFile
        Where the file is no readable KML, or holds no placemark, or no such folder.
    """
    reader = _Reader()
    parse_xml(path, data, handler=reader, root="kml")
    placemarks = reader.placemarks
    notes: list[Note] = []
    if not placemarks:
        raise UnreadableFile(f"{path.name}: holds no placemark. Draw at least one plot, or pick another file.")
    if layer is not None:
        folders = _folders(reader)
        place = chosen_place(list(folders), wanted=layer, source=path.name, what="folder")
        placemarks = list(folders.values())[place]
        if others := len(reader.placemarks) - len(placemarks):
            notes.append(left_out(path.name, "placemarks of folders that were not chosen", count=others))
    rows = tuple(
        Row(p.fields, None if p.fault or not p.shapes else shapely.GeometryCollection(p.shapes), fault=p.fault)
        for p in placemarks
    )
    if open_rings := sum(p.open_rings for p in placemarks):
        words = f"rings not closed, now closed to their first corner ({open_rings})."
        notes.append(Note("repaired", path.name, words, count=open_rings))
    return Rows(source=path.name, rows=rows, crs=CRS.from_user_input("OGC:CRS84"), notes=tuple(notes))


def layers_in(path: Path, *, data: bytes) -> list[LayerFound]:
    """Folders with areas in them, and recordings.

    Raises
    ------
    UnreadableFile
        Where the file is no readable KML.
    """
    reader = _Reader()
    parse_xml(path, data, handler=reader, root="kml")
    counts = {
        name: sum(bool(p.fault) or any(shapely.get_dimensions(shape) == 2 for shape in p.shapes) for p in placemarks)
        for name, placemarks in _folders(reader).items()
    }
    areas = [LayerFound(name, "boundaries", count) for name, count in counts.items() if count]
    return [*areas, *recordings_in(path, data=data)]


def _folders(reader: "_Reader") -> dict[str, list[_Placemark]]:
    """Placemarks by the folder in which they lie, not those in a folder within it."""
    found: dict[int, list[_Placemark]] = {}
    for placemark in reader.placemarks:
        found.setdefault(placemark.folder, []).append(placemark)
    names = named_once([reader.folders.get(number, "") for number in found], otherwise="folder")
    return dict(zip(names, found.values(), strict=True))


class _Reader:
    """What expat calls."""

    def __init__(self) -> None:
        self.placemarks: list[_Placemark] = []
        self.folders: dict[int, str] = {}
        self._inside = [0]
        self._entered = 0
        self._path: list[str] = []
        self._open: Counter[str] = Counter()
        self._shapes: list[str] = []
        self._text: list[str] = []
        self._data_name = ""
        self._rings: list[Any] = []

    def start(self, name: str, attributes: dict[str, str], _line: int) -> None:
        self._path.append(name)
        self._open[name] += 1
        self._text.clear()
        if name in _SHAPES:
            self._shapes.append(name)
        if name == "Placemark":
            self.placemarks.append(_Placemark(folder=self._inside[-1]))
        elif name in _FOLDERS:
            self._entered += 1
            self._inside.append(self._entered)
        elif name in ("Data", "SimpleData"):
            self._data_name = attributes.get("name", "")
        elif name == "Polygon":
            self._rings = []

    def text(self, data: str) -> None:
        self._text.append(data)

    def end(self, name: str) -> None:
        self._path.pop()
        self._open[name] -= 1
        if name in _SHAPES:
            self._shapes.pop()
        words = "".join(self._text).strip()
        self._text.clear()
        if name in _FOLDERS:
            self._inside.pop()
        if name == "name" and self._path and self._path[-1] in _FOLDERS:
            self.folders[self._inside[-1]] = words
        if not self._open["Placemark"]:
            return
        mark = self.placemarks[-1]
        if name == "name" and self._path[-1] == "Placemark":
            mark.fields["name"] = words
        elif name == "SimpleData" or (name == "value" and self._path[-1] == "Data"):
            mark.fields.setdefault(self._data_name, words)
        elif name == "coordinates" and not mark.fault:
            self._corners(mark, words)
        elif name == "Polygon" and not mark.fault:
            self._polygon(mark)

    def _corners(self, mark: _Placemark, words: str) -> None:
        xy, mark.fault = positions_from(words)
        if mark.fault or xy is None:
            return
        kind = self._shapes[-1] if self._shapes else ""
        if self._open["Polygon"]:
            if (xy[0] != xy[-1]).any():
                xy = np.vstack([xy, xy[:1]])
                mark.open_rings += 1
            if len(xy) < 4:
                mark.fault = "has fewer than three different corners. Draw the line round the plot."
            inner = self._open["innerBoundaryIs"] > 0
            self._rings.append((inner, xy))
        elif kind == "Point":
            mark.shapes.append(shapely.points(xy[0]))
        elif len(xy) > 1:
            mark.shapes.append(shapely.linestrings(xy))

    def _polygon(self, mark: _Placemark) -> None:
        outer = [xy for inner, xy in self._rings if not inner]
        if len(outer) != 1:
            mark.fault = "has an area without one outer line. Draw it again."
            return
        holes = [shapely.linearrings(xy) for inner, xy in self._rings if inner]
        mark.shapes.append(shapely.polygons(outer[0], holes=holes or None))
