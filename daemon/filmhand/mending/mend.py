"""Mending what the rule allows to be mended, in a fixed order; what was changed is said, and the picture before is kept.

First the artwork is cleared of what is not motif, which settles its size; then what is left is strengthened at that size.
"""

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.background import cleared_of_ground
from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.artwork.resample import resampled
from filmhand.artwork.size import printed_size
from filmhand.artwork.trim import trimmed
from filmhand.intake.ticket import Ticket
from filmhand.mending import edges, lines, specks
from filmhand.rules import Rule

BEFORE_PX: Final = 900
"""The longer side of the picture that is kept of artwork before it was mended."""


def cleared(artwork: Artwork, *, ticket: Ticket, rule: Rule) -> Artwork:
    """The artwork without its ground and stray specks, cut to what is seen, each as the rule says."""
    cut = trimmed if rule.size.trim else _whole
    motif = cleared_of_ground(artwork, rule=rule)
    if rule.mend.specks:
        # Specks are told by their printed size, before they are dropped: a motif that they stretch seems smaller, never larger.
        motif = specks.dropped(motif, printed_size(cut(motif), ticket=ticket, rule=rule), rule=rule)
    return _with_picture_before(cut(motif), artwork)


def strengthened(artwork: Artwork, size: PrintedSize, *, rule: Rule) -> Artwork:
    """The artwork with what would not hold on fabric made to hold, as the rule says."""
    hard = edges.hardened(artwork, size, rule=rule)
    return _with_picture_before(lines.thickened(hard, size, rule=rule), artwork)


def _whole(artwork: Artwork) -> Artwork:
    return artwork


def _with_picture_before(mended: Artwork, original: Artwork) -> Artwork:
    """What was mended, with a small picture of how it was; as it is where nothing was changed that is said."""
    if mended.before is not None or len(mended.findings) == len(original.findings):
        return mended
    return replace(mended, before=_small(original.pixels))


def _small(pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    height, width = pixels.shape[:2]
    scale = min(1.0, BEFORE_PX / max(height, width))
    return resampled(pixels, max(1, round(width * scale)), max(1, round(height * scale)))
