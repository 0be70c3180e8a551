"""Lettering in Pillow's built-in outline font, strong enough for powder to hold on its lines.

The font has the letters of ASCII and little more. Where it lacks a letter with an accent, the accent is set above the plain
letter; a sign it lacks altogether is a crossed box, so that nobody takes the rest for the whole.
"""

import math
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import ImageFont

ELLIPSIS: Final = "…"
"""Ends a text that was cut."""
CAP_HEIGHT: Final = 0.7
"""Of the font: a capital's height as a share of the size."""

_STROKE: Final = 0.025
"""How much stronger than the font's own lines are, on either side; letters stand farther apart by that. Shares of the size."""
_ASCENT, _DESCENT = 1.1, 0.35
_ACCENT_GAP: Final = 0.05
_LACKING: Final = "\U0010ffff"
"""A sign that no font has: drawn as the font's crossed box."""
_ACCENTS: Final = {"\u0300": "`", "\u0301": "´", "\u0302": "^", "\u0303": "~", "\u0308": "..", "\u030a": "°"}
"""Combining accents, and the signs that the font can draw them with."""
_PLAIN: Final = {"×": "x", "–": "-", "—": "-", "\u2011": "-", "„": "“", "‚": "‘", "ß": "ss"}
"""Signs that the font lacks, and what says the same."""
_NARROWER: Final = {"..": 0.9, "^": 0.6, "~": 0.7, "°": 0.8}
"""Sizes of those that are made to stand in a line of text, next to the letter's."""
_STEPS_TO_FIT: Final = 8


@dataclass(frozen=True)
class Line:
    """A line of text, set: at this size (px an em) it is so wide."""

    text: str
    size_px: float
    width_px: float


NOTHING: Final = Line("", 1.0, 0.0)


@dataclass(frozen=True, eq=False)
class _Glyph:
    """A sign's ink, h×w uint8, 255 = printed; where it lies from the pen's place on the baseline; how far the pen moves on."""

    ink: NDArray[np.uint8]
    left: int
    top: int
    advance: float


def fitted(text: str, *, size_px: float, least_px: float, room_px: float) -> Line:
    """A line no wider than its room: set smaller if it must be, down to a least size, then cut with an ellipsis."""
    text = unicodedata.normalize("NFC", " ".join(text.split()))
    size = size_px
    for _ in range(_STEPS_TO_FIT):
        width = _width(text, size)
        if width <= room_px or size <= least_px:
            break
        size = max(least_px, math.floor(4 * size * room_px / width) / 4)
    kept = text
    while kept and _width(_shown(kept, text), size) > room_px:
        kept = kept[:-1]
    shown = _shown(kept, text)
    return Line(shown, size, _width(shown, size)) if kept else NOTHING


def ink(line: Line) -> tuple[NDArray[np.uint8], int]:
    """The line's ink, h×w uint8, 255 = printed, and the row of its baseline."""
    baseline = math.ceil(_ASCENT * line.size_px)
    sheet = np.zeros((baseline + math.ceil(_DESCENT * line.size_px), math.ceil(line.width_px) + 2), np.uint8)
    pen = 0.0
    for glyph in _glyphs(line.text, line.size_px):
        left, top = max(0, round(pen) + glyph.left), max(0, baseline + glyph.top)
        part = sheet[top : top + glyph.ink.shape[0], left : left + glyph.ink.shape[1]]
        np.maximum(part, glyph.ink[: part.shape[0], : part.shape[1]], out=part)
        pen += glyph.advance
    return sheet, baseline


def _shown(kept: str, text: str) -> str:
    return text if kept == text else kept.rstrip() + ELLIPSIS


def _width(text: str, size: float) -> float:
    return sum(glyph.advance for glyph in _glyphs(text, size))


def _glyphs(text: str, size: float) -> Iterator[_Glyph]:
    for sign in text:
        if _has(sign):
            yield _glyph(sign, size)
            continue
        letter, *accents = tuple(unicodedata.normalize("NFD", sign))
        if accents and _has(letter) and all(accent in _ACCENTS for accent in accents):
            yield _accented(letter, "".join(accents), size)
        else:
            yield from (_glyph(plain, size) for plain in _PLAIN.get(sign, _LACKING))


@lru_cache(maxsize=1024)
def _has(sign: str) -> bool:
    """Whether the font has a sign of its own."""
    if sign.isspace():
        return True
    lacking, own = _glyph(_LACKING, 32.0), _glyph(sign, 32.0)
    return bool(own.ink.any()) and not np.array_equal(own.ink, lacking.ink)


@lru_cache(maxsize=32)
def _font(size: float) -> ImageFont.FreeTypeFont:
    font = ImageFont.load_default(size)
    if not isinstance(font, ImageFont.FreeTypeFont):
        raise TypeError("labels need Pillow with FreeType")
    return font


@lru_cache(maxsize=1024)
def _glyph(sign: str, size: float) -> _Glyph:
    font, stroke = _font(size), _STROKE * size
    mask, (left, top) = font.getmask2(sign, "L", anchor="ls", stroke_width=stroke, stroke_filled=True)
    drawn = np.array(mask, np.uint8).reshape(mask.size[::-1])
    return _Glyph(drawn, round(left + stroke), round(top), font.getlength(sign) + stroke)


@lru_cache(maxsize=256)
def _accented(letter: str, accents: str, size: float) -> _Glyph:
    """A letter with its accents above it, each over the middle."""
    own = _glyph(letter, size)
    result = _cropped(own)
    for accent in accents:
        sign = _ACCENTS[accent]
        mark = _cropped(_row(sign, size * _NARROWER.get(sign, 1.0)))
        gap = round(_ACCENT_GAP * size)
        height = len(mark.ink) + gap + len(result.ink)
        width = max(mark.ink.shape[1], result.ink.shape[1])
        sheet = np.zeros((height, width), np.uint8)
        for part, top in ((mark, 0), (result, height - len(result.ink))):
            left = (width - part.ink.shape[1]) // 2
            sheet[top : top + len(part.ink), left : left + part.ink.shape[1]] = part.ink
        left = result.left - (width - result.ink.shape[1]) // 2
        result = _Glyph(sheet, left, result.top - gap - len(mark.ink), own.advance)
    return result


def _row(signs: str, size: float) -> _Glyph:
    """Signs side by side as one."""
    line, baseline = ink(Line(signs, size, _width(signs, size)))
    return _Glyph(line, 0, -baseline, 0.0)


def _cropped(glyph: _Glyph) -> _Glyph:
    """Without the blank border around its ink."""
    rows, columns = np.flatnonzero(glyph.ink.any(axis=1)), np.flatnonzero(glyph.ink.any(axis=0))
    part = glyph.ink[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    return _Glyph(part, glyph.left + int(columns[0]), glyph.top + int(rows[0]), glyph.advance)
