"""Inks over a grid of nodes made ready for interpolation: tolerance spent, and smooth from node to node.

Of an ink at a node, its *bend* is how far it lies off the straight line between its neighbours along an axis of the grid: half a
second difference, where nodes are even. Interpolated inks follow the chords, so bends show as contours. Where an ink bends by
more than `BEND`, that node and those beside it are drawn towards their neighbours, again and again, as far as the colour stays
within its tolerance (or `EXACT`): mixtures of one colour are brought into line, colours themselves hardly.
"""

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.inverse.chunks import in_chunks
from filmhand.colour.inverse.descent import UNITS, Goals, Sector, spare_all
from filmhand.colour.inverse.nearest import MOST_STEPS, descended
from filmhand.colour.inverse.nearness import near_metric
from filmhand.colour.inverse.printable import MOST, Printable, colours_of
from filmhand.colour.inverse.spare import ink_prices
from filmhand.colour.oklab import oklab_from_xyz

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

BEND: Final = 0.04
"""Part of a full ink by which it may lie off the line between its neighbours, where colour leaves a choice."""
EXACT: Final = 0.1
"""ΔE00 up to which a miss counts as none."""
_SWEEPS: Final = 8
_SWEEP_STEPS: Final = 4
_PULL: Final = 4.0
"""What an ink off the line by one full ink costs, beside a colour off by ΔE00 1 (our own, no source)."""


class Nodes(NamedTuple):
    """A grid's node values along its three axes, rising, and where there is film (r, g, b): elsewhere inks are of no account."""

    axes: tuple[NDArray[np.generic], NDArray[np.generic], NDArray[np.generic]]
    film: Bools


@dataclass(frozen=True)
class Sparing:
    """Least ink: a tolerance in ΔE00, the inks' costs (k,) and dots' contrasts (k,), and how much dots in light tones count."""

    tolerance: float
    costs: Floats
    contrasts: Floats
    smooth_tones: float


@dataclass
class _Part:
    """The nodes of one sector: their places (m,), the sector's ink columns, and what is wanted of them."""

    places: NDArray[np.intp]
    columns: list[int]
    sector: Sector
    goals: Goals


def settled(inks: Floats, nodes: Nodes, printable: Printable, *, limit: float, sparing: Sparing | None = None) -> Floats:
    """Inks (r, g, b, k), 0 to 1, with the colours of `inks` within the tolerance, and within the limit, 1 = one full ink."""
    allowed = EXACT if sparing is None else max(sparing.tolerance, EXACT)
    result = inks.copy()
    flat = result.reshape(-1, inks.shape[-1])
    parts = _parts(flat, nodes, printable, limit)
    if sparing is not None:
        parts = [_spared(part, flat, sparing, allowed) for part in parts]
    for _ in range(_SWEEPS):
        lines, bend = _lines(result, nodes)
        rough = _with_neighbours(bend > BEND) & nodes.film
        if not rough.any():
            break
        _draw(flat, lines.reshape(flat.shape), rough.ravel(), (parts, allowed))
    return result


def _parts(flat: Floats, nodes: Nodes, printable: Printable, limit: float) -> list[_Part]:
    """The nodes with film by the sector their inks lie in."""
    chosen = np.where(nodes.film.ravel(), _sector_of(flat, printable), -1)
    parts = []
    for i, (columns, sector) in enumerate(zip(printable.sectors, printable.within(limit), strict=True)):
        places = np.flatnonzero(chosen == i)
        if len(places):
            colours = colours_of(_in_sector(flat, places, list(columns)), sector)
            nothing = np.zeros((len(places), MOST))
            goals = Goals(oklab_from_xyz(colours) * UNITS, near_metric(colours), nothing, nothing, nothing)
            parts.append(_Part(places, list(columns), sector, goals))
    return parts


def _sector_of(flat: Floats, printable: Printable) -> NDArray[np.intp]:
    """The first sector (m,) that has most of each node's inks (m, k)."""
    held = [flat[:, list(columns)].sum(axis=1) for columns in printable.sectors]
    return np.asarray(np.argmax(np.round(np.stack(held), 6), axis=0))


def _in_sector(flat: Floats, places: NDArray[np.intp], columns: list[int]) -> Floats:
    result = np.zeros((len(places), MOST))
    result[:, : len(columns)] = flat[places[:, None], columns]
    return result


def _spared(part: _Part, flat: Floats, sparing: Sparing, tolerance: float) -> _Part:
    """Spend the tolerance on `flat` (changed in place); the part with the price that ink then has at each node."""
    start = _in_sector(flat, part.places, part.columns)
    prices = np.zeros_like(start)
    colours = colours_of(start, part.sector)
    every = ink_prices(colours, sparing.costs, sparing.contrasts, smooth_tones=sparing.smooth_tones)
    prices[:, : len(part.columns)] = every[:, part.columns]
    goals = part.goals._replace(prices=prices)
    bound = np.full(len(start), tolerance)
    found, factors = in_chunks(
        lambda some: spare_all(Goals(*(each[some] for each in goals)), start[some], part.sector, bound[some], MOST_STEPS),
        len(start),
    )
    flat[part.places[:, None], part.columns] = found[:, : len(part.columns)]
    return _Part(part.places, part.columns, part.sector, goals._replace(prices=prices * factors[:, None]))


def _draw(flat: Floats, lines: Floats, rough: Bools, how: tuple[list[_Part], float]) -> None:
    """Draw the rough nodes of `flat` (changed in place) towards the lines, where their colour stays within what is allowed."""
    parts, allowed = how
    for part in parts:
        some = np.flatnonzero(rough[part.places])
        if len(some) == 0:
            continue
        places = part.places[some]
        wishes = _in_sector(lines, places, part.columns)
        goals = Goals(*(each[some] for each in part.goals))._replace(wishes=wishes, pulls=np.full_like(wishes, _PULL))
        start = _in_sector(flat, places, part.columns)
        found, misses = descended(goals, start, part.sector, most_steps=_SWEEP_STEPS)
        kept = misses <= allowed
        flat[places[kept][:, None], part.columns] = found[kept, : len(part.columns)]


def _lines(inks: Floats, nodes: Nodes) -> tuple[Floats, Floats]:
    """For each node the mean of the lines between its neighbours (r, g, b, k), and the greatest bend (r, g, b) of any ink.

    Only lines between two nodes with film count; where there is none, the inks themselves stand in.
    """
    total, count, bend = np.zeros_like(inks), np.zeros(inks.shape[:3]), np.zeros(inks.shape[:3])
    for i, axis in enumerate(nodes.axes):
        values = np.moveaxis(inks, i, 0)
        film = np.moveaxis(nodes.film, i, 0)
        steps = np.diff(np.asarray(axis, np.float64))
        share = (steps[:-1] / (steps[:-1] + steps[1:])).reshape(-1, 1, 1, 1)
        line = values[:-2] + share * (values[2:] - values[:-2])
        there = film[:-2] & film[1:-1] & film[2:]
        np.moveaxis(total, i, 0)[1:-1] += np.where(there[..., None], line, 0)
        np.moveaxis(count, i, 0)[1:-1] += there
        off = np.where(there, np.abs(values[1:-1] - line).max(axis=-1), 0)
        np.maximum(np.moveaxis(bend, i, 0)[1:-1], off, out=np.moveaxis(bend, i, 0)[1:-1])
    lines = np.where(count[..., None] > 0, total / np.maximum(count, 1)[..., None], inks)
    return lines, bend


def _with_neighbours(rough: Bools) -> Bools:
    """Nodes (r, g, b), and those one step beside them along each axis."""
    result = rough.copy()
    for i in range(3):
        line, wide = np.moveaxis(rough, i, 0), np.moveaxis(result, i, 0)
        wide[1:] |= line[:-1]
        wide[:-1] |= line[1:]
    return result
