"""``gladebook property``, for the season: labels, what grows, what was sprayed."""

from datetime import date, datetime
from pathlib import Path
from typing import Annotated, Any

import typer

from gladebook.cli import options as o
from gladebook.cli.show import answer
from gladebook.errors import CallError
from gladebook.units import Quantity

__all__ = ["add_to"]

File = Annotated[Path, typer.Argument(metavar="FILE", help="The property file, like home.gpkg.", show_default=False)]
Text = str | None


def _say(sentences: list[str]) -> None:
    answer("".join(f"{sentence}\n" for sentence in sentences), out=None)


def _day(text: str | None, *, what: str) -> date:
    from gladebook.jobs.property import today

    return date.fromisoformat(o.day_text(text, what=what) or today())


def labels(
    file: File,
    sheet: Annotated[Path, typer.Argument(metavar="SHEET", help="The sheet, CSV.", show_default=False)],
    county: Annotated[
        bool, typer.Option("--county", help="It is the county extension office's list; your own labels win over it.")
    ] = False,
    replace: Annotated[bool, typer.Option("--replace", help="Put these in place of labels of the same names.")] = False,
) -> None:
    """Add what you copied off your labels. An empty sheet comes from: gladebook property label-sheet labels.csv."""
    from gladebook.jobs.labels import add_labels
    from gladebook.jobs.property import today

    _say(add_labels(file, sheet, county=county, replace=replace, day=today()))


def label_sheet(
    out: Annotated[Path, typer.Argument(metavar="OUT", help="The sheet to write.", show_default=False)],
) -> None:
    """Write an empty sheet for label values, and say what each column is for. Leave empty what you do not know."""
    from gladebook.errors import OutputError
    from gladebook.io.labels import label_sheet as sheet
    from gladebook.io.write import write_text
    from gladebook.products.label_text import COLUMNS

    if out.exists():
        raise OutputError(f"{out.name}: there is such a file already, and nothing is written over it.")
    write_text(out, sheet())
    _say([f"Written: {out}", *(f"  {name}: {means}" for name, means in COLUMNS.items())])


def grow(
    file: File,
    plot: Annotated[str, typer.Argument(metavar="PLOT", help="The plot.", show_default=False)],
    forage: Annotated[Text, typer.Option("--forage", metavar="NAMES", help='Like "white clover, oat".')] = None,
    planted: Annotated[Text, typer.Option("--planted", metavar="DAY", help="Like 2026-09-20.")] = None,
    stage: Annotated[Text, typer.Option("--stage", metavar="WORDS", help='Like "3 trifoliate leaves".')] = None,
    next_crop: Annotated[Text, typer.Option("--next-crop", metavar="NAMES", help="What comes next.")] = None,
    plant_on: Annotated[Text, typer.Option("--plant-on", metavar="DAY", help="When that is to be planted.")] = None,
    disk_on: Annotated[Text, typer.Option("--disk-on", metavar="DAY", help="When the plot is to be disked.")] = None,
    hunt: Annotated[
        list[str], typer.Option("--hunt", metavar="DAY", help="A day on which you mean to hunt there; once for each.")
    ] = [],  # noqa: B006 - typer copies it
    clear: Annotated[bool, typer.Option("--clear", help="Forget first what was entered before.")] = False,
) -> None:
    """Say what grows on a plot and what is to come. What you leave out stays as it was."""
    from gladebook.jobs.growing import set_growing
    from gladebook.products.forage import forages_from

    changes: dict[str, Any] = {}
    for name, text in (("forages", forage), ("next_crop", next_crop)):
        if text is not None:
            what = "--forage" if name == "forages" else "--next-crop"
            changes[name] = ", ".join(
                f.name if _known(f.name) else f"{f.name} ({f.family})" for f in forages_from(text, what=what)
            )
    for name, text in (("planted", planted), ("plant_on", plant_on), ("disk_on", disk_on)):
        if text is not None:
            changes[name] = o.day_text(text, what=f"--{name.replace('_', '-')}")
    if stage is not None:
        changes["stage"] = " ".join(stage.split())[:200]
    if hunt:
        changes["hunts"] = sorted({o.day_text(text, what="--hunt") for text in hunt})
    _say(set_growing(file, plot, changes=changes, clear=clear))


def _known(name: str) -> bool:
    from gladebook.products.forage import FORAGES

    return name in FORAGES


def products_from(texts: list[str], *, what: str = "--product") -> dict[str, Quantity | None]:
    """Names, each with its rate where one is given: ``Grass spray=8 fl oz/ac``.

    Raises
    ------
    CallError
        Where one is empty or given twice, or a rate cannot be read.
    """
    from gladebook.spraying.mix import RATE_KINDS
    from gladebook.units import parse_quantity

    found: dict[str, Quantity | None] = {}
    for text in texts:
        name, equals, rate = text.partition("=")
        name = " ".join(name.split())
        if not name or name.casefold() in (n.casefold() for n in found):
            raise CallError(f'{what}: "{text[:60]}" names no product, or one that is given twice.')
        found[name] = parse_quantity(rate, kind=RATE_KINDS, what=f"{what} {name}") if equals else None
        amount = found[name]
        if amount is not None and amount.si <= 0:
            raise CallError(f'{what} {name}: "{rate.strip()[:40]}" must be above zero.')
    return found


def sprayed(
    file: File,
    plot: Annotated[list[str], typer.Option("--plot", metavar="NAME", help="A plot; once for each.")] = [],  # noqa: B006 - typer copies it
    product: Annotated[
        list[str], typer.Option("--product", metavar="NAME=RATE", help='Like "Grass spray=8 fl oz/ac"; once for each.')
    ] = [],  # noqa: B006 - typer copies it
    day: Annotated[Text, typer.Option("--day", metavar="DAY", help="When; today if not given.")] = None,
    ended: Annotated[
        Text,
        typer.Option("--ended", metavar="TIME", help='When the spraying ended, like "16:30": re-entry runs from it.'),
    ] = None,
) -> None:
    """Enter what was sprayed where. Season maximum, interval, plant-back and re-entry are reckoned from it."""
    from gladebook.jobs.growing import add_sprayed

    on = _day(day, what="--day")
    until = o.moment(ended, what="--ended")
    if until is not None and not isinstance(until, datetime):
        until = datetime.combine(on, until)
    _say(add_sprayed(file, plot, products=products_from(product), day=on, ended=until))


def cleaned(
    file: File,
    day: Annotated[Text, typer.Option("--day", metavar="DAY", help="When; today if not given.")] = None,
) -> None:
    """Enter that you cleaned the tank as the label of what was last in it says."""
    from gladebook.jobs.growing import mark_cleaned

    _say(mark_cleaned(file, day=_day(day, what="--day")))


def listed(
    file: File,
    product: Annotated[str, typer.Argument(metavar="PRODUCT", help="The product.", show_default=False)],
    crop: Annotated[
        Text, typer.Option("--crop", metavar="NAMES", help='Like "white clover, oat"; bare ground if not given.')
    ] = None,
    yes: Annotated[
        bool | None, typer.Option("--yes/--no", help="Does your label list this site and these crops?")
    ] = None,
) -> None:
    """Keep what you found on your label: whether it lists this site (a wildlife food plot) and these crops."""
    from gladebook.jobs.labels import BARE, keep_listed
    from gladebook.jobs.property import today
    from gladebook.products.forage import forages_from

    if yes is None:
        raise CallError("Read the label first, then say --yes or --no.")
    bare = crop is None or " ".join(crop.lower().split()) == BARE
    crops = (BARE,) if bare else tuple(f.name for f in forages_from(crop or "", what="--crop"))
    _say([keep_listed(file, product, crops=crops, answer=yes, day=today())])


def add_to(app: typer.Typer) -> None:
    """Put these commands under ``gladebook property``."""
    for name, command, short in (
        ("labels", labels, "Add your labels, or the county's list, from a sheet."),
        ("label-sheet", label_sheet, "An empty sheet to copy your labels into."),
        ("grow", grow, "What grows on a plot, and what comes next."),
        ("sprayed", sprayed, "What was sprayed where, and when."),
        ("cleaned", cleaned, "The tank was cleaned, by its label."),
        ("listed", listed, "Whether your label lists this site and crop."),
    ):
        app.command(name, short_help=short)(command)
