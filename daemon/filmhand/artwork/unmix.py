"""Edge pixels of a motif on a ground are mixtures of both: finding the share of each, and the motif's own colour."""

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

_REACH_PX: Final = 2
"""How wide an edge's mixture is, in pixels: antialiasing makes one, resampling two."""

_SOLID: Final = 0.98
_MANY: Final = 1 << 18


def unmixed(pixels: NDArray[np.uint8], removed: NDArray[np.bool_], ground: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """h×w×4 uint8 with alpha 0 where `removed` (h×w), and the pixels beside that made part transparent in the motif's colour.

    A pixel C = a·F + (1 - a)·G, mixed as encoded, as drawing programs do. F is taken from the neighbour furthest from the ground
    G (3 values); a is the share of the way from G to F at which C lies. Over the ground's colour the result looks as before.
    """
    result = pixels.copy()
    result[..., 3][removed] = 0
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * _REACH_PX + 1, 2 * _REACH_PX + 1))
    beside = cv2.dilate(removed.view(np.uint8), disc).view(np.bool_) & ~removed
    rows, columns = np.nonzero(beside)
    for start in range(0, rows.size, _MANY):
        some = rows[start : start + _MANY], columns[start : start + _MANY]
        colour, share = _motif(pixels, removed, some, ground)
        result[some[0], some[1], :3] = colour
        result[some[0], some[1], 3] = np.rint(share * pixels[some[0], some[1], 3])
    return result


def _motif(
    pixels: NDArray[np.uint8],
    removed: NDArray[np.bool_],
    at: tuple[NDArray[np.intp], NDArray[np.intp]],
    ground: NDArray[np.uint8],
) -> tuple[NDArray[np.uint8], NDArray[np.float32]]:
    """The motif's colour (n×3) and its share (n, 0 to 1) at each place."""
    height, width = removed.shape
    own = pixels[at[0], at[1], :3]
    base = ground.astype(np.float32)
    best = own
    furthest = np.sum((own - base) ** 2, axis=-1)
    for dy in range(-_REACH_PX, _REACH_PX + 1):
        for dx in range(-_REACH_PX, _REACH_PX + 1):
            y, x = np.clip(at[0] + dy, 0, height - 1), np.clip(at[1] + dx, 0, width - 1)
            colour = pixels[y, x, :3]
            distance = np.sum((colour - base) ** 2, axis=-1)
            is_better = (distance > furthest) & ~removed[y, x]
            best = np.where(is_better[:, None], colour, best)
            furthest = np.where(is_better, distance, furthest)
    along = np.sum((own - base) * (best - base), axis=-1) / np.maximum(furthest, 1)
    share = np.clip(along, 0, 1).astype(np.float32)
    is_solid = share >= _SOLID
    return np.where(is_solid[:, None], own, best).astype(np.uint8), np.where(is_solid, np.float32(1), share)
