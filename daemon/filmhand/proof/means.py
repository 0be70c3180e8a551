"""What the eye makes of dots: means of film, ink and white over blocks of them, and over what lies nearby."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled
from filmhand.proof.dots import Dots, Floats, Levels, Reals, film_of, white_of


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
    across, down = block
    out = np.zeros((levels.shape[0] // down, levels.shape[1] // across), np.float32)
    _add_up(levels, weights, (across, down), out)
    return np.asarray(out / np.float32(across * down))


@compiled
def _add_up(levels: Levels, weights: Reals, block: tuple[int, int], out: Reals) -> None:
    across, down = block
    for y in range(out.shape[0] * down):
        into = out[y // down]
        for k in range(out.shape[1]):
            total = np.float32(0)
            for x in range(k * across, (k + 1) * across):
                total += weights[levels[y, x]]
            into[k] += total
