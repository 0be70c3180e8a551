"""How far places on a fine grid lie from a picture's film, row by row, from bands of its pixels.

Pixels count as the rectangles they are, so distances are exact whatever their size and shape. Only what lies within reach of a
row is held, so memory grows with the picture's width and never with its height.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled

Squares = NDArray[np.float32]


@dataclass(frozen=True)
class Raster:
    """A picture's pixels: how many across and down, and the width and height of one in mm."""

    width: int
    height: int
    pixel_mm: tuple[float, float]


@dataclass(frozen=True)
class Nodes:
    """A grid of places over a picture and around it, mm from its top left corner: `first_mm + step_mm · k` both ways."""

    first_mm: float
    step_mm: float
    columns: int
    rows: int

    @classmethod
    def around(cls, raster: Raster, *, reach_mm: float, step_mm: float) -> "Nodes":
        """The grid that goes at least `reach_mm` beyond the picture's box."""
        beyond = ceil(reach_mm / step_mm)
        across, down = (
            ceil(count * pitch / step_mm) for count, pitch in zip((raster.width, raster.height), raster.pixel_mm, strict=True)
        )
        return cls(-beyond * step_mm, step_mm, across + 2 * beyond + 1, down + 2 * beyond + 1)


def distances(bands: Iterable[NDArray[np.uint8]], raster: Raster, nodes: Nodes, *, reach_mm: float) -> Iterator[Squares]:
    """Squared distance (mm²) from each node to the nearest covered pixel, in blocks k×columns float32 from the top down.

    `bands`: the picture's rows in order, k×width uint8 each, 0 = bare. Distances beyond `reach_mm` come out greater than it.
    """
    pitch = raster.pixel_mm[1]
    held, first_held, done = np.empty((0, nodes.columns), np.float32), 0, 0
    for band in bands:
        fresh = np.empty((len(band), nodes.columns), np.float32)
        _across(band, raster.pixel_mm[0], nodes.first_mm, nodes.step_mm, fresh)
        held = np.concatenate([held, fresh])
        last = first_held + len(held)
        ready = nodes.rows if last >= raster.height else floor((last * pitch - reach_mm - nodes.first_mm) / nodes.step_mm)
        if ready > done:
            block = np.empty((ready - done, nodes.columns), np.float32)
            _down(held, first_held, pitch, (nodes.first_mm + done * nodes.step_mm, nodes.step_mm, reach_mm), block)
            yield block
            done = ready
        needed = floor((nodes.first_mm + done * nodes.step_mm - reach_mm) / pitch)
        spent = min(max(0, needed - first_held), len(held))
        held, first_held = held[spent:], first_held + spent


@compiled
def _across(rows: NDArray[np.uint8], pitch: float, first: float, step: float, out: Squares) -> None:
    """Squared distance along each row from every node's x to the nearest covered pixel of the row; infinite where it has none."""
    width, count = rows.shape[1], out.shape[1]
    for y in range(rows.shape[0]):
        row = rows[y]
        if not row.any():
            out[y] = np.inf
            continue
        seen, edge = 0, -np.inf  # pixels looked at; where the last covered one ends
        for j in range(count):
            x = first + j * step
            while seen < width and seen * pitch <= x:
                if row[seen]:
                    edge = (seen + 1) * pitch
                seen += 1
            out[y, j] = max(0.0, x - edge) ** 2
        seen, edge = width, np.inf
        for j in range(count - 1, -1, -1):
            x = first + j * step
            while seen > 0 and seen * pitch >= x:
                seen -= 1
                if row[seen]:
                    edge = seen * pitch
            out[y, j] = min(out[y, j], max(0.0, edge - x) ** 2)


@compiled
def _down(across: Squares, first_row: int, pitch: float, nodes: tuple[float, float, float], out: Squares) -> None:
    """Squared distances from nodes to film, by those along each row. `nodes`: the first y, the step, the reach."""
    start, step, reach = nodes
    bare = np.empty(across.shape[0], np.bool_)
    for i in range(across.shape[0]):
        bare[i] = np.isinf(across[i, 0])
    for k in range(out.shape[0]):
        y = start + k * step
        out[k] = np.inf
        low = max(0, int(np.floor((y - reach) / pitch)) - first_row)
        high = min(across.shape[0], int(np.ceil((y + reach) / pitch)) - first_row)
        for i in range(low, high):
            if bare[i]:
                continue
            top = (first_row + i) * pitch
            away = np.float32(max(0.0, top - y, y - top - pitch) ** 2)
            for j in range(out.shape[1]):
                out[k, j] = min(out[k, j], across[i, j] + away)
