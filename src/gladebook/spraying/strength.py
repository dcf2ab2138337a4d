"""From pounds of ingredient to product and back, by the strength that the label states.

Product per area = ingredient per area / strength. Acid equivalent, active ingredient and salt are weights of different
things, so a rate in one is never turned by a strength in another.
"""

from dataclasses import replace

from gladebook.errors import QuantityError
from gladebook.units import Kind, Quantity, amount_in

__all__ = ["ingredient_rate", "product_rate", "turned_rate"]

_STRENGTHS = ("weight per volume", "percent of weight")


def product_rate(rate: Quantity, *, strength: Quantity, what: str = "the rate") -> Quantity:
    """A rate of product, from one of ingredient: rate / strength.

    Parameters
    ----------
    rate
        Of ingredient, weight per area, such as 0.125 lb ai/ac.
    strength
        Weight of ingredient in a volume of product (2 lb ai/gal), or its percent by weight.
    what
        What the rate is, for the message.

    Returns
    -------
    Quantity
        In fl oz/ac for a liquid, dry oz/ac for a dry product.

    Raises
    ------
    QuantityError
        Where they do not count the same, or one is no such amount.
    """
    if rate.kind != "weight per area" or not rate.basis:
        raise QuantityError(f'{what}: {rate} is no rate of ingredient; write it like "0.125 lb ai/ac".')
    _check(strength, basis=rate.basis, other=str(rate), what=what)
    unit = "fl oz/ac" if strength.kind == "weight per volume" else "dry oz/ac"
    si = rate.si / strength.si
    kind: Kind = "volume per area" if unit == "fl oz/ac" else "weight per area"
    return replace(rate, value=amount_in(si, unit=unit), unit=unit, kind=kind, si=si, basis="")


def turned_rate(rate: Quantity, *, strength: Quantity, what: str) -> tuple[Quantity, str]:
    """A rate of product from one of ingredient, as `product_rate` has it, and the sentence that says so."""
    found = product_rate(rate, strength=strength, what=what)
    return found, f"{what}: {rate} at {strength} is {found.value:.4g} {found.unit}. Check both on your label."


def ingredient_rate(rate: Quantity, *, strength: Quantity, what: str = "the rate") -> Quantity:
    """A rate of ingredient, in lb ai/ac and the like, from one of product: rate x strength.

    Raises
    ------
    QuantityError
        Where a dry product's rate meets a liquid's strength or the other way round, or one is no such amount.
    """
    fits = {"volume per area": "weight per volume", "weight per area": "percent of weight"}
    if rate.basis or fits.get(rate.kind) != strength.kind:
        raise QuantityError(
            f"{what}: a rate of {rate} and a strength of {strength} do not go together. A liquid has fluid ounces "
            f"and lb "
            "in a gallon; a dry product has dry ounces and a % by weight."
        )
    _check(strength, basis=strength.basis or "ai", other=str(rate), what=what)
    basis = strength.basis or "ai"
    unit = f"lb {basis}/ac"
    si = rate.si * strength.si
    return replace(rate, value=amount_in(si, unit=unit), unit=unit, kind="weight per area", si=si, basis=basis)


def _check(strength: Quantity, *, basis: str, other: str, what: str) -> None:
    if (
        strength.kind not in _STRENGTHS
        or strength.si <= 0
        or (strength.kind == "percent of weight" and strength.si > 1)
    ):
        raise QuantityError(f'{what}: {strength} is no strength; write it like "2 lb ai/gal" or "51 % by weight".')
    if strength.kind == "weight per volume" and not strength.basis:
        raise QuantityError(
            f'{what}: a strength of {strength} does not say of what; write "lb ai/gal" for active ingredient, '
            '"lb ae/gal" for acid equivalent.'
        )
    # A percent by weight names no basis: it is that of the ingredient statement, active ingredient.
    counted = strength.basis or "ai"
    if counted != basis:
        counts = {"ai": "active ingredient", "ae": "acid equivalent", "salt": "salt"}
        raise QuantityError(
            f"{what}: {other} counts {counts[basis]}, and the strength {strength} counts {counts[counted]}. They "
            f"are not "
            "the same weight: take both from the label in one of them."
        )
