"""Lettering too small to read: rows of small shapes of like height on a common line, at the printed size."""

from collections.abc import Iterator
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.preflight.finding import Finding, passed_below
from filmhand.preflight.glyphs import Glyphs
from filmhand.preflight.places import Places
from filmhand.preflight.rows import Row, rows_of
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase

NAME: Final = "lettering"

_PER_MM: Final = 15.0
"""Pixels a millimetre that it is looked at with, where the artwork has as many."""

_LEAST_PX: Final = 3
_ASCENT: Final = 2.2
"""Letters with ascenders or descenders are at most so many times as high as an x (common practice, no source)."""

_FILM_ALPHA: Final = 128
_CONTRAST: Final = 40
"""Luma (0 to 255) by which letters on film differ from what lies around them. They are told apart at the middle between the
lightest and the darkest (Bernsen, "Dynamic thresholding of gray-level images", 1986, from memory), and are what is less."""

_SEEN: Final = Phrase(
    "Some lettering is only {height:.1f} mm high (letters like x); below {limit:.2g} mm it cannot be read on fabric."
)
_ADVICE: Final = Phrase("Please set it larger, so that letters like x are at least {goal:.2g} mm high, or leave it out.")

Mask = NDArray[np.bool_]


def check(artwork: Artwork, size: PrintedSize, *, rule: Rule, printer: Printer) -> tuple[Finding, ...]:  # noqa: ARG001 -- alike
    """The height of the smallest row of lettering against the rule's `lettering`, if it has one."""
    limits = rule.preflight.lettering
    stated = [] if limits is None else [limit for limit in (limits.warn, limits.hold, limits.reject) if limit is not None]
    if limits is None or not stated:
        return ()
    goal = max(stated)
    pixels = _reduced(artwork, size)
    down = pixels.shape[0] / size.height_mm
    rows = [
        row
        for mask, is_less in _masks(pixels, round(goal * down))
        for row in rows_of(_within(Glyphs.of(mask, least_px=_LEAST_PX, most_px=int(_ASCENT * goal * down) + 1), is_less))
        if row.height_px < goal * down
    ]
    if not rows:
        return ()
    height_mm = min(row.height_px for row in rows) / down
    passed = passed_below(limits, height_mm)
    if passed is None:
        return ()
    message, advice = _SEEN(height=np.floor(10 * height_mm) / 10, limit=passed[1]), _ADVICE(goal=goal)
    return (Finding(NAME, passed[0], message, advice, height_mm, passed[1], "mm", _places(rows, pixels.shape[:2]).boxes()),)


def _reduced(artwork: Artwork, size: PrintedSize) -> NDArray[np.uint8]:
    """Pixels (h×w×4), reduced where there are more than are looked at."""
    height = min(artwork.height_px, max(1, round(size.height_mm * _PER_MM)))
    width = min(artwork.width_px, max(1, round(size.width_mm * _PER_MM)))
    if (height, width) == artwork.pixels.shape[:2]:
        return artwork.pixels
    return np.asarray(cv2.resize(artwork.pixels, (width, height), interpolation=cv2.INTER_AREA), np.uint8)


def _masks(pixels: NDArray[np.uint8], limit_px: int) -> Iterator[tuple[Mask, Mask]]:
    """What may be letters (h×w): film, what is bare in it, what on it is darker or lighter. With each, where it counts.

    That is, where there is less of it around than of what it is told apart from: the insides of letters are none.
    """
    film = pixels[..., 3] >= _FILM_ALPHA
    side = 2 * limit_px + 1
    share = cv2.boxFilter(film.view(np.uint8) * np.float32(1), -1, (side, side))
    yield film, np.ones_like(film)
    yield ~film, share > 0.5  # noqa: PLR2004 -- more than half
    luma = cv2.cvtColor(pixels, cv2.COLOR_RGBA2GRAY)  # ITU-R BT.601 weights
    around = np.ones((side, side), np.uint8)
    lightest = cv2.dilate(np.where(film, luma, np.uint8(0)), around)
    darkest = cv2.erode(np.where(film, luma, np.uint8(255)), around)
    clear = film & (lightest.astype(np.int16) - darkest >= _CONTRAST)
    if clear.any():
        middle = darkest / np.float32(2) + lightest / np.float32(2)
        mean = cv2.boxFilter(np.where(film, luma, np.uint8(0)).astype(np.float32), -1, (side, side)) / np.maximum(share, 1e-3)
        yield clear & (luma < middle), mean > middle
        yield clear & (luma > middle), mean < middle


def _within(glyphs: Glyphs, where: Mask) -> Glyphs:
    """The shapes whose middle lies where a mask (h×w) says."""
    return glyphs[where[glyphs.top + glyphs.height // 2, glyphs.left + glyphs.width // 2]]


def _places(rows: list[Row], shape: tuple[int, ...]) -> Places:
    """The rows' boxes."""
    places = Places(shape[0], shape[1])
    for row in rows:
        places.add(np.ones((row.bottom - row.top, row.right - row.left), np.bool_), row.top, row.left)
    return places
