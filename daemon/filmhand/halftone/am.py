"""AM screens: dots that grow in even rows. Cells are laid on whole pixels (a rational screen), so the tile repeats exactly.

The cell's two sides are the whole-pixel vectors nearest to those of the asked ruling and angle: lpi = dpi / √(a² + b²),
angle = atan2(b, a) for square pixels. Dots are ranked over the whole tile, which holds many cells, so a flat tone's mean is
exact to half a dot of the tile and not only of the cell.
"""

import math
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.halftone.thresholds import Ranks, Tile, thresholds
from filmhand.rules import DotShape, ScreenRules

_LARGEST_TILE: Final = 1 << 20
"""Dots of the largest tile we would keep; where the nearest cell needs a larger one, the next nearest is taken."""
_LEAST_SIDE: Final = 96
"""Pixels along a side of the tile, at least: a small one is repeated, so that its cells can take turns."""
_SEARCHED: Final = 4
"""How far from the ideal corner, in pixels, a cell's corner is looked for at first."""

Vector = tuple[int, int]
Floats = NDArray[np.float64]


def am_tile(screen: ScreenRules, *, resolution: tuple[int, int]) -> Tile:
    """th×tw uint8 thresholds of a screen at a resolution across and down; see `thresholds.Tile`."""
    return thresholds(am_ranks(screen, resolution=resolution))


@lru_cache(maxsize=64)
def am_ranks(screen: ScreenRules, *, resolution: tuple[int, int]) -> Ranks:
    """The order in which the tile's dots appear, uint32. Dots grow from the middle of each cell."""
    row, column = cell_of(screen, resolution=resolution)
    height, width = (side * -(-_LEAST_SIDE // side) for side in tile_size(row, column))
    y, x = np.mgrid[0:height, 0:width] + 0.5
    area = row[0] * column[1] - row[1] * column[0]
    along = (x * column[1] - y * column[0]) / area  # cells from the origin, along the rows of dots
    across = (y * row[0] - x * row[1]) / area
    order = np.lexsort((_scattered(along, across).ravel(), -_spot(along, across, screen.shape).ravel()))
    ranks = np.empty(order.size, np.uint32)
    ranks[order] = np.arange(order.size, dtype=np.uint32)
    ranks.flags.writeable = False
    return ranks.reshape(height, width)


def cell_of(screen: ScreenRules, *, resolution: tuple[int, int]) -> tuple[Vector, Vector]:
    """The two sides of a cell as (x, y) in whole pixels: along the rows of dots, and across them."""
    turn = math.radians(screen.angle)
    pitch = np.array(resolution) / screen.lpi
    row, column = pitch * (math.cos(turn), math.sin(turn)), pitch * (-math.sin(turn), math.cos(turn))
    reach = _SEARCHED
    while (found := _nearest(row, column, pitch=pitch, reach=reach)) is None:
        reach *= 2
    return found


def tile_size(row: Vector, column: Vector) -> tuple[int, int]:
    """Height and width of the least rectangle after which a screen of such cells repeats."""
    area = abs(row[0] * column[1] - row[1] * column[0])
    return area // math.gcd(row[0], column[0]), area // math.gcd(row[1], column[1])


def _nearest(row: Floats, column: Floats, *, pitch: Floats, reach: int) -> tuple[Vector, Vector] | None:
    """The whole-pixel sides nearest to the ideal ones, within `reach`, whose tile is not too large; None if there are none."""
    steps = np.stack(np.meshgrid(*[np.arange(-reach, reach + 1)] * 2), axis=-1).reshape(-1, 2)
    rows = np.rint(row).astype(np.int64) + steps
    if pitch[0] == pitch[1]:  # square pixels: a right angle stays one exactly
        columns = np.stack([-rows[:, 1], rows[:, 0]], axis=-1)
    else:
        columns = np.rint(column).astype(np.int64) + steps
        rows, columns = np.repeat(rows, len(steps), axis=0), np.tile(columns, (len(steps), 1))
    area = rows[:, 0] * columns[:, 1] - rows[:, 1] * columns[:, 0]
    common = np.gcd(rows, columns).prod(axis=1)
    fits = (area > 0) & (area * area <= _LARGEST_TILE * common)
    if not fits.any():
        return None
    miss = (((rows - row) / pitch) ** 2 + ((columns - column) / pitch) ** 2).sum(axis=1)
    best = np.argmin(np.where(fits, miss, np.inf))
    return (int(rows[best, 0]), int(rows[best, 1])), (int(columns[best, 0]), int(columns[best, 1]))


def _spot(along: Floats, across: Floats, shape: DotShape) -> Floats:
    """How early the dot at each place appears, greatest first; common practice, no source.

    A trace of slope, too little to show, sets apart the places that a shape's own symmetry makes equal.
    """
    x, y = along - np.floor(along) - 0.5, across - np.floor(across) - 0.5
    match shape:
        case DotShape.ROUND:  # round dots, a checkerboard at one half, round holes
            value = np.cos(2 * np.pi * x) + np.cos(2 * np.pi * y)
        case DotShape.ELLIPSE:  # neighbours along the row join first, across it later
            value = np.cos(2 * np.pi * x) + 0.7 * np.cos(2 * np.pi * y)
        case DotShape.LINE:
            value = np.cos(2 * np.pi * y) + 0.02 * np.cos(2 * np.pi * x)
        case DotShape.DIAMOND:
            value = -np.abs(x) - np.abs(y)
    return np.asarray(np.round(value + 1e-4 * x + 2.3e-4 * y, 9))


def _scattered(along: Floats, across: Floats) -> Floats:
    """In which order cells take the next dot of equal standing: a two-dimensional sequence of low discrepancy.

    Its steps are the powers of 1 over the plastic number (1.3247…), the generalised golden ratio; given from memory.
    """
    step = 1 / 1.32471795724474602596
    return np.asarray((np.floor(along) * step + np.floor(across) * step**2) % 1.0)
