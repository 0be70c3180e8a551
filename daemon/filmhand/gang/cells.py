"""The reduced mask of a picture: small cells over its box, set wherever film may lie; kept packed and compressed.

It is what outlines are traced from and what layouts are checked on, so it errs on one side only: a cell is set when a covered
pixel, grown by half a pixel (composing interpolates between pixel centres) and by what a least dot reaches beyond it, touches it.
"""

import base64
import math
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

COARSEST_MM: Final = 0.5
_FINEST_MM: Final = 0.1
_CELLS_ALONG: Final = 1200
"""Cells along the longer side, within the two bounds above: 0.23 mm on a print of 280 mm."""


@dataclass(frozen=True)
class Cells:
    """A bool mask of rows × columns over a picture's box, top row first, True = film may lie here.

    `packed`: zlib-compressed bits, row by row without padding between rows, the first cell in the highest bit.
    """

    rows: int
    columns: int
    packed: bytes

    @classmethod
    def of(cls, mask: NDArray[np.bool_]) -> "Cells":
        """The cells of a mask h×w bool, True = film may lie here."""
        return cls(mask.shape[0], mask.shape[1], zlib.compress(np.packbits(mask).tobytes(), 6))

    def bits(self) -> NDArray[np.uint8]:
        """The packed bits as a flat uint8 array, the first cell in the highest bit of the first byte."""
        return np.frombuffer(zlib.decompress(self.packed), np.uint8)

    def mask(self) -> NDArray[np.bool_]:
        """rows × columns bool, True = film may lie here."""
        flat = np.unpackbits(self.bits(), count=self.rows * self.columns)
        return flat.view(np.bool_).reshape(self.rows, self.columns)

    def mirrored(self) -> "Cells":
        """The same, left to right."""
        return Cells.of(self.mask()[:, ::-1])

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {"rows": self.rows, "columns": self.columns, "packed": base64.b64encode(self.packed).decode("ascii")}

    @classmethod
    def from_json(cls, values: Mapping[str, Any]) -> "Cells":
        """The inverse of `to_json`."""
        return cls(values["rows"], values["columns"], base64.b64decode(values["packed"]))


def cells_across(width_mm: float, height_mm: float) -> tuple[int, int]:
    """Columns and rows of cells for a picture of this size."""
    cell_mm = min(max(max(width_mm, height_mm) / _CELLS_ALONG, _FINEST_MM), COARSEST_MM)
    return max(1, math.ceil(width_mm / cell_mm)), max(1, math.ceil(height_mm / cell_mm))


def reduced(coverage: NDArray[np.uint8], *, width_mm: float, height_mm: float, beyond_mm: float = 0.0) -> NDArray[np.bool_]:
    """The cells of a coverage plane h×w uint8 (0 = bare garment), as rows × columns bool, True = film may lie here.

    `beyond_mm`: how far film may reach beyond covered pixels. The plane may be memory-mapped: each row is read about once, a
    band of rows at a time.
    """
    columns, rows = cells_across(width_mm, height_mm)
    (height, width), half = coverage.shape, 0.5
    tops, bottoms = _reach(height, rows, half + beyond_mm * height / height_mm)
    lefts, rights = _reach(width, columns, half + beyond_mm * width / width_mm)
    # reduceat takes the greatest of [left, right) at even places; one blank column lets `right` be the width itself.
    ends = np.stack([lefts, rights], axis=1).ravel()
    line = np.zeros(coverage.shape[1] + 1, np.uint8)
    mask = np.empty((rows, columns), np.bool_)
    for row, (top, bottom) in enumerate(zip(tops, bottoms, strict=True)):
        np.max(coverage[top:bottom], axis=0, out=line[:-1])
        mask[row] = np.maximum.reduceat(line, ends)[::2] > 0
    return mask


def _reach(pixels: int, cells: int, grown_px: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """First and past-the-last pixel that, grown by so much, reaches into each of `cells` equal cells."""
    edges = np.arange(cells + 1) * (pixels / cells)
    first = np.floor(edges[:-1] - grown_px).clip(0, pixels - 1).astype(np.intp)
    last = np.ceil(edges[1:] + grown_px).clip(1, pixels).astype(np.intp)
    return first, last
