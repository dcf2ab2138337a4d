"""Columns and properties ``section_1``, ``section_2`` and so on: the boom's sections from left to right."""

import re
from collections.abc import Iterable

from gladebook.errors import TrackError

__all__ = ["MOST_SECTIONS", "section_names"]

MOST_SECTIONS = 64
_SECTION = re.compile(r"section_([0-9]{1,9})")


def section_names(names: Iterable[str], *, source: str) -> tuple[str, ...]:
    """Those of some names, in any case, that are sections: as they were given, from the first section on.

    Parameters
    ----------
    names
        The headings of a table, or the names of properties, each once.
    source
        The file's name, for messages.

    Raises
    ------
    TrackError
        Where a section between others is missing, stands twice, or there are more than 64.
    """
    found: dict[int, str] = {}
    for name in names:
        match = _SECTION.fullmatch(name.strip().lower())
        if match is None:
            continue
        number = int(match[1])
        if number in found:
            raise TrackError(f'{source}: has "section_{number}" twice. Keep one of them.')
        found[number] = name
    if 0 in found:
        raise TrackError(f"{source}: has a section_0, but the leftmost section is section_1. Name all of them so.")
    missing = next(number for number in range(1, len(found) + 2) if number not in found)
    if missing <= len(found):
        raise TrackError(
            f"{source}: has section_{max(found)} but no section_{missing}. "
            "Name all sections from left to right, section_1, section_2 and so on."
        )
    if len(found) > MOST_SECTIONS:
        raise TrackError(
            f"{source}: has {len(found)} boom sections, and at most {MOST_SECTIONS} are read. "
            "Put neighbours that switch together into one section."
        )
    return tuple(found[number] for number in range(1, len(found) + 1))
