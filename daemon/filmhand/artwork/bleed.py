"""Bleeding colour into what is transparent, so that enlarging straight colour later blends with nothing foreign."""

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

REACH_PX: Final = 4
"""How far colour is carried, in pixels."""

_TRUSTED: Final = 16
"""From this alpha on a pixel's colour is its own; below it, 8 bits premultiplied leave too few levels to tell."""

_BAND_ROWS: Final = 512

_OFFSETS: Final = sorted(
    (
        (dy, dx)
        for dy in range(-REACH_PX, REACH_PX + 1)
        for dx in range(-REACH_PX, REACH_PX + 1)
        if 0 < dy * dy + dx * dx <= REACH_PX * REACH_PX
    ),
    key=lambda step: step[0] * step[0] + step[1] * step[1],
)


def bled(pixels: NDArray[np.uint8], alpha: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """A copy of h×w×4 uint8 straight RGBA with another alpha (h×w uint8), and colour carried into what is all but transparent.

    Each such pixel within REACH_PX of a coloured one takes the nearest one's colour; the rest keep theirs. Alpha is not carried.
    """
    result = pixels.copy()
    result[..., 3] = alpha
    height = pixels.shape[0]
    for top in range(0, height, _BAND_ROWS):
        bottom = min(height, top + _BAND_ROWS)
        first, last = max(0, top - REACH_PX), min(height, bottom + REACH_PX)
        _fill(pixels[first:last], result[top:bottom], top - first)
    return result


def _fill(around: NDArray[np.uint8], band: NDArray[np.uint8], lead: int) -> None:
    """Carry colour into `band`, the rows of `around` from `lead` on, written in place."""
    trusted = np.ascontiguousarray(around[..., 3] >= _TRUSTED).view(np.uint8)
    if trusted.all() or not trusted.any():
        return
    side = 2 * REACH_PX + 1
    reached = cv2.dilate(trusted, np.ones((side, side), np.uint8))
    own = slice(lead, lead + band.shape[0])
    rows, columns = np.nonzero(reached[own] > trusted[own])
    padded = np.pad(trusted, REACH_PX)
    for dy, dx in _OFFSETS:
        found = padded[rows + (lead + dy + REACH_PX), columns + (dx + REACH_PX)] != 0
        y, x = rows[found], columns[found]
        band[y, x, :3] = around[y + (lead + dy), x + dx, :3]
        rows, columns = rows[~found], columns[~found]
        if not rows.size:
            return
