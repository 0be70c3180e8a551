"""A sculler under the moon: a round picture, dark at its rim, in 16 bits a channel, so that its long gradients have no steps."""

from pathlib import Path
from typing import Any

import numpy as np
import tifffile
from numpy.typing import NDArray
from PIL import Image, ImageFilter
from shapely import affinity
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from filmhand.demo import raster, shapes
from filmhand.demo.raster import Ground

GROUND = Ground(200.0, 200.0, 240.0)
_MOON_MM = (118.0, 66.0, 25.0)
_HORIZON_MM = 118.0

Floats = NDArray[np.floating[Any]]


def draw(path: Path, rng: np.random.Generator) -> None:
    """Write the picture as a TIFF of 16-bit RGB with unassociated alpha (TIFF 6.0 section 18), Deflate."""
    scene = _with_boat(_with_water(_sky(rng), rng))
    rim = np.asarray(raster.mask(shapes.disc(100, 100, 99.4), GROUND), np.uint16) * 257
    rgb = np.rint(np.clip(scene, 0, 1) * 65535).astype(np.uint16)
    tifffile.imwrite(
        path,
        np.dstack([rgb, rim]),
        photometric="rgb",
        extrasamples=["unassalpha"],
        compression="zlib",
        compressionargs={"level": 2},
        predictor=True,
        resolution=(GROUND.ppi, GROUND.ppi),
        resolutionunit="INCH",
        metadata=None,
    )


def _sky(rng: np.random.Generator) -> Floats:
    """Night sky, moon, stars and the wooded bank: h×w×3 float32, 0 to 1."""
    x, y = _grid()
    from_moon = np.hypot(x - _MOON_MM[0], y - _MOON_MM[1])
    night = _colour(3, 5, 14) + _colour(70, 104, 168) * np.exp(-from_moon / 36)[..., None]
    night = night + _colour(150, 170, 200) * (0.55 * np.exp(-((np.maximum(from_moon - _MOON_MM[2], 0) / 9) ** 1.2)))[..., None]
    veil = sum((raster.noise(GROUND.size_px, (3 * 2**k, 10 * 2**k), rng) - 0.5) / 1.8**k for k in range(3))
    night = night + night * (0.8 * np.clip(veil, -0.5, 0.9))[..., None]
    stars = [shapes.disc(rng.uniform(10, 190), rng.uniform(8, 100), rng.uniform(0.16, 0.5)) for _ in range(90)]
    away = np.clip((from_moon - _MOON_MM[2] - 6) / 24, 0, 1) * _mask(unary_union(stars))
    night = night + _colour(226, 232, 255) * (0.9 * away)[..., None]
    seas = raster.noise(GROUND.size_px, (19, 19), rng) * 0.7 + raster.noise(GROUND.size_px, (60, 60), rng) * 0.2
    face = _colour(255, 250, 228) * (1 - 0.26 * np.clip(seas * 2.2 - 0.6, 0, 1))[..., None]
    night = _blend(night, face, _mask(shapes.disc(*_MOON_MM)))
    bank = raster.noise((GROUND.size_px[0], 3), (9, 1), rng)[1] * 9 + raster.noise((GROUND.size_px[0], 3), (150, 1), rng)[1] * 4
    bank = bank + raster.noise((GROUND.size_px[0], 3), (44, 1), rng)[1] * 4 + 1
    trees = np.clip((y - (_HORIZON_MM - bank[None])) * 4, 0, 1)
    return _blend(night, _colour(4, 7, 14), trees)


def _with_water(sky: Floats, rng: np.random.Generator) -> Floats:
    """The same with water below the horizon: the sky turned over, broken up by ripples, with the moon's path on it."""
    height, width = sky.shape[:2]
    scale = GROUND.px_per_mm
    horizon = round(_HORIZON_MM * scale)
    x, y = _grid()
    depth = (y[horizon:] - _HORIZON_MM) / (GROUND.height_mm - _HORIZON_MM)
    size = (width, height - horizon)
    swell = raster.noise(size, (9, 46), rng) - 0.5 + (raster.noise(size, (20, 110), rng) - 0.5) * 0.6
    rows = np.clip(horizon - (y[horizon:] - _HORIZON_MM) * scale + swell * (4 + 70 * depth), 0, horizon - 1).astype(np.intp)
    columns = np.clip(x * scale + swell * 20 * depth, 0, width - 1).astype(np.intp)
    water = sky[rows, columns] * (0.62 - 0.3 * depth)[..., None]
    ripples = raster.noise(size, (30, 100), rng) + 0.6 * raster.noise(size, (64, 210), rng)
    path = np.exp(-(((x - _MOON_MM[0]) / (9 + 26 * depth)) ** 2)) * np.clip((ripples - 0.78) * 5, 0, 1)
    return np.concatenate([sky[:horizon], _blend(water, _colour(240, 240, 228), 0.9 * path)])


def _with_boat(scene: Floats) -> Floats:
    boat = affinity.translate(affinity.scale(shapes.crew(1, lean=0.3), 1.5, 1.5, origin=(0, 0)), 54, 150)
    mirrored = affinity.translate(affinity.scale(boat, 1, -0.7, origin=(0, 150)), 1, 1.2)
    shadow = Image.fromarray(np.rint(_mask(mirrored) * 255).astype(np.uint8)).filter(ImageFilter.GaussianBlur(5))
    scene = _blend(scene, _colour(2, 3, 8), np.asarray(shadow, np.float32) / 255 * 0.8)
    return _blend(scene, _colour(2, 3, 8), _mask(boat.union(_staging())))


def _staging() -> BaseGeometry:
    """A landing stage in the foreground, left."""
    posts = [box(x, y, x + 2.4, 200) for x, y in ((22, 160), (40, 163), (58, 166))]
    return unary_union([*posts, affinity.rotate(box(0, 166, 66, 169), 4, origin=(0, 166))])


def _colour(red: int, green: int, blue: int) -> Floats:
    return np.array((red, green, blue), np.float32) / 255


def _mask(shape: BaseGeometry) -> Floats:
    return np.asarray(raster.mask(shape, GROUND), np.float32) / 255


def _blend(below: Floats, paint: Floats, cover: Floats) -> Floats:
    blended: Floats = below + (paint - below) * cover[..., None]
    return blended


def _grid() -> tuple[Floats, Floats]:
    """The x (1×w) and y (h×1) of every pixel's middle, mm."""
    x, y = ((np.arange(size) + 0.5) / GROUND.px_per_mm for size in GROUND.size_px)
    return x.astype(np.float32)[None], y.astype(np.float32)[:, None]
