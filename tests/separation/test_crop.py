"""Cropping to the film."""

import numpy as np

from filmhand.separation.crop import cropped
from filmhand.separation.model import Separation


def _separation(coverage: np.ndarray) -> Separation:
    planes = np.stack([coverage // 2, coverage])
    return Separation(("K", "W"), planes, coverage, width_mm=100.0, height_mm=50.0)


def test_bare_margins_go_and_the_size_with_them() -> None:
    """The film's rows and columns stay, at the same pixels a millimetre; islands far apart stay together."""
    coverage = np.zeros((50, 100), np.uint8)
    coverage[10, 20] = coverage[39, 79] = 7
    found = cropped(_separation(coverage))
    assert found is not None
    assert found.coverage.shape == (30, 60)
    assert (found.width_mm, found.height_mm) == (60.0, 30.0)
    assert found.planes.shape == (2, 30, 60)
    assert found.coverage[0, 0] == found.coverage[-1, -1] == 7


def test_no_film_is_no_separation() -> None:
    """Artwork in the garment's very colour leaves nothing."""
    assert cropped(_separation(np.zeros((5, 5), np.uint8))) is None
