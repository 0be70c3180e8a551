"""A river at dawn with a crew on it: like a photograph, but painted by arithmetic, its edges brushed out softly."""

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageFilter
from shapely import affinity
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from filmhand.demo import raster, shapes
from filmhand.demo.raster import Ground

GROUND = Ground(280.0, 222.0, 220.0)
_ROUGH = Ground(280.0, 222.0, 110.0)
"""Sky and water have no detail finer than this; they are painted here and enlarged."""
_HORIZON_MM = 100.0
_SUN_MM = (186.0, 90.0)
_WITH_A_HEAD = 0.3
"""Share of the reeds."""
_DUSK: shapes.Colour = (30, 26, 52)

Floats = NDArray[np.floating[Any]]


def draw(path: Path, scene: Image.Image, rng: np.random.Generator) -> None:
    """Write a scene as a PNG with soft alpha."""
    picture = scene.copy()
    picture.putalpha(_brushed_edges(rng))
    raster.save_png(picture, path, GROUND.ppi)


def scene(rng: np.random.Generator) -> Image.Image:
    """The whole picture without its edges: mode RGBA, opaque."""
    sky = _with_hills(_sky(rng), rng)
    rough = Image.fromarray(np.clip(_with_water(sky, rng), 0, 255).astype(np.uint8))
    picture = rough.resize(GROUND.size_px, Image.Resampling.BICUBIC).convert("RGBA")
    boat = affinity.translate(affinity.scale(shapes.crew(8, lean=0.85), 1.18, 1.18, origin=(0, 0)), 32, 150)
    mirrored = affinity.translate(affinity.scale(boat, 1, -0.8, origin=(0, 150)), 1.5, 1.4)
    shadow = raster.mask(mirrored, GROUND).filter(ImageFilter.GaussianBlur(5)).point(lambda value: value * 7 // 10)
    picture = raster.laid_over(picture, _DUSK, shadow)
    picture = raster.laid_over(picture, (255, 214, 170), raster.mask(_wake(), GROUND).point(lambda value: value * 6 // 10))
    picture = raster.laid_over(picture, _DUSK, raster.mask(boat, GROUND))
    return raster.laid_over(picture, (22, 20, 40), raster.mask(_reeds(rng), GROUND))


def _sky(rng: np.random.Generator) -> Floats:
    """Morning sky down to the foot of the picture, h×w×3 float32, 0 to 255."""
    colours = [(0, (46, 52, 104)), (28, (92, 80, 142)), (56, (188, 112, 146)), (78, (246, 158, 118)), (100, (255, 222, 158))]
    sky = np.asarray(raster.vertical_gradient(_ROUGH, colours), np.float32)
    x, y = _grid()
    from_sun = np.hypot(x - _SUN_MM[0], y - _SUN_MM[1])
    clouds = sum((raster.noise(_ROUGH.size_px, (4 * 2**k, 11 * 2**k), rng) - 0.5) / 1.7**k for k in range(4))
    lit = np.clip(clouds * 2.6 - 0.1, 0, 1) * np.clip(1.1 - y / 96, 0, 1)
    warm = np.exp(-from_sun / 70)[..., None]
    cloud_colour = np.array((150, 104, 150), np.float32) * (1 - warm) + np.array((255, 212, 160), np.float32) * warm
    sky = sky + (cloud_colour - sky) * (0.75 * lit)[..., None]
    sky = sky + np.array((255, 190, 110), np.float32) * (0.55 * np.exp(-from_sun / 26))[..., None]
    disc = np.clip((10.5 - from_sun) * 2, 0, 1)[..., None]
    painted: Floats = np.clip(sky + (np.array((255, 250, 226), np.float32) - sky) * disc, 0, 255)
    return painted


def _with_hills(sky: Floats, rng: np.random.Generator) -> Floats:
    """Three ridges, the nearest wooded, each standing in the mist over the water."""
    x, y = _grid()
    picture: Floats = sky
    ridges = [(16.0, 5, (186, 128, 150), 0.0), (10.0, 9, (122, 88, 130), 0.5), (5.5, 16, (62, 52, 92), 2.2)]
    for height, bumps, colour, trees in ridges:
        hills, crowns, twigs = (_outline(bumps, rng), _outline(130, rng), _outline(420, rng))
        line = height * (hills + 0.25) + (crowns + twigs) * trees
        inside = np.clip((y - (_HORIZON_MM - line[None])) * 3, 0, 1)
        mist = np.clip(1 - (_HORIZON_MM - y) / (height * 1.1), 0, 1) * 0.75
        shade = np.array(colour, np.float32) + (np.array((255, 206, 168), np.float32) - np.array(colour)) * mist[..., None]
        warm = 0.4 * np.exp(-np.abs(x - _SUN_MM[0]) / 45)[..., None]
        shade = shade + (np.array((255, 176, 120), np.float32) - shade) * warm
        picture = picture + (shade - picture) * inside[..., None]
    return picture


def _outline(bumps: int, rng: np.random.Generator) -> Floats:
    """Random heights along the width, about 0 to 1, w."""
    heights: Floats = raster.noise((_ROUGH.size_px[0], 3), (bumps, 1), rng)[1]
    return heights


def _with_water(sky: Floats, rng: np.random.Generator) -> Floats:
    """The same with everything below the horizon replaced by water that mirrors what is above."""
    height, width = sky.shape[:2]
    scale = _ROUGH.px_per_mm
    horizon = round(_HORIZON_MM * scale)
    x, y = _grid()
    depth = (y[horizon:] - _HORIZON_MM) / (_ROUGH.height_mm - _HORIZON_MM)
    size = (width, height - horizon)
    swell = sum((raster.noise(size, (7 * 2**k, 34 * 2**k), rng) - 0.5) / 1.4**k for k in range(3))
    rows = np.clip(horizon - (y[horizon:] - _HORIZON_MM) * 0.82 * scale + swell * (2 + 64 * depth), 0, horizon - 1).astype(
        np.intp
    )
    columns = np.clip(x * scale + swell * 12 * depth, 0, width - 1).astype(np.intp)
    water = sky[rows, columns]
    deep = np.array((34, 44, 84), np.float32)
    water = water + (deep - water) * (0.06 + 0.54 * depth)[..., None]
    ripples = raster.noise(size, (26, 90), rng) + 0.6 * raster.noise(size, (60, 190), rng)
    reach = 7 + 40 * depth
    path = np.exp(-(((x - _SUN_MM[0]) / reach) ** 2)) * np.clip((ripples - 0.82) * 4.5, 0, 1) * (1 - 0.45 * depth)
    water = water + (np.array((255, 226, 170), np.float32) - water) * (0.9 * path)[..., None]
    return np.concatenate([sky[:horizon], water])


def _wake() -> BaseGeometry:
    lines = [
        shapes.wave(left, right, y, height=0.5, length=11, thickness=0.45)
        for left, right, y in (
            (36, 70, 153.2),
            (84, 128, 154.4),
            (150, 190, 153.6),
            (196, 236, 155),
            (60, 110, 157.5),
            (128, 214, 159),
        )
    ]
    return unary_union(lines)


def _reeds(rng: np.random.Generator) -> BaseGeometry:
    """Reeds in both lower corners."""
    blades = []
    for foot, sway in [*((x, 1.0) for x in rng.uniform(6, 52, 34)), *((x, -1.0) for x in rng.uniform(236, 276, 30))]:
        nearness = 1 - abs(foot - (4 if sway > 0 else 278)) / 60
        top = 196 - 62 * nearness * rng.uniform(0.55, 1.0)
        lean = sway * rng.uniform(1, 11)
        width = rng.uniform(0.5, 1.0)
        outline = [(foot - width, 226), (foot - width * 0.7 + lean * 0.3, (226 + top) / 2), (foot + lean, top)]
        blades.append(shapes.blob([*outline, (foot + width * 0.7 + lean * 0.3, (226 + top) / 2), (foot + width, 226)]))
        if rng.random() < _WITH_A_HEAD:
            blades.append(shapes.limb((foot + lean * 0.82, top + 9), (foot + lean * 0.95, top + 1), thickness=2.1))
    return unary_union(blades)


def _brushed_edges(rng: np.random.Generator) -> Image.Image:
    """Alpha that thins out in horizontal strokes towards the edges: mode L."""
    x, y = _grid()
    inset = np.minimum(np.minimum(x, _ROUGH.width_mm - x) * 0.8, np.minimum(y, _ROUGH.height_mm - y))
    strokes = sum(
        raster.noise(_ROUGH.size_px, cells, rng) * depth for cells, depth in (((4, 22), 9), ((7, 60), 6), ((18, 130), 5))
    )
    solid = np.clip((inset - strokes - 1.0) / 10.0, 0, 1)
    alpha = solid * solid * (3 - 2 * solid)
    rough = Image.fromarray(np.rint(alpha * 255).astype(np.uint8))
    return rough.resize(GROUND.size_px, Image.Resampling.BICUBIC)


def _grid() -> tuple[Floats, Floats]:
    """The x (1×w) and y (h×1) of every pixel's middle on the rough ground, mm."""
    width, height = _ROUGH.size_px
    x = ((np.arange(width) + 0.5) / _ROUGH.px_per_mm).astype(np.float32)[None]
    y = ((np.arange(height) + 0.5) / _ROUGH.px_per_mm).astype(np.float32)[:, None]
    return x, y
