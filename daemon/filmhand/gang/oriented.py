"""A design as it lies on the film: mirrored, turned, in the one convention of gang/sheet.py.

Mirror and half turn cost nothing: the dots' positions in the source run backwards. A quarter turn needs rows where the source
has columns, any other angle needs new pixels; both are made once, at source resolution, and kept in a folder beside the
separation, in the same form.
"""

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
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
        """Width and height of the upright box around the whole turned picture."""
        return self.stored.box_mm or self.size_mm

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of what is stored: at slant angles the box's empty corners are not."""
        return self.stored.width_mm, self.stored.height_mm

    @property
    def offset_mm(self) -> tuple[float, float]:
        """Where that lies in the upright box: left and top."""
        (box_width, box_height), (width, height) = self.upright_mm, self.size_mm
        left, top = self.stored.left_mm, self.stored.top_mm
        return box_width - width - left if self.flip_x else left, box_height - height - top if self.flip_y else top


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
        size_px = stored.height_px, stored.width_px
        facts: dict[str, object] = {"width_mm": stored.height_mm, "height_mm": stored.width_mm}
        blocks: Callable[[Array, int], Iterator[NDArray[np.uint8]]] = _swapped
    else:
        turn = _Turn.of(stored, angle).cut()
        size_px, facts, blocks = turn.size_px, turn.facts, turn.blocks
    for array, name in ((stored.planes, PLANES), (stored.coverage, COVERAGE)):
        shape = (array.shape[0], size_px[1], size_px[0])
        with (folder / name).open("wb") as file:
            header = {"descr": "|u1", "fortran_order": False, "shape": shape if name == PLANES else shape[1:]}
            np.lib.format.write_array_header_1_0(file, header)
            for plane in range(shape[0]):
                for block in blocks(array, plane):
                    file.write(block.data)
    (folder / FACTS).write_text(json.dumps({"inks": stored.inks, **facts}), "utf-8")


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


@dataclass(frozen=True, eq=False)
class _Turn:
    """A picture turned by an angle, or a window of it.

    `whole_px`: of the upright box around all of it; `left`, `top`, `size_px`: the window. `pitch_mm`: of its pixels.
    """

    stored: Stored
    angle: float
    whole_px: tuple[int, int]
    pitch_mm: tuple[float, float]
    left: int
    top: int
    size_px: tuple[int, int]

    @classmethod
    def of(cls, stored: Stored, angle: float) -> "_Turn":
        """All of it, at the finer of the picture's two resolutions."""
        _, _, width, height = turned_box(stored.width_mm, stored.height_mm, angle)
        finest = max(stored.width_px / stored.width_mm, stored.height_px / stored.height_mm)
        size = max(1, round(width * finest)), max(1, round(height * finest))
        return cls(stored, angle, size, (width / size[0], height / size[1]), 0, 0, size)

    def cut(self) -> "_Turn":
        """The window of its film: turned, most pictures leave corners of their box empty, which may lie beyond the film."""
        seen = [(block.any(axis=1), block.any(axis=0)) for block in self.blocks(self.stored.coverage, 0)]
        rows = np.flatnonzero(np.concatenate([one for one, _ in seen]))
        columns = np.flatnonzero(np.logical_or.reduce([one for _, one in seen]))
        if not rows.size:
            return self
        size = int(columns[-1] - columns[0]) + 1, int(rows[-1] - rows[0]) + 1
        return replace(self, left=int(columns[0]), top=int(rows[0]), size_px=size)

    @property
    def facts(self) -> dict[str, object]:
        """The window's size, and where it lies in the whole."""
        across, down = self.pitch_mm
        return {
            "width_mm": self.size_px[0] * across,
            "height_mm": self.size_px[1] * down,
            "left_mm": self.left * across,
            "top_mm": self.top * down,
            "box_mm": [self.whole_px[0] * across, self.whole_px[1] * down],
        }

    def blocks(self, array: Array, plane: int) -> Iterator[NDArray[np.uint8]]:
        """A plane of it, in blocks of rows. The plane that it is turned from is held whole meanwhile."""
        stored = self.stored
        source = read_rows(array, plane, 0, array.shape[1])
        # One step to the right, one step down, and the first pixel's middle, in source pixels: turned back.
        to_px = np.array([stored.width_px / stored.width_mm, stored.height_px / stored.height_mm])
        right, down = turned(np.diag(self.pitch_mm), -self.angle) * to_px
        middle = np.array([stored.width_px, stored.height_px]) / 2 - 0.5
        first = middle - right * ((self.whole_px[0] - 1) / 2 - self.left) - down * ((self.whole_px[1] - 1) / 2 - self.top)
        width, height = self.size_px
        rows = max(1, _BLOCK // width)
        for top in range(0, height, rows):
            block = np.empty((min(rows, height - top), width), np.uint8)
            _sample(source, first + top * down, np.stack([right, down]), array is stored.coverage, block)
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
