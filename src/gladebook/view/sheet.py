"""What the page shows: a property's shapes, one plot in full, an outline while it is traced; nouns and documents."""

import json
from dataclasses import dataclass
from typing import Any

import shapely

from gladebook.plots.sureness import PositionError
from gladebook.records.growing import Growing
from gladebook.records.kept import Step
from gladebook.units import ACRE_M2
from gladebook.view.figures import acres, area, feet

__all__ = [
    "Drawn",
    "Earlier",
    "Outline",
    "PlotPage",
    "Sheet",
    "outline_document",
    "plot_document",
    "sheet_document",
]

_DIGITS = 9  # of a degree: a tenth of a millimetre
_WORTH_SAYING_M2 = 1.0


@dataclass(frozen=True)
class Drawn:
    """A shape on the map.

    Attributes
    ----------
    uid, name : its id and name.
    kind : "plot", "obstacle" or "check strip".
    shape : shapely, degrees on WGS 84.
    area_m2 : of a plot its ground less obstacles, of all else as drawn, m2.
    low_m2, high_m2 : of a plot its 95 % range.
    taken_m2 : what obstacles take out of a plot, m2.
    since : the day of its boundary; empty for none.
    mark : of the state that it is in.
    walked : whether its boundary is a walk with a receiver.
    """

    uid: str
    name: str
    kind: str
    shape: Any
    area_m2: float
    low_m2: float
    high_m2: float
    taken_m2: float
    since: str
    mark: str
    walked: bool = False


@dataclass(frozen=True)
class Sheet:
    """All that is drawn: the property's name, its shapes, all plots together in m2, what undo would take back."""

    name: str
    shapes: tuple[Drawn, ...]
    total_m2: float
    undo: Step | None
    notices: tuple[str, ...] = ()


@dataclass(frozen=True)
class Outline:
    """An outline while it is traced.

    Attributes
    ----------
    shape : as it would be kept, degrees on WGS 84.
    drawn_m2 : all of it, m2.
    area_m2 : less obstacles, m2.
    shared : names of plots that it shares ground with, and how much, m2.
    """

    shape: Any
    drawn_m2: float
    area_m2: float
    shared: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Earlier:
    """A boundary that a plot had: its shape in degrees, m2 as drawn, and its first and last day."""

    shape: Any
    area_m2: float
    since: str
    until: str


@dataclass(frozen=True)
class PlotPage:
    """One plot in full.

    Attributes
    ----------
    name : its name.
    growing : what grows there.
    standing : that in words, as it was entered; () for nothing.
    earlier : the boundaries that it had.
    applications : by name.
    entered : what grows there and what was sprayed, in words.
    """

    name: str
    growing: Growing
    standing: tuple[str, ...]
    earlier: tuple[Earlier, ...]
    applications: tuple[str, ...]
    entered: tuple[str, ...]


def sheet_document(sheet: Sheet, *, file: str) -> dict[str, Any]:
    """What the page draws; `file` is the name of the property file."""
    return {
        "name": sheet.name,
        "file": file,
        "total_acres": sheet.total_m2 / ACRE_M2,
        "total_words": f"{acres(sheet.total_m2)} ac",
        "undo": None if sheet.undo is None else {"step": sheet.undo.number, "words": sheet.undo.words},
        "shapes": [_drawn(one) for one in sheet.shapes],
        "notices": list(sheet.notices),
    }


def _drawn(one: Drawn) -> dict[str, Any]:
    return {
        "uid": one.uid,
        "name": one.name,
        "kind": one.kind,
        "acres": one.area_m2 / ACRE_M2,
        "acres_words": area(one.area_m2),
        "range_words": _range_words(one) if one.kind == "plot" else "",
        "taken_words": area(one.taken_m2) if one.taken_m2 >= _WORTH_SAYING_M2 else "",
        "since": one.since,
        "mark": one.mark,
        "geometry": json.loads(shapely.to_geojson(one.shape)),
    }


def _range_words(one: Drawn) -> str:
    error = PositionError()
    off = f"off by {feet(error.sd_m)}{f', alike over {feet(error.walk_m)} of walk' if one.walked else ''}"
    return f"{acres(one.low_m2)} to {acres(one.high_m2)} ac: the 95 % range if corners are {off}."


def outline_document(outline: Outline) -> dict[str, Any]:
    """An outline with its acres as they move, what takes some of them, and its corners as they would be kept."""
    words = [f"{area(outline.area_m2)}"]
    taken_m2 = outline.drawn_m2 - outline.area_m2
    if taken_m2 >= _WORTH_SAYING_M2:
        words.append(f"{area(outline.drawn_m2)} drawn, less {area(taken_m2)} of ponds, rocks and trees.")
    words += [f"{area(m2)} of it lies in {name} too." for name, m2 in outline.shared]
    parts = getattr(outline.shape, "geoms", [outline.shape])
    if len(parts) > 1:
        words.append(f"It has {len(parts)} parts.")
    return {
        "acres": outline.area_m2 / ACRE_M2,
        "drawn_acres": outline.drawn_m2 / ACRE_M2,
        "words": words,
        "shared": bool(outline.shared),
        "parts": [[_corners(ring) for ring in (part.exterior, *part.interiors)] for part in parts],
    }


def _corners(ring: Any) -> list[list[float]]:
    return [[round(x, _DIGITS), round(y, _DIGITS)] for x, y, *_ in ring.coords[:-1]]


def plot_document(page: PlotPage) -> dict[str, Any]:
    """One plot in full."""
    growing = page.growing
    return {
        "name": page.name,
        "growing": ", ".join(forage.name for forage in growing.forages),
        "planted": "" if growing.planted is None else growing.planted.isoformat(),
        "stage": growing.stage,
        "standing": list(page.standing),
        "entered": list(page.entered),
        "applications": list(page.applications),
        "earlier": [
            {
                "since": one.since,
                "until": one.until,
                "words": area(one.area_m2),
                "geometry": json.loads(shapely.to_geojson(one.shape)),
            }
            for one in page.earlier
        ],
    }
