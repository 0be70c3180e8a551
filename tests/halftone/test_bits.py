"""Words of dots against numpy's own packing and sums."""

import numpy as np
import pytest
from numpy.typing import NDArray

from filmhand.halftone.bits import GROUP, counts, shifted, to_samples, tone_sums, words_for


def random_words(seed: int, rows: int, width: int) -> tuple[NDArray[np.uint64], NDArray[np.uint8]]:
    """The same dots as words and as 0 and 1."""
    dots = np.zeros((rows, words_for(width) * 64), np.uint8)
    dots[:, :width] = np.random.default_rng(seed).integers(0, 2, (rows, width))
    words = np.ascontiguousarray(np.packbits(dots, axis=1, bitorder="little").view(np.uint64))
    return words, dots[:, :width]


@pytest.mark.parametrize("width", [1, 8, 63, 64, 65, 1001])
def test_one_bit_samples(width: int) -> None:
    """numpy.packbits packs the highest bit first, as TIFF wants it."""
    words, dots = random_words(width, 9, width)
    assert np.array_equal(to_samples(words[None], width), np.packbits(dots, axis=1))


@pytest.mark.parametrize("width", [1, 4, 31, 32, 33, 1001])
def test_two_bit_samples(width: int) -> None:
    """Level 0 to 3 in two bits: how many of the three planes have the dot, each within the one before."""
    words, dots = zip(*(random_words(width + level, 9, width) for level in range(3)), strict=True)
    levels = np.stack([words[0], words[0] & words[1], words[0] & words[1] & words[2]])
    sizes = dots[0] * (1 + dots[1] * (1 + dots[2]))
    expected = np.packbits(np.stack([sizes >> 1, sizes & 1], axis=-1).reshape(9, -1), axis=1)
    assert np.array_equal(to_samples(levels, width), expected)


@pytest.mark.parametrize("rows_together", [1, 16, 48])
def test_counts(rows_together: int) -> None:
    """Dots in each 16 across and so many down, the last group short."""
    words, dots = random_words(3, 100, 320)
    together = counts(words, rows_together)
    wanted = np.add.reduceat(dots.astype(int), np.arange(0, 100, rows_together)).reshape(-1, 320 // GROUP, GROUP).sum(axis=2)
    assert np.array_equal(together, wanted)


@pytest.mark.parametrize("rows_together", [1, 16, 48])
def test_tone_sums(rows_together: int) -> None:
    """The same of continuous tones, up to full ones everywhere."""
    tones = np.random.default_rng(4).integers(0, 256, (100, 320)).astype(np.uint8)
    tones[:50] = 255
    wanted = np.add.reduceat(tones.astype(int), np.arange(0, 100, rows_together)).reshape(-1, 320 // GROUP, GROUP).sum(axis=2)
    assert np.array_equal(tone_sums(tones, rows_together), wanted)


@pytest.mark.parametrize("by", [0, 1, 37, 63])
def test_dots_moved_on(by: int) -> None:
    """As numpy's padding moves them; what lies past the room is cut off."""
    words, dots = random_words(by, 9, 150)
    moved = shifted(words, by, 3)
    expected = np.pad(dots, ((0, 0), (by, 192)))[:, :192]
    assert np.array_equal(np.unpackbits(moved.view(np.uint8), axis=1, bitorder="little"), expected)
