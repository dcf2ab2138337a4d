"""Passes side by side: planted skips with known answers, and ground where nothing may be counted."""

import zlib
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from gladebook.beside.pass_count import PassCount, passes_document
from gladebook.beside.side_by_side import count_passes
from gladebook.geometry.frame import Frame
from gladebook.passes.path import CutRules, Path, lay_out
from gladebook.passes.trips import find_passes
from gladebook.testing import Points, drive, parallel_passes, track_on
from tests.passes.tracks import HOME, Floats, arc, box, joined, straight, turned
from tests.properties.applications import HOSTILE, hostile, random_ring

FRAME = Frame(*HOME)
BOOM_M = 4.0
FIELD = shapely.box(0, 0, 60, 100)  # 15 passes of 4 m from its west side to its east side
COMPASS = ("east", "north-east", "north", "north-west", "west", "south-west", "south", "south-east")


def compass(deg: float) -> str:
    """The name of the side that lies at an angle from east, anticlockwise."""
    return f"{COMPASS[int((deg % 360 + 22.5) // 45) % 8]} side"


def path_on(points: Points, *, width_m: float = BOOM_M, name: str = "drive") -> Path:
    return lay_out(track_on(points, frame=FRAME, name=name, width_m=width_m), frame=FRAME, rules=CutRules())


def sprayed(
    ground: Any, *, width_m: float = BOOM_M, spacing_m: float | None = None, leave_out: tuple[int, ...] = ()
) -> Points:
    """Back and forth over ground from its left side to its right, the boom on where the swath touches it."""
    start, legs = parallel_passes(ground, width_m=width_m, spacing_m=spacing_m or width_m, leave_out=leave_out)
    return drive(start, legs)


def lines(*drives: Floats) -> Points:
    """One drive after the other with the boom on, and off in between."""
    on = np.concatenate([np.append(np.ones(len(d) - 1), 0) for d in drives])
    xy = np.concatenate(drives)
    return Points(xy_m=xy, time_s=np.arange(len(xy), dtype=float), boom_on=on.astype(np.int8))


def backwards(points: Points) -> Points:
    """The same drive from its end to its start."""
    on = np.append(points.boom_on[:-1][::-1], 0).astype(np.int8)
    return Points(xy_m=points.xy_m[::-1], time_s=points.time_s, boom_on=on)


def count(
    ground: Any, *drives: Points, deg: float = 0.0, width_m: float = BOOM_M, noise_m: float = 0.0, name: str = "plot"
) -> PassCount:
    """Turn ground and drives, which follow each other by an hour, add a receiver's white noise, and count."""
    rng = np.random.default_rng(0)
    paths = []
    for k, points in enumerate(drives):
        xy = turned(points.xy_m, deg)
        noisy = replace(points, xy_m=xy + rng.normal(0, noise_m, xy.shape), time_s=points.time_s + 3600 * k)
        paths.append(path_on(noisy, width_m=width_m))
    passes = find_passes(paths)
    answer = count_passes(name, shapely.transform(ground, lambda xy: turned(xy, deg)), passes=passes)
    assert answer.found <= len(passes)
    return answer


def gaps_of(answer: PassCount) -> list[tuple[int, int]]:
    return [(gap.after, gap.missing) for gap in answer.gaps]


@pytest.mark.parametrize("noise_m", [0.0, 0.3])
@pytest.mark.parametrize("deg", [0.0, 17.0, 90.0, 133.0, 245.0])
@pytest.mark.parametrize(
    ("leave_out", "gaps"),
    [
        ((), []),
        ((8,), [(7, 1)]),
        ((1,), [(0, 1)]),
        ((15,), [(14, 1)]),
        ((7, 8), [(6, 2)]),
        ((3, 9), [(2, 1), (7, 1)]),
    ],
)
def test_planted_skips_come_back(leave_out, gaps, deg, noise_m):
    """Rows left out of fifteen are counted and placed, at any heading, with the side told by the compass."""
    answer = count(FIELD, sprayed(FIELD, leave_out=leave_out), deg=deg, noise_m=noise_m)
    assert (answer.found, answer.needed) == (15 - len(leave_out), 15)
    assert gaps_of(answer) == gaps
    for gap in answer.gaps:
        assert gap.side == compass(deg if gap.after else deg + 180)
    # The middle of fourteen distances, or of some hundred cuts: noise of 0.3 m leaves centimetres.
    assert answer.spacing_m == pytest.approx(BOOM_M, abs=1e-6 if noise_m == 0 else 0.15)


def test_the_sentence_that_people_read():
    """Nineteen rows along x from the south with the eighth left out give the sentence that was asked for."""
    ground = shapely.box(0, 0, 80, 76)
    points = sprayed(shapely.box(0, 0, 76, 80), leave_out=(8,))
    # Mirrored on the diagonal: rows from the south to the north.
    answer = count(ground, replace(points, xy_m=points.xy_m[:, ::-1]), name="North Glade")
    assert answer.sentences == (
        "North Glade: 19 passes needed, 18 found, gap after the 7th, north side.",
        "North Glade: passes are counted from the south side, nearest to the first one driven.",
    )
    assert passes_document(answer) == {
        "found": 18,
        "needed": 19,
        "gaps": [{"after": 7, "missing": 1, "side": "north side"}],
    }


def test_sentences_of_several_gaps():
    """Gaps on one side are named together, those of several passes with their number."""
    told = count(FIELD, sprayed(FIELD, leave_out=(1, 5, 6, 12))).sentences[0]
    assert told == (
        "plot: 15 passes needed, 11 found, gap before the 1st, west side, "
        "gaps of 2 passes after the 3rd and after the 8th, east side."
    )
    assert count(FIELD, sprayed(FIELD)).sentences == ("plot: 15 passes needed, 15 found.",)


def test_passes_are_counted_from_where_driving_began():
    """The same rows driven from the other side are counted from there."""
    there = sprayed(FIELD, leave_out=(4,))
    assert gaps_of(count(FIELD, there)) == [(3, 1)]
    answer = count(FIELD, backwards(there))
    assert gaps_of(answer) == [(11, 1)]
    assert answer.gaps[0].side == "west side"


def test_driving_that_began_in_the_middle_is_counted_from_the_nearer_side():
    """With the fourth row of fifteen driven first, passes are counted from the west side."""
    points = [straight((2 + 4.0 * k, 0), (2 + 4.0 * k, 100)) for k in (3, 0, 1, 2, 4, 5, 7, 8, 9, 10, 11, 12, 13, 14)]
    assert gaps_of(count(FIELD, lines(*points))) == [(6, 1)]
    points = [straight((2 + 4.0 * k, 0), (2 + 4.0 * k, 100)) for k in (11, 0, 1, 2, 3, 4, 5, 7, 8, 9, 10, 12, 13, 14)]
    assert gaps_of(count(FIELD, lines(*points))) == [(8, 1)]


@pytest.mark.parametrize("deg", [0.0, 60.0])
def test_a_gap_says_where_it_lies(deg):
    """The ends of a gap are those of the row that was left out, within a cut of half a boom."""
    gap = count(FIELD, sprayed(FIELD, leave_out=(8,)), deg=deg).gaps[0]
    ends = sorted([gap.first_m, gap.last_m], key=lambda at: turned([at], -deg)[0][1])
    np.testing.assert_allclose(turned(ends, -deg), [[30, 0], [30, 100]], atol=BOOM_M / 2)


@pytest.mark.parametrize(("noise_m", "left_on"), [(0.0, False), (0.3, False), (0.3, True)])
@pytest.mark.parametrize("seed", range(12))
def test_irregular_plots(seed, noise_m, left_on):
    """In star-shaped plots two long rows left out are missing and no more, with the boom left on in turns too."""
    rng = np.random.default_rng(seed)
    ground = shapely.Polygon(random_ring(rng, radius_m=55.0))
    west, south, east, north = shapely.bounds(ground)
    rows = int(np.ceil((east - west - BOOM_M) / 3.6 - 1e-9)) + 1
    middle = west + BOOM_M / 2 + 3.6 * np.arange(rows)
    across = shapely.linestrings([[(x, south - 1), (x, north + 1)] for x in middle])
    long_enough = np.flatnonzero(shapely.length(shapely.intersection(ground, across)) > 8 * BOOM_M)
    leave_out = tuple(rng.choice(long_enough, 2, replace=False) + 1)
    deg = float(rng.uniform(0, 360))
    found = []
    for left in ((), leave_out):
        points = sprayed(ground, spacing_m=3.6, leave_out=left)
        points = replace(points, boom_on=np.ones_like(points.boom_on)) if left_on else points
        answer = count(ground, points, deg=deg, noise_m=noise_m)
        assert answer.needed is not None
        assert answer.needed - answer.found == len(left)
        found.append(answer.found)
    # Not counted is a row of which less than a twentieth of the boom reaches in, or half a boom's length; with
    # the boom left on in turns, two more in each of the two tips.
    assert rows - 2 - 4 * left_on <= found[0] <= rows
    assert found[0] - 4 - 2 * left_on <= found[1] <= found[0] - 1


def lap(west: float, south: float, east: float, north: float) -> Floats:
    corners = [(west, south), (east, south), (east, north), (west, north), (west, south)]
    return joined(*(straight(a, b) for a, b in pairwise(corners)))


@pytest.mark.parametrize(("leave_out", "gaps"), [((), []), ((6,), [(8, 1)]), ((1,), [(13, 1)]), ((13,), [(1, 1)])])
def test_a_lap_and_rows(leave_out, gaps):
    """A headland lap's long sides count with the rows, its short ones do not, and rows missing beside it are seen."""
    inner = sprayed(shapely.box(4, 4, 56, 96), leave_out=leave_out)
    answer = count(FIELD, lines(lap(2, 2, 58, 98)), inner)
    assert answer.needed == 15
    assert gaps_of(answer) == gaps  # the lap's east side is driven before its west side
    assert answer.sentences[-1] == "plot: 2 passes across the others or along a slanted side not counted."


def test_a_lap_along_a_slanted_side():
    """A headland along a slanted side is not counted, and the bare ends of rows beside it are no gap."""
    ground = shapely.Polygon([(0, 0), (100, 0), (100, 48), (0, 30)])
    headland = [straight((2, 2), (98, 2)), straight((98, 3), (98, 45)), straight((98, 45.6), (2, 28.3))]
    rows = []
    for y in (6.0, 10.0, 14.0, 18.0, 22.0, 26.0, 30.0, 34.0, 38.0):
        start = 4.0 + max(0.0, (y - 26) / 18 * 100)
        rows.append(straight((start, y), (96, y)))
    assert count(ground, lines(*headland, *rows)).gaps == ()
    for k in (2, 4, 6):
        answer = count(ground, lines(*headland, *rows[:k], *rows[k + 1 :]))
        assert gaps_of(answer) == [(k + 1, 1)]
        assert answer.gaps[0].side == "north side"


@pytest.mark.parametrize("leave_out", [(), (6,), (8,)])
def test_rows_split_by_a_pond_share_a_place(leave_out):
    """Halves of rows on either side of a pond, driven one side after the other, are one place each."""
    ground = shapely.box(0, 0, 100, 60) - shapely.Point(50, 30).buffer(14)
    whole, left, right = [], [], []
    for k in range(15):
        y = 2 + 4.0 * k
        half = np.sqrt(max(14**2 - max(abs(y - 30) - 2, 0) ** 2, 0))
        if k in leave_out:
            continue
        if half == 0:
            whole.append(straight((0, y), (100, y)))
        else:
            left.append(straight((0, y), (50 - half, y)))
            right.append(straight((100, y), (50 + half, y)))
    answer = count(ground, lines(*whole, *left, *right[::-1]))
    assert (answer.found, answer.needed) == (15 - len(leave_out), 15)
    assert gaps_of(answer) == [(k, 1) for k in leave_out]


@pytest.mark.parametrize("leave_out", [(), (0,), (3,), (5, 6)])
@pytest.mark.parametrize("half_deg", [10, 25])
def test_curved_plots(half_deg, leave_out):
    """Rows that follow a curved side are straightened: those left out come back."""
    rows = [arc((0, 0), 62 + 4.0 * k, start_deg=90 - half_deg, stop_deg=90 + half_deg, steps=30) for k in range(12)]
    edge = [arc((0, 0), r, start_deg=90 - half_deg, stop_deg=90 + half_deg, steps=60) for r in (60, 108)]
    ground = shapely.Polygon(np.concatenate([edge[0], edge[1][::-1]]))
    driven = [row if k % 2 else row[::-1] for k, row in enumerate(rows) if k not in leave_out]
    for noise_m in (0.0, 0.3):
        answer = count(ground, lines(*driven), deg=50.0, noise_m=noise_m)
        assert answer.needed == 12
        assert gaps_of(answer) == ([(leave_out[0], len(leave_out))] if leave_out else [])


@pytest.mark.parametrize("leave_out", [(), (4,)])
def test_rows_that_wind_together(leave_out):
    """Rows that follow an edge in three waves of 2 m are straightened as well."""
    x = np.arange(0, 120.1, 2.0)
    waves = 2 * np.sin(2 * np.pi * x / 40)
    rows = [np.column_stack([x, 2 + 4.0 * k + waves]) for k in range(12) if k not in leave_out]
    ground = shapely.Polygon(np.concatenate([np.column_stack([x, waves]), np.column_stack([x, 48 + waves])[::-1]]))
    answer = count(ground, lines(*rows), noise_m=0.2)
    assert answer.needed == 12
    assert gaps_of(answer) == [(k, 1) for k in leave_out]


def test_distances_are_square_to_the_way():
    """Rows with a bend of 44 degrees, two of them 1.58 booms apart: no gap, though 1.70 booms apart at each cut."""
    bend = np.tan(np.radians(22))
    rise = BOOM_M / np.cos(np.radians(22))
    x = np.concatenate([np.arange(-60, 0, 2.0), np.arange(0, 61, 2.0)])
    offsets = np.concatenate([np.arange(6), 5 + 1.58 + np.arange(6)]) * rise
    rows = [np.column_stack([x, -bend * np.abs(x) + y]) for y in offsets]
    low, high = offsets[0] - rise / 2, offsets[-1] + rise / 2
    edge = -bend * np.abs(x)
    ground = shapely.Polygon(
        np.concatenate([np.column_stack([x, edge + low]), np.column_stack([x, edge + high])[::-1]])
    )
    answer = count(ground, lines(*rows))
    assert (answer.found, answer.needed) == (12, 12)
    assert answer.spacing_m == pytest.approx(BOOM_M, rel=0.02)  # the bend itself is rounded off over a cut or two


def silent(answer: PassCount) -> bool:
    assert (answer.needed is None) == (answer.why is not None) == (answer.spacing_m is None)
    if answer.needed is None:
        assert answer.gaps == ()
        assert answer.why is not None
        assert answer.why in answer.sentences[0]
    return answer.needed is None


def test_too_few_passes():
    """With none, one or three passes nothing is said to be needed."""
    rows = [straight((0, y), (100, y)) for y in (2.0, 6.0, 10.0)]
    ground = shapely.box(0, 0, 100, 12)
    for k in (1, 3):
        answer = count(ground, lines(*rows[:k]))
        assert silent(answer)
        assert answer.found == k
    answer = count(shapely.box(500, 0, 600, 12), lines(*rows))
    assert silent(answer)
    assert answer.found == 0


def test_two_directions():
    """A plot sprayed along and then across is not counted."""
    along = sprayed(FIELD)
    over = sprayed(shapely.box(0, 0, 100, 60))
    answer = count(FIELD, along, replace(over, xy_m=over.xy_m[:, ::-1]))
    assert silent(answer)
    assert answer.found == 40


@pytest.mark.parametrize("size_m", [(40, 40), (60, 100), (40, 200)])
def test_laps_alone(size_m):
    """A plot sprayed in laps from the outside in is not counted, however long it is."""
    east, north = size_m
    laps = [lap(o, o, east - o, north - o) for o in (2.0, 6.0, 10.0, 14.0)]
    assert silent(count(shapely.box(0, 0, east, north), lines(*laps)))


def test_tight_curves():
    """Rows that turn by more than a right angle have no common direction."""
    rows = [arc((0, 0), 30 + 4.0 * k, start_deg=0, stop_deg=130, steps=60) for k in range(8)]
    assert silent(count(shapely.Point(0, 0).buffer(70), lines(*rows)))


@pytest.mark.parametrize("seed", range(30))
def test_random_walks(seed):
    """Walks at random, whatever passes are found in them, are not counted."""
    rng = np.random.default_rng(seed)
    heading = np.cumsum(np.convolve(rng.normal(0, 0.4, 600), np.ones(5) / 5, mode="same"))
    xy = np.cumsum(2 * np.column_stack([np.cos(heading), np.sin(heading)]), axis=0)
    xy = np.abs((xy + 60) % 240 - 120)
    assert silent(count(shapely.box(0, 0, 120, 120), lines(xy)))


def test_jitter_as_wide_as_the_rows():
    """Where the receiver's noise hides which row is which, nothing is counted."""
    ground = shapely.box(0, 0, 48, 100)
    assert silent(count(ground, sprayed(ground, width_m=2.4), width_m=2.4, noise_m=1.2))


@pytest.mark.parametrize(("apart", "missing"), [(1.3, 0), (1.55, 0), (1.75, 1), (2.0, 1), (2.4, 1), (3.0, 2)])
def test_a_gap_below_0_6_of_the_boom_is_not_told(apart, missing):
    """Two neighbours up to 1.6 booms apart have no gap; beyond, it holds the nearest number of rows less one."""
    places = np.concatenate([2 + 4.0 * np.arange(6), 22 + 4 * apart + 4.0 * np.arange(6)])
    ground = shapely.box(0, 0, places[-1] + 2, 80)
    answer = count(ground, lines(*(straight((x, 0), (x, 80)) for x in places)))
    assert (answer.found, sum(gap.missing for gap in answer.gaps)) == (12, missing)


@pytest.mark.parametrize(("bare", "missing"), [(0.5, 0), (0.7, 1), (1.5, 1), (1.7, 2)])
@pytest.mark.parametrize("last", [True, False])
def test_bare_ground_at_the_plots_edge(bare, missing, last):
    """Beyond the outermost pass, bare ground 0.6 of a boom deep wants a row, and another for each boom more."""
    rows = lines(*(straight((2 + 4.0 * k, 0), (2 + 4.0 * k, 80)) for k in range(8)))
    deep = bare * BOOM_M
    ground = shapely.box(0 if last else -deep, 0, 32 + deep if last else 32, 80)
    answer = count(ground, rows)
    assert gaps_of(answer) == ([] if not missing else [(8 if last else 0, missing)])
    assert [gap.side for gap in answer.gaps] == ["east side" if last else "west side"] * (missing > 0)


def test_a_row_that_stops_short_is_no_missing_pass():
    """A row given up half-way leaves a missed strip, not a missing pass."""
    rows = [straight((2 + 4.0 * k, 0), (2 + 4.0 * k, 40 if k == 6 else 80)) for k in range(12)]
    answer = count(shapely.box(0, 0, 48, 80), lines(*rows))
    assert (answer.found, answer.needed) == (12, 12)


def test_rows_driven_twice_count_once():
    """The whole plot driven twice on the same lines needs, and has, each row once."""
    points = sprayed(FIELD, leave_out=(8,))
    answer = count(FIELD, points, points)
    assert (answer.found, answer.needed) == (14, 15)
    assert "plot: passes on one line are counted once; 28 were driven." in answer.sentences


@pytest.mark.parametrize(("aside_m", "found"), [(0.8, 10), (2.0, 20)])
def test_passes_within_a_third_of_a_boom_share_a_place(aside_m, found):
    """Rows driven again a fifth of a boom aside are the same places; half a boom aside they are their own."""
    rows = [straight((0, 2 + 4.0 * k), (80, 2 + 4.0 * k)) for k in range(10)]
    again = [row + np.array([0.0, aside_m]) for row in rows]
    answer = count(shapely.box(0, 0, 80, 42), lines(*rows), lines(*again))
    assert (answer.found, answer.needed) == (found, found)


def test_parallel_lines_at_no_regular_distance():
    """Parallel lines of which most are 0.6 or 1.4 booms apart are not counted."""
    places = 2 + BOOM_M * np.cumsum([0, 1, 1.4, 0.6, 1.4, 0.6, 1.4, 1, 0.6, 1.4, 0.6, 1.4, 0.6, 1])
    answer = count(shapely.box(0, 0, 80, places[-1] + 2), lines(*(straight((0, y), (80, y)) for y in places)))
    assert silent(answer)
    assert answer.found == 14


def test_every_other_row():
    """Rows two booms apart want one between each two of them."""
    answer = count(FIELD, sprayed(FIELD, leave_out=tuple(range(2, 15, 2))))
    assert (answer.found, answer.needed) == (8, 15)
    assert gaps_of(answer) == [(k, 1) for k in range(1, 8)]
    assert answer.sentences[0].endswith("after the 6th and 1 more, east side.")


def test_half_a_plot_left_alone():
    """A plot of which only one side was sprayed wants the rest."""
    answer = count(FIELD, sprayed(FIELD, leave_out=tuple(range(9, 16))))
    assert gaps_of(answer) == [(8, 7)]


@pytest.mark.parametrize("spacing_m", [2.4, 3.2, 4.8])
def test_rows_closer_or_wider_than_the_boom(spacing_m):
    """With overlap, or a strip left between all rows, the usual spacing is what counts."""
    full = count(FIELD, sprayed(FIELD, spacing_m=spacing_m))
    assert full.gaps == ()
    assert full.spacing_m == pytest.approx(spacing_m)
    leave_out = (5, 6) if spacing_m < 3 else (5,)  # one of 2.4 m leaves 0.8 m bare: no gap
    answer = count(FIELD, sprayed(FIELD, spacing_m=spacing_m, leave_out=leave_out))
    assert gaps_of(answer) == [(4, len(leave_out))]


def test_each_plot_has_its_own_passes():
    """Two plots side by side with one drive over both: each counts what reaches into it."""
    one, two = shapely.box(0, 0, 32, 80), shapely.box(40, 0, 80, 80)
    points = sprayed(shapely.union(one, two), leave_out=(3, 14))
    assert gaps_of(count(one, points)) == [(2, 1)]
    assert gaps_of(count(two, points)) == [(3, 1)]
    both = count(shapely.union(one, two), points)
    assert both.needed is not None
    assert both.needed - both.found == 2


def test_plots_end_to_end_on_shifted_lines():
    """In two pieces end to end whose rows lie half a boom apart, a row missing in one is seen there."""
    ground = shapely.union(shapely.box(0, 0, 40, 48), shapely.box(60, 2, 100, 46))
    first = [straight((0, 2 + 4.0 * k), (40, 2 + 4.0 * k)) for k in range(12)]
    second = [straight((60, 4 + 4.0 * k), (100, 4 + 4.0 * k)) for k in range(11)]
    assert count(ground, lines(*first, *second)).gaps == ()
    answer = count(ground, lines(*first, *second[:4], *second[5:]))
    assert [gap.missing for gap in answer.gaps] == [1]
    assert min(answer.gaps[0].first_m[0], answer.gaps[0].last_m[0]) == pytest.approx(60, abs=BOOM_M / 2)


def test_a_one_sided_swath():
    """A nozzle that throws 4 m to the right, driven back and forth, covers a plot whose rows share lines in pairs."""
    xs = [0.0, 8.0, 8.0, 16.0, 16.0, 24.0, 24.0, 32.0]
    rows = [straight((x, 0), (x, 80)) if k % 2 == 0 else straight((x, 80), (x, 0)) for k, x in enumerate(xs)]
    passes = find_passes([path_on(lines(*rows))], right_m=2.0)
    answer = count_passes("plot", shapely.box(0, 0, 32, 80), passes=passes)
    assert (answer.found, answer.needed) == (8, 8)


@given(deg=st.floats(0, 360), seed=st.integers(0, 40))
def test_turning_everything_changes_only_the_sides_name(deg, seed):
    """Counts, order and lengths of gaps are the same in every direction; sides turn with the plot."""
    rng = np.random.default_rng(seed)
    ground = shapely.Polygon(random_ring(rng, radius_m=50.0))
    points = sprayed(ground, spacing_m=3.7, leave_out=tuple(rng.integers(3, 12, 2)))
    plain, after = count(ground, points), count(ground, points, deg=deg)
    assert (plain.found, plain.needed, gaps_of(plain), plain.why) == (
        after.found,
        after.needed,
        gaps_of(after),
        after.why,
    )
    for a, b in zip(plain.gaps, after.gaps, strict=True):
        # The main direction is that of the rows to a few hundredths of a degree.
        names = {compass(COMPASS.index(a.side.removesuffix(" side")) * 45 + deg + off) for off in (-0.1, 0.1)}
        assert b.side in names
        before = turned([a.first_m, a.last_m], deg)
        now = np.array([b.first_m, b.last_m])
        apart = min(np.abs(before - now).max(), np.abs(before - now[::-1]).max())
        assert apart < BOOM_M


@pytest.mark.parametrize("kind", HOSTILE)
def test_no_hostile_track_raises(kind):
    """Whatever was recorded, the count is an answer that agrees with itself."""
    for number in range(25):
        rng = np.random.default_rng([zlib.crc32(kind.encode()), number])
        drives = [hostile(kind, rng) for _ in range(3)]
        base = path_on(lines(straight((0, 0), (9, 0))))
        paths = [
            replace(
                base,
                xy_m=d.xy_m,
                time_s=d.time_s,
                speed_mps=np.full(len(d.xy_m), np.nan),
                boom_on=d.boom_on,
                width_m=d.width_m,
                cut=np.diff(d.segment) != 0,
                backwards=np.zeros(len(d.xy_m) - 1, dtype=bool),
            )
            for d in drives
        ]
        passes = find_passes(paths)
        for ground in (shapely.Polygon(random_ring(rng)), shapely.Polygon(box(-5, -5, 5, 5)), shapely.Polygon()):
            answer = count_passes("plot", ground, passes=passes)
            assert answer.found <= len(passes)
            silent(answer)
            if answer.needed is not None:
                assert answer.needed == answer.found + sum(gap.missing for gap in answer.gaps)
                assert all(gap.missing > 0 and 0 <= gap.after <= answer.found for gap in answer.gaps)
