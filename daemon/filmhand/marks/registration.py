"""Registration marks: a cross in a circle, printed in every plane; where they lie on one another the planes do."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand import units

REGISTRATION_MM: Final = 5.0
"""Across the whole mark. Its form is common practice, no source."""
LINE_MM: Final = 0.25
_CIRCLE_MM: Final = 3.0
"""Across the circle, at the middle of its line."""


@dataclass(frozen=True)
class Registration:
    """One mark. `resolution`: dots an inch across and along the film."""

    resolution: tuple[int, int]

    def drawn(self, width: int, height: int) -> NDArray[np.bool_]:
        """As `Drawing`: the mark in the middle of the box."""
        xs = units.px_to_mm(1, self.resolution[0]) * (np.arange(width) + 0.5 - width / 2)
        ys = units.px_to_mm(1, self.resolution[1]) * (np.arange(height) + 0.5 - height / 2)
        away = np.hypot(xs, ys[:, None])
        cross = (np.abs(xs) <= LINE_MM / 2) | (np.abs(ys[:, None]) <= LINE_MM / 2)
        circle = np.abs(away - _CIRCLE_MM / 2) <= LINE_MM / 2
        return np.asarray(circle | (cross & (np.maximum(np.abs(xs), np.abs(ys[:, None])) <= REGISTRATION_MM / 2)))
