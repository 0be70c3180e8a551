"""An area that lines of text are set in, millimetres in, dots out."""

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from filmhand import units
from filmhand.marks.lettering import Line, fitted, ink

_HALF: Final = 128
_SPARE_PX: Final = 2
"""Letters' ink may end this much later than where the pen stops."""


@dataclass(frozen=True, eq=False)
class TypeArea:
    """Lines so far: `sheet` h×w uint8, 255 = printed, in square pixels of `dpi`."""

    sheet: NDArray[np.uint8]
    dpi: int

    @classmethod
    def of(cls, size: tuple[int, int], resolution: tuple[int, int]) -> "TypeArea":
        """A bare area of so many dots across and down; text is set at the finer of the two resolutions."""
        dpi = max(resolution)
        width, height = (round(side * dpi / own) for side, own in zip(size, resolution, strict=True))
        return cls(np.zeros((max(1, height), max(1, width)), np.uint8), dpi)

    def line(self, text: str, *, size_mm: float, least_mm: float) -> Line:
        """A line that fits the area's width: set smaller if it must be, down to a least size, then cut."""
        room_px = self.sheet.shape[1] - _SPARE_PX
        return fitted(text, size_px=self._px(size_mm), least_px=self._px(least_mm), room_px=room_px)

    def beside(self, line: Line, *, apart_mm: float) -> "TypeArea":
        """What a line leaves of the area's width."""
        return replace(self, sheet=self.sheet[:, math.ceil(line.width_px + self._px(apart_mm)) :])

    def with_line(self, line: Line, *, baseline_mm: float, at_right: bool = False) -> "TypeArea":
        """The same with a line set."""
        drawn, baseline = ink(line)
        top = round(self._px(baseline_mm)) - baseline
        left = self.sheet.shape[1] - drawn.shape[1] if at_right else 0
        drawn = drawn[max(0, -top) :, max(0, -left) :]
        top, left = max(0, top), max(0, left)
        sheet = self.sheet.copy()
        part = sheet[top : top + drawn.shape[0], left : left + drawn.shape[1]]
        np.maximum(part, drawn[: part.shape[0], : part.shape[1]], out=part)
        return replace(self, sheet=sheet)

    def dots(self, size: tuple[int, int]) -> NDArray[np.bool_]:
        """The area in so many dots across and down, h×w bool, True = printed: what is more than half ink."""
        image = Image.fromarray(self.sheet)
        return np.asarray(image if image.size == size else image.resize(size, Image.Resampling.BOX)) >= _HALF

    def _px(self, length_mm: float) -> float:
        return units.mm_to_px(length_mm, self.dpi)
