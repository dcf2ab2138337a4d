"""How large a file may be: stated and set in one place, and each limit answered by one sentence.

What lies beyond them is far more likely broken, hostile or the wrong file than somebody's plots.
"""

from collections.abc import Iterable
from dataclasses import dataclass, fields, replace

from gladebook.errors import CallError, UnreadableFile, printable

__all__ = ["LIMITS", "Limits", "beyond", "limits_from"]


@dataclass(frozen=True)
class Limits:
    """The most of each that is read.

    Attributes
    ----------
    file_bytes : bytes in a file, or in all files of a shapefile or geodatabase.
    ring_corners : corners in one ring of a boundary.
    crossings : places in which a boundary may cross itself to be mended, or told what mending would change.
    nesting : collections, one inside the other.
    layers : layers in a file.
    rows : features or rows in a boundary file.
    points : points in a track.
    zip_files : files in a zip.
    unzip_bytes : bytes that a zip may unpack to.
    unzip_ratio : bytes unpacked for each byte packed, where a zip unpacks to more than 50 MB.
    """

    file_bytes: int = 2_000_000_000
    ring_corners: int = 5_000_000
    crossings: int = 100_000
    nesting: int = 450
    layers: int = 1_000
    rows: int = 2_000_000
    points: int = 20_000_000
    zip_files: int = 100_000
    unzip_bytes: int = 1_000_000_000
    unzip_ratio: int = 200


LIMITS = Limits()
_NAMES = tuple(f.name for f in fields(Limits))
_MOST = 10**18


def limits_from(texts: Iterable[str]) -> Limits:
    """Set limits as users write them, such as ``points=50000000``; the others stay as they are.

    Raises
    ------
    CallError
        Where a text names no limit, or no whole number above nought.
    """
    limits = LIMITS
    for text in texts:
        name, _, number = text.partition("=")
        name, number = name.strip().replace("-", "_"), number.strip().replace(",", "").replace("_", "")
        if name not in _NAMES:
            raise CallError(f'--limit: "{text[:60]}" names no limit. Choose from {", ".join(_NAMES)}.')
        if not (number.isascii() and number.isdigit() and len(number) <= 18 and int(number) > 0):
            like = f"{name}={getattr(LIMITS, name)}"
            raise CallError(f'--limit: "{text[:60]}" has no whole number above nought; write it like {like}.')
        limits = replace(limits, **{name: int(number)})
    return limits


def beyond(source: str, holds: str, *, limit: str, limits: Limits, instead: str) -> UnreadableFile:
    """The sentence for a file beyond a limit: what it holds, and how to raise the limit.

    Parameters
    ----------
    source
        The file's name.
    holds
        What it holds too much of, with the limit in words.
    limit
        The limit's name in `Limits`.
    limits
        The limits in force.
    instead
        What to do where the file was not meant to be so large.
    """
    raised = min(2 * int(getattr(limits, limit)), _MOST - 1)
    sentence = f"{source}: {holds}. {instead}, or raise it with --limit {limit}={raised} or more."
    return UnreadableFile(printable(sentence))
