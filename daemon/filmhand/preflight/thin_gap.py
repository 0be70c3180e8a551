"""Thin gaps: bare garment so narrow that ink and glue close it, at the printed size."""

from typing import Final

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.preflight.finding import Finding, passed_below
from filmhand.preflight.thickness import Part, narrow_parts
from filmhand.preflight.thin_line import cut, greatest
from filmhand.rules import Printer, Rule

NAME: Final = "thin_gap"

_SEEN: Final = "Some gaps in the artwork are only {narrowest:.2f} mm wide; less than {limit:.2g} mm fills in."
_ADVICE: Final = "Please open them to at least {goal:.2g} mm, or close them."


def check(artwork: Artwork, size: PrintedSize, *, rule: Rule, printer: Printer) -> tuple[Finding, ...]:  # noqa: ARG001 -- alike
    """The narrowest gap, or hole, in the film against the rule's `thin_gap`, if it has one."""
    limits = rule.preflight.thin_gap
    if limits is None or (goal := greatest(limits)) is None:
        return ()
    narrow = narrow_parts(artwork, size, part=Part.GAP, limit_mm=goal)
    passed = None if narrow.narrowest_mm is None else passed_below(limits, narrow.narrowest_mm)
    if narrow.narrowest_mm is None or passed is None:
        return ()
    severity, limit = passed
    message = _SEEN.format(narrowest=cut(narrow.narrowest_mm), limit=limit)
    return (Finding(NAME, severity, message, _ADVICE.format(goal=goal), narrow.narrowest_mm, limit, "mm", narrow.where),)
