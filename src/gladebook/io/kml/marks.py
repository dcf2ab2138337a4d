"""KML as a stream of elements: its placemarks, and the recordings in them."""

from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from gladebook.io.xml import parse_xml

__all__ = ["SPEEDS", "Mark", "Marks", "Piece", "read_marks"]

SPEEDS = ("speed", "speed_mps")
_VALUES = (*SPEEDS, "hdop")


@dataclass
class Mark:
    """What a ``Placemark`` holds, besides tracks."""

    line: int
    place: int
    name: str = ""
    when: str = ""
    points: list[str] = field(default_factory=list)
    lines: list[str] = field(default_factory=list)
    values: dict[str, str] = field(default_factory=dict)


@dataclass
class Piece:
    """A ``Track`` as it is written: texts of its times, places and values, the line where it begins, its placemark."""

    line: int
    mark: Mark | None = None
    when: list[str] = field(default_factory=list)
    coord: list[str] = field(default_factory=list)
    values: dict[str, list[str]] = field(default_factory=dict)


@dataclass
class Marks:
    """What a KML holds.

    Attributes
    ----------
    marks : its placemarks.
    pieces : its ``Track`` elements.
    folders : names of folders and documents by their number.
    areas, links : how many.
    interpolated : whether it asks for places to be made up between its tracks.
    """

    marks: list[Mark] = field(default_factory=list)
    pieces: list[Piece] = field(default_factory=list)
    folders: dict[int, str] = field(default_factory=dict)
    areas: int = 0
    links: int = 0
    interpolated: bool = False


def read_marks(path: Path, data: bytes) -> Marks:
    """Read all placemarks and recordings in the file's order.

    Raises
    ------
    UnreadableFile
        Where the file is no readable KML.
    """
    reader = _Reader()
    parse_xml(path, data, handler=reader, root="kml")
    return reader.found


class _Reader:
    """What expat calls."""

    def __init__(self) -> None:
        self.found = Marks()
        self._path: list[str] = []
        self._open: Counter[str] = Counter()
        self._text: list[str] = []
        self._data_name = ""
        self._places = [0]
        self._place = 0

    def start(self, name: str, attributes: dict[str, str], line: int) -> None:
        self._path.append(name)
        self._open[name] += 1
        self._text.clear()
        if name in ("Folder", "Document"):
            self._place += 1
            self._places.append(self._place)
        elif name == "Placemark":
            self.found.marks.append(Mark(line, self._places[-1]))
        elif name == "Track":
            self.found.pieces.append(Piece(line, self.found.marks[-1] if self._open["Placemark"] else None))
        elif name in ("SimpleArrayData", "Data", "SimpleData"):
            self._data_name = attributes.get("name", "").strip().casefold()

    def text(self, data: str) -> None:
        self._text.append(data)

    def end(self, name: str) -> None:
        self._path.pop()
        self._open[name] -= 1
        words = "".join(self._text).strip()
        self._text.clear()
        if name in ("Folder", "Document"):
            self._places.pop()
        elif name == "NetworkLink":
            self.found.links += 1
        elif name == "interpolate":
            self.found.interpolated |= words in ("1", "true")
        elif name == "name" and self._path and self._path[-1] in ("Folder", "Document"):
            self.found.folders[self._places[-1]] = words
        elif name == "name" and self._path and self._path[-1] == "Placemark":
            self.found.marks[-1].name = words
        elif self._open["Track"]:
            self._in_track(name, words)
        elif self._open["Placemark"]:
            self._in_placemark(name, words)

    def _in_track(self, name: str, words: str) -> None:
        piece = self.found.pieces[-1]
        if name == "when" and self._path[-1] == "Track":
            piece.when.append(words)
        elif name == "coord" and self._path[-1] == "Track":
            piece.coord.append(words)
        elif name == "value" and self._path[-1] == "SimpleArrayData" and self._data_name in _VALUES:
            piece.values.setdefault(self._data_name, []).append(words)

    def _in_placemark(self, name: str, words: str) -> None:
        mark, parent = self.found.marks[-1], self._path[-1]
        if name in ("Polygon", "LinearRing"):
            self.found.areas += name == "Polygon" or not self._open["Polygon"]
        elif name == "coordinates" and not self._open["Polygon"]:
            if parent == "Point":
                mark.points.append(words)
            elif parent == "LineString":
                mark.lines.append(words)
        elif name == "when" and parent == "TimeStamp":
            mark.when = words
        elif ((name == "value" and parent == "Data") or name == "SimpleData") and self._data_name in _VALUES:
            mark.values.setdefault(self._data_name, words)
