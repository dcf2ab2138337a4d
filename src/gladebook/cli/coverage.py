"""``gladebook coverage``."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gladebook.cli import options as o
from gladebook.cli import reading as r
from gladebook.cli import skips as k
from gladebook.cli.measure import ground_files, one_form, room_to_save
from gladebook.cli.show import answer, say, working
from gladebook.cli.sprayer import sprayer_with_kept
from gladebook.errors import CallError
from gladebook.units import parse_quantity

if TYPE_CHECKING:
    from gladebook.jobs.application import Application, Drives, GroundFiles, Spray
    from gladebook.spraying.touch_up import TouchUp

__all__ = ["coverage", "drives_from", "ground_from", "ground_notices", "spray_used"]

_READING = ("column", "time_format", "estimated", "track_layer", "limit")
_WORTH = ("error", "least_length", "least_width", "reentry")
_GROUND = (
    "accuracy",
    "walk_length",
    "obstacles",
    "check_strip",
    "setback",
    "name_field",
    "crs",
    "layer",
    "repair",
    "limit",
    "plot",
    "day",
)

Shapes = Annotated[
    Path | None,
    typer.Option(
        "--shapes",
        metavar="FILE",
        help="Also write treated, missed and other ground as GeoJSON shapes here.",
        callback=o.spare_property,
    ),
]


def coverage(
    boundaries: o.Boundaries,
    tracks: o.Tracks,
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
    seen: k.Seen = None,
    rate: k.Rate = None,
    save: o.Save = None,
    shapes: Shapes = None,
    as_json: o.AsJson = False,
    as_csv: o.AsCsv = False,
    out: o.Out = None,
) -> None:
    """What one application did: treated, missed, overlap, outside and unknown ground.

    Missed strips are told apart: go look; can't tell; boom off by the record. With --used and --per-acre, the
    gallons check stands first. With a property file, its obstacles and check strips count by themselves, plots
    are judged by their boundaries of that day, and --save keeps the answer.
    """
    options = dict(locals())
    one_form(as_json=as_json, as_csv=as_csv)
    k.check_seen(seen=seen, rate=rate, as_csv=as_csv)
    spray = spray_used(used, per_acre=per_acre)
    drives, files = drives_from(options), ground_from(options)
    room_to_save(boundaries, "applications", save=save)
    from gladebook.jobs.application import check_application

    with working() as tell:
        done = check_application(files, drives, spray=spray, progress=tell)
    touch_up = k.touch_up_of(done.coverage, seen=seen, rate=rate)
    _show(done, touch_up=touch_up, as_json=as_json, as_csv=as_csv, out=out)
    _write_shapes(done, shapes)
    _keep(done, files, name=save, touch_up=touch_up, drives=drives)


def _write_shapes(done: "Application", shapes: Path | None) -> None:
    if shapes is None:
        return
    from gladebook.io.write import as_geojson, write_text
    from gladebook.view.shapes import coverage_features

    write_text(shapes, as_geojson(coverage_features(done.coverage)))
    say([f"Written: {shapes}"])


def _document(done: "Application", touch_up: "TouchUp | None") -> dict[str, Any]:
    from gladebook.view.documents import coverage_document

    return coverage_document(
        done.coverage, gallons=done.gallons, notices=ground_notices(done), reentry=done.reentry, touch_up=touch_up
    )


def _keep(
    done: "Application", files: "GroundFiles", *, name: str | None, touch_up: "TouchUp | None", drives: "Drives"
) -> None:
    if name is None:
        return
    from gladebook.jobs.keep import keep_application

    file = files.boundaries
    seen = [strip.number for strip in touch_up.strips] if touch_up is not None else []
    said = [keep_application(file, done, name=name, answer=_document(done, touch_up), seen=seen)]
    in_utc = not files.day and drives.times.zone is None and any(track.clock == "utc" for track in done.tracks)
    if in_utc and done.day:
        said.append("That is the day in UTC. For the day where you are, give --time-zone, or --day itself.")
    if done.coverage.strips:
        said.append(
            f"When you have seen strip 1, say so: gladebook property mark {file.name} 1 --as seen --application "
            f'"{name}"'
        )
    say(said, title="Kept")


def spray_used(used: str | None, *, per_acre: str | None) -> "Spray | None":
    """What the gallons check needs, from its two options.

    Raises
    ------
    CallError
        Where only one of them is given.
    """
    if used is None and per_acre is None:
        return None
    if used is None or per_acre is None:
        raise CallError("--used and --per-acre: the gallons check needs both.")
    used_m3 = parse_quantity(used, kind="volume", what="--used").si
    rate_m = parse_quantity(per_acre, kind="volume per area", what="--per-acre").si
    if rate_m <= 0 or used_m3 < 0:
        raise CallError("--used and --per-acre: gallons cannot be below zero, and gallons per acre must be above it.")
    from gladebook.jobs.application import Spray

    return Spray(used_m3=used_m3, rate_m=rate_m)


def drives_from(options: Mapping[str, Any]) -> "Drives":
    """The tracks, how they are read and what is asked of them, from a command's options by their names.

    Raises
    ------
    CallError
        Where an amount, a time or a zone cannot be read.
    """
    start, end = o.moment(options["since"], what="--from"), o.moment(options["until"], what="--until")
    there = o.zone(options["time_zone"])
    gap, hdop = options["gap"], options["hdop"]
    longest = None if gap is None else parse_quantity(gap, kind=("time", "length"), what="--gap")
    if longest is not None and longest.si <= 0:
        raise CallError(f'--gap: "{gap}" must be above zero.')
    hdop_above = None if hdop is None else o.plain_number(hdop, what="--hdop", like="10")
    boom, one_sided = sprayer_with_kept(options)
    reading = r.reading_from(**{name: options[name] for name in _READING})
    from gladebook.jobs.application import Drives, Times
    from gladebook.passes.path import CutRules

    rules = CutRules()
    if longest is not None:
        rules = replace(rules, gap_s=longest.si) if longest.kind == "time" else replace(rules, gap_m=longest.si)
    if hdop_above is not None:
        rules = replace(rules, hdop_above=hdop_above)
    drives = Drives(
        tuple(options["tracks"]),
        sprayer=boom,
        one_sided=one_sided,
        rules=rules,
        times=Times(start=start, end=end, zone=there),
        reading=reading,
    )
    return k.worth_a_walk(drives, **{name: options[name] for name in _WORTH})


def ground_from(options: Mapping[str, Any]) -> "GroundFiles":
    """The plots, from a command's options by their names.

    Raises
    ------
    CallError
        Where an amount cannot be read, or an option does not go with another.
    """
    if options.get("save") is not None and options["layer"] is not None:
        raise CallError("--layer: with --save the plots are those that the property file keeps. Leave it out.")
    return ground_files(options["boundaries"], **{name: options[name] for name in _GROUND if name in options})


def _show(done: "Application", *, touch_up: "TouchUp | None", as_json: bool, as_csv: bool, out: Path | None) -> None:
    from gladebook.io.write import as_csv as csv_text
    from gladebook.io.write import as_json as json_text
    from gladebook.spraying.cautions import CAUTIONS
    from gladebook.view.skips import strip_lines, touch_up_lines
    from gladebook.view.tables import coverage_rows, coverage_table
    from gladebook.view.words import CANNOT_SEE, coverage_words

    found = done.coverage
    notices = ground_notices(done)
    if as_json:
        text = json_text(_document(done, touch_up))
    elif as_csv:
        text = csv_text(*coverage_rows(found))
    else:
        strips = strip_lines(found, reentry=done.reentry)
        text = "\n".join(
            [
                *coverage_words(found, gallons_check=done.gallons),
                "",
                *([*strips, ""] if strips else []),
                *([*touch_up_lines(touch_up), ""] if touch_up is not None else []),
                coverage_table(found),
            ]
        )
    answer(text, out=out)
    say(found.assumptions, title="Assumed")
    say([*notices, *found.notices], title="Notices")
    say([CANNOT_SEE], title="What this cannot see")
    if done.gallons is not None or (touch_up is not None and (as_json or out is not None)):
        say(CAUTIONS, title="Cautions")


def ground_notices(done: "Application") -> tuple[str, ...]:
    """Notices of the plots and the job, but for the one about ranges, which are not shown here."""
    from gladebook.view.words import without_ranges

    return (*without_ranges(done.measured.notices), *done.notices)
