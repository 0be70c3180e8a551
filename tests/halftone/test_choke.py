"""Choke against the exact Euclidean distance transform of scipy."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from filmhand.halftone.bits import words_for
from filmhand.halftone.choke import dilate, disc, erode


def to_words(dots: NDArray[np.bool_]) -> NDArray[np.uint64]:
    """Rows of booleans as words, the lowest bit first."""
    padded = np.pad(dots, ((0, 0), (0, words_for(dots.shape[1]) * 64 - dots.shape[1])))
    return np.ascontiguousarray(np.packbits(padded, axis=1, bitorder="little").view(np.uint64))


def to_dots(words: NDArray[np.uint64], width: int) -> NDArray[np.bool_]:
    """The inverse."""
    return np.unpackbits(words.view(np.uint8), axis=1, bitorder="little")[:, :width].astype(bool)


def choked(dots: NDArray[np.bool_], radius_px: tuple[float, float]) -> NDArray[np.bool_]:
    """What `erode` keeps."""
    return to_dots(erode(to_words(dots), disc(radius_px)), dots.shape[1])


def blobs(seed: int, shape: tuple[int, int]) -> NDArray[np.bool_]:
    """Islands with holes, fine dots and long edges."""
    noise = np.random.default_rng(seed).random(shape)
    return (ndimage.gaussian_filter(noise, 6) > 0.497) & (noise > 0.0005)


@pytest.mark.parametrize("radius", [0.4, 0.999, 1, 1.3, 2, 4.2519685, 5, 8.5, 17.3])
@pytest.mark.parametrize("width", [63, 64, 300])
def test_against_scipy(radius: float, width: int) -> None:
    """A dot stays where its distance to the nearest bare place is greater than the radius; past the edges all is bare."""
    dots = blobs(width, (150, width))
    far = ndimage.distance_transform_edt(np.pad(dots, 20))[20:-20, 20:-20]
    assert np.array_equal(choked(dots, (radius, radius)), far > radius)


@pytest.mark.parametrize("radius", [0.4, 1, 4.8, 9.5])
def test_dilation_against_scipy(radius: float) -> None:
    """A dot comes to be where one lies no further than the radius; past the edges there are none."""
    dots = blobs(7, (120, 200))
    near = ndimage.distance_transform_edt(~dots) <= radius
    assert np.array_equal(to_dots(dilate(to_words(dots), disc((radius, radius))), 200), near)


@pytest.mark.parametrize("resolution", [(720, 1440), (600, 300)])
def test_unequal_resolution(resolution: tuple[int, int]) -> None:
    """Distance is measured on the film: scipy's, with a dot's width and height as sampling."""
    dots = blobs(5, (200, 333))
    radius_in = 0.15 / 25.4
    far = ndimage.distance_transform_edt(np.pad(dots, 20), sampling=(1 / resolution[1], 1 / resolution[0]))[20:-20, 20:-20]
    assert np.array_equal(choked(dots, (radius_in * resolution[0], radius_in * resolution[1])), far > radius_in)


@pytest.mark.parametrize(("radius", "left"), [(1, 11564), (2, 11136), (3, 10716), (5, 9900)])
def test_rectangle(radius: int, left: int) -> None:
    """120 × 100 dots choked by r leave (120 − 2r)(100 − 2r)."""
    assert choked(np.ones((100, 120), bool), (radius, radius)).sum() == left


def test_thin_line() -> None:
    """A line of five dots: a choke of 2 leaves one, of 3 nothing."""
    line = np.zeros((40, 200), bool)
    line[18:23] = True
    assert choked(line, (2, 2)).sum(axis=0).max() == 1
    assert not choked(line, (3, 3)).any()


def test_no_choke_keeps_all() -> None:
    """A radius of nothing, and one that reaches no neighbour."""
    dots = blobs(1, (50, 100))
    assert np.array_equal(choked(dots, (0, 0)), dots)
    assert np.array_equal(choked(dots, (0.85, 0.85)), dots)
