"""How a print looks on the garment: the ink model forwards, for pictures of what the dots will show.

    R^(1/n) = (1 - a) · G^(1/n) + a · Σ p_i(c) · P_i^(1/n)      (Yule-Nielsen modified Neugebauer; a: share of film)

The ink model is asked once, for a grid over its inks; between the grid's nodes the colour in the space R^(1/n) is interpolated
linearly in every ink, which for area coverages is what Demichel's weights do anyway.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled
from filmhand.colour.model import InkModel
from filmhand.colour.neugebauer import to_mixing_space
from filmhand.colour.srgb import srgb_from_xyz

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

_NODES: Final = 9
"""Nodes along each ink of up to four; with more inks, only its ends."""
_MOST_GRID_INKS: Final = 4
_ROWS_AT_ONCE: Final = 64
_grids: Final[dict[str, Singles]] = {}


def appearance(coverage: Singles, inks: Singles, *, garment: Floats, model: InkModel) -> NDArray[np.uint8]:
    """sRGB (h, w, 3) as the eye averages the dots; film white is 255.

    `coverage`: h×w float32, share of film, 0 to 1. `inks`: k×h×w float32, share of each ink *within the film*, 0 to 1, in the
    model's order. `garment`: XYZ (3,) or (h, w, 3), relative to film white.
    """
    n = model.yule_nielsen
    bare = np.broadcast_to(to_mixing_space(garment, n), (*coverage.shape, 3))
    grid = _grid(model)
    out = np.empty((*coverage.shape, 3), np.uint8)
    for top in range(0, len(out), _ROWS_AT_ONCE):
        rows = slice(top, top + _ROWS_AT_ONCE)
        seen = bare[rows].copy()
        there = coverage[rows] > 0
        share = coverage[rows][there][:, None]
        film = _interpolated(grid, inks[:, rows][:, there])
        seen[there] = (1 - share) * seen[there] + share * film
        out[rows] = srgb_from_xyz(seen**n)
    return out


def _grid(model: InkModel) -> Singles:
    """Colours in mixing space at the nodes: nodes^k × 3, flat, the last ink running fastest. Reckoned once for each model."""
    if model.digest in _grids:
        return _grids[model.digest]
    k = len(model.inks)
    nodes = np.linspace(0, 1, _NODES if k <= _MOST_GRID_INKS else 2)
    amounts = np.stack(np.meshgrid(*[nodes] * k, indexing="ij"), axis=-1)
    grid = to_mixing_space(model.xyz(amounts), model.yule_nielsen).astype(np.float32).reshape(-1, 3)
    _grids[model.digest] = grid
    return grid


@compiled
def _interpolated(grid: Singles, inks: Singles) -> Singles:
    """Colours (m, 3) of inks (k, m), linear in each ink between the grid's nodes."""
    k, count = inks.shape
    nodes = int(np.rint(grid.shape[0] ** (1 / k)))
    colours = np.zeros((count, 3), np.float32)
    share = np.empty(k, np.float32)
    for i in range(count):
        first = 0
        for ink in range(k):
            place = min(max(inks[ink, i], np.float32(0)), np.float32(1)) * (nodes - 1)
            low = min(int(place), nodes - 2)
            share[ink] = place - low
            first = first * nodes + low
        for corner in range(1 << k):
            weight, node, stride = np.float32(1), first, 1
            for ink in range(k - 1, -1, -1):
                upper = corner >> ink & 1
                weight *= share[ink] if upper else 1 - share[ink]
                node += stride * upper
                stride *= nodes
            if weight > 0:
                for channel in range(3):
                    colours[i, channel] += weight * grid[node, channel]
    return colours
