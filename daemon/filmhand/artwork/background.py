"""The ground of opaque artwork: finding the one colour around the motif, and taking it away."""

from dataclasses import dataclass, replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.colours import packed, unpacked
from filmhand.artwork.model import Artwork, Kind
from filmhand.artwork.source import bands
from filmhand.artwork.unmix import unmixed
from filmhand.colour import ciede2000, cielab
from filmhand.colour.source import xyz_of_source
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Intent
from filmhand.words import Phrase

Pixels = NDArray[np.uint8]

GROUND: Final = "ground"

_OPAQUE_ALPHA: Final = 250
_OPAQUE_SHARE: Final = 0.999
"""Rounded corners or a few lost pixels do not make a rectangle transparent."""

_BORDER_PX: Final = 2
_LEAST_SHARE: Final = 0.8
"""Share of the border that one colour must have to be the ground: common practice, no source. The motif may touch the edge."""

_SPECK: Final = 3.0
"""What lies within the ground and nowhere further from it than this many tolerances is its own noise, such as JPEG's."""

_JPEG_BLOCK: Final = 8  # ITU-T T.81: errors spread no further than the block that holds an edge

_NEAR, _DOUBTFUL, _FAR = 0, 1, 2
_FLOODED, _SIDE_BY_SIDE = 2, 4

_REMOVED: Final = Phrase("The solid {colour} background was taken away, because this shop's rule says so.")
_REMOVED_ADVICE: Final = Phrase("Look at its edges on the proof; artwork sent with a transparent background is always cleaner.")


@dataclass(frozen=True)
class Ground:
    """The colour around the motif, as stored (in the artwork's own profile), and the share of the border that has it."""

    rgb: tuple[int, int, int]
    share: float

    @property
    def hex(self) -> str:
        """The colour as "#rrggbb"."""
        return "#{:02x}{:02x}{:02x}".format(*self.rgb)


def is_opaque(artwork: Artwork) -> bool:
    """Whether the artwork is a filled rectangle: as good as no pixel of it is transparent."""
    solid = sum(
        int(np.count_nonzero(artwork.pixels[top:bottom, :, 3] >= _OPAQUE_ALPHA)) for top, bottom in bands(artwork.height_px)
    )
    return solid >= _OPAQUE_SHARE * artwork.width_px * artwork.height_px


def ground_of(artwork: Artwork, tolerance: float) -> Ground | None:
    """The ground of opaque artwork: a colour that most of its border is within `tolerance` (ΔE00) of. None if there is none."""
    if not is_opaque(artwork):
        return None
    pixels = artwork.pixels
    edge = min(_BORDER_PX, artwork.height_px, artwork.width_px)
    sides = (pixels[:edge], pixels[-edge:], pixels[:, :edge], pixels[:, -edge:])
    border = np.concatenate([side[..., :3].reshape(-1, 3) for side in sides])
    middle = np.median(border, axis=0).astype(np.uint8)
    share = float(np.mean(_difference(border, middle, artwork.profile) <= tolerance))
    red, green, blue = (int(value) for value in middle)
    return Ground((red, green, blue), share) if share >= _LEAST_SHARE else None


def without_ground(artwork: Artwork, ground: Ground, tolerance: float) -> Artwork:
    """The artwork with its ground made transparent as far as it reaches in from the border, and edges unmixed from its colour.

    Ground that the motif encloses stays: it cannot be told from the motif's own colour.
    """
    near = _nearness(artwork, ground, tolerance)
    candidates = near == _NEAR
    if artwork.kind is Kind.JPEG:
        candidates |= _ringing(near)
    removed = reached_from_border(candidates)
    removed |= _specks(near, removed)
    pixels = unmixed(artwork.pixels, removed, np.array(ground.rgb, np.uint8))
    finding = Finding(GROUND, Severity.WARN, _REMOVED(colour=ground.hex), _REMOVED_ADVICE())
    return replace(artwork, pixels=pixels, findings=(*artwork.findings, finding))


def _difference(colours: Pixels, ground: Pixels, profile: bytes | None) -> NDArray[np.float64]:
    """ΔE00 of n×3 colours from one."""
    xyz = xyz_of_source(np.vstack((ground[None], colours)), profile=profile, intent=Intent.RELATIVE, bpc=True)
    lab = cielab.lab_from_xyz(xyz)
    return ciede2000.difference(lab[1:], lab[:1])


def _nearness(artwork: Artwork, ground: Ground, tolerance: float) -> NDArray[np.uint8]:
    """How near each pixel (h×w) is to the ground: _NEAR, _DOUBTFUL or _FAR. Each colour that occurs is measured once."""
    occurs = np.zeros(1 << 24, np.bool_)
    for top, bottom in bands(artwork.height_px):
        occurs[packed(artwork.pixels[top:bottom])] = True
    table = np.full(1 << 24, _FAR, np.uint8)
    colours = np.flatnonzero(occurs)
    for start in range(0, colours.size, 1 << 16):
        some = colours[start : start + (1 << 16)]
        distance = _difference(unpacked(some), np.array(ground.rgb, np.uint8), artwork.profile)
        table[some] = np.where(distance <= tolerance, _NEAR, np.where(distance <= _SPECK * tolerance, _DOUBTFUL, _FAR))
    near = np.empty(artwork.pixels.shape[:2], np.uint8)
    for top, bottom in bands(artwork.height_px):
        near[top:bottom] = table[packed(artwork.pixels[top:bottom])]
    return near


def reached_from_border(candidates: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which candidates (h×w) are joined to the border, side by side, through candidates."""
    field = np.ones((candidates.shape[0] + 2, candidates.shape[1] + 2), np.uint8)
    field[1:-1, 1:-1] = candidates
    cv2.floodFill(field, None, (0, 0), _FLOODED, flags=_SIDE_BY_SIDE)
    return np.asarray(field[1:-1, 1:-1] == _FLOODED)


def _ringing(near: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Where JPEG's noise beside the motif may stand on the ground: almost ground, within a block of 8 × 8 pixels of the motif."""
    block = np.ones((2 * _JPEG_BLOCK + 1, 2 * _JPEG_BLOCK + 1), np.uint8)
    return np.asarray((near == _DOUBTFUL) & cv2.dilate((near == _FAR).view(np.uint8), block).view(np.bool_))


def _specks(near: NDArray[np.uint8], removed: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """What is left standing in the ground without a single pixel that is far from it."""
    left = (~removed).view(np.uint8)
    count, labels = cv2.connectedComponents(left, connectivity=8, ltype=cv2.CV_32S)
    has_far = np.zeros(count, np.bool_)
    has_far[labels[near == _FAR]] = True
    has_far[0] = True  # label 0 is what was removed already
    return np.asarray(~has_far[labels])
