"""Mending: stray specks dropped, where the rule says so."""

from dataclasses import replace
from typing import Final

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.preflight.finding import Finding, Severity
from filmhand.preflight.specks import NAME
from filmhand.preflight.stray import stray_specks
from filmhand.rules import Rule
from filmhand.words import Phrase

_DROPPED_ONE: Final = Phrase("One stray speck was dropped, because this shop's rule says so.")
_DROPPED: Final = Phrase("{count} stray specks were dropped, because this shop's rule says so.")
_ADVICE: Final = Phrase("Look at the proof; if they were meant, please make them larger than {limit:.2g} mm.")


def dropped(artwork: Artwork, size: PrintedSize, *, rule: Rule) -> Artwork:
    """The artwork without the specks that the check of that name counts; as it is where the rule does not ask, or none are."""
    if not rule.mend.specks:
        return artwork
    stray = stray_specks(artwork, size, limit_mm=rule.preflight.speck)
    if not stray.count:
        return artwork
    pixels = artwork.pixels.copy()
    pixels[stray.rows, stray.columns, 3] = 0
    message = _DROPPED_ONE() if stray.count == 1 else _DROPPED(count=stray.count)
    finding = Finding(NAME, Severity.WARN, message, _ADVICE(limit=rule.preflight.speck), stray.count, None, "specks")
    return replace(artwork, pixels=pixels, findings=(*artwork.findings, finding))
