"""Pulling white in from the edge: erosion of dots by a disc, at the resolution of the printer.

A dot stays when the nearest place without a dot is further than the radius (Euclidean distance between dot middles). That is
erosion by the disc of that radius (Serra, "Image Analysis and Mathematical Morphology", 1982), done a word of 64 dots at a
time: rows are eroded sideways by growing half-widths, and each result is combined with the rows above and below whose slice
of the disc is that wide.
"""

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled
from filmhand.halftone.bits import Words

_SLACK: Final = 1e-9
"""For radii that are whole pixels but for a rounding error."""

EDGE_PX: Final = 3.0
"""Half the pixels of artwork within which an edge goes from nothing to full; what takes longer is soft, and screened.
Smoothed drawing takes up to three pixels, cutting out by hand or by program up to six (common practice, no source)."""

Disc = NDArray[np.int64]
"""Half-widths of the disc in dots, by distance in rows from its middle: [0] is its middle row. A half-width of 0 is one dot."""


def disc(radius_px: tuple[float, float]) -> Disc:
    """The disc of a radius, across and down in dots: an ellipse where the two resolutions differ."""
    across, down = radius_px
    if across <= 0 or down <= 0:
        return np.zeros(1, np.int64)
    rows = range(math.floor(down + _SLACK) + 1)
    return np.array([math.floor(across * math.sqrt(max(0.0, 1 - (row / down) ** 2)) + _SLACK) for row in rows], np.int64)


def mask(by: Disc) -> NDArray[np.bool_]:
    """The disc as a picture, as many rows and columns as it reaches, True = dot."""
    rows = np.abs(np.arange(1 - len(by), len(by)))
    columns = np.abs(np.arange(-by[0], by[0] + 1))
    return np.asarray(columns[None] <= by[rows][:, None])


def erode(dots: Words, by: Disc) -> Words:
    """The dots, rows×words, whose whole disc is dots. Past the array's edges there are none."""
    return _eroded(dots, by, False) if by[0] or len(by) > 1 else dots.copy()


def dilate(dots: Words, by: Disc) -> Words:
    """All dots, rows×words, in whose disc there is a dot. Past the array's edges there are none."""
    return ~_eroded(~dots, by, True) if by[0] or len(by) > 1 else dots.copy()


@compiled
def _eroded(dots: Words, half_widths: Disc, beyond: bool) -> Words:
    """`beyond`: whether there are dots past the array's edges. Only as many rows as the disc is high are kept eroded."""
    rows, words = dots.shape
    reach, widest = len(half_widths) - 1, half_widths[0]
    past = ~np.uint64(0) if beyond else np.uint64(0)
    ring = np.full((2 * reach + 1, widest + 1, words + 2), past)  # row, half-width, words with what lies past each end
    out = np.empty_like(dots)
    for lowest in range(-reach, rows + reach):
        place = (lowest + reach) % (2 * reach + 1)
        if 0 <= lowest < rows:
            ring[place, 0, 1:-1] = dots[lowest]
            for half_width in range(1, widest + 1):
                _narrow(ring[place, half_width - 1], ring[place, half_width])
        else:
            ring[place] = past
        y = lowest - reach
        if y >= 0:
            out[y] = ring[(y + reach) % (2 * reach + 1), widest, 1:-1]
            for distance in range(1, reach + 1):
                above = ring[(y + reach - distance) % (2 * reach + 1), half_widths[distance]]
                below = ring[(y + reach + distance) % (2 * reach + 1), half_widths[distance]]
                _keep(out[y], above[1:-1], below[1:-1])
    return out


@compiled
def _narrow(row: NDArray[np.uint64], into: NDArray[np.uint64]) -> None:
    """A row of words, one more at each end, without the dots that have no dot on either side."""
    one, top = np.uint64(1), np.uint64(63)
    before, here, after, kept = row[:-2], row[1:-1], row[2:], into[1:-1]
    for k in range(here.size):
        word = here[k]
        kept[k] = word & ((word << one) | (before[k] >> top)) & ((word >> one) | (after[k] << top))


@compiled
def _keep(row: NDArray[np.uint64], above: NDArray[np.uint64], below: NDArray[np.uint64]) -> None:
    """Only the dots that both other rows have."""
    for k in range(row.size):
        row[k] &= above[k] & below[k]
