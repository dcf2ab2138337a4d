"""``gladebook property``: the file that keeps a season."""

from pathlib import Path
from typing import Annotated, Any

import typer

from gladebook.cli import options as o
from gladebook.cli import reading as r
from gladebook.cli.season import add_to as add_season_to
from gladebook.cli.show import answer, say, working
from gladebook.cli.skips import seen_of
from gladebook.cli.sprayer import sprayer_from, sprayer_words
from gladebook.errors import CallError

__all__ = ["app"]

app = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    help="One file that keeps your plots, applications and skips from season to season. It is a GeoPackage, which any "
    "map program opens. Every change can be undone.",
)

File = Annotated[Path, typer.Argument(metavar="FILE", help="The property file, like home.gpkg.", show_default=False)]
Kind = Annotated[
    str | None,
    typer.Option("--kind", metavar="KIND", help='What it is, where several things have that name: "plot", "obstacle".'),
]
Boundaries = Annotated[
    Path | None,
    typer.Argument(
        metavar="BOUNDARIES",
        help="Plots to add: GeoJSON, GeoPackage, shapefile (zipped too), KML, or a GPX walk.",
        show_default=False,
    ),
]
Since = Annotated[
    str | None,
    typer.Option("--since", metavar="DAY", help="First day of these boundaries, like 2026-03-01. Today if not given."),
]


@app.command("new", short_help="Make an empty property file.")
def new(
    file: File,
    name: Annotated[
        str | None, typer.Option("--name", metavar="NAME", help="The property's name; the file's if not given.")
    ] = None,
) -> None:
    """Make an empty property file."""
    from gladebook.jobs.property import make_property

    _answer(make_property(file, name=name))


@app.command("show", short_help="What it keeps, and what undo would take back.")
def show(
    file: File,
    name: Annotated[
        str | None,
        typer.Argument(metavar="[NAME]", help="Show this plot, application or mix in full.", show_default=False),
    ] = None,
    kind: Kind = None,
    as_json: o.AsJson = False,
    out: o.Out = None,
) -> None:
    """What a property keeps: plots with acres, applications, skips, sprayers, and the last changes.

    With the name of a plot: its boundaries of former days. Of an application: its missed strips, and what became of
    them. Of a mix: the mix.
    """
    if name is not None:
        _show_one(file, name, kind=kind, as_json=as_json, out=out)
        return
    from gladebook.io.write import as_json as json_text
    from gladebook.jobs.property import holding_of
    from gladebook.view.property import holding_document, holding_words

    with working() as tell:
        holding = holding_of(file, progress=tell)
    text = json_text(holding_document(holding)) if as_json else "\n".join([*holding_words(holding), ""])
    answer(text, out=out)
    say(holding.notices, title="Notices")


def _show_one(file: Path, name: str, *, kind: str | None, as_json: bool, out: Path | None) -> None:
    from gladebook.io.write import as_json as json_text
    from gladebook.jobs.property import show_thing
    from gladebook.view.thing import thing_document, thing_words

    shown = show_thing(file, name, kind=kind)
    text = json_text(thing_document(shown)) if as_json else "\n".join([*thing_words(shown, file=file.name), ""])
    answer(text, out=out)
    if shown.kind == "mix" and (as_json or out is not None):
        from gladebook.spraying.cautions import CAUTIONS

        say(CAUTIONS, title="Cautions")


@app.command("add", short_help="Add plots, obstacles, check strips, a sprayer; or draw plots anew.")
def add(
    file: File,
    boundaries: Boundaries = None,
    name: Annotated[
        str | None, typer.Option("--name", metavar="NAME", help="What to call the plot, where the file holds only one.")
    ] = None,
    replace: Annotated[
        bool,
        typer.Option(
            "--replace", help="Draw plots of the same name anew. Their old boundaries are kept for earlier days."
        ),
    ] = False,
    since: Since = None,
    obstacles: Annotated[
        Path | None,
        typer.Option("--obstacles", metavar="FILE", help="File of ponds, rocks and trees to take out of all plots."),
    ] = None,
    check_strip: Annotated[
        Path | None,
        typer.Option("--check-strip", metavar="FILE", help="File of ground that you leave unsprayed on purpose."),
    ] = None,
    sprayer: Annotated[
        str | None,
        typer.Option(
            "--sprayer", metavar="NAME", help="A sprayer's name; say what it is with --boom and the options below."
        ),
    ] = None,
    boom: o.Boom = None,
    sections: o.Sections = None,
    one_sided: o.OneSided = None,
    behind: o.Behind = None,
    ahead: o.Ahead = None,
    right: o.Right = None,
    left: o.Left = None,
    on_delay: o.OnDelay = None,
    off_delay: o.OffDelay = None,
    name_field: o.NameField = None,
    crs: o.Crs = None,
    layer: o.Layer = None,
    repair: o.Repair = False,
    limit: r.Limit = None,
) -> None:
    """Add plots, obstacles, check strips or a sprayer. All of one call is one change, undone together."""
    options: dict[str, Any] = dict(locals())
    _refuse_loose(options)
    from gladebook.jobs.adding import Adding, add_to

    adding = Adding(
        plots=boundaries,
        obstacles=obstacles,
        left=check_strip,
        sprayer=_sprayer(options),
        limits=r.limits_of(limit),
        since=o.day_text(since, what="--since"),
        **{option: options[option] for option in ("name", "name_field", "crs", "layer", "repair", "replace")},
    )
    with working() as tell:
        added = add_to(file, adding, progress=tell)
    _answer(added.words)
    say(added.notices, title="Notices")


def _refuse_loose(options: dict[str, Any]) -> None:
    """Refuse options whose subject is missing."""
    if all(options[what] is None for what in ("boundaries", "obstacles", "check_strip", "sprayer")):
        raise CallError("Say what to add: a file of plots, --obstacles, --check-strip or --sprayer.")
    if options["boundaries"] is None:
        for option in ("name", "since", "name_field", "layer"):
            if options[option] is not None:
                raise CallError(
                    f"--{option.replace('_', '-')}: goes with a file of plots. Give the file, or leave it out."
                )
    if options["sprayer"] is None and sprayer_words(options).any_given:
        raise CallError('--boom and all else about the sprayer need its name: --sprayer "Four-wheeler".')
    if options["sprayer"] is not None and not sprayer_words(options).any_given:
        raise CallError('--sprayer: say what it is, like --boom "12 ft".')


def _sprayer(options: dict[str, Any]) -> Any:
    """Name, sprayer and side, from the options; None where no sprayer is named."""
    if options["sprayer"] is None:
        return None
    found, side = sprayer_from(sprayer_words(options))
    from gladebook.jobs.named import name_from

    return name_from(options["sprayer"], what="--sprayer"), found, side


add_season_to(app)


@app.command("export", short_help="Write it for other programs, and say what they cannot hold.")
def export(
    file: File,
    out: Annotated[Path, typer.Argument(metavar="OUT", help="Folder to make for the files.", show_default=False)],
    form: Annotated[
        str,
        typer.Option(
            "--format", metavar="FORMAT", help="geojson, gpkg, shapefile, kml, gpx or csv.", show_default=True
        ),
    ] = "geojson",
) -> None:
    """Write all that a property keeps for other programs, into a new folder."""
    from gladebook.io.property.export import export_property

    lost = export_property(file, out, format=form)
    _answer([f"Written: {out}"])
    say(lost, title="What this format cannot hold")


@app.command("rename", short_help="Give a plot, or anything else, another name.")
def rename(
    file: File,
    old: Annotated[str, typer.Argument(metavar="OLD", help="Its name now.", show_default=False)],
    new_name: Annotated[str, typer.Argument(metavar="NEW", help="Its new name.", show_default=False)],
    kind: Kind = None,
) -> None:
    """Give a plot, an application, a sprayer or anything else another name."""
    from gladebook.jobs.property import rename_thing

    _answer(rename_thing(file, old, new_name, kind=_kind(kind)))


@app.command("remove", short_help="Take a plot, or anything else, away.")
def remove(
    file: File,
    name: Annotated[str, typer.Argument(metavar="NAME", help="What to take away.", show_default=False)],
    kind: Kind = None,
    since: Annotated[
        str | None,
        typer.Option("--since", metavar="DAY", help="First day without the plot, like 2026-03-01. Today if not given."),
    ] = None,
) -> None:
    """Take a plot, an application, a sprayer or anything else away. Old boundaries of a plot are kept."""
    from gladebook.jobs.property import remove_thing

    _answer(remove_thing(file, name, kind=_kind(kind), day=o.day_text(since, what="--since")))


@app.command("mark", short_help="Say what became of missed strips: seen, touched up, left.")
def mark(
    file: File,
    strips: Annotated[
        str, typer.Argument(metavar="NUMBERS", help='Numbers of the strips, like "3,5".', show_default=False)
    ],
    state: Annotated[
        str,
        typer.Option(
            "--as",
            metavar="STATE",
            help='"seen": you went, and it is real. "touched up": you sprayed it. "left": you leave it as it is.',
            show_default=False,
        ),
    ],
    application: o.Application = None,
) -> None:
    """Say what became of missed strips: you saw them, touched them up, or leave them. The list is in: property show."""
    numbers = seen_of(strips, what="NUMBERS")
    from gladebook.jobs.strips import mark_strips

    _answer(mark_strips(file, numbers, state=state, application=application))


@app.command("check", short_help="Is the file whole? And how to mend it.")
def check(
    file: File,
    mend: Annotated[bool, typer.Option("--mend", help="Build the spatial indexes anew from the shapes.")] = False,
) -> None:
    """Is the file whole? Looks at every page, reference, shape and index. Exit code 3 where something is wrong."""
    from gladebook.jobs.property import check_file

    faults, done = check_file(file, mend=mend)
    _answer([*done, *(faults or [f"{file.name} is whole: pages, references, shapes and indexes were looked at."])])
    if faults:
        raise typer.Exit(3)


@app.command("backup", short_help="Write all of it into a new file.")
def backup(
    file: File,
    out: Annotated[
        Path | None,
        typer.Argument(metavar="[OUT]", help="The new file; beside the old one if not given.", show_default=False),
    ] = None,
) -> None:
    """Write all of a property into a new file, with the day in its name. No file is ever written over."""
    from gladebook.jobs.property import back_up

    _answer(back_up(file, out))


@app.command("undo", short_help="Take the last change back.")
def undo(file: File) -> None:
    """Take the last change back, and say which. Once more takes back the one before."""
    from gladebook.jobs.property import undo_change

    _answer(undo_change(file))


def _kind(text: str | None) -> str | None:
    if text is None:
        return None
    from gladebook.jobs.named import KINDS

    kind = text.strip().lower()
    if kind not in KINDS:
        raise CallError(f'--kind: "{text[:40]}" is none of {", ".join(KINDS)}.')
    return kind


def _answer(sentences: Any) -> None:
    answer("".join(f"{sentence}\n" for sentence in sentences), out=None)
