"""How narrow parts of the film, or gaps in it, get: what a disc of the limit's diameter cannot enter, and how wide it is.

A part may be narrow where a morphological opening takes it away (Serra, "Image Analysis and Mathematical Morphology", 1982, from
memory), with discs made by exact distance transforms (Felzenszwalb and Huttenlocher 2012, in OpenCV). How wide it really is says
its ridge, measured across between the places where alpha passes one half. Corners lose their tips to a disc too; but a tip has
no ridge of equal distance along it.
"""

import math
from dataclasses import dataclass
from enum import Enum
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.preflight.finding import Box
from filmhand.preflight.grid import FILM_ALPHA, Grid
from filmhand.preflight.places import Places
from filmhand.preflight.width import widths_across

PER_MM: Final = 20.0
"""Grid pixels a millimetre: strokes of 0.2 to 0.8 mm come out within 0.05 mm at any angle (measured in the tests)."""

_SLACK_PX: Final = 1.5
"""The opening takes away what is up to this much wider than the limit, for distances are between pixel centres; widths decide."""

_RIDGE_REACH: Final = 3
_RIDGE_SLOPE: Final = 0.3
"""A ridge rises by less than this a pixel, over so many pixels: parallel edges, and tips of less than about 35 degrees."""

_LEAST_RUN: Final = 1.5
"""A narrow part that hangs on a wider one counts when its ridge is this many limits long."""

_LEAST_LENGTH_MM: Final = 1.0
"""The narrowest width is one that at least this length of ridge has, all over: a lone speck of dust does not decide."""

_HALO: Final = 5.0
"""How much is looked at around a tile, in limits."""

_BIN_MM: Final = 0.005

Mask = NDArray[np.bool_]


class Part(Enum):
    """What is measured."""

    FILM = "film"
    GAP = "gap"


@dataclass(frozen=True)
class Narrow:
    """What is narrower than a limit. `share`: its area, as a fraction of the film's. `narrowest_mm`: None if nothing is."""

    share: float
    narrowest_mm: float | None
    where: tuple[Box, ...]


def narrow_parts(artwork: Artwork, size: PrintedSize, *, part: Part, limit_mm: float) -> Narrow:
    """Parts of the printed film, or gaps in it, narrower than a limit."""
    grid = Grid.of(artwork, size, per_mm=PER_MM)
    places = Places(grid.height, grid.width)
    lengths_mm = np.zeros(math.ceil(limit_mm / _BIN_MM) + 1)
    film_px = narrow_px = 0
    for tile in grid.tiles(halo=math.ceil(_HALO * limit_mm * PER_MM)):
        film_px += int(np.count_nonzero(tile.own(tile.alpha >= FILM_ALPHA)))
        found = _narrow_in(tile.alpha if part is Part.FILM else 255 - tile.alpha, limit_mm * PER_MM)
        if found is None:
            continue
        own = tile.own(found.narrow)
        narrow_px += int(np.count_nonzero(own))
        places.add(own, tile.top, tile.left)
        is_own = np.zeros_like(found.narrow)
        tile.own(is_own)[:] = own
        widths_mm = found.width_px[is_own[found.rows, found.columns]] / PER_MM
        lengths_mm += np.bincount((widths_mm / _BIN_MM).astype(np.intp), minlength=lengths_mm.size) / PER_MM
    return Narrow(narrow_px / max(1, film_px), _narrowest(lengths_mm), places.boxes())


@dataclass(frozen=True)
class _Found:
    """Narrow pixels of a tile (h×w), and ridge pixels narrower than the limit with the width there (n each)."""

    narrow: Mask
    rows: NDArray[np.intp]
    columns: NDArray[np.intp]
    width_px: NDArray[np.float32]


def _narrow_in(alpha: NDArray[np.uint8], limit_px: float) -> _Found | None:
    mask = alpha >= FILM_ALPHA
    if mask.all() or not mask.any():
        return None
    distance = _distance(mask)
    opened = _opened(distance, (limit_px + _SLACK_PX) / 2)
    left = mask & ~opened
    if not left.any():
        return None
    around = np.ones((2 * _RIDGE_REACH + 1, 2 * _RIDGE_REACH + 1), np.uint8)
    is_ridge = left & (distance >= cv2.dilate(distance, around) - _RIDGE_REACH * _RIDGE_SLOPE)
    rows, columns = np.nonzero(is_ridge)
    width_px = widths_across(alpha, rows, columns, longest_px=limit_px + 2 * _SLACK_PX)
    is_under = width_px < limit_px
    rows, columns, width_px = rows[is_under], columns[is_under], width_px[is_under]
    narrow = _that_count(left, opened, (rows, columns), _LEAST_RUN * limit_px)
    return _Found(narrow, rows, columns, width_px) if narrow.any() else None


def _opened(distance: NDArray[np.float32], radius_px: float) -> Mask:
    """What a disc covers that stays within. Distances are to the nearest pixel outside; the edge lies half a pixel before it."""
    core = distance - 0.5 >= radius_px
    return np.asarray(_distance(~core) <= radius_px + 1.0) if core.any() else core


def _that_count(left: Mask, opened: Mask, under: tuple[NDArray[np.intp], NDArray[np.intp]], least_run_px: float) -> Mask:
    """Of the pieces that an opening left, those that have a long enough run under the limit; if they stand alone, any run."""
    count, labels = cv2.connectedComponents(left.view(np.uint8), connectivity=8, ltype=cv2.CV_32S)
    runs = np.bincount(labels[under], minlength=count)
    beside = cv2.dilate(opened.view(np.uint8), np.ones((3, 3), np.uint8)).view(np.bool_)
    hangs_on = np.zeros(count, np.bool_)
    hangs_on[labels[left & beside]] = True
    counts = runs >= np.where(hangs_on, least_run_px, 1)
    counts[0] = False
    return np.asarray(counts[labels])


def _distance(mask: Mask) -> NDArray[np.float32]:
    """Distance of each true pixel's centre to that of the nearest false one, in pixels, exact."""
    return np.asarray(cv2.distanceTransform(mask.view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE), np.float32)


def _narrowest(lengths_mm: NDArray[np.float64]) -> float | None:
    """The width that the narrowest millimetre of ridge reaches; or all of it, where there is less than a millimetre."""
    total = float(lengths_mm.sum())
    if total == 0:
        return None
    reached = int(np.searchsorted(np.cumsum(lengths_mm), min(_LEAST_LENGTH_MM, total) * (1 - 1e-9)))
    return (reached + 0.5) * _BIN_MM
