"""Coverage raised where film would miss its colour between the nodes of a separation table.

At a node film is sought for the node's own colour. Between two nodes both are mixed, area by area, and what that looks like is
another matter: where one is sparse and clear, the other dense and black, their mixture is neither. The more film, the more alike
neighbours become. So the ways along which tetrahedra are mixed (grid.py) are looked at half-way: along the three axes, the
diagonals of the faces, and through the cell. Where the look is off by more than is allowed, coverage goes half-way to solid at
both ends, and falls off from there so gently that no new such place arises beside it; then all is looked at again.

Near the garment's colour more film may be worse, as no ink prints a navy garment's own navy: what full film cannot show keeps its
sparse film, and beside it coverage is raised only as far as a slope leaves room.
"""

from itertools import product
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.printer_tone import printer_tone
from filmhand.separation.gentle import gentle, raised, under_slopes
from filmhand.separation.knockout import Ground

Bytes = NDArray[np.uint8]
Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]
Part = tuple[slice, ...]

_TURNS: Final = 4
_RAISED: Final = 0.5
"""Part of the way to solid film that coverage goes in one turn."""
_SLOPE: Final = 0.06 / 8
"""Coverage that may be lost over one source value away from where it was raised. At 0.1 and at 0.03 more places stay off, over
four garments (our own, measured)."""
_WAYS: Final = tuple(way for way in product((False, True), repeat=3) if any(way))
_PART: Final = 0.83
"""Of the tolerance: what is left is for other places than half-way, and for rounding to 8 bits."""
_FINE_ENOUGH: Final = 1.0
"""ΔE00 that is not sought out even where the tolerance is less: full film misses by as much between nodes (measured)."""
_ALIKE: Final = 0.02
"""Difference of coverage and tones up to which nothing can go wrong half-way."""


class Wanted(NamedTuple):
    """At the nodes of three `axes`: `colours`, XYZ (r, g, b, 3), and by what ΔE00 (r, g, b) solid film would miss them.

    `tolerance`: the rule's, ΔE00.
    """

    axes: tuple[Bytes, Bytes, Bytes]
    colours: Floats
    solid_miss: Floats
    tolerance: float

    @property
    def most(self) -> float:
        """ΔE00 by which a colour may be missed half-way to the next."""
        return max(_PART * self.tolerance, _FINE_ENOUGH)


def raised_between(least: Floats, wanted: Wanted, ground: Ground) -> Floats:
    """Coverage (r, g, b), 0 to 1, gentle and no less than `least`, at which film keeps its colour between nodes too.

    It is 0 just where `least` is. Where more film does not help, what four turns could bring about.
    """
    film, axes = _Film(wanted, ground), wanted.axes
    kept = wanted.solid_miss > wanted.most
    film.lay(gentle(least, axes, kept))
    for _ in range(_TURNS):
        off = film.misses_half_way() > wanted.most
        if not off.any():
            break
        more = under_slopes(np.where(off, film.coverage + _RAISED * (1 - film.coverage), 0), axes, _SLOPE)
        film.lay(raised(film.coverage, more, axes, kept))
    return film.coverage


class _Film:
    """Film at the nodes: `coverage` (r, g, b), `tones` (r, g, b, k), and where it `is_new` (r, g, b)."""

    def __init__(self, wanted: Wanted, ground: Ground) -> None:
        self._wanted, self._ground, self._tone = wanted, ground, printer_tone(ground.model)
        self._looks = lab_from_xyz(wanted.colours)
        self.coverage = np.zeros(self._looks.shape[:3])
        self.tones = np.zeros((*self.coverage.shape, len(ground.model.inks)))
        self.is_new = np.zeros(self.coverage.shape, np.bool_)

    def lay(self, coverage: Floats) -> None:
        """Take on a coverage (r, g, b), nowhere less than there is."""
        self.is_new = coverage > self.coverage
        self.coverage = coverage
        inks = self._ground.inks(self._wanted.colours[self.is_new], coverage[self.is_new])
        self.tones[self.is_new] = self._tone.tones(inks, inks=self._ground.model.inks)

    def misses_half_way(self) -> Floats:
        """For each node the greatest ΔE00 (r, g, b) half-way to a neighbour, where either is new."""
        greatest = np.zeros(self.coverage.shape)
        for way in _WAYS:
            ends = (tuple(slice(0, -1) if s else slice(None) for s in way), tuple(slice(1 if s else 0, None) for s in way))
            off = self._miss_along(*ends)
            for end in ends:
                greatest[end] = np.maximum(greatest[end], off)
        return greatest

    def _seen(self, tones: Floats, coverage: Floats) -> Floats:
        return self._ground.seen(self._tone.amounts(tones, inks=self._ground.model.inks), coverage)

    def _miss_along(self, start: Part, end: Part) -> Floats:
        """ΔE00 (...) half-way between two parts of the grid, 0 where neither is new, one is bare, or all is solid or alike."""
        coverages, tones = (self.coverage[start], self.coverage[end]), (self.tones[start], self.tones[end])
        unlike = np.maximum(np.abs(coverages[0] - coverages[1]), np.abs(tones[0] - tones[1]).max(axis=-1)) > _ALIKE
        is_new, less = self.is_new[start] | self.is_new[end], np.minimum(*coverages)
        some = is_new & unlike & (less > 0) & (less < 1)
        a, b = (coverage[some][:, None] for coverage in coverages)
        mixed = (a * tones[0][some] + b * tones[1][some]) / (a + b)
        shown = lab_from_xyz(self._seen(mixed, (a + b)[:, 0] / 2))
        off = np.zeros(less.shape)
        off[some] = difference(shown, (self._looks[start][some] + self._looks[end][some]) / 2)
        return off
