"""``gladebook coverage``."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gladebook.cli import options as o
from gladebook.cli import reading as r
from gladebook.cli.measure import ground_files, one_form
from gladebook.cli.show import answer, say, working
from gladebook.cli.sprayer import SprayerWords, sprayer_from, sprayer_words
from gladebook.errors import CallError
from gladebook.units import parse_quantity

if TYPE_CHECKING:
    from gladebook.jobs.application import Application, Drives, Spray

__all__ = ["coverage", "drives_from", "ground_notices", "spray_used"]

_MOST_STRIPS = 20  # on a screen

Shapes = Annotated[
    Path | None,
    typer.Option(
        "--shapes", metavar="FILE", help="Also write treated, missed and other ground as GeoJSON shapes here."
    ),
]


def coverage(
    boundaries: o.Boundaries,
    tracks: o.Tracks,
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
    shapes: Shapes = None,
    as_json: o.AsJson = False,
    as_csv: o.AsCsv = False,
    out: o.Out = None,
) -> None:
    """What one application did: treated, missed, overlap, outside and unknown ground.

    With --used and --per-acre, the gallons check stands first.
    """
    one_form(as_json=as_json, as_csv=as_csv)
    spray = spray_used(used, per_acre=per_acre)
    sprayer = sprayer_words(locals())
    drives = drives_from(tracks, sprayer=sprayer, gap=gap, hdop=hdop, since=since, until=until, time_zone=time_zone)
    reading = r.reading_from(column, time_format=time_format, estimated=estimated, track_layer=track_layer, limit=limit)
    drives = replace(drives, reading=reading)
    files = ground_files(
        boundaries,
        obstacles=obstacles,
        check_strip=check_strip,
        setback=setback,
        name_field=name_field,
        crs=crs,
        layer=layer,
        repair=repair,
        limit=limit,
    )
    from gladebook.jobs.application import check_application

    with working() as tell:
        done = check_application(files, drives, spray=spray, progress=tell)
    _show(done, as_json=as_json, as_csv=as_csv, out=out)
    if shapes is not None:
        _write_shapes(done, shapes)


def _write_shapes(done: "Application", shapes: Path) -> None:
    from gladebook.io.write import as_geojson, write_text
    from gladebook.view.shapes import coverage_features

    write_text(shapes, as_geojson(coverage_features(done.coverage)))
    say([f"Written: {shapes}"])


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


def drives_from(
    tracks: list[Path],
    *,
    sprayer: SprayerWords,
    gap: str | None,
    hdop: str | None,
    since: str | None,
    until: str | None,
    time_zone: str | None,
) -> "Drives":
    """The tracks and how they are read, from their options.

    Raises
    ------
    CallError
        Where an amount, a time or a zone cannot be read.
    """
    start, end = o.moment(since, what="--from"), o.moment(until, what="--until")
    there = o.zone(time_zone)
    longest = None if gap is None else parse_quantity(gap, kind=("time", "length"), what="--gap")
    if longest is not None and longest.si <= 0:
        raise CallError(f'--gap: "{gap}" must be above zero.')
    hdop_above = None if hdop is None else o.plain_number(hdop, what="--hdop", like="10")
    boom, one_sided = sprayer_from(sprayer)
    from gladebook.jobs.application import Drives, Times
    from gladebook.passes.path import CutRules

    rules = CutRules()
    if longest is not None:
        rules = replace(rules, gap_s=longest.si) if longest.kind == "time" else replace(rules, gap_m=longest.si)
    if hdop_above is not None:
        rules = replace(rules, hdop_above=hdop_above)
    times = Times(start=start, end=end, zone=there)
    return Drives(tuple(tracks), sprayer=boom, one_sided=one_sided, rules=rules, times=times)


def _show(done: "Application", *, as_json: bool, as_csv: bool, out: Path | None) -> None:
    from gladebook.io.write import as_csv as csv_text
    from gladebook.io.write import as_json as json_text
    from gladebook.spraying.cautions import CAUTIONS
    from gladebook.view.documents import coverage_document
    from gladebook.view.figures import area
    from gladebook.view.tables import coverage_rows, coverage_table
    from gladebook.view.words import CANNOT_SEE, coverage_words, strip_words

    found = done.coverage
    notices = ground_notices(done)
    if as_json:
        text = json_text(coverage_document(found, gallons=done.gallons, notices=notices))
    elif as_csv:
        text = csv_text(*coverage_rows(found))
    else:
        strips = [strip_words(s, number=i) for i, s in enumerate(found.strips[:_MOST_STRIPS], start=1)]
        smaller = found.strips[_MOST_STRIPS:]
        if smaller:
            strips.append(f"{len(smaller)} more, {area(sum(s.area_m2 for s in smaller))} together; --json lists all.")
        text = "\n".join(
            [
                *coverage_words(found, gallons_check=done.gallons),
                "",
                coverage_table(found),
                *(["Missed strips, largest first:", *strips, ""] if strips else []),
            ]
        )
    answer(text, out=out)
    say(found.assumptions, title="Assumed")
    say([*notices, *found.notices], title="Notices")
    say([CANNOT_SEE], title="What this cannot see")
    if done.gallons is not None:
        say(CAUTIONS, title="Cautions")


def ground_notices(done: "Application") -> tuple[str, ...]:
    """Notices of the plots and the job, but for the one about ranges, which are not shown here."""
    from gladebook.view.words import without_ranges

    return (*without_ranges(done.measured.notices), *done.notices)
