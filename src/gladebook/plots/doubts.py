"""What makes a boundary doubtful, though it can be measured: said, never mended."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from gladebook.geometry.area import geodesic_area_m2
from gladebook.notes import Note
from gladebook.units import ACRE_M2, MI_M

__all__ = ["Doubt", "boundary_doubts", "odd_places", "said_together", "spread_doubt", "states_area"]

_ICE_DEG = -60.0  # no plot lies south of here, but swapped American coordinates do
_OFF_AFRICA_DEG = 0.5
_FAR_M = 40_000.0  # one property lies closer together
_DEGREE_M = 111_195.0  # of the meridian of a sphere of 6,371 km; good enough to say how far apart plots lie
_SAME_SHARE = 0.01
_HECTARE_M2 = 10_000.0
_FEW = 3  # plots of which a doubt is said one by one
# Field names as people and offices write them, and how many m2 one unit is; a bare "area" says no unit.
_STATED = {
    "acres": ACRE_M2,
    "acre": ACRE_M2,
    "ac": ACRE_M2,
    "acreage": ACRE_M2,
    "area_ac": ACRE_M2,
    "area_acres": ACRE_M2,
    "gis_acres": ACRE_M2,
    "hectares": _HECTARE_M2,
    "hectare": _HECTARE_M2,
    "ha": _HECTARE_M2,
    "area_ha": _HECTARE_M2,
    "area_m2": 1.0,
    "area_sqm": 1.0,
    "sqm": 1.0,
    "m2": 1.0,
}


@dataclass(frozen=True)
class Doubt:
    """What is doubtful about one boundary.

    Attributes
    ----------
    words : as a sentence without the plot's name.
    many : what is said where many plots have it: what stands before their number and examples, and after them.
    short : the figures of this one, as an example; empty where its name says enough.
    """

    words: str
    many: tuple[str, str]
    short: str = ""


def boundary_doubts(shape: Any, *, fields: Mapping[str, Any]) -> tuple[Doubt, ...]:
    """What is doubtful about where a boundary lies and what its file says of its area.

    Parameters
    ----------
    shape
        Polygons in degrees on WGS 84, checked.
    fields
        The feature's attributes.
    """
    return (*_place(shape), *_reach(shape), *_stated_area(shape, fields))


def said_together(doubts: Sequence[tuple[str, Doubt]], *, source: str) -> tuple[list[Note], set[Doubt]]:
    """Say once, with a number and the first examples, what is doubtful about more than three plots of a file.

    Parameters
    ----------
    doubts
        The name of a plot, and what is doubtful about it, in the order of the file.
    source
        The file's name.

    Returns
    -------
    What is said of the file, and the doubts that need no saying any more.
    """
    alike: dict[tuple[str, str], list[tuple[str, Doubt]]] = {}
    for name, doubt in doubts:
        alike.setdefault(doubt.many, []).append((name, doubt))
    notes: list[Note] = []
    told: set[Doubt] = set()
    for (before, after), group in alike.items():
        if len(group) <= _FEW:
            continue
        first = tuple(f"{name}: {doubt.short}" if doubt.short else name for name, doubt in group[:_FEW])
        words = f"{before} ({len(group):,} plots: {'; '.join(first)}; and {len(group) - _FEW:,} more). {after}"
        notes.append(Note("doubtful", source, words, count=len(group), examples=first))
        told.update(doubt for _, doubt in group)
    return notes, told


def spread_doubt(shapes: npt.NDArray[Any]) -> str:
    """What is to be said of how far apart the boundaries of a file lie; empty where that is near enough."""
    away_m = _across_m(*(float(v) for v in shapely.total_bounds(shapes)))
    if len(shapes) < 2 or away_m < _FAR_M:
        return ""
    return f"its plots lie up to {away_m / MI_M:,.0f} miles apart. Check that each of them is in the right place."


def _reach(shape: Any) -> list[Doubt]:
    away_m = _across_m(*(float(v) for v in shapely.bounds(shape)))
    if away_m < _FAR_M:
        return []
    advice = "Check that no corner is in the wrong place."
    wide = f"{away_m / MI_M:,.0f} miles"
    return [Doubt(f"it reaches over {wide}. {advice}", ("some plots reach over many miles", advice), wide)]


def _across_m(west: float, south: float, east: float, north: float) -> float:
    """From corner to corner; what ends on both sides of 180 degrees is as wide as the way across that line."""
    wide_deg = min(east - west, abs(360.0 - (east - west)))
    return math.hypot(wide_deg * math.cos(math.radians((south + north) / 2)), north - south) * _DEGREE_M


def odd_places(shapes: npt.NDArray[Any]) -> npt.NDArray[np.bool_]:
    """Which of many boundaries may lie where `boundary_doubts` has something to say of their place; all at once."""
    west, south, east, north = shapely.bounds(shapes).T
    lat, lon = (south + north) / 2, (west + east) / 2
    odd: npt.NDArray[np.bool_] = (lat < _ICE_DEG) | ((np.abs(lat) < _OFF_AFRICA_DEG) & (np.abs(lon) < _OFF_AFRICA_DEG))
    # At most this far, as no degree of longitude is longer than one of latitude.
    odd |= np.hypot(east - west, north - south) >= _FAR_M / _DEGREE_M
    return odd


def states_area(fields: Mapping[str, Any]) -> bool:
    """Whether some field's name says that it holds an area, and its unit."""
    return any(_key(name) in _STATED for name in fields)


def _key(name: Any) -> str:
    return str(name).strip().lower().replace(" ", "_")


def _place(shape: Any) -> list[Doubt]:
    west, south, east, north = (float(v) for v in shapely.bounds(shape))
    lat, lon = (south + north) / 2, (west + east) / 2
    if lat < _ICE_DEG:
        where, advice = "in or near Antarctica", "Latitude and longitude look swapped; check how the file was written."
    elif abs(lat) < _OFF_AFRICA_DEG and abs(lon) < _OFF_AFRICA_DEG:
        where, advice = "in the sea off Africa", "Check that its figures are degrees."
    else:
        return []
    place = f"near {lat:.4f}, {lon:.4f}"
    return [Doubt(f"it lies {place}, {where}. {advice}", (f"some plots lie {where}", advice), place)]


def _stated_area(shape: Any, fields: Mapping[str, Any]) -> list[Doubt]:
    """An area column whose name states its unit, and that differs by more than 1 %."""
    found: list[Doubt] = []
    for name, value in fields.items():
        unit_m2 = _STATED.get(_key(name))
        stated = _number(value)
        if unit_m2 is None or stated is None or stated <= 0:
            continue
        true_m2 = geodesic_area_m2(shape)
        off = stated * unit_m2 / true_m2 - 1
        if abs(off) > _SAME_SHARE:
            column = str(name)[:30]
            says, true = f"{stated * unit_m2 / ACRE_M2:.3g} ac", f"{true_m2 / ACRE_M2:.3g} ac"
            may = "may leave something out, be measured on a flat map, or be of an older line."
            words = (
                f'its field "{column}" says {says}, {abs(100 * off):.0f} % {"more" if off > 0 else "less"} than the '
                f"{true} that its line encloses. It {may}"
            )
            many = f'the field "{column}" differs by more than 1 % from what the line of the plot encloses'
            found.append(Doubt(words, (many, f"It {may}"), f"{says} stated, {true} enclosed"))
    return found


def _number(value: Any) -> float | None:
    if isinstance(value, bool) or value is None:
        return None
    try:
        number = float(value)
    except (TypeError, ValueError):
        return None
    return number if np.isfinite(number) else None
