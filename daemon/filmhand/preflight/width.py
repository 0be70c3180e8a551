"""How wide a shape is at points near its middle, finer than its pixels: from edge to edge, across the nearest edge."""

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.preflight.grid import FILM_ALPHA

_STEP_PX: Final = 0.5
_CHUNK: Final = 16_384

Indices = NDArray[np.intp]


def widths_across(alpha: NDArray[np.uint8], rows: Indices, columns: Indices, *, longest_px: float) -> NDArray[np.float32]:
    """Width in pixels at each of n points inside the shape where `alpha` (h×w uint8) is at least half; inf beyond `longest_px`.

    An edge lies where alpha, interpolated, passes one half: an antialiased edge is found between its pixels.
    """
    toward = _toward_edge(alpha, rows, columns)
    steps = np.arange(0, longest_px + _STEP_PX, _STEP_PX, dtype=np.float32)
    widths = np.empty(rows.size, np.float32)
    for start in range(0, rows.size, _CHUNK):
        part = slice(start, start + _CHUNK)
        at = np.stack((rows[part], columns[part]), axis=-1).astype(np.float32)
        widths[part] = _to_edge(alpha, at, toward[part], steps) + _to_edge(alpha, at, -toward[part], steps)
    widths[widths > longest_px] = np.inf
    return widths


def _toward_edge(alpha: NDArray[np.uint8], rows: Indices, columns: Indices) -> NDArray[np.float32]:
    """Unit vectors (row, column) from each point to the nearest pixel outside the shape."""
    inside = (alpha >= FILM_ALPHA).view(np.uint8)
    _, labels = cv2.distanceTransformWithLabels(inside, cv2.DIST_L2, cv2.DIST_MASK_5, labelType=cv2.DIST_LABEL_PIXEL)
    outside = np.flatnonzero(inside.ravel() == 0)
    place = np.zeros(int(labels.max()) + 1, np.intp)
    place[labels.ravel()[outside]] = outside
    row, column = np.divmod(place[labels[rows, columns]], alpha.shape[1])
    vectors = np.stack((row - rows, column - columns), axis=-1).astype(np.float32)
    length = np.maximum(np.hypot(vectors[:, :1], vectors[:, 1:]), 1e-6)
    return np.asarray(vectors / length, np.float32)


def _to_edge(
    alpha: NDArray[np.uint8], at: NDArray[np.float32], direction: NDArray[np.float32], steps: NDArray[np.float32]
) -> NDArray[np.float32]:
    """Distance from each point along its direction to where alpha passes one half; inf where it does not within the steps."""
    y = at[:, :1] + direction[:, :1] * steps
    x = at[:, 1:] + direction[:, 1:] * steps
    values = cv2.remap(alpha.astype(np.float32), x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    is_outside = values < FILM_ALPHA - 0.5
    first = np.argmax(is_outside, axis=1)
    row = np.arange(first.size)
    before, after = values[row, np.maximum(first - 1, 0)], values[row, first]
    share = (before - (FILM_ALPHA - 0.5)) / np.maximum(before - after, 1e-6)
    distance = (first - 1 + np.clip(share, 0, 1)) * _STEP_PX
    return np.where(is_outside[row, first], np.maximum(distance, 0), np.inf).astype(np.float32)
