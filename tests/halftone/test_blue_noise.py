"""The blue-noise tile: exact means, a blue spectrum, and a cache that mends itself."""

import math
from pathlib import Path

import numpy as np
import pytest

from filmhand.halftone.blue_noise import SIDE, blue_noise_ranks, blue_noise_tile
from filmhand.halftone.thresholds import Ranks


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A cache folder with the tile in it."""
    folder = tmp_path_factory.mktemp("cache")
    blue_noise_tile(folder)
    return folder


@pytest.fixture(scope="module")
def ranks(cache: Path) -> Ranks:
    """The tile's ranks."""
    return blue_noise_ranks(cache)


def test_ranks_are_a_permutation(ranks: Ranks) -> None:
    """Each rank is there once."""
    assert np.array_equal(np.sort(ranks, axis=None), np.arange(SIDE * SIDE))


def test_flat_tones_are_exact(cache: Path) -> None:
    """Tone 0 lays nothing, 255 everything, and every tone between is right to half a dot of the tile."""
    tile = blue_noise_tile(cache)
    means = np.array([(tone > tile).mean() for tone in range(256)])
    assert means[0] == 0
    assert means[255] == 1
    assert np.abs(means - np.arange(256) / 255).max() <= 0.5 / SIDE**2


@pytest.mark.parametrize(
    ("tone", "bar"), [(1 / 64, 0.15), (1 / 32, 0.15), (1 / 16, 0.15), (1 / 8, 0.15), (1 / 4, 0.15), (1 / 2, 0.30), (3 / 4, 0.15)]
)
def test_spectrum_is_blue(ranks: Ranks, tone: float, bar: float) -> None:
    """Power below half the principal frequency, white noise being 1.

    Ulichney, "Dithering with blue noise", Proc. IEEE 76 (1988): √g for g ≤ ½, √(1 − g) above, in cycles a pixel. Void-and-cluster
    tiles of 64² and 128² made independently had 0.06 to 0.124, at one half 0.28 and 0.26.
    """
    pattern = ranks < tone * ranks.size
    power = np.abs(np.fft.fft2(pattern - pattern.mean())) ** 2 / pattern.size / (tone * (1 - tone))
    frequency = np.hypot(*np.meshgrid(np.fft.fftfreq(SIDE), np.fft.fftfreq(SIDE)))
    principal = math.sqrt(min(tone, 1 - tone))
    assert power[(frequency > 0) & (frequency < principal / 2)].mean() <= bar


def test_made_once(cache: Path, ranks: Ranks) -> None:
    """The second use reads the file, and leaves nothing beside it."""
    (kept,) = cache.iterdir()
    before = kept.stat().st_mtime_ns
    assert np.array_equal(blue_noise_ranks(cache), ranks)
    assert kept.stat().st_mtime_ns == before


@pytest.mark.parametrize("damage", ["cut short", "one rank twice"])
def test_damaged_file_is_made_again(tmp_path: Path, cache: Path, ranks: Ranks, damage: str) -> None:
    """What is not a permutation of the tile's size is not used, and the same tile is made anew."""
    (kept,) = cache.iterdir()
    target = tmp_path / kept.name
    if damage == "cut short":
        target.write_bytes(kept.read_bytes()[:-1000])
    else:
        wrong = ranks.copy()
        wrong[0, 0] = wrong[0, 1]
        np.save(target, wrong)
    assert np.array_equal(blue_noise_ranks(tmp_path), ranks)
    assert target.read_bytes() == kept.read_bytes()
