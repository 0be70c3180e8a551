"""Where the dots of a picture lie among its source pixels."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmhand.gang.oriented import Oriented
from filmhand.halftone.bits import WORD, words_for
from filmhand.halftone.raster import Grid


@dataclass(frozen=True, eq=False)
class Window:
    """Rows of a picture's dots: `grid` says where they lie in source rows `first` to `last` (not included)."""

    grid: Grid
    first: int
    last: int


def window_of(picture: Oriented, size: tuple[int, int], rows: tuple[int, int], *, offset: int = 0) -> Window:
    """Rows `rows` (the last not included) of a picture whose width and height in dots are `size`.

    `offset`: dots of the first word that lie before the picture, fewer than a word.
    """
    (width, height), stored = size, picture.stored
    source_rows, row_shares = _down(np.arange(*rows), height, stored.height_px, flip=picture.flip_y)
    first, last = int(source_rows.min()), int(source_rows.max()) + 1
    columns, column_shares = _across(width, stored.width_px, flip=picture.flip_x)
    margins = (offset, words_for(offset + width) * WORD - offset - width)
    grid = Grid(
        rows=source_rows - first,
        row_shares=row_shares,
        columns=np.pad(columns, margins),
        column_shares=np.pad(column_shares, margins),
        first=offset,
        last=offset + width,
    )
    return Window(grid, first, last)


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
