"""An artwork's film, or what is bare of it, as it is printed: on a square grid of stated fineness, a tile at a time."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum
from typing import Final, Self

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.preflight.hairline import hairlines_raised

FILM_ALPHA: Final = 128
"""From this alpha on a point counts as film: half, where an antialiased edge lies."""

_TILE_PX: Final = 1024


class Part(Enum):
    """What is looked at."""

    FILM = "film"
    GAP = "gap"


@dataclass(frozen=True)
class Tile:
    """A part of the grid with its surroundings. `alpha`: h×w uint8, 255 = solid film, or fully bare where gaps are looked at.

    `mask`: h×w, true where that is at least half, and on hairlines that are finer than that.
    `top`, `left` are where its own part begins on the grid, `height`, `width` how large that is; `halo` pixels lie around it.
    """

    alpha: NDArray[np.uint8]
    mask: NDArray[np.bool_]
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
    """`alpha`: h×w uint8, as stored, or reduced where it was finer than the grid; turned round where gaps are looked at.

    `height`, `width`: of the grid, in pixels.
    """

    alpha: NDArray[np.uint8]
    height: int
    width: int
    part: Part

    @classmethod
    def of(cls, artwork: Artwork, size: PrintedSize, *, per_mm: float, part: Part) -> Self:
        """The grid of an artwork at its printed size, with `per_mm` pixels a millimetre."""
        height, width = max(1, round(size.height_mm * per_mm)), max(1, round(size.width_mm * per_mm))
        alpha = np.ascontiguousarray(artwork.pixels[..., 3])
        if artwork.height_px > height or artwork.width_px > width:
            reduced = min(artwork.width_px, width), min(artwork.height_px, height)
            alpha = np.asarray(cv2.resize(alpha, reduced, interpolation=cv2.INTER_AREA), np.uint8)
        return cls(alpha if part is Part.FILM else ~alpha, height, width, part)

    @property
    def beyond(self) -> int:
        """What lies beyond the artwork: nothing but bare garment."""
        return 0 if self.part is Part.FILM else 255

    @property
    def pixel_px(self) -> float:
        """The size of one pixel of `alpha` on the grid; the larger of the two directions."""
        return float(max(self.height / self.alpha.shape[0], self.width / self.alpha.shape[1]))

    def tiles(self, *, halo: int, hairline_px: float) -> Iterator[Tile]:
        """All tiles, row by row, each with so many pixels around it; hairlines up to a width are made out."""
        for top in range(0, self.height, _TILE_PX):
            for left in range(0, self.width, _TILE_PX):
                height, width = min(_TILE_PX, self.height - top), min(_TILE_PX, self.width - left)
                around = top - halo, left - halo, height + 2 * halo, width + 2 * halo
                alpha, raised = self._alpha(*around, hairline_px=hairline_px)
                yield Tile(alpha, raised >= FILM_ALPHA, top, left, height, width, halo)

    def _alpha(
        self, top: int, left: int, height: int, width: int, *, hairline_px: float
    ) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
        """A part of the grid, enlarged bilinearly where the artwork is coarser; the same with hairlines raised to solid."""
        down, across = self.alpha.shape[0] / self.height, self.alpha.shape[1] / self.width
        first_row, last_row = _span(top, height, down, self.alpha.shape[0])
        first_column, last_column = _span(left, width, across, self.alpha.shape[1])
        if first_row >= last_row or first_column >= last_column:
            nothing = np.full((height, width), self.beyond, np.uint8)
            return nothing, nothing
        part = self.alpha[first_row:last_row, first_column:last_column]
        # From a grid pixel's centre to the artwork's pixels: (x + 1/2) scale - 1/2.
        to_part = np.array(
            [
                [across, 0, (left + 0.5) * across - 0.5 - first_column],
                [0, down, (top + 0.5) * down - 0.5 - first_row],
            ]
        )
        raised = hairlines_raised(part, widest_px=2 + math.ceil(hairline_px / self.pixel_px), beyond=self.beyond)
        enlarged = self._enlarged(part, to_part, (width, height))
        return enlarged, enlarged if raised is part else self._enlarged(raised, to_part, (width, height))

    def _enlarged(self, part: NDArray[np.uint8], to_part: NDArray[np.float64], shape: tuple[int, int]) -> NDArray[np.uint8]:
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        beyond = (float(self.beyond),)
        enlarged = cv2.warpAffine(part, to_part, shape, flags=flags, borderMode=cv2.BORDER_CONSTANT, borderValue=beyond)
        return np.asarray(enlarged, np.uint8)


def _span(start: int, length: int, scale: float, limit: int) -> tuple[int, int]:
    """First and last (exclusive) pixel of the artwork that a span of the grid needs."""
    return max(0, math.floor(start * scale) - 2), min(limit, math.ceil((start + length) * scale) + 2)
