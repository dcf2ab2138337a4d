"""The sweep of `gladebook.geometry.scan`, compiled: the same rules, the same numbers.

Importing this module loads numba (0.3 to 0.5 s) and, the very first time on a machine, compiles for
some twenty seconds; the result is kept in a cache folder.
"""

import numba as nb
import numpy as np

from gladebook.geometry.ribbon import Edges
from gladebook.geometry.scan import MOST_COUNTED, NOTHING_M, PAIRS_DEEP
from gladebook.geometry.scene import Pairs, Scene, Stretches, Swept, sum_pairs

__all__ = ["sweep_compiled"]

_FEW_GROUPS = 2000
_NEAR = 12


def sweep_compiled(scene: Scene, *, spacing_m: float, wanted: np.ndarray) -> Swept:
    """Sweep a scene; see `gladebook.geometry.scan.sweep_plain`."""
    begin, base, x, who = _by_line([_paired(part) for part in scene.parts if len(part)], spacing_m=spacing_m)
    room = len(x) // 4 + 1024
    area, ground_m, row, ends, kind, pair_group, pair_m, table = _sweep(
        x,
        who,
        begin,
        np.array([scene.grounds, scene.veils], dtype=np.int64),
        scene.region,
        scene.group,
        wanted.ravel(),
        (np.empty(room, dtype=np.int32), np.empty((room, 2)), np.empty(room, dtype=np.int32)),
        base,
    )
    listed = np.nonzero(table)
    groups = np.concatenate([pair_group, np.column_stack(listed)])
    shared = Pairs(groups[:, 0], groups[:, 1], np.concatenate([pair_m, table[listed]]))
    return Swept(
        spacing_m=spacing_m,
        area_m2=area.reshape(-1, 4, 2) * spacing_m,
        ground_m2=ground_m * spacing_m,
        stretches=Stretches(row=row, start_m=ends[:, 0], end_m=ends[:, 1], kind=kind),
        pairs=sum_pairs([shared], spacing_m=spacing_m),
    )


def _paired(edges: Edges) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Starts, ends and owners, as one kind of array each, so that numba compiles for one: as a paint leaves them."""
    owner = edges.owner.astype(np.int32, copy=False)
    if edges.start_m.strides == (32, 8) and edges.end_m.strides == (32, 8):
        return edges.start_m, edges.end_m, owner
    ends = np.stack([edges.start_m, edges.end_m], axis=1)
    return ends[:, 0], ends[:, 1], owner


def _by_line(
    parts: list[tuple[np.ndarray, np.ndarray, np.ndarray]], *, spacing_m: float
) -> tuple[np.ndarray, int, np.ndarray, np.ndarray]:
    """Where each line's crossings begin, the number of the first line, and x and owner of each crossing.

    Owners of downward edges are given as -1 - owner.
    """
    extents = [_extent(start_m, end_m) for start_m, end_m, _ in parts]
    base = min((_line(low, 1 / spacing_m) for low, _ in extents), default=0)
    rows = max((_line(high, 1 / spacing_m) for _, high in extents), default=0) - base
    begin = np.zeros(rows + 2, dtype=np.int64)
    for start_m, end_m, _ in parts:
        _count(start_m, end_m, 1 / spacing_m, base, begin)
    # Twice summed: how many edges each line crosses, then where each line's crossings begin.
    np.cumsum(begin, out=begin)
    np.cumsum(begin, out=begin)
    # Passes lie beside each other in the order they were driven: filled from the side where that began, a line is
    # nearly sorted.
    back = bool(parts) and bool(parts[0][0][0, 0] > parts[0][0][-1, 0])
    at = begin[1:] - 1 if back else begin.copy()
    x, who = np.empty(begin[rows], dtype=np.float64), np.empty(begin[rows], dtype=np.int32)
    # What is given last, the plots, ends up at the end of each line, from where a few crossings are moved at once.
    for start_m, end_m, owner in parts[::-1] if back else parts:
        _crossings(start_m, end_m, owner, spacing_m, base, at, -1 if back else 1, x, who)
    return begin, base, x, who


@nb.njit(cache=True, nogil=True)
def _line(y, per_m):
    """The first line at or above a height, of so many lines a metre."""
    return np.int64(np.ceil(y * per_m - 0.5))


@nb.njit(cache=True, nogil=True)
def _extent(start_m, end_m):
    low, high = start_m[0, 1], start_m[0, 1]
    for i in range(len(start_m)):
        low = min(low, start_m[i, 1], end_m[i, 1])
        high = max(high, start_m[i, 1], end_m[i, 1])
    return low, high


@nb.njit(cache=True, nogil=True)
def _count(start_m, end_m, per_m, base, begin):
    """Add how many more edges cross each line than the one below, one place further on."""
    for i in range(len(start_m)):
        a, b = _line(start_m[i, 1], per_m), _line(end_m[i, 1], per_m)
        begin[min(a, b) - base + 1] += 1
        begin[max(a, b) - base + 1] -= 1


@nb.njit(cache=True, nogil=True)
def _crossings(start_m, end_m, owner, spacing_m, base, at, step, x, who):
    """Put each crossing of a part's edges into its line's place; `at` moves on."""
    per_m = 1 / spacing_m
    for i in range(len(owner)):
        a, b = _line(start_m[i, 1], per_m), _line(end_m[i, 1], per_m)
        if a == b:
            continue
        slope = (end_m[i, 0] - start_m[i, 0]) / (end_m[i, 1] - start_m[i, 1])
        at_zero = start_m[i, 0] - slope * start_m[i, 1]
        code = owner[i] if a < b else -1 - owner[i]
        for r in range(min(a, b), max(a, b)):
            place = at[r - base]
            x[place] = at_zero + slope * ((r + 0.5) * spacing_m)
            who[place] = code
            at[r - base] = place + step


@nb.njit(cache=True, nogil=True)
def _in_order(x, who, line_x, line_who, order, raw, n):
    """Put one line's crossings in order into `line_x` and `line_who`.

    The next line is mostly crossed by the same outlines in the same order: where its owners come as those of the
    last line came, which are in `raw`, `order` says how that was sorted, and little is left to do.
    """
    alike = len(x) == n
    n = len(x)
    if alike:
        for i in range(n):
            alike &= who[i] == raw[i]
    if not alike:
        for i in range(n):
            raw[i] = who[i]
            order[i] = i
    for i in range(n):
        line_x[i], line_who[i] = x[order[i]], who[order[i]]
    moves = 8 * n
    for i in range(1, n):
        here = line_x[i]
        if line_x[i - 1] <= here:
            continue
        code, place = line_who[i], order[i]
        near = max(0, i - _NEAR)
        j = i - 1
        while j >= near and line_x[j] > here:
            line_x[j + 1], line_who[j + 1], order[j + 1] = line_x[j], line_who[j], order[j]
            j -= 1
        moves -= i - 1 - j
        if j < near and near > 0 and line_x[j] > here:
            low = np.searchsorted(line_x[: j + 1], here, side="right")
            line_x[low + 1 : j + 2] = line_x[low : j + 1].copy()
            line_who[low + 1 : j + 2] = line_who[low : j + 1].copy()
            order[low + 1 : j + 2] = order[low : j + 1].copy()
            moves -= (j + 1 - low) // _NEAR
            j = low - 1
        line_x[j + 1], line_who[j + 1], order[j + 1] = here, code, place
        if moves < 0:
            order[:n] = np.argsort(x)
            for k in range(n):
                line_x[k], line_who[k] = x[order[k]], who[order[k]]
            return n
    return n


@nb.njit(cache=True, nogil=True)
def _grown(values, least):
    """The same values with room for more."""
    more = np.empty(max(2 * len(values), least), dtype=values.dtype)
    more[: len(values)] = values
    return more


@nb.njit(cache=True, nogil=True, inline="always")  # a call with so many arrays takes longer than what it does
def _close(one, here, count, active, since, group, table, pair_group, pair_m, pairs):
    """Take a ground off the open ones, and tell what it shared with them."""
    place = 0
    while active[place] != one:
        place += 1
    active[place] = active[count - 1]
    for k in range(count - 1):
        other = active[k]
        shared = here - max(since[one], since[other])
        if shared > 0:
            a, b = min(group[one], group[other]), max(group[one], group[other])
            if len(table):
                table[a, b] += shared
            elif pairs < len(pair_m):
                pair_group[pairs, 0], pair_group[pairs, 1], pair_m[pairs] = a, b, shared
                pairs += 1
    return pairs


@nb.njit(cache=True, nogil=True)
def _sweep_line(
    x,
    who,
    wind,
    since,
    active,
    grounds,
    veils,
    region,
    group,
    wanted,
    area,
    kept_x,
    kept_kind,
    table,
    pair_group,
    pair_m,
):
    """One line: adds to `area` and `table`, fills the buffers; stretches, pairs and metres of ground."""
    count, veiled, within, where = 0, 0, 0, 0
    kept, pairs, ground_m = 0, 0, 0.0
    for i in range(len(x)):
        code = who[i]
        one = code if code >= 0 else -1 - code
        before = wind[one]
        after = before + 1 if code >= 0 else before - 1
        wind[one] = after
        if before == 0 or after == 0:
            change = 1 if before == 0 else -1
            if one < grounds:
                if change > 0:
                    active[count] = one
                    since[one] = x[i]
                else:
                    ground_m += x[i] - since[one]
                    if count > 1:
                        pairs = _close(one, x[i], count, active, since, group, table, pair_group, pair_m, pairs)
                count += change
            elif one < grounds + veils:
                veiled += change
            else:
                within += change
                where += change * region[one - grounds - veils]
        if i + 1 == len(x):
            break
        length = x[i + 1] - x[i]
        what = (where if within == 1 else 0) * 8 + min(count, MOST_COUNTED) * 2 + (1 if veiled > 0 else 0)
        area[what] += length
        if wanted[what] and length > NOTHING_M:
            if kept > 0 and kept_kind[kept - 1] == what and x[i] - kept_x[kept - 1, 1] <= 10 * NOTHING_M:
                kept_x[kept - 1, 1] = x[i + 1]
            else:
                kept_kind[kept], kept_x[kept, 0], kept_x[kept, 1] = what, x[i], x[i + 1]
                kept += 1
    return kept, pairs, ground_m


@nb.njit(cache=True, nogil=True)
def _sweep(x, who, begin, counts, region, group, wanted, found, base):
    row, ends, kind = found
    grounds, veils, rows = counts[0], counts[1], len(begin) - 2
    most = np.int64(0)
    for r in range(rows):
        most = max(most, begin[r + 1] - begin[r])
    wind = np.zeros(grounds + veils + len(region) + 1, dtype=np.int64)
    since, active = np.zeros(grounds + 1), np.zeros(most + 1, dtype=np.int64)
    area, ground_m = np.zeros(len(wanted)), 0.0
    groups = group.max() + 1 if grounds else 0
    side = groups if groups <= _FEW_GROUPS else 0
    table = np.zeros((side, side))
    line_x, line_kind = np.empty((most + 1, 2)), np.empty(most + 1, dtype=np.int64)
    line_pairs = 0 if side else PAIRS_DEEP * most
    line_group, line_m = np.empty((line_pairs, 2), dtype=np.int64), np.empty(line_pairs)
    pair_group, pair_m = np.empty((1024, 2), dtype=np.int64), np.empty(1024)
    here_x, here_who = np.empty(most + 1), np.empty(most + 1, dtype=np.int32)
    order, raw = np.empty(most + 1, dtype=np.int64), np.empty(most + 1, dtype=np.int32)
    kept, pairs, n = 0, 0, 0
    for r in range(rows):
        first, last = begin[r], begin[r + 1]
        n = _in_order(x[first:last], who[first:last], here_x, here_who, order, raw, n)
        k, p, metres = _sweep_line(
            here_x[:n], here_who[:n], wind, since, active, grounds, veils, region, group,
            wanted, area, line_x, line_kind, table, line_group, line_m,
        )  # fmt: skip
        ground_m += metres
        if kept + k > len(row):
            row, kind = _grown(row, kept + k), _grown(kind, kept + k)
            ends = _grown_pairs(ends, kept + k)
        row[kept : kept + k] = r + base
        kind[kept : kept + k] = line_kind[:k]
        ends[kept : kept + k] = line_x[:k]
        kept += k
        if pairs + p > len(pair_m):
            pair_m, pair_group = _grown(pair_m, pairs + p), _grown_pairs(pair_group, pairs + p)
        pair_m[pairs : pairs + p] = line_m[:p]
        pair_group[pairs : pairs + p] = line_group[:p]
        pairs += p
    return area, ground_m, row[:kept], ends[:kept], kind[:kept], pair_group[:pairs], pair_m[:pairs], table


@nb.njit(cache=True, nogil=True)
def _grown_pairs(values, least):
    """The same rows of two with room for more."""
    more = np.empty((max(2 * len(values), least), 2), dtype=values.dtype)
    more[: len(values)] = values
    return more
