"""From outlines in mm to pixels: masks, layers of flat colour or gradient, PNG with its resolution stated."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from shapely.geometry.base import BaseGeometry

from filmhand import units

Colour = tuple[int, int, int]

_FINE = 3
"""Masks are drawn this many times larger and averaged, for smooth edges."""


@dataclass(frozen=True)
class Ground:
    """The rectangle that is drawn: its size in mm and its resolution."""

    width_mm: float
    height_mm: float
    ppi: float

    @property
    def size_px(self) -> tuple[int, int]:
        """Pixels across and down."""
        return round(units.mm_to_px(self.width_mm, self.ppi)), round(units.mm_to_px(self.height_mm, self.ppi))

    @property
    def px_per_mm(self) -> float:
        """Pixels a millimetre."""
        return units.mm_to_px(1.0, self.ppi)


def mask(shape: BaseGeometry, ground: Ground) -> Image.Image:
    """Coverage of an outline given in mm from the top left corner: mode L, 255 = inside."""
    width, height = ground.size_px
    whole = Image.new("L", (width, height))
    if shape.is_empty:
        return whole
    scale = ground.px_per_mm
    left, top, right, bottom = (bound * scale for bound in shape.bounds)
    x, y = max(0, int(left) - 1), max(0, int(top) - 1)
    part = (min(width, int(right) + 2) - x, min(height, int(bottom) + 2) - y)
    if min(part) <= 0:
        return whole
    large = Image.new("L", (part[0] * _FINE, part[1] * _FINE))
    pen = ImageDraw.Draw(large)
    for polygon in sorted(_polygons(shape), key=lambda polygon: -polygon.area):
        for ring, value in [(polygon.exterior, 255), *((hole, 0) for hole in polygon.interiors)]:
            pen.polygon([((px * scale - x) * _FINE, (py * scale - y) * _FINE) for px, py in ring.coords], fill=value)
    whole.paste(large.reduce(_FINE), (x, y))
    return whole


def vertical_gradient(ground: Ground, stops: Sequence[tuple[float, Colour]]) -> Image.Image:
    """Colours running from top to bottom: mode RGB. Each stop is a height in mm and a colour."""
    width, height = ground.size_px
    rows = (np.arange(height) + 0.5) / ground.px_per_mm
    heights = [stop[0] for stop in stops]
    channels = [np.interp(rows, heights, [stop[1][channel] for stop in stops]) for channel in range(3)]
    column = np.rint(np.stack(channels, axis=1)).astype(np.uint8)
    return Image.fromarray(np.ascontiguousarray(np.broadcast_to(column[:, None], (height, width, 3))))


def laid_over(below: Image.Image, paint: Image.Image | Colour, through: Image.Image) -> Image.Image:
    """`paint` laid over an RGBA picture through a mask (Porter and Duff's `over`, straight alpha)."""
    layer = Image.new("RGB", below.size, paint) if isinstance(paint, tuple) else paint.convert("RGB")
    layer.putalpha(through)
    return Image.alpha_composite(below, layer)


def flat(ground: Ground, layers: Sequence[tuple[BaseGeometry, Colour]]) -> Image.Image:
    """Outlines of flat colour over a transparent ground, the first lowest: mode RGBA."""
    picture = Image.new("RGBA", ground.size_px)
    for shape, colour in layers:
        picture = laid_over(picture, colour, mask(shape, ground))
    return picture


def noise(size_px: tuple[int, int], cells: tuple[float, float], rng: np.random.Generator) -> NDArray[np.float32]:
    """Smooth random heights, about 0 to 1, h×w float32, with some `cells` bumps across and down."""
    grid = rng.random((max(2, round(cells[1]) + 2), max(2, round(cells[0]) + 2)), dtype=np.float32)
    return np.asarray(Image.fromarray(grid).resize(size_px, Image.Resampling.BICUBIC), np.float32)


def save_png(picture: Image.Image, path: Path, ppi: float) -> None:
    """Write a PNG that states its resolution. Lightly packed: a demonstration need not wait for the last percent."""
    picture.save(path, compress_level=2, dpi=(ppi, ppi))


def _polygons(shape: BaseGeometry) -> list[BaseGeometry]:
    parts = getattr(shape, "geoms", [shape])
    return [part for part in parts if part.geom_type == "Polygon"]
