"""Cut paths as a PDF of one page, the film's own size.

The page is the film; its edge is not drawn. Pages beyond 14 400 units (5.08 m) are written in larger units, which PDF 1.6 allows
(ISO 32000-1, UserUnit in 7.7.3.3, limits in annex C; from memory). Readers that do not know UserUnit show them that much smaller.
"""

from collections.abc import Sequence
from decimal import Decimal
from io import BytesIO
from math import ceil
from typing import Final

import pikepdf

from filmhand import units
from filmhand.cut.contour import Ring
from filmhand.cut.numbers import points
from filmhand.cut.paths import CutPath
from filmhand.gang.sheet import Sheet

_MOST_UNITS: Final = 14_400.0
_LINE_PT: Final = 0.25


def pdf_of(paths: Sequence[CutPath], *, sheet: Sheet) -> bytes:
    """The page, the same bytes for the same paths."""
    width, length = _points(sheet.film_width_mm), _points(sheet.length_mm)
    unit = max(1, ceil(max(width, length) / _MOST_UNITS))
    pdf = pikepdf.new()
    pdf.docinfo["/Title"] = sheet.name
    page = pdf.add_blank_page(page_size=(_rounded(width / unit), _rounded(length / unit)))
    if unit > 1:
        page.obj["/UserUnit"] = unit
    page.obj["/Contents"] = pdf.make_stream(_drawing(paths, scale=_points(1.0) / unit, top=length / unit))
    made = BytesIO()
    # An identifier by chance would make two files of one sheet differ.
    pdf.save(made, deterministic_id=True, min_version="1.6" if unit > 1 else "1.4")
    return made.getvalue()


def _drawing(paths: Sequence[CutPath], *, scale: float, top: float) -> bytes:
    """Page description operators (ISO 32000-1, 8.4 and 8.5): mm from the film's upper left corner, y down, from here on."""
    line_mm = units.px_to_mm(_LINE_PT, units.POINTS_PER_INCH)
    begin = f"{scale:.8f} 0 0 {-scale:.8f} 0 {top:.4f} cm {line_mm:.4f} w 0 G"
    return "\n".join([begin, *(_closed(ring) for path in paths for ring in path.rings), ""]).encode("ascii")


def _closed(ring: Ring) -> str:
    return " l ".join([f"{x} {y}" for x, y in points(ring)]).replace(" l ", " m ", 1) + " l s"


def _points(mm: float) -> float:
    return units.mm_to_px(mm, units.POINTS_PER_INCH)


def _rounded(length: float) -> Decimal:
    return Decimal(f"{length:.4f}")
