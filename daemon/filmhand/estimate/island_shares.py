"""How much of screened film is film, and how much of that has white: rims of islands have none, and small ones are mostly rim."""

from typing import Final

import cv2
import numpy as np

from filmhand.halftone.choke import disc, mask
from filmhand.halftone.screening import FilmScreen
from filmhand.separation.film_sums import Islands

_TONES: Final = range(0, 256, 5)
"""Tones that are looked at; between them shares grow evenly enough."""


def island_shares(screening: FilmScreen) -> Islands:
    """By tone of coverage, the shares of the area under film and under white that a screening makes.

    Where film is everywhere both are 1: that edge of it is no island's.
    """
    by, tile = disc(screening.island_choke_px), screening.coverage
    reach = max(len(by) - 1, int(by[0]))
    around = np.pad(tile, reach, mode="wrap")
    shape, own = mask(by).view(np.uint8), (slice(reach, around.shape[0] - reach), slice(reach, around.shape[1] - reach))
    shares = []
    for tone in _TONES:
        islands = (around < tone).view(np.uint8)
        screened = float(islands[own].mean())
        if screening.spreads:
            shares.append((float(cv2.dilate(islands, shape)[own].mean()), screened))
        else:
            shares.append((screened, float(cv2.erode(islands, shape)[own].mean())))
    film, white = (np.interp(np.arange(256), _TONES, share) for share in zip(*shares, strict=True))
    return Islands(film, white)
