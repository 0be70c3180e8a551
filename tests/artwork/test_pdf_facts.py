"""What a PDF's page uses and says: boxes, fonts, inks, overprint, mixing, layers, and what is left out."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pytest
from pdf_files import font, form, image, page_pdf, read, said, separation
from pikepdf import Array, Dictionary, Name, String

from filmhand.artwork.model import Artwork
from filmhand.artwork.size import printed_size
from filmhand.intake.ticket import Ticket
from filmhand.preflight.finding import Finding
from filmhand.rules import Rule

Opener = Callable[..., Artwork | Finding]

AT_10 = b"BT /F 12 Tf 10 10 Td (Club) Tj ET"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where a PDF is read from."""
    return tmp_path / "a.pdf"


@pytest.mark.parametrize(
    ("boxes", "sides", "is_trimmed"),
    [
        ({}, (0, 0, 200, 200), False),
        ({"CropBox": [20, 30, 120, 130]}, (20, 30, 120, 130), False),
        ({"CropBox": [120, 130, 20, 30]}, (20, 30, 120, 130), False),  # Section 7.9.5: any two opposite corners.
        ({"CropBox": [-50, -50, 120, 300]}, (0, 0, 120, 200), False),
        ({"CropBox": [300, 300, 400, 400]}, (0, 0, 200, 200), False),
        ({"TrimBox": [10, 20, 110, 120]}, (10, 20, 110, 120), True),
        ({"TrimBox": [0, 0, 200, 200]}, (0, 0, 200, 200), False),
        ({"TrimBox": [0, 0, 150, 150], "CropBox": [10, 10, 90, 90]}, (0, 0, 150, 150), True),
        ({"BleedBox": [10, 10, 190, 190], "ArtBox": [50, 50, 60, 60]}, (0, 0, 200, 200), False),
        ({"TrimBox": [50, 50, 50, 90]}, (0, 0, 200, 200), False),
        ({"CropBox": Name("/None"), "TrimBox": [1, 2]}, (0, 0, 200, 200), False),
    ],
)
def test_the_artwork_is_the_trim_box_or_what_is_shown(path: Path, boxes: dict[str, Any], sides: Any, is_trimmed: bool) -> None:
    """ISO 32000-2 section 14.11.2: each box is clipped to the MediaBox; what is no box is as if it were not there."""
    frame = read(page_pdf(b"", **boxes), path).frame
    assert (frame.sides, frame.is_trimmed) == (pytest.approx(sides), is_trimmed)


def test_boxes_are_inherited(path: Path) -> None:
    """Table 31: MediaBox and CropBox come from the page tree where the page has none."""
    document = pikepdf.new()
    document.add_blank_page(page_size=(200, 200))
    del document.pages[0].obj["/MediaBox"]
    document.Root.Pages.MediaBox = Array([0, 0, 300, 300])
    document.Root.Pages.CropBox = Array([10, 10, 100, 100])
    document.save(path)
    assert read(path.read_bytes(), path).frame.sides == (10, 10, 100, 100)


@pytest.mark.parametrize(("rotate", "size_mm"), [(0, (50.8, 25.4)), (90, (25.4, 50.8)), (180, (50.8, 25.4)), (-90, (25.4, 50.8))])
def test_only_the_trim_box_is_drawn(opened: Opener, rotate: int, size_mm: tuple[float, float]) -> None:
    """144 × 72 points of a coloured page are 50.8 × 25.4 mm, however it is turned; it is said that the trim box was taken."""
    data = page_pdf(b"1 0 0 rg 0 0 200 200 re f 0 0 1 rg 20 30 144 72 re f", TrimBox=[20, 30, 164, 102], Rotate=rotate)
    artwork = opened(data, ticket=Ticket())
    assert isinstance(artwork, Artwork)
    size = printed_size(artwork, ticket=Ticket(), rule=Rule(title="t"))
    assert (size.width_mm, size.height_mm) == pytest.approx(size_mm, abs=0.15)
    assert np.all(artwork.pixels[3:-3, 3:-3, :3] == (0, 0, 255))
    assert "50.8 × 25.4 mm" in said(artwork.findings, "page_box")


def test_fonts_that_are_missing(path: Path) -> None:
    """Used and not held: counted once, without a subset's mark. Held, unused, or set invisible (table 104): not."""

    def resources(document: pikepdf.Pdf) -> Any:
        standard = Dictionary(Type=Name.Font, Subtype=Name.Type1, BaseFont=Name.Helvetica)
        fonts = Dictionary(
            F=font(document, "ABCDEF+Missing", is_held=False),
            H=font(document, "Held", is_held=True),
            U=font(document, "Unused", is_held=False),
            I=font(document, "Invisible", is_held=False),
            S=standard,
        )
        return Dictionary(Font=fonts)

    content = AT_10 + AT_10 + b" BT /H 9 Tf (a) Tj /U 9 Tf /S 9 Tf [(a) 3 (b)] TJ 3 Tr /I 9 Tf (a) Tj ET"
    assert read(page_pdf(content, resources), path).facts.missing_fonts == ("Missing", "Helvetica")


def test_fonts_are_found_wherever_the_page_leads(path: Path) -> None:
    """In a form in a form, a pattern, a soft mask, a Type 3 letter, a composite font, and one set by a graphics state."""

    def resources(document: pikepdf.Pdf) -> Any:
        def uses(name: str) -> Any:
            return Dictionary(Font=Dictionary(F=font(document, name, is_held=False)))

        inner = form(document, AT_10, Resources=uses("InForm"))
        outer = form(document, b"/In Do", Resources=Dictionary(XObject=Dictionary(In=inner)))
        pattern = document.make_stream(
            AT_10, Type=Name.Pattern, PatternType=1, PaintType=1, TilingType=1, BBox=[0, 0, 9, 9], XStep=9, YStep=9
        )
        pattern.Resources = uses("InPattern")
        mask = form(document, AT_10, Resources=uses("InMask"))
        letter = document.make_stream(b"1 0 d0 " + AT_10)
        drawn = Dictionary(
            Type=Name.Font,
            Subtype=Name.Type3,
            CharProcs=Dictionary(C=letter),
            Resources=uses("InLetter"),
            FontMatrix=[1, 0, 0, 1, 0, 0],
        )
        part = Dictionary(
            Type=Name.Font, Subtype=Name.CIDFontType2, BaseFont=Name.Part, FontDescriptor=Dictionary(FontName=Name.Part)
        )
        composite = Dictionary(Type=Name.Font, Subtype=Name.Type0, BaseFont=Name.Composite, DescendantFonts=[part])
        states = Dictionary(
            M=Dictionary(SMask=Dictionary(S=Name.Luminosity, G=mask)),
            T=Dictionary(Font=[font(document, "ByState", is_held=False), 12]),
        )
        return Dictionary(
            XObject=Dictionary(Out=outer),
            Pattern=Dictionary(P=pattern),
            ExtGState=states,
            Font=Dictionary(D=document.make_indirect(drawn), C=composite),
        )

    content = b"/Out Do /Pattern cs /P scn 0 0 9 9 re f /M gs BT /D 9 Tf (C) Tj /C 9 Tf (x) Tj /T gs (x) Tj ET"
    found = set(read(page_pdf(content, resources), path).facts.missing_fonts)
    assert found == {"InForm", "InPattern", "InMask", "InLetter", "Composite", "ByState"}


def test_spot_colours_are_named(path: Path) -> None:
    """Through every way to a colour space; process inks, /All and /None are no spots (section 8.6.6.4), nor unused ones."""

    def resources(document: pikepdf.Pdf) -> Any:
        tint = Dictionary(FunctionType=2, Domain=[0, 1], N=1)
        several = Array([Name.DeviceN, Array([Name.Cyan, Name("/Neon"), Name("/None")]), Name.DeviceCMYK, tint])
        axial = Dictionary(ShadingType=2, ColorSpace=separation(document, "Shade"), Coords=[0, 0, 9, 9], Function=tint)
        painted = Dictionary(PatternType=2, Shading=Dictionary(ShadingType=2, ColorSpace=separation(document, "Painted")))
        indexed = Array([Name.Indexed, separation(document, "Palette"), 1, String("\0\1")])
        return Dictionary(
            ColorSpace=Dictionary(
                G=separation(document, "Gold"),
                N=several,
                A=separation(document, "All"),
                U=separation(document, "Unused"),
                L=Name("/G"),
                Latin=Array([Name.Separation, pikepdf.Object.parse(b"/Wei#df"), Name.DeviceCMYK, tint]),
            ),
            Shading=Dictionary(S=axial),
            Pattern=Dictionary(P=document.make_indirect(painted)),
            XObject=Dictionary(I=image(document, 20, 20, ColorSpace=indexed)),
        )

    content = b"/G cs 1 scn /N CS 1 1 1 SCN /A cs /L cs /Latin cs /S sh /Pattern cs /P scn /I Do"
    facts = read(page_pdf(content, resources), path).facts
    assert facts.spots == ("Gold", "Neon", "Weiß", "Shade", "Painted", "Palette")


def _overprinting(content: bytes, state: dict[str, Any], **xobjects: Callable[[pikepdf.Pdf], Any]) -> bytes:
    """Content that may set /O, a graphics state, and use the spot colour /G and these XObjects."""

    def resources(document: pikepdf.Pdf) -> Any:
        return Dictionary(
            ExtGState=Dictionary(O=Dictionary(**state), Off=Dictionary(OP=False, op=False)),
            ColorSpace=Dictionary(G=separation(document, "Gold"), B=separation(document, "Black")),
            XObject=Dictionary({f"/{key}": make(document) for key, make in xobjects.items()}),
        )

    return page_pdf(content, resources)


BOTH = {"OP": True, "OPM": 1}
UNDER = b"0 1 1 0 k 20 20 100 100 re f /O gs "


# Which colours leave what lies under them: ISO 32000-2 section 8.6.7 and its table, from memory.
@pytest.mark.parametrize(
    ("content", "state", "count"),
    [
        (UNDER + b"1 0 0 0 k 40 40 20 20 re f", BOTH, 1),
        (UNDER + b"1 0 0 0 k 40 40 20 20 re f 60 60 20 20 re f", BOTH, 2),
        (UNDER + b"1 0 0 0 k 40 40 20 20 re f", {"OP": True}, 0),  # Mode 0 sets every process ink.
        (UNDER + b"/G cs 1 scn 40 40 20 20 re f", {"OP": True}, 1),  # A spot colour leaves the others in either mode.
        (UNDER + b"1 0 0 0 k 140 140 20 20 re f", BOTH, 0),  # Nothing lies under it.
        (UNDER + b"1 0 0 0 k 120 20 20 100 re f", BOTH, 0),  # It only touches.
        (UNDER + b"1 0 0 rg 40 40 20 20 re f", BOTH, 0),  # RGB sets every ink.
        (UNDER + b"0 0 0 1 k 40 40 20 20 re f", BOTH, 0),  # Black in full looks the same.
        (UNDER + b"/B cs 1 scn 40 40 20 20 re f", BOTH, 0),
        (UNDER + b"0.2 0.2 0.2 0.2 k 40 40 20 20 re f", BOTH, 0),  # Every ink is set.
        (UNDER + b"1 0 0 0 K 40 40 m 80 80 l S", BOTH, 1),
        (UNDER + b"1 0 0 0 k 40 40 m 80 80 l S", BOTH, 0),  # Stroked in the first colour, black.
        (UNDER + b"1 0 0 0 k 40 40 20 20 re f", {"OP": False, "op": True, "OPM": 1}, 1),
        (UNDER + b"1 0 0 0 k 40 40 20 20 re f", {"OP": True, "op": False, "OPM": 1}, 0),
        (UNDER + b"1 0 0 0 k 40 40 20 20 re n", BOTH, 0),
        (UNDER + b"/Off gs 1 0 0 0 k 40 40 20 20 re f", BOTH, 0),
        (b"q /O gs Q 0 1 1 0 k 20 20 100 100 re f 1 0 0 0 k 40 40 20 20 re f", BOTH, 0),
        (UNDER + b"1 0 0 0 k BT /F 30 Tf 30 40 Td (Club) Tj ET", BOTH, 1),
        (UNDER + b"1 0 0 0 k BT /F 30 Tf 30 140 Td (Club) Tj ET", BOTH, 0),
        (UNDER + b"1 0 0 0 k q 1 0 0 1 120 120 cm 40 40 20 20 re f Q", BOTH, 0),  # Moved off what lies under.
        (UNDER + b"q 50 0 0 50 30 30 cm /Spot Do Q", BOTH, 1),
        (UNDER + b"q 50 0 0 50 30 30 cm /Inks Do Q", BOTH, 0),  # Mode 1 is not for images.
        (UNDER + b"1 0 0 0 k /Form Do", BOTH, 1),  # A form begins in the state that it is drawn in.
        (UNDER + b"1 0 0 0 k q 1 0 0 1 150 0 cm /Form Do Q", BOTH, 0),
    ],
)
def test_overprint_is_counted_where_it_would_show(path: Path, content: bytes, state: dict[str, Any], count: int) -> None:
    """Things over others that are told to mix with them."""
    data = _overprinting(
        content,
        state,
        Spot=lambda document: image(document, 20, 20, ColorSpace=separation(document, "Silver")),
        Inks=lambda document: image(document, 20, 20, ColorSpace=Name.DeviceCMYK),
        Form=lambda document: form(document, b"40 40 20 20 re f"),
    )
    assert read(data, path).facts.overprints == count


def _layered(document: pikepdf.Pdf, *, base: str = "ON", off: tuple[int, ...] = (), on: tuple[int, ...] = ()) -> list[Any]:
    """Two layers, "Draft" and "Final"."""
    layers = [document.make_indirect(Dictionary(Type=Name.OCG, Name=String(name))) for name in ("Draft", "Final")]
    configuration = Dictionary(BaseState=Name(f"/{base}"), OFF=[layers[n] for n in off], ON=[layers[n] for n in on])
    document.Root.OCProperties = Dictionary(OCGs=layers, D=configuration)
    return layers


@pytest.mark.parametrize(("base", "off", "on"), [("ON", (0,), ()), ("OFF", (), (1,))])
def test_layers_that_are_off_are_left_out(opened: Opener, base: str, off: tuple[int, ...], on: tuple[int, ...]) -> None:
    """Neither drawn (by pdfium, on its own), nor their fonts counted; they are named (section 8.11.4.3)."""

    def resources(document: pikepdf.Pdf) -> Any:
        draft, final = _layered(document, base=base, off=off, on=on)
        membership = document.make_indirect(Dictionary(Type=Name.OCMD, OCGs=[draft], P=Name.AnyOn))
        hidden = form(document, b"0 0 1 rg 0 150 200 40 re f", OC=draft)
        return Dictionary(
            Properties=Dictionary(D=draft, F=final, M=membership),
            Font=Dictionary(F=font(document, "Missing", is_held=False)),
            XObject=Dictionary(H=hidden),
        )

    content = (
        b"/OC /D BDC 0 0 1 rg 0 0 200 40 re f " + AT_10 + b" EMC /OC /F BDC 1 0 0 rg 50 50 100 50 re f EMC "
        b"/OC /M BDC /Span <<>> BDC 0 0 1 rg 0 0 200 200 re f EMC EMC /H Do"
    )
    artwork = opened(page_pdf(content, resources))
    assert isinstance(artwork, Artwork)
    assert artwork.pdf is not None
    assert artwork.pdf.missing_fonts == ()
    assert np.all(artwork.pixels[2:-2, 2:-2] == (255, 0, 0, 255))
    assert artwork.width_px / artwork.height_px == pytest.approx(2, rel=0.01)
    layers = said(artwork.findings, "layers")
    assert ("Draft" in layers, "Final" in layers) == (True, False)


def test_mixing_is_noted(path: Path) -> None:
    """Blend modes other than Normal (section 11.3.5) and knockout groups that the page uses; ordinary transparency is not."""
    modes = Dictionary(M=Dictionary(BM=Name.Multiply), N=Dictionary(BM=Name.Normal, ca=0.5), L=Dictionary(BM=[Name.Screen]))

    def findings(content: bytes) -> tuple[Finding, ...]:
        def resources(document: pikepdf.Pdf) -> Any:
            group = form(document, b"", Group=Dictionary(S=Name.Transparency, K=True))
            plain = form(document, b"", Group=Dictionary(S=Name.Transparency, I=True))
            return Dictionary(ExtGState=modes, XObject=Dictionary(K=group, P=plain))

        return read(page_pdf(content, resources), path).findings

    assert "Multiply, Screen" in said(findings(b"/M gs /L gs"), "transparency")
    assert "knockout" in said(findings(b"/K Do"), "transparency")
    assert said(findings(b"/N gs /P Do"), "transparency") == ""


def test_what_is_added_and_not_drawn_is_noted(path: Path) -> None:
    """Stamps and comments that would show; links, hidden ones and those without an appearance would not (table 167)."""

    def annotations(document: pikepdf.Pdf) -> Any:
        look = Dictionary(N=form(document, b""))
        kinds: list[dict[str, Any]] = [
            {"Subtype": Name.Stamp, "AP": look},
            {"Subtype": Name.FreeText, "AP": look, "F": 4},
            {"Subtype": Name.Stamp, "AP": look, "F": 2},
            {"Subtype": Name.Stamp, "AP": look, "F": 32},
            {"Subtype": Name.Link, "AP": look},
            {"Subtype": Name.Text},
        ]
        return Array([document.make_indirect(Dictionary(Type=Name.Annot, Rect=[0, 0, 9, 9], **kind)) for kind in kinds])

    document = pikepdf.new()
    document.add_blank_page(page_size=(200, 200))
    document.pages[0].obj.Annots = annotations(document)
    document.save(path)
    assert "(2)" in said(read(path.read_bytes(), path).findings, "annotations")
    assert said(read(page_pdf(b""), path).findings, "annotations") == ""


def test_what_the_document_says_is_noted(path: Path) -> None:
    """Scripts, files inside, the printing condition and the standard (ISO 15930-7, from memory); going to a page is no script."""
    document = pikepdf.new()
    document.add_blank_page(page_size=(200, 200))
    document.Root.OpenAction = Dictionary(S=Name.GoTo, D=Array([document.pages[0].obj, Name.Fit]))
    document.save(path)
    quiet = read(path.read_bytes(), path).findings
    assert {finding.check for finding in quiet} == {"profile"}
    document.Root.OpenAction = Dictionary(S=Name.JavaScript, JS=String("app.beep()"))
    document.Root.OutputIntents = Array(
        [
            Dictionary(Type=Name.OutputIntent, S=Name.GTS_PDFA1, OutputConditionIdentifier=String("sRGB")),
            Dictionary(Type=Name.OutputIntent, S=Name.GTS_PDFX, OutputConditionIdentifier=String("FOGRA39")),
        ]
    )
    document.docinfo["/GTS_PDFXVersion"] = String("PDF/X-3:2002")
    document.attachments["letter.txt"] = b"hello"
    document.save(path)
    loud = read(path.read_bytes(), path).findings
    assert {finding.check for finding in loud} == {"profile", "scripts", "output_intent", "attachments"}
    assert ("FOGRA39" in said(loud, "output_intent"), "sRGB" in said(loud, "output_intent")) == (True, False)
    assert "PDF/X-3:2002" in said(loud, "output_intent")


def test_a_form_made_by_a_program_is_warned_of(path: Path) -> None:
    """Its page often says no more than to wait (section 12.7.8)."""
    document = pikepdf.new()
    document.add_blank_page(page_size=(200, 200))
    document.Root.AcroForm = Dictionary(Fields=Array([]), XFA=document.make_stream(b"<xdp/>"))
    document.save(path)
    assert "form" in said(read(path.read_bytes(), path).findings, "annotations")


def test_plain_cmyk_is_told_from_colours_with_a_profile(path: Path) -> None:
    """Of the note on colours: CMYK operators, spaces and images without a profile."""

    def has_cmyk(content: bytes) -> bool:
        def resources(document: pikepdf.Pdf) -> Any:
            profile = document.make_stream(b"", N=4)
            spaces = Dictionary(P=Array([Name.ICCBased, profile]), D=Array([Name.DeviceCMYK]))
            return Dictionary(ColorSpace=spaces, XObject=Dictionary(I=image(document, 20, 20, ColorSpace=Name.DeviceCMYK)))

        return "CMYK" in said(read(page_pdf(content, resources), path).findings, "profile")

    assert all(has_cmyk(content) for content in (b"0 0 0 1 k", b"0 0 0 1 K", b"/DeviceCMYK cs", b"/D CS", b"/I Do"))
    assert not any(has_cmyk(content) for content in (b"0 g 1 0 0 rg", b"/P cs 0 0 0 1 scn", b""))
