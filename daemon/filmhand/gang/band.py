"""One band of a sheet: what of a copy falls into it, and its dots there.

A band is composed by itself, with no memory of the one above. Choking looks a few rows further up and down than the band, so
those rows of the copy are screened as well and thrown away: bands of any height join to the same dots.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmhand.gang.oriented import Oriented
from filmhand.halftone import raster
from filmhand.halftone.bits import WORD, Words, words_for
from filmhand.halftone.choke import Disc, dilate, erode
from filmhand.halftone.raster import Grid, Plane, Screen
from filmhand.rules import WHITE

_CONTINUOUS = 8


@dataclass(frozen=True, eq=False)
class Copy:
    """One copy on the sheet, in whole dots of the sheet. Tiles as `raster.widened` makes them.

    `edge`: half of what an edge may be smoothed over. `choke`: that of edges; `island_choke`: that of screened film.
    """

    picture: Oriented
    left: int
    top: int
    width: int
    height: int
    coverage: raster.Tile
    inks: Mapping[str, tuple[raster.Tile, ...]]
    edge: Disc
    choke: Disc
    island_choke: Disc

    @property
    def bottom(self) -> int:
        """The first row below it."""
        return self.top + self.height


@dataclass(frozen=True, eq=False)
class Canvas:
    """A band's dots, and where its first row is on the sheet.

    `film`: rows×words, dots of film. `inks`: by ink, levels×rows×words, dots of at least each drop size. At 8 bits instead:
    `film_tones`: rows×columns uint8, 255 = film everywhere, and `ink_tones`: by ink the same, 255 = full ink.
    """

    top: int
    rows: int
    film: Words
    inks: Mapping[str, Words]
    film_tones: NDArray[np.uint8]
    ink_tones: Mapping[str, NDArray[np.uint8]]

    @classmethod
    def bare(cls, top: int, rows: int, *, width: int, inks: tuple[str, ...], bits: int) -> "Canvas":
        """A band of bare film."""
        words, continuous = words_for(width), bits == _CONTINUOUS
        levels = 0 if continuous else (1 << bits) - 1
        columns = words * WORD if continuous else 0
        return cls(
            top=top,
            rows=rows,
            film=np.zeros((rows if levels else 0, words), np.uint64),
            inks={ink: np.zeros((levels, rows, words), np.uint64) for ink in inks},
            film_tones=np.zeros((rows, columns), np.uint8),
            ink_tones={ink: np.zeros((rows, columns), np.uint8) for ink in inks},
        )


@dataclass(frozen=True, eq=False)
class Window:
    """What of a copy is screened for a band: sheet rows `first` to `last`, of which `inner` are the band's own.

    `grid`: where these rows' dots lie in source rows `source_first` to `source_last` (not included).
    """

    first: int
    last: int
    inner: slice
    grid: Grid
    source_first: int
    source_last: int


def window_of(copy: Copy, top: int, rows: int) -> Window | None:
    """The part of a copy that a band needs; None if they do not meet."""
    own_first, own_last = max(copy.top, top), min(copy.bottom, top + rows)
    if own_first >= own_last:
        return None
    reach = 2 * (len(copy.edge) - 1) + max(len(copy.choke), len(copy.island_choke)) - 1
    first, last = max(copy.top, own_first - reach), min(copy.bottom, own_last + reach)
    stored = copy.picture.stored
    source_rows, row_shares = _down(np.arange(first, last) - copy.top, copy.height, stored.height_px, flip=copy.picture.flip_y)
    source_first, source_last = int(source_rows.min()), int(source_rows.max()) + 1
    offset = copy.left % WORD
    columns, column_shares = _across(copy.width, stored.width_px, flip=copy.picture.flip_x)
    margins = (offset, words_for(offset + copy.width) * WORD - offset - copy.width)
    grid = Grid(
        rows=source_rows - source_first,
        row_shares=row_shares,
        columns=np.pad(columns, margins),
        column_shares=np.pad(column_shares, margins),
        first=offset,
        last=offset + copy.width,
    )
    return Window(first, last, slice(own_first - first, own_last - first), grid, source_first, source_last)


def draw(copy: Copy, window: Window, coverage: Plane, planes: Mapping[str, Plane], canvas: Canvas) -> None:
    """Lay a copy's dots on a band. `planes` has the inks that the design uses."""
    film = _film(copy, window, coverage)
    own = window.inner
    grid = window.grid._replace(rows=window.grid.rows[own], row_shares=window.grid.row_shares[own])
    first = window.first + own.start
    rows = slice(first - canvas.top, window.first + own.stop - canvas.top)
    across = slice(copy.left // WORD, copy.left // WORD + film.islands.shape[1])
    if canvas.film_tones.size:
        columns = slice(across.start * WORD, across.stop * WORD)
        raster.tones_of(_full(coverage), coverage, grid, film.anywhere[own], canvas.film_tones[rows, columns])
        for ink, plane in planes.items():
            where = film.inside[own] if ink == WHITE else film.anywhere[own]
            raster.tones_of(plane, coverage, grid, where, canvas.ink_tones[ink][rows, columns])
        return
    islands = film.islands[own]
    white = film.inside[own] & erode(film.islands, copy.island_choke)[own]
    canvas.film[rows, across] |= islands
    for ink, plane in planes.items():
        where = white if ink == WHITE else islands
        known = _with_full_rows(plane, coverage) if ink == WHITE else plane
        for level, tile in enumerate(copy.inks[ink]):
            raster.ink_bits(known, grid, _placed(tile, copy, first), where, canvas.inks[ink][level, rows, across])


@dataclass(frozen=True, eq=False)
class _Film:
    """A copy's film in a window, rows×words: where it may lie at all, its islands, and where white may lie under them."""

    anywhere: Words
    islands: Words
    inside: Words


def _film(copy: Copy, window: Window, coverage: Plane) -> _Film:
    """The film of a copy. An edge is not a tone: where coverage goes from nothing to full within the pixels that smooth an edge,
    film ends where it is one half, sharp at the dots' resolution, instead of being screened; and white is choked from there.
    """
    bits = raster.film_bits(coverage, window.grid, _placed(copy.coverage, copy, window.first))
    middle = dilate(bits.full, copy.edge) & ~erode(bits.some, copy.edge)  # half way: near what is full and near what is bare
    edge = dilate(middle, copy.edge) if middle.any() else middle
    ending = _either(bits.any, bits.half, edge)
    return _Film(bits.any, _either(bits.islands, bits.half, edge), erode(ending, copy.choke))


def _either(tone: Words, edge: Words, where: Words) -> Words:
    """`edge` where `where` has dots, else `tone`."""
    return np.asarray(tone ^ ((tone ^ edge) & where), np.uint64)


def _with_full_rows(plane: Plane, coverage: Plane) -> Plane:
    """White is mostly full wherever there is coverage: such rows need no screening, and do not fade where coverage ends."""
    size = plane.peak.size * plane.width
    full = (plane.tones[:size] == 255) | (coverage.tones[:size] == 0)  # noqa: PLR2004
    return plane._replace(full=full.reshape(-1, plane.width).all(axis=1))


def _placed(tile: raster.Tile, copy: Copy, row: int) -> Screen:
    """A tile as it lies on the sheet, from a row and from the copy's first word on."""
    height, width = tile.shape[0], tile.shape[1] - raster.FURTHER
    return Screen(tile, width, row % height, copy.left // WORD * WORD % width)


def _full(like: Plane) -> Plane:
    """A plane that is 255 everywhere."""
    return like._replace(tones=np.full_like(like.tones, 255), peak=np.full_like(like.peak, 255))


def _down(dots: NDArray[np.int64], size: int, source: int, *, flip: bool) -> tuple[NDArray[np.int64], NDArray[np.uint16]]:
    """Source rows above and below each row of dots, and their shares in 65536ths."""
    place = _places(dots, size, source, parts=1 << 16, flip=flip)
    upper, share = place >> 16, place & 0xFFFF
    shares = np.stack([(1 << 16) - share, share], axis=1)
    shares[share == 0] = 1 << 15  # the one row counts as both: 65536 does not fit 16 bits
    return np.stack([upper, upper + (share > 0)], axis=1), shares.astype(np.uint16)


def _across(size: int, source: int, *, flip: bool) -> tuple[NDArray[np.uint32], NDArray[np.uint16]]:
    """The source column left of each dot, and the share of the one right of it in 256ths."""
    place = _places(np.arange(size), size, source, parts=1 << 8, flip=flip)
    return (place >> 8).astype(np.uint32), (place & 0xFF).astype(np.uint16)


def _places(dots: NDArray[np.int64], size: int, source: int, *, parts: int, flip: bool) -> NDArray[np.int64]:
    """Where dots lie among source pixels, in parts of a pixel, by the middles of both; the edge's pixels reach to the edge.

    Rounded before it is flipped, so a mirrored picture has exactly the mirrored tones.
    """
    middle = np.clip((dots + 0.5) * (source / size) - 0.5, 0, source - 1)
    place: NDArray[np.int64] = np.rint(middle * parts).astype(np.int64)
    return (source - 1) * parts - place if flip else place
