"""A design as it lies on the film: mirrored, turned, in the one convention of gang/sheet.py.

Mirror and half turn cost nothing: the dots' positions in the source run backwards. A quarter turn needs rows where the source
has columns, any other angle needs new pixels; both are made once, at source resolution, and kept in a folder beside the
separation, in the same form.
"""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled
from filmhand.gang.kept import kept
from filmhand.gang.stored import COVERAGE, FACTS, PLANES, Array, Stored, open_stored, read_rows
from filmhand.gang.turn import turned, turned_box

_BLOCK: Final = 1 << 25
"""Bytes of a plane that are turned at a time."""
_SQUARE: Final = 64


@dataclass(frozen=True)
class Oriented:
    """A stored picture and how it is read: `flip_x` from right to left, `flip_y` from bottom to top."""

    stored: Stored
    flip_x: bool
    flip_y: bool

    @property
    def upright_mm(self) -> tuple[float, float]:
        """Width and height of the upright box around it."""
        return self.stored.width_mm, self.stored.height_mm


def oriented(stored: Stored, rotation_deg: float, *, mirror: bool) -> Oriented:
    """The picture mirrored left to right if `mirror`, then turned counter-clockwise as seen. May write the turned folder."""
    quarters, rest = divmod(rotation_deg % 360.0, 90.0)
    if rest:  # turning a mirrored picture is mirroring one that was turned the other way
        angle = (-rotation_deg if mirror else rotation_deg) % 360.0
        return Oriented(_kept(stored, f"turned-{angle:.4f}", angle), mirror, flip_y=False)
    match quarters:
        case 0:
            return Oriented(stored, mirror, flip_y=False)
        case 2:
            return Oriented(stored, not mirror, flip_y=True)
    # A quarter turn counter-clockwise: rows become columns, then upside down. The mirror has become one of the rows.
    swapped = _kept(stored, "turned-over", None)
    return Oriented(swapped, flip_x=quarters != 1, flip_y=mirror ^ (quarters == 1))


def _kept(stored: Stored, name: str, angle: float | None) -> Stored:
    """The picture turned by an angle, or (None) with rows and columns swapped; from the folder beside it, or made now."""
    return open_stored(kept(stored.folder / name, lambda part: _write(stored, part, angle)))


def _write(stored: Stored, folder: Path, angle: float | None) -> None:
    if angle is None:
        size_mm = stored.height_mm, stored.width_mm
        size_px = stored.height_px, stored.width_px
    else:
        _, _, *box = turned_box(stored.width_mm, stored.height_mm, angle)
        size_mm = box[0], box[1]
        finest = max(stored.width_px / stored.width_mm, stored.height_px / stored.height_mm)
        size_px = max(1, round(size_mm[0] * finest)), max(1, round(size_mm[1] * finest))
    for array, name in ((stored.planes, PLANES), (stored.coverage, COVERAGE)):
        shape = (array.shape[0], size_px[1], size_px[0])
        with (folder / name).open("wb") as file:
            header = {"descr": "|u1", "fortran_order": False, "shape": shape if name == PLANES else shape[1:]}
            np.lib.format.write_array_header_1_0(file, header)
            for plane in range(shape[0]):
                if angle is None:
                    blocks = _swapped(array, plane)
                else:
                    blocks = _rotated(stored, array, plane, angle=angle, size_mm=size_mm, size_px=size_px)
                for block in blocks:
                    file.write(block.data)
    facts = {"inks": stored.inks, "width_mm": size_mm[0], "height_mm": size_mm[1]}
    (folder / FACTS).write_text(json.dumps(facts), "utf-8")


def _swapped(array: Array, plane: int) -> Iterator[NDArray[np.uint8]]:
    """A plane's columns as rows, in blocks."""
    _, height, width = array.shape
    columns = max(1, _BLOCK // height)
    rows = max(1, _BLOCK // width)
    for left in range(0, width, columns):
        right = min(left + columns, width)
        block = np.empty((right - left, height), np.uint8)
        for top in range(0, height, rows):
            bottom = min(top + rows, height)
            _swap(read_rows(array, plane, top, bottom)[:, left:right], block[:, top:bottom])
        yield block


def _rotated(
    stored: Stored, array: Array, plane: int, *, angle: float, size_mm: tuple[float, float], size_px: tuple[int, int]
) -> Iterator[NDArray[np.uint8]]:
    """A plane turned by an angle, in blocks of rows. The plane itself is held whole meanwhile."""
    source = read_rows(array, plane, 0, array.shape[1])
    is_coverage = array is stored.coverage
    # One step to the right, one step down, and the first pixel's middle, in source pixels: turned back.
    pitch = np.array([size_mm[0] / size_px[0], size_mm[1] / size_px[1]])
    to_px = np.array([stored.width_px / stored.width_mm, stored.height_px / stored.height_mm])
    right, down = turned(np.diag(pitch), -angle) * to_px
    middle = np.array([stored.width_px, stored.height_px]) / 2 - 0.5
    first = middle - right * (size_px[0] - 1) / 2 - down * (size_px[1] - 1) / 2
    rows = max(1, _BLOCK // size_px[0])
    for top in range(0, size_px[1], rows):
        block = np.empty((min(rows, size_px[1] - top), size_px[0]), np.uint8)
        _sample(source, first + top * down, np.stack([right, down]), is_coverage, block)
        yield block


@compiled
def _swap(source: NDArray[np.uint8], out: NDArray[np.uint8]) -> None:
    """Rows into columns, square by square, so that both sides stay in the processor's cache."""
    height, width = source.shape
    for top in range(0, height, _SQUARE):
        for left in range(0, width, _SQUARE):
            for x in range(left, min(left + _SQUARE, width)):
                for y in range(top, min(top + _SQUARE, height)):
                    out[x, y] = source[y, x]


@compiled
def _sample(
    source: NDArray[np.uint8], first: NDArray[np.float64], steps: NDArray[np.float64], bare: bool, out: NDArray[np.uint8]
) -> None:
    """Bilinear samples along two directions. Outside the source there is nothing (`bare`) or what its edge has."""
    height, width = source.shape
    for y in range(out.shape[0]):
        for x in range(out.shape[1]):
            u = first[0] + x * steps[0, 0] + y * steps[1, 0]
            v = first[1] + x * steps[0, 1] + y * steps[1, 1]
            i, j = int(np.floor(u)), int(np.floor(v))
            if bare and (i < -1 or j < -1 or i >= width or j >= height):
                out[y, x] = 0
                continue
            right, down = u - i, v - j
            left, up = 1 - right, 1 - down
            if bare:
                left, right = left if i >= 0 else 0.0, right if i + 1 < width else 0.0
                up, down = up if j >= 0 else 0.0, down if j + 1 < height else 0.0
            column, row = min(max(i, 0), width - 1), min(max(j, 0), height - 1)
            next_column, next_row = min(max(i + 1, 0), width - 1), min(max(j + 1, 0), height - 1)
            above = source[row, column] * left + source[row, next_column] * right
            below = source[next_row, column] * left + source[next_row, next_column] * right
            out[y, x] = int(above * up + below * down + 0.5)
