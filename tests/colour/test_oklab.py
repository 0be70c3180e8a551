"""Oklab against its author's table."""

import numpy as np
import pytest

from filmhand.colour.adaptation import bradford
from filmhand.colour.cielab import D50_WHITE
from filmhand.colour.oklab import oklab_from_xyz, xyz_from_oklab

D65 = np.array([0.3127 / 0.3290, 1.0, (1 - 0.3127 - 0.3290) / 0.3290])


def test_the_authors_table() -> None:
    """Ottosson 2020, "Table of example XYZ and Oklab pairs" (XYZ over D65), to its three decimals."""
    xyz = np.array([[0.950, 1.000, 1.089], [1, 0, 0], [0, 1, 0], [0, 0, 1]])
    expected = [[1, 0, 0], [0.450, 1.236, -0.019], [0.922, -0.671, 0.263], [0.153, -1.415, -0.449]]
    assert oklab_from_xyz(xyz @ bradford(D65, to=D50_WHITE).T) == pytest.approx(np.array(expected), abs=1.1e-3)


def test_there_and_back() -> None:
    """To the last digits."""
    xyz = np.random.default_rng(0).random((100, 3))
    assert xyz_from_oklab(oklab_from_xyz(xyz)) == pytest.approx(xyz, abs=1e-12)
