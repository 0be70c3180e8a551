"""The label beside a copy: its order in large letters, which copy of how many it is, its job and sheet, and a QR code.

White on bare film: the light modules of the code and its quiet zone are printed, the dark ones left bare, so that it reads on
anything dark under the film.
"""

import math
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand import units
from filmhand.gang.labelled import LABEL_MM
from filmhand.gang.turn import turned
from filmhand.marks.code import content, modules
from filmhand.marks.lettering import CAP_HEIGHT, ELLIPSIS, NOTHING
from filmhand.marks.type_area import TypeArea

LEAST_MODULE_MM: Final = 0.25
"""Common practice for powder to hold between modules, no source."""
_BESIDE_CODE_MM: Final = 1.2
_ORDER_MM, _LEAST_ORDER_MM = 5.4, 2.6
"""Size of the order's letters, and how small they may be set before the order is cut."""
_COUNT_MM, _IDS_MM, _LEAST_IDS_MM = 4.4, 2.6, 2.2
_BETWEEN_MM: Final = 1.5
_EDGE_MM: Final = 0.7
"""From the label's upper and lower edge to the letters."""
_ROUNDING: Final = 1e-6
_FINER: Final = 2
"""Slanting labels are sampled from upright ones so much finer than the dots."""


@dataclass(frozen=True)
class Label:
    """A copy's label. `part`: 0 where the design is in one piece. `rotation_deg`: counter-clockwise, after mirroring.

    `resolution`: dots an inch across and along the film.
    """

    order: str
    copy: int
    copies: int
    part: int
    parts: int
    sheet: str
    job: str
    resolution: tuple[int, int]
    mirrored: bool
    rotation_deg: float

    @property
    def code(self) -> str:
        """What the QR code says, if it need not be cut."""
        return content(self.job, (self.copy, self.copies), (self.part, self.parts), self.order)

    def drawn(self, width: int, height: int) -> NDArray[np.bool_]:
        """As `Drawing`: the upright box around the turned label."""
        quarters, rest = divmod(self.rotation_deg % 360.0, 90.0)
        if rest:
            return self._slanting(width, height)
        sideways = quarters % 2 == 1
        size = (height, width) if sideways else (width, height)
        label = self._upright(size, self.resolution[::-1] if sideways else self.resolution)
        return np.ascontiguousarray(np.rot90(label[:, ::-1] if self.mirrored else label, int(quarters)))

    def _upright(self, size: tuple[int, int], resolution: tuple[int, int]) -> NDArray[np.bool_]:
        """The label as it is read, in so many dots across and down."""
        width, height = size
        sheet = np.zeros((height, width), np.bool_)
        code = self._code(height, resolution)
        top = (height - len(code)) // 2
        sheet[top : top + len(code), : code.shape[1]] = code
        left = code.shape[1] + round(units.mm_to_px(_BESIDE_CODE_MM, resolution[0])) if code.size else 0
        sheet[:, left:] = self._text((width - left, height), resolution)
        return sheet

    def _code(self, height: int, resolution: tuple[int, int]) -> NDArray[np.bool_]:
        """The code in whole dots a module, as large as the label's height allows; nothing where the dots are too coarse."""
        sides = round(height * resolution[0] / resolution[1]), height
        least = [max(1, math.ceil(units.mm_to_px(LEAST_MODULE_MM, dpi) - _ROUNDING)) for dpi in resolution]
        light = modules(self.code, min(side // dots for side, dots in zip(sides, least, strict=True)))
        if light is None:
            return np.zeros((0, 0), np.bool_)
        across, down = (side // len(light) for side in sides)
        return np.kron(light, np.ones((down, across), np.bool_))

    def _text(self, size: tuple[int, int], resolution: tuple[int, int]) -> NDArray[np.bool_]:
        """Both lines of text, in a box of so many dots."""
        area = TypeArea.of(size, resolution)
        order = area.line(self.order or self.job, size_mm=_ORDER_MM, least_mm=_LEAST_ORDER_MM)
        area = area.with_line(order, baseline_mm=_EDGE_MM + CAP_HEIGHT * _ORDER_MM)
        piece = f" ({self.part}/{self.parts})" if self.part else ""
        count = area.line(f"{self.copy}/{self.copies}{piece}", size_mm=_COUNT_MM, least_mm=_LEAST_ORDER_MM)
        room = area.beside(count, apart_mm=_BETWEEN_MM)
        lines = (room.line(text, size_mm=_IDS_MM, least_mm=_LEAST_IDS_MM) for text in (f"{self.job} · {self.sheet}", self.job))
        ids = next((line for line in lines if not line.text.endswith(ELLIPSIS)), NOTHING)
        baseline = LABEL_MM[1] - _EDGE_MM
        return area.with_line(count, baseline_mm=baseline).with_line(ids, baseline_mm=baseline, at_right=True).dots(size)

    def _slanting(self, width: int, height: int) -> NDArray[np.bool_]:
        """Each dot takes the point of a finer upright label that lies under its centre."""
        dpi = _FINER * max(self.resolution)
        fine_width, fine_height = (round(units.mm_to_px(side, dpi)) for side in LABEL_MM)
        fine = self._upright((fine_width, fine_height), (dpi, dpi))
        fine = fine[:, ::-1] if self.mirrored else fine
        dots = np.diag([dpi / self.resolution[0], dpi / self.resolution[1]])
        matrix = turned(dots, -self.rotation_deg).T
        shift = (fine_width / 2, fine_height / 2) - matrix @ (width / 2, height / 2)  # centre on centre
        shift += matrix @ (0.5, 0.5) - 0.5  # OpenCV counts from the centre of the first pixel
        placed = cv2.warpAffine(
            fine.astype(np.uint8),
            np.column_stack([matrix, shift]),
            (width, height),
            flags=cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP,
        )
        return placed.astype(np.bool_)
