"""The one rotation convention: counter-clockwise as seen, y down."""

import numpy as np
import pytest

from filmhand.gang.turn import turned, turned_box


@pytest.mark.parametrize("quarters", [0, 1, 2, 3, 5, -1])
def test_quarter_turns_are_numpys(quarters: int) -> None:
    """A pixel lands where numpy.rot90 (counter-clockwise as displayed) puts it, exactly."""
    picture = np.zeros((30, 50), np.uint8)
    picture[4, 41] = 1
    left, top, width, height = turned_box(50.0, 30.0, 90.0 * quarters)
    (x, y) = turned(np.array([[41.5, 4.5]]), 90.0 * quarters)[0] - (left, top)
    (row,), (column,) = np.nonzero(np.rot90(picture, quarters))
    assert (x, y) == (column + 0.5, row + 0.5)
    assert (height, width) == np.rot90(picture, quarters).shape


def test_any_angle_keeps_lengths_and_comes_back() -> None:
    """A turn and its inverse give the points again; 30° lifts a point on the x axis (y grows down, so y is negative)."""
    points = np.array([[10.0, 0.0], [3.0, 4.0]])
    there = turned(points, 30.0)
    np.testing.assert_allclose(there[0], [10 * np.cos(np.pi / 6), -10 * np.sin(np.pi / 6)])
    np.testing.assert_allclose(turned(there, -30.0), points, atol=1e-12)
