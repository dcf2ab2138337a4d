"""``gladebook mix``."""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import typer

from gladebook.cli import options as o
from gladebook.cli.gallons import acres_m2
from gladebook.cli.measure import ground_files, room_to_save
from gladebook.cli.show import answer, say
from gladebook.cli.skips import seen_of
from gladebook.errors import CallError
from gladebook.units import Kind, Quantity, parse_quantity

__all__ = ["mix"]


PerAcre = Annotated[
    str,
    typer.Option("--per-acre", metavar="AMOUNT", help='Spray volume per acre, like "15 gal/ac".', show_default=False),
]
Tank = Annotated[
    str, typer.Option("--tank", metavar="AMOUNT", help='What the tank holds, like "25 gal".', show_default=False)
]
Products = Annotated[
    list[str],
    typer.Option(
        "--product",
        metavar="RATE",
        help='A product and its rate from your label, like "clethodim=32 fl oz/ac", "crop oil=1 %" or '
        '"ammonium sulfate=17 lb/100 gal". Once for each.',
        show_default=False,
    ),
]
Maxima = Annotated[
    list[str],
    typer.Option(
        "--maximum", metavar="RATE", help='Your label\'s most for one application, like "clethodim=40 fl oz/ac".'
    ),
]
Strengths = Annotated[
    list[str],
    typer.Option(
        "--strength",
        metavar="AMOUNT",
        help='What is in a product whose rate counts the ingredient, from your label, like "clethodim=2 lb ai/gal".',
    ),
]
LabelLists = Annotated[
    str | None,
    typer.Option(
        "--label-lists",
        metavar="yes|no",
        help="Of a property: have you read that your labels list this site and what grows there?",
    ),
]
Metric = Annotated[bool, typer.Option("--metric", help="Tell it in metric units as well.")]
Sump = Annotated[
    str | None, typer.Option("--sump", metavar="AMOUNT", help='What the pump cannot draw from the tank, like "1 gal".')
]
Acres = Annotated[str | None, typer.Option("--acres", metavar="ACRES", help="Acres to spray, like 4.3.")]
Plots = Annotated[
    Path | None,
    typer.Option("--plots", metavar="FILE", help="Property or boundary file: measured acres, plot by plot."),
]
Order = Annotated[
    list[str],
    typer.Option(
        "--plot", metavar="NAME", help="With --plots: a plot to spray; once for each, in the order you drive."
    ),
]
Treated = Annotated[
    Path | None,
    typer.Option(
        "--treated",
        metavar="FILE",
        help="Answer of coverage --json, or the property file that keeps it: treated acres.",
    ),
]
Missed = Annotated[
    Path | None,
    typer.Option(
        "--missed",
        metavar="FILE",
        help="Answer of coverage --json: a touch-up of the missed strips that you saw; name them with --seen. Or the "
        "property file that keeps it: then those marked as seen.",
    ),
]
Seen = Annotated[
    str | None,
    typer.Option("--seen", metavar="NUMBERS", help='With --missed: the strips that you went and saw, like "3,5".'),
]


def mix(
    per_acre: PerAcre,
    tank: Tank,
    product: Products,
    maximum: Maxima = [],  # noqa: B006 - typer copies it
    strength: Strengths = [],  # noqa: B006 - typer copies it
    sump: Sump = None,
    acres: Acres = None,
    plots: Plots = None,
    plot: Order = [],  # noqa: B006 - typer copies it
    obstacles: o.Obstacles = None,
    setback: o.Setback = None,
    crs: o.Crs = None,
    treated: Treated = None,
    missed: Missed = None,
    seen: Seen = None,
    application: o.Application = None,
    label_lists: LabelLists = None,
    metric: Metric = False,
    save: o.Save = None,
    as_json: o.AsJson = False,
    out: o.Out = None,
) -> None:
    """How much of each product goes into each load. Rates are yours, from your label."""
    options = dict(locals())
    recipe, turned = _recipe(options)
    source = _source(options)
    room_to_save(source, "mixes", save=save)
    ground, notices = _ground(options)
    notices = (*_labels_read(options, ground, recipe), *turned, *notices)
    from gladebook.spraying.mix import plan_mix

    plan = plan_mix(ground, **recipe)
    from gladebook.io.write import as_json as json_text
    from gladebook.view.documents import mix_document
    from gladebook.view.tables import mix_lines
    from gladebook.view.words import mix_words

    told = mix_words(plan)
    if metric:
        from gladebook.view.metric import metric_mix_words

        told += metric_mix_words(plan)
    lines = mix_lines(plan, words=told)
    document = mix_document(plan, notices=notices)
    answer(json_text(document) if as_json else "\n".join(lines) + "\n", out=out)
    say([*notices, *plan.notices], title="Notices")
    if as_json or out is not None:
        say(plan.cautions, title="Cautions")
    if save is not None and source is not None:
        from gladebook.jobs.keep import keep_answer
        from gladebook.jobs.property import today

        content = {**document, "words": lines}
        say([keep_answer(source, "mixes", name=save, content=content, day=today())], title="Kept")


def _labels_read(
    options: Mapping[str, Any], ground: list[tuple[str, float]], recipe: dict[str, Any]
) -> tuple[str, ...]:
    """Of plots of a property: refuse until the labels were read, and take their maxima; nothing to ask elsewhere."""
    lists = options["label_lists"]
    if lists not in (None, "yes", "no"):
        raise CallError("--label-lists: say yes or no, after you have read your labels.")
    source: Path | None = options["plots"] or options["treated"] or options["missed"]
    from gladebook.io.property.open import is_property

    if source is None or not is_property(source):
        if lists is not None:
            raise CallError("--label-lists: is kept in a property file, and there is none here. Leave it out.")
        return ()
    from gladebook.jobs.listed import ask_labels, with_kept_maximum
    from gladebook.jobs.property import today

    plots = list(dict.fromkeys(name.split(", strip ")[0] for name, _ in ground))
    names = [product.name for product in recipe["products"]]
    asked = ask_labels(source, plots, products=names, answer=None if lists is None else lists == "yes", day=today())
    recipe["products"], taken = with_kept_maximum(source, recipe["products"])
    return (*asked, *taken)


def _recipe(options: Mapping[str, Any]) -> tuple[dict[str, Any], tuple[str, ...]]:
    """Rate, tank, sump and products, as `plan_mix` takes them, and which rates were turned into product."""
    rate_m = parse_quantity(options["per_acre"], kind="volume per area", what="--per-acre").si
    tank_m3 = parse_quantity(options["tank"], kind="volume", what="--tank").si
    sump = options["sump"]
    sump_m3 = parse_quantity(sump, kind="volume", what="--sump").si if sump is not None else 0.0
    from gladebook.spraying.mix import RATE_KINDS

    rates = _named(options["product"], what="--product", kinds=RATE_KINDS)
    most = _named(options["maximum"], what="--maximum", kinds=RATE_KINDS)
    strengths = _named(options["strength"], what="--strength", kinds=("weight per volume", "percent of weight"))
    for what, named in (("--maximum", most), ("--strength", strengths)):
        for name in named:
            if name.lower() not in (n.lower() for n in rates):
                raise CallError(f'{what}: "{name}" is not among the products.')
    from gladebook.spraying.recipe import Product

    lower = {name.lower(): rate for name, rate in most.items()}
    by_name = {name.lower(): strength for name, strength in strengths.items()}
    turned: list[str] = []
    products = []
    for name, rate in rates.items():
        of = [_as_product(name, r, by_name.get(name.lower()), turned) for r in (rate, lower.get(name.lower()))]
        products.append(Product(name, of[0] or rate, of[1]))
    recipe = {"rate_m": rate_m, "tank_m3": tank_m3, "products": products, "sump_m3": sump_m3}
    return recipe, tuple(turned)


def _as_product(name: str, rate: Quantity | None, strength: Quantity | None, turned: list[str]) -> Quantity | None:
    """A rate of product, where one of ingredient and its strength are given; what was turned is noted."""
    if rate is None or not rate.basis or strength is None:
        return rate
    from gladebook.spraying.strength import turned_rate

    found, said = turned_rate(rate, strength=strength, what=name)
    turned.append(said)
    return found


def _source(options: Mapping[str, Any]) -> Path | None:
    """The file that says what to spray; None for acres."""
    if sum(options[name] is not None for name in ("acres", "plots", "treated", "missed")) != 1:
        raise CallError("Say what to spray with one of --acres, --plots, --treated or --missed.")
    if options["plot"] and options["plots"] is None:
        raise CallError("--plot: names plots of a boundary file; give that file with --plots.")
    source: Path | None = options["plots"] or options["treated"] or options["missed"]
    if options["application"] is not None and source in (None, options["plots"]):
        raise CallError("--application: goes with --treated or --missed and a property file. Leave it out.")
    if options["seen"] is not None and options["missed"] is None:
        raise CallError(
            "--missed and --seen: a touch-up is mixed for strips that somebody went and saw. Give both, like "
            "--missed answer.json --seen 3,5."
        )
    return source


def _named(texts: list[str], *, what: str, kinds: tuple[Kind, ...]) -> dict[str, Quantity]:
    """Product names and amounts from texts such as ``clethodim=32 fl oz/ac``."""
    found: dict[str, Quantity] = {}
    for text in texts:
        name, equals, rate = text.partition("=")
        name = " ".join(name.split())
        if not equals or not name:
            raise CallError(
                f'{what}: "{text[:60]}" is not a name, an equals sign and an amount, like "clethodim=32 fl oz/ac".'
            )
        if name.lower() in (n.lower() for n in found):
            raise CallError(f'{what}: "{name}" is given twice.')
        found[name] = parse_quantity(rate, kind=kinds, what=f"{what} {name}")
    return found


def _ground(options: Mapping[str, Any]) -> tuple[list[tuple[str, float]], tuple[str, ...]]:
    """Names and areas, m2, from whichever source was given, and what to know about them."""
    if options["acres"] is not None:
        return [("the job", acres_m2(options["acres"]))], ()
    from gladebook.jobs.tank import acres_from_coverage, acres_from_measured, strips_from_coverage

    application = options["application"]
    if options["missed"] is not None:
        from gladebook.spraying.touch_up import SEEN_FIRST

        seen = None if options["seen"] is None else seen_of(options["seen"])
        return strips_from_coverage(options["missed"], seen=seen, application=application), SEEN_FIRST
    if options["treated"] is not None:
        return acres_from_coverage(options["treated"], application=application), ()
    from gladebook.jobs.application import measure_ground

    more = {name: options[name] for name in ("obstacles", "setback", "crs")}
    measured = measure_ground(ground_files(options["plots"], **more))
    return acres_from_measured(measured, order=options["plot"]), measured.notices
