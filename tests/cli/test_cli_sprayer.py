"""What people say about their sprayer and their ground reaches the answer: each option in closed form."""

import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from gladebook.cli import main
from gladebook.units import ACRE_M2
from tests.cli.command import Said
from tests.cli.fields import (
    FIELD,
    LENGTH_M,
    PASSES,
    ROUNDING_M2,
    SPEED_MPS,
    WIDTH_M,
    in_pass,
    middles,
    to_and_fro,
    write_plots,
    write_track,
)

BOOM = ("--boom", f"{WIDTH_M} m")
STRIP = shapely.box(4 * WIDTH_M, 0, 5 * WIDTH_M, LENGTH_M)


@pytest.fixture
def field(tmp_path: Path) -> Path:
    return write_plots(tmp_path / "field.geojson", {"Alder Glade": FIELD})


@pytest.fixture
def track(tmp_path: Path) -> Path:
    return write_track(tmp_path / "drive.csv", to_and_fro(middles()))


class Command:
    """The command in this process, which is many times faster than one of its own."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
        self._monkeypatch, self._capsys = monkeypatch, capsys

    def __call__(self, *arguments: str | Path) -> Said:
        self._monkeypatch.setattr(sys, "argv", ["gladebook", *map(str, arguments)])
        with pytest.raises(SystemExit) as left:
            main()
        said = self._capsys.readouterr()
        return Said(int(left.value.code or 0), said.out, said.err)

    def answer(self, *arguments: str | Path) -> Any:
        said = self("coverage", *arguments, "--json")
        assert said.code == 0, said.err
        return said.json


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Command:
    return Command(monkeypatch, capsys)


def m2(acres: float) -> Any:
    return pytest.approx(acres, abs=ROUNDING_M2)


def test_a_boom_behind_the_phone_covers_ground_behind_it(run: Command, field: Path, track: Path):
    """With the boom 2 m behind, each pass ends 2 m short of the edge and begins 2 m outside."""
    found = run.answer(field, track, *BOOM, "--behind", "2 m")
    short_m2 = PASSES * 2.0 * WIDTH_M
    assert found["missed_acres"] * ACRE_M2 == m2(short_m2)
    assert found["outside_acres_by"]["edge"] * ACRE_M2 == m2(short_m2)
    assert not any("--behind" in a for a in found["assumptions"])
    ends = {round(s["lat"], 3) for s in found["missed_strips"]}
    assert len(ends) == 2  # north ends of the passes driven north, south ends of the others


def test_ahead_is_behind_the_other_way_round(run: Command, field: Path, track: Path):
    """With the boom ahead, ground is missed at the other ends: where each pass begins."""
    behind = run.answer(field, track, *BOOM, "--behind", "2 m")["missed_strips"]
    ahead = run.answer(field, track, *BOOM, "--ahead", "2 m")["missed_strips"]

    def southern(strips: Any) -> Any:
        return sorted(round(s["lon"], 6) for s in strips if s["lat"] < 32.4003)

    # Passes driven north begin in the south; the first is the westernmost of all.
    assert southern(ahead)[0] < southern(behind)[0]
    assert sum(s["area_m2"] for s in ahead) == m2(PASSES * 2.0 * WIDTH_M)


@pytest.mark.parametrize(("side", "lanes"), [("--right", (5, 5, 0)), ("--left", (5, 4, 1))])
def test_a_boom_to_one_side_moves_each_pass_as_it_is_driven(
    run: Command, field: Path, track: Path, side: str, lanes: tuple[int, int, int]
):
    """Moved a metre to a side, passes up and down meet in pairs and part in pairs: lanes of 2 m by the length."""
    missed_lanes, overlap_lanes, outside_lanes = lanes
    lane_m2 = 2.0 * LENGTH_M
    found = run.answer(field, track, *BOOM, side, "1 m")
    assert found["missed_acres"] * ACRE_M2 == m2(missed_lanes * lane_m2)
    assert found["overlap_acres"] * ACRE_M2 == m2(overlap_lanes * lane_m2)
    assert found["outside_acres"] * ACRE_M2 == m2(outside_lanes * lane_m2)
    pairs = [(p["first"], p["second"]) for p in found["pass_overlaps"] if p["acres"] * ACRE_M2 > lane_m2 / 2]
    first = 1 if side == "--right" else 2
    assert sorted(pairs) == [(k, k + 1) for k in range(first, PASSES, 2)]


def test_delays_shift_where_the_spray_starts_and_ends(run: Command, field: Path, track: Path):
    """On a second late leaves the way of a second bare at each start; off a second late sprays it beyond.

    The first pass begins with the recording and the last ends with it, so that one switch of each kind is none.
    """
    late_m2 = (PASSES - 1) * SPEED_MPS * 1.0 * WIDTH_M
    found = run.answer(field, track, *BOOM, "--on-delay", "1 s", "--off-delay", "1 s")
    assert found["missed_acres"] * ACRE_M2 == m2(late_m2)
    assert found["outside_acres"] * ACRE_M2 == pytest.approx(late_m2, rel=0.02)
    assert not any("delay" in a for a in found["assumptions"])


@pytest.mark.parametrize("given", [("--boom", f"{WIDTH_M} m"), ("--sections", "1 m, 3 m")], ids=["boom", "sections"])
def test_a_one_sided_swath_lies_all_on_that_side(run: Command, field: Path, tmp_path: Path, given: tuple[str, str]):
    """Driven up and down the borders of the lanes, a swath all to the right covers the field exactly once."""
    borders = [k * WIDTH_M if k % 2 == 0 else (k + 1) * WIDTH_M for k in range(PASSES)]
    track = write_track(tmp_path / "borders.csv", to_and_fro(borders))
    found = run.answer(field, track, *given, "--one-sided", "right")
    assert found["plots"][0]["count_acres"]["1"] * ACRE_M2 == m2(FIELD.area)
    assert found["outside_acres"] * ACRE_M2 == m2(0.0)
    wrong = run.answer(field, track, *given, "--one-sided", "left")
    # To the left, the first and the last pass spray outside, and the middle of the field is driven twice.
    assert wrong["outside_acres"] * ACRE_M2 == m2(2 * WIDTH_M * LENGTH_M)


def test_a_one_sided_swath_takes_the_width_that_is_recorded(run: Command, field: Path, tmp_path: Path):
    """A width in the track places a one-sided swath without --boom, and one that differs from --boom is refused."""
    borders = [k * WIDTH_M if k % 2 == 0 else (k + 1) * WIDTH_M for k in range(PASSES)]
    track = write_track(tmp_path / "borders.csv", to_and_fro(borders), width_m=WIDTH_M)
    found = run.answer(field, track, "--one-sided", "right")
    assert found["plots"][0]["count_acres"]["1"] * ACRE_M2 == m2(FIELD.area)
    refused = run("coverage", field, track, "--boom", "5 m", "--one-sided", "right")
    assert refused.code == 2
    assert "its middle is not known" in refused.err


def test_sections_lie_from_left_to_right_with_the_widths_given(run: Command, field: Path, tmp_path: Path):
    """The first section off along the first pass, driven north, leaves its width bare on the west side."""
    points = to_and_fro(middles())
    first = np.where(in_pass(points, 1), 0, points.boom_on)
    track = write_track(
        tmp_path / "sections.csv", points, section_1=first, section_2=points.boom_on, section_3=points.boom_on
    )
    found = run.answer(field, track, "--sections", "1 m, 2 m, 1 m")
    assert found["missed_acres"] * ACRE_M2 == m2(1.0 * LENGTH_M)
    (strip,) = found["missed_strips"]
    assert strip["width_m"] == pytest.approx(1.0, rel=0.02)
    assert strip["lon"] < -86.5 + 1.0 / 90_000  # a degree is some 94 km there, so within about a metre of the edge
    alike = run.answer(field, track, *BOOM)
    assert alike["missed_acres"] * ACRE_M2 == m2(WIDTH_M / 3 * LENGTH_M)
    assert any("assumed equally wide" in a for a in alike["assumptions"])


def test_points_above_the_hdop_are_left_out_and_counted(run: Command, field: Path, tmp_path: Path):
    """Three points with an HDOP of 20 go by themselves, and stay where --hdop allows them."""
    points = to_and_fro(middles())
    hdop = np.full(len(points.time_s), 1.1)
    hdop[10:13] = 20.0
    track = write_track(tmp_path / "unsure.csv", points, hdop=hdop)
    found = run.answer(field, track, *BOOM)
    assert found["cleaning"]["poor_hdop"] == 3
    assert found["cleaning"]["points"] == len(hdop)
    assert run.answer(field, track, *BOOM, "--hdop", "25")["cleaning"]["poor_hdop"] == 0


def test_ground_left_on_purpose_is_neither_missed_nor_treated(run: Command, field: Path, tmp_path: Path):
    """A check strip that a pass left out is left on purpose, has its own column and shape, and no gallons."""
    strip = write_plots(tmp_path / "strip.geojson", {"Check strip": STRIP})
    track = write_track(tmp_path / "drive.csv", to_and_fro(middles(), leave_out=(5,)))
    shapes = tmp_path / "shapes.geojson"
    call = (field, track, *BOOM, "--check-strip", strip)
    found = run.answer(*call, "--shapes", shapes)
    assert found["left_on_purpose_acres"] * ACRE_M2 == m2(STRIP.area)
    assert found["left_on_purpose_sprayed_acres"] * ACRE_M2 == m2(0.0)
    assert found["missed_acres"] * ACRE_M2 == m2(0.0)
    assert found["treated_acres"] * ACRE_M2 == m2(FIELD.area - STRIP.area)
    assert '"left on purpose"' in shapes.read_text()
    # 0.7907 ac at 10 gal/ac less the strip's tenth: 7.117 gal.
    words = run("coverage", *call, "--used", "7.117 gal", "--per-acre", "10 gal/ac").out
    assert "the plots without what was left on purpose are 0.71 ac: they match." in words
    assert "Left on purpose 0.079 ac, neither treated nor missed." in words
    assert "Left on purpose ac" in words
    rows = [line.split(",") for line in run("coverage", *call, "--csv").out.splitlines()]
    assert float(rows[1][rows[0].index("left_on_purpose_acres")]) * ACRE_M2 == m2(STRIP.area)


def test_a_pass_over_ground_left_on_purpose_is_told(run: Command, field: Path, track: Path, tmp_path: Path):
    """A sprayed check strip is told in words, in a notice, and as acres."""
    strip = write_plots(tmp_path / "strip.geojson", {"Check strip": STRIP})
    said = run("coverage", field, track, *BOOM, "--check-strip", strip)
    assert "neither treated nor missed; all of it was sprayed all the same." in said.out
    assert "it no longer shows what unsprayed ground would have done" in said.err
    found = run.answer(field, track, *BOOM, "--check-strip", strip)
    assert found["left_on_purpose_sprayed_acres"] * ACRE_M2 == m2(STRIP.area)


def test_a_check_strip_outside_every_plot_is_told(run: Command, field: Path, track: Path, tmp_path: Path):
    """A file of ground left on purpose that meets no plot changes nothing, and the notices say so."""
    strip = write_plots(tmp_path / "strip.geojson", {"Far": shapely.box(500, 0, 510, 20)})
    found = run.answer(field, track, *BOOM, "--check-strip", strip)
    assert found["left_on_purpose_acres"] == 0
    assert any(n.startswith("strip.geojson: none of it lies in a plot") for n in found["notices"])


def obstacles(tmp_path: Path) -> Path:
    shapes = {"Rock Pile": shapely.box(30, 40, 36, 50), "Alder Pond": shapely.box(10, 20, 14, 25)}
    return write_plots(tmp_path / "obstacles.geojson", shapes)


def test_sprayed_water_stands_first_among_obstacles(run: Command, field: Path, track: Path, tmp_path: Path):
    """A pond of 20 m2 driven over stands before a rock pile of 60 m2, in JSON and in words, and has a notice."""
    found = run.answer(field, track, *BOOM, "--obstacles", obstacles(tmp_path))
    sprayed = found["obstacles_sprayed"]
    assert [(o["name"], o["water"]) for o in sprayed] == [("Alder Pond", True), ("Rock Pile", False)]
    assert [o["acres"] * ACRE_M2 for o in sprayed] == [m2(20.0), m2(60.0)]
    said: Said = run("coverage", field, track, *BOOM, "--obstacles", tmp_path / "obstacles.geojson")
    assert "Sprayed over water: Alder Pond, 215 sq ft." in said.out
    assert "0.015 ac on Rock Pile" in said.out
    assert "Alder Pond was sprayed, and its name says water: read what your label says about water." in said.err
    assert found["outside_acres_by"] == {"edge": m2(0.0), "elsewhere": m2(0.0), "obstacles": m2(80.0 / ACRE_M2)}


def test_a_pass_left_out_is_told_by_its_place(run: Command, field: Path, tmp_path: Path):
    """Ten passes needed, nine found: JSON and words tell after which one from the first side the gap is."""
    track = write_track(tmp_path / "drive.csv", to_and_fro(middles(), leave_out=(7,)))
    found = run.answer(field, track, *BOOM)
    gap = {"after": 6, "missing": 1, "side": "east side"}
    assert found["plots"][0]["passes"] == {"found": 9, "needed": 10, "gaps": [gap]}
    assert found["passes"] == {"found": 9, "needed": 10, "gaps": [{"plot": "Alder Glade", **gap}]}
    words = run("coverage", field, track, *BOOM).out
    assert "10 passes needed, 9 found, gap after the 6th from the west side.\n" in words


def test_ground_driven_over_three_times_is_counted_so(run: Command, field: Path, track: Path):
    """The same drive three times over covers all of the plot three times or more, in JSON, words, table and CSV."""
    call = (field, track, track, track, *BOOM)
    found = run.answer(*call)
    assert found["plots"][0]["count_acres"]["3+"] * ACRE_M2 == m2(FIELD.area)
    words = run("coverage", *call)
    assert "0.79 ac of it was covered three times or more" in words.out
    assert "3+ times ac" in words.out
    assert found["cleaning"]["points"] == 3 * run.answer(field, track, *BOOM)["cleaning"]["points"]


def test_what_was_cleaned_is_added_up_over_several_tracks(run: Command, field: Path, tmp_path: Path):
    """Two tracks with repeats say each its own, and both together; one track says it once."""
    points = to_and_fro(middles())
    track = write_track(tmp_path / "drive.csv", points)
    lines = track.read_text().splitlines()
    track.write_text("\n".join([*lines[:20], lines[19], *lines[20:]]) + "\n")
    one, two = run.answer(field, track, *BOOM), run.answer(field, track, track, *BOOM)
    assert (one["cleaning"]["repeats"], two["cleaning"]["repeats"]) == (1, 2)
    assert sum("left out" in n for n in one["notices"]) == 1
    assert two["notices"][0].startswith("All tracks together: 2 points left out")


def test_a_plain_application_is_told_in_few_sentences(run: Command, field: Path, track: Path):
    """With nothing out of the way there are at most six sentences, and none on what did not happen."""
    said = run("coverage", field, track, *BOOM, "--used", "8 gal", "--per-acre", "10 gal/ac").out
    sentences = said.split("\n\n")[0].splitlines()
    assert len(sentences) <= 6, sentences
    for absent in ("water", "purpose", "Unknown", "three times", "gap"):
        assert absent not in said
    assert "3+" not in said.splitlines()[len(sentences) + 1]


def test_a_long_list_of_strips_is_cut_short_on_the_screen(run: Command, field: Path, tmp_path: Path):
    """Of thirty strips with the boom off the screen lists twenty and adds up the rest; JSON has all of them."""
    points = to_and_fro(middles())
    places = [10, 30, 50], [20, 40, 60]
    lane = np.floor(points.xy_m[:, 0] / WIDTH_M).astype(int)
    short = [any(abs(y - c) < 3.5 for c in places[k % 2]) for k, y in zip(lane, points.xy_m[:, 1], strict=True)]
    points = replace(points, boom_on=np.where(short, 0, points.boom_on))
    track = write_track(tmp_path / "drive.csv", points)
    assert len(run.answer(field, track, *BOOM)["missed_strips"]) == 30
    words = run("coverage", field, track, *BOOM).out
    assert "\n  20. Alder Glade" in words
    assert "\n  21. " not in words
    assert "\n  10 more, " in words


def test_csv_has_its_columns_in_order(run: Command, field: Path, track: Path):
    """`coverage --csv` keeps its first six columns; later ones stand at the end."""
    header, row = run("coverage", field, track, *BOOM, "--csv").out.splitlines()
    names = header.split(",")
    assert names[:6] == ["name", "plot_acres", "treated_acres", "missed_acres", "overlap_acres", "unknown_acres"]
    assert names[6:] == [
        "left_on_purpose_acres", "left_on_purpose_sprayed_acres",
        "count_0_acres", "count_1_acres", "count_2_acres", "count_3_or_more_acres", "passes_found", "passes_needed",
    ]  # fmt: skip
    assert row.split(",")[-2:] == ["10", "10"]


def test_every_option_of_the_sprayer_is_asked_as_a_question(run: Command):
    """Both commands ask for the sprayer in questions that people can answer with a tape measure."""
    for command in ("coverage", "map"):
        words = " ".join(run(command, "--help").out.split())
        assert "How far behind the phone (or receiver) is the boom" in words
        for option in ("--ahead", "--right", "--left", "--on-delay", "--off-delay", "--sections", "--one-sided"):
            assert option in words


def test_no_pass_is_needed_over_ground_left_on_purpose(run: Command, field: Path, tmp_path: Path):
    """A pass left out over a check strip is no gap, and one that was driven over it is none that was needed."""
    strip = write_plots(tmp_path / "strip.geojson", {"Check strip": STRIP})
    for left_out in ((5,), ()):
        track = write_track(tmp_path / "drive.csv", to_and_fro(middles(), leave_out=left_out))
        found = run.answer(field, track, *BOOM, "--check-strip", strip)
        assert found["passes"] == {"found": PASSES - 1, "needed": PASSES - 1, "gaps": []}
