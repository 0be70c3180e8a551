"""The most pixels a picture may have: what the printer could lay on the longest sheet. More is a bomb, or a mistake."""

from typing import Final

from filmhand import units
from filmhand.artwork.refusal import unreadable
from filmhand.preflight.finding import Finding
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase

_SEEN: Final = Phrase(
    "The picture has {width_px:,} × {height_px:,} pixels. At the printer's resolution of {across} × {along} dots an inch that is "
    "{width_mm:,.0f} × {height_mm:,.0f} mm; the film takes at most {film_mm:,.0f} × {longest_mm:,.0f} mm."
)
_ADVICE: Final = Phrase("Please send it at the size it is to be printed, with 300 pixels an inch: more detail cannot be printed.")


def most_pixels(rule: Rule, printer: Printer) -> int:
    """Pixels of the whole film width over a sheet's greatest length, at the printer's resolution."""
    across, along = printer.resolution
    return int(units.mm_to_px(printer.film_width, across) * units.mm_to_px(rule.gang.max_length, along))


def too_many_pixels(width_px: int, height_px: int, *, rule: Rule, printer: Printer) -> Finding | None:
    """The finding that a picture has more pixels than any sheet; None if it has not. To be asked before decoding."""
    if width_px * height_px <= most_pixels(rule, printer):
        return None
    across, along = printer.resolution
    message = _SEEN(
        width_px=width_px,
        height_px=height_px,
        across=across,
        along=along,
        width_mm=units.px_to_mm(width_px, across),
        height_mm=units.px_to_mm(height_px, along),
        film_mm=printer.film_width,
        longest_mm=rule.gang.max_length,
    )
    return unreadable(message, _ADVICE())
