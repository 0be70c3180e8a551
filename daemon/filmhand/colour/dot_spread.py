"""How far an ink's dots spread beyond their cells, read off its own wedge, and dots drawn so large, for proofs under a magnifier.

A dot's cell is a square of one pitch, across and down alike. A dot is drawn as a square with rounded corners, through the corners
of its cell, so that full tone leaves no gap: the cell itself where dots do not spread; the more they do, the rounder and larger;
a disc from the radius √½ on, and then a larger disc. One number says which: the radius of its corners, in pitches.

One shape cannot follow a whole wedge. It is right where dots lie singly; further up, how much they overlap decides, and drawn
areas stay within a few hundredths of an ink's wedge. White's wedge, whose dots are taken to close up without overlapping, is left
behind by up to two tenths at mid tones, where they do overlap.
"""

from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled
from filmhand.colour.model import InkModel
from filmhand.colour.neugebauer import to_mixing_space
from filmhand.colour.opacity import Opacity, laid
from filmhand.rules import HIGHLIGHT, WHITE

Bytes = NDArray[np.uint8]
Reals = NDArray[np.float32]
Floats = NDArray[np.float64]
_Masks = NDArray[np.uint64]

_SINGLE: Final = 0.25
"""Amount at which wedges are read. Well scattered dots then lie two pitches apart (Ulichney 1987: 1/√g), so that dots up to the
radius 1 hardly meet; and it is far enough up the wedge that noise and a wavy start count little."""
_DISC: Final = np.sqrt(0.5)
"""The radius from which a dot is a disc: that through its cell's corners."""
_RISE: Final = 4 - 2 * np.sqrt(2)
_FALL: Final = 4 * np.sqrt(2) - 2 - np.pi
"""Below it the area is 1 + _RISE·r - _FALL·r²: the square within, four strips and four quarters of a disc, put together."""
_FINE: Final = 8
"""Points along a side of a pixel at which it is asked whether a dot lies there: 64 of them, a bit each of one word."""
_ROUGH: Final = 4
"""Pixels a pitch below which so few points are too rough: areas were off by up to 9 %, from here on by 1 % (measured)."""


def spread_radius(model: InkModel) -> Mapping[str, float]:
    """How round and large each ink's dots are, as `drawn` takes it, in pitches: by letter, the colour inks, W and W2.

    The area that single dots cover is the effective area that the wedge shows (Murray 1936, Yule and Nielsen 1951), by the ink's
    strongest of X, Y and Z; white's is that of its opacity. 0, the bare cell, also for an ink that covers less than it was asked
    to; 1.13, the disc of four cells, for one that covers all when asked for a quarter.
    """
    count = len(model.inks)
    wedges = np.array([0, _SINGLE, 1])[:, None] * np.eye(count)[:, None]
    areas = [_area(wedge) for wedge in to_mixing_space(model.xyz(wedges), model.yule_nielsen)]
    white = _radius(_white_area(model.opacity) / _SINGLE)
    inks = {ink: _radius(area / _SINGLE) for ink, area in zip(model.inks, areas, strict=True)}
    return {**inks, WHITE: white, HIGHLIGHT: white}


def drawn(levels: Bytes, radius: float, *, zoom: int) -> Reals:
    """Share of each pixel under dots, float32 (h·zoom, w·zoom), 0 to 1: 1 is ink.

    `levels`: uint8 (h, w), 0 no dot, 255 a full one; smaller drops cover that part of its area. `radius`: pitches, from
    `spread_radius`. `zoom`: pixels a pitch. Where dots overlap they count once. Dots outside `levels` are not known: give `reach`
    more on every side, and cut them off after. ValueError for a zoom below 1.
    """
    if 1 <= zoom < _ROUGH:  # too few points a dot
        fine = drawn(levels, radius, zoom=_ROUGH * zoom)
        return np.asarray(fine.reshape(levels.shape[0] * zoom, _ROUGH, -1, _ROUGH).mean(axis=(1, 3)))
    if zoom < 1:
        raise ValueError(f"zoom {zoom}: expected 1 or more pixels a dot")
    sizes = np.unique(levels[levels > 0])
    masks = np.zeros((levels.shape[0] * zoom, levels.shape[1] * zoom), np.uint64)
    if not len(sizes):
        return masks.astype(np.float32)
    stamps = np.stack([_stamp(radius, size / 255, zoom) for size in sizes])
    place = np.searchsorted(sizes, np.arange(256)).astype(np.uint8)
    _lay(np.ascontiguousarray(levels), place, stamps, zoom, masks)
    return np.bitwise_count(masks).astype(np.float32) / np.float32(_FINE * _FINE)


def reach(radius: float) -> int:
    """How many cells beyond its own, at most, a dot of a radius touches on each side."""
    half, corner = _shape(radius)
    return int(np.ceil(max(half + corner - 0.5, 0)))


def _area(wedge: Floats) -> float:
    """Effective area at the middle one of no, some and full ink (3, 3), given in the mixing space."""
    none, some, full = wedge[:, np.argmax(wedge[0] - wedge[2])]
    return float((none - some) / (none - full)) if none > full else 0.0


def _white_area(opacity: Opacity) -> float:
    area, _ = laid(opacity.volume_for(_SINGLE), opacity.closes_at)
    return float(area)


def _radius(area: float) -> float:
    """Of the dot that covers so many cells."""
    if area >= np.pi * _DISC**2:
        return float(np.sqrt(area / np.pi))
    return float((_RISE - np.sqrt(_RISE**2 - 4 * _FALL * max(area - 1, 0))) / (2 * _FALL))


def _shape(radius: float) -> tuple[float, float]:
    """Half the side of the square within a dot, and how far the dot goes beyond it."""
    return max(0.5 - radius * float(np.sqrt(0.5)), 0.0), radius


def _stamp(radius: float, size: float, zoom: int) -> _Masks:
    """The dot of a part of a full drop, in a square of whole cells about its own: which points of each pixel it covers."""
    half, corner = (np.sqrt(size) * part for part in _shape(radius))
    cells = 2 * reach(radius) + 1
    at = np.abs((np.arange(cells * zoom * _FINE) + 0.5) / (zoom * _FINE) - cells / 2)
    beyond = np.maximum(at - half, 0)
    covered = beyond[:, None] ** 2 + beyond**2 <= corner**2
    bits = covered.reshape(cells * zoom, _FINE, cells * zoom, _FINE).swapaxes(1, 2).reshape(cells * zoom, cells * zoom, -1)
    return np.packbits(bits, axis=-1).view(np.uint64)[..., 0]


@compiled
def _lay(levels: Bytes, place: Bytes, stamps: _Masks, zoom: int, masks: _Masks) -> None:
    """Put each dot's stamp into `masks`."""
    side = stamps.shape[1]
    before = (side - zoom) // 2
    for y in range(levels.shape[0]):
        first, last = max(y * zoom - before, 0), min(y * zoom - before + side, masks.shape[0])
        for x in range(levels.shape[1]):
            if levels[y, x] > 0:
                stamp = stamps[place[levels[y, x]]]
                left = x * zoom - before
                start, end = max(left, 0), min(left + side, masks.shape[1])
                for j in range(first, last):
                    row = stamp[j - (y * zoom - before)]
                    for i in range(start, end):
                        masks[j, i] |= row[i - left]
