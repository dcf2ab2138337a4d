"""Many at once and one by one: the fast ways answer as the slow ones do, and are faster."""

import math
import time
from pathlib import Path
from typing import Any

import geopandas
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from gladebook.io.door import read_plots, read_track
from gladebook.io.json.shapes import shape_of, shapes_of
from gladebook.io.sound import surely_sound
from gladebook.io.table import tracks as table
from gladebook.passes.track import Track
from gladebook.plots.plot import Plot, check_plot
from tests.io import corpus as c
from tests.io.good_track_formats import COLUMNS, DELIMITERS, FIGURES, LETTERS, TIMES
from tests.io.good_tracks import CSV_TRACKS

_FIGURES = st.floats(-1, 1, allow_nan=False, width=32)
_STEPS = st.integers(-3, 3)


def _ring(place: tuple[float, float], size_deg: float, radii: list[float]) -> list[tuple[float, float]]:
    """A star round a place, one corner for each radius."""
    turns = np.arange(len(radii)) / len(radii) * 2 * np.pi
    lon, lat = place
    corners = [
        (lon + size_deg * r * math.cos(t), lat + size_deg * r * math.sin(t)) for r, t in zip(radii, turns, strict=True)
    ]
    return [*corners, corners[0]]


_STARS = st.builds(
    lambda place, size, radii, hole: shapely.Polygon(
        _ring(place, size, radii), [_ring(place, size * hole, radii[::-1])] if hole else []
    ),
    st.tuples(st.floats(-180, 180), st.floats(-72, 72)),
    st.sampled_from([1e-6, 1e-5, 1e-4, 1e-3, 0.01, 0.05]),
    st.lists(st.floats(0.3, 1), min_size=5, max_size=12) | st.lists(st.floats(-0.2, 1), min_size=3, max_size=12),
    st.sampled_from([0, 0, 0.3, 0.9, 1.0]),
)
# Corners on a coarse grid meet each other, lie on sides and on one line.
_LATTICES = st.builds(
    lambda corners, step: shapely.Polygon([(-83.44 + x * step, 31.2 + y * step) for x, y in [*corners, corners[0]]]),
    st.lists(st.tuples(_STEPS, _STEPS), min_size=3, max_size=9),
    st.sampled_from([1e-6, 1e-4, 1e-3, 0.02]),
)


@settings(max_examples=250)
@given(shape=_STARS | _LATTICES)
def test_a_boundary_that_is_surely_sound_passes_the_full_check_as_it_is(shape):
    """What the quick look takes, the check on a plane of its own takes too: same corners, no note."""
    if surely_sound(np.array([shape], dtype=object))[0]:
        checked = check_plot("North", shape)
        assert isinstance(checked, Plot)
        assert checked.notes == ()
        assert shapely.get_coordinates(checked.shape).tolist() == shapely.get_coordinates(shape).tolist()


@pytest.mark.filterwarnings("ignore:invalid value:RuntimeWarning")
def test_the_quick_look_takes_most_plots_and_leaves_what_is_odd():
    """Plain plots are taken; crossings, repeats, touches, heights, the far north and nothing at all are left."""
    ring = [k[:2] for k in c.GLADE]
    plain = [shapely.Polygon(c.moved(ring, 0.01 * i)) for i in range(100)]
    odd: list[Any] = [
        shapely.Polygon(c.BOW_TIE),
        shapely.Polygon([*ring[:2], ring[1], *ring[2:]]),
        shapely.Polygon(ring, [[ring[0], *[k[:2] for k in c.POND[:2]], ring[0]]]),
        shapely.force_3d(shapely.Polygon(ring)),
        shapely.Polygon(c.moved(ring, 0, 50)),
        shapely.Polygon([ring[0], (math.nan, 31.2), *ring[2:]]),
        shapely.Polygon(),
        shapely.Point(1, 2),
        None,
        shapely.Polygon([(0, 0), (9, 0), (9, 9)]),
    ]
    assert surely_sound(np.array(plain + odd, dtype=object)).tolist() == [True] * len(plain) + [False] * len(odd)


def test_a_column_of_acres_that_differs_in_a_hundred_plots_is_said_once(tmp_path):
    """Where the field of acres is off in a hundred plots, the first carries one note for the file, the rest none."""
    shapes = [c.polygon(c.moved(c.GLADE, 0.002 * i)) for i in range(100)]
    text = c.geojson(*(c.feature(shape, name=f"P{i}", acres=99) for i, shape in enumerate(shapes)))
    plots = read_plots(c.file_of("farm.geojson", text)(tmp_path))
    (note,) = plots[0].notes
    assert (note.kind, note.about, note.count) == ("doubtful", "farm.geojson", 100)
    assert [plot.notes for plot in plots[1:]] == [()] * 99


def test_shapes_at_once_are_those_that_each_has_alone():
    """Geometries plain and odd, among plain ones or alone, give the same shapes."""
    rings: list[c.Ring] = [
        c.GLADE,
        c.GLADE[:-1],
        [[*k, 7.0] for k in c.GLADE],
        c.outer(c.GLADE),
        [[-83, 31], [-82, 31], [-82, 32], [-83, 31]],
    ]
    geometries = [c.polygon(ring) for ring in rings] + [c.polygon(c.GLADE, c.POND), c.multipolygon([c.GLADE]), None]
    for mixed in (geometries, geometries[:1] * 3, [c.polygon(c.GLADE, c.POND), c.polygon(c.SQUARE)]):
        shapes, faults, _ = shapes_of(mixed, nesting=9)
        alone = [None if g is None else shape_of(g, nesting=9) for g in mixed]
        assert faults == [""] * len(mixed)
        assert [s and s.wkb for s in shapes] == [s and s.wkb for s in alone]


_TABLES = [e for group in (CSV_TRACKS, DELIMITERS, LETTERS, FIGURES, TIMES, COLUMNS) for e in group]


def _same(track: Track, other: Track) -> None:
    assert track.clock == other.clock
    assert track.notes == other.notes
    assert track.void_points == other.void_points
    for name in ("lon_deg", "lat_deg", "time_s", "segment", "boom_on", "width_m", "speed_mps", "hdop", "sections"):
        found, wanted = getattr(track, name), getattr(other, name)
        assert (found is None) == (wanted is None)
        if found is not None:
            np.testing.assert_array_equal(found, wanted, strict=True)


@pytest.mark.parametrize("entry", [pytest.param(e, id=e.name) for e in _TABLES])
def test_rows_at_once_are_those_that_each_has_alone(entry, tmp_path, monkeypatch):
    """Every good table, read many rows at once, two at once, or one by one, gives the same track to the last bit."""
    path = entry.build(tmp_path)
    whole = read_track(path, **entry.options)
    monkeypatch.setattr(table, "_AT_ONCE", 2)
    _same(read_track(path, **entry.options), whole)
    monkeypatch.setattr(table._Reader, "_take_at_once", _refuse)  # noqa: SLF001 - the other way is what is asked for
    _same(read_track(path, **entry.options), whole)


def _refuse(*_: Any) -> None:
    raise ValueError


_CELLS = st.sampled_from(
    [
        "",
        " ",
        "31.2",
        "-83.44",
        "0",
        "1",
        "on",
        "off",
        "1e2",
        "nan",
        "inf",
        "1_0",
        "31,2",
        "31.2N",
        "5",
        "-0.0",
        "9" * 30,
    ]
) | st.floats(-90, 90).map(repr)
_DAYS = st.sampled_from(["2026-05-04T14:00:00", "2026-05-04T14:00:01", "2026-05-04 14:00:02", "2026-02-30T14:00:00"])
_CLOCKS = st.sampled_from(["", "5", "5.25", "14:00", "2026-05-04", "20260504T140000Z"]) | st.builds(
    str.__add__, _DAYS, st.sampled_from(["Z", "Z", "", ".5Z", "-05:00"])
)


@settings(max_examples=300)
@given(
    rows=st.lists(st.tuples(_CLOCKS, _CELLS, _CELLS, _CELLS, _CELLS, _CELLS), min_size=1, max_size=4),
    sep=st.sampled_from([",", ";"]),
)
def test_rows_put_together_at_random_are_read_at_once_as_one_by_one(rows, sep):
    """Whatever cells a table has, both ways give the same track, or the same refusal."""
    text = c.table(sep.join(["time", "lat", "lon", "width_m", "boom_on", "section_1"]), *(sep.join(r) for r in rows))
    answers: list[Any] = []
    take = table._Reader._take_at_once  # noqa: SLF001 - the two ways are what is compared
    for way in (take, _refuse):
        table._Reader._take_at_once = way  # type: ignore[method-assign, assignment] # noqa: SLF001
        try:
            answers.append(table.read_track(Path("track.csv"), data=text.encode()))
        except ValueError as error:
            answers.append(f"{type(error).__name__}: {error}")
        finally:
            table._Reader._take_at_once = take  # type: ignore[method-assign] # noqa: SLF001
    if isinstance(answers[0], str):
        assert answers[0] == answers[1]
    else:
        _same(*answers)


def _plots(count: int) -> str:
    return c.geojson(
        *(
            c.feature(c.polygon(c.moved(c.GLADE, 0.01 * (i % 100), 0.01 * (i // 100))), name=f"P{i}")
            for i in range(count)
        )
    )


def test_many_plots_are_read_in_a_few_times_of_what_a_plain_reader_takes(tmp_path):
    """Three thousand plots, checked one and all, take less than ten times of what GeoPandas takes to read them only."""
    path = c.file_of("plots.geojson", _plots(3_000))(tmp_path)
    took: dict[str, list[float]] = {"ours": [], "plain": []}
    for _ in range(3):
        for name, read in (("ours", read_plots), ("plain", geopandas.read_file)):
            started = time.process_time()
            assert len(read(path)) == 3_000
            took[name].append(time.process_time() - started)
    assert min(took["ours"]) < 10 * min(took["plain"])  # measured: 2 to 3; one by one it was 30


def test_many_plots_come_in_as_few_do(tmp_path):
    """Plots read three hundred at once are those that each of ten files gives."""
    text = _plots(300)
    together = read_plots(c.file_of("plots.geojson", text)(tmp_path))
    apart = []
    for start in range(0, 300, 30):
        one = geopandas.read_file(tmp_path / "plots.geojson")[start : start + 30]
        apart += read_plots(c.file_of("part.geojson", one.to_json())(tmp_path))
    assert [p.name for p in together] == [p.name for p in apart]
    assert [p.shape.wkb for p in together] == [p.shape.wkb for p in apart]
