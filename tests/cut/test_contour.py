"""Offset outlines, measured against shapely's buffer of the pixels themselves."""

import numpy as np
import pytest
import shapely
from film_shapes import ALL, apart, area_of, outside_of, shape

from filmhand import units
from filmhand.cut.contour import offset_rings, rings_around
from filmhand.cut.distance import Raster

PROMISED_MM = 0.1
"""The order asks for a tenth of a millimetre."""


@pytest.mark.parametrize("ppi", [100, 300, 720])
@pytest.mark.parametrize("name", ALL)
def test_rings_lie_at_the_offset(name: str, ppi: int) -> None:
    """Blobs, rings, hairlines, lettering, specks: the rings are shapely's within a tenth of a millimetre."""
    film = shape(name)
    side = units.px_to_mm(film.shape[0], ppi)
    rings = offset_rings(film, width_mm=side, height_mm=side, offset_mm=2.0)
    pixel = units.px_to_mm(1, ppi)
    assert apart(area_of(rings), outside_of(film > 0, pixel_mm=(pixel, pixel), offset_mm=2.0)) <= PROMISED_MM


@pytest.mark.parametrize("offset", [0.0, 0.15, 0.5, 1.0, 3.0, 6.0])
def test_every_offset(offset: float) -> None:
    """From none at all, where notches finer than a knife are left out, to 6 mm."""
    film = shape("blob", seed=4)
    pixel = units.px_to_mm(1, 300)
    side = film.shape[0] * pixel
    rings = offset_rings(film, width_mm=side, height_mm=side, offset_mm=offset)
    assert apart(area_of(rings), outside_of(film > 0, pixel_mm=(pixel, pixel), offset_mm=offset)) <= PROMISED_MM


@pytest.mark.parametrize("seed", range(12))
def test_other_shapes(seed: int) -> None:
    """Random islands, the gaps between them of every width."""
    film = shape("islands", seed=seed)
    pixel = units.px_to_mm(1, 150)
    side = film.shape[0] * pixel
    rings = offset_rings(film, width_mm=side, height_mm=side, offset_mm=2.0)
    assert apart(area_of(rings), outside_of(film > 0, pixel_mm=(pixel, pixel), offset_mm=2.0)) <= PROMISED_MM


def test_pixels_that_are_not_square() -> None:
    """A picture stretched to twice its width: distances are those on the film."""
    film = shape("lettering")
    rings = offset_rings(film, width_mm=60, height_mm=30, offset_mm=1.5)
    exact = outside_of(film > 0, pixel_mm=(60 / film.shape[1], 30 / film.shape[0]), offset_mm=1.5)
    assert apart(area_of(rings), exact) <= PROMISED_MM


@pytest.mark.parametrize(("gap_mm", "parts"), [(3.0, 1), (5.0, 2)])
def test_parts_share_a_ring_where_their_offsets_touch(gap_mm: float, parts: int) -> None:
    """Two squares 3 mm apart are cut in one piece at 2 mm, 5 mm apart in two."""
    film = np.zeros((100, 300), np.uint8)
    film[20:80, 20:80] = 255
    film[20:80, 80 + round(gap_mm * 10) : 140 + round(gap_mm * 10)] = 1
    assert len(offset_rings(film, width_mm=30, height_mm=10, offset_mm=2.0)) == parts


def test_what_lies_inside_stays_on_the_piece() -> None:
    """A dot in the middle of a wide ring has no ring of its own, and the hole none either."""
    film = shape("ring")
    (ring,) = offset_rings(film, width_mm=100, height_mm=100, offset_mm=2.0)
    assert shapely.Polygon(ring).area > np.pi * 45**2


def test_nothing_covered_nothing_cut() -> None:
    """A bare picture has no path."""
    assert offset_rings(np.zeros((40, 40), np.uint8), width_mm=10, height_mm=10, offset_mm=2.0) == ()


def test_bands_do_not_show() -> None:
    """Rows that come by ones, by sevens, or all at once give the same rings, point for point."""
    film = shape("lettering")
    height, width = film.shape
    raster = Raster(width, height, (0.1, 0.1))
    whole = rings_around((film,), raster, offset_mm=2.0)
    for rows in (1, 7):
        bands = (film[top : top + rows] for top in range(0, height, rows))
        split = rings_around(bands, raster, offset_mm=2.0)
        assert len(split) == len(whole)
        assert all(np.array_equal(one, other) for one, other in zip(split, whole, strict=True))


def test_few_points() -> None:
    """A disc's path: fewer than twice as many points as a polygon needs that stays within 0.02 mm of the circle."""
    y, x = np.mgrid[0:1000, 0:1000] - 499.5
    film = (np.hypot(y, x) < 500).astype(np.uint8)
    (ring,) = offset_rings(film, width_mm=36, height_mm=36, offset_mm=2.0)
    # Chords of a circle of radius r that touch it with both ends leave it by r (1 - cos(pi / n)) where n go around; a method
    # that halves arcs until they are near enough never needs twice as many.
    needed = np.pi / np.arccos(1 - 0.02 / 20)
    assert len(ring) < 2 * needed
