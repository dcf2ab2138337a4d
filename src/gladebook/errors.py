"""Every error that gladebook raises on purpose.

::

    GladebookError
    |-- CallError (ValueError)          a mistake in the call: an option or an argument
    |   |-- QuantityError               an amount without a unit, or with the wrong kind of unit
    |   |-- MissingExtra (ImportError)  an optional part is not installed
    |   `-- Unanswered                  a question about a label that comes before any amount
    |-- InputError (ValueError)         the call is right, what it points to is not
    |   |-- UnreadableFile              missing, empty, broken, or not what its name says
    |   |-- MissingCrs                  coordinates whose reference system nobody states
    |   |-- BoundaryError               a plot whose boundary cannot be measured
    |   |-- TrackError                  a track that cannot be followed
    |   |-- MixError                    a mix that must not or cannot be made
    |   |   `-- NotListed               a label was found not to list what grows there
    |   `-- PropertyError               a property file that cannot be read, or not be changed so
    |       `-- Clash                   somebody else changed the same in the meantime
    |-- OutputError (OSError)           the answer could not be written
    `-- Stopped                         the user stopped long work

A message says what, where, and what to do, in one sentence or two. The faces turn it into
text in one place each; nothing else is meant to escape from a public function.
"""

__all__ = [
    "BoundaryError",
    "CallError",
    "Clash",
    "GladebookError",
    "InputError",
    "MissingCrs",
    "MissingExtra",
    "MixError",
    "NotListed",
    "OutputError",
    "PropertyError",
    "QuantityError",
    "Stopped",
    "TrackError",
    "Unanswered",
    "UnreadableFile",
    "printable",
]


def printable(text: str) -> str:
    """Put text that may come from a file on one line that any terminal can show."""
    return "".join(c if c.isprintable() else " " if c.isspace() else "?" for c in text)


class GladebookError(Exception):
    """Root of everything that gladebook raises on purpose; as text it is one printable line."""

    def __str__(self) -> str:
        return printable(super().__str__())


class CallError(GladebookError, ValueError):
    """A mistake in the call: an option or an argument."""


class QuantityError(CallError):
    """An amount without a unit, or with a unit of the wrong kind."""


class MissingExtra(CallError, ImportError):  # noqa: N818 - reads as the thing that is missing
    """An optional part of gladebook is not installed."""


class Unanswered(CallError):  # noqa: N818 - reads as what it is
    """A question about a label that comes before any amount: which product, and which crops are still open."""

    def __init__(self, words: str, *, product: str, crops: tuple[str, ...]) -> None:
        super().__init__(words)
        self.product, self.crops = product, crops


class InputError(GladebookError, ValueError):
    """The call is right; the file or value that it points to is not."""


class UnreadableFile(InputError):  # noqa: N818 - reads as the thing that is wrong
    """A file that is missing, empty, broken, or not what its name says."""


class MissingCrs(InputError):  # noqa: N818 - reads as the thing that is missing
    """Coordinates whose reference system nobody states."""


class BoundaryError(InputError):
    """A plot whose boundary cannot be measured."""


class TrackError(InputError):
    """A track that cannot be followed."""


class MixError(InputError):
    """A mix that must not or cannot be made."""


class NotListed(MixError):  # noqa: N818 - reads as what it is
    """A label was found not to list what grows there: which product, and which crops."""

    def __init__(self, words: str, *, product: str, crops: tuple[str, ...]) -> None:
        super().__init__(words)
        self.product, self.crops = product, crops


class PropertyError(InputError):
    """A property file that cannot be read or written, or not be changed in the way that was asked for."""


class Clash(PropertyError):  # noqa: N818 - reads as what happened
    """Somebody else changed the same in the meantime; nothing was written."""


class OutputError(GladebookError, OSError):
    """The answer could not be written."""


class Stopped(GladebookError):  # noqa: N818 - a state, not a fault
    """The user stopped long work."""
