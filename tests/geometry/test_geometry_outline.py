"""Outlines of stretches: the compiled rings against the plain ones, and what simplifying must not lose."""

import sys
from typing import Any

import numpy as np
import pytest
import shapely

from gladebook.geometry.outline import trace
from gladebook.geometry.scene import Stretches
from gladebook.geometry.validity import straighten

SPACING_M = 0.25


def strewn(seed: int, *, lines: int, width_m: float, to_m: float | None = None) -> Stretches:
    """Stretches strewn over lines at random, some lines empty; rounded to `to_m`, so that ends meet exactly."""
    rng = np.random.default_rng(seed)
    row, start, end = [], [], []
    for line in range(-lines // 2, lines // 2):
        if rng.random() < 0.1:
            continue
        ends = np.sort(rng.uniform(0, width_m, 2 * int(rng.integers(1, 12))))
        ends = np.round(ends / to_m) * to_m if to_m else ends
        row += [line] * (len(ends) // 2)
        start += ends[::2].tolist()
        end += ends[1::2].tolist()
    rows = np.array(row)
    return Stretches(rows, np.array(start), np.array(end), np.zeros_like(rows))


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("to_m", [None, 0.5])
@pytest.mark.parametrize("least_m2", [0.0, 0.75, 1e9])
def test_compiled_outlines_are_the_plain_ones(
    monkeypatch: pytest.MonkeyPatch, seed: int, to_m: float | None, least_m2: float
) -> None:
    """Both engines draw the same polygons, corner for corner and hole for hole."""
    pytest.importorskip("numba", reason="numba is not installed, so there is no compiled engine")
    from gladebook.geometry import compiled, compiled_outline

    asked: list[int] = []

    def counted(row: Any, *ends: Any, **figures: Any) -> Any:
        asked.append(len(row))
        return rings_compiled(row, *ends, **figures)

    rings_compiled = compiled_outline.rings_compiled
    monkeypatch.setattr(compiled_outline, "rings_compiled", counted)
    stretches = strewn(seed, lines=800, width_m=30.0, to_m=to_m)
    monkeypatch.setitem(sys.modules, compiled.__name__, compiled)
    fast = shapely.get_parts(trace(stretches, spacing_m=SPACING_M, least_m2=least_m2))
    monkeypatch.delitem(sys.modules, compiled.__name__)
    plain = shapely.get_parts(trace(stretches, spacing_m=SPACING_M, least_m2=least_m2))
    assert len(asked) == 1
    assert len(fast) == len(plain)
    assert shapely.equals_identical(fast, plain).all()
    assert bool(len(plain)) == (least_m2 < 1e9)


def test_outlines_hold_the_ground_of_their_stretches() -> None:
    """The polygons' area is the stretches' length times the spacing, but for corners half-way to the next line."""
    stretches = strewn(3, lines=400, width_m=500.0)
    drawn = trace(stretches, spacing_m=SPACING_M)
    assert shapely.is_valid(drawn)
    assert drawn.area == pytest.approx((stretches.end_m - stretches.start_m).sum() * SPACING_M, rel=0.1)
    rows, x = np.arange(40), np.linspace(0, 7, 40)
    slanted = trace(Stretches(rows, x, x + 3.0, rows * 0), spacing_m=SPACING_M)
    assert slanted.area == pytest.approx(40 * 3.0 * SPACING_M, rel=1e-9)


def test_stretches_in_any_order_give_the_same_ground() -> None:
    """Stretches that do not come by line and from left to right are put in order."""
    stretches = strewn(5, lines=60, width_m=40.0)
    mixed = np.random.default_rng(1).permutation(len(stretches.row))
    rows, kinds = stretches.row[mixed], stretches.kind[mixed]
    other = trace(Stretches(rows, stretches.start_m[mixed], stretches.end_m[mixed], kinds), spacing_m=SPACING_M)
    assert other.equals(trace(stretches, spacing_m=SPACING_M))


def test_an_outline_that_crosses_itself_keeps_both_its_sides() -> None:
    """Straightening takes no ground from a part whose outline crosses itself, and makes it valid."""
    bow = shapely.Polygon([(0, 0), (4, 4), (4, 0), (0, 4)])
    whole = shapely.box(10, 0, 14, 4)
    drawn = straighten(np.array([bow, whole], dtype=object), off_m=1e-4)
    assert shapely.is_valid(drawn).all()
    assert shapely.area(drawn) == pytest.approx([8.0, 16.0])


def test_straightening_leaves_out_corners_on_straight_edges() -> None:
    """Corners within a tenth of a millimetre of a straight edge go; area and holes stay."""
    side = np.column_stack([np.linspace(0, 100, 1001), np.tile([0.0, 5e-5], 501)[:1001]])
    part = shapely.Polygon([*side, (100, 10), (0, 10)], [[(5, 5), (6, 5), (6, 6)]])
    drawn = straighten(np.array([part], dtype=object), off_m=1e-4)[0]
    assert shapely.get_num_coordinates(drawn) < 12
    assert len(drawn.interiors) == 1
    assert drawn.area == pytest.approx(part.area, abs=1e-2)
