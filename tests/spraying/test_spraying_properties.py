"""What holds of every mix, whatever the acres, tank and products."""

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from gladebook.spraying.recipe import Mix, Product
from gladebook.units import ACRE_M2, GAL_M3, amount_in
from tests.spraying.amounts import job, product

ROUNDING = 1e-9  # of a load: a millionth of an ounce in a tank
rates = st.one_of(
    st.floats(1, 64).map(lambda x: f"{x!r} fl oz/ac"),
    st.floats(0.1, 3).map(lambda x: f"{x!r} pt/ac"),
    st.floats(0.1, 50).map(lambda x: f"{x!r} lb/ac"),
    st.floats(0.1, 16).map(lambda x: f"{x!r} dry oz/ac"),
    st.floats(0.1, 5).map(lambda x: f"{x!r} %"),
    st.floats(0.5, 20).map(lambda x: f"{x!r} lb/100 gal"),
    st.floats(0.1, 2).map(lambda x: f"{x!r} qt/100 gal"),
)
plots = st.lists(st.floats(0.02, 9.0), min_size=1, max_size=6).map(
    lambda acres: [(f"Plot {n}", a) for n, a in enumerate(acres, start=1)]
)
tanks = st.floats(5.0, 300.0)  # of the largest job here, at most some 540 loads
volumes = st.floats(5.0, 40.0)
sumps = st.sampled_from([0.0, 0.25, 1.0])


def planned(
    acres: list[tuple[str, float]], texts: list[str], gpa: float, tank: float, sump: float
) -> tuple[Mix, list[Product]]:
    products = [product(f"product {n}", text) for n, text in enumerate(texts)]
    liquid = sum(
        p.rate.si if p.rate.kind == "percent of volume" else p.rate.si / (gpa * GAL_M3 / ACRE_M2)
        for p in products
        if p.rate.kind in ("percent of volume", "volume per area")
    )
    assume(liquid < 0.9)
    return job(acres, *products, gpa=gpa, tank_gal=tank, sump_gal=sump), products


def rate_per_volume(p: Product, gpa: float) -> float:
    """Product in a cubic metre of spray, SI, worked out here from the rate."""
    by_area = p.rate.kind in ("volume per area", "weight per area")
    return p.rate.si / (gpa * GAL_M3 / ACRE_M2) if by_area else p.rate.si


@settings(deadline=None, max_examples=200)
@given(acres=plots, texts=st.lists(rates, max_size=3), gpa=volumes, tank=tanks, sump=sumps)
def test_loads_add_up_fit_and_are_never_too_strong(
    acres: list[tuple[str, float]], texts: list[str], gpa: float, tank: float, sump: float
) -> None:
    """The loads' sum is the job, each load fits the tank, and each is as strong as the rate, never stronger."""
    mix, products = planned(acres, texts, gpa, tank, sump)
    area = sum(a for _, a in acres)
    assert mix.spray_m3 / GAL_M3 == pytest.approx(area * gpa, rel=ROUNDING)
    assert sum(load.spray_m3 for load in mix.loads) == pytest.approx(mix.spray_m3, rel=ROUNDING)
    assert sum(load.area_m2 for load in mix.loads) / ACRE_M2 == pytest.approx(area, rel=ROUNDING)
    assert sum(load.mixed_m3 for load in mix.loads) == pytest.approx(mix.spray_m3 + sump * GAL_M3, rel=ROUNDING)
    assert [load.number for load in mix.loads] == list(range(1, len(mix.loads) + 1))
    for load in mix.loads:
        # the sump is full from the first load on: a later fill has room for the rest of the tank only
        assert (load.spray_m3 + sump * GAL_M3) / GAL_M3 <= tank * (1 + ROUNDING)
        assert load.spray_m3 > 0
        assert 0 < load.water_m3 <= load.mixed_m3
        for p, amount in zip(products, load.products, strict=True):
            per_volume = 1 / amount_in(1.0, unit=amount.unit) * amount.amount / load.mixed_m3
            assert per_volume == pytest.approx(rate_per_volume(p, gpa), rel=ROUNDING)
    for n, (p, total) in enumerate(zip(products, mix.totals, strict=True)):
        summed = sum(load.products[n].amount for load in mix.loads)
        assert total.amount == pytest.approx(summed, rel=ROUNDING)
        whole = rate_per_volume(p, gpa) * (area * gpa + sump) * GAL_M3
        assert total.amount == pytest.approx(amount_in(whole, unit=total.unit), rel=ROUNDING)
        assert (total.name, total.unit) == (p.name, mix.loads[0].products[n].unit)


@settings(deadline=None, max_examples=200)
@given(acres=plots, gpa=volumes, tank=tanks, sump=sumps)
def test_stops_share_out_all_ground_in_order(
    acres: list[tuple[str, float]], gpa: float, tank: float, sump: float
) -> None:
    """The stops of all loads are the plots in order, all of their ground, and what is left falls to nothing."""
    mix = job(acres, gpa=gpa, tank_gal=tank, sump_gal=sump)
    visited = [stop.name for load in mix.loads for stop in load.stops]
    once = [name for n, name in enumerate(visited) if n == 0 or visited[n - 1] != name]
    assert once == [name for name, _ in acres]
    for name, area in acres:
        given_out = sum(s.area_m2 for load in mix.loads for s in load.stops if s.name == name)
        assert given_out / ACRE_M2 == pytest.approx(area, rel=1e-6)
    for load in mix.loads:
        assert load.stops
        assert sum(s.spray_m3 for s in load.stops) == pytest.approx(load.spray_m3, rel=1e-6)
        left = load.spray_m3
        for stop in load.stops:
            assert stop.spray_m3 > 0
            left -= stop.spray_m3
            assert stop.left_m3 == pytest.approx(left, rel=0, abs=1e-6 * load.spray_m3)
        assert load.stops[-1].left_m3 == pytest.approx(0, abs=1e-6 * load.spray_m3)


@settings(deadline=None, max_examples=150)
@given(
    loads=st.integers(1, 40),
    tank=st.integers(1, 500),
    sump=st.sampled_from([0.0, 0.1, 0.3, 0.7]),
    gpa=st.sampled_from([5.0, 7.5, 10.0, 12.5, 15.0, 17.3, 20.0]),
)
def test_exact_multiples_have_full_loads_only(loads: int, tank: int, sump: float, gpa: float) -> None:
    """A job of exactly so many tanks takes exactly so many loads, however the tenths round."""
    usable = tank - sump
    mix = job(loads * usable / gpa, gpa=gpa, tank_gal=tank, sump_gal=sump)
    assert len(mix.loads) == loads
    assert [load.spray_m3 / GAL_M3 for load in mix.loads] == pytest.approx([usable] * loads, rel=1e-8)


@settings(deadline=None, max_examples=150)
@given(acres=st.floats(0.05, 60), gpa=volumes, tank=tanks)
def test_all_loads_but_the_last_are_full(acres: float, gpa: float, tank: float) -> None:
    """Only the last load is partial, and there are no more loads than the job needs."""
    mix = job(acres, gpa=gpa, tank_gal=tank)
    assert [load.spray_m3 / GAL_M3 for load in mix.loads[:-1]] == pytest.approx([tank] * (len(mix.loads) - 1))
    assert len(mix.loads) in (math.ceil(acres * gpa / tank * (1 - 1e-8)), math.ceil(acres * gpa / tank))


@settings(deadline=None, max_examples=150)
@given(text=rates, factor=st.floats(0.5, 4.0), gpa=volumes)
def test_twice_the_rate_is_over_the_maximum_exactly_where_it_is(text: str, factor: float, gpa: float) -> None:
    """A maximum between the rate and twice it warns of overlap, one below the rate refuses, one above passes."""
    assume(abs(factor - 1) > 1e-6)
    assume(abs(factor - 2) > 1e-6)
    p = product("product", text)
    assume(p.rate.kind != "volume per area" or p.rate.si < 0.4 * gpa * GAL_M3 / ACRE_M2)
    number, unit = text.split(" ", 1)
    most = f"{float(number) * factor!r} {unit}"
    if factor < 1:
        with pytest.raises(ValueError, match="maximum"):
            job(2.0, product("product", text, most), gpa=gpa)
        return
    (twice,) = job(2.0, product("product", text, most), gpa=gpa).overlaps
    assert twice.over is (factor < 2)
    assert twice.twice == pytest.approx(2 * twice.rate, rel=1e-12)
    assert twice.maximum == pytest.approx(factor * twice.rate, rel=1e-9)


@settings(deadline=None, max_examples=80)
@given(acres=plots, texts=st.lists(rates, min_size=1, max_size=2), gpa=volumes, tank=tanks)
def test_one_plot_of_all_acres_takes_the_same(
    acres: list[tuple[str, float]], texts: list[str], gpa: float, tank: float
) -> None:
    """How the acres are split into plots changes no load and no total."""
    mix, products = planned(acres, texts, gpa, tank, 0.0)
    whole = job(sum(a for _, a in acres), *products, gpa=gpa, tank_gal=tank)
    assert [t.amount for t in whole.totals] == pytest.approx([t.amount for t in mix.totals], rel=ROUNDING)
    assert len(whole.loads) == len(mix.loads)
