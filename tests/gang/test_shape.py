"""Shapes laid on the film: where their picture and their label then lie, against shapely's own turning."""

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import affinity

from filmhand.gang.outline import Outline
from filmhand.gang.shape import Rect, Shape, picture_placed
from filmhand.gang.sheet import Placement
from filmhand.gang.turn import turned_box


@given(
    st.tuples(*[st.floats(0, 40)] * 2),
    st.tuples(*[st.floats(5, 90)] * 2),
    st.sampled_from([0.0, 90.0, 180.0, 270.0, 33.0, 210.5]),
    st.tuples(*[st.floats(0, 500)] * 2),
)
def test_a_picture_lies_in_its_laid_shape_where_turning_takes_it(
    corner: tuple[float, float], size: tuple[float, float], angle: float, place: tuple[float, float]
) -> None:
    """The upright box around the picture, turned with the whole; counter-clockwise as seen is clockwise where y grows down."""
    outline = Outline.box(corner[0] + size[0] + 3, corner[1] + size[1] + 2)
    rect = Rect(*corner, *size)
    width, height = turned_box(outline.width_mm, outline.height_mm, angle)[2:]
    laid = picture_placed(Shape(outline, rect, rect, 90.0), Placement("j", 2, *place, width, height, angle, part=1))
    whole = affinity.rotate(shapely.box(0, 0, outline.width_mm, outline.height_mm), -angle, origin=(0, 0))
    inner = affinity.rotate(shapely.box(corner[0], corner[1], corner[0] + size[0], corner[1] + size[1]), -angle, origin=(0, 0))
    shift = place[0] - whole.bounds[0], place[1] - whole.bounds[1]
    left, top, right, bottom = affinity.translate(inner, *shift).bounds
    expected = (left, top, right - left, bottom - top)
    assert (laid.x_mm, laid.y_mm, laid.width_mm, laid.height_mm) == pytest.approx(expected, abs=1e-6)
    assert (laid.job, laid.copy, laid.part, laid.rotation_deg) == ("j", 2, 1, angle)
    assert laid.label is not None
    assert (laid.label.x_mm, laid.label.y_mm, laid.label.rotation_deg) == pytest.approx((left, top, (angle + 90) % 360), abs=1e-6)


def test_a_picture_alone_is_its_shape() -> None:
    """Nothing beside it: the placement stays as it is."""
    placement = Placement("j", 1, 3.0, 4.0, 60.0, 50.0, 0.0)
    assert picture_placed(Shape.plain(Outline.box(60.0, 50.0)), placement) == placement
