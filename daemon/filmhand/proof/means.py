"""What the eye makes of dots: means of film, ink and white over blocks of them, and over what lies nearby."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled
from filmhand.proof.dots import Dots, Floats, Levels, Reals, film_of, white_of

_EVEN: Final = 1e-6
"""Steps of weights that differ by less are the same."""


@dataclass(frozen=True, eq=False)
class Means:
    """Blocks of dots, each (h, w) float32, 0 to 1, shares of the whole block: that carries `film`; that has white under it, thin
    or not, `over_white`; and by letter the full ink `laid`. `garments`, `lies_on` as in `Dots`, at the middle of each block."""

    film: Reals
    over_white: Reals
    laid: Mapping[str, Reals]
    garments: Floats
    lies_on: NDArray[np.uint8]

    def cropped(self, by: tuple[int, int, int, int]) -> "Means":
        """Without so many blocks at the left, top, right and bottom."""
        left, top, right, bottom = by
        height, width = self.film.shape
        part = slice(top, height - bottom), slice(left, width - right)
        return self.each(lambda one: one[part], self.lies_on[part])

    def each(self, by: Callable[[Reals], Reals], lies_on: NDArray[np.uint8]) -> "Means":
        """With something done to each picture of shares."""
        laid = {ink: by(one) for ink, one in self.laid.items()}
        return Means(by(self.film), by(self.over_white), laid, self.garments, lies_on)


def averaged(dots: Dots, block: tuple[int, int]) -> Means:
    """Means of dots over blocks of so many across and down. ValueError if the window is not made of whole blocks."""
    across, down = block
    height, width = dots.lies_on.shape
    if height % down or width % across:
        raise ValueError(f"{width} × {height} dots are not made of blocks of {across} × {down}")
    whole = np.linspace(0, 1, 256, dtype=np.float32)
    film = film_of(dots)
    return Means(
        film=_means(film, whole, block),
        over_white=_means(white_of(dots, film), whole, block),
        laid={ink: _means(plane, dots.shares[ink], block) for ink, plane in dots.planes.items()},
        garments=dots.garments,
        lies_on=np.ascontiguousarray(dots.lies_on[down // 2 :: down, across // 2 :: across]),
    )


def blended(means: Means, sigma_px: tuple[float, float]) -> Means:
    """The same, each block with what lies about it, by a Gaussian of so many blocks across and down; nothing lies past the edges.

    Film and ink are blended, not their colours: the ink model says what a mean of them looks like.
    """
    if max(sigma_px) <= 0:
        return means

    def soft(one: Reals) -> Reals:
        across, down = sigma_px
        return np.asarray(cv2.GaussianBlur(one, (0, 0), sigmaX=across, sigmaY=down, borderType=cv2.BORDER_CONSTANT), np.float32)

    return means.each(soft, means.lies_on)


def _means(levels: Levels, weights: Reals, block: tuple[int, int]) -> Reals:
    """(h / down, w / across) float32: means of the weights of levels (h, w)."""
    steps, dots = np.diff(weights), block[0] * block[1]
    if np.allclose(steps, steps[0], atol=_EVEN):
        return np.asarray(_sums(levels, block) / np.float32(dots * len(steps) / weights[-1]))  # so that full is 1 exactly
    at_least = (step * _sums((levels >= level).view(np.uint8), block) for level, step in enumerate(steps, start=1))
    return np.asarray(sum(at_least) / np.float32(dots), np.float32)


def _sums(levels: Levels, block: tuple[int, int]) -> Reals:
    """Sums of levels over blocks, float32: exact, as they stay below 2^24."""
    sums = np.empty((levels.shape[0] // block[1], levels.shape[1] // block[0]), np.float32)
    _add_up(levels, block, sums)
    return sums


@compiled
def _add_up(levels: Levels, block: tuple[int, int], sums: Reals) -> None:
    """Rows are added up first, for whole rows take a processor's wide registers."""
    across, down = block
    columns = np.empty(levels.shape[1], np.uint32)
    for y in range(sums.shape[0]):
        columns[:] = 0
        for row in range(y * down, (y + 1) * down):
            for x in range(levels.shape[1]):
                columns[x] += levels[row, x]
        for k in range(sums.shape[1]):
            total = 0
            for x in range(k * across, (k + 1) * across):
                total += columns[x]
            sums[y, k] = total
