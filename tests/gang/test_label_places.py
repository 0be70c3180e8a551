"""A place for each label: half a gap from the copy's film, where it takes the least film, and never inside the design."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from layouts import blob, disc, flag
from numpy.typing import NDArray
from scipy import ndimage
from shapely import Polygon

from filmhand import units
from filmhand.gang.labelled import LABEL_MM, Room, labelled
from filmhand.gang.nest import Item, nest
from filmhand.gang.outline import Outline, outline_of
from filmhand.gang.shape import Rect, Shape, picture_placed
from filmhand.gang.sheet import Placement, Sheet
from filmhand.gang.turn import turned, turned_box
from filmhand.marks.mark import Mark
from filmhand.marks.sheet_marks import LabelFacts, marks_for
from filmhand.rules import GangRules, Nest, Printer

DPI = 300


def ring() -> NDArray[np.uint8]:
    """A ring that fills its picture."""
    y, x = np.mgrid[:200, :200] - 99.5
    return (((x**2 + y**2 <= 100**2) & (x**2 + y**2 > 70**2)) * 255).astype(np.uint8)


def two_lines() -> NDArray[np.uint8]:
    """Two lines of a text, a third of the height apart."""
    plane = np.zeros((90, 150), np.uint8)
    plane[:30] = plane[60:, 30:120] = 255
    return plane


def corner() -> NDArray[np.uint8]:
    """An L."""
    plane = np.zeros((100, 100), np.uint8)
    plane[:, :25] = plane[75:] = 255
    return plane


PICTURES = {
    "disc": disc(),
    "ring": ring(),
    "flag": flag(),
    "lines": two_lines(),
    "corner": corner(),
    "box": np.full((9, 9), 255, np.uint8),
}
PICTURES |= {"hairline": np.full((90, 1), 255, np.uint8), "blob": blob(5), "star": blob(2)}


def outline(name: str, *, width_mm: float) -> Outline:
    """The outline of one of PICTURES."""
    plane = PICTURES[name]
    return outline_of(plane, width_mm=width_mm, height_mm=width_mm * plane.shape[0] / plane.shape[1])


def box(rect: Rect) -> Polygon:
    """As shapely has it."""
    return shapely.box(rect.left, rect.top, rect.left + rect.width, rect.top + rect.height)


def corner_of(shape: Shape) -> NDArray[np.float64]:
    """Where the picture begins in the shape."""
    return np.array([shape.picture.left, shape.picture.top])


def film(own: Outline, shape: Shape) -> NDArray[np.object_]:
    """The film of the picture where it lies in the shape, one shapely box a cell."""
    rows, columns = np.nonzero(own.cells.mask())
    width, height = own.width_mm / own.cells.columns, own.height_mm / own.cells.rows
    left, top = shape.picture.left + columns * width, shape.picture.top + rows * height
    return np.asarray(shapely.box(left, top, left + width, top + height))


outlines = st.builds(
    lambda name, width: outline(name, width_mm=width if name != "hairline" else 0.3),
    st.sampled_from(sorted(PICTURES)),
    st.floats(8, 260),
)


@settings(max_examples=30, deadline=None)
@given(own=outlines, gap=st.floats(0, 40), nesting=st.sampled_from(Nest), slanting=st.booleans())
def test_labels_keep_half_a_gap(own: Outline, gap: float, nesting: Nest, slanting: bool) -> None:
    """By shapely: half a gap from the copy's film; what keeps a gap from the nested polygon keeps half of it from the label.

    The polygon is simple, holds the copy's own, and at its quarter turns no label reaches out of its box.
    """
    shape = labelled(own, gap_mm=gap, nest=nesting, slanting=slanting)
    label, polygon = box(shape.label), Polygon(shape.outline.ring())
    assert shapely.distance(label, film(own, shape)).min() >= gap / 2 - 1e-6
    assert polygon.is_valid
    assert polygon.buffer(1e-6).covers(Polygon(own.ring() + corner_of(shape)))
    corners = shapely.points(shapely.get_coordinates(label))
    assert shapely.distance(polygon, corners).max() <= gap / 2 + 1e-6
    assert shapely.box(*polygon.bounds).buffer(1e-6).covers(label)
    assert not slanting or polygon.buffer(1e-6).covers(label)
    assert (
        shapely.box(0, 0, shape.outline.width_mm, shape.outline.height_mm)
        .buffer(1e-6)
        .covers(shapely.union(label, box(shape.picture)))
    )
    assert {shape.label.width, shape.label.height} == set(LABEL_MM)
    assert (shape.label.width < shape.label.height) == (shape.label_rotation_deg == 90)


@settings(max_examples=12, deadline=None)
@given(own=outlines)
def test_cells_have_film_and_label(own: Outline) -> None:
    """The cells of the shape are those of the picture and of what is reserved, and all lie in the nested polygon."""
    shape = labelled(own, gap_mm=6.0)
    mask = shape.outline.cells.mask()
    width, height = shape.outline.width_mm / mask.shape[1], shape.outline.height_mm / mask.shape[0]
    rows, columns = np.nonzero(mask)
    centres = shapely.points((columns + 0.5) * width, (rows + 0.5) * height)
    polygon = Polygon(shape.outline.ring()).buffer(1e-6)
    shapely.prepare(polygon)
    assert shapely.covers(polygon, centres).all()
    top, left = round(shape.picture.top / height), round(shape.picture.left / width)
    part = mask[top : top + own.cells.rows, left : left + own.cells.columns]
    assert (part | ~own.cells.mask()).all()
    free = ~shapely.intersects(box(shape.label).buffer(max(width, height)), centres)
    assert np.count_nonzero(free) == np.count_nonzero(own.cells.mask())


@pytest.mark.parametrize(("name", "width_mm"), [("ring", 250), ("lines", 200), ("corner", 150), ("disc", 280)])
def test_labels_lie_outside_the_design_as_scissors_cut_it(name: str, width_mm: float) -> None:
    """Not in a ring's hole, between two lines of a text, or in the bay of an L, however much room there is: shapely's hull."""
    laid = outline(name, width_mm=width_mm)
    shape = labelled(laid, gap_mm=6)
    hull = Polygon(laid.ring() + corner_of(shape)).convex_hull
    assert shapely.intersection(hull, box(shape.label)).area < 0.5 * LABEL_MM[0]  # rounding to the grid of 0.5 mm


def test_a_round_design_has_its_label_in_a_corner() -> None:
    """Of its box, which does not grow."""
    shape = labelled(outline("disc", width_mm=280), gap_mm=6)
    assert box(shape.picture).buffer(3).covers(box(shape.label))
    assert shape.outline.width_mm + shape.outline.height_mm < 570


@pytest.mark.parametrize(("width", "height"), [(200.0, 80.0), (80.0, 200.0), (60.0, 60.0), (12.0, 12.0)])
def test_a_box_grows_by_the_least_area(width: float, height: float) -> None:
    """Nested by boxes: the box of both is the smallest that a label beside it in any of the four ways gives, within the grid."""
    shape = labelled(Outline.box(width, height), gap_mm=6, nest=Nest.BOX)
    ways = [(max(width, w), height + 3 + h) for w, h in (LABEL_MM, LABEL_MM[::-1])]
    ways += [(width + 3 + w, max(height, h)) for w, h in (LABEL_MM, LABEL_MM[::-1])]
    least = min(ways, key=lambda way: way[0] * way[1])
    assert shape.outline.width_mm * shape.outline.height_mm >= least[0] * least[1] - 1e-6
    assert shape.outline.width_mm * shape.outline.height_mm <= (least[0] + 1.3) * (least[1] + 1.3)


@pytest.mark.parametrize(
    ("room", "has_label"),
    [
        (Room(210.0, 1000.0, turns=False), True),  # below it
        (Room(202.0, 1000.0, turns=False), True),
        (Room(1000.0, 85.0, turns=False), True),  # beside it
        (Room(210.0, 85.0, turns=False), False),  # neither
        (Room(85.0, 1000.0, turns=True), True),  # turned, beside it
        (Room(85.0, 1000.0, turns=False), False),
    ],
)
@pytest.mark.parametrize("nest", list(Nest))
def test_a_label_goes_where_the_strip_has_room(room: Room, has_label: bool, nest: Nest) -> None:
    """A print of 200 × 80 mm on strips that take a label on some sides only; where on none, the print goes without."""
    shape = labelled(Outline.box(200.0, 80.0), gap_mm=6, nest=nest, room=room)
    assert (shape.label is not None) is has_label
    if has_label:
        sides = (shape.outline.width_mm, shape.outline.height_mm)
        assert any(a <= room.width_mm and b <= room.length_mm for a, b in (sides, sides[::-1] if room.turns else sides))


def test_holes_stay_free_for_other_art() -> None:
    """The holes of the outline move with the picture."""
    own = outline("ring", width_mm=150)
    shape = labelled(own, gap_mm=6)
    assert len(shape.outline.holes) == len(own.holes) == 1
    moved = np.array(shape.outline.holes[0]) - np.array(own.holes[0])
    assert np.allclose(moved, corner_of(shape))


def painted(copies: tuple[Placement, ...], shapes: dict[str, Outline], size: tuple[int, int]) -> NDArray[np.bool_]:
    """All copies' film on the sheet in dots, from their cells, each dot by the point under its centre."""
    ys, xs = np.mgrid[: size[1], : size[0]]
    points = units.px_to_mm(1, DPI) * (np.stack([xs, ys], axis=-1).reshape(-1, 2) + 0.5)
    sheet = np.zeros(len(points), np.bool_)
    for copy in copies:
        own = shapes[copy.job]
        left, top, _, _ = turned_box(own.width_mm, own.height_mm, copy.rotation_deg)
        local = turned(points - (copy.x_mm - left, copy.y_mm - top), -copy.rotation_deg)
        place = np.floor(local / (own.width_mm / own.cells.columns, own.height_mm / own.cells.rows)).astype(int)
        inside = np.all((place >= 0) & (place < (own.cells.columns, own.cells.rows)), axis=1)
        sheet[inside] |= own.cells.mask()[place[inside, 1], place[inside, 0]]
    return sheet.reshape(size[1], size[0])


def stamped(marks: tuple[Mark, ...], size: tuple[int, int]) -> NDArray[np.int64]:
    """How many marks print each dot of the sheet."""
    sheet = np.zeros((size[1], size[0]), np.int64)
    for mark in marks:
        assert min(mark.left, mark.top) >= 0
        sheet[mark.top : mark.bottom, mark.left : mark.left + mark.width] += mark.drawing.drawn(mark.width, mark.height)
    return sheet


@settings(max_examples=6, deadline=None)
@given(
    names=st.lists(st.sampled_from(sorted(PICTURES)), min_size=2, max_size=3, unique=True),
    gap=st.sampled_from([2.0, 6.0, 10.0]),
    rotate=st.sampled_from([(0.0, 90.0, 180.0, 270.0), (15.0, 105.0)]),
    nesting=st.sampled_from(Nest),
)
def test_no_dot_of_a_label_comes_near_any_copy(names: list[str], gap: float, rotate: tuple[float, ...], nesting: Nest) -> None:
    """In nested layouts, by scipy's distance transform: half a gap less one dot to all film; labels apart, off the margins."""
    by = Printer(name="P", film_width="200 mm", margin="5 mm", resolution=(DPI, DPI))
    rules = GangRules(gap=f"{gap} mm", rotate=rotate, nest=nesting, seconds=1, labels=True)
    own = {name: outline(name, width_mm=0.3 if name == "hairline" else 55) for name in names}
    shapes = {name: labelled(one, gap_mm=gap, nest=nesting, slanting=rotate[0] % 90 > 0) for name, one in own.items()}
    items = [Item(name, copy, shape.outline) for name, shape in shapes.items() for copy in (1, 2)]
    layout = nest(items, width_mm=by.printable_width, rules=rules, seed=1)
    assert layout.note == ""
    copies = tuple(picture_placed(shapes[one.job], one) for one in layout.placements)
    sheet = Sheet("s", by.printable_width, layout.length_mm, copies)
    facts = {(one.job, one.copy): LabelFacts("WWWWWWWWWWWWW", 2) for one in copies}
    marks = marks_for(sheet, facts, printer=by, rules=rules, title="", at="")
    size = round(units.mm_to_px(sheet.film_width_mm, DPI)) + 1, round(units.mm_to_px(sheet.length_mm, DPI)) + 1
    labels, art = stamped(marks, size), painted(copies, own, size)
    assert labels.max() == 1
    assert art.any()
    nearest = ndimage.distance_transform_edt(~art)[labels > 0].min()
    assert nearest >= units.mm_to_px(gap / 2, DPI) - 1
