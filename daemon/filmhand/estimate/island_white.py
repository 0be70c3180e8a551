"""How much white the dots of screened film keep: every one is pulled in a little by itself, and small ones lose a good part."""

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.halftone.choke import Disc, disc
from filmhand.halftone.thresholds import Tile

_TONES: Final = 256


def island_white(coverage: Tile, island_choke_px: tuple[float, float]) -> NDArray[np.float64]:
    """By tone of coverage, 0 to 255, the share (256,) of its islands' area, 0 to 1, on which white lies.

    `coverage`: the tile that coverage is screened by, repeated without end. `island_choke_px`: as `Screening` has it. Where
    film is everywhere it is 1: that edge of it is no island's.
    """
    by = disc(island_choke_px)
    reach = max(len(by) - 1, int(by[0]))
    around = np.pad(coverage, reach, mode="wrap")
    shape, own = _shape(by), (slice(reach, around.shape[0] - reach), slice(reach, around.shape[1] - reach))
    share = np.ones(_TONES)
    for tone in range(1, _TONES):
        islands = (around < tone).view(np.uint8)
        share[tone] = cv2.erode(islands, shape)[own].sum() / max(islands[own].sum(), 1)
    return share


def _shape(by: Disc) -> NDArray[np.uint8]:
    """The disc as a picture of ones."""
    rows = np.abs(np.arange(1 - len(by), len(by)))
    columns = np.abs(np.arange(-int(by[0]), int(by[0]) + 1))
    return np.asarray(columns[None] <= by[rows][:, None], np.uint8)
