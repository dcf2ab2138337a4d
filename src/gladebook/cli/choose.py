"""``gladebook choose``."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gladebook.cli import options as o
from gladebook.cli.show import answer, say
from gladebook.errors import CallError
from gladebook.units import parse_quantity

if TYPE_CHECKING:
    from gladebook.products.ingredient import Region
    from gladebook.season.choose import Choice

__all__ = ["choose"]

Text = str | None


def choose(
    file: Annotated[
        Path | None, typer.Argument(metavar="[FILE]", help="The property file.", show_default=False)
    ] = None,
    plot: Annotated[str, typer.Option("--plot", metavar="NAME", help="Which plot of the property.")] = "",
    weed: Annotated[Text, typer.Option("--weed", metavar="NAME", help='What to kill, like "annual ryegrass".')] = None,
    weed_height: Annotated[Text, typer.Option("--weed-height", metavar="AMOUNT", help='Like "4 in".')] = None,
    forage: Annotated[
        Text,
        typer.Option(
            "--forage", metavar="NAMES", help='What grows there, like "white clover, oat"; bare ground if none.'
        ),
    ] = None,
    stage: Annotated[
        str, typer.Option("--stage", metavar="WORDS", help='How far it is, like "3 trifoliate leaves".')
    ] = "",
    next_crop: Annotated[Text, typer.Option("--next-crop", metavar="NAMES", help="What is planted next.")] = None,
    day: Annotated[Text, typer.Option("--day", metavar="DAY", help="When; today if not given.")] = None,
    region: Annotated[
        Text,
        typer.Option(
            "--region", metavar="REGION", help="Yours, like south-east: what was printed for others counts not."
        ),
    ] = None,
    labels: Annotated[list[Path], typer.Option("--labels", metavar="SHEET", help="Your labels, as a sheet.")] = [],  # noqa: B006 - typer copies it
    county: Annotated[
        list[Path], typer.Option("--county", metavar="SHEET", help="The county extension office's list.")
    ] = [],  # noqa: B006 - typer copies it
    about: Annotated[
        Text,
        typer.Option("--about", metavar="INGREDIENT", help="Tell all that is known of one ingredient, with sources."),
    ] = None,
    as_json: o.AsJson = False,
    out: o.Out = None,
) -> None:
    """Which ingredients fit the stand and the weed, which would hurt, why, and what is not known.

    Your own labels win over the county's list, and that over publications. No amounts: those come after you have read
    that your label lists this site and crop.
    """
    from gladebook.io.write import as_json as json_text
    from gladebook.spraying.cautions import CAUTIONS
    from gladebook.view.choose import choice_document, choice_words

    options = dict(locals())
    if about is not None:
        _about(about, as_json=as_json, out=out)
        return
    choice, asks, notices = _choice(options)
    text = json_text(choice_document(choice, asks=asks)) if as_json else "\n".join([*choice_words(choice), ""])
    answer(text, out=out)
    say([*notices, *choice.notices], title="Notices")
    say(asks, title="Before any amount")
    say(CAUTIONS, title="Cautions")


def _about(name: str, *, as_json: bool, out: Path | None) -> None:
    from gladebook.io.write import as_json as json_text
    from gladebook.products.table.all import INGREDIENTS, ingredient_called
    from gladebook.spraying.cautions import CAUTIONS
    from gladebook.view.choose import about_document, about_words

    found = ingredient_called(name)
    if found is None:
        raise CallError(f'--about: "{name[:40]}" is not in the table. There are {", ".join(INGREDIENTS)}.')
    answer(json_text(about_document(found)) if as_json else "\n".join([*about_words(found), ""]), out=out)
    say(CAUTIONS, title="Cautions")


def _choice(options: dict[str, Any]) -> "tuple[Choice, list[str], tuple[str, ...]]":
    from gladebook.jobs.growing import growing_of
    from gladebook.jobs.labels import answers_of, crop_names, listed_question
    from gladebook.jobs.property import today
    from gladebook.jobs.today import labels_from
    from gladebook.products.forage import forages_from
    from gladebook.products.weed import weed_from
    from gladebook.records.growing import Growing
    from gladebook.season.choose import Question
    from gladebook.season.choose import choose as judge

    if options["weed"] is None:
        raise CallError('--weed: say what to kill, like "annual ryegrass".')
    file, plot, height = options["file"], options["plot"], options["weed_height"]
    if file is not None and not plot:
        raise CallError("--plot: say which plot of the property it is about.")
    growing = growing_of(file, plot) if file is not None else Growing()
    sheets = (*((s, False) for s in options["labels"]), *((s, True) for s in options["county"]))
    kept, notices = labels_from(file, sheets)
    forages = growing.forages if options["forage"] is None else forages_from(options["forage"])
    crop = growing.next_crop if options["next_crop"] is None else forages_from(options["next_crop"], what="--next-crop")
    question = Question(
        weed=weed_from(options["weed"]),
        day=date.fromisoformat(o.day_text(options["day"], what="--day") or today()),
        forages=forages,
        weed_height_m=None if height is None else parse_quantity(height, kind="length", what="--weed-height").si,
        region=_region(options["region"]),
        stage=options["stage"] or growing.stage,
        next_crop=crop,
        labels=tuple(k.label for k in kept),
    )
    choice = judge(question)
    asks = []
    for option in choice.options:
        if option.own and option.verdict == "fits":
            answered = answers_of(file, option.name) if file is not None else {}
            missing = [name for name in crop_names(forages) if name not in answered]
            if missing:
                asks.append(f"{listed_question(option.name, missing)} {_how(file, option.name, missing)}")
    return choice, asks, notices


def _how(file: Path | None, product: str, crops: list[str]) -> str:
    if file is None:
        return "gladebook today asks again before any amount."
    named = f' --crop "{", ".join(crops)}"' if crops != ["bare ground"] else ""
    return f'gladebook property listed {file.name} "{product}"{named} --yes (or --no)'


def _region(text: str | None) -> "Region | None":
    from gladebook.products.ingredient import REGIONS

    if text is None:
        return None
    plain = "-".join(text.lower().replace("-", " ").split()).replace("southeast", "south-east")
    if plain not in REGIONS:
        raise CallError(f'--region: "{text[:40]}" is none of {", ".join(REGIONS)}.')
    return next(r for r in REGIONS if r == plain)
