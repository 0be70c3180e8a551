"""Colours laid past the table: met and laid just where a plain comparison of every pixel says."""

import numpy as np
import pytest
from numpy.typing import NDArray

from filmhand.separation.exact import ExactInks, lay, met_in

Bytes = NDArray[np.uint8]


def picture(rng: np.random.Generator, height: int, width: int) -> Bytes:
    """Runs of few colours among noise, opaque, half transparent and transparent."""
    pixels = rng.integers(0, 256, (height, width, 4), np.uint8)
    flat = pixels.reshape(-1, 4)
    palette = rng.integers(0, 256, (5, 4), np.uint8)
    palette[:, 3] = 255, 255, 128, 1, 0
    for _ in range(flat.shape[0] // 60):
        start = int(rng.integers(0, len(flat)))
        flat[start : start + int(rng.integers(1, 150))] = palette[rng.integers(0, 5)]
    return pixels


@pytest.mark.parametrize("size", [(1, 1), (1, 31), (4, 8), (3, 11), (1, 33), (37, 61), (200, 333)])
@pytest.mark.parametrize("count", [1, 7, 300])
def test_as_a_plain_comparison(size: tuple[int, int], count: int) -> None:
    """Whatever the size, values met and planes written are those that numpy's own comparison finds; all else stays."""
    rng = np.random.default_rng(size[1] * 1000 + count)
    pixels = picture(rng, *size)
    own = pixels.reshape(-1, 4)[rng.integers(0, size[0] * size[1], count), :3]
    values = np.unique(np.concatenate([own, rng.integers(0, 256, (count, 3), np.uint8)]), axis=0)
    rng.shuffle(values)
    same = (pixels[:, :, None, :3] == values).all(axis=-1) & (pixels[..., 3:] > 0)
    assert np.array_equal(met_in(pixels, values), same.any(axis=(0, 1)))

    rows = rng.integers(0, 256, (len(values), 5), np.uint8)
    planes, coverage = rng.integers(0, 256, (5, *size), np.uint8), rng.integers(0, 256, size, np.uint8)
    expected = planes.copy(), coverage.copy()
    y, x, value = np.nonzero(same)
    expected[0][:, y, x] = rows[value].T
    expected[1][y, x] = pixels[y, x, 3]
    lay(pixels, values, rows, planes, coverage)
    assert np.array_equal(planes, expected[0])
    assert np.array_equal(coverage, expected[1])


def test_black_is_not_transparency() -> None:
    """Opaque black is met, transparent black is not."""
    pixels = np.zeros((5, 40, 4), np.uint8)
    black = np.zeros((1, 3), np.uint8)
    assert not met_in(pixels, black).any()
    pixels[4, 39, 3] = 1
    assert met_in(pixels, black).all()


def test_parts_of_pictures() -> None:
    """A view into a larger picture, turned over, is looked at as itself."""
    pixels = np.zeros((50, 70, 4), np.uint8)
    pixels[10, 20] = 9, 8, 7, 255
    value = np.array([[9, 8, 7]], np.uint8)
    assert met_in(pixels[5:15, 15:25][::-1, ::-1], value).all()
    assert not met_in(pixels[20:], value).any()


def test_rows_of_planes() -> None:
    """In the printer's order, rounded to 8 bits, whites as said; other inks stay empty; no colours, no rows."""
    exact = ExactInks(("C", "K"), np.array([[1, 2, 3]], np.uint8), np.array([[0.5, 0.2]]))
    assert exact.planes(("K", "M", "C", "W", "W2"), white={"W": 204, "W2": 9}).tolist() == [[51, 0, 128, 204, 9]]
    none = ExactInks(("C",), np.zeros((0, 3), np.uint8), np.zeros((0, 1)))
    planes, coverage = np.ones((2, 4, 4), np.uint8), np.ones((4, 4), np.uint8)
    lay(np.zeros((4, 4, 4), np.uint8), none.values, none.planes(("C", "W"), white={"W": 255}), planes, coverage)
    assert planes.all()
    assert coverage.all()
    assert met_in(np.zeros((4, 4, 4), np.uint8), none.values).tolist() == []
