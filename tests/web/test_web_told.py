"""Words for the page: what is about options and commands is left out, and nothing that matters with it."""

from typing import Any

import pytest

from gladebook.web.told import on_page
from tests.sample_property import FOLDER
from tests.web.conftest import Page, good
from tests.web.test_web_drive import answer_of

SAID = {
    "Covered twice gets 16 fl oz/ac. Compare that with the single maximum on your label (give it with --maximum).": (
        "Covered twice gets 16 fl oz/ac. Compare that with the single maximum on your label."
    ),
    "The boom is assumed level with the phone; say how far behind it is with --behind.": (
        "The boom is assumed level with the phone."
    ),
    "drive.gpx: points usually 1 s apart; over 5 s counts as a gap (five times the usual; set yours with --gap).": (
        "drive.gpx: points usually 1 s apart; over 5 s counts as a gap (five times the usual)."
    ),
    "Grass jug: you found that its label does not list this site and oat. Nothing is mixed. If that was a mistake: "
    'gladebook property listed home.gpkg "Grass jug" --crop "oat" --yes': (
        "Grass jug: you found that its label does not list this site and oat. Nothing is mixed."
    ),
    "North Glade: the boundary crosses itself near 31.2041, -83.4410 (corners 14 and 15). Retrace it there, or mend it "
    "with --repair (0.4 ac less).": (
        "North Glade: the boundary crosses itself near 31.2041, -83.4410 (corners 14 and 15). Retrace it there, or "
        'tick "Mend lines that cross" (0.4 ac less).'
    ),
    "A word--joined by two dashes, and 5 - 3.": "A word--joined by two dashes, and 5 - 3.",
    "gladebook property check": "gladebook property check",
}


@pytest.mark.parametrize(("text", "words"), SAID.items(), ids=[text[:30] for text in SAID])
def test_only_what_nobody_can_type_here_is_left_out(text: str, words: str):
    """Clauses, remarks in brackets and sentences about options go; all else stays, and never nothing."""
    assert on_page(text) == words


def test_a_whole_journey_speaks_of_no_option(page: Page):
    """Of the sample property, its file, its track and its mix, nothing that is told names an option or a command."""
    heard: list[Any] = [good(page.drop("file", FOLDER / "plots.geojson"))["words"]]
    heard += page.ask("property")["notices"]
    track = good(page.drop("tracks", FOLDER / "sprayed.csv"))
    told = answer_of(page, {"tracks": [track["token"]], "boom": "12 ft", "mixed": "90 gal", "per_acre": "15 gal/ac"})
    heard += [*told["headline"], *told["words"], *told["notices"], *told["assumptions"], told["entry"]]
    body = {"plots": ["Cedar Flat"], "per_acre": "15 gal/ac", "tank": "25 gal"}
    mixed = good(page.send("mix", {**body, "products": [{"name": "jug", "rate": "8 fl oz/ac"}]}))
    heard += [*mixed["words"], *mixed["stops"], *mixed["notices"]]
    assert any("Compare that with the single maximum on your label" in words for words in heard)
    assert any("assumed straight under the phone" in words for words in heard)
    assert [words for words in heard if "--" in words or "gladebook " in words] == []
