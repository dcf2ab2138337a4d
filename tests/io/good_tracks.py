"""Good track files with quirks: how each is made, and the points that it must give."""

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from tests.io import corpus as c

PATH = [(-83.4410, 31.2040), (-83.4410, 31.2041), (-83.4410, 31.2042)]
FIRST_S = 1777903200.0  # 2026-05-04T14:00:00Z: 20,577 days and 14 h of 86,400 and 3,600 s after 1970 (computed)
SECONDS = [FIRST_S, FIRST_S + 1, FIRST_S + 2]
ISO = [f"2026-05-04T14:00:0{i}Z" for i in range(3)]


@dataclass(frozen=True)
class GoodTrack:
    """A track file and what it must give; None is not asked, nan is a figure that is not known."""

    name: str
    build: c.Build
    path: Sequence[tuple[float, float]] = tuple(PATH)
    times: Sequence[float] | None = tuple(SECONDS)
    clock: str = "utc"
    pieces: Sequence[int] | None = None
    boom: Sequence[int] | None = None
    width: Sequence[float] | None = None
    speed: Sequence[float] | None = None
    hdop: Sequence[float] | None = None
    sections: Sequence[Sequence[int]] | None = None
    void: int = 0
    says: str | None = None
    rounded: bool = False
    options: dict[str, Any] = field(default_factory=dict)


def _seg(inside: Callable[[int], str], path: Sequence[tuple[float, float]] = PATH) -> str:
    return "<trkseg>\n" + "".join(c.trkpt(lon, lat, inside(i)) for i, (lon, lat) in enumerate(path)) + "</trkseg>\n"


def _timed(i: int) -> str:
    return f"<ele>90</ele><time>{ISO[i]}</time>"


def _gpx_track(inside: Callable[[int], str] = _timed, **options: Any) -> c.Build:
    return c.file_of("track.gpx", c.gpx(f"<trk>{_seg(inside)}</trk>", **options))


def _extended(i: int) -> str:
    speed = f"<x:TrackPointExtension><x:speed>{i + 0.5}</x:speed><x:hr>90</x:hr></x:TrackPointExtension>"
    return f"{_timed(i)}<hdop>0.9</hdop><extensions>{speed}</extensions>"


_NAN = float("nan")
_EXTENSION_HEAD = c.GPX_11 + ' xmlns:x="http://example.com/x"'
_ONE_PIECE = [0, 0, 0]

GPX_TRACKS = [
    GoodTrack("plain", _gpx_track(), pieces=_ONE_PIECE, boom=[-1] * 3, speed=[_NAN] * 3, width=[_NAN] * 3),
    GoodTrack(
        "version 1.0 with speed",
        _gpx_track(lambda i: f"<time>{ISO[i]}</time><course>0</course><speed>{i + 0.5}</speed>", head=c.GPX_10),
        speed=[0.5, 1.5, 2.5],
    ),
    GoodTrack(
        "speed in extensions", _gpx_track(_extended, head=_EXTENSION_HEAD), speed=[0.5, 1.5, 2.5], hdop=[0.9] * 3
    ),
    GoodTrack("no namespace", _gpx_track(head='version="1.1"')),
    GoodTrack(
        "times below a second",
        _gpx_track(lambda i: f"<time>2026-05-04T14:00:00.{i}25Z</time>"),
        times=[FIRST_S + 0.025, FIRST_S + 0.125, FIRST_S + 0.225],
    ),
    GoodTrack(
        "times to a billionth",
        _gpx_track(lambda i: f"<time>2026-05-04T14:00:00.{i}25000000Z</time>"),
        times=[FIRST_S + 0.025, FIRST_S + 0.125, FIRST_S + 0.225],
    ),
    GoodTrack("times with an offset", _gpx_track(lambda i: f"<time>2026-05-04T09:00:0{i}-05:00</time>")),
    GoodTrack(
        "times without a zone",
        _gpx_track(lambda i: f"<time>2026-05-04T14:00:0{i}</time>"),
        clock="no zone",
        says="no zone",
    ),
    GoodTrack("no times", _gpx_track(lambda _: ""), times=[_NAN] * 3, clock="none"),
    GoodTrack(
        "one time missing",
        _gpx_track(lambda i: "" if i == 1 else _timed(i)),
        times=[FIRST_S, _NAN, FIRST_S + 2],
        says="(1|one) points?",
    ),
    GoodTrack(
        "an empty time",
        _gpx_track(lambda i: "<time/>" if i == 1 else _timed(i)),
        times=[FIRST_S, _NAN, FIRST_S + 2],
        says="(1|one) points?",
    ),
    GoodTrack("blanks round the time", _gpx_track(lambda i: f"<time>\n  {ISO[i]}\n</time>")),
    GoodTrack(
        "several segments",
        c.file_of("track.gpx", c.gpx(f"<trk>{_seg(_timed)}{_seg(_timed)}</trk><trk>{_seg(_timed)}</trk>")),
        path=PATH * 3,
        times=SECONDS * 3,
        pieces=[0] * 3 + [1] * 3 + [2] * 3,
    ),
    GoodTrack(
        "times that run backwards keep the file's order", _gpx_track(lambda i: _timed(2 - i)), times=SECONDS[::-1]
    ),
    GoodTrack(
        "a point at 0, 0",
        c.file_of("track.gpx", c.gpx(f"<trk>{_seg(lambda i: _timed(max(i - 1, 0)), [(0.0, 0.0), *PATH])}</trk>")),
        void=1,
        says="points? at 0, 0",
    ),
    GoodTrack(
        "waypoints and a route beside it",
        c.file_of("track.gpx", c.gpx(f'<wpt lat="1" lon="2"/>{c.rte(c.GLADE)}<trk>{_seg(_timed)}</trk>')),
        says="routes?",
    ),
    GoodTrack("carriage returns", c.file_of("track.gpx", c.gpx(f"<trk>{_seg(_timed)}</trk>").replace("\n", "\r\n"))),
    GoodTrack("a speed that is no number", _gpx_track(lambda i: f"{_timed(i)}<speed>fast</speed>"), speed=[_NAN] * 3),
    GoodTrack(
        "UTF-16", c.file_of("track.gpx", c.gpx(f"<trk>{_seg(_timed)}</trk>", encoding="UTF-16").encode("utf-16"))
    ),
    GoodTrack("named .txt", c.file_of("track.txt", c.gpx(f"<trk>{_seg(_timed)}</trk>"))),
    GoodTrack("named .kml by mistake", c.file_of("track.kml", c.gpx(f"<trk>{_seg(_timed)}</trk>"))),
]


def _csv(*lines: str, end: str = "\n", name: str = "track.csv") -> c.Build:
    return c.file_of(name, c.table(*lines, end=end))


def _lines(sep: str = ",", tail: str = "") -> list[str]:
    return [sep.join([ISO[i], f"{lat:.4f}", f"{lon:.4f}"]) + tail for i, (lon, lat) in enumerate(PATH)]


_HEAD = "time,lat,lon"
_FULL = [
    f"{row},{boom},{width},{speed},{hdop}"
    for row, boom, width, speed, hdop in zip(
        _lines(), ("1", "0", ""), ("3.66", "", "3.66"), ("1.2", "0", ""), ("0.9", "", "1"), strict=True
    )
]
_FULL_HEAD = _HEAD + ",boom_on,width_m,speed_mps,hdop"
_SHUFFLED = [f"{lon:.4f},0.9,{ISO[i]},{lat:.4f}" for i, (lon, lat) in enumerate(PATH)]
_QUOTED = [",".join(f'"{cell}"' for cell in row.split(",")) for row in [_HEAD, *_lines()]]


def _sectioned(before: Sequence[str], after: Sequence[str]) -> list[str]:
    return [f"{first},{row},{last}" for first, row, last in zip(before, _lines(), after, strict=True)]


CSV_TRACKS = [
    GoodTrack("plain", _csv(_HEAD, *_lines()), pieces=_ONE_PIECE),
    GoodTrack("semicolons", _csv("time;lat;lon", *_lines(";"))),
    GoodTrack("tabs", _csv("time\tlat\tlon", *_lines("\t"))),
    GoodTrack("blanks after the commas", _csv("time, lat, lon", *(row.replace(",", ", ") for row in _lines()))),
    GoodTrack("quoted cells", _csv(*_QUOTED)),
    GoodTrack("quoted cells with blanks after the commas", _csv(*(row.replace(",", ", ") for row in _QUOTED))),
    GoodTrack(
        "a quoted remark with a comma", _csv(_HEAD + ",remark", *_lines(tail=',"wet, then ""dry"""')), says="remark"
    ),
    GoodTrack("blank lines", _csv(_HEAD, "", *_lines()[:1], " , ,", "", *_lines()[1:], "", "")),
    GoodTrack("blank lines before the heading", _csv("", "", _HEAD, *_lines())),
    GoodTrack("carriage returns and line feeds", _csv(_HEAD, *_lines(), end="\r\n")),
    GoodTrack("carriage returns alone", _csv(_HEAD, *_lines(), end="\r")),
    GoodTrack("no line end at its end", c.file_of("track.csv", c.table(_HEAD, *_lines()).rstrip())),
    GoodTrack("columns in another order and case", _csv("LON,HDOP,Time,Lat", *_SHUFFLED), hdop=[0.9] * 3),
    GoodTrack("columns in full words", _csv("time,latitude,longitude", *_lines())),
    GoodTrack(
        "all columns, some cells empty",
        _csv(_FULL_HEAD, *_FULL),
        boom=[1, 0, -1],
        width=[3.66, _NAN, 3.66],
        speed=[1.2, 0, _NAN],
        hdop=[0.9, _NAN, 1],
    ),
    GoodTrack(
        "boom states in words",
        _csv(_HEAD + ",boom_on", *(f"{row},{word}" for row, word in zip(_lines(), ("ON", "off", "True"), strict=True))),
        boom=[1, 0, 1],
    ),
    GoodTrack(
        "boom states as decimals",
        _csv(_HEAD + ",boom_on", *(f"{row},{word}" for row, word in zip(_lines(), ("1.0", "0.0", "yes"), strict=True))),
        boom=[1, 0, 1],
    ),
    GoodTrack(
        "boom sections in any order and case, some cells empty",
        _csv("SECTION_2," + _HEAD + ",Section_1", *_sectioned(("1", "on", ""), ("off", "", "0"))),
        boom=[-1] * 3,
        sections=[[0, 1], [-1, 1], [0, -1]],
    ),
    GoodTrack(
        "boom sections numbered with two digits, beside the boom",
        _csv(_HEAD + ",section_01,section_02,boom_on", *(f"{row},1,0,1" for row in _lines())),
        boom=[1] * 3,
        sections=[[1, 0]] * 3,
    ),
    GoodTrack("boom sections that nothing is recorded of", _csv(_HEAD + ",section_1,section_2", *_lines(tail=",,"))),
    GoodTrack(
        "a section of another kind",
        _csv(_HEAD + ",section", *_lines(tail=",north")),
        says="not used: section",
    ),
    GoodTrack(
        "boom sections and points at 0, 0",
        _csv(_HEAD + ",section_1", f"{ISO[0]},0,0,1", f"{ISO[0]},0,0,1", *_lines(tail=",0")),
        sections=[[0]] * 3,
        void=2,
        says="points? at 0, 0",
    ),
    GoodTrack(
        "times as seconds",
        _csv(_HEAD, *(f"{5 + i / 2},{lat},{lon}" for i, (lon, lat) in enumerate(PATH))),
        times=[5, 5.5, 6],
        clock="no zone",
        says="no zone",
    ),
    GoodTrack(
        "times with offsets", _csv(_HEAD, *(row.replace("T14", "T09").replace("Z", "-05:00") for row in _lines()))
    ),
    GoodTrack("times with a blank instead of the T", _csv(_HEAD, *(row.replace("T", " ") for row in _lines()))),
    # RFC 3339, 5.6 (from memory): T and Z may be written small.
    GoodTrack("times in small letters", _csv(_HEAD, *(row.lower() for row in _lines()))),
    GoodTrack(
        "times without a zone",
        _csv(_HEAD, *(row.replace("Z", "") for row in _lines())),
        clock="no zone",
        says="no zone",
    ),
    GoodTrack("no times", _csv("lat,lon", *(row.split(",", 1)[1] for row in _lines())), times=[_NAN] * 3, clock="none"),
    GoodTrack(
        "one time missing",
        _csv(_HEAD, *(row.replace(ISO[1], "") for row in _lines())),
        times=[FIRST_S, _NAN, FIRST_S + 2],
        says="(1|one) points?",
    ),
    GoodTrack("a mark before it", c.file_of("track.csv", b"\xef\xbb\xbf" + c.table(_HEAD, *_lines()).encode())),
    GoodTrack("UTF-16", c.file_of("track.csv", c.table(_HEAD, *_lines()).encode("utf-16"))),
    GoodTrack(
        "more columns than are used", _csv(_HEAD + ",battery,Höhe", *_lines(tail=",98,90")), says="battery, Höhe"
    ),
    GoodTrack("a comma at the end of every line", _csv(_HEAD + ",", *_lines(tail=","))),
    GoodTrack("commas at the end of the rows", _csv(_HEAD, *_lines(tail=",,"))),
    GoodTrack(
        "a first column called PK", _csv("PK," + _HEAD, *(f"{i},{row}" for i, row in enumerate(_lines()))), says="PK"
    ),
    GoodTrack("a point at 0, 0", _csv(_HEAD, f"{ISO[0]},0,0", *_lines()), void=1, says="points? at 0, 0"),
    GoodTrack("numbers with exponents", _csv(_HEAD, *(row.replace("-83.4410", "-8.3441e1") for row in _lines()))),
    GoodTrack("named .txt", _csv(_HEAD, *_lines(), name="track.txt")),
]


def _gjt(*features: Any, **members: Any) -> c.Build:
    return c.file_of("track.geojson", c.geojson(*features, **members))


_LINE = c.line([list(k) for k in PATH])
_FIXES = [
    c.feature(c.point(lon, lat), time=ISO[i], boom_on=bool(i), width_m=3.66, speed_mps="1.5", HDOP=1)
    for i, (lon, lat) in enumerate(PATH)
]
_MANY_LINES = {"type": "MultiLineString", "coordinates": [_LINE["coordinates"]] * 2}
_MANY_POINTS = {"type": "MultiPoint", "coordinates": _LINE["coordinates"]}
_UNTIMED: dict[str, Any] = {"times": [_NAN] * 3, "clock": "none"}

GEOJSON_TRACKS = [
    GoodTrack("a line", _gjt(c.feature(_LINE)), **_UNTIMED),
    GoodTrack(
        "a line with times, boom and width",
        _gjt(c.feature(_LINE, times=ISO, boom_on=1, width_m=3.66)),
        boom=[1] * 3,
        width=[3.66] * 3,
    ),
    GoodTrack(
        "a line with seconds",
        _gjt(c.feature(_LINE, times=[1, 2.5, None])),
        times=[1, 2.5, _NAN],
        clock="no zone",
        says="no zone",
    ),
    GoodTrack(
        "points", _gjt(*_FIXES), boom=[0, 1, 1], width=[3.66] * 3, speed=[1.5] * 3, hdop=[1] * 3, pieces=_ONE_PIECE
    ),
    GoodTrack(
        "points with boom sections, which not all of them have",
        _gjt(
            c.feature(c.point(*PATH[0]), section_1=1, Section_2="off"),
            c.feature(c.point(*PATH[1]), section_2=True),
            c.feature(c.point(*PATH[2]), section_2=None, SECTION_1=0),
        ),
        boom=[-1] * 3,
        sections=[[1, 0], [-1, 1], [0, -1]],
        **_UNTIMED,
    ),
    GoodTrack(
        "a line with boom sections",
        _gjt(c.feature(_LINE, section_1="on", section_2="off", section_3="on")),
        sections=[[1, 0, 1]] * 3,
        **_UNTIMED,
    ),
    GoodTrack(
        "points in whole degrees, with heights and at 0, 0",
        _gjt(*(c.feature({"type": "Point", "coordinates": k}) for k in ([-83, 31], [0, 0], [-83.5, 31.5, 90.0]))),
        path=[(-83, 31), (-83.5, 31.5)],
        times=[_NAN] * 2,
        clock="none",
        void=1,
        says="points? at 0, 0",
    ),
    GoodTrack(
        "two lines are two pieces",
        _gjt(c.feature(_LINE, times=ISO), c.feature(_LINE, times=ISO)),
        path=PATH * 2,
        times=SECONDS * 2,
        pieces=[0] * 3 + [1] * 3,
    ),
    GoodTrack(
        "a line of several parts",
        _gjt(c.feature(_MANY_LINES)),
        path=PATH * 2,
        times=[_NAN] * 6,
        clock="none",
        pieces=[0] * 3 + [1] * 3,
    ),
    GoodTrack("a feature of several points", _gjt(c.feature(_MANY_POINTS)), **_UNTIMED),
    GoodTrack(
        "lines within a collection",
        _gjt(c.feature(c.collection_of(_MANY_LINES))),
        path=PATH * 2,
        times=[_NAN] * 6,
        clock="none",
        pieces=[0] * 3 + [1] * 3,
    ),
    GoodTrack("heights", _gjt(c.feature(c.line([[*k, 90.0] for k in PATH]))), **_UNTIMED),
    GoodTrack("a feature without a shape", _gjt(c.feature(None), *_FIXES), says="features? without a shape"),
    GoodTrack("an area beside it", _gjt(c.feature(c.polygon(c.GLADE)), *_FIXES), says="area"),
    GoodTrack("properties of null", _gjt({**c.feature(_LINE), "properties": None}), **_UNTIMED),
    GoodTrack("one geometry alone", c.file_of("track.json", json.dumps(_LINE)), **_UNTIMED),
    GoodTrack(
        "old crs of longitude and latitude",
        _gjt(c.feature(_LINE), crs=c.named_crs("urn:ogc:def:crs:OGC:1.3:CRS84")),
        **_UNTIMED,
    ),
    GoodTrack("old crs of 4326", _gjt(c.feature(_LINE), crs=c.named_crs("EPSG:4326")), **_UNTIMED),
    GoodTrack("old crs of three axes", _gjt(c.feature(_LINE), crs=c.named_crs("EPSG:4979")), **_UNTIMED),
    GoodTrack("UTF-16", c.file_of("track.geojson", c.geojson(*_FIXES).encode("utf-16"))),
]
