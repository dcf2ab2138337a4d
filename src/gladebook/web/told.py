"""Errors and notices as text for the page, in one place."""

import re
from typing import Final

from gladebook.errors import GladebookError

__all__ = ["BROKEN", "on_page", "told"]

BROKEN: Final = "Something went wrong in the program; nothing was written. Load the page anew, and do it again."
# The same sentences serve the terminal, whose options and commands nobody can type here.
_OPTIONS: Final = {
    "--save:": "The name:",
    " for --save": "",
    'like --boom "12 ft"': "in feet",
    "--sump:": "Stays in the sump:",
    "--forage:": "What grows there:",
    "--crop:": "The crop:",
    "instead of --boom": "instead of the width that you gave",
    "like --crs ": 'under "Coordinate system", like ',
    "--crs:": "Coordinate system:",
    "as --crs says": "as you said",
    "--crs was not": "the coordinate system that you gave was not",
    "mend it with --repair": 'tick "Mend lines that cross"',
    "join them with --repair": 'tick "Mend lines that cross"',
    "Say --replace to": 'Tick "Draw those of the same name anew" to',
    ", or another name for yours with --name.": ".",
    "with --name-field": 'under "Field with the names"',
    "Choose with --layer": 'Choose it under "Layer"',
    "--layer:": "Layer:",
}
_SENTENCE: Final = re.compile(r"(?<=[.!?])\s+")
_ASIDE: Final = re.compile(r"\s*\(([^()]*)\)")
_COMMAND: Final = re.compile(r"\bgladebook (property|mix|coverage|look|map)\b|(?<!\w)--[a-z]")


def told(error: GladebookError) -> str:
    """An error in words that fit the page."""
    return on_page(str(error))


def on_page(text: str) -> str:
    """What is said without its parts that are about options and commands; all of it where nothing else is left."""
    for option, words in _OPTIONS.items():
        text = text.replace(option, words)
    text = _ASIDE.sub(_aside, text)
    kept = [clauses for sentence in _SENTENCE.split(text) if (clauses := _without(sentence))]
    return " ".join(kept) or text


def _aside(found: re.Match[str]) -> str:
    """A remark in brackets, without what is about options."""
    if not _COMMAND.search(found[0]):
        return found[0]
    words = _without(found[1]).rstrip(".")
    return f" ({words})" if words else ""


def _without(sentence: str) -> str:
    """A sentence without its clauses that are about options; empty where there is no other."""
    if not _COMMAND.search(sentence):
        return sentence
    kept = "; ".join(clause for clause in sentence.split("; ") if not _COMMAND.search(clause))
    return f"{kept}." if kept and kept[-1] not in ".!?" else kept
