"""The tank before, the disk and the crop after."""

from datetime import date, timedelta

import pytest

from gladebook.products.forage import forages_from
from gladebook.products.label import Label
from gladebook.products.label_text import label_from
from gladebook.records.sprayed import InTank
from gladebook.season.checks.ground import burndown_window, check_disking, check_mixing, check_plant_back, check_tank
from tests.season.cases import BROAD, DAY, case, label, only, planned, sprayed

BURN = {"product": "Burndown", "ingredient": "glyphosate", "kills": "grass; broadleaf; sedge", "timing": "burndown"}


def jug(base: dict[str, str], **cells: str) -> Label:
    return label_from({**base, **cells}, what="test")


def test_a_growth_regulator_in_the_tank_stops_legumes_until_it_was_cleaned() -> None:
    """2,4-D is a growth regulator (Univ. of Nebraska-Lincoln, CropWatch): a stop before clover, none after cleaning."""
    auxin = jug(BROAD, ingredient="2,4-D", group="", strength="")
    stopped = only(check_tank(case(planned(label()), tank=InTank("Broad spray", auxin))), "last in the tank")
    assert (stopped.word, stopped.source) == ("stop", "your entry")
    assert "CropWatch" in stopped.reason
    cleaned = InTank("Broad spray", auxin, cleaned=DAY)
    assert only(check_tank(case(planned(label()), tank=cleaned)), "last in the tank").word == "fine"
    on_grass = case(planned(label()), forage="oat", tank=InTank("Broad spray", auxin))
    assert only(check_tank(on_grass), "last in the tank").word == "caution"


@pytest.mark.parametrize(
    ("tank", "new", "word"),
    [
        (None, False, "not checked"),
        (None, True, "fine"),
        (InTank("Some jug"), False, "not checked"),
        (InTank("Other grass spray", label()), False, "caution"),
        (InTank("grass spray", label()), False, "fine"),
    ],
)
def test_an_unknown_tank_is_not_checked(tank: InTank | None, new: bool, word: str) -> None:
    """What was not said, or is not known to be a growth regulator, is told as not checked."""
    assert only(check_tank(case(planned(label()), tank=tank, tank_new=new)), "last in the tank").word == word


# plant-back as printed: Penn State Univ. article (reprint read), 2,4-D: all other crops 30 days
@pytest.mark.parametrize(("plant_on", "word"), [(date(2026, 12, 19), "stop"), (date(2026, 12, 20), "fine")])
def test_a_plant_back_of_thirty_days_ends_on_the_thirtieth(plant_on: date, word: str) -> None:
    """Thirty days after 20 November is 20 December."""
    auxin = jug(BROAD, plant_back="other=30 days")
    growing = {"next_crop": forages_from("cowpea"), "plant_on": plant_on}
    found = only(check_plant_back(case(planned(auxin), growing=growing)), "plant-back")
    assert (found.word, "2026-12-20" in found.reason) == (word, True)


def test_an_earlier_spray_waits_too() -> None:
    """18 months after an imazethapyr spray (oat, Pacific Northwest handbook) are not over within the year."""
    old = label(product="Old spray", ingredient="imazethapyr", plant_back="oat=18 months", kills="broadleaf")
    growing = {"next_crop": forages_from("oat"), "plant_on": date(2027, 9, 10)}
    history = (sprayed(date(2026, 6, 1), of=old, at="4 fl oz/ac"),)
    found = check_plant_back(case(planned(label(plant_back="oat=30 days")), growing=growing, history=history))
    assert [f.word for f in found] == ["fine", "stop"]
    assert "2027-12-01" in found[1].reason


def test_plant_back_without_the_crop_or_the_day_is_not_checked() -> None:
    """No next crop, no label value, or no day to plant: not checked, with what to enter."""
    assert only(check_plant_back(case(planned(label()))), "plant-back").word == "not checked"
    crop = {"next_crop": forages_from("corn")}
    assert only(check_plant_back(case(planned(label()), growing=crop)), "plant-back").word == "not checked"
    known = label(plant_back="corn=7 days")
    found = only(check_plant_back(case(planned(known), growing=crop)), "plant-back")
    assert (found.word, "2026-11-27" in found.reason) == ("not checked", True)


@pytest.mark.parametrize(
    ("days", "word"),
    [(0, "caution"), (4, "caution"), (5, "caution"), (13, "caution"), (14, "fine"), (21, "fine"), (22, "caution")],
)
def test_a_burndown_goes_out_two_to_three_weeks_before_the_disk(days: int, word: str) -> None:
    """14 to 21 days are right, all else a caution and never a stop: common practice, no source."""
    growing = {"disk_on": DAY + timedelta(days=days)}
    found = only(check_disking(case(planned(jug(BURN)), forage="", growing=growing)), "burndown")
    assert (found.word, found.source) == (word, "common practice, no source")


def test_too_short_and_short_are_told_apart() -> None:
    """Under 5 days is worded more strongly than 5 to 13."""
    words = [
        only(
            check_disking(case(planned(jug(BURN)), forage="", growing={"disk_on": DAY + timedelta(days=d)})), "burndown"
        ).reason
        for d in (4, 5)
    ]
    assert "too short" in words[0]
    assert "too short" not in words[1]


def test_the_window_before_a_planting_day() -> None:
    """Disking on 10 to 17 September means a burndown from 20 August to 3 September (worked by hand)."""
    assert burndown_window(date(2026, 9, 10))[0] == date(2026, 8, 20)
    assert burndown_window(date(2026, 9, 17))[1] == date(2026, 9, 3)


def test_the_labels_wait_before_disking_stops() -> None:
    """A wait before tillage on the user's own label is the only stop about the disk."""
    growing = {"disk_on": DAY + timedelta(days=6)}
    found = check_disking(case(planned(jug(BURN, till_wait="7 days")), forage="", growing=growing))
    assert [f.word for f in found if f.about == "disking"] == ["stop"]
    found = check_disking(case(planned(jug(BURN, till_wait="6 days")), forage="", growing=growing))
    assert not [f for f in found if f.word == "stop"]


@pytest.mark.parametrize(("ago", "cautioned"), [(0, True), (4, True), (5, False)])
def test_a_grass_spray_waits_after_a_broadleaf_spray(ago: int, cautioned: bool) -> None:
    """Five days after a broadleaf spray (North Dakota State Univ., quizalofop, 2000): a caution, no stop."""
    history = (sprayed(DAY - timedelta(days=ago), of=jug(BROAD), at="1 qt/ac"),)
    found = check_mixing(case(planned(label()), history=history))
    assert bool(found) is cautioned
    assert all(f.word == "caution" and "North Dakota" in f.source for f in found)


def test_both_in_one_tank_is_a_caution() -> None:
    """A grass-selective and a broadleaf spray together may kill less grass."""
    found = check_mixing(case(planned(label()), planned(jug(BROAD), at="1 qt/ac")))
    assert [f.word for f in found] == ["caution"]


def test_an_adjuvant_that_the_label_asks_for_is_asked_for() -> None:
    """Nobody here can see whether it is in the tank."""
    assert only(check_mixing(case(planned(label(adjuvant="crop oil 1 %")))), "adjuvant").word == "not checked"
