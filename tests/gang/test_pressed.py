"""Pressing a layout together: convex parts, small linear programmes, and pieces parted and moved up without losing the gap."""

from itertools import combinations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from layouts import blob
from scipy.optimize import linprog
from scipy.sparse import csr_matrix
from shapely import Polygon

from filmhand.gang.convex import convex_parts
from filmhand.gang.linear import Inequalities, least_cost
from filmhand.gang.outline import Outline, outline_of
from filmhand.gang.poses import Place, extent_mm, origin_of
from filmhand.gang.pressed import pressed
from filmhand.gang.turn import turned


def traced(seed: int, side_mm: float) -> Outline:
    """The outline of a random blob, its longer side of this length."""
    plane = blob(seed)
    width_mm = side_mm * min(1.0, plane.shape[1] / plane.shape[0])
    return outline_of(plane, width_mm=width_mm, height_mm=width_mm * plane.shape[0] / plane.shape[1])


def laid(outline: Outline, place: Place) -> Polygon:
    """The polygon of a laid outline."""
    return Polygon(turned(outline.ring(), place.rotation_deg) + origin_of(outline, place))


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 9999))
def test_convex_parts_fill_the_polygon(seed: int) -> None:
    """By shapely: each part is its own convex hull, they do not overlap, and together they are the polygon."""
    ring = traced(seed, 80.0).ring()
    parts = [Polygon(part) for part in convex_parts(ring)]
    whole = Polygon(ring)
    assert all(part.convex_hull.area == pytest.approx(part.area, rel=1e-6) for part in parts)
    assert sum(part.area for part in parts) == pytest.approx(whole.area, rel=1e-9)
    assert shapely.union_all(parts).symmetric_difference(whole).area < 1e-6 * whole.area
    assert len(parts) < len(ring) - 2


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 9999), st.integers(2, 12))
def test_the_least_cost_is_that_of_a_known_solver(seed: int, unknowns: int) -> None:
    """Random bounded programmes: the cost that scipy's HiGHS finds, and every row kept."""
    rng = np.random.default_rng(seed)
    count, width = 6 * unknowns, min(3, unknowns)
    columns = np.array([rng.choice(unknowns, width, replace=False) for _ in range(count)])
    coefficients, limits = rng.normal(size=(count, width)), rng.uniform(-0.5, 5.0, count)
    edges = np.concatenate([np.eye(unknowns), -np.eye(unknowns)])
    place = np.repeat(np.arange(unknowns)[None], 2, axis=0).ravel()
    padded = np.zeros((2 * unknowns, width))
    padded[:, 0] = edges[np.arange(2 * unknowns), place]
    rows = Inequalities(
        np.concatenate([columns, np.repeat(place[:, None], width, axis=1)]),
        np.concatenate([coefficients, padded]),
        np.concatenate([limits, np.full(2 * unknowns, 20.0)]),
    )
    cost = rng.normal(size=unknowns)
    at = np.repeat(np.arange(len(rows.limits)), width), rows.columns.ravel()
    matrix = csr_matrix((rows.coefficients.ravel(), at), shape=(len(rows.limits), unknowns))
    known = linprog(cost, A_ub=matrix, b_ub=rows.limits, bounds=(None, None), method="highs")
    found = least_cost(cost, rows)
    if known.status != 0:
        assert found is None
        return
    assert found is not None
    assert cost @ found == pytest.approx(known.fun, abs=1e-5)
    assert np.all(matrix @ found <= rows.limits + 1e-7)


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 999), st.floats(0, 8), st.sampled_from([0.0, 30.0, 90.0]))
def test_pressed_pieces_keep_the_gap_on_less_film(seed: int, gap_mm: float, rotation: float) -> None:
    """Blobs scattered loosely: the strip gets shorter, and by shapely no two are nearer than the gap or leave the strip."""
    outlines = [traced(seed + n, 60.0) for n in range(9)]
    places = [Place(100.0 * (n % 3), 100.0 * (n // 3), rotation) for n in range(9)]
    found = pressed(outlines, places, width_mm=300.0, gap_mm=gap_mm)
    assert found is not None
    shapes = [laid(outline, place) for outline, place in zip(outlines, found, strict=True)]
    assert min(one.distance(other) for one, other in combinations(shapes, 2)) >= gap_mm - 1e-3
    assert max(one.intersection(other).area for one, other in combinations(shapes, 2)) < 1e-3
    assert shapely.box(0, 0, 300, 1e4).buffer(1e-3).covers(shapely.union_all(shapes))
    before = max(extent_mm(outline, place) for outline, place in zip(outlines, places, strict=True))
    after = max(extent_mm(outline, place) for outline, place in zip(outlines, found, strict=True))
    assert after < before - 20.0


def test_pieces_that_overlap_are_parted() -> None:
    """Two squares of 50 mm, 4 mm over one another on a strip as wide as one: they end 100 mm and a gap down (plane geometry)."""
    square = Outline.box(50.0, 50.0)
    found = pressed([square, square], [Place(0.0, 0.0, 0.0), Place(0.0, 46.0, 0.0)], width_mm=50.0, gap_mm=3.0)
    assert found is not None
    assert max(extent_mm(square, place) for place in found) == pytest.approx(103.0, abs=1e-3)


def test_what_cannot_be_parted_is_said() -> None:
    """Two squares in one place."""
    square = Outline.box(50.0, 50.0)
    assert pressed([square] * 3, [Place(0.0, 0.0, 0.0)] * 3, width_mm=50.0, gap_mm=3.0) is None
