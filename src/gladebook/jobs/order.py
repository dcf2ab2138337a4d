"""What goes in the tank for plots of a property: labels read first, rates turned into product, then the loads."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from gladebook.errors import CallError
from gladebook.jobs.application import measure_ground
from gladebook.jobs.ground import GroundFiles
from gladebook.jobs.keep import keep_answer
from gladebook.jobs.labels import labels_of, own_label
from gladebook.jobs.listed import ask_labels, with_kept_maximum
from gladebook.jobs.property import today
from gladebook.jobs.tank import acres_from_measured
from gladebook.spraying.mix import plan_mix
from gladebook.spraying.recipe import Mix, Product
from gladebook.spraying.strength import turned_rate
from gladebook.units import Quantity
from gladebook.view.documents import mix_document
from gladebook.view.tables import mix_lines
from gladebook.view.words import mix_words, without_ranges

__all__ = ["Order", "keep_mix", "mix_for_plots"]


@dataclass(frozen=True)
class Order:
    """What is to be mixed: spray per area in m, tank and sump in m3, products with their rates, plots in order."""

    plots: tuple[str, ...]
    rate_m: float
    tank_m3: float
    sump_m3: float = 0.0
    products: tuple[Product, ...] = ()


def mix_for_plots(path: Path, order: Order) -> tuple[Mix, tuple[str, ...]]:
    """The loads, and what is to be said of them. Refused until the labels were read for what grows there.

    Raises
    ------
    Unanswered
        Where a label has not been read for a crop.
    NotListed
        Where a label was found not to list it.
    CallError
        Where a rate counts the ingredient and the strength is not on the kept label.
    InputError
        Where a plot is not there, or the mix cannot be made.
    """
    measured = measure_ground(GroundFiles(path))
    ground = acres_from_measured(measured, order=order.plots)
    names = [product.name for product in order.products]
    asked = ask_labels(path, order.plots, products=names, answer=None, day=today())
    turned: list[str] = []
    products = [_as_product(path, product, turned) for product in order.products]
    products, taken = with_kept_maximum(path, products)
    mix = plan_mix(ground, rate_m=order.rate_m, tank_m3=order.tank_m3, products=products, sump_m3=order.sump_m3)
    return mix, (*asked, *turned, *taken, *without_ranges(measured.notices))


def _as_product(path: Path, product: Product, turned: list[str]) -> Product:
    """A product with rates of product, where the user's label states the one strength that turns them."""
    if not product.rate.basis and (product.maximum is None or not product.maximum.basis):
        return product
    own = own_label(labels_of(path), product.name)
    strengths = [] if own is None else [part.strength for part in own.label.ingredients]
    if len(strengths) != 1 or strengths[0] is None:
        raise CallError(
            f"{product.name}: {product.rate} counts the ingredient, and no label of yours here says how strong the "
            "product is. Write the rate of the product itself, from your label."
        )
    of: list[Quantity | None] = []
    for rate in (product.rate, product.maximum):
        if rate is not None and rate.basis:
            rate, said = turned_rate(rate, strength=strengths[0], what=product.name)  # noqa: PLW2901 - turned in place
            turned.append(said)
        of.append(rate)
    return replace(product, rate=of[0] or product.rate, maximum=of[1])


def keep_mix(path: Path, mix: Mix, *, name: str, notices: Sequence[str]) -> str:
    """Keep a mix in the property as `gladebook mix --save` does, and say so.

    Raises
    ------
    CallError
        Where the name is empty.
    PropertyError
        Where the name is taken.
    """
    content = {**mix_document(mix, notices=tuple(notices)), "words": mix_lines(mix, words=mix_words(mix))}
    return keep_answer(path, "mixes", name=name, content=content, day=today())
