"""Least dots and least holes in an AM screen's own tile, so that no flat tone has a dot or a hole that the powder cannot hold.

Below the tone at which every cell has its least dot, cells come one by one, each at once with its whole dot; in dark tones holes
go likewise. Between them dots grow, but only from a dot that is there, and holes shrink towards one that stays: a place that its
order would lay by itself waits for its way to the nearest dot, and goes with its way to the nearest hole. That is greyscale
reconstruction (L. Vincent, "Morphological grayscale reconstruction in image analysis", IEEE Trans. Image Processing 2 (1993)).
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled
from filmhand.halftone.cell_order import cell_order
from filmhand.halftone.choke import disc, mask
from filmhand.halftone.lattice import Lattice, Whole, cells_of
from filmhand.halftone.thresholds import Onsets, onsets_in_turn

_LAST: Final = 1.0
"""Later than any onset of a dot that is not in a hole."""


def with_least(grown: Onsets, lattice: Lattice, *, dot_px: tuple[float, float], hole_px: tuple[float, float]) -> Onsets:
    """The onsets of the same screen with discs of `dot_px` across and down as least dots, and of `hole_px` as least holes.

    All dots of a least dot or hole have one onset, so a flat tone's mean is exact to half of it in the whole tile. Where the two
    do not fit into one cell side by side, dots take the room, and holes are smaller.
    """
    dots, _ = _turns(lattice, dot_px, taken=None)
    holes, middles = _turns(lattice, hole_px, taken=dots >= 0)
    joined = np.where(dots >= 0, dots - lattice.cells, np.where(holes >= 0, _LAST + lattice.cells - holes, grown))
    joined = _reached(joined, dots >= 0)
    joined = -_reached(-joined, np.isin(np.arange(grown.size), middles).reshape(grown.shape) & (holes >= 0))
    order = np.argsort(joined.ravel(), kind="stable")
    ordered = joined.ravel()[order]
    return onsets_in_turn(order, np.diff(ordered, prepend=-np.inf) > 0).reshape(grown.shape)


def _turns(lattice: Lattice, across_px: tuple[float, float], *, taken: NDArray[np.bool_] | None) -> tuple[Whole, Whole]:
    """height×width int64: the place in order of the cell in whose disc a dot lies, -1 in none; and (cells,) the discs' middles.

    `taken`: None for least dots; for least holes where those are, which they leave out.
    """
    height, width = lattice.height, lattice.width
    shifted = taken is not None
    places = cell_order(lattice, shifted=shifted)
    latest_first = np.argsort(-places)  # where discs meet, the dot belongs to the one that comes first
    y, x = np.divmod(cells_of(lattice, shifted=shifted).middles[latest_first], width)
    least = disc((across_px[0] / 2, across_px[1] / 2))
    rows, columns = np.nonzero(mask(least))
    turns = np.full((height, width), -1, np.int64)
    for down, aside in zip(rows - (len(least) - 1), columns - least[0], strict=True):
        at = ((y + down) % height, (x + aside) % width)
        turns[at] = np.where(turns[at] < 0, places[latest_first], np.minimum(turns[at], places[latest_first]))
    if taken is not None:
        turns[taken] = -1
    return turns, y % height * width + x % width


def _reached(onsets: Onsets, begun: NDArray[np.bool_]) -> Onsets:
    """When each dot can be reached from those that have `begun`, by neighbours above, below and beside it that are laid by then:
    the least, over all ways, of the latest onset on the way."""
    reached = np.where(begun, onsets, np.inf)
    while _spread(onsets, reached):
        pass
    return reached


@compiled
def _spread(onsets: Onsets, reached: Onsets) -> bool:
    """Go over the torus once from each end; whether anything was reached earlier by that."""
    height, width = onsets.shape
    changed = False
    for step in (1, -1):
        for k in range(height):
            y = k if step > 0 else height - 1 - k
            for m in range(width):
                x = m if step > 0 else width - 1 - m
                way = min(reached[(y - step) % height, x], reached[y, (x - step) % width])
                way = max(way, onsets[y, x])
                if way < reached[y, x]:
                    reached[y, x] = way
                    changed = True
    return changed
