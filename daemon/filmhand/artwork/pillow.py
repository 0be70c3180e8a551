"""Pillow on strange files: what it raises, and its limit on pixels set for a while instead of for good."""

import struct
import warnings
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from PIL import Image

DECODING_ERRORS: Final = (
    OSError,
    SyntaxError,
    ValueError,
    EOFError,
    OverflowError,
    IndexError,
    KeyError,
    TypeError,
    RuntimeError,  # AVIF, and the kinds of it that imagecodecs raises
    struct.error,
    zlib.error,
    Image.DecompressionBombError,
    Image.DecompressionBombWarning,  # an error while `pixel_limit` is in force
)
"""What Pillow's plug-ins raise on a broken file."""


@contextmanager
def pixel_limit(pixels: int | None) -> Iterator[None]:
    """Pillow's own limit on pixels, set for a while: exceeded, it is an error and not only a warning."""
    before = Image.MAX_IMAGE_PIXELS
    Image.MAX_IMAGE_PIXELS = pixels
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)  # Broken metadata; what matters of it is looked at here.
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            yield
    finally:
        Image.MAX_IMAGE_PIXELS = before
