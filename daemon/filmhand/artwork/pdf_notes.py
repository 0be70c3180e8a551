"""What a customer should know of a PDF that has no limit of its own: its boxes, layers, inks, mixing, and what was left out."""

import re
from collections.abc import Iterator
from typing import Any, Final

import pikepdf

from filmhand import units
from filmhand.artwork.odd_profile import PROFILE
from filmhand.artwork.pdf_boxes import Frame
from filmhand.artwork.pdf_facts import listed
from filmhand.artwork.pdf_objects import READING_ERRORS, entry, items, name, number, printable, text
from filmhand.artwork.pdf_walk import Seen
from filmhand.preflight.finding import Finding, Severity
from filmhand.words import Phrase, Words

BOX, SCALE, LAYERS, TRANSPARENCY = "page_box", "page_scale", "layers", "transparency"
ANNOTATIONS, SCRIPTS, INTENT, LONG, ATTACHMENTS = "annotations", "scripts", "output_intent", "long_page", "attachments"

_TRIMMED: Final = Phrase("The page's trim box is taken as the artwork: {width_mm:.1f} × {height_mm:.1f} mm.")
_SCALED: Final = Phrase("The PDF's page is scaled by {factor:g}; its size was taken so.")
_RGB: Final = Phrase("The PDF's colours were turned into sRGB to draw it.")
_CMYK: Final = Phrase(
    "The PDF has CMYK colours without a profile. They were turned into sRGB by a general table and may look different."
)
_LAYERS_OFF: Final = Phrase("Layers that are switched off in the PDF were left out: {names}.")
_BLENDED: Final = Phrase(
    "Parts of the PDF mix with what lies under them ({modes}). Where that is the garment, they look different from on screen."
)
_KNOCKOUT: Final = Phrase("a knockout group")
_UNDRAWN: Final = Phrase("What was added to the page was left out: comments, stamps or form fields ({count}).")
_SCRIPTED: Final = Phrase("The PDF holds scripts or actions; they were not run.")
_INTENDED: Final = Phrase(
    "The PDF says that it is made for the printing condition “{condition}”; film printing does not follow it."
)
_CLAIMED: Final = Phrase("The PDF says that it is made by the standard {standard}.")
_TOO_LONG: Final = Phrase("The page is too intricate to be looked through to its end for fonts, inks and overprinting.")
_FORM: Final = Phrase("The PDF is a form that only some programs put together; what was drawn may not be what you see.")
_FORM_ADVICE: Final = Phrase("Please print it into a new PDF and send that.")
_ATTACHED: Final = Phrase("The PDF carries other files inside; only its pages are printed.")
_ATTACHED_ADVICE: Final = Phrase("If one of them is the artwork, please send it by itself.")

_HIDDEN, _NO_VIEW = 1 << 1, 1 << 5  # Annotation flags: ISO 32000-2 table 167
_UNSEEN_KINDS: Final = frozenset({"Link", "Popup"})
_VERSION: Final = re.compile(rb"GTS_PDFXVersion(?:>|=[\"'])\s*(PDF/X-[0-9A-Za-z:]{1,12})")
_HARMLESS: Final = frozenset({"GoTo", "Named", ""})  # Going to a page when opened


def notes_of_page(page: Any, frame: Frame, seen: Seen) -> Iterator[Finding]:
    """Notes on what a page (its dictionary) is and uses."""
    yield Finding(PROFILE, Severity.NOTE, (_CMYK if seen.has_plain_cmyk else _RGB)())
    if frame.is_trimmed:
        left, bottom, right, top = (side * frame.unit * units.MM_PER_INCH / units.POINTS_PER_INCH for side in frame.sides)
        yield Finding(BOX, Severity.NOTE, _TRIMMED(width_mm=right - left, height_mm=top - bottom))
    if frame.unit != 1:
        yield Finding(SCALE, Severity.NOTE, _SCALED(factor=frame.unit))
    if seen.hidden_layers:
        yield Finding(LAYERS, Severity.NOTE, _LAYERS_OFF(names=listed(seen.hidden_layers)))
    if seen.blend_modes or seen.has_knockout:
        modes: str | Words = listed(printable(mode) for mode in seen.blend_modes) or _KNOCKOUT()
        yield Finding(TRANSPARENCY, Severity.NOTE, _BLENDED(modes=modes))
    if not seen.is_whole:
        yield Finding(LONG, Severity.NOTE, _TOO_LONG())
    undrawn = sum(_would_show(annotation) for annotation in items(entry(page, "/Annots")))
    if undrawn:
        yield Finding(ANNOTATIONS, Severity.NOTE, _UNDRAWN(count=undrawn))


def notes_of_document(document: pikepdf.Pdf, page: Any) -> Iterator[Finding]:
    """Notes on what the whole document says and carries."""
    root = document.Root
    if _has_actions(root, page):
        yield Finding(SCRIPTS, Severity.NOTE, _SCRIPTED())
    for intent in items(entry(root, "/OutputIntents")):
        is_press = entry(intent, "/S") == pikepdf.Name.GTS_PDFX
        condition = text(entry(intent, "/OutputCondition")) or text(entry(intent, "/OutputConditionIdentifier"))
        if is_press and condition:
            yield Finding(INTENT, Severity.NOTE, _INTENDED(condition=condition))
    if entry(root, "/AcroForm", "/XFA") is not None:  # Section 12.7.8: pages made by a program while the form is open
        yield Finding(ANNOTATIONS, Severity.WARN, _FORM(), _FORM_ADVICE())
    standard = _standard(document)
    if standard:
        yield Finding(INTENT, Severity.NOTE, _CLAIMED(standard=standard))
    is_folder = entry(root, "/Collection") is not None  # Then its page is but a cover (section 12.3.5).
    if is_folder or entry(root, "/Names", "/EmbeddedFiles") is not None:
        yield Finding(ATTACHMENTS, Severity.WARN if is_folder else Severity.NOTE, _ATTACHED(), _ATTACHED_ADVICE())


def _would_show(annotation: Any) -> bool:
    """Whether an annotation is seen on screen: it has an appearance, and is neither hidden nor a link."""
    flags = int(number(entry(annotation, "/F"), 0))
    is_shown = entry(annotation, "/AP", "/N") is not None and not flags & (_HIDDEN | _NO_VIEW)
    return is_shown and name(entry(annotation, "/Subtype")) not in _UNSEEN_KINDS


def _has_actions(root: Any, page: Any) -> bool:
    opening = name(entry(root, "/OpenAction", "/S")) not in _HARMLESS
    scripts = entry(root, "/Names", "/JavaScript") is not None
    return opening or scripts or entry(root, "/AA") is not None or entry(page, "/AA") is not None


def _standard(document: pikepdf.Pdf) -> str:
    """The PDF/X version that the document claims, in its information dictionary or its metadata (ISO 15930-7, from memory)."""
    claimed = text(entry(document.trailer, "/Info", "/GTS_PDFXVersion"))
    if claimed:
        return claimed
    metadata = entry(document.Root, "/Metadata")
    try:
        said = _VERSION.search(metadata.read_bytes()) if isinstance(metadata, pikepdf.Stream) else None
    except READING_ERRORS:
        return ""
    return said[1].decode("ascii") if said else ""
