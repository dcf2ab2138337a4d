"""The document of the page's map: shapes with acres as people read them."""

import json
from typing import Any

import shapely

from gladebook.units import ACRE_M2
from gladebook.view.figures import acres, area

__all__ = ["sheet_document"]


def sheet_document(sheet: Any, *, file: str) -> dict[str, Any]:
    """What the page draws.

    Parameters
    ----------
    sheet
        The property's name, shapes, total and last change, as `gladebook.jobs.tracing.Sheet` has them.
    file
        Name of the property file.
    """
    return {
        "name": sheet.name,
        "file": file,
        "total_acres": sheet.total_m2 / ACRE_M2,
        "total_words": f"{acres(sheet.total_m2)} ac",
        "undo": sheet.undo,
        "shapes": [
            {
                "uid": one.uid,
                "name": one.name,
                "kind": one.kind,
                "acres": one.area_m2 / ACRE_M2,
                "acres_words": area(one.area_m2),
                "since": one.since,
                "mark": one.mark,
                "one_part": len(getattr(one.shape, "geoms", [one.shape])) == 1,
                "geometry": json.loads(shapely.to_geojson(one.shape)),
            }
            for one in sheet.shapes
        ],
    }
