"""Motifs of known alpha, and what careless hands make of them."""

import io

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from filmhand.artwork.model import Artwork, Kind

Pixels = NDArray[np.uint8]


def badge(colour: tuple[int, int, int], *, side: int = 500) -> Pixels:
    """A disc with two wings in one colour, antialiased eight times over, clear of the picture's edge."""
    picture = Image.new("RGBA", (side * 8, side * 8), (*colour, 0))
    draw = ImageDraw.Draw(picture)
    draw.ellipse([side * 8 * part for part in (0.25, 0.25, 0.75, 0.75)], fill=(*colour, 255))
    for points in (((0.05, 0.2), (0.4, 0.45), (0.35, 0.6)), ((0.95, 0.2), (0.6, 0.45), (0.65, 0.6))):
        draw.polygon([(side * 8 * x, side * 8 * y) for x, y in points], fill=(*colour, 255))
    return np.asarray(picture.reduce(8)).copy()


def over(motif: Pixels, ground: tuple[int, int, int]) -> Pixels:
    """Laid over a ground, opaque (Porter and Duff 1984: over)."""
    alpha = motif[..., 3:] / 255
    rgb = np.rint(motif[..., :3] * alpha + np.array(ground) * (1 - alpha))
    return np.dstack([rgb, np.full(motif.shape[:2], 255)]).astype(np.uint8)


def with_alpha(pixels: Pixels, alpha: Pixels) -> Pixels:
    """With another alpha."""
    return np.dstack([pixels[..., :3], alpha])


def png(pixels: Pixels) -> Artwork:
    """As an artwork that came as PNG."""
    return Artwork(pixels, None, None, Kind.PNG)


def jpeg(pixels: Pixels, quality: int) -> Artwork:
    """Saved as JPEG, and opened again."""
    stream = io.BytesIO()
    Image.fromarray(pixels).convert("RGB").save(stream, "JPEG", quality=quality)
    return Artwork(np.asarray(Image.open(stream).convert("RGBA")), None, None, Kind.JPEG)
