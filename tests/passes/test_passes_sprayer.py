"""Where the boom's lanes run beside the receiver, and when the spray follows a switch."""

from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gladebook.errors import CallError
from gladebook.geometry.frame import Frame
from gladebook.passes.path import CutRules, Path, lay_out, split_steps
from gladebook.passes.sprayer import (
    Sprayer,
    apply_delays,
    check_sections,
    check_sprayer,
    lay_lanes,
    settle_sections,
    sprayer_assumptions,
)
from tests.passes.tracks import HOME, make_track

FRAME = Frame(*HOME)
FT_M = 0.3048  # exact
STEP_M = 1e-4  # the stamps' own rounding is a quarter of a microsecond; the plane's, a micrometre


def path_of(
    on: Any, *, sections: Any = None, speed_mps: float = 2.0, time_s: Any = 1.0, width_m: Any = 6.0, segment: Any = 0
) -> Path:
    """A drive to the east at a steady speed, a point each second, with states."""
    n = len(on)
    xy = np.column_stack([speed_mps * np.arange(n), np.zeros(n)])
    track = make_track(xy, time_s=time_s, boom_on=on, width_m=width_m, segment=segment)
    if sections is not None:
        track = replace(track, sections=np.asarray(sections, dtype=np.int8))
    return lay_out(track, frame=FRAME, rules=CutRules())


def stretches(path: Path, state: npt.NDArray[Any] | None = None) -> list[tuple[float, float]]:
    """Where along the drive it sprays: east of home, in metres, from and to."""
    on = (path.boom_on if state is None else state)[:-1] == 1
    found: list[tuple[float, float]] = []
    for i in np.flatnonzero(on & ~path.cut).tolist():
        begin, end = float(path.xy_m[i, 0]), float(path.xy_m[i + 1, 0])
        if found and abs(found[-1][1] - begin) < STEP_M:
            found[-1] = (found[-1][0], end)
        elif end > begin:
            found.append((begin, end))
    return found


def near(expected: list[tuple[float, float]]) -> Any:
    return [pytest.approx(pair, abs=STEP_M) for pair in expected]


def states(n: int, *on: tuple[int, int]) -> npt.NDArray[np.int8]:
    """Off throughout, but on from a point to another."""
    found = np.zeros(n, dtype=np.int8)
    for begin, end in on:
        found[begin:end] = 1
    return found


# ---- lanes


def test_without_sections_there_is_one_lane_as_wide_as_the_boom():
    """One lane from half a boom left to half a boom right, on as the boom is."""
    lanes = lay_lanes(path_of(states(5, (1, 3))), sprayer=Sprayer())
    assert lanes.on.tolist() == [[False, True, True, False, False]]
    assert lanes.left_m.tolist() == [[3.0] * 5]
    assert lanes.right_m.tolist() == [[-3.0] * 5]
    assert lanes.behind_m == 0.0


@pytest.mark.parametrize(("right_m", "left_edge", "right_edge"), [(2.0, 1.0, -5.0), (-3.0, 6.0, 0.0), (3.0, 0.0, -6.0)])
def test_a_swath_to_one_side(right_m, left_edge, right_edge):
    """With its middle 3 m to the left of the receiver, a swath of 6 m begins at the receiver's own line."""
    lanes = lay_lanes(path_of(np.ones(3)), sprayer=Sprayer(right_m=right_m, behind_m=-1.5))
    assert lanes.left_m.tolist() == [[left_edge] * 3]
    assert lanes.right_m.tolist() == [[right_edge] * 3]
    assert lanes.behind_m == -1.5


def test_sections_without_widths_are_equal_parts_from_left_to_right():
    """Three sections of a boom of 6 m are 2 m each, the first the leftmost, each on as recorded."""
    path = path_of(np.ones(3), sections=[[1, 0, 1], [0, 1, 1], [1, 1, 1]])
    lanes = lay_lanes(path, sprayer=Sprayer())
    assert np.allclose(lanes.left_m[:, 0], [3, 1, -1], atol=1e-12)
    assert np.allclose(lanes.right_m[:, 0], [1, -1, -3], atol=1e-12)
    assert lanes.on.tolist() == [[True, False, True], [False, True, True], [True, True, True]]


def test_sections_follow_the_width_at_each_point():
    """Where the recorded width changes, the equal parts change with it."""
    path = path_of(np.ones(2), sections=[[1, 1], [1, 1]], width_m=[6.0, 8.0])
    lanes = lay_lanes(path, sprayer=Sprayer())
    assert lanes.left_m.tolist() == [[3.0, 4.0], [0.0, 0.0]]


def test_sections_with_widths_are_laid_from_left_to_right():
    """Sections of 1, 2 and 3 m lie from 3 m left to 3 m right of the boom's middle."""
    lanes = lay_lanes(path_of(np.ones(2), sections=np.ones((2, 3))), sprayer=Sprayer(sections_m=(1, 2, 3), right_m=0.5))
    assert np.allclose(lanes.left_m[:, 0], [2.5, 1.5, -0.5], atol=1e-12)
    assert np.allclose(lanes.right_m[:, 1], [1.5, -0.5, -3.5], atol=1e-12)


@given(
    widths=st.lists(st.floats(0.1, 5.0), min_size=1, max_size=40),
    right_m=st.floats(-10, 10),
    equal=st.booleans(),
)
def test_neighbouring_sections_share_their_boundary_exactly(widths, right_m, equal):
    """The right edge of a section and the left edge of the next are one and the same number, and right is right."""
    sprayer = Sprayer(right_m=right_m, sections_m=() if equal else tuple(widths))
    whole_m = sum(widths)
    lanes = lay_lanes(path_of(np.ones(2), sections=np.ones((2, len(widths))), width_m=whole_m), sprayer=sprayer)
    assert (lanes.right_m[:-1] == lanes.left_m[1:]).all()
    assert (lanes.right_m < lanes.left_m).all()
    # 1e-9 m: the rounding of sums.
    assert lanes.left_m[0, 0] - lanes.right_m[-1, 0] == pytest.approx(whole_m, abs=1e-9)
    assert (lanes.left_m[0, 0] + lanes.right_m[-1, 0]) / 2 == pytest.approx(-right_m, abs=1e-9)


def test_the_boom_and_its_sections_settle_each_other():
    """A boom that is off beats its sections, a section not recorded follows the boom, the boom is on where any is."""
    boom = [0, 1, 1, -1, -1, -1]
    sections = [[1, 1], [-1, 0], [0, 0], [1, -1], [0, 0], [0, -1]]
    settled = settle_sections(path_of(boom, sections=sections))
    assert settled.sections is not None
    assert settled.sections.tolist() == [[0, 0], [1, 0], [0, 0], [1, -1], [0, 0], [0, -1]]
    assert settled.boom_on.tolist() == [0, 1, 0, 1, 0, -1]
    again = settle_sections(settled)
    assert again.sections is not None
    assert again.sections[3].tolist() == [1, 1]


def test_a_different_count_of_sections_is_refused_with_both_counts():
    """Three widths for two recorded sections are a mistake that names both numbers."""
    path = path_of(np.ones(2), sections=np.ones((2, 2)))
    for call in (lay_lanes, check_sections):
        with pytest.raises(CallError, match=r"records 2 sections.*gives 3 widths"):
            call(path, sprayer=Sprayer(sections_m=(1, 2, 3)))


def test_a_missing_width_is_asked_for_before_lanes_are_laid():
    """Without a width there are no lanes."""
    with pytest.raises(CallError, match=r"drive.*--boom"):
        lay_lanes(path_of(np.ones(2), width_m=np.nan), sprayer=Sprayer())


# ---- what no sprayer can be, and what is taken for granted


@pytest.mark.parametrize(
    ("sprayer", "words"),
    [
        (Sprayer(width_m=0.0), "above zero, not 0 m"),
        (Sprayer(width_m=float("nan")), "above zero"),
        (Sprayer(behind_m=float("inf")), "behind the receiver"),
        (Sprayer(right_m=40.0), "131.2 ft to the right of"),
        (Sprayer(behind_m=-40.0), "131.2 ft ahead of"),
        (Sprayer(on_delay_s=float("nan")), "cannot start"),
        (Sprayer(off_delay_s=-61.0), "cannot end -61 s"),
        (Sprayer(sections_m=(1.0, 0.0)), "Every section's width"),
        (Sprayer(width_m=15 * FT_M, sections_m=(4 * FT_M,) * 3), "add up to 12 ft, but the boom is given as 15 ft"),
    ],
)
def test_what_no_sprayer_can_be_is_refused(sprayer, words):
    """A figure that is none, and sections that do not add up, are one sentence each."""
    with pytest.raises(CallError, match=words):
        check_sprayer(sprayer)


def test_widths_typed_in_other_units_still_add_up():
    """Three sections of 2.44 m are the 24 ft boom that they make, to the centimetre."""
    check_sprayer(Sprayer(width_m=24 * FT_M, sections_m=(2.44,) * 3))
    check_sprayer(Sprayer(width_m=4.0, behind_m=-2.0, right_m=0.0, on_delay_s=-1.0, off_delay_s=0.5))


@pytest.mark.parametrize(
    ("sprayer", "options"),
    [
        (Sprayer(), [("--behind", "--right"), ("--on-delay", "--off-delay")]),
        (Sprayer(behind_m=1.0), [("--right",), ("--on-delay", "--off-delay")]),
        (Sprayer(right_m=0.0, on_delay_s=0.0), [("--behind",), ("--off-delay",)]),
        (Sprayer(behind_m=0.0, right_m=0.0, on_delay_s=0.0, off_delay_s=0.0), []),
    ],
)
def test_what_is_not_given_is_said_to_be_assumed(sprayer, options):
    """Each thing not given is said with the option that gives it; what is given, even as nothing, is not."""
    said = sprayer_assumptions(sprayer)
    every = {"--behind", "--right", "--on-delay", "--off-delay"}
    assert len(said) == len(options)
    for sentence, named in zip(said, options, strict=True):
        assert "assumed" in sentence
        assert {option for option in every if option in sentence} == set(named)


# ---- delays


def test_a_second_at_two_metres_a_second_is_two_metres():
    """At 2 m/s an on-delay of 1 s starts the spray 2 m later, an off-delay of 1 s ends it 2 m later."""
    path = path_of(states(40, (10, 30)))
    assert stretches(path) == near([(20, 60)])
    assert stretches(apply_delays(path, sprayer=Sprayer(on_delay_s=1.0))) == near([(22, 60)])
    assert stretches(apply_delays(path, sprayer=Sprayer(off_delay_s=1.0))) == near([(20, 62)])
    assert stretches(apply_delays(path, sprayer=Sprayer(on_delay_s=1.0, off_delay_s=1.0))) == near([(22, 62)])


def test_a_part_of_a_second_puts_a_point_in_between():
    """Delays of 0.75 s and 0.25 s start and end the spray at 1.5 m and 0.5 m beyond the points."""
    path = path_of(states(40, (10, 30)))
    late = apply_delays(path, sprayer=Sprayer(on_delay_s=0.75, off_delay_s=0.25))
    assert stretches(late) == near([(21.5, 60.5)])
    assert len(late.xy_m) == 42
    assert np.isclose(late.time_s[11], 1.7e9 + 10.75, rtol=0, atol=1e-6)
    assert len(late.cut) == len(late.backwards) == 41


def test_a_record_that_lags_behind_the_spray():
    """Negative delays start and end the spray before the record does."""
    late = apply_delays(path_of(states(40, (10, 30))), sprayer=Sprayer(on_delay_s=-1.5, off_delay_s=-0.5))
    assert stretches(late) == near([(17, 59)])


def test_no_delays_leave_the_path_as_it_is():
    """Without delays, given as nothing or not given, the same path comes back."""
    path = path_of(states(40, (10, 30)))
    assert apply_delays(path, sprayer=Sprayer()) is path
    assert apply_delays(path, sprayer=Sprayer(on_delay_s=0.0, off_delay_s=0.0)) is path


@pytest.mark.parametrize(("seconds", "sprayed"), [(1, []), (2, []), (3, [(24.0, 26.0)])])
def test_a_burst_shorter_than_its_delay_never_sprays(seconds, sprayed):
    """With 2 s until the spray starts and none until it ends, only what is on for longer sprays at all."""
    path = path_of(states(40, (10, 10 + seconds)))
    late = apply_delays(path, sprayer=Sprayer(on_delay_s=2.0))
    assert stretches(late) == near(sprayed)
    assert any("overtaken" in note for note in late.notes) == (not sprayed)


def test_a_pause_shorter_than_its_delay_is_sprayed_through():
    """Off for a second with 1.5 s until the spray ends: it never ends."""
    path = path_of(states(40, (10, 20), (21, 30)))
    late = apply_delays(path, sprayer=Sprayer(off_delay_s=1.5))
    assert stretches(late) == near([(20, 63)])
    assert any("1 switch was overtaken" in note for note in late.notes)


def test_on_from_the_first_point_is_no_switch():
    """A record that begins with the boom on begins with the spray on."""
    late = apply_delays(path_of(states(40, (0, 30))), sprayer=Sprayer(on_delay_s=1.0))
    assert stretches(late) == near([(0, 58 + 2)])


def test_without_times_a_delay_is_said_to_be_left_out():
    """A track without times keeps its states, and a note says that the delays were not applied."""
    path = path_of(states(40, (10, 30)), time_s=None)
    late = apply_delays(path, sprayer=Sprayer(on_delay_s=1.0))
    assert stretches(late) == near([(20, 60)])
    assert any("no times" in note and "delays" in note for note in late.notes)


def test_states_that_are_not_recorded_are_left_alone():
    """Only a switch between two recorded states is late; what is not recorded stays so."""
    on = np.full(40, -1, dtype=np.int8)
    on[10:20], on[20:25], on[30:] = 0, 1, 0
    late = apply_delays(path_of(on), sprayer=Sprayer(on_delay_s=1.5, off_delay_s=1.5))
    assert stretches(late) == near([(43, 50)])
    unknown = (late.boom_on[:-1] == -1) & ~late.cut
    assert np.abs(late.xy_m[:-1][unknown][:, 0] - 2.0 * np.array([*range(10), *range(25, 30)])).max() < STEP_M


def test_a_delay_that_ends_in_a_cut_ends_at_the_cut():
    """Switched on a second before a gap, with 3 s to go: the spray is on from the first point after it."""
    stamps = 1.7e9 + np.arange(40.0)
    stamps[20:] += 60
    late = apply_delays(path_of(states(40, (19, 30)), time_s=stamps), sprayer=Sprayer(on_delay_s=3.0))
    assert stretches(late) == near([(40, 60)])
    assert len(late.xy_m) == 40
    assert late.boom_on[19] == 0


def test_a_delay_longer_than_a_short_cut_goes_on_behind_it():
    """Where a new piece begins a second later, 3 s of delay end 2 s into it."""
    path = path_of(states(40, (19, 30)), segment=np.arange(40) // 20)
    late = apply_delays(path, sprayer=Sprayer(on_delay_s=3.0))
    assert stretches(late) == near([(44, 60)])
    assert late.cut.sum() == 1


@pytest.mark.parametrize("first", [19, 20])
def test_time_running_backwards_ends_what_is_due(first):
    """Where the clock starts anew the recorded state holds from its first point on, whenever it was switched."""
    stamps = 1.7e9 + np.arange(40.0)
    stamps[20:] -= 1000
    path = path_of(states(40, (first, 30)), time_s=stamps)
    late = apply_delays(path, sprayer=Sprayer(on_delay_s=3.0, off_delay_s=1.0))
    assert stretches(late) == near([(40, 62)])


def test_whole_second_stamps_of_a_fast_recorder():
    """Five points to a stamp at 2 m/s: half a second is still one metre."""
    n = 200
    on = states(n, (52, 150))
    stamps = 1.7e9 + np.floor(np.arange(n) / 5)
    path = path_of(on, speed_mps=0.4, time_s=stamps)
    late = apply_delays(path, sprayer=Sprayer(on_delay_s=0.5, off_delay_s=1.0))
    assert stretches(late) == near([(52 * 0.4 + 1.0, 150 * 0.4 + 2.0)])


def test_each_section_answers_to_its_own_switch():
    """A section that opens 5 s later starts 5 s later; the boom is on where any section is."""
    sections = np.column_stack([states(40, (10, 30)), states(40, (15, 25)), states(40, (10, 11))])
    late = apply_delays(path_of(np.ones(40), sections=sections), sprayer=Sprayer(on_delay_s=1.25, off_delay_s=0.5))
    assert late.sections is not None
    assert stretches(late, late.sections[:, 0]) == near([(22.5, 61)])
    assert stretches(late, late.sections[:, 1]) == near([(32.5, 51)])
    assert stretches(late, late.sections[:, 2]) == near([(22.5, 23)])
    assert stretches(late) == near([(22.5, 61)])
    lanes = lay_lanes(late, sprayer=Sprayer())
    assert (lanes.on == (late.sections.T == 1)).all()


def test_the_whole_booms_switch_reaches_every_section():
    """A boom switched on with sections open, and one that a section joins, start late by the same delay."""
    boom = states(40, (10, 30))
    sections = np.column_stack([np.ones(40), np.full(40, -1), np.zeros(40)])
    late = apply_delays(path_of(boom, sections=sections), sprayer=Sprayer(on_delay_s=1.0))
    assert late.sections is not None
    assert [stretches(late, late.sections[:, k]) for k in range(3)] == [near([(22, 60)]), near([(22, 60)]), []]


@given(
    flips=st.lists(st.integers(1, 58), max_size=12, unique=True),
    first=st.integers(0, 1),
    on_delay=st.integers(-20, 20),
    off_delay=st.integers(-20, 20),
)
def test_the_spray_is_as_the_last_switch_whose_time_has_come(flips, first, on_delay, off_delay):
    """At every moment the spray is as the latest switch that is due by then, whatever the delays."""
    n = 60
    on = (first + np.cumsum(np.isin(np.arange(n), flips))) % 2
    sprayer = Sprayer(on_delay_s=on_delay / 4, off_delay_s=off_delay / 4)
    late = apply_delays(path_of(on), sprayer=sprayer)
    switches = [(0, first, 0.0)]  # point, state, due
    for point in sorted(flips):
        due = point + (on_delay if on[point] else off_delay) / 4
        switches.append((point, int(on[point]), max(due, 0.0)))
    seconds = late.time_s - 1.7e9
    for moment in np.arange(0.125, n - 1, 0.25):
        due_by_now = [state for _, state, due in switches if due <= moment]
        at = int(np.searchsorted(seconds, moment, side="right")) - 1
        assert late.boom_on[at] == due_by_now[-1], moment


@given(seed=st.integers(0, 10_000))
def test_hostile_states_and_times_stay_a_path(seed):
    """Random states, sections and stamps, missing and backward, give even columns and states of -1, 0 and 1."""
    rng = np.random.default_rng(seed)
    n, k = int(rng.integers(2, 50)), int(rng.integers(0, 4))
    stamps = 1.7e9 + np.cumsum(rng.choice([0.0, 0.0, 1.0, 3.0, 90.0, -7.0], n))
    stamps[rng.random(n) < rng.choice([0.0, 0.2, 1.0])] = np.nan
    path = path_of(
        rng.integers(-1, 2, n),
        sections=rng.integers(-1, 2, (n, k)) if k else None,
        time_s=stamps,
        width_m=rng.uniform(1, 9),
    )
    sprayer = Sprayer(on_delay_s=float(rng.uniform(-60, 60)), off_delay_s=float(rng.choice([0, 0.5, 1, 30])))
    late = apply_delays(path, sprayer=sprayer)
    m = len(late.xy_m)
    assert m >= len(path.xy_m)
    assert [len(c) for c in (late.time_s, late.boom_on, late.width_m, late.cut, late.backwards)] == [
        m,
        m,
        m,
        m - 1,
        m - 1,
    ]
    assert set(np.unique(late.boom_on)) <= {-1, 0, 1}
    assert late.cut.sum() == path.cut.sum()
    assert (late.backwards <= late.cut).all()
    lanes = lay_lanes(late, sprayer=sprayer)
    assert lanes.on.shape == lanes.left_m.shape == lanes.right_m.shape == (max(k, 1), m)
    length_m = [np.hypot(*np.diff(p.xy_m, axis=0)[~p.cut].T).sum() for p in (path, late)]
    assert length_m[0] == pytest.approx(length_m[1], abs=1e-6)


def test_all_points_at_one_place_and_two_points_are_delayed_too():
    """The shortest tracks there are come through with their states."""
    still = lay_out(make_track(np.zeros((5, 2)), boom_on=[0, 0, 1, 1, 1]), frame=FRAME, rules=CutRules())
    late = apply_delays(still, sprayer=Sprayer(on_delay_s=0.5))
    assert late.boom_on.tolist() == [0, 0, 0, 1, 1, 1]
    two = apply_delays(path_of([0, 1]), sprayer=Sprayer(on_delay_s=-0.5))
    assert stretches(two) == near([(1, 2)])


def test_points_put_into_steps_keep_all_else():
    """A point a quarter of a step on has its place and time there, and the states of the step."""
    path = path_of(states(4, (1, 3)), sections=np.ones((4, 2)))
    grown, new = split_steps(path, step=np.array([0, 0, 2]), share=np.array([0.25, 0.5, 0.5]))
    assert new.tolist() == [1, 2, 5]
    assert np.abs(grown.xy_m[new, 0] - (0.5, 1.0, 5.0)).max() < STEP_M
    assert np.abs(grown.time_s[new] - 1.7e9 - (0.25, 0.5, 2.5)).max() < 1e-6
    assert grown.boom_on.tolist() == [0, 0, 0, 1, 1, 1, 0]
    assert grown.sections is not None
    assert grown.sections.shape == (7, 2)
