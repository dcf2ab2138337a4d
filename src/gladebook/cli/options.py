"""Options that several commands share, and how their texts become values."""

import math
from datetime import date, datetime, time
from pathlib import Path
from typing import Annotated
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import typer

from gladebook.errors import CallError
from gladebook.units import parse_quantity

__all__ = [
    "Accuracy",
    "Ahead",
    "Application",
    "AsCsv",
    "AsJson",
    "Behind",
    "Boom",
    "Boundaries",
    "CheckStrip",
    "Crs",
    "Day",
    "From",
    "Gap",
    "Hdop",
    "Layer",
    "Left",
    "NameField",
    "Obstacles",
    "OffDelay",
    "OnDelay",
    "OneSided",
    "Out",
    "PerAcre",
    "PlotNames",
    "Repair",
    "Right",
    "Save",
    "Sections",
    "Setback",
    "SprayerName",
    "TimeZone",
    "Tracks",
    "Until",
    "Used",
    "WalkLength",
    "day_text",
    "length_m",
    "moment",
    "plain_number",
    "spare_property",
    "zone",
]


def spare_property(path: Path | None) -> Path | None:
    """Refuse to write an answer over a property file, before any work is done.

    Raises
    ------
    OutputError
        Where it is one.
    """
    if path is not None:
        from gladebook.io.write import refuse_property

        refuse_property(path)
    return path


Boundaries = Annotated[
    Path,
    typer.Argument(
        metavar="BOUNDARIES",
        help="Plots: a property file, or GeoJSON, GeoPackage, shapefile (zipped too), KML, or a GPX walk.",
        show_default=False,
    ),
]
Tracks = Annotated[
    list[Path],
    typer.Argument(metavar="TRACK", help="Tracks of the application: GPX, CSV or GeoJSON.", show_default=False),
]
NameField = Annotated[
    str | None,
    typer.Option("--name-field", metavar="NAME", help="Field that holds the names (else: name, in any case)."),
]
Crs = Annotated[
    str | None,
    typer.Option("--crs", metavar="SYSTEM", help="Coordinate system of a file that states none, like EPSG:26916."),
]
Layer = Annotated[
    str | None,
    typer.Option(
        "--layer",
        metavar="NAME",
        help="Layer or folder of the plots, where their file has several; of a zip, the file in it. gladebook look "
        "lists them.",
    ),
]
Obstacles = Annotated[
    Path | None,
    typer.Option("--obstacles", metavar="FILE", help="File of ponds, rocks and trees to take out of the plots."),
]
Setback = Annotated[
    str | None,
    typer.Option("--setback", metavar="AMOUNT", help='Strip to keep off along every edge as drawn, like "10 ft".'),
]
Repair = Annotated[
    bool,
    typer.Option("--repair", help="Mend boundaries that cross themselves, and say how the acres changed."),
]
Accuracy = Annotated[
    str | None,
    typer.Option(
        "--accuracy",
        metavar="AMOUNT",
        help='How far off the corners are, like "3 m": a standard deviation along each axis (about two thirds of '
        "corners lie closer than this, east to west and north to south each). Assumed 3 m if not given.",
    ),
]
WalkLength = Annotated[
    str | None,
    typer.Option(
        "--walk-length",
        metavar="AMOUNT",
        help='For a walked boundary: how far along the walk the GPS error stays much the same, like "300 ft". '
        "Assumed 100 m if not given.",
    ),
]
CheckStrip = Annotated[
    Path | None,
    typer.Option(
        "--check-strip",
        metavar="FILE",
        help="What did you leave unsprayed on purpose, such as a strip to compare with? Its boundary file.",
    ),
]
Boom = Annotated[
    str | None,
    typer.Option(
        "--boom",
        metavar="AMOUNT",
        help='How wide is the ground that the boom (or a boomless nozzle) covers, like "12 ft"? Widths in a track '
        "beat it.",
    ),
]
Sections = Annotated[
    str | None,
    typer.Option(
        "--sections",
        metavar="AMOUNTS",
        help='How wide is each section of the boom, from left to right, like "4 ft, 4 ft, 4 ft"?',
    ),
]
OneSided = Annotated[
    str | None,
    typer.Option(
        "--one-sided",
        metavar="SIDE",
        help="Does it spray to one side only, left or right of the phone as you drive? All of --boom lies there.",
    ),
]
Behind = Annotated[
    str | None,
    typer.Option("--behind", metavar="AMOUNT", help='How far behind the phone (or receiver) is the boom, like "6 ft"?'),
]
Ahead = Annotated[
    str | None,
    typer.Option("--ahead", metavar="AMOUNT", help="Or how far ahead of the phone is it, where it is in front?"),
]
Right = Annotated[
    str | None,
    typer.Option(
        "--right", metavar="AMOUNT", help='How far to the right of the phone is the middle of the boom, like "1 ft"?'
    ),
]
Left = Annotated[
    str | None, typer.Option("--left", metavar="AMOUNT", help="Or how far to the left of the phone is it?")
]
OnDelay = Annotated[
    str | None,
    typer.Option(
        "--on-delay",
        metavar="AMOUNT",
        help='How long after the recorded switch does the spray start, like "1 s"? With a minus if it starts before.',
    ),
]
OffDelay = Annotated[
    str | None,
    typer.Option("--off-delay", metavar="AMOUNT", help="And how long after the recorded switch does it end?"),
]
Hdop = Annotated[
    str | None,
    typer.Option(
        "--hdop",
        metavar="NUMBER",
        help="How unsure may a point be? Those with a recorded HDOP above this are left out (10 if not given).",
    ),
]
Gap = Annotated[
    str | None,
    typer.Option(
        "--gap",
        metavar="AMOUNT",
        help='Longest time between points that are joined, like "10 s" (else five times the usual), '
        'or longest step, like "60 ft".',
    ),
]
From = Annotated[
    str | None,
    typer.Option(
        "--from",
        metavar="TIME",
        help='Leave out the ride before this time, like "2026-05-04T14:05:00-05:00" or "14:05".',
    ),
]
Until = Annotated[str | None, typer.Option("--until", metavar="TIME", help="Leave out the ride after this time.")]
TimeZone = Annotated[
    str | None, typer.Option("--time-zone", metavar="ZONE", help="Zone of times that state none, like America/Chicago.")
]
Used = Annotated[str | None, typer.Option("--used", metavar="AMOUNT", help='Spray that left the tank, like "28 gal".')]
PerAcre = Annotated[
    str | None, typer.Option("--per-acre", metavar="AMOUNT", help='Spray volume per acre, like "15 gal/ac".')
]
PlotNames = Annotated[
    list[str] | None,
    typer.Option("--plot", metavar="NAME", help="Take this plot alone; once for each where you mean several."),
]
Day = Annotated[
    str | None,
    typer.Option(
        "--day",
        metavar="DAY",
        help="Of a property file: the day whose boundaries count, like 2026-10-04. Else that of the track, or today.",
    ),
]
SprayerName = Annotated[
    str | None,
    typer.Option(
        "--sprayer",
        metavar="NAME",
        help="A sprayer that the property file keeps. What you say with --boom and the like beats it.",
    ),
]
Save = Annotated[
    str | None,
    typer.Option("--save", metavar="NAME", help="Keep the answer in the property file under this name."),
]
Application = Annotated[
    str | None,
    typer.Option("--application", metavar="NAME", help="Which application of a property file, where it keeps several."),
]
AsJson = Annotated[bool, typer.Option("--json", help="Answer in JSON, at full precision.")]
AsCsv = Annotated[bool, typer.Option("--csv", help="Answer as a CSV table, at full precision.")]
Out = Annotated[
    Path | None,
    typer.Option("--out", "-o", metavar="FILE", help="Write the answer to this file.", callback=spare_property),
]


def length_m(text: str | None, *, what: str, least_m: float = 0.0) -> float | None:
    """A length in metres from text such as ``12 ft``; None stays None.

    Raises
    ------
    CallError
        Where it is no length, or not above `least_m`.
    """
    if text is None:
        return None
    value = parse_quantity(text, kind="length", what=what).si
    if value < least_m or (value == 0 and what != "--setback"):
        raise CallError(f'{what}: "{text}" must be above zero.')
    return value


def plain_number(text: str, *, what: str, like: str) -> float:
    """A number above zero that has no unit.

    Raises
    ------
    CallError
        Where it is none.
    """
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not 0 < value < math.inf:
        raise CallError(f'{what}: "{text[:40]}" is no number above zero; write it like {like}.')
    return value


def zone(text: str | None) -> ZoneInfo | None:
    """A time zone by its name.

    Raises
    ------
    CallError
        Where no zone has that name.
    """
    if text is None:
        return None
    try:
        return ZoneInfo(text)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise CallError(f'--time-zone: "{text[:40]}" is no known zone; write it like America/Chicago or UTC.') from None


def day_text(text: str | None, *, what: str) -> str:
    """A day as ISO 8601 has it; empty where none is given.

    Raises
    ------
    CallError
        Where it is none.
    """
    if text is None:
        return ""
    try:
        return date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        raise CallError(f'{what}: "{text[:40]}" is no day; write it like 2026-10-04.') from None


def moment(text: str | None, *, what: str) -> datetime | time | None:
    """A moment, or a time of day alone, from ISO 8601 text.

    Raises
    ------
    CallError
        Where it is neither.
    """
    if text is None:
        return None
    for kind in (datetime, time):
        try:
            found: datetime | time = kind.fromisoformat(text.strip())
        except ValueError:
            continue
        if kind is time or len(text.strip()) > 10:
            return found
    raise CallError(f'{what}: "{text[:40]}" is no time; write it like 2026-05-04T14:05:00-05:00, or 14:05.')
