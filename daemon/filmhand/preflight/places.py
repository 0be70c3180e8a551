"""Places in a picture: what checks mark, gathered cell by cell into a few boxes."""

from dataclasses import dataclass, field
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.preflight.finding import Box

_CELLS: Final = 64
"""Cells along the longer side: fine enough to show where, coarse enough that neighbours join."""

_MOST_BOXES: Final = 8


@dataclass
class Places:
    """Gathers marked pixels of a picture of `height`×`width` pixels, a part at a time."""

    height: int
    width: int
    _counts: NDArray[np.int64] = field(init=False)

    def __post_init__(self) -> None:
        self._counts = np.zeros((self._rows(self.height), self._rows(self.width)), np.int64)

    @property
    def _cell(self) -> int:
        return max(1, -(-max(self.height, self.width) // _CELLS))

    def _rows(self, pixels: int) -> int:
        return max(1, -(-pixels // self._cell))

    def add(self, marked: NDArray[np.bool_], top: int, left: int) -> None:
        """Mark pixels of a part (h×w, true = marked) whose upper left corner lies at `top`, `left`."""
        rows, columns = np.nonzero(marked)
        self.add_at(rows + top, columns + left)

    def add_at(self, rows: NDArray[np.intp], columns: NDArray[np.intp]) -> None:
        """Mark n single pixels of the picture."""
        cells = rows // self._cell * self._counts.shape[1] + columns // self._cell
        self._counts += np.bincount(cells, minlength=self._counts.size).reshape(self._counts.shape)

    def boxes(self) -> tuple[Box, ...]:
        """Boxes around neighbouring marked cells, those with most marked pixels first, at most eight."""
        count, labels, stats, _ = cv2.connectedComponentsWithStats((self._counts > 0).astype(np.uint8), connectivity=8)
        weights = np.bincount(labels.ravel(), self._counts.ravel(), count)
        heaviest = sorted(range(1, count), key=lambda label: -weights[label])[:_MOST_BOXES]
        return tuple(self._box(*(int(value) for value in stats[label, :4])) for label in heaviest)

    def _box(self, left: int, top: int, width: int, height: int) -> Box:
        across, down = self._cell / self.width, self._cell / self.height
        x, y = left * across, top * down
        return Box(x, y, min(1.0, x + width * across) - x, min(1.0, y + height * down) - y)
