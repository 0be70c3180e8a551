"""Closed lines along which a field of distances has one value, drawn from its rows as they come.

Marching squares (W. E. Lorensen, H. E. Cline, "Marching cubes", SIGGRAPH 1987, one dimension less): a line crosses the sides
of the grid's cells where the field, taken as straight between two nodes, has the value. Lines never cross themselves or another.
"""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled
from filmhand.cut.distance import Nodes, Squares

Sides = NDArray[np.int64]
"""n int64: sides of the grid's cells by number, see `_number`."""

_CORNERS, _JOINED = 4, 16
_RIGHT, _DOWN = np.array([0, 1, 1, 0]), np.array([0, 0, 1, 1])
"""Where a cell's corners lie, clockwise as seen from the top left. Side k leads from corner k to the next."""


def _exits() -> NDArray[np.int64]:
    """18×4: by pattern, for each side where the walk around a cell comes into what is near, the side where it leaves it; else -1.

    Patterns from _JOINED on are those of two opposite corners (0b0101, 0b1010) that are one.
    """
    exits = np.full((_JOINED + 2, _CORNERS), -1)
    for row, pattern in enumerate([*range(_JOINED), 0b0101, 0b1010]):
        near = [bool(pattern >> corner & 1) for corner in range(_CORNERS)]
        leaving = [side for side in range(_CORNERS) if near[side] and not near[side - 3]]
        for side in range(_CORNERS):
            if not near[side] and near[side - 3]:
                in_order = sorted(leaving, key=lambda other: (other - side) % _CORNERS)
                exits[row, side] = in_order[-1 if row >= _JOINED else 0]
    return exits


_EXITS = _exits()


def level_rings(blocks: Iterable[Squares], nodes: Nodes, *, level_mm: float) -> list[NDArray[np.float64]]:
    """The outer boundaries of where the distance is at most `level_mm`: rings n×2 float64, mm, the first point not repeated.

    `blocks`: squared distances (mm²) of all nodes' rows in order, k×columns float32. What lies in a hole has its ring too; holes
    have none. The field must be greater than the level all along the grid's edge.
    """
    segments = []
    last = np.full((1, nodes.columns), np.inf, np.float32)
    done = -1
    for block in blocks:
        field = np.concatenate([last, block])
        segments.append(_segments(field, level_mm, done, _count(field, level_mm)))
        last, done = block[-1:], done + len(block)
    if not segments:
        return []
    starts, ends, places = (np.concatenate(parts) for parts in zip(*segments, strict=True))
    order = np.argsort(starts)
    following = order[np.searchsorted(starts[order], ends)]
    sequence, lengths = _chained(following)
    rings = np.split(places[sequence] * nodes.step_mm + nodes.first_mm, np.cumsum(lengths)[:-1]) if len(lengths) else []
    return [ring for ring in rings if _goes_around(ring)]


def _goes_around(ring: NDArray[np.float64]) -> bool:
    """Whether the ring has the near places inside it: `_segments` draws it counter-clockwise as seen, a hole the other way."""
    ahead = np.roll(ring, -1, axis=0)
    return float(np.sum(ring[:, 0] * ahead[:, 1] - ring[:, 1] * ahead[:, 0])) < 0


@compiled
def _pattern(field: Squares, i: int, j: int, square: float) -> int:
    """Which corners of a cell are near: bit k for corner k, clockwise as seen from the top left; a row of _EXITS.

    Where two opposite corners are near, the middle says whether they are one.
    """
    a, b, c, d = field[i, j], field[i, j + 1], field[i + 1, j + 1], field[i + 1, j]
    corners = np.int64(a <= square) | np.int64(b <= square) << 1 | np.int64(c <= square) << 2 | np.int64(d <= square) << 3
    if corners in (0b0101, 0b1010) and a + b + c + d <= _CORNERS * square:
        return int(_JOINED + (corners >> 3))
    return int(corners)


@compiled
def _count(field: Squares, level: float) -> int:
    """Pieces of line in the cells of some rows."""
    count, square = 0, level * level
    for i in range(field.shape[0] - 1):
        for j in range(field.shape[1] - 1):
            pattern = _pattern(field, i, j, square)
            for side in range(_CORNERS):
                if _EXITS[pattern, side] >= 0:
                    count += 1
    return count


@compiled
def _segments(field: Squares, level: float, first_row: int, count: int) -> tuple[Sides, Sides, NDArray[np.float64]]:
    """The pieces of line in the cells of some rows: the sides where each begins and ends, and where it begins, in cells.

    In the next cell that shares a side it is walked the other way, so that one piece ends where another begins.
    """
    columns, square = field.shape[1], level * level
    starts, ends, places = np.empty(count, np.int64), np.empty(count, np.int64), np.empty((count, 2))
    found = 0
    for i in range(field.shape[0] - 1):
        for j in range(columns - 1):
            pattern = _pattern(field, i, j, square)
            for side in range(_CORNERS):
                leaves = _EXITS[pattern, side]
                if leaves < 0:
                    continue
                starts[found] = _number(first_row + i, j, side, columns)
                ends[found] = _number(first_row + i, j, leaves, columns)
                after = (side + 1) % _CORNERS
                far = np.sqrt(field[i + _DOWN[side], j + _RIGHT[side]])
                near = np.sqrt(field[i + _DOWN[after], j + _RIGHT[after]])
                share = (far - level) / (far - near)
                places[found, 0] = j + _RIGHT[side] + share * (_RIGHT[after] - _RIGHT[side])
                places[found, 1] = first_row + i + _DOWN[side] + share * (_DOWN[after] - _DOWN[side])
                found += 1
    return starts, ends, places


@compiled
def _number(i: int, j: int, k: int, columns: int) -> int:
    """The number of a cell's top, right, bottom or left side (0 to 3): the same for both cells that share it."""
    row = i + 1 if k == 2 else i  # noqa: PLR2004
    column = j + 1 if k == 1 else j
    return 2 * (row * columns + column) + (k & 1)


@compiled
def _chained(following: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Pieces in the order of the rings they make, and how many each ring has. `following[p]`: the piece after p."""
    count = following.size
    sequence, lengths = np.empty(count, np.int64), np.empty(count, np.int64)
    taken = np.zeros(count, np.bool_)
    placed = rings = 0
    for first in range(count):
        piece, begun = first, placed
        while not taken[piece]:
            taken[piece] = True
            sequence[placed] = piece
            placed += 1
            piece = following[piece]
        if placed > begun:
            lengths[rings] = placed - begun
            rings += 1
    return sequence, lengths[:rings]
