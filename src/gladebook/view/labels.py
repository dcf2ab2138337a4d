"""A label that a property keeps, in words: what was copied, and what was left empty."""

from collections.abc import Mapping
from typing import Any

from gladebook.products.label_text import COLUMNS

__all__ = ["label_words"]


def label_words(content: Mapping[str, Any]) -> list[str]:
    """Every column with what its user copied, and whether the label was found to list site and crops."""
    cells = content.get("cells")
    whose = "the county extension office's list" if content.get("whose") == "county list" else "your label"
    words: list[str] = []
    if isinstance(cells, Mapping):
        words.append(f"As you copied it from {whose}; check your label.")
        words += [f"  {name}: {cells[name]}" for name in COLUMNS if cells.get(name)]
        empty = [name for name in COLUMNS if not cells.get(name)]
        words += [f"Not entered: {', '.join(empty)}."] if empty else []
    else:
        words.append("No value of its label was entered.")
    listed = content.get("listed")
    for crop, found in (listed if isinstance(listed, Mapping) else {}).items():
        if isinstance(found, Mapping):
            says = "lists" if found.get("answer") else "does NOT list"
            words.append(f"You found that it {says} this site and {crop} ({found.get('day', 'no day')}).")
    return words
