"""Options that several commands share, and how their texts become values."""

from datetime import datetime, time
from pathlib import Path
from typing import Annotated
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import typer

from gladebook.errors import CallError
from gladebook.units import parse_quantity

__all__ = [
    "Accuracy",
    "AsCsv",
    "AsJson",
    "Boom",
    "Boundaries",
    "Crs",
    "From",
    "Gap",
    "Layer",
    "NameField",
    "Obstacles",
    "Out",
    "PerAcre",
    "Repair",
    "Setback",
    "TimeZone",
    "Tracks",
    "Until",
    "Used",
    "WalkLength",
    "length_m",
    "moment",
    "zone",
]

Boundaries = Annotated[
    Path,
    typer.Argument(
        metavar="BOUNDARIES",
        help="Plots: GeoJSON, GeoPackage, shapefile (zipped too), KML, or a GPX walk.",
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
Layer = Annotated[str | None, typer.Option("--layer", metavar="NAME", help="Layer to read, where a file has several.")]
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
Boom = Annotated[
    str | None,
    typer.Option(
        "--boom", metavar="AMOUNT", help='Width that the boom covers, like "12 ft"; widths in a track beat it.'
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
AsJson = Annotated[bool, typer.Option("--json", help="Answer in JSON, at full precision.")]
AsCsv = Annotated[bool, typer.Option("--csv", help="Answer as a CSV table, at full precision.")]
Out = Annotated[Path | None, typer.Option("--out", "-o", metavar="FILE", help="Write the answer to this file.")]


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
