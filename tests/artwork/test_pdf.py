"""PDFs: drawn as fine as their print needs, on nothing, only the motif."""

import io
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pikepdf
import pytest
from artwork_files import drawn_pdf, opened_whole, saved_pdf

from filmhand.artwork import drawing, pdf
from filmhand.artwork.model import Artwork, Kind
from filmhand.artwork.size import printed_size
from filmhand.intake.ticket import Ticket
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Printer, Rule

Opener = Callable[..., Artwork | Finding]

RED_BOX = b"0.8 0.1 0.1 rg 40 60 72 36 re f"  # 72 × 36 points: 25.4 × 12.7 mm


def _ticket(**values: str) -> Ticket:
    return Ticket.model_validate(values)


@pytest.mark.parametrize("width_mm", [20, 100, 254])
@pytest.mark.parametrize("page", [(200, 200), (2000, 3000)])
def test_the_trimmed_motif_has_360_pixels_an_inch_of_print(opened: Opener, width_mm: int, page: tuple[int, int]) -> None:
    """Whatever the page around it: within a pixel of width × 360 / 25.4."""
    artwork = opened_whole(opened(drawn_pdf(RED_BOX, page), ticket=_ticket(width=f"{width_mm} mm")))
    assert artwork.kind is Kind.PDF
    assert artwork.width_px == pytest.approx(width_mm * 360 / 25.4, rel=0.002, abs=1.5)
    assert artwork.width_px / artwork.height_px == pytest.approx(2, rel=0.01)


def test_without_an_order_the_drawings_own_size_counts(opened: Opener) -> None:
    """72 × 36 points are 25.4 × 12.7 mm."""
    artwork = opened_whole(opened(drawn_pdf(RED_BOX), ticket=Ticket()))
    size = printed_size(artwork, ticket=Ticket(), rule=Rule(title="t"))
    assert (size.width_mm, size.height_mm) == pytest.approx((25.4, 12.7), rel=0.005)


def test_without_trimming_the_page_is_the_artwork(opened: Opener) -> None:
    """`trim = false`: 200 points wide."""
    rule = Rule.model_validate({"title": "t", "size": {"trim": False}})
    artwork = opened_whole(opened(drawn_pdf(RED_BOX), rule=rule, ticket=Ticket()))
    assert (artwork.width_px, artwork.height_px) == (1000, 1000)


def test_transparency_is_kept_straight(opened: Opener) -> None:
    """Half-transparent red over nothing is red with alpha one half, not pink and not dark."""
    document = pikepdf.open(io.BytesIO(drawn_pdf(b"/Half gs 1 0 0 rg 40 60 72 36 re f")))
    state = pikepdf.Dictionary(ca=0.5)
    document.pages[0].Resources = pikepdf.Dictionary(ExtGState=pikepdf.Dictionary(Half=state))
    artwork = opened_whole(opened(saved_pdf(document)))
    middle = artwork.pixels[artwork.height_px // 2, artwork.width_px // 2]
    assert tuple(middle[:3]) == (255, 0, 0)
    assert middle[3] in (127, 128)


def test_a_white_page_rectangle_is_a_ground_to_remove(opened: Opener) -> None:
    """With `opaque = "remove"` the motif on it comes out at 360 pixels an inch of its own print."""
    rule = Rule.model_validate({"title": "t", "background": {"opaque": "remove"}})
    data = drawn_pdf(b"1 1 1 rg 0 0 200 200 re f " + RED_BOX)
    artwork = opened_whole(opened(data, rule=rule, ticket=_ticket(width="50 mm")))
    assert artwork.width_px == pytest.approx(50 * 360 / 25.4, rel=0.01)


def test_resolution_of_pictures_inside(opened: Opener) -> None:
    """30 × 20 pixels drawn 40 × 20 points: 54 and 72 ppi, the smaller counts (Ghent Workgroup D0018); a form doubles it."""
    document = pikepdf.open(io.BytesIO(drawn_pdf(b"q 40 0 0 20 20 20 cm /Photo Do Q")))
    picture = pikepdf.Stream(document, bytes(range(200)) * 9)
    picture.stream_dict = pikepdf.Dictionary(
        Type=pikepdf.Name.XObject,
        Subtype=pikepdf.Name.Image,
        Width=30,
        Height=20,
        ColorSpace=pikepdf.Name.DeviceRGB,
        BitsPerComponent=8,
    )
    document.pages[0].Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(Photo=picture))
    assert opened_whole(opened(saved_pdf(document))).raster_ppi == pytest.approx(54)
    form = pikepdf.Stream(document, b"q 40 0 0 20 0 0 cm /Photo Do Q")
    form.stream_dict = pikepdf.Dictionary(
        Type=pikepdf.Name.XObject, Subtype=pikepdf.Name.Form, BBox=[0, 0, 200, 200], Resources=document.pages[0].Resources
    )
    document.pages[0].Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(Form=form))
    document.pages[0].Contents = pikepdf.Stream(document, b"q 2 0 0 2 10 10 cm /Form Do Q")
    assert opened_whole(opened(saved_pdf(document))).raster_ppi == pytest.approx(27)
    assert opened_whole(opened(drawn_pdf(RED_BOX))).raster_ppi is None


def test_a_large_print_is_drawn_within_bounds(opened: Opener, monkeypatch: pytest.MonkeyPatch) -> None:
    """No more pixels than MOST_DRAWN; it is said that it was drawn coarser."""
    monkeypatch.setattr(drawing, "MOST_DRAWN", 200_000)
    artwork = opened_whole(opened(drawn_pdf(RED_BOX), ticket=_ticket(width="400 mm")))
    assert artwork.width_px * artwork.height_px <= 205_000
    assert "drawn" in {finding.check for finding in artwork.findings}


def test_the_page_asked_for_is_drawn(tmp_path: Path, printer: Printer) -> None:
    """Of two pages, each by its number; a third is refused."""
    document = pikepdf.open(io.BytesIO(drawn_pdf(RED_BOX)))
    second = pikepdf.open(io.BytesIO(drawn_pdf(b"0 0 1 rg 10 10 36 36 re f")))
    document.pages.extend(second.pages)
    path = tmp_path / "two.pdf"
    path.write_bytes(saved_pdf(document))
    rule = Rule(title="t")
    assert pdf.pages_in(path) == 2
    aspects = {1: 2.0, 2: 1.0}
    for page, aspect in aspects.items():
        artwork = opened_whole(pdf.open_pdf(path, ticket=Ticket(), rule=rule, printer=printer, page=page))
        assert artwork.width_px / artwork.height_px == pytest.approx(aspect, rel=0.01)
    for page in (0, 3):
        assert isinstance(pdf.open_pdf(path, ticket=Ticket(), rule=rule, printer=printer, page=page), Finding)


def test_a_locked_pdf_says_so(opened: Opener) -> None:
    """A password to open it: refused with what to send. Only an owner's password: opens."""
    document = pikepdf.open(io.BytesIO(drawn_pdf(RED_BOX)))
    finding = opened(saved_pdf(document, encryption=pikepdf.Encryption(user="secret", owner="secret", R=6)))
    assert isinstance(finding, Finding)
    assert (finding.severity, "password" in str(finding.message)) == (Severity.REJECT, True)
    assert isinstance(opened(saved_pdf(document, encryption=pikepdf.Encryption(owner="secret", R=6))), Artwork)


def test_an_empty_page_opens_as_nothing(opened: Opener) -> None:
    """For preflight to say."""
    assert not opened_whole(opened(drawn_pdf(b""))).pixels[..., 3].any()


def test_rotated_and_cropped_pages_stand_as_seen(opened: Opener) -> None:
    """Rotate 90 turns the wide box upright; what lies outside the CropBox is not drawn (ISO 32000-2 section 14.11.2)."""
    turned = opened_whole(opened(drawn_pdf(RED_BOX, Rotate=90), ticket=Ticket()))
    assert turned.height_px / turned.width_px == pytest.approx(2, rel=0.02)
    cropped = opened_whole(opened(drawn_pdf(RED_BOX, CropBox=[0, 0, 76, 200]), ticket=Ticket()))
    assert cropped.width_px == pytest.approx(36 * 5, abs=2)


def test_a_scaled_page_is_as_large_as_it_says(opened: Opener) -> None:
    """UserUnit 10 (ISO 32000-2 table 31): 72 × 36 units are 254 × 127 mm, drawn as fine as any."""
    artwork = opened_whole(opened(drawn_pdf(RED_BOX, UserUnit=10), ticket=Ticket()))
    size = printed_size(artwork, ticket=Ticket(), rule=Rule(title="t"))
    assert (size.width_mm, size.height_mm) == pytest.approx((254, 127), rel=0.005)
    assert artwork.ppi == pytest.approx((360, 360))
    ordered = opened_whole(opened(drawn_pdf(RED_BOX, UserUnit=10), ticket=_ticket(width="100 mm")))
    assert ordered.width_px == pytest.approx(100 * 360 / 25.4, rel=0.005)
    assert ("page_scale", Severity.NOTE) in {(f.check, f.severity) for f in artwork.findings}


def test_drawn_edges_lie_where_the_page_says(opened: Opener) -> None:
    """A diagonal line's ends, measured on the drawing, agree with its points to a twentieth of a millimetre."""
    content = b"2 w 1 J 0 0 0 RG 50 50 m 150 120 l S"
    artwork = opened_whole(opened(drawn_pdf(content), ticket=Ticket()))
    assert artwork.ppi is not None
    width, height = ((np.array((artwork.width_px, artwork.height_px)) / artwork.ppi[0]) * 25.4).tolist()
    assert (width, height) == pytest.approx((102 * 25.4 / 72, 72 * 25.4 / 72), abs=0.08)
