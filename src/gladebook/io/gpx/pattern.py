"""The pattern to which a receiver writes a point of a GPX: where its values stand."""

import re
from dataclasses import dataclass
from typing import NamedTuple

from gladebook.io.gpx.points import KEPT, Point

__all__ = ["Pattern", "Span", "pattern_of"]

_NAME = rb"[A-Za-z_][A-Za-z0-9_.:-]*"
_BLANKS = rb"[ \t\r\n]*"
_VALUE = rb"(?:\"[^\"<>&]*\"|'[^'<>&]*')"
_TAG = re.compile(
    rb"<(?P<close>/?)(?P<name>%b)(?P<attributes>(?:[ \t\r\n]+%b%b=%b%b)*)%b(?P<alone>/?)>"
    % (_NAME, _NAME, _BLANKS, _BLANKS, _VALUE, _BLANKS)
)
_ATTRIBUTE = re.compile(rb"(?P<name>%b)%b=%b(?P<value>%b)" % (_NAME, _BLANKS, _BLANKS, _VALUE))
_DIGIT = re.compile(rb"[0-9]")
_BLANK = b" \t\r\n"
_STRUCTURE = {b"trk", b"rte", b"trkseg", b"trkpt", b"rtept"}
_WIDEST = 64  # letters of a value; a longer one is no figure or time that files are known to hold


class Span(NamedTuple):
    """Where a value stands, in bytes from the start of its point."""

    start: int
    stop: int


@dataclass(frozen=True)
class Pattern:
    """What the points of one pattern share.

    Attributes
    ----------
    size : bytes from the start of its tag to the end of the point.
    ends_run : whether more than blanks follows before the next point.
    spans : where ``lat``, ``lon`` and those of `KEPT` that the point has stand.
    fixed : digits that may not differ, as they are part of a name or declare one: place and code.
    """

    size: int
    ends_run: bool
    spans: dict[str, Span]
    fixed: tuple[tuple[int, int], ...]

    def agrees(self, text: bytes, point: Point) -> bool:
        """Whether the values found by place are those that the reader of whole files found."""
        here = {name: text[span.start : span.stop].decode("utf-8") for name, span in self.spans.items()}
        return here == {"lat": point.lat, "lon": point.lon, **point.values}


def pattern_of(text: bytes) -> Pattern | None:
    """Find the pattern of a point, given with all that follows it up to the next; None where it is not plain."""
    spans: dict[str, Span] = {}
    fixed: list[tuple[int, int]] = []
    open_names: list[bytes] = []
    at = since = 0
    while True:
        tag = _TAG.match(text, at)
        if tag is None or (tag["close"] and (tag["attributes"] or tag["alone"])):
            return None
        if open_names:
            if not _step(tag, open_names, spans=spans, since=since, text=text):
                return None
        elif tag["name"] != b"trkpt" or not _position(tag, spans=spans):
            return None
        elif not tag["alone"]:
            open_names.append(tag["name"])
        fixed += _fixed(tag)
        if not open_names:
            break
        since = tag.end()
        at = text.find(b"<", since)
        if at < 0 or b"&" in text[since:at] or b">" in text[since:at]:
            return None
    if any(span.stop - span.start > _WIDEST for span in spans.values()):
        return None
    size = tag.end()
    return Pattern(size, bool(text[size:].strip(_BLANK)), spans, tuple(fixed))


def _step(tag: re.Match[bytes], open_names: list[bytes], *, spans: dict[str, Span], since: int, text: bytes) -> bool:
    """Follow one tag inside the point; false where it does not fit."""
    name = tag["name"]
    local = name.rpartition(b":")[2]
    if not tag["close"]:
        if local in _STRUCTURE:
            return False
        if not tag["alone"]:
            open_names.append(name)
            return True
        since = tag.start()
    elif open_names.pop() != name:
        return False
    word = local.decode("ascii")
    if open_names and word in KEPT:
        spans.setdefault(word, _stripped(text, Span(since, tag.start())))
    return True


def _stripped(text: bytes, span: Span) -> Span:
    inside = text[span.start : span.stop]
    start = span.start + len(inside) - len(inside.lstrip(_BLANK))
    return Span(start, start + len(inside.strip(_BLANK)))


def _position(tag: re.Match[bytes], *, spans: dict[str, Span]) -> bool:
    for found in _ATTRIBUTE.finditer(tag.string, *tag.span("attributes")):
        if found["name"] in (b"lat", b"lon"):
            spans[found["name"].decode("ascii")] = Span(found.start("value") + 1, found.end("value") - 1)
    return "lat" in spans and "lon" in spans


def _fixed(tag: re.Match[bytes]) -> list[tuple[int, int]]:
    """Digits of a tag outside the values of its attributes, and in those that declare a prefix."""
    digits = [found.start() for found in _DIGIT.finditer(tag.string, *tag.span())]
    if digits:
        for found in _ATTRIBUTE.finditer(tag.string, *tag.span("attributes")):
            if not found["name"].startswith(b"xmlns"):
                free = range(*found.span("value"))
                digits = [i for i in digits if i not in free]
    return [(i, tag.string[i]) for i in digits]
