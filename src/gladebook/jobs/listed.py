"""Before any amount for plots of a property: whether the label lists this site and what grows there."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from gladebook.errors import CallError, NotListed, Unanswered
from gladebook.jobs.growing import growing_of
from gladebook.jobs.labels import answers_of, keep_listed, labels_of, listed_question, own_label
from gladebook.products.label import Label
from gladebook.products.table.all import ingredient_called
from gladebook.spraying.recipe import Product
from gladebook.spraying.strength import product_rate
from gladebook.units import Quantity

__all__ = ["ask_labels", "refuse_several_no", "with_kept_maximum"]


def ask_labels(
    path: Path, plots: Sequence[str], *, products: Sequence[str], answer: bool | None, day: str
) -> tuple[str, ...]:
    """Refuse a mix until the labels were read, and keep what was found; what was not asked is told.

    Parameters
    ----------
    path
        The property file.
    plots
        That are to be sprayed.
    products
        In the tank. Only those with a kept label, and known active ingredients, are asked about.
    answer
        What the user found, for what has no answer yet; None for not said.
    day
        Today.

    Raises
    ------
    Unanswered
        Where a label has not been read for a crop.
    NotListed
        Where a label was found not to list it.
    """
    labels = labels_of(path)
    asked = [name for name in products if own_label(labels, name) is not None or ingredient_called(name) is not None]
    if not asked:
        return ()
    stands = {plot: growing_of(path, plot).forages for plot in plots}
    silent = [plot for plot, forages in stands.items() if not forages]
    crops = tuple(dict.fromkeys(f.name for forages in stands.values() for f in forages))
    told: list[str] = []
    if silent:
        told.append(
            f"What grows on {', '.join(silent)} was not entered, so nobody asked whether your labels list it. Enter "
            f"it with: "
            f"gladebook property grow {path.name}"
        )
    answers = {product: answers_of(path, product) for product in asked}
    still = {product: [crop for crop in crops if crop not in answers[product]] for product in asked}
    told += _answer(path, {p: missing for p, missing in still.items() if missing}, answer=answer, day=day)
    for product in asked:
        _refuse(
            path, product, crops=crops, answers={**answers[product], **dict.fromkeys(still[product], answer is True)}
        )
    return tuple(told)


def _answer(path: Path, still: Mapping[str, Sequence[str]], *, answer: bool | None, day: str) -> list[str]:
    """Keep the answer to what is open, and say so; what was answered before stays as it was."""
    if not still:
        return []
    product, missing = next(iter(still.items()))
    if answer is None:
        raise Unanswered(
            f"Before any amount: {listed_question(product, missing)} Then add --label-lists yes, or --label-lists no.",
            product=product,
            crops=tuple(missing),
        )
    refuse_several_no(still, answer=answer, where=path.name)
    return [keep_listed(path, name, crops=crops, answer=answer, day=day) for name, crops in still.items()]


def refuse_several_no(still: Mapping[str, Sequence[str]], *, answer: bool, where: str) -> None:
    """Refuse a no to several questions at once, as nobody could tell which of them it answers.

    Raises
    ------
    CallError
        Where more than one product or crop is open.
    """
    if answer or sum(len(crops) for crops in still.values()) <= 1:
        return
    pairs = ", ".join(f"{name} on {crop}" for name, crops in still.items() for crop in crops)
    raise CallError(
        f"--label-lists no: may mean any of {pairs}. Answer each with: gladebook property listed {where} PRODUCT "
        f"--crop CROP "
        "--no (or --yes)"
    )


def _refuse(path: Path, product: str, *, crops: Sequence[str], answers: Mapping[str, bool]) -> None:
    refused = [crop for crop in crops if not answers[crop]]
    if refused:
        raise NotListed(
            f"{product}: you found that its label does not list this site and {' and '.join(refused)}. Nothing is "
            f"mixed. "
            f'If that was a mistake: gladebook property listed {path.name} "{product}" --crop '
            f'"{", ".join(refused)}" --yes',
            product=product,
            crops=tuple(refused),
        )


def with_kept_maximum(path: Path, products: Sequence[Product]) -> tuple[list[Product], tuple[str, ...]]:
    """Products with the single maximum of their kept labels, where none was given; and what was taken.

    Raises
    ------
    InputError
        Where a kept label cannot be read.
    """
    labels = labels_of(path)
    found, told = [], []
    for product in products:
        own = own_label(labels, product.name)
        most = None if own is None or product.maximum is not None else _product_maximum(own.label)
        if most is not None and own is not None:
            told.append(
                f"{product.name}: the most for one application was taken from your label in {path.name}, {most}."
            )
        found.append(product if most is None else replace(product, maximum=most))
    return found, tuple(told)


def _product_maximum(label: Label) -> Quantity | None:
    """The single maximum as product; None where the label has none, or not the strength that would turn it."""
    most = label.single_max
    if most is None or not most.basis:
        return most
    strengths = [part.strength for part in label.ingredients]
    if len(strengths) != 1 or strengths[0] is None:
        return None
    return product_rate(most, strength=strengths[0], what=label.name)
