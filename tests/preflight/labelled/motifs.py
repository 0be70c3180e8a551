"""Motifs of sound artwork, as shops print them: each `motif(width, height, inks, rng)` gives layers that fill a canvas in mm.

Nothing in them carries film narrower than 0.46 mm or leaves a gap narrower than 0.345 mm (15 % more than the bench rule asks),
but for tips and notches, which taper to nothing in any drawing. They hold what only looks like a fault: corners, serifs, dots of
i, fine screens, confetti, keylines, fades between solid colours.
"""

from collections.abc import Callable
from typing import Final

import numpy as np
import shapely
from shapely.geometry import Polygon

from .draw import (
    Colour,
    Gradient,
    Layer,
    Shape,
    disc,
    frame,
    line,
    moved,
    polygons,
    rectangle,
    ring,
    star,
    turned,
    union,
    wave,
)
from .letters import centred, fitted

Layers = list[Layer]
Inks = tuple[Colour, Colour, Colour, Colour]
Motif = Callable[[float, float, Inks, np.random.Generator], Layers]

ON_BLACK: Final[tuple[Inks, ...]] = (
    ((245, 238, 220), (232, 176, 58), (196, 70, 52), (120, 170, 205)),
    ((240, 240, 240), (214, 130, 140), (140, 165, 130), (150, 150, 152)),
    ((232, 176, 58), (245, 238, 220), (40, 128, 128), (196, 70, 52)),
)
"""Colours for dark garments, all well within what four-colour offset prints (FOGRA39, looked at in default_cmyk.icc)."""

ON_WHITE: Final[tuple[Inks, ...]] = (
    ((30, 50, 95), (196, 70, 52), (232, 176, 58), (120, 170, 205)),
    ((36, 88, 62), (110, 30, 50), (196, 120, 60), (140, 165, 130)),
    ((60, 60, 66), (40, 128, 128), (214, 130, 140), (150, 150, 152)),
)
"""Colours for light garments."""

NAMES: Final = ("HARBOUR", "RIVERSIDE", "OLD MILL", "NORTHERN", "LANTERN", "GRANITE", "MEADOW", "KESTREL")
LOWER: Final = ("roasters & co.", "jiu-jitsu club", "built in 1987", "since 1902; still", "big sky, joy!", "fish: fresh, fried")


def name_and_number(w: float, h: float, inks: Inks, rng: np.random.Generator) -> Layers:
    """A jersey: a bold name over a large number with an inset line in another colour."""
    number = str(rng.integers(10, 99))
    name = fitted(str(rng.choice(NAMES)), w, 0.2 * h, bold=0.12)
    digits = fitted(number, 0.8 * w, 0.62 * h, bold=0.1)
    digits = centred(digits, w / 2, 0.95 * h - 1)
    inset = digits.buffer(-0.03 * h).difference(digits.buffer(-0.03 * h - 0.8))
    inset = shapely.union_all([part for part in shapely.get_parts(inset.buffer(-0.25).buffer(0.25)) if part.area > 1])
    return [Layer(centred(name, w / 2, 0.22 * h), inks[0]), Layer(digits, inks[0]), Layer(inset, inks[2])]


def serif_words(w: float, h: float, inks: Inks, rng: np.random.Generator) -> Layers:
    """A word with serifs, a rule, and a line below with dots of i and commas."""
    upper = fitted(str(rng.choice(NAMES)).title(), w, 0.42 * h, serif=True)
    lower = fitted(str(rng.choice(LOWER)), 0.9 * w, 0.22 * h, bold=0.05, serif=w >= 70)  # whose hairlines need room
    rule = rectangle(0.05 * w, 0.55 * h, 0.9 * w, 0.8)
    return [
        Layer(centred(upper, w / 2, 0.44 * h), inks[0]),
        Layer(rule, inks[1]),
        Layer(centred(lower, w / 2, 0.86 * h), inks[0]),
    ]


def badge(w: float, h: float, inks: Inks, rng: np.random.Generator) -> Layers:
    """A round badge: ring, ring of dots, a star in a disc."""
    size = min(w, h)
    x, y = w / 2, h / 2
    dots = [
        disc(x + 0.39 * size * np.cos(t), y + 0.39 * size * np.sin(t), 0.03 * size) for t in np.linspace(0, 2 * np.pi, 25)[:-1]
    ]
    return [
        Layer(ring(x, y, size, 0.05 * size), inks[0]),
        Layer(union(*dots), inks[1]),
        Layer(disc(x, y, 0.66 * size), inks[2]),
        Layer(star(x, y, 0.5 * size, points=int(rng.integers(5, 9)), inner=0.5), inks[0]),
    ]


def crest(w: float, h: float, inks: Inks, rng: np.random.Generator) -> Layers:
    """A shield with chevrons and stars, and a banner with a name."""
    shield = Polygon([(0.2 * w, 0.03 * h), (0.8 * w, 0.03 * h), (0.8 * w, 0.5 * h), (0.5 * w, 0.84 * h), (0.2 * w, 0.5 * h)])
    shield = shield.buffer(1.0)
    layers = [Layer(shield, inks[0]), Layer(shield.buffer(-1.5), inks[2])]
    for y in (0.3, 0.42):
        band = [(0.24 * w, (y + 0.1) * h), (0.5 * w, y * h), (0.76 * w, (y + 0.1) * h)]
        layers.append(Layer(line(band, 0.04 * h, round_ends=False).intersection(shield.buffer(-2.2)), inks[1]))
    layers += [Layer(star(x * w, 0.16 * h, 0.1 * w), inks[0]) for x in (0.34, 0.5, 0.66)]
    name = centred(fitted(str(rng.choice(NAMES)), 0.8 * w, 0.11 * h, bold=0.08), w / 2, 0.95 * h)
    banner = rectangle(0.02 * w, 0.8 * h, 0.96 * w, 0.19 * h, radius=1.5)
    return [*layers, Layer(banner, inks[0]), Layer(name, inks[2])]


def sticker(w: float, h: float, inks: Inks, rng: np.random.Generator) -> Layers:
    """Lettering and a leaf on a wide white outline, as die-cut stickers have."""
    name = centred(fitted(str(rng.choice(NAMES)), 0.86 * w, 0.3 * h, bold=0.1), w / 2, 0.5 * h)
    tail = moved(leaf(0.5 * w, 0.22 * h), 0.25 * w, 0.62 * h)
    outline = without_pinholes(union(name, tail).buffer(2.5).buffer(2).buffer(-2))
    return [Layer(outline, (255, 255, 255)), Layer(name, inks[2]), Layer(tail, inks[3])]


def keyline(w: float, h: float, inks: Inks, rng: np.random.Generator) -> Layers:
    """Heavy lettering with a keyline of 0.5 to 0.7 mm in another colour set right around it."""
    name = centred(fitted(str(rng.choice(NAMES)), 0.9 * w, 0.5 * h, bold=0.12, spaced=2.4), w / 2, 0.72 * h)
    around = without_pinholes(name.buffer(float(rng.uniform(0.5, 0.7)) + 0.25).buffer(-0.25))
    return [Layer(around, inks[1]), Layer(name, inks[2])]


def halftone(w: float, h: float, inks: Inks, rng: np.random.Generator) -> Layers:
    """A disc screened with dots of 0.6 to 1.6 mm: a pattern, no dust."""
    pitch, dots = 2.2, []
    x, y = np.meshgrid(np.arange(pitch, w, pitch), np.arange(pitch, h, pitch))
    for at_x, at_y in zip(x.ravel(), y.ravel(), strict=True):
        away = np.hypot((at_x - w / 2) / (w / 2), (at_y - h / 2) / (h / 2))
        if away < 0.95:
            dots.append(disc(at_x, at_y, 1.6 - 1.0 * away))
    bar = rectangle(0.1 * w, 0.44 * h, 0.8 * w, 0.12 * h)
    kept = union(*dots).difference(bar.buffer(1.5))
    whole = [part for part in shapely.get_parts(kept) if part.area > 0.25 and part.buffer(-0.26).area > 0]
    return [Layer(union(*whole), inks[0]), Layer(bar, inks[int(rng.integers(1, 4))])]


def sunburst(w: float, h: float, inks: Inks, rng: np.random.Generator) -> Layers:
    """Rays that widen outward from a disc, over waves."""
    rays, count, x, y = [], int(rng.integers(14, 22)), w / 2, 0.62 * h
    reach, start = 0.6 * h, 0.22 * h
    for turn in np.linspace(1.05 * np.pi, 1.95 * np.pi, count):
        along, across = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
        rays.append(Polygon([(x, y) + along * r + across * s * (0.35 if r == start else 1.1) for r, s in _corners(start, reach)]))
    sea = [Layer(line(wave(0.05 * w, (0.72 + 0.09 * k) * h, 0.9 * w, height=2.5), 1.2), inks[3]) for k in range(3)]
    sun = disc(x, y, 0.36 * h).intersection(rectangle(0, 0, w, y))
    return [Layer(union(*rays).intersection(rectangle(0, 0, w, y)), inks[1]), Layer(sun, inks[2]), *sea]


def stripes(w: float, h: float, inks: Inks, rng: np.random.Generator) -> Layers:
    """Fine stripes of 0.46 to 0.6 mm, half a millimetre apart, beside a word."""
    wide = float(rng.uniform(0.46, 0.6))
    lines = [rectangle(0.02 * w, y, 0.96 * w, wide) for y in np.arange(0.55 * h, 0.95 * h, wide + 0.5)]
    if rng.random() < 0.3:
        lines = [rectangle(x, 0.5 * h, wide, 0.48 * h) for x in np.arange(0.02 * w, 0.96 * w, wide + 0.5)]
    name = centred(fitted(str(rng.choice(NAMES)), 0.9 * w, 0.3 * h, bold=0.1), w / 2, 0.36 * h)
    return [Layer(union(*lines), inks[3]), Layer(name, inks[0])]


def rings(w: float, h: float, inks: Inks, rng: np.random.Generator) -> Layers:
    """Rings of 0.47 mm with gaps of 0.36 mm around a disc: fine, and just enough."""
    size = min(w, h)
    fine = [ring(w / 2, h / 2, size - 2 * k * 0.83, 0.47) for k in range(8)]
    centre = disc(w / 2, h / 2, size - 20)
    return [Layer(union(*fine), inks[0]), Layer(centre, inks[int(rng.integers(1, 4))])]


def without_pinholes(shape: Shape) -> Shape:
    """A shape whose holes all let a disc of 0.6 mm through."""
    return union(
        *(
            Polygon(part.exterior, [hole for hole in part.interiors if not Polygon(hole).buffer(-0.3).is_empty])
            for part in polygons(shape)
        )
    )


def leaf(w: float, h: float) -> Shape:
    """A leaf: two parabolas that meet in tips, of 83 degrees where it is 2.25 times as long as wide."""
    t = np.linspace(0, 1, 60)
    upper = np.column_stack((w * t, -2 * h * t * (1 - t)))
    return moved(Polygon(np.vstack((upper, upper[::-1] * (1, -1)))).buffer(0), 0, h / 2)


def flames(w: float, h: float, inks: Inks, rng: np.random.Generator) -> Layers:
    """Flames and leaves that taper to tips of 35 to 60 degrees."""
    layers = []
    for k, x in enumerate(np.linspace(0.14, 0.86, 4)):
        wide = min(0.2 * w, 0.4 * h)
        half = np.radians(float(rng.uniform(35, 60))) / 2
        middle = h - wide / 2 - 1
        touch = wide / 2 * np.cos(half), middle - wide / 2 * np.sin(half)  # where tangents from the tip meet the disc
        tip = Polygon([(x * w, middle - wide / 2 / np.sin(half)), (x * w - touch[0], touch[1]), (x * w + touch[0], touch[1])])
        layers.append(Layer(union(disc(x * w, middle, wide), tip), inks[k % 3]))
    return layers


def confetti(w: float, h: float, inks: Inks, rng: np.random.Generator) -> Layers:
    """Many small pieces of 0.8 to 2 mm strewn around a word: small, but none is dust."""
    name = centred(fitted(str(rng.choice(NAMES)), 0.8 * w, 0.3 * h, bold=0.1), w / 2, 0.62 * h)
    taken, layers = name.buffer(1.5), []
    for k in range(60):
        x, y = float(rng.uniform(2, w - 2)), float(rng.uniform(2, h - 2))
        size = float(rng.uniform(0.8, 2.0))
        piece = (disc(x, y, size), turned(rectangle(x, y, size, 0.7 * size), float(rng.uniform(0, 90))), star(x, y, size + 2.5))[
            k % 3
        ]
        if not piece.intersects(taken):
            taken = taken.union(piece.buffer(0.8))
            layers.append(Layer(piece, inks[k % 4]))
    return [*layers, Layer(name, inks[0])]


def chequers(w: float, h: float, inks: Inks, rng: np.random.Generator) -> Layers:
    """A racing flag: squares that meet at their corners, over a name."""
    side = float(rng.choice([3.0, 4.0, 5.0]))
    columns, rows = int(w / side), int(0.6 * h / side)
    squares = [rectangle(c * side, r * side, side, side) for r in range(rows) for c in range(columns) if (r + c) % 2 == 0]
    name = centred(fitted(str(rng.choice(NAMES)), 0.9 * w, 0.24 * h, bold=0.1), w / 2, 0.96 * h)
    return [Layer(union(*squares), inks[0]), Layer(name, inks[2])]


def blends(w: float, h: float, inks: Inks, rng: np.random.Generator) -> Layers:
    """Solid shapes filled with blends from one colour to another."""
    degrees = float(rng.choice([0, 45, 90, 200]))
    card = rectangle(0.02 * w, 0.04 * h, 0.96 * w, 0.6 * h, radius=4)
    name = centred(fitted(str(rng.choice(NAMES)), 0.9 * w, 0.22 * h, bold=0.1), w / 2, 0.94 * h)
    return [
        Layer(card, Gradient(inks[0], inks[3], degrees)),
        Layer(star(w / 2, 0.36 * h, 0.5 * h), Gradient(inks[2], inks[1], degrees + 90)),
        Layer(name, Gradient(inks[1], inks[2], 0)),
    ]


def outlined(w: float, h: float, inks: Inks, rng: np.random.Generator) -> Layers:
    """Hollow lettering, drawn with an outline of 0.6 to 0.9 mm, in a frame of the same weight."""
    weight = float(rng.uniform(0.6, 0.9))
    name = centred(fitted(str(rng.choice(NAMES)), 0.84 * w, 0.46 * h, bold=0.16, spaced=2.5), w / 2, 0.7 * h)
    name = without_pinholes(name.buffer(0.3).buffer(-0.3))
    hollow = name.difference(name.buffer(-weight - 0.3).buffer(0.3))
    return [Layer(hollow, inks[0]), Layer(frame(0.5, 0.5, w - 1, h - 1, line=weight), inks[1])]


def knocked_out(w: float, h: float, inks: Inks, rng: np.random.Generator) -> Layers:
    """Lettering left out of a solid plaque: its strokes are gaps of more than a millimetre."""
    plaque = rectangle(0.01 * w, 0.05 * h, 0.98 * w, 0.9 * h, radius=3)
    name = centred(fitted(str(rng.choice(NAMES)), 0.86 * w, 0.34 * h, bold=0.06, spaced=1.2), w / 2, 0.52 * h)
    holes = [disc(x * w, 0.78 * h, 3) for x in (0.3, 0.4, 0.5, 0.6, 0.7)]
    return [Layer(plaque.difference(union(name, *holes)), inks[int(rng.integers(0, 4))])]


def mesh(w: float, h: float, inks: Inks, rng: np.random.Generator) -> Layers:
    """A basketball net: crossing lines of 0.55 mm, meshes of 3 mm and more."""
    wide = 0.55
    lines = [line([(x, 0), (x + h, h)], wide) for x in np.arange(-h, w, 5.0)]
    lines += [line([(x + h, 0), (x, h)], wide) for x in np.arange(-h, w, 5.0)]
    inside = rectangle(0.02 * w, 0.02 * h, 0.96 * w, 0.96 * h, radius=3)
    net = union(*lines).intersection(inside.buffer(-0.2))
    return [Layer(without_pinholes(union(net, inside.difference(inside.buffer(-1.2)))), inks[0])]


def peaks(w: float, h: float, inks: Inks, rng: np.random.Generator) -> Layers:
    """Mountains with snow, a moon, a rule below."""
    layers = [Layer(disc(0.78 * w, 0.2 * h, 0.2 * h), inks[1])]
    for x, share, ink in ((0.3, 0.75, 2), (0.66, 0.55, 3)):
        tall, foot = share * float(rng.uniform(0.85, 1.0)) * h, 0.86 * h
        layers.append(Layer(Polygon([(x * w - 0.3 * w, foot), (x * w, foot - tall), (x * w + 0.3 * w, foot)]), inks[ink]))
        cap = Polygon([(x * w - 0.09 * w, foot - 0.7 * tall), (x * w, foot - tall), (x * w + 0.09 * w, foot - 0.7 * tall)])
        layers.append(Layer(cap, inks[0]))
    return [*layers, Layer(rectangle(0.02 * w, 0.91 * h, 0.96 * w, 0.05 * h), inks[0])]


def swashes(w: float, h: float, inks: Inks, rng: np.random.Generator) -> Layers:
    """A name over brush strokes that swell and taper."""
    t = np.linspace(0, 1, 80)
    phase, layers = float(rng.uniform(0, 1)), []
    for k in range(3):
        y = (0.6 + 0.13 * k) * h + 0.05 * h * np.sin(2 * np.pi * (t + phase))
        thick = 0.4 + 3.0 * np.sin(np.pi * t)
        x = 0.03 * w + 0.94 * w * t
        body = Polygon(np.vstack((np.column_stack((x, y - thick / 2)), np.column_stack((x, y + thick / 2))[::-1]))).buffer(0.25)
        layers.append(Layer(body, inks[1 + k]))
    return [Layer(centred(fitted(str(rng.choice(NAMES)), 0.94 * w, 0.4 * h, bold=0.1), w / 2, 0.46 * h), inks[0]), *layers]


def lower_case(w: float, h: float, inks: Inks, rng: np.random.Generator) -> Layers:
    """Two lines in lower case with dots, commas, colons, semicolons."""
    first, second = rng.choice(LOWER, 2, replace=False)
    return [
        Layer(centred(fitted(str(first), 0.96 * w, 0.36 * h), w / 2, 0.42 * h), inks[0]),
        Layer(centred(fitted(str(second), 0.96 * w, 0.36 * h), w / 2, 0.88 * h), inks[1]),
    ]


def barcode(w: float, h: float, inks: Inks, rng: np.random.Generator) -> Layers:
    """Bars of one to four widths of 0.55 mm on a light card."""
    card = rectangle(0.02 * w, 0.04 * h, 0.96 * w, 0.92 * h)
    at, bars = 0.1 * w, []
    while at < 0.88 * w:
        wide = 0.55 * int(rng.integers(1, 5))
        bars.append(rectangle(at, 0.15 * h, wide, 0.7 * h))
        at += wide + 0.55 * int(rng.integers(1, 4))
    return [Layer(card, inks[0]), Layer(union(*bars), (40, 40, 44))]


SOUND: Final[tuple[Motif, ...]] = (
    *(name_and_number, serif_words, badge, crest, sticker, keyline, halftone, sunburst, stripes, rings, flames, confetti),
    *(chequers, blends, outlined, knocked_out, mesh, peaks, swashes, lower_case, barcode),
)
"""All of them."""


def _corners(start: float, reach: float) -> list[tuple[float, float]]:
    return [(start, -1.0), (reach, -1.0), (reach, 1.0), (start, 1.0)]
