"""XML read as a stream with the standard library's expat, safely.

A file that declares entities of its own is refused: GPX and KML need none, and they can blow a
small file up without end.
"""

from pathlib import Path
from typing import Protocol
from xml.parsers import expat

from gladebook.errors import UnreadableFile
from gladebook.io.blocks import BLOCK, Data, blocks

__all__ = ["Handler", "parse_xml"]

_BLOCK = BLOCK


class Handler(Protocol):
    """What is told of elements; names come without their namespace."""

    def start(self, name: str, attributes: dict[str, str], line: int) -> None:
        """An element begins."""

    def text(self, data: str) -> None:
        """Text inside the last element."""

    def end(self, name: str) -> None:
        """An element ends."""


class _Entities(Exception):  # noqa: N818 - never leaves this module
    """The file declares entities."""


class _OtherRoot(Exception):  # noqa: N818 - never leaves this module
    """The file's root element is another."""


def parse_xml(path: Path, data: Data, *, handler: Handler, root: str) -> None:
    """Tell a handler of all elements.

    Raises
    ------
    UnreadableFile
        Where the text is no whole XML, declares entities, or has another root element.
    """
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.buffer_text = True
    open_elements = 0

    def start(tag: str, attributes: dict[str, str]) -> None:
        nonlocal open_elements
        name = tag.rpartition(" ")[2]
        if open_elements == 0 and name != root:
            raise _OtherRoot
        open_elements += 1
        handler.start(name, attributes, parser.CurrentLineNumber)

    def end(tag: str) -> None:
        nonlocal open_elements
        open_elements -= 1
        handler.end(tag.rpartition(" ")[2])

    def entity(*_: object) -> None:
        raise _Entities

    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.CharacterDataHandler = handler.text
    parser.EntityDeclHandler = entity
    kind = root.upper()
    try:
        for block in (data,) if isinstance(data, bytes) else blocks(data, size=_BLOCK):
            parser.Parse(block, False)
        parser.Parse(b"", True)
    except _Entities:
        raise UnreadableFile(
            f"{path.name}: declares entities of its own, which {kind} never needs. Export it again."
        ) from None
    except _OtherRoot:
        raise UnreadableFile(f"{path.name}: is XML, but not {kind}. Export it as {kind}.") from None
    except expat.ExpatError as error:
        what = f"{expat.ErrorString(error.code)} at line {error.lineno}"
        raise UnreadableFile(
            f"{path.name}: is not whole {kind}, or is cut short: {what}. Copy or export it again."
        ) from None
    except (LookupError, ValueError):
        raise UnreadableFile(f"{path.name}: is in an encoding that cannot be read. Save it as UTF-8.") from None
