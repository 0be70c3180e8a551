"""PDF, drawn by pdfium on a transparent ground, as fine as the print needs and no finer."""

import math
from collections.abc import Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium
from numpy.typing import NDArray

from filmhand import units
from filmhand.artwork.limit import too_many_pixels
from filmhand.artwork.mapped import mapped
from filmhand.artwork.model import Artwork, Kind, PrintedSize
from filmhand.artwork.pdf_page import read_page
from filmhand.artwork.pdf_strict import locked, strictly
from filmhand.artwork.refusal import CANNOT_BE_OPENED, damaged, unreadable
from filmhand.artwork.size import Shape, size_of
from filmhand.artwork.trim import seen_box
from filmhand.artwork.whole_pdf import fault_of_pdf
from filmhand.intake.ticket import Ticket
from filmhand.mending import ground
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase

DRAWN_PPI: Final = 360.0
"""Fine enough that a drawing's edges, enlarged to the printer's dots, look sharp: common practice, no source."""

MOST_DRAWN: Final = 120_000_000
"""Most pixels drawn (480 MB): larger prints are drawn a little coarser."""

_COARSE_PX: Final = 1000
_SPARE: Final = 2 / _COARSE_PX
"""How much around the motif is drawn too, for its edges are found to a coarse pixel or two; trimming takes it off again."""

_SMALL_PICTURE_PX: Final = 16
"""Pictures this narrow say nothing of resolution: Ghent Workgroup 2022, R0031 and R0032 (check-values read at second hand)."""

DRAWN: Final = "drawn"
_NO_PAGES: Final = Phrase("The PDF has no pages.")
_DISPUTED: Final = Phrase("has pages that cannot be counted for certain")
_COARSER: Final = Phrase("The print is so large that the PDF was drawn with {ppi:.0f} pixels an inch instead of {wanted:.0f}.")


_Picture = tuple[Any, Any]
"""A picture inside the PDF, and the matrix from its unit square to the page."""


@dataclass(frozen=True)
class _Area:
    """A part of the page as it is seen, in points from its upper left corner."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def height(self) -> float:
        return self.bottom - self.top

    def grown(self, by: float, within: "_Area") -> "_Area":
        """The area and so much around it, within another."""
        return _Area(
            max(within.left, self.left - by),
            max(within.top, self.top - by),
            min(within.right, self.right + by),
            min(within.bottom, self.bottom + by),
        )


@dataclass(frozen=True)
class _Plan:
    """How fine the page is drawn: pixels an inch of the page; pixels an inch of the print, and those wanted of it."""

    ppi: float
    printed_ppi: float
    wanted_ppi: float


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
            area = _motif(leaf, rule) if rule.size.trim else _whole(leaf)
            plan = _planned(area, reading.frame.unit, ticket=ticket, rule=rule, printer=printer)
            drawn = area.grown(_SPARE * max(area.width, area.height), _whole(leaf))
            pixels = _draw(leaf, drawn, plan.ppi * reading.frame.unit / units.POINTS_PER_INCH)
            raster_ppi = min(_raster_ppis(pictures, reading.frame.unit), default=None)
    except pypdfium2.PdfiumError as problem:
        is_locked = problem.err_code == pdfium.FPDF_ERR_PASSWORD  # qpdf undoes a few encryptions that pdfium does not.
        return locked() if is_locked else damaged(Kind.PDF.value, CANNOT_BE_OPENED)
    findings = (*reading.findings, *_findings(plan), *read.findings)
    return Artwork(pixels, None, (plan.ppi, plan.ppi), Kind.PDF, findings, raster_ppi, pdf=reading.facts)


def _fault_of_pictures(pictures: Iterable[_Picture], rule: Rule, printer: Printer) -> Finding | None:
    sizes = (picture.get_px_size() for picture, _ in pictures)
    faults = (too_many_pixels(width, height, rule=rule, printer=printer) for width, height in sizes)
    return next((fault for fault in faults if fault is not None), None)


def _whole(page: Any) -> _Area:
    return _Area(0.0, 0.0, page.get_width(), page.get_height())


def _motif(page: Any, rule: Rule) -> _Area:
    """The box around what is drawn: found coarsely on the whole page, then finely within that."""
    page_area = area = _whole(page)
    for _ in range(2):
        looked_at = area.grown(_SPARE * max(area.width, area.height), page_area)
        scale = _COARSE_PX / max(looked_at.width, looked_at.height)
        drawing = Artwork(_draw(page, looked_at, scale), None, None, Kind.PDF)
        box = seen_box(ground.removed(drawing, rule=rule).pixels)
        if box is None:
            return area
        left, top = (_first_px(side, scale) for side in (looked_at.left, looked_at.top))
        area = _Area((left + box.left) / scale, (top + box.top) / scale, (left + box.right) / scale, (top + box.bottom) / scale)
    return area


def _first_px(side: float, scale: float) -> int:
    """The pixel at which a drawing begins whose area begins at `side` points: one earlier, for crops are rounded up."""
    return math.ceil(max(0.0, side - 1 / scale) * scale)


def _planned(area: _Area, unit: float, *, ticket: Ticket, rule: Rule, printer: Printer) -> _Plan:
    """How fine an area is drawn, given the size at which it is printed. `unit`: the page's, in points."""
    points = unit * units.MM_PER_INCH / units.POINTS_PER_INCH
    stated = PrintedSize(area.width * points, area.height * points)
    size = size_of(Shape(area.width / area.height, stated), ticket=ticket, rule=rule)
    enlarged = size.width_mm / stated.width_mm
    square_inches = size.width_mm * size.height_mm / units.MM_PER_INCH**2
    wanted = min(DRAWN_PPI, max(printer.resolution))
    printed = min(wanted, (MOST_DRAWN / square_inches) ** 0.5)
    return _Plan(printed * enlarged, printed, wanted)


def _draw(page: Any, area: _Area, scale: float) -> NDArray[np.uint8]:
    """An area drawn on a transparent ground at `scale` pixels a point: h×w×4 uint8 RGBA, straight alpha."""
    sides = (area.left, page.get_height() - area.bottom, page.get_width() - area.right, area.top)
    bitmap = page.render(
        scale=scale,
        crop=tuple(max(0.0, side - 1 / scale) for side in sides),  # A pixel less: each is rounded up, which would cut the motif.
        force_bitmap_format=pdfium.FPDFBitmap_BGRA,
        rev_byteorder=True,
        fill_color=(0, 0, 0, 0),
        draw_annots=False,
        limit_image_cache=True,
    )
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


def _findings(plan: _Plan) -> tuple[Finding, ...]:
    if plan.printed_ppi >= plan.wanted_ppi:
        return ()
    message = _COARSER(ppi=plan.printed_ppi, wanted=plan.wanted_ppi)
    return (Finding(DRAWN, Severity.NOTE, message, None, plan.printed_ppi, plan.wanted_ppi, "ppi"),)
