"""The look of each kind of ground and of missed strips: a colour, a pattern and a word; no meaning hangs on colour.

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
    pattern : of ground ``plain``, ``wash``, ``bold``, ``faint``, ``upright``, ``cross``, ``level``, ``dots`` or
        ``checks``; of the track ``line`` or ``broken line``.
    """

    key: str
    word: str
    meaning: str
    colour: str
    pattern: str


LOOKS: Final = (
    Look("treated", "Treated", "driven with the boom on", "#56B4E9", "plain"),
    Look("missed", "Missed", "all ground not driven over, by the record", "#D55E00", "wash"),
    Look("go_look", "Go look", "numbers 1, 2, ...: likely a real skip", "#D55E00", "bold"),
    Look("cant_tell", "Can't tell", "numbers with a ?: a skip, or the receiver's error", "#D55E00", "faint"),
    Look("boom_off", "Missed, boom off", "square numbers: off by the record", "#CC79A7", "upright"),
    Look("overlap", "Overlap", "driven over again: twice the rate", "#0072B2", "cross"),
    Look("outside", "Outside", "boom on outside the plots", "#E69F00", "level"),
    Look("unknown", "Unknown", "a gap in the track; nobody can tell", "#999999", "dots"),
    Look("left", "Left on purpose", "meant to stay unsprayed; not missed", "#009E73", "checks"),
    Look("track_on", "Boom on", "where the receiver went, boom on", "#000000", "line"),
    Look("track_off", "Boom off", "where the receiver went, boom off", "#666666", "broken line"),
)
