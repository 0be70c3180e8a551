"""Lettering as shapes: a sans serif that Pillow carries, and the serif that every PDF program carries."""

import io
from contextlib import closing
from functools import cache
from typing import Final

import cv2
import numpy as np
import pikepdf
import pypdfium2
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from shapely import affinity
from shapely.geometry import Polygon

from .draw import Shape

_CAP_PX: Final = 400  # height of a capital when letters are traced
_SANS_CAP: Final = 0.690  # height of "H" and "x" in Aileron's em, as Pillow measures them
X_OF_CAP: Final = 0.530 / 0.690
_SERIF_CAP: Final = 0.662  # cap height of Times (Adobe Core 14 metrics)


def word(text: str, *, cap_mm: float, bold_mm: float = 0.0, serif: bool = False, spaced_mm: float = 0.0) -> Shape:
    """A line of text, its baseline at y = 0 and beginning at x = 0, capitals `cap_mm` high before they are made bolder."""
    if not spaced_mm:
        shape = _traced(text, serif)
        shape = affinity.scale(shape, cap_mm, cap_mm, origin=(0, 0))
        return shape.buffer(bold_mm / 2, quad_segs=6) if bold_mm else shape
    x, letters = 0.0, []
    for letter in text:
        if letter == " ":
            x += 0.5 * cap_mm
            continue
        shape = word(letter, cap_mm=cap_mm, bold_mm=bold_mm, serif=serif)
        left, _, right, _ = shape.bounds
        letters.append(affinity.translate(shape, x - left, 0))
        x += right - left + spaced_mm
    return shapely.union_all(letters)


def length(text: str, *, cap_mm: float, bold_mm: float, serif: bool, spaced_mm: float) -> float:
    """How long `word` with the same arguments comes out, spaced, in mm."""
    letters = [_traced(letter, serif).bounds for letter in text if letter != " "]
    each = sum(cap_mm * (right - left) + bold_mm + spaced_mm for left, _, right, _ in letters)
    return each - spaced_mm + 0.5 * cap_mm * text.count(" ")


def centred(shape: Shape, x: float, baseline: float) -> Shape:
    """A line of text with its middle at x."""
    left, _, right, _ = shape.bounds
    return affinity.translate(shape, x - (left + right) / 2, baseline)


def fitted(text: str, width: float, cap: float, *, bold: float = 0.0, serif: bool = False, spaced: float = 0.0) -> Shape:
    """A line of letters at least 0.7 mm apart, in a width and a cap height; `bold` as a share of the cap height."""
    for size in np.linspace(cap, 0.1 * cap, 30):
        plain, room = float(size) * (1 - bold), max(spaced, 0.7, 0.08 * float(size))
        if length(text, cap_mm=plain, bold_mm=bold * float(size), serif=serif, spaced_mm=room) <= width:
            break
    return word(text, cap_mm=plain, bold_mm=bold * float(size), serif=serif, spaced_mm=room)


@cache
def _traced(text: str, serif: bool) -> Shape:
    """A line of text with capitals 1 high, baseline at 0."""
    mask, baseline = _serif_mask(text) if serif else _sans_mask(text)
    contours, tree = cv2.findContours(mask, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    outlines, holes = [], []
    for points, (_, _, _, parent) in zip(contours, tree[0], strict=True):
        if len(points) >= 4:
            (outlines if parent < 0 else holes).append(Polygon(points[:, 0, :].astype(float)))
    # Contours run through the centres of the outermost pixels of a part, and of those around a hole.
    shape = shapely.union_all([one.buffer(0.5) for one in outlines]).difference(
        shapely.union_all([one.buffer(-0.5) for one in holes])
    )
    shape = affinity.translate(shape.simplify(0.4), 0.5, 0.5 - baseline)
    return affinity.scale(shape, 1 / _CAP_PX, 1 / _CAP_PX, origin=(0, 0))


def _sans_mask(text: str) -> tuple[NDArray[np.uint8], float]:
    font = ImageFont.load_default(size=_CAP_PX / _SANS_CAP)
    left, top, right, bottom = font.getbbox(text, anchor="ls")
    image = Image.new("L", (int(right - left) + 40, int(bottom - top) + 40))
    ImageDraw.Draw(image).text((20 - left, 20 - top), text, fill=255, font=font, anchor="ls")
    return (np.asarray(image) >= 128).astype(np.uint8), 20 - top


def _serif_mask(text: str) -> tuple[NDArray[np.uint8], float]:
    """Drawn from a PDF that asks for Times-Bold."""
    size, width = 20.0, 20.0 * (len(text) + 1)
    document = pikepdf.new()
    document.add_blank_page(page_size=(width, 2 * size))
    font = pikepdf.Dictionary(Type=pikepdf.Name.Font, Subtype=pikepdf.Name.Type1, BaseFont=pikepdf.Name("/Times-Bold"))
    document.pages[0].Resources = pikepdf.Dictionary(Font=pikepdf.Dictionary(F=document.make_indirect(font)))
    document.pages[0].Contents = pikepdf.Stream(document, f"BT /F {size} Tf 10 {size / 2} Td ({text}) Tj ET".encode("latin-1"))
    file = io.BytesIO()
    document.save(file, static_id=True)
    with closing(pypdfium2.PdfDocument(file.getvalue())) as opened:
        scale = _CAP_PX / (size * _SERIF_CAP)
        drawn = opened[0].render(scale=scale).to_numpy()[..., 0]
    return (drawn < 128).astype(np.uint8), 1.5 * size * scale
