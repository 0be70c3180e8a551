"""Faults of ground, edge and cover: solid grounds, halos, fringes, glows and fades, one colour, the garment's colour, nothing."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any, Final

import cv2
import numpy as np
import shapely
from PIL import Image

from . import motifs, photos, sent
from .draw import Array, Colour, Layer, Picture, Shape, disc, raster, rectangle, star, union
from .letters import centred, fitted
from .model import File, Made
from .sound import BLACK, WHITE, drawn, inks_for

_SIZE: Final = (80.0, 60.0)
_ROOM: Final = 4.0  # mm of ground around the motif
_CANVAS: Final = (88.0, 68.0)
_WHITE: Final = (255, 255, 255)
_WHOLE: Final = rectangle(0, 0, 1000, 1000)


def edge_faults() -> Iterator[Made]:
    """All of them."""
    yield from _grounds()
    yield from _halos()
    yield from _hardly_halos()
    yield from _fringes()
    yield from _soft()
    yield from _single_colours()
    yield from _vanishing()
    yield from _nothing()


def _picture(motif: motifs.Motif, seed: int, garment: str, ppi: float = 300.0) -> Picture:
    """A motif in the middle of its canvas."""
    layers = drawn(motif, _SIZE, seed, garment)
    moved = [Layer(shapely.affinity.translate(one.shape, _ROOM, _ROOM), one.paint) for one in layers]
    return raster(moved, *_CANVAS, ppi=ppi)


_GROUNDS: Final = (
    ("white", (255, 255, 255), None, motifs.crest),
    ("white-jpeg", (255, 255, 255), 92, motifs.serif_words),
    ("gray", (128, 128, 128), None, motifs.badge),
    ("black", (0, 0, 0), None, motifs.sunburst),
    ("blue", (30, 50, 95), None, motifs.name_and_number),
    ("cream-jpeg", (250, 244, 226), 95, motifs.peaks),
    ("off-white", (247, 247, 245), None, motifs.lower_case),
)


def _grounds() -> Iterator[Made]:
    """A motif on a ground of one clean colour; a photo with all that is behind it."""
    for turn, (name, ground, quality, motif) in enumerate(_GROUNDS):
        garment = WHITE if min(ground) > 100 else "#2c5f8a"
        draw = partial(_on_ground, motif, turn, ground, quality)
        yield Made(f"ground-{name}", draw, frozenset({"ground"}), rule={"garment": garment})
    for turn, name in enumerate(("coffee", "cat", "motorcycle", "astronaut")):
        draw = partial(_photo_with_ground, name, (None, 92)[turn % 2])
        yield Made(f"ground-photo-{name}", draw, frozenset({"ground"}))
    for name, ground, motif in (("white", (255, 255, 255), motifs.badge), ("gray", (140, 140, 140), motifs.crest)):
        rule = {"background": {"opaque": "remove"}, "garment": BLACK}
        draw = partial(_on_ground, motif, 3, ground, None)
        yield Made(f"mend-ground-{name}", draw, frozenset({"ground"}), rule=rule, mended=frozenset({"ground"}))


def _on_ground(motif: motifs.Motif, seed: int, ground: tuple[int, int, int], quality: int | None) -> File:
    garment = WHITE if min(ground) > 200 else BLACK
    return sent.flat(_picture(motif, seed, garment), ground, quality=quality, places={"ground": [_WHOLE]})


def _photo_with_ground(name: str, quality: int | None) -> File:
    pixels = photos.photo(name)
    opaque = np.dstack((pixels, np.full(pixels.shape[:2], 255, np.uint8)))
    return sent.flat(Picture(opaque, 260.0), (0, 0, 0), quality=quality, places={"ground": [_WHOLE]})


_RINGS: Final = (
    (motifs.badge, 1.0, (243, 240, 232), _WHITE, None),
    (motifs.serif_words, 0.6, (243, 243, 232), _WHITE, None),
    (motifs.crest, 1.5, (236, 240, 244), _WHITE, None),
    (motifs.name_and_number, 0.8, (240, 236, 228), _WHITE, None),
    (motifs.peaks, 2.0, (230, 230, 230), _WHITE, None),
    (motifs.crest, 1.2, (240, 236, 228), _WHITE, 90),
    (motifs.sunburst, 0.9, (48, 68, 116), (30, 50, 95), None),
)
"""All of them further from their ground than its tolerance (CIEDE2000 of 4), or they would be taken away with it."""

_NOISY: Final = (
    (motifs.serif_words, 0, 12, _WHITE),
    (motifs.peaks, 3, 10, _WHITE),
    (motifs.swashes, 3, 10, _WHITE),
    (motifs.lower_case, 1, 12, _WHITE),
    (motifs.lower_case, 3, 15, (128, 128, 128)),
)
"""JPEG whose noise, where its ground is taken away, is left as film more than two pixels from what was drawn, beside a sixth of
the outline and more."""


def _halos() -> Iterator[Made]:
    """A ground that is not quite one colour around the motif: what is left of another, a glow, or the noise of strong JPEG."""
    faults = frozenset({"ground", "halo"})
    for motif, width, colour, ground, quality in _RINGS:
        draw = partial(_ringed, motif, _Ring(width, colour, ground=ground, quality=quality))
        name = f"halo-ring-{width}{'-jpeg' if quality else ''}"
        yield Made(name, draw, faults, rule={"garment": WHITE if ground == _WHITE else BLACK})
    for turn, motif in enumerate((motifs.badge, motifs.serif_words, motifs.crest)):
        draw = partial(_ringed, motif, _Ring(1.2, (225, 226, 230), blur=0.5))
        yield Made(f"halo-glow-{turn}", draw, faults, rule={"garment": WHITE})
    for motif, seed, quality, ground in _NOISY:
        draw = partial(_on_ground, motif, seed, ground, quality)
        garment = WHITE if ground == _WHITE else BLACK
        name = f"halo-jpeg-{motif.__name__}-q{quality}"
        yield Made(name, draw, faults, frozenset({"jpeg_blocks"}), rule={"garment": garment})


def _hardly_halos() -> Iterator[Made]:
    """Grounds that look like it and are none: a ring or noise that goes with its ground and leaves nothing; pale shapes that
    were drawn."""
    fault = frozenset({"ground"})
    for motif, width, colour in ((motifs.serif_words, 0.6, (246, 246, 240)), (motifs.peaks, 2.0, (244, 244, 244))):
        yield Made(f"ground-ring-{width}", partial(_ringed, motif, _Ring(width, colour)), fault, rule={"garment": WHITE})
    for motif, seed, quality in ((motifs.crest, 1, 15), (motifs.name_and_number, 2, 20)):
        draw = partial(_on_ground, motif, seed, _WHITE, quality)
        yield Made(f"ground-jpeg-q{quality}", draw, fault, frozenset({"jpeg_blocks"}), rule={"garment": WHITE})
    for width, colour in ((3.2, (252, 246, 228)), (0.8, (214, 200, 170)), (3.0, (236, 236, 236))):
        draw = partial(_ringed, motifs.crest, _Ring(width, colour))
        yield Made(f"ground-outline-{width}", draw, fault, rule={"garment": WHITE})
    for name, shapes in _PALE.items():
        yield Made(f"ground-pale-{name}", partial(_with_pale, shapes), fault, rule={"garment": WHITE})


@dataclass(frozen=True)
class _Ring:
    """A band around every edge, `width` in mm, on a ground; `quality`: of a JPEG."""

    width: float
    colour: Colour
    ground: Colour = _WHITE
    blur: float = 0.0
    quality: int | None = None


def _ringed(motif: motifs.Motif, ring: _Ring) -> File:
    """A motif on a solid ground, with a band of another colour around it."""
    garment = WHITE if ring.ground == _WHITE else BLACK
    layers = [Layer(shapely.affinity.translate(one.shape, _ROOM, _ROOM), one.paint) for one in drawn(motif, _SIZE, 2, garment)]
    around = Layer(union(*(layer.shape for layer in layers)).buffer(ring.width), ring.colour, blur_mm=ring.blur)
    picture = raster([around, *layers], *_CANVAS)
    return sent.flat(picture, ring.ground, quality=ring.quality, places={"ground": [_WHOLE]})


_CREAM: Final = (247, 242, 228)  # CIEDE2000 of 8 and less from white
_PALE: Final = {
    "card": [rectangle(2, 2, 84, 64, radius=3)],
    "disc": [disc(44, 34, 66)],
    "stripes": [rectangle(1, 4 + 6 * k, 86, 2) for k in range(10)],
    "underline": [rectangle(4, 62, 80, 2), rectangle(4, 2, 80, 1.2)],
}


def _with_pale(shapes: list[Shape]) -> File:
    """A motif on white with shapes of cream that were drawn behind and beside it."""
    layers = [
        Layer(shapely.affinity.translate(one.shape, _ROOM, _ROOM), one.paint) for one in drawn(motifs.peaks, _SIZE, 2, WHITE)
    ]
    picture = raster([*(Layer(shape, _CREAM) for shape in shapes), *layers], *_CANVAS)
    return sent.flat(picture, _WHITE, places={"ground": [_WHOLE]})


_FRINGED: Final = (
    (motifs.badge, "cut-1", BLACK, (255, 255, 255)),
    (motifs.serif_words, "cut-2", BLACK, (255, 255, 255)),
    (motifs.crest, "stairs", BLACK, (255, 255, 255)),
    (motifs.name_and_number, "cut-1", WHITE, (0, 0, 0)),
    (motifs.sunburst, "cut-2", WHITE, (0, 0, 0)),
    (motifs.peaks, "cut-3", BLACK, (255, 255, 255)),
    (motifs.flames, "matte", BLACK, (255, 255, 255)),
    (motifs.lower_case, "cut-2", WHITE, (20, 90, 40)),
    (motifs.chequers, "stairs", WHITE, (0, 0, 0)),
    (motifs.swashes, "cut-2", BLACK, (255, 255, 255)),
    (motifs.knocked_out, "cut-2", BLACK, (255, 255, 255)),
    (motifs.badge, "cut-2", WHITE, (60, 140, 220)),
)


def _fringes() -> Iterator[Made]:
    """What is left of the ground that a motif was cut from. Its inks are far from that ground, so that the fringe shows."""
    for turn, (motif, how, garment, ground) in enumerate(_FRINGED):
        draw = partial(_fringed, motif, turn, how, ground)
        unsure = frozenset({"thin_gap"}) if how.startswith("cut") else frozenset()  # which the fringe makes narrower
        yield Made(f"fringe-{motif.__name__}-{how}-{turn}", draw, frozenset({"fringe"}), unsure, {"garment": garment})


def _fringed(motif: motifs.Motif, seed: int, how: str, ground: tuple[int, int, int]) -> File:
    picture = _picture(motif, seed, WHITE if min(ground) > 200 else BLACK)
    mixed, alpha = sent.on_ground(picture, ground), picture.pixels[..., 3]
    if how == "stairs":  # chosen with a magic wand: every pixel that is not quite the ground's
        kept = np.where(alpha > 20, 255, 0)
    elif how == "matte":  # a program that mixed the ground into half-transparent pixels, and then kept their alpha as well
        kept = alpha
    else:  # a selection that is some pixels too large
        reach = int(how[-1])
        disc_ = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
        kept = cv2.dilate(alpha, disc_)
    return sent.png(Picture(np.dstack((mixed, kept)).astype(np.uint8), picture.ppi))


def _soft() -> Iterator[Made]:
    """Glows, shadows, fades, veils: more than 5 % of what is seen is half transparent."""
    for turn, (name, draw) in enumerate(_SOFT.items()):
        garment = (BLACK, WHITE)[turn % 2]
        picture = partial(_softened, draw, garment, turn)
        yield Made(f"soft-{name}", picture, frozenset({"soft_edge"}), rule={"garment": garment})


def _softened(draw: Callable[[motifs.Inks], list[Layer]], garment: str, turn: int) -> File:
    return (sent.png, sent.tiff)[turn % 2](raster(draw(inks_for(garment, turn)), 90, 70))


def _glow(inks: motifs.Inks) -> list[Layer]:
    name = centred(fitted("KESTREL", 64, 16, bold=0.12), 45, 42)
    return [Layer(name.buffer(4), inks[1], blur_mm=2.5), Layer(name, inks[0])]


def _shadow(inks: motifs.Inks) -> list[Layer]:
    shape = star(44, 32, 54)
    return [Layer(shapely.affinity.translate(shape, 4, 5), (90, 90, 95), blur_mm=2.0, opacity=0.8), Layer(shape, inks[0])]


def _fade(inks: motifs.Inks) -> list[Layer]:
    return [Layer(rectangle(5, 5, 80, 40), inks[2], fade=(1.0, 0.0)), Layer(rectangle(5, 50, 80, 14), inks[0])]


def _veil(inks: motifs.Inks) -> list[Layer]:
    return [Layer(rectangle(4, 4, 82, 62, radius=4), inks[0], opacity=0.5), Layer(disc(45, 35, 44), inks[2])]


def _spray(inks: motifs.Inks) -> list[Layer]:
    return [Layer(disc(x, y, 30), ink, blur_mm=5) for x, y, ink in ((28, 26, inks[0]), (58, 30, inks[1]), (42, 48, inks[2]))]


def _vignette(inks: motifs.Inks) -> list[Layer]:
    pixels = photos.photo("coffee")
    whole = photos.cut_out(pixels, shapely.affinity.scale(disc(30, 20, 30), 1.5, 1.0), 254.0)
    return [Layer(whole.shape, whole.paint, blur_mm=3.0)]


def _glass(inks: motifs.Inks) -> list[Layer]:
    panes = [Layer(rectangle(6 + 28 * k, 8, 24, 54), inks[k], opacity=0.35 + 0.2 * k) for k in range(3)]
    return [*panes, Layer(rectangle(2, 62, 86, 5), inks[0])]


def _mist(inks: motifs.Inks) -> list[Layer]:
    peak = shapely.Polygon([(5, 60), (45, 8), (85, 60)])
    return [Layer(peak, inks[0]), Layer(rectangle(5, 46, 80, 18), inks[3], opacity=0.5, blur_mm=2.5)]


def _near(inks: motifs.Inks) -> list[Layer]:
    """A veil of 7 % of what is seen."""
    return [Layer(rectangle(5, 5, 80, 50), inks[0]), Layer(rectangle(5, 60, 80, 3.8), inks[2], opacity=0.5)]


def _long_fade(inks: motifs.Inks) -> list[Layer]:
    name = centred(fitted("GRANITE", 78, 40, bold=0.16), 45, 50)
    return [Layer(name, inks[0], fade=(0.15, 1.0))]


_SOFT: Final[dict[str, Callable[[motifs.Inks], list[Layer]]]] = {
    **{"glow": _glow, "shadow": _shadow, "fade": _fade, "veil": _veil, "spray": _spray, "vignette": _vignette},
    **{"glass": _glass, "mist": _mist, "near": _near, "long-fade": _long_fade},
}


def _single_colours() -> Iterator[Made]:
    """A filled rectangle of one colour: an export without its layers."""
    colours = ((255, 255, 255), (0, 0, 0), (196, 70, 52), (30, 50, 95), (128, 128, 128), (245, 238, 220), (40, 128, 128))
    for turn, colour in enumerate(colours):
        garment = "#4a7a3a"
        draw = partial(_one_colour, colour, turn)
        yield Made(f"one-colour-{turn}", draw, frozenset({"one_colour", "ground"}), rule={"garment": garment})
    draw = partial(_one_colour, (232, 176, 58), 1, with_dot=True)
    yield Made("one-colour-with-a-dot", draw, frozenset({"one_colour", "ground"}), frozenset({"specks"}), {"garment": BLACK})


def _one_colour(colour: tuple[int, int, int], turn: int, *, with_dot: bool = False) -> File:
    layers = [Layer(rectangle(-1, -1, 100, 80), colour)]
    if with_dot:
        layers.append(Layer(disc(80, 60, 2), (30, 50, 95)))
    picture = raster(layers, 90, 70, ppi=240)
    if turn % 2:
        return sent.flat(picture, (0, 0, 0), quality=(None, 90)[turn % 3 // 2], places={"ground": [_WHOLE]})
    return sent.png(picture, places={"ground": [_WHOLE]})


def _vanishing() -> Iterator[Made]:
    """Most of it is of the garment's own colour."""
    cases: tuple[tuple[str, str, tuple[int, int, int], Any], ...] = (
        ("black-word", BLACK, (0, 0, 0), _word_and_dot),
        ("black-logo", BLACK, (27, 27, 29), _mostly_logo),
        ("white-word", WHITE, (255, 255, 255), _word_and_dot),
        ("white-logo", WHITE, (255, 255, 255), _mostly_logo),
        ("navy-on-navy", "#1f2a44", (31, 42, 68), _mostly_logo),
        ("red-on-red", "#b3262e", (179, 38, 46), _word_and_dot),
        ("all-black", BLACK, (27, 27, 29), _all_of_it),
        ("all-white", WHITE, (255, 255, 255), _all_of_it),
        ("near", BLACK, (27, 27, 29), _share_of_78),
        ("off-white", WHITE, (253, 253, 252), _mostly_logo),
    )
    for name, garment, colour, draw in cases:
        yield Made(f"vanishing-{name}", partial(_vanished, draw, colour), frozenset({"vanishing"}), rule={"garment": garment})


def _vanished(draw: Callable[[tuple[int, int, int]], list[Layer]], colour: tuple[int, int, int]) -> File:
    return sent.png(raster(draw(colour), 90, 70))


def _word_and_dot(colour: tuple[int, int, int]) -> list[Layer]:
    word = centred(fitted("LANTERN", 80, 24, bold=0.14), 45, 40)
    return [Layer(word, colour), Layer(disc(45, 55, 12), (232, 176, 58))]


def _mostly_logo(colour: tuple[int, int, int]) -> list[Layer]:
    return [Layer(rectangle(4, 4, 82, 62, radius=5), colour), Layer(star(45, 34, 46), (140, 165, 130))]


def _all_of_it(colour: tuple[int, int, int]) -> list[Layer]:
    return [Layer(union(star(30, 36, 50), disc(66, 36, 30)), colour)]


def _share_of_78(colour: tuple[int, int, int]) -> list[Layer]:
    card, upper = rectangle(5, 5, 80, 60, radius=6), rectangle(5, 5, 80, 0.78 * 60)
    return [Layer(card.intersection(upper), colour), Layer(card.difference(upper), (196, 70, 52))]


def _nothing() -> Iterator[Made]:
    """Not one pixel that would be seen, in several kinds of file."""
    clear = np.zeros((400, 500, 4), np.uint8)
    faint = np.dstack((np.full((400, 500, 3), 200), np.full((400, 500), 5))).astype(np.uint8)
    hidden = np.dstack((np.full((400, 500, 3), 90), np.zeros((400, 500)))).astype(np.uint8)
    gray = clear[..., :2]
    for name, pixels, form in (
        ("png", clear, "PNG"),
        ("tiff", clear, "TIFF"),
        ("webp", clear, "WEBP"),
        ("faint", faint, "PNG"),
        ("hidden-colour", hidden, "PNG"),
        ("gray", gray, "PNG"),
        ("hidden-tiff", hidden, "TIFF"),
    ):
        yield Made(f"empty-{name}", partial(_empty, pixels, form), frozenset({"empty"}), ticket={"width": "60 mm"})
    yield Made("empty-pdf", _empty_pdf, frozenset({"empty"}))
    yield Made("empty-pdf-hidden", _pdf_of_nothing, frozenset({"empty"}))


def _empty(pixels: Array, form: str) -> File:
    options = {"lossless": True, "exact": True} if form == "WEBP" else {}
    return File(sent.encoded(Image.fromarray(pixels), form, **options), form.lower())


def _empty_pdf() -> File:
    return File(sent.saved(sent.pdf_of(b"", 80, 60)), "pdf")


def _pdf_of_nothing() -> File:
    """A path that is neither filled nor stroked (ISO 32000-1, 8.5.3, operator n)."""
    return File(sent.saved(sent.pdf_of(b"20 20 100 60 re n", 80, 60)), "pdf")
