"""What a check found: each with its reason, and where the figure behind it comes from."""

from dataclasses import dataclass
from typing import Literal

__all__ = ["Finding", "Word"]

Word = Literal["not checked", "stop", "caution", "fine"]


@dataclass(frozen=True)
class Finding:
    """One finding.

    Attributes
    ----------
    word : "stop" only where the label or the user's own entry forbids; "not checked" where something is not known.
    about : which check, like "wind" or "season maximum".
    reason : one or two sentences, with the figures and their units.
    source : where the figure comes from: "your label", "your entry", a published title, or "common practice, no
        source".
    """

    word: Word
    about: str
    reason: str
    source: str
