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
    "--boom": "the boom's width",
    "--behind": "how far behind the boom is",
    "--sump:": "Stays in the sump:",
    "--forage:": "What grows there:",
    "--crop:": "The crop:",
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
_COMMAND: Final = re.compile(r"\bgladebook (property|mix|coverage|look|map)\b|(?<!\w)--[a-z]")


def told(error: GladebookError) -> str:
    """An error in words that fit the page."""
    return on_page(str(error))


def on_page(text: str) -> str:
    """Sentences without those that are about options and commands; all of them where nothing else is left."""
    for option, words in _OPTIONS.items():
        text = text.replace(option, words)
    kept = [sentence for sentence in _SENTENCE.split(text) if not _COMMAND.search(sentence)]
    return " ".join(kept) or text
