"""PDF facts against an independent reader: poppler's pdffonts, pdfimages and pdfinfo."""

import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pikepdf
import pypdfium2
import pytest
from pdf_files import font, form, image, page_pdf, read
from pikepdf import Dictionary, Name

from filmhand.artwork.model import Artwork
from filmhand.artwork.pdf import open_pdf, pages_in
from filmhand.intake.ticket import Ticket
from filmhand.rules import Printer, Rule

PROGRAMS = ("pdffonts", "pdfimages", "pdfinfo")

pytestmark = [
    pytest.mark.outside,
    pytest.mark.skipif(not all(map(shutil.which, PROGRAMS)), reason="needs pdffonts, pdfimages, pdfinfo (Debian poppler-utils)"),
]


def _output(*command: str | Path) -> str:
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout


def test_fonts_agree_with_pdffonts(tmp_path: Path) -> None:
    """Names of the fonts that are not embedded, on the page and in a form, all of them used."""

    def resources(document: pikepdf.Pdf) -> Any:
        deep = Dictionary(Font=Dictionary(A=font(document, "Deep", is_held=False)))
        inner = form(document, b"BT /A 9 Tf (a) Tj ET", Resources=deep)
        fonts = Dictionary(
            A=font(document, "Away", is_held=False),
            B=font(document, "ABCDEF+Held", is_held=True),
            C=document.make_indirect(Dictionary(Type=Name.Font, Subtype=Name.Type1, BaseFont=Name("/Times-Roman"))),
        )
        return Dictionary(Font=fonts, XObject=Dictionary(X=inner))

    path = tmp_path / "a.pdf"
    facts = read(page_pdf(b"BT /A 9 Tf (a) Tj /B 9 Tf (a) Tj /C 9 Tf (a) Tj ET /X Do", resources), path).facts
    rows = re.findall(r"^(\S+) .*? (yes|no ) +(?:yes|no ) +(?:yes|no ) +\d+ +\d+$", _output("pdffonts", path), re.MULTILINE)
    assert len(rows) == 4
    assert set(facts.missing_fonts) == {name for name, is_held in rows if is_held == "no "} == {"Away", "Deep", "Times-Roman"}


@pytest.mark.parametrize(
    ("pixels", "matrix"),
    [
        ((300, 300), b"72 0 0 72 10 10"),
        ((300, 200), b"100 0 0 100 10 10"),  # Unequal: the smaller of 216 and 144 counts.
        ((150, 60), b"0 72 -36 0 100 10"),  # Turned by a quarter.
        ((240, 240), b"50.9117 50.9117 -50.9117 50.9117 80 10"),  # Turned by 45 degrees, 72 points a side.
        ((17, 40), b"9 0 0 9 10 10"),
    ],
)
def test_resolution_agrees_with_pdfimages(tmp_path: Path, printer: Printer, pixels: tuple[int, int], matrix: bytes) -> None:
    """As pdfimages -list gives it, whole pixels an inch; 1 bit and 8, straight on the page and in a form at half the size."""
    path = tmp_path / "a.pdf"
    for bits in (1, 8):
        for scale in (1.0, 0.5):

            def resources(document: pikepdf.Pdf, bits: int = bits) -> Any:
                photo = image(document, *pixels, BitsPerComponent=bits)
                inner = form(document, b"q " + matrix + b" cm /Photo Do Q", Resources=Dictionary(XObject=Dictionary(Photo=photo)))
                return Dictionary(XObject=Dictionary(Form=inner))

            path.write_bytes(page_pdf(b"q %f 0 0 %f 5 5 cm /Form Do Q" % (scale, scale), resources))
            artwork = open_pdf(path, ticket=Ticket(), rule=Rule(title="t"), printer=printer)
            assert isinstance(artwork, Artwork)
            (row,) = _output("pdfimages", "-list", path).splitlines()[2:]
            across, down = (int(value) for value in row.split()[12:14])
            assert artwork.raster_ppi == pytest.approx(min(across, down), abs=0.51)


def test_boxes_and_pages_agree_with_pdfinfo(tmp_path: Path) -> None:
    """The CropBox within the MediaBox, and the TrimBox, of boxes that lie across one another; and the number of pages."""
    path = tmp_path / "a.pdf"
    for boxes in ({"CropBox": [10, 20, 110, 220]}, {"TrimBox": [30, 40, 90, 120], "CropBox": [20, 20, 180, 180]}, {"Rotate": 90}):
        frame = read(page_pdf(b"", **boxes), path).frame
        told = {
            box: tuple(float(value) for value in values.split())
            for box, values in re.findall(r"^(\w+Box): +(.*)$", _output("pdfinfo", "-box", path), re.MULTILINE)
        }
        media, crop = told["MediaBox"], told["TrimBox" if frame.is_trimmed else "CropBox"]
        clipped = (*map(max, media[:2], crop[:2]), *map(min, media[2:], crop[2:]))
        assert frame.sides == pytest.approx(clipped)
    document = pikepdf.open(path)
    for _ in range(6):
        document.add_blank_page()
    many = tmp_path / "b.pdf"
    document.save(many)
    assert pages_in(many) == int(re.findall(r"^Pages: +(\d+)$", _output("pdfinfo", many), re.MULTILINE)[0]) == 7
    with pypdfium2.PdfDocument(many) as drawn:
        assert len(drawn) == 7
