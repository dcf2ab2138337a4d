"""The whole check: its headline, its stops, its amounts, entry, and the winter grass."""

import math
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gladebook.errors import CallError
from gladebook.products.forage import forages_from
from gladebook.products.weed import WEEDS
from gladebook.records.sprayed import InTank
from gladebook.season.case import Case
from gladebook.season.entry import entry_after
from gladebook.season.today import Today, check_today
from gladebook.season.winter_grass import look_again, winter_grass
from gladebook.units import ACRE_M2, MPH_MPS
from gladebook.weather.reading import Reading
from tests.season.cases import BROAD, DAY, case, label, planned, sprayed

FULL = {
    "crops": "white clover", "single_max": "16 fl oz/ac", "season_max": "0.5 lb ai/ac", "stand": "any",
    "rainfast": "1 h", "reentry": "24 h", "weed_height_most": "6 in", "temperature_least": "45 F",
    "plant_back": "other=30 days",
    "interval": "14 days", "wind_most": "10 mph", "till_wait": "0 days",
}  # fmt: skip
CALM = Reading(
    measured=True, wind_mps=6 * MPH_MPS, blowing_to="woods", temperature_c=16.0, humidity=0.5, rain_in_s=math.inf
)
SUN: dict[str, Any] = {
    "sunrise": datetime(2026, 11, 20, 6, 22, tzinfo=UTC),
    "sunset": datetime(2026, 11, 20, 16, 43, tzinfo=UTC),
    "clock": time(11),
}


def good(**more: Any) -> Case:
    """A case in which nothing conflicts, on invented label values."""
    more = {
        "weather": CALM, "tank_new": True, "area_m2": 0.8 * ACRE_M2,
        "growing": {"next_crop": forages_from("cowpea"), "plant_on": date(2027, 5, 10)}, **SUN, **more,
    }  # fmt: skip
    return case(more.pop("product", planned(label(**FULL))), **more)


def words(found: Today) -> set[str]:
    return {f.about for f in found.stops}


def test_where_nothing_conflicts_the_unchecked_stands_first_and_nothing_is_called_safe() -> None:
    """The headline says what was not checked; no word of safe, allowed or all clear."""
    found = check_today(good())
    assert found.stops == ()
    assert found.headline.startswith("Nothing you entered")
    assert "NOT checked: stage of the stand" in found.headline
    for word in ("safe", "allowed", "all clear", "go ahead", "OK"):
        assert word not in found.headline


STOPS = [
    ("site on the label", {"product": planned(label(**FULL), listed=False)}),
    ("forage", {"product": planned(label(**{**FULL, "crops": "", "injured": "white clover"}))}),
    ("weed height", {"weed_height_m": 7 * 0.0254}),
    ("single maximum", {"product": planned(label(**FULL), at="17 fl oz/ac")}),
    ("season maximum", {"history": tuple(sprayed(DAY - timedelta(days=30 * n), of=label(**FULL)) for n in range(1,
    5))}), ("interval", {"history": (sprayed(DAY - timedelta(days=13), of=label(**FULL)),)}),
    ("last in the tank", {"tank_new": False, "tank": InTank("Broad spray", label(**BROAD))}),
    ("plant-back", {"growing": {"next_crop": forages_from("cowpea"), "plant_on": DAY + timedelta(days=29)}}),
    ("rain", {"weather": replace(CALM, rain_in_s=1800.0)}),
    ("wind", {"weather": replace(CALM, wind_mps=11 * MPH_MPS)}),
    ("temperature", {"weather": replace(CALM, temperature_c=5.0)}),
]  # fmt: skip


@pytest.mark.parametrize(("about", "change"), STOPS)
def test_what_the_label_or_the_user_forbids_stops(about: str, change: dict[str, Any]) -> None:
    """Each single conflict stops, alone, and no amount is shown."""
    found = check_today(good(**change))
    assert words(found) == {about}
    assert found.headline.startswith(f"Do not spray: {about}. NOT checked:")
    assert found.amounts == ()
    assert found.why_none


def test_amounts_come_only_after_the_label_was_read() -> None:
    """8 fl oz/ac on 0.8 ac is 6.4 fl oz; without the answer, no amount."""
    found = check_today(good())
    assert [(a.name, round(a.amount, 6), a.unit) for a in found.amounts] == [("Grass spray", 6.4, "fl oz")]
    asked = check_today(good(product=planned(label(**FULL), listed=None)))
    assert asked.amounts == ()
    assert "lists this site and crop" in asked.why_none
    assert any(f.about == "site on the label" for f in asked.not_checked)


@given(
    jug=st.fixed_dictionaries(
        {}, optional={k: st.just(v) for k, v in {**FULL, "injured": "oat", "whose": "county list"}.items()}
    ),
    at=st.sampled_from([None, "1 fl oz/ac", "30 fl oz/ac", "1 %", "0.2 lb ai/ac"]),
    forage=st.sampled_from(["", "white clover", "white clover, oat", "oat"]),
    listed=st.sampled_from([None, True, False]),
    wind_and_height=st.tuples(st.sampled_from([None, 0.0, 3.0, 12.0]), st.sampled_from([None, 0.0, 0.1, 1.0])),
    ago=st.sampled_from([None, 0, 10, 400]),
)
def test_only_the_label_and_the_users_entry_stop(
    jug: dict[str, str], at: str | None, forage: str, listed: bool | None, wind_and_height: tuple[float | None, float |
    None], ago: int | None
) -> None:  # fmt: skip
    """Whatever is known or not: every stop names the user's label or entry, every finding a reason."""
    wind, tall = wind_and_height
    own = label(**jug)
    history = () if ago is None else (sprayed(DAY - timedelta(days=ago), of=own, at=at),)
    county = own if own.whose == "county list" else None
    what = planned(None if county else own, at=at, listed=listed, county=county)
    weather = Reading(wind_mps=wind, measured=True)
    found = check_today(case(what, forage=forage, weather=weather, weed_height_m=tall, history=history))
    assert all(f.source in ("your label", "your entry") for f in found.stops)
    assert all(f.reason for f in (*found.stops, *found.cautions, *found.not_checked, *found.fine))
    assert "NOT checked" in found.headline
    if found.amounts:
        assert listed is True
        assert not found.stops


def test_a_bare_case_is_all_unchecked_and_never_fine() -> None:
    """A product without a label and no weather: nothing is fine, and nothing stops."""
    found = check_today(Case(day=DAY, planned=(planned(None, at=None, listed=None),)))
    assert found.stops == ()
    assert found.fine == ()
    assert {"wind", "site on the label", "weed", "plant-back", "last in the tank", "temperature"} <= {
        f.about for f in found.not_checked
    }
    with pytest.raises(CallError, match="--product"):
        check_today(Case(day=DAY))


# Worked by hand on re-entry times of the Univ. of California alfalfa table: 2,4-DB 48 h, glyphosate 4 h
def test_reentry_is_the_longest_and_runs_by_the_clock() -> None:
    """Ended 2026-05-04 16:30 with 48 h: not before 2026-05-06 16:30. Of two products the longest counts."""
    long, short = label(**{**BROAD, "reentry": "48 h"}), label(reentry="4 h")
    found = entry_after(case(planned(long), planned(short), day=date(2026, 5, 4), clock=time(16, 30)))
    assert found.not_before == datetime.fromisoformat("2026-05-06T16:30")
    assert found.wait_s == 48 * 3600


@pytest.mark.parametrize(
    ("clock", "hunt", "over"),
    [
        (time(16, 30), date(2026, 11, 22), False),  # over at 16:30 that day
        (time(16, 30), date(2026, 11, 23), True),
        (None, date(2026, 11, 22), False),  # may end at midnight, so until midnight of the 22nd
        (None, date(2026, 11, 23), True),
    ],
)
def test_a_hunt_waits_for_the_re_entry_time(clock: time | None, hunt: date, over: bool) -> None:
    """A day of a hunt counts as free only where the wait is over before it begins."""
    found = entry_after(case(planned(label(reentry="48 h")), clock=clock, growing={"hunts": (hunt,)}))
    assert found.hunts == ((hunt, over),)
    assert any(("NOT over" in w) is not over for w in found.words if w.startswith("Hunt"))


def test_an_unknown_re_entry_time_leaves_the_hunt_unknown_but_a_known_one_still_binds() -> None:
    """With one product's time missing a hunt is at best not known, and still not free where the other is not over."""
    two = (planned(label(reentry="48 h")), planned(label(product="Other"), at=None))
    hunts = (date(2026, 11, 21), date(2026, 12, 21))
    found = entry_after(case(*two, growing={"hunts": hunts}))
    assert [over for _, over in found.hunts] == [False, None]
    assert found.missing == ("Other",)
    assert found.not_before is None


def test_an_earlier_spray_still_keeps_people_out() -> None:
    """Sprayed yesterday until 16:30 with 48 h: nobody goes in, and no hunt counts as free, before tomorrow 16:30."""
    jug = label(reentry="48 h")
    yesterday = replace(sprayed(date(2026, 11, 19), of=jug), ended=datetime.fromisoformat("2026-11-19T16:30"))
    hunts = (date(2026, 11, 21), date(2026, 11, 22))
    found = entry_after(
        case(planned(label(reentry="1 h")), clock=time(9), history=(yesterday,), growing={"hunts": hunts})
    )
    assert any("before 2026-11-21 16:30" in w for w in found.words)
    assert [over for _, over in found.hunts] == [False, True]
    old = replace(yesterday, day=date(2026, 11, 10), ended=None)
    assert not any("sprayed before" in w for w in entry_after(case(planned(jug), history=(old,))).words)


def test_the_winter_grass_has_its_window_and_its_second_look() -> None:
    """In November ryegrass of 4 in is small for a label of 6 in; look again 14 to 21 days on; it may reseed."""
    found = winter_grass(good())
    assert found is not None
    assert found.small is True
    assert (found.look_from, found.look_until) == (date(2026, 12, 4), date(2026, 12, 11))
    assert found.window == (date(2026, 10, 1), date(2027, 2, 28))
    assert any("seeds itself" in w for w in found.words)
    late = winter_grass(good(day=date(2027, 4, 10), weed_height_m=0.5))
    assert late is not None
    assert late.small is False
    assert late.window[0] == date(2026, 10, 1)
    assert any("heads in spring" in w for w in late.words)


def test_cold_slows_it_and_that_is_said() -> None:
    """At 8 C the spray works slowly; without a temperature a mild spell is advised."""
    cold = winter_grass(good(weather=replace(CALM, temperature_c=8.0)))
    assert cold is not None
    assert any("works slowly" in w for w in cold.words)
    silent = winter_grass(good(weather=None))
    assert silent is not None
    assert any("Cold slows" in w for w in silent.words)


@pytest.mark.parametrize(
    "change", [{"weed": WEEDS["crabgrass"]}, {"weed": WEEDS["henbit"]}, {"weed": None}, {"forage": "oat"}]
)
def test_only_a_winter_grass_in_a_legume_has_a_window(change: dict[str, Any]) -> None:
    """Summer grass, broadleaf weeds, and stands without a legume are no such case."""
    assert winter_grass(good(**change)) is None


@pytest.mark.parametrize(
    ("days", "alive", "suspect"),
    [(13, True, False), (14, True, True), (21, True, True), (14, False, False), (30, None, False)],
)
def test_resistance_is_suspected_and_never_sprayed_harder(days: int, alive: bool | None, suspect: bool) -> None:
    """Alive after 14 days: suspected, looked into, another group; the rate is never raised."""
    again = look_again(DAY, day=DAY + timedelta(days=days), alive=alive)
    assert again.suspect is suspect
    told = " ".join(again.words)
    if suspect:
        assert "do not raise the rate" in told
        assert "another mode-of-action group" in told
        assert "extension" in told
    assert "more product" not in told
