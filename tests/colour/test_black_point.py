"""Black point compensation by its definition."""

import numpy as np
import pytest

from filmhand.colour.black_point import compensated, neutral
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz, xyz_from_lab


def test_white_stays_and_black_moves() -> None:
    """ISO 18619: the map is straight in each of X, Y, Z, with these two points fixed."""
    black, to = np.array([0.002, 0.001, 0.003]), np.array([0.02, 0.021, 0.017])
    colours = np.stack([D50_WHITE, black, (D50_WHITE + black) / 2])
    assert compensated(colours, black=black, to=to) == pytest.approx(np.stack([D50_WHITE, to, (D50_WHITE + to) / 2]))


def test_a_neutral_black() -> None:
    """ISO 18619: a black point has no a* and b*, and an L* of 50 at most."""
    assert lab_from_xyz(neutral(xyz_from_lab(np.array([12.0, 5, -7])))) == pytest.approx([12, 0, 0])
    assert lab_from_xyz(neutral(xyz_from_lab(np.array([60.0, 0, 0])))) == pytest.approx([50, 0, 0])
