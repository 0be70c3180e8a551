"""Faults of shape: lines and gaps too thin, lettering too small, specks. Each is drawn in a strip below a sound motif."""

from collections.abc import Callable, Iterator
from functools import partial
from typing import Any, Final

import numpy as np
import shapely

from . import motifs, sent
from .draw import Layer, Shape, disc, frame, line, moved, raster, rectangle, ring, star, turned, union, wave
from .letters import X_OF_CAP, centred, word
from .model import File, Made
from .sound import BLACK, WHITE, drawn, inks_for

Piece = Callable[[float], Shape]
"""A thin thing of a stated width, in a strip that begins at 0, 0 and is 80 mm wide and 18 mm high."""

_STRIP: Final = (80.0, 18.0)
_UNDER: Final = (motifs.badge, motifs.crest, motifs.swashes, motifs.peaks, motifs.sticker, motifs.chequers)


def shape_faults() -> Iterator[Made]:
    """All of them."""
    yield from _lines()
    yield from _gaps()
    yield from _lettering()
    yield from _specks()
    yield from _mended()


def _script(width: float) -> Shape:
    """A signature: one stroke that loops along."""
    t = np.linspace(0, 1, 300)
    x = 8 + 60 * t + 3.5 * np.sin(2 * np.pi * 7 * t)
    return line(np.column_stack((x, 9 + 5 * np.cos(2 * np.pi * 7 * t) * (0.6 + 0.4 * np.sin(5 * t)))), width)


def _fan(width: float) -> Shape:
    """Rays from one point, as around a sun."""
    turns = np.radians(np.linspace(200, 340, 9))
    return union(
        *(line([(40 + 3 * np.cos(t), 17 + 3 * np.sin(t)), (40 + 16 * np.cos(t), 17 + 16 * np.sin(t))], width) for t in turns)
    )


def _hairs(width: float) -> Shape:
    """Bristles on a solid bar; the bar is not thin."""
    return union(*(line([(20 + 3 * k, 13), (22 + 3 * k, 3)], width) for k in range(12)))


def _spiral(width: float) -> Shape:
    t = np.linspace(0, 4 * 2 * np.pi, 400)
    return line(np.column_stack((40 + (1.2 + 0.28 * t) * np.cos(t), 9 + (1.2 + 0.28 * t) * np.sin(t))), width)


def _hatching(width: float) -> Shape:
    return union(*(line([(20 + 1.4 * k, 15), (26 + 1.4 * k, 3)], width) for k in range(22)))


def _chain(width: float) -> Shape:
    """Links side by side that do not touch."""
    return union(*(ring(14 + 5 * k, 9, 4.2, width) for k in range(11)))


def _thin_letters(width: float) -> Shape:
    """Lettering large enough to read, in strokes of about this width."""
    return centred(word("Rowing since 1902", cap_mm=width / 0.118, spaced_mm=0.5), 40, 12)


_LINES: Final[dict[str, tuple[Piece, float, str]]] = {
    "frame": (lambda width: frame(2, 2, 76, 14, line=width), 0.25, ""),
    "rule": (lambda width: rectangle(6, 8, 68, width), 0.2, ""),
    "post": (lambda width: rectangle(40, 2, width, 14), 0.3, ""),
    "slope": (lambda width: line([(8, 3), (70, 15)], width), 0.15, ""),
    "wave": (lambda width: line(wave(6, 9, 68, height=9), width), 0.3, ""),
    "script": (_script, 0.22, ""),
    "fan": (_fan, 0.28, ""),
    "hairs": (_hairs, 0.25, "bar"),
    "spiral": (_spiral, 0.3, ""),
    "ring": (lambda width: ring(40, 9, 15, width), 0.1, ""),
    "hatching": (_hatching, 0.3, ""),
    "chain": (_chain, 0.34, ""),
    "letters": (_thin_letters, 0.3, ""),
    "star": (lambda width: star(40, 9, 15).exterior.buffer(width / 2), 0.35, ""),
    "dashes": (lambda width: union(*(rectangle(10 + 5 * k, 8, 3.5, width) for k in range(12))), 0.3, ""),
    "two-places": (lambda width: union(line([(4, 3), (22, 15)], width), line([(58, 15), (76, 3)], width)), 0.25, ""),
}


def _lines() -> Iterator[Made]:
    for turn, (name, (piece, width, beside)) in enumerate(_LINES.items()):
        garment = (BLACK, WHITE)[turn % 2]
        draw = partial(_line, piece, width, beside, turn, garment)
        unsure = {"letters": frozenset({"thin_gap"}), "star": frozenset({"thin_gap"})}.get(name, frozenset())
        yield Made(f"line-{name}-{width}", draw, frozenset({"thin_line"}), unsure, rule={"garment": garment})


def _line(piece: Piece, width: float, beside: str, turn: int, garment: str) -> File:
    inks = inks_for(garment, turn)
    shape, layers = _placed(piece(width)), []
    if beside == "bar":
        layers.append(Layer(_placed(rectangle(16, 12, 46, 4)), inks[2]))
        shape = shape.difference(layers[0].shape)
    layers.append(Layer(shape, inks[0]))
    places = {"thin_line": _apart(shape)}
    if turn % 5 == 4:
        return sent.pdf([*_motif(turn, garment), *layers], *_CANVAS, places=places)
    return _sent(turn)(raster([*_motif(turn, garment), *layers], *_CANVAS, ppi=_ppi(turn)), places=places)


def _crack(width: float) -> Shape:
    return line([(6, 4), (20, 12), (31, 6), (45, 14), (60, 5), (74, 13)], width, round_ends=False)


def _fine_word(width: float) -> Shape:
    """Letters knocked out in strokes of about this width."""
    return centred(word("Harbour since 1902", cap_mm=width / 0.118, spaced_mm=0.9), 40, 12)


_GAPS: Final[dict[str, tuple[Piece, float]]] = {
    "slit": (lambda width: rectangle(10, 9, 60, width), 0.15),
    "upright": (lambda width: rectangle(40, 3, width, 12), 0.2),
    "slope": (lambda width: line([(12, 4), (66, 14)], width), 0.2),
    "crack": (_crack, 0.22),
    "ring": (lambda width: ring(40, 9, 13, width), 0.25),
    "through": (lambda width: rectangle(30, -1, width, 20), 0.2),
    "stencil": (lambda width: union(*(rectangle(20 + 4 * k, 3, width, 12) for k in range(10))), 0.22),
    "wave": (lambda width: line(wave(8, 9, 64, height=8), width), 0.25),
    "letters": (_fine_word, 0.24),
    "bricks": (
        lambda width: union(
            *(rectangle(10, 3 + 3 * k, 60, width) for k in range(5)),
            *(rectangle(14 + 6 * c + 3 * (r % 2), 3 + 3 * r, width, 3) for r in range(4) for c in range(9)),
        ),
        0.25,
    ),
    "star": (lambda width: star(40, 9.5, 14).exterior.buffer(width / 2), 0.18),
    "two-places": (lambda width: union(rectangle(6, 5, 14, width), turned(rectangle(60, 9, 14, width), 40)), 0.2),
}


def _gaps() -> Iterator[Made]:
    for turn, (name, (piece, width)) in enumerate(_GAPS.items()):
        garment = (WHITE, BLACK)[turn % 2]
        unsure = frozenset({"thin_line"}) if name == "letters" else frozenset()
        draw = partial(_gap, piece, width, turn, garment)
        yield Made(f"gap-{name}-{width}", draw, frozenset({"thin_gap"}), unsure, rule={"garment": garment})


def _gap(piece: Piece, width: float, turn: int, garment: str) -> File:
    card, shape = _placed(rectangle(1, 0, 78, 18, radius=1.5)), _placed(piece(width))
    layers = [*_motif(turn, garment), Layer(card.difference(shape), inks_for(garment, turn)[3])]
    places = {"thin_gap": _apart(shape.intersection(card))}
    if turn % 5 == 3:
        return sent.pdf(layers, *_CANVAS, places=places)
    return _sent(turn)(raster(layers, *_CANVAS, ppi=_ppi(turn)), places=places)


_SMALL: Final[tuple[tuple[str, str, float, dict[str, Any]], ...]] = (
    ("copyright", "all rights reserved by the harbour rowing club", 0.9, {}),
    ("address", "www.oldmill-roasters.example / since nineteen two", 1.1, {}),
    ("care", "wash inside out at thirty degrees, do not iron", 0.8, {}),
    ("motto", "slow and steady wins the race on every river", 1.2, {"serif": True}),
    ("bold", "made by hand in the old mill on the river", 1.2, {"bold_mm": 0.2}),
    ("spaced", "printed for the summer regatta", 1.3, {"spaced_mm": 0.5}),
    ("near", "anno domini nineteen hundred and two", 1.32, {}),
    ("license", "artwork by a. marten, licensed to the club for one season", 0.7, {}),
    ("serif", "a moment on the river is never a moment lost", 1.0, {"serif": True}),
    ("reversed", "season opener on the river, sunday morning", 1.1, {"reversed": True}),
)


def _lettering() -> Iterator[Made]:
    """The strokes of letters so small are thin too, and so are the gaps in them; those left out of a card are gaps."""
    for turn, (name, text, x_height, how) in enumerate(_SMALL):
        garment = (BLACK, WHITE)[turn % 2]
        is_left_out = "reversed" in how
        faults = frozenset({"lettering", "thin_gap" if is_left_out else "thin_line"})
        unsure = frozenset({"thin_line" if is_left_out else "thin_gap", "specks"})
        draw = partial(_letters, text, x_height, how, turn)
        yield Made(f"lettering-{name}-{x_height}", draw, faults, unsure, rule={"garment": garment})


def _letters(text: str, x_height: float, how: dict[str, Any], turn: int) -> File:
    garment = (BLACK, WHITE)[turn % 2]
    is_left_out = "reversed" in how
    how = {key: value for key, value in how.items() if key != "reversed"}
    x_of_cap = (
        0.473 / 0.676 if how.get("serif") else X_OF_CAP
    )  # x and cap height of Times Bold (Adobe Core 14 metrics, from memory)
    cap = (x_height - how.get("bold_mm", 0.0)) / x_of_cap
    shape = _placed(centred(word(text, cap_mm=cap, **how), 40, 10))
    ink = Layer(shape, inks_for(garment, turn)[0])
    places = {"lettering": [shape], "thin_gap" if is_left_out else "thin_line": [shape]}
    if is_left_out:
        ink = Layer(_placed(rectangle(1, 2, 78, 14)).difference(shape), inks_for(garment, turn)[0])
    layers = [*_motif(turn, garment), ink]
    if turn % 4 == 3:
        return sent.pdf(layers, *_CANVAS, places=places)
    return sent.png(raster(layers, *_CANVAS, ppi=(300.0, 600.0)[turn % 2]), places=places)


_SPECKS: Final = (
    ("one", 1, 0.3),
    ("three", 3, 0.25),
    ("five", 5, 0.3),
    ("dust", 6, 0.15),
    ("two", 2, 0.2),
    ("four", 4, 0.34),
    ("six", 6, 0.28),
    ("tiny", 4, 0.12),
    ("near", 3, 0.35),
    ("many", 60, 0.25),
)


def _specks() -> Iterator[Made]:
    """A speck is film narrower than a line may be too; whether that is worth a second word, people differ."""
    for turn, (name, count, size) in enumerate(_SPECKS):
        garment = (WHITE, BLACK)[turn % 2]
        draw = partial(_specked, count, size, turn)
        yield Made(f"specks-{name}-{size}", draw, frozenset({"specks"}), frozenset({"thin_line"}), rule={"garment": garment})
    for turn, (name, shape) in enumerate({"crumbs": _crumb, "flecks": _fleck}.items()):
        draw = partial(_specked, 4, 0.3, turn, shape)
        garment = (WHITE, BLACK)[turn % 2]
        yield Made(f"specks-{name}", draw, frozenset({"specks"}), frozenset({"thin_line"}), rule={"garment": garment})


def _crumb(x: float, y: float, size: float) -> Shape:
    """A ragged triangle."""
    return shapely.Polygon([(x, y), (x + size, y + 0.3 * size), (x + 0.4 * size, y + size)])


def _fleck(x: float, y: float, size: float) -> Shape:
    return rectangle(x, y, size, 0.6 * size)


def _specked(count: int, size: float, turn: int, shape: Callable[[float, float, float], Shape] = disc) -> File:
    garment = (WHITE, BLACK)[turn % 2]
    specks = specks_beside(count, size, turn, shape)
    inks = inks_for(garment, turn)
    layers = [*_motif(turn, garment), Layer(_placed(rectangle(1, 15, 78, 3)), inks[1]), *(Layer(one, inks[0]) for one in specks)]
    places = {"specks": specks} if count <= 8 else {}  # no more are marked, and none need be
    return _sent(turn)(raster(layers, *_CANVAS, ppi=(300.0, 300.0, 400.0)[turn % 3]), places=places)


def specks_beside(count: int, size: float, seed: int, shape: Callable[[float, float, float], Shape] = disc) -> list[Shape]:
    """Specks strewn in the strip, 7 mm apart at the least where there are few."""
    rng = np.random.default_rng(seed)
    found: list[tuple[float, float]] = []
    apart = 7.0 if count <= 8 else 1.5
    while len(found) < count:
        x, y = float(rng.uniform(3, 77)), float(rng.uniform(2, 13))
        if all(np.hypot(x - other[0], y - other[1]) >= apart for other in found):
            found.append((x, y))
    return [_placed(shape(x, y, size)) for x, y in found]


def _mended() -> Iterator[Made]:
    """Faults that the rule mends: said, and gone."""
    for count in (2, 5):
        rule = {"garment": WHITE, "mend": {"specks": True}}
        draw = partial(_specked, count, 0.25, 2 * count)
        yield Made(f"mend-specks-{count}", draw, frozenset({"specks"}), frozenset(), rule, mended=frozenset({"specks"}))
    for name in ("frame", "wave", "fan", "spiral"):
        piece, width, beside = _LINES[name]
        rule = {"garment": BLACK, "mend": {"lines": "0.42 mm"}}
        draw = partial(_line, piece, width, beside, 2, BLACK)
        faults = frozenset({"thin_line"})
        yield Made(f"mend-line-{name}", draw, faults, rule=rule, mended=faults)


_MOTIF: Final = (80.0, 52.0)
_CANVAS: Final = (80.0, 74.0)


def _motif(turn: int, garment: str) -> list[Layer]:
    return drawn(_UNDER[turn % len(_UNDER)], _MOTIF, turn, garment)


def _placed(shape: Shape) -> Shape:
    """From the strip to the canvas."""
    return moved(shape, 0, _CANVAS[1] - _STRIP[1] - 0.5)


def _apart(shape: Shape) -> list[Shape]:
    """What a person would mark apart: parts whose boxes are 6 mm apart and more."""
    parts = [shapely.box(*part.buffer(3).bounds) for part in shapely.get_parts(shape)]
    areas = list(shapely.get_parts(shapely.union_all(parts)))
    return [shape.intersection(area) for area in areas]


def _ppi(turn: int) -> float:
    return (300.0, 300.0, 400.0, 600.0)[turn % 4]


def _sent(turn: int) -> Callable[..., File]:
    return (sent.png, sent.png, sent.tiff)[turn % 3]
