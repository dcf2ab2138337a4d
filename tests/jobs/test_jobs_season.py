"""Labels, stands and sprays in a property: kept, taken out, undone; and the question before any amount."""

import json
import math
from datetime import date, datetime
from pathlib import Path

import pytest

from gladebook.errors import CallError, MixError, PropertyError
from gladebook.io.property.open import connected, new_property
from gladebook.io.property.store import kept_in
from gladebook.jobs.adding import Adding, add_to
from gladebook.jobs.growing import add_sprayed, growing_of, history_of, in_tank, mark_cleaned, set_growing
from gladebook.jobs.labels import add_labels, answers_of, keep_listed, labels_of, listed_question, own_label
from gladebook.jobs.listed import ask_labels, with_kept_maximum
from gladebook.jobs.property import check_file, remove_thing, rename_thing, show_thing, undo_change
from gladebook.jobs.today import Asked, look_today
from gladebook.products.weed import WEEDS
from gladebook.spraying.recipe import Product
from gladebook.units import ACRE_M2, parse_quantity
from gladebook.view.thing import thing_words

SHEET = """product,ingredient,strength,rate_most,single_max,season_max,crops,kills,group,reentry,plant_back,interval
Grass spray,clethodim,2 lb ai/gal,8 fl oz/ac,16 fl oz/ac,0.5 lb ai/ac,white clover,grass,1,24 h,oat=30 days,14 days
Broad spray,"2,4-DB",2 lb ae/gal,2 qt/ac,,,clover,broadleaf,4,48 h,,
"""
DAY = "2026-11-20"


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A property with one plot of about two acres."""
    path = tmp_path / "home.gpkg"
    new_property(path, name="Home")
    ring = [[-86.0, 32.0], [-85.99906, 32.0], [-85.99906, 32.0008], [-86.0, 32.0008], [-86.0, 32.0]]
    feature = {
        "type": "Feature",
        "properties": {"name": "Glade"},
        "geometry": {"type": "Polygon", "coordinates": [ring]},
    }
    plots = tmp_path / "plots.geojson"
    plots.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    add_to(path, Adding(plots=plots, since="2026-03-01"))
    return path


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    path = tmp_path / "labels.csv"
    path.write_text(SHEET)
    return path


def test_labels_come_in_are_read_anew_and_undone_as_one(home: Path, sheet: Path) -> None:
    """All of a sheet is one change; what was typed is what is kept; undo takes all of it back."""
    add_labels(home, sheet, day=DAY)
    kept = labels_of(home)
    assert [k.label.name for k in kept] == ["Grass spray", "Broad spray"]
    assert str(kept[0].label.season_max) == "0.5 lb ai/ac"
    with connected(home, write=False) as base:
        assert kept_in(base, "products")[0].content["cells"]["strength"] == "2 lb ai/gal"
    assert check_file(home)[0] == []
    undo_change(home)
    assert labels_of(home) == ()


def test_a_label_of_the_same_name_is_replaced_only_when_asked(home: Path, sheet: Path) -> None:
    """Nothing is written over; a replaced label must be read again for every crop."""
    add_labels(home, sheet, day=DAY)
    keep_listed(home, "Grass spray", crops=("white clover",), answer=True, day=DAY)
    with pytest.raises(PropertyError, match="--replace"):
        add_labels(home, sheet, day=DAY)
    words = add_labels(home, sheet, replace=True, day=DAY)
    assert any("asked again" in w for w in words)
    assert answers_of(home, "Grass spray") == {}
    assert len(labels_of(home)) == 2


def test_the_county_list_stands_beside_the_label(home: Path, sheet: Path) -> None:
    """The same name in both is two things, and the user's own is found as own."""
    add_labels(home, sheet, day=DAY)
    add_labels(home, sheet, county=True, day=DAY)
    assert sorted(k.label.whose for k in labels_of(home)) == ["county list"] * 2 + ["label"] * 2
    own = own_label(labels_of(home), "GRASS SPRAY")
    assert own is not None
    assert own.label.whose == "label"


def test_a_renamed_label_is_called_by_its_new_name(home: Path, sheet: Path) -> None:
    """The name that people see counts, not the one in the cells."""
    add_labels(home, sheet, day=DAY)
    rename_thing(home, "Grass spray", "Rye killer")
    assert [k.label.name for k in labels_of(home)] == ["Rye killer", "Broad spray"]


def test_a_stand_is_kept_changed_in_part_and_undone(home: Path) -> None:
    """What is not named stays as it was; a cleared stand is empty; undo gives it back."""
    assert growing_of(home, "Glade").forages == ()
    set_growing(
        home, "Glade", changes={"forages": "white clover, oat", "planted": "2026-09-20", "hunts": ["2026-12-05"]}
    )
    set_growing(
        home, "Glade", changes={"stage": "3 trifoliate leaves", "next_crop": "cowpea", "plant_on": "2027-05-10"}
    )
    found = growing_of(home, "glade")
    assert [f.name for f in found.forages] == ["white clover", "oat"]
    assert (found.planted, found.stage, found.plant_on) == (date(2026, 9, 20), "3 trifoliate leaves", date(2027, 5, 10))
    assert found.hunts == (date(2026, 12, 5),)
    set_growing(home, "Glade", changes={}, clear=True)
    assert growing_of(home, "Glade").forages == ()
    undo_change(home)
    assert growing_of(home, "Glade").stage == "3 trifoliate leaves"


def test_a_stand_follows_its_plot_through_a_new_name(home: Path) -> None:
    """What grows on a plot is tied to the plot, not to its name."""
    set_growing(home, "Glade", changes={"forages": "chicory"})
    rename_thing(home, "Glade", "Long Glade")
    assert [f.name for f in growing_of(home, "Long Glade").forages] == ["chicory"]
    with pytest.raises(PropertyError, match="no plot called"):
        growing_of(home, "Glade")


def test_a_forage_with_its_family_comes_back(home: Path) -> None:
    """A forage that is not known here is kept with its family."""
    set_growing(home, "Glade", changes={"forages": "sainfoin (other legume)"})
    assert growing_of(home, "Glade").forages[0].legume


def test_sprays_are_kept_by_plot_with_their_labels(home: Path, sheet: Path) -> None:
    """The history knows rate, day, end and what is in the jug."""
    add_labels(home, sheet, day=DAY)
    rate = parse_quantity("8 fl oz/ac", kind="volume per area")
    ended = datetime.fromisoformat("2026-11-01T16:30")
    add_sprayed(home, ["Glade"], products={"Grass spray": rate}, day=date(2026, 11, 1), ended=ended)
    add_sprayed(home, ["Glade"], products={"Something": None}, day=date(2026, 10, 1))
    found = history_of(home, "Glade")
    assert [(s.product, s.day) for s in found] == [("Something", date(2026, 10, 1)), ("Grass spray", date(2026, 11, 1))]
    assert found[1].rate == rate
    assert found[1].ended == ended
    assert found[1].label is not None
    assert found[0].label is None
    told = thing_words(show_thing(home, "Glade"), file="home.gpkg")
    assert any("Sprayed Glade on 2026-11-01" in line for line in told)


def test_the_tank_holds_what_was_sprayed_last_until_it_is_cleaned(home: Path, sheet: Path) -> None:
    """Of two products on the last day the growth regulator counts; cleaning before it counts for nothing."""
    assert in_tank(home) is None
    add_labels(home, sheet, day=DAY)
    mark_cleaned(home, day=date(2026, 10, 1))
    add_sprayed(home, ["Glade"], products={"Broad spray": None, "Grass spray": None}, day=date(2026, 11, 1))
    tank = in_tank(home)
    assert tank is not None
    assert (tank.product, tank.cleaned) == ("Broad spray", None)
    mark_cleaned(home, day=date(2026, 11, 2))
    tank = in_tank(home)
    assert tank is not None
    assert tank.cleaned == date(2026, 11, 2)


def test_before_any_amount_the_label_is_asked_once_and_the_answer_is_kept(home: Path, sheet: Path) -> None:
    """No answer: refused with the question. Yes: kept, and not asked again. No: nothing is mixed."""
    add_labels(home, sheet, day=DAY)
    set_growing(home, "Glade", changes={"forages": "white clover"})
    names = ["Grass spray", "crop oil"]
    with pytest.raises(CallError, match="Before any amount"):
        ask_labels(home, ["Glade"], products=names, answer=None, day=DAY)
    assert any("lists this site" in w for w in ask_labels(home, ["Glade"], products=names, answer=True, day=DAY))
    assert ask_labels(home, ["Glade"], products=names, answer=None, day=DAY) == ()
    set_growing(home, "Glade", changes={"forages": "white clover, oat"})
    with pytest.raises(CallError, match="and oat"):
        ask_labels(home, ["Glade"], products=names, answer=None, day=DAY)
    with pytest.raises(MixError, match="and oat"):
        ask_labels(home, ["Glade"], products=names, answer=False, day=DAY)
    assert answers_of(home, "Grass spray") == {"white clover": True, "oat": False}
    with pytest.raises(MixError, match="does not list"):
        ask_labels(home, ["Glade"], products=names, answer=True, day=DAY)
    keep_listed(home, "Grass spray", crops=("oat",), answer=True, day=DAY)
    assert ask_labels(home, ["Glade"], products=names, answer=None, day=DAY) == ()


def test_a_no_to_several_questions_is_asked_back(home: Path, sheet: Path) -> None:
    """Nobody could tell which of them it answers; a yes answers all, and nothing is kept of a no."""
    add_labels(home, sheet, day=DAY)
    set_growing(home, "Glade", changes={"forages": "white clover, oat"})
    for names in (["Grass spray"], ["Grass spray", "Broad spray"]):
        with pytest.raises(CallError, match="may mean any of"):
            ask_labels(home, ["Glade"], products=names, answer=False, day=DAY)
    rate = parse_quantity("8 fl oz/ac", kind="volume per area")
    asked = Asked(
        day=date(2026, 11, 20), products={"Grass spray": rate}, property_file=home, plot="Glade", listed=False
    )
    with pytest.raises(CallError, match="may mean any of"):
        look_today(asked)
    assert answers_of(home, "Grass spray") == {}


def test_an_ingredient_without_a_label_is_asked_and_an_adjuvant_is_not(home: Path) -> None:
    """Clethodim is a herbicide whoever calls it so; crop oil is none. A plot whose stand is not said is told."""
    set_growing(home, "Glade", changes={"forages": "white clover"})
    with pytest.raises(CallError, match='label of "clethodim"'):
        ask_labels(home, ["Glade"], products=["clethodim"], answer=None, day=DAY)
    ask_labels(home, ["Glade"], products=["clethodim"], answer=True, day=DAY)
    assert answers_of(home, "clethodim") == {"white clover": True}
    assert ask_labels(home, ["Glade"], products=["crop oil"], answer=None, day=DAY) == ()
    set_growing(home, "Glade", changes={}, clear=True)
    told = ask_labels(home, ["Glade"], products=["clethodim"], answer=None, day=DAY)
    assert any("was not entered" in w for w in told)


def test_the_kept_maximum_is_held_against_the_mix(home: Path, sheet: Path) -> None:
    """The label's single maximum comes into the mix where none was given; one that was given wins."""
    add_labels(home, sheet, day=DAY)
    rate = parse_quantity("8 fl oz/ac", kind="volume per area")
    found, told = with_kept_maximum(home, [Product("grass spray", rate), Product("crop oil", rate)])
    assert [None if p.maximum is None else str(p.maximum) for p in found] == ["16 fl oz/ac", None]
    assert len(told) == 1
    given = Product("Grass spray", rate, parse_quantity("12 fl oz/ac", kind="volume per area"))
    assert with_kept_maximum(home, [given]) == ([given], ())


def test_the_whole_check_takes_what_the_property_keeps(home: Path, sheet: Path) -> None:
    """Acres, stand, history, tank and answers come from the file: 8 fl oz/ac on its acres, and the interval stops."""
    add_labels(home, sheet, day=DAY)
    set_growing(home, "Glade", changes={"forages": "white clover"})
    keep_listed(home, "Grass spray", crops=("white clover",), answer=True, day=DAY)
    rate = parse_quantity("8 fl oz/ac", kind="volume per area")
    asked = Asked(
        day=date(2026, 11, 20), products={"grass spray": rate}, property_file=home, plot="glade",
        weed=WEEDS["annual ryegrass"], weed_height_m=0.1,
    )  # fmt: skip
    found, _ = look_today(asked)
    assert found.stops == ()
    acres = (found.case.area_m2 or math.nan) / ACRE_M2
    assert acres == pytest.approx(1.95, abs=0.1)
    assert found.amounts[0].amount == pytest.approx(8 * acres)
    add_sprayed(home, ["Glade"], products={"Grass spray": rate}, day=date(2026, 11, 10))
    found, _ = look_today(asked)
    assert [f.about for f in found.stops] == ["interval"]
    with pytest.raises(CallError, match="--plot"):
        look_today(Asked(day=date(2026, 11, 20), products={"Grass spray": rate}, property_file=home))


def test_what_cannot_be_read_any_more_is_told(home: Path, sheet: Path) -> None:
    """A label, stand or record that another program broke gets one sentence."""
    add_labels(home, sheet, day=DAY)
    set_growing(home, "Glade", changes={"forages": "white clover"})
    add_sprayed(home, ["Glade"], products={"Grass spray": None}, day=date(2026, 11, 10))
    with connected(home) as base:
        base.execute('UPDATE products SET content = \'{"cells": {"product": 3}}\'')
        base.execute("UPDATE records SET content = json_set(content, '$.forages', 'kudzu') WHERE name LIKE 'Stand%'")
    with pytest.raises(PropertyError, match="cannot be read any more"):
        growing_of(home, "Glade")
    with pytest.raises(CallError, match="no active ingredient"):
        labels_of(home)
    with connected(home) as base:
        base.execute("DELETE FROM products")
        base.execute("UPDATE records SET content = json_set(content, '$.rate', 'much') WHERE name LIKE 'Glade:%'")
    with pytest.raises(PropertyError, match="cannot be read any more"):
        history_of(home, "Glade")


def test_a_removed_label_is_gone_and_its_records_stay(home: Path, sheet: Path) -> None:
    """Taking a label away does not take away what was sprayed."""
    add_labels(home, sheet, day=DAY)
    add_sprayed(home, ["Glade"], products={"Grass spray": None}, day=date(2026, 11, 10))
    remove_thing(home, "Grass spray", kind="product", day="")
    assert [k.label.name for k in labels_of(home)] == ["Broad spray"]
    assert history_of(home, "Glade")[0].label is None


def test_the_question_is_one_sentence_for_bare_ground_too() -> None:
    """The same wording everywhere."""
    assert listed_question("X", ["white clover", "oat"]) == (
        'Does your label of "X" list this site (a wildlife food plot) and white clover and oat? Read it, then answer.'
    )
    assert "bare ground before planting" in listed_question("X", ["bare ground"])
