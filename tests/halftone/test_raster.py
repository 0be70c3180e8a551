"""Bilinear enlargement against scipy's in double precision, and screening against a plain comparison."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from filmhand.gang.oriented import Oriented
from filmhand.gang.places import window_of
from filmhand.gang.stored import Array, Stored
from filmhand.halftone import lanes, raster

TILE = np.random.default_rng(0).integers(0, 255, (7, 13)).astype(np.uint8)


def plane(picture: NDArray[np.uint8]) -> raster.Plane:
    """A picture as the kernels take it."""
    tones = np.concatenate([picture.reshape(-1), np.zeros(lanes.OVERREAD, np.uint8)])
    return raster.Plane(tones, picture.shape[1], picture.max(axis=1), np.zeros(len(picture), np.bool_))


def grid(size: tuple[int, int], source: tuple[int, int], left: int) -> raster.Grid:
    """Where the dots of a copy that begins at column `left` lie in a source; sizes as height, width."""
    array = Array(None, 0, (1, *source))  # type: ignore[arg-type]  # nothing is read
    picture = Oriented(Stored(None, (), array, array, 1, 1), flip_x=False, flip_y=False)  # type: ignore[arg-type]
    return window_of(picture, (size[1], size[0]), (0, size[0]), offset=left).grid


def enlarged(picture: NDArray[np.uint8], size: tuple[int, int], left: int = 0) -> NDArray[np.uint8]:
    """A picture at the dots' resolution, as the kernels see it: the continuous tone of full coverage."""
    where = grid(size, picture.shape, left)
    words = where.columns.size // 64
    out = np.zeros((size[0], words * 64), np.uint8)
    everywhere = np.full((size[0], words), np.uint64(2**64 - 1))
    sent = np.arange(256, dtype=np.uint8)
    raster.tones_of(plane(picture), plane(np.full_like(picture, 255)), where, everywhere, sent, out)
    tones = np.empty_like(out)
    raster.dot_tones(plane(picture), where, tones)
    assert np.array_equal(tones, out)
    assert not out[:, :left].any()
    assert not out[:, left + size[1] :].any()
    return out[:, left : left + size[1]]


def reference(picture: NDArray[np.uint8], size: tuple[int, int]) -> NDArray[np.float64]:
    """Bilinear samples with half-pixel centres, double precision, by scipy.ndimage."""
    rows = (np.arange(size[0]) + 0.5) * picture.shape[0] / size[0] - 0.5
    columns = (np.arange(size[1]) + 0.5) * picture.shape[1] / size[1] - 0.5
    places = np.meshgrid(rows, columns, indexing="ij")
    return ndimage.map_coordinates(picture.astype(np.float64), places, order=1, mode="nearest")


def smooth(shape: tuple[int, int]) -> NDArray[np.uint8]:
    """A photograph-like field that uses all tones."""
    field = ndimage.gaussian_filter(np.random.default_rng(3).random(shape), 4)
    return (255 * (field - field.min()) / (field.max() - field.min())).astype(np.uint8)


@pytest.mark.parametrize(("source", "size"), [((60, 83), (144, 199)), ((100, 100), (300, 480)), ((90, 120), (90, 120))])
@pytest.mark.parametrize("left", [0, 37])
def test_enlargement(source: tuple[int, int], size: tuple[int, int], left: int) -> None:
    """Within one tone of the reference everywhere, and above 54 dB."""
    picture = smooth(source)
    error = enlarged(picture, size, left) - reference(picture, size)
    assert np.abs(error).max() <= 1
    assert (error**2).mean() < 255**2 / 10**5.4


def test_hard_edges() -> None:
    """Noise, the worst there is: places in 256ths of a pixel are at most 255 / 512 tones off, rounding another half."""
    picture = np.random.default_rng(1).integers(0, 256, (50, 70)).astype(np.uint8)
    assert np.abs(enlarged(picture, (121, 170)) - reference(picture, (121, 170))).max() <= 1.02


def test_flat_stays_flat() -> None:
    """Every flat tone comes out as itself, 0 and 255 too."""
    for tone in range(256):
        assert (enlarged(np.full((3, 5), tone, np.uint8), (8, 12)) == tone).all()


@pytest.mark.parametrize("left", [0, 5, 63])
def test_dots_are_tones_above_the_tile(left: int) -> None:
    """Dot for dot the comparison written plainly, the tile lying in the sheet's coordinates, whatever its size."""
    picture, size = smooth((40, 50)), (97, 131)
    where = grid(size, picture.shape, left)
    screen = raster.Screen(raster.widened(TILE), TILE.shape[1], 3, 0)
    film = raster.film_bits(plane(picture), where, screen)
    dots = np.unpackbits(film.islands.view(np.uint8), axis=1, bitorder="little")
    tones = enlarged(picture, size, left)
    rows, columns = np.mgrid[3 : 3 + size[0], left : left + size[1]]
    wanted = np.zeros_like(dots)
    wanted[:, left : left + size[1]] = tones > TILE[rows % 7, columns % 13]
    assert np.array_equal(dots, wanted)
    again = np.zeros_like(film.islands)
    raster.ink_bits(plane(picture), where, screen, np.full_like(again, 2**64 - 1), again)
    assert np.array_equal(again, film.islands)
    for bits, limit in ((film.any, 0), (film.some, 7), (film.half, 127), (film.full, 247)):
        assert np.bitwise_count(bits).sum() == (tones > limit).sum()
