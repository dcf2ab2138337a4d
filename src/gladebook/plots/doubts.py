"""What makes a boundary doubtful, though it can be measured: said, never mended."""

from collections.abc import Mapping
from typing import Any

import numpy as np
import shapely

from gladebook.geometry.area import geodesic_area_m2
from gladebook.units import ACRE_M2

__all__ = ["boundary_doubts"]

_ICE_DEG = -60.0  # no plot lies south of here, but swapped American coordinates do
_OFF_AFRICA_DEG = 0.5
_SAME_SHARE = 0.01
_HECTARE_M2 = 10_000.0
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


def boundary_doubts(shape: Any, *, fields: Mapping[str, Any]) -> tuple[str, ...]:
    """Sentences, without the plot's name, about where a boundary lies and what its file says of its area.

    Parameters
    ----------
    shape
        Polygons in degrees on WGS 84, checked.
    fields
        The feature's attributes.
    """
    return (*_place(shape), *_stated_area(shape, fields))


def _place(shape: Any) -> list[str]:
    west, south, east, north = (float(v) for v in shapely.bounds(shape))
    lat, lon = (south + north) / 2, (west + east) / 2
    if lat < _ICE_DEG:
        return [
            (
                f"doubtful: it lies near {lat:.4f}, {lon:.4f}, in or near Antarctica. Latitude and longitude look "
                "swapped; check how the file was written."
            )
        ]
    if abs(lat) < _OFF_AFRICA_DEG and abs(lon) < _OFF_AFRICA_DEG:
        return [
            f"doubtful: it lies near {lat:.4f}, {lon:.4f}, in the sea off Africa. Check that its figures are degrees."
        ]
    return []


def _stated_area(shape: Any, fields: Mapping[str, Any]) -> list[str]:
    """An area column whose name states its unit, and that differs by more than 1 %."""
    found: list[str] = []
    for name, value in fields.items():
        unit_m2 = _STATED.get(str(name).strip().lower().replace(" ", "_"))
        stated = _number(value)
        if unit_m2 is None or stated is None or stated <= 0:
            continue
        true_m2 = geodesic_area_m2(shape)
        off = stated * unit_m2 / true_m2 - 1
        if abs(off) > _SAME_SHARE:
            found.append(
                f'doubtful: its field "{str(name)[:30]}" says {stated * unit_m2 / ACRE_M2:.3g} ac, '
                f"{abs(100 * off):.0f} % {'more' if off > 0 else 'less'} than the {true_m2 / ACRE_M2:.3g} ac that its "
                "line encloses. It may be net of something, planar, or of an older line."
            )
    return found


def _number(value: Any) -> float | None:
    if isinstance(value, bool) or value is None:
        return None
    try:
        number = float(value)
    except (TypeError, ValueError):
        return None
    return number if np.isfinite(number) else None
