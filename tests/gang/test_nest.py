"""Nesting: copies lie where their pictures will be printed, apart by the gap, on less film than boxes would take."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from layouts import blob, flag, items_of, nearest_two, painted
from shapely import Polygon

from filmhand.errors import SettingsError
from filmhand.gang.layout_key import layout_key
from filmhand.gang.nest import nest, nest_boxes
from filmhand.gang.outline import Outline
from filmhand.gang.sheet import Placement
from filmhand.gang.turn import turned, turned_box
from filmhand.rules import GangRules, Nest

PX_MM = 0.25


def laid_polygon(outline: Outline, placement: Placement) -> Polygon:
    """The outline where a placement lays it."""
    left, top, _, _ = turned_box(outline.width_mm, outline.height_mm, placement.rotation_deg)
    ring = turned(outline.ring(), placement.rotation_deg)
    return Polygon(ring + np.array([placement.x_mm - left, placement.y_mm - top]))


@pytest.mark.parametrize(
    ("quarter", "nesting"), [(0, Nest.BOX), (90, Nest.BOX), (180, Nest.BOX), (90, Nest.OUTLINE), (270, Nest.OUTLINE)]
)
def test_a_turned_picture_lies_where_its_outline_was_laid(quarter: int, nesting: Nest) -> None:
    """A picture without symmetry, turned by numpy.rot90 and pasted at the placement's box, is covered by the turned outline."""
    pictures = {"flag": np.fliplr(flag())}
    items = items_of(pictures, width_mm=100.0, copies=3)
    rules = GangRules(nest=nesting, seconds=1, rotate=(quarter,), gap="4 mm")
    layout = nest(items, width_mm=150.0, rules=rules, seed=3)
    sheet = painted(layout.placements, pictures, size_mm=(150.0, layout.length_mm + 1), px_mm=PX_MM)
    assert layout.note == ""
    assert {one.rotation_deg for one in layout.placements} == {quarter}
    for number, (item, placement) in enumerate(zip(items, layout.placements, strict=True), 1):
        rows, columns = np.nonzero(sheet == number)
        art_px = np.count_nonzero(pictures["flag"]) / PX_MM**2
        assert len(rows) == pytest.approx(art_px, rel=0.02)
        around = laid_polygon(item.outline, placement).buffer(PX_MM)
        shapely.prepare(around)
        assert shapely.contains_xy(around, (columns + 0.5) * PX_MM, (rows + 0.5) * PX_MM).all()


def test_painted_copies_keep_the_gap() -> None:
    """On the painted sheet (numpy, OpenCV) no two copies are nearer than the gap less two pixels (scipy's distance transform)."""
    gap = 3.0
    pictures = {f"blob{n}": blob(n) for n in range(4)} | {"flag": flag()}
    items = items_of(pictures, width_mm=70.0, copies=2)
    layout = nest(items, width_mm=200.0, rules=GangRules(seconds=1, gap=f"{gap} mm"), seed=1)
    sheet = painted(layout.placements, pictures, size_mm=(200.0, layout.length_mm + 1), px_mm=PX_MM)
    assert layout.note == ""
    assert sheet.min() == 0
    assert len(np.unique(sheet)) == len(items) + 1
    assert nearest_two(sheet, px_mm=PX_MM) >= gap - 2 * PX_MM


def test_outlines_take_less_film_than_boxes() -> None:
    """Triangles nest point to base: at most 85 % of the film that their boxes take."""
    plane = np.tril(np.ones((200, 200), np.uint8))
    items = items_of({"triangle": plane}, width_mm=80.0, copies=12)
    rules = GangRules(seconds=1, gap="2 mm")
    outline = nest(items, width_mm=300.0, rules=rules, seed=1)
    assert outline.length_mm <= 0.85 * nest_boxes(items, width_mm=300.0, rules=rules, seed=1).length_mm
    assert outline.note == ""


def test_art_may_touch_the_margin_line() -> None:
    """The gap is kept between copies, not to the strip's edges: two copies and one gap fill a strip exactly."""
    items = items_of({"disc": blob(1)}, width_mm=60.0, copies=4)
    width = 2 * 60.0 + 5.0
    layout = nest(items, width_mm=width, rules=GangRules(seconds=1, gap="5 mm", rotate=(0,)), seed=1)
    boxes = [laid_polygon(item.outline, one).bounds for item, one in zip(items, layout.placements, strict=True)]
    assert min(box[0] for box in boxes) >= -1e-6
    assert max(box[2] for box in boxes) <= width + 1e-6
    assert min(box[1] for box in boxes) == pytest.approx(0.0, abs=1e-6)
    assert max(box[3] for box in boxes) == pytest.approx(layout.length_mm)
    assert layout.length_mm <= 2 * items[0].outline.height_mm + 5.0 + 1e-6


def test_an_item_as_wide_as_the_strip_is_laid() -> None:
    """A picture of exactly the printable width has its place."""
    items = items_of({"wide": blob(3), "small": blob(4)}, width_mm=120.0, copies=1)
    layout = nest(items, width_mm=120.0, rules=GangRules(seconds=1, rotate=(0, 180)), seed=1)
    assert len(layout.placements) == 2


def test_boxes_when_the_rule_says_so() -> None:
    """`nest = "box"` keeps boxes apart: no box of one copy comes into another's."""
    items = items_of({"flag": flag()}, width_mm=90.0, copies=6)
    layout = nest(items, width_mm=200.0, rules=GangRules(nest=Nest.BOX, gap="6 mm"), seed=1)
    boxes = [shapely.box(one.x_mm, one.y_mm, one.x_mm + one.width_mm, one.y_mm + one.height_mm) for one in layout.placements]
    assert all(one.distance(other) >= 6 - 1e-6 for i, one in enumerate(boxes) for other in boxes[:i])


def test_an_item_too_large_is_refused_with_what_to_do() -> None:
    """The operator's settings no longer fit what was ordered: said with the next step."""
    items = items_of({"wide": flag()}, width_mm=400.0, copies=1)
    with pytest.raises(SettingsError, match="too large"):
        nest(items, width_mm=200.0, rules=GangRules(), seed=1)


def test_the_key_of_a_layout_tells_what_decides_it() -> None:
    """The same work has the same key; with another item, width, seed or rule that matters it has another."""
    items = items_of({"flag": flag(), "blob": blob(1)}, width_mm=60.0, copies=2)
    rules = GangRules(gap="4 mm")
    key = layout_key(items, width_mm=200.0, rules=rules, seed=1)
    again = items_of({"flag": flag(), "blob": blob(1)}, width_mm=60.0, copies=2)
    assert layout_key(again, width_mm=200.0, rules=GangRules(gap="4 mm", labels=True), seed=1) == key
    others = [
        layout_key(items[1:], width_mm=200.0, rules=rules, seed=1),
        layout_key([*items[1:], items[0]], width_mm=200.0, rules=rules, seed=1),
        layout_key([replace(items[0], part=1), *items[1:]], width_mm=200.0, rules=rules, seed=1),
        layout_key([replace(items[0], outline=items[0].outline.mirrored()), *items[1:]], width_mm=200.0, rules=rules, seed=1),
        layout_key(items, width_mm=201.0, rules=rules, seed=1),
        layout_key(items, width_mm=200.0, rules=rules, seed=2),
        *(
            layout_key(items, width_mm=200.0, rules=rules.model_copy(update=change), seed=1)
            for change in (
                {"gap": 5.0},
                {"rotate": (0,)},
                {"nest": Nest.BOX},
                {"inside": False},
                {"seconds": 1},
                {"max_length": 900},
            )
        ),
    ]
    assert len({key, *others}) == len(others) + 1
