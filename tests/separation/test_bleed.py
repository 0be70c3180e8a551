"""Inks go on one pixel beyond the film, so that dots at its edge have their colour in full."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from filmhand.separation.bleed import bleed


@settings(deadline=None)  # the first example compiles
@given(st.integers(0, 2**32 - 1), st.integers(1, 12), st.integers(1, 12))
def test_only_bare_pixels_change(seed: int, height: int, width: int) -> None:
    """Film keeps its inks; bare pixels with film about them (scipy's maximum filter) get a neighbour's, others the fill."""
    rng = np.random.default_rng(seed)
    coverage = (rng.integers(0, 256, (height, width)) * (rng.random((height, width)) < 0.3)).astype(np.uint8)
    planes = (rng.integers(1, 250, (3, height, width)) * (coverage > 0)).astype(np.uint8)
    before, fills = planes.copy(), np.array([0, 0, 251], np.uint8)
    bleed(planes, coverage, fills)
    film = coverage > 0
    assert np.array_equal(planes[:, film], before[:, film])
    most = ndimage.maximum_filter(coverage, 3, mode="constant")
    alone = most == 0
    assert np.all(planes[:, alone] == fills[:, None])
    for y, x in np.argwhere(~film & ~alone):
        rows, columns = slice(max(y - 1, 0), y + 2), slice(max(x - 1, 0), x + 2)
        donors = before[:, rows, columns][:, coverage[rows, columns] == most[y, x]]
        assert (planes[:, y, x][:, None] == donors).all(axis=0).any()
