"""The large back print: a sun with a glow that fades to black, behind a black crew.

Its black is that of the shirt it was drawn on, so that the shirt itself can show it.
"""

from pathlib import Path

import numpy as np
from PIL import Image
from shapely import affinity
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from filmhand.demo import raster, shapes
from filmhand.demo.letters import lettering
from filmhand.demo.raster import Ground

GROUND = Ground(280.0, 330.0, 200.0)
_SUN = (140.0, 132.0, 92.0)
_WATER_MM = 176.0
_CLOTH: shapes.Colour = (27, 27, 29)
"""Black cotton, as the starter rules for dark garments have it."""


def draw(path: Path, rng: np.random.Generator) -> None:
    """Write the back print as a PNG: a rounded black panel, opaque, on a transparent ground."""
    picture = _panel(rng)
    sun_colours = raster.vertical_gradient(
        GROUND, [(40, (255, 226, 120)), (95, (255, 176, 58)), (140, (240, 92, 60)), (176, (196, 40, 96)), (226, (110, 24, 104))]
    )
    picture = raster.laid_over(picture, sun_colours, raster.mask(_sun(), GROUND))
    for shape, colour in _silhouettes():
        picture = raster.laid_over(picture, colour, raster.mask(shape, GROUND))
    title = raster.vertical_gradient(GROUND, [(248, (255, 238, 190)), (276, (255, 190, 70)), (300, (238, 104, 58))])
    picture = raster.laid_over(picture, title, raster.mask(_title(), GROUND))
    raster.save_png(picture, path, GROUND.ppi)


def _panel(rng: np.random.Generator) -> Image.Image:
    """The black panel with the glow, RGBA. The glow falls off with the distance from the sun's rim, dithered against bands."""
    width, height = GROUND.size_px
    y, x = np.ogrid[0:height, 0:width]
    scale = GROUND.px_per_mm
    from_rim = np.hypot(x / scale - _SUN[0], y / scale - _SUN[1]).astype(np.float32) - _SUN[2]
    glow = np.where(from_rim > 0, np.exp(-from_rim / 26) * np.clip(1 - from_rim / 45, 0, 1), 0).astype(np.float32)
    glow *= np.clip((_WATER_MM + 60 - y / scale) / 90, 0, 1).astype(np.float32)
    grain = rng.random((height, width), dtype=np.float32)
    channels = [(cloth + glow * gain + grain).astype(np.uint8) for cloth, gain in zip(_CLOTH, (108, 14, 48), strict=True)]
    panel = Image.fromarray(np.dstack(channels))
    panel.putalpha(raster.mask(box(6, 6, 274, 324).buffer(6), GROUND))
    return panel


def _sun() -> BaseGeometry:
    slits = []
    top, band = 112.0, 2.0
    for _ in range(10):
        slits.append(box(0, top, 280, top + band))
        top += 9.0 + band * 0.9
        band *= 1.22
    return shapes.disc(*_SUN).difference(unary_union(slits))


def _silhouettes() -> list[tuple[BaseGeometry, shapes.Colour]]:
    boat = affinity.scale(shapes.crew(8, lean=0.75), 1.36, 1.36, origin=(0, 0))
    placed = affinity.translate(boat, 21, _WATER_MM)
    ripples = [
        shapes.wave(left, right, y, height=0.9, length=15, thickness=1.0)
        for left, right, y in ((30, 128, 188), (150, 246, 190.5), (58, 210, 195.5), (92, 190, 201))
    ]
    return [(placed, _CLOTH), (unary_union(ripples), (255, 190, 92))]


def _title() -> BaseGeometry:
    lines = [("SPRING HEAD", 27.0, 275.0, 1.5), ("OTTERWICK · 2031", 13.0, 298.0, 1.3)]
    placed = []
    for text, height, foot, weight in lines:
        line = lettering(text, height=height, weight=weight, spacing=0.9)
        placed.append(affinity.translate(line, 140 - (line.bounds[0] + line.bounds[2]) / 2, foot))
    return unary_union(placed)
