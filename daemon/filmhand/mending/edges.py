"""Mending: soft edges and fades made hard at the rule's opacity, their new edges smooth by one pixel."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.preflight.finding import Finding, Severity
from filmhand.preflight.places import Places
from filmhand.rules import Rule
from filmhand.words import Phrase

NAME: Final = "soft_edge"

_SOFT_PX: Final = 3
"""Half transparency at least so wide both ways is soft; less is the antialiasing of a hard edge, or a hairline, and stays."""

_AROUND_PX: Final = 2
_MARGIN_PX: Final = _SOFT_PX + _AROUND_PX + 1
_BAND_ROWS: Final = 512

_BARE: Final = 0
_SOLID: Final = 255

_SEEN_ALPHA: Final = 13
_NOTICED: Final = 26
"""5 % and 10 % of 255: fainter is as good as bare; a smaller change is not noticed (common practice, no source)."""

_LEAST_PERCENT: Final = 0.1

_SEEN: Final = Phrase(
    "{share:.2g} % of the artwork had soft edges or fades: what was at least {limit:.0f} % opaque was made solid, "
    "the rest was left bare, because this shop's rule says so."
)
_ADVICE: Final = Phrase("Look at shadows, glows and fades on the proof.")

Alpha = NDArray[np.uint8]


def hardened(artwork: Artwork, size: PrintedSize, *, rule: Rule) -> Artwork:  # noqa: ARG001 -- alike
    """The artwork with nothing half transparent but its edges' last pixel, as the rule's `mend.edges` says, which is said.

    As it is where hardly anything would change. Colours stay; what stands hard already stays bit for bit.
    """
    if rule.mend.edges is None:
        return artwork
    height, width = artwork.pixels.shape[:2]
    alpha = np.empty((height, width), np.uint8)
    places = Places(height, width)
    seen = changed = 0
    for top, before, after in _bands(artwork.pixels[..., 3], 2.55 * rule.mend.edges):
        alpha[top : top + len(after)] = after
        is_other = cv2.absdiff(before, after) >= _NOTICED
        places.add(is_other, top, 0)
        changed += int(np.count_nonzero(is_other))
        seen += int(np.count_nonzero(before >= _SEEN_ALPHA))
    share = 100 * changed / max(1, seen)
    if share < _LEAST_PERCENT:
        return artwork
    pixels = artwork.pixels.copy()
    pixels[..., 3] = alpha
    message = _SEEN(share=share, limit=rule.mend.edges)
    finding = Finding(NAME, Severity.WARN, message, _ADVICE(), share, None, "%", places.boxes())
    return replace(artwork, pixels=pixels, findings=(*artwork.findings, finding))


def _bands(alpha: Alpha, level: float) -> Iterator[tuple[int, Alpha, Alpha]]:
    """Band by band: its first row, its alpha, and the same hardened."""
    height = alpha.shape[0]
    for top in range(0, height, _BAND_ROWS):
        bottom = min(height, top + _BAND_ROWS)
        first = max(0, top - _MARGIN_PX)
        around = np.ascontiguousarray(alpha[first : bottom + _MARGIN_PX])
        own = slice(top - first, bottom - first)
        yield top, around[own], _hard(around, level)[own]


def _hard(alpha: Alpha, level: float) -> Alpha:
    """Alpha (h×w uint8) with what is soft hardened where it passes a level: by how far, in pixels, that is from each."""
    soft = _soft(alpha)
    if not soft.any():
        return alpha
    rows, columns = np.nonzero(soft)
    padded = np.pad(alpha, 1, mode="edge").astype(np.int16)
    here = padded[rows + 1, columns + 1]
    down = np.maximum(np.abs(padded[rows + 2, columns + 1] - here), np.abs(here - padded[rows, columns + 1]))
    across = np.maximum(np.abs(padded[rows + 1, columns + 2] - here), np.abs(here - padded[rows + 1, columns]))
    # Distance from the contour, to first order: what alpha lacks over how steep it is. Coverage of a pixel is half of it there.
    steep = np.hypot(down, across).clip(1.0)
    result = alpha.copy()
    result[rows, columns] = np.round(255 * np.clip((here - level) / steep + 0.5, 0, 1))
    return result


def _soft(alpha: Alpha) -> NDArray[np.bool_]:
    """Where half transparency is wide (h×w), with what little is left of it around."""
    half = ((alpha > _BARE) & (alpha < _SOLID)).view(np.uint8)
    wide = cv2.morphologyEx(half, cv2.MORPH_OPEN, np.ones((_SOFT_PX, _SOFT_PX), np.uint8))
    side = 2 * _AROUND_PX + 1
    return np.asarray(np.logical_and(cv2.dilate(wide, np.ones((side, side), np.uint8)), half))
