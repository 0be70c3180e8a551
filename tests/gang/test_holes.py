"""Copies inside the holes of others: rings and frames take small art, the gap is kept, and the film gets shorter."""

import cv2
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from layouts import blob, disc, nearest_two, painted
from numpy.typing import NDArray
from shapely import Polygon

from filmhand.gang.clearance import Area, clearance_faults
from filmhand.gang.holes import guests_in
from filmhand.gang.nest import Item, nest
from filmhand.gang.outline import Outline, outline_of
from filmhand.rules import GangRules

PX_MM = 0.25


def ring(*, inner_share: float = 0.75) -> NDArray[np.uint8]:
    """A ring that fills its picture, 800×800 uint8."""
    y, x = np.mgrid[:800, :800] - 399.5
    radius = np.hypot(x, y)
    return ((radius <= 400) & (radius >= 400 * inner_share)).astype(np.uint8) * 255


def frame(*, inner_share: float = 0.8) -> NDArray[np.uint8]:
    """A square frame, 800×800 uint8."""
    plane = np.full((800, 800), 255, np.uint8)
    edge = round(400 * (1 - inner_share))
    plane[edge:-edge, edge:-edge] = 0
    return plane


def outlined(plane: NDArray[np.uint8], width_mm: float) -> Outline:
    """A picture's outline at a width."""
    return outline_of(plane, width_mm=width_mm, height_mm=width_mm * plane.shape[0] / plane.shape[1])


def test_a_ring_has_one_hole() -> None:
    """The hole's polygon lies in the bare disc and has its area (plane geometry) but for 3 %."""
    outline = outlined(ring(), 200.0)
    (hole,) = outline.holes
    polygon = Polygon(hole)
    assert polygon.is_valid
    assert shapely.Point(100, 100).buffer(75.0, quad_segs=64).covers(polygon)
    assert polygon.area >= 0.97 * np.pi * 75.0**2


def test_art_in_a_hole_is_cut_out_of_it() -> None:
    """A disc in a ring's middle: the hole is the band between the two, as one simple polygon."""
    plane = ring()
    cv2.circle(plane, (400, 400), 80, 255, -1)
    (hole,) = outlined(plane, 200.0).holes
    polygon = Polygon(hole)
    assert polygon.is_valid
    assert polygon.intersection(shapely.Point(100, 100).buffer(20.0)).area == pytest.approx(0.0, abs=1e-6)
    assert polygon.area == pytest.approx(np.pi * (75.0**2 - 20.0**2), rel=0.04)


@pytest.mark.parametrize("plane", [disc(), blob(3), ring(inner_share=0.05)])
def test_no_hole_where_there_is_none(plane: NDArray[np.uint8]) -> None:
    """Neither solid art nor a pinhole has room for other art."""
    assert outlined(plane, 200.0).holes == ()


def test_a_wide_opening_is_no_hole_and_a_slit_is() -> None:
    """A horseshoe's inside is reached from outside; a ring with a cut of 2 mm is still a ring."""
    open_ring, slit_ring = ring(), ring()
    open_ring[400:, 300:500] = 0
    slit_ring[400:, 396:404] = 0
    assert outlined(open_ring, 200.0).holes == ()
    assert len(outlined(slit_ring, 200.0).holes) == 1


def test_holes_survive_json_and_mirroring() -> None:
    """As they were through JSON; a document without holes is read as having none; mirrored twice they lie where they lay."""
    plane = ring()
    plane[:, 600:] = 255
    outline = outlined(plane, 120.0)
    values = outline.to_json()
    assert Outline.from_json(values) == outline
    del values["holes"]
    assert Outline.from_json(values).holes == ()
    mirrored = outline.mirrored()
    assert Polygon(mirrored.holes[0]).centroid.x == pytest.approx(120.0 - Polygon(outline.holes[0]).centroid.x)
    assert np.allclose(mirrored.mirrored().holes[0], outline.holes[0])


def test_a_ring_takes_a_disc_and_the_film_gets_shorter() -> None:
    """On a strip as wide as the ring, two rings and two discs are as long as two rings and one gap (plane geometry)."""
    large, small = outlined(ring(), 200.0), outlined(disc(), 130.0)
    items = [Item("ring", n, large) for n in (1, 2)] + [Item("disc", n, small) for n in (1, 2)]
    rules = GangRules(seconds=1, gap="6 mm")
    layout = nest(items, width_mm=200.0, rules=rules, seed=1)
    apart = nest(items, width_mm=200.0, rules=rules.model_copy(update={"inside": False}), seed=1)
    assert layout.length_mm == pytest.approx(406.0, abs=1.0)
    assert apart.length_mm > 600.0


def test_what_does_not_fit_is_laid_outside() -> None:
    """A disc of 139 mm in a hole of 150 mm: 5.5 mm are left around it."""
    large, small = outlined(ring(), 200.0), outlined(disc(), 139.0)
    assert guests_in([large, small], rules=GangRules(gap="6 mm")) == {}
    assert set(guests_in([large, small], rules=GangRules(gap="3 mm"))) == {0}


def test_several_copies_share_a_hole_and_a_filled_ring_may_be_a_guest() -> None:
    """Nine squares go into a frame; a ring with a disc in it goes into a larger frame."""
    big, square = outlined(frame(), 250.0), outlined(np.full((100, 100), 255, np.uint8), 60.0)
    guests = guests_in([big] + [square] * 12, rules=GangRules(gap="4 mm"))
    assert len(guests[0]) == 9
    deep = guests_in([outlined(frame(), 300.0), outlined(ring(), 150.0), outlined(disc(), 80.0)], rules=GangRules())
    assert {host: [guest.index for guest in laid] for host, laid in deep.items()} == {0: [1], 1: [2]}


@pytest.mark.parametrize(
    ("rotate", "turns"), [((0,), {0}), ((0, 180), {0, 180}), ((0, 90), {0}), (tuple(range(0, 360, 15)), set(range(0, 360, 15)))]
)
def test_guests_turn_only_as_the_rule_allows(rotate: tuple[float, ...], turns: set[float]) -> None:
    """Whatever way the host is laid, its guests lie at allowed rotations."""
    bar = outlined(np.full((40, 200), 255, np.uint8), 100.0)
    guests = guests_in([outlined(ring(), 200.0)] + [bar] * 6, rules=GangRules(rotate=rotate))
    assert guests
    assert {guest.rotation_deg for guest in guests[0]} <= turns
    layout = nest(
        [Item("ring", 1, outlined(ring(), 200.0))] + [Item("bar", n, bar) for n in range(6)],
        width_mm=230.0,
        rules=GangRules(rotate=rotate, seconds=1),
        seed=1,
    )
    assert {one.rotation_deg for one in layout.placements} <= set(map(float, rotate))
    assert layout.note == ""


@st.composite
def mixed(draw: st.DrawFn) -> dict[str, tuple[NDArray[np.uint8], float]]:
    """Rings, frames, hairline rings and blobs, each with its width in mm."""
    pictures = {f"blob{n}": (blob(draw(st.integers(0, 999))), draw(st.floats(15, 60))) for n in range(draw(st.integers(1, 4)))}
    for n in range(draw(st.integers(1, 2))):
        plane = draw(st.sampled_from([ring, frame]))(inner_share=draw(st.floats(0.6, 0.98)))
        if draw(st.booleans()):
            cv2.line(plane, (400, 10), (draw(st.integers(0, 799)), 790), 255, 2)
        pictures[f"host{n}"] = (plane, draw(st.floats(80, 180)))
    return pictures


@pytest.mark.slow
@settings(max_examples=10, deadline=None)
@given(mixed(), st.floats(1, 8), st.booleans())
def test_inside_and_outside_the_gap_is_kept(
    pictures: dict[str, tuple[NDArray[np.uint8], float]], gap_mm: float, mirrored: bool
) -> None:
    """Painted by numpy and OpenCV, measured by scipy: no two copies nearer than the gap less two pixels; the check agrees."""
    planes = {job: np.ascontiguousarray(np.fliplr(plane)) if mirrored else plane for job, (plane, _) in pictures.items()}
    outlines = {job: outlined(plane, width) for job, (plane, width) in pictures.items()}
    items = [Item(job, n, outline.mirrored() if mirrored else outline) for job, outline in outlines.items() for n in (1, 2)]
    rules = GangRules(gap=f"{gap_mm} mm", seconds=1)
    layout = nest(items, width_mm=200.0, rules=rules, seed=1)
    assert layout.note == ""
    area = Area(0.0, 0.0, 200.0, layout.length_mm)
    assert clearance_faults(layout.placements, [item.outline for item in items], gap_mm=gap_mm, area=area) == ()
    sheet = painted(layout.placements, planes, size_mm=(200.0, layout.length_mm + 1), px_mm=PX_MM)
    assert sheet.min() == 0
    assert nearest_two(sheet, px_mm=PX_MM) >= gap_mm - 2 * PX_MM
