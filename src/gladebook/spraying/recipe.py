"""The nouns of a mix: products and their rates, loads, and what each is made of."""

from dataclasses import dataclass

from gladebook.units import Quantity

__all__ = ["Amount", "Load", "Mix", "OverlapRate", "Product", "Stop"]


@dataclass(frozen=True)
class Product:
    """What goes into the tank beside water.

    Attributes
    ----------
    name : as on the label.
    rate : per area, percent of volume, or weight per volume.
    maximum : the label's most for one application, as the user gives it; None where not given.
    """

    name: str
    rate: Quantity
    maximum: Quantity | None = None


@dataclass(frozen=True)
class Amount:
    """So much of a product, in the unit it was given in."""

    name: str
    amount: float
    unit: str


@dataclass(frozen=True)
class Stop:
    """A plot, or the part of one, that a load covers.

    Attributes
    ----------
    name : the plot.
    area_m2 : the part of it that this load covers, m2.
    spray_m3 : spray for it, m3.
    left_m3 : spray left to use in the tank afterwards, m3.
    """

    name: str
    area_m2: float
    spray_m3: float
    left_m3: float


@dataclass(frozen=True)
class Load:
    """One filling of the tank.

    Attributes
    ----------
    number : from 1.
    area_m2 : the ground that it covers, m2.
    spray_m3 : what goes onto the ground, m3.
    mixed_m3 : what is mixed for it, m3: more than `spray_m3` in the first load, by the sump.
    water_m3 : water in it, m3; room that dry products take is not known and not counted.
    products : amounts in it.
    stops : the plots that it covers, in order.
    """

    number: int
    area_m2: float
    spray_m3: float
    mixed_m3: float
    water_m3: float
    products: tuple[Amount, ...]
    stops: tuple[Stop, ...]


@dataclass(frozen=True)
class OverlapRate:
    """What ground gets that is covered twice, beside the label's single maximum.

    Attributes
    ----------
    name : the product.
    rate, twice : per acre, in `unit`.
    maximum : per acre, in `unit`; None where the user gave none.
    unit : such as ``fl oz/ac``.
    over : whether twice the rate is over the maximum; None where there is none.
    """

    name: str
    rate: float
    twice: float
    maximum: float | None
    unit: str
    over: bool | None


@dataclass(frozen=True)
class Mix:
    """The whole job.

    Attributes
    ----------
    area_m2 : all plots, m2.
    spray_m3 : all spray onto the ground, m3; the sum over the loads.
    sump_m3 : spray that stays in the tank for good, m3, mixed once.
    loads : in order.
    totals : all loads together.
    overlaps : twice the rate of each product.
    cautions, notices : as sentences.
    """

    area_m2: float
    spray_m3: float
    sump_m3: float
    loads: tuple[Load, ...]
    totals: tuple[Amount, ...]
    overlaps: tuple[OverlapRate, ...]
    cautions: tuple[str, ...]
    notices: tuple[str, ...]
