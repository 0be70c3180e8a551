"""What is to be known of a PDF's page before it is drawn: its frame, what it uses, and what its customer should be told."""

from dataclasses import dataclass
from typing import Any, Final

import pikepdf

from filmhand.artwork.pdf_boxes import Frame, frame_of
from filmhand.artwork.pdf_colours import NO_INK, PROCESS
from filmhand.artwork.pdf_facts import PdfFacts
from filmhand.artwork.pdf_layers import Layers
from filmhand.artwork.pdf_notes import notes_of_document, notes_of_page
from filmhand.artwork.pdf_objects import printable
from filmhand.artwork.pdf_overprint import overprints_on
from filmhand.artwork.pdf_spots import values_of_spots
from filmhand.artwork.pdf_walk import seen_on
from filmhand.artwork.refusal import unreadable
from filmhand.preflight.finding import Finding
from filmhand.words import Phrase

_NO_PAGE: Final = Phrase("The PDF has no page {page}.")
_NO_SIZE: Final = Phrase("The PDF's page has no size.")


@dataclass(frozen=True)
class PageReading:
    """A page's frame, facts and notes; `pages` is how many the document has."""

    frame: Frame
    facts: PdfFacts
    findings: tuple[Finding, ...]
    pages: int


def read_page(document: pikepdf.Pdf, page: int) -> PageReading | Finding:
    """What is to be known of a page, the first being 1; or the finding that there is no such page, or that it has no size."""
    if not 1 <= page <= len(document.pages):
        return unreadable(_NO_PAGE(page=page))
    leaf: Any = document.pages[page - 1].obj
    frame = frame_of(leaf)
    if frame is None:
        return unreadable(_NO_SIZE())
    layers = Layers(document)
    seen = seen_on(leaf, layers)
    overprints = 0
    if seen.has_overprint and seen.is_whole:
        overprints, seen.is_whole = overprints_on(leaf, frame.sides, layers)
    spots = {colorant: space for colorant, space in seen.colorants.items() if colorant not in PROCESS | NO_INK}
    names = tuple(printable(colorant) for colorant in spots)
    facts = PdfFacts(tuple(seen.missing_fonts), overprints, names, values_of_spots(document, spots))
    findings = (*notes_of_page(leaf, frame, seen), *notes_of_document(document, leaf))
    return PageReading(frame, facts, findings, len(document.pages))
