"""Forages, weeds and waits as people write them."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gladebook.errors import CallError
from gladebook.products.forage import FORAGES, forage_from, forages_from, same_crop
from gladebook.products.wait import Wait, wait_from
from gladebook.products.weed import WEEDS, weed_from


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("white clover, oat", ["white clover", "oat"]),
        ("Crimson + oats", ["crimson clover", "oat"]),
        ("clover and cereal", ["clover", "small grain"]),
        ("iron clay peas (vigna bean)", ["iron clay peas"]),
        ("Cowpeas; soybeans", ["cowpea", "soybean"]),
        ("oat, oats", ["oat"]),
    ],
)
def test_a_mix_is_read_as_people_write_it(text: str, names: list[str]) -> None:
    """Commas, semicolons, plus signs and the word and part a mix; each forage counts once."""
    assert [f.name for f in forages_from(text)] == names


def test_southern_pea_is_no_pea() -> None:
    """For labels a southern pea is a Vigna bean, not a pea: Univ. of Florida IFAS, EDIS HS188 (reprint read)."""
    assert forage_from("southern pea").family == "vigna bean"
    assert forage_from("pea").family == "pea"
    assert not same_crop((forage_from("pea"),), forage_from("cowpea"))


def test_a_family_word_covers_its_members_and_a_member_not_the_family() -> None:
    """A list that says clover covers white clover; one that says crimson clover does not cover white clover."""
    assert same_crop((FORAGES["clover"],), FORAGES["white clover"])
    assert not same_crop((FORAGES["crimson clover"],), FORAGES["white clover"])
    assert same_crop((FORAGES["small grain"],), FORAGES["oat"])


@pytest.mark.parametrize("text", ["", " , ", "kudzu", "sainfoin (weed)", "x" * 500])
def test_an_unknown_forage_is_asked_back(text: str) -> None:
    """What is not known is not guessed; the message says how to name its family."""
    with pytest.raises(CallError):
        forages_from(text)


def test_weeds_know_their_kind_and_life() -> None:
    """Annual ryegrass is a winter annual grass: Univ. of Georgia, Annual Ryegrass (reprint read)."""
    rye = weed_from("Ryegrass")
    assert (rye.name, rye.kind, rye.life, rye.annual) == ("annual ryegrass", "grass", "winter annual", True)
    own = weed_from("Carpetgrass (perennial grass)")
    assert (own.name, own.kind, own.annual) == ("carpetgrass", "grass", False)
    with pytest.raises(CallError, match="no weed that is known"):
        weed_from("weed")


@given(st.text(max_size=60))
def test_any_text_is_a_name_or_our_error(text: str) -> None:
    """Whatever is typed, a forage or weed comes back, or a sentence."""
    for read in (forages_from, weed_from):
        try:
            read(text)
        except CallError as error:
            assert str(error).startswith("--")  # noqa: PT017 - both outcomes are right


def test_every_name_is_found_by_itself() -> None:
    """Each forage and each weed is called by its own name."""
    assert all(forage_from(name).name == name for name in FORAGES)
    assert all(weed_from(name).name == name for name in WEEDS)


@pytest.mark.parametrize(
    ("text", "since", "end"),
    [
        ("30 days", date(2026, 11, 20), date(2026, 12, 20)),
        ("2 weeks", date(2026, 2, 20), date(2026, 3, 6)),
        ("9 months", date(2026, 5, 31), date(2027, 2, 28)),
        ("1 month", date(2026, 1, 31), date(2026, 2, 28)),
        ("4.5 months", date(2026, 1, 1), date(2026, 5, 16)),
        ("18 mo", date(2026, 3, 1), date(2027, 9, 1)),
        ("0 days", date(2026, 3, 1), date(2026, 3, 1)),
    ],
)
def test_a_wait_ends_by_the_calendar(text: str, since: date, end: date) -> None:
    """Days are counted, months go by the calendar: nine months after 31 May is the end of February."""
    assert wait_from(text, what="wait").after(since) == end


@pytest.mark.parametrize("text", ["30", "a while", "-3 days", "3 h", "1e9 days", ""])
def test_a_wait_without_its_unit_is_asked_back(text: str) -> None:
    """A number alone may be days or months."""
    with pytest.raises(CallError, match='write it like "30 days"'):
        wait_from(text, what="wait")


def test_a_wait_reads_as_it_is_written() -> None:
    """One day is no days."""
    assert [str(w) for w in (Wait(1, "days"), Wait(9, "months"), Wait(4.5, "months"))] == [
        "1 day",
        "9 months",
        "4.5 months",
    ]
