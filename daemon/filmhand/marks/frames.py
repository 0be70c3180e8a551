"""Trim frames: a thin line around each copy's box, half a gap from it, left out where it would come too near to another copy."""

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.marks.box import Box

LINE_MM: Final = 0.2
_FROM_LABEL_MM: Final = 0.5
_SHORTEST_MM: Final = 1.0
"""Pieces of a line shorter than this help nobody."""
_ROUNDING_MM: Final = 1e-6
_SWAPPED: Final = [1, 0, 3, 2]
_Sides = tuple[float, float, float, float]


def frame_lines(copies: Sequence[Box], labels: Sequence[Box], *, gap_mm: float, area: Box) -> Iterator[Box]:
    """The pieces of all frames' lines, as boxes LINE_MM thin that lie within the printable area.

    The line's outer edge is half a gap from its own copy, so that no part of it is nearer to another copy's box than half a gap,
    and none touches a label.
    """
    others = np.array([_sides(box.grown(gap_mm / 2)) for box in copies]).reshape(-1, 4)
    marked = np.array([_sides(box.grown(_FROM_LABEL_MM)) for box in labels]).reshape(-1, 4)
    for number, copy in enumerate(copies):
        frame = copy.grown(gap_mm / 2)
        barred = np.concatenate([np.delete(others, number, axis=0), marked])
        for row in (frame.top, frame.bottom - LINE_MM):
            for start, end in _free(row, (frame.left, frame.right), barred, _sides(area)):
                yield Box(start, row, end, row + LINE_MM)
        for column in (frame.left, frame.right - LINE_MM):
            for start, end in _free(
                column, (frame.top + LINE_MM, frame.bottom - LINE_MM), barred[:, _SWAPPED], _sides(area.swapped())
            ):
                yield Box(column, start, column + LINE_MM, end)


def _free(row: float, line: tuple[float, float], barred: NDArray[np.float64], area: _Sides) -> Iterator[tuple[float, float]]:
    """The pieces of a line along x, from y = `row` on, in the area and outside every barred box."""
    left, top, right, bottom = area
    if row < top - _ROUNDING_MM or row + LINE_MM > bottom + _ROUNDING_MM:
        return
    meets = (barred[:, 1] < row + LINE_MM - _ROUNDING_MM) & (barred[:, 3] > row + _ROUNDING_MM)
    meets &= (barred[:, 0] < line[1]) & (barred[:, 2] > line[0])
    start, last = max(line[0], left), min(line[1], right)
    for low, high in sorted(map(tuple, barred[meets][:, [0, 2]].tolist())):
        if low - start >= _SHORTEST_MM:
            yield start, min(low, last)
        start = max(start, high)
    if last - start >= _SHORTEST_MM:
        yield start, last


def _sides(box: Box) -> _Sides:
    return box.left, box.top, box.right, box.bottom
