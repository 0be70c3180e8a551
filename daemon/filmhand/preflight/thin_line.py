"""Thin lines: film too narrow to hold its powder, at the printed size."""

import math
from typing import Final

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.preflight.finding import Finding, passed_below
from filmhand.preflight.thickness import Part, narrow_parts
from filmhand.rules import LengthLimits, Printer, Rule

NAME: Final = "thin_line"

_SEEN: Final = (
    "Some lines or letters are only {narrowest:.2f} mm wide ({share} of the artwork); less than {limit:.2g} mm does not hold."
)
_ADVICE: Final = (
    "Fine parts come off in the wash. Please make them at least {goal:.2g} mm wide, or set fine lettering larger or bolder."
)


def check(artwork: Artwork, size: PrintedSize, *, rule: Rule, printer: Printer) -> tuple[Finding, ...]:  # noqa: ARG001 -- alike
    """The narrowest film against the rule's `thin_line`, if it has one."""
    limits = rule.preflight.thin_line
    if limits is None or (goal := greatest(limits)) is None:
        return ()
    narrow = narrow_parts(artwork, size, part=Part.FILM, limit_mm=goal)
    passed = None if narrow.narrowest_mm is None else passed_below(limits, narrow.narrowest_mm)
    if narrow.narrowest_mm is None or passed is None:
        return ()
    severity, limit = passed
    message = _SEEN.format(narrowest=cut(narrow.narrowest_mm), share=percent(narrow.share), limit=limit)
    return (Finding(NAME, severity, message, _ADVICE.format(goal=goal), narrow.narrowest_mm, limit, "mm", narrow.where),)


def greatest(limits: LengthLimits) -> float | None:
    """The limit that is passed first, of lengths that must not be less."""
    return max((limit for limit in (limits.warn, limits.hold, limits.reject) if limit is not None), default=None)


def cut(length_mm: float) -> float:
    """A length for reading, cut to hundredths: never shown as large as a limit that it does not reach."""
    return math.floor(100 * length_mm) / 100


def percent(share: float) -> str:
    """A share for reading: "12 %", "0.4 %", "less than 0.1 %"."""
    if share < 0.001:  # noqa: PLR2004 -- as the words say
        return "less than 0.1 %"
    return f"{100 * share:.0f} %" if share >= 0.1 else f"{100 * share:.1f} %"  # noqa: PLR2004 -- three figures are too many
