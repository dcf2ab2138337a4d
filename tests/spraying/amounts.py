"""Short ways to write a job in acres and gallons, and to read an answer in them."""

from gladebook.spraying.mix import plan_mix
from gladebook.spraying.recipe import Mix, Product
from gladebook.units import ACRE_M2, GAL_M3, Kind, Quantity, parse_quantity

__all__ = ["RATES", "amounts", "job", "product", "quantity"]

RATES: tuple[Kind, ...] = ("volume per area", "weight per area", "percent of volume", "weight per volume")


def quantity(text: str) -> Quantity:
    """An amount of any kind that a product may have."""
    return parse_quantity(text, kind=RATES)


def product(name: str, rate: str, maximum: str | None = None) -> Product:
    """A product from text as people write it."""
    return Product(name, quantity(rate), None if maximum is None else quantity(maximum))


def job(
    acres: float | list[tuple[str, float]],
    *products: Product,
    gpa: float = 15.0,
    tank_gal: float = 25.0,
    sump_gal: float = 0.0,
) -> Mix:
    """Plan a job given in acres, gallons per acre and gallons."""
    plots = [("Plot 1", acres)] if isinstance(acres, int | float) else acres
    return plan_mix(
        [(name, ac * ACRE_M2) for name, ac in plots],
        rate_m=gpa * GAL_M3 / ACRE_M2,
        tank_m3=tank_gal * GAL_M3,
        products=products,
        sump_m3=sump_gal * GAL_M3,
    )


def amounts(mix: Mix) -> list[dict[str, float]]:
    """Per load the amount of each product, by name."""
    return [{a.name: a.amount for a in load.products} for load in mix.loads]
