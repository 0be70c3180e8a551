"""How much of screened film is film, and how much of that has white: rims of islands have none, and small ones are mostly rim."""

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.halftone.choke import Disc, disc
from filmhand.halftone.screening import Screening
from filmhand.separation.film_sums import Islands

_TONES: Final = range(0, 256, 5)
"""Tones that are looked at; between them shares grow evenly enough."""
Picture = NDArray[np.uint8]


def island_shares(screening: Screening) -> Islands:
    """By tone of coverage, the shares of the area under film and under white that a screening makes.

    Where film is everywhere both are 1: that edge of it is no island's.
    """
    by, tile = disc(screening.island_choke_px), screening.coverage
    reach = max(len(by) - 1, int(by[0]))
    around = np.pad(tile, reach, mode="wrap")
    shape, own = _shape(by), (slice(reach, around.shape[0] - reach), slice(reach, around.shape[1] - reach))
    shares = []
    for tone in _TONES:
        islands = (around < tone).view(np.uint8)
        screened = islands[own].mean()
        if screening.spreads:
            shares.append((cv2.dilate(islands, shape)[own].mean(), screened))
        else:
            shares.append((screened, cv2.erode(islands, shape)[own].mean()))
    film, white = (np.interp(np.arange(256), _TONES, share) for share in zip(*shares, strict=True))
    return Islands(film, white)


def _shape(by: Disc) -> Picture:
    """The disc as a picture of ones."""
    rows = np.abs(np.arange(1 - len(by), len(by)))
    columns = np.abs(np.arange(-int(by[0]), int(by[0]) + 1))
    return np.asarray(columns[None] <= by[rows][:, None], np.uint8)
