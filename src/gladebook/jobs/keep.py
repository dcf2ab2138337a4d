"""Keeping answers in a property, and taking what was kept out again."""

import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any, Literal

from gladebook.coverage.result import MissedStrip
from gladebook.errors import CallError, PropertyError
from gladebook.io.property.change import changing
from gladebook.io.property.open import connected
from gladebook.io.property.store import (
    add_application,
    add_kept,
    add_strip,
    applications_in,
    kept_in,
    strips_in,
)
from gladebook.jobs.application import Application
from gladebook.jobs.ground import listed
from gladebook.jobs.named import called, name_from, one_application, refuse_taken
from gladebook.passes.sprayer import Sprayer, check_sprayer
from gladebook.records.kept import KeptStrip, State

__all__ = [
    "answer_in",
    "check_room",
    "keep_answer",
    "keep_application",
    "kept_sprayer",
    "over_kept",
    "sprayer_content",
    "strips_seen",
]

Side = Literal["left", "right"]
_WHAT = {"applications": "an application", "mixes": "a mix", "records": "a record"}


def check_room(path: Path, table: str, *, name: str) -> None:
    """Refuse, before long work begins, what could not be kept after it.

    Raises
    ------
    PropertyError
        Where the name is taken, or the file may not be written.
    CallError
        Where the name is empty.
    """
    name = name_from(name, what="--save")
    with connected(path) as base:
        base.execute("BEGIN IMMEDIATE")
        try:
            _refuse_taken(base, table, name=name, path=path)
        finally:
            base.execute("ROLLBACK")


def _refuse_taken(base: sqlite3.Connection, table: str, *, name: str, path: Path) -> None:
    there = applications_in(base) if table == "applications" else kept_in(base, table)
    refuse_taken(there, name, path=path, what=_WHAT[table], instead="Choose another name for --save.")


def keep_application(
    path: Path, done: Application, *, name: str, answer: Mapping[str, Any], seen: Sequence[int] = ()
) -> str:
    """Keep an application with its tracks, figures and missed strips, as one change, and say so.

    Parameters
    ----------
    path
        The property file that its plots came from.
    done
        The application.
    name
        As people call it.
    answer
        What ``coverage --json`` prints of it.
    seen
        Numbers of strips that somebody went and saw.

    Raises
    ------
    PropertyError
        Where the name is taken, or the file cannot be written.
    """
    name = name_from(name, what="--save")
    day = f" of {done.day}" if done.day else ""
    with connected(path) as base, changing(base, f'Kept the application "{name}"{day}.') as pen:
        _refuse_taken(base, "applications", name=name, path=path)
        uid = add_application(
            pen,
            name=name,
            day=done.day,
            answer=answer,
            tracks=done.tracks,
            plots=list(zip(done.kept, answer["plots"], strict=True)),
        )
        for number, strip in enumerate(done.coverage.strips, start=1):
            state: State = "seen" if number in seen else strip.verdict.word
            add_strip(pen, _kept_strip(strip, of=uid, number=number, state=state))
    strips = len(done.coverage.strips)
    told = f"with {strips:,} missed strip{'s' if strips > 1 else ''}" if strips else "without any missed strip"
    return f'Kept in {path.name}: the application "{name}"{day}, {told}.'


def _kept_strip(strip: MissedStrip, *, of: str, number: int, state: State) -> KeptStrip:
    found = strip.verdict
    verdict = {
        "verdict": found.word,
        "chance_real": found.chance_real,
        "where": found.where,
        "cause": found.cause,
        "length_m": strip.length_m,
        "width_m": strip.width_m,
        "lon": strip.lon_deg,
        "lat": strip.lat_deg,
    }
    return KeptStrip("", of, strip.plot, number, state, strip.area_m2, strip.shape, verdict)


def keep_answer(path: Path, table: str, *, name: str, content: Mapping[str, Any], day: str) -> str:
    """Keep a mix or a record, and say so.

    Raises
    ------
    PropertyError
        Where the name is taken, or the file cannot be written.
    """
    name = name_from(name, what="--save")
    what = _WHAT[table].split()[-1]
    with connected(path) as base, changing(base, f'Kept the {what} "{name}".') as pen:
        _refuse_taken(base, table, name=name, path=path)
        add_kept(pen, table, name=name, content=content, day=day)
    return f'Kept in {path.name}: the {what} "{name}". See it with: gladebook property show {path.name} "{name}"'


def answer_in(path: Path, *, application: str | None) -> Mapping[str, Any]:
    """What ``coverage --json`` printed of an application that was kept.

    Raises
    ------
    PropertyError
        Where there is none of that name.
    CallError
        Where there are several and none was named.
    """
    with connected(path, write=False) as base:
        return one_application(base, application, path=path).answer


def strips_seen(path: Path, *, application: str | None, seen: Sequence[int] | None) -> list[tuple[str, float]]:
    """Names and areas, m2, of missed strips that were kept and that somebody went and saw.

    Parameters
    ----------
    path
        The property file.
    application
        The application that missed them; None for the only one.
    seen
        Their numbers; None for those marked as seen.

    Raises
    ------
    PropertyError
        Where none is marked as seen.
    CallError
        Where a number is not on the list, or is of a strip that was touched up already.
    """
    with connected(path, write=False) as base:
        found = one_application(base, application, path=path)
        strips = {strip.number: strip for strip in strips_in(base, application_uid=found.uid)}
    if seen is None:
        seen = [number for number, strip in strips.items() if strip.state == "seen"]
        if not seen:
            raise PropertyError(
                f'{path.name}: no missed strip of "{found.name}" is marked as seen. Go and look first; then mark '
                f"them: gladebook property mark {path.name} 3,5 --as seen"
            )
    for number in seen:
        if number not in strips:
            raise CallError(f'--seen: {number} is not on the list of missed strips of "{found.name}".')
        if strips[number].state == "touched up":
            raise CallError(
                f"--seen: strip {number} was touched up already, and covered twice means twice the rate. Leave it "
                "out, or mark it as seen if it was missed again."
            )
    return [(f"{strips[n].plot}, strip {n}", strips[n].area_m2) for n in sorted(set(seen))]


def sprayer_content(sprayer: Sprayer, *, one_sided: Side | None) -> dict[str, Any]:
    """A sprayer as it is kept, SI units in the names."""
    return {**asdict(sprayer), "sections_m": list(sprayer.sections_m), "one_sided": one_sided}


def kept_sprayer(path: Path, name: str) -> tuple[Sprayer, Side | None]:
    """A sprayer that was kept, and the side on which all of its swath lies, where there is one.

    Raises
    ------
    PropertyError
        Where there is none of that name, or what is kept of it is no sprayer.
    """
    with connected(path, write=False) as base:
        there = kept_in(base, "sprayers")
    found = called(there, name)
    if not found:
        known = f"Its sprayers: {listed([one.name for one in there])}. " if there else ""
        raise PropertyError(
            f'{path.name}: keeps no sprayer called "{name}". {known}Add it with: gladebook property add {path.name} '
            f'--sprayer "{name}" --boom "12 ft"'
        )
    content = found[0].content
    try:
        sprayer = Sprayer(
            **{f: _figure(content.get(f)) for f in ("width_m", "behind_m", "right_m", "on_delay_s", "off_delay_s")},
            sections_m=tuple(float(width) for width in content.get("sections_m") or ()),
        )
        side: Side | None = {"left": "left", "right": "right"}.get(str(content.get("one_sided")))  # type: ignore[assignment]
        check_sprayer(sprayer)
    except (TypeError, ValueError, CallError):
        raise PropertyError(
            f'{path.name}: what is kept of the sprayer "{found[0].name}" is no sprayer any more. Add it anew with '
            "--replace."
        ) from None
    return sprayer, side


def _figure(value: Any) -> float | None:
    return None if value is None else float(value)


def over_kept(given: Sprayer, *, side: Side | None, kept: tuple[Sprayer, Side | None]) -> tuple[Sprayer, Side | None]:
    """A kept sprayer with what was given in the call in place of what was kept.

    Parameters
    ----------
    given, side
        As the call has them, None and () where it says nothing.
    kept
        As they were kept.
    """
    base, kept_side = kept
    said = {k: v for k, v in vars(given).items() if v is not None and v != ()}
    beside = None if given.right_m is not None else kept_side
    if given.width_m is not None and not given.sections_m:
        base = replace(base, sections_m=())  # of another width
    found = replace(base, **said)
    if side is not None:
        found = replace(found, right_m=None)
    check_sprayer(found)
    return found, side or beside
