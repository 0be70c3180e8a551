"""What a PDF's spot colours look like at full tint: each drawn alone, by the library that draws the page."""

import io
from collections.abc import Mapping
from contextlib import closing
from itertools import islice
from typing import Any, Final

import numpy as np
import pikepdf
import pypdfium2
import pypdfium2.raw as pdfium

from filmhand.artwork.pdf_colours import colorants_of
from filmhand.artwork.pdf_facts import Value
from filmhand.artwork.pdf_objects import READING_ERRORS, printable

_MOST: Final = 64
"""Most spot colours that are drawn; a page with more is a picture of them."""
_SIDE: Final = 8
_OPAQUE: Final = 255


def values_of_spots(document: pikepdf.Pdf, spots: Mapping[str, Any]) -> tuple[tuple[str, Value], ...]:
    """The printable names of the first spot colours with the sRGB of each; none where they cannot be drawn.

    `spots`: each colorant with a Separation or DeviceN space that has it.
    """
    few = dict(islice(spots.items(), _MOST))
    if not few:
        return ()
    try:
        drawn = _drawn(_sheet(document, few))
    except (*READING_ERRORS, pypdfium2.PdfiumError):
        return ()
    middles = drawn[_SIDE // 2, _SIDE // 2 :: _SIDE]
    return tuple(
        (printable(colorant), (int(red), int(green), int(blue)))
        for colorant, (red, green, blue, alpha) in zip(few, middles, strict=True)
        if alpha == _OPAQUE
    )


def _sheet(document: pikepdf.Pdf, spots: Mapping[str, Any]) -> bytes:
    """A PDF of a row of squares, each in one spot colour alone."""
    sheet = pikepdf.new()
    sheet.add_blank_page(page_size=(_SIDE * len(spots), _SIDE))
    spaces, operators = pikepdf.Dictionary(), []
    for place, (colorant, space) in enumerate(spots.items()):
        spaces[f"/S{place}"] = sheet.copy_foreign(document.make_indirect(space))
        tints = " ".join("1" if colorant == other else "0" for other in colorants_of(space, None))
        operators.append(f"/S{place} cs {tints} scn {place * _SIDE} 0 {_SIDE} {_SIDE} re f")
    leaf = sheet.pages[0].obj
    leaf.Resources = pikepdf.Dictionary(ColorSpace=spaces)
    leaf.Contents = sheet.make_stream("\n".join(operators).encode("ascii"))
    file = io.BytesIO()
    sheet.save(file)
    return file.getvalue()


def _drawn(sheet: bytes) -> np.ndarray[Any, np.dtype[np.uint8]]:
    """The sheet's one page, a pixel a point: h×w×4 uint8 RGBA on nothing."""
    with closing(pypdfium2.PdfDocument(sheet)) as document:
        page = document[0]
        width, height = round(page.get_width()), round(page.get_height())
        bitmap = pypdfium2.PdfBitmap.new_native(width, height, pdfium.FPDFBitmap_BGRA, rev_byteorder=True)
        bitmap.fill_rect((0, 0, 0, 0), 0, 0, width, height)
        pdfium.FPDF_RenderPageBitmap(bitmap, page, 0, 0, width, height, 0, pdfium.FPDF_REVERSE_BYTE_ORDER)
        return np.array(bitmap.to_numpy())
