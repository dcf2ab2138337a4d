"""The rings of `gladebook.geometry.outline`, compiled: the same rules, the same numbers.

Two lines beside each other are gone through together, from left to right, as two sorted lists are merged.
"""

import numba as nb
import numpy as np

__all__ = ["rings_compiled"]


def rings_compiled(
    row: np.ndarray, start: np.ndarray, end: np.ndarray, *, spacing_m: float, least_m: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Outlines of stretches that hang together, those with less than `least_m` of them left out.

    Parameters
    ----------
    row, start, end
        By line and from left to right; those of one line do not touch.
    spacing_m
        Between the lines.
    least_m
        The least length of stretches that hang together.

    Returns
    -------
    Corners of all rings, shape (k, 2); the first corner of each ring; whether it is a hole.
    """
    n = len(row)
    # Numpy asks for large pages, numba does not: new memory costs a third.
    links, owner, total = np.empty((2, 2 * n), dtype=np.int64), np.empty(n, dtype=np.int64), np.zeros(n)
    xy, first, hole = np.empty((6 * n, 2)), np.empty(n, dtype=np.int64), np.empty(n, dtype=np.bool_)
    corners, rings = _outline(row, start, end, spacing_m, least_m, links, owner, total, xy, first, hole)
    return xy[:corners], first[:rings], hole[:rings]


@nb.njit(cache=True, nogil=True)
def _root(owner, i):
    while owner[i] != i:
        owner[i] = owner[owner[i]]
        i = owner[i]
    return i


@nb.njit(cache=True, nogil=True)
def _join(owner, i, j):
    """Let two stretches hang together, under the lower number of both."""
    a, b = _root(owner, i), _root(owner, j)
    owner[max(a, b)] = min(a, b)


@nb.njit(cache=True, nogil=True)
def _link(low, low_end, high, high_end, start, end, links, owner):
    """Links between two lines: up from stretches `low` to `low_end`, down from `high` to `high_end`."""
    up, down = links
    a, b = low, high
    while a < low_end or b < high_end:
        first_a, first_b, reach, last = a, b, -np.inf, -1
        while a < low_end or b < high_end:
            from_low = a < low_end and (b >= high_end or start[a] <= start[b])
            k = a if from_low else b
            if last >= 0:
                if start[k] > reach:
                    break
                _join(owner, last, k)
            reach, last = max(reach, end[k]), k
            if from_low:
                a += 1
            else:
                b += 1
        if a == first_a or b == first_b:
            continue
        for k in range(first_a, a - 1):
            up[2 * k + 1], up[2 * k + 2] = 2 * k + 2, 2 * k + 1
        for k in range(first_b, b - 1):
            down[2 * k + 1], down[2 * k + 2] = 2 * k + 2, 2 * k + 1
        up[2 * first_a], down[2 * first_b] = 2 * first_b, 2 * first_a
        up[2 * a - 1], down[2 * b - 1] = 2 * b - 1, 2 * a - 1


@nb.njit(cache=True, nogil=True)
def _outline(row, start, end, spacing_m, least_m, links, owner, total, xy, first, hole):
    """Fill the arrays; how many corners and how many rings there are."""
    n = len(row)
    for i in range(n):
        owner[i] = i
        # Alone, a stretch leads across to its own other end.
        for side in range(2):
            links[side, 2 * i], links[side, 2 * i + 1] = 2 * i + 1, 2 * i
    low = 0
    while low < n:
        high = low
        while high < n and row[high] == row[low]:
            high += 1
        high_end = high
        while high_end < n and row[high_end] == row[low] + 1:
            high_end += 1
        _link(low, high, high, high_end, start, end, links, owner)
        low = high
    for i in range(n):
        total[_root(owner, i)] += end[i] - start[i]
    up, down = links
    seen = np.zeros(2 * n, dtype=np.bool_)
    corners, rings, half = 0, 0, spacing_m / 2
    for begin in range(2 * n):
        if seen[begin] or total[_root(owner, begin // 2)] < least_m:
            continue
        first[rings], hole[rings] = corners, begin % 2 == 1
        rings += 1
        at, rising = begin, True
        while not seen[at]:
            seen[at] = True
            i = at // 2
            x, y = end[i] if at % 2 else start[i], (row[i] + 0.5) * spacing_m
            xy[corners, 0], xy[corners, 1] = x, y
            corners += 1
            to = up[at] if rising else down[at]
            j = to // 2
            if row[j] == row[i]:
                edge = y + half if rising else y - half
                xy[corners, 0], xy[corners, 1] = x, edge
                xy[corners + 1, 0], xy[corners + 1, 1] = end[j] if to % 2 else start[j], edge
                corners += 2
                rising = not rising
            at = to
    return corners, rings
