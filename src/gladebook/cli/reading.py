"""Options that say how a track's file is to be read, where it does not say so itself."""

from typing import TYPE_CHECKING, Annotated

import typer

from gladebook.errors import CallError

if TYPE_CHECKING:
    from gladebook.io.limits import Limits
    from gladebook.jobs.application import TrackReading

__all__ = ["Column", "Estimated", "Limit", "TimeFormat", "TrackLayer", "columns_from", "limits_of", "reading_from"]

Column = Annotated[
    list[str] | None,
    typer.Option(
        "--column",
        metavar="WHAT=HEADING",
        help='Where a table\'s columns are named otherwise, like "lat=Y", with a unit after a colon where it is '
        'another: "width_m=swath:in". May be given several times.',
    ),
]
TimeFormat = Annotated[
    str | None,
    typer.Option(
        "--time-format",
        metavar="FORMAT",
        help='How a table\'s times are written where they are not like 2026-05-04T14:05:00Z: "%m/%d/%Y %I:%M %p".',
    ),
]
TrackLayer = Annotated[
    str | None,
    typer.Option(
        "--track-layer",
        metavar="NAME",
        help="Track to read, where a KML or GPX holds several; of a zip, the file in it. gladebook look lists them.",
    ),
]
Estimated = Annotated[
    bool,
    typer.Option("--estimated", help="Also take points of a receiver's log that it estimated and did not measure."),
]
Limit = Annotated[
    list[str] | None,
    typer.Option(
        "--limit",
        metavar="NAME=NUMBER",
        help='How much a file may hold, like "points=50000000". May be given several times.',
    ),
]


def limits_of(texts: list[str] | None) -> "Limits":
    """How much a file may hold, from ``--limit``.

    Raises
    ------
    CallError
        Where a text names no limit, or no number.
    """
    from gladebook.io.limits import limits_from

    return limits_from(texts or [])


def reading_from(
    column: list[str] | None,
    *,
    time_format: str | None,
    estimated: bool,
    track_layer: str | None,
    limit: list[str] | None,
) -> "TrackReading":
    """How tracks are read, from the options above.

    Raises
    ------
    CallError
        Where a column's text cannot be understood.
    """
    from gladebook.jobs.application import TrackReading

    return TrackReading(
        columns_from(column), time_format, allow_estimated=estimated, layer=track_layer, limits=limits_of(limit)
    )


def columns_from(texts: list[str] | None) -> dict[str, str] | None:
    """What columns hold and how they are headed, from ``--column``.

    Raises
    ------
    CallError
        Where one is no pair, or two say the same.
    """
    if not texts:
        return None
    found: dict[str, str] = {}
    for text in texts:
        what, equals, heading = text.partition("=")
        if not equals or not what.strip() or not heading.strip():
            raise CallError(f'--column: "{text[:60]}" is no pair; write it like lat=Y, or width_m=swath:in.')
        if what.strip() in found:
            raise CallError(f'--column: "{what.strip()[:30]}" is given twice. Give it once.')
        found[what.strip()] = heading.strip()
    return found
