"""What grows on a plot, what was sprayed there, what was last in the tank: kept in a property, and taken out."""

import sqlite3
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

from gladebook.errors import CallError, Clash, PropertyError, QuantityError
from gladebook.io.property.change import changing
from gladebook.io.property.open import connected
from gladebook.io.property.store import add_kept, change_kept, kept_in, plots_in
from gladebook.jobs.labels import KeptLabel, labels_of, own_label
from gladebook.jobs.named import called, same
from gladebook.products.forage import forages_from
from gladebook.records.growing import Growing
from gladebook.records.kept import Kept, KeptPlot
from gladebook.records.sprayed import InTank, Sprayed
from gladebook.spraying.mix import RATE_KINDS
from gladebook.units import Quantity, parse_quantity

__all__ = [
    "add_sprayed",
    "growing_of",
    "growing_words",
    "history_of",
    "in_tank",
    "mark_cleaned",
    "plot_of",
    "set_growing",
    "standing_words",
]

_GROWING, _SPRAYED, _CLEANED = "growing", "sprayed", "tank cleaned"
_DAYS = ("planted", "plant_on", "disk_on")


def plot_of(path: Path, name: str) -> KeptPlot:
    """A plot by its name.

    Raises
    ------
    PropertyError
        Where there is none of that name.
    """
    with connected(path, write=False) as base:
        return _plot(base, name, path=path)


def _plot(base: sqlite3.Connection, name: str, *, path: Path) -> KeptPlot:
    there = plots_in(base)
    found = called(there, name)
    if not found:
        known = ", ".join(p.name for p in there[:12])
        raise PropertyError(f'{path.name}: has no plot called "{name[:60]}". Its plots: {known or "none yet"}.')
    return found[0]


def _records(base: sqlite3.Connection, kind: str, plot_uid: str | None = None) -> list[Kept]:
    return [
        k
        for k in kept_in(base, "records")
        if k.content.get("kind") == kind and plot_uid in (None, k.content.get("plot_uid"))
    ]


def growing_of(path: Path, plot: str) -> Growing:
    """What grows on a plot and what is to come, as it was entered; empty where nothing was.

    Raises
    ------
    PropertyError
        Where there is no such plot, or what is kept cannot be read.
    """
    with connected(path, write=False) as base:
        found = _records(base, _GROWING, _plot(base, plot, path=path).uid)
    if not found:
        return Growing()
    content = found[-1].content
    try:
        return _growing(content)
    except (CallError, TypeError, ValueError):
        raise PropertyError(
            f"{path.name}: what is kept of the stand on {plot} cannot be read any more. Enter it anew with: gladebook "
            f"property grow {path.name}"
        ) from None


def _growing(content: Mapping[str, Any]) -> Growing:
    def day(name: str) -> date | None:
        return date.fromisoformat(str(content[name])) if content.get(name) else None

    return Growing(
        forages=forages_from(str(content["forages"])) if content.get("forages") else (),
        planted=day("planted"),
        stage=str(content.get("stage") or ""),
        next_crop=forages_from(str(content["next_crop"])) if content.get("next_crop") else (),
        plant_on=day("plant_on"),
        disk_on=day("disk_on"),
        hunts=tuple(date.fromisoformat(str(text)) for text in content.get("hunts") or ()),
    )


def set_growing(
    path: Path, plot: str, *, changes: Mapping[str, Any], clear: bool = False, seen: Sequence[str] | None = None
) -> list[str]:
    """Enter what grows on a plot, as one change; what is not named stays as it was.

    Parameters
    ----------
    path, plot
        The property file, and the plot's name.
    changes
        "forages" and "next_crop" as people write them, "stage", days as text, "hunts" as a list of days.
    clear
        Whether all that was entered before is forgotten first.
    seen
        What was entered before, in words, as whoever changes it saw it; None does not ask.

    Raises
    ------
    CallError
        Where a forage is not known, or nothing is changed.
    Clash
        Where it is not what was seen.
    PropertyError
        Where there is no such plot.
    """
    if not changes and not clear:
        raise CallError('Say what grows there, like --forage "white clover, oat"; or what comes next.')
    with connected(path) as base:
        found = _plot(base, plot, path=path)
        with changing(base, f"Entered what grows on {found.name}.") as pen:
            there = _records(base, _GROWING, found.uid)
            stood = _growing(there[-1].content) if there else Growing()
            if seen is not None and standing_words(stood) != list(seen):
                raise Clash(
                    f"{found.name}: somebody else entered what grows there in the meantime, and yours was not written. "
                    "Look at theirs first."
                )
            before = dict(there[-1].content) if there and not clear else {}
            content = {**before, **changes, "kind": _GROWING, "plot_uid": found.uid, "plot": found.name}
            words = growing_words(_growing(content))
            content["words"] = words
            if there:
                change_kept(pen, "records", there[-1].uid, content=content)
            else:
                add_kept(pen, "records", name=f"Stand on {found.name}", content=content)
    return [f"{found.name}: {' '.join(words)}"]


def standing_words(growing: Growing) -> list[str]:
    """What `growing_words` says of a stand; nothing where nothing was entered."""
    return [] if growing == Growing() else growing_words(growing)


def growing_words(growing: Growing) -> list[str]:
    """A stand and its plans in sentences."""
    stand = ", ".join(f.name for f in growing.forages)
    words = [
        f"{stand[:1].upper()}{stand[1:]} {'grows' if len(growing.forages) == 1 else 'grow'} there."
        if stand
        else "Nothing is said to grow there."
    ]
    if growing.planted:
        words.append(f"Planted {growing.planted.isoformat()}.")
    if growing.stage:
        words.append(f"Stage: {growing.stage}.")
    following = ", ".join(f.name for f in growing.next_crop)
    if growing.disk_on:
        words.append(f"To be disked {growing.disk_on.isoformat()}.")
    if following or growing.plant_on:
        on = f" on {growing.plant_on.isoformat()}" if growing.plant_on else ""
        words.append(f"Next: {following or 'a crop not said'}{on}.")
    if growing.hunts:
        words.append(f"Hunts: {', '.join(day.isoformat() for day in growing.hunts)}.")
    return words


def add_sprayed(
    path: Path,
    plots: Sequence[str],
    *,
    products: Mapping[str, Quantity | None],
    day: date,
    ended: datetime | None = None,
) -> list[str]:
    """Enter what was sprayed, one record a plot and product, as one change.

    Raises
    ------
    CallError
        Where no plot or product is named, or the end is not on the day.
    PropertyError
        Where there is no such plot.
    """
    if not plots or not products:
        raise CallError('Say where and what: --plot NAME --product "NAME=8 fl oz/ac".')
    if ended is not None and ended.date() < day:
        raise CallError("--ended: is before the day of the spray.")
    told = ", ".join(f"{name}{f' at {rate}' if rate is not None else ''}" for name, rate in products.items())
    with connected(path) as base:
        found = [_plot(base, name, path=path) for name in plots]
        names = ", ".join(plot.name for plot in found)
        words = f"Sprayed {names} on {day.isoformat()}: {told}."
        with changing(base, words) as pen:
            for plot in found:
                for product, rate in products.items():
                    one = f"Sprayed {plot.name} on {day.isoformat()}: {product}{f' at {rate}' if rate else ''}."
                    content = {
                        "kind": _SPRAYED,
                        "plot_uid": plot.uid,
                        "plot": plot.name,
                        "product": product,
                        "rate": None if rate is None else str(rate),
                        "ended": None if ended is None else ended.isoformat(),
                        "words": [one],
                    }
                    add_kept(pen, "records", name=f"{plot.name}: {product}", content=content, day=day.isoformat())
    return [f"Kept in {path.name}: {words}"]


def history_of(path: Path, plot: str) -> tuple[Sprayed, ...]:
    """What was sprayed on a plot, the oldest first.

    Raises
    ------
    PropertyError
        Where there is no such plot, or a record cannot be read.
    """
    labels = labels_of(path)
    with connected(path, write=False) as base:
        found = _records(base, _SPRAYED, _plot(base, plot, path=path).uid)
    return tuple(sorted((_sprayed(k, labels, path=path) for k in found), key=lambda s: s.day))


def _sprayed(kept: Kept, labels: Sequence[KeptLabel], *, path: Path) -> Sprayed:
    content = kept.content
    try:
        product = str(content["product"])
        rate = parse_quantity(content["rate"], kind=RATE_KINDS, what=kept.name) if content.get("rate") else None
        ended = datetime.fromisoformat(content["ended"]) if content.get("ended") else None
        label = own_label(labels, product)
        return Sprayed(
            str(content["plot"]),
            date.fromisoformat(kept.day),
            product,
            rate,
            None if label is None else label.label,
            ended,
        )
    except (KeyError, TypeError, ValueError, QuantityError):
        raise PropertyError(
            f'{path.name}: the record "{kept.name}" of {kept.day or "no day"} cannot be read any more. Look at it '
            f"with: "
            f'gladebook property show {path.name} "{kept.name}"'
        ) from None


def in_tank(path: Path, *, until: date | None = None) -> InTank | None:
    """What was last in the tank, by the records of all plots, and whether it was cleaned since; None for no record.

    Parameters
    ----------
    path
        The property file.
    until
        The last day that counts; None for all.

    Raises
    ------
    PropertyError
        Where a record cannot be read.
    """
    labels = labels_of(path)
    with connected(path, write=False) as base:
        sprayed, cleaned = _records(base, _SPRAYED), _records(base, _CLEANED)
    if until is not None:
        sprayed = [k for k in sprayed if k.day <= until.isoformat()]
        cleaned = [k for k in cleaned if k.day <= until.isoformat()]
    if not sprayed:
        return None
    last_day = max(k.day for k in sprayed)
    last = [_sprayed(k, labels, path=path) for k in sprayed if k.day == last_day]
    # Of several in one tank the one that lingers counts; which that is, the checks decide by the label.
    chosen = next((s for s in last if s.label is not None and _lingers(s)), last[-1])
    days = [date.fromisoformat(k.day) for k in cleaned if k.day >= last_day]
    return InTank(chosen.product, chosen.label, chosen.day, max(days, default=None))


def _lingers(sprayed: Sprayed) -> bool:
    from gladebook.products.facts import is_growth_regulator

    return sprayed.label is not None and is_growth_regulator(sprayed.label)[0] is True


def mark_cleaned(path: Path, *, day: date) -> list[str]:
    """Enter that the tank was cleaned as the label of what was in it says."""
    last = in_tank(path)
    what = f" after {last.product}" if last is not None and not same(last.product, "") else ""
    words = f"Cleaned the tank{what} on {day.isoformat()}, as its label says."
    with connected(path) as base, changing(base, words) as pen:
        content = {"kind": _CLEANED, "words": [words]}
        add_kept(pen, "records", name="Tank cleaned", content=content, day=day.isoformat())
    return [f"Kept in {path.name}: {words}"]
