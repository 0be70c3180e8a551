"""Made pictures as the files that customers send."""

import io
import math
from collections.abc import Mapping, Sequence
from typing import Any, Final

import cv2
import numpy as np
import pikepdf
import shapely
from PIL import Image

from .draw import MM, Array, Layer, Picture, Shape, polygons, seen_box, true_boxes
from .model import Boxes, File

Places = Mapping[str, Sequence[Shape]]
"""Shapes in mm on the canvas around which true boxes lie, by check."""

_DRAWN_PPI: Final = 720.0  # how fine it is drawn again, at the most

POINTS: Final = 72 / MM
"""Points a millimetre (ISO 32000-1, 8.3.2.3)."""

_SPARE: Final = 8  # a PDF page is drawn from this much around the motif on


def png(picture: Picture, *, places: Places | None = None, states_ppi: bool = True) -> File:
    """A PNG with transparency."""
    options = {"dpi": (picture.ppi, picture.ppi)} if states_ppi else {}
    content = encoded(Image.fromarray(picture.pixels), "PNG", compress_level=1, **options)
    return File(content, "png", boxes(places, picture))


def tiff(picture: Picture, *, places: Places | None = None) -> File:
    """A TIFF with straight alpha."""
    content = encoded(Image.fromarray(picture.pixels), "TIFF", dpi=(picture.ppi, picture.ppi))
    return File(content, "tif", boxes(places, picture))


def webp(picture: Picture, *, places: Places | None = None) -> File:
    """A lossless WebP with transparency; it states no resolution, so the ticket has to say a width."""
    return File(encoded(Image.fromarray(picture.pixels), "WEBP", lossless=True, quality=0), "webp", boxes(places, picture))


def indexed(picture: Picture) -> File:
    """A PNG of at most 255 colours and one that is transparent: edges are stairs, as old programs export them."""
    solid = picture.pixels[..., 3] >= 128
    colours = Image.fromarray(picture.pixels[..., :3]).quantize(255)
    index = np.where(solid, np.asarray(colours), 255).astype(np.uint8)
    image = Image.fromarray(index, "P")
    palette = (colours.getpalette() or [])[:765]
    image.putpalette([*palette, *[0] * (768 - len(palette))])
    dpi = (picture.ppi, picture.ppi)
    return File(encoded(image, "PNG", transparency=255, dpi=dpi), "png")


def flat(picture: Picture, ground: Sequence[int], *, quality: int | None = None, places: Places | None = None) -> File:
    """On a solid ground: a PNG without transparency, or a JPEG of a quality."""
    image = Image.fromarray(on_ground(picture, ground))
    dpi = (picture.ppi, picture.ppi)
    height, width = picture.pixels.shape[:2]
    true = {} if places is None else {name: true_boxes(some, (0, 0, width, height), picture.ppi) for name, some in places.items()}
    if quality is None:
        return File(encoded(image, "PNG", compress_level=1, dpi=dpi), "png", true)
    return File(encoded(image, "JPEG", quality=quality, dpi=dpi), "jpg", true)


def on_ground(picture: Picture, ground: Sequence[int]) -> Array:
    """h×w×3 uint8: the picture over a colour."""
    alpha = picture.pixels[..., 3:].astype(np.float32) / 255
    return np.rint(picture.pixels[..., :3] * alpha + np.array(ground, np.float32) * (1 - alpha)).astype(np.uint8)


def cmyk(inks: Array, *, ppi: float, form: str = "TIFF") -> File:
    """Ink percentages (h×w×4, 0 to 100) as a CMYK TIFF, or as a JPEG whose inks are stored turned over as Adobe's are."""
    values = np.rint(inks * 2.55).astype(np.uint8)
    options: dict[str, Any] = {"quality": 95, "subsampling": 0} if form == "JPEG" else {"compression": "tiff_lzw"}
    image = Image.frombytes("CMYK", (values.shape[1], values.shape[0]), values.tobytes())
    return File(encoded(image, form, dpi=(ppi, ppi), **options), "jpg" if form == "JPEG" else "tif")


def pdf(layers: Sequence[Layer], width_mm: float, height_mm: float, *, places: Places | None = None) -> File:
    """Flat layers as a PDF of paths, its page exactly the canvas."""
    content = b"\n".join(painted(layer, height_mm) for layer in layers)
    scale = _DRAWN_PPI / MM
    left, top, right, bottom = shapely.total_bounds([layer.shape for layer in layers]) * scale
    seen = math.floor(left), math.floor(top), math.ceil(right), math.ceil(bottom)
    true = {name: true_boxes(shapes, seen, _DRAWN_PPI) for name, shapes in (places or {}).items()}
    return File(saved(pdf_of(content, width_mm, height_mm)), "pdf", true)


def pdf_of(content: bytes, width_mm: float, height_mm: float) -> pikepdf.Pdf:
    """A PDF of one page with these drawing operators, without resources."""
    document = pikepdf.new()
    document.add_blank_page(page_size=(width_mm * POINTS, height_mm * POINTS))
    document.pages[0].Contents = pikepdf.Stream(document, content)
    return document


def saved(document: pikepdf.Pdf, **options: Any) -> bytes:
    """A PDF as bytes, the same each time."""
    file = io.BytesIO()
    document.save(file, deterministic_id=True, **options)
    return file.getvalue()


def painted(layer: Layer, height_mm: float, *, colour: bytes | None = None) -> bytes:
    """Operators that fill a layer's shape, in its flat colour or as other operators say (ISO 32000-1, 8.5)."""
    if colour is None:
        colour = "{:.4f} {:.4f} {:.4f} rg".format(*(value / 255 for value in layer.paint)).encode()  # type: ignore[union-attr]
    parts = [colour]
    for polygon in polygons(layer.shape):
        for ring in (polygon.exterior, *polygon.interiors):
            at = np.asarray(ring.coords) * (POINTS, -POINTS) + (0, height_mm * POINTS)
            first, *rest = (f"{x:.3f} {y:.3f}" for x, y in at)
            parts.append(f"{first} m {' l '.join(rest)} l h".encode())
        parts.append(b"f*")
    return b"\n".join(parts)


def encoded(image: Image.Image, form: str, **options: Any) -> bytes:
    """A picture as a file of a format."""
    file = io.BytesIO()
    image.save(file, form, **options)
    return file.getvalue()


def boxes(places: Places | None, picture: Picture) -> dict[str, Boxes]:
    """True boxes of what is seen once the picture's empty edges are cut away."""
    if not places:
        return {}
    seen = seen_box(picture.pixels[..., 3])
    return {name: true_boxes(shapes, seen, picture.ppi) for name, shapes in places.items()}


def enlarged(pixels: Array, factor: float, how: int) -> Array:
    """Pixels (h×w×3 or 4 uint8) enlarged by an OpenCV interpolation, colours weighted by alpha as sound programs do."""
    height, width = pixels.shape[:2]
    size = round(width * factor), round(height * factor)
    if pixels.shape[2] == 3:
        return np.asarray(cv2.resize(pixels, size, interpolation=how), np.uint8)
    alpha = pixels[..., 3:].astype(np.float32)
    mixed = cv2.resize(np.dstack((pixels[..., :3] * (alpha / 255), alpha)), size, interpolation=how)
    alpha = np.clip(mixed[..., 3:], 0, 255)
    colours = np.divide(mixed[..., :3] * 255, alpha, out=np.zeros_like(mixed[..., :3]), where=alpha > 0)
    return np.rint(np.dstack((np.clip(colours, 0, 255), alpha))).astype(np.uint8)
