"""A filled rectangle of one colour: an empty export, most of the time."""

import math
from typing import Final

import numpy as np

from filmhand.artwork.background import is_opaque
from filmhand.artwork.colours import hex_of, packed, unpacked
from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.colour import ciede2000, cielab
from filmhand.colour.source import xyz_of_source
from filmhand.preflight.finding import Finding, passed_above
from filmhand.rules import Intent, Printer, Rule
from filmhand.words import Phrase

NAME: Final = "one_colour"

_SEEN: Final = Phrase(
    "As good as all of the picture ({share:.1f} %) is one colour, {colour}: it would print as a filled rectangle."
)
_ADVICE: Final = Phrase("Please check that every layer was visible when you exported it, and send it again.")

_SAME: Final = 2.0
"""ΔE00 up to which two colours are one: about what is just seen on fabric (common practice, no source)."""

_MOST_SAMPLES: Final = 4_000_000


def check(artwork: Artwork, size: PrintedSize, *, rule: Rule, printer: Printer) -> tuple[Finding, ...]:  # noqa: ARG001 -- alike
    """The share of a filled rectangle that has its commonest colour. Cut-out motifs of one colour are as they should be."""
    if not is_opaque(artwork):
        return ()
    share, colour = _commonest(artwork)
    passed = passed_above(rule.preflight.one_colour, share)
    if passed is None:
        return ()
    message = _SEEN(share=share, colour=colour)
    return (Finding(NAME, passed[0], message, _ADVICE(), share, passed[1], "%"),)


def _commonest(artwork: Artwork) -> tuple[float, str]:
    """The percentage that is the commonest colour, or looks the same, and that colour. Very large artwork is sampled evenly."""
    step = math.ceil(math.sqrt(artwork.height_px * artwork.width_px / _MOST_SAMPLES))
    numbers, counts = np.unique(packed(artwork.pixels[::step, ::step]), return_counts=True)
    rgb = unpacked(numbers)
    commonest = rgb[np.argmax(counts)]
    xyz = xyz_of_source(np.vstack((commonest[None], rgb)), profile=artwork.profile, intent=Intent.RELATIVE, bpc=True)
    lab = cielab.lab_from_xyz(xyz)
    is_same = ciede2000.difference(lab[1:], lab[:1]) <= _SAME
    return 100 * float(counts[is_same].sum() / counts.sum()), hex_of(commonest)
