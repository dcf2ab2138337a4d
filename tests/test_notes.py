"""Remarks on what was read."""

import pytest

from gladebook.notes import KINDS, Note, left_out


@pytest.mark.parametrize("kind", KINDS)
def test_a_remark_is_a_sentence_that_begins_with_what_it_is_about(kind):
    """As text a remark names its file or plot first, and says so where it is a doubt."""
    said = str(Note(kind, "walk.gpx", "it goes round about 2 times."))
    assert said == f"walk.gpx: {'doubtful: ' if kind == 'doubtful' else ''}it goes round about 2 times."


@pytest.mark.parametrize(
    ("count", "names", "words"),
    [
        (2, [], "points (2); a plot is an area."),
        (1, ["Stand"], "points (1: Stand); a plot is an area."),
        (5, ["A", "B", "C", "D"], "points (5: A, B, C and 2 more); a plot is an area."),
    ],
)
def test_what_is_left_out_is_counted_and_the_first_three_are_named(count, names, words):
    """A remark on what was left out has its reason, its count and at most three names, as text and in its parts."""
    note = left_out("plots.kml", "points", count=count, names=names, because="a plot is an area")
    assert (note.kind, note.count, note.words, note.examples) == ("skipped", count, words, tuple(names[:3]))
    assert str(note) == f"plots.kml: left out {words}"
