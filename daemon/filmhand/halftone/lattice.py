"""The lattice of an AM screen's cells in a tile that repeats: an exact rational screen of many cells, a supercell.

A screen is two waves at right angles on the film. Both fit a tile of W × H dots without a seam if each makes whole numbers of
cycles along both sides. So W is chosen such that both waves' cycles across are nearly whole numbers, H likewise by the cycles
down; the two choices are independent, and resolutions that differ across and down make no difference. Cells need not be whole
dots. All places are reckoned in whole numbers, so that the torus has no seam for rounding errors either.
"""

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

_WITHIN: Final = 0.002
"""How far, in parts of the ruling, a wave's cycles along one side may be off: two sides together keep to 0.3 % and 0.16°."""
_LEAST_SIDE: Final = 256
_LEAST_CELLS: Final = 8
"""Dots, and cells, along a side of the tile at least: a small tile's cells have few places to take turns in."""
_LARGEST_SIDE: Final = 2560
"""Dots. Enough for 15 lines an inch at 1440 dots an inch within the bounds above; past that the nearest is taken."""

Whole = NDArray[np.int64]
Floats = NDArray[np.float64]


class Lattice(NamedTuple):
    """A tile of height × width dots, and the cycles of both waves along its width and down its height: along the rows of dots
    (`row`), and across them (`column`)."""

    height: int
    width: int
    row: tuple[int, int]
    column: tuple[int, int]

    @property
    def cells(self) -> int:
        """Cells in the tile."""
        return self.row[0] * self.column[1] - self.row[1] * self.column[0]


class Cells(NamedTuple):
    """The cells of a tile about their middles.

    `of`: height×width int64, the number of the cell that each dot lies in. `along`, `across`: height×width float64, from the
    cell's middle in parts of a cell, -½ to ½. `middles`: (cells,) int64, the dot, row · width + column, that has a cell's middle.
    """

    of: Whole
    along: Floats
    across: Floats
    middles: Whole


def lattice_of(lpi: float, angle: float, *, resolution: tuple[int, int]) -> Lattice:
    """The lattice nearest to a ruling and an angle in degrees, at a resolution across and down in dots an inch."""
    turn = math.radians(angle)
    cos, sin = lpi * math.cos(turn), lpi * math.sin(turn)
    across, down = resolution
    width, (p, r) = _side(np.array([cos, -sin]) / across, pitch=across / lpi)
    height, (q, s) = _side(np.array([sin, cos]) / down, pitch=down / lpi)
    return Lattice(height, width, (p, q), (r, s))


def cells_of(lattice: Lattice, *, shifted: bool = False) -> Cells:
    """The cells of a tile about the places where dots begin; `shifted` by half a cell: about those where holes close last."""
    height, width = lattice.height, lattice.width
    y, x = np.arange(height)[:, None], np.arange(width)[None, :]
    along, across, whole = cycles_at(lattice, y, x, shifted=shifted)
    i, j = along // whole, across // whole
    middles = middle_of(lattice, i, j, shifted=shifted)
    begins = np.zeros(height * width, bool)
    begins[middles] = True
    number = np.cumsum(begins) - 1
    return Cells(
        number[middles],
        (along - i * whole) / whole - 0.5,
        (across - j * whole) / whole - 0.5,
        np.flatnonzero(begins),
    )


def cycles_at(lattice: Lattice, y: Whole, x: Whole, *, shifted: bool) -> tuple[Whole, Whole, int]:
    """The cycles of both waves at the middles of dots (...), `shifted` by half of one, and the parts that one is counted in."""
    height, width = lattice.height, lattice.width
    whole = 2 * width * height
    half = whole // 2 if shifted else 0
    along, across = (wave[0] * (2 * x + 1) * height + wave[1] * (2 * y + 1) * width + half for wave in lattice[2:])
    return along, across, whole


def middle_of(lattice: Lattice, i: Whole, j: Whole, *, shifted: bool) -> Whole:
    """The dot (row · width + column) of the tile in which the middle of the cell `i` along and `j` across lies."""
    (p, q), (r, s) = lattice.row, lattice.column
    along, across = (2 * i, 2 * j) if shifted else (2 * i + 1, 2 * j + 1)
    twice = 2 * lattice.cells
    x = lattice.width * (along * s - across * q) // twice % lattice.width
    y = lattice.height * (across * p - along * r) // twice % lattice.height
    return y * lattice.width + x


def _side(cycles: Floats, *, pitch: float) -> tuple[int, tuple[int, int]]:
    """The least side along which two waves of so many cycles a dot make nearly whole numbers of them, and those numbers."""
    sides = np.arange(max(_LEAST_SIDE, min(math.ceil(_LEAST_CELLS * pitch), _LARGEST_SIDE)), _LARGEST_SIDE + 1)
    exact = sides[:, None] * cycles
    miss = np.abs(exact - np.rint(exact)).max(axis=1) / sides * pitch
    good = np.flatnonzero(miss <= _WITHIN)
    best = good[0] if good.size else np.argmin(miss)
    first, second = np.rint(exact[best]).astype(int)
    return int(sides[best]), (int(first), int(second))
