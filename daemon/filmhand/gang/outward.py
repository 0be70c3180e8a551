"""Fewer corners without losing a point: a polygon simplified so that it only ever grows.

Two moves, the cheaper (by area added) first: a hollow corner is cut across, or an edge between two bulging corners is dropped and
its neighbours lengthened until they meet. A move that would touch another part of the boundary, or leave the picture's box, is
not made. The idea that a nesting polygon is simplified by these two moves is common in the nesting literature.
"""

from typing import Final

import numba
import numpy as np
from numpy.typing import NDArray

_NEVER: Final = np.inf
_EPSILON: Final = 1e-9
_TRIANGLE: Final = 3


def simplified_outward(
    points: NDArray[np.float64], *, bounds: tuple[float, float], step: float, limit: int, most_area: float
) -> NDArray[np.float64]:
    """A ring n×2 float64 (counter-clockwise where y grows upward, first point not repeated) as one around it with fewer points.

    Hollow corners no deeper than `step` (the stairs of a pixel edge) are always cut; then both moves are made while more than
    `limit` points are left and what they add stays under `most_area`. `bounds`: width and height of the box
    [0, width] × [0, height] that is not to be left.
    """
    ring: NDArray[np.float64] = _both_moves(_without_stairs(np.ascontiguousarray(points), step), bounds, limit, most_area)
    return ring


@numba.njit(cache=True)
def _without_stairs(points, step):  # type: ignore[no-untyped-def]
    ring, count = points.copy(), len(points)
    source = np.arange(count)
    untried, i = count, 0
    while untried > 0 and count > _TRIANGLE:
        before, after = (i - 1) % count, (i + 1) % count
        if (
            _is_hollow(ring, count, i)
            and _lies_near(points, source[before], source[after], step)
            and not _crosses(ring, count, (i + 2) % count, count - 4, ring[before], ring[after])
        ):
            ring[i : count - 1] = ring[i + 1 : count].copy()
            source[i : count - 1] = source[i + 1 : count].copy()
            count -= 1
            untried = min(count, untried + 2)
            i = (i - 1) % count
        else:
            untried -= 1
            i = (i + 1) % count
    return ring[:count].copy()


@numba.njit(cache=True)
def _lies_near(points, first, last, step):  # type: ignore[no-untyped-def]
    """Whether all corners between two of a ring lie within `step` of the chord between these, measured across it."""
    start, end = points[first], points[last]
    reach = step * np.hypot(end[0] - start[0], end[1] - start[1])
    for k in range(1, (last - first) % len(points)):
        if abs(_cross(start, end, points[(first + k) % len(points)])) > reach:
            return False
    return True


@numba.njit(cache=True)
def _both_moves(points, bounds, limit, most_area):  # type: ignore[no-untyped-def]
    ring = points.copy()
    count = len(ring)
    costs = np.empty(count)
    for i in range(count):
        costs[i] = _cost(ring, count, i, bounds)
    added = 0.0
    while count > limit:
        best = int(np.argmin(costs[:count]))
        if added + costs[best] > most_area:
            break
        before, after = (best - 1) % count, (best + 1) % count
        if _is_hollow(ring, count, best):
            blocked = _crosses(ring, count, (best + 2) % count, count - 4, ring[before], ring[after])
            gone = best
        else:
            peak = _meeting(ring, count, best)
            others = (best + 2) % count
            blocked = _crosses(ring, count, others, count - 3, ring[best], peak)
            blocked = blocked or _crosses(ring, count, others, count - 3, peak, ring[after])
            gone = after
        if blocked:
            costs[best] = _NEVER
            continue
        if gone == after:
            ring[best] = peak
        added += costs[best]
        ring[gone : count - 1] = ring[gone + 1 : count].copy()
        costs[gone : count - 1] = costs[gone + 1 : count].copy()
        count -= 1
        near = gone if gone < count else 0
        for step in range(-3, 4):
            i = (near + step) % count
            costs[i] = _cost(ring, count, i, bounds)
    return ring[:count].copy()


@numba.njit(cache=True)
def _cross(a, b, c):  # type: ignore[no-untyped-def]
    """Twice the signed area of a triangle; positive where a → b → c turns left (y upward)."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


@numba.njit(cache=True)
def _is_hollow(ring, count, i):  # type: ignore[no-untyped-def]
    return _cross(ring[(i - 1) % count], ring[i], ring[(i + 1) % count]) <= _EPSILON


@numba.njit(cache=True)
def _meeting(ring, count, i):  # type: ignore[no-untyped-def]
    """Where the edge before corner i and the edge after corner i + 1 meet when lengthened; nan where they do not."""
    before, a, b, after = ring[(i - 1) % count], ring[i], ring[(i + 1) % count], ring[(i + 2) % count]
    ux, uy = a[0] - before[0], a[1] - before[1]
    vx, vy = after[0] - b[0], after[1] - b[1]
    turn = ux * vy - uy * vx
    if turn <= _EPSILON * (abs(ux) + abs(uy)) * (abs(vx) + abs(vy)):
        return np.array([np.nan, np.nan])
    along = ((b[0] - a[0]) * vy - (b[1] - a[1]) * vx) / turn
    return np.array([a[0] + along * ux, a[1] + along * uy])


@numba.njit(cache=True)
def _cost(ring, count, i, bounds):  # type: ignore[no-untyped-def]
    """Area that the move at corner i adds; infinite where there is none."""
    following = (i + 1) % count
    if _is_hollow(ring, count, i):
        return abs(_cross(ring[(i - 1) % count], ring[i], ring[following])) / 2
    if _is_hollow(ring, count, following) or count <= _TRIANGLE:
        return _NEVER
    peak = _meeting(ring, count, i)
    if not (0.0 <= peak[0] <= bounds[0] and 0.0 <= peak[1] <= bounds[1]):
        return _NEVER
    return abs(_cross(ring[i], peak, ring[following])) / 2


@numba.njit(cache=True)
def _crosses(ring, count, first, edges, start, end):  # type: ignore[no-untyped-def]
    """Whether the segment start–end touches any of the edges that begin at corners `first`, `first + 1`, … (`edges` of them)."""
    low_x, high_x = min(start[0], end[0]), max(start[0], end[0])
    low_y, high_y = min(start[1], end[1]), max(start[1], end[1])
    i = first
    ax, ay = ring[i, 0], ring[i, 1]
    for _ in range(edges):
        i = i + 1 if i + 1 < count else 0
        bx, by = ring[i, 0], ring[i, 1]
        apart = (ax < low_x and bx < low_x) or (ax > high_x and bx > high_x)
        apart = apart or (ay < low_y and by < low_y) or (ay > high_y and by > high_y)
        if not apart and _touch((ax, ay), (bx, by), start, end):
            return True
        ax, ay = bx, by
    return False


@numba.njit(cache=True)
def _touch(a, b, start, end):  # type: ignore[no-untyped-def]
    """Whether two segments, each in reach of the other's box, touch."""
    return _cross(a, b, start) * _cross(a, b, end) <= 0.0 and _cross(start, end, a) * _cross(start, end, b) <= 0.0
