"""Resolution: artwork pixels an inch of print, before anything is resized."""

import math
from typing import Final

from filmhand import units
from filmhand.artwork.model import DRAWINGS, Artwork, PrintedSize
from filmhand.preflight.finding import Finding, passed_below
from filmhand.rules import Limits, Printer, Rule
from filmhand.words import Phrase, Words

NAME: Final = "resolution"

_SEEN: Final = Phrase(
    "Printed {width_mm:.0f} × {height_mm:.0f} mm, {what} has {ppi:.0f} pixels an inch; it should have {goal:.0f}."
)
_PICTURE, _INSIDE = Phrase("the picture"), Phrase("a photo inside the drawing")
_ADVICE: Final = Phrase(
    "It will look soft or show steps. Please send the original, at least {width_px:,} × {height_px:,} pixels large "
    "(enlarging this one on the computer adds no detail), or have it printed no wider than {narrow_mm:.0f} mm."
)
_ADVICE_INSIDE: Final = Phrase(
    "It will look soft or show steps. Please place the original photo, at least {times:.1f} times as fine."
)


def check(artwork: Artwork, size: PrintedSize, *, rule: Rule, printer: Printer) -> tuple[Finding, ...]:  # noqa: ARG001 -- alike
    """The effective resolution against the rule's `ppi`. Of a drawing, that of the coarsest picture in it; lines have none.

    The smaller of the two directions counts (Ghent Workgroup 2022, D0018, at second hand).
    """
    limits = rule.preflight.ppi
    ppi = _effective(artwork, size)
    passed = passed_below(limits, ppi) if ppi is not None else None
    if ppi is None or passed is None:
        return ()
    severity, limit = passed
    inside = artwork.kind in DRAWINGS
    what, goal = (_INSIDE if inside else _PICTURE)(), _goal(limits, limit)
    message = _SEEN(width_mm=size.width_mm, height_mm=size.height_mm, what=what, ppi=math.floor(ppi), goal=goal)
    advice = _ADVICE_INSIDE(times=goal / ppi) if inside else _advice(size, ppi, goal)
    return (Finding(NAME, severity, message, advice, ppi, limit, "ppi"),)


def _effective(artwork: Artwork, size: PrintedSize) -> float | None:
    if artwork.kind not in DRAWINGS:
        return size.effective_ppi(artwork)
    if artwork.raster_ppi is None or artwork.ppi is None:
        return None
    return artwork.raster_ppi * units.px_to_mm(artwork.width_px, artwork.ppi[0]) / size.width_mm


def _goal(limits: Limits, passed: float) -> float:
    """What is asked for: more than every limit."""
    return max(limit for limit in (limits.warn, limits.hold, limits.reject, passed) if limit is not None)


def _advice(size: PrintedSize, ppi: float, goal: float) -> Words:
    return _ADVICE(
        width_px=math.ceil(units.mm_to_px(size.width_mm, goal)),
        height_px=math.ceil(units.mm_to_px(size.height_mm, goal)),
        narrow_mm=math.floor(size.width_mm * ppi / goal),
    )
