"""Turning pictures on the film, in the one convention of gang/sheet.py: counter-clockwise as seen, y down."""

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

_QUARTERS: Final = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}


def turned(points_mm: NDArray[np.float64], rotation_deg: float) -> NDArray[np.float64]:
    """Points n×2 (x right, y down, mm) turned about the origin, counter-clockwise as seen."""
    cos, sin = direction(rotation_deg)
    result: NDArray[np.float64] = points_mm @ np.array([[cos, -sin], [sin, cos]])
    return result


def turned_box(width_mm: float, height_mm: float, rotation_deg: float) -> tuple[float, float, float, float]:
    """The upright box around a picture turned about its top left corner: left, top (both at most 0), width and height."""
    corners = turned(np.array([[0.0, 0.0], [width_mm, 0.0], [0.0, height_mm], [width_mm, height_mm]]), rotation_deg)
    left, top = corners.min(axis=0)
    right, bottom = corners.max(axis=0)
    return float(left), float(top), float(right - left), float(bottom - top)


def direction(rotation_deg: float) -> tuple[float, float]:
    """Cosine and sine, exact at quarter turns."""
    angle = rotation_deg % 360.0
    return _QUARTERS.get(angle) or (math.cos(math.radians(angle)), math.sin(math.radians(angle)))
