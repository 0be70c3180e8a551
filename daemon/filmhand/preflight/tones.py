"""Tones of an artwork in a few square parts that hold detail: what the checks of its sharpness and of its blocks look at."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

_LUMA: Final = np.array([0.299, 0.587, 0.114], np.float32)
"""ITU-R BT.601, as JFIF takes it. Just these weights: others would show JPEG's chroma, which its reader has enlarged twofold."""

_GROUND: Final = 128
"""What lies under the artwork: mid-grey, so that what is transparent has no tones of its own."""

_STEP: Final = 4
"""Detail is judged on every fourth row, between pixels so far apart: an enlarged picture has as much of it as another."""

_LEAST_DETAIL: Final = 0.3
"""Levels: a part that is flatter tells nothing."""


def tones(pixels: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Luma of pixels (h×w×4 uint8, straight alpha) over mid-grey: h×w float32, 0 = black, 255 = white."""
    luma = pixels[..., :3].astype(np.float32) @ _LUMA
    cover = pixels[..., 3].astype(np.float32) / 255
    return np.asarray((luma - _GROUND) * cover + _GROUND, np.float32)


def parts(pixels: NDArray[np.uint8], *, side: int, most: int, flat: bool = False) -> list[tuple[int, int]]:
    """Top left corners of at most so many squares of a side, spread over where the artwork (h×w×4 uint8) is seen.

    Those that hold little detail, compared to most, are left out unless `flat`.
    """
    height, width = pixels.shape[:2]
    if min(height, width) < side:
        return []
    corners = [(top, left) for top in _starts(height, side) for left in _starts(width, side)]
    detail = np.array([_detail(pixels[top : top + side, left : left + side]) for top, left in corners])
    least = 0 if flat else max(_LEAST_DETAIL, float(np.percentile(detail, 75)) / 3)
    telling = np.flatnonzero(detail > least)
    if len(telling) > most:
        telling = telling[np.linspace(0, len(telling) - 1, most).astype(int)]
    return [corners[place] for place in telling]


def _starts(length: int, side: int) -> list[int]:
    """Starts of spans of a side that together cover a length, overlapping evenly."""
    return [int(start) for start in np.linspace(0, length - side, -(-length // side))]


def _detail(square: NDArray[np.uint8]) -> float:
    """Mean step between sampled pixels (n×n×4 uint8) in levels; strong edges count no more than fine texture."""
    sampled = square[::_STEP, ::_STEP]
    green = (sampled[..., 1].astype(np.float32) - _GROUND) * (sampled[..., 3].astype(np.float32) / 255)
    return float(np.minimum(np.abs(np.diff(green, axis=0))[:, 1:] + np.abs(np.diff(green, axis=1))[1:], 24).mean())
