"""``gladebook map``."""

from pathlib import Path
from typing import Annotated

import typer

from gladebook.cli import options as o
from gladebook.cli.coverage import drives_from, ground_notices, spray_used
from gladebook.cli.measure import ground_files
from gladebook.cli.show import say, working
from gladebook.errors import CallError

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
Out = Annotated[Path, typer.Option("--out", "-o", metavar="FILE", help="The page to write.")]


def draw(
    boundaries: o.Boundaries,
    tracks: Tracks = [],  # noqa: B006 - typer copies it
    out: Out = Path("map.html"),
    title: Title = "",
    boom: o.Boom = None,
    used: o.Used = None,
    per_acre: o.PerAcre = None,
    gap: o.Gap = None,
    since: o.From = None,
    until: o.Until = None,
    time_zone: o.TimeZone = None,
    obstacles: o.Obstacles = None,
    setback: o.Setback = None,
    accuracy: o.Accuracy = None,
    walk_length: o.WalkLength = None,
    name_field: o.NameField = None,
    crs: o.Crs = None,
    layer: o.Layer = None,
    repair: o.Repair = False,
) -> None:
    """One page with the map, which opens in any browser with no internet."""
    spray = spray_used(used, per_acre=per_acre)
    drives = drives_from(tracks, boom=boom, gap=gap, since=since, until=until, time_zone=time_zone)
    if not tracks and (boom or used or gap or since or until):
        raise CallError(
            "--boom, --used, --gap, --from and --until go with a track. Give the track as well, or leave them out."
        )
    files = ground_files(
        boundaries,
        accuracy=accuracy,
        walk_length=walk_length,
        obstacles=obstacles,
        setback=setback,
        name_field=name_field,
        crs=crs,
        layer=layer,
        repair=repair,
    )
    from gladebook.io.write import write_text
    from gladebook.jobs.application import check_application, measure_ground
    from gladebook.view.page import map_page

    with working() as tell:
        if tracks:
            done = check_application(files, drives, spray=spray, progress=tell)
            page = map_page(
                done.measured,
                title=title or "How the application went",
                coverage=done.coverage,
                gallons=done.gallons,
            )
            notices = [*ground_notices(done), *done.coverage.assumptions, *done.coverage.notices]
        else:
            measured = measure_ground(files, progress=tell)
            page = map_page(measured, title=title or "The plots")
            notices = list(measured.notices)
    write_text(out, page)
    say(notices, title="Notices")
    say([f"Written: {out}"])
