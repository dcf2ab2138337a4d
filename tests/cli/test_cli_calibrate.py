"""`gladebook calibrate` as its user runs it."""

from typing import Any

import pytest

from tests.cli.command import documented, gladebook
from tests.cli.test_cli_contract import SEVEN
from tests.sample_property import FOLDER

BOOM = ["boom", "--flow", "0.3 gal/min", "--speed", "5 mph", "--spacing", "20 in"]
TIPS = ["tips", *[part for oz in ("15", "15.4", "14.8", "17.1") for part in ("--caught", f"{oz} fl oz")]]
SPREADER = ["spreader", "--spread", "6.5 lb", "--swath", "20 ft", "--length", "217.8 ft"]

# command, its first words, key figures of its JSON: figures as in the tests of the functions, with their sources there
SAYS: list[tuple[list[str], str, dict[str, float]]] = [
    (BOOM, "17.82 gal/ac", {"rate_gal_per_ac": 17.82}),
    (
        ["boom", "--per-acre", "15 gal/ac", "--speed", "5 mph", "--spacing", "20 in"],
        "0.2525 gal/min",
        {"flow_gal_per_min": 0.252525},
    ),
    (
        ["boomless", "--flow", "480 fl oz/min", "--swath", "222 in", "--speed", "5 mph"],
        "20.07 gal/ac",
        {"rate_gal_per_ac": 20.0676},
    ),
    (
        ["boomless", "--flow", "4 gal/min", "--swath", "60 ft", "--speed", "5 mph"],
        "6.6 gal/ac",
        {"rate_gal_per_ac": 6.6},
    ),
    (["catch", "--spacing", "20 in"], "Course for a 20 in spacing: 204.2 ft", {"course_ft": 204.1875}),
    (["catch", "--swath", "30 ft"], "Course for a 30 ft swath: 181.5 ft", {"course_ft": 181.5}),
    (["catch", "--caught", "14 fl oz"], "14 gal/ac", {"rate_gal_per_ac": 14}),
    (["catch", "--swath", "30 ft", "--caught", "15 pt"], "15 gal/ac", {"rate_gal_per_ac": 15}),
    (
        ["handgun", "--caught", "40 fl oz", "--rate", "1 qt/ac"],
        "40 gal/ac",
        {"rate_gal_per_ac": 40, "product_per_gal": 0.8},
    ),
    (["handgun", "--ground", "1000 sq ft", "--caught", "1.5 gal"], "65.34 gal/ac", {"rate_gal_per_ac": 65.34}),
    (
        ["handgun", "--percent", "2 %", "--tank", "3 gal"],
        "2.56 fl oz of product in each gallon",
        {"product_per_tank": 7.68},
    ),
    (["speed", "--course", "200 ft", "--time", "34 s"], "4.01 mph", {"speed_mph": 4.01069}),
    (["speed", "--course", "200 ft", "--hold", "4 mph"], "34.09 s", {"seconds": 34.0909}),
    (
        ["pressure", "--flow", "0.2 gal/min", "--pressure", "40 psi", "--want", "0.25 gal/min"],
        "0.25 gal/min",
        {"pressure_psi": 62.5},
    ),
    (
        ["pressure", "--flow", "0.4 gal/min", "--pressure", "40 psi", "--at", "30 psi"],
        "0.3464",
        {"flow_gal_per_min": 0.34641},
    ),
    (TIPS, "Clean tip 4.", {"mean_fl_oz": 15.575}),
    ([*TIPS, "--new", "15 fl oz"], "Replace tip 4.", {"mean_fl_oz": 15.575}),
    (["height", "--spacing", "20 in", "--angle", "110"], "14.0 in above the tops", {"height_in": 14.0042}),
    (SPREADER, "65.0 lb/ac", {"rate_lb_per_ac": 65}),
    ([*SPREADER, "--want", "130 lb/ac", "--crosswise"], "65.0 lb/ac", {"set_for_lb_per_ac": 65, "trips": 2, "off": 0}),
]


@pytest.mark.parametrize(
    ("command", "words", "figures"), SAYS, ids=lambda v: "-".join(v[:2]) if isinstance(v, list) else ""
)
def test_each_command_answers_in_words_and_in_json(command: list[str], words: str, figures: dict[str, float]) -> None:
    """The answer stands first, and JSON has the same figure at full precision."""
    said = gladebook("calibrate", *command)
    assert said.code == 0, said.err
    assert said.out.startswith(words)
    found = gladebook("calibrate", *command, "--json").json
    assert {k: found[k] for k in figures} == {k: pytest.approx(v, rel=1e-5, abs=1e-9) for k, v in figures.items()}


KEYS: dict[str, tuple[list[str], set[str]]] = {
    "boom": (BOOM, {"answered", "flow_gal_per_min", "speed_mph", "width_in", "rate_gal_per_ac"}),
    "boom, wanted": (
        [*BOOM, "--want", "15 gal/ac"],
        {"answered", "flow_gal_per_min", "speed_mph", "width_in", "rate_gal_per_ac", "wanted_gal_per_ac", "off",
         "adjust"},
    ),
    "catch": (
        ["catch", "--spacing", "20 in", "--caught", "15 fl oz"],
        {"width_in", "course_ft", "acre_share", "caught_unit", "rate_gal_per_ac", "caught_fl_oz", "ground_sq_ft",
         "catches"},
    ),
    "handgun": (
        ["handgun", "--caught", "40 fl oz", "--rate", "1 qt/ac", "--tank", "3 gal"],
        {"rate_gal_per_ac", "caught_fl_oz", "ground_sq_ft", "catches", "product_per_gal", "product_per_tank",
         "product_unit", "tank_gal", "covers_sq_ft", "cautions"},
    ),
    "speed": (["speed", "--course", "200 ft", "--time", "34 s"], {"speed_mph", "course_ft", "times_s", "spread"}),
    "track": (["speed", str(FOLDER / "sprayed.csv")], {"speed_mph", "low_mph", "high_mph", "seconds", "boom_on"}),
    "pressure": (
        ["pressure", "--flow", "0.2 gal/min", "--pressure", "40 psi", "--at", "30 psi"],
        {"flow_gal_per_min", "pressure_psi"},
    ),
    "tips": (TIPS, {"mean_fl_oz", "variation", "tips"}),
    "height": (["height", "--spacing", "20 in", "--angle", "80"],
               {"height_in", "fan_width_in", "spacing_in", "overlap"}),
    "spreader": (
        SPREADER, {"rate_lb_per_ac", "ground_sq_ft", "wanted_lb_per_ac", "set_for_lb_per_ac", "off", "trips"}
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", list(KEYS))
def test_the_json_holds_its_contract(name: str) -> None:
    """Exactly the agreed names, and nothing else on standard output."""
    command, keys = KEYS[name]
    found: Any = gladebook("calibrate", *command, "--json").json
    assert set(found) == keys
    assert set(found) <= documented(f"calibrate {command[0]}")
    if name == "tips":
        assert set(found["tips"][0]) == {"number", "caught_fl_oz", "off_mean", "off_new", "do"}


def test_whoever_reads_an_amount_reads_the_cautions() -> None:
    """Product for a backpack comes with all seven subjects and the loaded tank on a slope; so it does in JSON."""
    said = gladebook("calibrate", "handgun", "--percent", "2 %", "--tank", "3 gal")
    assert all(word in said.out for word in (*SEVEN, "top-heavy"))
    assert "no rate per acre" in said.out
    in_json = gladebook("calibrate", "handgun", "--percent", "2 %", "--tank", "3 gal", "--json")
    assert all(any(word in line for line in in_json.json["cautions"]) for word in (*SEVEN, "top-heavy"))
    assert "label is the law" in in_json.err


def test_metric_is_told_where_it_is_asked_for() -> None:
    """15 gal/ac are 140.3 L/ha (1 gal/ac is 9.354 L/ha: handbook tables)."""
    boom = ["boom", "--per-acre", "15 gal/ac", "--speed", "5 mph", "--spacing", "20 in"]
    assert "140.3 L/ha" in gladebook("calibrate", *boom, "--metric").out
    assert "L/ha" not in gladebook("calibrate", *boom).out


BAD = [
    (["boom", "--flow", "0.3 gal/min", "--speed", "5 mph"], "three of"),
    (["boom", "--flow", "1 gal", "--speed", "5 mph", "--spacing", "20 in"], "is a volume"),
    (["boom", "--flow", "-1 gal/min", "--speed", "5 mph", "--spacing", "20 in"], "above zero"),
    (["boom", "--flow", "1 gal/min", "--speed", "500 mph", "--spacing", "20 in"], "30 mph"),
    (["boom", "--flow", "1 gal/min", "--speed", "5", "--spacing", "20 in"], "no unit"),
    ([*BOOM[:5], "--per-acre", "15 gal/ac", "--want", "15 gal/ac"], "nothing to compare"),
    (["catch"], "--spacing"),
    (["catch", "--spacing", "20 in", "--swath", "30 ft"], "one of them"),
    (["catch", "--caught", "14 oz"], "fl oz"),
    (["handgun"], "--caught"),
    (["handgun", "--percent", "2 %"], "--tank"),
    (["handgun", "--percent", "200 %", "--tank", "3 gal"], "100 %"),
    (["handgun", "--percent", "2 %", "--tank", "3 gal", "--rate", "1 qt/ac"], "Leave the rest out"),
    (["speed"], "--course"),
    (["speed", "--course", "200 ft"], "--time"),
    (["speed", "--course", "200 ft", "--hold", "0 mph"], "above zero"),
    (["speed", str(FOLDER / "sprayed.csv"), "--course", "200 ft"], "not both"),
    (["pressure", "--flow", "0.2 gal/min", "--pressure", "40 psi"], "--at"),
    (["pressure", "--flow", "0.2 gal/min", "--pressure", "40 mph", "--at", "30 psi"], "40 psi"),
    (["tips", "--caught", "15 fl oz"], "two at least"),
    (["height", "--spacing", "20 in"], "--angle"),
    (["height", "--spacing", "20 in", "--angle", "200"], "170 degrees"),
    (["spreader", "--spread", "6.5 gal", "--swath", "20 ft", "--length", "10 ft"], "is a volume"),
    ([*SPREADER, "--crosswise"], "--want"),
]


@pytest.mark.parametrize(("command", "words"), BAD)
def test_a_mistake_in_the_call_gets_one_sentence(command: list[str], words: str) -> None:
    """Missing, negative, absurd, of the wrong kind: exit 2, one line, nothing on standard output."""
    said = gladebook("calibrate", *command)
    assert said.code == 2, said.out
    assert said.out == ""
    assert said.err.startswith("gladebook: ")
    assert said.err.count("\n") == 1
    assert words in said.err
