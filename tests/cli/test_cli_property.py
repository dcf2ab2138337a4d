"""The property file from the command line: a season kept, looked at, undone."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from tests.cli.command import Said, gladebook
from tests.cli.test_cli_contract import SEVEN
from tests.sample_property import FOLDER

PLOTS, PONDS = FOLDER / "plots.geojson", FOLDER / "ponds.geojson"
TRACKS = [FOLDER / "sprayed.csv", FOLDER / "firebreak.gpx"]


def done(*arguments: str | Path) -> Said:
    said = gladebook(*arguments)
    assert said.code == 0, said.err
    return said


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample property with an application and a mix kept; tests that change it take a copy."""
    path = tmp_path_factory.mktemp("season") / "home.gpkg"
    done("property", "new", path, "--name", "Fernhollow")
    done("property", "add", path, PLOTS, "--obstacles", PONDS, "--sprayer", "Four-wheeler", "--boom", "12 ft")
    done("coverage", path, *TRACKS, "--sprayer", "four-wheeler", "--save", "Fall clover")
    done("property", "mark", path, "1,2", "--as", "seen")
    return path


@pytest.fixture
def home(season: Path, tmp_path: Path) -> Path:
    path = tmp_path / "home.gpkg"
    done("property", "backup", season, path)
    return path


def test_the_whole_season_is_shown(season: Path):
    """Plots with acres, the application with its strips by state, the sprayer, the changes, and what undo would do."""
    said = done("property", "show", season).out
    assert said.startswith(
        "Fernhollow (home.gpkg): 7 plots, 6.57 ac to plant or spray; 1 application; 1 obstacle; 1 sprayer.\n"
    )
    assert "2026-09-28  Fall clover: treated 6.35 of 6.57 ac, missed 0.15 ac; strips: 2 boom off, 2 seen" in said
    assert "Four-wheeler: boom 12 ft wide." in said
    assert said.endswith('Undo would take back: Strips 1, 2 of "Fall clover": seen.\n')
    found = done("property", "show", season, "--json").json
    assert [s["state"] for s in found["applications"][0]["strips"]][:2] == ["seen", "seen"]
    assert len(found["changes"]) == 3


def test_commands_take_the_property_in_place_of_the_files(season: Path, tmp_path: Path):
    """`measure`, `coverage`, `gallons`, `mix` and `map` answer on a property as on the files it was made from."""
    ponds: list[str | Path] = ["--obstacles", PONDS]
    whole = done("measure", PLOTS, *ponds, "--json").json
    assert done("measure", season, "--json").json["plots"] == whole["plots"]
    plain = done("coverage", PLOTS, *TRACKS, *ponds, "--boom", "12 ft", "--json").json
    kept = done("coverage", season, *TRACKS, "--boom", "12 ft", "--json").json
    assert {k: v for k, v in kept.items() if k != "notices"} == {k: v for k, v in plain.items() if k != "notices"}
    gallons = ["--used", "107 gal", "--per-acre", "15 gal/ac", "--json"]
    assert done("gallons", "--plots", season, *gallons).json == done("gallons", "--plots", PLOTS, *ponds, *gallons).json
    mix = ["--per-acre", "15 gal/ac", "--tank", "25 gal", "--product", "x=8 fl oz/ac", "--json"]
    assert (
        done("mix", "--plots", season, *mix).json["totals"]
        == done("mix", "--plots", PLOTS, *ponds, *mix).json["totals"]
    )
    page = tmp_path / "map.html"
    done("map", season, *TRACKS, "--sprayer", "Four-wheeler", "--out", page)
    assert "Kidney Bottom" in page.read_text(encoding="utf-8")


def test_a_touch_up_is_mixed_from_the_property_and_kept_with_its_cautions(home: Path):
    """`mix --missed` takes the strips marked as seen; what is kept shows its cautions, in words and in JSON."""
    mix: list[str | Path] = [
        "mix",
        "--missed",
        home,
        "--per-acre",
        "15 gal/ac",
        "--tank",
        "4 gal",
        "--product",
        "x=8 fl oz/ac",
    ]
    said = done(*mix, "--save", "Touch-up")
    assert "strip 1" in said.out
    assert 'the mix "Touch-up"' in said.err
    shown = done("property", "show", home, "touch-up")
    assert all(c in shown.out for c in SEVEN)
    found = done("property", "show", home, "touch-up", "--json")
    assert all(any(c in line for line in found.json["content"]["cautions"]) for c in SEVEN)
    assert all(c in found.err for c in SEVEN)
    assert "already" in gladebook(*mix, "--save", "TOUCH-UP").err
    beyond = gladebook(*mix, "--seen", "99")
    assert (beyond.code, beyond.out) == (2, "")


def test_an_answer_of_measure_is_kept_as_a_record(home: Path):
    """`measure --save` keeps the acres of the day under a name, to be shown again."""
    said = done("measure", home, "--save", "Acres for the office")
    assert 'the record "Acres for the office"' in said.err
    assert "7 plots, 6.57 ac to plant or spray." in done("property", "show", home, "Acres for the office").out


def test_strips_named_as_seen_are_kept_as_seen(home: Path):
    """`coverage --seen --rate --save` keeps those strips as seen, and the amount with its cautions."""
    done("coverage", home, *TRACKS, "--boom", "12 ft", "--seen", "2", "--rate", "15 gal/ac", "--save", "Again")
    found = done("property", "show", home, "Again", "--json").json
    assert [s["state"] for s in found["strips"]][:2] == ["go look", "seen"]
    assert all(any(c in line for line in found["answer"]["touch_up"]["cautions"]) for c in SEVEN)


def test_undo_survives_the_end_of_the_program(home: Path):
    """Each undo in a process of its own takes back one change and says the next, until nothing is left."""
    said = [done("property", "undo", home).out for _ in range(3)]
    assert said[0].startswith(
        'Taken back: Strips 1, 2 of "Fall clover": seen.\nThe next undo would take back: Kept the'
    )
    assert said[1].startswith('Taken back: Kept the application "Fall clover" of 2026-09-28.')
    assert said[2].endswith("Nothing is left to undo.\n")
    nothing = gladebook("property", "undo", home)
    assert (nothing.code, nothing.out) == (3, "")
    assert done("property", "show", home).out.splitlines()[0] == "Fernhollow (home.gpkg): no plots yet."


def test_nothing_is_left_beside_the_file(home: Path):
    """After any command there is no file of SQLite's beside the property, so that copying it is safe."""
    done("property", "show", home)
    done("property", "rename", home, "Wasp Waist", "Hourglass")
    done("measure", home)
    assert [p.name for p in home.parent.iterdir()] == ["home.gpkg"]


def test_check_has_an_exit_code_for_scripts(home: Path):
    """A whole file is exit 0; one with a fault is exit 3, with the fault as the answer."""
    import sqlite3
    from contextlib import closing

    assert done("property", "check", home).out == (
        "home.gpkg is whole: pages, references, shapes and indexes were looked at.\n"
    )
    with closing(sqlite3.connect(home)) as base:
        base.execute("DELETE FROM rtree_plots_geom")
        base.commit()
    said = gladebook("property", "check", home)
    assert said.code == 3
    assert "--mend" in said.out
    assert done("property", "check", home, "--mend").out.startswith("Built all spatial indexes anew")


def test_export_writes_a_folder_and_says_what_is_left_out(season: Path, tmp_path: Path):
    """`property export` makes the folder, names it, and tells what the format cannot hold."""
    out = tmp_path / "for the office"
    said = done("property", "export", season, out, "--format", "csv")
    assert str(out) in said.out
    assert "What this format cannot hold" in said.err
    assert list(out.iterdir())


HOME = Path("home.gpkg")


@pytest.mark.parametrize(
    ("arguments", "code", "fragment"),
    [
        (["property", "add", HOME], 2, "Say what to add"),
        (["property", "add", HOME, "--boom", "12 ft", "--obstacles", PONDS], 2, "need its name"),
        (["property", "add", HOME, "--sprayer", "Backpack"], 2, 'like --boom "12 ft"'),
        (["property", "add", HOME, "--obstacles", PONDS, "--name", "x"], 2, "--name: goes with a file of plots"),
        (["property", "add", HOME, PLOTS, "--since", "spring"], 2, "is no day"),
        (["property", "add", HOME, PLOTS], 3, "already, and nothing was added"),
        (["property", "add", HOME, FOLDER / "sprayed.csv"], 3, "holds no boundary"),
        (["property", "add", HOME, PLOTS, "--crs", "EPSG:nonsense"], 2, "no known coordinate system"),
        (["property", "new", HOME], 3, "there is such a file already"),
        (["property", "new", "home.txt"], 3, "ends in .gpkg"),
        (["property", "new", "b.gpkg", "--name", " "], 2, "--name: is empty"),
        (["property", "show", "nowhere.gpkg"], 3, "gladebook property new nowhere.gpkg"),
        (["property", "show", PLOTS], 3, "is no property file"),
        (["property", "show", HOME, "Nowhere"], 3, 'called "Nowhere"'),
        (["property", "rename", HOME, "Wasp Waist", "pond patch"], 3, "Choose another name"),
        (["property", "remove", HOME, "Nowhere"], 3, "See all with: gladebook property show"),
        (["property", "remove", HOME, "Wasp Waist", "--kind", "tree"], 2, "is none of plot"),
        (["property", "mark", HOME, "9", "--as", "seen"], 2, "Its numbers are 1 to 5"),
        (["property", "mark", HOME, "first", "--as", "seen"], 2, "NUMBERS:"),
        (["property", "mark", HOME, "1", "--as", "sprayed"], 2, '"touched up"'),
        (["property", "mark", HOME, "1", "--as", "seen", "--application", "x"], 3, 'no application called "x"'),
        (["property", "backup", HOME, HOME], 3, "no backup is written over it"),
        (["property", "export", HOME, HOME], 3, "property file"),
        (["property", "export", HOME, "out", "--format", "paper"], 2, "geojson"),
        (["measure", HOME, "--plot", "Nowhere"], 3, 'no plot called "Nowhere"'),
        (["measure", HOME, "--name-field", "x"], 2, "knows the names of its plots"),
        (["measure", HOME, "--day", "yesterday"], 2, "is no day"),
        (["measure", PLOTS, "--day", "2026-09-28"], 2, "goes with a property file"),
        (["measure", PLOTS, "--save", "x"], 2, "plots.geojson is none"),
        (["coverage", PLOTS, *TRACKS, "--boom", "12 ft", "--save", "x"], 2, "plots.geojson is none"),
        (["coverage", PLOTS, *TRACKS, "--sprayer", "x"], 2, "plots.geojson is none"),
        (["coverage", HOME, *TRACKS, "--sprayer", "x"], 3, "Its sprayers: Four-wheeler"),
        (["coverage", HOME, *TRACKS, "--boom", "12 ft", "--save", "fall CLOVER"], 3, '"Fall clover" already'),
        (["coverage", HOME, *TRACKS, "--boom", "12 ft", "--layer", "plots", "--save", "x"], 2, "Leave it out"),
        (["coverage", HOME, *TRACKS, "--boom", "12 ft", "--out", HOME], 3, "which no answer is written over"),
        (["coverage", HOME, *TRACKS, "--boom", "12 ft", "--shapes", HOME], 3, "which no answer is written over"),
        (["measure", HOME, "--out", "home.gpkg-wal"], 3, "belongs to a property file"),
        (["map", HOME, "--out", HOME], 3, "which no answer is written over"),
        (["map", HOME, "--sprayer", "Four-wheeler"], 2, "go with a track"),
        (["demo", "--out", HOME], 3, "which no answer is written over"),
        (["look", PLOTS, "--out", HOME], 3, "which no answer is written over"),
    ],
    ids=lambda v: " ".join(str(x) for x in v)[-48:].replace("/", "_") if isinstance(v, list) else None,
)
def test_what_cannot_be_done_is_one_sentence_and_changes_nothing(
    season: Path, arguments: list[Any], code: int, fragment: str
):
    """A mistake, or bad input, says what, where and what to do, answers nothing, and leaves the property as it was."""
    before = season.read_bytes()  # no connection of this process is open
    said = gladebook(*arguments, cwd=season.parent)
    assert (said.code, said.out) == (code, ""), said.err
    assert fragment in said.err
    assert len(said.err.strip().splitlines()) == 1
    assert season.read_bytes() == before
    assert sorted(p.name for p in season.parent.iterdir()) == ["home.gpkg"]


WAITING = """
import sys, time
import gladebook.jobs.keep as keep
from gladebook.cli import main
add = keep.add_strip
def told(*a, **k):
    print("keeping", flush=True)
    time.sleep(0.2)
    return add(*a, **k)
keep.add_strip = told
main()
"""


def test_a_stop_while_an_answer_is_kept_keeps_nothing(home: Path):
    """Control-C in the middle of keeping an application is 130 and one sentence; nothing of it is in the file."""
    before = done("property", "show", home, "--json").out
    command = [sys.executable, "-c", WAITING, "coverage", home, *TRACKS, "--boom", "12 ft", "--save", "x", "--json"]
    work = subprocess.Popen(
        list(map(str, command)), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=dict(os.environ)
    )
    assert work.stdout is not None
    for line in work.stdout:
        if line == "keeping\n":
            break
    time.sleep(0.05)
    work.send_signal(signal.SIGINT)
    _, words = work.communicate(timeout=60)
    assert work.returncode == 130, words
    assert words.strip().endswith("gladebook: stopped; nothing more was written.")
    assert done("property", "show", home, "--json").out == before


def test_json_alone_is_on_standard_output_when_an_answer_is_kept(home: Path):
    """With --json and --save together, standard output is the document; where it was kept is said beside it."""
    said = done("coverage", home, *TRACKS, "--boom", "12 ft", "--save", "Again", "--json")
    assert json.loads(said.out)["treated_acres"] > 6
    assert 'Kept in home.gpkg: the application "Again" of 2026-09-28, with 5 missed strips.' in said.err
