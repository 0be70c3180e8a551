"""What is nested for a copy: its picture's outline, with room for a label beside it; and where both lie once it is laid."""

from dataclasses import dataclass

import numpy as np

from filmhand.gang.outline import Outline
from filmhand.gang.sheet import Placement, Spot
from filmhand.gang.turn import turned, turned_box


@dataclass(frozen=True)
class Rect:
    """An upright rectangle, mm: its left and top edge, width and height."""

    left: float
    top: float
    width: float
    height: float


@dataclass(frozen=True)
class Shape:
    """`outline` is nested, mirrored as on the film; in its box lie the picture's own upright box and that of the label.

    `label_rotation_deg`: how the label is turned where the picture is not turned at all.
    """

    outline: Outline
    picture: Rect
    label: Rect | None = None
    label_rotation_deg: float = 0.0

    @classmethod
    def plain(cls, outline: Outline) -> "Shape":
        """A picture alone."""
        return cls(outline, Rect(0.0, 0.0, outline.width_mm, outline.height_mm))


def picture_placed(shape: Shape, placement: Placement) -> Placement:
    """The placement of a shape as that of its picture and its label."""
    x, y, width, height = _laid(shape.picture, shape, placement)
    label = None
    if shape.label is not None:
        rotation = (placement.rotation_deg + shape.label_rotation_deg) % 360.0
        label = Spot(*_laid(shape.label, shape, placement), rotation_deg=rotation)
    return Placement(placement.job, placement.copy, x, y, width, height, placement.rotation_deg, placement.part, label)


def _laid(rect: Rect, shape: Shape, placement: Placement) -> tuple[float, float, float, float]:
    """The upright box around a rectangle of a laid shape, mm of the sheet: left, top, width, height."""
    angle = placement.rotation_deg
    left, top, _, _ = turned_box(shape.outline.width_mm, shape.outline.height_mm, angle)
    ((x, y),) = turned(np.array([[rect.left, rect.top]]), angle)
    low_x, low_y, width, height = turned_box(rect.width, rect.height, angle)
    return placement.x_mm - left + float(x) + low_x, placement.y_mm - top + float(y) + low_y, width, height
