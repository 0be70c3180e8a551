"""Trim frames, judged by shapely: nowhere nearer to another copy than half a gap, and nothing left out that need not be."""

import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.marks.box import Box
from filmhand.marks.frames import frame_lines

AREA = Box(5.0, 5.0, 195.0, 295.0)
side = st.floats(3, 60)
boxes = st.builds(lambda x, y, w, h: Box(x, y, x + w, y + h), st.floats(5, 130), st.floats(5, 230), side, side)


def polygon(box: Box) -> shapely.Polygon:
    """As shapely has it."""
    return shapely.box(box.left, box.top, box.right, box.bottom)


@settings(max_examples=80, deadline=None)
@given(copies=st.lists(boxes, min_size=1, max_size=6), labels=st.lists(boxes, max_size=2), gap=st.floats(1, 12))
def test_frames_keep_away(copies: list[Box], labels: list[Box], gap: float) -> None:
    """Each line runs half a gap from a copy, keeps half a gap from all others, off labels, between the margins."""
    for line in map(polygon, frame_lines(copies, labels, gap_mm=gap, area=AREA)):
        near = [shapely.distance(line, polygon(copy)) for copy in copies]
        ring = [polygon(copy.grown(gap / 2)).exterior for copy in copies]
        own = [
            n
            for n, one in enumerate(ring)
            if shapely.hausdorff_distance(line, shapely.intersection(line, one.buffer(0.21))) < 1e-6
        ]
        assert any(all(away >= gap / 2 - 1e-5 for n, away in enumerate(near) if n != one) for one in own)
        assert all(shapely.distance(line, polygon(label)) >= 0.5 - 1e-5 for label in labels)
        assert polygon(AREA.grown(1e-5)).covers(line)


@settings(max_examples=50, deadline=None)
@given(copies=st.lists(boxes, min_size=1, max_size=5), gap=st.floats(1, 12))
def test_frames_are_whole_where_they_may_be(copies: list[Box], gap: float) -> None:
    """Every stretch of a frame's inner line over 2 mm long that lies free of others' reach and of the margins is drawn."""
    drawn = shapely.union_all([polygon(line) for line in frame_lines(copies, [], gap_mm=gap, area=AREA)])
    inside = polygon(AREA.grown(-0.2))
    for copy in copies:
        others = [polygon(one.grown(gap / 2 + 0.21)) for one in copies if one is not copy]
        line = polygon(copy.grown(gap / 2 - 0.1)).exterior
        free = shapely.difference(shapely.intersection(line, inside), shapely.union_all(others))
        for stretch in shapely.get_parts(shapely.line_merge(free)):
            for piece in zip(stretch.coords, stretch.coords[1:], strict=False):
                straight = shapely.LineString(piece)
                assert straight.length < 2 or drawn.buffer(1e-5).covers(straight.interpolate(0.5, normalized=True))


def test_one_copy_alone_has_a_whole_frame() -> None:
    """Four lines 0.2 mm thin, closed, as wide as box and gap together."""
    lines = shapely.union_all([polygon(line) for line in frame_lines([Box(50, 60, 90, 80)], [], gap_mm=6, area=AREA)])
    assert lines.bounds == (47, 57, 93, 83)
    wanted = shapely.difference(shapely.box(47, 57, 93, 83), shapely.box(47.2, 57.2, 92.8, 82.8))
    assert shapely.symmetric_difference(lines, wanted).area < 1e-9
