"""A blue-noise screen by void and cluster: dots of one size, as evenly scattered as can be, without a visible grain.

R. Ulichney, "The void-and-cluster method for dither array generation", Proc. SPIE 1913 (1993). The pattern's neighbourhood is
weighed by a Gaussian of 1.5 pixels on a torus, so that copies of the tile join without a seam.
"""

import io
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand import durable
from filmhand.colour.compiled import compiled
from filmhand.halftone.thresholds import Onsets, Ranks, onsets_of

SIDE: Final = 128
"""Pixels along a side of the tile: 16384 dots, so a flat tone is exact to 1/32768."""
SMALL_SIDE: Final = 64
"""The same where pixels are such large blocks of dots that the tile would be larger than _LARGEST."""
_LARGEST: Final = 1 << 22
_SIGMA: Final = 1.5  # pixels; the paper's own choice, given from memory
_FIRST_SHARE: Final = 10  # one pixel in so many is a dot at first; the paper: any number up to half the tile
_SEED: Final = 1993


def blue_noise_onsets(cache: Path, *, block: tuple[int, int] = (1, 1)) -> Onsets:
    """The onsets of a tile whose pixels are blocks of so many dots across and down; see `blue_noise_ranks`."""
    across, down = block
    side = SIDE if SIDE * SIDE * across * down <= _LARGEST else SMALL_SIDE
    return onsets_of(blue_noise_ranks(cache, side=side)).repeat(down, axis=0).repeat(across, axis=1)


def blue_noise_ranks(cache: Path, *, side: int = SIDE) -> Ranks:
    """The order in which the tile's pixels appear, side×side uint32; made at its first use and kept in the folder `cache`.

    A damaged file is made again.
    """
    path = cache / f"blue-noise-{side}.npy"
    kept = _kept(path, side)
    durable.used(path)
    if kept is None:
        kept = void_and_cluster(side, first_dots=side * side // _FIRST_SHARE, seed=_SEED)
        cache.mkdir(parents=True, exist_ok=True)
        file = io.BytesIO()
        np.save(file, kept)
        durable.write(path, file.getvalue(), by_several=True)
    return kept


def void_and_cluster(side: int, *, first_dots: int, seed: int) -> Ranks:
    """The ranks of a side×side tile. The same seed gives the same tile."""
    chosen = np.random.default_rng(seed).permutation(side * side)[:first_dots]
    dots = np.isin(np.arange(side * side), chosen).reshape(side, side)
    return _ranked(dots, _gaussian(side)).astype(np.uint32)


def _kept(path: Path, side: int) -> Ranks | None:
    """The ranks in a file, or None if there is no such file or it is not what was written."""
    try:
        ranks = np.load(path, allow_pickle=False)
    except (OSError, ValueError, EOFError):
        return None
    whole = ranks.shape == (side, side) and ranks.dtype == np.uint32
    if not whole or not np.array_equal(np.sort(ranks, axis=None), np.arange(side * side)):
        return None
    return ranks  # type: ignore[no-any-return]  # numpy.load is untyped


def _gaussian(side: int) -> NDArray[np.float64]:
    """side×side weights by distance on the torus, the middle of the neighbourhood at (0, 0)."""
    step = np.minimum(np.arange(side), side - np.arange(side)).astype(np.float64)
    return np.exp(-(step[:, None] ** 2 + step[None, :] ** 2) / (2 * _SIGMA**2))


@compiled
def _ranked(dots: NDArray[np.bool_], weights: NDArray[np.float64]) -> NDArray[np.int64]:
    """Ranks by the paper's phases, from a first pattern that is evened out before.

    Its third phase (tightest cluster of the holes) chooses what its second does (largest void of the dots), because on a torus
    the two neighbourhoods add up to a constant; so both are one loop here.
    """
    side = dots.shape[0]
    even = dots.copy()
    energy = np.zeros((side, side))
    for y in range(side):
        for x in range(side):
            if even[y, x]:
                _weigh(energy, weights, y, x, 1.0)
    while True:  # move the tightest cluster's dot into the largest void until that is where it came from
        cy, cx = _extreme(energy, even, True)
        even[cy, cx] = False
        _weigh(energy, weights, cy, cx, -1.0)
        vy, vx = _extreme(energy, even, False)
        even[vy, vx] = True
        _weigh(energy, weights, vy, vx, 1.0)
        if vy == cy and vx == cx:
            break
    ranks = np.zeros((side, side), np.int64)
    left, start = even.copy(), energy.copy()
    for rank in range(even.sum() - 1, -1, -1):
        y, x = _extreme(energy, left, True)
        left[y, x] = False
        _weigh(energy, weights, y, x, -1.0)
        ranks[y, x] = rank
    for rank in range(even.sum(), side * side):
        y, x = _extreme(start, even, False)
        even[y, x] = True
        _weigh(start, weights, y, x, 1.0)
        ranks[y, x] = rank
    return ranks


@compiled
def _weigh(energy: NDArray[np.float64], weights: NDArray[np.float64], y: int, x: int, sign: float) -> None:
    """Add a dot's neighbourhood to the energy, or take it away."""
    side = energy.shape[0]
    for j in range(side):
        row = weights[(j - y) % side]
        for i in range(x):
            energy[j, i] += sign * row[i - x + side]
        for i in range(x, side):
            energy[j, i] += sign * row[i - x]


@compiled
def _extreme(energy: NDArray[np.float64], dots: NDArray[np.bool_], tightest: bool) -> tuple[int, int]:
    """Where the tightest cluster of the dots is, or the largest void among them."""
    best, at = -np.inf, (0, 0)
    for y in range(energy.shape[0]):
        for x in range(energy.shape[1]):
            value = energy[y, x] if tightest else -energy[y, x]
            if dots[y, x] == tightest and value > best:
                best, at = value, (y, x)
    return at
