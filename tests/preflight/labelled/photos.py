"""Photographs that scikit-image carries, as they were taken: none was enlarged or squeezed hard."""

from functools import cache
from pathlib import Path
from typing import Final

import cv2
import numpy as np
import skimage
from PIL import Image

from .draw import MM, Array, Layer, Photo, Shape

_FOLDER: Final = Path(skimage.__file__).parent / "data"
_FILES: Final = {
    "astronaut": "astronaut.png",
    "cat": "chelsea.png",
    "coffee": "coffee.png",
    "rocket": "rocket.jpg",
    "galaxies": "hubble_deep_field.jpg",
    "motorcycle": "motorcycle_left.png",
    "tissue": "ihc.png",
    "cameraman": "camera.png",
    "eye": "retina.jpg",
}
DARK: Final = frozenset({"rocket", "galaxies"})
"""Mostly black: they would vanish on a black garment."""

NAMES: Final = tuple(_FILES)


@cache
def photo(name: str) -> Array:
    """A photograph, h×w×3 uint8 sRGB. That of an eye, soft by its nature, is halved."""
    values = np.asarray(Image.open(_FOLDER / _FILES[name]).convert("RGB"))
    if name == "eye":
        values = cv2.resize(values, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    return np.ascontiguousarray(values)


def size_mm(pixels: Array, ppi: float) -> tuple[float, float]:
    """Width and height of a photo at so many pixels an inch."""
    return pixels.shape[1] * MM / ppi, pixels.shape[0] * MM / ppi


def cut_out(pixels: Array, shape: Shape, ppi: float) -> Layer:
    """A photo cut to a shape (mm), its pixels as they are at `ppi`."""
    return Layer(shape, Photo(pixels, 0.0, 0.0, ppi / MM))
