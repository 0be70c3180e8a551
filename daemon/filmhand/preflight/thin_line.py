"""Thin lines: film too narrow to hold its powder, at the printed size."""

from typing import Final

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.preflight.finding import Finding
from filmhand.preflight.grid import Part
from filmhand.preflight.too_narrow import too_narrow
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase, Words

NAME: Final = "thin_line"

_SEEN: Final = Phrase(
    "Some lines or letters are only {narrowest:.2f} mm wide ({share} of the artwork); less than {limit:.2g} mm does not hold."
)
_ADVICE: Final = Phrase(
    "Fine parts come off in the wash. Please make them at least {goal:.2g} mm wide, or set fine lettering larger or bolder."
)
_TRACE: Final = Phrase("less than 0.1 %")
_TENTHS: Final = Phrase("{percent:.1f} %")
_WHOLE: Final = Phrase("{percent:.0f} %")


def check(artwork: Artwork, size: PrintedSize, *, rule: Rule, printer: Printer) -> tuple[Finding, ...]:  # noqa: ARG001 -- alike
    """The narrowest film against the rule's `thin_line`, if it has one."""
    found = too_narrow(artwork, size, part=Part.FILM, limits=rule.preflight.thin_line)
    if found is None:
        return ()
    message = _SEEN(narrowest=found.shown_mm, share=_percent(found.parts.share), limit=found.limit_mm)
    advice = _ADVICE(goal=found.goal_mm)
    return (Finding(NAME, found.severity, message, advice, found.narrowest_mm, found.limit_mm, "mm", found.parts.where),)


def _percent(share: float) -> Words:
    """A share for reading: "12 %", "0.4 %", "less than 0.1 %"."""
    if share < 0.001:  # noqa: PLR2004 -- as the words say
        return _TRACE()
    return (_WHOLE if share >= 0.1 else _TENTHS)(percent=100 * share)  # noqa: PLR2004 -- three figures are too many
