"""AM screens: dots that grow in even rows.

Dots of a tile appear in the order of a spot function, cell by cell in turn: among a light tone's dots every cell has as many as
any other, give or take one, and the one goes where there is most room. Dark tones keep the same count of their holes. So a
ruling that does not fall in with the printer's dots makes no beats of heavier and lighter cells.
"""

from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled
from filmhand.halftone.cell_order import cell_order
from filmhand.halftone.lattice import Floats, Lattice, Whole, cells_of, lattice_of
from filmhand.halftone.least_dots import with_least
from filmhand.halftone.thresholds import Onsets, onsets_in_turn
from filmhand.rules import DotShape, ScreenRules

_DIGITS: Final = 9
"""Decimals of the spot function that count: places that symmetry makes equal are not told apart by rounding."""


class Least(NamedTuple):
    """Dots across and down of the least dot, and of the least hole."""

    dot_px: tuple[float, float]
    hole_px: tuple[float, float]


def am_onsets(screen: ScreenRules, *, resolution: tuple[int, int], least: Least | None = None) -> Onsets:
    """The onsets of a screen's tile at a resolution across and down, read-only. Dots grow from the middle of each cell.

    `least`: no dot is less than this, nor any hole: in light tones whole least dots come one by one, cell after cell, evenly
    scattered, in dark ones whole holes go likewise. None for dots that begin with one dot.
    """
    return _onsets(lattice_of(screen.lpi, screen.angle, resolution=resolution), screen.shape, least)


@lru_cache(maxsize=32)
def _onsets(lattice: Lattice, shape: DotShape, least: Least | None) -> Onsets:
    grown = _grown(lattice, shape)
    onsets = grown if least is None else with_least(grown, lattice, dot_px=least.dot_px, hole_px=least.hole_px)
    onsets.flags.writeable = False
    return onsets


@lru_cache(maxsize=8)
def _grown(lattice: Lattice, shape: DotShape) -> Onsets:
    """Onsets of dots that grow one by one: by their turn in the cell about a dot in light tones, in the one about a hole in
    dark tones, passing smoothly from the one to the other."""
    dots, holes = cells_of(lattice), cells_of(lattice, shifted=True)
    area = dots.of.size / lattice.cells
    order = np.argsort(-_spot(dots.along, dots.across, shape).ravel(), kind="stable")
    rising = (_turns(order, dots.of.ravel(), cell_order(lattice, shifted=False))) / area
    falling = 1 - _turns(order[::-1].copy(), holes.of.ravel(), cell_order(lattice, shifted=True)) / area
    dark = np.empty(order.size)
    dark[order] = (np.arange(order.size) + 0.5) / order.size
    dark *= dark * (3 - 2 * dark)
    final = np.argsort(rising + (falling - rising) * dark, kind="stable")
    return onsets_in_turn(final, np.ones(final.size, bool)).reshape(dots.of.shape)


def _spot(along: Floats, across: Floats, shape: DotShape) -> Floats:
    """How early the dot at each place appears, greatest first; common practice, no source."""
    match shape:
        case DotShape.ROUND:  # round dots, a checkerboard at one half, round holes
            value = np.cos(2 * np.pi * along) + np.cos(2 * np.pi * across)
        case DotShape.ELLIPSE:  # neighbours along the row join first, across it later
            value = np.cos(2 * np.pi * along) + 0.7 * np.cos(2 * np.pi * across)
        case DotShape.LINE:
            value = np.cos(2 * np.pi * across) + 0.02 * np.cos(2 * np.pi * along)
        case DotShape.DIAMOND:
            value = -np.abs(along) - np.abs(across)
    return np.asarray(np.round(value, _DIGITS))


@compiled
def _turns(order: Whole, cells: Whole, places: Whole) -> NDArray[np.float64]:
    """(dots,) how many dots of its own cell come before each dot, and the cell's place among the cells as a fraction of one."""
    before = np.zeros(places.size, np.int64)
    turns = np.empty(order.size)
    for dot in order:
        cell = cells[dot]
        turns[dot] = before[cell] + (places[cell] + 0.5) / places.size
        before[cell] += 1
    return turns
