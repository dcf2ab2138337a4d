"""The mix: spray volume, loads, and how much of each product goes into each.

Formulas (handbooks of extension services agree on them): spray volume = area x volume per area;
product by area = rate x the area that a load covers; by percent = share x the load's volume; by
weight per volume = rate x the load's volume. The last, partial load is a recipe of its own: a
full load's product in less water would be too strong.
"""

import math
from collections.abc import Sequence
from typing import Final

from gladebook.errors import MixError
from gladebook.spraying.cautions import CAUTIONS
from gladebook.spraying.recipe import Amount, Load, Mix, OverlapRate, Product, Stop
from gladebook.units import ACRE_M2, GAL_M3, Kind, Quantity, amount_in

__all__ = ["RATE_KINDS", "plan_mix"]

RATE_KINDS: Final[tuple[Kind, ...]] = (
    "volume per area",
    "weight per area",
    "percent of volume",
    "weight per volume",
)
_CRUMB = 1e-9  # of a load: less is rounding, not a load
_MOST_LOADS = 1000
_PER_AREA = ("volume per area", "weight per area")


def plan_mix(
    plots: Sequence[tuple[str, float]],
    *,
    rate_m: float,
    tank_m3: float,
    products: Sequence[Product],
    sump_m3: float = 0.0,
) -> Mix:
    """Plan the loads of a job.

    Parameters
    ----------
    plots
        Names and areas in m2, in the order in which they will be sprayed.
    rate_m
        Spray volume per area, m3 per m2.
    tank_m3
        What the tank holds, m3.
    products
        What goes in beside water.
    sump_m3
        What the pump cannot draw from the tank, m3.

    Raises
    ------
    MixError
        Where an amount makes no sense, a rate is over its maximum, or the products overfill the tank.
    """
    _refuse_nonsense(plots, rate_m=rate_m, tank_m3=tank_m3, products=products, sump_m3=sump_m3)
    area_m2 = sum(area for _, area in plots)
    spray_m3 = area_m2 * rate_m
    volumes = _load_volumes(spray_m3, usable_m3=tank_m3 - sump_m3)
    stops = _stops(plots, rate_m=rate_m, volumes=volumes)
    loads = tuple(
        _load(
            number,
            spray_m3=volume,
            mixed_m3=volume + (sump_m3 if number == 1 else 0.0),
            rate_m=rate_m,
            products=products,
            stops=stops[number - 1],
        )
        for number, volume in enumerate(volumes, start=1)
    )
    totals = tuple(
        Amount(a.name, sum(load.products[i].amount for load in loads), a.unit) for i, a in enumerate(loads[0].products)
    )
    overlaps = tuple(_overlap(product, rate_m=rate_m) for product in products)
    return Mix(
        area_m2=area_m2,
        spray_m3=spray_m3,
        sump_m3=sump_m3,
        loads=loads,
        totals=totals,
        overlaps=overlaps,
        cautions=CAUTIONS,
        notices=_notices(products, overlaps=overlaps, rate_m=rate_m, sump_m3=sump_m3),
    )


def _refuse_nonsense(
    plots: Sequence[tuple[str, float]],
    *,
    rate_m: float,
    tank_m3: float,
    products: Sequence[Product],
    sump_m3: float,
) -> None:
    if not all(math.isfinite(v) for v in (rate_m, tank_m3, sump_m3, *(area for _, area in plots))):
        raise MixError("The mix needs figures; one of acres, gallons per acre, tank and sump is none.")
    if rate_m <= 0:
        raise MixError("Gallons per acre must be above zero.")
    if tank_m3 <= 0:
        raise MixError("The tank must hold more than nothing.")
    if not 0 <= sump_m3 < tank_m3:
        raise MixError("The sump must be smaller than the tank, and not below zero.")
    for name, area_m2 in plots:
        if area_m2 < 0:
            raise MixError(f"{name}: acres cannot be below zero.")
    if sum(area for _, area in plots) <= 0:
        raise MixError("There are no acres to spray.")
    names = [p.name.lower() for p in products]
    for product in products:
        if names.count(product.name.lower()) > 1:
            raise MixError(f"{product.name} is given twice. Give each product once.")
        _refuse_product(product, rate_m=rate_m)


def _refuse_product(product: Product, *, rate_m: float) -> None:
    for rate in (product.rate, product.maximum):
        if rate is not None and rate.basis:
            raise MixError(
                f"{product.name}: {rate} counts the ingredient, not what is in the jug. Give its strength from the "
                f"label, "
                f'like --strength "{product.name}=2 lb {rate.basis}/gal".'
            )
        if rate is not None and rate.kind not in RATE_KINDS:
            raise MixError(f'{product.name}: {rate} is no rate. Write it like "8 fl oz/ac", "1 %" or "17 lb/100 gal".')
    if product.rate.si <= 0 or (product.maximum is not None and product.maximum.si <= 0):
        raise MixError(f"{product.name}: rate and maximum must be above zero.")
    if product.rate.kind == "percent of volume" and product.rate.si >= 1:
        raise MixError(f"{product.name}: {product.rate} leaves no room for water. Check the rate.")
    _refuse_over_maximum(product, rate_m=rate_m)


def _refuse_over_maximum(product: Product, *, rate_m: float) -> None:
    if product.maximum is None:
        return
    if _solid(product.rate) != _solid(product.maximum):
        raise MixError(
            f"{product.name}: the rate {product.rate} and the maximum {product.maximum} are not of one kind, "
            "weight or volume. Give both as the label has them."
        )
    rate, most = _per_area_si(product.rate, rate_m=rate_m), _per_area_si(product.maximum, rate_m=rate_m)
    if rate > most * (1 + _CRUMB):
        raise MixError(
            f"{product.name}: {product.rate} is over the single maximum of {product.maximum} that you gave. "
            "The label is the law: nothing is mixed. Check both figures on your label."
        )


def _load_volumes(spray_m3: float, *, usable_m3: float) -> list[float]:
    count = spray_m3 / usable_m3
    if count > _MOST_LOADS:
        raise MixError(f"The job takes {count:,.0f} loads. Check the acres, the gallons per acre and the tank.")
    full = int(count + _CRUMB)
    rest_m3 = spray_m3 - full * usable_m3
    return [usable_m3] * full + ([rest_m3] if full == 0 or rest_m3 > _CRUMB * usable_m3 else [])


def _load(
    number: int,
    *,
    spray_m3: float,
    mixed_m3: float,
    rate_m: float,
    products: Sequence[Product],
    stops: tuple[Stop, ...],
) -> Load:
    amounts: list[Amount] = []
    liquid_m3 = 0.0
    for product in products:
        by_area = product.rate.kind in _PER_AREA
        si = product.rate.si * (mixed_m3 / rate_m if by_area else mixed_m3)
        if not _solid(product.rate):
            liquid_m3 += si
        unit = _amount_unit(product.rate)
        amounts.append(Amount(product.name, amount_in(si, unit=unit), unit))
    if liquid_m3 >= mixed_m3 * (1 - _CRUMB):
        raise MixError(
            f"The products alone are {liquid_m3 / GAL_M3:.1f} gal in a load of {mixed_m3 / GAL_M3:.1f} gal, "
            "so no water fits. Check the rates and the gallons per acre."
        )
    return Load(
        number=number,
        area_m2=spray_m3 / rate_m,
        spray_m3=spray_m3,
        mixed_m3=mixed_m3,
        water_m3=mixed_m3 - liquid_m3,
        products=tuple(amounts),
        stops=stops,
    )


def _stops(plots: Sequence[tuple[str, float]], *, rate_m: float, volumes: list[float]) -> list[tuple[Stop, ...]]:
    """Share the loads out to the plots in order."""
    stops: list[list[Stop]] = [[] for _ in volumes]
    load, left_m3 = 0, volumes[0]
    for name, area_m2 in plots:
        need_m3 = area_m2 * rate_m
        while need_m3 > _CRUMB * volumes[0]:
            if left_m3 <= _CRUMB * volumes[0] and load + 1 < len(volumes):
                load, left_m3 = load + 1, volumes[load + 1]
            now_m3 = min(need_m3, left_m3) if load + 1 < len(volumes) else need_m3
            need_m3 -= now_m3
            left_m3 = max(left_m3 - now_m3, 0.0)
            stops[load].append(Stop(name=name, area_m2=now_m3 / rate_m, spray_m3=now_m3, left_m3=left_m3))
    return [tuple(s) for s in stops]


def _overlap(product: Product, *, rate_m: float) -> OverlapRate:
    unit = _amount_unit(product.rate)
    rate = amount_in(_per_area_si(product.rate, rate_m=rate_m) * ACRE_M2, unit=unit)
    most = None
    if product.maximum is not None:
        most = amount_in(_per_area_si(product.maximum, rate_m=rate_m) * ACRE_M2, unit=unit)
    return OverlapRate(
        name=product.name,
        rate=rate,
        twice=2 * rate,
        maximum=most,
        unit=f"{unit}/ac",
        over=None if most is None else 2 * rate > most * (1 + _CRUMB),
    )


def _per_area_si(rate: Quantity, *, rate_m: float) -> float:
    """A rate as m3 or kg per m2 of ground; what goes by volume goes by the spray volume per area."""
    return rate.si if rate.kind in _PER_AREA else rate.si * rate_m


def _solid(rate: Quantity) -> bool:
    return rate.kind in ("weight per area", "weight per volume")


def _amount_unit(rate: Quantity) -> str:
    return "fl oz" if rate.unit == "%" else rate.amount_unit


def _notices(
    products: Sequence[Product], *, overlaps: Sequence[OverlapRate], rate_m: float, sump_m3: float
) -> tuple[str, ...]:
    notices: list[str] = []
    notices += [
        f"{o.name}: ground covered twice gets {o.twice:g} {o.unit}, over the single maximum of "
        f"{o.maximum:g} {o.unit} that you gave. Do not overlap."
        for o in overlaps
        if o.over
    ]
    unknown = [f"{o.name} {o.twice:g} {o.unit}" for o in overlaps if o.over is None]
    if unknown:
        notices.append(
            f"Ground covered twice gets {', '.join(unknown)}. Compare that with the single maximum on your label "
            "(give it with --maximum)."
        )
    notices += [
        f"{p.name}: {p.rate} is {amount_in(p.rate.si * ACRE_M2, unit=_amount_unit(p.rate)):.3g} "
        f"{_amount_unit(p.rate)}/ac. Check that your label means so much on every 1,000 square feet."
        for p in products
        if p.rate.kind in _PER_AREA and p.rate.unit.endswith("sq ft")
    ]
    if sump_m3 > 0:
        notices.append(
            f"{sump_m3 / GAL_M3:g} gal stays in the sump: it is mixed once, in the first load, and makes the "
            f"products enough for {sump_m3 / rate_m / ACRE_M2:.2f} ac more than the plots. "
            "Deal with it as the label says."
        )
    return tuple(notices)
