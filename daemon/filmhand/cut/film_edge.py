"""Where a stored design's film may lie, in the printer's dots, band by band from the top.

As film is made (gang/film.py): an edge, where coverage goes from nothing to full within the pixels that smooth it, ends where
coverage is one half; wherever else there is any coverage, a screen may lay film.
"""

from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand import units
from filmhand.cut.distance import Raster
from filmhand.gang.film import either, hard_edges
from filmhand.gang.oriented import Oriented
from filmhand.gang.places import window_of
from filmhand.gang.stored import Stored, read_planes
from filmhand.halftone.choke import EDGE_PX, disc
from filmhand.halftone.raster import Screen, film_bits, widened

_BAND: Final = 512
_NO_SCREEN: Final = Screen(widened(np.full((1, 1), 255, np.uint8)), 1, 0, 0)


def dots_of(stored: Stored, resolution: tuple[int, int]) -> Raster:
    """An upright design's dots at a resolution (dots per inch across and down)."""
    across, down = resolution
    width = max(1, round(units.mm_to_px(stored.width_mm, across)))
    height = max(1, round(units.mm_to_px(stored.height_mm, down)))
    return Raster(width, height, (stored.width_mm / width, stored.height_mm / height))


def film_bands(stored: Stored, dots: Raster) -> Iterator[NDArray[np.uint8]]:
    """Bands k×width uint8 of an upright design's dots, 1 = film may lie here."""
    picture = Oriented(stored, flip_x=False, flip_y=False)
    size = dots.width, dots.height
    edge = disc((EDGE_PX * dots.width / stored.width_px, EDGE_PX * dots.height / stored.height_px))
    reach = 2 * (len(edge) - 1)  # an edge is told by what lies so far off
    for first in range(0, dots.height, _BAND):
        last = min(first + _BAND, dots.height)
        start, end = max(0, first - reach), min(dots.height, last + reach)
        window = window_of(picture, size, (start, end))
        (coverage,) = read_planes(stored.coverage, (0,), window.first, window.last)
        bits = film_bits(coverage, window.grid, _NO_SCREEN)
        band = either(bits.any, bits.half, hard_edges(bits, edge))[first - start : last - start]
        yield np.unpackbits(np.ascontiguousarray(band).view(np.uint8), axis=1, bitorder="little", count=dots.width)
