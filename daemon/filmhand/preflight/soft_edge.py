"""Half-transparent areas: film cannot be half there, so they become dots, which feel rough and wash out first."""

import math
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.preflight.finding import Finding, passed_above
from filmhand.preflight.places import Places
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase

NAME: Final = "soft_edge"

_LEAST, _MOST = 13, 242
"""5 % and 95 % of 255: less is as good as bare, more as good as solid (common practice, no source)."""

_EDGE_MM: Final = 1.0
"""A half-transparent band narrower than this is a smooth edge, as antialiasing or a small feather makes it."""

_PER_MM: Final = 10.0
_MOST_SAMPLES: Final = 20_000_000

_SEEN: Final = Phrase(
    "{share:.0f} % of the artwork is half transparent (shadows, glows, fades), on average {opacity:.0f} % opaque."
)
_ADVICE: Final = Phrase(
    "On fabric such areas become fine dots that feel rough and wear off first. "
    "Please use solid colours there, or fade to the garment's colour instead of to transparent."
)


def check(artwork: Artwork, size: PrintedSize, *, rule: Rule, printer: Printer) -> tuple[Finding, ...]:  # noqa: ARG001 -- alike
    """The share of what is seen that lies in half-transparent areas into which a disc of 1 mm fits, at the printed size."""
    alpha, per_mm = _sampled(artwork, size)
    half = (alpha >= _LEAST) & (alpha <= _MOST)
    seen = max(1, int(np.count_nonzero(alpha >= _LEAST)))
    limits = rule.preflight.soft_edge
    if passed_above(limits, 100 * np.count_nonzero(half) / seen) is None:
        return ()  # Edges and all it is too little to matter.
    soft = _opened(half, _EDGE_MM / 2 * per_mm)
    share = 100 * int(np.count_nonzero(soft)) / seen
    passed = passed_above(limits, share)
    if passed is None:
        return ()
    places = Places(*alpha.shape)
    places.add(soft, 0, 0)
    message = _SEEN(share=share, opacity=100 * float(alpha[soft].mean()) / 255)
    return (Finding(NAME, passed[0], message, _ADVICE(), share, passed[1], "%", places.boxes()),)


def _sampled(artwork: Artwork, size: PrintedSize) -> tuple[NDArray[np.uint8], float]:
    """Alpha (h×w uint8) at about ten points a millimetre, fewer on a very large print, and how many.

    Points are taken as they are: averages would make half-transparent ones out of fine patterns that are not.
    """
    per_mm = min(_PER_MM, math.sqrt(_MOST_SAMPLES / (size.width_mm * size.height_mm)))
    height, width = max(1, round(size.height_mm * per_mm)), max(1, round(size.width_mm * per_mm))
    rows = ((np.arange(height) + 0.5) * artwork.height_px / height).astype(np.intp)
    columns = ((np.arange(width) + 0.5) * artwork.width_px / width).astype(np.intp)
    return artwork.pixels[rows[:, None], columns[None, :], 3], per_mm


def _opened(mask: NDArray[np.bool_], radius: float) -> NDArray[np.bool_]:
    """The part of a mask (h×w) that discs of a radius, in pixels, cover without leaving it; beyond the picture is outside."""
    within = np.pad(mask, 1)
    core = _distance(within) - 0.5 >= radius
    if not core.any():
        return np.zeros_like(mask)
    return ((_distance(~core) <= radius + 0.5) & within)[1:-1, 1:-1]


def _distance(mask: NDArray[np.bool_]) -> NDArray[np.float32]:
    return np.asarray(cv2.distanceTransform(mask.view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE), np.float32)
