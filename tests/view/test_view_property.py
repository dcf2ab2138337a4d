"""A property in words: what stands first, what is cut short, and what another program left behind."""

from dataclasses import replace
from typing import Any

import pytest
import shapely

from gladebook.records.kept import Kept, KeptApplication, KeptMark, KeptStrip, Step
from gladebook.units import ACRE_M2
from gladebook.view.property import Edit, Holding, ShownPlot, holding_document, holding_words, sprayer_words
from gladebook.view.thing import ShownBoundary, ShownHistory, ShownThing, thing_document, thing_words

SQUARE = shapely.box(0, 0, 1, 1)
PLOTS = (ShownPlot("Ridge", "2026-03-01", 1.5 * ACRE_M2), ShownPlot("Creek", "", 0.25 * ACRE_M2))
ANSWER = {
    "plots": [{"name": "Ridge", "plot_acres": 1.5, "treated_acres": 1.4, "missed_acres": 0.1}],
    "treated_acres": 1.4,
    "missed_acres": 0.1,
}
SPRAYED = KeptApplication("a", "Fall spray", "2026-09-28", ANSWER)


def strip(number: int, state: Any, **verdict: Any) -> KeptStrip:
    return KeptStrip(f"s{number}", "a", "Ridge", number, state, 300.0, SQUARE, {"verdict": "go look", **verdict})


STRIPS = (
    strip(1, "touched up", where="between your 2nd and 3rd pass", length_m=60.96, width_m=3.6576),
    strip(2, "go look"),
    strip(3, "go look"),
)
STEPS = (Step(1, "2026-03-01T12:00:00.000Z", "Added 2 plots (Ridge, Creek).", undone=False),)
FULL = Holding(
    file="home.gpkg",
    name="Fernhollow",
    plots=PLOTS,
    total_m2=1.75 * ACRE_M2,
    applications=(SPRAYED,),
    strips=STRIPS,
    marks=(KeptMark("m", "Pond", "obstacle", SQUARE),),
    sprayers=(Kept("k", "Four-wheeler", "", {"width_m": 3.6576, "behind_m": -1.2192, "one_sided": "left"}),),
    mixes=(Kept("x", "Fall mix", "2026-09-27", {"words": ["4.30 ac takes 64.5 gal"], "cautions": ["The label"]}),),
    edits=(Edit("2026-10-02T09:15", "plots", "changed", 2), Edit("2026-10-02T09:15", "mixes", "removed", 1)),
    steps=STEPS,
)


def test_counts_stand_first_then_the_plots():
    """The first sentence counts what is there; the plots with acres and the day of their boundary follow."""
    words = holding_words(FULL)
    assert words[0] == (
        "Fernhollow (home.gpkg): 2 plots, 1.75 ac to plant or spray; 1 application; 1 obstacle; 1 sprayer."
    )
    assert [line.split() for line in words[2].splitlines()] == [
        ["Plot", "Acres", "Boundary", "since"],
        ["Ridge", "1.50", "2026-03-01"],
        ["Creek", "0.25", "not", "said"],
    ]


def test_an_application_is_one_line_with_its_strips_by_state():
    """Day, name, what was treated and missed, and how many strips are in which state, most first."""
    line = "  2026-09-28  Fall spray: treated 1.40 of 1.50 ac, missed 0.10 ac; strips: 2 go look, 1 touched up."
    assert line in holding_words(FULL)


def test_what_other_programs_did_and_what_undo_would_do_are_told_apart():
    """Edits of other programs are listed as such; undo names the latest change that was not taken back."""
    words = holding_words(FULL)
    at = words.index("Changed by other programs (undo leaves it alone):")
    assert words[at + 1 : at + 3] == [
        "  2026-10-02 09:15 UTC: 2 plots changed.",
        "  2026-10-02 09:15 UTC: 1 mix removed.",
    ]
    assert words[-1] == "Undo would take back: Added 2 plots (Ridge, Creek)."
    taken = replace(FULL, steps=(replace(STEPS[0], undone=True),))
    assert holding_words(taken)[-2:] == [
        "  2026-03-01 12:00 UTC: Added 2 plots (Ridge, Creek). Taken back.",
        "Nothing is left to undo.",
    ]


def test_an_empty_property_says_what_to_do_first():
    """Nothing kept yet: one sentence, and the command that adds plots."""
    assert holding_words(Holding("home.gpkg", "Home", (), 0.0)) == [
        "Home (home.gpkg): no plots yet.",
        "Add plots with: gladebook property add home.gpkg plots.geojson",
    ]


def test_long_lists_are_cut_short_on_the_screen_and_whole_in_json():
    """Sixty plots and twenty applications are shown; JSON has all."""
    many = replace(
        FULL,
        plots=tuple(ShownPlot(f"P{n}", "2026-03-01", ACRE_M2) for n in range(70)),
        applications=tuple(replace(SPRAYED, uid=str(n), name=f"A{n}") for n in range(25)),
    )
    words = holding_words(many)
    assert "And 10 more plots; --json lists all." in words
    assert "  5 older ones; --json lists all." in words
    document = holding_document(many)
    assert (len(document["plots"]), len(document["applications"])) == (70, 25)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ({"width_m": 3.6576}, "boom 12 ft wide"),
        ({"behind_m": 1.8288}, "6 ft behind the phone"),
        ({"behind_m": -1.2192}, "4 ft ahead of the phone"),
        ({"right_m": -0.3048}, "its middle 1 ft to the left"),
        ({"sections_m": [1.0, 1.0]}, "2 sections"),
        ({"on_delay_s": 0.5, "off_delay_s": -1.0}, "starts 0.5 s after the switch, ends -1 s after the switch"),
        ({}, "nothing said about it"),
        ({"width_m": "wide"}, "another program may have changed it"),
    ],
)
def test_a_sprayer_is_said_in_feet(content: dict[str, Any], words: str):
    """What is kept of a sprayer in metres is said in feet; what is none does not stop the list."""
    assert words in sprayer_words(Kept("k", "Rig", "", content))


def test_an_answer_that_cannot_be_read_does_not_stop_the_list():
    """Where another program has changed an answer, the application is still listed, and it is said."""
    broken = replace(FULL, applications=(replace(SPRAYED, answer={"plots": None}),))
    assert any("Fall spray: its answer cannot be read" in line for line in holding_words(broken))


def test_a_plot_in_full_has_its_boundaries_latest_first():
    """The boundary of today, those of before with their days, and the applications by name."""
    history = ShownHistory(
        "Ridge",
        (ShownBoundary(ACRE_M2, "2025-01-01", "2026-03-01"), ShownBoundary(1.5 * ACRE_M2, "2026-03-01", None)),
        ("Fall spray",),
    )
    shown = ShownThing("plot", history)
    assert thing_words(shown, file="home.gpkg") == [
        "Ridge: 1.50 ac as drawn, since 2026-03-01.",
        "Before: 1.00 ac, from 2025-01-01 until 2026-03-01.",
        "Applications: Fall spray.",
    ]
    assert thing_document(shown)["boundaries"][0] == {"acres": 1.0, "since": "2025-01-01", "until": "2026-03-01"}


def test_an_application_in_full_lists_each_strip_with_what_became_of_it():
    """A strip says where it lies, its size, its state, and how it was judged where that is another."""
    words = thing_words(ShownThing("application", SPRAYED, strips=STRIPS), file="home.gpkg")
    assert (
        "  1. Ridge: between your 2nd and 3rd pass; 0.074 ac, 200 ft long, 12 ft wide; touched up (judged: go look)"
        in words
    )
    assert "  2. Ridge: 0.074 ac; go look" in words
    assert words[-1] == (
        'Say what became of one with: gladebook property mark home.gpkg 1 --as seen --application "Fall spray"'
    )
    document = thing_document(ShownThing("application", SPRAYED, strips=STRIPS))
    assert document["answer"] == ANSWER
    assert [s["state"] for s in document["strips"]] == ["touched up", "go look", "go look"]


def test_a_mix_in_full_is_as_it_was_answered():
    """The words of a kept mix come back after its day and name; JSON has its cautions."""
    shown = ShownThing("mix", FULL.mixes[0])
    assert thing_words(shown, file="home.gpkg") == ["2026-09-27  Fall mix:", "4.30 ac takes 64.5 gal"]
    assert thing_document(shown)["content"]["cautions"] == ["The label"]


def test_json_names_are_stable():
    """`property show --json` has exactly these names."""
    assert list(holding_document(FULL)) == [
        "file", "name", "plots", "total_acres", "applications", "marks", "sprayers", "mixes", "products", "records",
        "other_programs", "changes", "undo_would_take_back", "notices",
    ]  # fmt: skip
    assert list(holding_document(FULL)["plots"][0]) == ["name", "acres", "since"]
