"""The layers of a file, such as folders of shapes or recordings: what they are called, and which one is meant."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from gladebook.errors import UnreadableFile, printable

__all__ = ["LayerFound", "LayerKind", "chosen_place", "kind_from", "named_once"]

LayerKind = Literal["boundaries", "track", "lines", "points"]
_LISTED = 12


@dataclass(frozen=True)
class LayerFound:
    """A layer of a file, or a file in a zip.

    Attributes
    ----------
    name : by which it is chosen.
    kind : what it holds.
    count : how many shapes, or points of a recording.
    """

    name: str
    kind: LayerKind
    count: int


def kind_from(shapes: str) -> LayerKind:
    """What a layer may hold, by the kind of its shapes as the file states it, such as ``MULTIPOLYGON``."""
    plain = shapes.upper()
    if any(word in plain for word in ("POLYGON", "SURFACE", "GEOM", "UNKNOWN")):
        return "boundaries"
    return "points" if "POINT" in plain else "lines"


def named_once(names: Iterable[str], *, otherwise: str) -> list[str]:
    """Names of layers in their order, each unlike all others; those without one are called by their number.

    Parameters
    ----------
    names
        As the file has them.
    otherwise
        What one without a name is called, before its number: "track".
    """
    found: list[str] = []
    seen: Counter[str] = Counter()
    for number, name in enumerate(names, start=1):
        plain = printable(" ".join(name.split())) or f"{otherwise} {number}"
        seen[plain] += 1
        found.append(plain if seen[plain] == 1 else f"{plain} ({seen[plain]})")
    return found


def chosen_place(names: Sequence[str], *, wanted: str, source: str, what: str) -> int:
    """The place of the layer that is wanted, by its name in any case.

    Raises
    ------
    UnreadableFile
        Where there is none.
    """
    for same in (str, str.casefold):
        matches = [place for place, name in enumerate(names) if same(name) == same(wanted)]
        if matches:
            return matches[0]
    listed = ", ".join(name[:60] for name in names[:_LISTED]) or "none"
    more = f" and {len(names) - _LISTED} more" if len(names) > _LISTED else ""
    raise UnreadableFile(printable(f'{source}: has no {what} "{wanted[:60]}". Choose from {listed}{more}.'))
