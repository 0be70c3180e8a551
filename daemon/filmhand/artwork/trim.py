"""Trimming artwork to what is seen of it."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.model import Artwork

LEAST_ALPHA: Final = 8
"""Alpha below this (3 % of 255) is not seen on a garment: stray traces of it are left out (common practice, no source)."""

_COPY_BELOW: Final = 0.5


@dataclass(frozen=True)
class PixelBox:
    """Rows [top, bottom) and columns [left, right)."""

    left: int
    top: int
    right: int
    bottom: int


def seen_box(pixels: NDArray[np.uint8]) -> PixelBox | None:
    """The least box around all pixels (h×w×4 uint8, alpha last) whose alpha is at least LEAST_ALPHA; None if there are none."""
    alpha = pixels[..., 3]
    rows = np.flatnonzero(alpha.max(axis=1, initial=0) >= LEAST_ALPHA)
    if not rows.size:
        return None
    top, bottom = int(rows[0]), int(rows[-1]) + 1
    columns = np.flatnonzero(alpha[top:bottom].max(axis=0) >= LEAST_ALPHA)
    return PixelBox(int(columns[0]), top, int(columns[-1]) + 1, bottom)


def trimmed(artwork: Artwork) -> Artwork:
    """The artwork cut to what is seen of it; as it is where nothing is seen, which preflight says."""
    box = seen_box(artwork.pixels)
    if box is None:
        return artwork
    inside = artwork.pixels[box.top : box.bottom, box.left : box.right]
    if inside.shape == artwork.pixels.shape:
        return artwork
    is_small = inside.size < _COPY_BELOW * artwork.pixels.size  # A small view would keep a large array alive.
    ink = None if artwork.source_ink is None else artwork.source_ink.after_cut(box.left, box.top)
    return replace(artwork, pixels=inside.copy() if is_small else inside, source_ink=ink)
