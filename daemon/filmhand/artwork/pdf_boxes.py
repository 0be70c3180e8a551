"""The boxes of a PDF's page: which part of it is the artwork, and how large it is (ISO 32000-2 section 14.11.2)."""

from dataclasses import dataclass
from typing import Any, Final

from filmhand.artwork.pdf_objects import box, entry, number

Sides = tuple[float, float, float, float]
"""Left, bottom, right, top, in units of the page, upward from its origin, before it is turned."""

_SAME: Final = 0.05
"""Boxes that differ by less than this, in points, differ by rounding."""

_GREATEST_UNIT: Final = 75_000.0  # ISO 32000-1 Annex C table C.1, from memory


@dataclass(frozen=True)
class Frame:
    """The part of a page that is the artwork, the length of the page's unit in points, and whether its TrimBox made it less."""

    sides: Sides
    unit: float
    is_trimmed: bool


def frame_of(page: Any) -> Frame | None:
    """The frame of a page's dictionary, inherited entries pushed down to it. None if the page has no size.

    The artwork is what the TrimBox leaves, where there is one, else what the CropBox shows; each is clipped to the MediaBox.
    """
    media = box(entry(page, "/MediaBox"))
    if media is None:
        return None
    crop = _shared(box(entry(page, "/CropBox")), media) or media
    trim = _shared(box(entry(page, "/TrimBox")), media) or crop
    unit = number(entry(page, "/UserUnit"), 1.0)
    is_trimmed = any(abs(a - b) > _SAME for a, b in zip(trim, crop, strict=True))
    return Frame(trim if is_trimmed else crop, unit if 0 < unit <= _GREATEST_UNIT else 1.0, is_trimmed)


def _shared(one: Sides | None, other: Sides) -> Sides | None:
    """What two boxes have in common."""
    if one is None:
        return None
    left, bottom = max(one[0], other[0]), max(one[1], other[1])
    right, top = min(one[2], other[2]), min(one[3], other[3])
    return (left, bottom, right, top) if right > left and top > bottom else None
