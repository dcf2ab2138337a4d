"""What every boundary reader hands on: rows of shapes with their fields, and their coordinate system."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError, ProjError

from gladebook.errors import CallError, InputError, MissingCrs, UnreadableFile
from gladebook.geometry.validity import flatten
from gladebook.io.limits import LIMITS, Limits, beyond
from gladebook.io.sound import surely_sound
from gladebook.notes import Note, left_out
from gladebook.plots.doubts import Doubt, boundary_doubts, odd_places, said_together, spread_doubt, states_area
from gladebook.plots.plot import Fault, Plot, check_plot, clean_name, refuse_faults

__all__ = ["Row", "Rows", "crs_from", "crs_name", "plots_from"]

_WGS84 = CRS.from_epsg(4326)
_ROUGH_M = 5.0
_MANY = 50  # from here on a look at all shapes together saves time
_KINDS = {0: "points", 1: "lines", 2: "lines"}


@dataclass(frozen=True)
class Row:
    """One feature of a file.

    Attributes
    ----------
    fields : its attributes as the file has them.
    shape : its shape, in the file's coordinates; None where it has none.
    walked : true where the shape is a walk with a receiver.
    fault : why the shape cannot be used, as a sentence; empty where it can.
    """

    fields: Mapping[str, Any]
    shape: Any
    walked: bool = False
    fault: str = ""


@dataclass(frozen=True)
class Rows:
    """All features of a file in its order.

    Attributes
    ----------
    source : the file's name, for messages.
    rows : the features.
    crs : the coordinate system that the file states; None where it states none that is known.
    crs_said : what it says instead, for the message.
    notes : what the reader did, took for granted or left out.
    """

    source: str
    rows: tuple[Row, ...]
    crs: CRS | None
    notes: tuple[Note, ...] = ()
    crs_said: str = ""


def crs_from(text: str, *, what: str) -> CRS:
    """Understand a coordinate system as users and files write it, such as ``EPSG:26916``.

    Raises
    ------
    CallError
        Where it is not known.
    """
    try:
        return CRS.from_user_input(text)
    except (CRSError, UnicodeError):
        raise CallError(f'{what}: "{text[:60]}" is no known coordinate system; write it like EPSG:26916.') from None


def plots_from(
    rows: Rows, *, name_field: str | None, crs: CRS | None, repair: bool, limits: Limits = LIMITS
) -> list[Plot]:
    """Turn rows into plots on WGS 84, named, checked, in the file's order.

    Raises
    ------
    MissingCrs
        Where neither the file nor the call states the coordinate system.
    BoundaryError
        Where boundaries are bad: all of them together, by name and place.
    UnreadableFile
        Where the file holds no area at all, lacks the field of names, or goes beyond a limit.
    """
    notes = list(rows.notes)
    areas = _areas_only(rows, notes=notes, limits=limits)
    to_wgs84 = _way_to_wgs84(rows, given=crs, notes=notes)
    names = _names(rows, areas, name_field=name_field)
    shapes = np.array([None if row.fault else row.shape for row in areas], dtype=object)
    if to_wgs84 is not None:
        shapes = _transformed(shapes, to_wgs84, source=rows.source)
    sound = surely_sound(shapes) if len(shapes) >= _MANY else np.zeros(len(shapes), dtype=bool)
    placed = sound & ~odd_places(shapes)
    says_area: dict[tuple[str, ...], bool] = {}  # by the names of fields, which most rows share
    plots: list[Plot] = []
    faults: list[Fault] = []
    doubts: dict[int, tuple[Doubt, ...]] = {}  # by the number of the plot
    for row, name, shape, sure, fine in zip(areas, names, shapes, sound.tolist(), placed.tolist(), strict=True):
        if row.fault:
            faults.append(Fault(name, row.fault))
            continue
        columns = tuple(row.fields)
        if fine and columns not in says_area:
            says_area[columns] = states_area(row.fields)
        if fine and not says_area[columns]:
            plots.append(Plot(name, shape, row.walked))
            continue
        most = limits.crossings
        checked = (
            Plot(name, shape, row.walked)
            if sure
            else check_plot(name, shape, walked=row.walked, repair=repair, most_crossings=most)
        )
        if isinstance(checked, Fault):
            faults.append(checked)
        else:
            doubts[len(plots)] = boundary_doubts(checked.shape, fields=row.fields)
            plots.append(checked)
    refuse_faults(faults, where=rows.source)
    notes += _doubted(plots, doubts, source=rows.source)
    if spread := spread_doubt(np.array([plot.shape for plot in plots], dtype=object)):
        notes.append(Note("doubtful", rows.source, spread))
    if plots and notes:
        first = plots[0]
        plots[0] = Plot(first.name, first.shape, first.walked, (*notes, *first.notes))
    return plots


def _doubted(plots: list[Plot], doubts: Mapping[int, tuple[Doubt, ...]], *, source: str) -> list[Note]:
    """Add doubts to the plots that have them; what many plots have is said of the file, once."""
    notes, told = said_together([(plots[i].name, d) for i, found in doubts.items() for d in found], source=source)
    for i, found in doubts.items():
        if own := tuple(Note("doubtful", plots[i].name, d.words) for d in found if d not in told):
            plots[i] = replace(plots[i], notes=(*plots[i].notes, *own))
    return notes


def _areas_only(rows: Rows, *, notes: list[Note], limits: Limits) -> list[Row]:
    if len(rows.rows) > limits.rows:
        raise beyond(
            rows.source,
            f"has {len(rows.rows):,} rows, and at most {limits.rows:,} are read",
            limit="rows",
            limits=limits,
            instead="Give the part that holds your plots",
        )
    kept: list[Row] = []
    counts: Counter[str] = Counter()
    first: dict[str, list[str]] = {}
    whole = _single_areas(rows)
    for number, (row, single) in enumerate(zip(rows.rows, whole.tolist(), strict=True), start=1):
        if row.fault or single:
            kept.append(row)
            continue
        parts = flatten(row.shape)
        flat = shapely.get_dimensions(parts) == 2
        why, count = _left_out(parts, flat)
        if why:
            counts[why] += count
            first.setdefault(why, []).append(_name_in(row, field_name="name") or f"row {number}")
        if flat.any():
            areas = parts[flat]
            kept.append(Row(row.fields, areas[0] if len(areas) == 1 else shapely.multipolygons(areas), row.walked))
    if not kept:
        counted = ", ".join(f"{kind} ({n})" for kind, n in counts.items())
        holds = f"only {counted}" if counted else "nothing"
        raise UnreadableFile(f"{rows.source}: holds no area, {holds}. Draw each plot as a closed shape.")
    for why, count in counts.items():
        notes.append(left_out(rows.source, why, count=count, names=first[why], because="a plot is an area"))
    _refuse_long_rings(kept, source=rows.source, limits=limits)
    return kept


def _left_out(parts: Any, flat: Any) -> tuple[str, int]:
    """What of a feature is no area, and how many there are; empty and none where all of it is."""
    if not len(parts):
        return "rows without a shape", 1
    if not flat.any():
        return _KINDS.get(int(shapely.get_type_id(parts[0])), "shapes of other kinds"), 1
    return ("", 0) if flat.all() else ("points and lines beside an area", int((~flat).sum()))


def _single_areas(rows: Rows) -> Any:
    """Which rows are one polygon and nothing else, as most are."""
    shapes = np.array([None if row.fault else row.shape for row in rows.rows], dtype=object)
    return (shapely.get_type_id(shapes) == 3) & ~shapely.is_empty(shapes)


def _refuse_long_rings(rows: list[Row], *, source: str, limits: Limits) -> None:
    shapes = np.array([None if row.fault else row.shape for row in rows], dtype=object)
    large = shapes[shapely.get_num_coordinates(shapes) > limits.ring_corners]
    rings = shapely.get_rings(shapely.get_parts(large))
    longest = int(shapely.get_num_coordinates(rings).max(initial=0))
    if longest > limits.ring_corners:
        raise beyond(
            source,
            f"has {longest:,} corners in one ring, and at most {limits.ring_corners:,} are read",
            limit="ring_corners",
            limits=limits,
            instead="Draw the boundary with fewer corners",
        )


def _names(rows: Rows, areas: list[Row], *, name_field: str | None) -> list[str]:
    wanted = (name_field or "name").lower()
    if name_field is not None and not any(wanted in (k.lower() for k in row.fields) for row in areas):
        known = sorted({str(k) for row in areas for k in row.fields})[:20]
        has = ", ".join(known) or "none"
        raise UnreadableFile(f'{rows.source}: has no field "{name_field}". Its fields: {has}.')
    names: list[str] = []
    for number, row in enumerate(areas, start=1):
        names.append(_name_in(row, field_name=wanted) or f"Plot {number}")
    return names


def _name_in(row: Row, *, field_name: str) -> str:
    """What a feature is called by one of its fields, in small letters; empty where it has no name."""
    value = None
    for key, held in row.fields.items():  # a plain loop: it runs for each row
        if key.lower() == field_name:
            value = held
            break
    if isinstance(value, float) and value.is_integer():
        value = int(value)  # a column of whole numbers with an empty cell comes as decimals
    return "" if value is None or value != value else clean_name(str(value))  # noqa: PLR0124 - not-a-number


def _way_to_wgs84(rows: Rows, *, given: CRS | None, notes: list[Note]) -> Transformer | None:
    stated = rows.crs
    if stated is None and given is None:
        raise MissingCrs(
            f"{rows.source}: {rows.crs_said or 'does not state its coordinate system'}, and none is guessed. "
            "Say which it is, like --crs EPSG:26916, or export the file with it."
        )
    if stated is not None and given is not None and not stated.equals(given, ignore_axis_order=True):
        words = f"states {crs_name(stated)}; --crs was not needed and not used."
        notes.append(Note("read", rows.source, words))
    used = stated if stated is not None else given
    assert used is not None
    if stated is None:
        notes.append(Note("read", rows.source, f"read as {crs_name(used)}, as --crs says."))
    horizontal = used.sub_crs_list[0] if used.is_compound else used
    if not (horizontal.is_geographic or horizontal.is_projected):
        raise InputError(
            f"{rows.source}: {crs_name(used)} is no coordinate system for a map. Say which one it is in, "
            "like --crs EPSG:26916."
        )
    used = horizontal.to_2d() if len(horizontal.axis_info) > 2 else horizontal
    if used.equals(_WGS84, ignore_axis_order=True) or used.equals(CRS.from_user_input("OGC:CRS84")):
        return None
    try:
        way = Transformer.from_crs(used, _WGS84, always_xy=True)
    except ProjError:
        way = None
    if way is None:
        raise InputError(
            f"{rows.source}: its coordinate system, {crs_name(used)}, has no way to latitude and longitude. "
            "Export the file in longitude and latitude (WGS 84)."
        )
    if way.accuracy > _ROUGH_M:
        words = f"{crs_name(used)} was turned into WGS 84 to within {way.accuracy:g} m; acres are not affected."
        notes.append(Note("read", rows.source, words))
    return way


def _transformed(shapes: Any, way: Transformer, *, source: str) -> Any:
    def turn(xy: Any) -> Any:
        lon, lat = way.transform(xy[:, 0], xy[:, 1])
        return np.column_stack([lon, lat])

    flat = shapely.force_2d(shapes)
    if not shapely.get_num_coordinates(flat).any():
        return flat
    turned = shapely.transform(flat, turn)
    before, after = (np.isfinite(shapely.get_coordinates(s)).all(axis=1) for s in (flat, turned))
    if not after[before].all():
        raise InputError(
            f"{source}: its coordinates do not fit its coordinate system. Check which system it was drawn in, "
            "and export it again."
        )
    return turned


def crs_name(crs: CRS) -> str:
    """A coordinate system as people know it: its name, and its number where it has one."""
    code = crs.to_authority()
    return f"{crs.name.removesuffix(f' ({code[1]})')} ({code[0]}:{code[1]})" if code else str(crs.name)
