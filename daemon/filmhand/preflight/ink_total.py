"""Too much ink: artwork that came as CMYK may ask for more than film and powder can hold before it dries."""

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.ink_map import InkMap
from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.preflight.finding import Finding, passed_above
from filmhand.preflight.places import Places
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase

NAME: Final = "ink_total"

SQUARE_MM: Final = 4.0
"""Ink counts on average over a square of about 15 mm²: Ghent Workgroup 2015 section 4.22 (check-values read at second hand)."""

_SEEN: Final = Phrase("The artwork's CMYK colours ask for up to {percent:.0f} % ink; more than {limit:.0f} % stays wet.")
_ADVICE: Final = Phrase(
    "It is printed with inks of our own making up the same colour. Please look at the dark places on the proof, "
    "or send the artwork in RGB."
)


def check(artwork: Artwork, size: PrintedSize, *, rule: Rule, printer: Printer) -> tuple[Finding, ...]:  # noqa: ARG001 -- alike
    """The most ink over any square of 4 mm at the printed size, of artwork that came as CMYK."""
    limits = rule.preflight.ink_total
    if limits is None or artwork.source_ink is None:
        return ()
    percent, sides = _within(artwork.source_ink, artwork, size)
    average = np.asarray(cv2.blur(percent, sides, borderType=cv2.BORDER_CONSTANT), np.float32)
    most = float(average.max(initial=0))
    passed = passed_above(limits, most)
    if passed is None:
        return ()
    places = Places(*percent.shape)
    # Each marked point stands for the square around it.
    marked = cv2.dilate((average > passed[1]).astype(np.uint8), np.ones(sides[::-1], np.uint8))
    places.add(np.asarray(marked, np.bool_), 0, 0)
    message = _SEEN(percent=most, limit=passed[1])
    return (Finding(NAME, passed[0], message, _ADVICE(), most, passed[1], "%", places.boxes()),)


def _within(ink: InkMap, artwork: Artwork, size: PrintedSize) -> tuple[NDArray[np.float32], tuple[int, int]]:
    """The map's cells inside the artwork (h×w float32, %), and how many of them a square is across and down."""
    left, top = (max(0, round(-start / ink.cell_px)) for start in (ink.left_px, ink.top_px))
    right = max(left + 1, round((artwork.width_px - ink.left_px) / ink.cell_px))
    bottom = max(top + 1, round((artwork.height_px - ink.top_px) / ink.cell_px))
    percent = np.ascontiguousarray(ink.percent[top:bottom, left:right])
    across = SQUARE_MM * artwork.width_px / (size.width_mm * ink.cell_px)
    down = SQUARE_MM * artwork.height_px / (size.height_mm * ink.cell_px)
    fits = percent.shape[::-1]
    return percent, (min(fits[0], max(1, round(across))), min(fits[1], max(1, round(down))))
