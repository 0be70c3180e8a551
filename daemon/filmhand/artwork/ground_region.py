"""How far a ground of one colour, or a shading of it, reaches into an artwork from its border."""

from dataclasses import dataclass, replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.colours import packed, unpacked
from filmhand.artwork.model import Artwork, Kind
from filmhand.artwork.shading import Shading
from filmhand.artwork.source import bands
from filmhand.colour import ciede2000, cielab
from filmhand.colour.source import xyz_of_source
from filmhand.rules import Intent

Pixels = NDArray[np.uint8]
Mask = NDArray[np.bool_]

NEAR: Final = 20
"""One tolerance of `Region.distance`: up to here it is ground."""

FAR: Final = 3 * NEAR
"""What lies within the ground and nowhere further from it than this is its own noise, such as JPEG's."""

JPEG_BLOCK: Final = 8  # ITU-T T.81: errors spread no further than the block that holds an edge

_FLOODED, _SIDE_BY_SIDE = 2, 4

_TIMES: Final = 3
"""How often a shading is laid anew through the ground found so far."""

_EVEN_RGB: Final = 1.0
"""A surface that nowhere strays further from the last is not worth another look."""

_SAMPLES: Final = 500_000


@dataclass(frozen=True)
class Region:
    """`removed`: h×w, true where the ground reaches. `flat`: h×w×3 or more, uint8, colours with the ground's shading taken off.

    `distance`: h×w uint8, ΔE00 from the ground in twentieths of the tolerance, rounded up; 255 = that or more.
    `ground`: its colour (3 uint8) in `flat`.
    """

    removed: Mask
    flat: Pixels
    distance: NDArray[np.uint8]
    ground: Pixels


def region_of(artwork: Artwork, ground: Pixels, *, tolerance: float, shading: Shading | None) -> Region:
    """The region of a ground of colour `ground` (3 values); where it turns out to be shaded, the shading is followed inward."""
    followed = _followed(artwork, ground, tolerance, shading)
    return _flooded(artwork, _flat(artwork.pixels, ground, followed), ground, tolerance)


def _followed(artwork: Artwork, ground: Pixels, tolerance: float, shading: Shading | None) -> Shading | None:
    """The surface through all of the ground that can be reached, a little further each time; None where it is one colour.

    An even grid of pixels is looked at, and JPEG's noise let be: a surface needs no more.
    """
    step = max(1, int(np.sqrt(artwork.height_px * artwork.width_px / _SAMPLES)))
    sample = replace(artwork, pixels=np.ascontiguousarray(artwork.pixels[::step, ::step]), kind=Kind.PNG)
    shape = sample.pixels.shape[:2]
    last = Shading.even(ground, shape) if shading is None else replace(shading, height=shape[0], width=shape[1])
    for _ in range(_TIMES):
        removed = _flooded(sample, _flat(sample.pixels, ground, None if shading is None else last), ground, tolerance).removed
        rows, columns = np.nonzero(removed)
        laid = Shading.through((rows, columns), sample.pixels[rows, columns, :3], shape)
        if not rows.size or laid.strays_from(last) <= _EVEN_RGB:
            break
        shading = last = laid
    return None if shading is None else replace(shading, height=artwork.height_px, width=artwork.width_px)


def _flat(pixels: Pixels, ground: Pixels, shading: Shading | None) -> Pixels:
    return pixels if shading is None else shading.taken_off(pixels, ground)


def _flooded(artwork: Artwork, flat: Pixels, ground: Pixels, tolerance: float) -> Region:
    distance = _distances(flat, ground, tolerance, artwork.profile)
    removed = reached_from_border(distance <= NEAR)
    if artwork.kind is Kind.JPEG:
        removed = reached_from_border((distance <= NEAR) | _ringing(distance, removed))
    removed |= _specks(distance, removed)
    return Region(removed, flat, distance, ground)


def difference(colours: Pixels, from_colours: Pixels, profile: bytes | None) -> NDArray[np.float64]:
    """ΔE00 of n×3 colours from one (3), or each from its own (n×3)."""
    both = np.vstack((np.atleast_2d(from_colours), colours))
    lab = cielab.lab_from_xyz(xyz_of_source(both, profile=profile, intent=Intent.RELATIVE, bpc=True))
    return ciede2000.difference(lab[-len(colours) :], lab[: -len(colours)])


def _distances(flat: Pixels, ground: Pixels, tolerance: float, profile: bytes | None) -> NDArray[np.uint8]:
    """`Region.distance`. Each colour that occurs is measured once."""
    occurs = np.zeros(1 << 24, np.bool_)
    for top, bottom in bands(flat.shape[0]):
        occurs[packed(flat[top:bottom])] = True
    table = np.full(1 << 24, 255, np.uint8)
    numbers = np.flatnonzero(occurs)
    for start in range(0, numbers.size, 1 << 16):
        some = numbers[start : start + (1 << 16)]
        off = difference(unpacked(some), ground, profile)
        table[some] = np.minimum(np.ceil(off * (NEAR / max(tolerance, 0.01))), 255)
    distance = np.empty(flat.shape[:2], np.uint8)
    for top, bottom in bands(flat.shape[0]):
        distance[top:bottom] = table[packed(flat[top:bottom])]
    return distance


def reached_from_border(candidates: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which candidates (h×w) are joined to the border, side by side, through candidates."""
    field = np.ones((candidates.shape[0] + 2, candidates.shape[1] + 2), np.uint8)
    field[1:-1, 1:-1] = candidates
    cv2.floodFill(field, None, (0, 0), _FLOODED, flags=_SIDE_BY_SIDE)
    return np.asarray(field[1:-1, 1:-1] == _FLOODED)


def _ringing(distance: NDArray[np.uint8], removed: Mask) -> Mask:
    """Where JPEG's noise beside the motif may stand on the ground: almost ground, within a block of 8 × 8 pixels of both."""
    block = np.ones((2 * JPEG_BLOCK + 1, 2 * JPEG_BLOCK + 1), np.uint8)
    is_between = (distance > NEAR) & (distance <= FAR)
    for each in (distance > FAR, removed):
        is_between &= cv2.dilate(each.view(np.uint8), block).view(np.bool_)
    return is_between


def _specks(distance: NDArray[np.uint8], removed: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """What is left standing in the ground without a single pixel that is far from it."""
    left = (~removed).view(np.uint8)
    count, labels = cv2.connectedComponents(left, connectivity=8, ltype=cv2.CV_32S)
    has_far = np.zeros(count, np.bool_)
    has_far[labels[distance > FAR]] = True
    has_far[0] = True  # label 0 is what was removed already
    return np.asarray(~has_far[labels])
