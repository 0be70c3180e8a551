"""Preflight: every check of the artwork before it is resized, in a fixed order."""

from typing import Final

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.preflight import (
    empty,
    enlarged,
    film_fit,
    fonts,
    fringe,
    ground,
    halo,
    ink_total,
    jpeg_blocks,
    lettering,
    one_colour,
    overprint,
    resolution,
    soft_edge,
    special_inks,
    specks,
    thin_gap,
    thin_line,
    vanishing,
)
from filmhand.preflight.finding import Report, Severity
from filmhand.rules import Printer, Rule

_FIRST: Final = (empty, film_fit)
"""Past one of these, the rest has nothing to say or would measure a size that cannot be printed."""

_REST: Final = (
    resolution,
    enlarged,
    jpeg_blocks,
    ground,
    halo,
    one_colour,
    vanishing,
    soft_edge,
    fringe,
    specks,
    thin_line,
    thin_gap,
    lettering,
    ink_total,
    fonts,
    special_inks,
    overprint,
)


def inspect(artwork: Artwork, size: PrintedSize, *, rule: Rule, printer: Printer) -> Report:
    """What was noticed while opening, then what each check finds. Pure; nothing is rounded before it is compared."""
    findings = list(artwork.findings)
    for check in _FIRST:
        findings += check.check(artwork, size, rule=rule, printer=printer)
        if any(finding.severity is Severity.REJECT for finding in findings):
            return Report(tuple(findings))
    for check in _REST:
        findings += check.check(artwork, size, rule=rule, printer=printer)
    return Report(tuple(findings))
