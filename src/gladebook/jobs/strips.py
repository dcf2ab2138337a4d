"""Missed strips of applications that were kept: looked at again, and what became of them."""

from collections.abc import Sequence
from pathlib import Path

from gladebook.errors import CallError, Clash
from gladebook.io.property.change import changing
from gladebook.io.property.open import connected
from gladebook.io.property.store import applications_in, set_state, strips_in
from gladebook.jobs.named import one_application, same, undo_words
from gladebook.records.kept import KeptApplication, KeptStrip, State

__all__ = ["kept_applications", "mark_strips"]

_DONE: tuple[State, ...] = ("seen", "touched up", "left")


def kept_applications(path: Path) -> list[tuple[KeptApplication, list[KeptStrip]]]:
    """All applications of a property, the oldest first, each with its missed strips by number.

    Raises
    ------
    PropertyError
        Where the file cannot be read.
    """
    with connected(path, write=False) as base:
        strips = strips_in(base)
        return [(one, [s for s in strips if s.application_uid == one.uid]) for one in applications_in(base)]


def mark_strips(
    path: Path, numbers: Sequence[int], *, state: str, application: str | None = None, seen: str | None = None
) -> list[str]:
    """Say what became of missed strips.

    Parameters
    ----------
    path
        The property file.
    numbers
        As the list of the application has them.
    state
        "seen", "touched up" or "left".
    application
        Which one; None for the only one.
    seen
        The state that they were in, as whoever marks them saw it; None does not ask.

    Raises
    ------
    CallError
        Where a number is not on the list, or the state is none.
    Clash
        Where one is not in the state that was seen.
    PropertyError
        Where there is no such application.
    """
    found = next((one for one in _DONE if same(one, state)), None)
    if found is None:
        raise CallError(f'--as: a strip is "seen", "touched up" or "left", not "{state[:40]}".')
    wanted = sorted(set(numbers))
    many = len(wanted) > 1
    with connected(path) as base:
        name = one_application(base, application, path=path).name
        told = f'Strip{"s" if many else ""} {", ".join(map(str, wanted))} of "{name}": {found}.'
        with changing(base, told) as pen:
            missed = one_application(base, name, path=path)
            strips = {strip.number: strip for strip in strips_in(base, application_uid=missed.uid)}
            for number in wanted:
                if number not in strips:
                    there = f"Its numbers are 1 to {max(strips)}." if strips else "It has none."
                    raise CallError(f'{number} is not on the list of missed strips of "{name}". {there}')
                if seen is not None and strips[number].state != seen:
                    raise Clash(
                        f"Strip {number} is {strips[number].state} by now: somebody else marked it, and yours was not "
                        "written."
                    )
                set_state(pen, strips[number], state=found)
    return [told, undo_words(path)]
