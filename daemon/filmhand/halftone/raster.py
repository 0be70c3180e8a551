"""From continuous-tone planes at source resolution to dots: bilinear enlargement, threshold, pack, in one pass over a band.

A source row is stretched sideways once, to 256ths of a tone; each row of dots then blends two stretched rows and is compared
with the screen, 64 dots at a time. Nothing of the enlarged picture is ever stored beyond two rows.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled
from filmhand.halftone import lanes
from filmhand.halftone.bits import Words

Tile = NDArray[np.uint8]
"""th×(tw + FURTHER) uint8 thresholds: a tile whose columns go on past its period, so that 64 of them can be read from any on."""
FURTHER = lanes.DOTS - 1


class Plane(NamedTuple):
    """Source rows of one plane. `tones`: flat uint8, rows × width and OVERREAD bytes more. `peak`: each row's greatest.

    `full`: rows known to be 255 wherever there is coverage.
    """

    tones: NDArray[np.uint8]
    width: int
    peak: NDArray[np.uint8]
    full: NDArray[np.bool_]


class Grid(NamedTuple):
    """Where a band's dots lie in the source.

    `rows`: h×2 int64, the source rows that a row of dots lies between; `row_shares`: h×2 uint16, see `lanes.blend`.
    `columns`: w uint32, w whole words of dots; `column_shares`: w uint16, see `lanes.stretch`.
    Dots before `first` and from `last` on lie outside the picture.
    """

    rows: NDArray[np.int64]
    row_shares: NDArray[np.uint16]
    columns: NDArray[np.uint32]
    column_shares: NDArray[np.uint16]
    first: int
    last: int


class Screen(NamedTuple):
    """A tile of thresholds in place. `width`: its period. `top`, `left`: row and column of the tile at the band's first dot."""

    tile: Tile
    width: int
    top: int
    left: int


class FilmBits(NamedTuple):
    """What coverage says of a band's dots, each h×words: `islands` is screened, the others are where coverage is more than
    nothing, than next to nothing, than half, all but full, and full."""

    islands: Words
    any: Words
    some: Words
    half: Words
    full: Words
    solid: Words


NEXT_TO_NOTHING, HALF, ALL_BUT_FULL, BELOW_SOLID = 7, 127, 247, 254
"""Tones. Resampling leaves traces of 2 or 3 per cent beside an edge, on either side of it."""


def widened(tile: NDArray[np.uint8]) -> Tile:
    """A screen's tile as the kernels want it."""
    return np.ascontiguousarray(tile[:, np.arange(tile.shape[1] + FURTHER) % tile.shape[1]])


@compiled
def film_bits(plane: Plane, grid: Grid, screen: Screen) -> FilmBits:
    """Where film lies, by the plane of coverage."""
    height, words = grid.rows.shape[0], grid.columns.size // lanes.DOTS
    film = FilmBits(
        np.zeros((height, words), np.uint64),
        np.zeros((height, words), np.uint64),
        np.zeros((height, words), np.uint64),
        np.zeros((height, words), np.uint64),
        np.zeros((height, words), np.uint64),
        np.zeros((height, words), np.uint64),
    )
    levels = np.empty((5, lanes.DOTS), np.uint8)
    levels[0], levels[1], levels[2], levels[3], levels[4] = 0, NEXT_TO_NOTHING, HALF, ALL_BUT_FULL, BELOW_SOLID
    stretched = np.zeros((2, grid.columns.size), np.uint16)
    held = np.full(2, -1, np.int64)
    tones = np.empty(lanes.DOTS, np.uint8)
    for y in range(grid.rows.shape[0]):
        if plane.peak[grid.rows[y, 0]] == 0 and plane.peak[grid.rows[y, 1]] == 0:
            continue
        upper, lower = _pair(plane, grid, y, stretched, held)
        thresholds = screen.tile[(screen.top + y) % screen.tile.shape[0]]
        column = screen.left
        for k in range(words):
            lanes.blend(stretched[upper], stretched[lower], k * lanes.DOTS, grid.row_shares[y], tones)
            film.islands[y, k] = lanes.above(tones, 0, thresholds, column)
            film.any[y, k] = lanes.above(tones, 0, levels[0], 0)
            film.some[y, k] = lanes.above(tones, 0, levels[1], 0)
            film.half[y, k] = lanes.above(tones, 0, levels[2], 0)
            film.full[y, k] = lanes.above(tones, 0, levels[3], 0)
            film.solid[y, k] = lanes.above(tones, 0, levels[4], 0)
            column = _further(column, screen.width)
    return film


@compiled
def ink_bits(plane: Plane, grid: Grid, screen: Screen, islands: Words, dots: Words) -> None:
    """Dots of an ink: adds to `dots` those of `islands` (both h×words) where the ink's tone is above its screen."""
    stretched = np.zeros((2, grid.columns.size), np.uint16)
    held = np.full(2, -1, np.int64)
    tones = np.empty(lanes.DOTS, np.uint8)
    for y in range(grid.rows.shape[0]):
        if plane.peak[grid.rows[y, 0]] == 0 and plane.peak[grid.rows[y, 1]] == 0:
            continue
        if not islands[y].any():
            continue
        if plane.full[grid.rows[y, 0]] and plane.full[grid.rows[y, 1]]:
            for k in range(islands.shape[1]):
                dots[y, k] |= islands[y, k]
            continue
        upper, lower = _pair(plane, grid, y, stretched, held)
        thresholds = screen.tile[(screen.top + y) % screen.tile.shape[0]]
        column = screen.left
        for k in range(islands.shape[1]):
            island = islands[y, k]
            if island != 0:
                lanes.blend(stretched[upper], stretched[lower], k * lanes.DOTS, grid.row_shares[y], tones)
                dots[y, k] |= island & lanes.above(tones, 0, thresholds, column)
            column = _further(column, screen.width)


@compiled
def tones_of(plane: Plane, coverage: Plane, grid: Grid, where: Words, sent: NDArray[np.uint8], out: NDArray[np.uint8]) -> None:
    """Continuous tone for a controller that screens: ink × coverage into `out` (h × 64·words uint8), where `where` has dots.

    `sent`: (256,) uint8, what to send for each tone of the ink. The greater of two tones stays where pieces' boxes lie over one
    another.
    """
    inks, films = np.zeros((2, grid.columns.size), np.uint16), np.zeros((2, grid.columns.size), np.uint16)
    ink_held, film_held = np.full(2, -1, np.int64), np.full(2, -1, np.int64)
    ink, film = np.empty(lanes.DOTS, np.uint8), np.empty(lanes.DOTS, np.uint8)
    for y in range(grid.rows.shape[0]):
        if not where[y].any():
            continue
        upper, lower = _pair(plane, grid, y, inks, ink_held)
        over, under = _pair(coverage, grid, y, films, film_held)
        for k in range(where.shape[1]):
            word = where[y, k]
            if word == 0:
                continue
            lanes.blend(inks[upper], inks[lower], k * lanes.DOTS, grid.row_shares[y], ink)
            lanes.blend(films[over], films[under], k * lanes.DOTS, grid.row_shares[y], film)
            for i in range(lanes.DOTS):
                has_dot = (word >> np.uint64(i)) & np.uint64(1)
                tone = (np.int64(sent[ink[i]]) * np.int64(film[i]) + 127) // 255 if has_dot else 0
                out[y, k * lanes.DOTS + i] = max(np.int64(out[y, k * lanes.DOTS + i]), tone)


@compiled
def dot_tones(plane: Plane, grid: Grid, out: NDArray[np.uint8]) -> None:
    """The tone at every dot into `out` (h × 64·words uint8), for error diffusion, which screens a row as a whole."""
    stretched = np.zeros((2, grid.columns.size), np.uint16)
    held = np.full(2, -1, np.int64)
    for y in range(grid.rows.shape[0]):
        if plane.peak[grid.rows[y, 0]] == 0 and plane.peak[grid.rows[y, 1]] == 0:
            out[y] = 0
            continue
        upper, lower = _pair(plane, grid, y, stretched, held)
        for k in range(out.shape[1] // lanes.DOTS):
            lanes.blend(stretched[upper], stretched[lower], k * lanes.DOTS, grid.row_shares[y], out[y, k * lanes.DOTS :])


@compiled
def _further(column: int, width: int) -> int:
    """The tile's column that lies one word of dots further on."""
    column += lanes.DOTS
    while column >= width:
        column -= width
    return column


@compiled
def _pair(plane: Plane, grid: Grid, y: int, stretched: NDArray[np.uint16], held: NDArray[np.int64]) -> tuple[int, int]:
    """Have the two source rows about row y of dots stretched; where they are in `stretched`. `held` says what is there."""
    upper, lower = grid.rows[y, 0], grid.rows[y, 1]
    over = 1 if held[1] == upper else 0
    if held[over] != upper:
        over = 1 if held[0] == lower else 0
        _stretched(plane, grid, upper, stretched[over])
        held[over] = upper
    if lower == upper:
        return over, over
    under = 1 - over
    if held[under] != lower:
        _stretched(plane, grid, lower, stretched[under])
        held[under] = lower
    return over, under


@compiled
def _stretched(plane: Plane, grid: Grid, row: int, out: NDArray[np.uint16]) -> None:
    """One source row at the dots' resolution, sideways; nothing outside the picture."""
    source = plane.tones[row * plane.width :]
    for x in range(0, grid.columns.size, lanes.COLUMNS):
        lanes.stretch(source, grid.columns, grid.column_shares, x, out)
    out[: grid.first] = 0
    out[grid.last :] = 0
