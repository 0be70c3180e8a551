"""Opening a customer's file: known by its content, looked over for gaps, decoded."""

from dataclasses import replace
from pathlib import Path
from typing import Final

from filmhand.artwork import pdf, svg
from filmhand.artwork.kind import HEAD_BYTES, kind_of
from filmhand.artwork.mapped import mapped
from filmhand.artwork.measured_ink import ink_map_of
from filmhand.artwork.model import Artwork, Kind
from filmhand.artwork.other_kind import other_of
from filmhand.artwork.picture import open_picture
from filmhand.artwork.premultiplied import is_premultiplied, made_straight
from filmhand.artwork.profile import NOTHING_ASSUMED, Assumed, reading_of
from filmhand.artwork.psd import open_psd
from filmhand.artwork.refusal import damaged, unreadable
from filmhand.artwork.rgba import to_rgba, upright, upright_ppi
from filmhand.artwork.size import ASSUMED_PPI, says_no_size
from filmhand.artwork.source import Alpha, Colour, Source
from filmhand.artwork.tiff import open_tiff
from filmhand.artwork.whole import fault_of
from filmhand.intake.ticket import Ticket
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase

_OTHER: Final = Phrase("This is {what}, which cannot be printed from.")

SIZE: Final = "size"
_NO_SIZE: Final = Phrase("Nobody said how large this is to be printed: not the order, not the shop's rule, not the file.")
_NO_SIZE_ADVICE: Final = Phrase("Please state the printed width; without one it would be printed with {ppi:.0f} pixels an inch.")


def open_artwork(
    path: Path, *, ticket: Ticket, rule: Rule, printer: Printer, page: int = 1, assumed: Assumed = NOTHING_ASSUMED
) -> Artwork | Finding:
    """The artwork in a file, upright; or the finding (a reject) that says why it cannot be opened. `page`: of a PDF, from 1.

    `assumed`: how pictures are read that name no profile. SVG's colours are sRGB by its standard; a PDF's are as it draws them.
    MachineError where the file cannot be read at all; MemoryError is left to the caller, who set the cap.
    """
    with mapped(path) as data:
        head = bytes(data[:HEAD_BYTES])
        kind = kind_of(head)
        if kind is None:
            other = other_of(head)
            return unreadable(_OTHER(what=other.name()), other.advice())
        fault = fault_of(data, kind)
    if fault is not None:
        return damaged(kind.value, fault)
    if kind is Kind.PDF:
        artwork = pdf.open_pdf(path, ticket=ticket, rule=rule, printer=printer, page=page)
    elif kind is Kind.SVG:
        artwork = svg.open_svg(path, ticket=ticket, rule=rule, printer=printer)
    else:
        source = _opened(path, kind, rule=rule, printer=printer)
        artwork = source if isinstance(source, Finding) else _artwork_of(source, kind, assumed)
    if isinstance(artwork, Finding):
        return artwork
    if says_no_size(artwork, ticket=ticket, rule=rule):
        finding = Finding(SIZE, Severity.HOLD, _NO_SIZE(), _NO_SIZE_ADVICE(ppi=ASSUMED_PPI))
        artwork = replace(artwork, findings=(*artwork.findings, finding))
    return artwork


def _opened(path: Path, kind: Kind, *, rule: Rule, printer: Printer) -> Source | Finding:
    if kind is Kind.TIFF:
        return open_tiff(path, rule=rule, printer=printer)
    if kind is Kind.PSD:
        return open_psd(path, rule=rule, printer=printer)
    return open_picture(path, kind, rule=rule, printer=printer)


def _artwork_of(source: Source, kind: Kind, assumed: Assumed) -> Artwork:
    reading = reading_of(source.profile, source.colour, says_srgb=source.says_srgb, assumed=assumed)
    pixels, findings = to_rgba(source, reading), (*source.findings, *reading.findings)
    if source.alpha is Alpha.STRAIGHT and is_premultiplied(pixels):
        pixels, finding = made_straight(pixels)
        findings = (*findings, finding)
    return Artwork(
        upright(pixels, source.orientation),
        profile=reading.kept,
        ppi=upright_ppi(source.ppi, source.orientation),
        kind=kind,
        findings=findings,
        source_ink=ink_map_of(source) if source.colour is Colour.CMYK else None,
    )
