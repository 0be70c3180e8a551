"""Ink measured while artwork that came as CMYK becomes RGB, for afterwards nothing tells it."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.ink_map import InkMap
from filmhand.artwork.rgba import upright
from filmhand.artwork.source import Alpha, Source, bands

MOST_CELLS: Final = 2048
"""Cells along the longer side: a square of 4 mm is 20 of them on a print of 400 mm."""


def ink_map_of(source: Source) -> InkMap:
    """The ink that a CMYK source asks for, turned upright with it (to a cell)."""
    cell = max(1, -(-max(source.width_px, source.height_px) // MOST_CELLS))
    height, width = -(-source.height_px // cell), -(-source.width_px // cell)
    sums = np.zeros((height, width), np.float64)
    starts = np.arange(width) * cell
    for top, bottom in bands(source.height_px):
        ink = _ink(source.rows(top, bottom), source.alpha)
        by_column = np.add.reduceat(ink, starts, axis=1, dtype=np.float64)
        np.add.at(sums, np.arange(top, bottom) // cell, by_column)
    rows = np.diff([*(np.arange(height) * cell), source.height_px])
    columns = np.diff([*starts, source.width_px])
    percent = (sums / (rows[:, None] * columns[None, :]) * (100 / 255)).astype(np.float32)
    return InkMap(_upright(percent, source.orientation), cell)


def _upright(percent: NDArray[np.float32], orientation: int) -> NDArray[np.float32]:
    return upright(percent[..., None], orientation)[..., 0]


def _ink(rows: NDArray[np.uint8], alpha: Alpha) -> NDArray[np.float32]:
    """All inks of h×w×n rows together, 0 to 1020; inks that are stored straight count as far as alpha lets them."""
    ink: NDArray[np.float32] = rows[..., :4].sum(axis=-1, dtype=np.float32)
    if alpha is Alpha.STRAIGHT:
        ink *= rows[..., 4] / np.float32(255)
    return ink
