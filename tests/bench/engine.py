"""The engine beside other ways to the same areas: times, areas, growth and memory."""

import math
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from typing import Any

from gladebook.geometry.sweep import Wish, choose_engine
from gladebook.units import ACRE_M2
from tests.bench.fields import Field, field_of, load_field
from tests.bench.fresh import ask
from tests.bench.ours import Areas, job_of, run
from tests.bench.peers import PEERS, Peer
from tests.bench.turns import Timed, take_turns

__all__ = ["engine_rows"]

SIZES = (1_000, 10_000, 100_000, 1_000_000)
QUICK_SIZES = SIZES[:3]
_SMOOTH_SIZE = 100_000
_LONGEST_S = 60.0
_ENOUGH_S = 12.0
_WISHES: tuple[Wish, ...] = ("numpy", "compiled") if choose_engine(0, wish="compiled").compiled else ("numpy",)
_STEEPEST = 2.0  # growth expected of a peer before two sizes have told


@dataclass(frozen=True)
class Aim:
    """A ratio to reach: how many times faster than the fastest of some peers, at some sizes."""

    words: str
    ours: str
    peers: tuple[str, ...]
    ratios: dict[int, float]


_BUFFER, _QUADS, _GRID, _EXACT, _CLIPPER = (peer.name for peer in PEERS)
AIMS = (
    Aim("numpy over quads, at least", "numpy, warm", (_QUADS,), {10_000: 8, 100_000: 16, 1_000_000: 14}),
    Aim("numpy over quads, aim", "numpy, warm", (_QUADS,), {10_000: 14, 100_000: 40, 1_000_000: 30}),
    Aim("compiled over quads", "compiled, warm", (_QUADS,), {10_000: 40, 100_000: 100, 1_000_000: 140}),
    Aim("compiled over buffers", "compiled, warm", (_BUFFER,), {10_000: 5, 100_000: 20, 1_000_000: 35}),
    Aim(
        "compiled over the faster of exact counts and Clipper2",
        "compiled, warm",
        (_EXACT, _CLIPPER),
        {10_000: 6, 100_000: 20, 1_000_000: 45},
    ),
)
GROWTH_AIMS = {"compiled": 1.05, "numpy": 1.15}
BYTES_AIMS = {"compiled": 150, "numpy": 600}


def engine_rows(*, quick: bool) -> None:
    """Print everything about the engine."""
    sizes = QUICK_SIZES if quick else SIZES
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        _first_ever(folder)
        found: dict[int, dict[str, Timed]] = {}
        for size in sizes:
            found[size] = _size_rows(size, folder=folder, before=found)
        _size_rows(_SMOOTH_SIZE, folder=folder, before=found, smooth=True)
        _growth_rows(found)
        _memory_rows(sizes[-1], folder=folder)


def _first_ever(folder: Path) -> None:
    if "compiled" not in _WISHES:
        print("engine    compiled: not run, as numba is not installed or has no folder for its cache\n")
        return
    cache = folder / "cache"
    path = field_of(SIZES[0], folder=folder)
    first = ask("cold", "compiled", path, cache=cache)["seconds"]
    again = ask("cold", "compiled", path, cache=cache)["seconds"]
    print(f"engine    compiled, the very first call on a machine {first:.1f} s, in the next process {again:.2f} s\n")


def _size_rows(
    size: int, *, folder: Path, before: dict[int, dict[str, Timed]], smooth: bool = False
) -> dict[str, Timed]:
    path = field_of(size, folder=folder, smooth=smooth)
    field = load_field(path)
    job = job_of(field)
    skipped = {peer.name: _too_long(peer, size, before=before) for peer in PEERS}
    works: dict[str, Callable[[], Any]] = {f"{wish}, warm": _warm(job, wish) for wish in _WISHES}
    works |= {peer.name: _of(peer, field) for peer in PEERS if not skipped[peer.name]}
    for wish in _WISHES:
        works[f"{wish}, warm"]()
    found = take_turns(works, rounds=7 if size <= 10_000 else 3, enough_s=_ENOUGH_S)
    found |= {f"{wish}, cold": _cold(wish, path) for wish in _WISHES}
    if smooth:
        print("engine    the same without the receiver's error, so that outlines cross far less; no aims are set")
    _print_size(field, found, skipped=skipped)
    if not smooth:
        for aim in AIMS:
            _print_aim(aim, size, found=found)
    print()
    return found


def _warm(job: Any, wish: Wish) -> Callable[[], Areas]:
    return lambda: run(job, wish=wish)


def _cold(wish: Wish, path: Path) -> Timed:
    """What fresh processes say of their own first call; not how long they took to start."""
    told = [ask("cold", wish, path) for _ in range(3)]
    areas = Areas(told[0]["treated_m2"], told[0]["missed_m2"])
    return Timed(median(t["seconds"] for t in told), median(t["cpu_s"] for t in told), len(told), areas)


def _of(peer: Peer, field: Field) -> Callable[[], Areas]:
    return lambda: peer.run(field)


def _too_long(peer: Peer, size: int, *, before: dict[int, dict[str, Timed]]) -> str:
    """Why a peer is not run at a size; nothing where it is."""
    known = [(n, rows[peer.name]) for n, rows in before.items() if peer.name in rows]
    if not known:
        return "" if size == min(SIZES) else "not run at a smaller size"
    if isinstance(known[-1][1].answer, Exception):
        return "failed at a smaller size"
    growth = _STEEPEST if len(known) < 2 else _exponent(known[-2:])
    expected_s = known[-1][1].cpu_s * (size / known[-1][0]) ** growth
    if expected_s <= _LONGEST_S:
        return ""
    return (
        f"one run would take some {expected_s:,.0f} s: {known[-1][1].cpu_s:.2g} s at {known[-1][0]:,}, "
        f"growing as n^{growth:.2f}"
    )


def _exponent(known: Sequence[tuple[int, Timed]]) -> float:
    (few, quick), (many, slow) = known[0], known[-1]
    return math.log(slow.cpu_s / quick.cpu_s) / math.log(many / few)


def _print_size(field: Field, found: dict[str, Timed], *, skipped: dict[str, str]) -> None:
    size = len(field)
    numpy_s = found["numpy, warm"].cpu_s
    compiled_s = found["compiled, warm"].cpu_s if "compiled, warm" in found else math.nan
    ours: Areas = found["numpy, warm"].answer
    print(
        f"engine    {size:,} points, {field.plot.area / ACRE_M2:.1f} acres, {field.number.max()} passes, "
        f"lines {100 * ours.spacing_m:.2g} cm apart"
    )
    print(
        f"  {'':<32} {'seconds':>9} {'cpu s':>9} {'calls':>5} {'of numpy':>9} {'of comp.':>9} "
        f"{'treated m2':>14} {'missed m2':>12} {'overlap m2':>12}"
    )
    for name in (*(f"{wish}, {call}" for wish in _WISHES for call in ("warm", "cold")), *(p.name for p in PEERS)):
        if name not in found:
            print(f"  {name:<32} not run: {skipped[name]}")
            continue
        row = found[name]
        ratios = f"{row.cpu_s / numpy_s:9.2f} {row.cpu_s / compiled_s:9.2f}"
        times = f"{row.seconds:9.4f} {row.cpu_s:9.4f} {row.calls:>5} {ratios}"
        if isinstance(row.answer, Exception):
            print(f"  {name:<32} {times}   failed: {str(row.answer)[:80]}")
            continue
        areas: Areas = row.answer
        overlap = "" if math.isnan(areas.overlap_m2) else f"{areas.overlap_m2:12.3f}"
        print(f"  {name:<32} {times} {areas.treated_m2:14.3f} {areas.missed_m2:12.3f} {overlap}")


def _print_aim(aim: Aim, size: int, *, found: dict[str, Timed]) -> None:
    if size not in aim.ratios:
        return
    ran = [found[name] for name in aim.peers if name in found]
    rivals = [row.cpu_s for row in ran if not isinstance(row.answer, Exception)]
    wanted = aim.ratios[size]
    if not rivals or aim.ours not in found:
        print(f"  aim {wanted:4.0f}x   not measured   {aim.words}")
        return
    ratio = min(rivals) / found[aim.ours].cpu_s
    print(f"  aim {wanted:4.0f}x   found {ratio:6.1f}x   {'reached' if ratio >= wanted else 'MISSED '}   {aim.words}")


def _growth_rows(found: dict[int, dict[str, Timed]]) -> None:
    sizes = [n for n in found if n >= 100_000]
    if len(sizes) < 2:
        print("engine    growth from 100,000 points up: not measured with --quick")
        return
    for wish in _WISHES:
        aim = GROWTH_AIMS[wish]
        known = [(n, found[n][f"{wish}, warm"]) for n in sizes]
        growth = _exponent(known)
        said = "reached" if growth <= aim else "MISSED"
        print(
            f"engine    {wish:<9} grows as n^{growth:.2f} from {sizes[0]:,} to {sizes[-1]:,} points; aim {aim}: {said}"
        )


def _memory_rows(size: int, *, folder: Path) -> None:
    for wish in _WISHES:
        aim = BYTES_AIMS[wish]
        told = ask("memory", wish, field_of(size, folder=folder), field_of(SIZES[0], folder=folder))
        per_point = told["bytes"] / told["points"]
        said = "reached" if per_point <= aim else "MISSED"
        print(
            f"engine    {wish:<9} {per_point:,.0f} bytes a point over the input at {size:,} points; aim {aim}: {said}"
        )
