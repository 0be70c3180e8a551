"""Small separate shapes in a mask: where each lies, how large it is, how much of its box it fills, and in what it lies."""

from dataclasses import dataclass
from typing import Final, Self

import cv2
import numpy as np
from numpy.typing import NDArray

_LEFT, _TOP, _WIDTH, _HEIGHT, _AREA = range(5)
_BESIDE: Final = np.ones((3, 3), np.uint8)

_WIDEST: Final = 4
"""Letters that touch make a shape at most so many heights wide; more is a rule or an ornament."""

Mask = NDArray[np.bool_]
Ints = NDArray[np.int32]


@dataclass(frozen=True)
class Glyphs:
    """n shapes: their boxes and areas in pixels, the mean width of their strokes, and the number of the ground each lies in.

    Two shapes with the same ground number lie in one and the same ground, as letters do, and the insides of letters do not.
    """

    left: Ints
    top: Ints
    width: Ints
    height: Ints
    area: Ints
    stroke: NDArray[np.float64]
    ground: Ints

    @property
    def bottom(self) -> Ints:
        """The row below each."""
        return np.asarray(self.top + self.height, np.int32)

    @property
    def right(self) -> Ints:
        """The column behind each."""
        return np.asarray(self.left + self.width, np.int32)

    def __getitem__(self, which: Mask | NDArray[np.intp]) -> "Glyphs":
        return Glyphs(*(getattr(self, name)[which] for name in Glyphs.__dataclass_fields__))

    @classmethod
    def of(cls, mask: Mask, *, least_px: int, most_px: int) -> Self:
        """The shapes of a mask (h×w) whose height lies between two bounds, and that do not touch the picture's edge."""
        count, found, stats, _ = cv2.connectedComponentsWithStats(mask.view(np.uint8), connectivity=8, ltype=cv2.CV_32S)
        labels = np.asarray(found, np.int32)
        is_small = (stats[:, _HEIGHT] >= least_px) & (stats[:, _HEIGHT] <= most_px) & (stats[:, _WIDTH] <= _WIDEST * most_px)
        is_small &= (stats[:, _LEFT] > 0) & (stats[:, _LEFT] + stats[:, _WIDTH] < mask.shape[1])
        is_small[0] = False
        which = np.flatnonzero(is_small)
        edges = mask & (cv2.erode(mask.view(np.uint8), _BESIDE) == 0)
        outline = np.bincount(labels[edges], minlength=count)[which]
        chosen = stats[which].astype(np.int32)
        # A stroke's area over half its outline is its width; the outline's pixels lie half a pixel within it.
        stroke = chosen[:, _AREA] / np.maximum(outline / 2, 1)
        left, top, width, height, area = chosen.T
        return cls(left, top, width, height, area, stroke, _grounds(mask, labels, which, chosen))


def _grounds(mask: Mask, labels: Ints, which: NDArray[np.intp], boxes: Ints) -> Ints:
    """The number of the part of what is not mask that lies left of each shape's leftmost point."""
    _, grounds = cv2.connectedComponents((~mask).view(np.uint8), connectivity=4, ltype=cv2.CV_32S)
    found = np.empty(which.size, np.int32)
    for index, (label, box) in enumerate(zip(which, boxes, strict=True)):
        column = labels[box[_TOP] : box[_TOP] + box[_HEIGHT], box[_LEFT]]
        row = box[_TOP] + int(np.argmax(column == label))
        found[index] = grounds[row, box[_LEFT] - 1]
    return found
