"""PDF, drawn by pdfium on a transparent ground, as fine as the print needs and no finer."""

from collections.abc import Iterable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any, Final

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium
from numpy.typing import NDArray

from filmhand import units
from filmhand.artwork.drawing import Area, Page, drawn
from filmhand.artwork.limit import too_many_pixels
from filmhand.artwork.mapped import mapped
from filmhand.artwork.model import Artwork, Kind
from filmhand.artwork.pdf_page import read_page
from filmhand.artwork.pdf_strict import locked, strictly
from filmhand.artwork.refusal import CANNOT_BE_OPENED, damaged, unreadable
from filmhand.artwork.whole_pdf import fault_of_pdf
from filmhand.intake.ticket import Ticket
from filmhand.preflight.finding import Finding
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase

_SMALL_PICTURE_PX: Final = 16
"""Pictures this narrow say nothing of resolution: Ghent Workgroup 2022, R0031 and R0032 (check-values read at second hand)."""

_NO_PAGES: Final = Phrase("The PDF has no pages.")
_DISPUTED: Final = Phrase("has pages that cannot be counted for certain")
_NOTHING: Final = (0, 0, 0, 0)
_FLAGS: Final = pdfium.FPDF_REVERSE_BYTE_ORDER | pdfium.FPDF_RENDER_LIMITEDIMAGECACHE
"""RGBA instead of BGRA, little memory for pictures, and no annotations (`FPDF_ANNOT` is left out)."""

_Picture = tuple[Any, Any]
"""A picture inside the PDF, and the matrix from its unit square to the page."""


def pages_in(path: Path) -> int | Finding:
    """How many pages a PDF has, one at least; or the finding that says why it cannot be opened, or is not whole."""
    with mapped(path) as data:
        fault = fault_of_pdf(data)
    if fault is not None:
        return damaged(Kind.PDF.value, fault)
    counted = strictly(path, lambda document: len(document.pages))
    if isinstance(counted, Finding):
        return counted
    return counted.value or unreadable(_NO_PAGES())


def open_pdf(path: Path, *, ticket: Ticket, rule: Rule, printer: Printer, page: int = 1) -> Artwork | Finding:
    """Draw a page of a PDF, the first being 1, or the finding that says why not. Only the motif is drawn where the rule trims."""
    read = strictly(path, lambda document: read_page(document, page))
    if isinstance(read, Finding):
        return read
    reading = read.value
    if isinstance(reading, Finding):
        return reading
    try:
        with path.open("rb") as file, closing(pypdfium2.PdfDocument(file)) as document:
            if len(document) != reading.pages:
                return damaged(Kind.PDF.value, _DISPUTED)
            leaf = document[page - 1]
            if reading.frame.is_trimmed:
                leaf.set_cropbox(*reading.frame.sides)
            pictures = tuple(_pictures(leaf))
            fault = _fault_of_pictures(pictures, rule, printer)
            if fault is not None:
                return fault
            whole = Area(0.0, 0.0, leaf.get_width(), leaf.get_height())
            points = reading.frame.unit * units.MM_PER_INCH / units.POINTS_PER_INCH
            view = Page(whole, points, lambda area, scale: _draw(leaf, area, scale), Kind.PDF)
            made = drawn(view, ticket=ticket, rule=rule, printer=printer)
            raster_ppi = min(_raster_ppis(pictures, reading.frame.unit), default=None)
    except pypdfium2.PdfiumError as problem:
        is_locked = problem.err_code == pdfium.FPDF_ERR_PASSWORD  # qpdf undoes a few encryptions that pdfium does not.
        return locked() if is_locked else damaged(Kind.PDF.value, CANNOT_BE_OPENED)
    findings = (*reading.findings, *made.findings, *read.findings)
    return Artwork(made.pixels, None, (made.ppi, made.ppi), Kind.PDF, findings, raster_ppi, pdf=reading.facts)


def _fault_of_pictures(pictures: Iterable[_Picture], rule: Rule, printer: Printer) -> Finding | None:
    sizes = (picture.get_px_size() for picture, _ in pictures)
    faults = (too_many_pixels(width, height, rule=rule, printer=printer) for width, height in sizes)
    return next((fault for fault in faults if fault is not None), None)


def _draw(page: Any, area: Area, scale: float) -> NDArray[np.uint8]:
    """An area of a page at `scale` pixels a point, its edges those of the outer pixels: h×w×4 uint8 RGBA, straight alpha."""
    width, height = max(1, round(area.width * scale)), max(1, round(area.height * scale))
    bitmap = pypdfium2.PdfBitmap.new_native(width, height, pdfium.FPDFBitmap_BGRA, rev_byteorder=True)
    bitmap.fill_rect(_NOTHING, 0, 0, width, height)
    across, down = width / area.width, height / area.height
    to_pixels = pdfium.FS_MATRIX(across, 0, 0, down, -area.left * across, -area.top * down)
    pdfium.FPDF_RenderPageBitmapWithMatrix(bitmap, page, to_pixels, pdfium.FS_RECTF(0, 0, width, height), _FLAGS)
    return np.asarray(bitmap.to_numpy())


def _pictures(page: Any) -> Iterator[_Picture]:
    """Pictures on a page, through the forms that hold them."""
    for picture in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_IMAGE]):
        matrix, holder = picture.get_matrix(), picture.container
        while holder is not None:
            matrix = matrix.multiply(holder.get_matrix())
            holder = holder.container
        yield picture, matrix


def _raster_ppis(pictures: Iterable[_Picture], unit: float) -> Iterator[float]:
    """The resolution of each picture at the page's own size, its unit in points.

    The smaller of its two directions counts (Ghent Workgroup D0018).
    """
    for picture, matrix in pictures:
        width, height = picture.get_px_size()
        across, down = float(np.hypot(matrix.a, matrix.b)), float(np.hypot(matrix.c, matrix.d))
        if min(width, height) > _SMALL_PICTURE_PX and across > 0 and down > 0:
            yield units.POINTS_PER_INCH / unit * min(width / across, height / down)
