"""GPX as a stream of elements: its courses, their names, points and the points' own values."""

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from gladebook.io.blocks import Data
from gladebook.io.xml import parse_xml

__all__ = ["KEPT", "Course", "Point", "read_courses", "tell_points"]

KEPT = ("time", "speed", "hdop")
_COURSES = ("trk", "rte")
_POINTS = ("trkpt", "rtept")


@dataclass(slots=True)
class Point:
    """One ``trkpt`` or ``rtept`` as the file has it.

    Attributes
    ----------
    lat, lon : the attributes' text; empty where missing.
    line : where it stands in the file, counted from 1.
    values : text of the elements named in `KEPT`, wherever they sit in the point; the first of a name counts.
    """

    lat: str
    lon: str
    line: int
    values: dict[str, str] = field(default_factory=dict)


@dataclass(slots=True)
class Course:
    """One ``trk`` or ``rte``: its name and its segments."""

    kind: str
    name: str = ""
    segments: list[list[Point]] = field(default_factory=list)


def read_courses(path: Path, data: Data) -> list[Course]:
    """Read all tracks and routes in the file's order.

    Raises
    ------
    UnreadableFile
        Where the file is no readable GPX.
    """
    reader = _Reader()
    parse_xml(path, data, handler=reader, root="gpx")
    return reader.courses


def tell_points(path: Path, data: Data, *, point: Callable[[Point, int], None], route: Callable[[], None]) -> None:
    """Tell of all points of tracks one by one, each with the number of its segment, and of each route that begins.

    What is told is what `read_courses` would hold; nothing is kept.

    Raises
    ------
    UnreadableFile
        Where the file is no readable GPX; what stands before that was told.
    """
    parse_xml(path, data, handler=_Teller(point=point, route=route), root="gpx")


class _Reader:
    """What expat calls."""

    def __init__(self) -> None:
        self.courses: list[Course] = []
        self._path: list[str] = []
        self._point: Point | None = None
        self._text: list[str] = []

    def start(self, name: str, attributes: dict[str, str], line: int) -> None:
        self._path.append(name)
        self._text.clear()
        if name in _COURSES and len(self._path) == 2:
            self.courses.append(Course(kind=name, segments=[[]] if name == "rte" else []))
        elif name == "trkseg" and self.courses:
            self.courses[-1].segments.append([])
        elif name in _POINTS and self.courses and self.courses[-1].segments:
            self._point = Point(attributes.get("lat", ""), attributes.get("lon", ""), line)
            self.courses[-1].segments[-1].append(self._point)

    def text(self, data: str) -> None:
        self._text.append(data)

    def end(self, name: str) -> None:
        self._path.pop()
        if name in _POINTS:
            self._point = None
        elif self._point is not None:
            # Speed and the like sit in extensions of many makers; the element's own name decides.
            if name in KEPT:
                self._point.values.setdefault(name, "".join(self._text).strip())
        elif name == "name" and len(self._path) == 2 and self._path[1] in _COURSES and self.courses:
            self.courses[-1].name = "".join(self._text).strip()
        self._text.clear()


class _Teller(_Reader):
    """What expat calls where points are told as they end."""

    def __init__(self, *, point: Callable[[Point, int], None], route: Callable[[], None]) -> None:
        super().__init__()
        self._tell_point = point
        self._tell_route = route
        self._segment = -1

    def start(self, name: str, attributes: dict[str, str], line: int) -> None:
        if name in _POINTS:
            self._tell()  # a point in a point; the outer one gets nothing more
        count = len(self.courses)
        super().start(name, attributes, line)
        if len(self.courses) > count and self.courses[-1].kind == "rte":
            self._tell_route()
        elif name == "trkseg" and self.courses and self.courses[-1].kind == "trk":
            self._segment += 1
        elif name in _POINTS and self._point is not None:
            self.courses[-1].segments[-1].clear()

    def end(self, name: str) -> None:
        if name in _POINTS:
            self._tell()
        super().end(name)

    def _tell(self) -> None:
        if self._point is not None and self.courses[-1].kind == "trk":
            self._tell_point(self._point, self._segment)
        self._point = None
