"""The look of each kind of ground: a colour, a pattern and a word, so that no meaning hangs on colour.

Colours: Okabe and Ito, Color Universal Design (2008), chosen there for colour-blind readers. The
patterns keep the kinds apart in grey print.
"""

from dataclasses import dataclass
from typing import Final

__all__ = ["LOOKS", "Look"]


@dataclass(frozen=True)
class Look:
    """How one kind of ground is drawn.

    Attributes
    ----------
    key : its name in data.
    word : its name for people.
    meaning : one line of explanation.
    colour : hexadecimal.
    pattern : ``plain``, ``diagonal``, ``cross``, ``level``, ``dots``, ``checks`` or ``line``.
    """

    key: str
    word: str
    meaning: str
    colour: str
    pattern: str


LOOKS: Final = (
    Look("treated", "Treated", "driven over with the boom on", "#56B4E9", "plain"),
    Look("missed", "Missed", "not driven over", "#D55E00", "diagonal"),
    Look("overlap", "Overlap", "driven over again: twice the rate", "#0072B2", "cross"),
    Look("outside", "Outside", "boom on outside the plots", "#E69F00", "level"),
    Look("unknown", "Unknown", "a gap in the track; nobody can tell", "#999999", "dots"),
    Look("left", "Left on purpose", "meant to stay unsprayed; not missed", "#009E73", "checks"),
    Look("track_on", "Boom on", "where the receiver went, boom on", "#000000", "line"),
    Look("track_off", "Boom off", "where the receiver went, boom off", "#666666", "broken line"),
)
