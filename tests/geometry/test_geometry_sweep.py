"""The sweep and its outlines against plain polygons, and the choice of engine."""

import sys
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from gladebook.geometry import sweep as sweeping
from gladebook.geometry.frame import turn_points
from gladebook.geometry.outline import trace
from gladebook.geometry.ribbon import Edges
from gladebook.geometry.scan import sweep_plain
from gladebook.geometry.scene import Scene, best_turn_rad, spacing_for
from gladebook.geometry.sweep import choose_engine

Floats = npt.NDArray[np.float64]


def outline(shape: Any, owner: int) -> Edges:
    """Edges of a polygon, anticlockwise round its ground."""
    rings = [shapely.get_coordinates(r) for p in shapely.get_parts(shape) for r in rings_of(shapely.orient_polygons(p))]
    start, end = np.concatenate([r[:-1] for r in rings]), np.concatenate([r[1:] for r in rings])
    return Edges(start, end, np.full(len(start), owner, dtype=np.int64))


def turned_edges(edges: Edges, turn_rad: float) -> Edges:
    start, end = (turn_points(xy, turn_rad=turn_rad) for xy in (edges.start_m, edges.end_m))
    return Edges(start, end, edges.owner)


def rings_of(polygon: Any) -> list[Any]:
    return [polygon.exterior, *polygon.interiors]


def scene_of(grounds: list[Any], regions: list[Any], veils: list[Any]) -> Scene:
    shapes = [*grounds, *veils, *regions]
    return Scene(
        parts=tuple(outline(s, k) for k, s in enumerate(shapes)),
        grounds=len(grounds),
        veils=len(veils),
        region=np.arange(1, len(regions) + 1),
        regions=len(regions),
        group=np.arange(len(grounds)),
    )


def star(seed: int, *, at: tuple[float, float], radius_m: float) -> Any:
    """A crooked polygon, now and then with a hole."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(4, 12))
    angle = 2 * np.pi / n * (np.arange(n) + rng.uniform(0, 0.8, n))
    away = radius_m * rng.uniform(0.4, 1.0, n)
    shell = np.array(at) + np.column_stack([away * np.cos(angle), away * np.sin(angle)])
    hole = np.array(at) + 0.2 * (shell - at)
    return shapely.Polygon(shell, [hole] if rng.random() < 0.5 else [])


@settings(deadline=None, max_examples=30)
@given(seed=st.integers(0, 2**31), spacing_m=st.sampled_from([0.01, 0.05, 0.25]))
def test_counts_are_those_of_polygons(seed: int, spacing_m: float) -> None:
    """Ground under none, one, two and three shapes, in a region and out of it, is what overlays of polygons give."""
    rng = np.random.default_rng(seed)
    grounds = [star(seed + k, at=tuple(rng.uniform(-8, 8, 2)), radius_m=15) for k in range(3)]
    region, veil = star(seed + 7, at=(0, 0), radius_m=20), star(seed + 8, at=(3, 3), radius_m=10)
    scene = scene_of(grounds, [region], [veil])
    swept = sweep_plain(scene, spacing_m=spacing_m, wanted=np.zeros((2, 4, 2), dtype=bool))
    a, b, c = grounds
    under = [
        region.difference(shapely.union_all(grounds)),
        None,
        shapely.union_all([a & b, a & c, b & c]).difference(a & b & c).intersection(region),
        (a & b & c).intersection(region),
    ]
    # A corner costs up to half a spacing times what its edges run along the lines in half a spacing; a few do, badly.
    within = 40 * spacing_m**2 * 12 + 1e-6
    for count in (0, 2, 3):
        shape = under[count]
        assert shape is not None
        assert swept.area_m2[1, count].sum() == pytest.approx(shape.area, abs=within)
        assert swept.area_m2[1, count, 1] == pytest.approx(shape.intersection(veil).area, abs=within)
    assert swept.area_m2[1].sum() == pytest.approx(region.area, abs=within)
    assert swept.ground_m2 == pytest.approx(sum(g.area for g in grounds), abs=3 * within)
    shared = dict(zip(zip(swept.pairs.first, swept.pairs.second, strict=True), swept.pairs.area_m2, strict=True))
    for first, second in ((0, 1), (0, 2), (1, 2)):
        both = grounds[first].intersection(grounds[second]).area
        assert shared.get((first, second), 0.0) == pytest.approx(both, abs=within)


@settings(deadline=None, max_examples=40)
@given(seed=st.integers(0, 2**31), turn=st.floats(0, 3.1))
def test_outlines_lie_where_the_shapes_do(seed: int, turn: float) -> None:
    """Traced from its stretches, a shape has its area and its edges, to a spacing, holes too."""
    rng = np.random.default_rng(seed)
    parts = [star(seed + k, at=tuple(rng.uniform(-15, 15, 2)), radius_m=9) for k in range(3)]
    scene = scene_of(parts, [], [])
    turned = Scene((turned_edges(scene.edges, turn),), 3, 0, scene.region, 0, scene.group)
    wanted = np.zeros((1, 4, 2), dtype=bool)
    wanted[0, 1:] = True
    drawn = trace(sweep_plain(turned, spacing_m=0.02, wanted=wanted).stretches, spacing_m=0.02)
    c, s = np.cos(turn), np.sin(turn)
    back = shapely.transform(drawn, lambda xy: xy @ np.array([[c, -s], [s, c]]))
    whole = shapely.union_all(parts)
    assert shapely.is_valid(drawn)
    differ = back.symmetric_difference(whole)
    # No ground farther than a spacing or so from an edge differs.
    assert shapely.buffer(shapely.boundary(whole), 0.03).covers(differ.buffer(-1e-6))
    # Edges nearly along the lines are the worst: half a spacing over some 20 m of them.
    assert differ.area < 0.02 / 2 * 20


def test_two_diamonds_that_touch_at_a_corner_stay_valid() -> None:
    """Shapes that touch in a point are drawn as valid polygons, nothing lost."""
    pair = [shapely.Polygon([(x, 0), (x + 2, 2), (x + 4, 0), (x + 2, -2)]) for x in (0.0, 4.0)]
    wanted = np.zeros((1, 4, 2), dtype=bool)
    wanted[0, 1:] = True
    drawn = trace(sweep_plain(scene_of(pair, [], []), spacing_m=0.05, wanted=wanted).stretches, spacing_m=0.05)
    assert shapely.is_valid(drawn)
    assert drawn.area == pytest.approx(16.0, abs=0.01)


def test_nothing_to_sweep_is_nothing() -> None:
    """A scene without edges has no areas, no stretches and no shape."""
    empty = scene_of([shapely.box(0, 0, 1, 1)], [], [])
    none = Scene((), 0, 0, empty.region, 0, empty.region)
    swept = sweep_plain(none, spacing_m=0.25, wanted=np.ones((1, 4, 2), dtype=bool))
    assert swept.area_m2.sum() == 0
    assert shapely.is_empty(trace(swept.stretches, spacing_m=0.25))


def test_the_turn_keeps_long_edges_off_the_lines() -> None:
    """Passes at any heading are turned so that neither they nor their ends lie within 15 degrees of the lines."""
    for deg in range(0, 180, 7):
        box = shapely.affinity.rotate(shapely.box(0, 0, 100, 4), deg, origin=(0, 0))
        edges = outline(box, 0)
        turned = turned_edges(edges, best_turn_rad(edges))
        step = turned.end_m - turned.start_m
        assert (np.degrees(np.arctan2(np.abs(step[:, 1]), np.abs(step[:, 0]))) > 15).all()


def test_lines_lie_closer_where_there_is_little_to_sweep() -> None:
    """The spacing is 25 cm for large scenes, and 2 mm at the least."""
    assert spacing_for([outline(shapely.box(0, 0, 10, 10), 0)], regions=1) == pytest.approx(0.002)
    assert spacing_for([outline(shapely.box(0, 0, 1e5, 1e5), 0)], regions=1) == pytest.approx(0.25)


def test_a_small_job_is_not_compiled() -> None:
    """numpy sweeps a small job: numba takes longer to load than the job takes."""
    assert not choose_engine(100).compiled


def test_without_a_folder_for_the_cache_numpy_sweeps_and_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where numba finds no folder that it can write to, numpy takes the job, and one sentence says what to do."""

    def no_folder(name: str) -> Any:
        raise RuntimeError(f"cannot cache function: no locator available for {name}")

    pytest.importorskip("numba", reason="numba is not installed, so there is no compiled engine")
    monkeypatch.setattr(sweeping, "import_module", no_folder)
    monkeypatch.delitem(sys.modules, "gladebook.geometry.compiled", raising=False)
    engine = choose_engine(10_000_000)
    assert not engine.compiled
    assert "NUMBA_CACHE_DIR" in engine.note


def test_without_numba_numpy_sweeps(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where numba is not installed, a large job is swept by numpy, and nothing needs saying."""
    monkeypatch.setattr(sweeping, "find_spec", lambda _: None)
    assert choose_engine(10_000_000) == sweeping.Engine(compiled=False)
