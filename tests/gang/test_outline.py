"""Outlines: they hold every covered pixel, keep bays, join parts, and survive JSON and mirroring."""

import time
from pathlib import Path

import cv2
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import Polygon

from filmhand.gang.outline import Outline, outline_of

Coverage = NDArray[np.uint8]


def pixel_corners(coverage: Coverage, *, width_mm: float, height_mm: float) -> NDArray[np.float64]:
    """All four corners of every covered pixel, in mm of the picture's box."""
    rows, columns = np.nonzero(coverage)
    pitch = np.array([width_mm / coverage.shape[1], height_mm / coverage.shape[0]])
    return np.concatenate([np.stack([columns + dx, rows + dy], axis=1) * pitch for dx in (0, 1) for dy in (0, 1)])


def held(outline: Outline, coverage: Coverage) -> bool:
    """Whether the polygon covers every covered pixel, to a millionth of a millimetre."""
    around = Polygon(outline.points).buffer(1e-6)
    shapely.prepare(around)
    corners = pixel_corners(coverage, width_mm=outline.width_mm, height_mm=outline.height_mm)
    return bool(shapely.intersects_xy(around, corners).all())


@st.composite
def pictures(draw: st.DrawFn) -> Coverage:
    """Coverage planes of blobs, rings, hairlines and specks."""
    height, width = draw(st.integers(8, 200)), draw(st.integers(8, 200))
    plane = np.zeros((height, width), np.uint8)
    plane[height // 2, width // 2] = 1
    rng = np.random.default_rng(draw(st.integers(0, 2**32)))
    for _ in range(draw(st.integers(1, 6))):
        centre = (int(rng.integers(width)), int(rng.integers(height)))
        kind, size = draw(st.sampled_from(["blob", "ring", "hair", "speck"])), int(rng.integers(2, 60))
        if kind == "blob":
            cv2.ellipse(plane, centre, (size, max(1, size // 3)), float(rng.integers(180)), 0, 360, 255, -1)
        elif kind == "ring":
            cv2.circle(plane, centre, size, 120, 1)
        elif kind == "hair":
            cv2.line(plane, centre, (int(rng.integers(width)), int(rng.integers(height))), 1, 1)
        else:
            plane[centre[1], centre[0]] = 1
    return plane


@settings(max_examples=25, deadline=None)
@given(pictures(), st.floats(5, 120))
def test_every_covered_pixel_is_held(coverage: Coverage, width_mm: float) -> None:
    """Whatever the art: one valid polygon inside the picture's box, with every pixel above 0 in it."""
    height_mm = width_mm * coverage.shape[0] / coverage.shape[1]
    outline = outline_of(coverage, width_mm=width_mm, height_mm=height_mm)
    polygon = Polygon(outline.points)
    assert polygon.is_valid
    assert shapely.box(0, 0, width_mm, height_mm).buffer(1e-6).covers(polygon)
    assert held(outline, coverage)


@settings(max_examples=12, deadline=None)
@given(pictures())
def test_every_covered_pixel_lies_in_a_set_cell(coverage: Coverage) -> None:
    """The mask that layouts are checked on holds every covered pixel too, and lies in the polygon."""
    outline = outline_of(coverage, width_mm=90.0, height_mm=70.0)
    mask = outline.cells.mask()
    rows, columns = np.nonzero(coverage)
    # The centre of a pixel must fall into a set cell.
    at = (
        ((rows + 0.5) / coverage.shape[0] * mask.shape[0]).astype(int),
        ((columns + 0.5) / coverage.shape[1] * mask.shape[1]).astype(int),
    )
    assert mask[at].all()
    assert held(outline, mask.astype(np.uint8))


def test_a_disc_is_held_tightly() -> None:
    """The area of a disc's outline is pi·r² (plane geometry) plus at most 2 %, in at most 60 corners."""
    plane = np.zeros((1200, 1200), np.uint8)
    cv2.circle(plane, (600, 600), 590, 255, -1)
    outline = outline_of(plane, width_mm=120.0, height_mm=120.0)
    assert len(outline.points) <= 60
    assert np.pi * 59**2 <= Polygon(outline.points).area <= 1.02 * np.pi * 59**2


def test_a_wide_bay_stays_open() -> None:
    """A letter L of 100 mm keeps its corner free: the outline's area is the letter's, within 3 %, not its box's."""
    plane = np.zeros((400, 400), np.uint8)
    plane[:, :80] = 255
    plane[320:, :] = 255
    outline = outline_of(plane, width_mm=100.0, height_mm=100.0)
    letter_mm2 = 20 * 100 + 80 * 20
    assert letter_mm2 <= Polygon(outline.points).area <= 1.03 * letter_mm2


def test_separate_parts_become_one_piece() -> None:
    """Two squares 40 mm apart are tied by a thin bridge: little area is added, and it is one polygon."""
    plane = np.zeros((100, 600), np.uint8)
    plane[:, :100] = 255
    plane[:, 500:] = 255
    outline = outline_of(plane, width_mm=60.0, height_mm=10.0)
    assert 200 <= Polygon(outline.points).area <= 200 + 40 * 1.0
    assert held(outline, plane)


def test_parts_that_leave_no_room_between_them_merge() -> None:
    """Dots 2 mm apart have the outline of the block they make."""
    plane = np.zeros((500, 500), np.uint8)
    plane[::20, ::20] = 255
    outline = outline_of(plane, width_mm=50.0, height_mm=50.0)
    assert Polygon(outline.points).area > 0.9 * 48**2


def test_what_lies_in_a_hole_belongs_to_the_piece() -> None:
    """A disc inside a ring needs no bridge: the outline is the ring's outer edge."""
    plane = np.zeros((800, 800), np.uint8)
    cv2.circle(plane, (400, 400), 390, 255, 10)
    cv2.circle(plane, (400, 400), 60, 255, -1)
    outline = outline_of(plane, width_mm=80.0, height_mm=80.0)
    assert Polygon(outline.points).area == pytest.approx(np.pi * 39.5**2, rel=0.02)


def test_low_resolution_art_keeps_room_for_interpolation() -> None:
    """Composing interpolates between pixel centres, so film may reach half a pixel past a covered pixel: that is held too."""
    plane = np.zeros((20, 20), np.uint8)
    plane[8:12, 8:12] = 255
    outline = outline_of(plane, width_mm=100.0, height_mm=100.0)
    assert Polygon(outline.points).buffer(1e-6).covers(shapely.box(37.5, 37.5, 62.5, 62.5))


def test_mirroring_mirrors_polygon_and_cells() -> None:
    """The mirrored outline is the outline of the mirrored picture's pixels (numpy.fliplr)."""
    plane = np.zeros((200, 300), np.uint8)
    plane[20:60, 5:290] = 255
    plane[60:190, 5:40] = 255
    mirrored = outline_of(plane, width_mm=75.0, height_mm=50.0).mirrored()
    assert held(mirrored, np.fliplr(plane))
    assert not held(mirrored, plane)
    np.testing.assert_array_equal(mirrored.cells.mask(), outline_of(np.fliplr(plane), width_mm=75.0, height_mm=50.0).cells.mask())


def test_json_and_back() -> None:
    """Nothing is lost on the way through JSON values."""
    plane = np.zeros((50, 80), np.uint8)
    cv2.circle(plane, (40, 25), 20, 255, -1)
    outline = outline_of(plane, width_mm=80.0, height_mm=50.0)
    assert Outline.from_json(outline.to_json()) == outline


def test_a_box_is_its_own_outline() -> None:
    """The plain alternative takes up the whole box."""
    box = Outline.box(30.0, 20.0)
    assert Polygon(box.points).equals(shapely.box(0, 0, 30, 20))
    assert box.cells.mask().all()
    assert box.taken_mm2(2.0) == pytest.approx(600 + 100 + np.pi)  # Steiner: area + perimeter·r + pi·r², r = 1


def test_nothing_covered_has_no_outline() -> None:
    """Such artwork is preflight's to find."""
    with pytest.raises(ValueError, match="nothing"):
        outline_of(np.zeros((10, 10), np.uint8), width_mm=10.0, height_mm=10.0)


def test_a_large_mapped_plane_in_one_quick_pass(tmp_path: Path) -> None:
    """30 Mpx, memory-mapped: read-only, and within two seconds."""
    plane = np.lib.format.open_memmap(tmp_path / "coverage.npy", "w+", np.uint8, (6000, 5000))
    cv2.ellipse(plane, (2500, 3000), (2400, 2900), 20, 0, 300, 255, -1)
    plane.flush()
    mapped = np.load(tmp_path / "coverage.npy", mmap_mode="r")
    outline_of(mapped[:100, 2400:2500] | 1, width_mm=10.0, height_mm=10.0)  # kernels compiled
    start = time.perf_counter()
    outline = outline_of(mapped, width_mm=280.0, height_mm=336.0)
    assert time.perf_counter() - start < 2.0
    assert len(outline.points) <= 60
