"""A sprayer's width, sections and delays meet what is recorded, and a boom assumed on ends at the plots' edges."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from gladebook.coverage.boom import Settled, settle_boom
from gladebook.errors import CallError, TrackError
from gladebook.geometry.frame import Frame
from gladebook.passes.path import CutRules, Path, lay_out
from gladebook.passes.sprayer import Sprayer
from tests.passes.tracks import HOME, Floats, make_track, straight

FRAME = Frame(*HOME)
FIELD = shapely.box(-150, -150, 150, 150)
LINE = straight((-50, 0), (50, 0))
STEP_M = 1e-4  # a micrometre of the plane and a quarter of a microsecond of the stamps
EDGE_M = 1e-5  # edges are met to a micrometre, a few times along a step


def path_of(xy_m: Any = LINE, *, sections: Any = None, **columns: Any) -> Path:
    track = make_track(xy_m, **columns)
    if sections is not None:
        track = replace(track, sections=np.asarray(sections, dtype=np.int8))
    return lay_out(track, frame=FRAME, rules=CutRules())


def settle(path: Path, *, ground: Any = FIELD, **sprayer: Any) -> Settled:
    return settle_boom(path, sprayer=Sprayer(**sprayer), ground=ground)


def on_m(settled: Settled, section: int = 0) -> float:
    """Length of the way along which a section sprays."""
    steps_m = np.hypot(*np.diff(settled.path.xy_m, axis=0).T)
    return float(steps_m[settled.lanes.on[section, :-1] & ~settled.path.cut].sum())


def swath_m(settled: Settled) -> Floats:
    """From the left edge of the first lane to the right edge of the last, at each point."""
    width: Floats = settled.lanes.left_m[0] - settled.lanes.right_m[-1]
    return width


# ---- widths and sections


def test_the_sections_given_are_the_booms_width():
    """Where no width is given or recorded, the sections given add up to it, with sections recorded or not."""
    for sections in (None, np.ones((101, 3))):
        settled = settle(path_of(sections=sections), sections_m=(1.0, 2.0, 1.5))
        assert swath_m(settled) == pytest.approx(4.5, abs=1e-12)
        assert (settled.path.width_m == 4.5).all()


def test_a_recorded_width_beats_the_one_given():
    """The file's width is used where it has one, the width given elsewhere, and that is said."""
    width = np.where(np.arange(101) < 40, 5.0, np.nan)
    settled = settle(path_of(width_m=width), width_m=4.0)
    assert swath_m(settled).tolist() == [5.0] * 40 + [4.0] * 61
    assert any("instead of --boom" in notice for notice in settled.notices)


def test_a_missing_width_is_asked_for():
    """Without a width in the file or the call the question names the option."""
    with pytest.raises(CallError, match=r"drive.*--boom"):
        settle(path_of())


def test_a_width_below_nothing_is_refused():
    """A recorded width below nothing is no width."""
    with pytest.raises(TrackError, match="below zero"):
        settle(path_of(width_m=-2.0))


def test_equal_sections_are_said_to_be_assumed():
    """Sections recorded without widths are taken as equal parts, and that is said with the option."""
    settled = settle(path_of(sections=np.ones((101, 4))), width_m=6.0)
    assert [s for s in settled.assumptions if "equally wide" in s and "--sections" in s]
    assert np.unique(settled.lanes.left_m - settled.lanes.right_m).tolist() == [1.5]


def test_another_count_of_sections_is_refused():
    """Two widths for three recorded sections name both numbers."""
    with pytest.raises(CallError, match=r"records 3 sections.*gives 2 widths"):
        settle(path_of(sections=np.ones((101, 3))), sections_m=(1.0, 2.0))


def open_width(sections: Any, each_m: Any) -> Floats:
    width: Floats = np.asarray(sections, dtype=float) @ np.asarray(each_m, dtype=float)
    return width


THREE = np.repeat([[1, 1, 1], [0, 1, 1], [0, 0, 0], [0, 0, 1]], [30, 30, 11, 30], axis=0)


def test_a_recorder_of_the_open_width_is_seen_through():
    """Where the recorded width is that of the open sections, the boom is as wide as all of them: told and used."""
    for given_m in ((), (2.0, 2.0, 2.0)):
        settled = settle(path_of(sections=THREE, width_m=open_width(THREE, (2, 2, 2))), sections_m=given_m)
        assert np.allclose(swath_m(settled), 6.0, atol=1e-9)
        assert [on_m(settled, k) for k in range(3)] == pytest.approx([30, 60, 89], abs=STEP_M)
        assert any("grow with the sections" in s and "19.69 ft" in s for s in settled.assumptions) == (not given_m)


def test_unequal_sections_of_an_open_width_are_laid_as_given():
    """With widths given for each section, an open width that is theirs fits; without, the doubt is said."""
    width = open_width(THREE, (1, 2, 3))
    settled = settle(path_of(sections=THREE, width_m=width), sections_m=(1.0, 2.0, 3.0))
    assert np.allclose(settled.lanes.left_m - settled.lanes.right_m, [[1.0], [2.0], [3.0]], atol=1e-12)
    assert any("open sections only" in s for s in settle(path_of(sections=THREE, width_m=width)).assumptions)


def test_sections_that_do_not_fit_the_recorded_width_are_refused_with_both():
    """A recorded width that is neither all sections given nor those open is named beside their sum."""
    with pytest.raises(CallError, match=r"add up to 19\.69 ft, but a width of 16\.4 ft"):
        settle(path_of(sections=np.ones((101, 3)), width_m=5.0), sections_m=(2.0, 2.0, 2.0))


def test_the_boom_is_on_where_any_section_is():
    """With sections recorded and no state of the boom, it is on where any of them is, and nothing is assumed."""
    settled = settle(path_of(sections=THREE, boom_on=-1), sections_m=(1.0, 1.0, 1.0))
    assert np.flatnonzero(settled.path.boom_on == 0).tolist() == list(range(60, 71))
    assert settled.assumptions == ()


def test_a_boom_recorded_as_off_beats_its_sections():
    """Open sections of a boom that is off spray nothing."""
    on = np.arange(101) < 50
    settled = settle(path_of(sections=np.ones((101, 2)), boom_on=on), sections_m=(2.0, 2.0))
    assert [on_m(settled, k) for k in range(2)] == pytest.approx([50, 50], abs=STEP_M)


def test_sections_not_recorded_follow_the_boom_assumed():
    """Where neither the boom nor a section is recorded, both are assumed on inside the plot alone."""
    sections = np.full((101, 2), -1)
    sections[:, 1] = 0
    half = shapely.box(-200, -50, 10.5, 50)
    settled = settle(path_of(sections=sections, boom_on=-1, time_s=0.5), width_m=4.0, ground=half)
    assert on_m(settled, 0) == pytest.approx(60.5, abs=EDGE_M)
    assert on_m(settled, 1) == 0.0
    assert any("assumed on inside the plots" in s for s in settled.assumptions)


# ---- delays


def test_delays_move_what_is_recorded_and_not_what_is_assumed():
    """A recorded switch is late; the plot's edge, where an assumed boom goes off, is not."""
    on = np.full(101, -1)
    on[10:20], on[20:30] = 0, 1
    plot = shapely.box(-200, -50, 25.25, 50)
    path = path_of(boom_on=on, time_s=0.5)
    plain, late = (settle(path, ground=plot, width_m=4.0, on_delay_s=delay) for delay in (None, 0.75))
    assert on_m(plain) == pytest.approx(75.25 - 10, abs=EDGE_M)
    assert on_m(late) == pytest.approx(75.25 - 10 - 1.5, abs=STEP_M)


def test_a_late_end_keeps_the_width_though_the_recorder_writes_none():
    """A recorder that writes no width while the boom is off does not take it from the spray that ends late."""
    width = np.where(np.arange(101) < 50, 5.0, 0.0)
    settled = settle(path_of(width_m=width), off_delay_s=2.0)
    assert on_m(settled) == pytest.approx(52, abs=STEP_M)
    assert (swath_m(settled) == 5.0).all()


def test_delays_without_a_recorded_state_are_said_to_change_nothing():
    """Delays given for a track that records no switch are not dropped silently."""
    settled = settle(path_of(boom_on=-1), width_m=4.0, on_delay_s=1.0)
    assert any("delays given for the spray change nothing" in notice for notice in settled.notices)


@pytest.mark.parametrize(("behind_m", "words"), [(3.048, "10 ft behind"), (-1.524, "5 ft ahead of"), (0.0, None)])
def test_an_assumed_boom_is_judged_at_the_receiver_and_that_is_said(behind_m, words):
    """Where the boom is behind or ahead, it is said that the receiver's place decided; the lanes know the rest."""
    plot = shapely.box(-20.5, -50, 20.5, 50)
    settled = settle(path_of(boom_on=-1, time_s=0.5), ground=plot, width_m=4.0, behind_m=behind_m)
    assert on_m(settled) == pytest.approx(41, abs=EDGE_M)
    assert settled.lanes.behind_m == behind_m
    said = [s for s in settled.assumptions if "receiver's place" in s]
    assert len(said) == (words is not None)
    assert words is None or words in said[0]


# ---- assumed by the plots' edges


def inside_m(xy: Floats, ground: Any) -> Floats:
    """Length of each step inside the plots, by shapely's own overlay, line by line."""
    lines = shapely.linestrings(np.stack([xy[:-1], xy[1:]], axis=1))
    length: Floats = shapely.length(shapely.intersection(lines, ground))
    return length


def plots_of(rng: np.random.Generator) -> Any:
    """Two star-shaped plots, one with a pond, and a square whose corners lie on whole metres."""
    rings = []
    for centre, radius in (((0, 0), 40.0), ((0, 0), 12.0), ((70, 10), 20.0)):
        n = int(rng.integers(5, 14))
        angle = np.sort(rng.uniform(0, 2 * np.pi / n, n) + 2 * np.pi / n * np.arange(n))
        away = radius * rng.uniform(0.6, 1.0, n)
        rings.append(shapely.Polygon(np.array(centre) + np.column_stack([away * np.cos(angle), away * np.sin(angle)])))
    return shapely.union_all([rings[0].difference(rings[1]), rings[2], shapely.box(-80, -80, -60, -60)])


@given(seed=st.integers(0, 10_000), kind=st.sampled_from(["wander", "leap", "grid", "drive"]))
def test_an_assumed_boom_is_on_along_what_lies_inside(seed, kind):
    """Of a track without times, all that lies inside the plots is on, to the edges, and nothing else."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(2, 700))
    if kind == "wander":
        xy = np.cumsum(rng.normal(0, 3, (n, 2)), axis=0)
    elif kind == "leap":
        xy = rng.uniform(-90, 90, (n, 2))
    elif kind == "grid":
        xy = np.round(rng.uniform(-9, 9, (n, 2))) * 10.0
    else:
        xy = np.column_stack([np.linspace(-100, 100, n), 10 * np.sin(np.arange(n) / 40)])
    ground = plots_of(rng)
    nowhere, cut = np.full(n, np.nan), rng.random(n - 1) < 0.05
    path = Path("drive", xy, nowhere, nowhere, np.full(n, -1, np.int8), nowhere, cut, np.zeros(n - 1, bool), np.nan)
    settled = settle(path, ground=ground, width_m=4.0)
    expected_m = inside_m(xy, ground)[~cut]
    # Steps may follow an edge exactly; a boundary itself is inside or not by rounding, so edges are left out there.
    along = shapely.length(
        shapely.intersection(
            shapely.linestrings(np.stack([xy[:-1], xy[1:]], axis=1)[~cut]),
            shapely.buffer(shapely.boundary(ground), EDGE_M),
        )
    )
    slack_m = float(along[along > 0.01].sum())
    assert abs(on_m(settled) - expected_m.sum()) <= EDGE_M * (1 + len(expected_m)) + slack_m
    steps = settled.path.xy_m
    middle = (steps[:-1] + steps[1:])[~settled.path.cut] / 2
    clear = shapely.distance(shapely.boundary(ground), shapely.points(middle)) > EDGE_M
    inside = shapely.intersects_xy(ground, middle[:, 0], middle[:, 1])
    assert (settled.lanes.on[0, :-1][~settled.path.cut] == inside)[clear].all()


def test_edges_in_the_middle_of_a_long_track_are_all_met():
    """Ten thousand points over a comb of 40 plots end at each of its 80 edges, wherever those lie in the track."""
    xy = np.column_stack([np.linspace(0, 4000, 10_000), np.zeros(10_000)])
    ground = shapely.union_all([shapely.box(x + 13.37, -5, x + 61.91, 5) for x in range(0, 4000, 100)])
    nowhere = np.full(10_000, np.nan)
    cut = np.zeros(9_999, bool)
    path = Path("drive", xy, nowhere, nowhere, np.full(10_000, -1, np.int8), nowhere, cut, cut, np.nan)
    settled = settle(path, ground=ground, width_m=4.0)
    assert len(settled.path.xy_m) == 10_080
    assert on_m(settled) == pytest.approx(40 * 48.54, abs=1e-6)


def test_points_put_on_edges_have_times():
    """A point where the assumed boom goes off lies in time where it lies in place."""
    settled = settle(path_of(boom_on=-1, time_s=0.5), ground=shapely.box(-200, -50, 10.25, 50), width_m=4.0)
    at = int(np.argmax(settled.path.boom_on == 0))
    assert settled.path.xy_m[at, 0] == pytest.approx(10.25, abs=EDGE_M)
    assert settled.path.time_s[at] - 1.7e9 == pytest.approx(60.25 * 0.5, abs=1e-5)
