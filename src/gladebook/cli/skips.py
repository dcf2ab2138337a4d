"""Options about missed strips: how far the receiver drifts, which strips are worth a walk, and which were seen."""

from dataclasses import replace
from typing import TYPE_CHECKING, Annotated

import typer

from gladebook.cli import options as o
from gladebook.errors import CallError, QuantityError
from gladebook.units import Quantity, parse_quantity

if TYPE_CHECKING:
    from gladebook.coverage.result import Coverage
    from gladebook.jobs.application import Drives
    from gladebook.spraying.touch_up import TouchUp

__all__ = [
    "Error",
    "LeastLength",
    "LeastWidth",
    "Rate",
    "Reentry",
    "Seen",
    "check_seen",
    "seen_of",
    "touch_up_of",
    "worth_a_walk",
]

Error = Annotated[
    str | None,
    typer.Option(
        "--error",
        metavar="AMOUNT",
        help='How far does your phone or receiver drift, like "3 ft"? Two times in three it should be off by less. '
        "Worked out from the track if not given.",
    ),
]
LeastLength = Annotated[
    str | None,
    typer.Option(
        "--least-length",
        metavar="AMOUNT",
        help='How long must a missed strip be to be worth a walk? "30 ft" if not given.',
    ),
]
LeastWidth = Annotated[
    str | None,
    typer.Option(
        "--least-width",
        metavar="AMOUNT",
        help='And how wide, like "6 ft", or as a share of the boom, like "50 %"? Half the boom if not given.',
    ),
]
Reentry = Annotated[
    str | None,
    typer.Option(
        "--reentry",
        metavar="AMOUNT",
        help='The re-entry time on your label, like "12 h": tells until when to stay out.',
    ),
]
Seen = Annotated[
    str | None,
    typer.Option(
        "--seen",
        metavar="NUMBERS",
        help='Which missed strips did you go and see to be real, like "3,5"? With --rate: acres and gallons for those.',
    ),
]
Rate = Annotated[
    str | None,
    typer.Option("--rate", metavar="AMOUNT", help='Spray volume per acre of that touch-up, like "15 gal/ac".'),
]


def worth_a_walk(
    drives: "Drives", *, error: str | None, least_length: str | None, least_width: str | None, reentry: str | None
) -> "Drives":
    """Drives with what was said about the receiver, about strips, and about the label's wait.

    Raises
    ------
    CallError
        Where an amount cannot be read, or is not above zero.
    """
    from gladebook.passes.path import CutRules

    rules = drives.rules or CutRules()
    error_m = o.length_m(error, what="--error")
    long_m = o.length_m(least_length, what="--least-length")
    wide = (
        None
        if least_width is None
        else parse_quantity(least_width, kind=("length", "percent of volume"), what="--least-width")
    )
    wait = None if reentry is None else _hours(reentry)
    for amount, what in ((wide, "--least-width"), (wait, "--reentry")):
        if amount is not None and amount.si <= 0:
            raise CallError(f"{what}: {amount} must be above zero.")
    by_length = wide is not None and wide.kind == "length"
    rules = replace(
        rules,
        error_m=rules.error_m if error_m is None else error_m,
        least_strip_m=rules.least_strip_m if long_m is None else long_m,
        least_strip_booms=rules.least_strip_booms if wide is None or by_length else wide.si,
    )
    return replace(
        drives,
        rules=rules,
        least_width_m=wide.si if wide is not None and by_length else None,
        reentry_s=None if wait is None else wait.si,
    )


def _hours(text: str) -> Quantity:
    """The label's re-entry time; labels give hours."""
    try:
        return parse_quantity(text, kind="time", what="--reentry")
    except QuantityError:
        raise CallError(f'--reentry: "{text[:40]}" is no time; write the hours on your label, like "12 h".') from None


def seen_of(seen: str, *, what: str = "--seen") -> list[int]:
    """Numbers of strips from text such as ``3,5``.

    Raises
    ------
    CallError
        Where the text is no list of numbers.
    """
    texts = [text for text in seen.replace(",", " ").split() if text]
    if not texts or not all(text.isdecimal() and len(text) <= 9 for text in texts):
        raise CallError(f'{what}: "{seen[:40]}" is no list of numbers; write those of the list of strips, like 3,5.')
    return [int(text) for text in texts]


def check_seen(*, seen: str | None, rate: str | None, as_csv: bool) -> None:
    """Refuse what cannot be meant, before long work begins.

    Raises
    ------
    CallError
        Where one of both options is missing, or there is no place for the answer.
    """
    if (seen is None) != (rate is None):
        raise CallError(
            "--seen and --rate: a touch-up needs both, the numbers of the strips that you saw and gallons per acre. "
            "No amount is worked out for a strip that nobody looked at."
        )
    if seen is not None and rate is not None:
        seen_of(seen)
        if parse_quantity(rate, kind="volume per area", what="--rate").si <= 0:
            raise CallError(f'--rate: "{rate}" must be above zero.')
    if seen is not None and as_csv:
        raise CallError("--seen and --csv: a table of plots has no place for a touch-up. Use --json, or neither.")


def touch_up_of(coverage: "Coverage", *, seen: str | None, rate: str | None) -> "TouchUp | None":
    """Spray for the strips that were seen; None where none was named.

    Raises
    ------
    CallError
        Where a number is not on the list, or the rate cannot be used.
    """
    if seen is None or rate is None:
        return None
    from gladebook.spraying.touch_up import plan_touch_up

    rate_m = parse_quantity(rate, kind="volume per area", what="--rate").si
    return plan_touch_up([(s.plot, s.area_m2) for s in coverage.strips], seen=seen_of(seen), rate_m=rate_m)
