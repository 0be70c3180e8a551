"""Faults of pixels and colour: too few of them, enlarged before, squeezed as JPEG, colours no ink reaches, inks without end."""

from collections.abc import Iterator
from functools import partial
from typing import Any, Final

import cv2
import numpy as np
from PIL import Image, ImageCms

from . import motifs, photos, sent
from .draw import MM, Array, Colour, Gradient, Layer, Picture, coverage, disc, raster, rectangle, star
from .model import File, Made
from .sound import BLACK, WHITE, drawn, photo_in

_PRINT: Final = {"background": {"opaque": "print"}}


def picture_faults() -> Iterator[Made]:
    """All of them."""
    yield from _too_coarse()
    yield from _enlarged()
    yield from _squeezed()
    yield from _vivid()
    yield from _inks()
    yield from _profiles()
    yield from _premultiplied()


def _too_coarse() -> Iterator[Made]:
    """Under 200 pixels an inch of print. Below 120 another check may say the same."""
    for turn, (ppi, motif) in enumerate(
        ((72, motifs.badge), (96, motifs.name_and_number), (150, motifs.crest), (175, motifs.peaks), (180, motifs.swashes))
    ):
        unsure = frozenset({"enlarged"}) if ppi < 130 else frozenset()
        draw = partial(_motif_at, motif, turn, float(ppi))
        yield Made(f"coarse-{motif.__name__}-{ppi}", draw, frozenset({"resolution"}), unsure)
    for name, width in (("coffee", 90), ("cat", 110), ("astronaut", 160), ("motorcycle", 120)):
        ppi = photos.photo(name).shape[1] / width * MM
        unsure = frozenset({"enlarged"}) if ppi < 130 else frozenset()
        draw = partial(_photo_file, name, "card", 300.0)
        ticket = {"width": f"{width} mm"}
        yield Made(f"coarse-photo-{name}-{ppi:.0f}", draw, frozenset({"resolution"}), unsure, ticket=ticket)
    draw = partial(_motif_at, motifs.blends, 5, 300.0)
    unsure = frozenset({"enlarged"})
    yield Made("coarse-ordered-large", draw, frozenset({"resolution"}), unsure, ticket={"width": "230 mm"})


def _motif_at(motif: motifs.Motif, seed: int, ppi: float) -> File:
    return sent.png(raster(drawn(motif, (110, 80), seed, BLACK), 110, 80, ppi=ppi))


def _photo_file(name: str, shape: str, ppi: float) -> File:
    return sent.png(photo_in(name, shape, ppi))


_HOW: Final = {"nearest": 0, "bilinear": 1, "bicubic": 2, "lanczos": 4}  # OpenCV's numbers


def _enlarged() -> Iterator[Made]:
    """Pixels enough, but made by enlarging: what was there before is less than 120 an inch."""
    cases = (
        ("coffee", 3.0, "bicubic", 300.0),
        ("cat", 4.0, "bilinear", 300.0),
        ("astronaut", 3.0, "nearest", 300.0),
        ("motorcycle", 4.0, "lanczos", 360.0),
        ("cameraman", 3.0, "bilinear", 250.0),
        ("coffee", 2.5, "lanczos", 250.0),
        ("eye", 3.0, "bicubic", 300.0),
        ("astronaut", 2.4, "bicubic", 250.0),
        ("cat", 3.0, "lanczos", 300.0),
        ("motorcycle", 3.0, "nearest", 300.0),
    )
    for name, factor, how, ppi in cases:
        draw = partial(_photo_enlarged, name, factor, how, ppi)
        yield Made(f"enlarged-{name}-{factor}-{how}", draw, frozenset({"enlarged"}))
    for motif, factor, how in (
        (motifs.badge, 4.0, "bicubic"),
        (motifs.crest, 4.0, "nearest"),
        (motifs.serif_words, 4.0, "bilinear"),
    ):
        draw = partial(_motif_enlarged, motif, factor, how)
        yield Made(f"enlarged-{motif.__name__}-{factor}-{how}", draw, frozenset({"enlarged"}))
    for name, how in (("coffee", "bicubic"), ("galaxies", "lanczos")):
        draw = partial(_print_enlarged, name, how)
        rule = {**_PRINT, "garment": WHITE}
        yield Made(f"enlarged-print-{name}-{how}", draw, frozenset({"enlarged"}), rule=rule)


def _photo_enlarged(name: str, factor: float, how: str, ppi: float) -> File:
    """The middle of a photo, enlarged, then cut out sharply, as shops are sent them."""
    pixels = _middle(photos.photo(name), 320)
    pixels = sent.enlarged(pixels, factor, _HOW[how])
    w, h = photos.size_mm(pixels, ppi)
    shape = rectangle(1, 1, w - 2, h - 2, radius=5)
    return sent.png(raster([photos.cut_out(pixels, shape, ppi)], w, h, ppi=ppi))


def _middle(pixels: Array, most: int) -> Array:
    height, width = pixels.shape[:2]
    top, left = max(0, (height - most) // 2), max(0, (width - most) // 2)
    return pixels[top : top + most, left : left + most]


def _motif_enlarged(motif: motifs.Motif, factor: float, how: str) -> File:
    """A logo from a web page, 75 pixels an inch, enlarged with its transparency."""
    picture = raster(drawn(motif, (90, 70), 4, BLACK), 90, 70, ppi=300 / factor)
    return sent.png(Picture(sent.enlarged(picture.pixels, factor, _HOW[how]), 300.0))


def _print_enlarged(name: str, how: str) -> File:
    pixels = sent.enlarged(_middle(photos.photo(name), 360), 3.0, _HOW[how])
    opaque = np.dstack((pixels, np.full(pixels.shape[:2], 255, np.uint8)))
    return sent.flat(Picture(opaque, 300.0), (0, 0, 0), quality=92)


def _squeezed() -> Iterator[Made]:
    """Photos squeezed until their blocks of 8 × 8 show: as JPEG, or saved as PNG afterwards."""
    for name, quality in (("coffee", 6), ("cat", 8), ("astronaut", 10), ("motorcycle", 8), ("cameraman", 5), ("eye", 6)):
        rule = {**_PRINT, "garment": WHITE}
        yield Made(f"blocks-print-{name}-q{quality}", partial(_jpeg, name, quality), frozenset({"jpeg_blocks"}), rule=rule)
    for name, quality in (("coffee", 8), ("astronaut", 6), ("cat", 5), ("motorcycle", 10)):
        draw = partial(_jpeg_cut_out, name, quality)
        yield Made(f"blocks-cut-out-{name}-q{quality}", draw, frozenset({"jpeg_blocks"}))
    for name, quality in (("coffee", 10), ("cat", 8)):
        faults = frozenset({"jpeg_blocks", "ground"})
        yield Made(f"blocks-ground-{name}-q{quality}", partial(_jpeg, name, quality), faults)


def _jpeg(name: str, quality: int) -> File:
    pixels = photos.photo(name)
    opaque = np.dstack((pixels, np.full(pixels.shape[:2], 255, np.uint8)))
    return sent.flat(Picture(opaque, 240.0), (0, 0, 0), quality=quality, places={"ground": [rectangle(0, 0, 1000, 1000)]})


def _jpeg_cut_out(name: str, quality: int) -> File:
    encoded = sent.encoded(Image.fromarray(photos.photo(name)), "JPEG", quality=quality)
    pixels = cv2.imdecode(np.frombuffer(encoded, np.uint8), cv2.IMREAD_COLOR)[..., ::-1]
    w, h = photos.size_mm(pixels, 240.0)
    shape = disc(w / 2, h / 2, min(w, h) - 3)
    return sent.png(raster([photos.cut_out(np.ascontiguousarray(pixels), shape, 240.0)], w, h, ppi=240.0))


_VIVID: Final[tuple[tuple[str, Colour, float], ...]] = (
    ("green", (0, 255, 0), 1.0),
    ("blue", (0, 0, 255), 0.6),
    ("magenta", (255, 0, 255), 0.5),
    ("cyan", (0, 255, 255), 0.4),
    ("neon-green", (57, 255, 20), 0.3),
    ("neon-pink", (255, 16, 240), 0.8),
    ("violet", (120, 0, 255), 0.5),
    ("green-near", (0, 255, 0), 0.13),
)


def _vivid() -> Iterator[Made]:
    """Colours ΔE00 12 and more from all that FOGRA39-like offset prints (looked at in default_cmyk.icc), on a share of it."""
    for name, colour, share in _VIVID:
        yield Made(f"vivid-{name}", partial(_flat_share, colour, share), frozenset({"out_of_gamut"}))
    yield Made("vivid-blend", _vivid_blend, frozenset({"out_of_gamut"}))
    yield Made("vivid-star", _vivid_star, frozenset({"out_of_gamut"}), rule={"garment": WHITE})


def _flat_share(colour: Colour, share: float) -> File:
    layers = [Layer(rectangle(2, 2, 80, 60), (232, 176, 58)), Layer(rectangle(2, 2, 80, 60 * share), colour)]
    return sent.png(raster(layers, 84, 64))


def _vivid_blend() -> File:
    return sent.png(raster([Layer(rectangle(2, 2, 80, 60, radius=5), Gradient((0, 255, 0), (0, 0, 255), 0))], 84, 64))


def _vivid_star() -> File:
    return sent.png(
        raster([Layer(disc(42, 32, 60), (30, 50, 95)), Layer(star(42, 32, 56, points=7, inner=0.7), (255, 0, 255))], 84, 64)
    )


def _inks() -> Iterator[Made]:
    """CMYK without a profile; more than 320 % of ink over some 4 mm, or less than that everywhere."""
    heavy: tuple[tuple[str, tuple[float, ...], float, str], ...] = (
        ("400", (100, 100, 100, 100), 40, "TIFF"),
        ("360", (90, 90, 90, 90), 30, "TIFF"),
        ("370-jpeg", (95, 90, 90, 95), 40, "JPEG"),
        ("345", (85, 85, 80, 95), 20, "TIFF"),
        ("380-small", (95, 95, 95, 95), 6, "TIFF"),
        ("400-jpeg", (100, 100, 100, 100), 25, "JPEG"),
        ("352", (88, 88, 88, 88), 12, "TIFF"),
        ("390", (100, 95, 95, 100), 50, "TIFF"),
    )
    garment = {"garment": "#8a2432"}
    for name, inks, size, form in heavy:
        faults = frozenset({"ink_total", "profile", "ground"})
        yield Made(f"inks-{name}", partial(_cmyk, inks, size, form), faults, rule=garment)
    light: tuple[tuple[str, tuple[float, ...], float], ...] = (
        ("rich-black", (60, 40, 40, 100), 40),
        ("near", (70, 60, 60, 90), 40),
        ("thin-400", (100, 100, 100, 100), 0.6),
    )
    for name, inks, size in light:
        yield Made(f"inks-sound-{name}", partial(_cmyk, inks, size, "TIFF"), frozenset({"profile", "ground"}), rule=garment)


def _cmyk(inks: tuple[float, ...], size: float, form: str) -> File:
    """A square of much ink on a light ground, beside a motif."""
    height, width = round(60 * 240 / MM), round(84 * 240 / MM)
    square = rectangle(6, 6, min(size, 50), size if size < 50 else 50)
    if size < 1:
        square = rectangle(6, 6, 50, size)
    page = np.zeros((height, width, 4))
    page[...] = (5, 8, 15, 0)
    for shape, ink in ((disc(70, 30, 20), (10, 80, 70, 5)), (square, inks)):
        mask = coverage(shape, (0, 0), (height, width), 240 / MM)[..., None]
        page = page * (1 - mask) + np.array(ink) * mask
    file = sent.cmyk(page, ppi=240.0, form=form)
    return File(file.content, file.ending, {"ground": sent.true_boxes([rectangle(0, 0, 84, 60)], (0, 0, width, height), 240.0)})


def _profiles() -> Iterator[Made]:
    """A profile that is damaged, or made for other pictures."""
    good = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    lab = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes()
    wrong_mark = good[:36] + b"????" + good[40:]
    for name, profile in (("cut-short", good[:200]), ("of-lab", lab), ("no-mark", wrong_mark), ("empty-header", good[:100])):
        yield Made(f"profile-{name}", partial(_with_profile, profile), frozenset({"profile"}))
    yield Made("profile-sound", partial(_with_profile, good))


def _with_profile(profile: bytes) -> File:
    picture = raster(drawn(motifs.badge, (80, 70), 1, BLACK), 80, 70)
    options: dict[str, Any] = {"dpi": (300, 300), "icc_profile": profile}
    return File(sent.encoded(Image.fromarray(picture.pixels), "PNG", **options), "png")


def _premultiplied() -> Iterator[Made]:
    """Colours stored darkened by their transparency, as if on black. Drawn light: on dark ones it is seen by nobody."""
    kinds = (motifs.badge, motifs.crest, motifs.serif_words, motifs.name_and_number, motifs.sunburst, motifs.lower_case)
    for turn, motif in enumerate(kinds):
        draw = partial(_darkened, motif, turn, 0.0)
        yield Made(f"alpha-{motif.__name__}", draw, frozenset({"alpha"}))
    for turn, motif in enumerate((motifs.peaks, motifs.badge)):
        draw = partial(_darkened, motif, turn, 3.0)
        yield Made(f"alpha-glow-{motif.__name__}", draw, frozenset({"alpha", "soft_edge"}))


def _darkened(motif: motifs.Motif, seed: int, glow: float) -> File:
    layers = drawn(motif, (80, 60), seed, BLACK)
    if glow:
        around = [Layer(layer.shape.buffer(3), (245, 238, 220), blur_mm=glow) for layer in layers]
        layers = [*around, *layers]
    picture = raster(layers, 80, 60)
    alpha = picture.pixels[..., 3:].astype(np.float32) / 255
    darkened = np.rint(picture.pixels[..., :3] * alpha).astype(np.uint8)
    return sent.png(Picture(np.dstack((darkened, picture.pixels[..., 3])), picture.ppi))
