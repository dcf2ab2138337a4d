"""``gladebook today``."""

import math
import sys
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, time, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gladebook.cli import options as o
from gladebook.cli.gallons import acres_m2
from gladebook.cli.season import products_from
from gladebook.cli.show import answer, say
from gladebook.errors import CallError
from gladebook.units import parse_quantity
from gladebook.units.temperature import celsius_from

if TYPE_CHECKING:
    from gladebook.jobs.today import Asked
    from gladebook.season.today import Today
    from gladebook.weather.reading import Reading

__all__ = ["today"]

Text = str | None
File = Annotated[Path | None, typer.Argument(metavar="[FILE]", help="The property file.", show_default=False)]


def _option(flag: str, metavar: str, words: str) -> Any:
    return typer.Option(flag, metavar=metavar, help=words)


def today(
    file: File = None,
    plot: Annotated[str, _option("--plot", "NAME", "Which plot of the property.")] = "",
    product: Annotated[
        list[str],
        _option("--product", "NAME=RATE", 'What goes into the tank, like "Grass spray=8 fl oz/ac"; once for each.'),
    ] = [],  # noqa: B006 - typer copies it
    label_lists: Annotated[
        Text, _option("--label-lists", "yes|no", "Have you read that your labels list this site and every crop there?")
    ] = None,
    labels: Annotated[list[Path], _option("--labels", "SHEET", "Your labels, where the property keeps none.")] = [],  # noqa: B006 - typer copies it
    county: Annotated[list[Path], _option("--county", "SHEET", "The county extension office's list.")] = [],  # noqa: B006 - typer copies it
    day: Annotated[Text, _option("--day", "DAY", "When; today if not given.")] = None,
    at: Annotated[Text, _option("--at", "TIME", 'Time of the spray, like "17:30".')] = None,
    time_zone: o.TimeZone = None,
    wind: Annotated[Text, _option("--wind", "AMOUNT", 'Mean wind, like "6 mph".')] = None,
    gusts: Annotated[Text, _option("--gusts", "AMOUNT", 'Gusts, like "9 mph".')] = None,
    wind_measured: Annotated[
        bool, typer.Option("--wind-measured", help="That wind was measured at the plot, now.")
    ] = False,
    downwind: Annotated[str, _option("--downwind", "WORDS", 'What lies downwind, like "woods" or "garden".')] = "",
    temperature: Annotated[Text, _option("--temperature", "AMOUNT", 'Of the air, like "58 F".')] = None,
    night_low: Annotated[Text, _option("--night-low", "AMOUNT", 'Coldest of the nights around, like "30 F".')] = None,
    humidity: Annotated[Text, _option("--humidity", "AMOUNT", 'Like "55 %".')] = None,
    sky: Annotated[Text, _option("--sky", "clear|cloudy", "The sky.")] = None,
    rain_in: Annotated[Text, _option("--rain-in", "AMOUNT", 'When rain is forecast, like "6 h"; or none.')] = None,
    rain: Annotated[Text, _option("--rain", "AMOUNT", 'How much, like "0.5 in".')] = None,
    weather: Annotated[
        Path | None, _option("--weather", "FILE", "A table of the weather; what you type in beats it.")
    ] = None,
    weed: Annotated[Text, _option("--weed", "NAME", 'Like "annual ryegrass".')] = None,
    weed_height: Annotated[Text, _option("--weed-height", "AMOUNT", 'Like "4 in".')] = None,
    forage: Annotated[Text, _option("--forage", "NAMES", 'What grows there, like "white clover, oat".')] = None,
    stage: Annotated[Text, _option("--stage", "WORDS", 'How far it is, like "3 trifoliate leaves".')] = None,
    next_crop: Annotated[Text, _option("--next-crop", "NAMES", "What is planted next.")] = None,
    plant_on: Annotated[Text, _option("--plant-on", "DAY", "When that is to be planted.")] = None,
    disk_on: Annotated[Text, _option("--disk-on", "DAY", "When the plot is to be disked.")] = None,
    hunt: Annotated[list[str], _option("--hunt", "DAY", "A day of a hunt there; once for each.")] = [],  # noqa: B006 - typer copies it
    last_in_tank: Annotated[str, _option("--last-in-tank", "NAME", "The product that was last in the tank.")] = "",
    tank_cleaned: Annotated[Text, _option("--tank-cleaned", "DAY", "When it was cleaned since, by its label.")] = None,
    tank_new: Annotated[bool, typer.Option("--tank-new", help="Nothing was in the tank before.")] = False,
    per_acre: o.PerAcre = None,
    acres: Annotated[Text, _option("--acres", "ACRES", "Acres, where there is no property.")] = None,
    delta_t: Annotated[bool, typer.Option("--delta-t", help="Tell Delta-T, how dry the air is.")] = False,
    sprayed_on: Annotated[Text, _option("--sprayed-on", "DAY", "Looking again: when it was sprayed.")] = None,
    alive: Annotated[
        bool | None, typer.Option("--alive/--dead", help="Looking again: is the weed alive or dead?")
    ] = None,
    save: o.Save = None,
    as_json: o.AsJson = False,
    out: o.Out = None,
) -> None:
    """May I spray this plot today? What was not checked comes first, then what stops, then cautions.

    It knows only what you enter and what the property keeps. A stop is only what your label or your own entry forbids.
    With --sprayed-on and --alive or --dead: what to do when you look again.
    """
    options = dict(locals())
    if sprayed_on is not None or alive is not None:
        _look_again(options)
    else:
        _check(options)


def _check(options: Mapping[str, Any]) -> None:
    """Look, ask what is open where somebody can answer, keep the answer, and show."""
    from gladebook.jobs.today import look_today

    asked = _asked(options)
    found, notices = look_today(asked)
    asks = _open_questions(found)
    if asks and asked.listed is None and sys.stdin.isatty() and not options["as_json"]:
        several = " Say yes only if all of them do." if len(asks) > 1 else ""
        asked = replace(asked, listed=typer.confirm(" ".join(asks) + several, default=None, err=True))
        found, notices = look_today(asked)
        asks = _open_questions(found)
    notices = (*_keep_answers(asked, found), *_clock_notice(options), *notices)
    _show(found, options, notices=notices, asks=asks)


def _show(found: "Today", options: Mapping[str, Any], *, notices: tuple[str, ...], asks: list[str]) -> None:
    from gladebook.io.write import as_json as json_text
    from gladebook.view.today import today_document, today_words

    as_json, out, file, save = (options[name] for name in ("as_json", "out", "file", "save"))
    words = today_words(found)
    document = today_document(found, notices=notices, asks=asks)
    if save is not None and file is None:
        raise CallError("--save: keeps the answer in a property file. Give that file.")
    answer(json_text(document) if as_json else "\n".join([*words, ""]), out=out)
    say([*notices], title="Notices")
    say([f"{ask} Answer with --label-lists yes or --label-lists no." for ask in asks], title="Before any amount")
    if found.amounts and (as_json or out is not None):
        say(document["cautions"], title="Cautions")
    if save is not None:
        from gladebook.jobs.keep import keep_answer

        content = {"kind": "today", **document, "words": words}
        say([keep_answer(file, "records", name=save, content=content, day=document["day"])], title="Kept")


def _look_again(options: Mapping[str, Any]) -> None:
    from gladebook.io.write import as_json as json_text
    from gladebook.season.winter_grass import look_again
    from gladebook.view.today import again_document, again_words

    sprayed_on = _day(options["sprayed_on"], what="--sprayed-on")
    if sprayed_on is None:
        raise CallError("--sprayed-on: say when it was sprayed, like 2026-11-20.")
    day = _day(options["day"], what="--day") or _today()
    if day < sprayed_on:
        raise CallError("--sprayed-on: is after the day on which you look.")
    again = look_again(sprayed_on, day=day, alive=options["alive"])
    text = json_text(again_document(again)) if options["as_json"] else "\n".join([*again_words(again), ""])
    answer(text, out=options["out"])


def _today() -> date:
    from gladebook.jobs.property import today as now

    return date.fromisoformat(now())


def _day(text: str | None, *, what: str) -> date | None:
    found = o.day_text(text, what=what)
    return date.fromisoformat(found) if found else None


def _asked(options: Mapping[str, Any]) -> "Asked":
    from gladebook.jobs.today import Asked
    from gladebook.products.weed import weed_from

    clock, zone = _clock(options)
    listed = options["label_lists"]
    if listed not in (None, "yes", "no"):
        raise CallError("--label-lists: say yes or no, after you have read your labels.")
    height = options["weed_height"]
    if options["acres"] is not None and options["file"] is not None:
        raise CallError("--acres: the property knows the acres of its plots. Leave it out.")
    return Asked(
        day=_day(options["day"], what="--day") or _today(),
        products=products_from(options["product"]),
        clock=clock,
        zone=zone,
        property_file=options["file"],
        plot=options["plot"],
        sheets=(*((s, False) for s in options["labels"]), *((s, True) for s in options["county"])),
        growing=_growing(options),
        weed=None if options["weed"] is None else weed_from(options["weed"]),
        weed_height_m=None if height is None else parse_quantity(height, kind="length", what="--weed-height").si,
        last_in_tank=" ".join(options["last_in_tank"].split()),
        tank_cleaned=_day(options["tank_cleaned"], what="--tank-cleaned"),
        tank_new=options["tank_new"],
        weather=_weather(options),
        weather_file=options["weather"],
        listed=None if listed is None else listed == "yes",
        per_acre=_per_acre(options["per_acre"]),
        delta_t=options["delta_t"],
        area_m2=None if options["acres"] is None else acres_m2(options["acres"]),
    )


def _per_acre(text: str | None) -> Any:
    if text is None:
        return None
    found = parse_quantity(text, kind="volume per area", what="--per-acre")
    if found.si <= 0:
        raise CallError("--per-acre: gallons per acre must be above zero.")
    return found


def _clock(options: Mapping[str, Any]) -> tuple[time | None, tzinfo | None]:
    """The time of the spray, and its zone: that of the call, else of this machine, which is said."""
    zone = o.zone(options["time_zone"]) or datetime.now().astimezone().tzinfo
    text = options["at"]
    if text is None:
        return None, zone
    found = o.moment(text, what="--at")
    if not isinstance(found, time) or found.tzinfo is not None:
        raise CallError('--at: takes a time of day, like "17:30"; the day goes to --day, the zone to --time-zone.')
    return found, zone


def _clock_notice(options: Mapping[str, Any]) -> tuple[str, ...]:
    if options["at"] is None or options["time_zone"] is not None:
        return ()
    return (f"The time was taken in the zone of this machine, {datetime.now().astimezone():%Z}. Another: --time-zone.",)


def _growing(options: Mapping[str, Any]) -> dict[str, Any]:
    from gladebook.products.forage import forages_from

    found: dict[str, Any] = {}
    for name, option in (("forages", "forage"), ("next_crop", "next_crop")):
        if options[option] is not None:
            found[name] = forages_from(options[option], what=f"--{option.replace('_', '-')}")
    for name in ("plant_on", "disk_on"):
        if options[name] is not None:
            found[name] = _day(options[name], what=f"--{name.replace('_', '-')}")
    if options["stage"] is not None:
        found["stage"] = " ".join(options["stage"].split())
    if options["hunt"]:
        found["hunts"] = tuple(
            sorted({date.fromisoformat(o.day_text(text, what="--hunt")) for text in options["hunt"]})
        )
    return found


_MOST_WIND_MPS, _MOST_RAIN_M = 60.0, 2.0


def _weather(options: Mapping[str, Any]) -> "Reading | None":
    from gladebook.weather.reading import Reading

    rain_in, humidity = options["rain_in"], options["humidity"]
    if options["sky"] not in (None, "clear", "cloudy"):
        raise CallError("--sky: say clear or cloudy.")
    if options["wind_measured"] and options["wind"] is None:
        raise CallError("--wind-measured: goes with --wind.")
    wet = None if humidity is None else parse_quantity(humidity, kind="percent of volume", what="--humidity").si
    if wet is not None and not 0 < wet <= 1:
        raise CallError("--humidity: must be above 0 % and at most 100 %.")
    none = rain_in is not None and rain_in.strip().lower() in ("none", "no")
    waits = math.inf if none else _amount(options, "rain_in", "time", most=60 * 86_400.0)
    found = Reading(
        measured=True if options["wind_measured"] else None,
        wind_mps=_amount(options, "wind", "speed", most=_MOST_WIND_MPS),
        gust_mps=_amount(options, "gusts", "speed", most=_MOST_WIND_MPS),
        blowing_to=" ".join(options["downwind"].split()),
        temperature_c=_celsius(options, "temperature"),
        night_low_c=_celsius(options, "night_low"),
        humidity=wet,
        sky=options["sky"],
        rain_in_s=waits,
        rain_m=_amount(options, "rain", "length", most=_MOST_RAIN_M),
    )
    return None if found == Reading() else found


def _amount(options: Mapping[str, Any], name: str, kind: Any, *, most: float) -> float | None:
    text, what = options[name], f"--{name.replace('_', '-')}"
    if text is None:
        return None
    found = parse_quantity(text, kind=kind, what=what).si
    if not 0 <= found <= most:
        raise CallError(f'{what}: "{text}" cannot be. Check figure and unit.')
    return found


def _celsius(options: Mapping[str, Any], name: str) -> float | None:
    text = options[name]
    return None if text is None else celsius_from(text, what=f"--{name.replace('_', '-')}")


def _open_questions(found: "Today") -> list[str]:
    """The question before any amount, for each product whose label was not looked up for every crop."""
    from gladebook.jobs.labels import listed_question
    from gladebook.season.checks.site import crops_of

    crops = crops_of(found.case)
    return [
        listed_question(planned.product, missing)
        for planned in found.case.planned
        if (missing := [crop for crop in crops if crop not in planned.listed])
    ]


def _keep_answers(asked: "Asked", found: "Today") -> tuple[str, ...]:
    """Keep in the property what was found on the labels, where it is new."""
    if asked.listed is None or asked.property_file is None:
        return ()
    from gladebook.jobs.labels import answers_of, keep_listed
    from gladebook.season.checks.site import crops_of

    crops = crops_of(found.case)
    kept = []
    for planned in found.case.planned:
        before = answers_of(asked.property_file, planned.product)
        new = [crop for crop in crops if crop not in before]
        if new:
            kept.append(
                keep_listed(
                    asked.property_file, planned.product, crops=new, answer=asked.listed, day=_today().isoformat()
                )
            )
    return tuple(kept)
