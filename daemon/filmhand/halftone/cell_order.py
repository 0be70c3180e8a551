"""The order in which a screen's cells take their turns: each next one where there is most room, so that they scatter evenly.

Void filling after R. Ulichney, "The void-and-cluster method for dither array generation", Proc. SPIE 1913 (1993), with cells in
place of pixels: the neighbourhood is weighed by a Gaussian of 1.5 cells on the tile's torus.
"""

from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled
from filmhand.halftone.lattice import Cells, Lattice, Whole, cells_of, cycles_at, middle_of

_SIGMA: Final = 1.5
_REACH: Final = 4
"""Cells to each side that the neighbourhood goes."""


@lru_cache(maxsize=32)
def cell_order(lattice: Lattice, *, shifted: bool) -> Whole:
    """(cells,) int64: each cell's place in the order, 0 first. Cells are numbered as `lattice.cells_of` does."""
    cells = cells_of(lattice, shifted=shifted)
    order = _most_room_first(_neighbours(lattice, cells, shifted=shifted), _weights())
    order.flags.writeable = False
    return order


def _neighbours(lattice: Lattice, cells: Cells, *, shifted: bool) -> Whole:
    """cells×neighbours: numbers of the cells up to _REACH away along and across, in the order of `_weights`."""
    phase_along, phase_across, whole = cycles_at(lattice, *np.divmod(cells.middles, lattice.width), shifted=shifted)
    i, j = phase_along // whole, phase_across // whole
    steps = np.arange(-_REACH, _REACH + 1)
    along, across = (step.ravel() for step in np.meshgrid(steps, steps))
    middles = middle_of(lattice, i[:, None] + along, j[:, None] + across, shifted=shifted)
    return np.searchsorted(cells.middles, middles)


def _weights() -> NDArray[np.float64]:
    steps = np.arange(-_REACH, _REACH + 1)
    fall = np.exp(-(steps**2) / (2 * _SIGMA**2))
    return np.outer(fall, fall).ravel()


@compiled
def _most_room_first(neighbours: Whole, weights: NDArray[np.float64]) -> Whole:
    """Fill the largest void, again and again."""
    places = np.full(neighbours.shape[0], -1, np.int64)
    energy = np.zeros(neighbours.shape[0])
    for place in range(places.size):
        best, at = np.inf, 0
        for cell in range(places.size):
            if places[cell] < 0 and energy[cell] < best:
                best, at = energy[cell], cell
        places[at] = place
        for k in range(weights.size):
            energy[neighbours[at, k]] += weights[k]
    return places
