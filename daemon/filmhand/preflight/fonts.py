"""Fonts of a PDF: those that it uses and does not hold."""

from typing import Final

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.artwork.pdf_facts import listed
from filmhand.preflight.finding import Finding, passed_above
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase

NAME: Final = "fonts"

_SEEN: Final = Phrase("The PDF does not hold all fonts that it uses: {names}. Other letters may be drawn in their place.")
_ADVICE: Final = Phrase("Please turn the lettering into outlines (curves), or have all fonts embedded when you export the PDF.")


def check(artwork: Artwork, size: PrintedSize, *, rule: Rule, printer: Printer) -> tuple[Finding, ...]:  # noqa: ARG001 -- alike
    """The number of fonts that are used and missing against the rule's `fonts`."""
    missing = artwork.pdf.missing_fonts if artwork.pdf is not None else ()
    passed = passed_above(rule.preflight.fonts, len(missing))
    if not missing or passed is None:
        return ()
    severity, limit = passed
    return (Finding(NAME, severity, _SEEN(names=listed(missing)), _ADVICE(), float(len(missing)), limit, "fonts"),)
