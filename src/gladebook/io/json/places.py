"""GeoJSON boundaries: RFC 7946, its sequences and lines, and the older ``crs`` member of 2008 where a file has one."""

from pathlib import Path

from gladebook.io.json.shapes import shapes_of
from gladebook.io.json.text import load_features, no_collection, properties_of
from gladebook.io.limits import LIMITS, Limits
from gladebook.io.rows import Row, Rows

__all__ = ["read_rows"]


def read_rows(path: Path, *, text: str, limits: Limits = LIMITS) -> Rows:
    """Read features with their fields.

    Raises
    ------
    UnreadableFile
        Where the text is no GeoJSON, with the line.
    MissingCrs
        Where the older ``crs`` member says that nobody knows, or points elsewhere.
    """
    with no_collection():
        features = load_features(path, text)
        fields, geometries = [], []
        for number, feature in enumerate(features, start=1):
            fields.append(properties_of(path, feature, number=number))
            geometries.append(feature.get("geometry"))
        shapes, faults, opened = shapes_of(geometries, nesting=limits.nesting)
        rows = tuple(Row(f, s, fault=why) for f, s, why in zip(fields, shapes, faults, strict=True))
        crs, said = features.crs, features.crs_said
        del features, geometries  # millions of lists go before the next look for garbage goes through them
    notes: tuple[str, ...] = ()
    if opened:
        notes = (f"{path.name}: {opened} ring{'s' if opened > 1 else ''} not closed; closed to the first corner.",)
    return Rows(source=path.name, rows=rows, crs=crs, notes=notes, crs_said=said)
