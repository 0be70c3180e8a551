"""Hairlines so fine that their pixels are hardly half covered, or less: raised, so that whoever looks for half finds them."""

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

FAINTEST: Final = 26
"""A tenth of 255: less is a trace, not a line (common practice, no source)."""

_SOLID: Final = 242
"""95 %. Between this and half a ridge may be lost too, where a coarser or finer grid falls between its points."""

_DIRECTIONS: Final = ((0, 1), (1, 0), (1, 1), (1, -1))
_BESIDE: Final = np.ones((3, 3), np.uint8)

Alpha = NDArray[np.uint8]


def hairlines_raised(alpha: Alpha, *, widest_px: int, beyond: int) -> Alpha:
    """`alpha` (h×w uint8, 255 = solid) with every faint ridge at most so wide made solid; the array itself where it has none.

    `beyond` is the alpha around it. A faint point is on a ridge if alpha falls to half its own on both sides of it, within the
    width, in one of four directions: smooth edges and fades fall on one side only. A ridge and its flanks are raised alike, by
    what its highest points lack: where alpha passes half of theirs, it passes half.
    """
    highest = np.asarray(cv2.dilate(alpha, _BESIDE), np.uint8)
    is_faint = (alpha >= FAINTEST) & (alpha < _SOLID) & (alpha >= highest >> 1)
    side = 2 * widest_px + 1
    is_faint &= _least(alpha, np.ones((side, side), np.uint8), beyond) <= alpha >> 1
    if not is_faint.any():
        return alpha
    is_ridge = np.zeros_like(is_faint)
    for down, across in _DIRECTIONS:
        reach = widest_px if 0 in (down, across) else max(2, round(widest_px / np.sqrt(2)))
        sides = [_least(alpha, _ray(sign * down, sign * across, reach), beyond) for sign in (1, -1)]
        is_ridge |= np.maximum(*sides) <= alpha >> 1
    is_ridge &= is_faint
    around = np.flatnonzero(cv2.dilate(is_ridge.view(np.uint8), _BESIDE))
    raised = alpha.copy()
    values = alpha.ravel()[around].astype(np.uint16) * 255 // np.maximum(highest.ravel()[around], FAINTEST)
    raised.ravel()[around] = np.minimum(values, 255)
    return raised


def _ray(down: int, across: int, reach: int) -> Alpha:
    """A kernel (0 or 1) of the next `reach` points in a direction."""
    kernel = np.zeros((2 * reach + 1, 2 * reach + 1), np.uint8)
    for step in range(1, reach + 1):
        kernel[reach + step * down, reach + step * across] = 1
    return kernel


def _least(alpha: Alpha, kernel: Alpha, beyond: int) -> Alpha:
    """The least alpha under a kernel around each point."""
    return np.asarray(cv2.erode(alpha, kernel, borderType=cv2.BORDER_CONSTANT, borderValue=(float(beyond),)), np.uint8)
