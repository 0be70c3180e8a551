"""Reducing pixels with alpha: Lanczos over premultiplied colour, by Pillow, a band of rows at a time."""

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image

_SUPPORT: Final = 3  # Lanczos with three lobes
_BAND_ROWS: Final = 512


def resampled(pixels: NDArray[np.uint8], width: int, height: int) -> NDArray[np.uint8]:
    """h×w×4 uint8 straight RGBA as height×width×4; the array itself where the size is the same.

    Pillow multiplies colour by alpha before it filters and divides after, so transparent pixels lend no colour.
    """
    rows, columns = pixels.shape[:2]
    if (columns, rows) == (width, height):
        return pixels
    scale = rows / height
    margin = math.ceil(_SUPPORT * max(1.0, scale)) + 2
    result = np.empty((height, width, 4), np.uint8)
    for top in range(0, height, _BAND_ROWS):
        bottom = min(height, top + _BAND_ROWS)
        first = max(0, math.floor(top * scale) - margin)
        last = min(rows, math.ceil(bottom * scale) + margin)
        band = Image.fromarray(pixels[first:last])
        box = (0.0, top * scale - first, float(columns), min(bottom * scale - first, float(last - first)))
        result[top:bottom] = np.asarray(band.resize((width, bottom - top), Image.Resampling.LANCZOS, box))
    return result
