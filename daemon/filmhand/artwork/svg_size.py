"""How large an SVG says it is, and how fine the pictures in it are at that size."""

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final
from xml.etree.ElementTree import Element

import numpy as np
from numpy.typing import NDArray

from filmhand import units
from filmhand.artwork.svg_text import SVG

PX_MM: Final = units.MM_PER_INCH / 96
"""A CSS pixel is 1/96 inch: CSS Values and Units 4 section 6.2."""

_UNITS_PX: Final = {
    "mm": 1 / PX_MM,
    "cm": 10 / PX_MM,
    "q": 0.25 / PX_MM,
    "in": 96.0,
    "pt": 96 / 72,
    "pc": 16.0,
    "px": 1.0,
    "": 1.0,
}
_REAL: Final = frozenset(("mm", "cm", "q", "in", "pt", "pc"))
_LENGTH: Final = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?)\s*([a-z]*)\s*", re.IGNORECASE)
_NUMBER: Final = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?", re.IGNORECASE)
_TURN: Final = re.compile(r"(matrix|translate|scale|rotate|skewX|skewY)\s*\(([^)]*)\)")

_LEAST_PX, _MOST_PX = 1e-3, 1e7
_SMALL_PICTURE_PX: Final = 16
"""Pictures this narrow say nothing of resolution: Ghent Workgroup 2022, R0031 and R0032 (check-values read at second hand)."""

Matrix = NDArray[np.float64]


@dataclass(frozen=True)
class SvgSize:
    """In CSS pixels. `is_real`: in a unit of length, not in pixels, which some programs count 72 to the inch instead of 96."""

    width_px: float
    height_px: float
    is_real: bool


def size_of_svg(root: Element) -> SvgSize | None:
    """What `width`, `height` and `viewBox` say (SVG 2 section 8.2); None where they say nothing usable."""
    width, height = (_length(root.get(name, "")) for name in ("width", "height"))
    box = _view_box(root)
    if box is None and (width is None or height is None):
        return None
    if width is None and height is None:
        assert box is not None
        sides = SvgSize(box[2], box[3], is_real=False)
    elif width is None or height is None:
        assert box is not None
        given = width or height
        assert given is not None
        other = given[0] * (box[2] / box[3] if width is None else box[3] / box[2])
        sides = SvgSize(other if width is None else given[0], other if height is None else given[0], is_real=given[1])
    else:
        sides = SvgSize(width[0], height[0], is_real=width[1] and height[1])
    fits = all(_LEAST_PX < side < _MOST_PX for side in (sides.width_px, sides.height_px))
    return sides if fits else None


def _length(text: str) -> tuple[float, bool] | None:
    """A length in CSS pixels and whether its unit is a real one; None for percentages, font-relative ones, and none."""
    found = _LENGTH.fullmatch(text)
    unit = found[2].lower() if found else "?"
    if found is None or unit not in _UNITS_PX or not float(found[1]) > 0:
        return None
    return float(found[1]) * _UNITS_PX[unit], unit in _REAL


def _view_box(root: Element) -> tuple[float, float, float, float] | None:
    values = [float(number) for number in _NUMBER.findall(root.get("viewBox", ""))]
    if len(values) != 4 or not (values[2] > 0 and values[3] > 0) or not all(map(math.isfinite, values)):  # noqa: PLR2004
        return None
    return values[0], values[1], values[2], values[3]


def raster_ppis(root: Element, size: SvgSize, pictures: Mapping[Element, tuple[int, int]]) -> Iterator[float]:
    """The resolution of each picture at the drawing's own size; the smaller of its two directions counts (GWG D0018).

    Copies (`use`) are not followed: what they copy is measured where it stands.
    """
    box = _view_box(root)
    scale = min(size.width_px / box[2], size.height_px / box[3]) if box else 1.0
    yield from _ppis_within(root, np.diag([scale, scale, 1.0]), pictures)


def _ppis_within(parent: Element, to_page: Matrix, pictures: Mapping[Element, tuple[int, int]]) -> Iterator[float]:
    for child in parent:
        matrix = to_page @ _transform(child.get("transform", ""))
        pixels = pictures.get(child)
        if pixels is not None and child.tag == SVG + "image" and min(pixels) > _SMALL_PICTURE_PX:
            ppi = _ppi(child, matrix, pixels)
            if ppi is not None:
                yield ppi
        yield from _ppis_within(child, matrix, pictures)


def _ppi(picture: Element, matrix: Matrix, pixels: tuple[int, int]) -> float | None:
    sides = [_length(picture.get(name, "")) for name in ("width", "height")]
    spans = [float(np.hypot(*matrix[:2, axis])) for axis in (0, 1)]  # page pixels a unit, across and down
    per_px = [side[0] * span / px for side, span, px in zip(sides, spans, pixels, strict=True) if side is not None]
    largest = max(per_px, default=max(spans))
    if len(per_px) == 2 and picture.get("preserveAspectRatio", "").split()[-1:] not in (["slice"], ["none"]):  # noqa: PLR2004
        largest = min(per_px)  # fitted inside both, the default
    return units.MM_PER_INCH / PX_MM / largest if largest > 0 and math.isfinite(largest) else None


def _transform(text: str) -> Matrix:
    """A transform list as a matrix (SVG 2 section 8.5, CSS Transforms 1 section 7); what is not understood changes nothing."""
    result: Matrix = np.eye(3)
    for name, inner in _TURN.findall(text):
        values = [float(number) for number in _NUMBER.findall(inner)]
        if values:
            result = result @ _turn(name, values)
    return result


def _turn(name: str, values: list[float]) -> Matrix:
    first, second = values[0], values[1] if len(values) > 1 else None
    matrix = np.eye(3)
    if name == "matrix" and len(values) == 6:  # noqa: PLR2004
        matrix[:2] = np.reshape(values, (3, 2)).T
    elif name == "translate":
        matrix[:2, 2] = first, second or 0.0
    elif name == "scale":
        matrix[0, 0], matrix[1, 1] = first, first if second is None else second
    elif name == "rotate":
        sine, cosine = math.sin(math.radians(first)), math.cos(math.radians(first))
        matrix[:2, :2] = ((cosine, -sine), (sine, cosine))  # about any point: only lengths are asked for
    elif name == "skewX":
        matrix[0, 1] = math.tan(math.radians(first))
    elif name == "skewY":
        matrix[1, 0] = math.tan(math.radians(first))
    return matrix
