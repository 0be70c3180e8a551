"""How narrow parts of the film, or gaps in it, get: what a disc of the limit's diameter cannot enter, and how wide it is.

A part may be narrow where a morphological opening takes it away (Serra, "Image Analysis and Mathematical Morphology", 1982, from
memory), with discs made by chamfer distances (Borgefors, "Distance transformations in digital images", 1986, from memory; in
OpenCV). How wide it really is says its ridge, measured across. Corners lose their tips to a disc too; but a tip has no ridge of
nearly equal distance along it, or a short one.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.preflight.finding import Box
from filmhand.preflight.grid import FILM_ALPHA, Grid, Part, Tile
from filmhand.preflight.pieces import Pieces
from filmhand.preflight.places import Places
from filmhand.preflight.width import measured_across

PER_MM: Final = 20.0
"""Grid pixels a millimetre: strokes of 0.1 to 0.8 mm come out within 0.03 mm at any angle (tests/bench/thin_lines.py)."""

_SLACK_PX: Final = 2.0
"""The opening takes away what is up to this much wider than the limit, for distances are inexact; widths decide."""

_RIDGE_REACH: Final = 3
_RIDGE_SLOPE: Final = 0.4
"""A ridge rises by less than this a pixel, over so many pixels: parallel edges, and tips of less than about 47 degrees."""

_LEAST_LENGTH_MM: Final = 1.0
"""The narrowest width is one that at least this length of ridge has, all over: a lone speck of dust does not decide."""

_PLACE_MM: Final = 4.0
_SHIFTS_MM: Final = (0.0, 2.0)
"""Places are squares of this size, laid twice: what lies across the sides of one lies within another."""

_LEAST_IN_ALL_MM: Final = 0.5
"""Less than this in all is a speck or two, which have a check of their own."""

_HALO_LIMITS: Final = 2.0
_HALO_MM: Final = 3.5
"""How much is looked at around a tile: enough to tell how long a piece is that counts by its length."""

_MARKED_ALPHA: Final = 64
"""Marks reach so far into the edge of what is narrow: a quarter."""

Mask = NDArray[np.bool_]
Reals = NDArray[np.float32]
Floats = NDArray[np.floating[Any]]


@dataclass(frozen=True)
class Narrow:
    """What is narrower than a limit. `share`: its area, as a fraction of the film's. `narrowest_mm`: None if nothing is."""

    share: float
    narrowest_mm: float | None
    where: tuple[Box, ...]


@dataclass(frozen=True)
class Ridge:
    """n points along the middle of what is narrower than a limit, in mm from the top left corner; how wide it is there, and what
    length of the middle each point stands for."""

    y_mm: Reals
    x_mm: Reals
    width_mm: Reals
    length_mm: Reals


def narrow_parts(artwork: Artwork, size: PrintedSize, *, part: Part, limit_mm: float) -> Narrow:
    """Parts of the printed film, or gaps in it, narrower than a limit."""
    grid = Grid.of(artwork, size, per_mm=PER_MM, part=part)
    places = Places(grid.height, grid.width)
    ridges: list[Ridge] = []
    film_px = narrow_px = 0
    for tile, found in _looked_at(grid, limit_mm):
        film_px += int(np.count_nonzero(tile.own(tile.mask) == (part is Part.FILM)))
        if found is None:
            continue
        own = tile.own(found.narrow)
        narrow_px += int(np.count_nonzero(own))
        marked = np.asarray(cv2.dilate(found.narrow.view(np.uint8), np.ones((3, 3), np.uint8))).view(np.bool_)
        places.add(tile.own(marked & (tile.alpha >= _MARKED_ALPHA)), tile.top, tile.left)
        ridges.append(_ridge_in(found, tile, down=PER_MM, across=PER_MM))
    narrowest = narrowest_mm(ridges)
    return Narrow(0.0, None, ()) if narrowest is None else Narrow(narrow_px / max(1, film_px), narrowest, places.boxes())


def narrow_ridges(artwork: Artwork, size: PrintedSize, *, part: Part, limit_mm: float) -> Iterator[Ridge]:
    """The ridges of what `narrow_parts` finds, some at a time."""
    grid = Grid.of(artwork, size, per_mm=PER_MM, part=part)
    down, across = grid.height / size.height_mm, grid.width / size.width_mm
    for tile, found in _looked_at(grid, limit_mm):
        if found is not None:
            yield _ridge_in(found, tile, down=down, across=across)


def _ridge_in(found: "_Found", tile: Tile, *, down: float, across: float) -> Ridge:
    own = found.is_own(tile)
    row, column = found.middle[own, 0] + (tile.top - tile.halo), found.middle[own, 1] + (tile.left - tile.halo)
    return Ridge((row + 0.5) / down, (column + 0.5) / across, found.width_px[own] / PER_MM, found.length_px[own] / PER_MM)


def narrowest_mm(ridges: Sequence[Ridge]) -> float | None:
    """The width that the narrowest millimetre of ridge reaches within a place of a few millimetres.

    Elsewhere the tips and joints of a thousand letters, a hair's breadth each, would together make a hairline. Of all the ridge,
    where no place has a millimetre; None where there is only a speck's.
    """
    if not ridges:
        return None
    y, x, widths, lengths = (
        np.concatenate([getattr(ridge, name) for ridge in ridges]) for name in ("y_mm", "x_mm", "width_mm", "length_mm")
    )
    if lengths.sum(dtype=np.float64) < _LEAST_IN_ALL_MM:
        return None
    order = np.argsort(widths)
    found = [_narrowest_in_a_place(y[order] + shift, x[order] + shift, widths[order], lengths[order]) for shift in _SHIFTS_MM]
    in_a_place = min((width for width in found if width is not None), default=None)
    return float(widths.max()) if in_a_place is None else in_a_place


def _narrowest_in_a_place(y: Floats, x: Floats, widths: Floats, lengths: Floats) -> float | None:
    """The same among squares of a size; points come narrowest first."""
    row, column = (np.floor(side / _PLACE_MM).astype(np.int64) for side in (y, x))
    _, place = np.unique(row * (int(column.max(initial=0)) + 2) + column, return_inverse=True)
    by_place = np.argsort(place, kind="stable")  # within a place still narrowest first
    reached = np.cumsum(lengths[by_place], dtype=np.float64)
    starts = np.flatnonzero(np.diff(place[by_place], prepend=-1))
    before = np.repeat(np.append(0.0, reached)[starts], np.diff(np.append(starts, len(reached))))
    is_enough = reached - before >= _LEAST_LENGTH_MM
    return float(widths[by_place][is_enough].min()) if is_enough.any() else None


@dataclass(frozen=True)
class _Found:
    """In a tile: narrow pixels (h×w), and n ridge points in them that are narrower than the limit.

    `length_px`: what length of the middle each stands for. `middle`: n×2 (row, column), where that lies.
    """

    narrow: Mask
    at: tuple[NDArray[np.intp], NDArray[np.intp]]
    width_px: Reals
    length_px: Reals
    middle: Reals

    def is_own(self, tile: Tile) -> Mask:
        """Which points lie in the tile's own part."""
        rows, columns = self.at[0] - tile.halo, self.at[1] - tile.halo
        return (rows >= 0) & (rows < tile.height) & (columns >= 0) & (columns < tile.width)


def _looked_at(grid: Grid, limit_mm: float) -> Iterator[tuple[Tile, _Found | None]]:
    """Every tile, with what is narrow in it."""
    halo_mm = _HALO_LIMITS * limit_mm + _HALO_MM
    for tile in grid.tiles(halo=math.ceil(halo_mm * PER_MM), hairline_px=limit_mm * PER_MM):
        yield tile, _narrow_in(tile, limit_mm * PER_MM, grid)


def _narrow_in(tile: Tile, limit_px: float, grid: Grid) -> _Found | None:
    if tile.mask.all() or not tile.mask.any():
        return None
    distance = _distance(tile.mask)
    at = _ridge(distance, tile.mask, (limit_px + _SLACK_PX) / 2)
    if not at[0].size:
        return None
    across = measured_across(tile.alpha, distance, at, longest_px=limit_px, pixel_px=grid.pixel_px)
    under = across.width_px < limit_px
    at, width_px, off_px = (at[0][under], at[1][under]), across.width_px[under], across.off_px[under]
    opened = _opened(distance, (limit_px + _SLACK_PX) / 2)
    solid = tile.alpha >= FILM_ALPHA
    pieces = Pieces.of(tile.mask & ~opened, opened, solid)
    length_px = np.maximum(0, 1 - np.abs(off_px))  # a row of pixels across the middle adds up to 1, wherever the middle lies
    counts = pieces.that_count(at, width_px, length_px, limit_mm=limit_px / PER_MM, per_mm=PER_MM, part=grid.part)
    if not counts.any():
        return None
    narrow = counts[pieces.labels] & (solid | ~pieces.is_solid[pieces.labels])
    kept = counts[pieces.labels[at]]
    middle = np.stack(at, axis=-1).astype(np.float32) + across.toward[under] * off_px[:, None]
    return _Found(narrow, (at[0][kept], at[1][kept]), width_px[kept], length_px[kept], middle[kept])


def _ridge(distance: Reals, mask: Mask, radius_px: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows and columns of the points of the mask that lie no deeper than a disc's radius, and on a ridge of the distance."""
    around = np.ones((2 * _RIDGE_REACH + 1, 2 * _RIDGE_REACH + 1), np.uint8)
    is_ridge = distance >= cv2.dilate(distance, around) - _RIDGE_REACH * _RIDGE_SLOPE
    is_ridge &= distance <= radius_px + 1.0
    is_ridge &= mask
    rows, columns = np.divmod(np.flatnonzero(is_ridge), mask.shape[1])
    return rows, columns


def _opened(distance: Reals, radius_px: float) -> Mask:
    """What a disc covers that stays within. Distances are to the nearest pixel outside; the edge lies half a pixel before it."""
    core = distance - 0.5 >= radius_px
    return np.asarray(_distance(~core) <= radius_px + 1.0) if core.any() else core


def _distance(mask: Mask) -> Reals:
    """Distance of each true pixel's centre to that of the nearest false one, in pixels, to two hundredths."""
    return np.asarray(cv2.distanceTransform(mask.view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5), np.float32)
