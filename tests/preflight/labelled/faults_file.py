"""Faults of the order and of the file: size and proportions, fonts, overprint and inks of PDFs, files that are not whole."""

from collections.abc import Iterator
from functools import partial
from typing import Any, Final

import pikepdf
from PIL import Image

from . import motifs, photos, sent
from .draw import Layer, raster
from .model import File, Made
from .sound import BLACK, drawn, embedded_font, place_photo, separation


def file_faults() -> Iterator[Made]:
    """All of them."""
    yield from _too_large()
    yield from _out_of_proportion()
    yield from _no_size()
    yield from _fonts()
    yield from _overprint()
    yield from _special_inks()
    yield from _unreadable()


def _framed(width: float, height: float, *, ppi: float = 300.0, states_ppi: bool = True) -> File:
    """A motif in a frame that reaches the canvas's edges, so that its proportions are known."""
    layers = [Layer(motifs.frame(0, 0, width, height, line=2)), *drawn(motifs.badge, (width, height), 1, BLACK)]
    layers[0] = Layer(layers[0].shape, (245, 238, 220))
    return sent.png(raster(layers, width, height, ppi=ppi), states_ppi=states_ppi)


def _too_large() -> Iterator[Made]:
    """Wider than 580 mm however it lies, longer than a sheet, or beyond what the rule allows. Nothing else is looked at then."""
    faults, unsure = frozenset({"film_fit"}), frozenset({"resolution", "enlarged"})
    orders: tuple[tuple[str, tuple[float, float], dict[str, Any], dict[str, Any]], ...] = (
        ("600-square", (60, 60), {"width": "600 mm"}, {}),
        ("590-square", (60, 60), {"width": "590 mm"}, {}),
        ("wide", (90, 75), {"width": "1 m"}, {}),
        ("tall", (70, 80), {"height": "700 mm"}, {}),
        ("both", (80, 80), {"width": "650 mm", "height": "640 mm"}, {}),
        ("max-width", (80, 60), {"width": "420 mm"}, {"size": {"max": ["300 mm", "400 mm"]}}),
        ("max-height", (60, 80), {"height": "450 mm"}, {"size": {"max": ["300 mm", "400 mm"]}}),
        ("max-near", (80, 80), {"width": "330 mm"}, {"size": {"max": ["300 mm", "400 mm"]}}),
        ("short-sheet", (40, 100), {"height": "900 mm"}, {"gang": {"max_length": "800 mm"}}),
    )
    for name, size, ticket, rule in orders:
        yield Made(f"fit-{name}", partial(_framed, *size), faults, unsure, rule, ticket)


def _out_of_proportion() -> Iterator[Made]:
    """An ordered width and height that are not the artwork's own proportions."""
    orders = ((80, 80), (80, 50), (60, 60), (80, 65), (40, 60), (80, 56), (70, 60), (80, 62.5), (50, 30))
    for width, height in orders:
        ticket = {"width": f"{width} mm", "height": f"{height} mm"}
        yield Made(f"aspect-{width}-{height}", partial(_framed, 80, 60), frozenset({"aspect"}), ticket=ticket)


def _no_size() -> Iterator[Made]:
    """Nobody says how large: not the order, not the rule, not the file."""
    draw = partial(_framed, 80, 60, states_ppi=False)
    yield Made("size-png", draw, frozenset({"size"}))
    for name, motif in (("webp-badge", motifs.badge), ("webp-crest", motifs.crest), ("webp-peaks", motifs.peaks)):
        yield Made(f"size-{name}", partial(_webp, motif), frozenset({"size"}))
    for name, form in (
        ("jpeg-coffee", "coffee"),
        ("jpeg-cat", "cat"),
        ("jpeg-astronaut", "astronaut"),
        ("jpeg-cycle", "motorcycle"),
    ):
        yield Made(f"size-{name}", partial(_plain_jpeg, form), frozenset({"size", "ground"}))


def _webp(motif: motifs.Motif) -> File:
    return sent.webp(raster(drawn(motif, (80, 60), 2, BLACK), 80, 60))


def _plain_jpeg(name: str) -> File:
    return File(sent.encoded(Image.fromarray(photos.photo(name)), "JPEG", quality=92), "jpg")


def _fonts() -> Iterator[Made]:
    """Lettering as text whose font is not in the file. What is drawn in its place may be set too close."""
    unsure = frozenset({"thin_gap"})
    for base in ("Helvetica", "Times-Bold", "Courier-Bold", "Helvetica-Bold"):
        font = pikepdf.Dictionary(Type=pikepdf.Name.Font, Subtype=pikepdf.Name.Type1, BaseFont=pikepdf.Name("/" + base))
        yield Made(f"fonts-{base}", partial(_text_pdf, font), frozenset({"fonts"}), unsure)
    for base in ("Harbour-Black", "MillScript", "KestrelSans-Heavy"):
        font = _absent_truetype(base)
        yield Made(f"fonts-{base}", partial(_text_pdf, font), frozenset({"fonts"}), unsure)
    yield Made("fonts-one-of-two", _one_font_of_two, frozenset({"fonts"}), unsure)
    yield Made("fonts-in-a-form", _font_in_a_form, frozenset({"fonts"}), unsure)


def _absent_truetype(base: str) -> pikepdf.Dictionary:
    """A font that is named and described, but not there (ISO 32000-1, 9.8)."""
    descriptor = pikepdf.Dictionary(
        Type=pikepdf.Name.FontDescriptor,
        FontName=pikepdf.Name("/" + base),
        Flags=32,
        FontBBox=[-100, -250, 1100, 950],
        ItalicAngle=0,
        Ascent=900,
        Descent=-220,
        CapHeight=700,
        StemV=120,
    )
    return pikepdf.Dictionary(
        Type=pikepdf.Name.Font,
        Subtype=pikepdf.Name.TrueType,
        BaseFont=pikepdf.Name("/" + base),
        FirstChar=32,
        LastChar=126,
        Widths=[600] * 95,
        Encoding=pikepdf.Name.WinAnsiEncoding,
        FontDescriptor=descriptor,
    )


_TEXT: Final = b"BT /F 64 Tf 0.9 0.7 0.2 rg 10 24 Td (HARBOUR) Tj ET"


def _text_pdf(font: pikepdf.Dictionary) -> File:
    document = sent.pdf_of(_TEXT, 120, 35)
    document.pages[0].Resources = pikepdf.Dictionary(Font=pikepdf.Dictionary(F=document.make_indirect(font)))
    return File(sent.saved(document), "pdf")


def _one_font_of_two() -> File:
    document = sent.pdf_of(_TEXT + b" BT /G 40 Tf 10 100 Td (Club) Tj ET", 120, 60)
    fonts = {"/F": document.make_indirect(embedded_font(document)), "/G": document.make_indirect(_absent_truetype("MillSlab"))}
    document.pages[0].Resources = pikepdf.Dictionary(Font=pikepdf.Dictionary(fonts))
    return File(sent.saved(document), "pdf")


def _font_in_a_form() -> File:
    """The text lies in a form that the page draws (ISO 32000-1, 8.10)."""
    document = sent.pdf_of(b"/X Do", 120, 35)
    form = pikepdf.Stream(document, _TEXT)
    form.Type, form.Subtype, form.BBox = pikepdf.Name.XObject, pikepdf.Name.Form, [0, 0, 400, 120]
    font = document.make_indirect(_absent_truetype("RiverSerif-Bold"))
    form.Resources = pikepdf.Dictionary(Font=pikepdf.Dictionary(F=font))
    document.pages[0].Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(X=document.make_indirect(form)))
    return File(sent.saved(document), "pdf")


def _overprint() -> Iterator[Made]:
    """A graphics state that lets what follows mix with what lies under it. Process inks do so in mode 1 alone, where an ink of
    none leaves what is there; a spot ink does in any mode, and `OP` alone speaks for fills too (ISO 32000-1, 8.6.7)."""
    cases: tuple[tuple[str, dict[str, Any], bytes], ...] = (
        ("both", {"OP": True, "op": True, "OPM": 1}, b"0 1 1 0 k"),
        ("fill", {"op": True, "OPM": 1}, b"0 1 1 0 k"),
        ("spot-mode-0", {"OP": True, "op": True, "OPM": 0}, b"/S cs 1 scn"),
        ("spot-one-key", {"OP": True}, b"/S cs 1 scn"),
    )
    for turn, (name, keys, colour) in enumerate(cases):
        for motif in (motifs.badge, motifs.crest):
            draw = partial(_with_state, motif, turn, keys, colour)
            yield Made(f"overprint-{name}-{motif.__name__}", draw, frozenset({"overprint"}))


def _with_state(motif: motifs.Motif, seed: int, keys: dict[str, Any], colour: bytes) -> File:
    """The last layer of a motif is to overprint those before it."""
    *below, last = drawn(motif, (80, 70), seed, BLACK)
    parts = [*(sent.painted(layer, 70) for layer in below), b"/G gs", sent.painted(last, 70, colour=colour)]
    document = sent.pdf_of(b"\n".join(parts), 80, 70)
    state = pikepdf.Dictionary(Type=pikepdf.Name.ExtGState, **keys)
    spot = separation(document, "PANTONE 7417 C", (0.0, 0.75, 0.75, 0.05))
    document.pages[0].Resources = pikepdf.Dictionary(ExtGState=pikepdf.Dictionary(G=state), ColorSpace=pikepdf.Dictionary(S=spot))
    return File(sent.saved(document), "pdf")


def _special_inks() -> Iterator[Made]:
    """Spot colours that the four inks cannot stand for."""
    names = (
        *("PANTONE 877 C", "Metallic Gold", "PANTONE 802 C", "Neon Orange", "Spot Varnish", "Silver", "Fluorescent Pink"),
        *("Gold Foil", "Neon Yellow"),
    )
    for turn, name in enumerate(names):
        slug = name.lower().replace(" ", "-")
        yield Made(f"inks-special-{slug}", partial(_spot, name, turn), frozenset({"special_inks"}))


def _spot(name: str, turn: int) -> File:
    motif = (motifs.badge, motifs.crest, motifs.knocked_out)[turn % 3]
    *below, last = drawn(motif, (80, 70), turn, BLACK)
    parts = [*(sent.painted(layer, 70) for layer in below), sent.painted(last, 70, colour=b"/S cs 1 scn")]
    document = sent.pdf_of(b"\n".join(parts), 80, 70)
    spot = separation(document, name, (0.1, 0.3, 0.5, 0.1))
    document.pages[0].Resources = pikepdf.Dictionary(ColorSpace=pikepdf.Dictionary(S=spot))
    return File(sent.saved(document), "pdf")


def _unreadable() -> Iterator[Made]:
    """Files that stop early, have holes, or are of a kind that cannot be printed from."""
    faults = frozenset({"readable"})
    for share in (0.3, 0.6, 0.95):
        yield Made(f"readable-png-{share}", partial(_cut_png, share), faults)
    for share in (0.4, 0.9):
        yield Made(f"readable-jpeg-{share}", partial(_cut_jpeg, share), faults)
    yield Made("readable-tiff", _cut_tiff, faults)
    for share in (0.5, 0.9):
        yield Made(f"readable-pdf-{share}", partial(_cut_pdf, share), faults)
    yield Made("readable-hole", _with_hole, faults)
    yield Made("readable-eps", partial(_said_to_be_png, b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 200 100\n"), faults)
    yield Made("readable-video", partial(_said_to_be_png, b"\0\0\0\x20ftypisom\0\0\x02\0isomiso2avc1mp41" + b"\0" * 64), faults)
    yield Made("readable-text", partial(_said_to_be_png, b"Hello, the logo is on our web site. Kind regards\n"), faults)


def _cut(file: File, share: float) -> File:
    return File(file.content[: int(len(file.content) * share)], file.ending)


def _cut_png(share: float) -> File:
    return _cut(_framed(80, 60), share)


def _cut_jpeg(share: float) -> File:
    return _cut(_plain_jpeg("coffee"), share)


def _cut_tiff() -> File:
    return _cut(sent.tiff(raster(drawn(motifs.crest, (80, 60), 1, BLACK), 80, 60)), 0.7)


def _cut_pdf(share: float) -> File:
    document = sent.pdf_of(b"", *photos.size_mm(photos.photo("coffee"), 280))
    place_photo(document, photos.photo("coffee"))
    return _cut(File(sent.saved(document), "pdf"), share)


def _with_hole(block: int = 4096) -> File:
    """Its second half was reserved and never written."""
    content = _plain_jpeg("motorcycle").content
    half = len(content) // 2 // block * block
    return File(content[:half] + b"\0" * (len(content) - half), "jpg")


def _said_to_be_png(content: bytes) -> File:
    return File(content, "png")
