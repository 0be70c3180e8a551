"""Nothing to print: no pixel that would be seen."""

from typing import Final

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.artwork.trim import seen_box
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase

NAME: Final = "empty"

_SEEN: Final = Phrase("There is nothing in the picture that would print: all of it is transparent.")
_ADVICE: Final = Phrase("Please check that the layer with the artwork was visible when you exported it, and send it again.")


def check(artwork: Artwork, size: PrintedSize, *, rule: Rule, printer: Printer) -> tuple[Finding, ...]:  # noqa: ARG001 -- alike
    """A reject where no pixel's alpha reaches what can be seen."""
    if seen_box(artwork.pixels) is not None:
        return ()
    return (Finding(NAME, Severity.REJECT, _SEEN(), _ADVICE(), 0.0, 0.0, "%"),)
