"""Answers of ``gladebook calibrate``: words and the JSON document of each, from the same figures."""

from dataclasses import dataclass, field
from typing import Any

from gladebook.passes.speed import TrackSpeed
from gladebook.spraying.calibration.by_hand import HandMix
from gladebook.spraying.calibration.course import OUNCE_COURSE_M2, Catch, TimedCourse
from gladebook.spraying.calibration.flow import OFF_SHARE, Output, difference_from
from gladebook.spraying.calibration.spreader import Spread
from gladebook.spraying.calibration.tips import Tips
from gladebook.units import ACRE_M2, FT_M, GAL_M3, IN_M, LB_KG, MPH_MPS, amount_in
from gladebook.view.figures import amount, percent, rate
from gladebook.view.metric import metric
from gladebook.view.tables import plain_table

__all__ = [
    "Told",
    "catch_told",
    "course_told",
    "hand_mix_told",
    "output_told",
    "speed_told",
    "spread_told",
    "tips_told",
    "track_speed_told",
]

_GPM = GAL_M3 / 60
_SQFT = FT_M**2
_SAME = 0.0005  # a share that would be read as 0.0 %


@dataclass(frozen=True)
class Told:
    """An answer: its words, the same in JSON, and the same in metric units for those who ask."""

    words: list[str]
    document: dict[str, Any]
    metric: list[str] = field(default_factory=list)


def speed_words(speed_mps: float) -> str:
    """Miles per hour with the unit, two digits after the point."""
    return f"{speed_mps / MPH_MPS:.2f} mph"


def flow_words(flow_m3_per_s: float) -> str:
    """Gallons and fluid ounces a minute."""
    return f"{flow_m3_per_s / _GPM:.4g} gal/min ({flow_m3_per_s * 60 / GAL_M3 * 128:.1f} fl oz/min)"


def output_told(output: Output, *, wide: bool, wanted_m: float | None = None) -> Told:
    """The nozzle's equation with its answer first; `wide` for a boomless nozzle, whose swath is in feet."""
    width = f"{output.width_m / FT_M:.4g} ft swath" if wide else f"{output.width_m / IN_M:.4g} in spacing"
    parts = {
        "flow": flow_words(output.flow_m3_per_s) + (" from the nozzle" if wide else " from each tip"),
        "speed": speed_words(output.speed_mps),
        "width": width,
        "gallons per acre": rate_words(output.rate_m),
    }
    rest = ", ".join(told for name, told in parts.items() if name != output.answered)
    words = [f"{parts[output.answered]}: that goes with {rest}."]
    document: dict[str, Any] = {
        "answered": output.answered,
        "flow_gal_per_min": output.flow_m3_per_s / _GPM,
        "speed_mph": output.speed_mps / MPH_MPS,
        "width_in": output.width_m / IN_M,
        "rate_gal_per_ac": output.rate_m * ACRE_M2 / GAL_M3,
    }
    if wanted_m is not None:
        share, adjust = difference_from(output.rate_m, wanted_m=wanted_m)
        words.append(_wanted_words(share, wanted_m=wanted_m, adjust=adjust))
        document |= {"wanted_gal_per_ac": wanted_m * ACRE_M2 / GAL_M3, "off": share, "adjust": adjust}
    in_metric = [
        (
            f"In metric: {metric(output.flow_m3_per_s, kind='volume per time')}, "
            f"{metric(output.speed_mps, kind='speed')}, "
            f"{metric(output.width_m, kind='length')}, {metric(output.rate_m, kind='volume per area')}."
        )
    ]
    return Told(words, document, in_metric)


def rate_words(rate_m: float) -> str:
    """Gallons per acre, two digits after the point."""
    return f"{rate_m * ACRE_M2 / GAL_M3:,.2f}".rstrip("0").rstrip(".") + " gal/ac"


def _wanted_words(share: float, *, wanted_m: float, adjust: bool) -> str:
    side = "over" if share > 0 else "under"
    told = f"That is {100 * abs(share):.1f} % {side} the {rate(wanted_m)} you want: "
    limit = percent(OFF_SHARE)
    return told + (
        f"more than {limit}, so change speed, pressure or tips and try again." if adjust else f"within {limit}."
    )


def course_told(*, width_m: float, length_m: float, share: str) -> Told:
    """How long the course must be."""
    eighth = share == "1/8"
    width = f"{width_m / FT_M:.4g} ft swath" if eighth else f"{width_m / IN_M:.4g} in spacing"
    unit = "pints" if eighth else "fluid ounces"
    words = [
        f"Course for a {width}: {length_m / FT_M:.1f} ft ({share} acre).",
        (
            f"Time how long you take to drive it as you spray. Then catch for that time, standing still at the same "
            f"pressure: "
            f"{unit} caught from all tips that serve this width are gallons per acre."
        ),
    ]
    document = {"width_in": width_m / IN_M, "course_ft": length_m / FT_M, "acre_share": share, "caught_unit": unit}
    return Told(words, document, [f"In metric: a course of {metric(length_m, kind='length')}."])


def catch_told(catch: Catch, *, wanted_m: float | None = None) -> Told:
    """Gallons per acre from a catch."""
    caught = amount(amount_in(catch.caught_m3, unit="fl oz"), unit="fl oz")
    ground = f"{catch.ground_m2 / _SQFT:,.1f} sq ft"
    if abs(catch.ground_m2 / OUNCE_COURSE_M2 - 1) < 1e-9:
        ground = "1/128 acre (340.3 sq ft)"
    mean = f", the mean of {catch.catches} catches," if catch.catches > 1 else ""
    words = [f"{rate_words(catch.rate_m)}: {caught}{mean} in the time that it takes to cover {ground}."]
    document: dict[str, Any] = {
        "rate_gal_per_ac": catch.rate_m * ACRE_M2 / GAL_M3,
        "caught_fl_oz": amount_in(catch.caught_m3, unit="fl oz"),
        "ground_sq_ft": catch.ground_m2 / _SQFT,
        "catches": catch.catches,
    }
    if wanted_m is not None:
        share, adjust = difference_from(catch.rate_m, wanted_m=wanted_m)
        words.append(_wanted_words(share, wanted_m=wanted_m, adjust=adjust))
        document |= {"wanted_gal_per_ac": wanted_m * ACRE_M2 / GAL_M3, "off": share, "adjust": adjust}
    return Told(words, document, [f"In metric: {metric(catch.rate_m, kind='volume per area')}."])


def hand_mix_told(mix: HandMix, *, spot: bool) -> Told:
    """Product for a backpack or handgun."""
    words = [f"{amount(mix.per_gallon, unit=mix.unit)} of product in each gallon of spray."]
    if mix.per_tank is not None and mix.tank_m3 is not None:
        words.append(f"{amount(mix.per_tank, unit=mix.unit)} in a full tank of {mix.tank_m3 / GAL_M3:.4g} gal.")
    if mix.covers_m2 is not None:
        words.append(f"A full tank covers {mix.covers_m2 / _SQFT:,.0f} sq ft ({mix.covers_m2 / ACRE_M2:.3f} ac).")
    if spot:
        words.append(
            "A mix by percent has no rate per acre until you know how much ground you sprayed: measure it, and hold "
            "what "
            "you used against the most per acre on your label."
        )
    document = {
        "product_per_gal": mix.per_gallon,
        "product_per_tank": mix.per_tank,
        "product_unit": mix.unit,
        "tank_gal": None if mix.tank_m3 is None else mix.tank_m3 / GAL_M3,
        "covers_sq_ft": None if mix.covers_m2 is None else mix.covers_m2 / _SQFT,
    }
    return Told(words, document)


def speed_told(course: TimedCourse) -> Told:
    """Speed over a timed course."""
    runs = len(course.times_s)
    mean_s = sum(course.times_s) / runs
    words = [f"{speed_words(course.speed_mps)}: {course.course_m / FT_M:.4g} ft in {mean_s:.4g} s."]
    if runs > 1:
        words[0] = words[0][:-1] + f" on average of {runs} runs."
    if runs > 1 and course.spread > 0.1:
        words.append(f"The runs differ by {percent(course.spread)}: hold the speed steadier, and time it again.")
    if runs < 3:
        words.append("Three runs or more, with the tank half full, tell it better.")
    document = {
        "speed_mph": course.speed_mps / MPH_MPS,
        "course_ft": course.course_m / FT_M,
        "times_s": list(course.times_s),
        "spread": course.spread,
    }
    return Told(words, document, [f"In metric: {metric(course.speed_mps, kind='speed')}."])


def track_speed_told(speed: TrackSpeed, *, name: str) -> Told:
    """Speed from a track."""
    what = "with the boom on" if speed.boom_on else "while driving; the track records no boom"
    words = [
        f"{speed_words(speed.speed_mps)} {what} ({name}): half of the time slower, half of it faster.",
        (
            f"Eight tenths of the time it was between {speed_words(speed.low_mps)} and "
            f"{speed_words(speed.high_mps)}, over {speed.seconds / 60:.0f} min."
        ),
    ]
    document = {
        "speed_mph": speed.speed_mps / MPH_MPS,
        "low_mph": speed.low_mps / MPH_MPS,
        "high_mph": speed.high_mps / MPH_MPS,
        "seconds": speed.seconds,
        "boom_on": speed.boom_on,
    }
    return Told(words, document, [f"In metric: {metric(speed.speed_mps, kind='speed')}."])


_DO = {"good": "good", "clean": "clean it, catch again", "replace": "replace it"}


def tips_told(tips: Tips) -> Told:
    """Tips one by one, and what to do with each."""
    bad = {word: [t.number for t in tips.tips if t.word == word] for word in ("clean", "replace")}
    words = ["All tips are within 5 % of each other's mean."]
    if bad["clean"] or bad["replace"]:
        parts = [
            f"{do} tip{'s' if len(bad[word]) > 1 else ''} {', '.join(map(str, bad[word]))}"
            for word, do in (("replace", "replace"), ("clean", "clean"))
            if bad[word]
        ]
        told = " and ".join(parts)
        words = [f"{told[0].upper()}{told[1:]}."]
    mean_oz = amount_in(tips.mean_m3, unit="fl oz")
    words.append(f"Mean catch {mean_oz:.2f} fl oz; the tips vary by {100 * tips.variation:.1f} % (standard deviation).")
    new = any(t.off_new is not None for t in tips.tips)
    header = ["Tip", "Caught fl oz", "Off the mean", *(["Off a new tip"] if new else []), "Do"]
    rows = [
        [
            str(t.number),
            f"{amount_in(t.caught_m3, unit='fl oz'):.1f}",
            f"{100 * t.off_mean:+.1f} %",
            *([f"{100 * (t.off_new or 0):+.1f} %"] if new else []),
            _DO[t.word],
        ]
        for t in tips.tips
    ]
    words += ["", plain_table(header, rows).rstrip("\n")]
    if not new:
        words += [
            "",
            "Tips that are worn alike look good among themselves: catch a new one too, and give it with --new.",
        ]
    document = {
        "mean_fl_oz": mean_oz,
        "variation": tips.variation,
        "tips": [
            {
                "number": t.number,
                "caught_fl_oz": amount_in(t.caught_m3, unit="fl oz"),
                "off_mean": t.off_mean,
                "off_new": t.off_new,
                "do": t.word,
            }
            for t in tips.tips
        ],
    }
    return Told(words, document)


def _off_words(off: float) -> str:
    if abs(off) < _SAME:
        return "One trip gives just what it should."
    told = f"One trip gives {100 * abs(off):.1f} % {'more' if off > 0 else 'less'} than it should: "
    if abs(off) <= OFF_SHARE + 1e-9:
        return told + f"within {percent(OFF_SHARE)}."
    return told + "change the gate or the speed, and try again."


def spread_told(spread: Spread) -> Told:
    """What a spreader puts out, and how to set it."""
    per_acre = ACRE_M2 / LB_KG
    words = [
        (
            f"{spread.rate_kg_per_m2 * per_acre:,.1f} lb/ac: {spread.weight_kg / LB_KG:.4g} lb on "
            f"{spread.ground_m2 / _SQFT:,.0f} sq ft."
        )
    ]
    if spread.wanted_kg_per_m2 is not None and spread.set_for_kg_per_m2 is not None and spread.off is not None:
        wanted = f"{spread.wanted_kg_per_m2 * per_acre:,.4g} lb/ac"
        if spread.trips > 1:
            words.append(
                f"For {wanted} in all, set it for {spread.set_for_kg_per_m2 * per_acre:,.4g} lb/ac and go over the "
                f"plot "
                "twice, the second time crosswise. That doubles on purpose: do not call it overlap."
            )
        words.append(_off_words(spread.off))
    words.append("The swath is what one trip truly serves, from trip to trip, which is less than the throw.")
    document = {
        "rate_lb_per_ac": spread.rate_kg_per_m2 * per_acre,
        "ground_sq_ft": spread.ground_m2 / _SQFT,
        "wanted_lb_per_ac": None if spread.wanted_kg_per_m2 is None else spread.wanted_kg_per_m2 * per_acre,
        "set_for_lb_per_ac": None if spread.set_for_kg_per_m2 is None else spread.set_for_kg_per_m2 * per_acre,
        "off": spread.off,
        "trips": spread.trips,
    }
    return Told(words, document, [f"In metric: {metric(spread.rate_kg_per_m2, kind='weight per area')}."])
