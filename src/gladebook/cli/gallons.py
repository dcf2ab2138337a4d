"""``gladebook gallons``."""

from pathlib import Path
from typing import Annotated

import typer

from gladebook.cli import options as o
from gladebook.cli.coverage import spray_used
from gladebook.cli.measure import ground_files
from gladebook.cli.show import answer, say
from gladebook.errors import CallError
from gladebook.units import ACRE_M2, parse_quantity

__all__ = ["acres_m2", "gallons"]

Used = Annotated[
    str, typer.Option("--used", metavar="AMOUNT", help='Spray that left the tank, like "28 gal".', show_default=False)
]
PerAcre = Annotated[
    str,
    typer.Option("--per-acre", metavar="AMOUNT", help='Spray volume per acre, like "15 gal/ac".', show_default=False),
]
Acres = Annotated[str | None, typer.Option("--acres", metavar="ACRES", help="Acres of the plots, like 2.3.")]
Plots = Annotated[
    Path | None, typer.Option("--plots", metavar="FILE", help="Boundary file of the plots, instead of --acres.")
]


def gallons(
    used: Used,
    per_acre: PerAcre,
    acres: Acres = None,
    plots: Plots = None,
    obstacles: o.Obstacles = None,
    setback: o.Setback = None,
    crs: o.Crs = None,
    as_json: o.AsJson = False,
    out: o.Out = None,
) -> None:
    """Do the gallons that left the tank fit the acres? Needs no GPS."""
    if (acres is None) == (plots is None):
        raise CallError("Say how large the plots are: --acres 2.3, or --plots with their boundary file.")
    spray = spray_used(used, per_acre=per_acre)
    assert spray is not None
    notices: tuple[str, ...] = ()
    if plots is not None:
        from gladebook.jobs.application import measure_ground

        measured = measure_ground(ground_files(plots, obstacles=obstacles, setback=setback, crs=crs))
        ground_m2, notices = measured.total_m2, measured.notices
    else:
        ground_m2 = acres_m2(acres or "")
    from gladebook.io.write import as_json as json_text
    from gladebook.spraying.cautions import CAUTIONS
    from gladebook.spraying.gallons import check_gallons
    from gladebook.view.documents import gallons_document
    from gladebook.view.words import gallons_words

    check = check_gallons(used_m3=spray.used_m3, rate_m=spray.rate_m, plots_m2=ground_m2)
    answer(json_text(gallons_document(check)) if as_json else gallons_words(check) + "\n", out=out)
    say(notices, title="Notices")
    say(CAUTIONS, title="Cautions")


def acres_m2(text: str) -> float:
    """Ground in m2 from ``--acres``: a plain number is acres, as the option says; other units are named.

    Raises
    ------
    CallError
        Where it is no area above zero.
    """
    try:
        found = float(text) * ACRE_M2
    except ValueError:
        found = parse_quantity(text, kind="area", what="--acres").si
    if not 0 < found < float("inf"):
        raise CallError(f'--acres: "{text[:40]}" must be above zero.')
    return found
