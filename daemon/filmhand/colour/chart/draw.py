"""Drawing a block's marks into ink planes and coverage, as a separation has them. Generic: it knows shapes, no charts."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from filmhand import units
from filmhand.colour.chart.model import Arrow, Block, Box, Disc, Shape, Stairs, Text

_COARSE_PPI: Final = 180
"""About the pixels an inch of blocks that are not `fine`."""

Bytes = NDArray[np.uint8]
Mask = NDArray[np.bool_]
Corner = tuple[int, int]
"""Row and column of a mask's first pixel."""


def draw(block: Block, inks: Sequence[str], *, resolution: tuple[int, int]) -> tuple[Bytes, Bytes, tuple[float, float]]:
    """Planes n×h×w uint8 (255 = full ink), coverage h×w uint8 (255 = film everywhere), and the width and height in mm.

    `inks`: the printer's, one a plane; marks name no others. `resolution`: its dots an inch, across and along. A pixel is a whole
    number of dots each way, so that edges fall on dots and the size is true.
    """
    ppi, size_px, size_mm = _raster(block, resolution)
    planes = np.zeros((len(inks), size_px[1], size_px[0]), np.uint8)
    coverage = np.zeros(planes.shape[1:], np.uint8)
    for mark in block.marks:
        mask, (top, left) = _mask(mark.shape, ppi)
        row, column = max(top, 0), max(left, 0)
        mask = mask[row - top : size_px[1] - top, column - left : size_px[0] - left]
        where = slice(row, row + mask.shape[0]), slice(column, column + mask.shape[1])
        for ink, amount in mark.inks.items():
            planes[inks.index(ink)][where][mask] = round(255 * amount)
        if mark.coverage is not None:
            coverage[where][mask] = round(255 * mark.coverage)
    return planes, coverage, size_mm


def _raster(block: Block, resolution: tuple[int, int]) -> tuple[tuple[float, float], tuple[int, int], tuple[float, float]]:
    """Pixels an inch each way, pixels across and down, and the size these come to in mm."""
    dots = [1 if block.fine else max(1, round(dpi / _COARSE_PPI)) for dpi in resolution]
    ppi = resolution[0] / dots[0], resolution[1] / dots[1]
    width, height = (max(1, round(units.mm_to_px(mm, one))) for mm, one in zip(block.size_mm, ppi, strict=True))
    return ppi, (width, height), (units.px_to_mm(width, ppi[0]), units.px_to_mm(height, ppi[1]))


def _mask(shape: Shape, ppi: tuple[float, float]) -> tuple[Mask, Corner]:
    match shape:
        case Box():
            return _box(shape, ppi)
        case Disc():
            return _disc(shape, ppi)
        case Arrow():
            return _arrow(shape, ppi)
        case Text():
            return _text(shape, ppi)
        case Stairs():
            return _stairs(shape, ppi)


def _box(box: Box, ppi: tuple[float, float]) -> tuple[Mask, Corner]:
    """Edges fall between pixels; a box is never thinner than one."""
    left, right = (round(units.mm_to_px(mm, ppi[0])) for mm in (box.left, box.left + box.width))
    top, bottom = (round(units.mm_to_px(mm, ppi[1])) for mm in (box.top, box.top + box.height))
    return np.ones((max(bottom - top, 1), max(right - left, 1)), np.bool_), (top, left)


def _disc(disc: Disc, ppi: tuple[float, float]) -> tuple[Mask, Corner]:
    """The pixels whose middle lies in it, and the one nearest to its own middle."""
    radius = disc.diameter / 2
    x, left = _middles(disc.x, radius, ppi[0])
    y, top = _middles(disc.y, radius, ppi[1])
    distance = (x[None] - disc.x) ** 2 + (y[:, None] - disc.y) ** 2
    return np.asarray(distance <= max(radius**2, distance.min())), (top, left)


def _arrow(arrow: Arrow, ppi: tuple[float, float]) -> tuple[Mask, Corner]:
    half = arrow.length / 2
    x, left = _middles(arrow.x + half, half, ppi[0])
    y, top = _middles(arrow.y, half, ppi[1])
    on = (x[None] >= arrow.x) & (np.abs(y[:, None] - arrow.y) <= (arrow.x + arrow.length - x[None]) / 2)
    return np.asarray(on), (top, left)


def _text(text: Text, ppi: tuple[float, float]) -> tuple[Mask, Corner]:
    """Lettering, upright; where the two resolutions differ, drawn at the finer and reduced along the other."""
    finest = max(ppi)
    font = ImageFont.load_default(size=units.mm_to_px(text.height, finest))
    left, top, right, bottom = font.getbbox(text.words, anchor=text.anchor)
    picture = Image.new("L", (max(1, round(right - left)), max(1, round(bottom - top))))
    ImageDraw.Draw(picture).text((-left, -top), text.words, fill=255, font=font, anchor=text.anchor)
    size = [max(1, round(side * one / finest)) for side, one in zip(picture.size, ppi, strict=True)]
    mask = np.asarray(picture.resize((size[0], size[1]), Image.Resampling.BOX)) >= 128  # noqa: PLR2004 -- half covered
    row = round(units.mm_to_px(text.y, ppi[1]) + top * ppi[1] / finest)
    return np.asarray(mask), (row, round(units.mm_to_px(text.x, ppi[0]) + left * ppi[0] / finest))


def _stairs(stairs: Stairs, ppi: tuple[float, float]) -> tuple[Mask, Corner]:
    whole, corner = _box(stairs.box, ppi)
    rows, columns = whole.shape
    step = np.arange(columns) * stairs.steps // columns
    return np.asarray(np.arange(rows)[:, None] % stairs.steps == step[None]), corner


def _middles(middle: float, reach: float, ppi: float) -> tuple[NDArray[np.float64], int]:
    """Middles in mm of the pixels that lie within reach of a place, and the first of these pixels."""
    first = int(np.floor(units.mm_to_px(middle - reach, ppi)))
    last = int(np.ceil(units.mm_to_px(middle + reach, ppi)))
    return np.array([units.px_to_mm(pixel + 0.5, ppi) for pixel in range(first, last + 1)]), first
