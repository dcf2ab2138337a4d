"""``gladebook calibrate``: what to set on the sprayer or spreader, and what it puts out."""

from pathlib import Path
from typing import Annotated

import typer

from gladebook.cli import calibrate_parts as parts
from gladebook.cli import options as o
from gladebook.cli.calibrate_show import Caught, Flow, Metric, Spacing, Speed, Swath, Text, all_si, must, show, si
from gladebook.errors import CallError
from gladebook.units import Quantity, parse_quantity

__all__ = ["app"]

app = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    help="What to set on the sprayer or spreader, and what it truly puts out. Use clean water and wear your gloves: a "
    "rinsed sprayer still holds some product.",
)

PerAcre = Annotated[Text, typer.Option("--per-acre", metavar="AMOUNT", help='Spray volume, like "15 gal/ac".')]
Want = Annotated[Text, typer.Option("--want", metavar="AMOUNT", help='What you want, like "15 gal/ac".')]
Time = Annotated[
    list[str], typer.Option("--time", metavar="AMOUNT", help='How long a run took, like "34 s"; once for each run.')
]
Course = Annotated[Text, typer.Option("--course", metavar="AMOUNT", help='Length of the course, like "200 ft".')]
Tank = Annotated[Text, typer.Option("--tank", metavar="AMOUNT", help='What the tank holds, like "3 gal".')]


@app.command("boom", short_help="Tip flow, speed, spacing, gallons per acre: three give the fourth.")
def boom(
    flow: Flow = None,
    speed: Speed = None,
    spacing: Spacing = None,
    per_acre: PerAcre = None,
    want: Want = None,
    metric: Metric = False,
    as_json: o.AsJson = False,
    out: o.Out = None,
) -> None:
    """Flow of one tip, speed, spacing and gallons per acre: give any three, and the fourth is told."""
    _output(flow, speed, per_acre, want, width=si(spacing, kind="length", what="--spacing"), wide=False,
            shown={"metric": metric, "as_json": as_json, "out": out})  # fmt: skip


@app.command("boomless", short_help="The same for a boomless nozzle and its swath.")
def boomless(
    flow: Flow = None,
    speed: Speed = None,
    swath: Swath = None,
    per_acre: PerAcre = None,
    want: Want = None,
    metric: Metric = False,
    as_json: o.AsJson = False,
    out: o.Out = None,
) -> None:
    """Flow of all boomless nozzles, speed, effective swath and gallons per acre: give any three."""
    _output(flow, speed, per_acre, want, width=si(swath, kind="length", what="--swath"), wide=True,
            shown={"metric": metric, "as_json": as_json, "out": out})  # fmt: skip


def _output(
    flow: str | None,
    speed: str | None,
    per_acre: str | None,
    want: str | None,
    *,
    width: float | None,
    wide: bool,
    shown: dict[str, object],
) -> None:
    from gladebook.spraying.calibration.flow import output_of
    from gladebook.view.calibrate import output_told

    output = output_of(
        flow_m3_per_s=si(flow, kind="volume per time", what="--flow"),
        speed_mps=si(speed, kind="speed", what="--speed"),
        width_m=width,
        rate_m=si(per_acre, kind="volume per area", what="--per-acre"),
    )
    wanted = si(want, kind="volume per area", what="--want")
    if wanted is not None and per_acre is not None:
        raise CallError(
            "--want: compares what you get with what you want; with --per-acre there is nothing to compare."
        )
    show(output_told(output, wide=wide, wanted_m=wanted), **shown)  # type: ignore[arg-type]  # as its callers have them


@app.command("catch", short_help="The course for any spacing; ounces caught on it are gallons per acre.")
def catch(
    spacing: Spacing = None,
    swath: Swath = None,
    caught: Caught = [],  # noqa: B006 - typer copies it
    want: Want = None,
    metric: Metric = False,
    as_json: o.AsJson = False,
    out: o.Out = None,
) -> None:
    """The 1/128-acre catch. With --spacing: how long the course is. With --caught: gallons per acre.

    Catch all tips that serve one spacing (or row) together; for broadcast, catch single tips, which are averaged. With
    --swath, for a boomless nozzle: a course of 1/8 acre, on which pints are gallons per acre.
    """
    from gladebook.spraying.calibration.course import OUNCE_COURSE_M2, PINT_COURSE_M2, catch_rate, course_length
    from gladebook.view.calibrate import Told, catch_told, course_told

    if spacing is not None and swath is not None:
        raise CallError("--spacing is for tips on a boom, --swath for a boomless nozzle. Give one of them.")
    if not caught and spacing is None and swath is None:
        raise CallError(
            'Give --spacing "20 in" (or --swath "30 ft") for the course, or --caught "14 fl oz" for the rate.'
        )
    wide = swath is not None
    width = si(swath, kind="length", what="--swath") if wide else si(spacing, kind="length", what="--spacing")
    told = Told([], {})
    if width is not None:
        share = "1/8" if wide else "1/128"
        told = course_told(width_m=width, length_m=course_length(width_m=width, share=share), share=share)  # type: ignore[arg-type]  # one of the two
    if caught:
        found = catch_rate(
            all_si(caught, kind="volume", what="--caught"), ground_m2=PINT_COURSE_M2 if wide else OUNCE_COURSE_M2
        )
        more = catch_told(found, wanted_m=si(want, kind="volume per area", what="--want"))
        told = Told([*more.words, *told.words[:1]], {**told.document, **more.document}, [*more.metric, *told.metric])
    show(told, as_json=as_json, out=out, metric=metric)


@app.command("handgun", short_help="Handgun or backpack: gallons per acre, and product in each tank.")
def handgun(
    ground: Annotated[
        Text,
        typer.Option(
            "--ground", metavar="AMOUNT", help='Ground that you sprayed, like "1000 sq ft"; 340 sq ft if not given.'
        ),
    ] = None,
    caught: Caught = [],  # noqa: B006 - typer copies it
    rate: Annotated[
        Text, typer.Option("--rate", metavar="AMOUNT", help='Product from your label, like "1 qt/ac".')
    ] = None,
    percent: Annotated[
        Text, typer.Option("--percent", metavar="AMOUNT", help='Or a spot spray by percent, like "2 %".')
    ] = None,
    tank: Tank = None,
    metric: Metric = False,
    as_json: o.AsJson = False,
    out: o.Out = None,
) -> None:
    """For a handgun or backpack. Mark 18.5 ft by 18.5 ft, spray it as you would, note the time; catch for that time.

    Ounces caught are gallons per acre. With --rate and --tank: product for each tank. With --percent: a spot spray.
    """
    from gladebook.spraying.calibration.by_hand import hand_mix, spot_mix
    from gladebook.spraying.calibration.course import OUNCE_COURSE_M2, catch_rate
    from gladebook.view.calibrate import Told, catch_told, hand_mix_told

    tank_m3 = si(tank, kind="volume", what="--tank")
    if percent is not None:
        if caught or rate is not None or ground is not None:
            raise CallError("--percent: is a spot spray, which needs only --tank. Leave the rest out.")
        share = parse_quantity(percent, kind="percent of volume", what="--percent")
        spot = spot_mix(share, tank_m3=must(tank_m3, what="--tank", like="3 gal"))
        show(hand_mix_told(spot, spot=True), as_json=as_json, out=out, metric=metric, cautions=True)
        return
    ground_m2 = si(ground, kind="area", what="--ground")
    found = catch_rate(
        all_si(caught, kind="volume", what="--caught"), ground_m2=OUNCE_COURSE_M2 if ground_m2 is None else ground_m2
    )
    told = catch_told(found)
    if rate is not None:
        product: Quantity = parse_quantity(rate, kind=("volume per area", "weight per area"), what="--rate")
        more = hand_mix_told(hand_mix(product, spray_m=found.rate_m, tank_m3=tank_m3), spot=False)
        told = Told([*told.words, *more.words], {**told.document, **more.document}, told.metric)
    show(told, as_json=as_json, out=out, metric=metric, cautions=rate is not None)


@app.command("speed", short_help="Ground speed from a timed course, or from a track.")
def speed(
    track: Annotated[
        Path | None, typer.Argument(metavar="[TRACK]", help="Or a track: GPX, CSV or GeoJSON.", show_default=False)
    ] = None,
    course: Course = None,
    time: Time = [],  # noqa: B006 - typer copies it
    hold: Annotated[
        Text, typer.Option("--hold", metavar="AMOUNT", help='Seconds for the course at this speed, like "4 mph".')
    ] = None,
    metric: Metric = False,
    as_json: o.AsJson = False,
    out: o.Out = None,
) -> None:
    """Ground speed: from a course and how long it took, or from a track. With --hold: the seconds to aim for."""
    from gladebook.spraying.calibration.course import timed_speed
    from gladebook.view.calibrate import Told, speed_told, track_speed_told

    if track is not None:
        if course is not None or time or hold is not None:
            raise CallError("Give a track, or --course with --time, not both.")
        from gladebook.io.door import read_track
        from gladebook.passes.speed import driven_speed

        show(
            track_speed_told(driven_speed(read_track(track)), name=track.name), as_json=as_json, out=out, metric=metric
        )
        return
    course_m = must(si(course, kind="length", what="--course"), what="--course", like="200 ft")
    if hold is None:
        found = speed_told(timed_speed(all_si(time, kind="time", what="--time"), course_m=course_m))
    else:
        wanted = must(si(hold, kind="speed", what="--hold"), what="--hold", like="4 mph")
        if wanted <= 0:
            raise CallError("--hold: must be above zero.")
        held = timed_speed([course_m / wanted], course_m=course_m)
        seconds = held.times_s[0]
        found = Told(
            [f"{seconds:.2f} s: drive {course} in that time to hold {hold}."],
            {"speed_mph": speed_told(held).document["speed_mph"], "seconds": seconds},
        )
    show(found, as_json=as_json, out=out, metric=metric)


for _name, _command, _short in (
    ("pressure", parts.pressure, "Flow at another pressure, or the pressure for a flow."),
    ("tips", parts.tips, "Catches tip by tip: which to clean, which to replace."),
    ("height", parts.height, "How high the boom, for tip spacing and fan angle."),
    ("spreader", parts.spreader, "Seed, fertilizer, lime: pounds per acre; crosswise at half rate."),
):
    app.command(_name, short_help=_short)(_command)
