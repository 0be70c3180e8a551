"""Looking across a motif's outline: short rays from places on it, inward and outward."""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.source import bands

_AROUND_PX: Final = 4
"""The direction of an outline is taken from so many pixels around each place on it."""

Indices = NDArray[np.intp]


@dataclass(frozen=True)
class Rays:
    """n places on an outline, each with the pixels along a line across it.

    `steps`: k distances in pixels along the line, negative outside the motif, 0 on its outermost pixel. `rows`, `columns`: n×k;
    `is_within`: n×k, whether that lies within the picture (where not, the nearest pixel that does is given).
    """

    steps: NDArray[np.intp]
    rows: Indices
    columns: Indices
    is_within: NDArray[np.bool_]

    @property
    def places(self) -> tuple[Indices, Indices]:
        """Rows and columns (n each) of the places on the outline."""
        on = int(np.flatnonzero(self.steps == 0)[0])
        return self.rows[:, on], self.columns[:, on]


def rays_across(motif: NDArray[np.bool_], *, outward_px: int, inward_px: int, most: int) -> Rays:
    """Rays across the outline of a motif (h×w, true = motif), at most so many, evenly chosen; not at the picture's edge."""
    rows, columns = _outline(motif, most)
    toward = _inward(motif, rows, columns)
    is_clear = np.any(toward != 0, axis=1)
    rows, columns, toward = rows[is_clear], columns[is_clear], toward[is_clear]
    steps = np.arange(-outward_px, inward_px + 1)
    y = np.rint(rows[:, None] + steps * toward[:, :1]).astype(np.intp)
    x = np.rint(columns[:, None] + steps * toward[:, 1:]).astype(np.intp)
    height, width = motif.shape
    is_within = (y >= 0) & (y < height) & (x >= 0) & (x < width)
    return Rays(steps, np.clip(y, 0, height - 1), np.clip(x, 0, width - 1), is_within)


def _outline(motif: NDArray[np.bool_], most: int) -> tuple[Indices, Indices]:
    """Outermost pixels of the motif: rows and columns, every n-th of them."""
    found = [np.empty(0, np.intp)]
    width = motif.shape[1]
    for top, bottom in bands(motif.shape[0]):
        first = max(0, top - 1)
        around = motif[first : bottom + 1].view(np.uint8)
        if not around.any():
            continue
        inner = cv2.erode(around, np.ones((3, 3), np.uint8))
        found.append(np.flatnonzero((around > inner)[top - first : top - first + bottom - top]) + top * width)
    places = np.concatenate(found)
    row, column = np.divmod(places[:: max(1, -(-places.size // most))], width)
    return row, column


def _inward(motif: NDArray[np.bool_], rows: Indices, columns: Indices) -> NDArray[np.float64]:
    """Unit vectors (n×2: row, column) towards where most of the motif around each place lies; 0 where it lies all around."""
    height, width = motif.shape
    sums = np.zeros((rows.size, 2))
    for dy in range(-_AROUND_PX, _AROUND_PX + 1):
        for dx in range(-_AROUND_PX, _AROUND_PX + 1):
            is_motif = motif[np.clip(rows + dy, 0, height - 1), np.clip(columns + dx, 0, width - 1)]
            sums += np.where(is_motif[:, None], np.array([dy, dx]), 0)
    length = np.hypot(sums[:, 0], sums[:, 1])[:, None]
    return np.where(length >= 1, sums / np.maximum(length, 1), 0.0)
