"""What a printer's inks can print, in hue sectors of at most four inks each, made ready for the kernels."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import product
from typing import Final, Self

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.inverse.descent import Sector
from filmhand.colour.neugebauer import demichel, to_mixing_space
from filmhand.colour.oklab import CONES
from filmhand.colour.sectors import sectors
from filmhand.rules import Ink

Floats = NDArray[np.float64]

_COLOURS: Final = frozenset({Ink.CYAN, Ink.MAGENTA, Ink.YELLOW})
MOST: Final = 4
"""Inks in a sector."""
_LEAST_LIGHT: Final = 1e-7
"""XYZ below which no print lies; the mixing space's slope has no end at 0."""
_SEED_TONES: Final = (0.0, 0.3, 0.8)
_FURTHER_TONES: Final = (0.0, 0.2, 0.5, 0.8, 1.0)
_ROUNDING_ROOM: Final = 0.003
"""Kept free under the ink limit: four inks rounded up to eight bits then pass it by no more than 0.5 % of one ink."""


@dataclass(frozen=True, eq=False)
class Printable:
    """The printed colours of a printer's inks.

    `inks`: their letters, as the model orders them. `n`: the factor in whose space neighbours mix. `sectors`: for each, the
    places of its inks in `inks`. `colours`: for each, XYZ (N^4, 3) over N even steps of four inks, the first running fastest; a
    sector of fewer inks has them repeated. `steps`: N.
    """

    inks: tuple[str, ...]
    n: float
    sectors: tuple[tuple[int, ...], ...]
    colours: tuple[Floats, ...]
    steps: int
    _kept: dict[float, tuple[Sector, ...]] = field(default_factory=dict, repr=False)

    @classmethod
    def of(cls, xyz: Callable[[Floats], Floats], *, inks: Sequence[str], n: float, steps: int) -> Self:
        """Ask a model `xyz` for the colour (m, 3) of ink amounts (m, k) at N = `steps` even steps of each sector's inks."""
        places = tuple(tuple(list(inks).index(ink) for ink in sector) for sector in sectors(inks))
        return cls(tuple(inks), n, places, tuple(xyz(_grid(sector, len(inks), steps)) for sector in places), steps)

    def within(self, limit: float) -> tuple[Sector, ...]:
        """The sectors for the kernels, with an ink limit, 1 = one full ink."""
        if limit not in self._kept:
            self._kept[limit] = tuple(self._sector(i, limit) for i in range(len(self.sectors)))
        return self._kept[limit]

    @property
    def darkest(self) -> Floats:
        """XYZ (3,): of each the least there is among the first sector's prints."""
        return np.asarray(self.colours[0].min(axis=0))

    def _sector(self, i: int, limit: float) -> Sector:
        upper = np.zeros(MOST)
        upper[: len(self.sectors[i])] = 1
        most = min(limit - _ROUNDING_ROOM, float(upper.sum()))
        mixing = np.ascontiguousarray(to_mixing_space(np.maximum(self.colours[i], _LEAST_LIGHT), self.n))
        seeds = self._seeds(i) * upper
        seeds = np.unique(seeds * np.minimum(1, 0.95 * most / np.maximum(seeds.sum(axis=1, keepdims=True), 1e-12)), axis=0)
        seed_roots = np.cbrt(np.maximum(_mixed(seeds, mixing, self.steps) ** self.n @ CONES.T, 0))
        return Sector(mixing, self.steps, self.n, upper, most, seeds, np.ascontiguousarray(seed_roots))

    def _seeds(self, i: int) -> Floats:
        """Inks (s, 4) from which to start in a sector. With an ink beside the process colours: only such as it makes worth while.

        It looks much like the two it lies between together, so that there is one minimum with these, which the first sector
        finds, and another with it; the way leads there from it with one of the two.
        """
        letters = [self.inks[place] for place in self.sectors[i]]
        process = [column for column, ink in enumerate(letters) if ink in _COLOURS]
        further = [column for column, ink in enumerate(letters) if ink not in _COLOURS and ink != Ink.BLACK]
        seeds = np.array(list(product(_FURTHER_TONES if further else _SEED_TONES, repeat=MOST)))
        if not further:
            return seeds
        return np.asarray(seeds[(seeds[:, further] > 0).all(axis=1) & ((seeds[:, process] > 0).sum(axis=1) <= 1)])


def _grid(places: tuple[int, ...], count: int, steps: int) -> Floats:
    """Ink amounts (N^4, k) over even steps of the inks at `places`, the first running fastest."""
    tones = np.linspace(0, 1, steps)
    columns = np.meshgrid(*[tones] * MOST, indexing="ij")[::-1]
    inks = np.zeros((steps**MOST, count))
    for place, column in zip(places, columns, strict=False):
        inks[:, place] = column.ravel()
    return inks


def colours_of(inks: Floats, sector: Sector) -> Floats:
    """XYZ (m, 3) of a sector's inks (m, 4)."""
    return np.asarray(_mixed(inks, sector.colours, sector.steps) ** sector.n)


def _mixed(inks: Floats, colours: Floats, steps: int) -> Floats:
    """Colours (m, 3), in the mixing space, of inks (m, 4): each cell's corners by Demichel's shares."""
    cell = np.minimum((inks * (steps - 1)).astype(np.intp), steps - 2)
    shares = demichel(inks * (steps - 1) - cell)
    strides = steps ** np.arange(MOST)
    corners = np.array([sum(int(strides[i]) for i in range(MOST) if s >> i & 1) for s in range(1 << MOST)])
    return np.asarray(np.einsum("ms,msj->mj", shares, colours[(cell @ strides)[:, None] + corners]))
