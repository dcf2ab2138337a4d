"""The page as text: one file, its licence inside, and a look that does not hang on colour."""

import re

import pytest

from gladebook.coverage.compute import cover_plots
from gladebook.geometry.frame import Frame
from gladebook.passes.sprayer import Sprayer
from gladebook.plots.acreage import measure_plots
from gladebook.testing import Leg, drive, plot_on, rectangle, track_on
from gladebook.view.page import map_page
from gladebook.view.palette import LOOKS
from gladebook.view.words import TREATED_MEANS

# Okabe and Ito, Color Universal Design (2008), as package documentation of the palette lists them.
OKABE_ITO = {"#000000", "#E69F00", "#56B4E9", "#009E73", "#F0E442", "#0072B2", "#D55E00", "#CC79A7", "#999999"}


@pytest.fixture(scope="module")
def page() -> str:
    plot = plot_on("North Glade", rectangle(50, 80), frame=Frame(-86.0, 32.0))
    return map_page(measure_plots([plot]), title="Plots & woods")


def test_the_page_names_no_file_or_address_that_a_browser_would_fetch(page: str):
    """No src, link or style sheet image points outside the file."""
    assert re.findall(r"<(?:script|img|iframe|link)[^>]+(?:src|href)=[\"'](?!data:)", page) == []
    assert re.findall(r"url\((?!#|data:)[^)]*\)", re.sub(r"<script>.*?</script>", "", page, flags=re.DOTALL)) == []


def test_the_licence_of_the_map_library_is_inside(page: str):
    """The licence of the library that is pasted in stands in the page with its conditions."""
    assert "Redistribution and use in source and binary forms" in page
    assert "BSD 2-Clause" in page


def test_a_policy_forbids_every_script_but_those_inside(page: str):
    """The content policy allows scripts by their hash alone, and no address but the photo's."""
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', page)
    assert policy is not None
    assert "default-src 'none'" in policy[1]
    assert "unsafe" not in policy[1]
    assert policy[1].count("sha256-") == page.count("<script>") + page.count("<style>") == 6


def test_kinds_of_ground_differ_by_pattern_and_word_not_only_by_colour():
    """No two kinds share a pattern or a word; every ground colour is of the published scheme."""
    assert len({look.pattern for look in LOOKS}) == len(LOOKS)
    assert len({look.word for look in LOOKS}) == len(LOOKS)
    assert {look.colour for look in LOOKS if "line" not in look.pattern} <= OKABE_ITO


def test_treated_on_the_page_is_said_with_what_cannot_be_seen():
    """The page's words, key and pop-up say what treated means; a page of plots alone does not speak of it."""
    plot = plot_on("North Glade", rectangle(20, 50), frame=Frame(-86.0, 32.0))
    track = track_on(drive((10, 0), [Leg(10, 50, boom_on=True)]), frame=Frame(-86.0, 32.0))
    measured = measure_plots([plot])
    coverage = cover_plots(measured.plots, [track], sprayer=Sprayer(width_m=4.0))
    drawn = map_page(measured, title="x", coverage=coverage)
    assert drawn.count(TREATED_MEANS) == 3
    assert TREATED_MEANS not in map_page(measured, title="x")


def test_a_title_is_text(page: str):
    """What stands at the top is escaped in the heading and in the window's title."""
    assert "<title>Plots &amp; woods</title>" in page
    assert "<h1>Plots &amp; woods</h1>" in page
