"""Where a strip lies, and what it lies along: turns, gaps in the recording, obstacles, edges, a boom late on."""

from typing import Any

import numpy as np
import pytest
import shapely

from gladebook.doubt.verdict import Record, Verdict, judge_strips
from gladebook.doubt.whereabouts import place_of
from gladebook.passes.path import CutRules
from gladebook.testing import Points
from tests.doubt.drawn_gaps import BOOM_M, LONG_M, POINTS, SPACING_M, Laid, along, cover, lay, rows, to_and_fro

GROUND = shapely.box(0, 0, LONG_M, 44)  # eight passes
SURE = CutRules(gap_s=60.0, error_m=0.1)  # so good a receiver that strips beside no two passes are told too


def told(laid: Laid, strip: Any, *, ground: Any, size_m: tuple[float, float] = (12.0, 4.0)) -> Verdict:
    record = Record((laid.path,), (True,), laid.passes, SURE)
    (found,), _ = judge_strips("North Glade", [strip], sizes_m=[size_m], side=laid.side, plane=ground, record=record)
    return found


def turning() -> Points:
    """Eight passes of 80 m, 6 m apart, with half-circles between them and the boom on throughout."""
    xy = []
    for k in range(8):
        line, ahead = along(3.0 + 6.0 * k, east=80.0), k % 2 == 0
        xy.append(line if ahead else line[::-1])
        angle = np.radians([-60.0, -30.0, 0.0, 30.0, 60.0])
        out = 3.0 * np.cos(angle)
        xy.append(np.column_stack([80.0 + out if ahead else -out, 6.0 + 6.0 * k + 3.0 * np.sin(angle)]))
    whole = np.concatenate(xy[:-1])
    return Points(whole, np.arange(len(whole), dtype=np.float64), np.ones(len(whole), dtype=np.int8))


WIDE = shapely.box(-30, -10, 110, 60)


@pytest.mark.parametrize(
    ("strip", "cause"),
    [
        (shapely.box(86.2, 7, 87.2, 17), "in a turn"),
        (shapely.box(92.0, 7, 95.0, 17), ""),
        (shapely.box(105, 0, 110, 30), "along the edge"),
        (shapely.box(104, 0, 108.9, 30), ""),
    ],
)
def test_a_strip_within_three_quarters_of_a_boom_of_a_turn_lies_in_it(strip: Any, cause: str):
    """Beside a half-circle of 3 m it lies in a turn, farther off nowhere, within a metre of the edge along that."""
    found = told(lay(turning(), WIDE), strip, ground=WIDE)
    assert (found.word, found.where, found.cause, found.after) == ("go look", cause, cause, None)


def test_a_strip_by_an_obstacle_lies_round_it():
    """A hole in the plot is an obstacle, also where turns are near."""
    holed = WIDE - shapely.box(88, 9, 92, 15)
    found = told(lay(turning(), holed), shapely.box(86.2, 7, 87.5, 17), ground=holed)
    assert (found.where, found.cause) == ("round an obstacle", "round an obstacle")


def test_a_strip_at_lost_points_lies_at_a_gap_in_the_recording():
    """Fifteen lost seconds in the fifth pass, over 10 s, are a gap: what is bare there lies at it."""
    points = to_and_fro(rows(8))
    keep = np.ones(len(points.time_s), dtype=bool)
    keep[4 * POINTS + 20 : 4 * POINTS + 35] = False
    lost = Points(points.xy_m[keep], points.time_s[keep], points.boom_on[keep])
    at_m = BOOM_M / 2 + 4 * SPACING_M
    strip = shapely.box(42, at_m - 2, 66, at_m + 2)
    found = told(lay(lost, GROUND, rules=CutRules(gap_s=10.0)), strip, ground=GROUND)
    assert (found.where, found.cause) == ("at a gap in the recording", "at a gap in the recording")
    # Nothing is lost where a minute is joined.
    joined = told(lay(lost, GROUND), strip, ground=GROUND)
    assert joined.cause == ""


def test_a_strip_beside_all_passes_lies_along_the_edge():
    """Eight metres that no pass reached are along the edge; with no word on the receiver nobody can tell."""
    wide = shapely.box(0, -8, LONG_M, 44)
    points = to_and_fro(rows(8))
    (strip,) = cover(points, ground=wide, error_m=0.1).strips
    assert (strip.verdict.word, strip.verdict.where, strip.verdict.cause) == (
        "go look",
        "along the edge",
        "along the edge",
    )
    (strip,) = cover(points, ground=wide).strips
    assert (strip.verdict.word, strip.verdict.where, strip.verdict.cause) == ("can't tell", "along the edge", "")


def off_for(first: int, last: int) -> Points:
    """Eight passes, the fifth with its boom off from one point to another, on the record."""
    points = to_and_fro(rows(8))
    points.boom_on[4 * POINTS + first : 4 * POINTS + last] = 0
    return points


@pytest.mark.parametrize(("first", "last"), [(0, 8), (POINTS - 9, POINTS)])
def test_a_boom_off_at_the_edge_was_late_on_or_early_off(first: int, last: int):
    """Off for the first or the last 16 m of a pass, on the record: boom off, with that cause."""
    (strip,) = cover(off_for(first, last), ground=GROUND).strips
    assert (strip.verdict.word, strip.verdict.chance_real) == ("boom off", None)
    assert strip.verdict.cause == "late on or early off"
    assert strip.verdict.where.startswith("between your 4th and 6th pass, ")


def test_a_boom_off_amid_a_pass_is_just_off():
    """Off for 16 m in the middle of a pass it was neither late nor early."""
    (strip,) = cover(off_for(26, 34), ground=GROUND).strips
    assert (strip.verdict.word, strip.verdict.cause) == ("boom off", "boom off")


def test_a_place_says_whether_it_reaches_the_edge():
    """A strip within a metre of the plot's edge, between passes or not, is by it; one that is not is not."""
    laid = lay(to_and_fro(rows(8, leave_out=(4,))), GROUND)
    low_m = BOOM_M + 3 * SPACING_M
    for west, by_edge in ((0.5, True), (1.5, False)):
        strip = shapely.box(west, low_m, 100, low_m + 5.0)
        found = place_of(strip, side=laid.side, gaps=laid.gaps, plane=GROUND, paths=[laid.path])
        assert found.by_edge is by_edge
        assert (found.after, found.beside) == (4, "")
        assert found.words.startswith("between your 4th and 5th pass, ")


def test_a_strip_lies_between_the_pair_that_holds_most_of_it():
    """Bare ground that crosses a pass, 30 m below it and 70 m above, is told by the pair above, and by its gaps."""
    laid = lay(to_and_fro(rows(8)), GROUND)
    strip = shapely.union_all([shapely.box(0, 3, 30, 8), shapely.box(28, 3, 32, 14), shapely.box(30, 9, 100, 14)])
    found = place_of(strip, side=laid.side, gaps=laid.gaps, plane=GROUND, paths=[laid.path])
    assert found.after == 2
    assert found.words == "between your 2nd and 3rd pass, 70 to 390 ft in"
    assert set(laid.gaps.low[found.at].tolist()) == {1}
