"""Choosing: what fits, what would hurt, what is not known, and what may rank."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gladebook.errors import CallError
from gladebook.products.forage import FORAGES, forages_from
from gladebook.products.ingredient import REGIONS, Cell, Source
from gladebook.products.table import all as table
from gladebook.products.weed import WEEDS, weed_from
from gladebook.season.choose import NOT_LEGAL, Choice, Option, Question, choose
from gladebook.season.evidence import season_words
from tests.season.cases import label

IN_M = 0.0254


def ask(forage: str = "white clover", weed: str = "annual ryegrass", **more: Any) -> Choice:
    more = {"region": "south-east", "weed_height_m": 4 * IN_M, "day": date(2026, 11, 20), **more}
    return choose(Question(weed=weed_from(weed), forages=forages_from(forage) if forage else (), **more))


def option(choice: Choice, name: str) -> Option:
    return next(o for o in choice.options if o.name == name)


def test_grass_in_clover_is_for_the_grass_killer_that_has_a_southern_source() -> None:
    """Clethodim spares clovers and kills grasses by a south-eastern source (Mississippi); it alone fits."""
    choice = ask()
    assert [o.name for o in choice.options if o.verdict == "fits"] == ["clethodim"]
    assert choice.options[0].rank == 1
    assert NOT_LEGAL in choice.notices


def test_a_grass_killer_takes_the_cereal_out_of_a_mix() -> None:
    """In clover and oat it would hurt the stand, and the reason names the oat, not the clover."""
    found = option(ask("white clover, oat"), "clethodim")
    assert found.verdict == "would hurt the stand"
    told = [e.reason for e in found.reasons if e.word == "no"]
    assert any("oat" in reason for reason in told)
    assert not any("white clover" in reason for reason in told)
    assert any("takes the oat too, and leaves the white clover" in n for n in ask("white clover, oat").notices)


@pytest.mark.parametrize("forage", ["oat", "wheat", "rye", "annual ryegrass", "corn", "millet", "grain sorghum"])
def test_no_grass_is_said_to_bear_a_grass_killer(forage: str) -> None:
    """Clethodim and sethoxydim kill grasses, so every grass that was sown goes too."""
    for name in ("clethodim", "sethoxydim"):
        assert option(ask(forage), name).verdict == "would hurt the stand"


def test_a_growth_regulator_hurts_legumes() -> None:
    """2,4-D is not for legumes (Mississippi): it would hurt clover, alfalfa, cowpea and soybean."""
    for forage in ("white clover", "alfalfa", "cowpea", "soybean"):
        assert option(ask(forage, "ragweed"), "2,4-D").verdict == "would hurt the stand"


def test_a_warning_counts_from_any_region() -> None:
    """Texas found crimson clover hurt by 2,4-DB where Mississippi lists clovers: in the South-east they differ."""
    assert option(ask("crimson clover", "ragweed"), "2,4-DB").verdict == "sources differ"
    assert option(ask("white clover", "ragweed"), "2,4-DB").verdict == "fits"


def test_a_north_western_figure_is_no_southern_recommendation() -> None:
    """Bentazon on white clover stands in the north-western handbook alone: it fits there, and is not known here."""
    assert option(ask("white clover", "nutsedge", region="north-west"), "bentazon").verdict == "fits"
    assert option(ask("white clover", "nutsedge"), "bentazon").verdict == "not known"
    assert option(ask("white clover", "nutsedge", region=None), "bentazon").verdict == "not known"


@given(
    forage=st.sampled_from(sorted(FORAGES)),
    weed=st.sampled_from(sorted(WEEDS)),
    region=st.sampled_from([*REGIONS, None]),
    tall=st.sampled_from([None, 0.0, 0.1, 0.5]),
)
def test_nothing_fits_without_a_source_that_counts(forage: str, weed: str, region: Any, tall: float | None) -> None:
    """Whatever is asked: what fits has only reasons with a source, each of the region asked for or of no region."""
    for found in ask(forage, weed, region=region, weed_height_m=tall).options:
        if found.verdict == "fits":
            for evidence in found.reasons:
                assert evidence.source
                assert evidence.region in ("anywhere", region)
        assert (found.rank > 0) is (found.verdict == "fits")


def test_ranks_go_only_by_sources(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two ingredients with the same kind of source are level; a word of one source less puts one behind."""
    here = Source("Some southern publication", "south-east")
    sethoxydim, clethodim = table.INGREDIENTS["sethoxydim"], table.INGREDIENTS["clethodim"]
    clover = replace(clethodim.forages[0], source=here)
    level = replace(sethoxydim, forages=(clover,))
    monkeypatch.setitem(table.INGREDIENTS, "sethoxydim", level)
    choice = ask()
    assert [option(choice, n).rank for n in ("clethodim", "sethoxydim")] == [1, 1]
    assert any("tells these apart" in n for n in choice.notices)
    weaker = replace(level, kills={**level.kills, "grass": Cell("some", here)})
    monkeypatch.setitem(table.INGREDIENTS, "sethoxydim", weaker)
    choice = ask()
    assert [option(choice, n).rank for n in ("clethodim", "sethoxydim")] == [1, 2]


def test_the_label_wins_over_the_county_and_both_over_the_table() -> None:
    """The same product: hurt by the county's list, spared by the user's label."""
    own = label(crops="white clover", kills="grass")
    county = label(whose="county list", injured="white clover")
    assert option(ask(labels=(own, county)), "Grass spray").verdict == "fits"
    assert option(ask(labels=(county,)), "Grass spray").verdict == "would hurt the stand"
    against = label(injured="white clover")
    listed = label(whose="county list", tolerated="white clover")
    assert option(ask(labels=(against, listed)), "Grass spray").verdict == "would hurt the stand"


def test_a_label_ranks_before_a_publication() -> None:
    """The user's own label is the best source there is."""
    own = label(product="Mine", ingredient="sethoxydim", crops="white clover", kills="grass")
    choice = ask(labels=(own,))
    assert [(o.name, o.rank) for o in choice.options if o.rank] == [("Mine", 1), ("clethodim", 2)]


@pytest.mark.parametrize(("tall", "verdict"), [(6.0, "fits"), (6.1, "too tall"), (0.0, "fits")])
def test_only_the_users_limit_of_height_counts(tall: float, verdict: str) -> None:
    """A label for grass up to 6 in refuses more; a printed limit of another region refuses nothing."""
    own = label(crops="white clover", weed_height_most="6 in")
    assert option(ask(labels=(own,), weed_height_m=tall * IN_M), "Grass spray").verdict == verdict


def test_a_pre_emerge_does_not_kill_what_is_up() -> None:
    """Pendimethalin does not kill weeds that are up (north-western handbook, of the chemical itself)."""
    assert option(ask("corn", "foxtail", weed_height_m=0.1), "pendimethalin").verdict == "does not kill it"
    assert option(ask("corn", "foxtail", weed_height_m=0.0), "pendimethalin").verdict != "does not kill it"


def test_how_tall_decides_whether_a_pre_emerge_is_known() -> None:
    """Where nobody says whether the weed is up, what goes on before is not known, with what to say."""
    found = option(ask("corn", "foxtail", weed_height_m=None), "pendimethalin")
    assert found.verdict == "not known"
    assert any("--weed-height" in e.reason for e in found.reasons)


def test_a_perennial_needs_a_source_of_its_own() -> None:
    """Killing grasses says nothing of perennial ones: clethodim has a source on them, sethoxydim has none."""
    choice = ask("", "bermudagrass")
    assert option(choice, "clethodim").verdict == "fits"
    assert option(choice, "glyphosate").verdict == "fits"
    found = option(choice, "sethoxydim")
    assert found.verdict == "not known"
    assert any("perennial" in e.reason for e in found.reasons)


def test_a_burndown_is_for_bare_ground() -> None:
    """Glyphosate kills whatever is green: it fits bare ground, and would hurt every stand."""
    assert option(ask(""), "glyphosate").verdict == "fits"
    for forage in ("white clover", "oat", "chicory", "lablab"):
        assert option(ask(forage), "glyphosate").verdict == "would hurt the stand"


def test_sources_that_differ_on_a_weed_are_told() -> None:
    """On pigweed two publications say the opposite of 2,4-DB."""
    found = option(ask("white clover", "pigweed"), "2,4-DB")
    assert found.verdict == "sources differ"
    assert any("sources differ on pigweed" in e.reason for e in found.reasons)


def test_what_is_empty_is_told_as_unknown() -> None:
    """Of triclopyr nothing was read: its word is not known, and what to look up is listed."""
    found = option(ask(weed="blackberry"), "triclopyr")
    assert found.verdict == "not known"
    assert {"rate", "re-entry", "most for a season"} <= set(found.unknown)


def test_without_a_region_that_is_said() -> None:
    """No region: nothing regional counts, and the answer asks for it."""
    choice = ask(region=None)
    assert not [o for o in choice.options if o.verdict == "fits"]
    assert any("--region" in n for n in choice.notices)


@pytest.mark.parametrize("tall", [-0.1, 7.0])
def test_a_height_that_cannot_be_is_refused(tall: float) -> None:
    """Below the ground or above 20 ft."""
    with pytest.raises(CallError, match="20 ft"):
        ask(weed_height_m=tall)


def test_the_season_of_a_weed() -> None:
    """A winter annual heads in spring, a summer annual comes up then; a perennial has no such sentence."""
    assert "heads" in season_words(WEEDS["annual ryegrass"], month=4)
    assert "comes up" in season_words(WEEDS["crabgrass"], month=4)
    assert season_words(WEEDS["johnsongrass"], month=4) == ""
    assert all("no source" in season_words(WEEDS["annual ryegrass"], month=m) for m in range(1, 13))
