"""Remarks on what was read: each knows what kind it is, so that nobody has to tell it by its words."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

__all__ = ["KINDS", "Note", "NoteKind", "left_out"]

NoteKind = Literal["read", "assumed", "skipped", "repaired", "doubtful"]
KINDS: tuple[NoteKind, ...] = ("skipped", "repaired", "doubtful", "assumed", "read")
_EXAMPLES = 3


@dataclass(frozen=True)
class Note:
    """One remark; as text it is a whole sentence or two.

    Attributes
    ----------
    kind : "read", how something was read; "assumed", what was taken for granted where the file does not say it;
        "skipped", what was left out; "repaired", what was mended; "doubtful", what may be wrong.
    about : the name of the file or plot.
    words : what is said of it.
    count : how many there are of it, where it can be counted.
    examples : the first of them, by name or place.
    lead : what stands before the words where no title says it, such as "left out ".
    """

    kind: NoteKind
    about: str
    words: str
    count: int | None = None
    examples: tuple[str, ...] = ()
    lead: str = ""

    def __str__(self) -> str:
        return f"{self.about}: {'doubtful: ' if self.kind == 'doubtful' else self.lead}{self.words}"


def left_out(about: str, what: str, *, count: int, names: Sequence[str] = (), because: str = "") -> Note:
    """Say that something was left out.

    Parameters
    ----------
    about
        The file's name.
    what
        What was left out, in the plural.
    count
        How many.
    names
        What they are called, or where they stand; the first three are said.
    because
        Why, where `what` does not say it.
    """
    first = tuple(names[:_EXAMPLES])
    more = f" and {count - len(first)} more" if count > len(first) else ""
    said = f"{count}: {', '.join(first)}{more}" if first else f"{count}"
    why = f"; {because}" if because else ""
    return Note("skipped", about, f"{what} ({said}){why}.", count=count, examples=first, lead="left out ")
