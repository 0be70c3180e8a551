"""Findings of a file that could not be opened: one check, "readable", always a reject."""

from typing import Final

from filmhand.preflight.finding import Finding, Severity

READABLE: Final = "readable"

SEND_WHAT_WE_OPEN: Final = (
    "Please send the artwork as a PNG with a transparent background, or as a PDF, TIFF, WebP or JPEG; "
    "from a drawing program, export a PDF."
)
SEND_AGAIN: Final = "Please check that it opens on your side, export it once more, and send it again."


def unreadable(message: str, advice: str = SEND_AGAIN) -> Finding:
    """The finding that a file could not be opened, and why, in a customer's words."""
    return Finding(READABLE, Severity.REJECT, message, advice)


def damaged(kind: str, fault: str) -> Finding:
    """The finding that a file is not whole. `fault` is a clause in plain words: "it stops in the middle of the picture"."""
    return unreadable(f"The file is damaged or was cut short on its way: this {kind} {fault}.")
