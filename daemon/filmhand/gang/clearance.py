"""A layout checked on pixels: no two copies nearer than the gap, none outside the printable area.

The check does not use the polygons that the layout was made with. It measures between the small cells that hold each picture's
film, at any rotation, pair by pair where boxes come near, so memory stays that of two pictures' edges however long the sheet is.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numba
import numpy as np
from numpy.typing import NDArray

from filmhand.gang.cells import Cells
from filmhand.gang.outline import Outline
from filmhand.gang.sheet import Placement
from filmhand.gang.turn import direction, turned, turned_box
from filmhand.printer import Printer

_ROUNDING_MM: Final = 0.02
"""Each edge cell's corners are taken this far inside it: less than a device dot at 1200 dpi, more than a layout's rounding."""
_SAME_PLACE: Final = -1.0


@dataclass(frozen=True)
class Area:
    """The printable area in the coordinates of the placements, mm."""

    left: float
    top: float
    right: float
    bottom: float

    @classmethod
    def of_film(cls, printer: Printer, length_mm: float) -> "Area":
        """What lies between the margins of a sheet of this length (margins included)."""
        margin = printer.margin
        return cls(margin, margin, printer.film_width - margin, length_mm - margin)


def clearance_faults(
    placements: Sequence[Placement], outlines: Sequence[Outline], *, gap_mm: float, area: Area
) -> tuple[str, ...]:
    """What is wrong with a layout, one sentence each; nothing where all is well.

    `outlines` are the placements' own, one each, mirrored as printed. Distances are between cells that may hold film, so a
    layout without a fault keeps the gap on the film too.
    """
    faults = [
        f"{_name(placement)} reaches {over:.2f} mm over the margin"
        for placement, outline in zip(placements, outlines, strict=True)
        if (over := _beyond(placement, outline, area)) > 0
    ]
    for one, other in _neighbours(placements, gap_mm):
        distance = _distance(placements[one], outlines[one], placements[other], outlines[other], gap_mm)
        if distance == _SAME_PLACE:
            faults.append(f"{_name(placements[one])} and {_name(placements[other])} overlap")
        elif distance < gap_mm:
            faults.append(
                f"{_name(placements[one])} and {_name(placements[other])} are {distance:.2f} mm apart instead of {gap_mm:g} mm"
            )
    return tuple(faults)


def _name(placement: Placement) -> str:
    return f"copy {placement.copy} of {placement.job}"


@dataclass(frozen=True)
class _Film:
    """A picture's film: its packed cells, and those at its edges row by row (`columns[starts[r] : starts[r + 1]]`).

    `corners`: n×2 float64, the corners of edge cells, slightly inside them, mm of the upright picture.
    """

    bits: NDArray[np.uint8]
    starts: NDArray[np.int64]
    columns: NDArray[np.int64]
    corners: NDArray[np.float64]
    cell_mm: tuple[float, float]


@lru_cache(maxsize=512)
def _film(cells: Cells, width_mm: float, height_mm: float) -> _Film:
    mask = cells.mask()
    around = np.pad(mask, 1)
    inner = around[:-2, 1:-1] & around[2:, 1:-1] & around[1:-1, :-2] & around[1:-1, 2:]
    rows, columns = np.nonzero(mask & ~inner)
    cell_mm = (width_mm / cells.columns, height_mm / cells.rows)
    inset = tuple(min(_ROUNDING_MM, side / 4) for side in cell_mm)
    xs = np.concatenate([columns * cell_mm[0] + inset[0], (columns + 1) * cell_mm[0] - inset[0]])
    ys = np.concatenate([rows * cell_mm[1] + inset[1], (rows + 1) * cell_mm[1] - inset[1]])
    n = len(rows)
    corners = np.stack([np.concatenate([xs, xs]), np.concatenate([ys, ys[n:], ys[:n]])], axis=1)
    return _Film(cells.bits(), np.searchsorted(rows, np.arange(cells.rows + 1)), columns, corners, cell_mm)


def _beyond(placement: Placement, outline: Outline, area: Area) -> float:
    """How far a copy reaches out of the printable area, mm; at most 0 where it does not."""
    left, top, right, bottom = _extent(outline.cells, outline.width_mm, outline.height_mm, placement.rotation_deg)
    x, y = _origin(placement, outline)
    return float(max(area.left - x - left, area.top - y - top, x + right - area.right, y + bottom - area.bottom))


@lru_cache(maxsize=1024)
def _extent(cells: Cells, width_mm: float, height_mm: float, rotation_deg: float) -> tuple[float, float, float, float]:
    """The box around a picture's film turned about its top left corner: left, top, right, bottom."""
    xs, ys = turned(_film(cells, width_mm, height_mm).corners, rotation_deg).T
    return float(xs.min()), float(ys.min()), float(xs.max()), float(ys.max())


def _neighbours(placements: Sequence[Placement], gap_mm: float) -> Iterator[tuple[int, int]]:
    """Pairs whose boxes come nearer than the gap, found by sweeping along the film."""
    order = sorted(range(len(placements)), key=lambda i: placements[i].y_mm)
    open_ones: list[int] = []
    for here in order:
        a = placements[here]
        open_ones = [i for i in open_ones if placements[i].y_mm + placements[i].height_mm + gap_mm > a.y_mm]
        for there in open_ones:
            b = placements[there]
            if a.x_mm < b.x_mm + b.width_mm + gap_mm and b.x_mm < a.x_mm + a.width_mm + gap_mm:
                yield there, here
        open_ones.append(here)


def _distance(one: Placement, one_outline: Outline, other: Placement, other_outline: Outline, gap_mm: float) -> float:
    """Distance between two copies' films, mm, where it is less than the gap; _SAME_PLACE where they overlap."""
    return min(
        _from_corners(one, one_outline, other, other_outline, gap_mm),
        _from_corners(other, other_outline, one, one_outline, gap_mm),
    )


def _from_corners(one: Placement, one_outline: Outline, other: Placement, other_outline: Outline, gap_mm: float) -> float:
    """Least distance from a copy's corners to another's cells: between two sets of boxes one end is always a corner."""
    film = _film(one_outline.cells, one_outline.width_mm, one_outline.height_mm)
    target = _film(other_outline.cells, other_outline.width_mm, other_outline.height_mm)
    shift = turned(_origin(one, one_outline) - _origin(other, other_outline), -other.rotation_deg)
    move = (*direction(one.rotation_deg - other.rotation_deg), float(shift[0]), float(shift[1]))
    shape = (other_outline.cells.rows, other_outline.cells.columns)
    return float(_nearest(film.corners, move, (target.bits, target.starts, target.columns), shape, target.cell_mm, gap_mm))


def _origin(placement: Placement, outline: Outline) -> NDArray[np.float64]:
    """Where the upright picture's top left corner lies on film."""
    left, top, _, _ = turned_box(outline.width_mm, outline.height_mm, placement.rotation_deg)
    return np.array([placement.x_mm - left, placement.y_mm - top])


@numba.njit(cache=True)
def _nearest(corners, move, film, shape, cell_mm, limit):  # type: ignore[no-untyped-def]
    """Least distance from any corner to any set cell, but no more than `limit`; _SAME_PLACE where a corner lies in a cell.

    `move`: cosine, sine and shift that carry the corners into the picture of the cells.
    """
    cos, sin, right, down = move
    bits, starts, columns = film
    rows, across = shape
    width, height = cell_mm
    best = limit
    for k in range(len(corners)):
        x = corners[k, 0] * cos + corners[k, 1] * sin + right
        y = corners[k, 1] * cos - corners[k, 0] * sin + down
        if not (-best < x < across * width + best and -best < y < rows * height + best):
            continue
        row, column = int(np.floor(y / height)), int(np.floor(x / width))
        if 0 <= row < rows and 0 <= column < across:
            place = row * across + column
            if bits[place >> 3] >> (7 - (place & 7)) & 1:
                return _SAME_PLACE
        for r in range(max(0, int((y - best) / height)), min(rows, int((y + best) / height) + 1)):
            below = max(r * height - y, y - (r + 1) * height, 0.0)
            low, high = starts[r], starts[r + 1]
            i = low + np.searchsorted(columns[low:high], int(np.floor((x - best) / width)))
            while i < high and columns[i] * width < x + best:
                beside = max(columns[i] * width - x, x - (columns[i] + 1) * width, 0.0)
                best = min(best, np.hypot(beside, below))
                i += 1
    return best
