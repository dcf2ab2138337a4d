"""Good track files of odd tables and other formats: how each is made, and the points that it must give."""

import struct
from collections.abc import Sequence
from typing import Any

from tests.io import corpus as c
from tests.io import corpus_formats as f
from tests.io.good_tracks import FIRST_S, ISO, PATH, SECONDS, GoodTrack

_NAN = float("nan")
_UNTIMED: dict[str, Any] = {"times": [_NAN] * 3, "clock": "none"}
_FEET = 0.3048  # 85 FR 62698
_MPH = 0.44704  # 5280 ft an hour
_KNOT = 0.514444  # NIST SP 811, B.8: 5.144444 E-01, to six digits
_KNOT = 1852 / 3600


def _csv(*lines: str, end: str = "\n", name: str = "track.csv", encoding: str = "utf-8") -> c.Build:
    return c.file_of(name, c.table(*lines, end=end).encode(encoding))


def _rows(sep: str = ",", *, before: Sequence[str] = ("",) * 3, after: Sequence[str] = ("",) * 3) -> list[str]:
    """The three points of the corpus, with something before and after each row."""
    return [before[i] + sep.join([ISO[i], f"{lat:.4f}", f"{lon:.4f}"]) + after[i] for i, (lon, lat) in enumerate(PATH)]


def _apart(day: Sequence[str], clock: Sequence[str], sep: str = ",") -> list[str]:
    return [sep.join([day[i], clock[i], f"{lat:.4f}", f"{lon:.4f}"]) for i, (lon, lat) in enumerate(PATH)]


_HEAD = "time,lat,lon"
_DAY, _CLOCK = ["2026-05-04"] * 3, [f"14:00:0{i}" for i in range(3)]
_COMMAS = [row.replace(".", ",") for row in _rows(";")]
_NO_ZONE: dict[str, Any] = {"clock": "no zone", "says": "no zone"}

DELIMITERS = [
    GoodTrack("bars", _csv("time|lat|lon", *_rows("|"))),
    GoodTrack("one blank", _csv("time lat lon", *_rows(" "))),
    GoodTrack("several blanks", _csv("time                   lat      lon", *_rows("   "))),
    GoodTrack("several blanks, and rows set in", _csv("  time  lat  lon", *_rows("  ", before=["   "] * 3))),
    GoodTrack("several blanks above, one below", _csv("time                   lat      lon", *_rows(" "))),
    GoodTrack(
        "several blanks, and a blank within a cell",
        _csv("time                  lat      lon", *(row.replace("T", " ") for row in _rows("  "))),
    ),
    GoodTrack(
        "a comma in the name of a column between tabs",
        _csv("time\tlat\tlon\ta, b, c, d, e", *_rows("\t", after=["\t1"] * 3)),
        says="a, b, c, d, e",
    ),
    GoodTrack(
        "a quoted name with a comma",
        _csv('"lat, lon, the place","time","lat","lon"', *_rows(before=["x,"] * 3)),
        says="not used: lat, lon, the place",
    ),
    GoodTrack("a line that states the delimiter", _csv("sep=;", "time;lat;lon", *_rows(";"))),
    GoodTrack(
        "a remark before the heading",
        _csv("# drive of May, by hand", "", _HEAD, *_rows()),
        says=r"before the heading were left out \(1\)",
    ),
    GoodTrack("a heading behind a hash", _csv(f"# {_HEAD}", *_rows())),
    GoodTrack("a title with an open quote", _csv('North 40 "A', "", _HEAD, *_rows()), says=r"left out \(1\)"),
    GoodTrack(
        "its heading repeated, as where recordings were put together",
        _csv(_HEAD, *_rows()[:2], _HEAD, *_rows()[2:]),
        pieces=[0, 0, 1],
        says=r"headings repeated between rows.*\(1\)",
    ),
    GoodTrack("a blank line after every row", _csv(_HEAD, *_rows(), end="\n\n")),
    GoodTrack("an empty cell at the end of every row", _csv(_HEAD, *_rows(after=[","] * 3))),
]

LETTERS = [
    GoodTrack(
        "Windows-1252", _csv(_HEAD + ",Höhe", *_rows(after=[",90"] * 3), encoding="cp1252"), says="Windows-1252.*Höhe"
    ),
    GoodTrack("UTF-16 without a mark", _csv(_HEAD, *_rows(), encoding="utf-16-le")),
    GoodTrack("UTF-16, big end first, without a mark", _csv(_HEAD, *_rows(), encoding="utf-16-be")),
    GoodTrack("UTF-16 with tabs", _csv("time\tlat\tlon", *_rows("\t"), encoding="utf-16")),
]

FIGURES = [
    GoodTrack("decimal commas", _csv("time;lat;lon", *_COMMAS), says="comma is the decimal mark"),
    GoodTrack(
        "decimal commas in quotes",
        _csv(_HEAD, *(f'{ISO[i]},"{lat:.4f}","{lon:.4f}"'.replace(".", ",") for i, (lon, lat) in enumerate(PATH))),
        says="comma is the decimal mark",
    ),
    GoodTrack(
        "decimal commas in all figures, some cells empty",
        _csv(
            "time;lat;lon;width_m;hdop",
            *(row + cells for row, cells in zip(_COMMAS, (";3,66;0,9", ";;1", ";4;"), strict=True)),
        ),
        width=[3.66, _NAN, 4],
        hdop=[0.9, 1, _NAN],
        says="comma is the decimal mark",
    ),
    GoodTrack(
        "decimal commas in seconds",
        _csv("time;lat;lon", *(f"{i},5;{lat};{lon}".replace(".", ",") for i, (lon, lat) in enumerate(PATH))),
        times=[0.5, 1.5, 2.5],
        **{**_NO_ZONE, "says": "decimal mark"},
    ),
    GoodTrack(
        "sides as letters", _csv(_HEAD, *(f"{ISO[i]},{lat:.4f}N,{-lon:.4f} W" for i, (lon, lat) in enumerate(PATH)))
    ),
    GoodTrack(
        "degrees and minutes",
        _csv(_HEAD, f"{ISO[0]},31 12.24 N,83 26.46 W"),
        path=[(-83.441, 31.204)],
        times=SECONDS[:1],
    ),
    GoodTrack(
        "degrees, minutes and seconds",
        _csv("time;lat;lon", f"{ISO[0]};31°12'18\"N;W 83° 26' 27.6\""),
        path=[(-(83 + 26 / 60 + 27.6 / 3600), 31.205)],
        times=SECONDS[:1],
    ),
    GoodTrack(
        "degrees and minutes with a sign, and decimal commas",
        _csv("time;lat;lon", f"{ISO[0]};+31° 12,3′;-83° 26,46′", f"{ISO[1]};31,204;-83,441"),
        path=[(-83.441, 31.205), (-83.441, 31.204)],
        times=SECONDS[:2],
        says="decimal mark",
    ),
]

TIMES = [
    GoodTrack("day and time apart", _csv("date,time,lat,lon", *_apart(_DAY, _CLOCK)), **_NO_ZONE),
    GoodTrack("day and time apart, with a zone", _csv("Date,Time,lat,lon", *_apart(_DAY, [t + "Z" for t in _CLOCK]))),
    GoodTrack("day without dashes", _csv("date,time,lat,lon", *_apart(["20260504"] * 3, _CLOCK)), **_NO_ZONE),
    GoodTrack(
        "an hour of one digit, no seconds",
        _csv("date,time,lat,lon", *_apart(_DAY, ["9:05", "9:06", "9:07"])),
        times=[FIRST_S - 5 * 3600 + 60 * i for i in (5, 6, 7)],
        **_NO_ZONE,
    ),
    GoodTrack("a day beside whole times", _csv("date,time,lat,lon", *_apart(_DAY, list(ISO)))),
    GoodTrack(
        "a time of day missing",
        _csv("date,time,lat,lon", *_apart(_DAY, [_CLOCK[0], "", _CLOCK[2]])),
        times=[SECONDS[0], _NAN, SECONDS[2]],
        **{**_NO_ZONE, "says": "1 points? have no time"},
    ),
    GoodTrack(
        "times as the call says",
        _csv(_HEAD, *(row.replace(ISO[i], f"5/4/2026 2:00:0{i} PM") for i, row in enumerate(_rows()))),
        options={"time_format": "%m/%d/%Y %I:%M:%S %p"},
        **_NO_ZONE,
    ),
    GoodTrack(
        "times as the call says, with a zone",
        _csv(_HEAD, *(row.replace(ISO[i], f"04.05.2026 09:00:0{i} -0500") for i, row in enumerate(_rows()))),
        options={"time_format": "%d.%m.%Y %H:%M:%S %z"},
    ),
    GoodTrack(
        "day and time apart, as the call says",
        _csv("date,time,lat,lon", *_apart(["05/04/26"] * 3, _CLOCK)),
        options={"time_format": "%m/%d/%y %H:%M:%S"},
        **_NO_ZONE,
    ),
    GoodTrack("times in a column of another name", _csv("timestamp,lat,lon", *_rows())),
    GoodTrack(
        "times of two lengths",
        _csv(_HEAD, *(row.replace(ISO[1], "2026-05-04T14:00:01.000Z") for row in _rows())),
    ),
]

COLUMNS = [
    GoodTrack(
        "other names and units",
        _csv("t,Y,X,swath_in,pace:mph", *(row + ",144,3" for row in _rows())),
        width=[12 * _FEET] * 3,
        speed=[3 * _MPH] * 3,
        options={
            "columns": {"time": "T", "lat": "y", "lon": "x", "width_m": "swath_in:in", "speed_mps": "pace:mph:mph"}
        },
    ),
    GoodTrack(
        "knots",
        _csv(_HEAD + ",sog", *_rows(after=[",4", ",", ",0"])),
        speed=[4 * _KNOT, _NAN, 0],
        options={"columns": {"speed_mps": "sog:kn"}},
    ),
    GoodTrack("knots in the name", _csv(_HEAD + ",speed_kn", *_rows(after=[",4"] * 3)), speed=[4 * _KNOT] * 3),
    GoodTrack(
        "a known name overruled",
        _csv(
            "time,lat,lon,lat_fine",
            *(row.replace("31.", "30.") + f",{lat}" for row, (_, lat) in zip(_rows(), PATH, strict=True)),
        ),
        says="not used: lat",
        options={"columns": {"lat": "lat_fine"}},
    ),
    GoodTrack(
        "sections and boom of other names",
        _csv(_HEAD + ",left,right,pump", *_rows(after=[",1,0,on", ",0,1,off", ",,,"])),
        boom=[1, 0, -1],
        sections=[[1, 0], [0, 1], [-1, -1]],
        options={"columns": {"section_1": "left", "section_2": "right", "boom_on": "pump"}},
    ),
    GoodTrack(
        "minutes since the start",
        _csv("elapsed,lat,lon", *(f"{i / 2},{lat},{lon}" for i, (lon, lat) in enumerate(PATH))),
        times=[0, 30, 60],
        options={"columns": {"time": "elapsed:min"}},
        **_NO_ZONE,
    ),
    GoodTrack(
        "units in the names",
        _csv(_HEAD + ",width_ft,speed_mph", *_rows(after=[",12,3", ",,", ",6,0"])),
        width=[12 * _FEET, _NAN, 6 * _FEET],
        speed=[3 * _MPH, _NAN, 0],
    ),
]

_LINE = c.line([list(k) for k in PATH])
_TWO_LINES = {"type": "MultiLineString", "coordinates": [_LINE["coordinates"]] * 2}
_FIXES = [c.feature(c.point(*place), time=ISO[i]) for i, place in enumerate(PATH)]
_TWICE: dict[str, Any] = {"path": PATH * 2, "times": SECONDS * 2, "pieces": [0] * 3 + [1] * 3}


def _gj(*features: Any) -> c.Build:
    return c.file_of("track.geojson", c.geojson(*features))


MORE_GEOJSON_TRACKS = [
    GoodTrack("coordTimes", _gj(c.feature(_LINE, coordTimes=ISO))),
    GoodTrack("coordTimes of two lines", _gj(c.feature(_TWO_LINES, coordTimes=[ISO, ISO])), **_TWICE),
    GoodTrack("times of two lines in one list", _gj(c.feature(_TWO_LINES, times=ISO * 2)), **_TWICE),
    GoodTrack("times within coordinateProperties", _gj(c.feature(_LINE, coordinateProperties={"times": ISO}))),
    GoodTrack("times of one line within a list", _gj(c.feature(_LINE, times=[ISO]))),
    GoodTrack("points a line", c.file_of("track.geojsonl", f.sequence(*_FIXES))),
    GoodTrack("RFC 8142", c.file_of("track.geojsons", f.sequence(*_FIXES, mark="\x1e"))),
    GoodTrack(
        "points a line with sections, which the last one has",
        c.file_of("track.ndjson", f.sequence(*_FIXES[:2], c.feature(c.point(*PATH[2]), time=ISO[2], Section_1=1))),
        sections=[[-1], [-1], [1]],
    ),
    GoodTrack("lines a line", c.file_of("track.geojsonl", f.sequence(*[c.feature(_LINE, times=ISO)] * 2)), **_TWICE),
]


def _nmea(kind: str, *cells: str) -> str:
    """A sentence with its checksum: the exclusive or of the bytes between the two signs."""
    body = ",".join([kind, *cells])
    total = 0
    for byte in body.encode():
        total ^= byte
    return f"${body}*{total:02X}\r\n"


_RMC = "".join(
    _nmea("GPRMC", f"14000{i}.00", "A", f"31{60 * (lat - 31):.4f}", "N", "08326.4600", "W", "2.0", "", "040526", "", "")
    for i, (_, lat) in enumerate(PATH)
)
_NOISE = struct.pack("<40H", *range(0, 4000, 100))
_KML_LINE = " ".join(f"{lon},{lat},90" for lon, lat in PATH)
_KML = c.kml(c.placemark(f"<LineString><coordinates>{_KML_LINE}</coordinates></LineString>", name="drive"))

DOOR = [
    GoodTrack("a log named .txt", c.file_of("drive.txt", _RMC), says="*", speed=[2 * _KNOT] * 3, rounded=True),
    GoodTrack("a log named .gpx by mistake", c.file_of("drive.gpx", _RMC), says="*", rounded=True),
    GoodTrack("a log behind noise", c.file_of("drive.log", _NOISE + b"\r\n" + _RMC.encode()), says="*", rounded=True),
    GoodTrack(
        "a table with a sentence in a remark",
        _csv(_HEAD + ",remark", *_rows(after=[',"$GPRMC,140000,A"'] * 3)),
        says="remark",
    ),
    GoodTrack("a log, zipped", c.file_of("drive.zip", c.zipped({"a/drive.nmea": _RMC})), says="*", rounded=True),
    GoodTrack(
        "a table, zipped beside a readme",
        c.file_of("t.zip", c.zipped({"t.csv": c.table(_HEAD, *_rows()), "readme.txt": "x"})),
    ),
    GoodTrack(
        "tables, zipped, one chosen",
        c.file_of("t.zip", c.zipped({"t.csv": c.table(_HEAD, *_rows()), "u.csv": "x"})),
        options={"layer": "t"},
    ),
    GoodTrack("a line of KML", c.file_of("drive.kml", _KML), says="*", **_UNTIMED),
    GoodTrack(
        "KMZ",
        c.file_of("drive.kmz", c.zipped({"doc.kml": _KML, "files/more.kml": "x"})),
        says="files/more.kml",
        **_UNTIMED,
    ),
]
