"""Drawing in millimetres: layers of shapes, each flat, a gradient or a photo, turned into pixels with exact coverage."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box
from shapely.ops import unary_union

from filmhand.preflight.finding import Box

Shape = shapely.Geometry
Colour = tuple[int, int, int]
Array = NDArray[Any]

MM: Final = 25.4
_SEEN_ALPHA: Final = 8  # what trimming leaves, as the guide says: 3 % of full
_MOST_SAMPLES: Final = 24_000_000


@dataclass(frozen=True)
class Gradient:
    """From one colour to another along a direction, over the shape's own box."""

    first: Colour
    last: Colour
    degrees: float = 90.0


@dataclass(frozen=True)
class Photo:
    """A photo (h×w×3 uint8) whose upper left corner lies at `left`, `top` (mm), `per_mm` pixels a millimetre."""

    pixels: Array
    left: float
    top: float
    per_mm: float


Paint = Colour | Gradient | Photo


@dataclass(frozen=True)
class Layer:
    """A shape in millimetres, y downward, over what lies below. `cuts`: it takes away instead. `blur_mm`: standard deviation of
    a Gaussian blur of its edge. `fade`: opacity at its two ends, top to bottom."""

    shape: Shape
    paint: Paint = (0, 0, 0)
    opacity: float = 1.0
    blur_mm: float = 0.0
    cuts: bool = False
    fade: tuple[float, float] | None = None


@dataclass(frozen=True)
class Picture:
    """Drawn pixels, h×w×4 uint8, straight alpha, and pixels an inch."""

    pixels: Array
    ppi: float

    def with_pixels(self, pixels: Array) -> "Picture":
        """The same with other pixels."""
        return replace(self, pixels=pixels)


def raster(layers: Iterable[Layer], width_mm: float, height_mm: float, *, ppi: float = 300.0) -> Picture:
    """Layers on a transparent canvas."""
    height, width = round(height_mm / MM * ppi), round(width_mm / MM * ppi)
    rgb, alpha = np.zeros((height, width, 3), np.float32), np.zeros((height, width), np.float32)
    for layer in layers:
        _lay(rgb, alpha, layer, ppi / MM)
    pixels = np.dstack((rgb, 255 * alpha[..., None]))
    return Picture(np.clip(np.rint(pixels), 0, 255).astype(np.uint8), ppi)


def _lay(rgb: Array, alpha: Array, layer: Layer, per_mm: float) -> None:
    found = _mask(layer, alpha.shape, per_mm)
    if found is None:
        return
    mask, top, left = found
    part = slice(top, top + mask.shape[0]), slice(left, left + mask.shape[1])
    below = alpha[part]
    if layer.cuts:
        alpha[part] = below * (1 - mask)
        return
    total = mask + below * (1 - mask)
    share = np.divide(mask, total, out=np.zeros_like(mask), where=total > 0)[..., None]
    rgb[part] = rgb[part] * (1 - share) + _painted(layer, (top, left), mask.shape, per_mm) * share
    alpha[part] = total


def _mask(layer: Layer, shape: tuple[int, ...], per_mm: float) -> tuple[Array, int, int] | None:
    """The layer's coverage (float32, 0 to 1) over the pixels that it touches, and their first row and column."""
    reach = 3 * layer.blur_mm
    left, top, right, bottom = layer.shape.bounds
    first_row, last_row = max(0, int((top - reach) * per_mm) - 1), min(shape[0], int((bottom + reach) * per_mm) + 2)
    first, last = max(0, int((left - reach) * per_mm) - 1), min(shape[1], int((right + reach) * per_mm) + 2)
    if first_row >= last_row or first >= last:
        return None
    mask = coverage(layer.shape, (first_row, first), (last_row - first_row, last - first), per_mm)
    if layer.blur_mm:
        mask = cv2.GaussianBlur(mask, (0, 0), layer.blur_mm * per_mm, borderType=cv2.BORDER_CONSTANT)
    if layer.fade is not None:
        down = (np.arange(first_row, last_row) + 0.5) / per_mm
        mask = mask * np.interp(down, (top, bottom), layer.fade).astype(np.float32)[:, None]
    return mask * np.float32(layer.opacity), first_row, first


def coverage(shape: Shape, start: tuple[int, int], size: tuple[int, int], per_mm: float) -> Array:
    """How much of each pixel a shape covers: float32, 0 to 1, from eight (four, where it is large) samples each way."""
    times = 8 if 64 * size[0] * size[1] <= _MOST_SAMPLES else 4
    fine = np.zeros((size[0] * times, size[1] * times), np.uint8)
    for polygon in polygons(shape):
        rings = [polygon.exterior, *polygon.interiors]
        at = [np.rint((np.asarray(ring.coords) * per_mm - start[::-1]) * times * 16 - 8).astype(np.int32) for ring in rings]
        cv2.fillPoly(fine, at, 255, shift=4)
    return cv2.resize(fine, size[::-1], interpolation=cv2.INTER_AREA).astype(np.float32) / 255


def polygons(shape: Shape) -> list[Polygon]:
    """The polygons that a shape consists of."""
    return [part for part in shapely.get_parts(shape) if isinstance(part, Polygon) and not part.is_empty]


def _painted(layer: Layer, start: tuple[int, int], size: tuple[int, int], per_mm: float) -> Array:
    paint = layer.paint
    if isinstance(paint, tuple):
        return np.array(paint, np.float32)
    y, x = ((np.arange(n) + at + 0.5) / per_mm for n, at in zip(size, start, strict=True))
    if isinstance(paint, Photo):
        to_photo = np.array([[paint.per_mm / per_mm, 0, 0], [0, paint.per_mm / per_mm, 0]], np.float64)
        to_photo[:, 2] = (x[0] - paint.left) * paint.per_mm - 0.5, (y[0] - paint.top) * paint.per_mm - 0.5
        flags = cv2.WARP_INVERSE_MAP | (cv2.INTER_NEAREST if abs(paint.per_mm / per_mm - 1) < 1e-6 else cv2.INTER_CUBIC)
        shown = cv2.warpAffine(paint.pixels, to_photo, size[::-1], flags=flags, borderMode=cv2.BORDER_REPLICATE)
        return shown.astype(np.float32)
    left, top, right, bottom = layer.shape.bounds
    sine, cosine = np.sin(np.radians(paint.degrees)), np.cos(np.radians(paint.degrees))
    along = ((x - left) / (right - left) * cosine)[None] + ((y - top) / (bottom - top) * sine)[:, None]
    along = np.clip((along - min(0, sine) - min(0, cosine)) / (abs(sine) + abs(cosine)), 0, 1).astype(np.float32)[..., None]
    return (1 - along) * np.array(paint.first, np.float32) + along * np.array(paint.last, np.float32)


def seen_box(alpha: Array) -> tuple[int, int, int, int]:
    """Left, top, right, bottom (exclusive) of what is seen, in pixels."""
    rows, columns = (np.flatnonzero((alpha >= _SEEN_ALPHA).any(axis=axis)) for axis in (1, 0))
    return int(columns[0]), int(rows[0]), int(columns[-1]) + 1, int(rows[-1]) + 1


def true_boxes(shapes: Sequence[Shape], seen: tuple[int, int, int, int], ppi: float) -> tuple[Box, ...]:
    """Boxes around the pixels that shapes (mm on the canvas) touch, as fractions of what is seen of it (pixels)."""
    left, top, right, bottom = seen
    result = []
    for shape in shapes:
        x0, y0, x1, y1 = (side * ppi / MM for side in shape.bounds)
        x0, x1 = (float(np.clip((x - left) / (right - left), 0, 1)) for x in (np.floor(x0), np.ceil(x1)))
        y0, y1 = (float(np.clip((y - top) / (bottom - top), 0, 1)) for y in (np.floor(y0), np.ceil(y1)))
        result.append(Box(x0, y0, x1 - x0, y1 - y0))
    return tuple(result)


def disc(x: float, y: float, diameter: float) -> Polygon:
    """A disc."""
    return Point(x, y).buffer(diameter / 2, quad_segs=48)


def ring(x: float, y: float, outside: float, width: float) -> Polygon:
    """A ring by its outer diameter and the width of its band."""
    return disc(x, y, outside).difference(disc(x, y, outside - 2 * width))


def rectangle(left: float, top: float, width: float, height: float, *, radius: float = 0.0) -> Polygon:
    """A rectangle, its corners rounded."""
    if not radius:
        return box(left, top, left + width, top + height)
    return box(left + radius, top + radius, left + width - radius, top + height - radius).buffer(radius, quad_segs=24)


def frame(left: float, top: float, width: float, height: float, *, line: float) -> Polygon:
    """The outline of a rectangle, `line` wide, inside it."""
    return box(left, top, left + width, top + height).difference(
        box(left + line, top + line, left + width - line, top + height - line)
    )


def star(x: float, y: float, diameter: float, *, points: int = 5, inner: float = 0.4) -> Polygon:
    """A star, one tip upward; `inner`: the notches' radius as a share of the tips'."""
    turns = np.arange(2 * points) * np.pi / points
    radius = np.where(np.arange(2 * points) % 2, inner, 1.0) * diameter / 2
    return Polygon(np.column_stack((x + radius * np.sin(turns), y - radius * np.cos(turns))))


def line(points: Array | Sequence[tuple[float, float]], width: float, *, round_ends: bool = True) -> Polygon:
    """A stroke along points."""
    ends, joins = ("round", "round") if round_ends else ("flat", "mitre")
    return LineString(points).buffer(width / 2, cap_style=ends, join_style=joins, quad_segs=12)


def wave(left: float, y: float, length: float, *, height: float, waves: float = 2.0) -> Array:
    """Points along a sine, n×2."""
    along = np.linspace(0, 1, 120)
    return np.column_stack((left + along * length, y + height / 2 * np.sin(2 * np.pi * waves * along)))


def union(*shapes: Shape) -> Shape:
    """All of several shapes."""
    return unary_union(shapes)


def moved(shape: Shape, x: float, y: float) -> Shape:
    """A shape shifted."""
    return affinity.translate(shape, x, y)


def turned(shape: Shape, degrees: float, *, about: tuple[float, float] | str = "center") -> Shape:
    """A shape turned, clockwise as y goes down."""
    return affinity.rotate(shape, degrees, origin=about)
