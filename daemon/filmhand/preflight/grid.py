"""An artwork's film as it is printed: alpha on a square grid of stated fineness, a tile at a time."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Self

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.model import Artwork, PrintedSize

FILM_ALPHA: Final = 128
"""From this alpha on a point counts as film: half, where an antialiased edge lies."""

_TILE_PX: Final = 1024


@dataclass(frozen=True)
class Tile:
    """A part of the grid with its surroundings. `alpha`: uint8, 255 = film, 0 beyond the artwork.

    `top`, `left` are where its own part begins on the grid, `height`, `width` how large that is; `halo` pixels lie around it.
    """

    alpha: NDArray[np.uint8]
    top: int
    left: int
    height: int
    width: int
    halo: int

    def own(self, values: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """The tile's own part of an array over the tile and its surroundings."""
        return values[self.halo : self.halo + self.height, self.halo : self.halo + self.width]


@dataclass(frozen=True)
class Grid:
    """`alpha`: h×w uint8, as stored, or reduced where it was finer than the grid. `height`, `width`: of the grid, in pixels."""

    alpha: NDArray[np.uint8]
    height: int
    width: int

    @classmethod
    def of(cls, artwork: Artwork, size: PrintedSize, *, per_mm: float) -> Self:
        """The grid of an artwork at its printed size, with `per_mm` pixels a millimetre."""
        height, width = max(1, round(size.height_mm * per_mm)), max(1, round(size.width_mm * per_mm))
        alpha = np.ascontiguousarray(artwork.pixels[..., 3])
        if artwork.height_px > height or artwork.width_px > width:
            reduced = min(artwork.width_px, width), min(artwork.height_px, height)
            alpha = np.asarray(cv2.resize(alpha, reduced, interpolation=cv2.INTER_AREA), np.uint8)
        return cls(alpha, height, width)

    def tiles(self, *, halo: int) -> Iterator[Tile]:
        """All tiles, row by row, each with so many pixels around it."""
        for top in range(0, self.height, _TILE_PX):
            for left in range(0, self.width, _TILE_PX):
                height, width = min(_TILE_PX, self.height - top), min(_TILE_PX, self.width - left)
                alpha = self._alpha(top - halo, left - halo, height + 2 * halo, width + 2 * halo)
                yield Tile(alpha, top, left, height, width, halo)

    def _alpha(self, top: int, left: int, height: int, width: int) -> NDArray[np.uint8]:
        """Alpha on a part of the grid, enlarged bilinearly where the artwork is coarser; 0 beyond the artwork."""
        down, across = self.alpha.shape[0] / self.height, self.alpha.shape[1] / self.width
        first_row, last_row = _span(top, height, down, self.alpha.shape[0])
        first_column, last_column = _span(left, width, across, self.alpha.shape[1])
        if first_row >= last_row or first_column >= last_column:
            return np.zeros((height, width), np.uint8)
        part = self.alpha[first_row:last_row, first_column:last_column]
        # From a grid pixel's centre to the artwork's pixels: (x + 1/2) scale - 1/2.
        to_part = np.array(
            [
                [across, 0, (left + 0.5) * across - 0.5 - first_column],
                [0, down, (top + 0.5) * down - 0.5 - first_row],
            ]
        )
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        return np.asarray(cv2.warpAffine(part, to_part, (width, height), flags=flags, borderMode=cv2.BORDER_CONSTANT), np.uint8)


def _span(start: int, length: int, scale: float, limit: int) -> tuple[int, int]:
    """First and last (exclusive) pixel of the artwork that a span of the grid needs."""
    return max(0, math.floor(start * scale) - 2), min(limit, math.ceil((start + length) * scale) + 2)
