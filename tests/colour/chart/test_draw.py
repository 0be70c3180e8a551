"""Drawing marks into planes."""

import math

import numpy as np
import pytest

from filmhand import units
from filmhand.colour.chart.draw import draw
from filmhand.colour.chart.model import Arrow, Block, Box, Disc, Mark, Stairs, Text

INKS = ("C", "M", "Y", "K", "W")


@pytest.mark.parametrize("diameter", [0.1, 0.25, 0.5, 1.0, 3.0])
@pytest.mark.parametrize("resolution", [(720, 720), (1200, 600)])
def test_a_disc_has_its_area(diameter: float, resolution: tuple[int, int]) -> None:
    """πd²/4, within the dots that its edge may take or leave."""
    _, coverage, _ = draw(
        Block("x", (5, 5), (Mark(Disc(2.5, 2.5, diameter), coverage=1.0),), fine=True), INKS, resolution=resolution
    )
    dot = units.px_to_mm(1, resolution[0]) * units.px_to_mm(1, resolution[1])
    around = math.pi * diameter / math.sqrt(dot)
    assert abs((coverage > 0).sum() - math.pi * diameter**2 / 4 / dot) <= max(1, 0.5 * around)


def test_marks_change_what_they_name_and_no_more() -> None:
    """A later mark lies over an earlier one; inks and coverage that it does not name stay."""
    marks = (
        Mark(Box(0, 0, 10, 10), {"W": 1.0}, coverage=1.0),
        Mark(Box(2, 2, 4, 4), {"C": 0.4, "M": 1.0}),
        Mark(Box(4, 4, 4, 4), {"M": 0.0}),
        Mark(Box(8, 8, 5, 5), coverage=0.0),
    )
    planes, coverage, size = draw(Block("x", (10, 10), marks, fine=True), INKS, resolution=(254, 254))
    assert planes.shape == (5, 100, 100)
    assert size == pytest.approx((10, 10))
    assert (planes[4] == 255).all()
    assert (planes[0, 20:60, 20:60] == 102).all()
    assert planes[0].sum() == 102 * 1600
    assert planes[1].sum() == 255 * (1600 - 400)
    assert not coverage[80:, 80:].any()
    assert coverage.sum() == 255 * (10000 - 400)


def test_stairs_have_one_dash_in_every_row() -> None:
    """Each row has one run; runs step to the right and begin again; together they cover every column equally."""
    planes, _, _ = draw(
        Block("x", (16, 6.4), (Mark(Stairs(Box(0, 0, 16, 6.4), 16), {"K": 1.0}),), fine=True), INKS, resolution=(254, 254)
    )
    dashes = planes[3] > 0
    starts = dashes.argmax(axis=1)
    assert (dashes.sum(axis=1) == 10).all()
    assert (np.abs(np.diff(dashes.astype(int), axis=1)).sum(axis=1) <= 2).all()
    assert (starts == np.arange(64) % 16 * 10).all()
    assert (dashes.sum(axis=0) == 4).all()


@pytest.mark.parametrize("resolution", [(720, 720), (1440, 720)])
def test_lettering_is_upright_and_as_high_as_said(resolution: tuple[int, int]) -> None:
    """An L: its stem is at the left, its foot below. Capitals are some 0.7 of the line's height (common practice, no source)."""
    planes, _, _ = draw(Block("x", (20, 20), (Mark(Text(10, 10, 10, "L"), {"K": 1.0}),)), INKS, resolution=resolution)
    rows, columns = np.nonzero(planes[3])
    high, wide = np.ptp(rows) + 1, np.ptp(columns) + 1
    assert 0.6 <= high * 20 / planes.shape[1] / 10 <= 0.8
    letter = planes[3][rows.min() : rows.max() + 1, columns.min() : columns.max() + 1] > 0
    assert letter[:, : wide // 8].mean() > 0.9
    assert letter[-high // 14 :].mean() > 0.9
    assert letter[: high // 2, wide // 2 :].mean() == 0


def test_an_arrow_points_to_the_right() -> None:
    """Broad at its back, a point at its end, its area half of the square around it."""
    planes, _, _ = draw(Block("x", (10, 10), (Mark(Arrow(2, 5, 6), {"K": 1.0}),), fine=True), INKS, resolution=(254, 254))
    thick = (planes[3] > 0).sum(axis=0)
    assert thick[21] > thick[40] > thick[60] > thick[78] >= 0
    assert not thick[:20].any()
    assert not thick[80:].any()
    assert thick.sum() == pytest.approx(60 * 60 / 2, rel=0.03)
