"""Painting of `gladebook.passes.swath` and `gladebook.geometry.ribbon`, compiled: the same rules, the same numbers.

`gladebook.geometry.compiled_paint` calls it.
"""

import numba as nb
import numpy as np

from gladebook.geometry.ribbon import LOOK_AHEAD, PARALLEL, SMALL_TURN, SMALLEST_PIECE_M2

__all__ = ["paint_runs"]

_MOST_EDGES = 10


@nb.njit(cache=True, nogil=True)
def _keep(xy, first, last, on, left, right, figures, place, source):
    """Dead-band and corner points of one run: how many points were written."""
    still, long_step, corner = figures[0] ** 2, figures[1], figures[2]
    n = 0
    here = first
    for i in range(first, last + 1):
        keep = i in (first, last)
        if not keep:
            for k in range(len(on)):
                keep |= on[k, i] != on[k, i - 1] or left[k, i] != left[k, i - 1] or right[k, i] != right[k, i - 1]
        if not keep:
            keep = (xy[i, 0] - xy[here, 0]) ** 2 + (xy[i, 1] - xy[here, 1]) ** 2 >= still
        if not keep:
            continue
        if i > first:
            dx, dy = xy[i, 0] - xy[here, 0], xy[i, 1] - xy[here, 1]
            length = dx * dx + dy * dy
            if length > long_step * long_step:
                length = np.sqrt(length)
                for share in (corner / length, 1 - corner / length):
                    place[n, 0], place[n, 1], source[n] = xy[here, 0] + share * dx, xy[here, 1] + share * dy, here
                    n += 1
        place[n, 0], place[n, 1], source[n] = xy[i, 0], xy[i, 1], i
        n += 1
        here = i
    return n


@nb.njit(cache=True, nogil=True)
def _headings(place, n, reach, heading):
    """Headings along one run; false where it never moved."""
    reach2 = reach * reach
    first_good = -1
    for i in range(n):
        ahead, behind = i, i
        for j in range(i + 1, min(i + LOOK_AHEAD, n - 1) + 1):
            if (place[j, 0] - place[i, 0]) ** 2 + (place[j, 1] - place[i, 1]) ** 2 >= reach2:
                ahead = j
                break
        for j in range(i - 1, max(i - LOOK_AHEAD, 0) - 1, -1):
            if (place[j, 0] - place[i, 0]) ** 2 + (place[j, 1] - place[i, 1]) ** 2 >= reach2:
                behind = j
                break
        dx, dy = place[ahead, 0] - place[behind, 0], place[ahead, 1] - place[behind, 1]
        length = np.sqrt(dx * dx + dy * dy)
        if length > reach / 2:
            heading[i, 0], heading[i, 1] = dx / length, dy / length
            if first_good < 0:
                first_good = i
        elif first_good >= 0:
            heading[i, 0], heading[i, 1] = heading[i - 1, 0], heading[i - 1, 1]
    if first_good < 0:
        dx, dy = place[n - 1, 0] - place[0, 0], place[n - 1, 1] - place[0, 1]
        length = np.hypot(dx, dy)
        if length <= 0:
            return False
        for i in range(n):
            heading[i, 0], heading[i, 1] = dx / length, dy / length
        return True
    for i in range(first_good):
        heading[i, 0], heading[i, 1] = heading[first_good, 0], heading[first_good, 1]
    return True


@nb.njit(cache=True, nogil=True)
def _width(left, right, at):
    a, b = left[0, at], right[0, at]
    for k in range(1, len(left)):
        a, b = max(a, left[k, at]), min(b, right[k, at])
    return a - b


@nb.njit(cache=True, nogil=True)
def _any(on, at):
    for k in range(len(on)):  # noqa: SIM110 # numba compiles no generator as fast
        if on[k, at]:
            return True
    return False


@nb.njit(cache=True, nogil=True)
def _angle(across, along):
    """The arc tangent of across over along, radians; without calling it where the angle is small."""
    if along > 0 and abs(across) < SMALL_TURN * along:
        t = across / along
        q = t * t
        return t * (1 - q * (1 / 3 - q * (1 / 5 - q * (1 / 7 - q / 9))))
    return np.arctan2(across, along)


@nb.njit(cache=True, nogil=True)
def _number(place, heading, source, n, left, right, figures, ribbon, turn, count):
    """Ribbons of the steps of one run, from `count` on; the next free number."""
    most, sharp = figures[4], figures[5]
    tight = np.zeros(n - 1, dtype=np.bool_)
    width = np.empty(n - 1)
    for i in range(n - 1):
        ax, ay, bx, by = heading[i, 0], heading[i, 1], heading[i + 1, 0], heading[i + 1, 1]
        turn[i] = _angle(ax * by - ay * bx, ax * bx + ay * by)
        at = source[i]
        width[i] = _width(left, right, at)
        length2 = (place[i + 1, 0] - place[i, 0]) ** 2 + (place[i + 1, 1] - place[i, 1]) ** 2
        tight[i] = length2 < (turn[i] * width[i] / 2) ** 2
    i = 0
    while i < n - 1:
        j, total = i, 0.0
        while j < n - 1 and tight[j] == tight[i]:
            total += turn[j]
            j += 1
        if tight[i] and abs(total) <= sharp:
            tight[i:j] = False
        # Looked at from its end on: what was just made plain is not looked at again.
        i = j
    turned = 0.0
    for i in range(n - 1):
        fresh = i == 0 or width[i] != width[i - 1] or tight[i] != tight[i - 1]
        fresh = fresh or abs(turn[i]) > sharp or abs(turn[i - 1]) > sharp
        turned += turn[i]
        if fresh or abs(turned) > most:
            count += 1
            turned = turn[i]
        ribbon[i] = count - 1
    return count


@nb.njit(cache=True, nogil=True)
def _turn_of(a, b, c):
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


@nb.njit(cache=True, nogil=True)
def _meet(a0, a1, b0, b1):
    """Whether segment a0-a1 properly crosses b0-b1, and where."""
    dax, day, dbx, dby = a1[0] - a0[0], a1[1] - a0[1], b1[0] - b0[0], b1[1] - b0[1]
    gx, gy = b0[0] - a0[0], b0[1] - a0[1]
    cross = dax * dby - day * dbx
    if abs(cross) <= PARALLEL:
        return False, a0
    s, t = (gx * dby - gy * dbx) / cross, (gx * day - gy * dax) / cross
    return 0 < s < 1 and 0 < t < 1, (a0[0] + s * dax, a0[1] + s * day)


@nb.njit(cache=True, nogil=True)
def _triangle(a, b, c, ends, e):
    twice = _turn_of(a, b, c)
    if abs(twice) <= 2 * SMALLEST_PIECE_M2:
        return e
    if twice < 0:
        b, c = c, b
    e = _edge(a, b, ends, e)
    e = _edge(b, c, ends, e)
    return _edge(c, a, ends, e)


@nb.njit(cache=True, nogil=True)
def _edge(a, b, ends, e):
    ends[e, 0, 0], ends[e, 0, 1], ends[e, 1, 0], ends[e, 1, 1] = a[0], a[1], b[0], b[1]
    return e + 1


@nb.njit(cache=True, nogil=True)
def _odd(l0, r0, l1, r1, ends, e):
    """A step whose line pivoted, went backward or ran along itself, as pieces that run anticlockwise."""
    crossed, pivot = _meet(l0, r0, l1, r1)
    if crossed:
        return _triangle(r0, pivot, r1, ends, _triangle(l0, pivot, l1, ends, e))
    folded, middle = _meet(r0, r1, l0, l1)
    if folded:
        return _triangle(middle, r1, l1, ends, _triangle(l0, r0, middle, ends, e))
    twice = _turn_of(l0, r0, r1) + _turn_of(l0, r1, l1)
    if abs(twice) <= 2 * SMALLEST_PIECE_M2:
        return e
    if twice < 0:
        r0, l1 = l1, r0
    e = _edge(l0, r0, ends, e)
    e = _edge(r0, r1, ends, e)
    e = _edge(r1, l1, ends, e)
    return _edge(l1, l0, ends, e)


@nb.njit(cache=True, nogil=True)
def _tip(x, y, hx, hy, behind, side):
    return x - behind * hx - side * hy, y - behind * hy + side * hx


@nb.njit(cache=True, nogil=True)
def _lane(place, heading, source, begin, end, on, left, right, behind, ends, e, lefts):
    """Outline of one section's ground over steps begin to end, not included, of one ribbon.

    The left side comes after the right one, so that the lines are crossed by both in the same order everywhere.
    """
    open_, kept = False, 0
    last_r, last_l, last_left, last_right = (0.0, 0.0), (0.0, 0.0), 0.0, 0.0
    for i in range(begin, end):
        at = source[i]
        if not on[at]:
            if open_:
                e = _edge(last_r, last_l, ends, e)
            open_ = False
            continue
        same = left[at] == last_left and right[at] == last_right
        x1, y1 = place[i + 1, 0], place[i + 1, 1]
        h0x, h0y, h1x, h1y = heading[i, 0], heading[i, 1], heading[i + 1, 0], heading[i + 1, 1]
        back = h0x * h1x + h0y * h1y < 0
        if back:
            dx, dy = x1 - place[i, 0], y1 - place[i, 1]
            length = np.hypot(dx, dy)
            length = length if length > 0 else 1.0
            h0x, h0y = dx / length, dy / length
            h1x, h1y = h0x, h0y
        if open_ and same and not back:
            l0, r0 = last_l, last_r
        else:
            l0 = _tip(place[i, 0], place[i, 1], h0x, h0y, behind, left[at])
            r0 = _tip(place[i, 0], place[i, 1], h0x, h0y, behind, right[at])
        l1, r1 = _tip(x1, y1, h1x, h1y, behind, left[at]), _tip(x1, y1, h1x, h1y, behind, right[at])
        a, b, c, d = _turn_of(l0, r0, r1), _turn_of(r0, r1, l1), _turn_of(r1, l1, l0), _turn_of(l1, l0, r0)
        against = (a < 0) + (b < 0) + (c < 0) + (d < 0)
        plain = against <= 1 and a + c > 2 * SMALLEST_PIECE_M2 and not back
        if open_ and not (plain and same):
            e = _edge(last_r, last_l, ends, e)
            open_ = False
        if plain:
            if not open_:
                e = _edge(l0, r0, ends, e)
            e = _edge(r0, r1, ends, e)
            kept = _edge(l1, l0, lefts, kept)
            open_, last_r, last_l, last_left, last_right = True, r1, l1, left[at], right[at]
        else:
            e = _odd(l0, r0, l1, r1, ends, e)
    if open_:
        e = _edge(last_r, last_l, ends, e)
    ends[e : e + kept] = lefts[:kept]
    return e + kept


@nb.njit(cache=True, nogil=True)
def paint_runs(xy, cut, on, left, right, behind, figures, room, line) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Edges, their ribbons, and the path's step in the middle of each ribbon; `room` and `line` are memory to use."""
    n, lanes = len(xy), len(on)
    ends, owner = room
    place, heading, source, lefts = line
    ribbon, turn = np.empty(3 * n + 3, dtype=np.int64), np.empty(3 * n + 3)
    steps = np.empty(1024, dtype=np.int64)
    count, e, first = 0, 0, 0
    while first < n - 1:
        last = first
        while last < n - 1 and not cut[last] and _any(on, last):
            last += 1
        if last == first:
            first += 1
            continue
        m = _keep(xy, first, last, on, left, right, figures, place, source)
        first = last
        if not _headings(place, m, figures[3], heading):
            continue
        before = count
        count = _number(place, heading, source, m, left, right, figures, ribbon, turn, count)
        begin = 0
        for number in range(before, count):
            end = begin
            while end < m - 1 and ribbon[end] == number:
                end += 1
            if number >= len(steps):
                steps = _longer(steps)
            steps[number] = source[(begin + end - 1) // 2]
            need = e + lanes * (end - begin + 1) * _MOST_EDGES
            if need > len(owner):
                ends, owner = _roomier(ends, owner, need)
            stop = e
            for k in range(lanes):
                stop = _lane(place, heading, source, begin, end, on[k], left[k], right[k], behind, ends, stop, lefts)
            owner[e:stop] = number
            e = stop
            begin = end
    return ends[:e], owner[:e], steps[:count]


@nb.njit(cache=True, nogil=True)
def _longer(values):
    more = np.empty(2 * len(values), dtype=values.dtype)
    more[: len(values)] = values
    return more


@nb.njit(cache=True, nogil=True)
def _roomier(ends, owner, need):
    size = max(2 * len(owner), need)
    more, names = np.empty((size, 2, 2)), np.empty(size, dtype=np.int32)
    more[: len(owner)] = ends
    names[: len(owner)] = owner
    return more, names
