"""Thin gaps: bare garment so narrow that ink and glue close it, at the printed size."""

from typing import Final

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.preflight.finding import Finding
from filmhand.preflight.grid import Part
from filmhand.preflight.too_narrow import too_narrow
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase

NAME: Final = "thin_gap"

_SEEN: Final = Phrase("Some gaps in the artwork are only {narrowest:.2f} mm wide; less than {limit:.2g} mm fills in.")
_ADVICE: Final = Phrase("Please open them to at least {goal:.2g} mm, or close them.")


def check(artwork: Artwork, size: PrintedSize, *, rule: Rule, printer: Printer) -> tuple[Finding, ...]:  # noqa: ARG001 -- alike
    """The narrowest gap, or hole, in the film against the rule's `thin_gap`, if it has one."""
    found = too_narrow(artwork, size, part=Part.GAP, limits=rule.preflight.thin_gap)
    if found is None:
        return ()
    message = _SEEN(narrowest=found.shown_mm, limit=found.limit_mm)
    advice = _ADVICE(goal=found.goal_mm)
    return (Finding(NAME, found.severity, message, advice, found.narrowest_mm, found.limit_mm, "mm", found.parts.where),)
