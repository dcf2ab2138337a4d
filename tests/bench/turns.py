"""Timing in turns: one call of each, then again, so that a busy machine slows all alike.

Ratios are of processor time: on a shared machine the clock on the wall also runs for others. All that is
timed here works on one thread.
"""

import math
import statistics
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

__all__ = ["Timed", "in_turns", "take_turns"]

ROUNDS = 5


@dataclass(frozen=True)
class Timed:
    """Median seconds of a few calls, by the wall and of the processor; how many calls, and what the last one gave."""

    seconds: float
    cpu_s: float
    calls: int
    answer: Any


def take_turns(works: Mapping[str, Callable[[], Any]], *, rounds: int, enough_s: float = math.inf) -> dict[str, Timed]:
    """Call each work once a round; one that has taken `enough_s` in all is not called again.

    A work that raises has its error as the answer, and is not called again either.
    """
    times: dict[str, list[float]] = {name: [] for name in works}
    cpu: dict[str, list[float]] = {name: [] for name in works}
    answers: dict[str, Any] = {}
    for _ in range(rounds):
        for name, work in works.items():
            if sum(times[name]) >= enough_s or isinstance(answers.get(name), Exception):
                continue
            start, cpu_start = time.perf_counter(), time.process_time()
            try:
                answers[name] = work()
            except Exception as error:  # noqa: BLE001 # a library that fails at its job is a result
                answers[name] = error
            times[name].append(time.perf_counter() - start)
            cpu[name].append(time.process_time() - cpu_start)
    return {
        name: Timed(statistics.median(t), statistics.median(cpu[name]), len(t), answers[name])
        for name, t in times.items()
    }


def in_turns(ours: Callable[[], Any], theirs: Callable[[], Any], *, rounds: int = ROUNDS) -> tuple[float, float]:
    """Median seconds of both, one after the other, `rounds` times, after one run of each that does not count."""
    ours(), theirs()
    found = take_turns({"ours": ours, "theirs": theirs}, rounds=rounds)
    for timed in found.values():
        if isinstance(timed.answer, Exception):
            raise timed.answer
    return found["ours"].seconds, found["theirs"].seconds
