"""What goes into a property file comes out the same, and each kind of change can be taken back."""

import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import asdict, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from gladebook.errors import PropertyError
from gladebook.io.property.change import Pen, changing, steps_of, undo_last
from gladebook.io.property.check import faults_in
from gladebook.io.property.open import connected, new_property
from gladebook.io.property.store import (
    KEPT,
    add_application,
    add_kept,
    add_mark,
    add_plot,
    add_strip,
    applications_in,
    applications_of,
    boundaries_of,
    boundary_on,
    change_kept,
    edits_in,
    kept_in,
    marks_in,
    name_in,
    plots_in,
    plots_on,
    redraw_mark,
    redraw_plot,
    remove_application,
    remove_plot,
    rename_plot,
    set_state,
    strips_in,
    tracks_of,
)
from gladebook.passes.track import Track
from gladebook.plots.plot import Plot
from gladebook.records.kept import STATES, KeptStrip
from tests.io.property.season import crooked, drive

# Half of a character cannot be kept by any file; all other text can.
TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=40)
JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53), 2**53) | st.floats(allow_nan=False, allow_infinity=False) | TEXT,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXT, inner, max_size=3),
    max_leaves=6,
)
# To a nanodegree: the index holds single precision, which has no number as near to 0 as doubles have.
PLACES = st.integers(-88_000_000_000, 88_000_000_000).map(lambda n: n / 1e9)
DEGREES = st.floats(-179, 179, allow_subnormal=False)


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> Iterator[sqlite3.Connection]:
    """A property that many examples share, each of which takes back what it did."""
    path = tmp_path_factory.mktemp("store") / "glade.gpkg"
    new_property(path, name='Поляна\'s "End"')
    with connected(path) as found:
        yield found
        assert faults_in(found) == []


def _change(base: sqlite3.Connection, work: Callable[[Pen], Any]) -> Any:
    with changing(base, "a change") as pen:
        return work(pen)


def _undo(base: sqlite3.Connection, times: int = 1) -> None:
    for _ in range(times):
        undo_last(base, path=Path("glade.gpkg"))


def _rows(base: sqlite3.Connection) -> dict[str, list[Any]]:
    """All of the property but the list of changes, and counters."""
    names = [r[0] for r in base.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()]
    kept = [n for n in names if not n.startswith(("gladebook_change", "sqlite_", "gpkg_")) and "_geom_" not in n]
    return {n: sorted(base.execute(f"SELECT * FROM {n}").fetchall(), key=repr) for n in kept}  # noqa: S608 - names of tables of ours


def test_the_name_comes_back(base):
    """The property's own name is kept, whatever its letters."""
    assert name_in(base) == 'Поляна\'s "End"'


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(names=st.lists(TEXT, min_size=1, max_size=4, unique=True), walked=st.booleans(), corners=st.integers(5, 40))
def test_plots_come_back_as_they_were(base, names, walked, corners):
    """Plots come back in their order with names of any text and shapes with holes, to the last bit."""
    plots = [Plot(name, crooked(k, corners=corners), walked=walked) for k, name in enumerate(names)]
    uids = [_change(base, partial(add_plot, plot=p, day="2026-03-01")) for p in plots]
    found = plots_in(base)
    assert [(p.uid, p.name, p.since, p.walked) for p in found] == [
        (u, n, "2026-03-01", walked) for u, n in zip(uids, names, strict=True)
    ]
    assert all(shapely.equals_identical(f.shape, p.shape) for f, p in zip(found, plots, strict=True))
    _undo(base, len(plots))
    assert plots_in(base) == []


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(boxes=st.lists(st.tuples(PLACES, PLACES, st.floats(1e-9, 1), st.floats(1e-9, 1)), min_size=1, max_size=5))
def test_shapes_anywhere_come_back_and_are_found_by_the_index(base, boxes):
    """Areas of one or many parts anywhere on Earth come back to the last bit; the index and the extent hold them."""
    # Side by side, as areas that overlap are no area.
    shape = shapely.multipolygons(
        [shapely.box(x, y / 9 + 19 * k, x + w, y / 9 + 19 * k + h) for k, (x, y, w, h) in enumerate(boxes, -2)]
    )
    _change(base, lambda pen: add_mark(pen, name="x", kind="obstacle", shape=shape))
    (mark,) = marks_in(base)
    assert shapely.equals_identical(mark.shape, shape)
    west, south, east, north = shape.bounds
    extent = base.execute("SELECT min_x, min_y, max_x, max_y FROM gpkg_contents WHERE table_name = 'marks'").fetchone()
    tree = base.execute("SELECT minx, miny, maxx, maxy FROM rtree_marks_geom").fetchone()
    for low_x, low_y, high_x, high_y in (extent, tree):
        assert low_x <= west <= east <= high_x
        assert low_y <= south <= north <= high_y
    _undo(base)
    assert base.execute("SELECT min_x FROM gpkg_contents WHERE table_name = 'marks'").fetchone() == (None,)


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(table=st.sampled_from(KEPT), name=TEXT, content=st.dictionaries(TEXT, JSON, max_size=4))
def test_contents_come_back_as_json_has_them(base, table, name, content):
    """Sprayers, products, mixes and records come back with any name and any contents that JSON can hold."""
    uid = _change(base, lambda pen: add_kept(pen, table, name=name, content=content, day="2026-04-01"))
    (kept,) = kept_in(base, table)
    assert asdict(kept) == {"uid": uid, "name": name, "day": "2026-04-01", "content": content}
    _change(base, lambda pen: change_kept(pen, table, uid, content={"new": [name]}))
    assert kept_in(base, table) == [replace(kept, content={"new": [name]})]
    _undo(base, 2)
    assert kept_in(base, table) == []


def _tracks() -> st.SearchStrategy[Track]:
    numbers = st.floats(allow_infinity=False, allow_nan=True, width=64)

    @st.composite
    def drawn(draw: st.DrawFn) -> Track:
        n = draw(st.integers(1, 12))
        columns = [np.array(draw(st.lists(numbers, min_size=n, max_size=n))) for _ in range(4)]
        states = st.lists(st.sampled_from([-1, 0, 1]), min_size=n, max_size=n)
        sections = draw(st.integers(0, 3))
        return Track(
            name=draw(TEXT),
            lon_deg=np.array(draw(st.lists(DEGREES, min_size=n, max_size=n))),
            lat_deg=np.array(draw(st.lists(st.floats(-90, 90), min_size=n, max_size=n))),
            segment=np.cumsum(draw(st.lists(st.integers(0, 1), min_size=n, max_size=n))).astype(np.int64),
            boom_on=np.array(draw(states), dtype=np.int8),
            clock=draw(st.sampled_from(["utc", "no zone", "none"])),
            sections=np.array([draw(states) for _ in range(sections)], dtype=np.int8).T if sections else None,
            void_points=draw(st.integers(0, 9)),
            time_s=columns[0],
            width_m=columns[1],
            speed_mps=columns[2],
            hdop=columns[3],
        )

    return drawn()


def _same(one: Track, other: Track) -> None:
    for name in ("lon_deg", "lat_deg", "time_s", "segment", "boom_on", "width_m", "speed_mps", "hdop"):
        ours, theirs = getattr(one, name), getattr(other, name)
        assert ours.dtype == theirs.dtype, name
        np.testing.assert_array_equal(ours, theirs, err_msg=name)
    assert (one.name, one.clock, one.void_points) == (other.name, other.clock, other.void_points)
    assert (one.sections is None) == (other.sections is None)
    if one.sections is not None and other.sections is not None:
        assert one.sections.dtype == other.sections.dtype
        np.testing.assert_array_equal(one.sections, other.sections)


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(tracks=st.lists(_tracks(), min_size=1, max_size=3))
def test_tracks_come_back_point_by_point(base, tracks):
    """Tracks come back with what is not a number, sections, segments of one point, and the clock, to the last bit."""
    uid = _change(base, lambda pen: add_application(pen, name="x", day="", answer={}, tracks=tracks, plots=[]))
    found = tracks_of(base, uid)
    assert len(found) == len(tracks)
    for one, other in zip(found, tracks, strict=True):
        _same(one, other)
    _undo(base)
    assert tracks_of(base, uid) == []


def test_text_that_no_file_can_hold_is_kept_with_a_mark(base):
    """Names made of file names with bad bytes are kept with question marks in their place, and nothing escapes."""
    bad = b"drive\xff.gpx".decode("utf-8", "surrogateescape")
    with changing(base, f"{bad} was saved") as pen:
        add_kept(pen, "records", name=bad, content={"file": bad})
        add_application(pen, name=bad, day="", answer={}, tracks=[replace(drive(1), name=bad)], plots=[])
    assert steps_of(base)[-1].words == "drive?.gpx was saved"
    assert kept_in(base, "records")[0].name == "drive?.gpx"
    _undo(base)


def test_an_application_comes_back_whole(base):
    """An application comes back with its answer, plots, tracks and strips; strips by number, with their verdicts."""
    _change(base, lambda pen: add_plot(pen, Plot("Glade", crooked(1)), day="2026-03-01"))
    (plot,) = plots_in(base)
    tracks = [drive(1), drive(2)]
    with changing(base, "saved") as pen:
        uid = add_application(
            pen, name="first", day="2026-04-02", answer={"missed_m2": 3.25}, tracks=tracks, plots=[(plot, {"a": 1})]
        )
        strips = [
            KeptStrip("", uid, "Glade", k, "go look", 9.25, crooked(k, size_deg=1e-5), {"chance": 0.5, "words": "é"})
            for k in (2, 1)
        ]
        uids = [add_strip(pen, s) for s in strips]
    assert [asdict(a) for a in applications_in(base)] == [
        {"uid": uid, "name": "first", "day": "2026-04-02", "answer": {"missed_m2": 3.25}}
    ]
    assert applications_of(base, plot.uid) == ["first"]
    for one, other in zip(tracks_of(base, uid), tracks, strict=True):
        _same(one, other)
    for found, given_strip, strip_uid in zip(
        strips_in(base, application_uid=uid), strips[::-1], uids[::-1], strict=True
    ):
        assert replace(found, shape=None) == replace(given_strip, uid=strip_uid, shape=None)
        assert shapely.equals_identical(found.shape, given_strip.shape)
    assert strips_in(base, application_uid="none") == []
    _undo(base, 2)


def test_boundaries_hold_by_day(base):
    """An edited boundary holds up to its last day, the new one from its first; before the first the first counts."""
    shapes = [crooked(k, corners=9 + k) for k in range(3)]
    uid = _change(base, lambda pen: add_plot(pen, Plot("Glade", shapes[0]), day="2026-03-01"))
    for shape, day in ((shapes[1], "2026-05-01"), (shapes[2], "2026-06-01")):
        _change(base, partial(redraw_plot, plot=plots_in(base)[0], shape=shape, day=day))
    days = ("2026-01-01", "2026-03-01", "2026-04-30", "2026-05-01", "2026-05-31T23:59:59Z", "2026-06-01", "2027-01-01")
    for day, which in zip(days, (0, 0, 0, 1, 1, 2, 2), strict=True):
        assert shapely.equals_identical(boundary_on(base, uid, day=day).shape, shapes[which]), day
        assert shapely.equals_identical(plots_on(base, day=day[:10])[0].shape, shapes[which]), day
    assert [(b.since, b.until) for b in boundaries_of(base, uid)] == [
        ("2026-03-01", "2026-05-01"),
        ("2026-05-01", "2026-06-01"),
        ("2026-06-01", None),
    ]
    _change(base, lambda pen: remove_plot(pen, plots_in(base)[0], day="2026-07-01"))
    assert plots_in(base) == []
    assert [b.until for b in boundaries_of(base, uid)] == ["2026-05-01", "2026-06-01", "2026-07-01"]
    assert shapely.equals_identical(boundary_on(base, uid, day="2026-06-15").shape, shapes[2])
    _undo(base, 4)
    with pytest.raises(PropertyError, match="no plot with the id"):
        boundary_on(base, uid, day="2026-06-15")


def test_a_boundary_redrawn_meanwhile_is_kept_too(base):
    """Who redraws a plot that somebody else has redrawn since keeps that boundary in the history, not the stale one."""
    uid = _change(base, lambda pen: add_plot(pen, Plot("Glade", crooked(1)), day="2026-03-01"))
    (stale,) = plots_in(base)
    _change(base, lambda pen: redraw_plot(pen, stale, shape=crooked(2), day="2026-05-01"))
    _change(base, lambda pen: redraw_plot(pen, stale, shape=crooked(3), day="2026-06-01"))
    shapes = [crooked(1), crooked(2), crooked(3)]
    assert [b.since for b in boundaries_of(base, uid)] == ["2026-03-01", "2026-05-01", "2026-06-01"]
    assert all(shapely.equals_identical(b.shape, s) for b, s in zip(boundaries_of(base, uid), shapes, strict=True))
    _undo(base, 3)


def test_strips_have_the_states_that_there_are(base):
    """A strip takes each state and no other."""
    uid = _change(base, lambda pen: add_application(pen, name="x", day="", answer={}, tracks=[], plots=[]))
    strip = KeptStrip("", uid, "Glade", 1, "go look", 2.0, crooked(1), {})
    _change(base, lambda pen: add_strip(pen, strip))
    for state in STATES:
        _change(base, partial(set_state, strip=strips_in(base)[0], state=state))
        assert [s.state for s in strips_in(base)] == [state]
    with pytest.raises(PropertyError, match="A strip can be"):
        _change(base, lambda pen: set_state(pen, strips_in(base)[0], state="gone"))  # type: ignore[arg-type]
    with pytest.raises(sqlite3.IntegrityError):
        _change(base, lambda pen: pen.change("strips", strips_in(base)[0].uid, state="gone"))
    assert [s.state for s in strips_in(base)] == ["left"]
    _undo(base, 2 + len(STATES))


def _changes(base: sqlite3.Connection) -> dict[str, Callable[[Pen], Any]]:
    plot, mark = plots_in(base)[0], marks_in(base)[0]
    application, sprayer = applications_in(base)[0], kept_in(base, "sprayers")[0]
    strip = KeptStrip("", application.uid, "Glade", 9, "boom off", 2.0, crooked(1), {})
    return {
        "add": lambda pen: add_plot(pen, Plot("another", crooked(4)), day="2026-03-01"),
        "redraw": lambda pen: redraw_plot(pen, plot, shape=crooked(5), day="2026-05-01"),
        "rename": lambda pen: rename_plot(pen, plot, name="other"),
        "remove": lambda pen: remove_plot(pen, plot, day="2026-06-01"),
        "mark": lambda pen: add_mark(pen, name="pond", kind="check strip", shape=crooked(6)),
        "redraw mark": lambda pen: redraw_mark(pen, mark, shape=crooked(7)),
        "save": lambda pen: add_application(
            pen, name="second", day="", answer={}, tracks=[drive(3)], plots=[(plot, {"a": 1})]
        ),
        "remove application": lambda pen: remove_application(base, pen, application.uid),
        "strip": lambda pen: add_strip(pen, strip),
        "state": lambda pen: set_state(pen, strips_in(base)[0], state="touched up"),
        "keep": lambda pen: add_kept(pen, "mixes", name="x", content={"a": [1]}),
        "change kept": lambda pen: change_kept(pen, "sprayers", sprayer.uid, content={"width_m": 3}),
    }


_NAMES = (
    "add", "redraw", "rename", "remove", "mark", "redraw mark", "save", "remove application", "strip", "state", "keep",
    "change kept",
)  # fmt: skip


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[sqlite3.Connection, Path]]:
    path = tmp_path_factory.mktemp("full") / "glade.gpkg"
    new_property(path, name="x")
    with connected(path) as base:
        for k in range(2):
            _change(base, partial(add_plot, plot=Plot(f"Glade {k}", crooked(k)), day="2026-03-01"))
        _change(base, lambda pen: add_mark(pen, name="pond", kind="obstacle", shape=crooked(3)))
        _change(base, lambda pen: add_kept(pen, "sprayers", name="cart", content={"width_m": 6.1}))
        plots = [(p, {"b": 2}) for p in plots_in(base)]
        with changing(base, "saved") as pen:
            uid = add_application(pen, name="first", day="2026-04-01", answer={"x": 1}, tracks=[drive(1)], plots=plots)
            for k in range(2):
                add_strip(pen, KeptStrip("", uid, "Glade 0", k, "go look", 2.0, crooked(k, size_deg=1e-5), {}))
        yield base, path
        assert faults_in(base) == []


@pytest.mark.parametrize("name", _NAMES)
def test_each_kind_of_change_is_taken_back_to_the_last_byte(full, name):
    """Undo puts every row of every table and index back as it was, its number too."""
    base, path = full
    assert set(_changes(base)) == set(_NAMES)
    before = _rows(base)
    _change(base, _changes(base)[name])
    assert _rows(base) != before
    assert undo_last(base, path=path).undone
    assert _rows(base) == before
    assert faults_in(base) == []


@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(names=st.lists(st.sampled_from(_NAMES), min_size=1, max_size=8, unique=True))
def test_any_changes_are_taken_back_one_by_one(full, names):
    """Whatever was done in whatever order, undo goes back through each state that there was."""
    base, path = full
    states = [_rows(base)]
    for name in names:
        try:
            _change(base, _changes(base)[name])
        except IndexError:  # what it would change was removed
            continue
        states.append(_rows(base))
    for state in states[-2::-1]:
        undo_last(base, path=path)
        assert _rows(base) == state


def test_undo_outlives_the_program(tmp_path):
    """What one process did another takes back, the last first, until nothing is left, which is told."""
    path = tmp_path / "glade.gpkg"
    new_property(path, name="x")
    for k in range(3):
        with connected(path) as base:
            _change(base, partial(add_plot, plot=Plot(f"Glade {k}", crooked(k)), day="2026-03-01"))
    for k in (2, 1, 0):
        with connected(path) as base:
            assert undo_last(base, path=path).number == k + 1
            assert len(plots_in(base)) == k
    with connected(path) as base:
        with pytest.raises(PropertyError, match="nothing left to undo"):
            undo_last(base, path=path)
        assert [s.undone for s in steps_of(base)] == [True] * 3
        assert edits_in(base) == []


def test_what_belongs_to_an_application_keeps_it(full):
    """An application with strips cannot be removed alone; one that another program gave a strip is not undone."""
    base, path = full
    uid = applications_in(base)[0].uid
    with pytest.raises(sqlite3.IntegrityError, match="FOREIGN KEY"):
        _change(base, lambda pen: pen.remove("applications", uid))
    _change(base, lambda pen: add_application(pen, name="third", day="", answer={}, tracks=[], plots=[]))
    third = next(a for a in applications_in(base) if a.name == "third")
    row = "INSERT INTO strips (application_uid, plot, number, state, area_m2) VALUES (?, 'x', 1, 'left', 1.0)"
    base.execute(row, (third.uid,))
    with pytest.raises(sqlite3.IntegrityError, match="FOREIGN KEY"):
        undo_last(base, path=path)
    assert third in applications_in(base)
    base.execute("DELETE FROM strips WHERE application_uid = ?", (third.uid,))
    _undo(base)
