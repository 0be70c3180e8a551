"""The ground of opaque artwork: finding the one colour around the motif, and taking it away."""

from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.colours import hex_of
from filmhand.artwork.ground_region import Region, difference, region_of
from filmhand.artwork.model import Artwork
from filmhand.artwork.shading import Shading
from filmhand.artwork.source import bands
from filmhand.artwork.unmix import unmixed
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import OnOpaque, Rule
from filmhand.words import Phrase

GROUND: Final = "ground"

_OPAQUE_ALPHA: Final = 250
_OPAQUE_SHARE: Final = 0.999
"""Rounded corners or a few lost pixels do not make a rectangle transparent."""

_BORDER_PX: Final = 2
_LEAST_SHARE: Final = 0.8
"""Share of the border that one colour must have to be the ground: common practice, no source. The motif may touch the edge."""

_MOST_SHADED: Final = 4.0
"""A ground lit unevenly may stray from its middle colour by this many tolerances; what strays further is a picture."""

_PIECES: Final = 64
_STEP: Final = 0.5
"""From one of so many pieces of its border to the next a shaded ground changes by less than this many tolerances."""

_REMOVED: Final = Phrase("The solid {colour} background was taken away, because this shop's rule says so.")
_REMOVED_ADVICE: Final = Phrase("Look at its edges on the proof; artwork sent with a transparent background is always cleaner.")


@dataclass(frozen=True)
class Ground:
    """The colour around the motif, as stored (in the artwork's own profile), and the share of the border that has it.

    `shading`: the surface that its border lies on, where light falls on it unevenly; `rgb` is then its middle colour.
    """

    rgb: tuple[int, int, int]
    share: float
    shading: Shading | None = field(default=None, compare=False)

    @property
    def hex(self) -> str:
        """The colour as "#rrggbb"."""
        return hex_of(np.array(self.rgb))


def is_opaque(artwork: Artwork) -> bool:
    """Whether the artwork is a filled rectangle: as good as no pixel of it is transparent."""
    solid = sum(
        int(np.count_nonzero(artwork.pixels[top:bottom, :, 3] >= _OPAQUE_ALPHA)) for top, bottom in bands(artwork.height_px)
    )
    return solid >= _OPAQUE_SHARE * artwork.width_px * artwork.height_px


def ground_of(artwork: Artwork, tolerance: float) -> Ground | None:
    """The ground of opaque artwork: a colour, or a smooth shading of one, that most of its border is within `tolerance` (ΔE00)
    of. None if there is none."""
    if not is_opaque(artwork):
        return None
    rows, columns = _border(artwork.height_px, artwork.width_px)
    border = artwork.pixels[rows, columns, :3]
    middle = np.median(border, axis=(0, 1)).astype(np.uint8)
    red, green, blue = (int(value) for value in middle)
    share = float(np.mean(_off(border, middle, artwork) <= tolerance))
    if share >= _LEAST_SHARE:
        return Ground((red, green, blue), share)
    at = rows.ravel(), columns.ravel()
    shading = Shading.through(at, border.reshape(-1, 3), (artwork.height_px, artwork.width_px))
    surface = np.clip(np.rint(shading.at(*at)), 0, 255).astype(np.uint8).reshape(border.shape)
    off = _off(border, surface, artwork)
    share = float(np.mean(off <= tolerance))
    if share < _LEAST_SHARE or np.max(_off(surface, middle, artwork)) > _MOST_SHADED * tolerance:
        return None
    is_smooth = _is_smooth(border, off <= 2 * tolerance, artwork, tolerance)
    return Ground((red, green, blue), share, shading) if is_smooth else None


def _off(colours: NDArray[np.uint8], from_colours: NDArray[np.uint8], artwork: Artwork) -> NDArray[np.float64]:
    """ΔE00 of colours (2×n×3) from one (3), or each from its own."""
    off = difference(colours.reshape(-1, 3), from_colours.reshape(-1, 3), artwork.profile)
    return off.reshape(colours.shape[:-1])


def _is_smooth(border: NDArray[np.uint8], is_near: NDArray[np.bool_], artwork: Artwork, tolerance: float) -> bool:
    """Whether a shaded border (2×n×3) has no step from one piece to the next. What is not `is_near` is the motif's."""
    pieces = np.array_split(np.arange(border.shape[1]), min(_PIECES, border.shape[1]))
    colours = np.array([np.median(border[:, piece], axis=(0, 1)) for piece in pieces]).astype(np.uint8)
    counts = np.array([np.mean(is_near[:, piece]) for piece in pieces]) >= _LEAST_SHARE
    steps = difference(colours[1:], colours[:-1], artwork.profile)
    return bool(np.all(steps[counts[1:] & counts[:-1]] <= _STEP * tolerance))


def cleared_of_ground(artwork: Artwork, *, rule: Rule) -> Artwork:
    """The artwork without its ground, where the rule says "remove" and there is one to remove; else as it is."""
    if rule.background.opaque is not OnOpaque.REMOVE:
        return artwork
    ground = ground_of(artwork, rule.background.tolerance)
    return artwork if ground is None else without_ground(artwork, ground, rule.background.tolerance)


def without_ground(artwork: Artwork, ground: Ground, tolerance: float) -> Artwork:
    """The artwork with its ground made transparent as far as it reaches in from the border, and edges unmixed from its colour.

    Ground that the motif encloses stays: it cannot be told from the motif's own colour.
    """
    region = ground_region(artwork, ground, tolerance)
    pixels = unmixed(artwork.pixels, region.removed, region.flat, ground=region.ground)
    finding = Finding(GROUND, Severity.WARN, _REMOVED(colour=ground.hex), _REMOVED_ADVICE())
    return replace(artwork, pixels=pixels, findings=(*artwork.findings, finding))


def ground_region(artwork: Artwork, ground: Ground, tolerance: float) -> Region:
    """How far the ground reaches into the artwork."""
    rgb = np.array(ground.rgb, np.uint8)
    return region_of(artwork, rgb, tolerance=tolerance, shading=ground.shading)


def _border(height: int, width: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows and columns of the pixels along the four sides: 2×n each, once around."""
    down, across = np.arange(height), np.arange(width)
    deep = [np.minimum(np.arange(_BORDER_PX)[:, None], length - 1) for length in (height, width)]
    top = np.broadcast_arrays(deep[0], across)
    right = np.broadcast_arrays(down, width - 1 - deep[1])
    bottom = np.broadcast_arrays(height - 1 - deep[0], across[::-1])
    left = np.broadcast_arrays(down[::-1], deep[1])
    rows, columns = (np.concatenate([side[axis] for side in (top, right, bottom, left)], axis=1) for axis in (0, 1))
    return rows, columns
