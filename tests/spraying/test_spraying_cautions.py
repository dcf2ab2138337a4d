"""The cautions that stand beside every amount of herbicide."""

import re

import pytest

from gladebook.spraying.cautions import CAUTIONS
from tests.spraying.amounts import job, product

# What must be named wherever an amount is computed: a subject, and what must be said about it.
SUBJECTS = {
    "the label is the law and wins": (r"label is the law", r"label wins"),
    "protective gear": (r"protective gear", r"mixing"),
    "drift": (r"drift", r"wind"),
    "water": (r"water", r"(pond|well|ditch)"),
    "re-entry": (r"re-entry", r"keep (people|pets)"),
    "licensed applicator": (r"licensed applicator", r"State"),
    "county extension agent": (r"county extension agent",),
}


@pytest.mark.parametrize("subject", list(SUBJECTS))
def test_every_subject_has_its_caution(subject: str) -> None:
    """Each of the seven subjects is named in one caution, with what there is to do about it."""
    patterns = SUBJECTS[subject]
    assert any(all(re.search(p, caution, re.IGNORECASE) for p in patterns) for caution in CAUTIONS)


def test_the_label_comes_first() -> None:
    """The first caution is that the label is the law and wins over these figures."""
    assert CAUTIONS[0].startswith("The label is the law.")
    assert "label wins" in CAUTIONS[0]


def test_cautions_are_whole_sentences_without_rates() -> None:
    """Cautions are sentences, each once, and invent no rate, time or distance of a label."""
    assert len(set(CAUTIONS)) == len(CAUTIONS) >= 7
    for caution in CAUTIONS:
        assert caution[0].isupper()
        assert caution.endswith(".")
        assert not re.search(r"\d", caution)


@pytest.mark.parametrize(
    "mix",
    [
        job(4.3),
        job(0.1, product("clethodim", "8 fl oz/ac")),
        job(4.3, product("clethodim", "32 fl oz/ac", "32 fl oz/ac"), product("crop oil", "1 %"), sump_gal=1.0),
        job([("North Glade", 3.0), ("Creek Bend", 8.0)], product("ammonium sulfate", "17 lb/100 gal")),
    ],
    ids=["water", "small", "at the maximum", "several plots"],
)
def test_cautions_come_with_every_mix(mix: object) -> None:
    """Every mix has all cautions, whatever goes into it and however small it is."""
    assert getattr(mix, "cautions", None) == CAUTIONS
