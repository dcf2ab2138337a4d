"""``gladebook map``."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gladebook.cli import options as o
from gladebook.cli import reading as r
from gladebook.cli import skips as k
from gladebook.cli.coverage import drives_from, ground_from, ground_notices, spray_used
from gladebook.cli.show import say, working
from gladebook.cli.sprayer import sprayer_words
from gladebook.errors import CallError

if TYPE_CHECKING:
    from gladebook.jobs.application import Drives, GroundFiles, Spray

__all__ = ["draw"]

Tracks = Annotated[
    list[Path],
    typer.Argument(
        metavar="TRACK",
        help="Tracks of an application; without any, the plots alone.",
        show_default=False,
    ),
]
Title = Annotated[str, typer.Option("--title", metavar="NAME", help="What stands at the top of the page.")]
Out = Annotated[Path, typer.Option("--out", "-o", metavar="FILE", help="The page to write.", callback=o.spare_property)]


def draw(
    boundaries: o.Boundaries,
    tracks: Tracks = [],  # noqa: B006 - typer copies it
    out: Out = Path("map.html"),
    title: Title = "",
    sprayer: o.SprayerName = None,
    boom: o.Boom = None,
    sections: o.Sections = None,
    one_sided: o.OneSided = None,
    behind: o.Behind = None,
    ahead: o.Ahead = None,
    right: o.Right = None,
    left: o.Left = None,
    on_delay: o.OnDelay = None,
    off_delay: o.OffDelay = None,
    used: o.Used = None,
    per_acre: o.PerAcre = None,
    gap: o.Gap = None,
    hdop: o.Hdop = None,
    since: o.From = None,
    until: o.Until = None,
    time_zone: o.TimeZone = None,
    column: r.Column = None,
    time_format: r.TimeFormat = None,
    estimated: r.Estimated = False,
    track_layer: r.TrackLayer = None,
    limit: r.Limit = None,
    obstacles: o.Obstacles = None,
    check_strip: o.CheckStrip = None,
    setback: o.Setback = None,
    accuracy: o.Accuracy = None,
    walk_length: o.WalkLength = None,
    name_field: o.NameField = None,
    crs: o.Crs = None,
    layer: o.Layer = None,
    repair: o.Repair = False,
    plot: o.PlotNames = None,
    day: o.Day = None,
    error: k.Error = None,
    least_length: k.LeastLength = None,
    least_width: k.LeastWidth = None,
    reentry: k.Reentry = None,
) -> None:
    """One page with the map, which opens in any browser with no internet."""
    options = dict(locals())
    spray = spray_used(used, per_acre=per_acre)
    drives, files = drives_from(options), ground_from(options)
    if not tracks:
        given = (sprayer, used, gap, hdop, since, until, check_strip, error, least_length, least_width, reentry)
        _refuse_drives(given=sprayer_words(options).any_given or any(v is not None for v in given))
    page, notices = _page(files, drives if tracks else None, spray=spray, title=title)
    _write(out, page, notices=notices)


def _write(out: Path, page: str, *, notices: Sequence[str]) -> None:
    from gladebook.io.write import write_text

    write_text(out, page)
    say(notices, title="Notices")
    say([f"Written: {out}"])


def _refuse_drives(*, given: bool) -> None:
    if given:
        raise CallError(
            "--boom and all else about the sprayer, --used, --gap, --hdop, --from, --until, --check-strip, --error, "
            "--least-length, --least-width and --reentry go with a track. Give the track as well, or leave them out."
        )


def _page(
    files: "GroundFiles", drives: "Drives | None", *, spray: "Spray | None", title: str
) -> tuple[str, Sequence[str]]:
    """The page, and what the reader of the terminal should know."""
    from gladebook.jobs.application import check_application, measure_ground
    from gladebook.view.page import map_page

    with working() as tell:
        if drives is None:
            measured = measure_ground(files, progress=tell)
            return map_page(measured, title=title or "The plots"), measured.notices
        done = check_application(files, drives, spray=spray, progress=tell)
        page = map_page(
            done.measured,
            title=title or "How the application went",
            coverage=done.coverage,
            gallons=done.gallons,
            notices=done.notices,
            reentry=done.reentry,
        )
    return page, [*ground_notices(done), *done.coverage.assumptions, *done.coverage.notices]
