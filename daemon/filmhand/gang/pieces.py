"""Parts of a design that lie far apart, such as a chest print and a sleeve print on one page, as pieces of film of their own."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.gang import cells
from filmhand.separation.crop import cropped
from filmhand.separation.model import Separation

_LEAST_MM: Final = 10.0
"""What is smaller than this both ways is no piece but belongs to the nearest: a dot, a stroke of an accent. No source."""


@dataclass(frozen=True, eq=False)
class Piece:
    """Rows and columns of a design's pixels, and those of them that are the piece's: h×w bool."""

    rows: slice
    columns: slice
    own: NDArray[np.bool_]


def in_pieces(separation: Separation, *, apart_mm: float) -> Iterator[Separation]:
    """The parts of a separation that lie farther apart than `apart_mm`, each cut to its film; one where nothing does."""
    height, width = separation.coverage.shape
    width_mm, height_mm = separation.width_mm, separation.height_mm
    for piece in pieces_of(separation.coverage, width_mm=width_mm, height_mm=height_mm, apart_mm=apart_mm):
        coverage = separation.coverage[piece.rows, piece.columns]
        alone = replace(
            separation,
            planes=separation.planes[:, piece.rows, piece.columns],
            coverage=np.where(piece.own, coverage, np.uint8(0)),
            width_mm=width_mm * coverage.shape[1] / width,
            height_mm=height_mm * coverage.shape[0] / height,
        )
        cut = cropped(alone)
        if cut is not None:
            yield cut


def pieces_of(coverage: NDArray[np.uint8], *, width_mm: float, height_mm: float, apart_mm: float) -> Iterator[Piece]:
    """The pieces of a design printed at width_mm × height_mm, from the top left on; one where nothing lies farther apart.

    `coverage`: h×w uint8, 0 = bare garment. Parts no more than `apart_mm` from each other make one piece.
    """
    mask = cells.reduced(coverage, width_mm=width_mm, height_mm=height_mm)
    cell_mm = (width_mm / mask.shape[1], height_mm / mask.shape[0])
    owner = _owners(mask, cell_mm, apart_mm)
    height, width = coverage.shape
    rows = np.minimum(np.arange(height) * mask.shape[0] // height, mask.shape[0] - 1)
    columns = np.minimum(np.arange(width) * mask.shape[1] // width, mask.shape[1] - 1)
    boxes = [(piece, *_extent((owner == piece) & mask)) for piece in range(1, int(owner.max()) + 1)]
    for piece, top, bottom, left, right in sorted(boxes, key=lambda box: box[1:]):
        down = slice(*np.searchsorted(rows, (top, bottom)))
        across = slice(*np.searchsorted(columns, (left, right)))
        yield Piece(down, across, owner[rows[down]][:, columns[across]] == piece)


def _owners(mask: NDArray[np.bool_], cell_mm: tuple[float, float], apart_mm: float) -> NDArray[np.int32]:
    """The number of the nearest piece, from 1, for each cell: rows × columns int32."""
    reach = apart_mm / 2 / max(cell_mm)
    pad = int(reach) + 2
    distance = cv2.distanceTransform((~np.pad(mask, pad)).view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    count, labels = cv2.connectedComponents((distance <= reach).view(np.uint8), connectivity=8, ltype=cv2.CV_32S)
    labels = labels[pad:-pad, pad:-pad]
    large = [piece for piece in range(1, count) if _is_large((labels == piece) & mask, cell_mm)] or [1]
    number = np.zeros(count, np.int32)
    number[large] = np.arange(1, len(large) + 1)
    seeds = number[labels] * mask
    _, nearest = cv2.distanceTransformWithLabels(
        (seeds == 0).view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5, labelType=cv2.DIST_LABEL_PIXEL
    )
    of_seed = np.zeros(int(nearest.max()) + 1, np.int32)
    of_seed[nearest[seeds > 0]] = seeds[seeds > 0]
    return np.asarray(of_seed[nearest], np.int32)


def _is_large(part: NDArray[np.bool_], cell_mm: tuple[float, float]) -> bool:
    top, bottom, left, right = _extent(part)
    return (right - left) * cell_mm[0] >= _LEAST_MM or (bottom - top) * cell_mm[1] >= _LEAST_MM


def _extent(part: NDArray[np.bool_]) -> tuple[int, int, int, int]:
    """First row and the one past the last, first column and the one past the last."""
    rows, columns = np.flatnonzero(part.any(axis=1)), np.flatnonzero(part.any(axis=0))
    return int(rows[0]), int(rows[-1]) + 1, int(columns[0]), int(columns[-1]) + 1
