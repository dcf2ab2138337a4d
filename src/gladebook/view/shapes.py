"""Coverage as shapes for any map program: GeoJSON by RFC 7946."""

from typing import Any

from gladebook.coverage.result import Coverage
from gladebook.units import ACRE_M2
from gladebook.view.words import TREATED_MEANS

__all__ = ["coverage_features"]


def coverage_features(coverage: Coverage) -> list[tuple[Any, dict[str, Any]]]:
    """Shapes in degrees with their kind and acres; missed strips one by one, with size and verdict."""
    layers = coverage.layers
    whole = [
        ("treated", layers.treated, coverage.treated_m2),
        ("missed", layers.missed, coverage.missed_m2),
        ("overlap", layers.overlap, coverage.overlap_m2),
        ("unknown", layers.unknown, coverage.unknown_m2),
        ("outside", layers.outside, coverage.outside_m2),
        ("left on purpose", layers.left, coverage.left_m2),
    ]
    features: list[tuple[Any, dict[str, Any]]] = [
        (shape, {"kind": kind, "acres": area_m2 / ACRE_M2, **({"means": TREATED_MEANS} if kind == "treated" else {})})
        for kind, shape, area_m2 in whole
    ]
    for number, strip in enumerate(coverage.strips, start=1):
        size = {"area_m2": strip.area_m2, "length_m": strip.length_m, "width_m": strip.width_m}
        found = strip.verdict
        told = {"verdict": found.word, "where": found.where, "cause": found.cause}
        features.append((strip.shape, {"kind": "missed strip", "number": number, "plot": strip.plot, **size, **told}))
    return features
