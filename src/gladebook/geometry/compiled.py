"""The sweep of `gladebook.geometry.scan`, compiled: the same rules, the same numbers.

Importing this module loads numba (0.3 to 0.5 s) and, the very first time on a machine, compiles for
some twenty seconds; the result is kept in a cache folder.
"""

import numba as nb
import numpy as np

from gladebook.geometry.scan import MOST_COUNTED, NOTHING_M, PAIRS_DEEP
from gladebook.geometry.scene import Pairs, Scene, Stretches, Swept, sum_pairs

__all__ = ["sweep_compiled"]

_FEW_GROUPS = 2000


def sweep_compiled(scene: Scene, *, spacing_m: float, wanted: np.ndarray) -> Swept:
    """Sweep a scene; see `gladebook.geometry.scan.sweep_plain`."""
    edges = scene.edges
    area, ground_m, row, ends, kind, pair_group, pair_m, table = _sweep(
        edges.start_m,
        edges.end_m,
        edges.owner,
        np.array([scene.grounds, scene.veils], dtype=np.int64),
        scene.region,
        scene.group,
        wanted.ravel(),
        spacing_m,
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


@nb.njit(cache=True, nogil=True)
def _rows(start_m, end_m, spacing_m):
    """Number of lines, the lowest, and where each line's crossings begin."""
    n = len(start_m)
    low = np.empty(n, dtype=np.int32)
    high = np.empty(n, dtype=np.int32)
    base, top = np.int64(2**62), np.int64(-(2**62))
    for i in range(n):
        a = np.int64(np.ceil(start_m[i, 1] / spacing_m - 0.5))
        b = np.int64(np.ceil(end_m[i, 1] / spacing_m - 0.5))
        low[i], high[i] = min(a, b), max(a, b)
        if low[i] < high[i]:
            base, top = min(base, low[i]), max(top, high[i])
    rows = max(top - base, 0)
    begin = np.zeros(rows + 2, dtype=np.int64)
    for i in range(n):
        if low[i] < high[i]:
            begin[low[i] - base + 1] += 1
            begin[high[i] - base + 1] -= 1
    # Twice summed: how many edges each line crosses, then where each line's crossings begin.
    for r in range(1, rows + 2):
        begin[r] += begin[r - 1]
    for r in range(1, rows + 2):
        begin[r] += begin[r - 1]
    return base, rows, low, high, begin


@nb.njit(cache=True, nogil=True)
def _crossings(start_m, end_m, owner, spacing_m, base, rows, low, high, begin):
    """X and owner of each crossing, by line; owners of downward edges as -1 - owner."""
    at = begin[: rows + 1].copy()
    total = begin[rows]
    x = np.empty(total, dtype=np.float64)
    who = np.empty(total, dtype=np.int32)
    for i in range(len(owner)):
        if low[i] >= high[i]:
            continue
        slope = (end_m[i, 0] - start_m[i, 0]) / (end_m[i, 1] - start_m[i, 1])
        at_zero = start_m[i, 0] - slope * start_m[i, 1]
        code = owner[i] if end_m[i, 1] > start_m[i, 1] else -1 - owner[i]
        for r in range(low[i], high[i]):
            place = at[r - base]
            x[place] = at_zero + slope * ((r + 0.5) * spacing_m)
            who[place] = code
            at[r - base] = place + 1
    return x, who


@nb.njit(cache=True, nogil=True)
def _sort_line(x, who, first, last):
    """Sort one line's crossings by place."""
    n = last - first
    down = 0
    for i in range(first + 1, last):
        down += x[i] < x[i - 1]
    if 2 * down > n:
        i, j = first, last - 1
        while i < j:
            x[i], x[j], who[i], who[j] = x[j], x[i], who[j], who[i]
            i, j = i + 1, j - 1
    moves = 8 * n
    for i in range(first + 1, last):
        here, code = x[i], who[i]
        j = i - 1
        while j >= first and x[j] > here:
            x[j + 1], who[j + 1] = x[j], who[j]
            j -= 1
        x[j + 1], who[j + 1] = here, code
        moves -= i - 1 - j
        if moves < 0:
            order = np.argsort(x[first:last])
            x[first:last] = x[first:last][order]
            who[first:last] = who[first:last][order]
            return


@nb.njit(cache=True, nogil=True)
def _grown(values, least):
    """The same values with room for more."""
    more = np.empty(max(2 * len(values), least), dtype=values.dtype)
    more[: len(values)] = values
    return more


@nb.njit(cache=True, nogil=True)
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
def _sweep(start_m, end_m, owner, counts, region, group, wanted, spacing_m):
    grounds, veils = counts[0], counts[1]
    base, rows, low, high, begin = _rows(start_m, end_m, spacing_m)
    x, who = _crossings(start_m, end_m, owner, spacing_m, base, rows, low, high, begin)
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
    row, kind, ends = np.empty(1024, dtype=np.int64), np.empty(1024, dtype=np.int64), np.empty((1024, 2))
    pair_group, pair_m = np.empty((1024, 2), dtype=np.int64), np.empty(1024)
    kept, pairs = 0, 0
    for r in range(rows):
        first, last = begin[r], begin[r + 1]
        _sort_line(x, who, first, last)
        k, p, metres = _sweep_line(
            x[first:last], who[first:last], wind, since, active, grounds, veils, region, group,
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
