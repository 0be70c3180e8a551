"""A part of a sheet, as a person asks to see it."""

from dataclasses import dataclass
from typing import Final

_SIDES: Final = 4
_MOST_ZOOM: Final = 64


@dataclass(frozen=True)
class Region:
    """Millimetres from the left and the top of the garment view, and how wide and high."""

    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float


def parse_region(text: object) -> Region:
    """A region from "12 40 8 8". ValueError says what is expected."""
    try:
        numbers = [float(part) for part in str(text).replace(",", " ").split()]
    except ValueError:
        numbers = []
    if len(numbers) != _SIDES or not all(0 < side < float("inf") for side in numbers[2:]):
        raise ValueError(f'expected left, top, width and height in mm, such as "12 40 8 8", not {text!r}')
    return Region(*numbers)


def parse_zoom(text: object) -> float:
    """Pixels a dot, from "8", "0.25" or "1/4". ValueError says what is expected."""
    above, _, below = str(text).partition("/")
    try:
        zoom = float(above) / float(below or 1)
    except (ValueError, ZeroDivisionError):
        zoom = 0.0
    if not 0 < zoom <= _MOST_ZOOM:
        raise ValueError(f"expected pixels a dot, above 0 to {_MOST_ZOOM}, such as 8, 1 or 1/4, not {text!r}")
    return zoom
