"""GeoJSON as text: one document (RFC 7946), a sequence of them (RFC 8142), or one feature a line.

Read with the standard library, so that a broken file can be answered with the line that is wrong.
"""

import gc
import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pyproj import CRS
from pyproj.exceptions import CRSError

from gladebook.errors import UnreadableFile

__all__ = ["Features", "load_features", "no_collection", "properties_of"]

Feature = dict[str, Any]
_CRS84 = "OGC:CRS84"
_MARK = "\x1e"  # stands before each text of a sequence (RFC 7464)
_DECODER = json.JSONDecoder()
_GAP = re.compile(r"[\s\x1e]*")


@dataclass(frozen=True)
class Features:
    """The features of a file, which can be gone through again and again; those of a sequence are not kept.

    Attributes
    ----------
    crs : the coordinate system: CRS 84 by RFC 7946, or what the ``crs`` member of 2008 names; None where that is
        nothing known.
    crs_said : what the file says instead, for the message.
    """

    crs: CRS | None
    crs_said: str
    _path: Path
    _text: str
    _known: list[Feature] | None

    def __iter__(self) -> Iterator[Feature]:
        return iter(self._known) if self._known is not None else _sequence(self._path, self._text)


@contextmanager
def no_collection() -> Iterator[None]:
    """Let Python not look for garbage among millions of new lists, which takes three times as long as reading them."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def load_features(path: Path, text: str) -> Features:
    """Read the features of a file, or get ready to read those of a sequence one by one.

    Raises
    ------
    UnreadableFile
        Where the text is no GeoJSON, with the line, or holds no feature.
    """
    start = _after(text, 0)
    with no_collection():
        first, end = _one(path, text, start)
    document = _object(path, first)
    marked = _MARK in text[:start]
    if not marked and _after(text, end) == len(text):
        crs, said = _crs(document)
        return Features(crs, said, path, "", _features(path, document))
    if not marked and document["type"] == "FeatureCollection":
        line = text.count("\n", 0, _after(text, end)) + 1
        raise UnreadableFile(
            f"{path.name}: is not GeoJSON: a collection ends, and more follows at line {line}. Export it again."
        )
    crs, said = _crs(document)
    features = Features(crs, said, path, text, None)
    if next(iter(features), None) is None:
        raise _nothing(path)
    return features


def properties_of(path: Path, feature: Feature, *, number: int) -> dict[str, Any]:
    """The properties of a feature, by its number in the file.

    Raises
    ------
    UnreadableFile
        Where they are not an object.
    """
    fields = feature.get("properties") or {}
    if not isinstance(fields, dict):
        raise UnreadableFile(f'{path.name}: feature {number} has "properties" that are not an object. Export it again.')
    return fields


def _after(text: str, at: int) -> int:
    found = _GAP.match(text, at)
    return at if found is None else found.end()


def _one(path: Path, text: str, at: int) -> tuple[Any, int]:
    """One JSON text and where it ends."""
    try:
        # Infinity and NaN are no JSON, but are let in here so that the corner which has them can be named.
        return _DECODER.raw_decode(text, at)
    except RecursionError:
        raise UnreadableFile(f"{path.name}: is nested too deeply to be GeoJSON. Export it again.") from None
    except json.JSONDecodeError as error:
        raise UnreadableFile(
            f"{path.name}: is not GeoJSON, or is cut short: {error.msg} at line {error.lineno}, column {error.colno}. "
            "Export it again."
        ) from None
    except ValueError:
        raise UnreadableFile(f"{path.name}: holds a number that is too long to be one. Export it again.") from None


def _object(path: Path, document: Any) -> dict[str, Any]:
    if not isinstance(document, dict) or "type" not in document:
        raise UnreadableFile(f'{path.name}: is JSON, but not GeoJSON: it has no "type". Export it as GeoJSON.')
    return document


def _features(path: Path, document: dict[str, Any]) -> list[Feature]:
    kind = document["type"]
    if kind == "FeatureCollection":
        features = document.get("features")
        if not isinstance(features, list):
            raise UnreadableFile(f'{path.name}: is a FeatureCollection without a list of "features". Export it again.')
    else:
        features = [_alone(path, document)]
    for number, feature in enumerate(features, start=1):
        if not isinstance(feature, dict) or feature.get("type") != "Feature":
            raise UnreadableFile(f"{path.name}: entry {number} of the features is not a Feature. Export it again.")
    if not features:
        raise _nothing(path)
    return features


def _alone(path: Path, document: dict[str, Any]) -> Feature:
    """A feature, or a geometry as one."""
    kind = document["type"]
    if kind == "Feature":
        return document
    if isinstance(kind, str) and ("coordinates" in document or kind == "GeometryCollection"):
        return {"type": "Feature", "properties": {}, "geometry": document}
    raise UnreadableFile(
        f'{path.name}: is JSON of type "{str(kind)[:40]}", which is not GeoJSON. Export it as GeoJSON.'
    )


def _sequence(path: Path, text: str) -> Iterator[Feature]:
    """All features of the texts of a sequence, in its order."""
    stated: Any = None
    at = _after(text, 0)
    while at < len(text):
        document, end = _one(path, text, at)
        document = _object(path, document)
        if stated is None:
            stated = document.get("crs", _CRS84)
        elif document.get("crs", _CRS84) != stated:
            line = text.count("\n", 0, at) + 1
            raise UnreadableFile(
                f"{path.name}: states another coordinate system at line {line} than before. Export it in one."
            )
        if document["type"] == "FeatureCollection" and document.get("features") == []:
            pass  # an empty collection among others holds nothing to miss
        else:
            yield from _features(path, document)
        at = _after(text, end)


def _nothing(path: Path) -> UnreadableFile:
    return UnreadableFile(f"{path.name}: holds no feature at all. Draw at least one plot, or pick another file.")


def _crs(document: dict[str, Any]) -> tuple[CRS | None, str]:
    """CRS 84 by RFC 7946, or what the 2008 member names; where that is nothing known, what it says."""
    if "crs" not in document:
        return CRS.from_user_input(_CRS84), ""
    member = document["crs"]
    if member is None:
        return None, "says by crs = null that nobody knows its coordinate system"
    try:
        name = member["properties"]["name"] if member["type"] == "name" else None
        if isinstance(name, str):
            return CRS.from_user_input(name), ""
    except (KeyError, TypeError, CRSError, UnicodeError):
        pass
    return None, f'names by its "crs" member, {json.dumps(member)[:80]}, no coordinate system that is known'
