"""Applications that were kept, for the page: what was said of them, and their missed strips on the map."""

import json
from collections.abc import Sequence
from typing import Any

import shapely

from gladebook.records.kept import KeptApplication, KeptStrip
from gladebook.units import ACRE_M2
from gladebook.view.figures import area

__all__ = ["application_document"]


def application_document(one: KeptApplication, strips: Sequence[KeptStrip]) -> dict[str, Any]:
    """One application with its strips, GeoJSON and words."""
    return {
        "name": one.name,
        "day": one.day,
        "strips": [
            {
                "number": strip.number,
                "plot": strip.plot,
                "state": strip.state,
                "verdict": str(strip.verdict.get("verdict", "")),
                "words": _words(strip),
                "acres": strip.area_m2 / ACRE_M2,
                "shape": json.loads(shapely.to_geojson(strip.shape)),
            }
            for strip in strips
        ],
    }


def _words(strip: KeptStrip) -> str:
    where = str(strip.verdict.get("where") or "")
    return f"{f'{where}; ' if where else ''}{area(strip.area_m2)}"
