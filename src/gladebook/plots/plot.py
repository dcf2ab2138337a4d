"""A plot: a named piece of ground, and the checks that its boundary must pass."""

import unicodedata
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from gladebook.errors import BoundaryError
from gladebook.geometry.area import geodesic_area_m2
from gladebook.geometry.frame import Frame, frame_for
from gladebook.geometry.validity import Crossing, crossings, flatten, mend, robust, seems_tangled
from gladebook.notes import Note
from gladebook.units import ACRE_M2

__all__ = ["Fault", "Plot", "check_plot", "clean_name", "laps_turned", "plane_shape", "refuse_faults"]

_LONGEST_NAME = 80
_SAME_AREA_M2 = 1e-3  # the ellipsoidal areas themselves are good to about this
_SMALLEST_PLOT_M2 = 0.01
_LARGEST_LIKELY_M2 = 1e8
_TWICE = 1.25  # how much more ground a ring of two laps counts
_LAP = 1.5  # whole turns
_LARGEST_DEG = 1000.0  # beyond any slip in degrees


@dataclass(frozen=True)
class Plot:
    """A named piece of ground.

    Attributes
    ----------
    name : as people call it; plain text on one line.
    shape : shapely Polygon or MultiPolygon, longitude and latitude in degrees on WGS 84.
    walked : true where the boundary is a walk with a GPS receiver, whose errors hang together.
    notes : what was mended, left out or is doubtful.
    """

    name: str
    shape: Any
    walked: bool = False
    notes: tuple[Note, ...] = ()


@dataclass(frozen=True)
class Fault:
    """Why a boundary cannot be measured, as a sentence without its name."""

    name: str
    reason: str


def clean_name(text: str) -> str:
    """Put a name on one line: no control or direction marks, single spaces, at most 80 characters."""
    if len(text) <= _LONGEST_NAME and text.isascii() and text.isprintable():
        return " ".join(text.split())
    kept = "".join(" " if c in "\t\r\n" else c for c in text if c in "\t\r\n" or unicodedata.category(c)[0] != "C")
    kept = " ".join(kept.split())
    return kept if len(kept) <= _LONGEST_NAME else kept[: _LONGEST_NAME - 1] + "…"


def check_plot(
    name: str, shape: Any, *, walked: bool = False, repair: bool = False, most_crossings: int | None = None
) -> Plot | Fault:
    """Check a boundary and make it a plot.

    Parameters
    ----------
    name
        The plot's name, cleaned.
    shape
        A shape in degrees on WGS 84; it may still be crossed.
    walked
        Whether the boundary was walked with a receiver.
    repair
        Whether to mend crossed corners, saying how the acres changed.
    most_crossings
        In how many places the boundary may cross itself to be mended, or its acres mended be told: mending takes
        the longer the more there are. None for no limit.

    Returns
    -------
    The plot, or what is wrong with it, so that all bad plots can be refused together.
    """
    reason = _outside_the_world(shape)
    if reason:
        return Fault(name, reason)
    kept: list[Any] = []
    notes: list[Note] = []
    for part in flatten(shape):
        good, said, reason = _check_part(part, name=name, repair=repair, most_crossings=most_crossings)
        if reason:
            return Fault(name, reason)
        notes += said
        kept.extend(shapely.get_parts(good))
    whole = kept[0] if len(kept) == 1 else shapely.multipolygons(kept)
    if len(kept) > 1:
        apart, note, reason = _check_apart(kept, name=name, repair=repair)
        if reason:
            return Fault(name, reason)
        if note:
            notes.append(note)
        whole = apart
    area_m2 = geodesic_area_m2(whole)
    if area_m2 < _SMALLEST_PLOT_M2:
        return Fault(name, "encloses no ground. Draw the line round the plot.")
    if area_m2 > _LARGEST_LIKELY_M2:
        words = f"has {area_m2 / ACRE_M2:,.0f} acres, more than any plot. Check that its coordinates are degrees."
        notes.append(Note("doubtful", name, words))
    return Plot(name=name, shape=whole, walked=walked, notes=tuple(notes))


def refuse_faults(faults: list[Fault], *, where: str) -> None:
    """Refuse all bad plots of a file together, by name and place.

    Raises
    ------
    BoundaryError
        Where there is at least one.
    """
    if faults:
        shown = " ".join(f"{fault.name}: {fault.reason}" for fault in faults[:20])
        more = f" And {len(faults) - 20} more." if len(faults) > 20 else ""
        raise BoundaryError(f"{where}: {shown}{more}")


def plane_shape(shape: Any, *, frame: Frame) -> Any:
    """Turn a plot's shape in degrees into valid polygons in metres; parts that touch become one."""
    plane = frame.shape_to_plane(shape)
    if shapely.is_valid(plane):
        return plane
    parts = shapely.get_parts(plane)
    return robust(shapely.union_all, parts) if bool(shapely.is_valid(parts).all()) else mend(plane)


def _outside_the_world(shape: Any) -> str:
    if shape is None or shapely.is_empty(shape):
        return "has no corners. Draw it again, or take it out of the file."
    if not bool((shapely.get_dimensions(flatten(shape)) == 2).all()):
        kind = "point" if shapely.get_type_id(shape) in (0, 4) else "line"
        return f"is a {kind}, not an area. Draw it as a closed shape."
    lonlat = shapely.get_coordinates(shape)
    bad = ~np.isfinite(lonlat).all(axis=1)
    if bad.any():
        return f"corner {int(np.argmax(bad)) + 1} has no usable position. Take that corner out or give it one."
    if (np.abs(lonlat[:, 1]) > 90).any() or (np.abs(lonlat[:, 0]) > 360).any():
        looks = ", but looks like metres or feet" if (np.abs(lonlat) > _LARGEST_DEG).any() else ""
        worst = lonlat[int(np.argmax(np.abs(lonlat[:, 1]) + (np.abs(lonlat[:, 0]) > 360) * 1e9))]
        return (
            f"has a corner at {worst[1]:.10g}, {worst[0]:.10g}, which is no latitude and longitude{looks}. "
            "Write the file with its coordinate system, or in longitude and latitude."
        )
    return ""


def _check_part(part: Any, *, name: str, repair: bool, most_crossings: int | None) -> tuple[Any, list[Note], str]:
    """One polygon, checked: the polygon, what was noted, and why it is refused."""
    part = shapely.force_2d(part)
    rings = [_without_repeats(ring) for ring in [part.exterior, *part.interiors]]
    rings = [rings[0], *[ring for ring in rings[1:] if len(ring) >= 4]]
    if len(rings[0]) < 4:
        return None, [], "has fewer than three different corners. Draw the line round the plot."
    part = shapely.polygons(rings[0], holes=[shapely.linearrings(r) for r in rings[1:]] or None)
    frame = frame_for(part)
    plane = frame.shape_to_plane(part)
    if not np.isfinite(shapely.get_coordinates(plane)).all():
        return None, [], "is too large to measure as a plot. Check its coordinates."
    tangled = most_crossings is not None and seems_tangled(plane, most=most_crossings)
    if not tangled and shapely.is_valid(plane):
        return part, [], ""
    crossing, too_many = crossings(plane, most=None if tangled else most_crossings)
    place, corners = _place_of(crossing, plane=plane, frame=frame)
    if tangled or too_many:
        reason = (
            f"the boundary crosses itself{place}{corners} and in more than {most_crossings:,} places in all, too many "
            f"to mend. Draw it anew, or let more be mended with --limit crossings={2 * (most_crossings or 0)} or more."
        )
        return None, [], reason
    return _mended(plane, place=(place, corners), frame=frame, name=name, repair=repair)


def _place_of(crossing: Crossing | None, *, plane: Any, frame: Frame) -> tuple[str, str]:
    """Where a polygon in the plane is crossed first, in words: the place, and the sides where they are known."""
    # A hole beside its shell crosses nothing: then the hole's first corner is the place.
    at = shapely.get_coordinates(plane.interiors[0])[0] if crossing is None else np.array([crossing.x, crossing.y])
    lon, lat = frame.to_lonlat(at[None, :])[0]
    corners = "" if crossing is None else f" (the sides after corners {crossing.corner_a} and {crossing.corner_b})"
    return f" near {lat:.5f}, {lon:.5f}", corners


def _mended(
    plane: Any, *, place: tuple[str, str], frame: Frame, name: str, repair: bool
) -> tuple[Any, list[Note], str]:
    """A crossed polygon, mended where that changes no acres or was asked for; else why it is refused."""
    at = "".join(place)
    mended = mend(shapely.polygons(plane.exterior))
    if len(plane.interiors):
        holes = mend(shapely.multipolygons([shapely.polygons(hole) for hole in plane.interiors]))
        mended = robust(shapely.difference, mended, holes)
    drawn_m2 = abs(_signed(plane.exterior)) - sum(abs(_signed(hole)) for hole in plane.interiors)
    change = f"{max(drawn_m2, 0) / ACRE_M2:.3f} ac as drawn, {mended.area / ACRE_M2:.3f} ac mended"
    laps = laps_turned(shapely.get_coordinates(plane.exterior))
    # A receiver that wanders turns round and round too, but counts no ground twice.
    round_again = laps > _LAP and drawn_m2 > _TWICE * mended.area
    twice = f"goes round about {laps:.0f} times; one lap is enough." if round_again else ""
    if mended.area < _SMALLEST_PLOT_M2:
        return None, [], "encloses no ground. Draw the line round the plot."
    if abs(mended.area - drawn_m2) <= _SAME_AREA_M2:
        words = f"the boundary touches itself{place[0]}; its acres are not affected."
        return frame.shape_to_lonlat(mended), [Note("read", name, words)], ""
    if repair:
        words = f"the boundary crosses itself{at}; {change}."
        said = [Note("repaired", name, words, lead="repaired: ")]
        said += [Note("doubtful", name, f"it {twice}")] if twice else []
        return frame.shape_to_lonlat(mended), said, ""
    reason = f"the boundary crosses itself{at}. Retrace it there, or mend it with --repair ({change})."
    return None, [], f"{reason} It {twice}" if twice else reason


def laps_turned(xy_m: Any) -> float:
    """How often a ring goes round, by the sum of its turns: 1 for a plain one, however crooked.

    Parameters
    ----------
    xy_m
        Its corners in the plane, closed, shape (n, 2), metres.
    """
    step = np.diff(xy_m, axis=0)
    step = step[np.hypot(step[:, 0], step[:, 1]) > 0]
    if len(step) < 3:
        return 0.0
    after = np.roll(step, -1, axis=0)
    turn = np.arctan2(step[:, 0] * after[:, 1] - step[:, 1] * after[:, 0], (step * after).sum(axis=1))
    return float(abs(turn.sum()) / (2 * np.pi))


def _check_apart(parts: list[Any], *, name: str, repair: bool) -> tuple[Any, Note | None, str]:
    """Parts of one plot must not lie on each other: ground would count twice."""
    frame = frame_for(*parts)
    plane = frame.shape_to_plane(np.array(parts, dtype=object))
    whole = robust(shapely.union_all, plane)
    twice_m2 = float(shapely.area(plane).sum() - whole.area)
    if twice_m2 <= _SAME_AREA_M2:
        return shapely.multipolygons(parts), None, ""
    twice = f"{twice_m2 / ACRE_M2:.3f} ac"
    if repair:
        words = f"its parts lay on each other over {twice}, now counted once."
        return frame.shape_to_lonlat(whole), Note("repaired", name, words, lead="repaired: "), ""
    reason = f"its parts lie on each other over {twice}. Draw them apart, or join them with --repair."
    return None, None, reason


def _without_repeats(ring: Any) -> Any:
    xy = shapely.get_coordinates(ring)
    keep = np.ones(len(xy), dtype=bool)
    keep[1:] = (np.diff(xy, axis=0) != 0).any(axis=1)
    return xy[keep]


def _signed(ring: Any) -> float:
    xy = shapely.get_coordinates(ring)
    xy = xy - xy[0]
    return float((xy[:-1, 0] * xy[1:, 1] - xy[1:, 0] * xy[:-1, 1]).sum() / 2)
