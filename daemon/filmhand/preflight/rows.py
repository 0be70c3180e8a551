"""Rows of lettering among small shapes: like heights on a common line, close to each other, and yet not all the same."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.preflight.glyphs import Glyphs

_LEAST_LETTERS: Final = 5
_CLASS: Final = 1.5
_SPAN: Final = 2.4
"""Shapes are looked at in classes of height, from a least one to so many times that: an x and a capital fall into one class."""

_LINE: Final = 0.2
"""Letters of a row stand on its line within this share of their height."""

_GAP: Final = 1.8
"""The widest gap in a row, in heights of an x: a space, or a letter that hangs below the line or was not made out."""

_STROKE: Final = (0.06, 0.42)
"""Width of a letter's strokes, in its heights: discs and squares have 0.5."""

_FILL: Final = (0.12, 0.92)

_ALIKE: Final = 0.13
_SHARE: Final = 0.75
"""So many of a row's letters are as high as an x, or as a capital, within this share of the height."""

_LOW: Final = (0.1, 0.2, 0.35, 0.5)
"""The low letters of a row are among the lowest so many of its shapes: a row of numbers may have few, a dot of an i is none."""

_LEAST_LOW: Final = 2

_LEAST_VARIETY: Final = 0.12
"""Standard deviation of the areas of a row's shapes, over their mean: a row of one ornament has none."""


@dataclass(frozen=True)
class Row:
    """A row of lettering: its box in pixels, and the height of its letters like x."""

    left: int
    top: int
    right: int
    bottom: int
    height_px: float


def rows_of(glyphs: Glyphs) -> Iterator[Row]:
    """Every row among the shapes; one may come several times, from several classes of height."""
    ratio = glyphs.stroke / glyphs.height
    fill = glyphs.area / (glyphs.width * glyphs.height)
    glyphs = glyphs[(ratio >= _STROKE[0]) & (ratio <= _STROKE[1]) & (fill >= _FILL[0])]
    if not glyphs.height.size:
        return
    least, most = float(glyphs.height.min()), float(glyphs.height.max())
    while least <= most:
        some = glyphs[(glyphs.height >= least) & (glyphs.height < _SPAN * least)]
        for half in (0.0, 0.5):
            yield from _rows_on_lines(some, least, half)
        least *= _CLASS


def _rows_on_lines(glyphs: Glyphs, height: float, shift: float) -> Iterator[Row]:
    """Rows among shapes of one class, whose lines are told apart by a grid of lines, shifted by a part of its pitch."""
    pitch = max(2.0, 2 * _LINE * height)
    line = np.floor(glyphs.bottom / pitch + shift).astype(np.intp)
    order = np.lexsort((glyphs.left, line, glyphs.ground))
    some, line = glyphs[order], line[order]
    gap = some.left[1:] - some.right[:-1]
    breaks = (np.diff(line) != 0) | (np.diff(some.ground) != 0) | (gap > _GAP * height * _CLASS) | (gap < -0.3 * height)
    for run in np.split(np.arange(order.size), np.flatnonzero(breaks) + 1):
        if run.size >= _LEAST_LETTERS and (row := _row(some[run])) is not None:
            yield row


def _row(glyphs: Glyphs) -> Row | None:
    """A run of shapes as a row of lettering; None where it is none."""
    low = _low_height(glyphs.height.astype(np.float64))
    if low is None or _off_line(glyphs.bottom) > max(1.0, _LINE / 2 * low):
        return None
    if glyphs.area.std() < _LEAST_VARIETY * glyphs.area.mean():
        return None
    return Row(int(glyphs.left.min()), int(glyphs.top.min()), int(glyphs.right.max()), int(glyphs.bottom.max()), low)


def _low_height(heights: NDArray[np.float64]) -> float | None:
    """The height of a row's low letters: the least that some share, where all but a few others share one greater height."""
    for low in np.quantile(heights, _LOW, method="nearest"):
        tolerance = max(1.0, _ALIKE * low)
        is_low = np.abs(heights - low) <= tolerance
        tall = heights[heights > low + tolerance]
        is_alike = is_low | (np.abs(heights - np.median(tall)) <= tolerance) if tall.size else is_low
        if is_alike.mean() >= _SHARE and np.count_nonzero(is_low) >= _LEAST_LOW:
            return float(np.median(heights[is_low]))
    return None


def _off_line(bottoms: NDArray[np.int32]) -> float:
    """How far three quarters of the shapes stand from their common line, at most."""
    return float(np.quantile(np.abs(bottoms - np.median(bottoms)), _SHARE))
