"""Where on a sheet there is most to see: partial film beside an edge, and inks neither full nor none."""

from typing import Any, Final, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.proof.dots import Floats, Reals
from filmhand.proof.means import Means

_ABOUT: Final = np.ones((3, 3), np.uint8)
_OF_INKS: Final = 0.3
"""What partial ink at an edge counts, of what partial film there does."""
_ANYWHERE: Final = 0.02
"""What partial ink counts away from all edges."""


class Telling(NamedTuple):
    """How much there is to see in each block, (h, w) float32, 0 to 1 each: partial film, edges of film, partial ink on it."""

    film: Reals
    edges: Reals
    inks: Reals


def telling_of(means: Means) -> Telling:
    """Of a band of blocks."""
    film = means.film
    most, least = cv2.dilate(film, _ABOUT), cv2.erode(film, _ABOUT)
    within = [np.clip(one / np.maximum(film, np.float32(1e-6)), 0, 1) for one in means.laid.values()]
    inks = film * np.mean([_partial(one) for one in within], axis=0, dtype=np.float32)
    # An edge is partial in the blocks that it crosses; screened film is in all about it, too.
    soft = np.minimum(_partial(film), np.minimum(_partial(most), _partial(least)))
    return Telling(np.asarray(soft, np.float32), np.asarray(most - least, np.float32), np.asarray(inks, np.float32))


def most_telling(telling: Telling, window: tuple[int, int]) -> tuple[int, int]:
    """Left and top of the window, so many blocks across and down, with most to see in it; of several, the first.

    A window larger than the picture begins at its corner.
    """
    height, width = telling.film.shape
    across, down = min(window[0], width), min(window[1], height)
    film, edges, inks = (_means(one, (across, down)) for one in telling)
    score = np.sqrt(film * edges) + _OF_INKS * np.sqrt(inks * edges) + _ANYWHERE * inks
    inside = score[: height - down + 1, : width - across + 1]
    top, left = np.unravel_index(int(inside.argmax()), inside.shape)
    return int(left), int(top)


def _means(one: Reals, window: tuple[int, int]) -> Floats:
    """Means over the window that begins at each block. Sums that run on may fall below 0 by a rounding error."""
    return np.maximum(cv2.boxFilter(one, cv2.CV_64F, window, anchor=(0, 0), borderType=cv2.BORDER_CONSTANT), 0)


def _partial(share: NDArray[Any]) -> Reals:
    return np.asarray(np.maximum(4 * share * (1 - share), 0), np.float32)  # a mean may be a rounding error above 1
