"""The contract of the command line: JSON alone on standard output, stable names, exit codes."""

import json
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from gladebook.units import ACRE_M2
from tests.cli.command import gladebook
from tests.sample_property import FOLDER

PLOTS, PONDS = FOLDER / "plots.geojson", FOLDER / "ponds.geojson"
TRACKS = [FOLDER / "sprayed.csv", FOLDER / "firebreak.gpx"]
SEVEN = (
    "label is the law",
    "protective gear",
    "Drift",
    "Water",
    "Re-entry",
    "licensed applicator",
    "county extension agent",
)
COVER = ["coverage", PLOTS, *TRACKS, "--boom", "12 ft"]
MIX = [
    "mix", "--acres", "4.3", "--per-acre", "15 gal/ac", "--tank", "25 gal",
    "--product", "clethodim=32 fl oz/ac", "--product", "crop oil=1 %", "--product", "ammonium sulfate=17 lb/100 gal",
]  # fmt: skip


def square(tmp_path: Path, name: str = "Square") -> Path:
    """About 100 m by 100 m near 32 N."""
    ring = [[-86.0, 32.0], [-85.99894, 32.0], [-85.99894, 32.0009], [-86.0, 32.0009], [-86.0, 32.0]]
    feature = {"type": "Feature", "properties": {"name": name}, "geometry": {"type": "Polygon", "coordinates": [ring]}}
    path = tmp_path / "square.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    return path


def keys(document: Any) -> Any:
    """The names in a document, figures and words taken out."""
    if isinstance(document, dict):
        return {k: keys(v) for k, v in document.items()}
    if isinstance(document, list) and document and isinstance(document[0], dict):
        return [keys(document[0])]
    return None


def test_measure_json_holds_its_contract():
    """`measure --json` has exactly the agreed names, in the file's order, and nothing else on standard output."""
    said = gladebook("measure", PLOTS, "--obstacles", PONDS, "--json")
    assert said.code == 0, said.err
    assert keys(said.json) == {
        "plots": [
            dict.fromkeys(
                ("name", "acres", "gross_acres", "obstacle_acres", "setback_acres", "perimeter_m", "acres_range")
            )
        ],
        "total_acres": None,
        "notices": None,
    }
    assert [p["name"] for p in said.json["plots"]][:3] == ["Kidney Bottom", "Wasp Waist", "Long Firebreak"]
    for p in said.json["plots"]:
        assert p["acres"] == pytest.approx(p["gross_acres"] - p["obstacle_acres"] - p["setback_acres"], rel=1e-9)
        assert p["acres_range"][0] < p["acres"] < p["acres_range"][1]


COVERAGE = {
    "plots": [
        {
            **dict.fromkeys(("name", "plot_acres", "treated_acres", "missed_acres", "overlap_acres", "unknown_acres")),
            "left_on_purpose_acres": None,
            "count_acres": dict.fromkeys(("0", "1", "2", "3+")),
            "passes": {"found": None, "needed": None, "gaps": [dict.fromkeys(("after", "missing", "side"))]},
        }
    ],
    **dict.fromkeys(
        ("treated_means", "treated_acres", "missed_acres", "overlap_acres", "unknown_acres", "outside_acres")
    ),
    "outside_acres_by": dict.fromkeys(("edge", "elsewhere", "obstacles")),
    "obstacles_sprayed": [dict.fromkeys(("name", "water", "acres"))],
    **dict.fromkeys(("left_on_purpose_acres", "left_on_purpose_sprayed_acres", "driven_acres")),
    "missed_strips": [
        dict.fromkeys(
            ("plot", "area_m2", "length_m", "width_m", "lon", "lat", "verdict", "chance_real", "where", "cause")
        )
    ],
    "doubts": [
        dict.fromkeys(
            ("name", "drift_ft", "spacing_ft", "silent", "jumps", "treated_acres_range", "missed_acres_range")
        )
    ],
    "reentry": dict.fromkeys(("words", "not_before")),
    "touch_up": None,
    "passes": {"found": None, "needed": None, "gaps": [dict.fromkeys(("plot", "after", "missing", "side"))]},
    "pass_overlaps": [dict.fromkeys(("first", "second", "acres"))],
    "cleaning": dict.fromkeys(
        ("points", "void", "repeats", "poor_hdop", "standing_points", "standing_stops", "jumps", "backwards", "gaps")
    ),
    **dict.fromkeys(("gallons", "assumptions", "notices")),
}


def test_coverage_json_holds_its_contract():
    """`coverage --json` has exactly the agreed names, in this order."""
    said = gladebook("coverage", PLOTS, *TRACKS, "--obstacles", PONDS, "--boom", "12 ft", "--json")
    assert said.code == 0, said.err
    assert keys(said.json) == COVERAGE
    assert list(said.json) == list(COVERAGE)
    assert said.json["gallons"] is None
    assert any("assumed" in a for a in said.json["assumptions"])
    blind = said.json["notices"][-1]
    assert all(word in blind for word in ("plugged tip", "empty tank", "wind"))


def test_coverage_json_adds_up():
    """Treated, missed, unknown and left are the plot; so are all counts; outside is the sum of its parts."""
    found = gladebook("coverage", PLOTS, *TRACKS, "--obstacles", PONDS, "--boom", "12 ft", "--json").json
    for p in found["plots"]:
        count, left = p["count_acres"], p["left_on_purpose_acres"]
        parts = p["treated_acres"] + p["missed_acres"] + p["unknown_acres"] + left
        assert parts == pytest.approx(p["plot_acres"], rel=1e-9)
        assert sum(count.values()) + left == pytest.approx(p["plot_acres"], rel=1e-9)
        assert count["0"] == pytest.approx(p["missed_acres"] + p["unknown_acres"], abs=1e-9)
        assert count["2"] + count["3+"] == pytest.approx(p["overlap_acres"], abs=1e-9)
        assert 0 <= p["overlap_acres"] <= p["treated_acres"]
    assert sum(found["outside_acres_by"].values()) == pytest.approx(found["outside_acres"], rel=1e-9)
    assert found["outside_acres_by"]["obstacles"] == pytest.approx(sum(o["acres"] for o in found["obstacles_sprayed"]))
    assert found["passes"]["found"] == sum(p["passes"]["found"] for p in found["plots"])
    # The firebreak is two passes wide, too few to tell how many it needs; so the whole property is not told.
    assert found["plots"][2]["passes"]["needed"] is None
    assert found["passes"]["needed"] is None
    assert [g["plot"] for g in found["passes"]["gaps"]] == ["Kidney Bottom", "Cedar Flat"]


def test_coverage_with_gallons_says_them_first_and_in_json():
    """With gallons used, the check stands first in words and is an object in JSON."""
    options = ["--boom", "12 ft", "--used", "107 gal", "--per-acre", "15 gal/ac"]
    words = gladebook("coverage", PLOTS, *TRACKS, *options)
    assert words.out.startswith("107 gal at 15 gal/ac is 7.13 ac; the plots are")
    assert all(c in words.err for c in SEVEN)
    check = gladebook("coverage", PLOTS, *TRACKS, *options, "--json").json["gallons"]
    assert check["covered_acres"] == pytest.approx(107 / 15)
    assert all(any(c in line for line in check["cautions"]) for c in SEVEN)


def test_mix_json_holds_its_contract():
    """`mix --json` has the agreed names and gives the handbook's worked job."""
    said = gladebook(*MIX, "--json")
    assert said.code == 0, said.err
    found = said.json
    assert {"acres", "spray_gal", "loads", "totals", "cautions", "notices"} <= set(found)
    assert {"number", "acres", "spray_gal", "products"} <= set(found["loads"][0])
    assert keys(found["totals"]) == [dict.fromkeys(("name", "amount", "unit"))]
    # 4.3 ac x 15 gal = 64.5 gal; 4.3 x 32 = 137.6 fl oz; 1 % of 64.5 gal = 82.56 fl oz; 17 lb x 0.645 = 10.965 lb
    totals = {t["name"]: (t["amount"], t["unit"]) for t in found["totals"]}
    assert found["spray_gal"] == pytest.approx(64.5)
    assert totals["clethodim"] == (pytest.approx(137.6), "fl oz")
    assert totals["crop oil"] == (pytest.approx(82.56), "fl oz")
    assert totals["ammonium sulfate"] == (pytest.approx(10.965), "lb")
    assert [round(load["spray_gal"], 6) for load in found["loads"]] == [25, 25, 14.5]
    assert all(any(c in line for line in found["cautions"]) for c in SEVEN)


def test_mix_in_words_shows_every_caution():
    """Whoever reads an amount of product reads the cautions under it."""
    said = gladebook(*MIX)
    assert all(c in said.out for c in SEVEN)
    assert "53.33 fl oz" in said.out
    assert "30.93 fl oz" in said.out


def test_mix_for_a_file_still_shows_the_cautions(tmp_path: Path):
    """A recipe written to a file carries the cautions with it."""
    gladebook(*MIX, "--out", tmp_path / "mix.txt")
    assert all(c in (tmp_path / "mix.txt").read_text() for c in SEVEN)


def test_gallons_gives_the_issue_s_own_example():
    """28 gal at 15 gal/ac on 2.30 ac is 19 % short (28 / 15 = 1.8667; 1 - 1.8667 / 2.30 = 0.188)."""
    said = gladebook("gallons", "--used", "28 gal", "--per-acre", "15 gal/ac", "--acres", "2.3")
    assert said.out.startswith("28 gal at 15 gal/ac is 1.87 ac; the plots are 2.30 ac: 19 % short.")
    flagged = gladebook("gallons", "--used", "28 gal", "--per-acre", "15 gal/ac", "--acres", "2.3", "--json").json
    assert flagged["flagged"] is True
    near = gladebook("gallons", "--used", "33 gal", "--per-acre", "15 gal/ac", "--acres", "2.3", "--json").json
    assert near["flagged"] is False


def test_a_touch_up_takes_its_acres_from_strips_that_were_seen(tmp_path: Path):
    """`mix --missed` mixes for the strips named as seen, to the last digit, and for nothing else."""
    answer = tmp_path / "answer.json"
    gladebook("coverage", PLOTS, *TRACKS, "--boom", "12 ft", "--json", "--out", answer)
    missed = json.loads(answer.read_text())
    touch_up: list[str | Path] = [
        "mix",
        "--missed",
        answer,
        "--per-acre",
        "15 gal/ac",
        "--tank",
        "4 gal",
        "--product",
        "x=8 fl oz/ac",
    ]
    said = gladebook(*touch_up, "--seen", "3,1", "--json")
    seen_m2 = missed["missed_strips"][0]["area_m2"] + missed["missed_strips"][2]["area_m2"]
    assert said.json["acres"] == pytest.approx(seen_m2 / ACRE_M2, rel=1e-12)
    assert any("new application" in n for n in said.json["notices"])
    unseen = gladebook(*touch_up)
    assert (unseen.code, unseen.out) == (2, "")
    assert "somebody went and saw" in unseen.err
    beyond = gladebook(*touch_up, "--seen", "1,99")
    assert (beyond.code, beyond.out) == (2, "")
    assert "99 is not on the list of missed strips" in beyond.err


def test_csv_has_full_precision_and_is_safe_in_a_spreadsheet(tmp_path: Path):
    """A name that a spreadsheet would run as a formula gets an apostrophe in CSV."""
    said = gladebook("measure", square(tmp_path, "=2+5"), "--csv")
    header, row = said.out.splitlines()
    assert header.startswith("name,acres,gross_acres")
    assert row.startswith("'=2+5,")
    assert len(row.split(",")[1]) > 10


@pytest.mark.parametrize(
    ("arguments", "fragment"),
    [
        (["measure"], "BOUNDARIES"),
        (["measure", PLOTS, "--json", "--csv"], "choose one"),
        (["measure", PLOTS, "--accuracy", "3"], "has no unit"),
        (["measure", PLOTS, "--accuracy", "-3 m"], "above zero"),
        (["measure", PLOTS, "--setback", "10 gal"], "is a volume"),
        (["measure", PLOTS, "--crs", "EPSG:nonsense"], "no known coordinate system"),
        (["measure", PLOTS, "--layer", "x"], "has no layers"),
        (["coverage", PLOTS, *TRACKS], 'like --boom "12 ft"'),
        (["coverage", PLOTS, *TRACKS, "--boom", "0 ft"], "above zero"),
        (["coverage", PLOTS, *TRACKS, "--boom", "12 ft", "--used", "28 gal"], "needs both"),
        ([*COVER, "--behind", "-2 ft"], 'say it with --ahead "2 ft"'),
        ([*COVER, "--left", "-2 ft"], 'say it with --right "2 ft"'),
        ([*COVER, "--behind", "6"], "has no unit"),
        ([*COVER, "--behind", "6 ft", "--ahead", "2 ft"], "choose one of them"),
        ([*COVER, "--ahead", "200 ft"], '--ahead: "200 ft" is farther from the phone than any boom'),
        ([*COVER, "--on-delay", "2 gal"], "is a volume"),
        ([*COVER, "--off-delay", "90 s"], "at most 60 s"),
        ([*COVER, "--sections", "4 ft, 4 ft"], "The sections add up to 8 ft, but the boom is given as 12 ft"),
        ([*COVER, "--sections", "4 ft,, 4 ft"], "does not start with a number"),
        ([*COVER, "--sections", "0 ft, 12 ft"], "above zero"),
        ([*COVER, "--one-sided", "up"], "write left or right"),
        ([*COVER, "--one-sided", "left", "--right", "3 ft"], "cannot stand with --right or --left"),
        ([*COVER[:-2], "--one-sided", "left"], "how wide the swath is"),
        ([*COVER, "--hdop", "0"], "no number above zero"),
        ([*COVER, "--hdop", "good"], "no number above zero"),
        (["coverage", PLOTS, *TRACKS, "--boom", "12 ft", "--gap", "3 gal"], "is a volume"),
        (["coverage", PLOTS, *TRACKS, "--boom", "12 ft", "--from", "noon"], "is no time"),
        (["coverage", PLOTS, *TRACKS, "--boom", "12 ft", "--from", "14:05"], "states no zone"),
        (["coverage", PLOTS, *TRACKS, "--boom", "12 ft", "--time-zone", "Nowhere/At_All"], "no known zone"),
        ([*COVER, "--error", "3"], "has no unit"),
        ([*COVER, "--error", "0 ft"], "above zero"),
        ([*COVER, "--least-length", "30 gal"], "is a volume"),
        ([*COVER, "--least-width", "0 %"], "above zero"),
        ([*COVER, "--reentry", "2 days"], "write the hours on your label"),
        ([*COVER, "--reentry", "0 h"], "above zero"),
        ([*COVER, "--seen", "1"], "a touch-up needs both"),
        ([*COVER, "--rate", "15 gal/ac"], "a touch-up needs both"),
        ([*COVER, "--seen", "1;2", "--rate", "15 gal/ac"], "is no list of numbers"),
        ([*COVER, "--seen", "99", "--rate", "15 gal/ac"], "99 is not on the list of missed strips"),
        ([*COVER, "--seen", "1", "--rate", "0 gal/ac"], "above zero"),
        ([*COVER, "--seen", "1", "--rate", "15 gal/ac", "--csv"], "has no place for a touch-up"),
        ([*MIX, "--seen", "1"], "Give both"),
        (["map", PLOTS, "--error", "3 ft"], "go with a track"),
        (["gallons", "--used", "28 gal", "--per-acre", "15 gal/ac"], "Say how large"),
        (["gallons", "--used", "28 gal", "--per-acre", "15 gal/ac", "--acres", "-1"], "above zero"),
        ([*MIX, "--plots", PLOTS], "one of --acres"),
        ([*MIX, "--product", "clethodim=1 fl oz/ac"], "given twice"),
        ([*MIX, "--product", "nameless"], "equals sign"),
        ([*MIX, "--product", "x=3 ft"], "is a length"),
        ([*MIX, "--maximum", "other=3 fl oz/ac"], "not among the products"),
        (["map", PLOTS, "--boom", "12 ft"], "go with a track"),
        (["map", PLOTS, "--ahead", "2 ft"], "go with a track"),
        (["map", PLOTS, "--check-strip", PONDS], "go with a track"),
        (["nothing"], "nothing"),
    ],
    ids=lambda v: " ".join(str(x) for x in v)[-48:].replace("/", "_") if isinstance(v, list) else None,
)
def test_a_mistake_in_the_call_is_exit_2_with_one_sentence(arguments: list[Any], fragment: str):
    """A mistake in the call says what is wrong, writes nothing to standard output, and exits with 2."""
    said = gladebook(*arguments)
    assert said.code == 2, (said.out, said.err)
    assert said.out == ""
    assert fragment in said.err
    assert "Traceback" not in said.err


@pytest.mark.parametrize(
    ("arguments", "fragment"),
    [
        (["measure", "no_such_file.geojson"], "no such file"),
        (["measure", FOLDER], "is a folder"),
        (["measure", FOLDER / "sprayed.csv"], "holds no boundary"),
        (["coverage", PLOTS, PLOTS, "--boom", "12 ft"], "only areas, which are no track (8)"),
        ([*MIX, "--maximum", "clethodim=30 fl oz/ac"], "The label is the law"),
        ([*MIX, "--sump", "25 gal"], "smaller than the tank"),
        ([*COVER, "--check-strip", "no_such_file.geojson"], "no such file"),
        ([*COVER, "--check-strip", FOLDER / "sprayed.csv"], "holds no boundary"),
        (["measure", PLOTS, "--out", "no_such_folder/x.txt"], "cannot be written"),
        (["measure", PLOTS, "--name-field", "owner"], 'has no field "owner"'),
        (["coverage", PLOTS, *TRACKS, "--boom", "12 ft", "--from", "2031-01-01T00:00:00Z"], "no point lies"),
    ],
    ids=lambda v: " ".join(str(x) for x in v)[-48:].replace("/", "_") if isinstance(v, list) else None,
)
def test_bad_input_is_exit_3_with_one_sentence(arguments: list[Any], fragment: str, tmp_path: Path):
    """Bad input says what, where and what to do, writes nothing to standard output, and exits with 3."""
    said = gladebook(*arguments, cwd=tmp_path)
    assert said.code == 3, (said.out, said.err)
    assert said.out == ""
    assert fragment in said.err
    assert said.err.startswith("gladebook: ")
    assert len(said.err.strip().splitlines()) == 1


def test_a_failed_answer_leaves_an_older_file_alone(tmp_path: Path):
    """When the new answer cannot be made, the file of the old one stays as it was."""
    out = tmp_path / "answer.json"
    out.write_text("older")
    assert gladebook("measure", "missing.geojson", "--json", "--out", out).code == 3
    assert out.read_text() == "older"
    assert [p.name for p in tmp_path.iterdir()] == ["answer.json"]


def test_trimming_by_time_of_day_leaves_out_the_ride(tmp_path: Path):
    """--from with a time of day and a zone keeps the points from then on: half of the passes are gone."""
    lines = ["time,lat,lon,boom_on"]
    lines += [f"2026-05-04T19:{k // 60:02d}:{k % 60:02d}Z,{32.0001 + k * 7e-6:.7f},-85.9995,1" for k in range(100)]
    track = tmp_path / "t.csv"
    track.write_text("\n".join(lines))
    plots = square(tmp_path)
    whole = gladebook("coverage", plots, track, "--boom", "4 m", "--json").json["driven_acres"]
    part = gladebook(
        "coverage", plots, track, "--boom", "4 m", "--json", "--from", "14:00:50", "--time-zone", "America/Chicago"
    ).json
    assert part["driven_acres"] == pytest.approx(whole * 49 / 99, rel=1e-3)  # 49 of 99 equal steps stay
    assert any("50 of 100 points trimmed" in n for n in part["notices"])


def test_shapes_are_written_as_geojson(tmp_path: Path):
    """--shapes writes the kinds of ground and each missed strip with its size."""
    out = tmp_path / "ground.geojson"
    said = gladebook("coverage", PLOTS, *TRACKS, "--boom", "12 ft", "--shapes", out, "--json")
    features = json.loads(out.read_text())["features"]
    kinds = [f["properties"]["kind"] for f in features]
    assert {"treated", "missed", "overlap", "outside", "unknown"} <= set(kinds)
    assert "left on purpose" not in kinds
    assert kinds.count("missed strip") == len(said.json["missed_strips"])


def test_demo_runs_the_whole_job_and_says_where_the_map_is(tmp_path: Path):
    """`gladebook demo` measures, checks, mixes and draws, with the cautions and the place of the map."""
    said = gladebook("demo", "--out", tmp_path / "here")
    assert said.code == 0, said.err
    assert str(tmp_path / "here" / "map.html") in said.err
    for words in (
        "HOW MANY ACRES",
        "HOW THE APPLICATION WENT",
        "WHAT GOES IN THE TANK",
        "not advice: check your label",
    ):
        assert words in said.out
    assert all(c in said.out for c in SEVEN)
    assert json.loads((tmp_path / "here" / "coverage.json").read_text())["treated_acres"] * ACRE_M2 > 20_000


STOPPABLE = """
import gladebook.coverage.compute as compute
from gladebook.cli import main
sweep = compute.tally_ground
def told(*a, **k):
    print("sweeping", flush=True)
    return [sweep(*a, **k) for _ in range(200)]
compute.tally_ground = told
main()
"""


def test_long_work_can_be_stopped(tmp_path: Path):
    """Control-C in the middle of long work ends it with one sentence and 130, and leaves no answer behind."""
    lines = ["time,lat,lon,boom_on"]
    lines += [f"{k},{32.0 + (k % 200) * 4e-6:.7f},{-86.0 + (k // 200) * 4e-7:.7f},1" for k in range(120_000)]
    track = tmp_path / "long.csv"
    track.write_text("\n".join(lines))
    out = tmp_path / "answer.json"
    command = [sys.executable, "-c", STOPPABLE, "coverage", square(tmp_path), track, "--boom", "12 ft", "--out", out]
    work = subprocess.Popen(list(map(str, command)), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert work.stdout is not None
    assert work.stdout.readline() == "sweeping\n"
    work.send_signal(signal.SIGINT)
    _, words = work.communicate(timeout=60)
    assert work.returncode == 130, words
    assert words.strip() == "gladebook: stopped; nothing more was written."
    assert not out.exists()
