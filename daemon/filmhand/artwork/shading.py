"""The shading of a ground that light falls on unevenly: a smooth surface through its colours."""

from dataclasses import dataclass
from typing import Final, Self

import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.source import bands

_MOST: Final = 50_000
"""Colours that a surface is laid through: more tell nothing more."""

_TWICE: Final = 2
"""A surface is laid again without what is far from the first: noise, and what is not the ground."""
_FAR: Final = 3.0

Indices = NDArray[np.intp]


@dataclass(frozen=True)
class Shading:
    """RGB (0 to 255, unclipped) as a polynomial of second degree in row and column, each from -1 to 1 over h×w pixels.

    `terms`: 6×3. Light falls off smoothly over a wall or a sheet; what a second degree leaves is within a ground's tolerance.
    """

    height: int
    width: int
    terms: NDArray[np.float64]

    @classmethod
    def through(cls, at: tuple[Indices, Indices], colours: NDArray[np.uint8], shape: tuple[int, int]) -> Self:
        """The surface of least squares through n×3 colours at n rows and columns of a picture of h×w pixels."""
        step = max(1, at[0].size // _MOST)
        places = _powers(at[0][::step], at[1][::step], shape)
        values = colours[::step].astype(np.float64)
        keep = np.ones(len(values), np.bool_)
        terms: NDArray[np.float64] = np.zeros((6, 3))
        for _ in range(_TWICE):
            terms = np.asarray(np.linalg.lstsq(places[keep], values[keep], rcond=None)[0], np.float64)
            off = np.abs(values - places @ terms).max(axis=1)
            keep = off <= max(1.0, _FAR * float(np.median(off)))
        return cls(*shape, terms)

    @classmethod
    def even(cls, colour: NDArray[np.uint8], shape: tuple[int, int]) -> Self:
        """No shading: one colour (3) all over."""
        return cls(*shape, np.vstack((colour.astype(np.float64), np.zeros((5, 3)))))

    def strays_from(self, other: Self) -> float:
        """The most, in RGB, that this surface is apart from another of the same picture; its corners, sides and middle tell."""
        rows, columns = (np.array([0, length // 2, length - 1]) for length in (self.height, self.width))
        down, across = np.meshgrid(rows, columns)
        places = _powers(down.ravel(), across.ravel(), (self.height, self.width))
        return float(np.abs(places @ (self.terms - other.terms)).max())

    def at(self, rows: Indices, columns: Indices) -> NDArray[np.float64]:
        """The surface's colours (n×3) at n places."""
        return np.asarray(_powers(rows, columns, (self.height, self.width)) @ self.terms)

    def taken_off(self, pixels: NDArray[np.uint8], ground: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """A copy of pixels (h×w×3 or more) as h×w×3, with the surface made the one colour `ground` (3 values)."""
        flat = np.empty((self.height, self.width, 3), np.uint8)
        columns = np.arange(self.width)
        for top, bottom in bands(self.height):
            rows = np.arange(top, bottom)
            for channel in range(3):
                off = self._plane(rows, columns, channel)
                np.subtract(pixels[top:bottom, :, channel], off, out=off)
                off += np.float32(ground[channel])
                flat[top:bottom, :, channel] = np.clip(np.rint(off, out=off), 0, 255, out=off)
        return flat

    def _plane(self, rows: Indices, columns: Indices, channel: int) -> NDArray[np.float32]:
        """One channel over a block of rows and columns."""
        y, x = (_scaled(at, n).astype(np.float32) for at, n in ((rows, self.height), (columns, self.width)))
        one, down, across, down2, both, across2 = self.terms[:, channel].astype(np.float32)
        plane = (across + both * y)[:, None] * x
        plane += (one + down * y + down2 * y * y)[:, None]
        plane += across2 * x * x
        return np.asarray(plane, np.float32)


def _powers(rows: Indices, columns: Indices, shape: tuple[int, int]) -> NDArray[np.float64]:
    y, x = _scaled(rows, shape[0]), _scaled(columns, shape[1])
    return np.stack((np.ones_like(y), y, x, y * y, y * x, x * x), axis=-1)


def _scaled(pixels: Indices, length: int) -> NDArray[np.float64]:
    return np.asarray((2 * pixels + 1) / length - 1.0)
