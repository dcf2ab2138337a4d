"""``gladebook calibrate``, for the parts: pressure, tips, boom height; and for the spreader."""

from typing import Annotated

import typer

from gladebook.cli import options as o
from gladebook.cli.calibrate_show import Caught, Flow, Metric, Spacing, Swath, Text, all_si, must, show, si
from gladebook.errors import CallError
from gladebook.units import IN_M, parse_quantity

__all__ = ["height", "pressure", "spreader", "tips"]


def pressure(
    flow: Flow = None,
    pressure: Annotated[
        Text, typer.Option("--pressure", metavar="AMOUNT", help='At which that flow was measured, like "40 psi".')
    ] = None,
    at: Annotated[Text, typer.Option("--at", metavar="AMOUNT", help='Another pressure, like "30 psi".')] = None,
    want: Annotated[
        Text, typer.Option("--want", metavar="AMOUNT", help='Or a flow that you want, like "0.25 gal/min".')
    ] = None,
    metric: Metric = False,
    as_json: o.AsJson = False,
    out: o.Out = None,
) -> None:
    """Flow goes with the square root of pressure: four times the pressure gives twice the flow."""
    from gladebook.spraying.calibration.pressure import flow_at, pressure_for
    from gladebook.units import amount_in
    from gladebook.view.calibrate import Told, flow_words
    from gladebook.view.metric import metric as metric_words

    if (at is None) == (want is None):
        raise CallError(
            'Give --at "30 psi" for the flow at another pressure, or --want "0.25 gal/min" for the pressure.'
        )
    flow_si = must(si(flow, kind="volume per time", what="--flow"), what="--flow", like="0.2 gal/min")
    now = must(si(pressure, kind="pressure", what="--pressure"), what="--pressure", like="40 psi")
    if at is not None:
        new = must(si(at, kind="pressure", what="--at"), what="--at", like="30 psi")
        gives = flow_at(flow_si, pressure_pa=now, now_pa=new)
    else:
        gives = must(si(want, kind="volume per time", what="--want"), what="--want", like="0.25 gal/min")
        new = pressure_for(gives, flow_m3_per_s=flow_si, pressure_pa=now)
    psi = amount_in(new, unit="psi")
    words = [
        f"{flow_words(gives)} at {psi:.4g} psi.",
        (
            "The chart of your tip wins: it says which pressures the tip is made for, and what happens to fan and "
            "droplets."
        ),
    ]
    document = {"flow_gal_per_min": amount_in(gives, unit="gal/min"), "pressure_psi": psi}
    in_metric = [f"In metric: {metric_words(gives, kind='volume per time')} at {metric_words(new, kind='pressure')}."]
    show(Told(words, document, in_metric), as_json=as_json, out=out, metric=metric)


def tips(
    caught: Caught = [],  # noqa: B006 - typer copies it
    new: Annotated[
        Text, typer.Option("--new", metavar="AMOUNT", help='What a new tip gives in the same time, like "15 fl oz".')
    ] = None,
    metric: Metric = False,
    as_json: o.AsJson = False,
    out: o.Out = None,
) -> None:
    """Catch every tip for the same time. Over 5 % off: clean. Over 10 % too much: replace."""
    from gladebook.spraying.calibration.tips import judge_tips
    from gladebook.view.calibrate import tips_told

    found = judge_tips(all_si(caught, kind="volume", what="--caught"), new_m3=si(new, kind="volume", what="--new"))
    show(tips_told(found), as_json=as_json, out=out, metric=metric)


def height(
    spacing: Spacing = None,
    angle: Annotated[Text, typer.Option("--angle", metavar="DEGREES", help="Fan angle, like 110.")] = None,
    overlap: Annotated[
        str,
        typer.Option(
            "--overlap",
            metavar="PERCENT",
            help='How much wider each fan is than the spacing: "100 %" puts every spot under two fans.',
        ),
    ] = "100 %",
    metric: Metric = False,
    as_json: o.AsJson = False,
    out: o.Out = None,
) -> None:
    """How high the boom must be above the tops of weeds or forage, not above the soil."""
    from gladebook.spraying.calibration.height import boom_height, fan_width
    from gladebook.view.calibrate import Told
    from gladebook.view.metric import metric as metric_words

    spacing_m = must(si(spacing, kind="length", what="--spacing"), what="--spacing", like="20 in")
    if angle is None:
        raise CallError("--angle: is needed here; it is stamped on most tips. Give it like --angle 110.")
    angle_deg = o.plain_number(angle, what="--angle", like="110")
    share = parse_quantity(overlap, kind="percent of volume", what="--overlap").si
    height_m = boom_height(spacing_m=spacing_m, angle_deg=angle_deg, overlap=share)
    width_m = fan_width(height_m=height_m, angle_deg=angle_deg)
    words = [
        (
            f"{height_m / IN_M:.1f} in above the tops of the weeds or the forage, whichever is taller: each fan of "
            f"{angle_deg:g} degrees is then {width_m / IN_M:.1f} in wide, {100 * share:.0f} % more than the spacing."
        ),
        'Some charts call this "overlap" in another way: go by the width.',
    ]
    document = {
        "height_in": height_m / IN_M,
        "fan_width_in": width_m / IN_M,
        "spacing_in": spacing_m / IN_M,
        "overlap": share,
    }
    in_metric = [f"In metric: {metric_words(height_m, kind='small length')}."]
    show(Told(words, document, in_metric), as_json=as_json, out=out, metric=metric)


def spreader(
    spread: Annotated[Text, typer.Option("--spread", metavar="AMOUNT", help='What went out, like "6.5 lb".')] = None,
    swath: Swath = None,
    length: Annotated[
        Text, typer.Option("--length", metavar="AMOUNT", help='How far you drove or walked, like "200 ft".')
    ] = None,
    want: Annotated[Text, typer.Option("--want", metavar="AMOUNT", help='What you want, like "65 lb/ac".')] = None,
    crosswise: Annotated[
        bool, typer.Option("--crosswise", help="Spread half one way and half across: evener on small plots.")
    ] = False,
    metric: Metric = False,
    as_json: o.AsJson = False,
    out: o.Out = None,
) -> None:
    """Pounds per acre from what went out on a course."""
    from gladebook.spraying.calibration.spreader import spread_rate
    from gladebook.view.calibrate import spread_told

    if crosswise and want is None:
        raise CallError('--crosswise: needs what you want in all, like --want "65 lb/ac".')
    found = spread_rate(
        must(si(spread, kind="weight", what="--spread"), what="--spread", like="6.5 lb"),
        swath_m=must(si(swath, kind="length", what="--swath"), what="--swath", like="20 ft"),
        length_m=must(si(length, kind="length", what="--length"), what="--length", like="200 ft"),
        wanted_kg_per_m2=si(want, kind="weight per area", what="--want"),
        crosswise=crosswise,
    )
    show(spread_told(found), as_json=as_json, out=out, metric=metric)
