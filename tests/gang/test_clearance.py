"""Clearance on pixels: it finds what is too near, over the margin or overlapping, and nothing else."""

import tracemalloc
from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from layouts import blob

from filmhand.gang.clearance import Area, clearance_faults
from filmhand.gang.outline import Outline, outline_of
from filmhand.gang.sheet import Placement
from filmhand.gang.turn import turned_box
from filmhand.printer import Printer

WIDE = Area(-1e4, -1e4, 1e4, 1e4)


def disc(diameter_mm: float) -> Outline:
    """A disc's outline, drawn at 0.05 mm a pixel."""
    side = round(diameter_mm * 20)
    y, x = np.mgrid[:side, :side] + 0.5 - side / 2
    return outline_of(((x**2 + y**2 <= (side / 2) ** 2) * 255).astype(np.uint8), width_mm=diameter_mm, height_mm=diameter_mm)


def placed(outline: Outline, x_mm: float, y_mm: float, *, copy: int = 1, rotation: float = 0.0) -> Placement:
    """A copy with the top left of its turned box at a point."""
    _, _, width, height = turned_box(outline.width_mm, outline.height_mm, rotation)
    return Placement("job", copy, x_mm, y_mm, width, height, rotation)


@settings(max_examples=60, deadline=None)
@given(st.floats(0, 360), st.floats(15, 40), st.floats(0, 360), st.sampled_from([2.0, 6.0]))
def test_the_distance_of_two_discs(direction: float, apart: float, rotation: float, gap: float) -> None:
    """Two discs of 20 mm, at any angle: their distance is the centres' less 20 mm (plane geometry), to one cell and a half."""
    outline = disc(20.0)
    cell = 20.0 / outline.cells.columns
    one = placed(outline, 0.0, 0.0, rotation=rotation)
    centre = one.width_mm / 2 + np.array([np.cos(np.radians(direction)), np.sin(np.radians(direction))]) * apart
    other = placed(outline, 0.0, 0.0, copy=2)
    other = replace(other, x_mm=centre[0] - 10.0, y_mm=centre[1] - 10.0)
    faults = clearance_faults([one, other], [outline, outline], gap_mm=gap, area=WIDE)
    if apart - 20.0 < gap - 0.05:
        assert len(faults) == 1
    if apart - 20.0 > gap + 3 * cell:
        assert faults == ()


def test_how_near_is_said() -> None:
    """The fault names both copies and the distance."""
    outline = Outline.box(50.0, 30.0)
    one, other = placed(outline, 0.0, 0.0), placed(outline, 54.0, 0.0, copy=2)
    (fault,) = clearance_faults([one, other], [outline, outline], gap_mm=6.0, area=WIDE)
    assert "copy 1" in fault
    assert "copy 2" in fault
    assert "4.0" in fault
    assert clearance_faults([one, replace(other, x_mm=56.0)], [outline, outline], gap_mm=6.0, area=WIDE) == ()


@pytest.mark.parametrize("offset", [(0.0, 0.0), (3.0, 1.0), (19.0, 14.0), (49.9, 0.0)])
@pytest.mark.parametrize("gap", [0.0, 5.0])
def test_overlap_is_found_even_without_a_gap(offset: tuple[float, float], gap: float) -> None:
    """One copy on, in or a tenth of a millimetre over another."""
    large, small = Outline.box(50.0, 30.0), Outline.box(10.0, 10.0)
    for outline in (large, small):
        pair = [placed(large, 0.0, 0.0), placed(outline, *offset, copy=2)]
        assert clearance_faults(pair, [large, outline], gap_mm=gap, area=WIDE)


def test_touching_without_a_gap_is_no_fault() -> None:
    """Where the gap is 0, copies may lie edge to edge."""
    outline = Outline.box(50.0, 30.0)
    pair = [placed(outline, 0.0, 0.0), placed(outline, 50.0, 0.0, copy=2)]
    assert clearance_faults(pair, [outline, outline], gap_mm=0.0, area=WIDE) == ()


def test_a_copy_in_the_bay_of_another_is_no_fault() -> None:
    """Boxes may overlap as long as the art does not: a small square in the free corner of an L."""
    plane = np.zeros((400, 400), np.uint8)
    plane[:, :80] = 255
    plane[320:, :] = 255
    letter, square = outline_of(plane, width_mm=100.0, height_mm=100.0), Outline.box(40.0, 40.0)
    pair = [placed(letter, 0.0, 0.0), placed(square, 30.0, 20.0, copy=2)]
    assert clearance_faults(pair, [letter, square], gap_mm=6.0, area=WIDE) == ()
    assert len(clearance_faults(pair, [letter, square], gap_mm=11.0, area=WIDE)) == 1


def test_the_margin_is_kept_free() -> None:
    """Film in the margin is a fault at each of the four edges; a blank border of the picture may lie there."""
    printer = Printer(name="p", film_width="200 mm", margin="10 mm")
    area = Area.of_film(printer, 300.0)
    outline = Outline.box(50.0, 30.0)
    for x, y, faulty in ((9, 50, 1), (141, 50, 1), (50, 9, 1), (50, 261, 1), (10, 10, 0), (140, 260, 0)):
        assert len(clearance_faults([placed(outline, x, y)], [outline], gap_mm=6.0, area=area)) == faulty
    bordered = np.zeros((100, 100), np.uint8)
    bordered[20:80, 20:80] = 255
    inner = outline_of(bordered, width_mm=50.0, height_mm=50.0)
    assert clearance_faults([placed(inner, 1.0, 1.0)], [inner], gap_mm=6.0, area=area) == ()


def test_a_long_sheet_in_little_memory() -> None:
    """70 copies over 5 m of 600 mm film: no more than 30 MiB; a whole sheet at 0.25 mm would be 48 MB a plane."""
    outlines = [outline_of(cv2.resize(blob(n), (1200, 1000)), width_mm=120.0, height_mm=100.0) for n in range(7)]
    placements = [placed(outlines[n % 7], 10 + n % 4 * 128.0, 10 + n // 4 * 106.0, copy=n) for n in range(70)]
    tracemalloc.start()
    faults = clearance_faults(placements, [outlines[n % 7] for n in range(70)], gap_mm=6.0, area=Area(10.0, 10.0, 590.0, 4990.0))
    assert faults == ()
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 30 * 2**20
