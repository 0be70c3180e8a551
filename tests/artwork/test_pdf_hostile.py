"""PDFs made to hurt: read within bounds, and never worse than a finding."""

import io
import random
import re
import zlib
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from pdf_files import font, form, image, page_pdf, read, said, separation
from pikepdf import Array, Dictionary, Name

from filmhand.artwork.model import Artwork
from filmhand.artwork.pdf import open_pdf, pages_in
from filmhand.artwork.pdf_page import read_page
from filmhand.artwork.pdf_strict import Strict, strictly
from filmhand.intake.ticket import Ticket
from filmhand.preflight.finding import Finding
from filmhand.rules import Printer, Rule
from filmhand.work.capped import Caps, Cause, Done, Failed, run_capped

SQUARES = b"0 0 0 rg 1 1 1 1 re f\n" * 50_000
TEXT = b"BT /F 12 Tf 10 10 Td (Club) Tj ET"


def _missing(document: pikepdf.Pdf) -> Any:
    return Dictionary(F=font(document, "Missing", is_held=False))


def _nested(document: pikepdf.Pdf, depth: int) -> Any:
    """Forms that each draw the next one twice: 2 ** depth drawings of the innermost."""
    resources = Dictionary(Font=_missing(document))
    drawn = form(document, TEXT + b" 1 0 0 0 k 9 9 9 9 re f", Resources=resources)
    for _ in range(depth):
        drawn = form(document, b"/X Do /X Do", Resources=Dictionary(XObject=Dictionary(X=drawn)))
    state = Dictionary(O=Dictionary(OP=True, OPM=1))
    return Dictionary(XObject=Dictionary(X=drawn), ExtGState=state)


def test_forms_that_multiply_are_looked_through_once(tmp_path: Path) -> None:
    """A million drawings of one font: found in the time of twenty. Overprint, which depends on the way there, is given up."""
    path = tmp_path / "a.pdf"
    quick = read(page_pdf(b"/X Do", lambda document: _nested(document, 20)), path)
    assert quick.facts.missing_fonts == ("Missing",)
    assert said(quick.findings, "long_page") == ""
    given_up = read(page_pdf(b"/O gs /X Do", lambda document: _nested(document, 20)), path)
    assert said(given_up.findings, "long_page") != ""


def test_a_form_that_draws_itself_ends(tmp_path: Path) -> None:
    """Forms in a ring, forms too deep, and a page that is its own parent."""
    path = tmp_path / "a.pdf"

    def ring(document: pikepdf.Pdf) -> Any:
        first = form(document, b"/X Do " + TEXT)
        first.Resources = Dictionary(XObject=Dictionary(X=first), Font=_missing(document))
        return Dictionary(XObject=Dictionary(X=first), ExtGState=Dictionary(O=Dictionary(OP=True)))

    assert read(page_pdf(b"/X Do", ring), path).facts.missing_fonts == ("Missing",)
    assert read(page_pdf(b"/O gs /X Do", ring), path).facts.missing_fonts == ("Missing",)
    assert said(read(page_pdf(b"/X Do", lambda document: _nested(document, 60)), path).findings, "long_page") != ""


def _packed(content: bytes, times: int) -> bytes:
    """A PDF whose page's content is `content` so many times: one packed block (RFC 1951) repeated, closed by its checksum."""
    packer = zlib.compressobj(9, zlib.DEFLATED, -15)
    block = packer.compress(content) + packer.flush(zlib.Z_FULL_FLUSH)
    checksum = 1
    for _ in range(times):
        checksum = zlib.adler32(content, checksum)
    document = pikepdf.open(io.BytesIO(page_pdf(b"")))
    stream = pikepdf.Stream(document, b"")
    stream.write(b"\x78\xda" + block * times + b"\3\0" + checksum.to_bytes(4, "big"), filter=Name.FlateDecode)
    document.pages[0].obj.Contents = stream
    file = io.BytesIO()
    document.save(file, compress_streams=False)
    return file.getvalue()


def _read_first(path: Path) -> int:
    """In a child: how many findings a reading makes."""
    found = strictly(path, lambda document: read_page(document, 1))
    return len(found.findings) if isinstance(found, Strict) else -1


def test_a_stream_that_unpacks_to_a_gigabyte_is_met_by_the_cap(tmp_path: Path) -> None:
    """From three megabytes: the child that reads it runs out of its memory, and that is what it says. A small one it reads."""
    path, caps = tmp_path / "a.pdf", Caps(300 << 20, 60)
    path.write_bytes(_packed(SQUARES, 5))
    assert isinstance(run_capped(_read_first, path, caps=caps), Done)
    path.write_bytes(_packed(SQUARES, 1000))
    assert path.stat().st_size < 4_000_000
    outcome = run_capped(_read_first, path, caps=caps)
    assert isinstance(outcome, Failed)
    assert outcome.cause is Cause.MEMORY


def test_a_very_long_page_is_not_looked_through(tmp_path: Path) -> None:
    """More than 64 MB of operators: said, and the rest goes on."""
    path = tmp_path / "a.pdf"
    assert said(read(_packed(SQUARES, 60), path).findings, "long_page") != ""


@pytest.mark.parametrize(
    "entries",
    [
        {"MediaBox": Array([0, 0, 0, 0])},
        {"MediaBox": Array([0, 0, Name.A, 9])},
        {"MediaBox": Array([0, 0, 10**12, 10**12])},
        {"UserUnit": -3},
        {"UserUnit": Name.A},
        {"Rotate": Name.A},
        {"Rotate": 45},
        {"TrimBox": Array([190, 190, 1000, 1000])},
        {"TrimBox": Array([0, 0, 0.001, 0.001])},
        {"Contents": Array([1, Name.A, Array([])])},
        {"Contents": Dictionary()},
        {"Resources": Array([])},
        {"Resources": Dictionary(XObject=Dictionary(X=3), Font=Array([]), ExtGState=Name.A)},
        {"Annots": Dictionary()},
        {"Annots": Array([1, Name.A, Dictionary(F=Name.A, AP=3)])},
        {"Group": 3},
    ],
    ids=str,
)
def test_entries_that_are_not_what_they_should_be(tmp_path: Path, printer: Printer, entries: dict[str, Any]) -> None:
    """Artwork, or a finding; never an exception."""
    path = tmp_path / "a.pdf"
    path.write_bytes(page_pdf(b"1 0 0 rg 50 50 100 100 re f /X Do /A gs BT /F 1 Tf (a) Tj ET Q EMC /B sh /C cs scn", **entries))
    opened = open_pdf(path, ticket=Ticket(), rule=Rule(title="t", size={"max": ["400 mm", "500 mm"]}), printer=printer)
    assert isinstance(opened, Artwork | Finding)


def _everything(document: pikepdf.Pdf) -> Any:
    """Resources of every kind."""
    layer = document.make_indirect(Dictionary(Type=Name.OCG, Name="Draft"))
    document.Root.OCProperties = Dictionary(OCGs=[layer], D=Dictionary(OFF=[layer]))
    inner = form(document, TEXT, Resources=Dictionary(Font=_missing(document)), Group=Dictionary(S=Name.Transparency, K=True))
    mask = Dictionary(S=Name.Luminosity, G=inner)
    return Dictionary(
        Font=_missing(document),
        XObject=Dictionary(X=inner, I=image(document, 20, 20, ColorSpace=separation(document, "Gold"))),
        ExtGState=Dictionary(G=Dictionary(OP=True, op=True, OPM=1, BM=Name.Multiply, SMask=mask)),
        ColorSpace=Dictionary(C=separation(document, "Silver")),
        Properties=Dictionary(L=layer),
    )


_CONTENT = (
    b"q /C cs 1 scn 0 0 50 50 re f /G gs 1 0 0 0 k 9 9 9 9 re f Q /OC /L BDC /X Do EMC q 40 0 0 40 60 60 cm /I Do Q " + TEXT
)
_WORDS = (b"null", b"0", b"-1", b"99999999999999999999", b"[", b"]", b"<<", b">>", b"(a)", b"/XObject", b"true", b"4 0 R", b"1e9")
_TOKEN = re.compile(rb"/?[^\s\[\]<>()/]+")


def test_a_thousand_spoilt_files_end_in_artwork_or_a_finding(tmp_path: Path, printer: Printer) -> None:
    """Words of a PDF exchanged for others at random, the lengths kept so that its table still holds; every tenth is drawn too."""
    chance, path = random.Random(11), tmp_path / "a.pdf"
    document = pikepdf.open(io.BytesIO(page_pdf(_CONTENT, _everything)))
    file = io.BytesIO()
    document.save(file, compress_streams=False, object_stream_mode=pikepdf.ObjectStreamMode.disable)
    sound = file.getvalue()
    places = [match.span() for match in _TOKEN.finditer(sound, 0, sound.rindex(b"xref\n0"))]
    ends = {"read": 0, "refused": 0}
    for turn in range(1000):
        data = bytearray(sound)
        for _ in range(chance.choice((1, 1, 2, 5))):
            begin, end = chance.choice(places)
            other = slice(*chance.choice(places))
            word = chance.choice((*_WORDS, sound[other], sound[other]))
            data[begin:end] = word[: end - begin].ljust(end - begin)
        path.write_bytes(data)
        assert isinstance(pages_in(path), int | Finding)
        found = strictly(path, lambda document: read_page(document, 1))
        ends["read" if isinstance(found, Strict) else "refused"] += 1
        if turn % 10 == 0:
            drawn = open_pdf(path, ticket=Ticket(), rule=Rule(title="t"), printer=printer)
            assert isinstance(drawn, Artwork | Finding)
    assert min(ends.values()) > 50, "both ends are reached"
