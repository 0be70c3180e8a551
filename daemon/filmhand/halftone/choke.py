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

Disc = NDArray[np.int64]
"""Half-widths of the disc in dots, by distance in rows from its middle: [0] is its middle row. A half-width of 0 is one dot."""


def disc(radius_px: tuple[float, float]) -> Disc:
    """The disc of a radius, across and down in dots: an ellipse where the two resolutions differ."""
    across, down = radius_px
    if across <= 0 or down <= 0:
        return np.zeros(1, np.int64)
    rows = range(math.floor(down + _SLACK) + 1)
    return np.array([math.floor(across * math.sqrt(max(0.0, 1 - (row / down) ** 2)) + _SLACK) for row in rows], np.int64)


def erode(dots: Words, by: Disc) -> Words:
    """The dots, rows×words, whose whole disc is dots. Past the array's edges there are none."""
    if len(by) == 1 and by[0] == 0:
        return dots.copy()
    return _eroded(dots, by)


@compiled
def _eroded(dots: Words, half_widths: Disc) -> Words:
    rows, words = dots.shape
    one, top = np.uint64(1), np.uint64(63)
    now = np.zeros((rows, words + 2), np.uint64)  # an empty word at each end stands for what lies past the edge
    now[:, 1:-1] = dots
    wider = np.zeros_like(now)
    out = dots.copy()
    for half_width in range(half_widths[0] + 1):
        if half_width > 0:
            for y in range(rows):
                for k in range(1, words + 1):
                    word = now[y, k]
                    left = (word << one) | (now[y, k - 1] >> top)
                    right = (word >> one) | (now[y, k + 1] << top)
                    wider[y, k] = word & left & right
            now, wider = wider, now
        for distance in range(len(half_widths)):
            if half_widths[distance] == half_width:
                _keep(out, now, distance)
                _keep(out, now, -distance)
    return out


@compiled
def _keep(out: Words, eroded: Words, distance: int) -> None:
    """Keep only dots that `eroded` has so many rows below."""
    rows, words = out.shape
    for y in range(rows):
        if 0 <= y + distance < rows:
            for k in range(words):
                out[y, k] &= eroded[y + distance, k + 1]
        else:
            out[y] = np.uint64(0)
