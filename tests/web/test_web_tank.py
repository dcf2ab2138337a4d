"""What goes in the tank? The recipe of the page beside the command's, the label's question, and what is kept."""

import json
from pathlib import Path

import pytest

from gladebook.spraying.cautions import CAUTIONS
from gladebook.units import ACRE_M2
from tests.cli.command import gladebook
from tests.sample_property import FOLDER
from tests.web.conftest import Page, good

ORDER = {"plots": ["Alder Glade"], "per_acre": "15 gal/ac", "tank": "8 gal"}
GRASS = {"name": "Grass jug", "rate": "8 fl oz/ac"}


def test_the_recipe_is_the_command_s_and_closes_by_hand(page: Page):
    """3,200 m2 at 15 gal/ac is 11.86 gal in two loads; every figure is what `gladebook mix` prints."""
    body = {**ORDER, "products": [{"name": "surfactant", "rate": "0.25 %"}]}
    told = good(page.send("mix", body))
    spray = 3200 / ACRE_M2 * 15
    assert told["mix"]["spray_gal"] == pytest.approx(spray, rel=1e-4)
    assert len(told["mix"]["loads"]) == 2
    assert sum(load["spray_gal"] for load in told["mix"]["loads"]) == pytest.approx(spray, rel=1e-9)
    # A quarter of a percent of it, in fluid ounces: 128 in a gallon.
    assert told["mix"]["totals"][0]["amount"] == pytest.approx(spray * 128 * 0.0025, rel=1e-4)
    said = gladebook(
        "mix", "--plots", page.path, "--plot", "Alder Glade", "--per-acre", "15 gal/ac", "--tank", "8 gal",
        "--product", "surfactant=0.25 %", "--json",
    )  # fmt: skip
    notices = [n for n in said.json["notices"] if "--accuracy" not in n]  # the page has no such option
    assert {**said.json, "notices": notices} == told["mix"]
    assert told["header"][0] == "Into the tank"
    assert told["cautions"] == list(CAUTIONS)


def test_several_plots_share_one_tank_in_the_order_of_driving(page: Page):
    """Two plots in one tank: the acres add up, and each load says what is left after each plot."""
    parts = [[[[-86.497, 32.4], [-86.4965, 32.4], [-86.4965, 32.4007], [-86.497, 32.4007]]]]
    good(page.send("shapes", {"name": "Birch Glade", "parts": parts}))
    acres = {s["name"]: s["acres"] for s in page.ask("property")["shapes"]}
    told = good(page.send("mix", {**ORDER, "tank": "60 gal", "plots": ["Birch Glade", "Alder Glade"]}))
    assert told["mix"]["acres"] == pytest.approx(sum(acres.values()), rel=1e-9)
    assert [p["name"] for p in told["mix"]["loads"][0]["plots"]] == ["Birch Glade", "Alder Glade"]
    assert told["stops"][0].startswith("Load 1: Birch Glade")


def ready(page: Page) -> None:
    """Labels are in, and white clover grows on the plot."""
    good(page.drop("labels", FOLDER / "labels.csv"))
    uid = page.shape("Alder Glade")["uid"]
    good(page.send(f"plots/{uid}/growing", {"growing": "white clover", "seen": []}, method="PUT"))


def test_no_amount_before_the_label_was_read(page: Page):
    """A kept label is asked about, product and crop by name; after a yes the amounts come, after a no they do not."""
    ready(page)
    body = {**ORDER, "products": [GRASS]}
    told = good(page.send("mix", body))
    assert told == {
        "refused": "",
        "question": 'Does your label of "Grass jug" list this site (a wildlife food plot) and white clover? Read it, '
        "then answer.",
        "product": "Grass jug",
        "crop": "white clover",
        "was": None,
    }
    good(page.send("listed", {"product": "Grass jug", "crop": "white clover", "answer": False, "was": None}))
    refused = good(page.send("mix", body))
    assert "does not list this site" in refused["refused"]
    assert "gladebook" not in refused["refused"]
    assert refused["product"] == "Grass jug"
    assert not refused.keys() & {"mix", "rows", "words", "token"}
    # A browser that still shows the open question cannot turn the no into a yes unseen.
    unseen = page.send("listed", {"product": "Grass jug", "crop": "white clover", "answer": True, "was": None})
    assert unseen.status_code == 409
    good(page.send("listed", {"product": "Grass jug", "crop": "white clover", "answer": True, "was": False}))
    mixed = good(page.send("mix", body))
    assert mixed["mix"]["totals"][0]["amount"] == pytest.approx(3200 / ACRE_M2 * 8, rel=1e-4)
    assert mixed["cautions"] == list(CAUTIONS)


def test_one_answer_covers_one_product_and_one_crop(page: Page):
    """Two products and two crops are four questions, each by itself."""
    ready(page)
    uid = page.shape("Alder Glade")["uid"]
    stand = page.ask(f"plots/{uid}")["standing"]
    good(page.send(f"plots/{uid}/growing", {"growing": "white clover, red clover", "seen": stand}, method="PUT"))
    body = {**ORDER, "products": [GRASS, {"name": "Clover broadleaf jug", "rate": "1 qt/ac"}]}
    asked = []
    for _ in range(5):
        told = good(page.send("mix", body))
        if "mix" in told:
            break
        asked.append((told["product"], told["crop"]))
        good(
            page.send("listed", {"product": told["product"], "crop": told["crop"], "answer": True, "was": told["was"]})
        )
    assert sorted(asked) == sorted(
        (product, crop) for product in ("Grass jug", "Clover broadleaf jug") for crop in ("white clover", "red clover")
    )


def test_a_rate_of_ingredient_is_turned_by_the_label_s_strength_or_refused(page: Page):
    """0.125 lb ai/ac of a jug with 2 lb ai/gal is 8 fl oz/ac (128 / 16); of a product without a label it is refused."""
    ready(page)
    good(page.send("listed", {"product": "Grass jug", "crop": "white clover", "answer": True, "was": None}))
    told = good(page.send("mix", {**ORDER, "products": [{"name": "Grass jug", "rate": "0.125 lb ai/ac"}]}))
    assert told["mix"]["totals"][0]["amount"] == pytest.approx(3200 / ACRE_M2 * 8, rel=1e-4)
    assert any("is 8 fl oz/ac" in n for n in told["notices"])
    refused = page.send("mix", {**ORDER, "products": [{"name": "some jug", "rate": "0.125 lb ai/ac"}]})
    assert refused.status_code == 400
    assert "counts the ingredient" in refused.json()["error"]


def test_the_labels_on_the_page_are_the_user_s_own(page: Page):
    """Names, rates and maxima as copied; nothing but what the user's sheet says."""
    assert page.ask("labels") == {"labels": []}
    good(page.drop("labels", FOLDER / "labels.csv"))
    grass = next(label for label in page.ask("labels")["labels"] if label["name"] == "Grass jug")
    assert (grass["rate_least"], grass["rate_most"], grass["maximum"]) == ("6 fl oz/ac", "8 fl oz/ac", "")


def test_the_recipe_is_kept_as_it_was_shown(page: Page):
    """What is saved is what was shown, even where the plot was moved since; a taken name is refused."""
    told = good(page.send("mix", ORDER))
    seen = page.shape("Alder Glade")
    moved = [[[[-86.5, 32.4], [-86.4999, 32.4], [-86.4999, 32.4001]]]]
    good(page.send(f"shapes/{seen['uid']}", {"parts": moved, "mark": seen["mark"]}, method="PUT"))
    said = good(page.send("keep", {"token": told["token"], "name": "Burndown"}))
    assert 'the mix "Burndown"' in said["words"]
    assert page.send("keep", {"token": told["token"], "name": "burndown"}).status_code == 422
    assert page.send("keep", {"token": "nothing", "name": "More"}).status_code == 400
    assert page.send("keep", {"token": told["token"], "name": " "}).status_code == 400
    kept = gladebook("property", "show", page.path, "Burndown", "--json").json
    assert json.dumps(told["mix"]["loads"]) in json.dumps(kept)


@pytest.mark.parametrize(
    "wrong",
    [
        {"plots": ["Nowhere"]},
        {"per_acre": "15"},
        {"per_acre": "0 gal/ac"},
        {"tank": "-3 gal"},
        {"tank": "25 ac"},
        {"sump": "9 gal"},
        {"products": [{"name": "", "rate": "1 %"}]},
        {"products": [{"name": "x", "rate": ""}]},
        {"products": [{"name": "x", "rate": "8 oz/ac"}]},
    ],
    ids=str,
)
def test_a_bad_order_is_answered_with_one_sentence(page: Page, wrong: dict[str, object]):
    """No plot, unit, rate or name of that kind: told in words, without an amount."""
    answer = page.send("mix", {**ORDER, **wrong})
    assert answer.status_code in (400, 422), answer.text
    assert answer.json()["error"]
    assert "--" not in answer.json()["error"]


def test_a_bad_sheet_of_labels_is_refused(page: Page, tmp_path: Path):
    """What is no sheet of labels writes nothing."""
    bad = tmp_path / "labels.csv"
    bad.write_text("this,is\nno,label\n")
    assert page.drop("labels", bad).status_code == 422
    assert page.ask("labels") == {"labels": []}
