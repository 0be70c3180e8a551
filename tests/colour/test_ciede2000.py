"""CIEDE2000 against its authors' test data and against scikit-image."""

from pathlib import Path

import numpy as np
from skimage.color import deltaE_ciede2000

from filmhand.colour.ciede2000 import difference

PAIRS = np.loadtxt(Path(__file__).parents[1] / "data" / "ciede2000.tsv")


def test_the_published_pairs() -> None:
    """All 34 pairs of Sharma, Wu and Dalal 2005, Table 1, in both orders, to the table's four decimals."""
    first, second, expected = PAIRS[:, 1:4], PAIRS[:, 4:7], PAIRS[:, 7]
    assert len(PAIRS) == 34
    assert np.abs(difference(first, second) - expected).max() <= 1e-4
    assert np.abs(difference(second, first) - expected).max() <= 1e-4


def test_like_another_program() -> None:
    """Random pairs give what scikit-image gives."""
    rng = np.random.default_rng(2)
    first, second = (rng.uniform((0, -110, -110), (100, 110, 110), (5000, 3)) for _ in range(2))
    assert np.abs(difference(first, second) - deltaE_ciede2000(first, second)).max() < 1e-9


def test_equal_colours_and_grays() -> None:
    """A colour has no difference to itself; grays, whose hue is undefined, give a number."""
    colours = np.array([[50, 20, -30], [50, 0, 0], [0, 0, 0], [100, 0, 0]], dtype=float)
    assert difference(colours, colours).tolist() == [0, 0, 0, 0]
    assert np.isfinite(difference(colours[:, None], colours[None])).all()
