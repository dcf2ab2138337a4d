"""Missed strips as the command tells them: go look, can't tell, boom off; when to go in; what a touch-up takes."""

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from gladebook.spraying.cautions import CAUTIONS
from tests.cli.command import gladebook
from tests.cli.fields import FIELD, in_pass, middles, to_and_fro, write_plots, write_track

TREATED = "driven with the boom on; plugged tips, an empty tank and wind cannot be seen"
BOOM = ["--boom", "4 m"]


@pytest.fixture(scope="module")
def field(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Ten passes of 80 m, the seventh left out, and in the third the boom off for 20 m."""
    folder = tmp_path_factory.mktemp("field")
    write_plots(folder / "field.geojson", {"Alder Glade": FIELD})
    points = to_and_fro(middles(), leave_out=(7,))
    third = in_pass(points, 3)
    off = third & (points.xy_m[:, 1] >= 30) & (points.xy_m[:, 1] < 50)
    write_track(folder / "drive.csv", replace(points, boom_on=np.where(off, 0, points.boom_on)))
    text = (folder / "drive.csv").read_text().splitlines()
    timeless = ["lat,lon,boom_on", *(line.split(",", 1)[1] for line in text[1:])]
    (folder / "timeless.csv").write_text("\n".join(timeless) + "\n")
    local = [text[0], *(line.replace("+00:00", "") for line in text[1:])]
    (folder / "local.csv").write_text("\n".join(local) + "\n")
    return folder


def cover(field: Path, *more: str, track: str = "drive.csv") -> str:
    said = gladebook("coverage", field / "field.geojson", field / track, *BOOM, *more)
    assert said.code == 0, said.err
    return said.out


def test_a_left_out_pass_is_one_to_go_and_look_at_and_boom_off_stands_apart(field: Path):
    """Words first: what treated means, then where to go by passes, then boom off, and the table last."""
    out = cover(field)
    places = [
        TREATED,
        "Missed ",
        "Truly missed, the receiver's drift taken out: ",
        " ac (looks like ",
        "Do not go in on foot before the re-entry time on your label.",
        "Go look, largest first:",
        "  1. Alder Glade: between your 6th and 7th pass, the whole way; ",
        "; whole pass missing; at ",
        "The record shows the boom off, largest first:",
        "  2. Alder Glade: ",
        "Plot ac",
        f"Treated: {TREATED}.",
    ]
    at = [out.index(place) for place in places]
    assert at == sorted(at)
    assert "can't tell" not in out


def test_no_amount_is_told_for_a_strip_that_nobody_saw(field: Path):
    """Without --seen there is no gallon and no rate anywhere in the answer."""
    assert "gal" not in cover(field).replace("Alder Glade", "")
    found = gladebook("coverage", field / "field.geojson", field / "drive.csv", *BOOM, "--json").json
    assert found["touch_up"] is None


def test_a_touch_up_is_for_the_seen_strip_alone(field: Path):
    """The strip of 4 m by 80 m is 0.0791 ac; at 15 gal/ac it takes 1.19 gal, with reminder and all cautions."""
    out = cover(field, "--seen", "1", "--rate", "15 gal/ac")
    assert "Touch-up of strip 1, which you saw: 0.079 ac at 15 gal/ac takes 1.19 gal of spray." in out
    assert "only weeks later" in out
    assert all(caution in out for caution in CAUTIONS)
    call: list[str | Path] = [
        "coverage",
        field / "field.geojson",
        field / "drive.csv",
        *BOOM,
        "--seen",
        "1",
        "--rate",
        "15 gal/ac",
    ]
    said = gladebook(*call, "--json")
    touch_up = said.json["touch_up"]
    assert touch_up["seen"] == [1]
    # 320 m2 over 4,046.86 m2 an acre, times 15
    assert touch_up["acres"] == pytest.approx(320 / 4046.8564224, rel=2e-3)
    assert touch_up["spray_gal"] == pytest.approx(320 / 4046.8564224 * 15, rel=2e-3)
    assert touch_up["cautions"] == list(CAUTIONS)
    assert all(caution in said.err for caution in CAUTIONS)


def test_the_receivers_drift_can_be_said_and_may_silence_the_plot(field: Path):
    """With a drift over half the boom nothing is real: one line, the reason, and what to use instead."""
    out = cover(field, "--error", "9 ft")
    assert "Go look" not in out
    assert "Can't tell: 0.079 ac in 1 place (1)." in out
    assert "Nothing is told to be real in Alder Glade. The recording drifts by some 9 ft" in out
    assert "Use the gallons check and the count of passes instead." in out
    assert "Truly missed" not in out
    assert "The record shows the boom off" in out


@pytest.mark.parametrize(
    ("option", "listed"),
    [
        (("--least-length", "270 ft"), False),  # the strip is 80 m, 262 ft, long
        (("--least-length", "250 ft"), True),
        (("--least-width", "4.2 m"), False),  # and 4 m wide
        (("--least-width", "3.8 m"), True),
        (("--least-width", "105 %"), False),
        (("--least-width", "95 %"), True),
    ],
)
def test_the_least_size_of_a_strip_can_be_set(field: Path, option: tuple[str, str], listed: bool):
    """A strip below the least length or width is in doubt; a width may be a length or a share of the boom."""
    assert ("Go look" in cover(field, *option)) is listed


def test_a_least_width_as_a_length_needs_one_boom(tmp_path: Path):
    """Where the track records booms of two widths, a length cannot be a share of them, and the sentence says so."""
    plots = write_plots(tmp_path / "field.geojson", {"Alder Glade": FIELD})
    points = to_and_fro(middles())
    track = write_track(tmp_path / "drive.csv", points, width_m=np.where(points.time_s < 100, 4.0, 3.0))
    said = gladebook("coverage", plots, track, "--least-width", "2 m")
    assert said.code == 2
    assert 'Say it as a share of the boom, like "50 %".' in said.err
    assert gladebook("coverage", plots, track, "--least-width", "50 %").code == 0


def test_the_wait_runs_from_the_last_moment_with_the_boom_on(field: Path):
    """12 h after the boom went off, to the full minute after: in UTC, in a named zone, or on the file's own clock."""
    points = to_and_fro(middles(), leave_out=(7,))
    end = datetime(2026, 9, 28, 13, 0, tzinfo=UTC) + timedelta(seconds=float(points.time_s[-1]), hours=12)
    minute = end.replace(second=0, microsecond=0) + timedelta(minutes=1)
    assert end.second > 0
    assert f"not before {minute:%Y-%m-%d %H:%M} UTC;" in cover(field, "--reentry", "12 h")
    there = minute - timedelta(hours=5)
    local = cover(field, "--reentry", "12 h", "--time-zone", "America/Chicago")
    assert f"not before {there:%Y-%m-%d %H:%M} CDT ({minute:%H:%M} UTC);" in local
    own = cover(field, "--reentry", "12 h", track="local.csv")
    assert f"not before {minute:%Y-%m-%d %H:%M} on the track's own clock, which states no zone;" in own
    found = gladebook("coverage", field / "field.geojson", field / "drive.csv", *BOOM, "--reentry", "12 h", "--json")
    assert found.json["reentry"]["not_before"] == minute.isoformat()


def test_a_track_without_times_cannot_say_until_when(field: Path):
    """Without times the wait is counted by the user, and no strip is told to be real."""
    out = cover(field, "--reentry", "12 h", track="timeless.csv")
    assert "count from when you stopped spraying: the track has no times to count from." in out
    assert "Go look" not in out
    assert "Nothing is told to be real in Alder Glade." in out


def test_json_has_the_verdict_of_every_strip_and_the_doubt_of_the_plot(field: Path):
    """A chance is at most 0.9, and none for a boom that was off by the record; drift is in feet."""
    found = gladebook("coverage", field / "field.geojson", field / "drive.csv", *BOOM, "--json").json
    first, second = found["missed_strips"]
    assert (first["verdict"], first["cause"]) == ("go look", "whole pass missing")
    assert 0.8 <= first["chance_real"] <= 0.9
    assert first["where"] == "between your 6th and 7th pass, the whole way"
    assert (second["verdict"], second["chance_real"]) == ("boom off", None)
    (doubt,) = found["doubts"]
    assert doubt["spacing_ft"] == pytest.approx(4 / 0.3048, rel=0.01)
    assert doubt["silent"] == ""
    assert found["treated_means"] == TREATED


def test_the_help_of_both_commands_names_the_options():
    """--error, --least-length, --least-width and --reentry stand in coverage and map; --seen in coverage alone."""
    for command, seen in (("coverage", True), ("map", False)):
        words = re.sub(r"\s+", " ", gladebook(command, "--help").out)
        for option in ("--error", "--least-length", "--least-width", "--reentry"):
            assert option in words, (command, option)
        assert ("--seen" in words) is seen
