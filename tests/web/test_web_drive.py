"""How did I do? A track through the page beside the command's answer; stopped, saved, seen."""

import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.cli.command import gladebook
from tests.cli.fields import WIDTH_M, middles, to_and_fro, write_track
from tests.web.conftest import Page, good

BOOM = {"boom": "4 m", "behind": "0 m"}


def lines_of(page: Page, body: Any) -> list[Any]:
    answer = page.send("check", body)
    assert answer.status_code == 200, answer.text
    return [json.loads(line) for line in answer.text.splitlines()]


def answer_of(page: Page, body: Any) -> Any:
    last = lines_of(page, body)[-1]
    assert "answer" in last, last
    return last["answer"]


@pytest.fixture
def track(page: Page, tmp_path: Path) -> Any:
    """A drive with the seventh of ten passes left out."""
    file = write_track(tmp_path / "drive.csv", to_and_fro(middles(), leave_out=(7,)))
    return good(page.drop("tracks", file))


def test_the_answer_is_the_command_s(page: Page, track: Any, tmp_path: Path):
    """Treated and missed acres on the page's map are those of `gladebook coverage` for the same drive."""
    told = answer_of(page, {"tracks": [track["token"]], **BOOM})
    said = gladebook("coverage", page.path, tmp_path / "drive.csv", "--boom", "4 m", "--behind", "0 m", "--json").json
    # One pass of ten: 4 m by 80 m of 3,200 m2.
    assert said["missed_acres"] == pytest.approx(WIDTH_M * 80 / 4046.8564224, rel=0.01)
    sizes = {look["key"]: look["size"] for look in told["map"]["looks"]}
    assert sizes["missed"] == f"{said['missed_acres']:.3f} ac"
    assert sizes["treated"] == f"{said['treated_acres']:.2f} ac"


def test_words_come_first_and_name_the_side(page: Page, track: Any):
    """The seventh of ten passes, counted from the west, is missing on the east side."""
    told = answer_of(page, {"tracks": [track["token"]], **BOOM})
    assert told["headline"][0] == "Alder Glade: one pass missing, in the middle"  # 6.5 / 10: within the middle third
    assert told["headline"][1].startswith("Go look: 1 place, 0.079 ac")
    assert told["entry"].startswith("Do not go in on foot before the re-entry time")
    assert [strip["kind"] for strip in told["map"]["strips"]] == ["go_look"]


def test_the_painted_ground_comes_before_the_strips_are_judged(page: Page, track: Any):
    """Progress runs from 0 to 1, the ground is shown once before the answer, and has the answer's shapes."""
    lines = lines_of(page, {"tracks": [track["token"]], **BOOM})
    shares = [line["share"] for line in lines if "share" in line]
    by_word = [line["what"] for line in lines if "what" in line]
    assert set(by_word) == {"Measuring", "Driving the tracks"}
    assert shares[-1] == 1.0
    firsts = [i for i, line in enumerate(lines) if "first" in line]
    assert len(firsts) == 1
    assert lines[firsts[0]]["first"]["shapes"] == lines[-1]["answer"]["map"]["shapes"]
    assert lines[firsts[0]]["first"]["strips"] == []


def test_gallons_left_make_the_gallons_check(page: Page, track: Any):
    """40 m by 80 m at 15 gal/ac is 11.86 gal: 14 mixed and 2.14 left match; 14 and 6 are a third short."""
    body = {"tracks": [track["token"]], **BOOM, "mixed": "14 gal", "per_acre": "15 gal/ac"}
    assert answer_of(page, {**body, "left": "2.14 gal"})["headline"][0] == "Gallons: matches"
    assert answer_of(page, {**body, "left": "6 gal"})["headline"][0] == "Gallons: 33 % short"
    for wrong in ({"left": "15 gal"}, {"per_acre": ""}, {"mixed": "", "left": "2 gal"}):
        assert page.send("check", {**body, **wrong}).status_code == 400


def test_the_ride_from_the_truck_is_trimmed(page: Page, track: Any):
    """Only what was driven between the sliders counts: half the time treats about half the ground."""
    whole = answer_of(page, {"tracks": [track["token"]], **BOOM})
    half = datetime.fromisoformat(track["start"]) + timedelta(seconds=track["seconds"] / 2)
    part = answer_of(page, {"tracks": [track["token"]], **BOOM, "end": half.isoformat()})
    treated = [
        float(next(look["size"] for look in told["map"]["looks"] if look["key"] == "treated").split()[0])
        for told in (whole, part)
    ]
    assert treated[1] / treated[0] == pytest.approx(0.5, abs=0.06)
    assert page.send("check", {"tracks": [track["token"]], **BOOM, "end": "noon"}).status_code == 400


def test_an_application_is_kept_as_shown_and_its_strips_are_marked(page: Page, track: Any):
    """Saved without driving it again; a strip is marked as seen; a second browser with an old look is told."""
    told = answer_of(page, {"tracks": [track["token"]], **BOOM})
    good(page.send("keep", {"token": told["token"], "name": "Fall spray"}))
    kept = page.ask("applications")["applications"]
    assert [(one["name"], len(one["strips"])) for one in kept] == [("Fall spray", 1)]
    assert kept[0]["strips"][0]["state"] == "go look"
    body = {"application": "Fall spray", "numbers": [1], "state": "seen", "was": "go look"}
    marked = good(page.send("strips", body))
    assert marked["applications"][0]["strips"][0]["state"] == "seen"
    assert page.send("strips", {**body, "state": "left"}).status_code == 409
    assert page.send("strips", {**body, "numbers": [99], "was": None}).status_code == 400


def test_a_track_that_cannot_be_followed_is_told_in_the_stream_or_before(page: Page, tmp_path: Path):
    """A file that is no track, a track elsewhere and a missing width: one sentence each."""
    bad = tmp_path / "notes.gpx"
    bad.write_text("no track")
    assert page.drop("tracks", bad).status_code == 422
    file = write_track(tmp_path / "far.csv", to_and_fro(middles()))
    far = tmp_path / "far away.csv"
    far.write_text(file.read_text().replace("32.4", "22.4").replace("32.3", "22.3"))
    token = good(page.drop("tracks", far))["token"]
    assert "miles from the plots" in lines_of(page, {"tracks": [token], **BOOM})[-1]["error"]
    token = good(page.drop("tracks", file))["token"]
    told = lines_of(page, {"tracks": [token]})[-1]["error"]
    assert "wide" in told
    assert "--boom" not in told
    assert page.send("check", {"tracks": ["gone"], **BOOM}).status_code == 400


def test_a_long_track_is_thinned_for_the_slider_alone(page: Page, tmp_path: Path):
    """At most about 2,000 places go to the page, the first and last among them, each with its second."""
    rows = ["time,lat,lon"]
    rows += [f"2026-09-28T13:{i // 60 % 60:02d}:{i % 60:02d}Z,{32.4 + i * 1e-6:.6f},-86.5" for i in range(3500)]
    file = tmp_path / "long.csv"
    file.write_text("\n".join(rows))
    told = good(page.drop("tracks", file))
    assert told["points"] == 3500
    assert 1000 < len(told["way"]) <= 2001
    assert told["way"][0] == [32.4, -86.5, 0.0]
    assert told["way"][-1][0] == pytest.approx(32.4 + 3499e-6)
    assert told["seconds"] == 3499
