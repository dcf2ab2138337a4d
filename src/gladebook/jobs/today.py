"""May this be sprayed here today? All that a property knows of the plot, under what the call says."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, tzinfo
from pathlib import Path
from typing import Any

from gladebook.errors import CallError
from gladebook.io.labels import read_labels
from gladebook.io.weather import read_weather
from gladebook.jobs.growing import growing_of, history_of, in_tank, plot_of
from gladebook.jobs.labels import KeptLabel, answers_of, labels_of
from gladebook.jobs.listed import refuse_several_no
from gladebook.jobs.named import same
from gladebook.plots.acreage import measure_plots
from gladebook.plots.plot import Plot
from gladebook.plots.sureness import PositionError
from gladebook.products.label import Label, Strength
from gladebook.products.table.all import ingredient_called
from gladebook.products.weed import Weed
from gladebook.records.growing import Growing
from gladebook.records.sprayed import InTank
from gladebook.season.case import Case, Planned
from gladebook.season.today import Today, check_today
from gladebook.units import Quantity
from gladebook.weather.reading import Reading
from gladebook.weather.sun import sun_times

__all__ = ["Asked", "labels_from", "look_today", "planned_from"]


@dataclass(frozen=True)
class Asked:
    """What the call says; None and empty for what it leaves out.

    Attributes
    ----------
    day : of the spray.
    products : by name, with a rate or without.
    clock : time of the spray.
    zone : in which that time is.
    property_file, plot : what it is about.
    sheets : files of labels, each with whether it is the county's list.
    growing : what grows there, in place of what the property keeps; only what is said.
    weed, weed_height_m : against what.
    last_in_tank, tank_cleaned, tank_new : of the tank.
    weather, weather_file : as typed in, and a file that fills what was not typed in.
    listed : what the user found on the labels, for what has no answer yet; None for not said.
    per_acre : spray volume.
    delta_t : whether it is asked for.
    area_m2 : of the plot, where there is no property.
    """

    day: date
    products: Mapping[str, Quantity | None]
    clock: time | None = None
    zone: tzinfo | None = None
    property_file: Path | None = None
    plot: str = ""
    sheets: tuple[tuple[Path, bool], ...] = ()
    growing: Mapping[str, Any] | None = None
    weed: Weed | None = None
    weed_height_m: float | None = None
    last_in_tank: str = ""
    tank_cleaned: date | None = None
    tank_new: bool = False
    weather: Reading | None = None
    weather_file: Path | None = None
    listed: bool | None = None
    per_acre: Quantity | None = None
    delta_t: bool = False
    area_m2: float | None = None


def labels_from(
    path: Path | None, sheets: Sequence[tuple[Path, bool]]
) -> tuple[tuple[KeptLabel, ...], tuple[str, ...]]:
    """Labels of a property and of sheets, those of sheets first; and what is to be said about them.

    Raises
    ------
    InputError
        Where one cannot be read.
    """
    found: list[KeptLabel] = []
    notices: list[str] = []
    for sheet, county in sheets:
        read = read_labels(sheet, county=county)
        found += [KeptLabel("", label) for label in read.labels]
        notices += read.notices
    if path is not None:
        found += labels_of(path)
    return tuple(found), tuple(notices)


def planned_from(
    products: Mapping[str, Quantity | None], labels: Sequence[KeptLabel], *, path: Path | None = None
) -> tuple[Planned, ...]:
    """Products with what is known of each: the user's label, the county's list, and what was found on the label."""
    found = []
    for name, rate in products.items():
        own = _named(labels, name, whose="label")
        county = _named(labels, name, whose="county list") or _alike(labels, own)
        listed = dict(answers_of(path, name)) if path is not None else {}
        label = own.label if own is not None else _bare(name) if county is None else None
        found.append(Planned(name, label, None if county is None else county.label, rate, listed))
    return tuple(found)


def _named(labels: Sequence[KeptLabel], name: str, *, whose: str) -> KeptLabel | None:
    return next((k for k in labels if k.label.whose == whose and same(k.label.name, name)), None)


def _alike(labels: Sequence[KeptLabel], own: KeptLabel | None) -> KeptLabel | None:
    """What the county lists for the same ingredients."""
    if own is None:
        return None
    mine = {part.ingredient for part in own.label.ingredients}
    county = (k for k in labels if k.label.whose == "county list")
    return next((k for k in county if {part.ingredient for part in k.label.ingredients} == mine), None)


def _bare(name: str) -> Label | None:
    """An ingredient that the table knows, named without a label: all of its label is empty."""
    known = ingredient_called(name)
    return None if known is None else Label(name, (Strength(known.name),))


def look_today(asked: Asked) -> tuple[Today, tuple[str, ...]]:
    """Put the case together and check it; with what was taken for granted, as sentences.

    Raises
    ------
    CallError
        Where something is missing or cannot be.
    InputError
        Where a file cannot be read.
    """
    path, plot = asked.property_file, asked.plot
    if path is not None and not plot:
        raise CallError("--plot: say which plot of the property it is about.")
    labels, notices = labels_from(path, asked.sheets)
    planned = planned_from(asked.products, labels, path=path)
    growing = growing_of(path, plot) if path is not None else Growing()
    growing = replace(growing, **dict(asked.growing or {}))
    if asked.listed is not None:
        _refuse_several_no(asked, planned, growing)
        crops = {f.name: asked.listed for f in growing.forages} or {"bare ground": asked.listed}
        planned = tuple(replace(p, listed={**crops, **p.listed}) for p in planned)
    weather, told = _weather(asked)
    case = Case(
        day=asked.day,
        plot=plot,
        growing=growing,
        planned=planned,
        clock=asked.clock,
        weed=asked.weed,
        weed_height_m=asked.weed_height_m,
        history=history_of(path, plot) if path is not None else (),
        tank=_tank(asked, labels),
        tank_new=asked.tank_new,
        weather=weather,
        delta_t=asked.delta_t,
        per_acre=asked.per_acre,
        area_m2=asked.area_m2,
    )
    if path is not None:
        case = _with_place(case, path, zone=asked.zone)
    return check_today(case), (*notices, *told)


def _refuse_several_no(asked: Asked, planned: Sequence[Planned], growing: Growing) -> None:
    crops = [f.name for f in growing.forages] or ["bare ground"]
    still = {p.product: [crop for crop in crops if crop not in p.listed] for p in planned}
    where = "FILE" if asked.property_file is None else asked.property_file.name
    refuse_several_no(still, answer=asked.listed is True, where=where)


def _tank(asked: Asked, labels: Sequence[KeptLabel]) -> InTank | None:
    if asked.last_in_tank:
        own = _named(labels, asked.last_in_tank, whose="label")
        label = _bare(asked.last_in_tank) if own is None else own.label
        return InTank(asked.last_in_tank, label, None, asked.tank_cleaned)
    kept = in_tank(asked.property_file, until=asked.day) if asked.property_file is not None else None
    if kept is not None and asked.tank_cleaned is not None:
        if kept.day is not None and asked.tank_cleaned < kept.day:
            raise CallError(f"--tank-cleaned: {asked.tank_cleaned} is before {kept.product} of {kept.day} was in it.")
        return replace(kept, cleaned=asked.tank_cleaned)
    return kept


def _weather(asked: Asked) -> tuple[Reading | None, tuple[str, ...]]:
    """What was typed in, over what a file says."""
    if asked.weather_file is None:
        return asked.weather, ()
    if asked.clock is None:
        raise CallError("--weather: needs the time of the spray, like --at 14:30.")
    at = datetime.combine(asked.day, asked.clock, tzinfo=asked.zone)
    read = read_weather(asked.weather_file, at=at)
    typed = {} if asked.weather is None else {k: v for k, v in vars(asked.weather).items() if v not in (None, "")}
    return replace(read.reading, **typed), read.notices


def _with_place(case: Case, path: Path, *, zone: tzinfo | None) -> Case:
    """The case with the plot's acres, and with the sun at the plot where a zone is known."""
    kept = plot_of(path, case.plot)
    measured = measure_plots([Plot(kept.name, kept.shape)], error=PositionError())
    case = replace(case, plot=kept.name, area_m2=measured.plots[0].net_m2 if case.area_m2 is None else case.area_m2)
    if zone is None:
        return case
    middle = kept.shape.centroid
    sun = sun_times(case.day, lon_deg=middle.x, lat_deg=middle.y, zone=zone)
    return replace(case, sunrise=sun.sunrise, sunset=sun.sunset)
