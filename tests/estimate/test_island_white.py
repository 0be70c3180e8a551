"""White on screened film's islands, against circles on paper and scipy's distances."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from filmhand.estimate.island_white import island_white


def round_dots(cell: int) -> NDArray[np.uint8]:
    """A tile with one dot that grows as a disc from its middle."""
    y, x = np.mgrid[:cell, :cell] - (cell - 1) / 2
    ranks = np.argsort(np.argsort((np.hypot(y, x) + 1e-6 * x).ravel(), kind="stable"))
    return np.floor(255 * ranks / ranks.size).astype(np.uint8).reshape(cell, cell)


def test_round_dots_lose_a_ring() -> None:
    """A disc of radius R keeps ((R − r) / R)² of its white: for tones up to one half, within three points of a hundred."""
    share = island_white(round_dots(120), (4, 4))
    for tone in (40, 80, 128):
        radius = np.sqrt(tone / 255 * 120**2 / np.pi)
        assert share[tone] == pytest.approx(((radius - 4) / radius) ** 2, abs=0.03)


def test_by_exact_distances() -> None:
    """Tiles laid side by side: dots nearer than the choke to bare film, by scipy's distance transform, lose theirs."""
    tile = np.random.default_rng(4).permutation(48 * 32).reshape(48, 32)
    tile = ndimage.gaussian_filter(tile.astype(float), 3, mode="wrap").ravel()
    tile = np.floor(255 * np.argsort(np.argsort(tile)) / tile.size).astype(np.uint8).reshape(48, 32)
    share = island_white(tile, (2.0, 2.0))
    for tone in (30, 100, 200, 250):
        islands = np.tile(tile < tone, (3, 3))
        inside = ndimage.distance_transform_edt(islands)[48:96, 32:64] > 2
        assert share[tone] == pytest.approx(inside.sum() / islands[48:96, 32:64].sum(), abs=1e-9)


def test_solid_film_and_no_choke_keep_all() -> None:
    """At full coverage there is no island's edge; without a choke none is pulled in."""
    tile = round_dots(40)
    assert island_white(tile, (3, 3))[255] == 1
    assert (island_white(tile, (0, 0)) == 1).all()
