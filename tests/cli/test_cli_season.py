"""`choose`, `today`, and what a property keeps for them, as their user runs them."""

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from gladebook.products.label_text import COLUMNS
from tests.cli.command import Said, documented, gladebook
from tests.cli.test_cli_contract import SEVEN
from tests.sample_property import FOLDER

# Invented values, no label's.
SHEET = (
    "product,ingredient,strength,rate_most,single_max,season_max,crops,kills,timing,group,reentry,rainfast,"
    "weed_height_most\n"
    "Grass spray,clethodim,2 lb ai/gal,8 fl oz/ac,16 fl oz/ac,0.5 lb ai/ac,white clover,grass,post,1,24 h,1 h,6 in\n"
)
CHOOSE = [
    "choose",
    "--weed",
    "annual ryegrass",
    "--weed-height",
    "4 in",
    "--day",
    "2026-11-20",
    "--region",
    "south-east",
]
TODAY = [
    "--plot", "Wasp Waist", "--product", "Grass spray=8 fl oz/ac", "--day", "2026-11-20", "--at", "11:00",
    "--time-zone", "America/Chicago", "--weed", "annual ryegrass", "--weed-height", "4 in",
]  # fmt: skip


def done(*arguments: str | Path) -> Said:
    said = gladebook(*arguments)
    assert said.code == 0, said.err
    return said


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    path = tmp_path / "labels.csv"
    path.write_text(SHEET)
    return path


@pytest.fixture
def home(tmp_path: Path, sheet: Path) -> Path:
    """The sample property with a label, and white clover on Wasp Waist."""
    path = tmp_path / "home.gpkg"
    done("property", "new", path)
    done("property", "add", path, FOLDER / "plots.geojson", "--since", "2026-03-01")
    done("property", "labels", path, sheet)
    done("property", "grow", path, "Wasp Waist", "--forage", "white clover", "--hunt", "2026-11-22")
    return path


def test_choose_answers_first_and_names_its_sources() -> None:
    """Clethodim fits white clover; its source is told, and that tolerated is not legal."""
    said = done(*CHOOSE, "--forage", "white clover")
    assert said.out.startswith("clethodim: fits annual ryegrass, 4 in tall, in white clover, on 2026-11-20")
    assert "Mississippi Dept. of Wildlife, Fisheries and Parks" in said.out
    assert "Tolerated is not legal" in said.err
    assert all(word in said.err for word in SEVEN)
    assert "fl oz/ac of" not in said.out.split("Printed")[0]


def test_choose_json_holds_its_contract() -> None:
    """Exactly the agreed names."""
    found: Any = done(*CHOOSE, "--forage", "white clover, oat", "--json").json
    assert set(found) == {
        "weed",
        "weed_height_in",
        "forages",
        "day",
        "region",
        "options",
        "asks",
        "cautions",
        "notices",
    }
    assert set(found["options"][0]) == {"name", "own", "verdict", "rank", "reasons", "unknown", "printed"}
    assert set(found["options"][0]["reasons"][0]) == {"word", "reason", "source", "region"}
    assert {*found, *found["options"][0], *found["options"][0]["reasons"][0]} <= documented("choose")
    assert all(o["rank"] == 0 for o in found["options"])


def test_the_users_sheet_wins_and_the_countys_comes_next(sheet: Path, tmp_path: Path) -> None:
    """The own product is named as such; a county list that says hurt counts where the label is silent."""
    said = done(*CHOOSE, "--forage", "white clover", "--labels", sheet)
    assert "1. Grass spray (yours): lists white clover [your label]" in said.out
    assert "Before any amount" in said.err
    county = tmp_path / "county.csv"
    county.write_text("product,ingredient,injured\nCounty word on clethodim,clethodim,crimson clover\n")
    found: Any = done(*CHOOSE, "--forage", "crimson clover", "--labels", sheet, "--county", county, "--json").json
    mine = next(o for o in found["options"] if o["name"] == "Grass spray")
    assert mine["verdict"] == "would hurt the stand"
    assert mine["reasons"][0]["source"] == "county list"


def test_about_tells_every_cell_or_that_it_is_empty() -> None:
    """What is known of one ingredient, with sources; what is not is said to be empty."""
    said = done("choose", "--about", "Clethodim")
    assert "kills grass: yes [Mississippi" in said.out
    assert "contact or systemic: not known here; see your label" in said.out
    found: Any = done("choose", "--about", "triclopyr", "--json").json
    assert set(found) == {"name", "cells", "cautions"}
    assert all(cell["told"] == [] for cell in found["cells"])


def test_today_asks_before_any_amount_and_keeps_the_answer(home: Path) -> None:
    """Unanswered: the question and no amount. Yes: the amount with all cautions, and the answer is kept."""
    said = done("today", home, *TODAY)
    assert "No amounts before you have read" in said.out
    assert 'Does your label of "Grass spray" list this site' in said.err
    said = done("today", home, *TODAY, "--label-lists", "yes")
    assert "For 0.80 ac: Grass spray 6.4 fl oz." in said.out
    assert all(word in said.out for word in (*SEVEN, "top-heavy"))
    assert "Kept in home.gpkg" in said.err
    again = done("today", home, *TODAY)
    assert "For 0.80 ac: Grass spray 6.4 fl oz." in again.out
    assert "You found that it lists this site and white clover" in done("property", "show", home, "Grass spray").out


def test_today_says_what_was_not_checked_first(home: Path) -> None:
    """Headline, then what was not checked, then the rest; nothing is called safe."""
    said = done("today", home, *TODAY, "--label-lists", "yes")
    first, *_ = said.out.splitlines()
    assert first.startswith("Nothing you entered")
    assert "NOT checked:" in first
    assert said.out.index("Not checked (find out") < said.out.index("Looked at, nothing against it")
    assert "safe" not in said.out.lower().replace("safely", "")
    assert "Hunt on 2026-11-22: the re-entry time is over by then." in said.out


def test_today_json_holds_its_contract(home: Path) -> None:
    """Exactly the agreed names."""
    found: Any = done("today", home, *TODAY, "--label-lists", "yes", "--json").json
    assert set(found) == {
        "headline", "plot", "day", "forages", "products", "not_checked", "stops", "cautions_found", "fine", "entry",
        "winter_grass", "acres", "amounts", "why_no_amounts", "asks", "cautions", "notices",
    }  # fmt: skip
    assert set(found["not_checked"][0]) == {"about", "reason", "source"}
    assert set(found["entry"]) == {"not_before", "hunts", "words"}
    assert set(found["winter_grass"]) == {"small", "window", "look_again", "words"}
    nested = [*found["entry"], *found["winter_grass"], *found["amounts"][0], *found["products"][0], *found["fine"][0]]
    assert {*found, *nested} <= documented("today")
    assert found["entry"]["not_before"] == "2026-11-21T11:00:00-06:00"
    assert found["amounts"] == [{"name": "Grass spray", "amount": pytest.approx(6.4, abs=0.05), "unit": "fl oz"}]


def test_what_was_sprayed_and_cleaned_counts(home: Path) -> None:
    """A growth regulator in the tank stops before clover until it was cleaned; both are kept and can be undone."""
    done("property", "sprayed", home, "--plot", "Cedar Flat", "--product", "2,4-D=1 qt/ac", "--day", "2026-11-10")
    said = done("today", home, *TODAY, "--last-in-tank", "2,4-D")
    assert said.out.startswith("Do not spray: last in the tank")
    done("property", "cleaned", home, "--day", "2026-11-11")
    assert not done("today", home, *TODAY).out.startswith("Do not spray")
    assert "Cleaned the tank" in done("property", "undo", home).out


def test_today_takes_its_weather_from_a_file(home: Path, tmp_path: Path) -> None:
    """The row nearest to the time counts; what is typed in beats it."""
    weather = tmp_path / "weather.csv"
    weather.write_text("time,wind_mph,temperature_f,rain_in\n2026-11-20T11:00,12,60,0\n2026-11-20T11:30,12,60,0.3\n")
    said = done("today", home, *TODAY, "--label-lists", "yes", "--weather", weather)
    assert "rain: Grass spray needs 1 h dry, and rain is forecast in 0.5 h. [your label]" in said.out
    assert "12 mph is outside of 3 to 8 mph" in said.out
    typed = done("today", home, *TODAY, "--weather", weather, "--wind", "5 mph", "--wind-measured", "--rain-in", "none")
    assert "outside of 3 to 8" not in typed.out
    assert "Do not spray" not in typed.out


def test_looking_again_never_says_more_product() -> None:
    """Alive after 17 days: suspected resistance, no higher rate."""
    said = done("today", "--sprayed-on", "2026-11-20", "--day", "2026-12-07", "--alive")
    assert said.out.startswith("Alive after 17 days. Do not spray more of the same, and do not raise the rate.")
    found: Any = done("today", "--sprayed-on", "2026-11-20", "--day", "2026-12-07", "--alive", "--json").json
    assert set(found) == {"days", "suspected_resistance", "words"}
    assert found["suspected_resistance"] is True


def test_a_check_is_kept_with_its_answer(home: Path) -> None:
    """`--save` keeps what was said, cautions with it."""
    done("today", home, *TODAY, "--label-lists", "yes", "--save", "Before the rye")
    said = done("property", "show", home, "Before the rye")
    assert "NOT checked" in said.out
    content = done("property", "show", home, "Before the rye", "--json").json["content"]
    assert len(content["cautions"]) >= len(SEVEN)


def test_mix_asks_of_a_property_before_any_amount(home: Path) -> None:
    """Without the answer no gallon is told; with it the kept maximum is held against twice the rate."""
    mix = [
        "mix",
        "--plots",
        str(home),
        "--plot",
        "Wasp Waist",
        "--per-acre",
        "15 gal/ac",
        "--tank",
        "25 gal",
        "--product",
    ]
    said = gladebook(*mix, "Grass spray=8 fl oz/ac")
    assert (said.code, said.out) == (2, "")
    assert "Before any amount" in said.err
    refused = gladebook(*mix, "Grass spray=8 fl oz/ac", "--label-lists", "no")
    assert (refused.code, refused.out) == (3, "")
    done("property", "listed", home, "Grass spray", "--crop", "white clover", "--yes")
    said = done(*mix, "Grass spray=9 fl oz/ac")
    assert "over the single maximum of 16 fl oz/ac" in said.err
    over = gladebook(*mix, "Grass spray=17 fl oz/ac")
    assert over.code == 3
    assert "nothing is mixed" in over.err


def test_mix_turns_pounds_of_ingredient_into_product() -> None:
    """0.125 lb ai/ac at 2 lb ai/gal is 8 fl oz/ac (Pacific Northwest handbook, clethodim: 6 to 8 fl oz)."""
    mix = [
        "mix",
        "--acres",
        "1",
        "--per-acre",
        "15 gal/ac",
        "--tank",
        "25 gal",
        "--product",
        "clethodim=0.125 lb ai/ac",
    ]
    assert "--strength" in gladebook(*mix).err
    said = done(*mix, "--strength", "clethodim=2 lb ai/gal", "--metric", "--json")
    assert said.json["totals"][0]["amount"] == pytest.approx(8)
    assert "is 8 fl oz/ac" in said.err


def test_an_empty_sheet_names_its_columns_and_overwrites_nothing(tmp_path: Path) -> None:
    """The sheet comes with what each column is for; a second one is refused."""
    path = tmp_path / "labels.csv"
    said = done("property", "label-sheet", path)
    assert next(csv.reader(path.open())) == list(COLUMNS)
    assert all(name in said.out for name in COLUMNS)
    assert gladebook("property", "label-sheet", path).code == 3


def test_a_property_with_a_season_is_whole_and_exported(home: Path, tmp_path: Path) -> None:
    """What the season adds is checked, backed up and exported like all else."""
    done("property", "sprayed", home, "--plot", "Wasp Waist", "--product", "Grass spray=8 fl oz/ac", "--ended", "16:30")
    done("property", "check", home)
    said = done("property", "export", home, tmp_path / "out", "--format", "csv")
    assert "Left out, as only a GeoPackage holds them: 1 product, 2 records." in said.err
    done("property", "export", home, tmp_path / "whole", "--format", "gpkg")
    shown: Any = done("property", "show", home, "Wasp Waist", "--json").json
    assert any("White clover grows there" in line for line in shown["entered"])
    json.dumps(shown)


BAD: list[tuple[list[str], str]] = [
    (["choose"], "--weed"),
    (["choose", "--weed", "weed"], "no weed that is known"),
    ([*CHOOSE, "--forage", "kudzu"], "no forage that is known"),
    (["choose", "--weed", "crabgrass", "--weed-height", "-4 in"], "20 ft"),
    (["choose", "--weed", "crabgrass", "--weed-height", "4 lb"], "is a weight"),
    (["choose", "--weed", "crabgrass", "--region", "moon"], "none of"),
    (["choose", "--about", "water"], "not in the table"),
    (["today"], "--product"),
    (["today", "--product", "x=1 oz/ac"], "may mean fluid ounces"),
    (["today", "--product", "x=-1 fl oz/ac"], "above zero"),
    (["today", "--product", "x", "--product", "X"], "given twice"),
    (["today", "--product", "x", "--wind", "500 mph"], "cannot be"),
    (["today", "--product", "x", "--wind", "5 lb"], "is a weight"),
    (["today", "--product", "x", "--wind-measured"], "--wind"),
    (["today", "--product", "x", "--temperature", "62"], "F or C"),
    (["today", "--product", "x", "--temperature", "620 F"], "no temperature of the air"),
    (["today", "--product", "x", "--humidity", "120 %"], "100 %"),
    (["today", "--product", "x", "--sky", "blue"], "clear or cloudy"),
    (["today", "--product", "x", "--at", "noon"], "is no time"),
    (["today", "--product", "x", "--day", "tomorrow"], "is no day"),
    (["today", "--product", "x", "--label-lists", "maybe"], "yes or no"),
    (["today", "--product", "x", "--weather", "none.csv"], "--at"),
    (["today", "--product", "x", "--per-acre", "0 gal/ac"], "above zero"),
    (["today", "--alive"], "--sprayed-on"),
    (["today", "--sprayed-on", "2026-12-07", "--day", "2026-11-20"], "after the day"),
    (["mix", "--acres", "1", "--per-acre", "15 gal/ac", "--tank", "25 gal", "--product", "a=1 qt/ac",
      "--label-lists", "yes"],
     "property file"),
]  # fmt: skip


@pytest.mark.parametrize(("command", "words"), BAD)
def test_a_mistake_in_the_call_gets_one_sentence(command: list[str], words: str) -> None:
    """Missing, negative, absurd, of the wrong kind: exit 2, one line, nothing on standard output."""
    said = gladebook(*command)
    assert said.code == 2, said.out
    assert said.out == ""
    assert said.err.startswith("gladebook: ")
    assert said.err.count("\n") == 1
    assert words in said.err
