"""How far convex parts of different pieces are apart, and along which line: the kernels of gang/pressed.py."""

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled

Reals = NDArray[np.float64]
Ints = NDArray[np.int64]
Parts = tuple[Reals, Ints, Ints]
"""Points n×2 float64, mm; where each part's points start, int64, the end of the last behind it; the piece of each part, int64.

Parts are convex and counter-clockwise where y grows upward; those of one piece lie together, and pieces count from 0.
"""

_DIAGONAL: Final = 1.4143
_TINY: Final = 1e-12


class Lines(NamedTuple):
    """For each two parts of different pieces that come near one another, one row: the pieces, and the line that parts them.

    `one`, `other`: int64; `normals`: k×2 float64, of length 1, from `one` towards `other`; `apart`: float64, how far they are
    apart along it, mm, negative where they overlap.
    """

    one: Ints
    other: Ints
    normals: Reals
    apart: Reals


def lines_between(parts: Parts, gap_mm: float, step_mm: float) -> Lines:
    """Lines between all parts that a move of each piece by `step_mm`, along and across, could bring nearer than the gap."""
    return Lines(*_lines_between(*parts, gap_mm + 2 * _DIAGONAL * step_mm))


@compiled
def _lines_between(points: Reals, starts: Ints, owner: Ints, reach: float) -> tuple[Ints, Ints, Reals, Reals]:
    low, high = _boxes(points, starts)
    parts = len(owner)
    one, other, normals, apart = np.empty(1024, np.int64), np.empty(1024, np.int64), np.empty((1024, 2)), np.empty(1024)
    count = 0
    order = np.argsort(low[:, 1])
    for first in range(parts):
        a = order[first]
        for second in range(first + 1, parts):
            b = order[second]
            if low[b, 1] > high[a, 1] + reach:
                break
            if owner[a] == owner[b] or low[b, 0] > high[a, 0] + reach or low[a, 0] > high[b, 0] + reach:
                continue
            x, y, distance = _parted(points[starts[a] : starts[a + 1]], points[starts[b] : starts[b + 1]])
            if distance > reach:
                continue
            if count == len(one):
                one, other = np.concatenate((one, one)), np.concatenate((other, other))
                normals, apart = np.concatenate((normals, normals)), np.concatenate((apart, apart))
            one[count], other[count], normals[count, 0], normals[count, 1], apart[count] = owner[a], owner[b], x, y, distance
            count += 1
    return one[:count].copy(), other[:count].copy(), normals[:count].copy(), apart[:count].copy()


@compiled
def _boxes(points: Reals, starts: Ints) -> tuple[Reals, Reals]:
    low, high = np.empty((len(starts) - 1, 2)), np.empty((len(starts) - 1, 2))
    for part in range(len(starts) - 1):
        for axis in range(2):
            low[part, axis] = points[starts[part] : starts[part + 1], axis].min()
            high[part, axis] = points[starts[part] : starts[part + 1], axis].max()
    return low, high


@compiled
def _parted(a: Reals, b: Reals) -> tuple[float, float, float]:
    """The direction from one convex ring to another along which they are farthest apart, and how far.

    It is square to an edge, or joins the two nearest corners (the separating axes of convex polygons).
    """
    best_x, best_y, best = 1.0, 0.0, -np.inf
    for sign, ring, far in ((1.0, a, b), (-1.0, b, a)):
        for i in range(len(ring)):
            after = i + 1 if i + 1 < len(ring) else 0
            x, y = ring[after, 1] - ring[i, 1], ring[i, 0] - ring[after, 0]
            length = np.hypot(x, y)
            if length < _TINY:
                continue
            x, y = x / length, y / length
            distance = _least(far, x, y) - (x * ring[i, 0] + y * ring[i, 1])
            if distance > best:
                best_x, best_y, best = sign * x, sign * y, distance
    nearest, x, y = np.inf, 0.0, 0.0
    for i in range(len(a)):
        for j in range(len(b)):
            distance = np.hypot(b[j, 0] - a[i, 0], b[j, 1] - a[i, 1])
            if distance < nearest:
                nearest, x, y = distance, b[j, 0] - a[i, 0], b[j, 1] - a[i, 1]
    if nearest > _TINY:
        x, y = x / nearest, y / nearest
        distance = _least(b, x, y) + _least(a, -x, -y)
        if distance > best:
            best_x, best_y, best = x, y, distance
    return best_x, best_y, best


@compiled
def _least(ring: Reals, x: float, y: float) -> float:
    """The least of the corners along a direction."""
    least = np.inf
    for i in range(len(ring)):
        least = min(least, ring[i, 0] * x + ring[i, 1] * y)
    return least
