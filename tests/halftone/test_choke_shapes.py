"""Choke of drawn shapes at sub-dot positions: against scipy's exact distance transform, and against the drawn outline itself.

Outlines and the distance to them are shapely's (GEOS); the distance transform is scipy.ndimage.distance_transform_edt, with the
height and width of a dot as its sampling.
"""

from collections.abc import Iterator
from itertools import product

import numpy as np
import pytest
import shapely
import shapely.affinity
from numpy.typing import NDArray
from scipy import ndimage
from test_choke import to_dots, to_words

from filmhand.halftone.choke import disc, erode

MM_PER_INCH = 25.4
RESOLUTIONS = [(720, 720), (720, 1440)]
CHOKES_MM = [0.05, 0.1, 0.15, 0.2, 0.3]
PLACES = [(0.0, 0.0), (0.25, 0.5), (0.37, 0.81)]
"""Parts of a dot, across and down, by which a shape lies off the grid."""
TURNS = [0.0, 10.0, 22.5, 45.0]

Outline = shapely.Polygon
Dots = NDArray[np.bool_]


def outlines() -> dict[str, Outline]:
    """A disc of 5 mm, a star of 8 mm with five points, and a line of 0.3 mm; in mm, about (0, 0)."""
    turn = np.radians(36) * np.arange(10) - np.pi / 2
    reach = np.where(np.arange(10) % 2, 1.5, 4.0)
    return {
        "disc": shapely.Point(0, 0).buffer(2.5, quad_segs=400),
        "star": shapely.Polygon(np.stack([reach * np.cos(turn), reach * np.sin(turn)], axis=1)),
        "line": shapely.box(-4, -0.15, 4, 0.15),
    }


def placed(name: str, resolution: tuple[int, int]) -> Iterator[tuple[Outline, Dots, NDArray[np.float64], NDArray[np.float64]]]:
    """The shape at every place and turn, its dots (those whose middle is inside), and the middles' x and y in mm."""
    across, down = MM_PER_INCH / resolution[0], MM_PER_INCH / resolution[1]
    x, y = np.meshgrid((np.arange(round(9 / across)) + 0.5) * across, (np.arange(round(9 / down)) + 0.5) * down)
    for (right, lower), turn in product(PLACES, TURNS):
        turned = shapely.affinity.rotate(outlines()[name], turn, origin=(0, 0))
        outline = shapely.affinity.translate(turned, 4.5 + right * across, 4.5 + lower * down)
        shapely.prepare(outline)
        yield outline, shapely.contains_xy(outline, x, y), x, y


def choked(dots: Dots, choke_mm: float, resolution: tuple[int, int]) -> Dots:
    """What `erode` keeps of them."""
    radius = disc((choke_mm / MM_PER_INCH * resolution[0], choke_mm / MM_PER_INCH * resolution[1]))
    return to_dots(erode(to_words(dots), radius), dots.shape[1])


@pytest.mark.parametrize("resolution", RESOLUTIONS)
@pytest.mark.parametrize("name", outlines())
def test_against_the_distance_transform(name: str, resolution: tuple[int, int]) -> None:
    """Every white dot is at least the choke from what is bare, and no white is lost that is further in: the same dots exactly."""
    sampling = MM_PER_INCH / resolution[1], MM_PER_INCH / resolution[0]
    for _, dots, _, _ in placed(name, resolution):
        far = ndimage.distance_transform_edt(dots, sampling=sampling)
        for choke_mm in CHOKES_MM:
            white = choked(dots, choke_mm, resolution)
            assert far[white].min(initial=9.0) > choke_mm
            assert far[~white].max() <= choke_mm


@pytest.mark.parametrize("resolution", RESOLUTIONS)
@pytest.mark.parametrize("name", outlines())
def test_against_the_drawn_outline(name: str, resolution: tuple[int, int]) -> None:
    """No dot is lost that is further in than the choke from the outline as drawn; and white is nearer by less than a dot.

    A bare dot's middle lies outside the outline, so it is further off; and it is no further outside than one dot.
    """
    dot_mm = MM_PER_INCH / min(resolution)
    for outline, dots, x, y in placed(name, resolution):
        depth = np.zeros(dots.shape)
        depth[dots] = shapely.distance(outline.exterior, shapely.points(x[dots], y[dots]))
        for choke_mm in CHOKES_MM:
            white = choked(dots, choke_mm, resolution)
            assert white[depth > choke_mm].all()
            assert depth[white].min(initial=9.0) > choke_mm - dot_mm


@pytest.mark.parametrize("resolution", RESOLUTIONS)
def test_a_line_keeps_white_up_to_half_its_width(resolution: tuple[int, int]) -> None:
    """A line of 0.3 mm has white under it all along at a choke of 0.1 mm, at any place and turn, and none at 0.2 mm."""
    for outline, dots, x, y in placed("line", resolution):
        middle = shapely.affinity.scale(outline, 0.9, 0.9)  # without its ends
        along = shapely.contains_xy(middle, x, y)
        white = choked(dots, 0.1, resolution)
        labels, _ = ndimage.label(white, structure=np.ones((3, 3)))
        assert len(set(labels[white & along])) == 1
        ends = np.ptp(x[white]), np.ptp(y[white])
        assert np.hypot(*ends) > 8 - 2 * (0.1 + 0.1)
        assert not choked(dots, 0.2, resolution).any()
