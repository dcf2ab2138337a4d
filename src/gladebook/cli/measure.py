"""``gladebook measure``."""

from typing import TYPE_CHECKING

from gladebook.cli import options as o
from gladebook.cli import reading as r
from gladebook.cli.show import answer, say, working
from gladebook.errors import CallError

if TYPE_CHECKING:
    from pathlib import Path

    from gladebook.jobs.application import GroundFiles

__all__ = ["ground_files", "measure", "one_form", "room_to_save"]


def measure(
    boundaries: o.Boundaries,
    accuracy: o.Accuracy = None,
    walk_length: o.WalkLength = None,
    obstacles: o.Obstacles = None,
    setback: o.Setback = None,
    name_field: o.NameField = None,
    crs: o.Crs = None,
    layer: o.Layer = None,
    repair: o.Repair = False,
    limit: r.Limit = None,
    plot: o.PlotNames = None,
    day: o.Day = None,
    save: o.Save = None,
    as_json: o.AsJson = False,
    as_csv: o.AsCsv = False,
    out: o.Out = None,
) -> None:
    """True acres of every plot, with a range from how far off the corners may be."""
    one_form(as_json=as_json, as_csv=as_csv)
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
        limit=limit,
        plot=plot,
        day=day,
    )
    room_to_save(boundaries, "records", save=save)
    from gladebook.io.write import as_csv as csv_text
    from gladebook.io.write import as_json as json_text
    from gladebook.jobs.application import measure_ground
    from gladebook.view.documents import measure_document
    from gladebook.view.tables import measure_rows, measure_table
    from gladebook.view.words import measure_words

    with working() as tell:
        measured = measure_ground(files, progress=tell)
    words = "\n".join([*measure_words(measured), "", measure_table(measured)])
    if as_json:
        text = json_text(measure_document(measured))
    elif as_csv:
        text = csv_text(*measure_rows(measured))
    else:
        text = words
    answer(text, out=out)
    say(measured.notices, title="Notices")
    if save is not None:
        from gladebook.jobs.keep import keep_answer
        from gladebook.jobs.property import today

        content = {"kind": "acres", **measure_document(measured), "words": words.splitlines()}
        said = keep_answer(boundaries, "records", name=save, content=content, day=files.day or today())
        say([said], title="Kept")


def ground_files(
    boundaries: "Path",
    *,
    accuracy: str | None = None,
    walk_length: str | None = None,
    obstacles: "Path | None" = None,
    check_strip: "Path | None" = None,
    setback: str | None = None,
    name_field: str | None = None,
    crs: str | None = None,
    layer: str | None = None,
    repair: bool = False,
    limit: list[str] | None = None,
    plot: list[str] | None = None,
    day: str | None = None,
) -> "GroundFiles":
    """Turn the options about plots into what the jobs take.

    Raises
    ------
    CallError
        Where an amount cannot be read.
    """
    sd_m = o.length_m(accuracy, what="--accuracy")
    walk_m = o.length_m(walk_length, what="--walk-length")
    setback_m = o.length_m(setback, what="--setback") or 0.0
    from gladebook.jobs.application import GroundFiles
    from gladebook.plots.sureness import PositionError

    error = None
    if sd_m is not None or walk_m is not None:
        usual = PositionError()
        error = PositionError(
            sd_m=usual.sd_m if sd_m is None else sd_m, walk_m=usual.walk_m if walk_m is None else walk_m
        )
    return GroundFiles(
        boundaries=boundaries,
        obstacles=obstacles,
        left=check_strip,
        setback_m=setback_m,
        error=error,
        name_field=name_field,
        crs=crs,
        layer=layer,
        repair=repair,
        limits=r.limits_of(limit),
        pick=tuple(plot or ()),
        day=o.day_text(day, what="--day"),
    )


def room_to_save(file: "Path | None", table: str, *, save: str | None) -> None:
    """Refuse, before long work begins, an answer that could not be kept after it.

    Raises
    ------
    CallError
        Where there is no property file to keep it in.
    PropertyError
        Where the name is taken, or the file may not be written.
    """
    if save is None:
        return
    from gladebook.io.kinds import name_of, property_at

    if file is None or not property_at(file):
        is_none = f"{name_of(file)} is none" if file is not None else "none was given"
        raise CallError(
            f"--save: keeps the answer in a property file, and {is_none}. Make one with: gladebook property new "
            "home.gpkg, add your plots to it, and give it in place of the plots' file."
        )
    from gladebook.jobs.keep import check_room

    check_room(file, table, name=save)


def one_form(*, as_json: bool, as_csv: bool) -> None:
    """Refuse two forms of one answer.

    Raises
    ------
    CallError
        Where both are asked for.
    """
    if as_json and as_csv:
        raise CallError("--json and --csv: choose one of them.")
