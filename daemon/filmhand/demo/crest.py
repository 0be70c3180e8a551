"""The club's crest: a flat roundel for the left chest, with lettering round the rim."""

import math
from pathlib import Path

from shapely import affinity
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from filmhand.demo import raster, shapes
from filmhand.demo.letters import lettering, on_arc
from filmhand.demo.raster import Ground

SIDE_MM = 90.0
PPI = 300.0
_RADIUS = SIDE_MM / 2


def draw(path: Path) -> None:
    """Write the crest as a PNG on a transparent ground."""
    ground = Ground(SIDE_MM, SIDE_MM, PPI)
    layers = [(affinity.translate(shape, _RADIUS, _RADIUS), colour) for shape, colour in crest()]
    raster.save_png(raster.flat(ground, layers), path, PPI)


def crest() -> list[tuple[BaseGeometry, shapes.Colour]]:
    """The crest as outlines in mm about (0, 0), lowest first, each with its colour."""
    shield = _shield()
    inside = shield.buffer(-1.3, join_style="mitre")
    river = inside.buffer(0.4).intersection(box(-30, 1.5, 30, 40))
    waves = [shapes.wave(-24, 24, y, height=2.2, length=12, thickness=1.7) for y in (4.8, 10.0, 15.2)]
    sun = shapes.disc(0, 1.5, 6.4).intersection(box(-20, -20, 20, 1.5))
    rays = [affinity.rotate(box(-0.5, -9.6, 0.5, -6.6), turn, origin=(0, 1.5)) for turn in range(-75, 76, 30)]
    rim = [shapes.star(x, y, 2.3) for x, y in ((-37.0, 8.0), (37.0, 8.0))]
    return [
        (shapes.disc(0, 0, _RADIUS - 0.3), shapes.GOLD),
        (shapes.disc(0, 0, _RADIUS - 1.7), shapes.NAVY),
        (shapes.disc(0, 0, 31.0), shapes.GOLD),
        (shapes.disc(0, 0, 29.9), shapes.CREAM),
        (on_arc("OTTERWICK", radius=34.0, height=6.6, weight=1.3, spacing=1.9), shapes.CREAM),
        (on_arc("ROWING CLUB", radius=-34.4, height=5.6, weight=1.3, spacing=1.5), shapes.CREAM),
        (unary_union(rim), shapes.GOLD),
        *_crossed_oars(),
        (shield, shapes.NAVY),
        (inside, shapes.CREAM),
        (unary_union(rays).intersection(inside), shapes.GOLD),
        (sun, shapes.GOLD),
        (river, shapes.NAVY),
        (unary_union(waves).intersection(river), shapes.CREAM),
        (affinity.translate(_centred("1874", 3.6), 0, -12.6), shapes.NAVY),
    ]


def _shield() -> BaseGeometry:
    half, top, straight, foot = 12.6, -16.5, -1.0, 19.0
    right = []
    for step in range(25):
        angle = step / 24 * math.pi / 2
        right.append((half * math.cos(angle) ** 0.85, straight + (foot - straight) * math.sin(angle)))
    left = [(-x, y) for x, y in reversed(right)]
    return Polygon([(-half, top), (half, top), *right, *left]).buffer(0.9, join_style="round")


def _crossed_oars() -> list[tuple[BaseGeometry, shapes.Colour]]:
    layers = []
    for turn in (-45, 45):
        for part, colour in zip(shapes.oar(51), (shapes.GOLD, shapes.RED, shapes.CREAM), strict=True):
            turned = affinity.rotate(affinity.translate(part, 0, 23), turn, origin=(0, 0))
            layers.append((turned.buffer(0.7), shapes.NAVY))
            layers.append((turned, colour))
    return layers


def _centred(text: str, height: float) -> BaseGeometry:
    line = lettering(text, height=height, weight=1.2, spacing=1.0)
    return affinity.translate(line, -(line.bounds[0] + line.bounds[2]) / 2, height / 2)
