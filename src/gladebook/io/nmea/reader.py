"""NMEA 0183 logs as tracks: RMC and GGA of any talker give points, VTG speeds, ZDA and RMC days.

Each sentence begins at its ``$``, whatever stands before it on its line. Layouts: `gladebook.io.nmea.sentence`;
which sentences make one point, and on which day: `gladebook.io.nmea.epochs`.
"""

from collections import Counter
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np

from gladebook.errors import TrackError
from gladebook.io.blocks import Data
from gladebook.io.nmea.epochs import ESTIMATED, Epochs, epochs_of
from gladebook.io.nmea.found import Found, read_slowly
from gladebook.io.nmea.log import Log
from gladebook.io.nmea.scan import scan
from gladebook.io.nmea.sentence import OTHER_QUALITY
from gladebook.io.trackrows import TrackColumns, TrackRows
from gladebook.notes import NoteKind
from gladebook.passes.track import Track

__all__ = ["read_exactly", "read_track"]

_VOID = "points sent while the receiver did not know its place"
_UNTIMED = "places that have no time"
_DAY_S = 86_400
_EPOCH = date(1970, 1, 1).toordinal()
_LISTED = 4
_RTK, _FLOAT_RTK = 4, 5
_GUESSED = {6: "estimated", 7: "entered by hand", 8: "simulated"}


def read_track(path: Path, *, data: Data, allow_estimated: bool = False) -> Track:
    """Read a receiver's log; all points are one piece, in the order in which the file first speaks of them.

    Parameters
    ----------
    path
        The file, for its name.
    data
        Its bytes, or itself, open; then it is gone through in parts, and never held whole.
    allow_estimated
        Take points that the receiver did not measure (quality 6, 7 and 8), and say how many there are.

    Raises
    ------
    TrackError
        Where it holds no point with a time, or points that were not measured and are not allowed.
    """
    log = Log(data)
    return _track(path.name, log, scan(log), allow_estimated=allow_estimated)


def read_exactly(path: Path, *, data: Data, allow_estimated: bool = False) -> Track:
    """Read a log sentence by sentence; `read_track` answers the same, sooner.

    Raises
    ------
    TrackError
        As `read_track`.
    """
    log = Log(data)
    return _track(path.name, log, read_slowly(log), allow_estimated=allow_estimated)


def _track(name: str, log: Log, found: Found, *, allow_estimated: bool) -> Track:
    epochs = epochs_of(found.finish())
    out = TrackRows(name)
    if epochs.void:
        out.skip(_VOID, epochs.void)
    found.leave_out(_UNTIMED, epochs.untimed)
    _tell_left_out(out, log, found)
    _check_quality(name, log, epochs, allowed=allow_estimated)
    for kind, sentence in (*_quality_words(epochs), *_time_words(epochs), *_doubts(found, epochs)):
        out.note(sentence, kind=kind)
    count = len(epochs.at)
    columns = TrackColumns(
        epochs.lon_deg,
        epochs.lat_deg,
        epochs.time_s,
        np.zeros(count, dtype=np.int64),
        speed_mps=epochs.speed_mps,
        hdop=epochs.hdop,
    )
    track = out.take(columns, clocks=Counter({"utc" if epochs.dated else "no zone": count}))
    return replace(track, void_points=epochs.void)


def _tell_left_out(out: TrackRows, log: Log, found: Found) -> None:
    lines = log.line_numbers([at for places in found.first.values() for at in places])
    for why, count in sorted(found.counts.items(), key=lambda item: (found.first[item[0]], item[0])):
        shown = found.first[why]
        numbers = sorted({lines[at] for at in shown})
        where = f"{'the first ' if count > len(shown) else ''}in line{_several(numbers)}"
        out.skip(f"{why}, {where}", count, examples=tuple(f"line {number}" for number in numbers))
    kinds = Counter[str]()
    for address, count in found.others.items():
        own = address.startswith(b"P") or len(address) != 5
        kinds[(address if own else address[2:]).decode("ascii")] += count
    if kinds:
        named = ", ".join(kind for kind, _ in sorted(kinds.items(), key=lambda item: (-item[1], item[0]))[:_LISTED])
        more = f" and {len(kinds) - _LISTED} more" if len(kinds) > _LISTED else ""
        out.skip(f"sentences of kinds not needed for a track: {named}{more}", kinds.total())


def _several(numbers: list[int]) -> str:
    *most, last = (str(number) for number in numbers)
    return f"s {', '.join(most)} and {last}" if most else f" {last}"


def _check_quality(name: str, log: Log, epochs: Epochs, *, allowed: bool) -> None:
    guessed = np.isin(epochs.quality, ESTIMATED)
    if allowed or not guessed.any():
        return
    line = log.line_numbers([int(epochs.at[guessed].min())]).popitem()[1]
    raise TrackError(
        f"{name}: {int(guessed.sum())} of {len(guessed)} points were not measured by the receiver, but are "
        f"{_guessed_words(epochs)}; the first is in line {line}. Give a measured recording, or take such points too "
        "with --estimated."
    )


def _guessed_words(epochs: Epochs) -> str:
    counts = {word: int((epochs.quality == code).sum()) for code, word in _GUESSED.items()}
    return ", ".join(f"{word} ({count})" for word, count in counts.items() if count)


def _quality_words(epochs: Epochs) -> list[tuple[NoteKind, str]]:
    words: list[tuple[NoteKind, str]] = []
    if np.isin(epochs.quality, ESTIMATED).any():
        words.append(("doubtful", f"points that were not measured are taken, as asked: {_guessed_words(epochs)}."))
    exact, near, other = (int((epochs.quality == code).sum()) for code in (_RTK, _FLOAT_RTK, OTHER_QUALITY))
    stated = [f"{what} for {n}" for what, n in (("RTK quality", exact), ("float RTK", near)) if n]
    if stated:
        words.append(("read", f"the receiver states {' and '.join(stated)} of {len(epochs.at)} points."))
    if other:
        sentence = f"the receiver states quality 9 for {other} points, which has no agreed meaning; they are taken."
        words.append(("doubtful", sentence))
    return words


def _time_words(epochs: Epochs) -> list[tuple[NoteKind, str]]:
    if not epochs.dated:
        return [("assumed", "no sentence states a date, so its times are times of day by the receiver's clock.")]
    days, counts = np.unique(np.floor(epochs.time_s / _DAY_S).astype(np.int64), return_counts=True)
    if len(days) < 2:
        return []
    listed = [
        f"{date.fromordinal(day + _EPOCH)} ({count})"
        for day, count in zip(days[:_LISTED].tolist(), counts[:_LISTED].tolist(), strict=True)
    ]
    more = f" and {len(days) - _LISTED} more" if len(days) > _LISTED else ""
    return [("doubtful", f"its points are of several dates: {', '.join(listed)}{more}. Trim to the one you mean.")]


def _doubts(found: Found, epochs: Epochs) -> list[tuple[NoteKind, str]]:
    words: list[tuple[NoteKind, str]] = []
    if found.bare:
        sentence = f"sentences without a checksum, in which damage would not show, are taken ({found.bare})."
        words.append(("doubtful", sentence))
    if epochs.apart:
        sentence = (
            f"for {epochs.apart} points, sentences of one time lie more than 10 m apart; the first GGA counts. "
            "Two receivers may have been recorded together."
        )
        words.append(("doubtful", sentence))
    return words
