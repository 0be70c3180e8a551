"""Artworks without any fault: half of the set. Whatever a check says of these, it says wrongly."""

from collections.abc import Callable, Iterator
from functools import partial
from typing import Any, Final

import numpy as np
import pikepdf
from PIL import Image, ImageFont

from . import motifs, photos, sent
from .draw import Gradient, Layer, Picture, disc, raster, rectangle, star, union
from .letters import centred, fitted, word
from .model import File, Made

BLACK, WHITE = "#1b1b1d", "#ffffff"
_SIZES: Final = ((60, 50), (90, 70), (110, 60), (80, 80), (140, 90), (64, 48), (72, 72), (100, 44), (120, 85), (56, 66))
_FORMS: Final[tuple[Callable[[Picture], File], ...]] = (sent.png, sent.tiff, sent.webp, sent.png, sent.png)
Draw = Callable[[], File]


def sound() -> Iterator[Made]:
    """All of them."""
    for kind, motif in enumerate(motifs.SOUND):
        for turn in range(len(_SIZES)):
            yield _motif(motif, kind, turn)
    yield from _pdfs()
    yield from _cut_out_photos()
    yield from _photo_prints()
    yield from _near_a_limit()
    yield from _odd_files()


def inks_for(garment: str, turn: int) -> motifs.Inks:
    """A set of colours that shows on a garment."""
    choices = motifs.ON_BLACK if garment == BLACK else motifs.ON_WHITE
    return choices[turn % len(choices)]


def drawn(motif: motifs.Motif, size: tuple[float, float], seed: int, garment: str) -> list[Layer]:
    """A motif on a canvas of a size."""
    return motif(*size, inks_for(garment, seed), np.random.default_rng(seed))


def _motif(motif: motifs.Motif, kind: int, turn: int) -> Made:
    size, garment = _SIZES[turn], (BLACK, WHITE)[(kind + turn) % 2]
    form = _FORMS[(kind + turn) % len(_FORMS)]
    ppi = (300.0, 300.0, 360.0, 450.0, 240.0, 300.0, 250.0, 400.0, 300.0, 360.0)[turn]

    def draw() -> File:
        layers, (width, height) = drawn(motif, size, 10 * kind + turn, garment), size
        if form is sent.webp:  # which states no resolution: a rule as wide as the canvas makes the ordered width the right one
            layers, height = [*layers, Layer(rectangle(0, height + 3, width, 1.5), inks_for(garment, turn)[0])], height + 5
        return form(raster(layers, width, height, ppi=ppi))

    ticket: dict[str, Any] = {"width": f"{size[0]} mm"} if form is sent.webp else {}
    return Made(f"sound-{motif.__name__}-{turn}", draw, rule={"garment": garment}, ticket=ticket)


def _pdfs() -> Iterator[Made]:
    flat = (motifs.badge, motifs.crest, motifs.serif_words, motifs.knocked_out, motifs.swashes, motifs.chequers)
    for turn, motif in enumerate(flat):
        draw = partial(_vector_pdf, motif, turn)
        yield Made(f"sound-pdf-{motif.__name__}", draw)
    yield Made("sound-pdf-embedded-font", _pdf_with_its_font)
    yield Made("sound-pdf-plain-spot", _pdf_with_plain_spot)
    yield Made("sound-pdf-photo", _pdf_with_photo, rule={"background": {"opaque": "print"}})
    yield Made("sound-pdf-overprint-off", _pdf_that_knocks_out)


def _vector_pdf(motif: motifs.Motif, seed: int) -> File:
    return sent.pdf(drawn(motif, (90, 70), seed, BLACK), 90, 70)


def _pdf_with_its_font() -> File:
    """Lettering as text, its TrueType font inside the file (ISO 32000-1, 9.6 and 9.9)."""
    document = sent.pdf_of(b"BT /F 60 Tf 0.9 0.7 0.2 rg 10 20 Td (Harbour) Tj ET", 90, 30)
    document.pages[0].Resources = pikepdf.Dictionary(Font=pikepdf.Dictionary(F=document.make_indirect(embedded_font(document))))
    return File(sent.saved(document), "pdf")


def embedded_font(document: pikepdf.Pdf) -> pikepdf.Dictionary:
    """The sans serif that Pillow carries, whole, as a simple TrueType font."""
    font = ImageFont.load_default(size=1000)
    stream = pikepdf.Stream(document, font.font_bytes)
    descriptor = pikepdf.Dictionary(
        Type=pikepdf.Name.FontDescriptor,
        FontName=pikepdf.Name("/ABCDEF+Aileron-Regular"),
        Flags=32,
        FontBBox=[-100, -300, 1200, 1000],
        ItalicAngle=0,
        Ascent=970,
        Descent=-230,
        CapHeight=690,
        StemV=80,
        FontFile2=document.make_indirect(stream),
    )
    return pikepdf.Dictionary(
        Type=pikepdf.Name.Font,
        Subtype=pikepdf.Name.TrueType,
        BaseFont=pikepdf.Name("/ABCDEF+Aileron-Regular"),
        FirstChar=32,
        LastChar=126,
        Widths=[round(font.getlength(chr(code))) for code in range(32, 127)],
        Encoding=pikepdf.Name.WinAnsiEncoding,
        FontDescriptor=document.make_indirect(descriptor),
    )


def separation(document: pikepdf.Pdf, name: str, cmyk: tuple[float, float, float, float]) -> pikepdf.Array:
    """A spot colour with what stands for it in CMYK (ISO 32000-1, 8.6.6.4)."""
    tint = pikepdf.Dictionary(FunctionType=2, Domain=[0, 1], C0=[0, 0, 0, 0], C1=list(cmyk), N=1)
    return pikepdf.Array(
        [pikepdf.Name.Separation, pikepdf.Name("/" + name), pikepdf.Name.DeviceCMYK, document.make_indirect(tint)]
    )


def _pdf_with_plain_spot() -> File:
    """A spot colour that is an ordinary red; the four inks stand for it well enough."""
    layers = drawn(motifs.badge, (60, 60), 3, BLACK)
    content = b"/S cs\n" + b"\n".join(
        sent.painted(layer, 60, colour=b"%.1f scn" % (1 - 0.2 * k)) for k, layer in enumerate(layers)
    )
    document = sent.pdf_of(content, 60, 60)
    spot = separation(document, "PANTONE 7417 C", (0.0, 0.75, 0.75, 0.05))
    document.pages[0].Resources = pikepdf.Dictionary(ColorSpace=pikepdf.Dictionary(S=spot))
    return File(sent.saved(document), "pdf")


def _pdf_with_photo() -> File:
    """A photo of 280 pixels an inch on the page, cut to nothing."""
    document = sent.pdf_of(b"", *photos.size_mm(photos.photo("coffee"), 280))
    place_photo(document, photos.photo("coffee"))
    return File(sent.saved(document), "pdf")


def place_photo(document: pikepdf.Pdf, pixels: np.ndarray) -> None:
    """Let a photo fill the page."""
    page = document.pages[0]
    width, height = (float(value) for value in page.MediaBox[2:])
    image = pikepdf.Stream(document, np.ascontiguousarray(pixels).tobytes())
    image.Type, image.Subtype, image.ColorSpace = pikepdf.Name.XObject, pikepdf.Name.Image, pikepdf.Name.DeviceRGB
    image.Width, image.Height, image.BitsPerComponent = pixels.shape[1], pixels.shape[0], 8
    page.Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(I=document.make_indirect(image)))
    page.Contents = pikepdf.Stream(document, f"q {width:.4f} 0 0 {height:.4f} 0 0 cm /I Do Q".encode())


def _pdf_that_knocks_out() -> File:
    """A graphics state that says outright: no overprint."""
    layers = drawn(motifs.crest, (80, 70), 4, BLACK)
    document = sent.pdf_of(b"/G gs\n" + b"\n".join(sent.painted(layer, 70) for layer in layers), 80, 70)
    state = pikepdf.Dictionary(Type=pikepdf.Name.ExtGState, OP=False, op=False, OPM=0)
    document.pages[0].Resources = pikepdf.Dictionary(ExtGState=pikepdf.Dictionary(G=state))
    return File(sent.saved(document), "pdf")


def _cut_out_photos() -> Iterator[Made]:
    for turn, name in enumerate(photos.NAMES):
        garment = WHITE if name in photos.DARK or turn % 2 else BLACK
        for shape in ("oval", "star", "card", "word")[turn % 2 :: 2]:
            yield Made(f"sound-photo-{name}-{shape}", partial(_cut_out, name, shape, 250.0), rule={"garment": garment})


def photo_in(name: str, shape: str, ppi: float) -> Picture:
    """A photo cut out with a sharp edge."""
    pixels = photos.photo(name)
    w, h = photos.size_mm(pixels, ppi)
    size = min(w, h)
    shapes = {
        "oval": lambda: disc(w / 2, h / 2, size - 2),
        "star": lambda: star(w / 2, h / 2, size - 1, points=7, inner=0.7),
        "card": lambda: rectangle(1, 1, w - 2, h - 2, radius=4),
        "word": lambda: centred(fitted("MY", w - 4, h - 6, bold=0.25), w / 2, h - 3),
    }
    return raster([photos.cut_out(pixels, shapes[shape](), ppi)], w, h, ppi=ppi)


def _cut_out(name: str, shape: str, ppi: float) -> File:
    return sent.png(photo_in(name, shape, ppi))


def _photo_prints() -> Iterator[Made]:
    """Whole photos for a rule that prints them with their ground."""
    for turn, name in enumerate(photos.NAMES):
        garment = WHITE if name in photos.DARK or turn % 2 else BLACK
        quality = (None, 90, 95, 80)[turn % 4]
        rule = {"garment": garment, "background": {"opaque": "print"}}
        yield Made(f"sound-print-{name}-q{quality}", partial(_print_of, name, quality), rule=rule)


def _print_of(name: str, quality: int | None) -> File:
    pixels = photos.photo(name)
    opaque = np.dstack((pixels, np.full(pixels.shape[:2], 255, np.uint8)))
    return sent.flat(Picture(opaque, 250.0), (0, 0, 0), quality=quality)


def _near_a_limit() -> Iterator[Made]:
    """Things that come within a good tenth of a limit and keep it."""
    yield Made("near-lines-0.46", partial(_strokes, 0.46))
    yield Made("near-lines-0.50-tilted", partial(_strokes, 0.5, 13.0))
    yield Made("near-gaps-0.35", partial(_slits, 0.35))
    yield Made("near-gaps-0.40-tilted", partial(_slits, 0.4, 27.0))
    yield Made("near-lettering", partial(_small_lettering, 2.5))
    yield Made("near-lettering-caps", partial(_small_capitals, 3.4))
    for ppi in (225.0, 235.0):
        yield Made(f"near-resolution-{ppi:.0f}", partial(_at_ppi, ppi))
    for feather in (0.1, 0.15, 0.2):
        yield Made(f"near-feather-{feather}", partial(_feathered, feather))
    yield Made("near-soft-share", _small_glow)
    yield Made("near-garment-share", partial(_half_black, 0.6))
    yield Made("near-garment-outline", partial(_half_black, 0.2), rule={"garment": BLACK})
    yield Made("near-aspect-1", partial(_at_ppi, 300.0), ticket={"width": "80 mm", "height": "60.8 mm"})
    yield Made("near-aspect-width", partial(_at_ppi, 300.0), ticket={"width": "75 mm"})
    yield Made("near-film-width", partial(_wide, 570.0))
    yield Made("near-true-ppi", _little_enlarged)
    yield Made("near-dots-0.50", partial(_dots, 0.5))
    yield Made("near-vivid-share", _little_green)
    yield Made("near-hairline-on-card", _hairlines_on_a_card)
    for wide, ppi in ((0.34, 300.0), (0.34, 450.0), (0.36, 240.0)):
        yield Made(f"near-keyline-{wide}-{ppi:.0f}", partial(_keyline, wide, ppi))
    yield Made("near-one-colour", _one_colour_logo)
    yield Made("near-one-colour-word", _one_colour_word, rule={"garment": WHITE})


def _strokes(wide: float, degrees: float = 0.0) -> File:
    """Sixteen strokes of a width in a fan, and in a row."""
    layers = [Layer(rectangle(4 + 4 * k, 4, wide, 26), (245, 238, 220)) for k in range(12)]
    middle = np.array([70.0, 34.0])
    for turn in np.radians(np.arange(0, 180, 22.5) + degrees):
        along = np.array([np.cos(turn), np.sin(turn)])
        layers.append(Layer(motifs.line([middle + 5 * along, middle + 18 * along], wide, round_ends=False), (232, 176, 58)))
        layers.append(Layer(motifs.line([middle - 5 * along, middle - 18 * along], wide, round_ends=False), (232, 176, 58)))
    return sent.png(raster(layers, 92, 64))


def _slits(wide: float, degrees: float = 0.0) -> File:
    """A card with slits cut in."""
    cuts = [Layer(motifs.turned(rectangle(12 + 5 * k, 12, wide, 26), degrees), cuts=True) for k in range(10)]
    return sent.png(raster([Layer(rectangle(2, 2, 70, 46, radius=3), (196, 70, 52)), *cuts], 74, 50))


def _small_lettering(x_height: float) -> File:
    """Two lines of small bold type, spaced so that nothing in it is too thin or too close."""
    layers = []
    for k, text in enumerate(("simmer coffee", "more or less")):
        type_ = word(text, cap_mm=x_height / 0.768, bold_mm=0.2, spaced_mm=0.55)
        layers.append(Layer(centred(type_, 40, 12 + 9 * k), (245, 238, 220)))
    return sent.png(raster([Layer(rectangle(4, 26, 72, 3), (196, 70, 52)), *layers], 80, 32, ppi=450))


def _small_capitals(cap: float) -> File:
    line = centred(word("ESTD LIVERY CLUB", cap_mm=cap, bold_mm=0.1, spaced_mm=0.6), 40, 12)
    return sent.png(raster([Layer(line, (245, 238, 220)), Layer(disc(40, 28, 20), (40, 128, 128))], 80, 40, ppi=360))


def _at_ppi(ppi: float) -> File:
    """A frame's corners fill the canvas exactly, so that its proportions are known."""
    layers = [Layer(motifs.frame(0, 0, 80, 60, line=1.5), (245, 238, 220)), *drawn(motifs.badge, (80, 60), 2, BLACK)]
    return sent.png(raster(layers, 80, 60, ppi=ppi))


def _feathered(sigma: float) -> File:
    """Every edge softened a little, as by a selection with a small feather."""
    layers = [Layer(layer.shape, layer.paint, blur_mm=sigma) for layer in drawn(motifs.peaks, (90, 70), 5, BLACK)]
    return sent.png(raster(layers, 90, 70))


def _small_glow() -> File:
    """A soft glow of 3 % of what is seen."""
    badge = drawn(motifs.badge, (90, 90), 7, BLACK)
    return sent.png(
        raster(
            [
                *badge,
                Layer(rectangle(94, 10, 60, 70, radius=4), (196, 70, 52)),
                Layer(disc(122, 96, 16), (245, 238, 220), opacity=0.5),
            ],
            160,
            106,
        )
    )


def _half_black(share: float) -> File:
    """A panel of which a share is of the garment's colour."""
    panel = rectangle(1, 1, 80, 60, radius=6)
    return sent.png(raster([Layer(panel, (232, 176, 58)), Layer(rectangle(6, 8, 70, share * 4769 / 70), (27, 27, 29))], 82, 62))


def _wide(width: float) -> File:
    layers = drawn(motifs.blends, (width, 90), 3, BLACK)
    return sent.png(raster([*layers, Layer(rectangle(0, 84, width, 6), (245, 238, 220))], width, 90, ppi=210))


def _little_enlarged() -> File:
    """A photo at 330 pixels an inch, enlarged by 1.5 before: 220 that are real."""
    picture = photo_in("motorcycle", "card", 220.0)
    return sent.png(Picture(sent.enlarged(picture.pixels, 1.5, 2), 330.0))


def _dots(size: float) -> File:
    """A row of dots that stand alone, half a millimetre across: small, but they hold."""
    layers = [Layer(disc(6 + 8 * k, 45, size), (245, 238, 220)) for k in range(10)]
    return sent.png(raster([*drawn(motifs.stripes, (84, 40), 2, BLACK), *layers], 84, 48))


def _little_green() -> File:
    """A vivid green on 6 % of the artwork."""
    return sent.png(
        raster([Layer(rectangle(1, 1, 80, 60), (120, 170, 205)), Layer(rectangle(10, 10, 18, 16), (0, 255, 0))], 82, 62)
    )


def _hairlines_on_a_card() -> File:
    """Lines of 0.15 mm printed on a solid card: colour on film, no thin film."""
    card = Layer(rectangle(1, 1, 80, 60, radius=2), (245, 238, 220))
    lines = [Layer(rectangle(6, 8 + 3 * k, 70, 0.15), (30, 50, 95)) for k in range(14)]
    return sent.png(raster([card, *lines, Layer(disc(60, 40, 24), (196, 70, 52))], 82, 62))


def _keyline(wide: float, ppi: float) -> File:
    """A drawn line of four pixels or so right around bold lettering and a star: as thin as any that is set on purpose."""
    shapes = union(centred(fitted("LANTERN", 80, 24, bold=0.14, spaced=1.6), 45, 40), star(45, 57, 20, inner=0.55))
    return sent.png(raster([Layer(shapes.buffer(wide), (30, 50, 95)), Layer(shapes, (232, 176, 58))], 90, 70, ppi=ppi))


def _one_colour_logo() -> File:
    return sent.png(raster([Layer(union(star(30, 30, 56), disc(70, 30, 30)), (255, 255, 255))], 90, 62))


def _one_colour_word() -> File:
    return sent.png(raster([Layer(centred(fitted("KESTREL", 86, 30), 45, 32), (30, 50, 95))], 90, 34))


def _odd_files() -> Iterator[Made]:
    """Sound artwork in less usual files."""
    for turn, motif in enumerate((motifs.badge, motifs.crest, motifs.chequers)):
        yield Made(f"sound-indexed-{motif.__name__}", partial(_indexed, motif, turn))
    yield Made("sound-16-bit", _deep, ticket={"width": "70 mm"})
    yield Made("sound-gray-alpha", _gray)
    yield Made("sound-turned", _by_exif)
    yield Made("sound-fade-to-garment", _fade_to_garment)
    yield Made("sound-white-on-black", partial(_in_one, (255, 255, 255)))
    yield Made("sound-black-on-white", partial(_in_one, (20, 20, 22)), rule={"garment": WHITE})


def _indexed(motif: motifs.Motif, seed: int) -> File:
    return sent.indexed(raster(drawn(motif, (90, 70), seed, BLACK), 90, 70, ppi=400))


def _deep() -> File:
    import imagecodecs  # noqa: PLC0415 -- only this one needs it

    picture = raster(drawn(motifs.peaks, (70, 60), 9, BLACK), 70, 60)
    content = bytes(imagecodecs.png_encode(picture.pixels.astype(np.uint16) * 257))
    return File(content, "png")


def _gray() -> File:
    picture = raster([Layer(layer.shape, (200, 200, 200)) for layer in drawn(motifs.badge, (70, 70), 1, BLACK)], 70, 70)
    return File(sent.encoded(Image.fromarray(picture.pixels[..., 2:]), "PNG", dpi=(300, 300)), "png")


def _by_exif() -> File:
    """Stored lying on its side, with the orientation that says so (EXIF 2.32, tag 0x0112, value 6: turn clockwise)."""
    picture = raster(drawn(motifs.crest, (80, 70), 2, BLACK), 80, 70)
    exif = Image.Exif()
    exif[0x0112] = 6
    lying = Image.fromarray(np.ascontiguousarray(np.rot90(picture.pixels)))
    return File(sent.encoded(lying, "PNG", dpi=(300, 300), exif=exif.tobytes()), "png")


def _fade_to_garment() -> File:
    """A solid card that fades to the garment's black."""
    card = Layer(rectangle(1, 1, 80, 60, radius=2), Gradient((232, 176, 58), (27, 27, 29), 90))
    return sent.png(raster([card, Layer(star(41, 24, 36), (245, 238, 220))], 82, 62))


def _in_one(ink: tuple[int, int, int]) -> File:
    layers = [Layer(layer.shape, ink) for layer in drawn(motifs.swashes, (100, 70), 6, BLACK)]
    return sent.png(raster(layers, 100, 70))
