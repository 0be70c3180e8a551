"""The blue-noise tile: exact means, a blue spectrum, and a cache that mends itself."""

from pathlib import Path

import numpy as np
import pytest

from filmhand.halftone.blue_noise import SIDE, SMALL_SIDE, blue_noise_onsets, blue_noise_ranks
from filmhand.halftone.thresholds import Ranks, thresholds


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A cache folder with the tile in it."""
    folder = tmp_path_factory.mktemp("cache")
    blue_noise_ranks(folder)
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
    tile = thresholds(blue_noise_onsets(cache))
    means = np.array([(tone > tile).mean() for tone in range(256)])
    assert means[0] == 0
    assert means[255] == 1
    assert np.abs(means - np.arange(256) / 255).max() <= 0.5 / SIDE**2


def test_blocks_are_pixels(tmp_path: Path, cache: Path) -> None:
    """Blocks of three by two dots are the tile enlarged; very large ones are those of the smaller tile."""
    small = blue_noise_onsets(cache)
    large = blue_noise_onsets(cache, block=(3, 2))
    assert large.shape == (2 * SIDE, 3 * SIDE)
    assert all(np.array_equal(large[y::2, x::3], small) for y in range(2) for x in range(3))
    assert blue_noise_onsets(tmp_path, block=(17, 17)).shape == (17 * SMALL_SIDE, 17 * SMALL_SIDE)


def test_made_once(cache: Path, ranks: Ranks) -> None:
    """The second use reads the file, and leaves nothing beside it."""
    (kept,) = cache.iterdir()
    before = kept.stat().st_ino
    assert np.array_equal(blue_noise_ranks(cache), ranks)
    assert kept.stat().st_ino == before  # its time tells when it was last used


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
