"""Artwork of the garment's own colour: it will not be seen."""

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.background import ground_of
from filmhand.artwork.colours import packed, unpacked
from filmhand.artwork.ground_region import reached_from_border
from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.artwork.trim import LEAST_ALPHA
from filmhand.colour import black_point, ciede2000, cielab, srgb
from filmhand.colour.source import xyz_of_source
from filmhand.preflight.finding import Finding, passed_above
from filmhand.preflight.places import Places
from filmhand.rules import Intent, Printer, Rule
from filmhand.words import Phrase

NAME: Final = "vanishing"

_SEEN: Final = Phrase(
    "{share:.0f} % of the artwork has nearly the colour of the garment ({garment}) and will hardly be seen on it."
)
_ADVICE: Final = Phrase(
    "Please choose another garment or other colours, or put an outline or a lighter or darker shape behind it."
)

_LEAST: Final = 2.5
"""ΔE00 from the garment that is not seen on fabric (common practice, no source). A knockout may leave out more."""

_SAMPLES: Final = 200_000

Mask = NDArray[np.bool_]


def check(artwork: Artwork, size: PrintedSize, *, rule: Rule, printer: Printer) -> tuple[Finding, ...]:  # noqa: ARG001 -- alike
    """The share of what is seen, in percent, that lies within the knockout's tolerance of the garment.

    A solid ground of the garment's colour is no motif: it may vanish.
    """
    pixels = _sampled(artwork)
    vanishes = _vanishes(pixels[..., :3], artwork.profile, rule)
    seen = pixels[..., 3] >= LEAST_ALPHA
    if ground_of(artwork, rule.background.tolerance) is not None:
        seen &= ~reached_from_border(vanishes)
    if not seen.any():
        return ()
    vanishes &= seen
    share = 100 * float(np.count_nonzero(vanishes) / np.count_nonzero(seen))
    passed = passed_above(rule.preflight.vanishing, share)
    if passed is None:
        return ()
    places = Places(*vanishes.shape)
    places.add(vanishes, 0, 0)
    message = _SEEN(share=share, garment=rule.garment)
    return (Finding(NAME, passed[0], message, _ADVICE(), share, passed[1], "%", places.boxes()),)


def _sampled(artwork: Artwork) -> NDArray[np.uint8]:
    """About _SAMPLES pixels of the artwork on an even grid (h×w×4 uint8), as they are; all of them where it has no more."""
    step = max(1.0, math.sqrt(artwork.height_px * artwork.width_px / _SAMPLES))
    rows, columns = (
        ((np.arange(max(1, round(pixels / step))) + 0.5) * pixels / max(1, round(pixels / step))).astype(np.intp)
        for pixels in (artwork.height_px, artwork.width_px)
    )
    return artwork.pixels[rows[:, None], columns[None, :]]


def _vanishes(rgb: NDArray[np.uint8], profile: bytes | None, rule: Rule) -> Mask:
    """Which colours (h×w×3 as stored) are too near to the garment. On one that stands for black, black and all up to it is."""
    numbers, which = np.unique(packed(rgb), return_inverse=True)
    lab = cielab.lab_from_xyz(xyz_of_source(unpacked(numbers), profile=profile, intent=Intent.RELATIVE, bpc=True))
    garment = cielab.lab_from_xyz(srgb.xyz_of_hex(rule.garment))
    if black_point.stands_for_black(garment):
        garment = black_point.nearest_towards_black(lab, garment)
    near = ciede2000.difference(lab, garment) <= max(_LEAST, rule.knockout.tolerance)
    return np.asarray(near[which])
