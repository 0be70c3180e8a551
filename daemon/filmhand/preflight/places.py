"""Places in a picture: what checks mark, gathered cell by cell into a few boxes that lie close around it."""

from dataclasses import dataclass, field
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.preflight.finding import Box

_CELLS: Final = 64
"""Cells along the longer side: coarse enough that neighbours join, whatever their own size."""

_MOST_BOXES: Final = 8
_NEAR: Final = 1
_FAR: Final = 3
"""Marks with no more than twice so many cells between them are one place. The latter if there are too many places."""


@dataclass
class Places:
    """Gathers marked pixels of a picture of `height`×`width` pixels, a part at a time."""

    height: int
    width: int
    _counts: NDArray[np.int64] = field(init=False)
    """Marked pixels of each cell."""
    _first: NDArray[np.int64] = field(init=False)
    """2 × cells: the least row and column of its marked pixels."""
    _last: NDArray[np.int64] = field(init=False)
    """2 × cells: the greatest."""

    def __post_init__(self) -> None:
        shape = self._cells(self.height), self._cells(self.width)
        self._counts = np.zeros(shape, np.int64)
        self._first = np.full((2, *shape), max(self.height, self.width), np.int64)
        self._last = np.full((2, *shape), -1, np.int64)

    @property
    def _cell(self) -> int:
        return max(1, -(-max(self.height, self.width) // _CELLS))

    def _cells(self, pixels: int) -> int:
        return max(1, -(-pixels // self._cell))

    def add(self, marked: NDArray[np.bool_], top: int, left: int) -> None:
        """Mark pixels of a part (h×w, true = marked) whose upper left corner lies at `top`, `left`."""
        rows, columns = np.divmod(np.flatnonzero(marked), marked.shape[1])
        self.add_at(rows + top, columns + left)

    def add_at(self, rows: NDArray[np.intp], columns: NDArray[np.intp]) -> None:
        """Mark n single pixels of the picture."""
        places = np.stack((rows, columns))
        cell = tuple(places // self._cell)
        np.add.at(self._counts, cell, 1)
        for axis, values in enumerate(places):
            np.minimum.at(self._first[axis], cell, values)
            np.maximum.at(self._last[axis], cell, values)

    def boxes(self) -> tuple[Box, ...]:
        """Boxes around what is marked in cells near each other, those with most marked pixels first, at most eight."""
        count, labels = self._joined(_NEAR)
        if count > _MOST_BOXES + 1:
            count, labels = self._joined(_FAR)
        weights = np.bincount(labels.ravel(), self._counts.ravel(), count)
        heaviest = sorted(range(1, count), key=lambda label: -weights[label])[:_MOST_BOXES]
        return tuple(self._box(labels == label) for label in heaviest)

    def _joined(self, reach: int) -> tuple[int, NDArray[np.int32]]:
        """Marked cells (h×w) numbered from 1, alike where no more than twice a reach parts them, and the count of numbers."""
        marked = (self._counts > 0).astype(np.uint8)
        around = cv2.dilate(marked, np.ones((2 * reach + 1, 2 * reach + 1), np.uint8))
        count, labels = cv2.connectedComponents(around, connectivity=8, ltype=cv2.CV_32S)
        return count, np.asarray(labels * marked, np.int32)

    def _box(self, cells: NDArray[np.bool_]) -> Box:
        top, left = (int(value) for value in self._first[:, cells].min(axis=1))
        bottom, right = (int(value) + 1 for value in self._last[:, cells].max(axis=1))
        return Box(left / self.width, top / self.height, (right - left) / self.width, (bottom - top) / self.height)
