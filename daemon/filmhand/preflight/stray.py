"""Stray film: specks that stand alone, as dust, an eraser or a careless cut-out leaves them, told from dots that are meant.

What is meant lies beside other film (the dot of an i, a full stop), or evenly spaced among its like (a screen, a dotted line).
"""

import math
from dataclasses import dataclass, fields
from typing import Final, Self

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray

from filmhand import units
from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.artwork.trim import LEAST_ALPHA

_BESIDE: Final = 2.5
"""A speck nearer than this many limits to other film belongs to it. Stops, dots and accents lie nearer to their letters: a
third of an em, in lettering whose stops are as small as a speck (common practice, no source)."""

_IN_A_ROW: Final = 3
"""Specks so near to one that belongs belong too, one after the other: the dots of an ellipsis."""

_BODY: Final = 1.5
"""What is larger than this many limits is film that dots may belong to, letters for one; between one and this it is neither."""

_AROUND: Final = 5.0
"""Dots no further apart than this many limits make one pattern, if they are evenly spaced."""

_PATTERN: Final = 12
_EVEN, _MOST_OF_THEM = 0.2, 0.7
"""So many dots or more are a pattern, if this share of them has its nearest neighbour as far away, within a fifth, as the median.
Of dots strewn at random a quarter has (Rayleigh distances); of 12, one strewing in 50 looks even."""

_SAMPLE: Final = 1000
_TILE_PX: Final = 2048

Indices = NDArray[np.intp]
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Stray:
    """n specks. `sides`: n×4, left, top, right, bottom in pixels of the artwork. `rows`, `columns`: of all their pixels."""

    sides: NDArray[np.int64]
    rows: Indices
    columns: Indices

    @property
    def count(self) -> int:
        """How many specks."""
        return len(self.sides)


@dataclass(frozen=True)
class _Islands:
    """n pieces of film no larger than a body. `across_px`: n, largest extent; `to_body_px`: n, distance to a body, inf if far.

    `middles`: n×2, x and y of their centres of gravity. `rows`, `columns`, `of`: their pixels, and which island each is of.
    """

    sides: NDArray[np.int64]
    middles: Floats
    across_px: Floats
    to_body_px: Floats
    rows: Indices
    columns: Indices
    of: Indices

    @classmethod
    def joined(cls, parts: list[Self]) -> Self:
        """Those of several tiles."""
        first = np.cumsum([0, *(len(part.sides) for part in parts)])
        whole = {field.name: np.concatenate([getattr(part, field.name) for part in parts]) for field in fields(cls)}
        whole["of"] += np.repeat(first[:-1], [part.of.size for part in parts])
        return cls(**whole)


def stray_specks(artwork: Artwork, size: PrintedSize, *, limit_mm: float) -> Stray:
    """Film no larger across than the limit, as printed, that stands alone and is no pattern's; however faint, if seen."""
    limit_px = units.mm_to_px(limit_mm, size.effective_ppi(artwork))
    found = list(_tiles(artwork.pixels[..., 3], limit_px))
    if not found:
        return Stray(np.empty((0, 4), np.int64), np.empty(0, np.intp), np.empty(0, np.intp))
    islands = _Islands.joined(found)
    is_speck = islands.across_px <= limit_px + min(0.5, limit_px / 4)  # whole pixels: half of one is within their measure
    is_speck &= ~_belongs(islands, _BESIDE * limit_px)
    if is_speck.any():
        is_speck &= ~_in_pattern(islands.middles, _AROUND * limit_px)
    own = is_speck[islands.of]
    return Stray(islands.sides[is_speck], islands.rows[own], islands.columns[own])


def _tiles(alpha: NDArray[np.uint8], limit_px: float) -> list[_Islands]:
    """The islands of each tile of alpha (h×w uint8): those whose middle it holds."""
    halo = math.ceil((2 * _BODY + _BESIDE) * limit_px) + 2
    height, width = alpha.shape
    found = []
    for top in range(0, height, _TILE_PX):
        for left in range(0, width, _TILE_PX):
            first_row, first_column = max(0, top - halo), max(0, left - halo)
            part = alpha[first_row : top + _TILE_PX + halo, first_column : left + _TILE_PX + halo]
            islands = _islands_in(np.ascontiguousarray(part), limit_px)
            if islands is not None:
                begin = np.array([left - first_column, top - first_row])
                found.append(_owned(islands, begin, (first_column, first_row)))
    return [islands for islands in found if len(islands.sides)]


def _islands_in(alpha: NDArray[np.uint8], limit_px: float) -> _Islands | None:
    """The islands in a part of the artwork. What is cut off at its edge is longer than it looks, or another tile's."""
    film = (alpha >= LEAST_ALPHA).view(np.uint8)
    _, labels, stats, centres = cv2.connectedComponentsWithStats(film, connectivity=8, ltype=cv2.CV_32S)
    is_island = stats[:, 2:4].max(axis=1) <= _BODY * limit_px + 1
    is_island[0] = False
    if not is_island.any():
        return None
    number = np.cumsum(is_island) - 1
    rows, columns = np.nonzero(is_island[labels])
    of = number[labels[rows, columns]]
    islands = int(is_island.sum())
    to_body = np.full(islands, np.inf)
    bare = (film == 0) | is_island[labels]
    if not bare.all():
        distance = cv2.distanceTransform(bare.view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5)
        np.minimum.at(to_body, of, distance[rows, columns] - 1)
    box = stats[is_island].astype(np.int64)
    sides = np.concatenate((box[:, :2], box[:, :2] + box[:, 2:4]), axis=1)
    across = _across(alpha[rows, columns], (rows, columns, of), islands)
    return _Islands(sides, np.asarray(centres[is_island], np.float64), across, to_body, rows, columns, of)


def _across(alpha: NDArray[np.uint8], at: tuple[Indices, Indices, Indices], count: int) -> Floats:
    """The largest extent of each island in pixels, a pixel that is part covered counting as part of one.

    Along a row, say, it is the sum over columns of the strongest alpha in each, the island's strongest being one.
    """
    rows, columns, of = at
    extents = []
    for places in (rows, columns):
        first = np.full(count, np.iinfo(np.intp).max)
        np.minimum.at(first, of, places)
        within = places - first[of]
        strongest = np.zeros((count, int(within.max()) + 1), np.uint8)
        np.maximum.at(strongest, (of, within), alpha)
        extents.append(strongest.sum(axis=1) / strongest.max(axis=1))
    return np.asarray(np.maximum(*extents))


def _owned(islands: _Islands, begin: NDArray[np.int64], offset: tuple[int, int]) -> _Islands:
    """Of a part's islands those with their middle in the tile, which begins at `begin` (x, y); in pixels of the artwork."""
    keeps = np.all((islands.middles >= begin) & (islands.middles < begin + _TILE_PX), axis=1)
    number = np.cumsum(keeps) - 1
    own = keeps[islands.of]
    return _Islands(
        islands.sides[keeps] + np.array([*offset, *offset]),
        islands.middles[keeps] + np.array(offset),
        islands.across_px[keeps],
        islands.to_body_px[keeps],
        islands.rows[own] + offset[1],
        islands.columns[own] + offset[0],
        number[islands.of[own]],
    )


def _belongs(islands: _Islands, beside_px: float) -> NDArray[np.bool_]:
    """Which islands (n) lie beside a body, or in a short row of islands that begins beside one."""
    belongs = np.asarray(islands.to_body_px < beside_px)
    boxes = shapely.box(*islands.sides.T.astype(np.float64))
    for _ in range(_IN_A_ROW - 1):
        alone = np.flatnonzero(~belongs)
        beside, _ = shapely.STRtree(boxes[belongs]).query(boxes[alone], predicate="dwithin", distance=beside_px)
        if not beside.size:
            break
        belongs[alone[beside]] = True
    return belongs


def _in_pattern(middles: Floats, around_px: float) -> NDArray[np.bool_]:
    """Which islands (n) are many and evenly spaced: together in squares of `around_px` that touch."""
    cells = (middles // around_px).astype(np.intp)
    cells -= cells.min(axis=0)
    occupied = np.zeros(cells.max(axis=0) + 1, np.uint8)
    occupied[tuple(cells.T)] = 1
    groups, labels = cv2.connectedComponents(occupied, connectivity=8)
    group = labels[tuple(cells.T)]
    is_pattern = np.zeros(groups, np.bool_)
    for one in np.flatnonzero(np.bincount(group, minlength=groups) >= _PATTERN):
        is_pattern[one] = _is_even(shapely.points(middles[group == one]))
    return np.asarray(is_pattern[group])


def _is_even(points: NDArray[np.object_]) -> bool:
    """Whether points are evenly spaced; of very many, some tell."""
    some = points[:: max(1, points.size // _SAMPLE)]
    _, distances = shapely.STRtree(points).query_nearest(some, exclusive=True, return_distance=True, all_matches=False)
    usual = np.median(distances)
    return bool(np.mean(np.abs(distances - usual) <= _EVEN * usual) >= _MOST_OF_THEM)
