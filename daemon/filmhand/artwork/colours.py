"""The colours that occur in a picture, each once: what is costly to know of a colour is then asked once."""

import numpy as np
from numpy.typing import NDArray


def packed(pixels: NDArray[np.uint8]) -> NDArray[np.int32]:
    """Each pixel's (..., 3 or 4) RGB as one number (...): red above green above blue."""
    red, green, blue = (pixels[..., channel].astype(np.int32) for channel in range(3))
    return (red << 16) | (green << 8) | blue


def unpacked(numbers: NDArray[np.int32] | NDArray[np.intp]) -> NDArray[np.uint8]:
    """The inverse of `packed`: (..., 3)."""
    return np.stack((numbers >> 16, (numbers >> 8) & 255, numbers & 255), axis=-1).astype(np.uint8)


def hex_of(rgb: NDArray[np.uint8]) -> str:
    """A colour (3,) as "#rrggbb"."""
    return "#{:02x}{:02x}{:02x}".format(*(int(value) for value in rgb))
