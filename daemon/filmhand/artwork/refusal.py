"""Findings of a file that could not be opened: one check, "readable", always a reject."""

from typing import Final

from filmhand.preflight.finding import Finding, Severity
from filmhand.words import Phrase, Words

READABLE: Final = "readable"

SEND_WHAT_WE_OPEN: Final = Phrase(
    "Please send the artwork as a PNG with a transparent background, or as a PDF, SVG, PSD, TIFF, WebP, AVIF or JPEG; "
    "from a drawing program, export a PDF."
)
SEND_AGAIN_ARTWORK: Final = Phrase("Please send the artwork itself again, such as a PNG with a transparent background or a PDF.")
SEND_AGAIN: Final = Phrase("Please check that it opens on your side, export it once more, and send it again.")


CANNOT_BE_READ: Final = Phrase("cannot be read")
CANNOT_BE_OPENED: Final = Phrase("cannot be opened")
CANNOT_BE_DECODED: Final = Phrase("cannot be decoded to its end")

_DAMAGED: Final = Phrase("The file is damaged or was cut short on its way: this {kind} {fault}.")


def unreadable(message: Words, advice: Words | None = None) -> Finding:
    """The finding that a file could not be opened, and why, in a customer's words; without advice, that to send it again."""
    return Finding(READABLE, Severity.REJECT, message, advice or SEND_AGAIN())


def damaged(kind: str, fault: Phrase) -> Finding:
    """The finding that a file is not whole. `fault` is a clause in plain words that goes on from "this PNG": "stops early"."""
    return unreadable(_DAMAGED(kind=kind, fault=fault()))
