"""Inks over a grid of nodes made ready for interpolation: tolerance spent, and smooth from node to node.

Of an ink at a node, its *bend* is how far it lies off the straight line between its neighbours along an axis of the grid: half a
second difference, where nodes are even. Interpolated inks follow the chords, so bends show as contours. Where an ink bends by
more than `BEND`, that node and those beside it are drawn towards their neighbours, again and again, as far as the colour stays
within its tolerance (or `EXACT`): mixtures of one colour are brought into line, colours themselves hardly.

Seams: with inks beside the process colours one colour may be red and yellow here, magenta and yellow at the next node. Each is
right, but what is interpolated between them is off by ΔE00 7 (measured). There nodes are drawn harder, and may miss by 1.5, until
the one mixture passes into the other over several nodes.
"""

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.chunks import Results, pairs_in_chunks
from filmhand.colour.inverse.descent import Goals, Sector, spare_all
from filmhand.colour.inverse.nearest import MOST_STEPS, descended
from filmhand.colour.inverse.nearness import near_metric
from filmhand.colour.inverse.printable import MOST, Printable, colours_of
from filmhand.colour.inverse.spare import ink_prices
from filmhand.colour.oklab import UNITS, oklab_from_xyz

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

BEND: Final = 0.05
"""Part of a full ink by which it may lie off the line between its neighbours, where colour leaves a choice."""
_EVEN_CELLS: Final = 32
"""Cells an axis for which `BEND` is meant."""
EXACT: Final = 0.1
"""ΔE00 up to which a miss counts as none."""
_SWEEP_STEPS: Final = 4
_PASSES: Final = 3
"""How often misses are averaged with their neighbours'."""
_AGAIN: Final = 0.03
"""ΔE00 by which colours may miss again when the least ink is found anew."""


class _Force(NamedTuple):
    """How nodes are drawn into line: from what bend on, how strongly, how often, and at the cost of what miss, ΔE00."""

    bend: float
    pull: float
    sweeps: int
    miss: float


_SEAMS: Final = _Force(bend=0.12, pull=60.0, sweeps=20, miss=1.5)
_BENDS: Final = _Force(bend=BEND, pull=8.0, sweeps=8, miss=0.0)


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
    allowed: Floats


class _Wanted(NamedTuple):
    """Of all nodes (m): the colour (m, 3), Oklab in `UNITS`, the metric about it (m, 3, 3), each ink's price (m, k), and by how
    much the colour may be missed (m,)."""

    colours: Floats
    metrics: Floats
    prices: Floats
    allowed: Floats


def settled(inks: Floats, nodes: Nodes, printable: Printable, *, limit: float, sparing: Sparing | None = None) -> Floats:
    """Inks (r, g, b, k), 0 to 1, with the colours of `inks` within the tolerance, and within the limit, 1 = one full ink."""
    result = inks.copy()
    flat = result.reshape(-1, inks.shape[-1])
    parts = _parts(flat, nodes, printable, limit)
    if sparing is not None:
        parts = _spared(flat, parts, (nodes, sparing, max(sparing.tolerance, EXACT)))
    solver = _Drawing(printable, printable.within(limit), _wanted(parts, flat.shape))
    for force in (_SEAMS, _BENDS) if len(printable.sectors) > 1 else (_BENDS,):
        for _ in range(force.sweeps):
            lines, bend = _lines(result, nodes)
            rough = np.flatnonzero(_with_neighbours(bend > force.bend) & nodes.film)
            if len(rough) == 0:
                break
            solver.draw(flat, lines.reshape(flat.shape), rough, force)
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
            parts.append(_Part(places, list(columns), sector, goals, np.full(len(places), EXACT)))
    return parts


def _sector_of(flat: Floats, printable: Printable, *, among: Floats | None = None) -> NDArray[np.intp]:
    """The first sector (m,) that has most of each node's inks (m, k); of those with all of them, most of the inks `among` them.

    So on a seam between sectors nodes can be drawn towards those beyond it.
    """
    held = np.stack([flat[:, list(columns)].sum(axis=1) for columns in printable.sectors])
    if among is not None:
        held = 1000 * held + np.stack([among[:, list(columns)].sum(axis=1) for columns in printable.sectors])
    return np.asarray(np.argmax(np.round(held, 6), axis=0))


def _wanted(parts: list[_Part], shape: tuple[int, ...]) -> _Wanted:
    """What is wanted of all nodes with film; `shape`: (m, k)."""
    count = shape[0]
    wanted = _Wanted(np.zeros((count, 3)), np.zeros((count, 3, 3)), np.zeros(shape), np.zeros(count))
    for part in parts:
        wanted.colours[part.places] = part.goals.colours
        wanted.metrics[part.places] = part.goals.metrics
        wanted.prices[part.places[:, None], part.columns] = part.goals.prices[:, : len(part.columns)]
        wanted.allowed[part.places] = part.allowed
    return wanted


def _in_sector(flat: Floats, places: NDArray[np.intp], columns: list[int]) -> Floats:
    result = np.zeros((len(places), MOST))
    result[:, : len(columns)] = flat[places[:, None], columns]
    return result


def _spared(flat: Floats, parts: list[_Part], how: tuple[Nodes, Sparing, float]) -> list[_Part]:
    """Spend the tolerance on `flat` (changed in place); the parts with the price that ink then has at each node.

    Where the inks that can be spared change, so does the way in which the colour gives: the misses are smoothed over the grid,
    and for the colours off by these the least ink is found anew.
    """
    nodes, sparing, tolerance = how
    misses = np.zeros((len(flat), 3))
    for part in parts:
        part.goals = part.goals._replace(prices=_prices(part, flat, sparing))
        found, _ = _least(part, _in_sector(flat, part.places, part.columns), np.full(len(part.places), tolerance - _AGAIN))
        misses[part.places] = oklab_from_xyz(colours_of(found, part.sector)) * UNITS - part.goals.colours
        flat[part.places[:, None], part.columns] = found[:, : len(part.columns)]
    misses = _smoothed(misses.reshape(*nodes.film.shape, 3), nodes.film).reshape(misses.shape)
    for part in parts:
        near = part.goals._replace(colours=part.goals.colours + misses[part.places], prices=np.zeros_like(part.goals.prices))
        found, off = descended(near, _in_sector(flat, part.places, part.columns), part.sector)
        part.goals = part.goals._replace(colours=near.colours)
        part.allowed = off + _AGAIN
        found, factors = _least(part, found, part.allowed)
        part.goals = part.goals._replace(prices=part.goals.prices * factors[:, None])
        flat[part.places[:, None], part.columns] = found[:, : len(part.columns)]
    return parts


def _prices(part: _Part, flat: Floats, sparing: Sparing) -> Floats:
    """The price (m, 4) of each ink at the part's nodes."""
    start = _in_sector(flat, part.places, part.columns)
    every = ink_prices(colours_of(start, part.sector), sparing.costs, sparing.contrasts, smooth_tones=sparing.smooth_tones)
    result = np.zeros_like(start)
    result[:, : len(part.columns)] = every[:, part.columns]
    return result


def _least(part: _Part, start: Floats, bound: Floats) -> Results:
    """`spare_all` on several threads."""
    goals, sector = part.goals, part.sector
    return pairs_in_chunks(
        lambda some: spare_all(Goals(*(each[some] for each in goals)), start[some], sector, bound[some], MOST_STEPS), len(start)
    )


def _smoothed(values: Floats, film: Bools) -> Floats:
    """Values (r, g, b, q) averaged with their neighbours along each axis, of which only those with film count."""
    for _ in range(_PASSES):
        for i in range(3):
            there = np.moveaxis(film, i, 0)[..., None].astype(np.float64)
            line = np.moveaxis(values, i, 0) * there
            total, count = 2 * line, 2 * there
            total[1:] += line[:-1]
            total[:-1] += line[1:]
            count[1:] += there[:-1]
            count[:-1] += there[1:]
            values = np.moveaxis(total / np.maximum(count, 1), 0, i)
    return values


@dataclass(frozen=True)
class _Drawing:
    """Draws nodes towards the lines between their neighbours."""

    printable: Printable
    sectors: tuple[Sector, ...]
    wanted: _Wanted

    def draw(self, flat: Floats, lines: Floats, rough: NDArray[np.intp], force: _Force) -> None:
        """Draw the rough nodes of `flat` (changed in place), where their colour stays within what is allowed."""
        wanted = self.wanted
        chosen = _sector_of(flat[rough], self.printable, among=lines[rough])
        for i, (places, sector) in enumerate(zip(self.printable.sectors, self.sectors, strict=True)):
            some, columns = rough[chosen == i], list(places)
            if len(some) == 0:
                continue
            wishes, prices = _in_sector(lines, some, columns), _in_sector(wanted.prices, some, columns)
            goals = Goals(wanted.colours[some], wanted.metrics[some], wishes, np.full_like(wishes, force.pull), prices)
            found, misses = descended(goals, _in_sector(flat, some, columns), sector, most_steps=_SWEEP_STEPS)
            kept = misses <= np.maximum(wanted.allowed[some], force.miss)
            flat[some[kept][:, None], columns] = found[kept, : len(columns)]


def bends(inks: Floats, nodes: Nodes) -> Floats:
    """The greatest bend (r, g, b) of any ink of (r, g, b, k)."""
    return _lines(inks, nodes)[1]


def _lines(inks: Floats, nodes: Nodes) -> tuple[Floats, Floats]:
    """For each node the mean of the lines between its neighbours (r, g, b, k), and the greatest bend (r, g, b) of any ink: for 33
    even nodes an axis; further apart, in proportion to the distance.

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
        wide = np.maximum((steps[:-1] + steps[1:]) / 2 * _EVEN_CELLS / steps.sum(), 1).reshape(-1, 1, 1)
        off = np.where(there, np.abs(values[1:-1] - line).max(axis=-1) / wide, 0)
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
