"""Overprint in a PDF: what is to mix with what lies under it, and will cover it instead."""

from typing import Final

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.preflight.finding import Finding, passed_above
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase

NAME: Final = "overprint"

_SEEN: Final = Phrase("Parts of the PDF are set to overprint, to mix with what lies under them ({count}). Here they cover it.")
_ADVICE: Final = Phrase(
    "Please switch overprinting off, look whether it is still as you mean it, and send it again; or send a PNG."
)


def check(artwork: Artwork, size: PrintedSize, *, rule: Rule, printer: Printer) -> tuple[Finding, ...]:  # noqa: ARG001 -- alike
    """The number of things that are to mix with what lies under them against the rule's `overprint`."""
    count = artwork.pdf.overprints if artwork.pdf is not None else 0
    passed = passed_above(rule.preflight.overprint, count)
    if not count or passed is None:
        return ()
    severity, limit = passed
    return (Finding(NAME, severity, _SEEN(count=count), _ADVICE(), float(count), limit, "objects"),)
